"""Warm `assess` with the next check: how long a case takes once the rules are loaded, and on which step."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from statistics import median

from bench.casework import Drawn, told_cases
from bench.clock import cpu_ms, quantile
from bench.lines import Line, Setting

import diagnose.chain.engine
import diagnose.decide
import diagnose.looks
import diagnose.network.belief
import diagnose.rank
import diagnose.triage
from diagnose.case import Case
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.triage import assess

STEPS: tuple[tuple[str, object, str], ...] = (
    ("resolve", diagnose.triage, "resolve"),
    ("kinds of boat", diagnose.triage, "kinds_of"),
    ("priors", diagnose.triage, "priors"),
    ("chaining", diagnose.chain.engine.Chainer, "findings"),
    ("chaining", diagnose.chain.engine.Chainer, "conclusions"),
    ("posterior and ledger", diagnose.rank.Weighed, "of"),
    ("decision", diagnose.decide.Decider, "decide"),
    ("next check", diagnose.looks.Looks, "plan"),
)
"""Steps that do not contain one another."""


def run(setting: Setting) -> Iterator[Line]:
    """Told cases first, then random ones with six signs present."""
    book = load_rules(setting.rules)
    title, cases = told_cases(setting, book)
    times = setting.pick(2, 3)
    yield from _lines(title, cases, book, times, "<= 30")
    drawn = Drawn(book, setting.seed)
    boat = drawn.boat(1.0)
    random_cases = [drawn.case(boat, 6, 12) for _ in range(setting.pick(10, 60))]
    yield from _lines("random: 6 present, 12 clear, boat known", random_cases, book, times, "")


def _lines(title: str, cases: Sequence[Case], book: Book, times: int, target: str) -> Iterator[Line]:
    able, refused = _able(cases, book)
    note = "; ".join(f"{n} refused: {why}" for why, n in refused.items())
    if not able:
        yield Line(f"assess, {title}: none could be assessed", note=note)
        return
    if refused:  # those refused may well be the hard ones
        title, target = f"{len(able)} assessed of {title}", ""
    spent = [median(cpu_ms(lambda c=case: assess(c, book)) for _ in range(times)) for case in able]  # type: ignore[misc]
    yield Line(f"assess, {title}: median", f"{median(spent):.1f} ms", "", None, target, note)
    yield Line("  95 in 100 within; slowest", f"{quantile(spent, 0.95):.1f} ms", f"{max(spent):.1f} ms")
    yield Line("  of the time", note=_shares(able, book))


def _able(cases: Sequence[Case], book: Book) -> tuple[list[Case], Counter[str]]:
    """The cases that can be assessed (each assessed once, which warms it up), and why others are refused."""
    able, refused = [], Counter[str]()
    for case in cases:
        try:
            assess(case, book)
            able.append(case)
        except DiagnoseError as error:
            refused[type(error).__name__] += 1
    return able, refused


def _shares(cases: Sequence[Case], book: Book) -> str:
    spent: Counter[str] = Counter()
    with _watched(spent):
        start = time.process_time()
        for case in cases:
            assess(case, book)
        whole = time.process_time() - start
    solving, passes = spent.pop("solve"), int(spent.pop("solve calls"))
    shares = [f"{name} {s / whole:.0%}" for name, s in sorted(spent.items(), key=lambda item: -item[1])]
    rest = f"rest {1 - sum(spent.values()) / whole:.0%}"
    return f"{', '.join([*shares, rest])}; elimination, within these, {solving / whole:.0%} in {passes / len(cases):.1f} passes a case"


@contextmanager
def _watched(spent: Counter[str]) -> Iterator[None]:
    """Time each step by wrapping it for a while."""
    places = [*STEPS, ("solve", diagnose.network.belief, "solve")]
    before = [(owner, name, vars(owner)[name]) for _, owner, name in places]
    try:
        for step, owner, name in places:
            setattr(owner, name, _wrapped(vars(owner)[name], step, spent))
        yield
    finally:
        for owner, name, original in before:
            setattr(owner, name, original)


def _wrapped(original: object, step: str, spent: Counter[str]) -> object:
    inner: Callable[..., object] = original.__func__ if isinstance(original, classmethod) else original  # type: ignore[assignment]

    def timed(*args: object, **kwargs: object) -> object:
        start = time.process_time()
        try:
            return inner(*args, **kwargs)
        finally:
            spent[step] += time.process_time() - start  # type: ignore[assignment]
            if step == "solve":
                spent["solve calls"] += 1

    return classmethod(timed) if isinstance(original, classmethod) else timed
