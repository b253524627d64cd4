"""The work as a session on the small book: planned, ticked off, left out, taken back, asked about, and what is typed beside it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

import doingkit as dk
import pytest

from diagnose.assessment import RulesUsed
from diagnose.doing.standing import Standing
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.record import entries as e
from diagnose.record.store import Record
from diagnose.record.trouble import RecordError

PUMP = ("swap-pump",)
TO_THE_PUMP = ("1", "done", "done", "done", "done")
"""All parts are here, the three set-ups are made, the pump is out."""
TO_THE_TESTS = (*TO_THE_PUMP, "0", "done", "0", "done waited", "done", "done")
"""Neither the cover nor the seal is worn, the pump is in and all is closed but the box."""


def ticked(desk: dk.Desk) -> list[str]:
    """Tasks ticked off, in the order of the plan."""
    return list(desk.standing.ticked)


# ------------------------------------------------------------------ the plan


def test_the_first_plan_is_kept_and_goes_on(desk: dk.Desk) -> None:
    """It is made once, as a plan of this case, and shown; the next time the same goes on, and is not shown again."""
    assert desk.work("q").of("whole_plan")
    (planned,) = desk.entries("work-planned")
    assert desk.standing.plan.jobs == PUMP
    desk.work("1", "done", "q")
    again = desk.work("q")
    assert again.of("whole_plan") == []
    assert "1 of 9 tasks are ticked off; 3 tests besides." in again.said
    assert desk.entries("work-planned") == [planned]


def test_a_job_named_on_the_way_in_comes_into_the_plan(desk: dk.Desk) -> None:
    """Named once more it changes nothing; a job of which there is none is told and left."""
    desk.work("q")
    assert "In the plan now: renew belt." in desk.work("q", jobs=["renew-belt"]).text
    assert desk.standing.plan.jobs == ("renew-belt", "swap-pump")
    desk.work("q", jobs=["renew-belt"])
    assert len(desk.entries("work-planned")) == 2
    assert "is not in the book" in desk.work("q", jobs=["renew-nothing"]).broken[0]


def test_where_no_job_pays_nothing_is_planned(tmp_path: Path, small: Book) -> None:
    """The error says how to see why, and nothing is kept."""
    sound = dk.case().model_copy(update={"observations": (), "opened_because": "routine-look"})
    desk = dk.Desk(tmp_path / "r.db", dk.kept(tmp_path / "r.db", small, sound), small)
    before = desk.log
    with pytest.raises(InputError, match="no job pays now"):
        desk.work()
    with pytest.raises(InputError, match="no work was planned"):
        desk.work(tests_only=True)
    assert desk.log == before


def test_a_plan_that_cannot_be_read_is_made_anew_and_ticks_stand(desk: dk.Desk) -> None:
    """A plan in another form counts as none; what was ticked under it is ticked, and `b` takes back nothing before it."""
    text = '{"jobs": ["swap-pump"], "tasks": [], "later": []}'
    with Record.open(desk.path) as record:
        entry = e.WorkPlanned(at=dk.START + timedelta(minutes=5), plan=text, sha256=e.digest(text),
                              rules=RulesUsed(version="1.2.3", digest="d" * 64))
        tick = e.TaskTicked(at=dk.START + timedelta(minutes=6), task="set-up:box-open")
        record.append_all([entry, tick], boat=dk.BOAT, case=desk.case)
    screen = desk.work("b", "q")
    assert screen.of("whole_plan")
    assert screen.tasks == ["set-up:cock-shut"]
    assert "there is nothing to take back" in screen.text


# ------------------------------------------------------------------ every answer is kept


STORY = ("2", "done 25 min", "x the cock was shut", "done 10 min", "done", "n a long bolt", "1", "1", "done", "0", "list", "done", "done",
         "done waited", "done", "done", "hours 1200", "done", "0", "0", "1", "b", "done", "1", "done", "0", "1", "hours 1206", "done", "1",
         "done", "1", "0", "done", "1")
"""Every kind of answer, from the first bolt to the last test: a cover job is offered and taken, one answer is taken back."""


def said_in(desk: dk.Desk) -> list[dict[str, Any]]:
    """What stands in the record but its moments, numbers, and judgements."""
    told = [e.plain(entry) for entry in desk.entries() if entry.kind not in ("assessed", "taken-back")]
    return [{k: v for k, v in entry.items() if k not in ("at", "sha256", "plan")} for entry in told]


def one_by_one(desk: dk.Desk, size: int) -> dk.FakeBench:
    """Drive the story with a new session for every so many lines; a test that was begun is begun again with `done`."""
    screen = dk.FakeBench([])
    for first in range(0, len(STORY), size):
        mid_test = bool(screen.shown) and screen.shown[-1][0] == "question" and "proof" in "".join(screen.tasks[-1:])
        screen = desk.work(*(["done"] if mid_test else []), *STORY[first : first + size])
    return screen


@pytest.mark.parametrize("size", [1, 2, 3])
def test_a_session_ended_after_any_answer_goes_on_from_there(size: int, tmp_path: Path, small: Book) -> None:
    """One session for all lines, or a new one for every few: the same lies in the record."""
    whole, parted = (dk.Desk(tmp_path / f"{n}.db", dk.kept(tmp_path / f"{n}.db", small, dk.case()), small) for n in "ab")
    whole.work(*STORY)
    one_by_one(parted, size)
    assert said_in(parted) == said_in(whole)
    assert ticked(parted) == ticked(whole)
    assert parted.standing.unproved == whole.standing.unproved == ()
    assert parted.standing.plan == whole.standing.plan


def test_ctrl_c_loses_nothing_that_was_ticked(desk: dk.Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The work ends with the exit status of a broken-off program, and all that was acknowledged is there."""
    first = dk.FakeBench.ask

    def ask(self: dk.FakeBench) -> str | None:
        typed = first(self)
        if typed is None:
            raise KeyboardInterrupt
        return typed

    monkeypatch.setattr(dk.FakeBench, "ask", ask)
    screen = desk.work("1", "done", status=130)
    assert screen.said[-1].startswith("Saved.")
    assert ticked(desk) == ["set-up:box-open"]


