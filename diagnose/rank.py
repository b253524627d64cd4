"""The ranking: how likely each fault is, what speaks for and against it, and how the lines stand to the first.

The ledger is in decibans. Observations are grouped (the signs of one condition; a lone sign; what was looked
at and clear, by system); a group's line is what leaving it out changes. Prior, lines, and what counts only
together add up to the posterior, and it is asserted that they do.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diagnose.assessment import SEEN_BEFORE, Ledger, LedgerLine, Relation, rounded
from diagnose.knowledge.book import Book
from diagnose.network.belief import Answers, Belief, Query
from diagnose.network.nodes import UNKNOWN_PROFILES, Array, Net, sign_id
from diagnose.network.past import is_of_then, then
from diagnose.seen import Seen

SHOWN = 5
LEAST_SHOWN = 0.03
LIFTED = 1.0
"""Decibans from which a fault counts as spoken for by what was seen."""
OWED = 0.01
"""So does a fault that was common before and of whose chance this much is owed to what was seen."""
MAINLY = 0.5
"""How often a condition at its worst shows a sign for the sign to be told as one of its signs."""
WHOLE = 3.0
"""A chance counts whole where this share of it, one in three, is owed to what was seen."""
BEFORE = ("before", "")
"""What was seen before the work of the case, and what the work found, speak as one."""
NOT_IN_BOOK = "not-in-this-book"


@dataclass(frozen=True)
class Group:
    """Observations that speak as one: a title, their ids and their signs."""

    title: str
    observations: tuple[str, ...]
    signs: frozenset[str]


def groups_of(book: Book, belief: Belief, seen: Sequence[Seen]) -> list[Group]:
    """The groups of the ledger, in a fixed order."""
    net = belief.worlds[0].net
    found: dict[tuple[str, str], list[Seen]] = {}
    for s in seen:
        sign = sign_id(s.symptom, s.state)
        if s.epoch == "before" and then(sign) in belief.likelihoods:
            found.setdefault(BEFORE, []).append(s)
        if s.epoch != "now" or sign not in belief.likelihoods:
            continue
        above = _main_condition(net, sign)
        if above is not None:
            key = ("condition", above)
        elif s.present:
            key = ("sign", s.symptom)
        else:
            key = ("clear", book.component_of[s.symptom].system)
        found.setdefault(key, []).append(s)
    of_then = frozenset(filter(is_of_then, belief.likelihoods))
    if of_then:
        found.setdefault(BEFORE, [])  # what was found speaks too where nothing was seen before
    return [Group(_title(book, key), tuple(s.id for s in members),
                  of_then if key == BEFORE else frozenset(sign_id(s.symptom, s.state) for s in members))
            for key, members in sorted(found.items())]


def _main_condition(net: Net, sign: str) -> str | None:
    """The condition that a sign is mostly a sign of: the one that shows it most often, if at least every other time."""
    links = [link for link in net.parents[net.index[sign]] if net.kinds[link.parent] == "condition"] if sign in net.index else []
    shown = [(float(1.0 - link.table[-1, 0]), -link.parent, net.ids[link.parent]) for link in links]
    strength, _, name = max(shown, default=(0.0, 0, ""))
    return name if strength >= MAINLY else None


def _title(book: Book, key: tuple[str, str]) -> str:
    kind, name = key
    if kind == "condition":
        return f"signs of: {book.conditions[name].title.lower()}"
    if (kind, name) == BEFORE:
        return SEEN_BEFORE
    if kind == "sign":
        return book.symptoms[name].title
    return f"looked at and clear: {book.system_title(name).lower()}"


@dataclass(frozen=True)
class Weighed:
    """The base answers with everything the ledger needs, asked in one pass."""

    answers: Answers
    groups: tuple[Group, ...]
    unexplained: dict[str, float]
    unknown: float
    _prior_at: int
    _out_at: int
    _alone_at: int

    @classmethod
    def of(cls, book: Book, belief: Belief, seen: Sequence[Seen], unknown_in_play: Collection[str], *, ledger: bool = True) -> Weighed:
        """Ask for the posterior, each group left out and alone, what no book fault explains, and for the chance that
        some fault of no book is there, in a system with a sign present."""
        groups = groups_of(book, belief, seen) if ledger else []
        asked = frozenset(belief.likelihoods)
        present = [sign_id(s.symptom, s.state) for s in seen if s.present and s.epoch == "now"
                   and sign_id(s.symptom, s.state) in belief.likelihoods]
        known = np.array([1.0] + [0.0] * len(UNKNOWN_PROFILES))
        queries = [Query(), Query(drop=asked), *(Query(drop=g.signs) for g in groups), *(Query(drop=asked - g.signs) for g in groups),
                   *(Query(unexplained=sign) for sign in present),
                   Query(states=dict.fromkeys(unknown_in_play, known))]
        answers = belief.ask(queries)
        first = 2 + 2 * len(groups)
        unexplained = {sign: min(1.0, answers.total(first + i)) for i, sign in enumerate(present)}
        unknown = rounded(max(0.0, 1.0 - answers.total(len(queries) - 1)))
        return cls(answers, tuple(groups), unexplained, unknown, 1, 2, 2 + len(groups))

    def lift(self, fault: str) -> float:
        """How much all that was seen speaks for a fault, in decibans."""
        return self._lifts[fault]

    @cached_property
    def _lifts(self) -> dict[str, float]:
        odds, prior = self.answers.log_odds, self._prior_at
        return {name: round(odds(name) - odds(name, prior), 3) for name in self.answers.mass}

    def owed(self, fault: str) -> float:
        """The chance that a fault is there and would not have been there anyway."""
        return self._owed[fault]

    @cached_property
    def _owed(self) -> dict[str, float]:
        chance = self.answers.chance
        return {name: owed(chance(name), chance(name, self._prior_at)) for name in self.answers.mass}

    def concern(self, belief: Belief, book: Book, present: Collection[str]) -> frozenset[str]:
        """The faults that what was seen speaks for, and the unknown ones of systems with a sign present."""
        known = {n for n in belief.names if n in book.faults and n in self.answers.mass
                 and (self.lift(n) >= LIFTED or (present and self.owed(n) >= OWED))}
        return frozenset(known | {n for n in present if n in self.answers.mass})

    def ledger(self, fault: str) -> Ledger:
        """The ledger of one fault, in decibans."""
        odds = self.answers.log_odds
        posterior, prior = odds(fault), odds(fault, self._prior_at)
        lines = []
        for i, group in enumerate(self.groups):
            rest = posterior - odds(fault, self._out_at + i)
            alone = odds(fault, self._alone_at + i) - prior
            if max(abs(rest), abs(alone)) >= 0.05:
                lines.append(LedgerLine(group=group.title, observations=group.observations, given_rest=round(rest, 3),
                                        alone=round(alone, 3)))
        lines.sort(key=lambda l: (-abs(l.given_rest), l.group))
        prior, posterior = round(prior, 3), round(posterior, 3)
        shared = round(posterior - prior - sum(l.given_rest for l in lines), 3)
        return Ledger(prior=prior, lines=tuple(lines), shared=shared, posterior=posterior)


def owed(chance: float, prior: float) -> float:
    """How much of a chance is owed to what was seen: (p - prior) / (1 - prior), and nothing where it fell."""
    return rounded(max(0.0, chance - prior) / max(1.0 - prior, 1e-9))


def speaks_for(posterior: float, prior: float) -> bool:
    """Whether what was seen speaks for a fault with this chance after and before [decibans]: by a deciban, or, for one that
    was common before, by one in a hundred."""
    after, before = (1.0 / (1.0 + 10.0 ** (-x / 10.0)) for x in (posterior, prior))
    return posterior - prior >= LIFTED or owed(after, before) >= OWED


def chances(belief: Belief, answers: Answers) -> dict[str, float]:
    """P(present) of every fault and unknown fault, rounded, by id."""
    return {name: rounded(answers.chance(name)) for name in belief.names if name in answers.mass}


def ordered(book: Book, weighed: Weighed, probabilities: Mapping[str, float]) -> list[str]:
    """Fault ids in the order of the ranking.

    What counts is the fault's chance, and how much of it is owed to what was seen: the chance that it is there and
    would not have been there anyway, (p - prior) / (1 - prior). Where a third or more is owed the whole chance counts;
    below that it falls with what is owed, so that a common small fault is not the answer to a sign it hardly shows.
    Where nothing is owed, the likelier comes first; equal chances go by id.
    """
    def place(name: str) -> tuple[float, float, str]:
        return -rounded(min(probabilities[name], WHOLE * weighed.owed(name))), -probabilities[name], name

    return sorted((n for n in probabilities if n in book.faults), key=place)


def neither(first: str, others: Sequence[str], belief: Belief) -> list[Query]:
    """The queries that hold the first fault and each of the others absent."""
    absent = {n: _absent(belief, n) for n in (first, *others)}
    return [Query(states={first: absent[first], n: absent[n]}) for n in others]


def relations(first: str, others: Sequence[str], probabilities: Mapping[str, float], both_absent: Sequence[float]) -> dict[str, Relation]:
    """How each fault stands to the first: mostly with it, mostly instead of it, or apart from it.

    Args:
        both_absent: P(neither), for each of the others; P(other without first) = P(no first) - P(neither).
    """
    found: dict[str, Relation] = {first: "most likely"}
    p_first = probabilities[first]
    for name, none in zip(others, both_absent, strict=True):
        p = probabilities[name]
        without = 1.0 - p_first - none
        expected = p * (1.0 - p_first)
        if abs(without - expected) <= 0.15 * p * min(p_first, 1.0 - p_first) + 0.02 * p + 1e-9:
            found[name] = "apart"
        else:
            found[name] = "instead" if without > expected else "with it"
    return found


def _absent(belief: Belief, fault: str) -> Array:
    """The weights that hold a fault absent."""
    size = next(w.net.sizes[w.net.index[fault]] for w in belief.worlds if fault in w.net.index)
    weights: Array = np.zeros(size)
    weights[0] = 1.0
    return weights
