"""The job on the printed page: everything of the plan is there, and how far it is done."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from pagereader import Page

from diagnose.assessment import Assessment
from diagnose.case import Case, load_case
from diagnose.commands.doing import bench
from diagnose.doing.follow import Story
from diagnose.doing.standing import Standing, standing_of
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules, shipped
from diagnose.record.store import Record
from diagnose.show.report import particulars_of, report_html, report_markdown
from diagnose.triage import assess
from diagnose.work.plan import plan
from diagnose.work.results import Plan

SHEARED = shipped("cases") / "elbow-and-a-sheared-stud.yaml"


@pytest.fixture(scope="module")
def book() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.fixture(scope="module")
def judged(book: Book) -> tuple[Case, Assessment, Plan]:
    """A shipped case, judged and planned."""
    case = load_case(shipped("cases") / "slow-weep.yaml")
    found = assess(case, book)
    return case, found, plan(found, case, book)


def section(page: Page, name: str) -> str:
    """The text of the section under the heading with this id."""
    return next(e for e in page.all("section") if e.attrs["aria-labelledby"] == name).text


def shown(text: str) -> str:
    """A text as a reader of the page has it: one space between words."""
    return " ".join(text.split())


def test_everything_of_the_plan_is_on_the_page(judged: tuple[Case, Assessment, Plan], book: Book) -> None:
    """Every part, task, caution, photo and test of the plan stands on the page, and what passes and what fails."""
    case, found, made = judged
    page = Page(report_html(found, book, replace(particulars_of(case, book), plan=made)))
    assert all(line.title in section(page, "job-parts") for line in made.order.lines)
    assert all(shown(text) in shown(section(page, "job-parts")) for text in made.order.confirm)
    sequence, proof = shown(section(page, "job-sequence")), shown(section(page, "job-proof"))
    for task in made.tasks:
        assert shown(task.do) in (proof if task.kind == "proof" else sequence)
        assert all(book.cautions[name].title in sequence for name in task.cautions)
        assert shown(task.photo or "").rstrip(".") in sequence
    for test in (*(t for t in made.tasks if t.kind == "proof"), *made.later):
        assert shown(test.do) in proof
        assert shown(test.passes or "") in proof
        assert shown(test.fails or "") in proof
    assert sequence.count("☐") == sum(t.kind != "proof" for t in made.tasks)


def test_cautions_come_before_the_first_task(judged: tuple[Case, Assessment, Plan], book: Book) -> None:
    """In the sequence every caution stands in full before any task."""
    case, found, made = judged
    sequence = shown(section(Page(report_html(found, book, replace(particulars_of(case, book), plan=made))), "job-sequence"))
    first = next(t for t in made.tasks if t.kind == "set-up")
    assert made.cautions
    assert all(sequence.index(shown(book.cautions[name].text)) < sequence.index(f"First: {first.do}") for name in made.cautions)


def test_a_planned_job_is_told_once(judged: tuple[Case, Assessment, Plan], book: Book) -> None:
    """What stands in the plan is only named among the work recommended; without a plan it is told there."""
    case, found, made = judged
    about = particulars_of(case, book)
    with_it, without = (Page(report_html(found, book, a)) for a in (replace(about, plan=made), about))
    assert "Before the first bolt" not in section(with_it, "work")
    assert "Before the first bolt" in section(without, "work")
    assert not any(e.attrs["id"] == "job" for e in without.all("h2"))


def test_a_case_without_a_job_says_so(book: Book) -> None:
    """Where no job pays now, the page says that, and no table of parts is there."""
    case = load_case(shipped("cases") / "healthy-boat.yaml")
    found = assess(case, book)
    made = plan(found, case, book)
    text = report_markdown(found, book, replace(particulars_of(case, book), plan=made))
    assert made.jobs == ()
    assert "No job pays now." in text
    assert "Parts, to tick off" not in text


@pytest.fixture(scope="module")
def told(book: Book, tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, Standing, str]:
    """A told case played to its end on a screen of its own: the case, its standing, and the page of it."""
    case = load_case(SHEARED)
    with Record.open(Path(tmp_path_factory.mktemp("told")) / "told.db") as record:
        (*_, (_, name)) = Story(case, book, record, bench(80)).play()
        standing = standing_of(record.entries(case=name))
    assert standing is not None
    plain = case.model_copy(update={"then": ()})
    about = replace(particulars_of(plain, book), plan=standing.plan, standing=standing)
    return case, standing, report_html(assess(plain, book), book, about)


def test_ticks_and_tests_are_on_the_page(told: tuple[Case, Standing, str]) -> None:
    """A task done says when, and how long where that was told; one left out says why; a test says how it came out."""
    _, standing, html = told
    page = Page(html)
    sequence, proof = shown(section(page, "job-sequence")), shown(section(page, "job-proof"))
    done = [t for t in standing.ticked.values() if t.how == "done"]
    left = [t for t in standing.ticked.values() if t.how == "left-out"]
    assert sequence.count("☐") == 0
    assert all(f"done {t.at.astimezone():%d %b %H:%M}" in sequence for t in done)
    assert "2.3 h" in sequence  # 140 minutes at the nuts
    assert len(left) == 1
    assert shown(left[0].why or "") in sequence
    assert proof.count("passed") >= sum(p.outcome == "passed" for p in standing.made.values()) > 2
    assert proof.count("☐") == len(standing.unproved) == 1


def test_the_screen_shows_the_work(book: Book, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Played on a screen: each task with its number, its cautions in full once, the tests, what is owed, and no line too wide."""
    with Record.open(tmp_path / "told.db") as record:
        for _ in Story(load_case(SHEARED), book, record, bench(60)).play():
            pass
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 60
    assert "-- 1 of " in text
    assert "caution: " in text
    assert "left out" in text
    assert "owed" in text
    assert "closed. Elbow, gasket and studs renewed" in shown(text)


def test_every_making_of_a_test_is_on_the_page(book: Book, told: tuple[Case, Standing, str]) -> None:
    """A test that failed before it passed stands with both, in their order, with what failed; and with its cautions."""
    case, standing, _ = told
    test = next(t for t in standing.tests if t.cautions and t.id in standing.made)
    (passed,) = standing.makings[test.do]
    failed = passed.model_copy(update={"outcome": "failed", "why": "a drop at the flange", "at": passed.at - timedelta(hours=2)})
    again = replace(standing, makings={**standing.makings, test.do: (failed, passed)})
    plain = case.model_copy(update={"then": ()})
    about = replace(particulars_of(plain, book), plan=standing.plan, standing=again)
    proof = shown(section(Page(report_html(assess(plain, book), book, about)), "job-proof"))
    first = f"failed {failed.at.astimezone():%d %b %H:%M}: a drop at the flange"
    assert f"{first}. passed {passed.at.astimezone():%d %b %H:%M}" in proof
    assert book.cautions[test.cautions[0]].title in proof


def test_parts_that_came_are_not_to_get(book: Book, told: tuple[Case, Standing, str]) -> None:
    """It was said that all that must be there lies beside the work: the page does not tell to order it."""
    case, standing, html = told
    assert standing.parts_here
    must = [line for line in standing.plan.order.lines if line.buy and line.need == "must"]
    assert shown(section(Page(html), "job-parts")).count("came; it lay beside the work") == len(must) > 0
    plain = case.model_copy(update={"then": ()})
    about = replace(particulars_of(plain, book), plan=standing.plan)
    assert "came; it lay" not in shown(section(Page(report_html(assess(plain, book), book, about)), "job-parts"))