class Refusing:
    """A disk that takes no entry of one kind, or none at all, as often as is said; then it takes everything."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, kind: str, times: int = 1) -> None:
        first = Record.append_all

        def append_all(record: Record, given: Sequence[e.Entry], **where: Any) -> Any:
            if self.left and any(entry.kind == kind for entry in given):  # type: ignore[attr-defined]
                self.left -= 1
                raise RecordError("the disk is full", where=str(record.path))
            return first(record, given, **where)

        self.left = times
        monkeypatch.setattr(Record, "append_all", append_all)


@pytest.mark.parametrize(("kind", "before", "line"), [
    ("task-ticked", ("1",), "done"),
    ("moved-on", (), "1"),
    ("observed", TO_THE_PUMP, "0"),
    ("taken-back", ("1", "done"), "b"),
    ("note", ("1",), "n a long bolt"),
    ("hours", ("1",), "hours 1210"),
    ("work-planned", ("1",), "add renew-belt"),
    ("proof-made", (*TO_THE_TESTS, "done", "0", "0"), "1"),
])
def test_what_cannot_be_saved_is_told_and_not_taken(kind: str, before: Sequence[str], line: str, desk: dk.Desk,
                                                    monkeypatch: pytest.MonkeyPatch) -> None:
    """The record is as it was but for the mark of a test begun, and the same line is taken once the disk takes it."""
    desk.work(*before)
    held = desk.entries()
    again = ("done",) if kind == "proof-made" else ()
    refusing = Refusing(monkeypatch, kind)
    screen = desk.work(*again, line)
    assert refusing.left == 0
    assert screen.broken == ["the disk is full"]
    assert "NOT SAVED, so not taken. What was ticked before is safe." in screen.said
    assert desk.entries() == held
    assert desk.work(*again, line).broken == []
    assert desk.entries() != held


def test_a_first_plan_that_cannot_be_saved_ends_the_work(desk: dk.Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is done that no plan is there for."""
    Refusing(monkeypatch, "work-planned")
    assert "NOT SAVED, so not taken. What was ticked before is safe." in desk.work().said
    assert desk.entries("work-planned") == []


# ------------------------------------------------------------------ ticks


