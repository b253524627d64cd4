"""Random answers: whatever is typed, nothing breaks, every line fits, and every answer that was taken is in the log."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from talk import Talk, go_on, log, talk

from diagnose.knowledge.book import Book
from diagnose.record.entries import Observed
from diagnose.session.questions import Question

KNOWN = ["0", "1", "2", "3", "4", "1?", "2??", "u", "x", "l", "b", "b", "now", "w", "all", "h", "answers", "start", "stopped", "gear",
         "cold", "change 1", "change 2", "change 5", "c 7", "n wet all round", "a no steam, drips under the pump", "t", "0 1",
         "not at all", "86", "86 C", "99 degC", "15", "15 in 10 min", "10 min", "C", "y", "1, 6 h, sail", "none", "drops fall",
         "stop", "", "  ", "p /nowhere", "nothing"]
TYPED = st.one_of(st.sampled_from(KNOWN), st.sampled_from(KNOWN), st.text(max_size=40), st.integers(-5, 200).map(str))
number = itertools.count()


class Checked:
    """Answers from a list; before each, sees that what the last one said is in the log."""

    def __init__(self, answers: list[str], path: Path) -> None:
        self.answers, self.path = list(answers), path
        self.expected: tuple[str, str] | None = None

    def __call__(self, question: Question) -> str | None:
        """The next answer; the end of the input when there are no more."""
        self.see()
        if not self.answers:
            return None
        typed = self.answers.pop(0)
        line = question.choice(typed.strip()) if question.kind == "symptom" and question.free != "number" else None
        self.expected = (question.about.partition("@")[0], line.id) if line is not None else None
        return typed

    def see(self) -> None:
        """The line chosen last is the last observation in the log."""
        if self.expected is not None:
            last = [s.entry for s in log(self.path) if isinstance(s.entry, Observed)][-1]
            assert (last.observation.symptom, last.observation.grade) == self.expected


@settings(max_examples=60)
@given(st.lists(TYPED, max_size=30), st.lists(TYPED, max_size=10),
       st.sampled_from(["", "brown crust below the pulley, no steam", "gauge at 99 °C"]))
def test_random_answers_never_break_it_and_none_is_lost(tmp_path_factory: pytest.TempPathFactory, tiny_book: Book, answers: list[str],
                                                        later: list[str], words: str) -> None:
    """Two stretches of random answers on one case: no error, no line too wide, every line chosen is kept, and the log only grows."""
    path = tmp_path_factory.mktemp("random") / f"{next(number)}.sqlite3"
    done = talk(tiny_book, path, Checked(answers, path), words=words)
    before = log(path)
    shown = [done]
    if before:
        shown.append(go_on(tiny_book, path, Checked(later, path)))
    after = log(path)
    assert [s.entry for s in after[: len(before)]] == [s.entry for s in before]
    assert all(len(line) <= 60 for one in shown for line in one.text.splitlines())
    assert "resume" in done.text or not before
    assert_told(shown)


def assert_told(shown: list[Talk]) -> None:
    """Whatever was typed, something was said of it: no answer passes in silence."""
    for one in shown:
        assert len(one.shown) >= len(one.asked)
