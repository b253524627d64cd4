"""The job of a case on paper: why it is done, what to order, the sequence to tick off, what lies open, the proof and how it came out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.doing.asked import numbered
from diagnose.doing.standing import Standing
from diagnose.knowledge.book import Book
from diagnose.record.entries import ProofMade
from diagnose.show.planpage import WHEN, amount_words
from diagnose.show.report.blocks import Block, Cell, Facts, Items, Line, Para, Section, Span, Table, intro, line, note, strong
from diagnose.show.report.cautions import caution_lines
from diagnose.show.report.telling import hours, in_100, opened
from diagnose.show.words import minutes, plural
from diagnose.wording import days
from diagnose.work.results import Chosen, Extra, OrderLine, Plan, RecipeLine, Task

OUTCOMES: Mapping[str, str] = {"passed": "passed", "failed": "failed", "not-made": "not made"}
MOST_EXTRAS = 8


def job(plan: Plan, standing: Standing | None, book: Book) -> Section:
    """The whole job as one section; without a standing nothing of it is done yet.

    Args:
        plan: the plan of the case.
        standing: of the work, where it was begun.
        book: the rules.
    """
    if not plan.jobs:
        return Section("job", "The job", (Para(line("No job pays now.")), *_left(plan)))
    total = next(t for t in plan.totals if t.hand == plan.hand and t.hands == plan.schedule.hands and not t.extras)
    lead = (f"{plural(len(plan.jobs), 'job')} done as one, about {minutes(plan.schedule.minutes or total.minutes)}"
            f"{f', once the parts are there in {days(plan.order.lead_days)}' if plan.order.lead_days else ''}.")
    return Section("job", "The job", (Para(line(lead)), Facts(tuple(_why(c, book) for c in plan.choice.chosen)), *_left(plan)), (
        Section("job-parts", "To order before the first bolt", tuple(_order(plan, standing))),
        Section("job-sequence", "The sequence", tuple(_sequence(plan, standing, book))),
        *_open(plan),
        Section("job-proof", "The proof", tuple(_proof(plan, standing, book))),
    ))


def _why(chosen: Chosen, book: Book) -> tuple[str, Line]:
    cures = "; ".join(f"{book.faults[c.fault].title if c.fault in book.faults else c.title} ({in_100(c.chance)})" for c in chosen.cures)
    afloat = "" if chosen.afloat else " Not afloat: lifted, or dried out."
    look = f" {opened(chosen.look_first)}." if chosen.look_first else ""
    return chosen.title, line(f"{cures}. {opened(chosen.say)}.{look}{afloat}")


def _left(plan: Plan) -> tuple[Block, ...]:
    if not plan.choice.left:
        return ()
    return (intro("Left, and why:"), Items(tuple(line(f"{one.title}, {one.why}: {one.say}.") for one in plan.choice.left)))


# ------------------------------------------------------------------ parts


def _order(plan: Plan, standing: Standing | None) -> Iterator[Block]:
    if plan.order.confirm:
        yield intro("Settle first, from the engine's plate and the parts book:")
        yield Items(tuple(line(text) for text in plan.order.confirm))
    if not plan.order.lines:
        yield Para(line("No parts are needed."))
        return
    here = standing is not None and standing.parts_here
    rows = tuple(_part(one, here) for one in plan.order.lines)
    yield Table("Parts, to tick off", ("Part", "How many", "Need", "Aboard", "To get", "Look-alikes and notes"), rows)


def _part(one: OrderLine, here: bool) -> tuple[Cell, ...]:
    """A part; `here` whether it was said that all that must be there lie beside the work."""
    unit = f" {one.unit}" if one.unit else ""
    need = "must be there" if one.need == "must" else "worth having"
    get = f"{one.buy:g}{unit}{f', {days(one.lead_days)}' if one.lead_days else ''}" if one.buy else "nothing"
    get = "came; it lay beside the work" if here and one.buy and one.need == "must" else get
    aboard = "some" if one.aboard is None else f"{one.aboard:g}{unit}"
    told = [f"look-alikes differ in {'; '.join(one.variants)}"] if one.variants else []
    told += [*one.notes, *(["wanted only if it is bad once apart"] if one.only_when_apart else [])]
    return (line(one.title), line(f"{one.count:g}{unit}"), line(need), line(aboard), line(get), line(opened("; ".join(told))))


# ------------------------------------------------------------------ the sequence


def _sequence(plan: Plan, standing: Standing | None, book: Book) -> Iterator[Block]:
    tasks = {t.id: t for t in plan.tasks}
    slots = sorted(plan.schedule.slots, key=lambda s: (s.start, s.end))
    order = [tasks[s.task] for s in slots]
    cautions = caution_lines(plan.cautions, book)
    if cautions:
        yield intro(strong("Read before the first bolt, and again at the task they stand at:"))
        yield Items(cautions)
    rows = tuple(_row(number, task, plan, standing, book) for number, task in enumerate(order, 1) if task.kind != "proof")
    yield Table("Tasks in their order; the tests have a table of their own", ("No.", "Done", "Task", "What belongs to it"), rows)
    if plan.recipes:
        yield intro("Amounts:")
        yield Items(tuple(_recipe(one) for one in plan.recipes))
    if plan.waste:
        yield intro("What comes out, and where it goes:")
        yield Items(tuple(line(text) for text in plan.waste))


def _row(number: int, task: Task, plan: Plan, standing: Standing | None, book: Book) -> tuple[Cell, ...]:
    takes = float(getattr(task, plan.hand))
    head = {"set-up": "First: ", "put back": "Put back: "}.get(task.kind, "")
    about = f" ({minutes(takes)})" if takes > 0 else ""
    return (line(str(number)), _tick(task, standing), line(f"{head}{task.do}{about}"), _belongs(task, book))


def _tick(task: Task, standing: Standing | None) -> Line:
    tick = standing.ticked.get(task.id) if standing is not None else None
    if tick is None:
        return line("☐")
    took = f", {minutes(tick.minutes)}" if tick.minutes else ""
    when = f"{tick.at.astimezone():%d %b %H:%M}"
    return line(f"done {when}{took}") if tick.how == "done" else line("left out: ", note(tick.why))


def _belongs(task: Task, book: Book) -> Line:
    told = {
        "Caution": _cautions(task, book),
        "Off": ", ".join(task.takes_off), "Back": ", ".join(task.puts_back), "New": ", ".join(task.renews),
        "Tools": ", ".join(task.tools), "Photo": task.photo or "", "Holds more than one thing": task.holds_two or "",
        "Wait": f"{minutes(task.wait_minutes)}, {task.wait_why}" if task.wait_minutes else ""}
    own = [f"{opened(task.own.rstrip('.'))}."] if task.own else []
    texts = [*own, *(f"{name}: {text.rstrip('.')}." for name, text in told.items() if text)]
    return line(" ".join(texts))


def _cautions(task: Task, book: Book) -> str:
    """The titles of a task's cautions; in full they stand once, before the sequence."""
    return "; ".join(book.cautions[name].title for name in task.cautions if name in book.cautions)


