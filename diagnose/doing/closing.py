"""Whether a case may be closed: with its proof, or with the reason why there is none."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.doing.standing import standing_of
from diagnose.errors import InputError
from diagnose.record.store import Stored

NAMED = 3
"""So many tests that are owed are named."""


def ending(log: Sequence[Stored], case: str, note: str | None, unproved: str | None) -> tuple[str, str | None]:
    """How the case ends, and why its work is not proved, if it is not.

    Args:
        log: its entries.
        case: its id, for a message.
        note: how it ended, in the person's words.
        unproved: why the proof is not there, in the person's words.

    Raises:
        InputError: neither the proof is there nor a reason; a reason is given and nothing is to be proved; or, where no work was
            planned, it is not said how it ended.
    """
    standing = standing_of(log)
    if standing is None:
        if unproved is not None:
            raise InputError("no work was planned, so there is nothing to prove", where=case, right="--note with how it ended")
        if note is None:
            raise InputError("it is not said how it ended", where=case, right="--note with how; or diagnose work, which plans, does and "
                             "proves it")
        return note, None
    owed = standing.unproved
    to_do = len(standing.left_to_do)
    if not owed and not to_do:
        if unproved is not None:
            raise InputError("all is proved", where=case, right="no --unproved")
        return note or f"proved: all {len(standing.tests)} tests passed", None
    if unproved is None:
        parts = [f"{to_do} task{'s' if to_do > 1 else ''} not ticked off"] if to_do else []
        parts += [f"{len(owed)} test{'s' if len(owed) > 1 else ''} not passed"] if owed else []
        named = "; ".join(t.do.rstrip(".") for t in owed[:NAMED])
        raise InputError(f"is not proved: {', '.join(parts)}{f' ({named})' if named else ''}", where=case,
                         right=f"diagnose {'work' if to_do else 'prove'} {case}; or --unproved with the reason why not")
    return note or "closed without its proof", unproved
