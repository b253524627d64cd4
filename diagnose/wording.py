"""Small matters of wording that results and pages share."""

from __future__ import annotations


def mid_sentence(title: str) -> str:
    """A title as it stands inside a sentence."""
    return title[0].lower() + title[1:]


def days(value: float) -> str:
    """A number of days."""
    return f"{value:g} day{'' if value == 1 else 's'}"
