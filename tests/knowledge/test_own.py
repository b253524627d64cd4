"""A boat's own file: read strictly, held against the book, the later item over the earlier, and a book made with it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import smallbook as sb
from hypothesis import given
from hypothesis import strategies as st
from work import workkit as wk

from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import Minutes
from diagnose.knowledge.lists import Words
from diagnose.knowledge.load import load_rules
from diagnose.knowledge.own import (
    Own,
    OwnMinutes,
    OwnStep,
    item_of,
    learned_in,
    learned_of,
    load_own,
    own_minutes_of,
    own_of,
    own_problems,
    own_schema,
    plain_of,
    with_own,
)
from diagnose.knowledge.text import parse
from diagnose.knowledge.worksteps import FIRST_TIME, work_problems
from diagnose.work.ground import full_minutes, own_minutes

BOOK = wk.book()
HEAD = "schema: 1\nboat: Brindle\nlearned:\n"


def own(*items: dict[str, object]) -> Own:
    """A file with these items."""
    return Own.model_validate({"schema": 1, "boat": "Brindle", "learned": list(items)})


def on_step(name: str = "pump-out", job: str = "swap-pump", **says: object) -> dict[str, object]:
    """An item of a step."""
    return {"job": job, "step": name, **says}


# ------------------------------------------------------------------ reading


def test_each_kind_of_item_is_read(tmp_path: Path) -> None:
    """A step, a set-up and a part are told apart by their key; when and who come with them."""
    path = tmp_path / "own.yaml"
    path.write_text(HEAD + "  - {job: swap-pump, step: pump-out, minutes: {skilled: 30}, hands: 2, tools: [crowfoot]}\n"
                    "  - {setup: cover-off, minutes: 20, restore_minutes: 0, access: through the locker}\n"
                    '  - {part: pump, is: the one with the oval port, "on": 2026-05-03, by: Mia Thorn}\n', encoding="utf-8")
    found = load_own(path, BOOK)
    assert [type(i).__name__ for i in found.learned] == ["OwnStep", "OwnSetup", "OwnPart"]
    assert found.learned[0].said == {"minutes": OwnMinutes(skilled=30), "hands": 2, "tools": ("crowfoot",)}
    assert found.learned[1].said == {"minutes": 20, "restore_minutes": 0, "access": "through the locker"}
    assert (found.learned[2].said, str(found.learned[2].on), found.learned[2].by) == ({"is_": "the one with the oval port"}, "2026-05-03",
                                                                                     "Mia Thorn")


def test_a_file_without_items_is_a_file() -> None:
    """A boat of which nothing was learned yet."""
    assert own_of(parse("schema: 1\nboat: Brindle\n", "f"), BOOK).learned == ()


@pytest.mark.parametrize(("text", "line", "what", "right"), [
    ("schema: 2\nboat: B\n", 1, "Input should be 1", ""),
    ("schema: 1\n", 1, "key 'boat' is missing", ""),
    ("schema: 1\nboat: B\nlearnt: []\n", 3, "key 'learnt' is not known here", "learned"),
    ("- a\n", 1, "is not a map", "own file"),
    ("schema: 1\nboat: B\nlearned: 5\n", 3, "valid tuple", ""),
    (HEAD + "  - part: pump\n    note: x\n  - setup: cover-off\n    restore_minuts: 3\n", 7, "key 'restore_minuts'", "restore_minutes"),
    (HEAD + "  - {by: Mia}\n", 4, "is neither of a step, nor of a set-up, nor of a part", "setup"),
    (HEAD + "  - just words\n", 4, "is neither of a step", "job and step"),
    (HEAD + "  - job: swap-pump\n    note: x\n", 4, "key 'step' is missing", ""),
    (HEAD + "  - part: pump\n    by: Mia\n", 4, "says nothing; it may say is, note", ""),
    (HEAD + "  - {setup: cover-off, minutes: 0}\n", 4, "greater than 0", ""),
    (HEAD + "  - {job: swap-pump, step: clean, minutes: {}}\n", 4, "skilled, first_time, or both", ""),
    (HEAD + "  - job: swap-pump\n    step: clean\n    minutes: {skilled: 9, first_time: 8}\n", 6, "no less than a practised hand", ""),
    (HEAD + "  - {job: swap-pump, step: clean, hands: 3}\n", 4, "1 or 2", ""),
    (HEAD + "  - {part: pump, step: clean, note: x}\n", 4, "key 'part' is not known here", ""),
    (HEAD + "  - part: pump\n    note: [\n", 6, "well-formed", ""),
    (HEAD + "  - {part: pump, note: x, on: 2026-05-03}\n", 4, "is read as true or false", "quotes"),
])
def test_what_is_wrong_is_named_with_its_line(text: str, line: int, what: str, right: str, tmp_path: Path) -> None:
    """The file, the line, what is wrong and what would be right, of the kind that the item is."""
    path = tmp_path / "own.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        load_own(path)
    assert error.value.where == f"{path}, line {line}"
    assert what in error.value.what
    assert right in error.value.right


@pytest.mark.parametrize(("item", "key", "what", "right"), [
    (on_step(job="swap-pumps", note="x"), "job", "job 'swap-pumps' is not in the book", "swap-pump"),
    (on_step("pump-ou", note="x"), "step", "'swap-pump' has no step 'pump-ou'", "pump-out"),
    (on_step("zzzz", note="x"), "step", "'swap-pump' has no step 'zzzz'", "pump-out, clean, pump-in"),
    (on_step("whole", "paint", note="x"), "step", "'paint' has no step 'whole'", "set-ups and parts"),
    ({"setup": "cover-of", "minutes": 3}, "setup", "set-up 'cover-of' is not in the book", "cover-off"),
    ({"part": "pumps", "is": "x"}, "part", "part 'pumps' is not in the book", "pump"),
])
def test_what_the_book_does_not_know_is_refused(item: dict[str, object], key: str, what: str, right: str, tmp_path: Path) -> None:
    """With the nearest name, at its line where there is a file, and by its place in the list where there is none."""
    good = {"part": "pump", "note": "x"}
    (problem,) = own_problems(own(good, item), BOOK)
    assert (problem.item, problem.key, problem.what) == (1, key, what)
    assert right in problem.right
    path = tmp_path / "own.yaml"
    lines = [f"    {k}: {json.dumps(v)}" for k, v in item.items()]
    path.write_text(HEAD + "  - {part: pump, note: x}\n  -\n" + "\n".join(lines) + "\n", encoding="utf-8")
    with pytest.raises(InputError) as error:
        load_own(path, BOOK)
    assert (error.value.what, error.value.where) == (what, f"{path}, line {6 + list(item).index(key)}")
    assert len(load_own(path).learned) == 2
    with pytest.raises(InputError, match=r"is not in the book|has no step"):
        with_own(BOOK, own(good, item))


def test_a_new_name_of_a_job_is_followed_and_a_retired_one_let_be() -> None:
    """What was learned under an old id counts for the job as it is called now; of a retired job nothing counts, and nothing is wrong."""
    renamed = wk.book(jobs=[{**j, "was": ["old-pump"]} if j["id"] == "swap-pump" else j for j in wk.JOBS])
    told = own(on_step(job="old-pump", note="a"), on_step(access="b"))
    assert list(learned_of(told, renamed).steps) == [("swap-pump", "pump-out")]
    assert learned_of(told, renamed).steps["swap-pump", "pump-out"].said == {"note": "a", "access": "b"}
    retired = wk.book(jobs=[{**j, "status": "retired"} if j["id"] == "swap-pump" else j for j in wk.JOBS])
    assert list(own_problems(own(on_step(note="a")), retired)) == []
    assert with_own(retired, own(on_step(note="a"))).jobs == retired.jobs


# ------------------------------------------------------------------ what counts


def test_the_later_item_counts_and_says_the_rest_as_before() -> None:
    """Field by field: what the later does not speak of stays; the last who told is named."""
    told = own(on_step(note="old", access="by the locker", by="A", on="2026-01-01"), on_step(note="new", by="B", on="2026-02-02"),
               {"part": "pump", "is": "oval"}, {"part": "pump", "is": "round", "note": "n"}, {"setup": "cover-off", "minutes": 9},
               {"setup": "cover-off", "restore_minutes": 4})
    found = learned_of(told, BOOK)
    step = found.steps["swap-pump", "pump-out"]
    assert (step.note, step.access, step.by, str(step.on)) == ("new", "by the locker", "B", "2026-02-02")
    assert found.parts["pump"].said == {"is_": "round", "note": "n"}
    assert found.setups["cover-off"].said == {"minutes": 9, "restore_minutes": 4}


@pytest.mark.parametrize(("first", "then", "counts"), [
    ({"skilled": 20}, {"first_time": 50}, {"skilled": 20, "first_time": 50}), ({"skilled": 20}, {"skilled": 25}, {"skilled": 25}),
    ({"skilled": 20, "first_time": 30}, {"skilled": 45}, {"skilled": 45}),
    ({"skilled": 20, "first_time": 30}, {"first_time": 10}, {"first_time": 10}),
])
def test_minutes_of_the_two_hands_are_kept_as_far_as_they_go_together(first: dict[str, float], then: dict[str, float],
                                                                      counts: dict[str, float]) -> None:
    """The later of each hand; where the later leaves the other impossible, that one is reckoned anew."""
    step = learned_of(own(on_step(minutes=first), on_step(minutes=then)), BOOK).steps["swap-pump", "pump-out"]
    assert step.minutes == OwnMinutes.model_validate(counts)


@pytest.mark.parametrize(("told", "both"), [({"skilled": 25}, (25, 75)), ({"first_time": 15}, (5, 15)),
                                            ({"skilled": 12, "first_time": 13}, (12, 13))])
def test_the_hand_that_was_not_told_of_is_in_proportion(told: dict[str, float], both: tuple[float, float]) -> None:
    """The book says 10 and 30: 25 makes 75, and 15 makes 5."""
    found = own_minutes_of(Minutes(skilled=10, first_time=30), OwnMinutes.model_validate(told))
    assert (found.skilled, found.first_time) == both


@given(st.floats(0.01, 300), st.floats(1, 9), st.floats(0.01, 9000), st.booleans())
def test_a_newer_hand_is_never_reckoned_the_faster(skilled: float, ratio: float, told: float, of_first: bool) -> None:
    """Whatever is told, both hands have minutes, and the newer hand no fewer, to the last digit."""
    found = own_minutes_of(Minutes(skilled=skilled, first_time=max(skilled, skilled * ratio)),
                           OwnMinutes(first_time=told) if of_first else OwnMinutes(skilled=told))
    assert 0 < found.skilled <= found.first_time
    assert (found.first_time if of_first else found.skilled) == told


# ------------------------------------------------------------------ the book of one boat


def test_the_book_has_the_overrides_and_the_original_has_not() -> None:
    """Minutes and hands in place of the book's, tools and the warning of a fastener beside them; the book that was given is unchanged."""
    jobs = [{**j, "steps": [{**s, "holds_two": "The long bolt.", "tools": ["spanner"]} for s in j["steps"]]} for j in wk.JOBS]
    book = wk.book(jobs=jobs)
    before = {n: (j.model_dump_json()) for n, j in book.jobs.items()}, book.words.model_dump_json()
    mine = with_own(book, own(on_step(minutes={"skilled": 30}, hands=2, tools=["crowfoot", "spanner"], holds_two="the stay"),
                              {"setup": "cover-off", "minutes": 20}))
    step = mine.jobs["swap-pump"].steps[0]
    assert (step.minutes, step.hands, step.tools) == (Minutes(skilled=30, first_time=45), 2, ("spanner", "crowfoot"))
    assert step.holds_two == "the stay. The long bolt."
    assert (mine.words.setups["cover-off"].minutes, mine.words.setups["cover-off"].restore_minutes) == (20, 8)
    assert mine.jobs["swap-pump"].steps[1:] == book.jobs["swap-pump"].steps[1:]
    assert mine.jobs_for["pump-worn"][0] is mine.jobs["swap-pump"]
    assert mine.component_of["swap-pump"].jobs[0] is mine.jobs["swap-pump"]
    assert ({n: j.model_dump_json() for n, j in book.jobs.items()}, book.words.model_dump_json()) == before
    assert (plain_of(mine), plain_of(book), learned_in(book).steps) == (book, book, {})
    assert mine.digest == book.digest


