"""The plan of a boat of which something was learned: it moves by just that, says so, and loses nothing where jobs are done as one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import workkit as wk

from diagnose.knowledge.book import Book
from diagnose.knowledge.own import Own, learned_in, with_own
from diagnose.knowledge.worksteps import FIRST_TIME
from diagnose.show.orderpage import order_page
from diagnose.show.ownpage import own_page
from diagnose.show.planpage import plan_page
from diagnose.show.workpages import ways_page
from diagnose.triage import assess
from diagnose.work.ground import Ground, full_minutes
from diagnose.work.merge import merge, minutes_of
from diagnose.work.opened import candidates
from diagnose.work.orders import from_csv, to_csv
from diagnose.work.plan import plan
from diagnose.work.results import Plan, Task
from diagnose.work.wait import can_wait
from diagnose.work.ways import ways

ORDERING = {"ordering": {"pump": {"lead_days": 9, "variants": ["bore", "hand of turning"]}, "seal": {"variants": ["lip"]}}}
BOOK = wk.book(**ORDERING)
SEEN = {"pump-worn": "some", "seal-worn": "some"}
HOSTILE = "[/b] \x1b[31m=cmd|' /C calc'!A0 \u202e " + "x" * 150 + " {braces} %s <i>"


def on(name: str, **says: Any) -> dict[str, Any]:
    """An item of a step given as job/step, of a set-up or of a part."""
    job, slash, step = name.partition("/")
    head = {"job": job, "step": step} if slash else {"setup": job} if job in wk.SETUPS else {"part": job}
    return {**head, **says}


def mine(book: Book, *items: dict[str, Any]) -> Book:
    """The book with these items learned."""
    return with_own(book, Own.model_validate({"schema": 1, "boat": "Brindle", "learned": list(items)}))


def planned(book: Book, *items: dict[str, Any], **how: Any) -> Plan:
    """The plan of one case, judged with the plain book."""
    given = wk.case(SEEN)
    return plan(assess(given, book), given, mine(book, *items) if items else book, **how)


def task(made: Plan, name: str) -> Task:
    """One task of a plan."""
    return next(t for t in made.tasks if t.id == name)


def flat(text: str) -> str:
    """A page with its line ends and indents gone."""
    return " ".join(text.split())


# ------------------------------------------------------------------ times


@pytest.mark.parametrize(("item", "skilled", "first"), [
    (on("swap-pump/pump-out", minutes={"skilled": 32}), 12, 18),
    (on("swap-pump/pump-out", minutes={"skilled": 15, "first_time": 50}), -5, 20),
    (on("swap-seal/seal-in", minutes={"first_time": 12}), -2, -3),
    (on("cover-off", minutes=20), 8, 8 * FIRST_TIME),
    (on("cock-shut", minutes=5, restore_minutes=0.5), 0.5, 0.5 * FIRST_TIME),
    (on("renew-belt/belt-on", minutes={"skilled": 99}), 0, 0),
])
def test_the_plan_takes_longer_by_just_what_was_learned(item: dict[str, Any], skilled: float, first: float) -> None:
    """For each hand the work of the plan moves by the difference, and not at all for what it has nothing to do with."""
    before, after = planned(BOOK), planned(BOOK, item)
    assert after.jobs == before.jobs
    assert minutes_of(after.tasks, "skilled") - minutes_of(before.tasks, "skilled") == pytest.approx(skilled)
    assert minutes_of(after.tasks, "first_time") - minutes_of(before.tasks, "first_time") == pytest.approx(first)


def test_the_end_of_the_plan_moves_with_it() -> None:
    """What nothing can be done beside makes all of it later by as much, for one who works alone."""
    before, after = planned(BOOK), planned(BOOK, on("cover-off", minutes=20))
    assert after.schedule.minutes - before.schedule.minutes == pytest.approx(8 * FIRST_TIME)
    assert after.schedule.work - before.schedule.work == pytest.approx(8 * FIRST_TIME)


def test_each_answer_counts_what_it_takes_here() -> None:
    """Ways, waiting and the choice count the minutes of this boat; the chances are those of the case."""
    given = wk.case(SEEN)
    judged = assess(given, BOOK)
    book = mine(BOOK, on("swap-pump/pump-out", minutes={"first_time": 330}))
    plain, own = (Ground.of(judged, given, b) for b in (BOOK, book))
    assert full_minutes(book.jobs["swap-pump"], book, "first_time") == full_minutes(BOOK.jobs["swap-pump"], BOOK, "first_time") + 300
    assert ways(own, "pump-worn").lines[0].first_time - ways(plain, "pump-worn").lines[0].first_time == pytest.approx(300)
    now = [can_wait(g, "pump-worn").rows[0] for g in (plain, own)]
    assert now[1].work - now[0].work == pytest.approx(5)  # hours, at one hour of delay for an hour of work now
    chosen = {c.job: c for c in planned(BOOK, on("swap-pump/pump-out", minutes={"first_time": 330})).choice.chosen}
    was = {c.job: c for c in planned(BOOK).choice.chosen}
    assert chosen["swap-pump"].minutes - was["swap-pump"].minutes == pytest.approx(300)
    assert chosen["swap-pump"].needed == was["swap-pump"].needed


# ------------------------------------------------------------------ what is said


def test_a_task_says_what_is_this_boats_own() -> None:
    """How one gets at it, how long it takes here beside the book's figure, hands, tools, and what else was learned."""
    found = task(planned(BOOK, on("swap-pump/pump-out", minutes={"skilled": 32}, access="by the locker", hands=2, tools=["crowfoot"],
                                  note="the lower bolt is short")), "swap-pump/pump-out")
    assert found.own == ("on this boat: access: by the locker; takes a practised hand 32 min (the book says 20); the first time 48 min "
                         "(the book says 30); takes a second pair of hands; wanted too: crowfoot; the lower bolt is short")
    assert (found.hands, found.tools, found.skilled, found.first_time) == (2, ("crowfoot",), 32, 48)


