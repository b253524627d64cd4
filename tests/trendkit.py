"""Shared by the tests of trends and of what is due: a small invented book, and records of looks at known hours and days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta, timezone
from functools import lru_cache
from pathlib import Path
from typing import Any

import smallbook as small

from diagnose.case import Observation
from diagnose.knowledge.book import Book
from diagnose.record import entries as e
from diagnose.record.hourlog import HourLog, MeterReading, Pace, hour_log
from diagnose.record.outlook import Outlook, outlook
from diagnose.record.scale import scale_of
from diagnose.record.series import Look, Series, series_of
from diagnose.record.store import Record

START = datetime(2026, 1, 5, 9, tzinfo=timezone.utc)
BOAT = "Brindle"
HOSTILE = (
    "[/b] [bold]loud[/bold] {braces} %s", "\x1b[31mred\x1b[0m", "a\x00b\x07c", "one\rtwo\nthree\u2028four", "safe\u202eevil",
    "<script>alert(1)</script> & \"quotes\" 'so' ]]>", "BEGIN:VEVENT\r\nSUMMARY:evil", "a;b,c:d\\e\\n", "Möwe 鴎 😀 Łódź",
    "\ud800 half a letter",
)
"""Texts that mean something to a terminal, to markup, or to a calendar."""
AGE = {"kind": "memory", "believed": "invented"}


def ages(since: str, value: float, *, unit: str = "hour", shape: float = 2.0, spread: float = 1.1) -> dict[str, Any]:
    """A wear-out counted from a service item."""
    return {"since": since, "shape": shape, "life": {"value": value, "unit": unit, "spread": spread, "source": AGE}}


def bands(*edges: float, falling: bool = False) -> dict[str, dict[str, float]]:
    """Bands of a measured symptom that get worse at these edges."""
    here, beyond = ("at_least", "below") if falling else ("below", "at_least")
    found: dict[str, dict[str, float]] = {"none": {here: edges[0]}}
    for i, edge in enumerate(edges):
        found[small.GRADES[i + 1]] = {beyond: edge, **({here: edges[i + 1]} if i + 1 < len(edges) else {})}
    return found


@lru_cache(maxsize=1)
def book() -> Book:
    """A heat that rises, a pressure that falls, a gap worked out, a weep in grades, a drip in millilitres; a pump and a hose that age."""
    symptoms = [
        small.measured("heat", bands(95, 105), (0.02, 0.005), states=("idle", "under-load"), was=["old-heat"]),
        small.measured("oil-pressure", bands(2, 1, falling=True), (0.02, 0.005), unit="bar", possible=(0, 8), sigma=0.1),
        small.symptom("weep", (0.02, 0.01, 0.005), states=("cold-stopped",)),
        small.symptom("rattle", (0.02, 0.01, 0.005), states=("idle", "under-load")),
        small.symptom("drip", (0.02, 0.005), states=("cold-stopped",),
                      leak={"fluid": "coolant", "rates": {"some": [0.5, 5], "much": [50, 500]}}),
        small.measured("gap", bands(80, 100), (0.02, 0.005), unit="K", possible=(-30, 150), states=("under-load",), worked_out=[
            {"by": "cooling.difference", "takes": {"one": {"reading": "heat"}, "other": {"reading": "sea"}}, "gives": "K",
             "formula": "heat less sea"}]),
        small.symptom("hose-soft", (0.02,), states=("cold-stopped",)),
    ]
    cooling = {"sealed": "sealed", "raw": "raw"}
    facts = {"id": "cooling", "title": "Cooling", "ask": "Which?", "values": cooling, "default": "sealed", "why": "x"}
    faults = [
        small.fault("pump-worn", [small.shows("weep", (0.8, 0.5))], ages_with=ages("pump", 1000.0)),
        small.fault("hot-block", [small.shows("heat", (0.8, 0.5)), small.shows("rattle", (0.5,)), small.shows("gap", (0.5,))]),
        small.fault("bearing-worn", [small.shows("oil-pressure", (0.8, 0.5)), small.shows("drip", (0.5,))]),
        small.fault("hose-perished", [small.shows("hose-soft", (0.8,))], outcomes=[("flooding", 1.0)],
                    ages_with=ages("hose", 10.0, unit="year", shape=3.0)),
        small.fault("jacket-silted", [small.shows("heat", (0.5,))], ages_with=ages("jacket", 1.0, unit="year"),
                    live_when={"fact": "cooling", "is": "raw"}),
    ]
    checks = [
        small.check("feel-hose", ["hose-soft"], state="cold-stopped", minutes=3),
        small.check("look-at-weep", ["weep"], state="cold-stopped"),
        small.check("take-heat", ["heat"]), small.check("walk-round", ["weep", "drip"], state="cold-stopped"),
        small.check("read-pressure", ["oil-pressure"]), small.check("hear-rattle", ["rattle"]),
        small.check("take-both", ["gap"], state="under-load"),
    ]
    reading = {"id": "sea", "title": "Sea temperature", "ask": "How warm?", "states": ["under-load"], "unit": "degC", "possible": [-5, 150],
               "sigma": 1.0, **small.SAID}
    return small.book_of(
        small.component(readings=[reading], symptoms=symptoms, faults=faults, checks=checks),
        looks=[small.look("weep", ["weep"], state="cold-stopped", fresh={"hours": 10, "days": 7})], facts=[facts],
        service_items={"pump": "Pump renewed", "hose": "Hose renewed", "jacket": "Jacket flushed"},
    )


def day(days: float) -> datetime:
    """So many days after the start."""
    return START + timedelta(days=days)


def hours(days: float, run: float) -> e.HoursEntry:
    """A reading of the meter."""
    return e.HoursEntry(at=day(days), engine_hours=run)


def seen(days: float, symptom: str, given: str, state: str | None = None, **more: Any) -> e.Observed:
    """A look at a symptom: a grade, or a number with its unit."""
    how = {"value": given} if given[0].isdigit() or given[0] == "-" else {"grade": given}
    check = more.pop("check", None)
    given = Observation.model_validate({"symptom": symptom, "state": state, **how, **more})
    return e.Observed(at=day(days), check=check, observation=given)


def read(days: float, value: str, **more: Any) -> e.Observed:
    """A reading of the sea's temperature."""
    return e.Observed(at=day(days), observation=Observation(reading="sea", value=value, state="under-load", **more))


