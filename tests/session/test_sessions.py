"""Whole guided sessions: on a tiny book and on the shipped one, in the process and through a pipe."""

from __future__ import annotations

import re
import stat
from datetime import timedelta
from pathlib import Path

import pytest
import tiny
from talk import START, Clock, at, command, first, go_on, healthy, kinds, leaving, log, talk

from diagnose.case import Observation
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_rules
from diagnose.record.entries import Assessed, BoatEntry, Observed, PassedOver, TripEntry, WordsEntry
from diagnose.record.fold import case_of
from diagnose.record.store import Record


@pytest.fixture(scope="session")
def shipped() -> Book:
    """The shipped rules."""
    return load_rules()


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """Where a record will lie."""
    return tmp_path / "record.sqlite3"


def observations(path: Path) -> dict[tuple[str, str | None], Observation]:
    """The observations of the only case, by symptom and state."""
    with Record.open(path, read_only=True) as record:
        return {(o.symptom, o.state): o for o in case_of(record, record.cases()[0].id).observations}


# ------------------------------------------------------------------ from words to a decision


def test_a_session_goes_from_words_to_a_decision(shipped: Book, record: Path) -> None:
    """Words, state, meaning, trip and facts come first, then cold looks, then a start with its list, and at the end the decision."""
    words = "brown crust under front pump, belt side, drips a bit, no noise"
    done = talk(shipped, record, at("reading", "1", "1", "1, 6 h, sail"), words=words)
    asked = [q.kind for q in done.asked]
    assert asked[:3] == ["engine", "reading", "reading"]
    assert asked.index("trip") < asked.index("symptom")
    assert ("coolant-pump-weep", "cold-stopped") in observations(record)
    assert "Enough looked at" in done.text
    assert re.search(r"^### STAY|^## GO|^##> FIX", done.text, re.MULTILINE)
    assert isinstance(log(record)[-1].entry, Assessed)


def test_everything_cold_comes_before_the_first_start(shipped: Book, record: Path) -> None:
    """No question that needs her running stands before the start, and after it none that needs her cold before she has cooled."""
    done = talk(shipped, record, first("temperature creeps up at cruise"))
    states = [q.about.partition("@")[2] for q in done.asked if q.kind == "symptom" and q.look is not None]
    assert "idle" in states or "under-load" in states
    running = min(states.index(s) for s in ("idle", "under-load") if s in states)
    assert set(states[:running]) == {"cold-stopped"}
    started = next(i for i, q in enumerate(done.asked) if q.kind == "gate" and q.about == "idle")
    assert all(q.state == "cold-stopped" for q in done.asked[1:started] if q.kind == "symptom")


def test_the_look_over_says_how_much_of_it_is_left(shipped: Book, record: Path) -> None:
    """Each of its questions says how many more lines a departure waits for, fewer as they are answered, and none at the last."""
    done = talk(shipped, record, first("nothing"))
    told = [re.search(r"A go of any kind waits for it(?:, and for (\d+) more of the look-over)?\.", q.look.why)
            for q in done.asked if q.look is not None and q.look.why]
    left = [int(found[1] or 0) for found in told if found is not None]
    assert len(left) > 5
    assert left == sorted(left, reverse=True)
    assert left[0] >= len(set(left)) - 1 > 3


def test_before_a_start_what_was_opened_is_put_back(shipped: Book, record: Path) -> None:
    """The list before the start names what this session opened, computed from the looks that were made."""
    done = talk(shipped, record, first("brown crust under the coolant pump"))
    start = next(q for q in done.asked if q.kind == "gate" and q.about == "idle")
    made = {s.entry.check for s in log(record) if isinstance(s.entry, Observed) and s.entry.check}
    opened = {shipped.words.setups[s].restore for name in made for s in shipped.checks[name].needs.setups
              if shipped.checks[name].needs.engine_state == "cold-stopped"}
    assert opened <= set(start.put_back)
    assert opened


