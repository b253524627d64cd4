"""The calendar file: what RFC 5545 asks for, read back by a reference library, with text that tries to break it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timezone
from pathlib import Path
from typing import Any

import pytest
import trendkit as kit
from hypothesis import given
from hypothesis import strategies as st

from diagnose.record import entries as e
from diagnose.record.ageing import Ahead
from diagnose.record.calendar import OCTETS, calendar_of, escaped, folded, joined, uid
from diagnose.record.due import Due, DueList, due
from diagnose.record.hourlog import Pace

NOW = datetime(2026, 6, 1, 12, 30, tzinfo=timezone.utc)
SOON = Due("set", "look-at-weep", "Look at the weep", "Set on 5 January 2026.", 150.0, date(2026, 7, 14), False)
LEAVE = Due("look-over", "look-over", "Look-over before she leaves", "Two lines are stale.", None, None, False, (), True)
PAST = Due("age", "pump", "Look at the pump", "Past its line.", 140.4, date(2026, 5, 20), True)


@pytest.fixture(scope="module")
def icalendar() -> Any:
    """The reference library, where it is installed."""
    return pytest.importorskip("icalendar")


def listed(*items: Due, boat: str = kit.BOAT, now: datetime = NOW) -> DueList:
    """A list of these things."""
    return DueList(boat, now, None, Pace(100.0, "taken"), Ahead(100.0, 1.0), tuple(items), 0, 0)


def written(*items: Due, seed: str = "seed", edition: int = 7, **how: Any) -> str:
    """The file of these things."""
    return calendar_of(listed(*items, **how), seed, edition)


def parts(icalendar: Any, text: str, kind: str) -> list[Any]:
    """The components of a kind, as the reference library reads them from the bytes of the file."""
    return list(icalendar.Calendar.from_ical(text.encode("utf-8")).walk(kind))


# ------------------------------------------------------------------ the form


def test_the_example_of_the_standard_is_escaped_as_there() -> None:
    """The multi-line description of RFC 5545, 3.3.11, comes out as the standard writes it."""
    assert joined(["Project XYZ Final Review", "Conference Room - 3B", "Come Prepared."]) == \
        r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."


def test_signs_that_mean_something_are_escaped() -> None:
    """Backslash, semicolon and comma are escaped, a colon is not (RFC 5545, 3.3.11)."""
    assert escaped("a\\b;c,d:e") == "a\\\\b\\;c\\,d:e"


@given(st.text(max_size=300))
def test_folding_loses_nothing_and_keeps_lines_short(text: str) -> None:
    """Any text folded and unfolded again is the same; no piece has over 75 octets, and each is whole UTF-8 (RFC 5545, 3.1)."""
    line = f"DESCRIPTION:{escaped(text)}"
    pieces = folded(line).split("\r\n")
    assert all(len(piece.encode("utf-8")) <= OCTETS for piece in pieces)
    assert all(piece.startswith(" ") for piece in pieces[1:])
    assert folded(line).replace("\r\n ", "") == line


def test_lines_end_as_they_must() -> None:
    """Every line ends in CR LF, no bare CR or LF is left, and the file ends with one (RFC 5545, 3.1)."""
    text = written(SOON, LEAVE, PAST)
    assert text.endswith("END:VCALENDAR\r\n")
    assert text.replace("\r\n", "").isprintable()


def test_what_every_calendar_must_have() -> None:
    """VERSION 2.0 and PRODID once each, and a UID, a DTSTAMP in universal time and a start in every event (RFC 5545, 3.6)."""
    lines = written(SOON, LEAVE).split("\r\n")
    assert lines.count("VERSION:2.0") == sum(line.startswith("PRODID:") for line in lines) == 1
    assert sum(line.startswith("UID:") for line in lines) == 2
    assert lines.count("DTSTAMP:20260601T123000Z") == 2
    assert lines.count("DTSTART;VALUE=DATE:20260714") == 1


def test_an_empty_calendar_is_refused() -> None:
    """A calendar has a component (RFC 5545, 3.6): of nothing due none is made."""
    with pytest.raises(ValueError, match="nothing is due"):
        written()


# ------------------------------------------------------------------ read back


def test_the_reference_library_reads_what_was_meant(icalendar: Any) -> None:
    """A day's event for what has a day, a task without one for what is owed before leaving, each with its words and hours."""
    text = written(SOON, LEAVE)
    (event,) = parts(icalendar, text, "VEVENT")
    assert event.decoded("dtstart") == date(2026, 7, 14)
    assert str(event["summary"]) == "Brindle: Look at the weep"
    assert str(event["description"]) == "Set on 5 January 2026.\nBy 150 engine hours."
    assert (str(event["transp"]), int(event["sequence"])) == ("TRANSPARENT", 7)
    assert event.decoded("dtstamp") == NOW
    (task,) = parts(icalendar, text, "VTODO")
    assert str(task["status"]) == "NEEDS-ACTION"
    assert "due" not in task
    assert "dtstart" not in task
    assert str(task["description"]) == "Two lines are stale."


