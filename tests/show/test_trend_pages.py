"""The pages of trends and of what is due: words and plain characters in any width, nothing obeyed that people wrote."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import trendkit as kit

from diagnose.case import Observation
from diagnose.record import entries as e
from diagnose.record.due import due
from diagnose.record.hourlog import hour_log
from diagnose.record.outlook import Outlook, outlook
from diagnose.record.series import all_series
from diagnose.show.duepage import due_page
from diagnose.show.trendpage import known_page, trend_page
from diagnose.show.trendplot import KEY, frame_of, plot

WIDTHS = (40, 60, 80, 120)
SPIKED = ["82 degC", "83 degC", "83.5 degC", "85 degC", "99 degC", "86 degC"]
LOG = kit.log_of((0, 0), (365.25, 100))


def of(values: Sequence[float], at_hours: Sequence[float], symptom: str = "heat") -> Outlook:
    """The outlook of numbers at engine hours."""
    return outlook(kit.series(values, at_hours, symptom), LOG)


def body(lines: list[str]) -> list[str]:
    """The rows of a drawing right of their axis."""
    return [line.partition(" |")[2] for line in lines if " |" in line]


@pytest.fixture
def spiked(tmp_path: Path) -> Outlook:
    """Six temperatures with a spike, and a service between them."""
    return kit.view(kit.record_of(tmp_path, *kit.along(SPIKED, [0, 50, 100, 150, 200, 250], "heat", "idle", every=50.0),
                                  e.ServiceEntry(at=kit.day(120), item="jacket", hours=120, on=date(2026, 5, 5))), "heat")


@pytest.fixture
def graded(tmp_path: Path) -> Outlook:
    """Five looks that got worse twice, one of them a guess."""
    record = kit.record_of(tmp_path, *kit.along(["none", "some", "some", "some", "much"], [0.0, 50.0, 100.0, 150.0, 200.0], "weep"),
                           kit.hours(60, 260), kit.seen(60, "weep", "much", sure="guess"))
    return kit.view(record, "weep")


# ------------------------------------------------------------------ the drawing


@pytest.mark.parametrize("width", WIDTHS)
def test_no_line_is_wider_than_the_page(width: int, spiked: Outlook, graded: Outlook) -> None:
    """Words and drawing fit the page at every width, and the drawing is of plain characters alone."""
    text = trend_page([spiked, graded], width).text()
    assert max(len(line) for line in text.splitlines()) <= width
    assert all(line.isascii() for view in (spiked, graded) for line in plot(view, width))


def test_looks_stand_where_they_belong() -> None:
    """Two looks, the first low at the left and the last high at the right: the marks are in those corners."""
    rows = body(plot(of([10.0, 30.0], [0.0, 100.0], "sea"), 60))
    assert rows[0].rstrip().endswith("o")
    assert rows[-1].startswith("o")
    assert sum(row.count("o") for row in rows) == 2


def test_time_goes_to_the_right_in_proportion() -> None:
    """Looks at 0, 25 and 100 h stand at nought, a quarter and the whole of the width."""
    rows = body(plot(of([10.0, 10.0, 30.0], [0.0, 25.0, 100.0], "sea"), 60))
    columns = sorted(i for row in rows for i, c in enumerate(row) if c == "o")
    wide = columns[-1]
    assert columns[0] == 0
    assert columns[1] / wide == pytest.approx(0.25, abs=0.02)


def test_limit_service_and_line_are_drawn_and_keyed(spiked: Outlook) -> None:
    """The service is an upright and the line dots, each told in the key; a limit far above the looks is not drawn, one near is."""
    drawn = plot(spiked, 60)
    assert any(row.count("|") == 1 for row in body(drawn))
    key = drawn[-2:]
    assert any(f"| {KEY['|']}" in line for line in key)
    assert any(f". {KEY['.']}" in line for line in drawn)
    near = plot(of([90.0, 91.0, 92.0, 93.0], [0.0, 10.0, 20.0, 30.0]), 60)
    assert any(line.startswith("  95 |---") for line in near)
    far = plot(of([50.0, 51.0, 52.0, 53.0], [0.0, 10.0, 20.0, 30.0]), 60)
    assert not any("---|" in line or line.lstrip().startswith("95 |") for line in far)


def test_grades_stand_in_rows_of_their_own(graded: Outlook) -> None:
    """Each grade names its row, the worst at the top, and a guess has a mark of its own."""
    drawn = plot(graded, 60)
    names = [line.partition(" |")[0].strip() for line in drawn if " |" in line]
    assert [n for n in names if n] == ["utter", "much", "some", "none"]
    rows = dict(zip(names, body(drawn), strict=True))
    assert (rows["none"].count("o"), rows["some"].count("o"), rows["much"].count("?"), rows["utter"].strip()) == (1, 3, 1, "")


def test_several_in_one_place_are_told() -> None:
    """Looks too near each other to part have a mark that says several."""
    drawn = plot(of([10.0, 10.0, 30.0], [0.0, 0.01, 100.0], "sea"), 60)
    assert sum(row.count("#") for row in body(drawn)) == 1
    assert any("# several in one place" in line for line in drawn)


def test_nothing_to_draw_is_not_drawn() -> None:
    """One look, or looks at one hour against hours, have no drawing."""
    assert plot(of([80.0], [10.0]), 60) == []
    same = outlook(kit.series([80.0, 81.0], [10.0, 10.0]), LOG, by="hours")
    assert frame_of(same) is None


def test_looks_that_do_not_move_can_be_drawn() -> None:
    """A row of equal readings is a level line, and no division by nought."""
    rows = body(plot(of([20.0, 20.0, 20.0, 20.0], [0.0, 10.0, 20.0, 30.0], "sea"), 60))
    assert sum(row.count("o") for row in rows) == 4


# ------------------------------------------------------------------ the pages


def test_the_page_tells_before_it_draws(spiked: Outlook) -> None:
    """Heading, then words, then the drawing, then the looks."""
    text = trend_page([spiked], 60).text()
    places = [text.index(part) for part in ("Brindle: heat, idling", "On the line it rises", " |", "0 h (5 January 2026): 82 °C")]
    assert places == sorted(places)


def test_what_could_not_be_used_is_on_the_page(tmp_path: Path) -> None:
    """Looks left out, given again or left off the line are told."""
    record = kit.record_of(tmp_path, kit.hours(0, 0), kit.hours(100, 100),
                           *(kit.seen(i, "heat", f"{80 + i} degC", "idle") for i in range(20)),
                           *(kit.seen(21 + i, "heat", "86", "idle") for i in range(6)), kit.seen(19.01, "heat", "99.5 degC", "idle"),
                           kit.seen(30, "heat", "none", "idle"))
    text = trend_page([kit.view(record, "heat")], 80).text()
    assert "1 look given again within the hour" in text
    assert "has no unit" in text
    assert "and 2 more" in text
    assert "earlier" in text
    assert "One look left off the line: told by a grade and not by a number." in " ".join(text.split())


@pytest.mark.parametrize("text", kit.HOSTILE[:-1])
@pytest.mark.parametrize("width", [40, 80])
def test_what_people_wrote_is_shown_and_not_obeyed(text: str, width: int, tmp_path: Path) -> None:
    """A boat's name and a note with markup, escapes or controls in them are printed, and every control is a visible sign."""
    boat = f"B {text}"
    record = kit.record_of(tmp_path, *kit.along(["none", "some"], [0.0, 10.0], "weep"), kit.seen(30, "weep", "much", note=text),
                           e.DueSet(at=kit.day(0), check="wave-at-it", every_days=3, note=text), boat=boat)
    name = record.boats()[0]
    log = hour_log(record, name, kit.book())
    every = all_series(record, name, kit.book(), log)
    pages = [trend_page([outlook(s, log) for s in every], width), known_page(name, every, width),
             due_page(due(record, name, kit.book(), now=kit.day(40)), kit.book(), width)]
    letters = "".join(c for c in text if c.isprintable() and c != " ")
    for page in pages:
        printed = page.text()
        assert all(c.isprintable() or c == "\n" for c in printed)
        assert letters in "".join(printed.replace("\N{REPLACEMENT CHARACTER}", "").split())


