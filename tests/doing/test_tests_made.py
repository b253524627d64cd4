"""The tests of some work as they are made at the engine: passed, failed, put off, made again; and what a failure changes."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path

import doingkit as dk
import pytest
import smallbook as sb

from diagnose.doing.owing import with_tests
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.record import entries as e
from diagnose.record.due import due
from diagnose.record.fold import case_of
from diagnose.record.store import Record
from diagnose.triage import assess

DONE = ("1", "done", "done", "done", "done", "0", "done", "0", "done waited", "done", "done")
"""All but the tests and the box, with nothing found that makes another job pay."""
COLD_WELL, WARM_WELL = ("done", "0", "0", "1"), ("done", "0", "1")
PROVED = (*DONE, *COLD_WELL, *WARM_WELL, "done", "1")
"""Both tests of the day passed, the box closed, and the pump's fault told."""


def outcomes(desk: dk.Desk) -> list[tuple[str, str]]:
    """How the tests came out that were made and stand."""
    return [(p.test, p.outcome) for p in desk.entries("proof-made")]


def reading(desk: dk.Desk, hours: float) -> None:
    """Read her engine hours."""
    with Record.open(desk.path) as record:
        record.append(e.HoursEntry(at=desk.clock(), engine_hours=hours), boat=dk.BOAT)


def closed(desk: dk.Desk) -> bool:
    """Whether the case is closed."""
    with Record.open(desk.path) as record:
        return record.case_named(desk.case).closed


def test_a_test_asks_its_signs_and_then_the_rest(desk: dk.Desk) -> None:
    """Each sign in the state of the test, then whether all passed; what is seen goes into the case as any answer does."""
    screen = desk.work(*DONE, *COLD_WELL, "q")
    signs = [(q.about, q.state) for q in screen.of("question") if q.kind == "symptom"][2:]
    assert signs == [("pump-worn-seen@cold-stopped", "cold-stopped"), ("stream-seen@cold-stopped", "cold-stopped")]
    assert screen.asked[-1] == "Did it pass? It passes when: Dry."
    (made,) = desk.entries("proof-made")
    assert (made.test, made.jobs, made.outcome, made.why) == (dk.COLD, ("swap-pump",), "passed", None)
    last = [o.observation for o in desk.entries("observed")][-2:]
    assert [(o.symptom, o.grade, o.state) for o in last] == [("pump-worn-seen", "none", "cold-stopped"),
                                                              ("stream-seen", "none", "cold-stopped")]
    assert screen.tasks[-1] == "proof:3:warm:1"


def test_the_box_is_closed_when_the_tests_are_made(desk: dk.Desk) -> None:
    """What stays open for the tests is put back after them; then what it was is asked, and the end tells which test is owed."""
    screen = desk.work(*PROVED)
    assert screen.tasks[-3:] == ["proof:0:cold:1", "proof:3:warm:1", "put back:box-open"]
    ((standing, owed),) = screen.of("standing")
    assert standing.left_to_do == ()
    assert [(o.task.do, o.from_hours, o.ripe) for o in owed] == [(dk.LATE, pytest.approx(1205.0, abs=0.1), False)]
    assert desk.entries("assessed")[-1].case.observations[-1].symptom == "stream-seen"
    assert [found.faults for found in desk.entries("found")] == [("pump-worn",)]


def test_a_sign_that_is_worse_fails_the_test(desk: dk.Desk) -> None:
    """It fails by itself, in the words of what was seen; the case is judged anew and kept, and the test stands."""
    before = len(desk.entries("assessed"))
    screen = desk.work(*DONE, "done", "1", "0", "q")
    assert outcomes(desk) == [(dk.COLD, "failed")]
    (made,) = desk.entries("proof-made")
    assert made.why == "pump worn seen: some"
    assert "FAILED, saved: pump worn seen: some." in screen.said
    assert len(desk.entries("assessed")) == before + 1
    assert [len(screen.of(kind)) for kind in ("now", "next_looks")] == [1, 1]
    assert screen.of("now")[0][0].all_probabilities["pump-worn"] > 0.5
    assert f"The case stays open. diagnose resume {desk.case} looks further" in screen.text
    assert screen.tasks[-1] == "proof:0:cold:1"
    assert [t.do for t in desk.standing.failed] == [dk.COLD]


