"""One matcher, case after case: nothing is left behind by a run, a failed one included, and nothing runs for ever."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

import pytest

from diagnose.chain import durable, form
from diagnose.chain.form import Compiled, Fact, Join, Matcher, Pattern, clean, fact_key
from diagnose.chain.plain import PlainMatcher
from diagnose.errors import RuleError

RULES = (
    Compiled("step", "step", (Pattern("seen", (form.Test("v", ">=", 1),)),), ({"n": "found"},)),
    Compiled("quiet", "quiet", (Pattern("asked"), Pattern("found", absent=True)), ({"n": "nothing"},), stratum=1),
    Compiled("cross", "cross", (Pattern("left"), Pattern("right")), ({"n": "pair"},)),
)
"""The last is the runaway: it fires for every pair of a left and a right fact."""

Make = Callable[[tuple[Compiled, ...]], Matcher]


@contextmanager
def matcher_of(engine: str, rules: tuple[Compiled, ...]) -> Iterator[Matcher]:
    """A matcher of either kind; what durable-rules holds is freed at the end."""
    if engine == "plain":
        yield PlainMatcher("state", rules)
        return
    if not durable.available():
        pytest.skip("durable-rules cannot be loaded here")
    matcher = durable.DurableMatcher("state", rules)
    try:
        yield matcher
    finally:
        matcher.close()


both = pytest.mark.parametrize("engine", ["plain", "durable-rules"])


def flood(count: int) -> list[Fact]:
    """`count` left facts and as many right ones."""
    return [{"n": name, "v": i} for name in ("left", "right") for i in range(count)]


@both
def test_a_rule_base_that_runs_away_is_refused_by_name(engine: str) -> None:
    """Past twenty thousand firings the run stops with the rule's name: 150 left and 150 right facts make 22,500 pairs."""
    with matcher_of(engine, RULES) as matcher, pytest.raises(RuleError, match="without end") as caught:
        matcher.run(flood(150))
    assert caught.value.where == "cross"


@both
def test_many_firings_within_the_limit_are_all_kept(engine: str) -> None:
    """A hundred left and a hundred right facts fire ten thousand times, each pair once."""
    with matcher_of(engine, RULES) as matcher:
        firings = matcher.run(flood(100)).firings
    assert len({f.used for f in firings}) == len(firings) == 10_000


@both
@pytest.mark.parametrize(
    "broken", [flood(150), [{"n": "seen", "v": 1}, {"n": "asked", "s": ""}], [{"n": "left"}, {"n": "seen", "v": 2**63}]]
)
def test_a_failed_run_leaves_nothing_behind(engine: str, broken: list[Fact]) -> None:
    """After a run that failed half-way, a run gives what a fresh matcher gives."""
    asked: list[Fact] = [{"n": "asked"}]
    with matcher_of(engine, RULES) as fresh:
        expected = fresh.run(asked)
    with matcher_of(engine, RULES) as matcher:
        with suppress(RuleError):  # the plain matcher takes some of these facts: what matters here is what comes after
            matcher.run(broken)
        assert matcher.run(asked) == expected
    assert expected.has("nothing")


@both
def test_facts_of_one_run_are_unknown_to_the_next(engine: str) -> None:
    """What was found in one case is not there in the next."""
    with matcher_of(engine, RULES) as matcher:
        assert matcher.run([{"n": "seen", "v": 1}, {"n": "asked"}]).named("nothing") == []
        assert matcher.run([{"n": "asked"}]).named("nothing") == [{"n": "nothing"}]


@both
def test_a_run_without_facts_finds_nothing(engine: str) -> None:
    """No facts give no facts and no firings, any number of times, and rules without facts of theirs stay silent."""
    with matcher_of(engine, RULES) as matcher:
        for _ in range(3):
            assert matcher.run([]).facts == {}
            assert matcher.run([{"n": "other"}]).firings == ()


@both
def test_rules_none_at_all(engine: str) -> None:
    """A matcher without rules returns the facts it was given."""
    with matcher_of(engine, ()) as matcher:
        assert matcher.run([{"n": "seen", "v": 1}]).facts == {'{"n": "seen", "v": 1}': {"n": "seen", "v": 1}}


