"""The plan as a whole and its pages: everything is said, in any width, and hostile titles are printed and not obeyed."""

from __future__ import annotations

import json
from typing import Any

import pytest
import workkit as wk

from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.show.orderpage import order_page
from diagnose.show.planpage import clock, plan_page
from diagnose.show.workpages import also_page, wait_page, ways_page
from diagnose.triage import assess
from diagnose.work.plan import plan
from diagnose.work.results import Plan
from diagnose.work.wait import can_wait
from diagnose.work.ways import ways

BOOK = wk.book()
SEEN = {"pump-worn": "some", "seal-worn": "some", "paint-flaking": "some"}
HOSTILE = "[/b] \x1b[31m=cmd|' /C calc'!A0 " + "x" * 150 + " {braces} %s <i>"


def planned(book: Book = BOOK, seen: dict[str, str] | None = None, how: dict[str, Any] | None = None, **more: Any) -> Plan:
    """The plan of a case."""
    given: Case = wk.case(SEEN if seen is None else seen, **more)
    return plan(assess(given, book), given, book, **(how or {}))


def flat(text: str) -> str:
    """A page with its line ends and indents gone."""
    return " ".join(text.split())


def test_the_whole_is_consistent() -> None:
    """Jobs, tasks, schedule, order and totals speak of the same work; the same case gives the same bytes; it can be told in JSON."""
    made = planned()
    assert made.jobs == ("swap-pump", "swap-seal")
    assert {s.task for s in made.schedule.slots} == {t.id for t in made.tasks}
    assert made.saved_minutes == pytest.approx(30 * 1.6)
    assert made.order.lead_days == 3
    totals = {(t.hand, t.hands): t.minutes for t in made.totals if not t.extras}
    assert totals["first_time", 1] == made.schedule.minutes
    assert totals["skilled", 1] <= totals["first_time", 1]
    assert totals["first_time", 2] <= totals["first_time", 1]
    assert made.later_tests == ("after 5 engine hours: Look. Passed when: Dry.",)
    assert made.days == 1
    assert Plan.model_validate_json(made.model_dump_json()) == made
    assert made.model_dump_json() == planned().model_dump_json()


def test_what_comes_off_goes_back() -> None:
    """In the order of the schedule every thing taken off is put back, or comes new, later, and nothing goes back that is on."""
    made = planned()
    off: set[str] = set()
    tasks = {t.id: t for t in made.tasks}
    for slot in made.schedule.slots:
        t = tasks[slot.task]
        assert {*t.puts_back, *t.renews} <= off
        off = (off - {*t.puts_back, *t.renews}) | set(t.takes_off)
    assert off == set()


def test_a_sound_boat_has_an_empty_plan() -> None:
    """Nothing seen, nothing to do, and the page says so."""
    made = planned(seen=dict.fromkeys(wk.FAULTS, "none"))
    assert made.jobs == ()
    assert made.schedule.minutes == 0
    assert "No job pays now" in plan_page(made, BOOK, 80).text()


@pytest.mark.parametrize("width", [60, 80, 100, 120])
def test_everything_is_said_in_any_width(width: int) -> None:
    """No line is wider than the page, every step and part is on it, and so is what is left with its reason."""
    made = planned(how={"hands": 2})
    text = plan_page(made, BOOK, width).text()
    assert max(map(len, text.splitlines())) <= width
    for t in made.tasks:
        assert flat(t.do) in flat(text)
    for line in made.order.lines:
        assert line.title in flat(text)
    for left in made.choice.left:
        assert flat(left.say) in flat(text)
    ground = wk.ground(SEEN, BOOK)
    for other in (order_page(made.order, BOOK, made.boat, width), also_page(made.opened, made.jobs, BOOK, width),
                  wait_page(can_wait(ground, "pump-worn"), width), ways_page([ways(ground, "pump-worn")], BOOK, width)):
        assert max(map(len, other.text().splitlines())) <= width


@pytest.mark.parametrize("width", [60, 120])
def test_hostile_titles_are_printed_and_not_obeyed(width: int) -> None:
    """Marks, escape characters and endless words in titles and steps stay within the page, and no control character gets out."""
    jobs = [{**j, "title": HOSTILE, "steps": [{**s, "do": HOSTILE} for s in j["steps"]]} for j in wk.JOBS]
    rules = wk.book(jobs=jobs, parts=dict.fromkeys(wk.PARTS, HOSTILE))
    made = planned(rules)
    pages = [plan_page(made, rules, width), order_page(made.order, rules, made.boat, width),
             also_page(made.opened, made.jobs, rules, width), ways_page([ways(wk.ground(SEEN, rules), "pump-worn")], rules, width)]
    for page in pages:
        assert max(map(len, page.text().splitlines())) <= width
        assert "\x1b" not in page.text()
        assert "[/b]" in page.text()


def test_a_caution_is_told_in_full_once_and_named_again() -> None:
    """At the step where it applies: the whole text the first time, the title after that."""
    from diagnose.knowledge.lists import Cautions

    one = {"id": "key", "title": "Key out", "text": "Keep it in your pocket.", "why": "turning", "source": "common-practice"}
    made = planned()
    rules = wk.book()
    listed = Cautions.model_validate({"schema": 1, "cautions": [one]})
    told = type(rules)(**{**{f: getattr(rules, f) for f in rules.__dataclass_fields__}, "caution_list": listed})
    warned = made.model_copy(update={"tasks": tuple(t.model_copy(update={"cautions": ("key",)}) for t in made.tasks)})
    text = flat(plan_page(warned, told, 100).text())
    assert text.count("Keep it in your pocket.") == 1
    assert text.count("caution: Key out") == len(made.tasks)


def test_the_clock() -> None:
    """Minutes as hours and minutes."""
    assert [clock(m) for m in (0, 59.6, 60, 125.2)] == ["0:00", "1:00", "1:00", "2:05"]


def test_json_of_the_page_objects() -> None:
    """Every result turns into JSON that reads back."""
    ground = wk.ground(SEEN, BOOK)
    for made in (can_wait(ground, "pump-worn"), ways(ground, "pump-worn"), planned().order, planned().opened):
        assert json.loads(made.model_dump_json())
