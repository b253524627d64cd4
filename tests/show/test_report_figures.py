"""The drawings of a report: lengths and places follow the figures, texts fit, and the words say the same."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest
import tiny
from conftest import Report
from hypothesis import given, settings
from hypothesis import strategies as st
from pagereader import Page

from diagnose.assessment import Ledger, Ranked, Urgency
from diagnose.knowledge.book import Book
from diagnose.show.report import verdict
from diagnose.show.report.figures import WIDTH, Band, Weight, for_and_against, hour_ruler, wrapped
from diagnose.show.report.telling import chance_of, factor, hours, in_100, weight_words


def rects(svg: str) -> list[tuple[float, float, bool, float]]:
    """Left and right edge of each bar below the legend, whether it is filled, and how heavy its outline is."""
    found = []
    for e in Page(f"<html><body>{svg}</body></html>").all("rect"):
        if "stroke" in e.attrs and e.attrs["width"] != "16.0":
            left = float(e.attrs["x"])
            found.append((left, left + float(e.attrs["width"]), not e.attrs["fill"].startswith("url"), float(e.attrs["stroke-width"])))
    return found


# ------------------------------------------------------------------ for and against


def test_bars_go_to_the_side_they_speak_for() -> None:
    """What speaks for a fault goes right of the middle, what speaks against it left; the first is filled, its rival hatched."""
    svg = for_and_against("f", "t", "d", "one", "two", [Weight("a", 10.0, -5.0), Weight("b", -20.0, 20.0)])
    middle = WIDTH / 2
    sides = [(left >= middle - 1, filled) for left, _, filled, _ in rects(svg)]
    assert sides == [(True, True), (False, False), (False, True), (True, False)]


@settings(max_examples=25)
@given(st.lists(st.floats(-24, 24).filter(lambda x: abs(x) > 1), min_size=2, max_size=6))
def test_bars_are_as_long_as_their_weight(weights: list[float]) -> None:
    """Among bars within the scale, lengths are in proportion to decibans (a ratio of two lengths is that of two weights)."""
    bars = rects(for_and_against("f", "t", "d", "one", None, [Weight("x", w, None) for w in weights]))
    lengths = [right - left for left, right, _, _ in bars]
    scale = [length / abs(weight) for length, weight in zip(lengths, weights, strict=True)]
    assert max(scale) == pytest.approx(min(scale), rel=0.05, abs=0.1)
    assert all(left >= 0 and right <= WIDTH for left, right, _, _ in bars)


def test_a_bar_beyond_the_scale_is_marked() -> None:
    """A weight off the scale ends at the edge with an arrow, and its factor is still told."""
    svg = for_and_against("f", "t", "d", "one", None, [Weight("x", 60.0, None)])
    assert "<path" in svg
    assert f">{factor(60.0)}<" in svg


@pytest.mark.parametrize(
    ("decibans", "shown"),
    [(0.0, "×1"), (3.0, "×2"), (-3.0, "÷2"), (10.0, "×10"), (-10.0, "÷10"), (20.0, "×100"), (13.0, "×20"), (45.0, "×1000 and more")],
)
def test_a_factor_is_what_decibans_stand_for(decibans: float, shown: str) -> None:
    """Ten decibans are a factor of ten in the odds and three about two, by the definition of the unit (10 log10 2 is 3.01)."""
    assert factor(decibans) == shown


def test_words_grow_with_the_weight() -> None:
    """More decibans never get a weaker word, and the side is said."""
    words = ["hardly counts", "weakly", "clearly", "strongly", "very strongly"]
    order = [next(i for i, w in reversed(list(enumerate(words))) if weight_words(x).startswith(w)) for x in (0.5, 2, 5, 10, 15)]
    assert order == [0, 1, 2, 3, 4]
    assert " for " in weight_words(5)
    assert " against " in weight_words(-5)


def test_odds_and_chances_agree() -> None:
    """Even odds are one in two, ten decibans ten in eleven."""
    assert chance_of(0.0) == pytest.approx(0.5)
    assert chance_of(10.0) == pytest.approx(10 / 11)


def test_a_small_chance_that_counts_is_told_in_thousands() -> None:
    """Below one in a hundred the thousand is the measure, and nothing that may happen is called none."""
    assert [in_100(c) for c in (0.0, 0.0004, 0.002, 0.05, 1.0)] == ["none", "under 1 in 1000", "2 in 1000", "5 in 100", "over 99 in 100"]


def test_the_figure_and_its_words_agree(shipped: tuple[Report, ...]) -> None:
    """Of every shipped case: the sentence of the leading fault names its chance, and each row of its ledger stands in the table."""
    drawn = 0
    for report in shipped:
        leader = verdict.leading(report.assessment)
        text = " ".join(e.text for e in report.page.all("section") if e.attrs["aria-labelledby"] == "for-and-against")
        if leader is None:
            assert "nothing to weigh" in text
            continue
        drawn += 1
        assert leader.title in text
        for entry in leader.ledger.lines:
            assert entry.group.lower() in text.lower()
            assert weight_words(entry.given_rest) in text
    assert drawn >= 4


# ------------------------------------------------------------------ hours


@settings(max_examples=25)
@given(st.floats(0.2, 40), st.lists(st.tuples(st.floats(0.2, 200), st.floats(1.5, 40)), min_size=1, max_size=4))
def test_the_ruler_is_a_ruler_of_factors(trip: float, spans: list[tuple[float, float]]) -> None:
    """Equal factors of hours are equal lengths: the place of every band's ends is linear in the logarithm of its hours."""
    bands = [Band("x", "w", (low, low * times), trip) for low, times in spans]
    bars = rects(hour_ruler("r", "t", "d", trip, "trip", bands))
    ends = [(trip, bars[0][1])]
    for band, (left, right, _, _) in zip(bands, bars[1:], strict=True):
        assert band.hours is not None
        ends += [(band.hours[0], left), (band.hours[1], right)]
    ends.sort()
    (h0, x0), (h1, x1) = ends[0], ends[-1]
    if h1 / h0 > 1.2:
        slope = (x1 - x0) / math.log(h1 / h0)
        assert all(abs(x - (x0 + slope * math.log(h / h0))) < 2.5 for h, x in ends)
    assert all(0 <= left <= right <= WIDTH for left, right, _, _ in bars)


