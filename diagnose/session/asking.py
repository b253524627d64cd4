"""Questions made from the book: each from what it is about, ready to be put."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diagnose.assessment import Assessment, LookState, SuggestedCheck
from diagnose.knowledge.book import Book
from diagnose.knowledge.lists import BoatFact
from diagnose.knowledge.model import Band, Check, EngineState, Measurand, Symptom
from diagnose.session.amounts import band_words, shown_unit
from diagnose.session.match import CLOSE, NEAR, Reading
from diagnose.session.progress import ENOUGH, LOOK_ON, STARTED, cheapest, minutes_of
from diagnose.session.questions import Careful, Choice, Draft, Look, Question
from diagnose.session.words import Piece
from diagnose.wording import mid_sentence

KEEP, ASIDE, YES = "keep", "aside", "yes"
READ_OFF = "measurand"
NO_CHANGE = "none"
AT_SEA = ", at sea"
ENGINE_NOW: tuple[tuple[str, str], ...] = (
    ("cold-stopped", "stopped and cold: not run for two hours or more"),
    ("warm-stopped", "stopped, still warm"),
    ("idle", "running, out of gear"),
    ("under-load", "running in gear, tied up"),
    (f"under-load{AT_SEA}", "under way, engine driving"),
    (f"warm-stopped{AT_SEA}", "under way or at anchor out there, engine stopped"),
)
SINCE: tuple[tuple[str, str], ...] = (
    (NO_CHANGE, "none of these"), (STARTED, STARTED), ("topped up", "topped up with anything"),
    ("opened or worked on", "opened or worked on"), ("moved", "moved to another place"),
)
START_LIST = (
    "belt on and tight, guards back", "every cap, cover and lid on", "tools, rags and paper out of the way of belts",
    "the engine's seacock open, its handle along the pipe", "battery switched on", "gear in neutral",
    "sleeves, hair and cords clear; nobody by the propeller", "air moving: exhaust gas has no smell", "somebody at the stop",
)
"""What everyone owes before a start. Common practice; the engine's own book comes first."""
GEAR_LIST = ("good lines on strong points, springs set", "nobody near the propeller or the lines", "somebody at the lever the whole time",
             "hands and clothes out of the engine space")
STOP_LIST = ("out of gear, a few minutes at idle", "then stop her, and let what is hot stay shut")
AT_SEA_FIRST = "only with room and depth about her, clear of danger, somebody at the helm"
STILL_WARM = "she is still warm: back of the hand first, nothing opened that holds heat or pressure"
PUT_OFF = "You put it off, and nothing else is left before she changes state or the decision is told. l once more leaves it."
RECKONED = "It is worked out of readings: r asks them one after another. One can be typed as read, with its unit."
COLD_LIST = ("two hours or more since she stopped, or a hand rests on the header tank with ease",)
STATE_WORDS: dict[EngineState, str] = {"cold-stopped": "cold", "warm-stopped": "stopped", "idle": "start", "under-load": "gear"}
"""The word that says a state was reached."""
SHORT_OF: dict[EngineState, str] = {"cold-stopped": "cold", "warm-stopped": "stopped", "idle": "idling", "under-load": "in gear"}


def opening(number: int) -> Question:
    """The first question: what was noticed, in the person's own words."""
    return Question("opening", "What did you notice? Your own words; several things at once are fine.", number, free="words",
                    lines=("Nothing special? Type the word nothing, and she is looked over.",))


def also(number: int, ask: str = "What else did you notice? Your own words.") -> Question:
    """More words in the middle of a session."""
    return Question("also", ask, number, free="words")


def engine_now(number: int, state: EngineState | None, ask: str = "How is the engine now?") -> Question:
    """In which state the engine is, whatever was noticed when."""
    choices = tuple(Choice(str(i + 1), text, name) for i, (name, text) in enumerate(ENGINE_NOW))
    return Question("engine", ask, number, state, choices=choices)


def state_of(choice: Choice) -> EngineState:
    """The engine state that a choice stands for."""
    return choice.id.removesuffix(AT_SEA)  # type: ignore[return-value]