def test_a_stop_takes_the_start_away(tiny_book: Book, record: Path, write_rules: object) -> None:
    """Where something forbids the start no start is asked for; it says so, at once, and what lifts it."""
    parts = tiny.with_rules(tiny.rule("no-start", {"symptom": "pump-weep", "at_least": "drip"}, tiny.hold("wet", stops="start")))
    book = load_rules(write_rules(parts))  # type: ignore[operator]
    words = "brown crust below the pulley, no steam"  # steam is asked of an engine that runs
    done = talk(book, record, first(words, "1", "1", "2"))
    assert [q.about for q in done.asked if q.kind == "gate"] == []
    assert done.text.index("DO NOT START: Stop: wet.") < done.text.index("STAY")
    assert "a stop forbids it" in done.text or "What lifts the stop comes first" in done.text
    sound = talk(tiny_book, record.with_name("other"), first(words, "1", "1", "0"))
    assert [q.about for q in sound.asked if q.kind == "gate"][:1] == ["idle"]


def test_at_sea_the_answer_for_the_engine_comes_at_once(shipped: Book, record: Path) -> None:
    """Under way nothing is asked before a stop that was earned is said; then the next question is the stopping."""
    done = talk(shipped, record, first("no water out of the exhaust, steam in the engine space", "5", "1"))
    stops = next(i for i, q in enumerate(done.asked) if q.kind == "gate")
    assert stops == 3
    assert done.asked[stops].about == "warm-stopped"
    assert "STOP NOW" in done.text
    before = done.text.index("STOP NOW")
    assert "steam in the engine space" in done.text[before:]
    assert any(isinstance(s.entry, TripEntry) and s.entry.trip.under_way for s in log(record))


def test_facts_are_asked_only_where_they_matter(shipped: Book, record: Path) -> None:
    """At most three facts of the boat come before the first look, each with why; the rest is taken and listed."""
    done = talk(shipped, record, first("milky oil on the dipstick"))
    look = next(i for i, q in enumerate(done.asked) if q.look is not None)
    facts = [q for q in done.asked[:look] if q.kind == "fact"]
    assert 1 <= len(facts) <= 3
    assert all(q.lines[0].startswith("Why it is asked") for q in facts)
    assert "taken as" in done.text


def test_it_ends_when_no_look_would_change_the_decision(tiny_book: Book, record: Path) -> None:
    """When the looks are made it says that enough was looked at, and until when that holds; what is left is named."""
    done = talk(tiny_book, record, healthy)
    assert done.asked[-1].kind == "end"
    assert "Enough looked at. No further look would change the decision." in done.text
    assert "holds to" in done.text


def test_a_settled_decision_is_offered_before_the_looks_that_are_left(shipped: Book, record: Path) -> None:
    """Where the decision stands and looks are left, it is asked whether to go on; enough ends the session with the decision."""
    done = talk(shipped, record, at("settled", "2", then=at("reading", "1", "1, 4 h, sail")),
                words="brown crust under the coolant pump")
    kinds_asked = [q.kind for q in done.asked]
    if "settled" in kinds_asked:
        assert kinds_asked[kinds_asked.index("settled") + 1] == "end"
    assert kinds_asked[-1] == "end"


# ------------------------------------------------------------------ answers


def test_a_promise_is_asked_and_never_taken(shipped: Book, record: Path) -> None:
    """'no noise' is kept as said, no observation comes of it, and it is asked at the engine once she runs."""
    done = talk(shipped, record, first("1", "1", "l"), words="brown crust under the coolant pump, no noise")
    words = next(s.entry for s in log(record) if isinstance(s.entry, WordsEntry))
    assert words.to_ask == ("no noise",)
    asked = [q for q in done.asked if q.look is not None and "no noise" in q.look.why]
    assert len(asked) == 1
    assert asked[0].state == "idle"


def test_back_strikes_out_and_asks_again(tiny_book: Book, record: Path) -> None:
    """b takes the last answer back, again walks further; both stay in the log, struck out, and the questions come again."""
    done = talk(tiny_book, record, at("trip", "l", "1", "b", "b", "l", "1"))
    about = [(q.kind, q.about) for q in done.asked]
    trip = [i for i, a in enumerate(about) if a[0] == "trip"]
    assert len(trip) == 2
    assert about[trip[0] + 1] == about[trip[1] + 1]
    struck = [s.entry.kind for s in log(record) if s.taken_back]
    assert struck == ["moved-on", "boat"]
    assert done.text.count("Crossed out, kept in the record") == 2


