"""The triage page: may I leave, what do my hands do now, the rule to live by, what it is, what nobody looked at.

The order is that of the person at the engine. The last line repeats the first, for a terminal keeps its bottom
in view. Shape carries the meaning alone; the one colour only ever means 'this stops you'.
"""

from __future__ import annotations

from diagnose.assessment import Assessment, KeptLimit, Ranked, SuggestedCheck, UnderWay
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import RUNNING
from diagnose.rank import speaks_for
from diagnose.show.layout import ALARM, Page
from diagnose.show.nextlook import why_not, why_now
from diagnose.show.words import SHORT_STATES, STATES, band, in_hundred, literal, minutes, plural
from diagnose.show.workingwords import measured
from diagnose.wording import mid_sentence

LEAST_LISTED = 0.02
MOST_LISTED = 5
MOST_ASSUMED = 6
LIKELY_ENOUGH = 0.6
"""Below this chance of curing what is there a mend is told as one for the case that it is so."""
WORTH_NAMING = 0.01
"""A chance below one in a hundred is not worth a line of its own."""


def title_of(assessment: Assessment) -> tuple[str, str]:
    """The word of the decision as printed, and its mark."""
    if assessment.decision == "stay" and not assessment.departure.settled:
        return "NOT YET", "#?#"
    return {
        "stay": ("STAY", "###"),
        "fix, then go": ("FIX, THEN GO", "##>"),
        "go with limits": (f"GO, WITH {plural(len(assessment.limits), 'LIMIT').upper()}", "##"),
        "go": ("GO", "#"),
    }[assessment.decision]


def triage_page(a: Assessment, book: Book, width: int) -> Page:
    """The page of one assessment, `width` columns wide."""
    page = Page(width)
    _holds(page, a)
    if a.under_way is not None:
        _at_sea(page, a.under_way)
    _decision(page, a)
    _next(page, a, book)
    _limits(page, a)
    _fixes(page, a, book)
    _ranking(page, a, book)
    _gaps(page, a)
    _last(page, a)
    return page


def _holds(page: Page, a: Assessment) -> None:
    if not a.holds:
        return
    stops = {"run": "STOP HER", "start": "DO NOT START", "leave": "DO NOT LEAVE", "open": "DO NOT OPEN"}
    page.rule()
    for hold in a.holds[:3]:
        page.labelled(stops[hold.stops], hold.say, ALARM, label_width=14)
        page.labelled("  lifted by", hold.cleared_by, label_width=14)
        page.labelled("  allowed", hold.allowed, label_width=14)
        page.labelled("  overruled", f"by {hold.overridden_by}", label_width=14)
    if len(a.holds) > 3:
        page.line(f"and {plural(len(a.holds) - 3, 'more stop')}; see explain")
    page.rule()


def _at_sea(page: Page, at_sea: UnderWay) -> None:
    """The answer for an engine that runs now; what the berth would say comes after it."""
    word = at_sea.word.upper()
    page.labelled("NOW", f"{word}. {at_sea.headline}", "bold" if at_sea.word == "carry on with limits" else ALARM)
    page.items("because", at_sea.because)
    page.line()


def _decision(page: Page, a: Assessment) -> None:
    word, mark = title_of(a)
    alarm = ALARM if a.decision == "stay" and a.departure.settled else "bold"
    if a.under_way is not None:
        word = f"IN HARBOUR: {word}"
    hours = f", {a.engine_hours:g} engine h" if a.engine_hours is not None else ""
    page.labelled(word, a.departure.headline, alarm, label_width=max(11, len(word) + 2))
    page.labelled(mark, f"{a.boat}{hours}: {a.title}")
    if a.scope.not_judged and a.decision != "stay":
        page.labelled("for", f"{', '.join(s.lower() for s in a.scope.judged)} only. The rest is not judged.")
    lost = a.departure.going.worst_at_least.get("engine-lost", 0.0)
    line = a.departure.line.get("engine-lost", 1.0)
    gas = a.departure.going.worst_at_least.get("gas", 0.0)
    breathed = f", {in_hundred(gas)} of them exhaust gas where people are" if gas >= WORTH_NAMING else ""
    page.labelled("chance", f"no engine, or worse, before you arrive: {in_hundred(lost)} in 100 from what the signs speak for{breathed}; "
                  f"the line for this trip is {in_hundred(line)}. The same boat found sound today would risk "
                  f"{in_hundred(a.departure.on_the_way.worst_at_least.get('engine-lost', 0.0))} on it.")
    page.items("because", a.departure.because[:3])
    if not a.departure.settled and a.decision == "stay" and a.departure.so_far != "stay":
        page.labelled("so far", f"{a.departure.so_far}, if the looks owed find nothing.")
    if lost >= WORTH_NAMING:
        page.labelled("even", f"{a.departure.break_even}.")


