"""What is due on a boat: checks she was set, parts likely to begin failing, trends near their limit, a look-over gone stale.

Nothing is due because a calendar says so of every boat: each line names what on this boat's record asks for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from diagnose.case import SURE, Boat, Case, Observation
from diagnose.chain.compile import LIVE, is_live
from diagnose.decide import look_over
from diagnose.errors import DiagnoseError
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import Look as LookLine
from diagnose.machinery import Machinery
from diagnose.record.ageing import AHEAD_HOURS, Aged, Ahead, aged_items
from diagnose.record.entries import DueSet, Observed, WorkDone, moment
from diagnose.record.fold import boat_of
from diagnose.record.hourlog import DAYS_A_YEAR, FARTHEST_DAYS, HourLog, HoursThen, Pace, hour_log
from diagnose.record.outlook import Outlook, outlook
from diagnose.record.outlookwords import count, day, in_short, told, where
from diagnose.record.series import Look, Series, all_series
from diagnose.record.store import Record
from diagnose.situation import GATE_SURENESS, resolve
from diagnose.wording import mid_sentence

Kind = Literal["set", "age", "trend", "worse", "look-over", "test"]
By = tuple[float | None, date | None, bool]
"""By when in engine hours and as a day, and whether that is past."""
LOOK_OVER = "Look-over before she leaves"
LEAST_AGAIN = 1.0
"""Engine hours after which what got worse is looked at again, at the soonest."""


@dataclass(frozen=True)
class Due:
    """One thing to look at: what, why, and by when in engine hours and as a day, as far as either can be told.

    `checks` are ids of the book. `at_departure` marks what is owed before she leaves and has no day of its own.
    """

    kind: Kind
    id: str
    title: str
    why: str
    by_hours: float | None
    by_date: date | None
    overdue: bool
    checks: tuple[str, ...] = ()
    at_departure: bool = False

    @property
    def order(self) -> tuple[int, date, float, str, str]:
        """What is overdue first, then what is owed before she leaves, then by day."""
        group = 0 if self.overdue else 1 if self.at_departure else 2
        return group, self.by_date or date.max, self.by_hours if self.by_hours is not None else float("inf"), self.kind, self.id


@dataclass(frozen=True)
class DueList:
    """All that is due on one boat at a moment, in order; `untold` counts service items of which nobody said when they were done."""

    boat: str
    now: datetime
    hours: HoursThen | None
    pace: Pace
    ahead: Ahead
    items: tuple[Due, ...]
    untold: int
    misread: int
    """Readings of the engine hours that do not fit the others, and were left out."""


def due(record: Record, boat: str, book: Book, *, now: datetime | None = None) -> DueList:
    """What is due on a boat.

    Args:
        record: what is known of her.
        boat: whose.
        book: lives of parts, checks and limits.
        now: the moment to judge it at; by default the present one.

    Raises:
        RecordError: there is no such boat, or the record cannot be read.
        InputError: the boat is described by facts that the book does not know.
    """
    now = now or moment()
    log = hour_log(record, boat, book)
    desk = _Desk(record, boat_of(record, boat), book, log, now)
    items = [*desk.set_checks(), *desk.ageing(), *desk.trends(), *desk.look_over()]
    items.sort(key=lambda item: item.order)
    return DueList(desk.boat.name, now, log.at(now), log.pace, desk.ahead, tuple(items), desk.untold, len(log.left_out))


class _Desk:
    """What the lists are made from, laid out once."""

    def __init__(self, record: Record, boat: Boat, book: Book, log: HourLog, now: datetime) -> None:
        self.record, self.boat, self.book, self.log, self.now = record, boat, book, log, now
        self.hours = then.hours if (then := log.at(now)) is not None else None
        self.ahead = Ahead.at(log.pace)
        self.untold = 0
        self._series = all_series(record, boat.name, book, log)
        self._worked = [s for s in record.entries(boat=boat.name, kinds=("work-done",)) if not s.taken_back]
        self._entered = {s.id: s.entry.at for s in record.entries(boat=boat.name, kinds=("observed",))} if self._worked else {}
        facts = resolve(self._case(()), book).facts
        machinery = Machinery.of(book)
        arrangement = machinery.arrangement(facts)
        self._live = frozenset(str(f["n"]) for f in arrangement.facts.values() if str(f["n"]).startswith(LIVE))
        net = machinery.net(self._live)
        self._possible = frozenset(net.ids[node] for node in net.of_kind("fault"))

    def _case(self, looks: Iterable[Look]) -> Case:
        seen = tuple(self._as_now(look) for look in looks)
        return Case(opened_because="routine-look", now=self.now, observations=seen,
                    boat=Boat(name=self.boat.name, arrangement=self.boat.arrangement))

    def _as_now(self, look: Look) -> Observation:
        ago = max((self.hours or 0.0) - (look.hours or 0.0), 0.0) if self.hours is not None and look.hours is not None else 0.0
        return look.given.model_copy(update={"when": look.at, "hours_ago": ago, "epoch": "now"})

    def _by(self, hours: float | None, at: datetime | None) -> By:
        """By when in hours and as a day, each made of the other where one is missing; of two the sooner counts. And whether it is past."""
        from_hours = self.log.moment_of(hours) if hours is not None else None
        if at is not None and (from_hours is None or at <= from_hours):
            run = self.log.at(at)
            sooner = run.hours if run is not None else None
            hours = sooner if hours is None or sooner is None else min(sooner, hours)
        elif from_hours is not None:
            at = from_hours
        past = (at is not None and at <= self.now) or (hours is not None and self.hours is not None and hours <= self.hours)
        return hours, at.astimezone().date() if at is not None else None, past

    # -------------------------------------------------------------- checks set

    def set_checks(self) -> Iterator[Due]:
        """Checks that somebody set to come again and again: of several settings of one check the last counts."""
        latest: dict[str, DueSet] = {}
        for stored in self.record.entries(boat=self.boat.name, kinds=("due-set",)):
            if isinstance(stored.entry, DueSet) and not stored.taken_back:
                latest[self.book.now_called(stored.entry.check)] = stored.entry
        done = self._done()
        for name, entry in latest.items():
            found = self._set_check(name, entry, done.get(name))
            if found is not None:
                yield found

    def _set_check(self, name: str, entry: DueSet, done: datetime | None) -> Due | None:
        last = done if done is not None and done > entry.at else None
        start = last or entry.at
        then = self.log.at(start)
        hours = then.hours + entry.every_hours if then is not None and entry.every_hours is not None else None
        at = start + timedelta(days=entry.every_days) if entry.every_days is not None and entry.every_days < FARTHEST_DAYS else None
        today = self.now.astimezone().date()
        if entry.every_hours is None and entry.every_days is None:
            if last is not None or entry.until is None:
                return None
            by: By = (None, entry.until, entry.until < today)
        else:
            by = self._by(hours, at)
            if entry.until is not None and (entry.until < today or (by[1] is not None and by[1] > entry.until)):
                return None
        check = self.book.checks.get(name)
        since = f"last made at {where(then.hours if then else None, start)}" if last is not None else "not made since"
        unread = " Her engine hours are not on record." if entry.every_hours is not None and then is None else ""
        note = f" Note: {entry.note}" if entry.note else ""
        return Due("set", name, check.title if check is not None else name, f"{_setting(entry)}; {since}.{unread}{note}", *by,
                   (name,) if check is not None else ())

    def _done(self) -> dict[str, datetime]:
        """When each check was last made: as said, or when all it tells was last known at once."""
        at = {look.entry: look.at for series in self._series for look in series.looks}
        done: dict[str, datetime] = {}
        for stored in self.record.entries(boat=self.boat.name, kinds=("observed",)):
            entry = stored.entry
            if isinstance(entry, Observed) and entry.check is not None and not stored.taken_back and stored.id in at:
                name = self.book.now_called(entry.check)
                done[name] = max(done.get(name, at[stored.id]), at[stored.id])
        seen: dict[str, datetime] = {}
        for series in self._series:
            if series.looks:
                seen[series.scale.id] = max(seen.get(series.scale.id, series.looks[-1].at), series.looks[-1].at)
        for check in self.book.checks.values():
            if all(symptom in seen for symptom in check.tells):
                whole = min(seen[symptom] for symptom in check.tells)
                done[check.id] = max(done.get(check.id, whole), whole)
        return done

    # -------------------------------------------------------------- parts that age

    def ageing(self) -> Iterator[Due]:
        """Parts of which something is likely to begin in the hours ahead; a sound look at the sign puts it off."""
        aged, self.untold = aged_items(self.record, self.boat.name, self.book, self.log, self.now, self._possible, self._sound, self._looks)
        for item in aged:
            yield self._aged(item)

    def _aged(self, item: Aged) -> Due:
        hours = self.hours + item.in_hours if self.hours is not None else None
        at = self.now + timedelta(days=item.in_years * DAYS_A_YEAR)
        chances = "; ".join(f"{mid_sentence(risk.title)}: {risk.chance * 100:.0f} in 100, where {risk.line * 100:.0f} is the line"
                            for risk in item.risks[:2])
        sound = f" Looked at and found sound at {where(item.sound.hours, item.sound.at)}." if item.sound is not None else ""
        why = (f"Chance that it begins within the {AHEAD_HOURS:.0f} engine hours or the year that follow, the sooner: {chances}. "
               f"Counted from: {mid_sentence(item.title)}, {where(item.done_hours, item.done_at)}.{sound}")
        checks = [self.book.checks[name] for name in item.checks]
        title = "; ".join(c.title for c in checks) or f"What ages since: {mid_sentence(item.title)}"
        return Due("age", item.item, title, why, hours, at.astimezone().date(), item.in_years <= 0.0, item.checks)

    def _sound(self, symptom: str, after: datetime) -> Look | None:
        """The last look at a symptom after a moment, if it and all beside it in other states found nothing."""
        last = [s.looks[-1] for s in self._series if s.scale.id == symptom and s.looks and s.looks[-1].at > after]
        return max(last, key=lambda look: look.at) if last and all(look.high == 0 and look.sure for look in last) else None

    def _looks(self, symptom: str) -> tuple[str, ...]:
        """Checks that tell a symptom on this boat, the quickest first."""
        live = [c for c in self.book.checks_for.get(symptom, ())
                if is_live(c.live_when, self._live) and is_live(self.book.component_of[c.id].applies, self._live)]
        return tuple(c.id for c in sorted(live, key=lambda c: (c.cost.first_time, c.id)))

    # -------------------------------------------------------------- trends

    def trends(self) -> Iterator[Due]:
        """Lines that meet their limit within the hours ahead, and grades that were worse at the last look than at the one before."""
        for series in self._series:
            if not series.looks:
                continue
            view = outlook(series, self.log)
            if view.unlooked is not None:
                continue
            found = self._crossing(view) or self._got_worse(view)
            if found is not None:
                yield found

    def _crossing(self, view: Outlook) -> Due | None:
        meeting = view.meeting
        if meeting is None or meeting.at is None or not view.shown:
            return None
        if meeting.at.hours is not None and self.hours is not None:
            near = meeting.at.hours <= self.hours + AHEAD_HOURS
        else:
            near = meeting.at.on is not None and meeting.at.on <= self.now + timedelta(days=self.ahead.years * DAYS_A_YEAR)
        if not near:
            return None
        by = meeting.earliest or meeting.at
        when = self._by(by.hours, None) if view.by == "hours" else self._by(None, by.on)
        return Due("trend", self._id(view.series), self._title(view.series), in_short(view), *when,
                   self._looks(view.series.scale.id)[:2])

    def _got_worse(self, view: Outlook) -> Due | None:
        change = view.changes[-1] if view.changes else None
        if change is None or not change.worse or change.after is not view.looks[-1]:
            return None
        before, after = change.before, change.after
        hours = None
        if before.hours is not None and after.hours is not None:
            hours = after.hours + min(max(after.hours - before.hours, LEAST_AGAIN), AHEAD_HOURS)
        at = after.at + min(after.at - before.at, timedelta(days=DAYS_A_YEAR))
        why = (f"It got worse between {where(before.hours, before.at)} and {where(after.hours, after.at)}, from {told(before, view)} to "
               f"{told(after, view)}. As long again is the time to look.")
        return Due("worse", self._id(view.series), self._title(view.series), why, *self._by(hours, at),
                   self._looks(view.series.scale.id)[:2])

    def _title(self, series: Series) -> str:
        state = f" ({mid_sentence(self.book.words.states[series.state])})" if series.state is not None else ""
        return f"Look again: {mid_sentence(series.scale.title)}{state}"

    @staticmethod
    def _id(series: Series) -> str:
        return f"{series.scale.id} {series.state or 'any'}"

    # -------------------------------------------------------------- the look-over

    def look_over(self) -> Iterator[Due]:
        """The lines of the look-over that a departure waits for: when the first of them goes stale, or that some are."""
        told = {symptom for line in self.book.look_over.looks for symptom in line.tells}
        latest = [(s.scale.id, _surest(looks)) for s in self._series if s.scale.id in told and (looks := self._since_work(s))]
        try:
            situation = resolve(self._case(look for _, look in latest), self.book)
        except DiagnoseError:  # what the book cannot take any more was not looked at
            latest, situation = [], resolve(self._case(()), self.book)
        gating = [state for state in look_over(self.book, situation, self._live) if state.gates]
        owed = [state for state in gating if state.owed]
        lines = count(len(gating), "line")
        if owed:
            stale = sum(state.state == "stale" for state in owed)
            never = len(owed) - stale
            parts = [f"{stale} gone stale" if stale else "", f"{never} not made, or not surely enough" if never else ""]
            why = f"Of {len(gating)} line{'' if len(gating) == 1 else 's'} that a departure waits for, " \
                  f"{' and '.join(p for p in parts if p)}: {'; '.join(mid_sentence(state.title) for state in owed)}."
            yield Due("look-over", "look-over", LOOK_OVER, why, None, None, False, (), True)
        elif gating:
            known = {line.id: line for line in self.book.look_over.looks}
            ends = [_fresh_until(known[state.id], latest) for state in gating]
            hours = min((run for run, _ in ends if run is not None), default=None)
            why = f"All {lines} that a departure waits for are fresh; then the first goes stale."
            yield Due("look-over", "look-over", LOOK_OVER, why, *self._by(hours, min(at for _, at in ends)))

    def _since_work(self, series: Series) -> tuple[Look, ...]:
        """The looks at a sign since the last work that changed it: those before say nothing of how it is now."""
        changed = [(s.entry.at, s.id) for s in self._worked
                   if isinstance(s.entry, WorkDone) and series.scale.id in map(self.book.now_called, s.entry.signs)]
        return tuple(look for look in series.looks if not changed or (self._entered.get(look.entry, look.at), look.entry) > max(changed))


def _surest(looks: Sequence[Look]) -> Look:
    """The last look made surely enough for a departure, or the last of all."""
    return next((look for look in reversed(looks) if SURE[look.given.sure] >= GATE_SURENESS), looks[-1])


def _fresh_until(line: LookLine, latest: Sequence[tuple[str, Look]]) -> tuple[float | None, datetime]:
    """Until which engine hours and which moment a line that was made counts."""
    ends = []
    for symptom in line.tells:
        last = max((look for name, look in latest if name == symptom), key=lambda look: look.at, default=None)
        if last is not None:
            ends.append((last.at + timedelta(days=line.fresh.days), None if last.hours is None else last.hours + line.fresh.hours))
    at, hours = (max if line.any_of else min)(ends, key=lambda end: end[0])
    return hours, at


def _setting(entry: DueSet) -> str:
    hours = f"every {entry.every_hours:g} engine hours" if entry.every_hours else ""
    days = f"every {entry.every_days:g} days" if entry.every_days else ""
    told = " or ".join(every for every in (hours, days) if every)
    until = f" until {entry.until.day} {entry.until:%B %Y}" if entry.until is not None else ""
    return f"Set on {day(entry.at)}" + (f" for {told}{until}" if told else f", once{until.replace('until', 'by')}")