def test_a_sign_within_what_is_allowed_does_not_fail_it(desk: dk.Desk) -> None:
    """A little in the stream is allowed at the cold test; much is not."""
    desk.work(*DONE, "done", "0", "1", "1", "q")
    assert outcomes(desk) == [(dk.COLD, "passed")]
    desk.work(f"redo {desk.number('proof:0:cold:1')}", "done", "0", "2", "q")
    assert outcomes(desk) == [(dk.COLD, "failed")]


def test_made_again_a_failed_test_asks_anew(desk: dk.Desk) -> None:
    """What was seen at the failed one does not count for the next."""
    desk.work(*DONE, "done", "1", "0", "q")
    screen = desk.work(*COLD_WELL, "q")
    assert screen.asked[:2] == ["pump-worn-seen", "stream-seen"]
    assert outcomes(desk) == [(dk.COLD, "failed"), (dk.COLD, "passed")]
    assert desk.standing.failed == ()


def test_a_test_to_be_made_again_asks_anew(desk: dk.Desk) -> None:
    """`redo` of a test takes back how it came out and that it was begun; what was seen then stays in the case."""
    desk.work(*DONE, *COLD_WELL, "q")
    seen = len(desk.entries("observed"))
    screen = desk.work(f"redo {desk.number('proof:0:cold:1')}", "done", "0", "0", "1", "q")
    assert screen.asked[:2] == ["pump-worn-seen", "stream-seen"]
    assert outcomes(desk) == [(dk.COLD, "passed")]
    assert len(desk.entries("observed")) == seen + 2


def test_what_was_seen_before_a_test_began_does_not_count(desk: dk.Desk) -> None:
    """Begun and left in the middle, it goes on with the sign that is left; a sign passed over leaves it to the person."""
    screen = desk.work(*DONE, "done", "x", "q")
    assert screen.said.count(screen.said[-1]) == 1
    assert outcomes(desk) == []
    screen = desk.work("done", "u", "not at all", "3", "q")
    assert screen.asked == ["stream-seen", "stream-seen", "Did it pass? It passes when: Dry."]
    assert [(p.symptom, p.why) for p in desk.entries("passed-over")] == [("pump-worn-seen", "cannot-see"), ("stream-seen", "not-sure")]
    assert outcomes(desk) == [(dk.COLD, "not-made")]


@pytest.mark.parametrize(("line", "why"), [("f a drop at the joint", "a drop at the joint"), ("f", "as seen")])
def test_a_test_can_be_failed_in_words(line: str, why: str, desk: dk.Desk) -> None:
    """Its signs are asked all the same: they say what it was."""
    screen = desk.work(*DONE, line, "x", "0", "q")
    assert screen.asked[-2:] == ["pump-worn-seen", "stream-seen"]
    assert [(p.outcome, p.why) for p in desk.entries("proof-made")] == [("failed", why)]
    assert f"FAILED, saved: {why}." in screen.said


@pytest.mark.parametrize(("answer", "outcome", "why"), [
    ("1", "passed", None), ("2", "failed", "Wet."), ("3", "not-made", "it could not be told")])
def test_the_person_says_the_rest(answer: str, outcome: str, why: str | None, desk: dk.Desk) -> None:
    """Junk is asked again; what fails says how it is known."""
    screen = desk.work(*DONE, "done", "0", "0", "", "4", answer, "q")
    assert screen.text.count("Type 1, 2, 3; b back; q leaves.") == 2
    assert [(p.outcome, p.why) for p in desk.entries("proof-made")] == [(outcome, why)]


