"""What an outlook says, in plain sentences: the same on the page, in the drawing's description and beside what is due."""

from __future__ import annotations

import math
from datetime import datetime

from diagnose.record.hourlog import Pace
from diagnose.record.outlook import SHOWN, Outlook, Then
from diagnose.record.series import Look
from diagnose.wording import mid_sentence

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
UNITS = {"degC": "°C", "degF": "°F", "1": "", "percent": "%", "mL/hour": "mL an hour", "ohm": "ohm"}
STEP = {"hours": (100.0, "in 100 engine hours"), "date": (30.0, "in 30 days")}
"""What a slope is told for, by axis."""


def number(value: float, figures: int = 3) -> str:
    """A number to so many figures, never with a power of ten, and without noughts at the end of its decimals."""
    if value == 0:
        return "0"
    decimals = max(0, min(figures - 1 - math.floor(math.log10(abs(value))), 9))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount(value: float, unit: str, figures: int = 3) -> str:
    """A value with its unit as it is written for a person."""
    return f"{number(value, figures)} {UNITS.get(unit, unit)}".strip()


def count(size: int, word: str) -> str:
    """A count in words up to ten, with its word in the plural where it is not one."""
    told = NUMBERS[size] if size < len(NUMBERS) else str(size)
    return f"{told} {word}" if size == 1 else f"{told} {word}s"


def times(size: int) -> str:
    """How often."""
    return {1: "once", 2: "twice"}.get(size, f"{count(size, 'time')}")


def day(moment: datetime) -> str:
    """A day as a person writes it, on the clock of this place."""
    local = moment.astimezone()
    return f"{local.day} {local:%B %Y}"


def told(look: Look, outlook: Outlook) -> str:
    """What a look gave: its value, or its grade."""
    scale = outlook.series.scale
    if look.value is not None and (look.given.value is not None or outlook.series.by_value):
        return amount(look.value, scale.unit, 4)
    low, high = scale.grades[look.low], scale.grades[look.high]
    return f"{low} or worse" if look.at_least else low if look.low == look.high else f"{low} or {high}"


def where(hours: float | None, moment: datetime | None) -> str:
    """A place in time, told in engine hours and as a day, as far as they are known."""
    run = "" if hours is None else f"{hours:.0f} h" if hours >= 100 else f"{number(hours)} h"
    on = day(moment) if moment is not None else ""
    return f"{run} ({on})" if run and on else run or on


def about(then: Then, by: str) -> str:
    """A time to come, in words: hours first on an axis of hours, the day first on one of days."""
    if then.hours is None and then.on is None:
        return "more than fifty years off"
    hours = f"{then.hours:.0f} h" if then.hours is not None else ""
    on = f"{day(then.on)}" if then.on is not None else ""
    first, second = (hours, on) if by == "hours" else (on, hours)
    return f"{first} ({second})" if first and second else first or second


def pace_words(pace: Pace) -> str:
    """The pace that turns hours into days."""
    rate = f"{pace.hours_a_year:.0f} engine hours a year"
    if pace.kind == "own":
        months = pace.days / 30.44
        return f"her own pace, {rate} over {count(round(months), 'month')} of readings"
    return f"{rate}, as was said of her" if pace.kind == "said" else f"{rate}, which is taken where too few readings tell"


def sentences(outlook: Outlook) -> tuple[str, ...]:
    """All that an outlook says, the most wanted first."""
    said = [_basis(outlook)]
    if outlook.unlooked is not None:
        mark = outlook.unlooked
        said.append(f"Nobody has looked since this service, and all that follows is of the time before it: {mid_sentence(mark.title)}, "
                    f"at {where(mark.hours, mark.at)}.")
    if outlook.why_no_line:
        said.append(f"There is no line to draw: {outlook.why_no_line}.")
    said += _line(outlook) if outlook.series.by_value else _grades(outlook)
    said += _limit(outlook)
    said += _care(outlook)
    return tuple(said)


