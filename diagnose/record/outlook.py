"""Where one thing is going: a line through its looks with the interval of its slope, and when it meets its next limit.

Numbers get a Theil-Sen line. Grades are an order and not numbers: of them the rank test is told, and when they changed.
Three looks or fewer have no interval, and that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

from diagnose.measure.trend import MOST, MannKendall, Trend, crossing, mann_kendall, theil_sen
from diagnose.record.hourlog import FARTHEST_DAYS, HourLog, Pace
from diagnose.record.scale import Limit
from diagnose.record.series import Look, Series, ServiceMark, since_service

By = Literal["hours", "date"]
CONFIDENCE = 0.9
SHOWN = 0.05
"""Below this chance of coming by accident a trend is worth believing."""
FEWEST_FOR_A_TEST = 4
"""Of fewer looks even the steadiest row comes by accident more often than one time in ten."""


@dataclass(frozen=True)
class Then:
    """A moment told in engine hours and as a day; None where one cannot be told."""

    hours: float | None
    on: datetime | None


@dataclass(frozen=True)
class Meeting:
    """When the line meets the next limit: in a word, about when, and the earliest and latest that the slope's interval allows.

    None is never on this slope, or not to be told.
    """

    word: str
    at: Then | None
    earliest: Then | None
    latest: Then | None


@dataclass(frozen=True)
class Change:
    """A grade that changed from one look to the next."""

    before: Look
    after: Look
    worse: bool


@dataclass(frozen=True)
class Outlook:
    """One series against engine hours or date.

    `looks` are those on the line; `since` the service it begins with; `unlooked` a service of that part after the last look.
    `trend` is None where it is told by grades, or where there is no line; `why_no_line` then says why. The axis of `trend` is
    engine hours, or days since the first look.
    """

    series: Series
    by: By
    pace: Pace
    looks: tuple[Look, ...]
    aside: tuple[Look, ...]
    since: ServiceMark | None
    unlooked: ServiceMark | None
    trend: Trend | None
    test: MannKendall | None
    level: float | None
    limit: Limit | None
    meeting: Meeting | None
    changes: tuple[Change, ...]
    why_no_line: str = ""

    def x(self, look: Look) -> float:
        """Where a look stands on the axis: engine hours, or days since the first look."""
        return axis(look, self.by, self.looks[0].at)

    @property
    def worse(self) -> int:
        """How often it got worse from one look to the next."""
        return sum(change.worse for change in self.changes)

    @property
    def side(self) -> int:
        """1 where more is worse, -1 where less is, 0 where the book does not say."""
        limits = self.series.scale.limits
        return 0 if not limits else 1 if limits[0].side == "over" else -1

    @property
    def shown(self) -> bool:
        """Whether a move for the worse is shown: the interval of the slope leaves no other, or the grades are too steady for accident."""
        if self.trend is not None:
            ends = (self.trend.low, self.trend.high)
            return all(end is not None and end * self.side > 0 for end in ends)
        return self.test is not None and not self.series.by_value and self.test.p < SHOWN and self.test.s > 0


def axis(look: Look, by: By, first: datetime) -> float:
    """Engine hours of a look, or the days since the first."""
    return float(look.hours or 0.0) if by == "hours" else (look.at - first).total_seconds() / 86400.0


def outlook(series: Series, log: HourLog, *, by: By | None = None, whole: bool = False, confidence: float = CONFIDENCE) -> Outlook:
    """What the looks of a series come to.

    Args:
        series: at least one look.
        log: the boat's engine hours, which turn hours into days and back.
        by: what it is told against; left out, engine hours where the looks have them, else the date.
        whole: draw one line through looks before and after a service of the part too.
        confidence: of the intervals, 0.5 to 0.999.

    Raises:
        ValueError: a series without looks.
        OutOfRangeError: a confidence out of range.
    """
    if not series.looks:
        raise ValueError("there is nothing to tell: no look")
    part, since = (series, None) if whole else since_service(series)
    by = by or _best_axis(part.looks)
    on_axis = [look for look in part.looks if by == "date" or look.hours is not None]
    used = [look for look in on_axis if not series.by_value or look.value is not None][-MOST:]
    own = [m for m in series.marks if m.own and m.at > series.looks[-1].at]
    aside = tuple(look for look in series.looks if look not in used)
    changes = tuple(Change(a, b, b.worse_than(a)) for a, b in pairwise(used) if a.worse_than(b) or b.worse_than(a))
    why = _why_no_line(used, by)
    bare = Outlook(series, by, log.pace, tuple(used), aside, since, own[-1] if own else None, None, None, None, None, None, changes, why)
    return bare if not used else _with_line(bare, log, confidence)


def _best_axis(looks: Sequence[Look]) -> By:
    hours = [look.hours for look in looks if look.hours is not None]
    return "hours" if hours and len(hours) == len(looks) and (len(looks) == 1 or min(hours) < max(hours)) else "date"


def _why_no_line(used: Sequence[Look], by: By) -> str:
    if not used:
        return "the engine hours of these looks are not known" if by == "hours" else "none of these looks is a number"
    if len(used) == 1:
        return "one look is no trend"
    if by == "hours" and min(look.hours or 0.0 for look in used) == max(look.hours or 0.0 for look in used):
        return "all looks were made at the same engine hours"
    return ""


def _with_line(bare: Outlook, log: HourLog, confidence: float) -> Outlook:
    """The same with its line, test and limit, as far as the looks allow."""
    xs = [bare.x(look) for look in bare.looks]
    fields = {**bare.__dict__}
    if bare.series.by_value:
        values = [float(look.value or 0.0) for look in bare.looks]
        fields["level"] = values[-1]
        if not bare.why_no_line:
            fields["trend"] = trend = theil_sen(xs, values, confidence)
            fields["level"] = trend.intercept + trend.slope * max(xs)
            fields["test"] = mann_kendall(xs, values) if len(xs) >= FEWEST_FOR_A_TEST else None
        fields["limit"] = limit = bare.series.scale.next_limit(float(fields["level"]))
        if limit is not None and fields["trend"] is not None:
            fields["meeting"] = _meeting(bare, xs, values, limit, log, confidence)
    elif bare.series.scale.grades and not bare.why_no_line and len(xs) >= FEWEST_FOR_A_TEST:
        fields["test"] = mann_kendall(xs, [look.place for look in bare.looks])
    return Outlook(**fields)


def _meeting(bare: Outlook, xs: Sequence[float], values: Sequence[float], limit: Limit, log: HourLog, confidence: float) -> Meeting:
    met = crossing(xs, values, limit.value, limit.side, confidence)

    def then(x: float | None) -> Then | None:
        if x is None:
            return None
        if bare.by == "hours":
            return Then(x, log.moment_of(x))
        if abs(x) > FARTHEST_DAYS:
            return Then(None, None)
        moment = bare.looks[0].at + timedelta(days=x)
        run = log.at(moment)
        return Then(run.hours if run is not None else None, moment)

    at = max(xs) if met.left == 0.0 else met.at  # the limit is beyond the line's end, but for what is lost in rounding
    return Meeting(met.word, then(at), then(met.earliest), then(met.latest))
