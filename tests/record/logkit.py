"""Shared by the tests of the record: an entry of every kind, texts nobody should obey, and records made of them."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from diagnose.assessment import RulesUsed
from diagnose.case import Case, EventSeen, Observation, Service, Trip
from diagnose.record import entries as e
from diagnose.record.store import Record, Stored

START = datetime(2026, 5, 3, 17, 30, tzinfo=timezone.utc)
BOAT = "Brindle"
HOSTILE = {
    "markup": "[/b] [bold]loud[/bold] [link=x]y[/link] {braces} %s",
    "an escape sequence": "\x1b[31mred\x1b[0m \x1b]0;title\x07",
    "one-byte controls": "a\x00b\x07c\x08d\x7fe\x9b31m",
    "line breaks": "one\rtwo\nthree\x0bfour\x85five\u2028six",
    "reversed text": "safe\u202eevil\u2066x",
    "quotes": "it's \"so\" `so` \\so\\ ''' \"\"\"",
    "a formula": "=HYPERLINK(\"x\")",
    "signs before a number": "+1",
    "a surprise of YAML": "no",
    "base sixty": "12:30",
    "a number": "1e5",
    "nothing at all": "null",
    "a comment": "- a: b # c",
    "letters of everywhere": "Möwe Łódź 鴎 😀 \U000e0041",
    "a file name": "../../etc/x; rm -rf '$(x)'.jpg",
    "very long": "word " * 1000,
}


def at(minutes: float) -> datetime:
    """A moment so many minutes after the start."""
    return START + timedelta(minutes=minutes)


def seen(symptom: str = "pump-weep", grade: str = "drip", minutes: float = 0, **more: Any) -> e.Observed:
    """An answer."""
    return e.Observed(at=at(minutes), observation=Observation(symptom=symptom, grade=grade, state="cold-stopped", **more))


def opened(title: str = "Brown crust", minutes: float = 0, **more: Any) -> e.CaseOpened:
    """The opening of a case."""
    return e.CaseOpened(at=at(minutes), title=title, opened_because="routine-look", **more)


def judgement(title: str = "T") -> str:
    """The least of a result, as text."""
    line = {"fault": "pump-seal-worn", "title": title, "probability": 0.8, "place": 1}
    return json.dumps({"title": title, "decision": "stay", "holds": [], "ranking": [line], "all_probabilities": {"pump-seal-worn": 0.8}})


def assessed(result: str = judgement(), **more: Any) -> e.Assessed:
    """An assessment of nothing, for tests that do not judge."""
    case = Case(title="T", opened_because="routine-look", observations=(Observation(symptom="pump-weep", grade="drip"),))
    return e.Assessed(at=at(9), case=case, rules=RulesUsed(version="1.2.3", digest="d" * 64), engine="plain", result=result,
                      sha256=e.digest(result), **more)


def of_every_kind(text: str = "plain words", minutes: float = 0) -> list[e.Entry]:
    """An entry of each kind but `case-opened` and `taken-back`, with a text of people in each place for one."""
    seen_at = {"at": at(minutes), "by": text}
    return [
        e.BoatEntry(**seen_at, name=BOAT, arrangement={"cooling": "sealed", "pump-drive": text, "expansion-bottle": True, "reserve": 0.6},
                    serviced={"pump": Service(at_hours=100.5), "belt": Service(on=date(2025, 4, 1))}, figures={"usual": "82 degC"},
                    healthy=(Observation(symptom="gauge", value="82 degC"),), forget=("old-fact",), note=text),
        e.HoursEntry(**seen_at, engine_hours=1412.25, note=text),
        e.ServiceEntry(**seen_at, item="pump", part=text, hours=1412, on=date(2026, 5, 1), cost="42.50 EUR", note=text),
        e.WordsEntry(**seen_at, said=text, matched=(e.Matched(piece=text, symptom="pump-weep", grade="drip", value=text),),
                     to_ask=(text,), left_over=(text, "more")),
        e.Observed(**seen_at, check="look-under-pump", observation=Observation(
            symptom=text, one_of=("damp", "drip"), state="idle", at_rpm=900.5, when=at(1), hours_ago=0.5, sure="think-so", epoch="before",
            by=text, note=text)),
        e.Observed(**seen_at, observation=Observation(reading="gauge", value=86, plus_minus=2.5)),
        e.Observed(**seen_at, observation=Observation(symptom="gauge", value="86")),
        e.PassedOver(**seen_at, symptom="pump-play", state="idle", why="cannot-see"),
        e.PassedOver(**seen_at, check="rock-pump", why="later"),
        e.EventEntry(**seen_at, event=EventSeen(event="pump-work", hours_ago=2.5, note=text)),
        e.TripEntry(**seen_at, trip=Trip.model_validate({
            "engine_hours": 6, "exposure": "coastal", "leaving": "2026-05-04T06:00:00+02:00",
            "aboard": {"spares": ["pump-kit"], "coolant": "2 L"}, "losses": {"stay": 3, "by_consequence": {"fire": 1000}}})),
        e.EngineStateEntry(**seen_at, state="idle", note=text),
        e.Note(**seen_at, text=text, about=text),
        e.Photo(**seen_at, path=text, sha256="a" * 64, caption=text, about=text),
        assessed(),
        assessed(result=judgement("quote ' and \\ and \" " * 40), next_check=False, ledger=False),
        e.Found(**seen_at, faults=("pump-seal-worn",), not_in_book=text, sure="likely", note=text, cost="160 EUR"),
        e.Found(**seen_at, nothing_wrong=True),
        e.Closed(**seen_at, how=text, unproved=text),
        e.Reopened(**seen_at, why=text),
        e.DueSet(**seen_at, check="rock-pump", every_hours=50, every_days=30.5, until=date(2027, 1, 1), note=text),
        e.MovedOn(**seen_at, to=text, note=text),
        planned(text),
        e.TaskTicked(**seen_at, task=text, steps=(("renew-pump", "pump-off"),), how="left-out", why=text, minutes=12.5),
        e.WorkDone(**seen_at, job="renew-pump", cures=("pump-seal-worn",), signs=("pump-weep", "gauge")),
        e.ProofMade(**seen_at, test=text, jobs=("renew-pump",), outcome="failed", why=text),
    ]


def planned(text: str = "plain words") -> e.WorkPlanned:
    """A plan of one task; no program planned it."""
    plan = json.dumps({"jobs": ["renew-pump"], "tasks": [{"id": "renew-pump/pump-off", "do": text}], "later": []})
    return e.WorkPlanned(at=at(0), by=text, plan=plan, sha256=e.digest(plan), rules=assessed().rules, note=text)


def filled(record: Record, text: str = "plain words", boat: str = BOAT) -> str:
    """Put an entry of every kind into a record, in one case; something is taken back, and something taken back again."""
    entries = [entry.model_copy(update={"name": boat}) if isinstance(entry, e.BoatEntry) else entry for entry in of_every_kind(text)]
    with record.writing():  # together: waiting for the disk is tested elsewhere
        case = str(record.append(opened(text), boat=boat).case)
        stored = record.append_all(entries, boat=boat, case=case)
        first = record.append(e.TakenBack(at=at(20), entry=stored[4].id, reason=text), boat=boat, case=case)
        record.append(e.TakenBack(at=at(21), entry=stored[5].id), boat=boat, case=case)
        record.append(e.TakenBack(at=at(22), entry=first.id), boat=boat, case=case)
        record.append(e.Note(at=at(23), text=text), boat=boat)
    return case


def said(entries: tuple[Stored, ...]) -> list[tuple[int, str, str | None, e.Entry, bool]]:
    """What matters of entries when two records are compared."""
    return [(s.id, s.boat, s.case, s.entry, s.taken_back) for s in entries]


def emptied(folder: Path, name: str) -> None:
    """Remove a file and the files SQLite keeps beside it."""
    for path in folder.glob(f"{name}*"):
        path.unlink()
