"""A question as text, 60 columns and wider: what is asked and its answers stand last, nearest to where one types."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.assessment import Assessment, Hold
from diagnose.knowledge.book import Book
from diagnose.session.questions import Kind, Look, Question, Undone
from diagnose.session.telling import not_read
from diagnose.show.layout import ALARM, Page
from diagnose.show.nextlook import why_not, why_now
from diagnose.show.page import limit_words, spoken_for, title_of, triage_page
from diagnose.show.words import SHORT_STATES, in_hundred, literal, minutes
from diagnose.wording import mid_sentence

LABEL = 9
RANKED = 3
STOPS = {"run": "STOP HER", "start": "DO NOT START", "leave": "DO NOT LEAVE", "open": "DO NOT OPEN"}
OWED_LOOKS = "not looked at"
"""How a reason begins that only names looks still owed: beside a settled stay they decide nothing."""
SKIPS = {"u": "u looked, unsure", "x": "x cannot see", "l": "l later"}
KEYS = (
    ("0 1 2 ...", "the line that fits; 0 is: looked, and healthy. 1? I think so, 1?? a guess"),
    ("86 C", "a number with its unit; 15 in 10 min for drops, 200 mL in 6 h for what was lost"),
    ("r", "at a sign worked out of readings: asks them one after another"),
    ("u", "looked, and unsure: between which two is asked next"),
    ("x", "cannot see or reach it. That is not healthy, it is not looked at"),
    ("l", "later. It comes back before she changes state"),
    ("b", "back: takes the last answer back; again walks further"),
    ("change 3", "answer question 3 anew; both answers stay in the record. change 3 out: what was no question is crossed out"),
    ("answers", "all answers by number"),
    ("a WORDS", "something more you noticed"),
    ("n WORDS", "a note"), ("p PATH", "a photo"),
    ("w", "why this now, and why not the others"),
    ("now", "the decision so far and the three likeliest"),
    ("all", "the whole page"),
    ("t", "the trip the decision is for"),
    ("start, gear, stopped, cold", "the engine is in that state now"),
    ("q", "leave; all is saved"),
)


PURPOSE: dict[Kind, str] = {
    "opening": "Where the questions begin hangs on what you noticed.",
    "also": "What you add is read like what you said first, and asked about.",
    "engine": "Which looks can be made now, and safely, hangs on how she is.",
    "since": "What was seen before may no longer be so. Answers of then are marked as aged by it.",
    "reading": "It says which sign of the book your words are taken for. No reading rests on words that are only kept.",
    "trip": "How much risk a go may carry hangs on the trip: how far from help, for how long, with sails or without.",
    "fact": "Which faults she can have at all hangs on how the boat is built.",
    "symptom": "It is a sign that tells likely faults from one another.",
    "unit": "The number you typed may mean two things. It is taken only once it is clear.",
    "between": "Half an answer is worth something: two lines that fit leave the others out.",
    "gate": "The looks named above can only be made once she is so. Nothing else hangs on it.",
    "settled": "Nothing more hangs on it for the decision. More looks only tell what to mend.",
    "ago": "What happened lately weighs more than what happened long ago.",
    "when": "A number says something only beside the state of the engine it was read in.",
    "revs": "What is worked out of the readings hangs on the revs at which they were taken.",
    "which": "The number fits several readings. It is taken only once it is clear which.",
    "measurand": "A sign is worked out of this number and others.",
    "cool": "No cap is opened on a hot engine: it would blow scalding coolant. The hand tells before it is opened.",
    "end": "Nothing hangs on it: every question is asked. It is only there to change or add something.",
}
"""What a question is for, where neither a look nor the book says it."""


class Narrow(Page):
    """A page whose every line fits its width."""

    def put(self, label: str, text: str, style: str = "", label_width: int = LABEL) -> None:
        """A label and its text; a label too long for its column stands on a line of its own."""
        label = literal(label)
        if label and len(label) >= label_width:
            self.labelled("", label, style, label_width=0)
            label = ""
        self.labelled(label, text, style, label_width=label_width)

    def labelled(self, label: str, text: str, style: str = "", label_width: int = LABEL) -> None:
        """A label at the left, its text wrapped beside it within the width."""
        import textwrap

        room = max(10, self.width - label_width)
        for i, part in enumerate(textwrap.wrap(literal(text), room, break_long_words=True) or [""]):
            self.line(f"{label if i == 0 else '':<{label_width}}{part}", style)


def question_page(question: Question, width: int, terms: Iterable[tuple[str, str]] = (), told: frozenset[str] = frozenset()) -> Page:
    """A question: the look and its cautions, how it is done, what is asked, the answers, what else may be typed. Cautions in
    `told` were printed whole since she last changed state; of these the title is printed."""
    page = Narrow(width)
    page.line()
    state = SHORT_STATES[question.state] if question.state is not None else ""
    head = " ".join(part for part in ("--", str(question.number or ""), state) if part)
    page.put("", (f"{head} " if head != "--" else "").ljust(min(width, 60), "-"), label_width=0)
    if question.look is not None:
        _look(page, question.look, told)
    if question.words:
        page.put("you said", f"'{question.words}'")
    if question.again:
        page.put("again", f"You said: {question.again}. That stays in the record, and the new answer beside it. Look in another way than "
                 "before, if there is one.")
    for term, meaning in terms:
        page.put("term", f"{term}: {meaning}")
    if question.put_back:
        page.line("put back first, and see that it is so:")
        for line in question.put_back:
            page.put("  [ ]", line)
    _asked(page, question)
    return page


def brief_page(question: Question, width: int) -> Page:
    """A question once more, after something else was shown: what is asked and the answers."""
    page = Narrow(width)
    page.line()
    page.put("", question.ask, "bold", label_width=0)
    for choice in question.choices:
        page.put(f"  {choice.key}", choice.text, label_width=max(5, len(choice.key) + 4))
    return page


def _look(page: Narrow, look: Look, told: frozenset[str]) -> None:
    if look.goes_on:
        page.put("", f"{look.title}, further:", label_width=0)
        return
    page.put("look", f"{look.title}. About {minutes(look.minutes)}.", "bold")
    if look.why:
        page.put("why now", look.why[0].upper() + look.why[1:])
    if look.also:
        page.put("not now", "; ".join(look.also) + ".")
    for careful in look.cautions:
        page.put("caution", f"{careful.title}." if careful.title in told else f"{careful.title}. {careful.text}", ALARM)
    if look.first:
        page.put("first", "; ".join(look.first) + ".")
    for i, step in enumerate(look.how):
        page.put("how" if i == 0 else "", step)
    if look.put_back:
        page.put("after", " ".join(look.put_back))


def _asked(page: Narrow, question: Question) -> None:
    before = question.kind in ("gate", "opening", "settled")
    if before and question.kind == "gate":
        for line in question.lines[:-1] if question.lines and question.lines[-1].startswith("It is for") else question.lines:
            page.put("  [ ]", line)
        if question.lines and question.lines[-1].startswith("It is for"):
            page.put("", question.lines[-1], label_width=0)
    if question.title and question.look is None:
        page.put("about", question.title)
    page.put("", question.ask, "bold", label_width=0)
    for choice in question.choices:
        page.put(f"  {choice.key}", choice.text, label_width=max(5, len(choice.key) + 4))
    if not before or question.kind != "gate":
        for line in question.lines:
            page.put("", line, label_width=0)
    row = ""
    for key in _keys(question):  # a key and what it means stay on one line
        if row and len(row) + 3 + len(key) > page.width:
            page.line(row)
            row = ""
        row += f"   {key}" if row else key
    page.line(row)


def _keys(question: Question) -> list[str]:
    keys = [SKIPS[k] for k in question.skips]
    if question.kind in ("trip",):
        keys = []
    if question.kind == "fact":
        keys = ["u not known"]
    if question.kind == "gate":
        keys = ["l not now", *(["x she will not"] if question.choices[0].key == "start" else [])]
    if question.free == "number" and question.kind == "symptom":
        keys.insert(0, f"or a number in {question.unit}" if question.unit else "or a number")
    if question.kind == "measurand":
        keys.insert(0, f"a number in {question.unit}" if question.unit else "a number")
    if question.free == "rate":
        keys.insert(0, "or drops: 15 in 10 min")
    if question.look is not None and question.look.suggested is not None:
        keys.append("w why")
    return [*keys, "h help", "q leave"]


def said_page(lines: Sequence[str], width: int) -> Page:
    """Sentences, one under another."""
    page = Narrow(width)
    for line in lines:
        page.put("", line, label_width=0)
    return page


def help_page(width: int) -> Page:
    """What may be typed."""
    page = Narrow(width)
    page.line()
    for key, text in KEYS:
        page.put(f"  {key}", text, label_width=13)
    page.put("", "Enter alone is no answer, and never healthy. Every answer is saved before the next question.", label_width=0)
    return page


def hold_page(holds: Sequence[Hold], at_sea: bool, running: bool, width: int) -> Page:
    """Stops that have just come up."""
    page = Narrow(width)
    for hold in holds:
        page.rule()
        page.put("", _stop_words(hold, at_sea, running), ALARM, label_width=0)
        page.put("lifted", f"by {mid_sentence(hold.cleared_by)}")
        page.put("allowed", hold.allowed)
    if holds:
        page.rule()
    return page


def _stop_words(hold: Hold, at_sea: bool, running: bool) -> str:
    """A stop in a sentence, at sea in the words it has for that; one that stops her keeps her stopped once she is."""
    if hold.stops == "run" and not running:
        return f"KEEP HER STOPPED: {hold.say_under_way or hold.say if at_sea else hold.say}"
    if at_sea and hold.stops == "leave":
        return f"IN HARBOUR, {STOPS[hold.stops]}: {hold.say_under_way or hold.say}"
    return f"{STOPS[hold.stops]}: {hold.say_under_way or hold.say if at_sea else hold.say}"


def at_sea_page(assessment: Assessment, width: int) -> Page:
    """What to do with the engine now, of a boat under way."""
    page = Narrow(width)
    at_sea = assessment.under_way
    if at_sea is not None:
        page.rule("=")
        style = "bold" if at_sea.word == "carry on with limits" else ALARM
        page.put("", f"NOW: {at_sea.word.upper()}. {at_sea.headline}", style, label_width=0)
        for because in at_sea.because[:2]:
            page.put("because", because)
        page.rule("=")
    return page


def now_page(a: Assessment, before: Assessment | None, width: int) -> Page:
    """The decision so far in a line, and the three likeliest, each with what it was when last shown."""
    page = Narrow(width)
    page.line()
    _decision(page, a)
    _three(page, a, before)
    return page


def _decision(page: Narrow, a: Assessment) -> None:
    word, mark = title_of(a)
    if a.under_way is not None:
        page.put("", f"NOW: {a.under_way.word.upper()}. {a.under_way.headline}", "bold", label_width=0)
        word = f"In harbour: {word}"
    page.put("", f"{mark} {word}. {a.departure.headline}", ALARM if a.decision == "stay" and a.departure.settled else "bold", label_width=0)
    if a.decision == "stay" and a.departure.settled and a.under_way is None:
        reasons = [because for because in a.departure.because if not because.startswith(OWED_LOOKS)]
        for because in (reasons or a.departure.because)[:2]:
            page.put("because", because)


def _three(page: Narrow, a: Assessment, before: Assessment | None) -> None:
    """Three lines of the ranking: of 100 boats with these signs, so many."""
    lines = [r for r in a.ranking if not r.stages or spoken_for(r)][:RANKED]
    if not any(r.stages for r in lines):
        page.put("", "Nothing that was seen points at a fault in this book.", label_width=0)
        return
    page.put("", "Of 100 boats with these signs:", label_width=0)
    earlier = {r.fault: r.probability for r in before.ranking} if before is not None else {}
    for line in lines:
        was = in_hundred(earlier[line.fault]) if line.fault in earlier else ""
        moved = f" (was {was})" if was and was != in_hundred(line.probability) else ""
        page.put(f"{in_hundred(line.probability):>9}", f"{line.title}{moved}", label_width=11)


def why_page(question: Question, a: Assessment | None, book: Book, width: int) -> Page:
    """Why this is asked now, and why not something else."""
    page = Narrow(width)
    page.line()
    look = question.look
    name = question.about.partition("@")[0]
    if look is not None and look.suggested is not None and a is not None and a.checks and a.checks[0].check == look.check:
        for i, reason in enumerate(why_now(a, book)):
            page.put("why now" if i == 0 else "", reason)
        for other, reason in why_not(a, book):
            page.put("not", f"{other.title}: {reason}")
    elif look is not None and look.why:
        page.put("why now", look.why[0].upper() + look.why[1:])
        for lesser in look.also:
            page.put("not now", lesser)
    if name in book.symptoms:
        symptom = book.symptoms[name]
        page.put("the sign", symptom.why)
        for mistaken in symptom.mistaken_for:
            page.put("not to be", f"mistaken for {mistaken.what}: {mistaken.told_by}.", label_width=10)
    if look is not None and look.check in book.checks:
        page.put("the look", book.checks[look.check].why)
    if name in book.facts:
        page.put("the boat", book.facts[name].why)
    if not page.text().strip():
        page.put("", PURPOSE[question.kind], label_width=0)
    return page


def answers_page(listed: Iterable[tuple[int, str, bool]], stale: Sequence[str], width: int) -> Page:
    """All answers by number; those crossed out are shown so."""
    page = Narrow(width)
    page.line()
    for number, text, stands in listed:
        page.put(f"{number:>3}", text if stands else f"crossed out: {text}", label_width=5)
    for text in stale:
        page.put("aged", text)
    return page


def end_page(a: Assessment, before: Assessment | None, undone: Sequence[Undone], kept: Sequence[str], stale: Sequence[str],
             put_back: Sequence[str], running: bool, book: Book, width: int) -> Page:
    """The decision, what it rests on and until when it holds; what was not looked at; what is still open."""
    page = Narrow(width)
    page.line()
    page.rule("=")
    if kept:
        page.put("", not_read(kept), ALARM, label_width=0)
    open_still = [u for u in undone if u.matters]
    if open_still:
        page.put("", "No look is left that can be made now. Not looked at, and it could still move the decision:", label_width=0)
        for one in open_still:
            page.put("  -", f"{one.title} ({one.why})", label_width=4)
    elif kept:
        page.put("", "No look is left that can be made now, beside what was not read.", label_width=0)
    elif a.holds:
        page.put("", "What lifts the stop comes first. No other look would change the decision.", label_width=0)
    else:
        page.put("", "Enough looked at. No further look would change the decision.", label_width=0)
    left: dict[str, list[str]] = {}
    for one in (u for u in undone if not u.matters):
        left.setdefault(one.why, []).append(mid_sentence(one.title))
    for why, titles in left.items():
        page.put("", f"Left, and it does not decide ({why}): {'; '.join(titles)}.", label_width=0)
    page.line()
    for hold in a.holds:
        stop = _stop_words(hold, a.under_way is not None, running)
        page.put("", f"{stop} Lifted by {mid_sentence(hold.cleared_by)}.", ALARM, label_width=0)
    _decision(page, a)
    _three(page, a, before)
    _what_follows(page, a, book)
    for text in stale:
        page.put("aged", text)
    if put_back:
        page.put("put back", " ".join(put_back))
    if running:
        page.put("", "She is still running. Stop her when you are done here, and type stopped.", label_width=0)
    page.put("taken as", "; ".join(a.assumed[:3]) + (f"; and {len(a.assumed) - 3} more (all lists them)." if len(a.assumed) > 3 else "."))
    page.put("holds to", f"{a.departure.holds_until}.")
    page.put("", "The engine's own book, local rules and qualified people come first.", label_width=0)
    return page


def _what_follows(page: Narrow, a: Assessment, book: Book) -> None:
    if a.limits and a.decision == "go with limits":
        for i, kept in enumerate(a.limits[:4]):
            page.put(f"{i + 1} {kept.limit.verb}", limit_words(kept))
    for leak in a.leaks if a.decision != "stay" else ():
        page.put("leak", f"{leak.arithmetic}: {leak.verdict}.")
    if a.decision != "go":
        for fix in a.fixes[:2]:
            parts = ", ".join(book.words.parts.get(p, p) for p in fix.parts_missing)
            page.put("mend", f"{fix.title}, about {minutes(fix.minutes)}; {f'still to get: {parts}' if parts else 'parts aboard'}.")
            if fix.cautions:
                page.put("caution", "; ".join(book.cautions[c].title for c in fix.cautions) + ".", ALARM)
            page.put("proof", f"{fix.proof} Passed when: {fix.proof_passes}")


class Paged:
    """A session as pages of one width; one who takes this up says where a page goes."""

    width: int

    def show(self, page: Page) -> None:
        """Put out a page.

        Raises:
            NotImplementedError: nothing was said of where it goes.
        """
        raise NotImplementedError

    def say(self, lines: Sequence[str]) -> None:
        """Sentences."""
        self.show(said_page(lines, self.width))

    def help(self) -> None:
        """What may be typed."""
        self.show(help_page(self.width))

    def question(self, question: Question, terms: Iterable[tuple[str, str]], told: frozenset[str]) -> None:
        """A whole question."""
        self.show(question_page(question, self.width, terms, told))

    def brief(self, question: Question) -> None:
        """A question once more, in short."""
        self.show(brief_page(question, self.width))

    def holds(self, holds: Sequence[Hold], at_sea: bool, running: bool) -> None:
        """Stops."""
        self.show(hold_page(holds, at_sea, running, self.width))

    def at_sea(self, found: Assessment) -> None:
        """The answer at sea."""
        self.show(at_sea_page(found, self.width))

    def now(self, found: Assessment, before: Assessment | None) -> None:
        """The decision so far."""
        self.show(now_page(found, before, self.width))

    def whole(self, found: Assessment, book: Book) -> None:
        """The whole page of an assessment."""
        self.show(triage_page(found, book, self.width))

    def why(self, question: Question, found: Assessment | None, book: Book) -> None:
        """Why a question is asked now."""
        self.show(why_page(question, found, book, self.width))

    def answers(self, listed: Iterable[tuple[int, str, bool]], stale: Sequence[str]) -> None:
        """All answers."""
        self.show(answers_page(listed, stale, self.width))

    def end(self, found: Assessment, before: Assessment | None, undone: Sequence[Undone], kept: Sequence[str], stale: Sequence[str],
            put_back: Sequence[str], running: bool, book: Book) -> None:
        """What it comes to."""
        self.show(end_page(found, before, undone, kept, stale, put_back, running, book, self.width))
