"""What a look is worth: textbook figures, concavity, regret against the exhaustive policy, and results shown to the user.

The order of repairs by chance over cost (Kadane and Simon) is not tested here: jobs are weighed as sets done before
leaving, not as a sequence that stops at the first cure.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
import smallbook as sb
from hypothesis import given
from hypothesis import strategies as st
from network.brute import joint

from diagnose import assess
from diagnose.assessment import SuggestedCheck
from diagnose.case import Case
from diagnose.inquiry import Inquiry, Loss, Option, Outcomes
from diagnose.knowledge.book import Book
from diagnose.machinery import Machinery
from diagnose.network.nodes import Array, sign_id
from diagnose.prior import priors
from diagnose.situation import resolve


def no_jobs(base: Sequence[float], weight: Sequence[Sequence[float]]) -> Loss:
    """A loss without repairs."""
    features = len(weight[0])
    return Loss(np.array(base, float), np.array(weight, float), np.zeros(0), np.zeros((0, features)), np.zeros((len(base), 0), bool))


def fixed(rows: dict[tuple[str, ...], tuple[Sequence[float], Sequence[Sequence[float]]]]) -> Outcomes:
    """Outcomes read from a table by the names of the looks."""
    def outcomes(sets: Sequence[tuple[Option, ...]]) -> list[tuple[Array, Array]]:
        return [tuple(np.array(x, float) for x in rows[tuple(o.id for o in s)]) for s in sets]  # type: ignore[misc]

    return outcomes


# ------------------------------------------------------------------ textbook figures


def test_a_gas_well_and_its_test() -> None:
    """Gas with .7; sell, or dig at 300 for 2500; a test at 50, sensitivity .9, specificity .7: test first, 1477 against 1450.

    Kaminski et al. (2018), figure 7, as in the vignette of the R package rdecision: P(+) .72, P(gas|+) .875, P(gas|-) .25,
    and the price after the test 1000 or 600. The price follows the result, so the result is a feature of its own.
    """
    positive, negative = (0.72, 0.72 * 0.875), (0.28, 0.28 * 0.25)
    loss = no_jobs([300, -600], [[-2500, 0], [0, -400]])
    test = fixed({("test",): ([positive[0], negative[0]], [[positive[1], positive[0]], [negative[1], 0.0]])})
    worth = Inquiry([Option("test", 50)], loss, test).worth([(Option("test", 50),)])[0]
    assert loss.least(np.array([1.0]), np.array([[0.7, 0.72]]))[0] == pytest.approx(-1450)
    assert 1450 + worth.net == pytest.approx(1477, abs=1e-6)


def test_the_oil_wildcatter() -> None:
    """Dry .5, wet .3, soaking .2 at -70, 50, 200; a sounding at 10: worth 12.5, so 22.5 with it; knowing all is worth 35.

    Raiffa, Decision Analysis (1968), inputs from memory; 22.5 by pyagrum's influence diagram.
    """
    prior = np.array([0.5, 0.3, 0.2])
    sounding = np.array([[0.1, 0.3, 0.6], [0.3, 0.4, 0.3], [0.5, 0.4, 0.1]])
    loss = no_jobs([70, 0], [[-120, -270], [0, 0]])

    def rows(given: Array) -> tuple[list[float], list[list[float]]]:
        together = prior[:, None] * given
        return together.sum(axis=0).tolist(), together[1:].T.tolist()

    inquiry = Inquiry([Option("sounding", 10), Option("oracle", 10)], loss,
                      fixed({("sounding",): rows(sounding), ("oracle",): rows(np.eye(3))}))
    worth = {w.options[0].id: w for w in inquiry.worth([(o,) for o in inquiry.options])}
    assert -loss.least(np.array([1.0]), np.array([[0.3, 0.2]]))[0] == pytest.approx(20)
    assert worth["sounding"].value == pytest.approx(12.5, abs=1e-6)
    assert 20 + worth["sounding"].net == pytest.approx(22.5, abs=1e-6)
    assert worth["oracle"].value == pytest.approx(35, abs=1e-6)


# ------------------------------------------------------------------ properties


@st.composite
def losses(draw: st.DrawFn, features: int) -> Loss:
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))
    actions, jobs = int(rng.integers(1, 4)), int(rng.integers(0, 4))
    cures = np.zeros((jobs, features))
    for feature in range(features):
        if jobs and rng.random() < 0.8:
            cures[rng.integers(jobs), feature] = 1.0
    return Loss(rng.uniform(0, 300, actions), rng.uniform(0, 2000, (actions, features)), rng.uniform(5, 200, jobs), cures,
                rng.random((actions, jobs)) < 0.7)


@given(losses(4), st.integers(0, 10**6))
def test_knowing_more_is_never_worth_less_than_nothing(loss: Loss, seed: int) -> None:
    """However the chances are split among results, the least expected loss afterwards is on average no larger."""
    rng = np.random.default_rng(seed)
    total = rng.dirichlet(np.ones(5))
    features = total[:, None] * rng.random((5, 4))
    before = loss.least(total.sum(keepdims=True), features.sum(axis=0, keepdims=True))[0]
    assert loss.least(total, features).sum() <= before + 1e-9


@given(losses(3), st.integers(0, 10**6))
def test_least_loss_equals_trying_everything(loss: Loss, seed: int) -> None:
    """The least loss is that of the best action with the best none, one or two of the jobs allowed under it."""
    features = np.random.default_rng(seed).random(3)
    tried = []
    for base, weight, allowed in zip(loss.base, loss.weight, loss.allowed, strict=True):
        jobs = [j for j in range(len(loss.repair)) if allowed[j]]
        for some in itertools.chain([()], ((j,) for j in jobs), itertools.combinations(jobs, 2)):
            left = features * (1 - loss.cures[list(some)].sum(axis=0)) if some else features
            tried.append(base + float(left @ weight) + float(loss.repair[list(some)].sum()))
    assert loss.least(np.array([1.0]), features[None])[0] == pytest.approx(min(tried), rel=1e-12)


def test_a_look_that_tells_nothing_is_worth_nothing() -> None:
    """Results that leave the chances as they were have no value, and no look is proposed."""
    loss = no_jobs([100, 0], [[0], [300]])
    inquiry = Inquiry([Option("idle-look", 1)], loss, fixed({("idle-look",): ([0.5, 0.5], [[0.15], [0.15]])}))
    assert inquiry.worth([(Option("idle-look", 1),)])[0].value == 0.0
    assert inquiry.next() is None


def test_a_look_that_costs_more_than_it_saves_is_not_made() -> None:
    """A look worth 30 minutes is made at 20 and left at 40."""
    loss = no_jobs([100, 0], [[0], [300]])
    rows = fixed({("look",): ([0.3, 0.7], [[0.3], [0.0]])})  # by hand: min(100, 90) before, .3 * 100 after: 60 saved
    cheap, dear = Inquiry([Option("look", 50)], loss, rows), Inquiry([Option("look", 70)], loss, rows)
    assert cheap.next() is not None
    assert dear.next() is None


def test_set_ups_are_paid_once() -> None:
    """Two looks behind the same cover cost its opening once, and nothing when it is open already."""
    looks = [Option("a", 2, frozenset({"cover"})), Option("b", 3, frozenset({"cover", "belt"}))]
    minutes = {"cover": 10.0, "belt": 6.0}
    loss = no_jobs([0], [[0]])
    assert Inquiry(looks, loss, fixed({}), frozenset(), minutes).cost(looks) == 21
    assert Inquiry(looks, loss, fixed({}), frozenset({"cover"}), minutes).cost(looks) == 11


def test_looks_that_pay_only_together_are_found() -> None:
    """Two looks behind one cover, neither worth its opening alone, are proposed as a bundle, the better one first.

    By hand: one of two unlikely and grave states; only both looks together clear her to go, which saves a stay of 100.
    """
    # states: sound .90, a .06, b .04; staying costs 100; going with a or b left alone 5000
    loss = no_jobs([100, 0], [[0, 0], [5000, 5000]])
    rows = fixed({
        ("a",): ([0.06, 0.94], [[0.06, 0.0], [0.0, 0.04]]),
        ("b",): ([0.04, 0.96], [[0.0, 0.04], [0.06, 0.0]]),
        ("a", "b"): ([0.06, 0.04, 0.90], [[0.06, 0.0], [0.0, 0.04], [0.0, 0.0]]),
        ("b", "a"): ([0.06, 0.04, 0.90], [[0.06, 0.0], [0.0, 0.04], [0.0, 0.0]]),
    })
    looks = [Option("a", 2, frozenset({"cover"})), Option("b", 2, frozenset({"cover"}))]
    inquiry = Inquiry(looks, loss, rows, frozenset(), {"cover": 30.0})
    ordered, bundle = inquiry.ranked()
    assert all(w.net < 0 for w in ordered)
    assert bundle is not None
    assert bundle.value == pytest.approx(90.0)
    assert bundle.cost == 34.0
    chosen = inquiry.next()
    assert chosen is not None
    assert {o.id for o in chosen.options} == {"a", "b"}


# ------------------------------------------------------------------ regret


@dataclass(frozen=True)
class Problem:
    """A small boat: faults that are there or not, two-valued looks with set-ups, stay or go with repairs."""

    faults: Array
    chance: Array
    positive: Array
    options: tuple[Option, ...]
    setups: dict[str, float]
    loss: Loss

    @classmethod
    def drawn(cls, rng: np.random.Generator, faults: int = 4, looks: int = 5, setups: int = 3) -> Problem:
        states = np.array(list(itertools.product((0.0, 1.0), repeat=faults)))
        p = rng.uniform(0.05, 0.4, faults)
        strength = np.where(rng.random((looks, faults)) < 0.45, rng.choice([0.97, 0.8, 0.55], (looks, faults)), 0.0)
        leak = rng.choice([0.05, 0.01], looks)
        needs = [frozenset(str(s) for s in range(setups) if rng.random() < 0.4) for _ in range(looks)]
        danger = (rng.random(faults) < 0.5) * rng.choice([300.0, 1000.0, 4000.0], faults)
        return cls(
            faults=states,
            chance=np.prod(np.where(states == 1, p, 1 - p), axis=1),
            positive=1 - (1 - leak)[:, None] * np.prod(1 - strength[:, None, :] * states[None], axis=2),
            options=tuple(Option(str(k), float(rng.choice([1, 2, 5, 10])), needs[k]) for k in range(looks)),
            setups={str(s): float(rng.choice([3, 10, 20, 40])) for s in range(setups)},
            loss=Loss(base=np.array([240.0, 0.0]), weight=np.array([np.zeros(faults), danger + 30.0]), cures=np.eye(faults),
                      repair=rng.choice([20.0, 40.0, 90.0], faults), allowed=np.array([[False] * faults, [True] * faults])),
        )

    def weights(self, results: tuple[int, ...]) -> Array:
        """Chance of each state together with the results so far (-1: not looked)."""
        weights = self.chance
        for k, result in enumerate(results):
            if result >= 0:
                weights = weights * (self.positive[k] if result else 1 - self.positive[k])
        return weights

    def opened(self, results: tuple[int, ...]) -> frozenset[str]:
        return frozenset().union(*(self.options[k].setups for k, r in enumerate(results) if r >= 0))

    def decide(self, weights: Array) -> float:
        """Least expected loss without looking further."""
        return float(self.loss.least(weights.sum(keepdims=True), (weights @ self.faults)[None])[0])

    def cost(self, k: int, results: tuple[int, ...]) -> float:
        new = self.options[k].setups - self.opened(results)
        return self.options[k].minutes + sum(self.setups[s] for s in new)

    def after(self, k: int, results: tuple[int, ...]) -> list[tuple[int, ...]]:
        return [(*results[:k], r, *results[k + 1 :]) for r in (0, 1)]

    def outcomes(self, weights: Array) -> Outcomes:
        def of(sets: Sequence[tuple[Option, ...]]) -> list[tuple[Array, Array]]:
            found = []
            for looks in sets:
                rows = weights[None]
                for option in looks:
                    positive = self.positive[int(option.id)]
                    rows = np.concatenate([rows * (1 - positive), rows * positive])
                found.append((rows.sum(axis=1), rows @ self.faults))
            return found

        return of

    def exhaustive(self) -> float:
        """Expected loss of the best policy there is."""
        @cache
        def best(results: tuple[int, ...]) -> float:
            weights = self.weights(results)
            values = [self.decide(weights)]
            for k, result in enumerate(results):
                if result < 0:
                    values.append(self.cost(k, results) * weights.sum() + sum(best(r) for r in self.after(k, results)))
            return min(values)

        return best((-1,) * len(self.options))

    def ours(self, results: tuple[int, ...] | None = None) -> float:
        """Expected loss when each look is the one the inquiry proposes, planned again after every result."""
        results = results if results is not None else (-1,) * len(self.options)
        weights = self.weights(results)
        left = [o for k, o in enumerate(self.options) if results[k] < 0]
        inquiry = Inquiry(left, self.loss, self.outcomes(weights / weights.sum()), self.opened(results), self.setups)
        proposed = inquiry.next()
        if proposed is None:
            return self.decide(weights)
        k = int(proposed.options[0].id)
        return self.cost(k, results) * float(weights.sum()) + sum(self.ours(r) for r in self.after(k, results))


def test_regret_against_the_exhaustive_policy() -> None:
    """Over 200 random small problems the looks proposed lose at most a twentieth of what perfect planning would gain."""
    rng = np.random.default_rng(14)
    gained, lost = 0.0, 0.0
    for _ in range(200):
        problem = Problem.drawn(rng)
        nothing, best, ours = problem.decide(problem.chance), problem.exhaustive(), problem.ours()
        assert best <= ours + 1e-9
        gained += nothing - best
        lost += ours - best
    assert gained > 1000
    assert lost <= 0.05 * gained


# ------------------------------------------------------------------ results shown


def engine_book() -> Book:
    """Two faults told apart by a graded sign, a plain one and a reading behind a cover."""
    symptoms = [sb.symptom("drip", (0.05, 0.01)), sb.symptom("play", (0.02,)), sb.symptom("squeal", (0.05, 0.01))]
    seal = sb.fault("seal", [sb.shows("drip", (0.9, 0.3), (0.95, 0.8)), sb.shows("squeal", (0.1,))], rate=0.4, lasts=((20, 200), (2, 20)))
    bearing = sb.fault("bearing", [sb.shows("play", (0.9,)), sb.shows("squeal", (0.8, 0.4)), sb.shows("drip", (0.2,))], rate=0.4,
                       lasts=((2, 40),))
    checks = [sb.check("rock", ["play"], minutes=2, setups=["box-open"]), sb.check("look", ["drip"], minutes=2),
              sb.check("both", ["play", "drip"], minutes=20)]
    jobs = [sb.job("mend-seal", ["seal"], minutes=400), sb.job("mend-bearing", ["bearing"], minutes=400)]
    return sb.book_of(sb.component(symptoms=symptoms, faults=[seal, bearing], checks=checks, jobs=jobs))


def enumerated(book: Book, case: Case, result: dict[str, str]) -> tuple[float, dict[str, float]]:
    """P(result | case) and then the chance of each fault, by enumeration; '<grade> or worse' is a range."""
    situation = resolve(case, book)
    net = Machinery.of(book).net(frozenset())
    table = joint(net, priors(book, net, situation))
    before = {net.index[sign_id(s.symptom, s.state)]: s.likelihood for s in situation.seen}
    asked = {}
    for symptom, shown in result.items():
        grades = list(book.symptoms[symptom].grades)
        low = grades.index(shown.removesuffix(" or worse"))
        likelihood = np.zeros(len(grades))
        likelihood[low : len(grades) if shown.endswith("or worse") else low + 1] = 1.0
        asked[net.index[sign_id(symptom, "idle")]] = likelihood
    weight = table.weigh({**before, **asked})
    present = {f: 1 - table.mass(net.index[f], net.sizes[net.index[f]], weight)[0] / weight.sum() for f in book.faults}
    return weight.sum() / table.weigh(before).sum(), present


def suggested() -> tuple[Book, Case, tuple[SuggestedCheck, ...]]:
    book = engine_book()
    case = sb.case_of(sb.seen("squeal", "some"))
    return book, case, assess(case, book).checks


def test_results_of_a_look_have_the_right_chances() -> None:
    """Each result shown has the chance, and leaves the first fault with the chance, that enumeration gives."""
    book, case, checks = suggested()
    assert {c.check for c in checks} >= {"look", "both"}
    for check in checks:
        for result in check.results:
            chance, present = enumerated(book, case, result.seen)
            assert result.chance == pytest.approx(chance, abs=1e-6)
            assert result.first_probability == pytest.approx(present[result.first], abs=1e-6)
            assert present[result.first] == pytest.approx(max(present.values()), abs=1e-6)


def test_results_of_a_look_sum_to_one() -> None:
    """Where all results of a look are likely enough to be shown, their chances sum to one."""
    checks = {c.check: c for c in suggested()[2]}
    assert {r.seen["drip"] for r in checks["look"].results} == {"none", "some", "much"}
    assert sum(r.chance for r in checks["look"].results) == pytest.approx(1.0, abs=2e-6)


def test_value_of_a_look_is_what_it_saves_on_average() -> None:
    """Values shown are positive, nets are value less minutes and set-ups, and looks that do not pay are not shown."""
    checks = suggested()[2]
    assert len(checks) >= 2
    for check in checks:
        assert check.value > 0
        assert check.net == pytest.approx(check.value - check.minutes - check.setup_minutes, abs=1e-6)


def test_no_look_is_proposed_when_all_is_known() -> None:
    """With every sign seen there is nothing left to look at."""
    case = sb.case_of(sb.seen("squeal", "none"), sb.seen("drip", "none"), sb.seen("play", "none"))
    assert assess(case, engine_book()).checks == ()
