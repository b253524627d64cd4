"""Forward chaining: the same rules on the same facts in durable-rules, in the plain matcher and in CLIPS.

Sixty per cent of the rules conclude from one to three thresholds, a quarter join two conclusions, and the rest
ask for one and the absence of others in a second stratum. All engines must report the same firings for every case.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Protocol

from bench.clock import cpu_ms
from bench.lines import Line, Setting, WrongResultError

from diagnose.chain import durable
from diagnose.chain.form import Compiled, Fact, Op, Outcome, Pattern, Test, refuse_unsafe
from diagnose.chain.plain import PlainMatcher

CASES = 40
SLICES = 5
Fired = list[tuple[str, tuple[str, ...]]]


class Engine(Protocol):
    """One engine, ready with its rules: returns its firings as it keeps them."""

    def run(self, facts: Sequence[Fact]) -> object: ...

    def fired(self, result: object) -> Fired: ...


def run(setting: Setting) -> Iterator[Line]:
    """Ratios of processor time over all cases; a missing engine is said and left out."""
    missing = [name for name, there in (("durable-rules", durable.available()), ("clipspy", _clips() is not None)) if not there]
    for name in missing:
        yield Line(f"{name} cannot be loaded here: left out")
    sizes = [(100, 20)] if setting.quick else [(100, 20), (300, 20), (300, 80), (1000, 20), (1000, 80)]
    for rules, facts in sizes:
        yield from _lines(rules, facts, setting)


def _lines(count: int, facts: int, setting: Setting) -> Iterator[Line]:
    rng = random.Random(1000 * count + facts + setting.seed)
    rules, names = make_rules(count, rng)
    refuse_unsafe(rules)
    cases = [make_facts(rules, names, facts, rng) for _ in range(CASES)]
    engines: dict[str, Engine] = {"plain": Ours(PlainMatcher("plain", rules))}
    if durable.available():
        engines["durable"] = Ours(durable.DurableMatcher(f"bench{count}x{facts}", rules))
    if _clips() is not None:
        engines["CLIPS"] = Clips(rules)
    firings = _same_firings(engines, cases)
    best = {name: ms / CASES for name, ms in _best(engines, cases, setting.pick(2, SLICES)).items()}
    agree = f"equal in {', '.join(sorted(engines))}" if len(engines) > 1 else "nothing to compare with"
    yield Line(f"{count} rules, {facts} facts, {firings / CASES:.0f} firings a case, {agree}")
    for one, other in (("durable", "CLIPS"), ("plain", "CLIPS"), ("durable", "plain")):
        if one in best and other in best:
            yield Line(f"  {one} over {other}", f"{best[one]:.3f} ms", f"{best[other]:.3f} ms", best[one] / best[other])


def _same_firings(engines: dict[str, Engine], cases: Sequence[Sequence[Fact]]) -> int:
    """How many rules fired, once it is sure that all engines fired the same.

    Raises:
        WrongResultError: they did not.
    """
    total = 0
    for case in cases:
        fired = {name: engine.fired(engine.run(case)) for name, engine in engines.items()}
        for name, own in fired.items():
            if sorted(own) != sorted(fired["plain"]) or len(set(own)) != len(own):
                raise WrongResultError(f"{name} and plain fire differently: {sorted(set(own) ^ set(fired['plain']))[:3]}")
        total += len(fired["plain"])
    return total


def _best(engines: dict[str, Engine], cases: Sequence[Sequence[Fact]], slices: int) -> dict[str, float]:
    """The best of some alternated sweeps over all cases [ms]."""
    def sweep(engine: Engine) -> Callable[[], None]:
        def work() -> None:
            for case in cases:
                engine.run(case)
        return work

    return {name: min(times) for name, times in
            zip(engines, zip(*[[cpu_ms(sweep(e)) for e in engines.values()] for _ in range(slices)], strict=True), strict=True)}


# ------------------------------------------------------------------ the workload


def make_rules(count: int, rng: random.Random) -> tuple[tuple[Compiled, ...], list[str]]:
    """The rules, and the names of what can be observed."""
    findings, links = int(count * 0.6), int(count * 0.25)
    names = [f"o{i}" for i in range(max(20, count // 2))]
    rules = [_rule(i, f"f{i}", [_threshold(n, rng) for n in rng.sample(names, rng.choice((1, 2, 2, 3)))]) for i in range(findings)]
    made = [f"f{i}" for i in range(findings)]
    for i in range(findings, findings + links):
        rules.append(_rule(i, f"l{i}", [_made(n) for n in rng.sample(made[:findings], 2)]))
        made.append(f"l{i}")
    for i in range(findings + links, count):
        first, *absent = rng.sample(made, rng.choice((2, 3)))
        rules.append(_rule(i, f"a{i}", [_made(first), *(Pattern(n, absent=True) for n in absent)]))
    return tuple(rules), names


def _rule(number: int, makes: str, patterns: list[Pattern]) -> Compiled:
    return Compiled(f"r{number}", f"r{number}", tuple(patterns), ({"n": makes, "v": 1},), int(any(p.absent for p in patterns)))


def _threshold(name: str, rng: random.Random) -> Pattern:
    ops: tuple[Op, ...] = (">", ">", "<", "==")
    return Pattern(name, (Test("v", rng.choice(ops), rng.randrange(1, 9)),))


def _made(name: str) -> Pattern:
    return Pattern(name, (Test("v", ">", 0),))


def make_facts(rules: Sequence[Compiled], names: Sequence[str], count: int, rng: random.Random) -> list[Fact]:
    """Observations: half chosen to satisfy rules, often both sides of a link; the rest noise."""
    by_made = {str(r.makes[0]["n"]): r for r in rules}
    findings = [r for r in rules if str(r.makes[0]["n"]).startswith("f")]
    links = [r for r in rules if str(r.makes[0]["n"]).startswith("l")]
    values: dict[str, int] = {}
    while len(values) < count // 2:
        wanted = [by_made[p.name] for p in rng.choice(links).patterns] if rng.random() < 0.5 else [rng.choice(findings)]
        for pattern in (p for rule in wanted for p in rule.patterns):
            (test,) = pattern.tests
            values.setdefault(pattern.name, int(test.value) + {">": 1, "<": -1, "==": 0}[test.op])
    while len(values) < min(count, len(names)):
        values.setdefault(rng.choice(names), rng.randrange(0, 10))
    facts: list[Fact] = [{"n": name, "v": value} for name, value in values.items()]
    rng.shuffle(facts)
    return facts[:count]


# ------------------------------------------------------------------ the engines


class Ours:
    """Either of our matchers, with all the record it keeps."""

    def __init__(self, matcher: Any) -> None:
        self._matcher = matcher

    def run(self, facts: Sequence[Fact]) -> Outcome:
        outcome: Outcome = self._matcher.run(facts)
        return outcome

    def fired(self, result: object) -> Fired:
        assert isinstance(result, Outcome)
        return [(f.rule, tuple(str(result.facts[key]["n"]) for key in f.used)) for f in result.firings]


class Clips:
    """CLIPS with the same rules. The second stratum waits for a gate fact, as it does in ours."""

    def __init__(self, rules: Sequence[Compiled]) -> None:
        clips = _clips()
        self._env = env = clips.Environment()
        self._trace: Fired = []
        env.define_function(self._fire, "fired")
        env.build("(deftemplate f (slot n (type SYMBOL)) (slot v (type NUMBER)))")
        env.build("(deftemplate gate (slot k))")
        for rule in rules:
            env.build(_defrule(rule))
        self._symbol, self._fact, self._gate = clips.Symbol, env.find_template("f"), env.find_template("gate")
        # clipspy 1.0.6 never lets go of fact handles (its Fact.__del__ fails in silence), so each run would be
        # slower than the one before: release them by hand
        self._release = clips._clips.lib.ReleaseFact

    def _fire(self, rule: Any, *names: Any) -> None:
        self._trace.append((str(rule), tuple(str(n) for n in names)))

    def run(self, facts: Sequence[Fact]) -> Fired:
        self._trace = []
        self._env.reset()
        for fact in facts:
            self._release(self._fact.assert_fact(n=self._symbol(fact["n"]), v=fact["v"])._fact)
        self._env.run()
        self._release(self._gate.assert_fact(k=1)._fact)
        self._env.run()
        return self._trace

    def fired(self, result: object) -> Fired:
        assert isinstance(result, list)
        return result


def _defrule(rule: Compiled) -> str:
    left = ["(gate (k 1))"] if rule.stratum else []
    for i, pattern in enumerate(rule.patterns):
        if pattern.absent:
            left.append(f"(not (f (n {pattern.name})))")
            continue
        (test,) = pattern.tests
        value = str(test.value) if test.op == "==" else f"?v{i}&:({test.op} ?v{i} {test.value})"
        left.append(f"(f (n {pattern.name}) (v {value}))")
    used = " ".join(p.name for p in rule.patterns if not p.absent)
    return f"(defrule {rule.key} {' '.join(left)} => (fired {rule.key} {used}) (assert (f (n {rule.makes[0]['n']}) (v 1))))"


def _clips() -> Any:
    try:
        import clips
    except ImportError:
        return None
    return clips
