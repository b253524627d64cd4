"""How often the first line was right, and whether the chances said came true: the judgements set beside what was found."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.rank import NOT_IN_BOOK
from diagnose.record.entries import Assessed, Found
from diagnose.record.learn import findings
from diagnose.record.store import Record, Stored

EDGES = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
"""Edges of the bands of chance: those that have a word of their own on every page."""
FIRST_FEW = 3
_Z95 = 1.959963984540054


@dataclass(frozen=True)
class Judged:
    """One case: what the last assessment before the finding put first, what it was, and each chance beside what came true."""

    case: str
    boat: str
    first: str
    found: tuple[str, ...]
    place: int | None
    """Place in the ranking of the best placed of what it was; None where it had no line, or nothing was wrong."""
    pairs: tuple[tuple[float, bool], ...]


@dataclass(frozen=True)
class Band:
    """Lines whose chance was said to lie in a band: how many, the mean of what was said, how many came true, and the
    Wilson interval (95 %) of that share."""

    low: float
    high: float
    lines: int
    said: float
    came: int
    interval: tuple[float, float]


@dataclass(frozen=True)
class Tally:
    """The count over all cases with a certain finding and an assessment before it."""

    cases: int
    first_right: int
    first_interval: tuple[float, float]
    few_right: int
    few_interval: tuple[float, float]
    nothing_wrong: int
    lines: int
    brier: float | None
    """Mean square of the difference between the chance said of a line and what came true; 0 is perfect."""
    bands: tuple[Band, ...]
    judged: tuple[Judged, ...]
    left_out: tuple[str, ...]


def tally(record: Record, *, boat: str | None = None, renamed: Mapping[str, str] | None = None) -> Tally:
    """Set what was judged beside what was found.

    Args:
        record: where both are.
        boat: only hers, as she is spelt in the record.
        renamed: old ids of faults to their present ones.

    Raises:
        RecordError: the record cannot be read.
    """
    assessed = [s for s in record.entries(boat=boat, kinds=("assessed",)) if not s.taken_back]
    judged: list[Judged] = []
    left_out: list[str] = []
    for stored in findings(record, boat):
        before = [s for s in assessed if s.case == stored.case and s.entry.at <= stored.entry.at]
        found = stored.entry
        if not isinstance(found, Found) or found.sure != "certain":
            left_out.append(f"{stored.case}: likely, not certain")
        elif not before:
            left_out.append(f"{stored.case}: not judged before it was found")
        else:
            judged.append(_judged(max(before, key=lambda s: (s.entry.at, s.id)), found, renamed or {}))
    wrong = [j for j in judged if j.found]
    first = sum(j.place == 1 for j in wrong)
    few = sum(j.place is not None and j.place <= FIRST_FEW for j in wrong)
    pairs = [pair for j in judged for pair in j.pairs]
    return Tally(
        cases=len(wrong), first_right=first, first_interval=wilson(first, len(wrong)), few_right=few,
        few_interval=wilson(few, len(wrong)), nothing_wrong=len(judged) - len(wrong), lines=len(pairs), brier=brier(pairs),
        bands=tuple(bands(pairs)), judged=tuple(judged), left_out=tuple(left_out),
    )


def _judged(stored: Stored, found: Found, renamed: Mapping[str, str]) -> Judged:
    """Lines beside what it was. What it was and had no line counts as one, with the chance it was given."""
    assert isinstance(stored.entry, Assessed)
    result = json.loads(stored.entry.result)
    was = {renamed.get(f, f) for f in found.faults} | ({NOT_IN_BOOK} if found.not_in_book else set())
    ranking = [(renamed.get(line["fault"], line["fault"]), float(line["probability"])) for line in result["ranking"]]
    every = {renamed.get(f, f): float(p) for f, p in result["all_probabilities"].items()}
    shown = dict(ranking)
    unseen = {f: every.get(f, 0.0) for f in sorted(was) if f not in shown}
    places = [i + 1 for i, (fault, _) in enumerate(ranking) if fault in was]
    return Judged(
        case=str(stored.case), boat=stored.boat, first=ranking[0][0], found=tuple(sorted(was)), place=min(places, default=None),
        pairs=tuple((p, f in was) for f, p in {**shown, **unseen}.items()),
    )


def brier(pairs: Sequence[tuple[float, bool]]) -> float | None:
    """Mean of (chance - outcome) squared over forecasts of yes or no, 0 to 1; None where there are none (Brier 1950)."""
    return sum((chance - came) ** 2 for chance, came in pairs) / len(pairs) if pairs else None


def bands(pairs: Sequence[tuple[float, bool]]) -> list[Band]:
    """Forecasts by bands of chance, those without any left out; a chance on an edge belongs to the band above it."""
    found = []
    for low, high in itertools.pairwise(EDGES):
        inside = [(p, came) for p, came in pairs if low <= p < high or (p == high == EDGES[-1])]
        if inside:
            came = sum(hit for _, hit in inside)
            found.append(Band(low, high, len(inside), sum(p for p, _ in inside) / len(inside), came, wilson(came, len(inside))))
    return found


def wilson(hits: int, count: int) -> tuple[float, float]:
    """The 95 % score interval of a share (Wilson 1927), 0 to 1; the whole range where nothing was counted."""
    if count == 0:
        return 0.0, 1.0
    share, z2 = hits / count, _Z95 * _Z95
    middle = share + z2 / (2 * count)
    half = _Z95 * math.sqrt(share * (1 - share) / count + z2 / (4 * count * count))
    whole = 1 + z2 / count
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)