def test_a_changed_answer_stays_beside_the_new_one(tiny_book: Book, record: Path) -> None:
    """change asks again and tells the first answer; the log holds both, and the later one counts."""
    done = talk(tiny_book, record, at("pump-weep", "2", "now", "change 5", "0"))
    given = [s for s in log(record) if isinstance(s.entry, Observed) and s.entry.observation.symptom == "pump-weep"]
    assert [s.entry.observation.grade for s in given] == ["drip", "none"]  # type: ignore[union-attr]
    assert not any(s.taken_back for s in given)
    assert observations(record)["pump-weep", "cold-stopped"].grade == "none"
    assert "You said: Drip under the pump: drops fall" in done.text.replace("\n         ", " ")


def test_later_comes_back_before_she_changes_state(tiny_book: Book, record: Path) -> None:
    """What was put off is asked once more before the start, and put off again it is listed at the end as not looked at."""
    done = talk(tiny_book, record, lambda q: "l" if q.about.startswith("pump-level-low") else healthy(q))
    asked = [i for i, q in enumerate(done.asked) if q.about.startswith("pump-level-low")]
    start = next((i for i, q in enumerate(done.asked) if q.kind == "gate"), len(done.asked))
    assert len(asked) == 2
    assert max(asked) < start
    assert "l once more leaves it" in done.asked[asked[1]].lines[-1]
    assert "put off" in done.text


def test_cannot_see_is_no_healthy_answer(tiny_book: Book, record: Path) -> None:
    """x leaves no observation of a grade, and the decision still waits for that look."""
    talk(tiny_book, record, lambda q: "x" if q.about.startswith("pump-level-low") else healthy(q))
    seen = observations(record)["pump-level-low", "cold-stopped"]
    assert (seen.grade, seen.sure) == (None, "cannot-see")
    assert [s.entry.why for s in log(record) if isinstance(s.entry, PassedOver)] == ["cannot-see"]


def test_enter_alone_never_means_healthy(tiny_book: Book, record: Path) -> None:
    """An empty line is no answer to any question: nothing is kept, and the same question stands."""
    empty = iter(range(10_000))
    done = talk(tiny_book, record, lambda q: "" if next(empty) % 2 == 0 else healthy(q))
    plain = talk(tiny_book, record.with_name("plain"), healthy)
    assert kinds(record) == kinds(record.with_name("plain"))
    assert len(done.asked) == 2 * len(plain.asked)


def test_what_was_shown_is_what_is_kept(tiny_book: Book, record: Path) -> None:
    """Notes and photos are kept about the question at hand, and change nothing else; a photo that is not there is refused."""
    photo = record.with_name("a 'photo' <b>.jpg")
    photo.write_bytes(b"\xff\xd8 not really")
    done = talk(tiny_book, record, at("pump-weep", "n it [red]smells[/red] <i>odd</i>", f"p {photo}", "p /no/such/file.jpg", "1"))
    note, kept = (next(s.entry for s in log(record) if s.entry.kind == kind) for kind in ("note", "photo"))
    assert (note.text, note.about) == ("it [red]smells[/red] <i>odd</i>", "pump-weep")  # type: ignore[union-attr]
    assert (kept.path, kept.about) == (str(photo), "pump-weep")  # type: ignore[union-attr]
    assert "Not taken: no such file" in done.text.replace("\n", " ")
    assert kinds(record).count("photo") == 1


# ------------------------------------------------------------------ going on


def test_resume_says_where_it_stood_and_goes_on(tiny_book: Book, record: Path) -> None:
    """Resume tells the question, how long ago, in which state; asks what happened since; then goes on to the same end."""
    stopped = talk(tiny_book, record, at("symptom", "0", "q"))
    number = stopped.asked[-1].number
    done = go_on(tiny_book, record, healthy)
    assert f"You were at question {number}, " in done.text
    assert "She was cold then." in done.text
    assert done.asked[0].kind == "since"
    assert done.asked[1].about == stopped.asked[-1].about
    whole = talk(tiny_book, record.with_name("whole"), healthy)
    assert {q.about for q in whole.asked} <= {q.about for q in (*stopped.asked, *done.asked)}


