"""A batch without the next check: cases a second on one core, and resident memory on the way.

Then the same without the ledgers too, and on boats of which hardly two are alike, each of which may need a network
of its own.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterator, Sequence

from bench.casework import Drawn, Facts
from bench.clock import resident_mb
from bench.lines import Line, Setting

from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.triage import assess

FLEET = 12


def run(setting: Setting) -> Iterator[Line]:
    """Twelve boats over and over, with and without ledgers, and then a thousand boats."""
    book = load_rules(setting.rules)
    drawn = Drawn(book, setting.seed)
    fleet = [drawn.boat(0.9) for _ in range(FLEET)]
    yield from _lines(f"{FLEET} boats", book, drawn, fleet, setting.pick(300, 10_000), ">= 100")
    yield from _lines(f"{FLEET} boats, no ledgers", book, drawn, fleet, setting.pick(100, 2000), "", ledger=False)
    strangers = [drawn.boat(0.9) for _ in range(setting.pick(60, 1000))]
    yield from _lines("every boat another", book, drawn, strangers, len(strangers), "")


def _lines(title: str, book: Book, drawn: Drawn, boats: Sequence[Facts], count: int, target: str,
           ledger: bool = True) -> Iterator[Line]:
    refused: Counter[str] = Counter()
    for i in range(FLEET):
        _assess(book, drawn, boats[i], i, ledger, refused)
    refused.clear()
    spent, memory = 0.0, [resident_mb()]
    for i in range(count):
        spent += _assess(book, drawn, boats[i % len(boats)], i, ledger, refused)
        if i + 1 in (count // 2, count):
            memory.append(resident_mb())
    note = f"{count} cases" + "".join(f"; {n} refused: {why}" for why, n in refused.items())
    yield Line(f"{title}: cases a second", f"{(count - sum(refused.values())) / spent:.0f}", "", None, target, note)
    yield Line("  resident at the start, middle, end", " ".join(f"{m:.0f}" for m in memory) + " MB", "", memory[2] / memory[0],
               "flat" if target else "")


def _assess(book: Book, drawn: Drawn, boat: Facts, number: int, ledger: bool, refused: Counter[str]) -> float:
    """Processor time [s] of one case with one to six signs present and three to twelve clear."""
    case = drawn.case(boat, 1 + number % 6, 3 + number % 10)
    start = time.process_time()
    try:
        assess(case, book, next_check=False, ledger=ledger)
    except DiagnoseError as error:
        refused[type(error).__name__] += 1
    return time.process_time() - start