def test_what_is_past_stands_on_today(icalendar: Any) -> None:
    """What was due is put on the day of the export, where it is seen, and says since when."""
    (event,) = parts(icalendar, written(PAST), "VEVENT")
    assert event.decoded("dtstart") == NOW.astimezone().date()
    assert "It was due on 20 May 2026." in str(event["description"])


@pytest.mark.parametrize("text", kit.HOSTILE)
def test_text_of_people_stays_text(text: str, icalendar: Any) -> None:
    """A boat's name, a title and a reason that look like a calendar, like markup, or like nothing at all are read back as they are,
    but for signs that cannot be printed, and add no component."""
    file = written(replace(SOON, title=text, why=text), boat=f"B {text}")
    components = list(icalendar.Calendar.from_ical(file.encode("utf-8")).walk())
    assert [c.name for c in components] == ["VCALENDAR", "VEVENT"]
    plain = "".join(c if c.isprintable() else " " for c in text)
    assert str(components[1]["summary"]) == f"B {plain}: {plain}"
    assert str(components[1]["description"]).split("\n")[0] == plain


def test_long_text_survives_folding(icalendar: Any) -> None:
    """A reason of many lines' length in letters of one to four octets is read back whole."""
    why = "Möwe 鴎 😀 a, b; c\\ " * 40
    (event,) = parts(icalendar, written(replace(SOON, why=why)), "VEVENT")
    assert str(event["description"]).startswith(why)


# ------------------------------------------------------------------ the same thing stays the same


def test_an_entry_keeps_its_name_when_it_moves(icalendar: Any) -> None:
    """The same thing on another day, in other words, in a later file, has the same UID; and the later file a higher sequence."""
    later = replace(SOON, by_date=date(2026, 8, 1), why="Later.", overdue=False)
    old, new = (parts(icalendar, t, "VEVENT")[0] for t in (written(SOON), written(later, edition=9)))
    assert str(old["uid"]) == str(new["uid"])
    assert int(new["sequence"]) > int(old["sequence"])


def test_different_things_have_different_names() -> None:
    """Another thing, another kind and another record's thing have other UIDs."""
    things = [("a", SOON), ("a", LEAVE), ("a", PAST), ("b", SOON), ("a", replace(SOON, kind="trend")), ("a", replace(SOON, id="other"))]
    assert len({uid(seed, item) for seed, item in things}) == len(things)


def test_from_the_record_to_the_calendar(tmp_path: Path, icalendar: Any) -> None:
    """A check set every 30 days is an event on the thirtieth day; exported again later it is the same entry."""
    record = kit.record_of(tmp_path, e.DueSet(at=kit.day(0), check="look-at-weep", every_days=30))
    files = [calendar_of(due(record, kit.BOAT, kit.book(), now=kit.day(d)), record.entries()[0].hash, 3) for d in (1, 2)]
    events = [parts(icalendar, file, "VEVENT")[0] for file in files]
    assert {event.decoded("dtstart") for event in events} == {kit.day(30).astimezone().date()}
    assert len({str(event["uid"]) for event in events}) == 1
    assert len(parts(icalendar, files[0], "VTODO")) == 1
