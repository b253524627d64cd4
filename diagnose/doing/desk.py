"""One case while it is worked on: its record, the rules it is judged with, and the moments of what is kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone

from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.doing import struck
from diagnose.doing.bench import Bench
from diagnose.doing.proving import Owed, owed
from diagnose.doing.standing import Standing, standing_of
from diagnose.errors import DiagnoseError, InputError
from diagnose.knowledge.book import Book
from diagnose.record.entries import Assessed, Entry, TakenBack, digest
from diagnose.record.hourlog import hour_log
from diagnose.record.learn import learned_case
from diagnose.record.store import CaseHead, Record, Stored
from diagnose.triage import assess

TICK = timedelta(microseconds=1)
EARLY = datetime.min.replace(tzinfo=timezone.utc)


def now() -> datetime:
    """The moment, as the record keeps moments."""
    return datetime.now(timezone.utc)


@dataclass
class Desk:
    """What all who take part in the work share. Everything that lasts lies in the record.

    Attributes:
        book: the rules that the case is judged with.
        planned_book: the same, with what was learned on this boat.
        record: where the case is.
        head: the case.
        bench: where the work is shown and lines are read.
        by: who tells it, if that is said.
        tests_only: the tests are taken up, not the work.
        clock: gives the moment.
    """

    book: Book
    planned_book: Book
    record: Record
    head: CaseHead
    bench: Bench
    by: str | None = None
    tests_only: bool = False
    clock: Callable[[], datetime] = now
    _last_at: datetime = field(default=EARLY, init=False)
    _shown: Assessment | None = field(default=None, init=False)

    def log(self) -> tuple[Stored, ...]:
        """The entries of the case."""
        log = self.record.entries(case=self.head.id)
        self._last_at = max(self._last_at, log[-1].entry.at)
        return log

    def standing(self) -> Standing:
        """Where the work stands; it was planned."""
        found = standing_of(self.log())
        assert found is not None, "the plan is kept before anything is done"
        return found

    def moment(self) -> datetime:
        """Now; always later than the last moment used: what is taken back together is told by it."""
        self._last_at = max(self.clock(), self._last_at + TICK)
        return self._last_at

    def keep(self, entries: Sequence[Entry]) -> bool:
        """Put entries into the log, all or none. What could not be saved is told, and the same question stands."""
        signed = [e.model_copy(update={"by": self.by}) for e in entries] if self.by else list(entries)
        try:
            self.record.append_all(signed, boat=self.head.boat, case=self.head.id)
        except DiagnoseError as error:
            self.bench.fault(error)
            self.bench.say(["NOT SAVED, so not taken. What was ticked before is safe."])
            return False
        return True

    def strike(self, entries: Sequence[Stored], reason: str) -> bool:
        """Cross entries out; they stay in the record."""
        at = self.moment()
        return self.keep([TakenBack(at=at, entry=s.id, reason=reason) for s in entries])

    def take_back(self) -> None:
        """Cross the last answer out.

        Raises:
            InputError: there is none.
        """
        last = struck.last_answer(self.log())
        if not last:
            raise InputError("there is nothing to take back", right="q leaves")
        if self.strike(last, "taken back"):
            self.bench.crossed_out([s.entry for s in last], self.standing(), self.book)

    def saved(self) -> str:
        """That all is safe, and how it goes on."""
        return f"Saved. diagnose {'prove' if self.tests_only else 'work'} {self.head.id} goes on."

    def owed(self, standing: Standing) -> tuple[Owed, ...]:
        """The tests still to be made or passed."""
        return owed(standing, hour_log(self.record, self.head.boat, self.book), self.clock())

    def case(self) -> Case:
        """The case as it is known now."""
        return learned_case(self.record, self.head.id, self.book, now=self.moment())

    def judged(self) -> tuple[Case, Assessment]:
        """The case as it is known now, and its judgement."""
        case = self.case()
        return case, assess(case, self.book)

    def judged_and_kept(self) -> Assessment:
        """The judgement of the case as it is known now, kept and shown."""
        case, found = self.judged()
        result = found.result_json()
        self.keep([Assessed(at=self.moment(), case=case, rules=found.rules, engine=found.engine, result=result, sha256=digest(result))])
        self.bench.now(found, self._shown)
        self._shown = found
        return found
