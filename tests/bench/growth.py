"""Growth: warm `assess` and the chain alone over made-up books of 50 to 400 faults, the same case in each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from bench.clock import medians
from bench.lines import Line, Setting
from bench.synthetic import made_up_book, made_up_case

from diagnose.chain import durable
from diagnose.chain.engine import Chainer, EngineName
from diagnose.chain.form import Fact
from diagnose.knowledge.book import Book
from diagnose.situation import resolve
from diagnose.triage import assess

SIZES = (50, 100, 200, 400)
TIMES_CHAINED = 20


def run(setting: Setting) -> Iterator[Line]:
    """Time per fault against the smallest book: 1 is linear, below 1 grows slower."""
    books = {size: made_up_book(size) for size in (SIZES[:3] if setting.quick else SIZES)}
    case, count = made_up_case(), setting.pick(5, 25)
    for what, look in (("assess", True), ("assess, no next check", False)):
        yield from _lines(what, {n: partial(assess, case, book, next_check=look) for n, book in books.items()}, count)
    engines: list[EngineName] = ["durable-rules", "plain"] if durable.available() else ["plain"]
    for engine in engines:
        works = {n: _chaining(book, engine) for n, book in books.items()}
        yield from _lines(f"chains alone, {engine}", works, count, per=TIMES_CHAINED)


def _lines(what: str, works: dict[int, Callable[[], object]], count: int, per: int = 1) -> Iterator[Line]:
    times = dict(zip(works, medians(list(works.values()), count), strict=True))
    smallest = min(times)
    base = times[smallest] / smallest
    for size, spent in times.items():
        yield Line(f"{what}: {size} faults", f"{spent / per:.2f} ms", f"{1e3 * spent / per / size:.1f} us/fault", spent / size / base,
                   "<= 1" if size > smallest else "")


def _chaining(book: Book, engine: EngineName) -> Callable[[], object]:
    """Both chains that run for every case, several times over."""
    chainer = Chainer.of(book, engine)
    situation = resolve(made_up_case(), book)
    facts = [*situation.facts_for_chain(), *situation.readings_for_chain()]
    chances: list[Fact] = [{"n": f"chance:{name}", "v": 0.6 if name.startswith("c0-") else 0.01} for name in chainer.chains.asked_chances]

    def chain() -> None:
        for _ in range(TIMES_CHAINED):
            found = chainer.findings(facts)
            chainer.conclusions([*found.facts.values(), *chances])

    return chain