def _basis(outlook: Outlook) -> str:
    looks = outlook.looks
    if not looks:
        return f"{count(len(outlook.aside), 'look').capitalize()} on record."
    first, last = looks[0], looks[-1]
    if len(looks) == 1:
        return f"One look, at {where(last.hours, last.at)}: {told(last, outlook)}."
    since = f", all since {mid_sentence(outlook.since.title)}" if outlook.since is not None else ""
    return (f"{count(len(looks), 'look').capitalize()} from {where(first.hours, first.at)} to {where(last.hours, last.at)}{since}; "
            f"the last: {told(last, outlook)}.")


def _line(outlook: Outlook) -> list[str]:
    trend = outlook.trend
    if trend is None or outlook.level is None:
        return []
    step, per = STEP[outlook.by]
    unit = outlook.series.scale.unit
    slope = trend.slope * step
    moves = f"{'rises' if slope > 0 else 'falls'} {amount(abs(slope), unit)} {per}" if slope else "does not move"
    said = [f"On the line it {moves}, and stands at {amount(outlook.level, unit)} at the last look."]
    if trend.low is None or trend.high is None:
        few = "With three looks or fewer" if len(outlook.looks) <= 3 else "With looks so few, or so many alike,"
        said.append(f"{few} there is no interval: how sure this is cannot be told.")
    else:
        sure = round((trend.covers or 0.0) * 100)
        low, high = signed(trend.low * step), signed(trend.high * step)
        wide = f"{low} and {high}" if low != high else f"figures that both round to {high}"
        said.append(f"{sure} times in 100 the true change {per} lies between {wide} {UNITS.get(unit, unit)}".rstrip() + ".")
        if trend.low <= 0 <= trend.high:
            said.append("That holds no change at all as well: no trend is shown.")
    if outlook.test is not None and trend.low is not None:
        said.append(_by_accident(outlook.test.p))
    moved, sigma = abs(trend.slope) * (outlook.x(outlook.looks[-1]) - outlook.x(outlook.looks[0])), outlook.series.scale.sigma
    if 0 < moved < sigma:
        said.append(f"In all that is less than a careful reading may be off ({amount(sigma, unit)}).")
    return said


def _by_accident(p: float) -> str:
    often = "less than once" if p < 0.005 else "about once" if round(p * 100) <= 1 else f"about {round(p * 100)} times"
    worth = "a trend worth believing" if p < SHOWN else "it may be accident"
    return f"Without any trend so much in one direction comes {often} in 100: {worth}."


def signed(value: float) -> str:
    """A change, with its sign in words where it falls."""
    return f"a fall of {number(-value)}" if value < 0 else number(value)


def _grades(outlook: Outlook) -> list[str]:
    if len(outlook.looks) < 2:
        return []
    worse, better = outlook.worse, len(outlook.changes) - outlook.worse
    looks = count(len(outlook.looks), "look")
    if not outlook.changes:
        said = [f"No change in {looks}."]
    else:
        got = [f"got worse {times(worse)}" if worse else "", f"got better {times(better)}" if better else ""]
        last = outlook.changes[-1]
        said = [f"It {' and '.join(g for g in got if g)} in {looks}.",
                f"The last change, for the {'worse' if last.worse else 'better'}: from {told(last.before, outlook)} at "
                f"{where(last.before.hours, last.before.at)} to {told(last.after, outlook)} at {where(last.after.hours, last.after.at)}."]
    if outlook.test is None:
        said.append("Too few looks to tell a trend from accident." if len(outlook.looks) < 4 else "")
    elif outlook.changes:
        said.append(_by_accident(outlook.test.p))
    return [s for s in said if s]


def _limit(outlook: Outlook) -> list[str]:
    scale, limit = outlook.series.scale, outlook.limit
    if not outlook.looks:
        return []
    if not outlook.series.by_value:
        last = outlook.looks[-1]
        if last.high + 1 == len(scale.grades):
            return ["It is at the worst grade of the book."]
        says = scale.says[last.high + 1]
        return [f"The next grade would be {scale.grades[last.high + 1]}{f': {mid_sentence(says)}' if says else ''}."]
    if not scale.limits:
        return ["The book sets no limit for this reading by itself."]
    if limit is None:
        return ["It is within the worst grade of the book already: there is no further limit."]
    edge = f"The next limit is {amount(limit.value, scale.unit)}, where '{limit.grade}' begins"
    edge += f": {mid_sentence(limit.says)}." if limit.says else "."
    said = [edge, *_beyond(outlook)]
    if outlook.meeting is not None:
        said.append(_meets(outlook))
    return said


