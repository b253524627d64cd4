"""Turn the book's structured conditions into the small form of the matchers, in three chains.

    arrangement   boat facts -> derived boat facts, and which evidence, checks and looks are live
    findings      readings, events, boat facts -> findings, holds, limits, advice
    conclusions   the same, with the chances the ranking gave

Only the first may switch evidence, and it reads nothing but facts of the boat; so no sign can weigh twice.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field

from diagnose.chain.form import Compiled, Fact, Join, Pattern, Test, Value, clean, refuse_unsafe
from diagnose.errors import RuleError
from diagnose.knowledge.book import Book
from diagnose.knowledge.model import Rule, Symptom, Then, When

MAX_BRANCHES = 48
LIVE = "live:"

Branch = tuple[Pattern, ...]


@dataclass(frozen=True)
class Chains:
    """The compiled rules of the three chains."""

    arrangement: tuple[Compiled, ...]
    findings: tuple[Compiled, ...]
    conclusions: tuple[Compiled, ...]
    asked_chances: tuple[str, ...] = field(default=())
    """Faults and conditions whose chance some rule asks for."""


def live_name(when: When) -> str:
    """The name of the fact that says a switch on boat facts holds: its content, so equal ones are shared."""
    return LIVE + when.content


def is_live(when: When | None, live: frozenset[str]) -> bool:
    """Whether a switch on boat facts holds; what has none always does."""
    return when is None or live_name(when) in live


def every_switch(book: Book) -> frozenset[str]:
    """The names of all switches at once, as no single boat has them: for looking at the whole book."""
    return frozenset(live_name(when) for when, _ in _switches(book))


def compile_rules(book: Book) -> Chains:
    """Compile and check the whole book.

    Raises:
        RuleError: a name nobody makes, negation in a circle, or a form outside the safe one; `where` is the
            id of the rule, or of what a switch on the boat stands in.
    """
    rules = list(book.rules.values())
    made_by = _makers(rules)
    _refuse_unmade(rules, made_by)
    chain_of = _split(rules, made_by)
    chains = []
    for which in range(3):
        own = [rule for rule in rules if chain_of[rule.id] == which]
        compiled = [c for rule in own for c in _compile(book, rule)]
        if which == 0:
            compiled += [c for when, owner in _switches(book) for c in _compile_switch(book, when, owner)]
        chains.append(_stratify(tuple(compiled)))
        try:
            refuse_unsafe(chains[-1])
        except RuleError as error:
            owner = {live_name(when): of for when, of in _switches(book)}.get(error.where, error.where)
            raise RuleError(error.what, where=owner, right=error.right) from None
    asked = sorted({atom.name.removeprefix("chance:") for c in chains[2] for atom in c.patterns if atom.name.startswith("chance:")})
    return Chains(chains[0], chains[1], chains[2], tuple(asked))


# ------------------------------------------------------------------ which chain


def _makers(rules: list[Rule]) -> dict[str, set[str]]:
    made: dict[str, set[str]] = {}
    for rule in rules:
        for name in _made_names(rule.then):
            made.setdefault(name, set()).add(rule.id)
    return made


def _made_names(then: Then) -> list[str]:
    if then.finding is not None:
        return [f"finding:{then.finding}"]
    if then.hold is not None:
        return [f"hold:{then.hold}"]
    if then.fact is not None:
        return [f"fact:{then.fact}"]
    return []


def _asked_names(when: When) -> Iterator[str]:
    for part in when.all or when.any or ():
        yield from _asked_names(part)
    if when.not_ is not None:
        yield from _asked_names(when.not_)
    for kind in ("symptom", "fact", "finding", "hold", "event", "chance"):
        if getattr(when, kind) is not None:
            yield f"{kind}:{getattr(when, kind)}"


def _refuse_unmade(rules: list[Rule], made_by: dict[str, set[str]]) -> None:
    for rule in rules:
        for name in _asked_names(rule.when):
            if name.startswith(("finding:", "hold:")) and name not in made_by:
                kind, _, what = name.partition(":")
                raise RuleError(f"asks for the {kind} '{what}', which no rule makes", where=rule.id)


def _split(rules: list[Rule], made_by: dict[str, set[str]]) -> dict[str, int]:
    """Rule id to its chain. A rule that sets a boat fact must read boat facts only."""
    chain = {}
    for rule in rules:
        asked = set(_asked_names(rule.when))
        if rule.then.fact is not None:
            if any(not name.startswith("fact:") for name in asked):
                raise RuleError("sets a boat fact from something other than boat facts", where=rule.id, right="a finding")
            chain[rule.id] = 0
        else:
            chain[rule.id] = 2 if any(name.startswith("chance:") for name in asked) else 1
    moved = True
    while moved:
        moved = False
        for rule in rules:
            late = any(chain[maker] == 2 for name in _asked_names(rule.when) for maker in made_by.get(name, ()))
            if late and chain[rule.id] == 1:
                chain[rule.id] = 2
                moved = True
    return chain


def _switches(book: Book) -> list[tuple[When, str]]:
    """All distinct conditions on the boat that switch files, evidence, faults, checks and looks; each with an id it stands in."""
    found: dict[str, tuple[When, str]] = {}

    def add(when: When | None, owner: str) -> None:
        if when is not None:
            found.setdefault(live_name(when), (when, owner))

    for component in book.components:
        add(component.applies, component.component)
        for condition in component.conditions:
            for link in condition.shows:
                add(link.live_when, condition.id)
        for fault in component.faults:
            add(fault.live_when, fault.id)
            for link in fault.shows:
                add(link.live_when, fault.id)
        for check in component.checks:
            add(check.live_when, check.id)
    for look in book.look_over.looks:
        add(look.live_when, look.id)
    return [found[name] for name in sorted(found)]


# ------------------------------------------------------------------ conditions


def _compile(book: Book, rule: Rule) -> Iterator[Compiled]:
    branches = _branches(book, rule.when, rule.id)
    makes = _makes(rule)
    for i, branch in enumerate(branches):
        patterns = _ordered(branch)
        if rule.same_state:
            patterns = _join_states(patterns, rule.id)
        yield Compiled(rule.id if len(branches) == 1 else f"{rule.id}/{i}", rule.id, patterns, makes)


def _compile_switch(book: Book, when: When, owner: str) -> Iterator[Compiled]:
    name = live_name(when)
    branches = _branches(book, when, owner)
    for i, branch in enumerate(branches):
        yield Compiled(f"{name}/{i}", name, _ordered(branch), ({"n": name},))


def _makes(rule: Rule) -> tuple[Fact, ...]:
    names = _made_names(rule.then)
    if rule.then.fact is not None:
        return ({"n": names[0], "s": str(rule.then.is_)},)
    if names:
        return ({"n": names[0]},)
    return ({"n": f"said:{rule.id}"},)


def _branches(book: Book, when: When, where: str) -> list[Branch]:
    """The condition as alternatives, each a conjunction of patterns."""
    if when.all is not None:
        parts = [_branches(book, part, where) for part in when.all]
        branches = [tuple(itertools.chain(*combination)) for combination in itertools.product(*parts)]
    elif when.any is not None:
        branches = [branch for part in when.any for branch in _branches(book, part, where)]
    elif when.not_ is not None:
        inner = _branches(book, when.not_, where)
        if any(len(branch) != 1 or branch[0].absent for branch in inner):
            raise RuleError("negates more than one thing at once", where=where, right="a finding of its own, then not that finding")
        branches = [tuple(Pattern(b[0].name, b[0].tests, b[0].joins, absent=True) for b in inner)]
    else:
        try:
            branches = [(pattern,) for pattern in _atom(book, when)]
        except RuleError as error:
            raise RuleError(error.what, where=where, right=error.right) from None
    if len(branches) > MAX_BRANCHES:
        raise RuleError(f"has more than {MAX_BRANCHES} alternatives", where=where, right="findings in between")
    return branches


def _atom(book: Book, when: When) -> list[Pattern]:
    if when.symptom is not None:
        return _symptom_patterns(book.symptoms[when.symptom], when)
    if when.fact is not None:
        name = f"fact:{when.fact}"
        if when.one_of is not None:
            return [Pattern(name, (Test("s", "==", v),)) for v in when.one_of]
        if when.is_ is not None:
            return [Pattern(name, (_is(when.is_),))]
        if when.at_least is not None:
            return [Pattern(name, (Test("v", ">=", clean(_number(when.at_least))),))]
        return [Pattern(name, (Test("v", "<", clean(_number(when.below))),))]
    if when.event is not None:
        tests = () if when.within_hours is None else (Test("v", "<", clean(float(when.within_hours) + 1e-9)),)
        return [Pattern(f"event:{when.event}", tests)]
    if when.chance is not None:
        return [Pattern(f"chance:{when.chance}", (Test("v", ">", clean(_number(when.over))),))]
    return [Pattern(f"finding:{when.finding}" if when.finding is not None else f"hold:{when.hold}")]


def _number(value: object) -> float:
    if isinstance(value, int | float):
        return float(value)
    raise RuleError(f"'{value}' is compared as a number")


def _is(value: str | float | bool) -> Test:
    if isinstance(value, bool):
        return Test("s", "==", "true" if value else "false")
    if isinstance(value, str):
        return Test("s", "==", value)
    return Test("v", "==", clean(float(value)))


def _symptom_patterns(symptom: Symptom, when: When) -> list[Pattern]:
    """A reading is stored as the lowest (`g`) and highest (`h`) grade it may mean, its state and epoch."""
    order = list(symptom.grades)
    epoch = Test("e", "==", when.epoch)
    if when.at_least is not None:
        choices: list[tuple[Test, ...]] = [(Test("g", ">=", order.index(str(when.at_least))),)]
    else:
        grades = when.one_of if when.one_of is not None else (str(when.is_),)
        choices = [(Test("g", "==", order.index(g)), Test("h", "==", order.index(g))) for g in grades]
    states: list[tuple[Test, ...]] = [()]
    if when.states and set(when.states) != set(symptom.states):
        states = [(Test("st", "==", state),) for state in when.states]
    return [Pattern(f"symptom:{symptom.id}", (*state, epoch, *choice)) for choice in choices for state in states]


def _ordered(branch: Branch) -> tuple[Pattern, ...]:
    """Present conditions first, absent ones last, each once; what is asked of one fact, event or chance in one pattern."""
    unique: dict[object, Pattern] = {}
    for pattern in branch:
        single = not pattern.absent and pattern.name.startswith(("fact:", "event:", "chance:"))
        before = unique.get(pattern.name if single else pattern)
        tests = dict.fromkeys((*(before.tests if before else ()), *pattern.tests))
        unique[pattern.name if single else pattern] = Pattern(pattern.name, tuple(tests), pattern.joins, pattern.absent)
    return tuple(sorted(unique.values(), key=lambda p: p.absent))


def _join_states(patterns: tuple[Pattern, ...], where: str) -> tuple[Pattern, ...]:
    """Ask that all readings named were made in the same engine state."""
    first = next((i for i, p in enumerate(patterns) if p.name.startswith("symptom:") and not p.absent), None)
    if first is None:
        raise RuleError("asks for one state without naming a symptom", where=where)
    return tuple(
        Pattern(p.name, p.tests, (Join("st", first, "st"),), p.absent)
        if i > first and p.name.startswith("symptom:") and not p.absent else p
        for i, p in enumerate(patterns)
    )


# ------------------------------------------------------------------ strata


def _stratify(rules: tuple[Compiled, ...]) -> tuple[Compiled, ...]:
    """Give each rule the lowest stratum in which its negations are settled.

    Raises:
        RuleError: a rule depends on the absence of what it leads to.
    """
    stratum = {rule.key: int(any(p.absent for p in rule.patterns)) for rule in rules}
    makers: dict[str, list[str]] = {}
    for rule in rules:
        for fact in rule.makes:
            makers.setdefault(str(fact["n"]), []).append(rule.key)
    for _ in range(len(rules) + 1):
        changed = False
        for rule in rules:
            need = stratum[rule.key]
            for pattern in rule.patterns:
                for maker in makers.get(pattern.name, ()):
                    need = max(need, stratum[maker] + int(pattern.absent))
            if need != stratum[rule.key]:
                stratum[rule.key] = need
                changed = True
                if need > len(rules):
                    break
        if not changed:
            return tuple(Compiled(r.key, r.rule, r.patterns, r.makes, stratum[r.key]) for r in rules)
    worst = max(rules, key=lambda r: stratum[r.key])
    raise RuleError("depends on the absence of what it leads to", where=worst.rule)


def reading_fact(symptom: str, low: int, high: int, state: str, epoch: str, observation: str) -> Fact:
    """The fact of one observation (see `_symptom_patterns`)."""
    return {"n": f"symptom:{symptom}", "g": low, "h": high, "st": state, "e": epoch, "o": observation}


def boat_fact(name: str, value: Value | bool) -> Fact:
    """The fact of one thing known or assumed of the boat."""
    if isinstance(value, bool | str):
        return {"n": f"fact:{name}", "s": clean(value)}
    return {"n": f"fact:{name}", "v": clean(value)}
