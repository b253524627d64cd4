"""Errors a person can act on: where it is, what is wrong, what would be right.

    DiagnoseError
      InputError     a case, a command or a reading that cannot be used
      RuleError      a rule file that cannot be used
      TooWideError   a case whose exact ranking would not fit in memory
"""

from __future__ import annotations


class DiagnoseError(Exception):
    """Base of all errors this package raises on purpose.

    `where` is a file, a line, a field; `what` says what is wrong; `right` what would be right.
    """

    def __init__(self, what: str, *, where: str = "", right: str = "") -> None:
        super().__init__(what)
        self.where, self.what, self.right = where, what, right

    def __str__(self) -> str:
        lines = [f"{self.where}: {self.what}" if self.where else self.what]
        if self.right:
            lines.append(f"  right would be: {self.right}")
        return "\n".join(lines)


class InputError(DiagnoseError):
    """A case file, an option or a reading that cannot be used."""


class RuleError(DiagnoseError):
    """A rule file, or the rule base as a whole, that cannot be used."""


class TooWideError(DiagnoseError):
    """The signs of a case hang together too closely for an exact ranking; nothing is approximated."""