def _beyond(outlook: Outlook) -> list[str]:
    limit, value = outlook.limit, outlook.looks[-1].value
    if limit is None or value is None or not (value >= limit.value if limit.side == "over" else value <= limit.value):
        return []
    return [f"The last reading, {amount(value, outlook.series.scale.unit, 4)}, lies beyond it by itself. Look again before anything else."]


def _meets(outlook: Outlook) -> str:
    meeting = outlook.meeting
    assert meeting is not None
    if meeting.at is None:
        soonest = f" If the slope is as bad as its interval allows, at {about(meeting.earliest, outlook.by)}." if meeting.earliest else ""
        return f"On this line it does not get there.{soonest}"
    said = f"If it goes on so, it gets there at about {about(meeting.at, outlook.by)}"
    if meeting.earliest is None:
        return f"{said}; with looks so few how surely cannot be told."
    latest = f"at the latest at {about(meeting.latest, outlook.by)}" if meeting.latest is not None else "perhaps never"
    return f"{said}, at the earliest at {about(meeting.earliest, outlook.by)}, {latest}."


def _care(outlook: Outlook) -> list[str]:
    """What to bear in mind: looks left aside, guesses, hours reckoned, revs apart, services between."""
    said = []
    looks, series = outlook.looks, outlook.series
    if outlook.meeting is not None and (outlook.meeting.at or outlook.meeting.earliest) is not None:
        said.append(f"Hours and days are turned into each other at {pace_words(outlook.pace)}.")
    if outlook.aside:
        said.append(f"{count(len(outlook.aside), 'look').capitalize()} left off the line: {_why_aside(outlook)}.")
    unsure = sum(not look.sure for look in looks)
    if unsure:
        said.append(f"{count(unsure, 'look').capitalize()} of these {'was' if unsure == 1 else 'were'} not sure.")
    reckoned = sum(look.reckoned for look in looks)
    if reckoned and outlook.by == "hours":
        said.append(f"The engine hours of {count(reckoned, 'look')} were reckoned from {pace_words(outlook.pace)}: no reading of the meter "
                    "reaches there.")
    revs = [look.given.at_rpm for look in looks if look.given.at_rpm is not None]
    if revs and max(revs) > 1.08 * min(revs):
        said.append(f"They were taken at {min(revs):.0f} to {max(revs):.0f} revs a minute: readings at like revs tell more.")
    said += [f"In between, at {where(m.hours, m.at)}: {mid_sentence(m.title)}. A line through it may hide what that changed."
             for m in series.marks if looks and looks[0].at < m.at <= looks[-1].at]
    return said


def _why_aside(outlook: Outlook) -> str:
    why = []
    if outlook.since is not None:
        why.append(f"from before a service ({mid_sentence(outlook.since.title)}) that made it better")
    if outlook.series.by_value and any(look.value is None for look in outlook.aside):
        why.append("told by a grade and not by a number")
    if outlook.by == "hours" and any(look.hours is None for look in outlook.aside):
        why.append("at engine hours nobody knows")
    return ", or ".join(why) or "older than the last 500"


def in_short(outlook: Outlook) -> str:
    """The limit and when it is met, in one sentence, for a list.

    Raises:
        ValueError: the line meets none.
    """
    limit, meeting, trend = outlook.limit, outlook.meeting, outlook.trend
    if limit is None or meeting is None or meeting.at is None or trend is None:
        raise ValueError("the line of this outlook meets no limit")
    step, per = STEP[outlook.by]
    unit = outlook.series.scale.unit
    earliest = f", at the earliest at {about(meeting.earliest, outlook.by)}" if meeting.earliest is not None else ""
    moves = f"{'rises' if trend.slope > 0 else 'falls'} {amount(abs(trend.slope) * step, unit)} {per}"
    return (f"It {moves}, and meets {amount(limit.value, unit)} at about {about(meeting.at, outlook.by)}{earliest} "
            f"({count(len(outlook.looks), 'look')}).")
