"""The work as it is done: a task, the list, an offer, what is owed. The task stands last, nearest to where one types."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from diagnose.assessment import Assessment
from diagnose.doing.asked import numbered
from diagnose.doing.proving import Owed
from diagnose.doing.standing import Standing
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING
from diagnose.record.entries import AnyEntry, EventEntry, MovedOn, TaskTicked, WorkDone
from diagnose.show.entrywords import clock, said_of
from diagnose.show.layout import ALARM, Page
from diagnose.show.planpage import WHEN, details, plan_page, recipe, warnings
from diagnose.show.questionpage import Narrow, Paged
from diagnose.show.words import SHORT_STATES, minutes, plural
from diagnose.wording import mid_sentence
from diagnose.work.results import Chosen, Plan, Task

KEYS = (
    ("done", "it is done; done 25 min says how long it took"),
    ("done 4-7", "tasks 4 to 7 are done"),
    ("done waited", "what it waits for has had its time"),
    ("x WHY", "left out, and why"),
    ("f WHAT", "at a test: it failed, and how"),
    ("all", "all is done but the tests: for who worked without this list"),
    ("redo 5", "task 5 is to be done again"),
    ("add JOB", "another job of the book comes into the plan"),
    ("learn WORDS", "kept in this boat's own file, with this step; learn 5: WORDS with step 5"),
    ("n WORDS", "a note"), ("p PATH", "a photo"),
    ("hours 512", "the engine hours now"),
    ("list", "all tasks"), ("parts", "all parts"),
    ("b", "back: takes the last answer back"),
    ("q", "leave; all is saved"),
)
OUTCOMES = {"passed": "passed", "failed": "FAILED", "not-made": "not made"}
KINDS = {"set-up": "first", "put back": "put back", "step": "", "proof": "test"}


def task_page(standing: Standing, task: Task, waits: Sequence[tuple[str, datetime]], book: Book, told: frozenset[str], width: int) -> Page:
    """One task: its place, its cautions before anything else, what is done, what belongs to it."""
    page = Narrow(width)
    numbers = {t.id: n for n, t in numbered(standing).items()}
    page.line()
    jobs = "; ".join(mid_sentence(book.jobs[j].title) for j in task.of)
    takes = float(getattr(task, standing.plan.hand))
    about = f" about {minutes(takes)}" if takes > 0 else ""
    page.put("", f"-- {numbers[task.id]} of {len(numbers)}{about} ".ljust(min(width, 60), "-"), label_width=0)
    page.put("", f"for: {jobs}", label_width=0)
    said = set(told)
    warnings(task, book, page, said)
    for why, until in waits:
        page.put("wait", f"{why}: until {clock(until)}", ALARM)
    state = f" ({SHORT_STATES[task.state]})" if task.state is not None else ""
    when = f", {WHEN[task.moment]}{state}" if task.moment is not None else ""
    kind = f"{KINDS[task.kind]}{when}: " if KINDS[task.kind] else ""
    page.put("", f"{kind}{task.do}", "bold", label_width=0)
    if task.why:
        page.put("why", task.why)
    details(task, book, page)
    for place in task.steps:
        for found in (r for r in standing.plan.recipes if (r.job, r.step) == place):
            recipe(found, book, page, said)
    page.put("", "done   x WHY left out   f failed   h help   q leave" if task.kind == "proof" else
             "done   x WHY left out   n note   list   h help   q leave", label_width=0)
    return page


def list_page(standing: Standing, width: int) -> Page:
    """All tasks by number: done, left out, to do; and the tests with how they came out."""
    page = Narrow(width)
    page.line()
    for number, task in numbered(standing).items():
        page.put(f"{number:>3} {_mark(standing, task)}", f"{_kind(task)}{task.do}{_end(standing, task)}", label_width=8)
    return page


def _kind(task: Task) -> str:
    return f"{KINDS[task.kind]}: " if KINDS[task.kind] else ""


def _mark(standing: Standing, task: Task) -> str:
    tick, proof = standing.ticked.get(task.id), standing.made.get(task.id)
    if proof is not None:
        return {"passed": "[x]", "failed": "[!]", "not-made": "[-]"}[proof.outcome]
    return "[ ]" if tick is None else "[x]" if tick.how == "done" else "[-]"


def _end(standing: Standing, task: Task) -> str:
    tick, proof = standing.ticked.get(task.id), standing.made.get(task.id)
    if proof is not None:
        return f" ({OUTCOMES[proof.outcome]}{f': {proof.why}' if proof.why else ''})"
    if tick is None:
        return f" (some {task.hours:g} engine hours on)" if task.hours else ""
    return f" (left out: {tick.why})" if tick.why else f" ({minutes(tick.minutes)})" if tick.minutes else ""


def offer_page(found: Chosen, width: int) -> Page:
    """A job that pays by what was just seen."""
    page = Narrow(width)
    page.line()
    page.put("", f"What you saw makes it pay to do this too: {found.title}.", ALARM, label_width=0)
    page.put("why", f"{found.say}.")
    page.put("takes", f"{minutes(found.minutes)} of work by itself")
    if found.look_first:
        page.put("look", f"{found.look_first}.")
    if found.missing:
        page.put("to get", ", ".join(found.missing), ALARM)
    if not found.afloat:
        page.put("", "Not afloat: she must be ashore or dried out for it.", ALARM)
    return page


def next_looks_page(found: Assessment, running: bool, width: int) -> Page:
    """The looks worth making next: where she is not running, those at rest before those for which she is started."""
    page = Narrow(width)
    looks = sorted(found.checks, key=lambda check: not running and check.needs in RUNNING)
    for i, check in enumerate(looks[:3]):
        about = minutes(check.minutes + check.setup_minutes)
        page.put("look" if i == 0 else "", f"{check.title} ({SHORT_STATES[check.needs]}). About {about}.")
    return page


def standing_page(standing: Standing, owed: Sequence[Owed], width: int) -> Page:
    """How far the work is: done, left out, the time it took against the plan, and the tests that are owed."""
    page = Narrow(width)
    page.line()
    page.rule("=")
    done, to_do = len(standing.ticked), len(standing.left_to_do)
    page.put("work", f"{plural(done, 'task')} ticked off, {to_do} to do; {plural(len(standing.through), 'job')} through", "bold")
    for task, why in standing.left_out():
        page.put("left out", f"{task.do}: {why}")
    took, planned = standing.minutes()
    if took:
        page.put("took", f"{minutes(took)} where it was told; the plan had {minutes(planned)} for the same")
    tests = len(standing.tests)
    if not owed:
        page.put("proof", f"all {plural(tests, 'test')} passed: the case can be closed" if tests else "the book has no test of it", "bold")
    for i, one in enumerate(owed):
        page.put("owed" if i == 0 else "", owed_words(one), ALARM if one.task in standing.failed else "")
    return page


def owed_words(one: Owed) -> str:
    """A test that is owed, and from when."""
    hours = f" from {one.from_hours:.0f} engine hours on" if one.from_hours is not None else ""
    about = f", about {clock(one.from_day).rpartition(' ')[0]}" if one.from_day is not None and not one.ripe else ""
    some = f" {one.task.hours:g} engine hours on" if one.task.hours and not hours else ""
    return f"{one.task.do}{hours}{about}{some}"


def crossed_out_page(entries: Sequence[AnyEntry], standing: Standing, book: Book, width: int) -> Page:
    """What the last answer was, that is taken back: several ticks as one line, and what only followed from an answer left out."""
    page = Narrow(width)
    ticks = [standing.tasks[e.task].do for e in entries if isinstance(e, TaskTicked) and e.task in standing.tasks]
    told = [e for e in entries if not isinstance(e, TaskTicked | WorkDone | EventEntry | MovedOn)]
    words = [*ticks[-1:], *([f"{plural(len(ticks) - 1, 'task')} more"] if len(ticks) > 1 else ())]
    words += [said_of(e, {s.id: s.title for s in book.symptoms.values()}) for e in told]
    page.put("", f"Crossed out, kept in the record: {'; '.join(words) or 'the last answer'}.", label_width=0)
    return page


def keys_page(width: int) -> Page:
    """What may be typed."""
    page = Narrow(width)
    page.line()
    for key, text in KEYS:
        page.put(f"  {key}", text, label_width=15)
    page.put("", "Enter alone is no answer. Every answer is saved before the next.", label_width=0)
    return page


class WorkPaged(Paged):
    """Shows the work as pages; where they go is for the screen to say."""

    def whole_plan(self, made: Plan, book: Book) -> None:
        """A plan."""
        self.show(plan_page(made, book, self.width))

    def task(self, standing: Standing, task: Task, waits: Sequence[tuple[str, datetime]], book: Book, told: frozenset[str]) -> None:
        """A task."""
        self.show(task_page(standing, task, waits, book, told, self.width))

    def listing(self, standing: Standing) -> None:
        """All tasks."""
        self.show(list_page(standing, self.width))

    def keys(self) -> None:
        """What may be typed."""
        self.show(keys_page(self.width))

    def offer(self, found: Chosen) -> None:
        """A job that pays now."""
        self.show(offer_page(found, self.width))

    def next_looks(self, found: Assessment, running: bool) -> None:
        """The looks worth making next."""
        self.show(next_looks_page(found, running, self.width))

    def crossed_out(self, entries: Sequence[AnyEntry], standing: Standing, book: Book) -> None:
        """What was taken back."""
        self.show(crossed_out_page(entries, standing, book, self.width))

    def standing(self, standing: Standing, owed: Sequence[Owed]) -> None:
        """How far the work is."""
        self.show(standing_page(standing, owed, self.width))
