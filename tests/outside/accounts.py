"""Real accounts told and published by others: what they reported, what was found, and what the book says of them.

Each case in `field` was written from the first report and the looks alone, by a reader who had not seen the cause.
`accounts.yaml` names the source, the faults of the book that stand for the confirmed cause, and the account's own
judgement on leaving port as found; where ours differs it says so and why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict

from diagnose import assess, load_case, load_rules
from diagnose.assessment import Assessment
from diagnose.knowledge.text import parse, read_text

HERE = Path(__file__).parent
Label = Literal["no", "with-limits", "yes"]
CAUTION = {"go": 0, "go with limits": 1, "fix, then go": 2, "stay": 2}
ASKED = {"yes": 0, "with-limits": 1, "no": 2}


class Account(BaseModel):
    """One account: where it was published, the faults that stand for what was found, its judgement on leaving."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    id: str
    source: str
    confirmed: tuple[str, ...]
    leave: Label
    ours: Label | None = None
    ours_why: str | None = None
    missed_why: str | None = None


@dataclass(frozen=True)
class Judged:
    """What the book made of an account."""

    account: Account
    assessment: Assessment
    place: int | None
    """Best place of a confirmed fault among all faults of the boat; None when it cannot be on her."""
    chance: float
    """Chance given to the confirmed fault (the likeliest of those that stand for it)."""
    first_chance: float
    system: str

    @property
    def word(self) -> str:
        """The decision on what was reported, were no look of the look-over owed: that is what an account can be held to."""
        return self.assessment.departure.so_far

    @property
    def asked(self) -> Label:
        """The judgement it is held to."""
        return self.account.ours or self.account.leave

    @property
    def cautious(self) -> bool:
        """Whether the decision is no less cautious than the account's."""
        return CAUTION[self.word] >= ASKED[self.asked]


@cache
def accounts() -> tuple[Account, ...]:
    """All accounts, in order."""
    data = parse(read_text(HERE / "accounts.yaml"), "accounts.yaml").data
    return tuple(Account.model_validate(one) for one in data["accounts"])


@cache
def judged() -> tuple[Judged, ...]:
    """Every account judged by the shipped rules."""
    return tuple(judge(account) for account in accounts())


def judge(account: Account) -> Judged:
    """One account judged by the shipped rules."""
    book = load_rules()
    found = assess(load_case(HERE / "field" / f"{account.id}.yaml"), book, next_check=False, ledger=False)
    order = list(found.all_probabilities)
    places = [order.index(fault) + 1 for fault in account.confirmed if fault in order]
    return Judged(
        account=account, assessment=found, place=min(places, default=None),
        chance=max((found.all_probabilities.get(fault, 0.0) for fault in account.confirmed), default=0.0),
        first_chance=found.all_probabilities[order[0]],
        system=book.component_of[account.confirmed[0]].system if account.confirmed else "none",
    )


def within(found: Sequence[Judged], most: int) -> int:
    """How many have a confirmed fault among the first so many."""
    return sum(j.place is not None and j.place <= most for j in found)
