"""The tally: intervals and scores against published figures, and what it counts of a record."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import logkit as kit
import pytest

from diagnose.record import entries as e
from diagnose.record.store import Record
from diagnose.record.tally import Band, bands, brier, tally, wilson
from diagnose.show.tallypage import bar, tally_page

BOAT = kit.BOAT


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    """An empty record."""
    with Record.open(tmp_path / "r.sqlite3") as made:
        yield made


@pytest.mark.parametrize(
    ("hits", "count", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_score_intervals(hits: int, count: int, low: float, high: float) -> None:
    """The four worked intervals of Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3 (figures from memory; each
    was computed again with scipy.stats.binomtest, method wilson)."""
    assert wilson(hits, count) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))
    mirrored = wilson(count - hits, count)
    assert mirrored == (pytest.approx(1 - high, abs=5e-5), pytest.approx(1 - low, abs=5e-5))


def test_nothing_counted_says_nothing() -> None:
    """Of no cases nothing is known: the interval is everything, and there is no score."""
    assert wilson(0, 0) == (0.0, 1.0)
    assert brier([]) is None
    assert bands([]) == []


def test_scores_of_single_forecasts() -> None:
    """Rain forecast at 100, 70, 50 and 30 in 100, and it rains: 0, 0.09, 0.25 and 0.49 (Brier 1950, by hand)."""
    for chance, score in ((1.0, 0.0), (0.7, 0.09), (0.5, 0.25), (0.3, 0.49)):
        assert brier([(chance, True)]) == pytest.approx(score, abs=1e-12)
        assert brier([(1 - chance, False)]) == pytest.approx(score, abs=1e-12)
    assert brier([(0.7, True), (0.3, True)]) == pytest.approx(0.29, abs=1e-12)


def test_bands_hold_every_forecast_once() -> None:
    """Each forecast is in one band, one on an edge in the band above it, and certainty in the last."""
    pairs = [(0.0, False), (0.05, False), (0.2, True), (0.39999, False), (0.95, True), (1.0, True)]
    found = bands(pairs)
    assert [(b.low, b.high, b.lines, b.came) for b in found] == [(0.0, 0.05, 1, 0), (0.05, 0.2, 1, 0), (0.2, 0.4, 2, 1), (0.95, 1.0, 2, 2)]
    assert found[2].said == pytest.approx(0.299995)
    assert found[2].interval == wilson(1, 2)


def judged(record: Record, ranking: list[tuple[str, float]], minutes: float, case: str | None = None, **others: float) -> str:
    """A case judged so; `others` are faults without a line."""
    lines = [{"fault": f, "probability": p, "place": i + 1} for i, (f, p) in enumerate(ranking)]
    chances = {**dict(ranking), **{name.replace("_", "-"): p for name, p in others.items()}}
    result = json.dumps({"decision": "stay", "holds": [], "ranking": lines, "all_probabilities": chances})
    name = case or str(record.append(kit.opened(minutes=minutes), boat=BOAT).case)
    record.append(kit.assessed(result).model_copy(update={"at": kit.at(minutes)}), boat=BOAT, case=name)
    return name


def found(record: Record, case: str, minutes: float, **what: Any) -> int:
    """What it was."""
    return record.append(e.Found(at=kit.at(minutes), **what), boat=BOAT, case=case).id


LINES = [("seal", 0.8), ("hose", 0.3), ("clip", 0.2), ("cap", 0.1), ("not-in-this-book", 0.02)]


def test_what_is_counted(record: Record) -> None:
    """First line right once, first three twice, of five cases; two healthy, one not certain, one never judged (by hand)."""
    cases = [judged(record, LINES, m, sump=0.001) for m in range(0, 80, 10)]
    found(record, cases[0], 1, faults=("seal",))
    found(record, cases[1], 11, faults=("cap", "clip"))
    found(record, cases[2], 21, faults=("cap",))
    found(record, cases[3], 31, faults=("sump",))
    found(record, cases[4], 41, not_in_book="a rag")
    found(record, cases[5], 51, nothing_wrong=True)
    found(record, cases[6], 61, faults=("seal",), sure="likely")
    found(record, str(record.append(kit.opened(minutes=90), boat=BOAT).case), 91, faults=("seal",))
    result = tally(record)
    assert (result.cases, result.first_right, result.few_right, result.nothing_wrong) == (5, 1, 2, 1)
    assert [j.place for j in result.judged] == [1, 3, 4, None, 5, None]
    assert result.lines == 5 * 6 + 1
    assert [text.partition(": ")[2] for text in result.left_out] == ["likely, not certain", "not judged before it was found"]
    assert result.first_interval == wilson(1, 5)
    squares = sum(p * p for _, p in LINES)
    right = [("seal",), ("cap", "clip"), ("cap",), (), ("not-in-this-book",), ()]
    chances = dict(LINES)
    total = sum(squares + sum(1 - 2 * chances[f] for f in was) for was in right) + (1 - 0.001) ** 2
    assert result.brier == pytest.approx(total / result.lines, rel=1e-12)
    assert sum(b.lines for b in result.bands) == result.lines


def test_the_last_judgement_before_the_finding_counts(record: Record) -> None:
    """A case judged again is tallied by its last assessment before it was known; one made afterwards, or taken back, is not."""
    case = judged(record, [("hose", 0.6), ("seal", 0.4)], 0)
    judged(record, [("seal", 0.7), ("hose", 0.2)], 5, case)
    found(record, case, 10, faults=("seal",))
    judged(record, [("cap", 0.9), ("seal", 0.1)], 15, case)
    assert [j.first for j in tally(record).judged] == ["seal"]
    second = next(s.id for s in record.entries(kinds=("assessed",)) if s.entry.at == kit.at(5))
    record.append(e.TakenBack(at=kit.at(20), entry=second), boat=BOAT, case=case)
    assert [(j.first, j.place) for j in tally(record).judged] == [("hose", 2)]


def test_a_finding_taken_back_is_not_tallied(record: Record) -> None:
    """Taken back, the finding is out of the count; a fault renamed since is known by both its names."""
    case = judged(record, LINES, 0)
    number = found(record, case, 1, faults=("shaft-seal",))
    assert tally(record, renamed={"seal": "shaft-seal"}).first_right == 1
    assert tally(record, boat="Other").cases == 0
    record.append(e.TakenBack(at=kit.at(2), entry=number), boat=BOAT, case=case)
    assert tally(record).judged == ()


def test_the_bar_of_a_band() -> None:
    """On a scale of 41 columns, 5 of 10 with an interval of 0.25 to 0.75 and 0.4 said: dashes 10 to 30, `|` at 16, `o` at 20."""
    drawn = bar(Band(0.4, 0.6, 10, 0.4, 5, (0.25, 0.75)))
    assert drawn == " " * 10 + "-" * 6 + "|" + "-" * 3 + "o" + "-" * 10
    assert bar(Band(0.95, 1.0, 1, 1.0, 1, (0.0, 1.0))) == "-" * 40 + "o"


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_page_fits_and_says_the_counts(width: int, record: Record) -> None:
    """The page fits its width, and says the counts, the score and each band in words beside its bar."""
    for m in range(0, 40, 10):
        found(record, judged(record, LINES, m), m + 1, faults=("seal",))
    page = tally_page(tally(record), width).text()
    assert max(map(len, page.splitlines())) <= width
    words = " ".join(page.split())
    assert "4 of 4" in words
    assert "very likely: said 80 on average, 100 came true" in words
    assert "unlikely: said 10 on average, 0 came true" in words
    empty = tally_page(tally(record, boat="Other"), width).text()
    assert "0 cases" in empty
    assert "o came true" not in empty