def test_minutes_told_of_several_are_shared_out_as_planned(desk: dk.Desk) -> None:
    """Told of one task they are its own; of three they are shared by the minutes of the plan."""
    desk.work("1", "done 25 min", "done 2-3 56 min", "q")
    told = [t.minutes for t in desk.entries("task-ticked")]
    planned = [float(desk.standing.tasks[n].first_time) for n in ("set-up:cock-shut", "set-up:cover-off")]
    assert told == [25.0, *(pytest.approx(56.0 * p / sum(planned), abs=0.01) for p in planned)]
    assert desk.standing.minutes()[0] == pytest.approx(81.0, abs=0.02)


@pytest.mark.parametrize(("line", "why"), [
    ("x", "says why"),
    ("done 99", "there is no task 99"),
    ("done 0", "there is no task 0"),
    ("done 5-3", "5-3 runs backwards. Right would be: 3-5"),
    ("done 4-5", "comes before that"),
    ("done 1", "ticked off already"),
    ("done 2-12", "a test is made, not ticked"),
    ("done 99999 h", "minutes cannot be"),
    ("redo 2", "no such task that is done"),
    ("redo", "no such task that is done"),
    ("redo first", "no such task that is done"),
    ("add swap-pump", "is in the plan already"),
    ("n", "there is nothing after it"),
    ("learn the bolt is long", "of a step of a job only"),
    ("p no-such-file.jpg", "no such file"),
    ("hours many", "is not a number with a unit"),
    ("hours -3 h", "cannot be"),
    ("f a drop", "f is for a test that failed"),
    ("f", "f is for a test that failed"),
    ("jump", "'jump' is not known here"),
    ("", "Nothing was taken"),
])
def test_what_cannot_be_done_is_told_and_changes_nothing(line: str, why: str, desk: dk.Desk) -> None:
    """One task is done; each of these lines is answered with what is wrong, and the same task stands."""
    desk.work("1", "done", "q")
    before = desk.log
    screen = desk.work(line, "q")
    assert why in f"{screen.text} {screen.broken}"
    assert screen.tasks == ["set-up:cock-shut"]
    assert desk.log == before


def test_a_job_that_is_not_in_the_book_is_not_added(desk: dk.Desk) -> None:
    """It is told apart, and the plan stays."""
    assert "job 'no-such-job' is not in the book" in desk.work("1", "add no-such-job", "q").broken[0]
    assert len(desk.entries("work-planned")) == 1


def test_a_range_is_ticked_in_one_go(desk: dk.Desk) -> None:
    """What is done among them stays as it was; what one of them bares is asked before any counts, and once."""
    desk.work("1", "done 2", "q")
    assert ticked(desk) == []
    screen = desk.work("done", "done 1-4", "q")
    assert (ticked(desk), screen.asked) == (["set-up:box-open"], ["cover-worn-seen"])
    screen = desk.work("done 1-4", "0", "q")
    assert screen.asked == ["cover-worn-seen"]
    assert ticked(desk) == ["set-up:box-open", "set-up:cock-shut", "set-up:cover-off", "swap-pump/pump-out"]
    assert desk.work("q").asked == []


@pytest.mark.parametrize("line", ["done 4-6", "all"])
def test_what_lay_open_in_a_job_told_of_at_once_is_of_before_it(line: str, desk: dk.Desk) -> None:
    """Told of as done from taking off to closing, what was to be seen is asked before the job is through: it is of the old part."""
    desk.work("1", "done", "done", "done", "q")
    screen = desk.work(line, "0", "some", "q")
    assert screen.asked[:2] == ["cover-worn-seen", "seal-worn-seen"]
    (work,) = (s for s in desk.log if isinstance(s.entry, e.WorkDone))
    (seen,) = (s for s in desk.log if isinstance(s.entry, e.Observed) and s.entry.observation.symptom == "seal-worn-seen")
    assert (seen.entry.at, seen.id) < (work.entry.at, work.id)


def test_what_is_bared_when_all_is_closed_is_of_the_new_part(desk: dk.Desk) -> None:
    """A step that looks at what was just fitted is asked of when the job is through, also where all is told of at once."""
    standing = desk_standing(desk)
    assert {t.id for t in standing.plan.tasks if standing.is_closed_by(t) and t.kind == "step"} == {"swap-pump/pump-in"}