def test_resume_asks_the_state_when_she_ran(tiny_book: Book, record: Path) -> None:
    """The state she was left in is not taken for granted when she ran, or was started since; a cold one that lay still is."""
    talk(tiny_book, record, at("gate", "start", "q"), words="no steam")
    assert [q.kind for q in go_on(tiny_book, record, first("0", then=leaving)).asked] == ["since", "engine"]
    other = record.with_name("other")
    talk(tiny_book, other, at("symptom", "q"))
    assert [q.kind for q in go_on(tiny_book, other, first("1 2", then=leaving)).asked] == ["since", "engine"]
    assert [q.kind for q in go_on(tiny_book, other, first("0", then=leaving)).asked][:1] == ["since"]


def test_old_answers_carry_their_age(tiny_book: Book, record: Path) -> None:
    """A drip seen before she was topped up or run, told at the end with its age and how to look again; a healthy look is not."""
    talk(tiny_book, record, at("pump-weep", "2", "q"), clock=Clock())
    done = go_on(tiny_book, record, first("2"), clock=Clock(START + timedelta(hours=5)))
    aged = [line for line in done.text.splitlines() if line.startswith("aged")]
    assert len(aged) == 1
    assert "4 h ago, and since then she was topped up" in done.text.replace("\n         ", " ")


def test_a_day_later_it_is_a_new_look(tiny_book: Book, record: Path) -> None:
    """After twelve hours it says that what was seen is history."""
    talk(tiny_book, record, at("symptom", "0", "q"))
    done = go_on(tiny_book, record, healthy, clock=Clock(START + timedelta(days=2)))
    assert "long enough to be a new look" in done.text


# ------------------------------------------------------------------ through a pipe


def test_a_plain_pipe_asks_the_same(tiny_rules: Path, tiny_book: Book, record: Path) -> None:
    """Through a pipe the same questions come, lines are read, and at the end of the input the state is saved and told."""
    inside = talk(tiny_book, record.with_name("inside"), at("symptom", "1", "0"))
    typed = ["nothing", "1", "l", *(str(healthy(q)) for q in inside.asked[3:6])]
    done = command(["look", "--record", record, "--rules", tiny_rules, "--boat", "Brindle"], "\n".join(typed) + "\n")
    assert done.returncode == 0
    assert "diagnose resume nothing-1 goes on." in done.stdout.replace("\n", " ")
    for question in inside.asked[:3]:
        assert question.ask.split(".")[0][:40] in done.stdout
    after = command(["resume", "--record", record, "--rules", tiny_rules], "0\nq\n")
    assert after.returncode == 0
    assert "You were at question" in after.stdout