def since(number: int, state: EngineState | None) -> Question:
    """What happened to her while the session lay."""
    ask = "Since then, has she been any of these? Several numbers are fine: 2 3."
    choices = tuple(Choice(str(i), text, name) for i, (name, text) in enumerate(SINCE))
    return Question("since", ask, number, state, choices=choices, free="several")


def reading(book: Book, number: int, state: EngineState | None, piece: Piece, found: Sequence[Reading],
            read_off: Sequence[tuple[Measurand, str | None]] = ()) -> Question:
    """What a piece of plain words was meant to say: the nearest entries with their grades, and the words kept as a way out."""
    near = [r for r in found if r.score >= NEAR]
    close = len(near) > 1 and near[1].score >= CLOSE * near[0].score
    listed = [(f"{kind.title}: {shown_value(value) if value else 'a reading, its unit is asked'}", f"{READ_OFF}:{kind.id}:")
              for kind, value in read_off]
    before = len(listed)
    listed += [(_reading_words(book, r), f"{r.kind}:{r.id}:{r.grade or ''}") for r in found]
    listed += [("nothing to do with the engine: leave it out", ASIDE), ("none of these: keep my words as they are", KEEP)]
    choices = [Choice(str(i + 1), text, name) for i, (text, name) in enumerate(listed)]
    lines = []
    if close:
        lines = [f"To tell {i + 1 + before}: {book.symptoms[r.id].ask}" for i, r in enumerate(found)
                 if r.kind == "symptom" and r.score >= CLOSE * near[0].score]
    if found and found[0].unused and not read_off:
        lines.append(f"Not used: {', '.join(found[0].unused)}.")
    offered = "Is it this, or another?" if near or read_off else "Nothing in the book comes close. Nearest:"
    ask = "Which of these is it?" if close and not read_off else offered
    return Question("reading", ask, number, state, about=piece.key, words=piece.text, choices=tuple(choices), lines=tuple(lines))


def _reading_words(book: Book, found: Reading) -> str:
    if found.kind == "event":
        return f"{book.events[found.id].title} (something that happened)"
    symptom = book.symptoms[found.id]
    return symptom.title if found.grade is None else f"{symptom.title}: {grade_words(symptom, found.grade)}"


def shown_value(value: str) -> str:
    """A number with its unit as it is shown."""
    return value.replace("delta_", "").replace("degC", "°C").replace("degF", "°F")


def measurand(found: Measurand, number: int, engine: EngineState | None, draft: Draft, of: Question | None) -> Question:
    """A number to be read off an instrument."""
    return Question("measurand", found.ask, number, engine, title=found.title, about=found.id, free="number", unit=shown_unit(found.unit),
                    words=draft.note or "", draft=draft, of=of, skips=("x", "l"))


def read_when(found: Measurand, number: int, engine: EngineState | None, draft: Draft, of: Question | None) -> Question:
    """In which state of the engine a number was read."""
    choices = tuple(Choice(str(i + 1), SHORT_OF[state], state) for i, state in enumerate(found.states))
    return Question("when", f"{found.title}, {shown_value(draft.value)}: how was the engine when it was read?", number, engine,
                    about=found.id, choices=choices, words=draft.note or "", draft=draft, of=of)


def revs(number: int, engine: EngineState | None, draft: Draft, of: Question | None) -> Question:
    """At which revs the readings of one state were taken; asked once for each state."""
    how = SHORT_OF[draft.state] if draft.state is not None else ""
    return Question("revs", f"At how many revs were the readings {how} taken? A number of rpm.", number, engine, about=draft.reading,
                    free="number", draft=draft, of=of, skips=("u",), lines=("What is worked out of them hangs on the revs.",))


def which_reading(found: Sequence[Measurand], typed: str, number: int, engine: EngineState | None, draft: Draft, of: Question) -> Question:
    """Which of several readings in one unit a number is."""
    choices = tuple(Choice(str(i + 1), kind.title, kind.id) for i, kind in enumerate(found))
    return Question("which", f"{typed}: which reading is it?", number, engine, about=of.about, choices=choices, typed=typed, draft=draft,
                    of=of)