def desk_standing(desk: dk.Desk) -> Standing:
    """Where the work stands once it is planned."""
    desk.work("1", "q")
    return desk.standing


def test_what_is_left_out_and_closes_something_says_what_is_loose(desk: dk.Desk) -> None:
    """The step that fits the pump left out: by that the pump is not back."""
    assert "By that it is not put back: pump." in desk.work(*TO_THE_PUMP, "0", "2", "done", "0", "x no part", "q").said


def test_what_is_left_out_counts_with_its_reason(desk: dk.Desk) -> None:
    """It is not to do; it bares nothing; a job of which all is left out is not through."""
    desk.work("1", "x off already", *["x not mine"] * 5, "q")
    assert [why for _, why in desk.standing.left_out()] == ["off already", *["not mine"] * 5]
    assert desk.entries("work-done", "observed")[2:] == []
    assert desk.standing.through == {}


def test_all_ticks_everything_but_the_tests(desk: dk.Desk) -> None:
    """For who worked without the list: then what lay open is asked, and what it was; what is closed after the tests waits for them."""
    screen = desk.work("1", "all", "0", "0", "q")
    assert "Through: swap pump." in screen.text
    assert [t.id for t in desk.standing.left_to_do] == ["put back:box-open"]
    assert screen.asked[1:] == ["cover-worn-seen", "seal-worn-seen"]
    screen = desk.work("all", "1", "all", "q")
    assert desk.standing.left_to_do == ()
    assert "all is ticked off but the tests" in screen.text
    assert len(desk.standing.unproved) == 3


def test_a_wait_is_kept_unless_it_is_said_to_be_over(desk: dk.Desk) -> None:
    """Thirty minutes of soaking: refused at once and by its number, taken after its time, or where it is said that it had its time."""
    desk.work(*TO_THE_PUMP, "0", "done", "0", "q")
    number = desk.number("swap-pump/pump-in")
    screen = desk.work("done", f"done {number}", "q")
    assert screen.of("task") == [("swap-pump/pump-in", [("it soaks", desk.standing.ticked["swap-pump/clean"].at + timedelta(minutes=30))])]
    assert screen.text.count("Not yet: it soaks, until") == 2
    assert "swap-pump/pump-in" not in desk.standing.ticked
    after = desk.work("done waited", "done", "q")
    assert after.tasks == ["swap-pump/pump-in", "put back:cover-off", "put back:cock-shut"]
    assert "Not yet" not in after.text


def test_a_wait_that_is_over_is_not_told(desk: dk.Desk) -> None:
    """Half an hour later the task is simply done."""
    desk.work(*TO_THE_PUMP, "0", "done", "0", "q")
    desk.clock.later(minutes=31)
    assert "Not yet" not in desk.work("done", "q").text
    assert "swap-pump/pump-in" in desk.standing.ticked


def test_a_job_that_is_through_is_kept_with_its_event(desk: dk.Desk) -> None:
    """All of one moment: the tick, the work, and what it leaves; earlier answers to its signs are of before it."""
    desk.work(*TO_THE_PUMP, "0", "done", "0", "done waited", "q")
    (work,) = desk.entries("work-done")
    (event,) = desk.entries("event")
    assert (work.job, work.cures, work.signs) == ("swap-pump", ("pump-worn",), ("pump-worn-seen",))
    assert event.event.event == "pump-work"
    assert work.at == event.at == desk.standing.ticked["swap-pump/pump-in"].at


# ------------------------------------------------------------------ taken back, done again