def test_a_band_that_begins_within_the_trip_is_heavy_and_said() -> None:
    """The outline is heavy exactly where the words say that it can end on the way."""
    for low, high, words in ((1.0, 3.0, "All of the band lies within"), (2.0, 30.0, "begins within"), (7.0, 30.0, "when the trip is over")):
        band = Band("x", "w", (low, high), 6.0)
        bars = rects(hour_ruler("r", "t", "d", 6.0, "trip", [band]))
        assert (bars[-1][3] > 2) is (low < 6.0)
        assert words in verdict._band_words(band)
    assert "no hour" in verdict._band_words(Band("x", "stays", None, 6.0))


def ranked(fault: str, stages: dict[str, float]) -> Ranked:
    """A line of a ranking with these stages."""
    urgency = Urgency(within="soon", hours=None, consequence="engine-lost", say="soon")
    ledger = Ledger(prior=0.0, lines=(), shared=0.0, posterior=0.0)
    return Ranked(
        place=1,
        fault=fault,
        title=fault,
        system="coolant",
        probability=0.5,
        stages=stages,
        relation="most likely",
        urgency=urgency,
        ledger=ledger,
        jobs=(),
    )


def test_the_hours_left_are_those_of_the_book(tiny_book: Book) -> None:
    """By hand: weeping lasts 30 to 300 h and streaming 1 to 10 h; half of the present stage's short end is gone, so from the
    first stage 15 + 1 to 300 + 10 hours are left, and from the second half an hour to ten."""
    fault = tiny_book.faults["pump-seal-worn"]
    assert verdict.remaining(ranked(fault.id, {"weeping": 0.4, "streaming": 0.1}), fault) == (16.0, 310.0)
    assert verdict.remaining(ranked(fault.id, {"weeping": 0.1, "streaming": 0.4}), fault) == (0.5, 10.0)