def cool(number: int, engine: EngineState | None, since: str) -> Question:
    """Whether an engine lately hot is cold: told by hand before anything that holds heat or pressure is opened."""
    return Question("cool", "Lay the back of a hand near the header tank, then the hand on it. Can it rest there with ease?", number,
                    engine, about="cold-stopped", choices=(Choice("1", "yes, it is cool to the hand", YES),
                                                   Choice("2", "no, or not sure", "no")),
                    lines=(f"{since} Hot coolant is under pressure: no cap is opened before she is cool.",))


def trip(book: Book, number: int, state: EngineState | None) -> Question:
    """Which trip the decision is for."""
    choices = tuple(Choice(str(i + 1), e.title, name) for i, (name, e) in enumerate(book.words.exposures.items()))
    ask = "Which trip is it for? Add engine hours, and sail if she can sail home: such as 2, 6 h, sail."
    return Question("trip", ask, number, state, choices=choices, free="trip", skips=("l",),
                    lines=("l: no trip in mind yet. Then four engine hours are taken, along the coast.",))


def fact(found: BoatFact, number: int, state: EngineState | None) -> Question:
    """A fact of the boat that switches something now in play."""
    if found.values is not None:
        choices = tuple(Choice(str(i + 1), text, name) for i, (name, text) in enumerate(found.values.items()))
    elif found.flag:
        choices = (Choice("1", "yes", YES), Choice("2", "no", "no"))
    else:
        choices = ()
    return Question("fact", found.ask, number, state, title=found.title, about=found.id, choices=choices,
                    free="" if choices else "number", unit=found.unit or "", skips=("u",), lines=(f"Why it is asked: {found.why}",))


def grade_words(symptom: Symptom, grade: str) -> str:
    """A grade in plain words; of a measured symptom its band, and what the book says of it."""
    told = symptom.grades[grade]
    if isinstance(told, Band):
        band = band_words(told, symptom.measure.unit if symptom.measure is not None else "1")
        return f"{band}: {told.says}" if told.says else band
    return told


def symptom(found: Symptom, number: int, state: EngineState, *, engine: EngineState | None, look: Look | None = None, words: str = "",
            again: str = "") -> Question:
    """A symptom with its grades, the healthy one first as 0; `state` is the one it is judged in, `engine` the one she is in."""
    choices = tuple(Choice(str(i), grade_words(found, grade), grade) for i, grade in enumerate(found.grades))
    unit = shown_unit(found.measure.unit) if found.measure is not None else ""
    free = "number" if found.measure is not None else "rate" if found.leak is not None else ""
    return Question("symptom", found.ask, number, engine, title=found.title, about=f"{found.id}@{state}", choices=choices,
                    free=free, unit=unit, look=look, words=words, again=again, skips=("u", "x", "l"),  # type: ignore[arg-type]
                    lines=(RECKONED,) if found.worked_out else ())


def gate(number: int, now: EngineState, to: EngineState, put_back: Sequence[str], waiting: Sequence[str], ask: str = "",
         at_sea: bool = False) -> Question:
    """A change of the engine's state, with what is to be put back and gone through before it."""
    told: dict[EngineState, tuple[str, tuple[str, ...]]] = {
        "idle": ("Out of gear again?", ("out of gear, idling",)) if now == "under-load" else
                ("Start her? Go through the list, saying each aloud.", START_LIST),
        "under-load": ("Put her in gear? First go through this.", GEAR_LIST),
        "warm-stopped": ("Stop her?", STOP_LIST),
        "cold-stopped": ("Has she gone cold?", COLD_LIST),
    }
    question, listed = told[to]
    listed = () if ask else listed
    word = "idle" if now == "under-load" and to == "idle" else STATE_WORDS[to]
    lines = (*((AT_SEA_FIRST,) if at_sea else ()), *listed, *((f"It is for: {'; '.join(waiting)}.",) if waiting else ()))
    return Question("gate", ask or question, number, now, about=to, choices=(Choice(word, "when it is so", to),), lines=lines,
                    put_back=tuple(put_back), skips=("l",))