def test_b_takes_back_one_answer_after_another(desk: dk.Desk) -> None:
    """From the last to the first, at a task or at a question: a tick with the work that it ended, a sign, a job that was taken in, the
    parts; then nothing is left."""
    lines = (*TO_THE_PUMP, "1", "1", "done", "0", "done", "done waited")
    desk.work(*lines)
    stood = []
    for _ in lines:
        screen = desk.work("b")
        assert len(screen.of("crossed_out")) == 1, stood
        stood.append((len(ticked(desk)), len(desk.entries("observed")) - 2, len(desk.standing.plan.jobs), len(desk.standing.through)))
    assert stood == [(6, 2, 2, 1), (5, 2, 2, 0), (5, 1, 2, 0), (4, 1, 2, 0), (4, 1, 1, 0), (4, 0, 1, 0),
                     (3, 0, 1, 0), (2, 0, 1, 0), (1, 0, 1, 0), (0, 0, 1, 0), (0, 0, 1, 0)]
    assert desk.standing.asked == {}
    assert "Not taken: there is nothing to take back." in desk.work("b").said
    assert desk.work(*lines).tasks[-1] == "put back:cover-off"


def test_b_with_nothing_done_says_so(desk: dk.Desk) -> None:
    """What was there before the work was planned is not the work's to take back."""
    before = len(desk.entries("observed"))
    screen = desk.work("1", "b", "1", "q")
    assert screen.asked == ["Before the first bolt: are all parts that must be there lying beside you, and the right ones?"] * 2
    assert len(desk.entries("observed")) == before


def test_b_takes_back_an_added_job(desk: dk.Desk) -> None:
    """The plan is as it was before it."""
    desk.work("1", "add renew-belt", "q")
    assert desk.standing.plan.jobs == ("renew-belt", "swap-pump")
    desk.work("b", "q")
    assert desk.standing.plan.jobs == PUMP


def test_redo_opens_one_task_again(desk: dk.Desk) -> None:
    """With it what was closed over it, how one gets there, and what is done between taking off and fitting; done again, its job is
    through again."""
    desk.work(*TO_THE_TESTS, "q")
    screen = desk.work(f"redo {desk.number('swap-pump/pump-in')}", "q")
    assert [line for line in screen.said if "again" in line] == [f"To be done again: Do {n}." for n in ("pump-out", "clean", "pump-in")]
    assert not desk.standing.is_through("swap-pump")
    assert [t.id for t in desk.standing.left_to_do] == [
        "set-up:cock-shut", "set-up:cover-off", "swap-pump/pump-out", "swap-pump/clean", "swap-pump/pump-in",
        "put back:cover-off", "put back:cock-shut", "put back:box-open"]
    assert screen.tasks[-1] == "set-up:cock-shut"
    assert "Through: swap pump." in desk.work("done", "done", "done", "done", "done waited", "q").text
    assert len(desk.entries("work-done")) == 2


# ------------------------------------------------------------------ what is asked between tasks


def test_the_parts_are_asked_once(desk: dk.Desk) -> None:
    """Before the first bolt; junk is asked again; with a no the work is begun all the same; q leaves and it is asked the next time."""
    first = desk.work("", "3", "yes", "q")
    assert len(first.asked) == 1
    assert first.text.count("Type 1, 2; several with a space between;") == 3
    assert desk.work("2", "q").tasks == ["set-up:box-open"]
    assert desk.work("q").asked == []
    (mark,) = desk.entries("moved-on")
    assert (mark.to, mark.note) == ("work: parts", "no")


def test_what_is_bared_is_asked_in_its_state(desk: dk.Desk) -> None:
    """Junk and `b` are no answer; a note is kept beside; unsure, unseen and later are answers; nothing is asked twice."""
    screen = desk.work(*TO_THE_PUMP, "", "seven", "h", "stopped", "n it is dark", "x", "q")
    (question, *_) = (q for q in screen.of("question") if q.kind == "symptom")
    assert (question.about, question.state) == ("cover-worn-seen@cold-stopped", "cold-stopped")
    assert screen.text.count("A line of the answers, or u, x, l") == 2
    assert [(p.symptom, p.why) for p in desk.entries("passed-over")] == [("cover-worn-seen", "cannot-see")]
    assert [n.text for n in desk.entries("note")] == ["it is dark"]
    assert desk.work("q").asked == []


def test_an_offer_is_made_once_and_declined(desk: dk.Desk) -> None:
    """A worn cover makes its job pay: declined, it is offered no more, also when more is seen that makes another pay."""
    screen = desk.work(*TO_THE_PUMP, "1", "2", "done", "1", "2", "q")
    assert [found.job for (found,) in screen.of("offer")] == ["turn-cover", "swap-seal"]
    assert desk.standing.plan.jobs == PUMP
    assert desk.work("done waited", "q").of("offer") == []


