"""The report on real accounts and published tables: what the book gets right, and what it misses and why.

    python tests/outside/report.py
    python tests/outside/report.py --all
    python tests/outside/report.py --small-changes     # how often the first place moves; takes some minutes
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[0] = str(ROOT / "tests")
sys.path.insert(0, str(ROOT))

from outside.accounts import Judged, judged, within  # noqa: E402
from outside.scoring import log_score, reliability, slope, slope_interval, spiegelhalter, wilson  # noqa: E402
from outside.tables import Row, rows  # noqa: E402
from test_perturbation import CASES, as_it_stands, dropped, moved  # noqa: E402
from test_perturbation import judged as by_the_book  # noqa: E402

from diagnose import load_case, load_rules  # noqa: E402


def main() -> int:
    """Print the report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--all", action="store_true", help="Print every account, not only the missed ones.")
    parser.add_argument("--small-changes", action="store_true", help="Drop and move single observations, and count what changes.")
    asked = parser.parse_args()
    everything, found = asked.all, judged()
    for line in (*_accounts(found), *_decisions(found), *_calibration(found), *_list(found, everything=everything), *_tables(rows())):
        print(line)
    if asked.small_changes:
        for line in _small_changes():
            print(line)
    return 0


def _small_changes() -> Iterator[str]:
    """How often the first place and the decision change when one observation is dropped or moved by a grade."""
    yield ""
    yield "small changes, over the shipped cases and the accounts"
    for word, near_of in (("one observation dropped", dropped), ("one moved by a grade", moved)):
        count = first = decided = 0
        for path in CASES:
            case, before = load_case(path), as_it_stands(path)
            for _, near in near_of(case):
                after = by_the_book(near)
                count += 1
                first += next(iter(after.all_probabilities)) != next(iter(before.all_probabilities))
                decided += after.departure.so_far != before.departure.so_far
        yield f"  {word:<26}{count:>5} times: another first {first / count * 100:.0f} in 100, another decision {decided / count * 100:.0f}"


def _share(hits: int, count: int) -> str:
    low, high = wilson(hits, count)
    return f"{hits:>3} of {count:<3} {hits / max(1, count) * 100:>4.0f} in 100  ({low * 100:.0f} to {high * 100:.0f})"


def _accounts(found: tuple[Judged, ...]) -> Iterator[str]:
    yield f"{len(found)} real accounts: place of the confirmed fault (95 in 100 Wilson intervals)"
    for most, word in ((1, "first"), (3, "in the first three"), (5, "in the first five")):
        yield f"  {word:<22}{_share(within(found, most), len(found))}"
    systems = sorted({j.system for j in found})
    yield "  by system: first, three, five, of"
    for system in systems:
        own = tuple(j for j in found if j.system == system)
        yield f"    {system:<20}{within(own, 1):>4}{within(own, 3):>4}{within(own, 5):>4}{len(own):>5}"


def _decisions(found: tuple[Judged, ...]) -> Iterator[str]:
    yield ""
    yield "decision on what was reported (look-over apart), against the account's"
    words = ("go", "go with limits", "fix, then go", "stay")
    yield f"  {'':<14}" + "".join(f"{w:>16}" for w in words)
    for label in ("yes", "with-limits", "no"):
        own = [j for j in found if j.account.leave == label]
        yield f"  {label:<14}" + "".join(f"{sum(j.word == w for j in own):>16}" for w in words)
    unsafe = [j for j in found if not j.cautious]
    yield f"  less cautious than asked: {', '.join(f'{j.account.id} ({j.word})' for j in unsafe) or 'none'}"
    for j in found:
        if j.account.ours:
            yield f"  we differ: {j.account.id} said {j.account.leave}, we say {j.account.ours}: {j.account.ours_why}"


def _calibration(found: tuple[Judged, ...]) -> Iterator[str]:
    first, right = [j.first_chance for j in found], [j.place == 1 for j in found]
    book = load_rules()
    base = [max((book.faults[f].rate.per_year for f in j.account.confirmed), default=1e-4) for j in found]
    low, high = slope_interval(first, right)
    yield ""
    yield "calibration (published accounts are no random sample: no rate is drawn from them)"
    yield f"  log score of the confirmed fault {log_score([j.chance for j in found]):.2f}; of its base rate alone {log_score(base):.2f}"
    yield f"  first line: sum stated {sum(first):.1f}, found right {sum(right)}; z {spiegelhalter(first, right):+.1f}; " \
          f"slope {slope(first, right):.2f} ({low:.2f} to {high:.2f})"
    for a, b, count, mean, came in reliability(first, right):
        yield f"    stated {a * 100:>3.0f} to {b * 100:>3.0f}: {count:>3}, mean {mean * 100:>3.0f}, right {came / count * 100:>3.0f}"


def _list(found: tuple[Judged, ...], *, everything: bool) -> Iterator[str]:
    yield ""
    yield "every account" if everything else "accounts whose confirmed fault is not in the first three"
    for j in found:
        if everything or j.place is None or j.place > 3:
            top = ", ".join(f"{n} {p:.2f}" for n, p in list(j.assessment.all_probabilities.items())[:3])
            place = "-" if j.place is None else j.place
            yield f"  {j.account.id} {j.word:<15} {place:>3} {j.chance:.2f} {'/'.join(j.account.confirmed)}; {top}"
            if j.account.missed_why:
                yield f"      why: {j.account.missed_why}"


def _tables(found: tuple[Row, ...]) -> Iterator[str]:
    every = [c for row in found for c in row.causes]
    causes = [c for c in every if c.ours]
    yield ""
    yield f"{len({row.table for row in found})} published tables, {len(found)} rows, {len(every)} causes, {len(causes)} ours"
    yield f"  in the book            {_share(sum(bool(c.faults) for c in causes), len(causes))}"
    yield f"  within the first 12    {_share(sum(c.place is not None and c.place <= 12 for c in causes), len(causes))}"
    for row in found:
        for cause in row.causes:
            if cause.place is None or cause.place > 12:
                place = ("not ours" if not cause.ours else "not in the book" if not cause.faults
                         else f"place {cause.place}" if cause.place else "not owed")
                yield f"    {row.table} {row.says}: {cause.says}: {place}" + (f"; {cause.why}" if cause.why else "")


if __name__ == "__main__":
    sys.exit(main())
