"""What a person said, taken apart: pieces, and in each what it denies, where, what fluid, what colour, how much, in which state.

A piece that only says that something is not so, or is fine, is a promise to ask and never a finding.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from diagnose.knowledge.model import EngineState
from diagnose.session.language import STOP, says_no, words_of

MOST_PIECES = 12
"""More pieces than this at once are kept as said and not asked about: nobody would answer for them all."""
MOST_LETTERS = 4000
"""What is said beyond this is kept and not read."""
_BREAK = re.compile(r"[,;:!?()\n]+|\.(?!\d)|\s+(?:but|however|although|also|plus|then)\s+|\s+[-–—]+\s+")
_AND = re.compile(r"\s+(?:and|&)\s+", re.IGNORECASE)
_AMOUNT = re.compile(
    r"\d+(?:[.,]\d+)?\s*(?:°\s?[cf]\b|deg(?:rees)?(?:\s?[cf])?\b|%|[a-zµ]+(?:\s?/\s?[a-z]+)?)?(?:\s+(?:in|per|an?|every)\s+(?:\d+(?:[.,]\d+)?\s*)?[a-z]+)?",
    re.IGNORECASE)
_PLACES = """front back rear top bottom underneath under below above behind beside side port starboard left right forward aft end belt
 inside outside corner centre middle between near round flywheel astern bow stern"""
_COLOURS = "brown black white blue green red pink orange yellow grey gray clear rusty milky rainbow"
_FLUIDS = "water seawater coolant antifreeze oil diesel fuel salt steam"
_SOUND = "fine ok okay good normal healthy sound usual alright clean dry"
_RUNNING = (
    ("under-load", re.compile(r"\b(?:in gear|under load|under ?way|motoring|at cruis\w+|at speed|full throttle|flat out)\b")),
    ("idle", re.compile(r"\b(?:idling|at idle|tick\s?over|(?:when|while|her|engine) running|out of gear|in neutral)\b")),
    ("warm-stopped", re.compile(r"\b(?:after stopping|after a run|when hot and stopped|just stopped|still warm)\b")),
    ("cold-stopped", re.compile(r"\b(?:cold|overnight|before start\w*|not running)\b")),
)
PLACES, COLOURS, FLUIDS, SOUND = (frozenset(text.split()) for text in (_PLACES, _COLOURS, _FLUIDS, _SOUND))


@dataclass(frozen=True)
class Piece:
    """One thing said, in the person's own words, and what was pulled out of it."""

    text: str
    denied: bool = False
    """It says that something is not so, or is fine."""
    places: tuple[str, ...] = ()
    fluids: tuple[str, ...] = ()
    colours: tuple[str, ...] = ()
    amounts: tuple[str, ...] = ()
    state: EngineState | None = None

    @property
    def key(self) -> str:
        """What pieces are told apart by: small letters, single spaces."""
        return " ".join(self.text.lower().split())

    @property
    def matter(self) -> str:
        """Its words without amounts, colours by their plain name: what is matched."""
        return " ".join(_colour(w) or w for w in words_of(_AMOUNT.sub(" ", self.text)))

    @property
    def telling(self) -> tuple[str, ...]:
        """Its words that carry meaning, the one that denies left out."""
        return tuple(w for w in words_of(self.text) if w not in STOP and not says_no(w))


def pieces(said: str) -> tuple[Piece, ...]:
    """All pieces of what was said, in order and each once; those without a telling word are left out."""
    texts: list[str] = []
    for part in _BREAK.split(said[:MOST_LETTERS]):
        for text in _parted(" ".join(part.split())):
            if texts and _only_where(text):
                texts[-1] = f"{texts[-1]}, {text}"
            elif words_of(text):
                texts.append(text)
    found = {made.key: made for made in map(piece, reversed(texts)) if made.telling}
    return tuple(reversed(found.values()))


def piece(text: str) -> Piece:
    """One piece read."""
    words = words_of(text)
    low = text.lower()
    denied = any(says_no(w) for w in words) or bool(words and words[-1] in SOUND and len(words) > 1)
    state: EngineState | None = next((name for name, said in _RUNNING if said.search(low)), None)  # type: ignore[misc]
    return Piece(
        text=text, denied=denied,
        places=_those(words, PLACES), fluids=_those(words, FLUIDS),
        colours=tuple(dict.fromkeys(c for w in words if (c := _colour(w)))),
        amounts=tuple(" ".join(m.group().split()) for m in _AMOUNT.finditer(text)), state=state,
    )


def _only_where(text: str) -> bool:
    """Whether a part says no more than where, or of what colour: it belongs to what stands before it."""
    telling = piece(text).telling
    return bool(telling) and all(w in PLACES or _colour(w) is not None or w in ("side", "salty") for w in telling)


def _colour(word: str) -> str | None:
    """The colour a word names, 'greenish' and 'reddish' among them; None where it names none."""
    begun = word.removesuffix("ish")[:3]
    if word in COLOURS or not word.endswith("ish"):
        return word if word in COLOURS else None
    return next((c for c in sorted(COLOURS) if c[:3] == begun), None)


def _those(words: list[str], known: frozenset[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(w for w in words if w in known))


def _parted(text: str) -> list[str]:
    """The text cut at 'and', but not inside one thing: 'rust and salt on the elbow' stays whole."""
    parts = _AND.split(text)
    joined = parts[:1]
    for part in parts[1:]:
        if len(words_of(joined[-1])) == 1 and len(piece(part).telling) > 1 and not piece(joined[-1]).denied:
            joined[-1] = f"{joined[-1]} and {part}"
        else:
            joined.append(part)
    return joined