def test_an_offer_taken_is_in_the_plan_with_its_parts(desk: dk.Desk) -> None:
    """The answer and the plan are one: neither is there without the other. It is offered no more."""
    screen = desk.work(*TO_THE_PUMP, "0", "done", "1", "1", "q")
    assert [found.job for (found,) in screen.of("offer")] == ["swap-seal"]
    assert "In the plan now: swap seal." in screen.text
    assert "To get: seal." in screen.said
    assert desk.standing.plan.jobs == ("swap-pump", "swap-seal")
    answer, plan = desk.entries("moved-on")[-2], desk.entries("work-planned")[-1]
    assert (answer.to, answer.note, answer.at) == ("work: not swap-seal", "yes", plan.at)
    assert {"swap-seal/seal-out", "swap-seal/seal-in"} <= {t.id for t in desk.standing.left_to_do}
    assert desk.work("q").of("offer") == []


def test_an_offer_left_unanswered_is_made_again(desk: dk.Desk) -> None:
    """Left at the question, it comes again the next time, and nothing is asked twice for it."""
    assert len(desk.work(*TO_THE_PUMP, "1").of("offer")) == 1
    screen = desk.work("1", "q")
    assert screen.asked == ["Put it into the plan: turn cover?"]
    assert desk.standing.plan.jobs == ("swap-pump", "turn-cover")


def test_an_offer_answered_both_ways_is_declined(desk: dk.Desk) -> None:
    """Two answers that do not go together add nothing."""
    desk.work(*TO_THE_PUMP, "1", "1 2", "q")
    assert desk.standing.plan.jobs == PUMP


def test_what_is_new_counts_from_today(desk: dk.Desk) -> None:
    """Of a job that cures what ages: asked once it is through; the service carries her hours and the day. None of them: nothing kept."""
    screen = desk.work("1", "all", "0", "0", "1", "q", jobs=["renew-belt"])
    assert screen.asked[-1].startswith("renew belt is through. Which of these is new now")
    (service,) = desk.entries("service")
    assert (service.item, service.hours, service.on) == ("belt", 1200.0, service.at.astimezone().date())
    assert desk.work("q").asked == []


def test_nothing_new_is_kept_as_nothing(desk: dk.Desk) -> None:
    """With none of them the age goes on as it was."""
    desk.work("1", "all", "0", "0", "0", "q", jobs=["renew-belt"])
    assert desk.entries("service") == []
    assert "renewed renew-belt" in desk.standing.asked


@pytest.mark.parametrize(("answer", "faults", "wrong", "notes"), [
    ("1", ("pump-worn",), False, 0), ("0", (), True, 0), ("9", (), None, 1), ("1 9", ("pump-worn",), False, 0)])
def test_what_it_was_is_asked_when_all_is_done(answer: str, faults: tuple[str, ...], wrong: bool | None, notes: int,
                                               desk: dk.Desk) -> None:
    """A fault of the job, nothing at all, or told later; what is not known is no finding."""
    desk.work(*TO_THE_TESTS, "x no time", "x no time", "done", answer)
    found = desk.entries("found")
    assert [(f.faults, f.nothing_wrong) for f in found] == ([] if wrong is None else [(faults, wrong)])
    assert len(desk.entries("note")) == notes
    assert desk.work().asked == []


def test_a_second_finding_names_the_first_too(desk: dk.Desk) -> None:
    """The last finding of a case counts, so that it holds all that was found."""
    lines = ("1", "all", "0", "0", "0", "x no time", "x no time", "all", "1", "1")
    desk.work(*lines, jobs=["swap-pump", "renew-belt"])
    assert [f.faults for f in desk.entries("found")] == [("belt-aged",), ("belt-aged", "pump-worn")]


def test_a_finding_of_before_is_not_struck_by_none(desk: dk.Desk) -> None:
    """Nothing wrong at a second job says nothing of the first."""
    desk.work("1", "all", "0", "0", "0", "x no time", "x no time", "all", "1", "0", jobs=["swap-pump", "renew-belt"])
    assert [(f.faults, f.nothing_wrong) for f in desk.entries("found")] == [(("belt-aged",), False)]