def test_the_whole_time_of_a_job_moves_by_what_was_learned() -> None:
    """A step of 10 minutes more and a set-up of 8 more make a job 18 longer for a practised hand; jobs that have neither stay."""
    mine = with_own(BOOK, own(on_step(minutes={"skilled": 30, "first_time": 50}), {"setup": "cover-off", "minutes": 20}))
    was, now = BOOK.jobs["swap-pump"], mine.jobs["swap-pump"]
    assert now.minutes.skilled - was.minutes.skilled == pytest.approx(10 + 8)
    assert now.minutes.first_time - was.minutes.first_time == pytest.approx(20 + FIRST_TIME * 8)
    assert mine.jobs["swap-seal"].minutes.skilled - BOOK.jobs["swap-seal"].minutes.skilled == pytest.approx(8)
    assert mine.jobs["renew-belt"] is BOOK.jobs["renew-belt"]
    assert list(work_problems(mine)) == []


def test_a_job_without_steps_keeps_its_own_work() -> None:
    """Only the way there and back takes longer: the hull is patched in the same time, and she is ashore an hour later."""
    mine = with_own(BOOK, own({"setup": "ashore", "minutes": 180}))
    was, now = BOOK.jobs["patch-hull"], mine.jobs["patch-hull"]
    assert own_minutes(now, mine, "first_time") == pytest.approx(own_minutes(was, BOOK, "first_time"))
    assert full_minutes(now, mine, "first_time") - full_minutes(was, BOOK, "first_time") == pytest.approx(60 * FIRST_TIME)