def _next(page: Page, a: Assessment, book: Book) -> None:
    stopped = any(hold.keeps_stopped for hold in a.holds)  # a stop takes away every look that would break it
    missing = [look for look in a.look_over if look.owed and not (stopped and look.needs in RUNNING)]
    if missing and a.under_way is None:
        page.line()
        total = sum(look.minutes for look in missing)
        page.labelled("LOOK OVER", f"owed before any start, {minutes(total)} in all: " + "; ".join(
            f"{mid_sentence(look.title)}{' (too long ago)' if look.state == 'stale' else ''}" for look in missing))
    if not a.checks:
        page.line()
        if missing and a.under_way is not None:
            page.labelled("DO NEXT", "No look under way would change the answer. The look-over waits for the berth.")
        elif missing:
            page.labelled("DO NEXT", "The look-over above. No other look would change the answer.")
        elif stopped:
            page.labelled("DO NEXT", "What lifts the stop above. No other look would change the answer.")
        else:
            page.labelled("DO NEXT", "Enough looked at. No further look would change the answer.")
        return
    page.line()
    first = a.checks[0]
    page.labelled("DO NEXT", f"{first.title}.  {minutes(first.minutes + first.setup_minutes)}", "bold")
    _check(page, first, book)
    page.items("  why now", why_now(a, book))
    for check, reason in why_not(a, book):
        page.labelled("then", f"{check.title}  ({minutes(check.minutes)}"
                      f"{f' and {minutes(check.setup_minutes)} to get there' if check.setup_minutes else ''}, "
                      f"{SHORT_STATES[check.needs]}). {reason}")


def _check(page: Page, check: SuggestedCheck, book: Book) -> None:
    page.labelled("  state", STATES[check.needs])
    if check.setups:
        page.labelled("  first", "; ".join(check.setups))
    for caution in check.cautions:
        page.labelled("  caution", f"{book.cautions[caution].title}. {book.cautions[caution].text}", ALARM)
    page.items("  how", check.steps)
    if check.restore:
        page.items("  put back", check.restore)
    for result in check.results[:3]:
        seen = ", ".join(grade.replace("-", " ") for grade in result.seen.values())
        title = book.faults[result.first].title if result.first in book.faults else result.first
        page.labelled(f"  {in_hundred(result.chance)} in 100", f"{seen}: then {mid_sentence(title)} "
                      f"{in_hundred(result.first_probability)} in 100" + (f". {result.means}" if result.means else ""),
                      label_width=13)


def before_words(a: Assessment) -> str:
    """What is said of a sign that was seen before the work, and whether it counts."""
    return " (before the work)" if a.counts_before else " (before the work, not counted)"


def limit_words(kept: KeptLimit) -> str:
    """A limit in a sentence: what to do, the number, how often; and what to do once it is passed, or what follows the stop or the turn."""
    limit = kept.limit
    number = f" ({limit.number})" if limit.number else ""
    every = f", every {minutes(limit.every_minutes)}" if limit.every_minutes else ""
    after = "Then:" if limit.verb in ("stop", "turn") else "Past it:"
    return f"{limit.say.rstrip('.')}{number}{every}." + (f" {after} {mid_sentence(limit.then)}" if limit.then else "")


def _limits(page: Page, a: Assessment) -> None:
    at_sea = a.under_way is not None and a.under_way.word in ("carry on with limits", "turn back")
    if a.limits and (a.decision == "go with limits" or not a.departure.settled or at_sea):
        page.line()
        page.line("LIMITS" if a.decision == "go with limits" or at_sea else "LIMITS     only if the looks turn out well")
        for i, kept in enumerate(a.limits[:4]):
            page.labelled(f"  {i + 1} {kept.limit.verb}", limit_words(kept))
    for leak in a.leaks:
        page.labelled("  leak", f"{leak.arithmetic}: {leak.verdict}.")