def test_left_at_the_last_question_of_a_test(desk: dk.Desk) -> None:
    """The exit status is that of any leaving, the answers are there, and only the last question is asked again."""
    screen = desk.work(*DONE, "done", "0", "0", "q")
    assert screen.said[-1].startswith("Saved.")
    assert desk.work("done", "1", "q").asked == ["Did it pass? It passes when: Dry."]


def test_b_in_a_test_takes_back_its_last_sign(desk: dk.Desk) -> None:
    """At the last question, then at the test itself."""
    screen = desk.work(*DONE, "done", "0", "2", "b", "done", "1", "1", "q")
    assert outcomes(desk) == [(dk.COLD, "failed")], "the stream was much, and that failed it before it was taken back"
    screen = desk.work("b", "b", "done", "1", "1", "q")
    assert screen.asked == ["stream-seen", "Did it pass? It passes when: Dry."]
    assert outcomes(desk) == [(dk.COLD, "passed")]


def test_what_could_not_be_made_comes_again_when_the_tests_are_taken_up(desk: dk.Desk) -> None:
    """Put off, it is not asked again in the same sitting, and does not hold up the rest; `prove` asks it again, after the others."""
    screen = desk.work(*DONE, "x no steady hand", *WARM_WELL, "done", "1")
    assert screen.tasks.count("proof:0:cold:1") == 1
    assert outcomes(desk) == [(dk.COLD, "not-made"), (dk.WARM, "passed")]
    assert [t.do for t in desk.standing.unproved] == [dk.COLD, dk.LATE]
    assert desk.work().tasks == []
    screen = desk.work("x still none", tests_only=True)
    assert screen.tasks == ["proof:0:cold:1"]
    reading(desk, 1200)
    desk.clock.later(days=3)
    reading(desk, 1206)
    assert desk.work("done", "1", *COLD_WELL, tests_only=True).tasks == ["proof:5:after-hours:1", "proof:0:cold:1"]
    assert desk.standing.unproved == ()


def test_the_later_test_waits_for_its_hours(desk: dk.Desk) -> None:
    """Five hours on by the meter: before that there is nothing to prove today, and the end says from when."""
    desk.work(*PROVED)
    reading(desk, 1200)
    desk.clock.later(days=3)
    reading(desk, 1204.5)
    screen = desk.work(tests_only=True)
    assert screen.tasks == []
    ((_, (owed,)),) = screen.of("standing")
    assert owed.from_hours == pytest.approx(1205.0, abs=0.1)
    reading(desk, 1205.5)
    screen = desk.work("done", "1", tests_only=True)
    assert screen.tasks == ["proof:5:after-hours:1"]
    assert screen.of("standing")[0][1] == ()
    assert desk.standing.unproved == ()


def test_a_late_test_that_fails_opens_a_closed_case_again(desk: dk.Desk) -> None:
    """Closed without its proof; five hours on it is wet: the case goes on, with the reason."""
    desk.work(*PROVED)
    reading(desk, 1200)
    with Record.open(desk.path) as record:
        record.append(e.Closed(at=desk.clock(), how="sold", unproved="no time"), boat=dk.BOAT, case=desk.case)
    desk.clock.later(days=3)
    reading(desk, 1206)
    assert closed(desk)
    screen = desk.work("f wet again", tests_only=True, jobs=())
    assert not closed(desk)
    (again,) = desk.entries("reopened")
    assert again.why == f"a test failed: {dk.LATE}"
    assert screen.of("next_looks")
    assert desk.work("done", "1", tests_only=True).tasks == ["proof:5:after-hours:1"]


def test_a_closed_case_stays_closed_where_the_late_test_passes(desk: dk.Desk) -> None:
    """There is nothing to open it for."""
    desk.work(*PROVED)
    reading(desk, 1200)
    with Record.open(desk.path) as record:
        record.append(e.Closed(at=desk.clock(), how="sold", unproved="no time"), boat=dk.BOAT, case=desk.case)
    desk.clock.later(days=3)
    reading(desk, 1206)
    desk.work("done", "1", tests_only=True)
    assert closed(desk)
    assert desk.standing.unproved == ()