def test_another_boats_book_is_left_behind() -> None:
    """Made out of a book of one boat, the book of another holds nothing of the first."""
    first = with_own(BOOK, own(on_step(minutes={"skilled": 99})))
    second = with_own(first, own({"part": "pump", "is": "oval"}))
    assert second.jobs == BOOK.jobs
    assert learned_in(second).steps == {}
    assert plain_of(second) is BOOK


def test_any_step_of_the_shipped_book_can_be_told_of() -> None:
    """Twice as long at every step and set-up makes each job consistent still: its time is that of its steps and set-ups."""
    book = load_rules()
    steps = [on_step(s.id, j.id, minutes={"skilled": 2 * s.minutes.skilled}) for j in book.jobs.values() for s in j.steps]
    setups = [{"setup": n, "minutes": 2 * s.minutes, "restore_minutes": 2 * s.restore_minutes} for n, s in book.words.setups.items()]
    mine = with_own(book, own(*steps, *setups))
    assert list(work_problems(mine)) == []
    for name, job in mine.jobs.items():
        if job.steps:
            assert full_minutes(job, mine, "first_time") == pytest.approx(2 * full_minutes(book.jobs[name], book, "first_time"))
            assert job.minutes.first_time == pytest.approx(full_minutes(job, mine, "first_time"))