@both
def test_equal_facts_count_once(engine: str) -> None:
    """A fact given three times fires a rule once."""
    with matcher_of(engine, RULES) as matcher:
        assert len(matcher.run([{"n": "seen", "v": 1}] * 3).firings) == 1


@both
def test_numbers_are_compared_as_numbers(engine: str) -> None:
    """5 and 5.0 join, a number below the threshold does not fire, and a fact without the property is no zero."""
    rules = (Compiled("join", "join", (Pattern("seen"), Pattern("also", (), (Join("v", 0, "v"),))), ({"n": "same"},)), RULES[0])
    with matcher_of(engine, rules) as matcher:
        assert matcher.run([{"n": "seen", "v": 5}, {"n": "also", "v": 5.0}]).has("same")
        assert matcher.run([{"n": "seen", "v": 0.999}, {"n": "seen"}]).firings == ()


@both
def test_two_facts_that_differ_in_an_unused_property_both_fire(engine: str) -> None:
    """Two observations of the same grade are two facts, and each fires."""
    facts: list[Fact] = [{"n": "seen", "v": 1, "o": "o1"}, {"n": "seen", "v": 1, "o": "o2"}]
    with matcher_of(engine, RULES) as matcher:
        assert [f.used for f in matcher.run(facts).firings] == [(fact_key(facts[0]),), (fact_key(facts[1]),)]


MEMORY = """
import gc, resource, sys
sys.path[:0] = {path!r}
from test_matcher_state import RULES, flood
from diagnose.chain.durable import DurableMatcher
from diagnose.errors import RuleError
matcher = DurableMatcher("memory", RULES)
def work(count):
    for i in range(count):
        matcher.run([{{"n": "seen", "v": 1 + i % 7}}, {{"n": "asked"}}, *flood(4)])
        if i % 3 == 0:
            try: matcher.run([{{"n": "seen", "v": 1}}, {{"n": "asked", "v": 2**63}}])
            except RuleError: pass
def peak():
    gc.collect()
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
try: matcher.run(flood(150))
except RuleError: pass
work(300)
before = peak()
work(3000)
print(peak() - before)
"""


def test_memory_stays_flat_over_many_cases_and_failures() -> None:
    """Three thousand cases and a thousand failures among them add less than 10 MB to the peak of the process."""
    pytest.importorskip("resource", reason="no peak memory to be asked for on this system")
    if not durable.available():
        pytest.skip("durable-rules cannot be loaded here")
    script = MEMORY.format(path=sys.path)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < 10


def test_compiled_rules_are_freed() -> None:
    """Closing a matcher lets its rules go: eighty sets of a hundred rules one after another can be made."""
    if not durable.available():
        pytest.skip("durable-rules cannot be loaded here")
    rules = tuple(Compiled(f"r{i}", f"r{i}", (Pattern("seen", (form.Test("v", "==", i),)),), ({"n": f"m{i}"},)) for i in range(100))
    for i in range(80):
        matcher = durable.DurableMatcher(f"set{i}", rules)
        assert matcher.run([{"n": "seen", "v": i}]).has(f"m{i}")
        matcher.close()


@pytest.mark.parametrize(("given", "kept"), [(True, "true"), (5.0, 5), (2.5, 2.5), (-3, -3), ("idle", "idle"), ("é", "é")])
def test_values_that_both_engines_read_alike(given: object, kept: object) -> None:
    """Flags become words and whole floats become whole numbers, for 5 and 5.0 never join in the engine."""
    assert clean(given) == kept
    assert type(clean(given)) is type(kept)


@pytest.mark.parametrize("given", ["", float("inf"), float("nan"), 2**63, -(2**63), 1e300, None, [1], "x" * 60_000])
def test_values_no_engine_can_be_given(given: object) -> None:
    """Empty and huge texts, numbers that are not finite or beyond 63 bits, and other types are refused."""
    with pytest.raises(RuleError, match="value of a fact"):
        clean(given)


@pytest.mark.parametrize("tiny", [1e-7, 3e-12, 1e-300, 7e-05])
def test_small_numbers_are_written_with_a_point(tiny: float) -> None:
    """A float that JSON would write as 1e-07 is nudged, by less than one part in a million million, until it has a point."""
    text = repr(clean(tiny))
    assert "." in text
    assert float(text) == pytest.approx(tiny, rel=1e-12)
