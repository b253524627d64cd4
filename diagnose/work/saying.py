"""Chances and hours of delay in words, for the sentences that results carry."""

from __future__ import annotations


def hundred(chance: float) -> str:
    """A chance as a count of 100 boats with these signs."""
    return "under 1" if chance < 0.005 else "over 99" if chance > 0.995 else f"{chance * 100:.0f}"


def hours(value: float) -> str:
    """Hours of delay, in minutes below an hour and a half and in days from two on."""
    if value < 1 / 120:
        return "next to nothing"
    if value < 1.5:
        return f"{value * 60:.0f} min"
    return f"{value:.1f} h".replace(".0 h", " h") if value < 48 else f"{value / 24:.0f} days"


def count(number: float, word: str) -> str:
    """A count with its word, in the plural where it is not one."""
    return f"{number:g} {word}" if number == 1 else f"{number:g} {word}s"
