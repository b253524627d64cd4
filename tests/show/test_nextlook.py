"""Why this look now, and why not the others: every sentence is true of the figures it is made from."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from conftest import Report

from diagnose.assessment import Assessment, Hold, Result, SuggestedCheck
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Check
from diagnose.show.explain import explain_page
from diagnose.show.nextlook import cost_of, why_not, why_now
from diagnose.show.page import triage_page
from diagnose.show.report import looks

TIME = r"(nothing|under 1 min|[\d.]+ (?:min|h))"


def in_minutes(text: str) -> tuple[float, float]:
    """What a time in words may stand for [min], from and to: the last figure shown is rounded."""
    if text == "nothing":
        return (float("-inf"), 0.0)
    if text == "under 1 min":
        return (0.0, 1.0)
    number, unit = text.split()
    factor = 60.0 if unit == "h" else 1.0
    last = (0.05 if "." in number or unit == "h" else 0.5) * factor
    return (float(number) * factor - last - 1e-6, float(number) * factor + last + 1e-6)


def says(text: str, value: float) -> bool:
    """Whether a time in words stands for this many minutes."""
    low, high = in_minutes(text)
    return low <= value <= high


def check_now(a: Assessment, book: Book) -> None:
    """Assert that the reasons of the first look are true of its figures and of those of the others."""
    first, others = a.checks[0], a.checks[1:]
    lead, tells, balance = why_now(a, book)
    asked = [h.say for h in a.holds if h.first_look == first.check]
    assert lead.startswith("A stop asks for it") is bool(asked)
    assert not asked or any(say in lead for say in asked)
    if lead.startswith("It is best made in one go"):
        assert first.together_with
        assert all(book.checks[name].title[1:] in lead for name in first.together_with)
    if "gains most" in lead:
        assert first.net == max(look.net for look in a.checks)
    if "alone is worth its time" in lead:
        assert others == ()
        assert first.net > 0
    if "nearly sure to find nothing" in lead:
        assert any(look.net > first.net for look in others)
    assert first.why_now in tells
    if first.net <= 0:
        pair = re.fullmatch(rf"By itself it would not pay: it saves {TIME}(?: of delay)? on average and takes {TIME}\..*", balance)
        assert pair is not None, balance
        assert says(pair[1], first.value)
        assert says(pair[2], cost_of(first))
    else:
        three = re.fullmatch(rf"On average it saves {TIME} of delay and takes {TIME}; the gain is {TIME}\..*", balance)
        assert three is not None, balance
        assert [says(t, v) for t, v in zip(three.groups(), (first.value, cost_of(first), first.net), strict=True)] == [True] * 3


def check_not(a: Assessment, book: Book) -> None:
    """Assert that the reason of each other look is true beside the first."""
    first = a.checks[0]
    for look, reason in why_not(a, book):
        assert reason.startswith("Not first: ")
        if "gain more by itself" in reason:
            assert look.net > first.net
            pair = re.search(rf"\({TIME} against {TIME}\)", reason)
            assert pair is not None
            assert says(pair[1], look.net)
            assert says(pair[2], first.net)
            assert ("the stop comes before it" in reason) is any(h.first_look == first.check for h in a.holds)
            continue
        assert look.net <= first.net
        for verb, mine, theirs in (("saves", look.value, first.value), ("takes", cost_of(look), cost_of(first))):
            told = re.search(rf"{verb} (less|more) \({TIME} against {TIME}\)", reason)
            if told is None:
                same = re.search(rf"{verb} as much \({TIME}\)", reason)
                assert same is not None, reason
                assert says(same[1], mine)
                assert says(same[1], theirs)
            else:
                assert (told[1] == "less") is (mine < theirs)
                assert says(told[2], mine)
                assert says(told[3], theirs)
        # 'but' stands between one that speaks for it and one that speaks against it
        if ", but " in reason and "as much" not in reason:
            assert (look.value < first.value) is (cost_of(look) < cost_of(first))


def test_the_reasons_are_true_in_every_shipped_case(shipped: tuple[Report, ...]) -> None:
    """In every shipped case with a look worth making, each sentence holds for the figures of the looks."""
    seen = 0
    for report in shipped:
        if report.assessment.checks:
            check_now(report.assessment, report.book)
            check_not(report.assessment, report.book)
            seen += 1
        else:
            assert why_now(report.assessment, report.book) == ()
            assert why_not(report.assessment, report.book) == ()
    assert seen >= 3


# ------------------------------------------------------------------ each reason by itself


def look(name: str, value: float, net: float, **more: Any) -> SuggestedCheck:
    """A look of the tiny book with these figures."""
    return SuggestedCheck(
        **{
            "check": name,
            "title": f"Look: {name}",
            "minutes": value - net,
            "setup_minutes": 0.0,
            "setups": (),
            "needs": "cold-stopped",
            "value": value,
            "net": net,
            "together_with": (),
            "why_now": "pump seal worn: 40 in 100 now, 1 to 90 after it",
            "steps": ("Look.",),
            "restore": (),
            "cautions": (),
            "results": (Result(seen={"pump-weep": "none"}, chance=0.5, first="pump-seal-worn", first_probability=0.3, means=None),),
            **more,
        }
    )


def hold(first_look: str | None) -> Hold:
    """A stop that may name its first look."""
    return Hold(
        id="pump-dry",
        stops="leave",
        kind="engine-lost",
        say="Stay until it is looked at.",
        cleared_by="a look",
        allowed="looking",
        overridden_by="the skipper",
        rule="running-dry-hold",
        under_way=None,
        first_look=first_look,
    )


@pytest.fixture
def with_looks(tiny_report: Callable[..., Report]) -> Callable[..., Assessment]:
    """An assessment of the tiny book with looks of our choosing put in its place."""
    base = tiny_report().assessment

    def made(*checks: SuggestedCheck, holds: tuple[Hold, ...] = ()) -> Assessment:
        return base.model_copy(update={"checks": checks, "holds": holds})

    return made


def test_a_stop_puts_its_own_look_first(with_looks: Callable[..., Assessment], tiny_book: Book) -> None:
    """A look that a stop names comes first and says so, though it saves nothing and another would gain more."""
    a = with_looks(look("look-under-pump", 0.0, -3.0), look("rock-pump", 30.0, 20.0), holds=(hold("look-under-pump"),))
    check_now(a, tiny_book)
    check_not(a, tiny_book)
    assert why_now(a, tiny_book)[0] == "A stop asks for it before anything else: Stay until it is looked at."
    assert why_now(a, tiny_book)[2] == "By itself it would not pay: it saves nothing on average and takes 3 min."
    assert [r for _, r in why_not(a, tiny_book)] == [
        "Not first: it would gain more by itself (20 min against nothing), but the stop comes before it."
    ]


def test_looks_made_in_one_go_are_named(with_looks: Callable[..., Assessment], tiny_book: Book) -> None:
    """A look that leads several says which; another that gains more alone still comes after them."""
    a = with_looks(look("look-under-pump", 30.0, 10.0, together_with=("rock-pump",)), look("read-gauge", 30.0, 12.0))
    assert why_now(a, tiny_book)[0].startswith("It is best made in one go with: look: rock-pump.")
    assert [r for _, r in why_not(a, tiny_book)] == [
        "Not first: it would gain more by itself (12 min against 10 min), but less than the looks made in one go."
    ]


def test_a_look_nearly_sure_to_find_nothing_waits(with_looks: Callable[..., Assessment], tiny_book: Book) -> None:
    """A look that gains more and would find nothing in 95 of 100 comes after, with that as its reason."""
    nothing = (Result(seen={"pump-play": "none"}, chance=0.95, first="pump-seal-worn", first_probability=0.3, means=None),)
    a = with_looks(look("look-under-pump", 20.0, 10.0), look("rock-pump", 40.0, 30.0, results=nothing))
    check_not(a, tiny_book)
    assert "nearly sure to find nothing" in why_now(a, tiny_book)[0]
    assert "in 95 of 100 boats with these signs it finds nothing" in why_not(a, tiny_book)[0][1]


@pytest.mark.parametrize(
    ("value", "net", "reason"),
    [
        (12.0, 5.0, "Not first: it saves less (12 min against 30 min), but takes less (7 min against 10 min)."),
        (25.0, 5.0, "Not first: it saves less (25 min against 30 min) and takes more (20 min against 10 min)."),
        (40.0, 15.0, "Not first: it saves more (40 min against 30 min), but takes more (25 min against 10 min)."),
        (30.0, 15.0, "Not first: it saves as much (30 min) and takes more (15 min against 10 min)."),
        (240.0, 10.0, "Not first: it saves more (4 h against 30 min), but takes more (3.8 h against 10 min)."),
    ],
)
def test_looks_are_compared_as_they_are(
    value: float, net: float, reason: str, with_looks: Callable[..., Assessment], tiny_book: Book
) -> None:
    """By hand, beside a look that saves 30 minutes and takes 10: what saves or takes less is called less, and what more, more."""
    a = with_looks(look("look-under-pump", 30.0, 20.0), look("rock-pump", value, net))
    check_now(a, tiny_book)
    check_not(a, tiny_book)
    assert why_now(a, tiny_book)[0] == "Of the looks weighed it gains most after its own time is taken off."
    assert [r for _, r in why_not(a, tiny_book)] == [reason]


def test_equal_looks_are_called_equal(with_looks: Callable[..., Assessment], tiny_book: Book) -> None:
    """Where the figures shown are the same, neither 'more' nor 'less' is said."""
    a = with_looks(look("look-under-pump", 20.0, 10.0), look("rock-pump", 20.0, 10.0))
    assert why_not(a, tiny_book)[0][1] == "Not first: it saves as much (20 min) and takes as much (10 min)."


def test_what_a_look_spoils_is_counted_and_said(with_looks: Callable[..., Assessment], tiny_book: Book) -> None:
    """A look that costs more than its minutes at the engine says why: what it uses up, spoils, puts at risk or waits for."""
    dear: Check = tiny_book.checks["rock-pump"].model_copy(
        update={
            "uses_up": ("gasket",),
            "destroys": ("pump-weep",),
            "strands": 0.03,
            "cost": tiny_book.checks["rock-pump"].cost.model_copy(update={"wait_minutes": 60.0}),
        }
    )
    book = Book(**{f: getattr(tiny_book, f) for f in tiny_book.__dataclass_fields__})
    book.__dict__["checks"] = {**tiny_book.checks, "rock-pump": dear}
    a = with_looks(look("rock-pump", 100.0, 40.0, minutes=5.0, setup_minutes=3.0))
    balance = why_now(a, book)[2]
    parts = ("more than the 8 min at the engine", "60 min of waiting", "uses up: gasket", "cannot be judged after", "engine unusable")
    for part in parts:
        assert part in balance
    assert "at the engine" not in why_now(with_looks(look("rock-pump", 100.0, 92.0, minutes=5.0, setup_minutes=3.0)), book)[2]


# ------------------------------------------------------------------ on every page


def test_every_page_gives_the_reasons(shipped: tuple[Report, ...]) -> None:
    """The triage page, the page of a fault and the report all say why this look now and why not each other one, in the same words."""
    for report in shipped:
        a, book = report.assessment, report.book
        line = next((r for r in a.ranking if r.fault in book.faults), None)
        assert line is not None
        pages = [triage_page(a, book, 80).text(), explain_page(a, book, line, 80).text(), report.page.text]
        wanted = [*why_now(a, book), *(reason for _, reason in why_not(a, book))]
        for page in pages:
            squeezed = "".join(page.split())
            assert [w for w in wanted if "".join(w.split()) not in squeezed] == [], report.name


def test_without_a_look_worth_making_the_page_says_so(with_looks: Callable[..., Assessment], tiny_book: Book) -> None:
    """No look is invented: the pages say that none would be worth its time."""
    a = with_looks()
    line = next(r for r in a.ranking if r.fault in tiny_book.faults)
    assert "No look that can be made now" in " ".join(explain_page(a, tiny_book, line, 80).text().split())
    assert looks.worth_making(a, tiny_book).parts == ()
