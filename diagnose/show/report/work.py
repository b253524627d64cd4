"""The work recommended, the limits to keep, and the arithmetic of the decision and of a leak."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.assessment import Assessment, Fix, KeptLimit, LeakBudget, Risk, Working
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Consequence
from diagnose.show.report.blocks import Block, Cell, Facts, Items, Line, Para, Section, Table, intro, line, strong
from diagnose.show.report.cautions import caution_lines
from diagnose.show.report.evidence import result_of
from diagnose.show.report.telling import hours, in_100, with_units
from diagnose.show.words import in_hundred, minutes
from diagnose.wording import mid_sentence

VERBS = {"carry": "Carry", "look": "Look", "ease": "Ease", "turn": "Turn back", "stop": "Stop her"}
FLUIDS = {"coolant": "Coolant going", "sea-water-in": "Sea water coming in", "oil": "Oil going", "fuel": "Fuel going"}


def recommended(a: Assessment, book: Book, planned: Sequence[str] = ()) -> Section:
    """Each job worth doing: parts, cautions before the first bolt, what to look at while it is open, and the proof.

    Args:
        a: the assessment.
        book: the rules.
        planned: jobs that stand in a plan of their own on the page, and are only named here.
    """
    if not a.fixes:
        return Section("work", "Work recommended", (Para(line("None now.")),))
    lead = {"fix, then go": "Before leaving.", "go": "It can wait until after this trip.",
            "go with limits": "As soon as it can be done; until then the limits hold."}.get(a.decision, "Before the next trip.")
    named = [fix.title for fix in a.fixes if fix.job in planned]
    told = f" Planned below: {mid_sentence('; '.join(named))}." if named else ""
    return Section("work", "Work recommended", (Para(line(lead + told)),),
                   tuple(_job(fix, book) for fix in a.fixes if fix.job not in planned))


def _job(fix: Fix, book: Book) -> Section:
    job = book.jobs.get(fix.job)
    cures = "; ".join(mid_sentence(book.faults[name].title) if name in book.faults else name for name in fix.cures)
    skilled = f"; a practised hand takes {minutes(job.minutes.skilled)}" if job is not None else ""
    rows: list[tuple[str, Line]] = [
        ("It cures", line(f"{cures}. The likeliest of them is there in {in_hundred(fix.chance)} of 100.")),
        ("Takes", line(f"about {minutes(fix.minutes)} the first time{skilled}")),
        ("Where", line("afloat" if fix.afloat else "not afloat: lifted, or dried out")),
    ]
    rows += [("Why", line(job.why))] if job is not None else []
    blocks: list[Block] = [Facts(tuple(rows)), *_parts(fix, book)]
    if job is not None and job.confirm_before_ordering:
        blocks += [intro("Confirm before ordering:"), Items(tuple(line(text) for text in job.confirm_before_ordering))]
    cautions = caution_lines(fix.cautions, book)
    if cautions:
        blocks += [intro(strong("Before the first bolt:")), Items(cautions)]
    if job is not None and job.look_while_open:
        blocks += [intro("Look at while it is open:"), Items(tuple(line(text) for text in job.look_while_open))]
    proof: list[tuple[str, Line]] = [("Proof", line(fix.proof)), ("Passed when", line(fix.proof_passes))]
    proof += [("Failed when", line(job.proof.fails))] if job is not None else []
    return Section(f"job-{fix.job}", fix.title, (*blocks, Facts(tuple(proof))))


def _parts(fix: Fix, book: Book) -> tuple[Block, ...]:
    job = book.jobs.get(fix.job)
    rows: list[tuple[Cell, ...]] = []
    for name in fix.parts_needed:
        rows.append((line(book.words.parts.get(name, name)), line("needed"), line("to get" if name in fix.parts_missing else "aboard"),
                     line(_part_note(fix, name, book))))
    for part in job.order if job is not None else ():
        if part.part not in fix.parts_needed:
            rows.append((line(book.words.parts.get(part.part, part.part)), line("worth having"), line("not asked"), line(part.note or "")))
    if not rows:
        return (Para(line("No parts are needed.")),)
    return (Table("Parts", ("Part", "Need", "Have", "Note"), tuple(rows)),)


def _part_note(fix: Fix, name: str, book: Book) -> str:
    job = book.jobs.get(fix.job)
    return next((part.note or "" for part in (job.order if job is not None else ()) if part.part == name), "")


# ------------------------------------------------------------------ limits


def limits(a: Assessment, book: Book) -> Section:
    """The working limits: what to do, the number, how often, and then what; and when they apply."""
    if not a.limits:
        return Section("limits", "Limits", (Para(line("None.")),))
    rows = tuple(_limit(i + 1, kept, book) for i, kept in enumerate(a.limits))
    table = Table("Limits, each with what it comes from", ("No.", "Do", "What", "Number", "How often", "And then", "From"), rows)
    return Section("limits", "Limits", (intro(_when(a)), table))


def _when(a: Assessment) -> str:
    at_sea = a.under_way is not None and a.under_way.word in ("carry on with limits", "turn back")
    if a.decision == "go with limits" or at_sea:
        return "Keep them all. Where one cannot be kept, the answer is another."
    if a.decision == "fix, then go":
        return "What is left to keep after the work."
    if not a.departure.settled:
        return "Only if the looks that are owed turn out well."
    return "They do not lift the decision above. They are what a later go would have to keep."


def _limit(number: int, kept: KeptLimit, book: Book) -> tuple[Cell, ...]:
    limit = kept.limit
    every = f"every {minutes(limit.every_minutes)}" if limit.every_minutes else ""
    return (line(str(number)), line(VERBS[limit.verb]), line(limit.say), line(limit.number or ""), line(every), line(limit.then or ""),
            line(_origin(kept.of, book)))


def _origin(name: str, book: Book) -> str:
    """What a limit comes from: a fault, a sign, or a rule with its reason."""
    if name in book.faults:
        return mid_sentence(book.faults[name].title)
    if name in book.symptoms:
        return mid_sentence(book.symptoms[name].title)
    rule = book.rules.get(name)
    return name if rule is None else f"rule: {mid_sentence(rule.title)}" if rule.title else f"rule {name}: {rule.why}"


# ------------------------------------------------------------------ arithmetic


def arithmetic(a: Assessment, book: Book) -> Section:
    """How the decision was reckoned, and the budget of each leak."""
    parts = [Section("risks", "The decision", _risks(a, book))]
    parts += [Section(f"leak-{leak.fluid}", FLUIDS[leak.fluid], _leak(leak, book)) for leak in a.leaks]
    made = [w for w in a.workings if w.result is not None]
    parts += [Section("sums", "Signs worked out of readings", tuple(_sum(w) for w in made))] if made else []
    return Section("arithmetic", "The arithmetic", (), tuple(parts))


def _sum(working: Working) -> Facts:
    return Facts((
        ("Sign", line(strong(working.title))),
        ("Formula", line(working.formula)),
        ("With", line(with_units("; ".join(working.numbers)))),
        ("Gives", line(result_of(working))),
    ))


def _risks(a: Assessment, book: Book) -> tuple[Block, ...]:
    departure = a.departure
    ways: list[tuple[str, Risk]] = [("As she is", departure.going)]
    ways += [("With the limits kept", departure.with_limits)] if departure.with_limits is not None else []
    ways += [("After the work", departure.after_fix)] if departure.after_fix is not None else []
    ways.append(("Found sound today", departure.on_the_way))
    rows = tuple(_risk_row(kind, title, [risk for _, risk in ways], a) for kind, title in book.words.consequences.items()
                 if kind in departure.going.worst_at_least)
    losses: tuple[Cell, ...] = (line("Expected loss, in hours of delay"), *(line(hours(risk.expected_hours)) for _, risk in ways),
                                line(hours(departure.stay_hours / departure.ratio)))
    head = ("This, or worse, on the trip", *(name for name, _ in ways), "Most this trip allows")
    words = (
        f"Staying is taken to cost {hours(departure.stay_hours)} of delay. Going is the answer only where its expected loss is under a "
        f"{_ordinal(departure.ratio)} of that. Each consequence is given a cost in hours of delay that one would accept to avoid it; "
        "from it follows the most that this trip allows. ‘Found sound today’ is what the same boat would risk with nothing wrong now.")
    costs = "; ".join(f"{mid_sentence(book.words.consequences[kind])} {departure.losses[kind]:g} h"
                      for kind in book.words.consequences if kind in departure.losses)
    return (Para(line(words)), Table("Chances on this trip, from what the signs speak for", head, (*rows, losses), figures=True),
            Para(line(f"Costs taken: {costs}."), "small"))


def _ordinal(ratio: float) -> str:
    return {2.0: "half", 3.0: "third", 4.0: "quarter"}.get(ratio, f"{ratio:g}th part")


def _risk_row(kind: Consequence, title: str, risks: list[Risk], a: Assessment) -> tuple[Cell, ...]:
    allowed = a.departure.line.get(kind)
    return (line(title), *(line(in_100(risk.worst_at_least.get(kind, 0.0))) for risk in risks),
            line("any" if allowed is None or allowed >= 1.0 else in_100(allowed)))


def _leak(leak: LeakBudget, book: Book) -> tuple[Block, ...]:
    symptom = book.symptoms.get(leak.symptom)
    low, high = leak.measured_ml_h
    seen = f"{low:g} mL an hour" if low == high else f"{low:g} to {high:g} mL an hour"
    rows: list[tuple[str, Line]] = [
        ("Verdict", line(strong(leak.verdict))),
        ("Arithmetic", line(leak.arithmetic)),
        ("Seen at", line(mid_sentence(symptom.title) if symptom is not None else leak.symptom)),
        ("As it was seen", line(seen)),
        ("Planned at", line(f"{leak.planned_ml_h:.2g} mL an hour; a leak grows with revs, heat and hours")),
    ]
    if leak.fluid == "coolant":
        rows.append(("At that rate it lasts", line(hours(leak.lasts_hours))))
    if leak.top_up_litres and leak.top_up_every_hours:
        rows.append(("Top up", line(f"{leak.top_up_litres * 1000:.0f} mL every {hours(leak.top_up_every_hours)}")))
    return (Facts(tuple(rows)),)