def _recipe(one: RecipeLine) -> Line:
    amounts = "; ".join(amount_words(a) for a in one.amounts)
    wanted = f"To be measured first: {' '.join(one.wanted)}" if one.wanted else ""
    taken = f" Taken: {'; '.join(one.taken)}." if one.taken else ""
    return line(strong(f"{one.title}. "), f"{one.why.rstrip('.')}. {amounts}{'.' if amounts else ''}{taken} {wanted}".strip())


# ------------------------------------------------------------------ while it is open, and after


def _open(plan: Plan) -> tuple[Section, ...]:
    found = plan.opened
    blocks: list[Block] = []
    if found.look or found.judge:
        blocks.append(intro("Look, while it lies open:"))
        blocks.append(Items(tuple(line(text) for text in (*found.look, *found.judge))))
    if found.extras:
        head = ("Renew now?", "Part", "Bad now", "Begins before it is opened again", "More now", "Another day", "Spares", "Takes")
        blocks.append(Table("Worth renewing while it is open", head, tuple(_extra(e) for e in found.extras[:MOST_EXTRAS]), figures=True))
    return (Section("job-open", "While it is open", tuple(blocks)),) if blocks else ()


def _extra(one: Extra) -> tuple[Cell, ...]:
    return (line(one.word), line(one.title), line(in_100(one.there)), line(in_100(one.begins)), line(minutes(one.open_minutes)),
            line(minutes(one.closed_minutes)), line(hours(one.spares)), line(hours(one.takes)))


def _proof(plan: Plan, standing: Standing | None, book: Book) -> Iterator[Block]:
    tests = [t for t in (*plan.tasks, *plan.later) if t.kind == "proof"]
    numbers = {t.id: n for n, t in numbered(standing).items()} if standing is not None else {}
    rows = tuple(_test(numbers.get(t.id), t, standing, book) for t in tests)
    if rows:
        yield Table("Tests, with what passes and what fails", ("No.", "When", "Test", "Passes", "Fails", "Came out"), rows)
    else:
        yield Para(line("The book has no test of it."))


def _test(number: int | None, task: Task, standing: Standing | None, book: Book) -> tuple[Cell, ...]:
    when = f"some {task.hours:g} engine hours on" if task.hours else WHEN[task.moment] if task.moment is not None else ""
    cautions = _cautions(task, book)
    made = standing.makings.get(task.do, ()) if standing is not None else ()
    counts = standing is not None and task.id in standing.made
    out = (*(part for one in made for part in _made(one)), *(() if counts else ("☐",)))
    do = line(task.do, *((f" Caution: {cautions}.",) if cautions else ()))
    return (line(str(number or "")), line(when), do, line(task.passes or ""), line(task.fails or ""), line(*out))


def _made(one: ProofMade) -> tuple[str | Span, ...]:
    """One making of a test, and how it came out."""
    why: tuple[str | Span, ...] = (": ", note(one.why)) if one.why else ()
    return (strong(OUTCOMES[one.outcome]), f" {one.at.astimezone():%d %b %H:%M}", *why, ". ")
