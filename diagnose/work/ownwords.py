"""What was learned on the boat at hand, as sentences for the tasks and parts that it is of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Step
from diagnose.knowledge.own import OwnItem, OwnStep, as_sentence, learned_in, own_minutes_of, plain_of

HERE = "on this boat"


def of_steps(steps: Sequence[tuple[str, str]], book: Book) -> str | None:
    """What is this boat's own of the steps that one task stands for, given as job and step; None where nothing is."""
    learned, plain = learned_in(book), plain_of(book)
    told = [(learned.steps[key], plain_step(plain, *key)) for key in steps if key in learned.steps]
    return _sentence([text for own, step in told for text in _of_step(own, step)])


def of_setup(setup: str, book: Book) -> str | None:
    """What is this boat's own of making a set-up; None where nothing is."""
    own = learned_in(book).setups.get(setup)
    if own is None:
        return None
    takes = [] if own.minutes is None else [_takes(own.minutes, plain_of(book).words.setups[setup].minutes)]
    return _sentence([*_access(own.access), *takes, *_note(own.note)])


def of_restore(setup: str, book: Book) -> str | None:
    """What is this boat's own of putting a set-up back; None where nothing is."""
    own = learned_in(book).setups.get(setup)
    if own is None or own.restore_minutes is None:
        return None
    return _sentence([_takes(own.restore_minutes, plain_of(book).words.setups[setup].restore_minutes)])


def of_part(part: str, book: Book) -> tuple[str, ...]:
    """Which variant of a part this boat takes, and what else was learned of it; empty where nothing was."""
    own = learned_in(book).parts.get(part)
    return () if own is None else tuple(f"{HERE}: {text}" for text in (own.is_, own.note) if text is not None)


def variant_known(part: str, book: Book) -> bool:
    """Whether it is settled which of its look-alikes this boat takes."""
    own = learned_in(book).parts.get(part)
    return own is not None and own.is_ is not None


def access_of(setups: Iterable[str], steps: Iterable[tuple[str, str]], book: Book) -> tuple[str, ...]:
    """How one gets at these set-ups and steps on this boat."""
    learned = learned_in(book)
    told: list[OwnItem] = [*(learned.setups[s] for s in setups if s in learned.setups),
                           *(learned.steps[s] for s in steps if s in learned.steps)]
    return tuple(dict.fromkeys(f"{HERE}: {own.said['access']}" for own in told if "access" in own.said))


def holds_two(steps: Sequence[tuple[str, str]], book: Book) -> str | None:
    """What a fastener of these steps holds besides: on this boat first, then as the book warns of any."""
    learned, plain = learned_in(book), plain_of(book)
    own = [learned.steps[key].holds_two for key in steps if key in learned.steps]
    told = [f"{HERE}: {as_sentence(text)}" for text in own if text is not None]
    return " ".join(dict.fromkeys((*told, *(t for key in steps if (t := plain_step(plain, *key).holds_two) is not None)))) or None


def plain_step(book: Book, job: str, step: str) -> Step:
    """A step of the book."""
    return next(s for s in book.jobs[job].steps if s.id == step)


def agree(one: OwnStep | None, other: OwnStep | None) -> bool:
    """Whether what was learned of two steps can be of one and the same: nothing that both speak of is said differently."""
    if one is None or other is None:
        return True
    first, second = one.said, other.said
    return all(first[key] == second[key] for key in set(first) & set(second))


def _of_step(own: OwnStep, step: Step) -> list[str]:
    takes: list[str] = []
    if own.minutes is not None:
        minutes = own_minutes_of(step.minutes, own.minutes)
        takes = [_takes(minutes.skilled, step.minutes.skilled),
                 f"the first time {_short(minutes.first_time)} min (the book says {_short(step.minutes.first_time)})"]
    hands = {1: "one pair of hands is enough", 2: "takes a second pair of hands"}
    alone = [] if own.hands in (None, step.hands) else [hands[own.hands]]
    tools = [f"wanted too: {', '.join(own.tools)}"] if own.tools else []
    return [*_access(own.access), *takes, *alone, *tools, *_note(own.note)]


def _access(text: str | None) -> list[str]:
    return [] if text is None else [f"access: {text}"]


def _note(text: str | None) -> list[str]:
    return [] if text is None else [text]


def _takes(own: float, book: float) -> str:
    return f"takes a practised hand {_short(own)} min (the book says {_short(book)})"


def _short(minutes: float) -> str:
    return f"{round(minutes, 1):g}"


def _sentence(texts: Sequence[str]) -> str | None:
    return f"{HERE}: {'; '.join(dict.fromkeys(texts))}" if texts else None
