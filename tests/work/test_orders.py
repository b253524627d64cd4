"""The order list: everything used is on it, counts as they should be, what is aboard, and a table that reads back as it was."""

from __future__ import annotations

import csv
import io

import pytest
import workkit as wk
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from diagnose.case import Boat
from diagnose.errors import InputError
from diagnose.knowledge.jobs import Part
from diagnose.triage import assess
from diagnose.work.ground import Ground
from diagnose.work.merge import merge
from diagnose.work.orders import COLUMNS, from_csv, order_list, to_csv
from diagnose.work.results import OrderLine, OrderList

ORDERING = {"ordering": {"pump": {"lead_days": 9, "variants": ["bore", "hand of turning"]}, "seal": {"lead_days": 1}}}
BOOK = wk.book(**ORDERING)


def lines(ground: Ground, *jobs: str, extras: tuple[str, ...] = ()) -> dict[str, OrderLine]:
    """By part, the order of these jobs."""
    return {line.part: line for line in listed(ground, *jobs, extras=extras).lines}


def listed(ground: Ground, *jobs: str, extras: tuple[str, ...] = ()) -> OrderList:
    """The order of these jobs."""
    done = [BOOK.jobs[j] for j in jobs]
    return order_list(ground, done, merge(done, BOOK), [BOOK.jobs[j] for j in extras])


def test_counts_add_up_and_setups_bring_their_own() -> None:
    """The seal's two gaskets are its own; the pump's job orders none, so the one of refitting the cover is added by the set-up alone."""
    ground = wk.ground({}, BOOK)
    assert lines(ground, "swap-pump")["gasket"].count == 1
    assert lines(ground, "swap-pump")["pump"].count == 1
    assert lines(ground, "swap-pump", "swap-seal")["gasket"].count == 2
    assert set(lines(ground, "swap-pump", "swap-seal")) == {"pump", "grease", "gasket", "seal"}


def test_a_part_of_two_jobs_is_bought_for_both() -> None:
    """Each job lists one belt and fits it: two; a belt that a shared step fits for both is one."""
    off, on = wk.step("off", 5, takes_off=["belt"]), wk.step("on", 5, renews={"belt": "belt"})
    other = wk.step("on-other", 5, uses=["belt"])
    one = wk.job("one", ["pump-worn"], steps=[off, on], order=["belt"])
    shared = wk.book(jobs=[one, wk.job("two", ["seal-worn"], steps=[off, on], order=["belt"])])
    apart = wk.book(jobs=[one, wk.job("two", ["seal-worn"], steps=[other], order=["belt"])])
    for rules, count in ((shared, 1), (apart, 2)):
        jobs = list(rules.jobs.values())
        found = order_list(wk.ground({}, rules), jobs, merge(jobs, rules))
        assert [(x.part, x.count) for x in found.lines] == [("belt", count)]


def test_a_part_of_other_boats_is_left_out_where_it_is_known() -> None:
    """Only on boats with a bottle: listed where she has one or nobody said, left out where she has none. What must be there is for all."""
    job = wk.job("swap", ["pump-worn"], steps=[wk.step("on", 5, uses=["pump"])], order=["pump", {"part": "belt", "need": "usual",
                                                                                "only_on": {"expansion-bottle": True}}])
    rules = wk.book(jobs=[job])
    jobs = list(rules.jobs.values())
    for known, parts in (({}, {"pump", "belt"}), ({"expansion-bottle": True}, {"pump", "belt"}), ({"expansion-bottle": False}, {"pump"})):
        given = wk.case().model_copy(update={"boat": Boat(arrangement=known)})
        found = order_list(Ground.of(assess(given, rules), given, rules), jobs, merge(jobs, rules))
        assert {line.part for line in found.lines} == parts
    with pytest.raises(ValidationError, match="a part that must be there is there on every boat"):
        Part.model_validate({"part": "belt", "only_on": {"expansion-bottle": True}})
    with pytest.raises(AssertionError, match="fact of the boat 'bottle' is not in the book"):
        wk.book(jobs=[wk.job("swap", ["pump-worn"], steps=[wk.step("on", 5)],
                            order=[{"part": "belt", "need": "usual", "only_on": {"bottle": True}}])])


