"""The plan of a case as a page: which jobs and why, what to order, the sequence with its cautions, what lies open, the proof."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.knowledge.book import Book
from diagnose.knowledge.jobs import ProofMoment
from diagnose.show.figures import value_words
from diagnose.show.layout import ALARM, Page
from diagnose.show.orderpage import needs
from diagnose.show.words import in_hundred, minutes, plural
from diagnose.wording import days, mid_sentence
from diagnose.work.results import Amount, Extra, Leaving, Plan, RecipeLine, Slot, Task
from diagnose.work.saying import hours

WHEN: dict[ProofMoment, str] = {
    "cold": "cold, nothing turning", "under-pressure": "pumped up or filled", "first-start": "at the first start",
    "warm": "at working heat", "under-load": "in gear", "after-hours": "some hours on"}
STEP = 8
"""Columns for the time and the number of a step."""
SHOWN_EXTRAS = 6
SHOWN_FAULTS = 3


def plan_page(plan: Plan, book: Book, width: int) -> Page:
    """The whole plan, from the order list to the proof."""
    page = Page(width)
    _head(plan, page)
    for stop in plan.stops:
        page.labelled("STOP", stop, ALARM)
    _choice(plan, page)
    if plan.tasks:
        needs(plan.order, page, short=True)
        _sequence(plan, book, page)
        _open(plan, page)
        _after(plan, book, page)
    _times(plan, page)
    return page


def _head(plan: Plan, page: Page) -> None:
    page.labelled("PLAN", f"{plan.boat}: {plan.title}")
    if not plan.tasks:
        page.labelled("", "No job pays now. What was weighed stands below.")
        return
    wait = f", once the parts are there in {days(plan.order.lead_days)}" if plan.order.lead_days else ""
    lead = wait or "; all parts that must be there are aboard"
    page.labelled("", f"{plural(len(plan.jobs), 'job')}, {minutes(plan.schedule.minutes)}{lead}")


def _choice(plan: Plan, page: Page) -> None:
    page.line()
    for i, c in enumerate(plan.choice.chosen):
        work = f"{minutes(c.minutes)} of work by itself"
        page.labelled("DO" if i == 0 else "", f"{c.title} ({work}; needed on {in_hundred(c.needed)} of 100)")
        page.labelled("", f"why: {c.say}.", label_width=13)
        if c.look_first is not None:
            page.labelled("", c.look_first + ".", label_width=13)
        dearest = sorted(c.cures, key=lambda line: (-line.season, line.fault))
        for line in dearest[:SHOWN_FAULTS]:
            page.labelled("", _leaving(line), label_width=13)
        if len(dearest) > SHOWN_FAULTS:
            page.labelled("", f"and {plural(len(dearest) - SHOWN_FAULTS, 'fault')} more that weigh less", label_width=13)
        if not c.afloat:
            page.labelled("", "not afloat: she must be ashore or dried out for it", ALARM, label_width=13)
    for i, left in enumerate(plan.choice.left):
        page.labelled("LEFT" if i == 0 else "", f"{left.title}, {left.why}: {left.say}.")
    tries = plan.choice.tries
    if tries is not None:
        page.labelled("TRY FIRST", f"they explain the same signs, and one of them is likely the cause. In this order: "
                      f"{', then '.join(tries.jobs)}, with the proof after each: {hours(tries.expected_hours)} on average, "
                      f"{hours(tries.all_hours)} for all in one go.")
    if not plan.choice.exact:
        page.labelled("", "So many jobs could pay that not every set of them was weighed; those that save least were left out.")


def _leaving(line: Leaving) -> str:
    return (f"{line.title}, {in_hundred(line.chance)} in 100: left alone it costs {hours(line.trip)} of delay on this trip, "
            f"{hours(line.port)} to the next port, {hours(line.season)} to the season's end")


# ------------------------------------------------------------------ the sequence


def _sequence(plan: Plan, book: Book, page: Page) -> None:
    page.line()
    hands = "alone" if plan.schedule.hands == 1 else "two at work"
    page.labelled("SEQUENCE", f"hours and minutes from the first bolt, {hands}; * marks the longest chain: what slips there makes "
                  "all of it later")
    tasks = {t.id: t for t in plan.tasks}
    amounts = {(r.job, r.step): r for r in plan.recipes}
    said: set[str] = set()
    for number, slot in enumerate(plan.schedule.slots, 1):
        _step(number, slot, tasks[slot.task], book, page, plan)
        warnings(tasks[slot.task], book, page, said)
        for place in tasks[slot.task].steps:
            if place in amounts:
                recipe(amounts[place], book, page, said)


def _step(number: int, slot: Slot, task: Task, book: Book, page: Page, plan: Plan) -> None:
    mark = "*" if slot.critical else " "
    label = f"{clock(slot.start)} {number:>2}{mark}"
    kind = {"set-up": "first: ", "put back": "", "step": "", "proof": "proof: "}[task.kind]
    takes = minutes(slot.end - slot.start) if slot.end > slot.start else ""
    who = "" if plan.schedule.hands == 1 or not slot.who else f", hand {' and '.join(str(h + 1) for h in slot.who)}"
    helped = ", a second pair of hands wanted" if task.id in plan.schedule.helped else ""
    page.labelled(label, f"{kind}{task.do}" + (f" ({takes}{who}{helped})" if takes else ""), label_width=STEP + 2)
    details(task, book, page)


def details(task: Task, book: Book, page: Page) -> None:
    """What belongs to a task, a line each: what comes off and goes back, what is used, what to photograph, what it waits for."""
    if task.own:
        page.labelled("", task.own, label_width=STEP + 2)
    details = {
        "off": ", ".join(task.takes_off), "back": ", ".join(task.puts_back),
        "new": ", ".join(task.renews), "use": "; ".join(book.words.parts.get(part, part) for part in task.uses),
        "tools": ", ".join(task.tools), "photo": task.photo or "", "wait": _wait(task), "see": _judge(task, book),
        "passes": f"{WHEN[task.moment]}: {task.passes}" if task.moment and task.passes else task.passes or "", "fails": task.fails or ""}
    for name, text in details.items():
        if text:
            page.labelled("", f"{name}: {text}", label_width=STEP + 2)
    if task.holds_two:
        page.labelled("", f"holds more than one thing: {task.holds_two}", ALARM, label_width=STEP + 2)


def _wait(task: Task) -> str:
    return f"{minutes(task.wait_minutes)}, {task.wait_why}" if task.wait_minutes else ""


def _judge(task: Task, book: Book) -> str:
    return "; ".join(mid_sentence(book.symptoms[name].title) for name in task.bares if name in book.symptoms)


def warnings(task: Task, book: Book, page: Page, said: set[str]) -> None:
    """Cautions before their step is left: in full where they first apply, by their title from then on."""
    for name in task.cautions:
        caution = book.cautions.get(name)
        if caution is not None:
            page.labelled("", f"caution: {caution.title}" + ("" if name in said else f". {caution.text}"), ALARM, label_width=STEP + 2)
            said.add(name)


def recipe(found: RecipeLine, book: Book, page: Page, said: set[str]) -> None:
    """The amounts of a step, with what was taken and what is to be measured first."""
    page.labelled("", f"amounts: {found.title.lower()}; {found.why}", label_width=STEP + 2)
    for amount in found.amounts:
        page.labelled("", amount_words(amount), label_width=STEP + 4)
    if found.wanted:
        page.labelled("", f"measure first, then diagnose reckon {found.calculation}: {'; '.join(found.wanted)}", label_width=STEP + 4)
    for text in found.taken:
        page.labelled("", f"taken: {text}", label_width=STEP + 4)
    for name in found.cautions:
        if name not in said and name in book.cautions:
            page.labelled("", f"caution: {book.cautions[name].title}. {book.cautions[name].text}", ALARM, label_width=STEP + 2)
            said.add(name)


def amount_words(amount: Amount) -> str:
    """One figure of a recipe in words."""
    if amount.word is not None or amount.value is None:
        return f"{amount.title}: {amount.word}"
    return f"{amount.title}: {value_words(amount.value, amount.below, amount.above, amount.unit)}"


def clock(value: float) -> str:
    """Minutes from the first bolt as hours and minutes."""
    whole = round(value)
    return f"{whole // 60}:{whole % 60:02d}"


# ------------------------------------------------------------------ while it is open, and after


def _open(plan: Plan, page: Page) -> None:
    opened = plan.opened
    if not (opened.look or opened.judge or opened.extras):
        return
    page.line()
    page.items("OPEN", [f"look: {text}" for text in opened.look])
    if opened.judge:
        page.labelled("" if opened.look else "OPEN", f"can be judged while it is apart: {'; '.join(opened.judge)}")
    extras(opened.extras[:SHOWN_EXTRAS], page)
    more = len(opened.extras) - SHOWN_EXTRAS
    if more > 0:
        page.labelled("", f"{plural(more, 'more thing')} worth it or worth a look; diagnose also lists them")
    if opened.left:
        page.labelled("", f"{plural(opened.left, 'more thing')} weighed and best left")


def extras(lines: Sequence[Extra], page: Page) -> None:
    """Things to renew while it is open, each with its word and its numbers."""
    for extra in lines:
        age = "" if extra.age_hours is None else f", {extra.age_hours:g} engine hours old"
        page.labelled(extra.word if len(extra.word) < 10 else "if bad", f"{extra.title}{age}: {extra.say}.")
        if extra.word == "if it looks bad" and extra.look:
            page.labelled("", f"it looks bad by: {'; '.join(extra.look[:3])}", label_width=13)
        if extra.missing:
            page.labelled("", f"parts to have for it: {', '.join(extra.missing)}", label_width=13)


def _after(plan: Plan, book: Book, page: Page) -> None:
    page.line()
    page.items("LATER", plan.later_tests)
    page.items("WASTE", plan.waste)
    for i, name in enumerate(plan.leaves):
        title = book.events[name].title if name in book.events else name
        page.labelled("NOTE" if i == 0 else "", f"put it down for the record: {title}. What that hand could reach is likelier for a while.")


def _times(plan: Plan, page: Page) -> None:
    if not plan.tasks:
        return
    page.line()
    names: Mapping[str, str] = {"skilled": "practised hand", "first_time": "newer hand"}
    for with_extras in sorted({t.extras for t in plan.totals}):
        texts = [f"{names[t.hand]} {'alone' if t.hands == 1 else 'and a second'} {minutes(t.minutes)}" for t in plan.totals
                 if t.extras == with_extras]
        page.labelled("TIME" if not with_extras else "", ("with what is worth renewing: " if with_extras else "") + "; ".join(texts))
    page.labelled("", f"longest chain {minutes(plan.schedule.critical_minutes)}; {plural(plan.days, 'working day')}"
                  + (f"; doing the jobs as one saves {minutes(plan.saved_minutes)}" if plan.saved_minutes >= 1 else ""))
    page.line()
    page.labelled("###", f"{plural(len(plan.jobs), 'job')}, {minutes(plan.schedule.minutes)}. The engine's own book comes first.",
                  label_width=4)