def _fixes(page: Page, a: Assessment, book: Book) -> None:
    if not a.fixes or a.decision == "go":
        return
    page.line()
    for fix in a.fixes[:2]:
        parts = f"parts still to get: {', '.join(fix.parts_missing)}" if fix.parts_missing else "parts aboard"
        label, doubt = ("MEND", "") if fix.chance >= LIKELY_ENOUGH else ("IF SO", f"find out first, for {in_hundred(fix.chance)} in 100: ")
        page.labelled(label, f"{doubt}{fix.title} (about {minutes(fix.minutes)}; {parts}{'' if fix.afloat else '; not afloat'})")
        if fix.cautions:
            page.labelled("  caution", "; ".join(book.cautions[c].title for c in fix.cautions), ALARM)
        page.labelled("  proof", f"{fix.proof} Passed when: {fix.proof_passes}")


def _ranking(page: Page, a: Assessment, book: Book) -> None:
    page.line()
    page.line("WHAT IT IS              of 100 boats with these signs", "bold")
    shown = [r for r in a.ranking if r.relation == "none of these" or (r.probability >= LEAST_LISTED and spoken_for(r))]
    shown = shown[:MOST_LISTED] + [r for r in shown[MOST_LISTED:] if r.relation == "none of these"]
    if not any(r.stages for r in shown):
        page.labelled("", "Nothing that was seen points at a fault in this book.", label_width=2)
    for line in shown:
        page.labelled(f"  {line.relation:<15}{in_hundred(line.probability):>7}   ", _fault_words(line), label_width=27)
    for unexplained in a.unexplained:
        title = mid_sentence(book.symptoms[unexplained.symptom].title)
        page.labelled("  perhaps not theirs", f"{title} ({in_hundred(unexplained.chance)} in 100 that no fault of this book made it)",
                      label_width=24)
    for advice in a.advice[:2]:
        page.labelled("  note", advice)


def spoken_for(line: Ranked) -> bool:
    """Whether what was seen speaks for the fault of this line."""
    return speaks_for(line.ledger.posterior, line.ledger.prior)


def _fault_words(line: Ranked) -> str:
    return f"{line.title} ({band(line.probability)}); {line.urgency.say}"


def _gaps(page: Page, a: Assessment) -> None:
    page.line()
    worked = {(w.symptom, w.state) for w in a.workings if w.result is not None}
    told = [s for s in a.observations if (s.note or s.epoch == "before" or not s.clear) and (s.symptom, s.state) not in worked]
    clear = [s for s in a.observations if s not in told and (s.symptom, s.state) not in worked]
    page.labelled("SEEN", "; ".join(f"{mid_sentence(s.title)}: {s.seen}"
                                    f"{before_words(a) if s.epoch == 'before' else ''}"
                                    f"{f' [{literal(s.note)}]' if s.note else ''}" for s in told)
                  or ("nothing but numbers" if worked else "nothing wrong"))
    measured(page, a)
    if clear:
        page.labelled("CLEAR", "looked for and not there: " + "; ".join(dict.fromkeys(mid_sentence(s.title) for s in clear)))
    if a.not_seen:
        page.labelled("NOT SEEN", "; ".join(a.not_seen))
    if a.assumed:
        more = len(a.assumed) - MOST_ASSUMED
        page.labelled("TAKEN AS", "; ".join(a.assumed[:MOST_ASSUMED]) + (f"; and {more} more (--json lists them)" if more > 0 else ""))
    if a.scope.not_judged:
        page.labelled("SCOPE", f"This book judges {', '.join(s.lower() for s in a.scope.judged)}. "
                      f"Not judged: {', '.join(s.lower() for s in a.scope.not_judged)}.")
    page.labelled("RULES", f"version {a.rules.version}, {a.rules.digest[:12]}. The engine's own book and local rules come first.")


def _last(page: Page, a: Assessment) -> None:
    word, mark = title_of(a)
    page.line()
    if a.under_way is not None:
        page.labelled(f">> {a.under_way.word.upper()}", a.under_way.headline, "bold", label_width=len(a.under_way.word) + 5)
        return
    page.labelled(f"{mark} {word}", f"{a.departure.headline} Holds to: {a.departure.holds_until}.",
                  ALARM if a.decision == "stay" and a.departure.settled else "bold", label_width=len(mark) + len(word) + 3)
