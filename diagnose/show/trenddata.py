"""Trends and what is due as plain data, for other programs."""

from __future__ import annotations

from typing import Any

from diagnose.record.due import DueList
from diagnose.record.outlook import Outlook, Then
from diagnose.record.outlookwords import sentences, told


def trend_data(outlook: Outlook) -> dict[str, Any]:
    """One outlook: the looks, the line, the test, the limit and when it is met. The slope is for an engine hour, or for a day."""
    series, trend, test, limit, meeting = outlook.series, outlook.trend, outlook.test, outlook.limit, outlook.meeting
    return {
        "boat": series.boat, "symptom": series.scale.id, "title": series.scale.title, "state": series.state, "unit": series.scale.unit,
        "by": outlook.by, "worked_out": series.worked,
        "looks": [{"at": look.at.isoformat(), "hours": look.hours, "hours_reckoned": look.reckoned, "value": look.value,
                   "seen": told(look, outlook), "sure": look.given.sure, "case": look.case, "on_line": look in outlook.looks}
                  for look in series.looks],
        "since": outlook.since.item if outlook.since is not None else None,
        "slope": None if trend is None else {"value": trend.slope, "low": trend.low, "high": trend.high, "covers": trend.covers,
                                             "intercept": trend.intercept},
        "level": outlook.level,
        "test": None if test is None else {"s": test.s, "tau": test.tau, "p": test.p},
        "limit": None if limit is None else {"value": limit.value, "grade": limit.grade, "side": limit.side},
        "meets": None if meeting is None else {"word": meeting.word, "at": _then(meeting.at), "earliest": _then(meeting.earliest),
                                               "latest": _then(meeting.latest)},
        "changes": [{"from": told(c.before, outlook), "to": told(c.after, outlook), "worse": c.worse, "after": c.before.at.isoformat(),
                     "by": c.after.at.isoformat()} for c in outlook.changes],
        "hours_a_year": outlook.pace.hours_a_year, "hours_a_year_is": outlook.pace.kind,
        "not_used": list(series.left_out), "says": list(sentences(outlook)),
    }


def _then(then: Then | None) -> dict[str, Any] | None:
    return None if then is None else {"hours": then.hours, "on": then.on.isoformat() if then.on is not None else None}


def due_data(due: DueList) -> dict[str, Any]:
    """All that is due on a boat, in order."""
    return {
        "boat": due.boat, "now": due.now.isoformat(), "engine_hours": due.hours.hours if due.hours is not None else None,
        "hours_reckoned": due.hours.reckoned if due.hours is not None else None,
        "hours_a_year": due.pace.hours_a_year, "hours_a_year_is": due.pace.kind, "services_not_told": due.untold,
        "due": [{"kind": item.kind, "id": item.id, "title": item.title, "why": item.why, "by_hours": item.by_hours,
                 "by_date": item.by_date.isoformat() if item.by_date is not None else None, "overdue": item.overdue,
                 "at_departure": item.at_departure, "checks": list(item.checks)} for item in due.items],
    }