def test_what_is_aboard_is_not_bought_and_what_is_not_holds_the_work_up() -> None:
    """With the pump aboard only the grease and gasket are left, and the first bolt waits for the gasket alone."""
    away, aboard = listed(wk.ground({}, BOOK), "swap-pump"), listed(wk.ground({}, BOOK, spares=["pump"]), "swap-pump")
    assert away.lead_days == 9
    assert aboard.lead_days == 3
    pump = next(x for x in aboard.lines if x.part == "pump")
    assert (pump.aboard, pump.buy, pump.holds_up, pump.variants) == (1, 0, False, ("bore", "hand of turning"))
    assert aboard.confirm == ("which bore",)
    assert next(x for x in away.lines if x.part == "grease").holds_up is False


def test_a_second_one_to_keep_does_not_hold_the_work_up() -> None:
    """Two belts are ordered and one is fitted: with one aboard the work can begin, and one is still to buy."""
    steps = [wk.step("off", 5, takes_off=["belt"]), wk.step("on", 5, renews={"belt": "belt"})]
    rules = wk.book(jobs=[wk.job("renew", ["belt-aged"], steps=steps, order=[{"part": "belt", "count": 2}])])
    jobs = list(rules.jobs.values())
    line = order_list(wk.ground({}, rules, spares=["belt"]), jobs, merge(jobs, rules)).lines[0]
    assert (line.count, line.aboard, line.buy, line.holds_up) == (2, 1, 1, False)
    none = order_list(wk.ground({}, rules), jobs, merge(jobs, rules)).lines[0]
    assert (none.buy, none.holds_up) == (2, True)


def test_extras_are_nice_to_have() -> None:
    """The belt of a job that may be done while it is open is on the list, and holds nothing up."""
    belt = lines(wk.ground({}, BOOK), "swap-pump", extras=("renew-belt",))["belt"]
    assert (belt.need, belt.holds_up, belt.buy) == ("usual", False, 1)


@pytest.mark.parametrize("jobs", [tuple(sorted(BOOK.jobs)), ("swap-pump",), ("swap-seal", "renew-belt")])
def test_every_part_of_every_step_is_listed(jobs: tuple[str, ...]) -> None:
    """What any task uses or fits is on the list, must or nice to have."""
    done = [BOOK.jobs[j] for j in jobs]
    tasks = merge(done, BOOK)
    used = {p for t in tasks for p in (*t.uses, *t.renews.values())}
    assert used <= {x.part for x in order_list(wk.ground({}, BOOK), done, tasks).lines}


# ------------------------------------------------------------------ as a table

TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",), exclude_characters="\x00"), max_size=12)
NUMBERS = st.sampled_from([0.0, 1.0, 2.0, 0.5, 12.0])
LINES = st.builds(
    OrderLine, part=TEXTS, title=TEXTS, system=TEXTS, count=NUMBERS, unit=st.none() | TEXTS.filter(bool),
    need=st.sampled_from(["must", "usual"]), only_when_apart=st.booleans(), aboard=st.none() | NUMBERS, buy=NUMBERS,
    holds_up=st.booleans(), lead_days=NUMBERS, variants=st.lists(TEXTS.filter(bool), max_size=3).map(tuple),
    notes=st.lists(TEXTS.filter(bool), max_size=3).map(tuple), jobs=st.lists(TEXTS.filter(bool), max_size=2).map(tuple))


@given(st.lists(LINES, max_size=4))
def test_the_table_reads_back_as_it_was(found: list[OrderLine]) -> None:
    """Any texts, with bars, quotes, line ends and signs of formulas in them, come back as they were."""
    order = OrderList(lines=tuple(found), confirm=(), lead_days=0.0)
    assert from_csv(to_csv(order)) == order.lines


def test_no_cell_is_a_formula() -> None:
    """A title that a spreadsheet would run is marked, and the mark is taken off again."""
    line = OrderLine(part="p", title="=1+1", system="@s", count=1.0, unit=None, need="must", only_when_apart=False, aboard=0.0, buy=1.0,
                     holds_up=True, lead_days=3.0, variants=("-a",), notes=("+b", "| c"), jobs=("'d",))
    text = to_csv(OrderList(lines=(line,), confirm=(), lead_days=3.0))
    header, row = csv.reader(io.StringIO(text, newline=""))
    assert tuple(header) == COLUMNS
    assert not [cell for cell in row if cell.startswith(("=", "+", "-", "@"))]
    assert from_csv(text) == (line,)


def test_another_table_is_refused() -> None:
    """Other columns, and a count that is no number, are errors that say what would be right."""
    with pytest.raises(InputError, match="order list"):
        from_csv("a,b\r\n1,2\r\n")
    good = to_csv(listed(wk.ground({}, BOOK), "swap-pump"))
    with pytest.raises(InputError, match="line 2"):
        from_csv(good.replace(",1,,must", ",many,,must", 1))