def test_the_shipped_book_through_a_pipe(record: Path) -> None:
    """The command itself, with words on the line, on the shipped rules: it reads, asks and saves."""
    words = "brown crust under the coolant pump"
    done = command(["look", "--record", record, "--boat", "Brindle", *words.split()], "1\n1\nl\nnow\nq\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Stain or drip at the coolant pump's weep hole" in done.stdout
    assert "Of 100 boats with these signs" in done.stdout
    assert all(len(line) <= 80 for line in done.stdout.splitlines())


@pytest.mark.parametrize("width", [60, 80])
def test_every_line_fits(width: int, shipped: Book, tmp_path: Path) -> None:
    """No line printed in any part of a session is wider than the page, whatever is asked for."""
    asides = ["w", "h", "answers", "now", "all", "n " + "x" * 300, "sillyword " * 20, "u", "not at all"]
    turn = iter(range(100_000))

    def policy(question: object) -> str | None:
        number = next(turn)
        return None if number > 40 else asides[number // 2 % len(asides)] if number % 2 else healthy(question)  # type: ignore[arg-type]

    words = "steam, no water out of the exhaust" if width == 60 else "drips " + "W" * 150 + ", oil lamp on at idle, 15 volts"
    done = talk(shipped, tmp_path / "record", first(words, "1", then=policy), width=width)
    assert [line for line in done.text.splitlines() if len(line) > width] == []
    assert len(done.asked) > 30


HOSTILE = ("[bold red]x[/]", "<script>alert(1)</script>", "\x1b[31mred\x1b[0m", "a\x00b", "$(rm -rf .)", "‮right to left", "{0}{x}%s%n",
           "\\n\\t", "'; DROP TABLE log; --")


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_printed_literally(text: str, tiny_book: Book, record: Path) -> None:
    """Markup, tags, escapes and control characters in words, notes and boat names are shown, not obeyed."""
    done = talk(tiny_book, record, at("trip", f"n {text}", "answers", "l"), words=f"{text} brown crust", boat=f"Tern {text}")
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f]", done.text)
    telling = max(re.findall(r"[\w(<\[{/%$-]+", text), key=len)
    assert telling in done.text
    with Record.open(record, read_only=True) as opened:
        assert [s.entry.text for s in opened.entries() if s.entry.kind == "note"] == [text.strip()]  # type: ignore[union-attr]


def test_hostile_text_through_a_pipe(tiny_rules: Path, record: Path) -> None:
    """A terminal's escapes typed into the pipe come out as marks, bytes that are no text are replaced, and nothing breaks."""
    typed = "\x1b]0;owned\x07 brown crust\n1\n4\nl\n[red]\x1b[2Jx\nq\n"
    done = command(["look", "--record", record, "--rules", tiny_rules], typed)
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    assert "\x07" not in done.stdout


# ------------------------------------------------------------------ what cannot be saved


def test_two_sessions_on_one_case(tiny_book: Book, tiny_rules: Path, record: Path) -> None:
    """A second session on a case that is open is refused, with who holds it since when; nothing is lost in the first."""
    talk(tiny_book, record, at("symptom", "0", "q"))
    before = kinds(record)
    with Record.open(record) as opened, opened.hold_case(opened.cases()[0].id):
        done = command(["resume", "--record", record, "--rules", tiny_rules], "0\n0\n")
    assert done.returncode == 2
    assert "is open in another session: process" in done.stderr
    assert kinds(record) == before


def test_a_case_held_elsewhere_is_taken_over_if_that_is_asked(tiny_book: Book, tiny_rules: Path, record: Path) -> None:
    """After a change of the computer's name its old hold counts as living. The refusal names the way out, and by it the session
    goes on, says who held the case since when, and holds it no more at its end."""
    talk(tiny_book, record, at("symptom", "0", "q"))
    with Record.open(record) as opened:
        case = opened.cases()[0].id
        opened.database.execute("INSERT INTO hold VALUES (?, 1, '', 'chart-table', '2026-05-03T12:30:00+00:00')", (case,))
    refused = command(["resume", "--record", record, "--rules", tiny_rules], "0\nq\n", TZ="UTC")
    assert refused.returncode == 2
    assert "process 1 on chart-table, since 03 May 2026 12:30" in refused.stderr
    assert f"diagnose resume {case} --take-over" in refused.stderr
    taken = command(["resume", case, "--take-over", "--record", record, "--rules", tiny_rules], "0\nq\n", TZ="UTC")
    assert taken.returncode == 0
    said = " ".join(taken.stdout.split())
    assert "this case was held by process 1 on chart-table, since 03 May 2026 12:30. What that session saved is here." in said
    assert "You were at question" in said
    assert command(["resume", "--record", record, "--rules", tiny_rules], "0\nq\n").returncode == 0


def test_a_folder_that_may_only_be_read(tiny_rules: Path, tmp_path: Path) -> None:
    """Where nothing can be written it says so before the first question."""
    folder = tmp_path / "closed"
    folder.mkdir()
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        (folder / "probe").touch()
    except PermissionError:
        place = folder / "record.sqlite3"
    else:
        place = Path("/proc/record.sqlite3")  # one who may write anywhere cannot write there
    done = command(["look", "--record", place, "--rules", tiny_rules], "nothing\n")
    assert done.returncode == 2
    assert "What did you notice" not in done.stdout
    assert str(place) in done.stderr


def test_what_is_not_saved_is_not_taken(tiny_book: Book, record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses an answer the person is told, the question stands, and the answer given again is saved."""
    from diagnose.record.trouble import RecordError

    refuse = [True]
    real = Record.append_all

    def full(self: Record, entries: object, **where: object) -> object:
        if len(self.entries()) == 4 and refuse:
            refuse.pop()
            raise RecordError("nothing was written: the disk is full", where="record")
        return real(self, entries, **where)  # type: ignore[arg-type]

    monkeypatch.setattr(Record, "append_all", full)
    done = talk(tiny_book, record, healthy)
    assert "NOT SAVED" in done.text
    twice = [q for one, q in zip(done.asked, done.asked[1:], strict=False) if one is q]
    assert len(twice) == 1
    monkeypatch.undo()
    talk(tiny_book, record.with_name("plain"), healthy)
    assert kinds(record) == kinds(record.with_name("plain"))


def test_a_case_that_is_saved_and_cannot_be_held_is_not_called_lost(tiny_book: Book, record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When only the mark that the case is open is refused, the answer is told as saved, is not asked again, and the mark is tried
    again with the next answer."""
    from diagnose.record.trouble import RecordError

    refuse, held = [True, True], list[str]()
    real = Record.hold_case

    def busy(self: Record, case: str, **how: bool) -> object:
        if refuse:
            refuse.pop()
            raise RecordError("nothing was written: another program has kept the record locked", where="record")
        held.append(case)
        return real(self, case, **how)

    monkeypatch.setattr(Record, "hold_case", busy)
    done = talk(tiny_book, record, at("trip", "l", "q"))
    assert "NOT SAVED" not in done.text
    assert done.text.count("SAVED, and taken.") == 2
    assert [q.kind for q in done.asked] [:3] == ["opening", "engine", "trip"]
    assert held == ["nothing-1"]
    assert kinds(record).count("words") == 1


# ------------------------------------------------------------------ a boat told with another book


def told_with_another_book(record: Path, fact: str, value: str) -> None:
    """A boat of which a fact is on record that the tiny book cannot take."""
    with Record.open(record) as opened:
        opened.append(BoatEntry(name="Brindle", arrangement={fact: value}), boat="Brindle")


@pytest.mark.parametrize(("fact", "value"), [("pump-maker-year", "1999"), ("pump-drive", "by-hand")])
def test_a_fact_of_another_book_is_told_and_ends_nothing(fact: str, value: str, tiny_book: Book, tiny_rules: Path, record: Path) -> None:
    """A session on a boat whose facts the book does not know is begun, saves what is said, and says what cannot be judged and what
    takes the fact out; now, why and the whole page say the same; resume comes back to it; without the fact it goes on to its end."""
    told_with_another_book(record, fact, value)
    shows = iter(["now", "all", "w", "answers", "h", "q"])
    done = talk(tiny_book, record, lambda q: next(shows) if q.about == "stuck" else healthy(q))
    assert [q.about for q in done.asked][-6:] == ["stuck"] * 6
    said = " ".join(done.text.split())
    assert said.count("The case cannot be judged as it stands") == 4
    assert f"diagnose boat 'Brindle' --forget {fact} takes it out" in said
    assert "words" in kinds(record)
    again = go_on(tiny_book, record, lambda q: "q" if q.about == "stuck" else healthy(q))
    assert [(q.kind, q.about) for q in again.asked] == [("since", ""), ("end", "stuck")]
    assert command(["boat", "Brindle", "--forget", fact, "--record", record, "--rules", tiny_rules]).returncode == 0
    whole = go_on(tiny_book, record, healthy)
    assert "Enough looked at" in whole.text


def test_a_fact_is_asked_once_though_the_clock_was_set_back(tiny_book: Book, record: Path) -> None:
    """A fact taken out at a moment that lies ahead stays out whatever is answered now; it is asked once and not for ever."""
    with Record.open(record) as opened:
        opened.append(BoatEntry(name="Brindle", forget=("pump-drive",), at=START + timedelta(days=30)), boat="Brindle")
    left = iter(range(60))
    done = talk(tiny_book, record, lambda q: healthy(q) if next(left, None) is not None else "q")
    assert [q.about for q in done.asked if q.kind == "fact"].count("pump-drive") == 1
    assert done.asked[-1].kind == "end"