# ------------------------------------------------------------------ beside the work


def test_what_is_kept_beside_the_work_moves_nothing(desk: dk.Desk, tmp_path: Path) -> None:
    """A note, a photo, hours, something learned; a list, the parts, the keys: the same task stands after each."""
    picture = tmp_path / "bolt.jpg"
    picture.write_bytes(b"a picture")
    screen = desk.work(*TO_THE_PUMP[:-1], "n  a long   bolt", f"p {picture}", "hours 1201.5", "hours 1202 h", "learn the left bolt is long",
                       "list", "parts", "h", "q")
    assert screen.tasks[-1] == "swap-pump/pump-out"
    assert [(n.text, n.about) for n in desk.entries("note")] == [("a long bolt", "Do pump-out.")]
    assert [p.about for p in desk.entries("photo")] == ["Do pump-out."]
    assert [h.engine_hours for h in desk.entries("hours")][-2:] == [1201.5, 1202.0]
    assert desk.learned == [("swap-pump", "pump-out", "the left bolt is long")]
    assert [name for name, _ in screen.shown[-2:]] == ["listing", "keys"]
    assert "pump: must, beside you" in screen.said
    assert any(line.startswith("pump: must, to get") for line in desk.work("b", *["b"] * 9, "2", "parts", "q").said)


def test_hours_that_run_backwards_are_not_taken(desk: dk.Desk) -> None:
    """Fewer than were read before are refused; more than the clock allows are taken, and it is said."""
    screen = desk.work("1", "hours 1100", "hours 1200", "hours 1900", "q")
    assert "Not taken: 1100 engine hours are fewer than the 1200 read before." in screen.text
    assert [line for line in screen.said if line.startswith("Taken")] == [
        "Taken: 1200 engine hours.", "Taken: 1900 engine hours. That is more than the clock allows."]


def test_a_range_that_waits_says_how_it_goes_on(desk: dk.Desk) -> None:
    """What is still soaking is told once, with the line that says it has had its time."""
    desk.work(*TO_THE_PUMP, "0", "2", "done", "0", "q")
    first = desk.number("swap-pump/pump-in")
    screen = desk.work(f"done {first}-{first + 1}", "q")
    (waits,) = [line for line in screen.said if line.startswith("Not yet")]
    assert waits.endswith(f"done {first}-{first + 1} waited.")
    assert "Done: 2 tasks, saved." in desk.work(f"done {first}-{first + 1} waited", "q").said


def test_another_plan_wants_its_parts_asked_for(desk: dk.Desk) -> None:
    """A job that comes in brings parts of its own: nobody said that they lie there."""
    screen = desk.work("1", "add renew-belt", "1", "parts", "q")
    assert screen.asked == ["Before the first bolt: are all parts that must be there lying beside you, and the right ones?"] * 2
    assert "belt: must, beside you" in screen.said


def test_what_is_learned_may_name_its_step(desk: dk.Desk) -> None:
    """With a number it stands with that step, and says so; a number of no step is refused, and a number alone is a word."""
    number = desk.number("swap-pump/pump-out") if desk.work("1", "q") else 0
    screen = desk.work(f"learn {number}: the left bolt is long", "learn 12 mm bolts", "learn 99: bolts", "learn 1: box", "q")
    assert desk.learned == [("swap-pump", "pump-out", "the left bolt is long")]
    assert "It stands with: Do pump-out." in screen.said
    assert screen.text.count("it can be kept of a step of a job only") == 3


def test_who_did_it_is_kept(desk: dk.Desk) -> None:
    """All that one person tells carries the name."""
    desk.work("1", "done", "q", by="Ana Brock")
    assert {entry.by for entry in desk.entries("work-planned", "task-ticked", "moved-on")} == {"Ana Brock"}


def test_a_case_is_worked_in_one_session_at_a_time(desk: dk.Desk) -> None:
    """Held while one works, let go after."""
    with Record.open(desk.path) as other, other.hold_case(desk.case), pytest.raises(RecordError, match="open in another session"):
        desk.work()
    assert desk.work("q").tasks == []
