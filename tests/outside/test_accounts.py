"""Real accounts, told and published by others: none unsafe, none dropped, and no worse than when they were last looked at.

The floors are what the book reached when they were set, less two accounts; the shares themselves, with their intervals,
are printed by `report.py`. The aim is 70 in 100 first and 92 in the first three, and is not reached.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from outside.accounts import HERE, Judged, accounts, judged, within

from diagnose import load_case, load_rules

pytestmark = pytest.mark.slow
FLOORS = {1: 31, 3: 45, 5: 50}
every_account = pytest.mark.parametrize("found", judged(), ids=[a.id for a in accounts()])


def test_every_account_has_its_case_and_every_case_its_account() -> None:
    """Seventy-two, none dropped."""
    assert [a.id for a in accounts()] == sorted(p.stem for p in (HERE / "field").glob("*.yaml"))
    assert len(accounts()) == 72


@pytest.mark.parametrize("path", sorted((HERE / "field").glob("*.yaml")), ids=lambda p: p.stem)
def test_an_account_is_not_invented_and_expects_nothing(path: Path) -> None:
    """The case holds what was reported, and no word of what should come out."""
    case = load_case(path)
    assert not case.invented
    assert case.expect is None
    assert case.observations or case.events


def test_what_was_found_is_in_the_book() -> None:
    """Each confirmed cause stands for a fault, and each account names where it was published."""
    book = load_rules()
    assert [a.id for a in accounts() if not a.confirmed or not a.source] == []
    assert {f for a in accounts() for f in a.confirmed} - set(book.faults) == set()


@every_account
def test_no_account_is_judged_less_cautiously(found: Judged) -> None:
    """What the account says must not leave port is not let go; where we judge otherwise, it is said why."""
    assert found.cautious, f"{found.word} where {found.asked} is asked"
    assert (found.account.ours is None) == (found.account.ours_why is None)


def test_not_everything_is_answered_stay() -> None:
    """Of the accounts that may go, or go with limits, a third or more are let go in some way."""
    milder = [j for j in judged() if j.account.leave != "no"]
    words = Counter(j.word for j in milder)
    assert words["stay"] <= 2 / 3 * len(milder)


@pytest.mark.parametrize(("most", "floor"), FLOORS.items())
def test_no_worse_than_before(most: int, floor: int) -> None:
    """How many have the confirmed fault among the first so many."""
    assert within(judged(), most) >= floor


def test_each_miss_says_why() -> None:
    """An account whose confirmed fault is not in the first three stays, with its reason; a reason no longer needed goes."""
    missed = {j.account.id for j in judged() if j.place is None or j.place > 3}
    assert {a.id for a in accounts() if a.missed_why} == missed
