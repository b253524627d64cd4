"""What is typed while the work is done, read into an order. Enter alone says nothing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Word = Literal["nothing", "done", "leave out", "all", "redo", "add", "learn", "note", "photo", "hours", "back", "list", "help", "quit",
               "failed", "parts", "unknown"]
BACK = ("b", "back")
LEAVE = ("q", "quit", "exit", "leave")
"""What takes an answer back and what leaves, at a question too."""
_PLAIN: dict[str, Word] = {
    **dict.fromkeys(BACK, "back"), "list": "list", "l": "list", "h": "help", "help": "help", "?": "help", **dict.fromkeys(LEAVE, "quit"),
    "all": "all", "parts": "parts", "f": "failed", "failed": "failed"}
_WITH_TEXT: dict[str, Word] = {"x": "leave out", "n": "note", "note": "note", "p": "photo", "photo": "photo", "learn": "learn",
                               "f": "failed", "failed": "failed"}
_WITH_NAME: dict[str, Word] = {"add": "add", "redo": "redo", "hours": "hours"}
_TIME = r"\s+(?P<time>[0-9]{1,6}(?:\.[0-9]{1,6})?)\s*(?P<unit>m|h)(?:(?<=m)in(?:ute)?s?|(?<=h)(?:ou)?rs?)?"
_DONE = re.compile(rf"(?:done|d)(?:\s+(?P<first>[0-9]{{1,5}})(?:\s*-\s*(?P<last>[0-9]{{1,5}}))?)?(?:{_TIME})?(?P<waited>\s+waited)?\Z")
_TIME_ONLY = re.compile(rf"(?:done|d){_TIME}(?P<waited>\s+waited)?\Z")


@dataclass(frozen=True)
class Order:
    """What a line asks for: a word, the numbers of tasks it is about, minutes told, and its text."""

    word: Word
    first: int | None = None
    last: int | None = None
    minutes: float | None = None
    text: str = ""
    waited: bool = False


def read(typed: str) -> Order:
    """A line as typed. Whatever it is, it raises nothing."""
    text = " ".join(typed.encode("utf-8", "replace").decode("utf-8").split())
    low = text.casefold()
    if not low:
        return Order("nothing")
    if low in _PLAIN:
        return Order(_PLAIN[low])
    timed = _TIME_ONLY.match(low) or _DONE.match(low)
    if timed is not None:
        return _done(timed)
    head, _, rest = text.partition(" ")
    if head.casefold() in _WITH_TEXT:
        return Order(_WITH_TEXT[head.casefold()], text=rest)
    if head.casefold() in _WITH_NAME:
        number = int(rest) if rest.isdecimal() and len(rest) < 6 else None
        return Order(_WITH_NAME[head.casefold()], first=number, text=rest)
    return Order("unknown", text=text)


def learned_of(text: str) -> tuple[int | None, str]:
    """What `learn` is told: the number of a task, where one comes first with a colon, and the words."""
    head, _, rest = text.partition(":")
    return (int(head), rest.strip()) if head.isdecimal() and len(head) < 6 and rest.strip() else (None, text)


def _done(found: re.Match[str]) -> Order:
    parts = found.groupdict()
    minutes = float(parts["time"]) * (60.0 if parts["unit"] == "h" else 1.0) if parts["time"] else None
    first = int(parts["first"]) if parts.get("first") else None
    last = int(parts["last"]) if parts.get("last") else first
    return Order("done", first, last, minutes or None, waited=bool(parts["waited"]))