def test_a_setup_says_it_at_its_own_task() -> None:
    """The way there at the set-up, the way back at putting it back."""
    made = planned(BOOK, on("cover-off", minutes=20, restore_minutes=3, access="from below", note="mind the pipe"))
    assert task(made, "set-up:cover-off").own == ("on this boat: access: from below; takes a practised hand 20 min (the book says 12); "
                                                  "mind the pipe")
    assert task(made, "put back:cover-off").own == "on this boat: takes a practised hand 3 min (the book says 8)"
    assert task(made, "set-up:cock-shut").own is None


def test_the_fastener_of_this_boat_comes_first_and_the_books_warning_stays() -> None:
    """Neither is a reason to forget the other."""
    jobs = [{**j, "steps": [{**s, "holds_two": "The long bolt."} for s in j["steps"]]} for j in wk.JOBS]
    made = planned(wk.book(jobs=jobs), on("swap-pump/pump-out", holds_two="lower left: the stay"))
    assert task(made, "swap-pump/pump-out").holds_two == "on this boat: lower left: the stay. The long bolt."
    assert task(made, "swap-pump/pump-in").holds_two == "The long bolt."
    assert task(planned(BOOK, on("swap-pump/pump-out", holds_two="the stay")), "swap-pump/pump-out").holds_two == "on this boat: the stay."


def test_a_known_variant_is_told_and_no_longer_asked() -> None:
    """The line says which one this boat takes and asks nothing; a note alone leaves the question; other parts are as they were."""
    lines = {x.part: x for x in planned(BOOK, on("pump", **{"is": "the one with the oval port", "note": "two left in the shop"}),
                                        on("seal", note="by post")).order.lines}
    assert lines["pump"].notes[:2] == ("on this boat: the one with the oval port", "on this boat: two left in the shop")
    assert lines["pump"].variants == ()
    assert lines["seal"].variants == ("lip",)
    assert "on this boat: by post" in lines["seal"].notes
    before = {x.part: x for x in planned(BOOK).order.lines}
    assert before["pump"].variants == ("bore", "hand of turning")
    assert (lines["pump"].buy, lines["pump"].lead_days) == (before["pump"].buy, before["pump"].lead_days)
    assert lines["gasket"] == before["gasket"]


def test_the_pages_and_the_json_carry_it() -> None:
    """Everything learned is on the plan, the order and the ways; the table and the JSON read back."""
    items = (on("swap-pump/pump-out", access="by the locker", note="turn it left"), on("cover-off", access="from below"),
             on("pump", **{"is": "the oval one"}))
    made = planned(BOOK, *items)
    text = flat(plan_page(made, BOOK, 80).text())
    for said in ("on this boat: access: by the locker; turn it left", "on this boat: access: from below", "on this boat: the oval one"):
        assert said in text
    listed = flat(order_page(made.order, BOOK, made.boat, 80).text())
    assert "on this boat: the oval one" in listed
    assert "hand of turning" not in listed
    assert "hand of turning" in flat(order_page(planned(BOOK).order, BOOK, made.boat, 80).text())
    given = wk.case(SEEN)
    ground = Ground.of(assess(given, BOOK), given, mine(BOOK, *items))
    assert "on this boat: from below; on this boat: by the locker" in flat(ways_page([ways(ground, "pump-worn")], BOOK, 80).text())
    assert Plan.model_validate_json(made.model_dump_json()) == made
    assert from_csv(to_csv(made.order)) == made.order.lines


@pytest.mark.parametrize("width", [60, 120])
def test_hostile_text_is_printed_and_not_obeyed(width: int) -> None:
    """In every place for a text: it stays within the page, and no control character gets out; the table marks a formula."""
    items = (on("swap-pump/pump-out", access=HOSTILE, note=HOSTILE, holds_two=HOSTILE, tools=[HOSTILE]), on("cover-off", note=HOSTILE),
             on("pump", **{"is": HOSTILE, "note": HOSTILE}))
    book, made = mine(BOOK, *items), planned(BOOK, *items)
    given = wk.case(SEEN)
    ground = Ground.of(assess(given, BOOK), given, book)
    pages = [plan_page(made, book, width), order_page(made.order, book, made.boat, width),
             ways_page([ways(ground, "pump-worn")], book, width)]
    pages.append(own_page("Brindle", Path("own.yaml"), learned_in(book), 3, BOOK, width))
    for page in pages:
        assert max(map(len, page.text().splitlines())) <= width
        assert "[/b]" in page.text()
        assert not {"\x1b", "\u202e"} & set(page.text())
    assert from_csv(to_csv(made.order)) == made.order.lines