def test_what_there_is_to_tell_is_listed(tmp_path: Path) -> None:
    """Without a symptom all that was looked at is listed by its id, the longest first; an empty boat gets a word."""
    record = kit.record_of(tmp_path, kit.seen(1, "weep", "none"), kit.seen(2, "weep", "some"), kit.seen(1, "heat", "80 degC", "idle"))
    log = hour_log(record, kit.BOAT, kit.book())
    text = known_page(kit.BOAT, all_series(record, kit.BOAT, kit.book(), log), 80).text()
    assert text.index("weep: 2 looks; weep, cold") < text.index("heat: 1 look; heat, idling")
    assert "Nothing yet." in known_page(kit.BOAT, [], 80).text()


def test_due_is_told_with_why_and_how(tmp_path: Path) -> None:
    """Each thing has by when, why, and how long the look takes in which state; what it all stands on is at the foot."""
    record = kit.record_of(tmp_path, kit.hours(0, 100), kit.hours(100, 200), e.DueSet(at=kit.day(0), check="look-at-weep", every_hours=150))
    text = " ".join(due_page(due(record, kit.BOAT, kit.book(), now=kit.day(110)), kit.book(), 80).text().split())
    assert "Brindle, 25 April 2026: 210 engine hours, reckoned" in text
    assert "by 250 engine hours or 4 June 2026, whichever is sooner" in text
    assert "why Set on 5 January 2026 for every 150 engine hours; not made since." in text
    assert "how look-at-weep (look-at-weep), 5 min. cold-stopped." in text
    assert "to leave before she leaves" in text
    assert "taken as Her own pace, 365 engine hours a year over three months of readings." in text
    assert "not told 2 services of the book" in text


@pytest.mark.parametrize("width", WIDTHS)
def test_the_page_of_what_is_due_fits(width: int, tmp_path: Path) -> None:
    """No line of it is wider than the page."""
    record = kit.record_of(tmp_path, kit.hours(0, 1600), e.ServiceEntry(at=kit.day(0), item="pump", hours=1000),
                           e.DueSet(at=kit.day(0), check="look-at-weep", every_hours=150, note="x" * 200))
    text = due_page(due(record, kit.BOAT, kit.book(), now=kit.day(1)), kit.book(), width).text()
    assert max(len(line) for line in text.splitlines()) <= width


def test_a_state_nobody_said_has_a_word() -> None:
    """A series without an engine state says that nobody said it."""
    series = replace(kit.series([80.0, 81.0], [1.0, 2.0]), state=None)
    assert "heat, engine state not said" in trend_page([outlook(series, LOG)], 80).text()


def test_a_look_says_all_that_goes_with_it() -> None:
    """Revs, a guess and hours that were reckoned stand beside the look."""
    series = kit.series([80.0, 81.0], [1.0, 2.0])
    given = Observation(symptom="heat", value="81 degC", at_rpm=1800, sure="guess", note="fan on")
    looks = (series.looks[0], replace(series.looks[1], given=given, reckoned=True))
    text = trend_page([outlook(replace(series, looks=looks), LOG)], 120).text()
    assert "81 °C; 1800 revs a minute; not sure; hours reckoned; fan on" in text
    assert "80 °C\n" in text