def test_a_fault_that_stays_has_no_hours(tiny_book: Book) -> None:
    """Where a stage still to come does not move on by itself, no hour is set."""
    fault = tiny_book.faults["pump-seal-worn"]
    stays = fault.model_copy(update={"stages": (fault.stages[0], fault.stages[1].model_copy(update={"lasts": None}))})
    assert verdict.remaining(ranked(fault.id, {"weeping": 0.4, "streaming": 0.1}), stays) is None


def test_hours_have_few_digits() -> None:
    """Under an hour in minutes, above it with two figures."""
    assert [hours(h) for h in (0.02, 0.5, 1.0, 7.46, 26.0, 312.0)] == ["1 min", "30 min", "1 h", "7.5 h", "26 h", "310 h"]


# ------------------------------------------------------------------ letters


@given(st.text(max_size=120), st.floats(60, 340))
def test_rows_of_text_fit(text: str, room: float) -> None:
    """No row is longer than fits, and no letter is lost."""
    rows = wrapped(text, room)
    most = max(8, int(room / (16 * 0.56)))
    assert all(len(row) <= most for row in rows)
    assert "".join("".join(rows).split()) == "".join(text.split())


def test_no_text_of_a_drawing_leaves_it(shipped: tuple[Report, ...]) -> None:
    """Each text lies within the drawing, reckoned at 0.5 of its height a letter, the mean width of a plain sans-serif (common practice)."""
    for report in shipped:
        for e in report.page.all("text"):
            svg = next(a for a in e.around if a.tag == "svg")
            wide, high = (float(x) for x in svg.attrs["viewbox"].split()[2:])
            across = len(e.text) * float(svg.attrs["font-size"]) * 0.5
            x, y = float(e.attrs["x"]), float(e.attrs["y"])
            left = {"start": x, "middle": x - across / 2, "end": x - across}[e.attrs["text-anchor"]]
            assert left >= -2, e.text
            assert left + across <= wide + 2, e.text
            assert 0 < y <= high


def test_titles_are_escaped() -> None:
    """A title with signs of markup is text in the drawing."""
    svg = for_and_against("f", "<t> & \"x\"", "</desc><script>", "<b>one", None, [Weight("a<b", 5.0, None)])
    page = Page(f"<html><body>{svg}</body></html>")
    assert not page.all("script", "b", "t")
    assert page.one("title").text == "<t> & \"x\""
    assert re.search("a&lt;b", svg)


# ------------------------------------------------------------------ who stands beside the first


def test_the_rival_is_the_one_to_doubt_with(tiny_report: Callable[..., Report]) -> None:
    """Beside the first stands a fault that would be there instead of it, or one that the book tells it from."""
    report = tiny_report(opened_because="noticed-something", observations=[tiny.observation("pump-weep", "drip")])
    leader = verdict.leading(report.assessment)
    assert leader is not None
    assert leader.fault == "pump-seal-worn"
    rival = verdict.nearest_rival(report.assessment, leader, report.book)
    assert rival is not None
    assert rival.fault == "pump-bearing-worn"


def test_where_nothing_is_seen_nothing_leads(tiny_report: Callable[..., Report]) -> None:
    """A boat on which nothing was found has no leading fault, and the report says so in place of a figure."""
    report = tiny_report()
    assert verdict.leading(report.assessment) is None
    assert report.page.all("svg") == []
    assert "Nothing that was seen points at a fault in this book." in report.page.text