# ------------------------------------------------------------------ several jobs as one


GUARD = [wk.step("off", 8, takes_off=["guard"]), wk.step("look", 10), wk.step("on", 5, puts_back=["guard"])]
TWO = wk.book(jobs=[wk.job("one", ["pump-worn"], steps=GUARD), wk.job("two", ["seal-worn"], steps=GUARD)])


def steps_of(*items: dict[str, Any]) -> dict[str, Task]:
    """The steps of two like jobs done as one, by id."""
    book = mine(TWO, *items)
    return {t.id: t for t in merge(list(book.jobs.values()), book) if t.kind == "step"}


def test_what_was_learned_in_one_job_counts_for_the_step_they_share() -> None:
    """The steps are one as before: the minutes learned count, not the larger of the book's, and what was learned is said."""
    assert set(steps_of()) == {"one/off", "one/look", "one/on"}
    found = steps_of(on("two/off", minutes={"skilled": 3}, note="it lifts off"), on("one/look", minutes={"skilled": 40}))
    assert set(found) == {"one/off", "one/look", "one/on"}
    assert (found["one/off"].skilled, found["one/look"].skilled, found["one/on"].skilled) == (3, 40, 5)
    assert found["one/off"].own is not None
    assert found["one/off"].own.endswith("it lifts off")
    assert found["one/off"].of == ("one", "two")


def test_what_comes_off_once_keeps_what_was_learned_in_both() -> None:
    """The guard is one thing: both notes, both fasteners, the longer time of those learned, and as many hands as either wants."""
    found = steps_of(on("one/off", minutes={"skilled": 30}, note="the top first", holds_two="the stay", hands=1, tools=["crowfoot"]),
                     on("two/off", minutes={"skilled": 12}, note="mind the wire", holds_two="the clip", hands=2, tools=["mirror"]),
                     )["one/off"]
    assert found.own is not None
    for text in ("the top first", "mind the wire"):
        assert text in found.own
    assert (found.skilled, found.hands, found.tools) == (30, 2, ("crowfoot", "mirror"))
    assert found.holds_two == "on this boat: the stay. on this boat: the clip."


def test_steps_in_the_same_words_that_differ_on_this_boat_are_two() -> None:
    """Looked at by the locker for the one and from below for the other: two places, and neither is lost; told alike, they are one."""
    found = steps_of(on("one/look", access="by the locker"), on("two/look", access="from below"))
    assert {t.own for n, t in found.items() if n.endswith("look")} == {"on this boat: access: by the locker",
                                                                     "on this boat: access: from below"}
    assert set(found) == {"one/off", "one/look", "two/look", "one/on"}
    alike = steps_of(on("one/look", access="by the locker"), on("two/look", access="by the locker"))
    assert set(alike) == {"one/off", "one/look", "one/on"}
    both = steps_of(on("one/look", access="by the locker"), on("two/look", note="oil it"))
    assert both["one/look"].own == "on this boat: access: by the locker; oil it"


def test_two_that_differ_are_not_joined_by_way_of_a_third() -> None:
    """Of three like steps the one of which nothing was learned goes with one of the others, and those stay two."""
    look = [wk.step("look", 10)]
    book = wk.book(jobs=[wk.job(n, [f], steps=look) for n, f in (("one", "pump-worn"), ("two", "seal-worn"), ("three", "cover-worn"))])
    own = mine(book, on("one/look", note="left"), on("two/look", note="right"))
    found = [t for t in merge(list(own.jobs.values()), own) if t.kind == "step"]
    assert len(found) == 2
    assert sorted(str(t.own) for t in found) == ["on this boat: left", "on this boat: right"]
    assert sorted(s for t in found for s in t.steps) == [("one", "look"), ("three", "look"), ("two", "look")]


def test_a_shorter_time_learned_makes_no_other_job_gain() -> None:
    """What lies open costs no less than nothing more, though its like in the plan is reckoned shorter with it."""
    book = wk.book(jobs=[wk.job("one", ["pump-worn"], setups=["cover-off"], steps=[wk.step("look", 60)]),
                         wk.job("two", ["seal-worn"], setups=["cover-off"], steps=[wk.step("look", 60)])])
    own = mine(book, on("two/look", minutes={"skilled": 1}))
    given = wk.case({"pump-worn": "some"})
    ground = Ground.of(assess(given, book), given, own)
    (found,) = candidates(ground, [own.jobs["one"]])
    assert (found.job.id, found.open_minutes) == ("two", 0)
