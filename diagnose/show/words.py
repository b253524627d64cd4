"""Numbers and states as words, the same on every page."""

from __future__ import annotations

from diagnose.knowledge.model import EngineState

STATES: dict[EngineState, str] = {
    "cold-stopped": "engine cold, stopped, key out",
    "warm-stopped": "engine stopped, still warm",
    "idle": "running at idle, out of gear, hands out",
    "under-load": "in gear on the lines, or under way",
}
SHORT_STATES: dict[EngineState, str] = {
    "cold-stopped": "cold", "warm-stopped": "warm, stopped", "idle": "idling", "under-load": "under load",
}
BANDS = ((95, "nearly sure"), (80, "very likely"), (60, "likely"), (40, "even"), (20, "less likely"), (5, "unlikely"))


def in_hundred(chance: float) -> str:
    """A chance as 'how many of 100 boats with these signs'."""
    if chance < 0.005:
        return "under 1"
    if chance > 0.995:
        return "over 99"
    return f"{chance * 100:.0f}"


def band(chance: float) -> str:
    """One fixed word a band."""
    percent = round(chance * 100)
    return next((word for bar, word in BANDS if percent >= bar), "very unlikely")


def minutes(value: float) -> str:
    """A time, in seconds below a minute, in minutes up to an hour and a half, in hours from there."""
    if 0 < value < 1:
        return f"{value * 60:.0f} s"
    return f"{value / 60:.1f} h".replace(".0 h", " h") if value >= 90 else f"{value:.0f} min"


def literal(text: str) -> str:
    """Text of people, made safe to print: control characters shown, not obeyed."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" if c not in "\n\t" else " " for c in text)


def plural(count: int, word: str) -> str:
    """A count with its word, in the plural where it is not one."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