def test_prove_names_the_work_that_is_left_first(desk: dk.Desk) -> None:
    """Where something is not ticked off, that comes before any test."""
    desk.work(*DONE[:-1], "q")
    screen = desk.work("done", "q", tests_only=True)
    assert screen.tasks == ["put back:cock-shut", "proof:0:cold:1"]  # the box is shut when all was looked at through it
    assert screen.asked == []
    assert screen.said[-1] == f"Saved. diagnose prove {desk.case} goes on."


def test_work_after_a_test_asks_for_it_anew(desk: dk.Desk) -> None:
    """A job that comes in after a test passed: its signs of then count no more, nor the test."""
    desk.work(*DONE, *COLD_WELL, "done", "0", "q")
    screen = desk.work("add renew-belt", "q")
    assert "proof:0:cold:1" not in desk.standing.made
    assert screen.tasks[-1] not in ("proof:0:cold:1", "proof:3:warm:1")
    lines = ("done",) * len([t for t in desk.standing.left_to_do if t.id != "put back:box-open"])
    screen = desk.work(*lines, "1", "done", "0", "0", "1", "done", "q")
    assert screen.asked[-4:] == ["pump-worn-seen", "stream-seen", "Did it pass? It passes when: Dry.", "stream-seen"]


def test_the_event_of_the_work_counts_when_a_test_fails(tmp_path: Path, small: Book) -> None:
    """The stream is poor after the pump was worked on: air is likelier than for the same stream with no work done, and its job can
    be put into the plan. The worn pump, that was cured, is not."""
    told = [*({"symptom": o.symptom, "grade": o.grade, "state": "cold-stopped"} for o in dk.case().observations),
            {"symptom": "stream-seen", "grade": "some", "state": "idle"}]
    unworked = sb.case_of(*told, boat={"name": dk.BOAT, "engine_hours": 1200})
    desk = dk.Desk(tmp_path / "r.db", dk.kept(tmp_path / "r.db", small, dk.case()), small)
    screen = desk.work(*DONE, *COLD_WELL, "done", "1", "q")
    ((found, _),) = screen.of("now")
    without = assess(unworked, small).all_probabilities
    assert found.all_probabilities["air-left"] > 1.5 * without["air-left"]
    assert found.all_probabilities["pump-worn"] < 0.2 < without["pump-worn"]
    assert "In the plan now: bleed." in desk.work("add bleed", "q").text


def test_work_on_signs_makes_history_only_of_them(desk: dk.Desk) -> None:
    """What the pump showed before it was changed is of before; what the belt showed then is of now; a sign seen since is of now."""
    desk.work(*DONE, "done", "0", "0", "1", "q")
    with Record.open(desk.path) as record:
        folded = case_of(record, desk.case)
    told = [(o.symptom, o.grade, o.epoch) for o in folded.observations]
    assert told[:2] == [("pump-worn-seen", "some", "before"), ("belt-aged-seen", "none", "now")]
    assert ("pump-worn-seen", "none", "now") in told
    assert [event.event for event in folded.events] == ["pump-work"]


def test_moments_of_one_session_never_fall(desk: dk.Desk) -> None:
    """A clock that is set back between two lines moves nothing back: what was said later counts as later."""
    desk.work("1", "done", "q")
    desk.clock.now = datetime(2020, 1, 1, tzinfo=timezone.utc)
    desk.work("done", "b", "q")
    moments = [s.entry.at for s in desk.log]
    assert moments == sorted(moments)
    assert list(desk.standing.ticked) == ["set-up:box-open"]


def test_nothing_is_proved_of_a_case_without_work(desk: dk.Desk) -> None:
    """It says how it is planned."""
    with pytest.raises(InputError, match="no work was planned") as caught:
        desk.work(tests_only=True)
    assert f"diagnose work {desk.case}" in str(caught.value)