def settled(number: int, state: EngineState | None, decision: str, waiting: Sequence[str]) -> Question:
    """The decision stands, and looks are left that would only tell what to mend."""
    return Question("settled", "The look-over is made, and the decision can be told. Looks left would save time and work, mostly in the "
                    "mend. Go on?", number, state, about=decision,
                    choices=(Choice("1", "look on", LOOK_ON), Choice("2", "enough: tell me the decision", ENOUGH)),
                    lines=(f"Left: {'; '.join(waiting)}.",) if waiting else ())


def end(number: int, state: EngineState | None) -> Question:
    """Nothing is left to ask; what was answered can still be changed."""
    ask = "Anything to change? change N, a for something more you noticed, all for the whole page, q to leave."
    return Question("end", ask, number, state)


# ------------------------------------------------------------------ looks


def look_of(book: Book, assessment: Assessment, found: SuggestedCheck, left: Sequence[SuggestedCheck], opened: Sequence[str]) -> Look:
    """A check worth making, with why it is the one now and not the others that are left."""
    asking = next((h for h in assessment.holds if h.first_look == found.check), None)
    about = found.why_now.partition(":")[0]
    why = f"a stop asks for it first. It tells most of: {about}." if asking else f"it tells most of: {about}."
    if found.together_with:
        why += f" Best in one go with: {'; '.join(mid_sentence(book.checks[c].title) for c in found.together_with)}."
    also = [f"{mid_sentence(other.title)} ({_why_later(found, other)})" for other in left if other.check != found.check]
    check = book.checks[found.check]
    return replace(_made_by(book, check, opened), title=found.title, minutes=found.minutes + found.setup_minutes, why=why,
                   also=tuple(also), suggested=found, whole=True)


def _made_by(book: Book, check: Check, opened: Sequence[str]) -> Look:
    """A look as its check tells it."""
    return Look(check.id, check.title, minutes_of(book, check), _set_ups(book, check, opened), _cautions(book, check), check.steps,
                check.restore)


def _why_later(now: SuggestedCheck, other: SuggestedCheck) -> str:
    if other.check in now.together_with:
        return "right after it"
    return "worth less for its minutes" if other.needs == now.needs else f"when she is {SHORT_OF[other.needs]}"


def look_over_of(book: Book, line: LookState, check: Check | None, opened: Sequence[str], owed: int) -> Look:
    """A line of the look-over, made by its quickest check: its own minutes, and those of the set-ups that are not so yet; `owed` are all
    the lines that a departure waits for."""
    told = next(look for look in book.look_over.looks if look.id == line.id)
    more = f", and for {owed - 1} more of the look-over" if owed > 1 else ""
    why = f"A go of any kind waits for it{more}. {told.why}"
    if check is None:
        return Look("", line.title, line.minutes, why=why)
    there = _opened_by(book, opened)
    minutes = line.minutes + sum(book.words.setups[s].minutes for s in check.needs.setups if s not in there)
    return replace(_made_by(book, check, opened), title=line.title, minutes=minutes, why=why)


def promised_of(book: Book, words: str, name: str, state: EngineState, opened: Sequence[str]) -> Look:
    """A thing the person said was not so: asked all the same, at the engine."""
    check = cheapest(book, name, state)
    why = f"you said '{words}'; said from memory that is no look."
    if check is None:
        return Look("", book.symptoms[name].title, 1.0, why=why)
    return replace(_made_by(book, check, opened), why=why)


def asked_of(book: Book, name: str, state: EngineState, opened: Sequence[str], check: Check | None = None) -> Look | None:
    """How a symptom is looked at, by this check or else its quickest; None where there is none in this state."""
    check = check or cheapest(book, name, state)
    return _made_by(book, check, opened) if check is not None else None


def _set_ups(book: Book, check: Check, opened: Sequence[str]) -> tuple[str, ...]:
    there = _opened_by(book, opened)
    return tuple(f"{book.words.setups[s].title}{' (is so)' if s in there else ''}" for s in check.needs.setups)


def _opened_by(book: Book, opened: Sequence[str]) -> set[str]:
    """The set-ups of some checks."""
    return {s for name in opened if name in book.checks for s in book.checks[name].needs.setups}


def _cautions(book: Book, check: Check) -> tuple[Careful, ...]:
    return tuple(Careful(book.cautions[c].title, book.cautions[c].text) for c in check.cautions)