def record_of(folder: Path, *entries: e.Entry, boat: str = BOAT) -> Record:
    """A record of one boat; looks stand in one case of hers."""
    record = Record.open(folder / "record.sqlite3")
    with record.writing():
        record.append(e.BoatEntry(at=day(-1), name=boat), boat=boat)
        case = record.append(e.CaseOpened(at=day(-1), title="Looks", opened_because="routine-look"), boat=boat).case
        for entry in entries:
            outside = entry.kind in ("hours", "service", "boat", "due-set")  # type: ignore[attr-defined]
            record.append(entry, boat=boat, case=None if outside else case)
    return record


def along(values: Iterable[str], at_hours: Sequence[float], symptom: str, state: str | None = None, *,
          every: float = 10.0) -> list[e.Entry]:
    """Looks one after another, so many days apart, each with a reading of the meter."""
    found: list[e.Entry] = []
    for i, (value, run) in enumerate(zip(values, at_hours, strict=True)):
        found += [hours(i * every, run), read(i * every, value) if symptom == "sea" else seen(i * every, symptom, value, state)]
    return found


def view(record: Record, symptom: str, **how: Any) -> Outlook:
    """What the longest series of a symptom comes to."""
    log = hour_log(record, BOAT, book())
    return outlook(series_of(record, BOAT, symptom, book(), log)[0], log, **how)


def log_of(*readings: tuple[float, float], pace: float = 100.0) -> HourLog:
    """Engine hours from days and hours alone."""
    return HourLog([MeterReading(day(d), h, i + 1) for i, (d, h) in enumerate(readings)], Pace(pace, "taken"))


def series(values: Sequence[float], at_hours: Sequence[float], symptom: str = "heat") -> Series:
    """A series of numbers made without a record, a look a day."""
    scale = scale_of(book(), symptom)
    assert scale is not None
    given = Observation(symptom=symptom, value="1 degC")
    looks = [Look(day(i), run, False, value, 0, 0, None, i + 1, given) for i, (value, run) in enumerate(zip(values, at_hours, strict=True))]
    return Series(BOAT, scale, "idle", tuple(looks))