def test_a_late_test_waits_for_the_clock_where_nobody_reads_her_hours(desk: dk.Desk) -> None:
    """Five hours on cannot be before five hours have gone by; then whether she ran them is for the person to say."""
    with Record.open(desk.path) as record:
        (first,) = [s.id for s in record.entries(boat=dk.BOAT, kinds=("hours",))]
        record.append(e.TakenBack(at=desk.clock(), entry=first), boat=dk.BOAT)
    screen = desk.work(*PROVED)
    ((_, (owed,)),) = screen.of("standing")
    done = max(work.at for work in desk.entries("work-done"))
    assert (owed.from_hours, owed.from_day, owed.ripe) == (None, done + timedelta(hours=5), False)
    desk.clock.later(hours=6)
    assert desk.work("done", "1", tests_only=True).tasks == ["proof:5:after-hours:1"]
    assert desk.standing.unproved == ()


def due_tests(desk: dk.Desk) -> list[tuple[str, bool]]:
    """The tests among what is due, and whether each is owed at a departure."""
    with Record.open(desk.path) as record:
        found = with_tests(due(record, dk.BOAT, desk.book, now=desk.clock()), record, desk.book)
    return [(item.title.removeprefix("Test: "), item.at_departure) for item in found.items if item.kind == "test"]


def test_tests_are_due_when_only_the_box_is_left_to_shut(desk: dk.Desk) -> None:
    """The work is done and the box stands open for the tests: a test that failed is owed, and so are the others. Before, none is."""
    desk.work(*DONE[:-1], "q")
    assert due_tests(desk) == []
    desk.work("done", "f it drips", "x", "0", "q")
    assert due_tests(desk) == [(dk.COLD, True), (dk.WARM, True), (dk.LATE, False)]


def test_of_a_case_closed_unproved_only_what_was_to_come_later_is_due(desk: dk.Desk) -> None:
    """Its reason stands for the tests of the day; the look some hours on comes round all the same."""
    desk.work(*DONE, "q")
    with Record.open(desk.path) as record:
        record.append(e.Closed(at=desk.clock(), how="left", unproved="no tester aboard"), boat=dk.BOAT, case=desk.case)
    assert due_tests(desk) == [(dk.LATE, False)]


def test_a_test_passed_over_with_its_reason_is_not_due_of_a_closed_case(desk: dk.Desk) -> None:
    """The late look was put off for good, and it was said why."""
    desk.work(*PROVED)
    reading(desk, 1200)
    desk.clock.later(days=3)
    reading(desk, 1206)
    desk.work("x she is sold", tests_only=True)
    with Record.open(desk.path) as record:
        record.append(e.Closed(at=desk.clock(), how="sold", unproved="sold"), boat=dk.BOAT, case=desk.case)
    assert desk.entries("proof-made")[-1].test == dk.LATE
    assert due_tests(desk) == []


def test_a_failure_told_in_words_is_kept_before_anything_is_asked(desk: dk.Desk) -> None:
    """Left at the first of its signs, it has failed all the same."""
    desk.work(*DONE, "f a drop", "q")
    assert [(p.outcome, p.why) for p in desk.entries("proof-made")] == [("failed", "a drop")]


def test_a_failed_test_says_whether_the_case_was_closed(desk: dk.Desk) -> None:
    """An open case stays open; a closed one is opened again."""
    screen = desk.work(*DONE, "f", "x", "0", "q")
    assert any(line.startswith("The case stays open.") for line in screen.said)
    with Record.open(desk.path) as record:
        record.append(e.Closed(at=desk.clock(), how="left", unproved="no time"), boat=dk.BOAT, case=desk.case)
    screen = desk.work("f", "x", "0", "q", tests_only=True)
    assert any(line.startswith("The case is opened again.") for line in screen.said)