def test_an_item_can_be_made_of_its_plain_map() -> None:
    """As the command makes it; what does not fit is refused by name."""
    assert item_of(on_step(note="x")) == OwnStep(job="swap-pump", step="pump-out", note="x")
    with pytest.raises(InputError, match="is neither of a step"):
        item_of({"note": "x"})
    with pytest.raises(InputError) as error:
        item_of({"setup": "a", "minutes": float("inf")}, "the locker")
    assert (error.value.where, "minutes" in error.value.what) == ("the locker", True)


def test_the_schema_offers_what_the_book_has() -> None:
    """Jobs, set-ups and parts as choices, in JSON."""
    schema = json.loads(json.dumps(own_schema(BOOK)))
    assert schema["$defs"]["OwnStep"]["properties"]["job"]["enum"] == sorted(BOOK.jobs)
    assert schema["$defs"]["OwnSetup"]["properties"]["setup"]["enum"] == sorted(wk.SETUPS)
    assert schema["$defs"]["OwnPart"]["properties"]["part"]["enum"] == sorted(wk.PARTS)
    assert set(schema["properties"]) == {"schema", "boat", "learned"}


def test_the_words_and_the_components_stay_of_their_types() -> None:
    """The book of a boat is a book like any other, and can be asked all that one is asked."""
    mine = with_own(BOOK, own({"setup": "cover-off", "note": "x"}))
    assert isinstance(mine, Book)
    assert isinstance(mine.words, Words)
    assert mine.words == BOOK.words
    assert mine.words.exposures["coastal"].loses == sb.LOSES
