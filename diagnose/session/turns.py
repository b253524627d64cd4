"""One answer in hand, and what is common to the reading of all answers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from diagnose.knowledge.model import EngineState
from diagnose.session.progress import Progress
from diagnose.session.questions import Question, Reply

SKIPS = {"u": "u", "unsure": "u", "not sure": "u", "x": "x", "cannot see": "x", "can't see": "x", "cant see": "x", "cannot reach": "x",
         "can't reach": "x", "l": "l", "later": "l"}
STATES: dict[str, EngineState] = {
    "start": "idle", "started": "idle", "running": "idle", "idle": "idle", "idling": "idle", "gear": "under-load",
    "in gear": "under-load", "stopped": "warm-stopped", "cold": "cold-stopped"}
SHOWN_LETTERS = 40
"""So much of what fits nothing is told back."""


@dataclass(frozen=True)
class Turn:
    """One answer in hand: the question, what was typed in small letters, where the session stands, the moment."""

    question: Question
    low: str
    done: Progress
    at: datetime


def state_asked(question: Question) -> EngineState:
    """The state of the engine that a question about a sign is asked for."""
    return question.about.partition("@")[2]  # type: ignore[return-value]


def no_line(turn: Turn) -> Reply:
    """What is said where an answer fits no line."""
    keys = ", ".join(c.key for c in turn.question.choices)
    return Reply(said=(f"'{cut(turn.low)}' fits no line. Type {keys or 'one of the words above'}; h for help.",))


def cut(text: str) -> str:
    """The beginning of a text that is long."""
    return text if len(text) <= SHOWN_LETTERS else f"{text[:SHOWN_LETTERS]}..."
