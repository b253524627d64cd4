"""Why one fault stands where it stands: for, against, rules fired, rivals, and what would settle it."""

from __future__ import annotations

from diagnose.assessment import Assessment, Ranked
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Fault, Source
from diagnose.show.layout import Page
from diagnose.show.nextlook import why_not, why_now
from diagnose.show.words import band, in_hundred, minutes
from diagnose.show.workingwords import sums
from diagnose.wording import mid_sentence

STROKE_DB = 3.0


def explain_page(a: Assessment, book: Book, line: Ranked, width: int, *, numbers: bool = False) -> Page:
    """The page of one fault in one case."""
    fault = book.faults[line.fault]
    page = Page(width)
    page.line(fault.title.upper(), "bold")
    page.labelled("chance", f"{in_hundred(line.probability)} of 100 boats with these signs ({band(line.probability)}), "
                  f"place {line.place}; {line.urgency.say}")
    if len(fault.stages) > 1:
        page.labelled("stage", "; ".join(f"{s.title} {in_hundred(line.stages[s.id])} in 100" for s in fault.stages))
    page.labelled("what it is", fault.why)
    _ledger(page, a, line, numbers)
    _sums(page, a, line)
    _rules(page, a, line)
    _rivals(page, a, book, fault)
    _next_look(page, a, book)
    _cure(page, book, fault)
    page.labelled("source", source_words(fault.source, book))
    page.labelled("rate", f"about {fault.rate.per_year:g} a boat-year, give or take {fault.rate.spread:g} times; "
                  f"{source_words(fault.rate.source, book)}")
    return page


def _ledger(page: Page, a: Assessment, line: Ranked, numbers: bool) -> None:
    seen = {s.id: f"{s.title}: {s.seen}" for s in a.observations}
    ledger = line.ledger
    page.line()
    page.labelled("FOR AND AGAINST", "one stroke is about twice as likely (+) or half as likely (-)", "bold", label_width=18)
    page.labelled("  before", f"any boat like this, nothing looked at{_db(ledger.prior, numbers)}", label_width=14)
    for entry in ledger.lines:
        what = "; ".join(seen.get(o, o) for o in entry.observations)
        page.labelled(f"  {_strokes(entry.given_rest):<10}", f"{entry.group} ({what}){_db(entry.given_rest, numbers)}"
                      + (f" [alone {entry.alone:+.1f}]" if numbers else ""), label_width=14)
    if abs(ledger.shared) >= 0.05:
        page.labelled(f"  {_strokes(ledger.shared):<10}", f"what counts only together: several signs that say the same or bear "
                      f"each other out{_db(ledger.shared, numbers)}", label_width=14)
    page.labelled("  now", f"{in_hundred(line.probability)} in 100{_db(ledger.posterior, numbers)}", label_width=14)


def _strokes(decibans: float) -> str:
    count = min(8, round(abs(decibans) / STROKE_DB))
    return ("+" if decibans > 0 else "-") * count if count else "."


def _db(value: float, numbers: bool) -> str:
    return f"  {value:+.1f} db" if numbers else ""


def _sums(page: Page, a: Assessment, line: Ranked) -> None:
    own = {o for entry in line.ledger.lines for o in entry.observations}
    worked = {(s.symptom, s.state) for s in a.observations if s.id in own}
    made = [w for w in a.workings if w.result is not None and (w.symptom, w.state) in worked]
    if made:
        page.line()
        page.line("WORKED OUT", "bold")
    for working in made:
        sums(page, working)


def _rules(page: Page, a: Assessment, line: Ranked) -> None:
    own = {o for entry in line.ledger.lines for o in entry.observations}
    fired = [f for f in a.trace if own & set(f.observations)]
    if fired:
        page.line()
        page.labelled("RULES FIRED", "conclusions from the same observations; they stop and advise, they never weigh twice", "bold",
                      label_width=14)
    for firing in fired:
        page.labelled(f"  {firing.rule}", "", label_width=4)
        page.labelled("    from", "; ".join(firing.used))
        page.labelled("    made", "; ".join(firing.made) + (f": {firing.say}" if firing.say else ""))
        page.labelled("    because", firing.why)


def _rivals(page: Page, a: Assessment, book: Book, fault: Fault) -> None:
    page.line()
    page.line("TOLD FROM", "bold")
    for rival in fault.told_from:
        other, check = book.faults[rival.fault], book.checks[rival.by]
        page.labelled("  rival", f"{other.title} ({in_hundred(a.all_probabilities.get(rival.fault, 0.0))} in 100): "
                      f"{mid_sentence(check.title)} ({minutes(check.cost.first_time)})")
        for reading in check.reading:
            grades = "; ".join(f"{mid_sentence(book.symptoms[s].title)}: {g}" for s, g in reading.seen.items())
            page.labelled("", f"{grades}: {reading.means}", label_width=13)
    if fault.known_gap:
        page.labelled("  gap", fault.known_gap)
    settle = [c for c in a.checks if set(book.checks[c.check].tells) & {s.symptom for s in fault.shows if s.symptom}]
    for look in settle[:2]:
        page.labelled("  settles", f"{look.title}: {look.why_now}")


def _next_look(page: Page, a: Assessment, book: Book) -> None:
    """The look to make next in this case, why it comes now, and why the others come after it."""
    page.line()
    if not a.checks:
        page.labelled("NEXT LOOK", "None. No look that can be made now would change the answer by enough to be worth its time.", "bold")
        return
    first = a.checks[0]
    page.labelled("NEXT LOOK", f"{first.title}.  {minutes(first.minutes + first.setup_minutes)}", "bold")
    page.items("  why now", why_now(a, book))
    for look, reason in why_not(a, book):
        page.labelled("  then", f"{look.title}. {reason}")


def _cure(page: Page, book: Book, fault: Fault) -> None:
    for job in book.jobs_for.get(fault.id, ()):
        page.line()
        page.labelled("MEND", f"{job.title} (about {minutes(job.minutes.first_time)} the first time{'' if job.afloat else ', not afloat'})")
        page.labelled("  order", ", ".join(book.words.parts[p.part] + ("" if p.need == "must" else " (worth having)") for p in job.order)
                      or "nothing")
        if job.confirm_before_ordering:
            page.labelled("  confirm", "; ".join(job.confirm_before_ordering))
        for caution in job.cautions:
            page.labelled("  caution", f"{book.cautions[caution].title}. {book.cautions[caution].text}")
        page.labelled("  proof", f"{job.proof.do} Passed when: {job.proof.passes} Failed when: {job.proof.fails}")


def source_words(source: Source, book: Book) -> str:
    """Where a statement comes from, in words."""
    if source.kind == "published":
        publication = book.sources[str(source.ref)]
        return f"published: {publication.what}, {publication.edition}" + (f", {source.where}" if source.where else "")
    if source.kind == "memory":
        return f"from memory, believed to stand in: {source.believed}"
    if source.kind == "computed":
        return f"computed: {source.computed}"
    return "common practice"
