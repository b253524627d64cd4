"""Published networks, and the same networks built in a second program (pyagrum).

A network is laid out here only where its tables are of the noisy-MAX form. Left out for that reason: the sea
engines network and hepar2 (their tables are not monotone), alarm, win95pts and the cancer network (their tables are
not products of independent causes). The common-effect nodes of Asia (dyspnoea) and of the burglary network
(alarm .95 .94 .29 .001) do not fit either: with leak .1 a noisy-OR would give dyspnoea .933 and not .90 when both
causes are present, and the alarm .957 and not .95. There the causes are laid out as one joint fault of several
states, which is how this program holds faults that depend on one another.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from network.nets import random_likelihood, random_net

from diagnose.network.belief import Answers, Belief, Query
from diagnose.network.eliminate import solve
from diagnose.network.evidence import PLAIN, gather
from diagnose.network.nodes import Array, Net, cumulative, make_net

YES, NO = np.array([0.0, 1.0]), np.array([1.0, 0.0])
Links = Sequence[tuple[str, str, Array]]


def causes(*strengths: float) -> Array:
    """A link to a sign with two grades: one strength for each state of the cause above absent."""
    return np.array([[1.0, 1.0], *([1.0 - s, 1.0] for s in strengths)])


def beside(leak: float, chance: float) -> float:
    """The strength that, beside a leak, makes the sign appear with this chance."""
    return 1.0 - (1.0 - chance) / (1.0 - leak)


def two_state(faults: Mapping[str, float], signs: Mapping[str, float], links: Links) -> tuple[Net, dict[int, Array]]:
    """Faults with their priors above signs with their leaks."""
    nodes = [(f, "fault", 2, None) for f in faults] + [(s, "sign", 2, cumulative([leak])) for s, leak in signs.items()]
    return make_net(nodes, links), {i: np.array([1 - p, p]) for i, p in enumerate(faults.values())}  # type: ignore[arg-type]


def believed(net: Net, prior: Mapping[int, Array], likelihoods: Mapping[str, Array]) -> Answers:
    return Belief.of([(1.0, net, prior)], likelihoods).ask([Query()])


# ------------------------------------------------------------------ a second program


def in_pyagrum(net: Net, prior: Mapping[int, Array], likelihoods: Mapping[int, Array]):  # type: ignore[no-untyped-def]
    """The same network with full tables, each entry worked out from the causes' independent contributions."""
    gum = pytest.importorskip("pyagrum")
    bn = gum.BayesNet()
    for name, size in zip(net.ids, net.sizes, strict=True):
        bn.add(gum.LabelizedVariable(name, name, size))
    for node, name in enumerate(net.ids):
        for link in net.parents[node]:
            bn.addArc(net.ids[link.parent], name)
    for node, name in enumerate(net.ids):
        own = net.background[node]
        below = np.cumsum(prior[node]) if own is None else own
        parents = net.parents[node]
        for states in itertools.product(*(range(net.sizes[link.parent]) for link in parents)):
            row = below.copy()
            for link, state in zip(parents, states, strict=True):
                row = row * link.table[state]
            where = {net.ids[link.parent]: state for link, state in zip(parents, states, strict=True)}
            bn.cpt(name)[where] = np.diff(row, prepend=0.0).tolist()
    inference = gum.LazyPropagation(bn)
    inference.setEvidence({net.ids[s]: l.tolist() for s, l in likelihoods.items()})
    inference.makeInference()
    return inference


def sparse(rng: np.random.Generator, faults: int) -> tuple[Net, dict[int, Array]]:
    """A book-like network: up to four causes a sign and three a condition."""
    net, prior = random_net(rng, faults, max(1, faults // 5), max(2, faults // 2), density=0.9)
    kept: list[tuple[str, str, Array]] = []
    for node in range(len(net.ids)):
        chosen = rng.permutation(len(net.parents[node]))[: 3 if net.kinds[node] == "condition" else 4]
        kept += [(net.ids[net.parents[node][k].parent], net.ids[node], net.parents[node][k].table) for k in chosen]
    nodes = list(zip(net.ids, net.kinds, net.sizes, net.background, strict=True))
    return make_net(nodes, kept), prior


@pytest.mark.parametrize("seed", range(12))
def test_random_networks_agree_with_pyagrum(seed: int) -> None:
    """Staged faults, caused faults, conditions and soft evidence, up to twenty faults: posteriors agree to 1e-9."""
    rng = np.random.default_rng(seed)
    net, prior = sparse(rng, (4, 8, 14, 20)[seed % 4])
    likelihoods = {s: random_likelihood(rng, net.sizes[s]) for s in net.of_kind("sign")}
    inference = in_pyagrum(net, prior, likelihoods)
    solved = solve(gather(net, prior, likelihoods), [PLAIN])
    for fault in net.of_kind("fault"):
        assert solved.posterior(fault) == pytest.approx(inference.posterior(net.ids[fault]).toarray(), abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_noisy_or_nodes_of_pyagrum_agree(seed: int) -> None:
    """Where all is binary pyagrum's own noisy-OR nodes (weights beside the leak) give the same posteriors."""
    gum = pytest.importorskip("pyagrum")
    rng = np.random.default_rng(seed)
    faults = {f"f{i}": float(rng.uniform(0.01, 0.2)) for i in range(12)}
    signs = {f"s{j}": float(rng.uniform(0.005, 0.1)) for j in range(8)}
    links = {(f, s): float(rng.uniform(0.1, 0.95)) for f in faults for s in signs if rng.random() < 0.35}
    bn = gum.BayesNet()
    for name in faults:
        bn.add(gum.LabelizedVariable(name, name, 2))
        bn.cpt(name).fillWith([1 - faults[name], faults[name]])
    for name, leak in signs.items():
        bn.addNoisyORNet(gum.LabelizedVariable(name, name, 2), leak)
    for (fault, sign), weight in links.items():
        bn.addWeightedArc(fault, sign, weight)
    net, prior = two_state(faults, signs, [(f, s, causes(w)) for (f, s), w in links.items()])
    states = {s: int(rng.random() < 0.5) for s in signs}
    inference = gum.LazyPropagation(bn)
    inference.setEvidence(states)
    inference.makeInference()
    answers = believed(net, prior, {s: (NO, YES)[g] for s, g in states.items()})
    for name in faults:
        assert answers.states(name) == pytest.approx(inference.posterior(name).toarray(), abs=1e-9)


# ------------------------------------------------------------------ noisy-OR, published and by two programs


THREE_LINKS = {("d1", "f1"): 0.8, ("d2", "f1"): 0.6, ("d2", "f2"): 0.7, ("d3", "f2"): 0.9, ("d1", "f3"): 0.5, ("d3", "f3"): 0.4}


@pytest.mark.parametrize(("third", "expected"), [
    (None, (0.294941, 0.801011, 0.075289)),
    (NO, (0.164757, 0.882652, 0.035735)),
    (YES, (0.872424, 0.438856, 0.250749)),
])
def test_three_faults_three_findings(third: Array | None, expected: tuple[float, ...]) -> None:
    """A two-layer noisy-OR of three faults and three findings: posteriors to all digits given.

    Own numbers; expected values by enumeration, by the quickscore sum over subsets of positive findings (Heckerman,
    UAI 1989) and by pyagrum's noisy-OR nodes, all three equal.
    """
    net, prior = two_state({"d1": 0.10, "d2": 0.05, "d3": 0.02}, {"f1": 0.01, "f2": 0.05, "f3": 0.02},
                           [(d, f, causes(w)) for (d, f), w in THREE_LINKS.items()])
    answers = believed(net, prior, {"f1": YES, "f2": YES, **({} if third is None else {"f3": third})})
    assert [answers.chance(d) for d in ("d1", "d2", "d3")] == pytest.approx(expected, abs=5e-7)
    if third is None:
        assert math.exp(answers.log_evidence[0]) == pytest.approx(0.028574666, abs=5e-10)


@pytest.mark.parametrize(("present", "expected"), [({"d1"}, 0.802), ({"d1", "d2"}, 0.9208)])
def test_strengths_stand_beside_the_background(present: set[str], expected: float) -> None:
    """Leak .01, weights .8 and .6: the chance of the sign is .802 and .9208, not .800 and .9192.

    The two leak conventions of Henrion (1989) and Diez (1993); figures from pyagrum's addNoisyORNet (beside the leak)
    against addNoisyORCompound (leak included).
    """
    net, _ = two_state({"d1": 0.5, "d2": 0.5}, {"s": 0.01}, [("d1", "s", causes(0.8)), ("d2", "s", causes(0.6))])
    sure = {i: YES if name in present else NO for i, name in enumerate(("d1", "d2"))}
    assert math.exp(believed(net, sure, {"s": YES}).log_evidence[0]) == pytest.approx(expected, abs=1e-12)


# ------------------------------------------------------------------ published networks


def burglary(p_burglary: float, p_earthquake: float) -> tuple[Net, dict[int, Array]]:
    """Burglary and earthquake as one joint fault: neither, earthquake, burglary, both."""
    b, e = p_burglary, p_earthquake
    nodes = [("both", "fault", 4, None), ("alarm", "condition", 2, cumulative([0.001])),
             ("john", "sign", 2, cumulative([0.05])), ("mary", "sign", 2, cumulative([0.01]))]
    links = [("both", "alarm", causes(*(beside(0.001, p) for p in (0.29, 0.94, 0.95)))),
             ("alarm", "john", causes(beside(0.05, 0.90))), ("alarm", "mary", causes(beside(0.01, 0.70)))]
    return make_net(nodes, links), {0: np.array([(1 - b) * (1 - e), (1 - b) * e, b * (1 - e), b * e])}  # type: ignore[arg-type]


@pytest.mark.parametrize(("priors", "calls", "expected"), [
    ((0.001, 0.002), {"john": YES, "mary": YES}, {"burglary": 0.284172, "earthquake": 0.176067, "alarm": 0.760692}),
    ((0.001, 0.002), {"john": YES}, {"burglary": 0.016284}),
    ((0.01, 0.02), {"john": YES, "mary": YES}, {"burglary": 0.556522}),
])
def test_burglary_and_earthquake(priors: tuple[float, float], calls: dict[str, Array], expected: dict[str, float]) -> None:
    """The burglary network through a joint fault and a condition.

    Russell and Norvig, Artificial Intelligence, chapter on probabilistic reasoning: tables and .284 as printed; the
    further digits, and the variant with priors .01 and .02 (the bundled `earthquake` network), computed with pgmpy.
    """
    net, prior = burglary(*priors)
    answers = believed(net, prior, calls)
    states = answers.states("both")
    found = {"burglary": states[2] + states[3], "earthquake": states[1] + states[3], "alarm": answers.chance("alarm")}
    assert {k: found[k] for k in expected} == pytest.approx(expected, abs=1e-6)


def test_burglary_forward() -> None:
    """Given a burglary the alarm rings with .94002, John calls with .849017 and Mary with .658614.

    Russell and Norvig's tables; forward values read on an archived course page.
    """
    net, prior = burglary(1.0, 0.002)
    assert believed(net, prior, {"john": YES}).log_evidence[0] == pytest.approx(math.log(0.849017), abs=1e-6)
    assert believed(net, prior, {"mary": YES}).log_evidence[0] == pytest.approx(math.log(0.658614), abs=1e-6)
    flat = Belief.of([(1.0, net, prior)], {}).ask([Query(), Query(states={"alarm": YES})])
    assert flat.total(1) == pytest.approx(0.94002, abs=1e-6)


def asia_chain() -> tuple[Net, dict[int, Array]]:
    """Asia without dyspnoea, every node of its own: tuberculosis and cancer are caused faults, 'either' a condition."""
    nodes = [("asia", "fault", 2, None), ("smoke", "fault", 2, None), ("tub", "fault", 2, None), ("lung", "fault", 2, None),
             ("bronc", "fault", 2, None), ("either", "condition", 2, np.array([1.0, 1.0])), ("xray", "sign", 2, cumulative([0.05]))]
    links = [("asia", "tub", causes(beside(0.01, 0.05))), ("smoke", "lung", causes(beside(0.01, 0.10))),
             ("smoke", "bronc", causes(beside(0.30, 0.60))), ("tub", "either", causes(1.0)), ("lung", "either", causes(1.0)),
             ("either", "xray", causes(beside(0.05, 0.98)))]
    prior = {i: np.array([1 - p, p]) for i, p in enumerate((0.01, 0.5, 0.01, 0.01, 0.30))}
    return make_net(nodes, links), prior  # type: ignore[arg-type]


def test_asia_before_any_finding() -> None:
    """Asia's chances before any finding, through caused faults and a deterministic 'or' (strength 1).

    Lauritzen and Spiegelhalter, J. R. Statist. Soc. B 50 (1988); values computed with pgmpy and pyagrum.
    """
    net, prior = asia_chain()
    belief = Belief.of([(1.0, net, prior)], {"xray": YES})
    answers = belief.ask([Query(drop=frozenset({"xray"})), Query()])
    found = {name: answers.chance(name) for name in ("tub", "lung", "bronc", "either")}
    assert found == pytest.approx({"tub": 0.0104, "lung": 0.055, "bronc": 0.45, "either": 0.064828}, abs=1e-6)
    assert answers.total(1) == pytest.approx(0.11029, abs=1e-6)


ASIA_STATES = list(itertools.product((0, 1), repeat=4))
"""Smoking, tuberculosis, cancer, bronchitis: one joint fault of sixteen states, all healthy first."""


def asia_joint(p_tub: float) -> tuple[Net, dict[int, Array]]:
    """Asia with dyspnoea: the sixteen joint states of its causes above two signs."""
    def either(given: float, state: int) -> float:
        return given if state else 1.0 - given

    prior = [either(0.5, s) * either(p_tub, t) * either(0.10 if s else 0.01, l) * either(0.60 if s else 0.30, b)
             for s, t, l, b in ASIA_STATES]
    ill = [(t or l, b) for _, t, l, b in ASIA_STATES]
    xray = [beside(0.05, 0.98 if e else 0.05) for e, _ in ill]
    dysp = [beside(0.10, {(0, 0): 0.1, (0, 1): 0.8, (1, 0): 0.7, (1, 1): 0.9}[e, b]) for e, b in ill]
    nodes = [("root", "fault", 16, None), ("xray", "sign", 2, cumulative([0.05])), ("dysp", "sign", 2, cumulative([0.10]))]
    return make_net(nodes, [("root", "xray", causes(*xray[1:])), ("root", "dysp", causes(*dysp[1:]))]), {0: np.array(prior)}  # type: ignore[arg-type]


@pytest.mark.parametrize(("p_tub", "findings", "expected"), [
    (0.05, ("dysp",), {"tub": 0.087751, "lung": 0.099525, "bronc": 0.811402, "smoke": 0.625920}),
    (0.05, ("dysp", "xray"), {"tub": 0.391712, "lung": 0.444271, "bronc": 0.628822}),
    (0.0104, ("dysp",), {"tub": 0.018845, "lung": 0.102759, "bronc": 0.833967}),
])
def test_asia_after_findings(p_tub: float, findings: tuple[str, ...], expected: dict[str, float]) -> None:
    """Asia with dyspnoea and X-ray: the X-ray turns the ranking of bronchitis, cancer and tuberculosis round.

    Lauritzen and Spiegelhalter (1988); values computed with pgmpy and pyagrum. A visit to Asia enters by the chance
    of tuberculosis, .05 instead of .0104.
    """
    net, prior = asia_joint(p_tub)
    states = believed(net, prior, dict.fromkeys(findings, YES)).states("root")
    found = {name: sum(p for p, row in zip(states, ASIA_STATES, strict=True) if row[k])
             for k, name in enumerate(("smoke", "tub", "lung", "bronc"))}
    assert {k: found[k] for k in expected} == pytest.approx(expected, abs=1e-6)


def test_sprinkler() -> None:
    """The wet lawn: sprinkler .429764, rain .707928, and with rain known the sprinkler is explained away to .194499.

    Murphy, A Brief Introduction to Graphical Models (1998), tables from memory, values computed with a second program.
    The sky is one fault of two states, clear and cloudy, for each favours one of the two causes.
    """
    nodes = [("sky", "fault", 3, None), ("sprinkler", "condition", 2, cumulative([0.1])), ("rain", "condition", 2, cumulative([0.2])),
             ("wet", "sign", 2, np.array([1.0, 1.0])), ("rain-seen", "sign", 2, np.array([1.0, 1.0]))]
    links = [("sky", "sprinkler", causes(beside(0.1, 0.5), 0.0)), ("sky", "rain", causes(0.0, beside(0.2, 0.8))),
             ("sprinkler", "wet", causes(0.9)), ("rain", "wet", causes(0.9)), ("rain", "rain-seen", causes(1.0))]
    net, prior = make_net(nodes, links), {0: np.array([0.0, 0.5, 0.5])}  # type: ignore[arg-type]
    answers = believed(net, prior, {"wet": YES})
    assert math.exp(answers.log_evidence[0]) == pytest.approx(0.6471, abs=1e-12)
    assert answers.chance("sprinkler") == pytest.approx(0.429764, abs=1e-6)
    assert answers.chance("rain") == pytest.approx(0.707928, abs=1e-6)
    assert believed(net, prior, {"wet": YES, "rain-seen": YES}).chance("sprinkler") == pytest.approx(0.194499, abs=1e-6)


def test_car_that_does_not_start() -> None:
    """No start: dirty plugs .5806, no fuel .2932.

    The reduced car-start network of Jensen and Nielsen, Bayesian Networks and Decision Graphs (tables from memory). Its
    fuel meter does not fit: half full would speak for no fuel more than empty does, beside the same background.
    """
    net, prior = two_state({"no-fuel": 0.02, "dirty-plugs": 0.04}, {"no-start": 0.01},
                           [("no-fuel", "no-start", causes(1.0)), ("dirty-plugs", "no-start", causes(beside(0.01, 0.99)))])
    answers = believed(net, prior, {"no-start": YES})
    assert answers.chance("dirty-plugs") == pytest.approx(0.5806, abs=5e-5)
    assert answers.chance("no-fuel") == pytest.approx(0.2932, abs=5e-5)


# ------------------------------------------------------------------ decibans


@pytest.mark.parametrize(("factor", "decibans"), [(2.0, 3.01), (10.0, 10.0), (20.0, 13.01), (1.259, 1.0)])
def test_weight_of_evidence(factor: float, decibans: float) -> None:
    """A sign that is so many times likelier with the fault than without moves its log odds by 10 log10 of that.

    Good's weight of evidence (1994) as printed there: factors 2, 10, 20 and 1.259 are 3.01, 10, 13.01 and 1 decibans.
    """
    net, prior = two_state({"a": 0.01}, {"s": 0.04}, [("a", "s", causes(beside(0.04, 0.04 * factor)))])
    answers = Belief.of([(1.0, net, prior)], {"s": YES}).ask([Query(), Query(drop=frozenset({"s"}))])
    assert answers.log_odds("a") - answers.log_odds("a", 1) == pytest.approx(decibans, abs=0.005)


def test_base_rates_count() -> None:
    """One in a hundred is -19.96 decibans; factors 20 and 5 make .5025 of it; sensitivity .9 and specificity .95 make .1538.

    Hand sums by Bayes' rule.
    """
    net, prior = two_state({"a": 0.01}, {"s": 0.04, "t": 0.1},
                           [("a", "s", causes(beside(0.04, 0.8))), ("a", "t", causes(beside(0.1, 0.5)))])
    answers = Belief.of([(1.0, net, prior)], {"s": YES, "t": YES}).ask([Query(), Query(drop=frozenset({"s", "t"}))])
    assert answers.log_odds("a", 1) == pytest.approx(-19.96, abs=0.005)
    assert answers.chance("a") == pytest.approx(0.5025, abs=5e-5)
    net, prior = two_state({"a": 0.01}, {"s": 0.05}, [("a", "s", causes(beside(0.05, 0.9)))])
    assert believed(net, prior, {"s": YES}).chance("a") == pytest.approx(0.1538, abs=5e-5)


# ------------------------------------------------------------------ signs of one hidden state


@pytest.mark.parametrize(("signs", "all_seen", "none_seen"), [
    (1, 0.361, 0.0100), (2, 0.405, 0.0084), (3, 0.402, 0.0083), (5, 0.403, 0.0083),
])
def test_signs_of_one_hidden_state_are_not_independent(signs: int, all_seen: float, none_seen: float) -> None:
    """Three signs of one hidden state tell hardly more than one: .40, not the .99 of three independent signs.

    Fault .04; it brings the hidden state with .8 beside a background of .05; each sign is seen with .95 in that state
    and .01 out of it. Expected values from a hand-made simulation of 2e6 cases, here within three of its standard errors.
    """
    nodes = [("a", "fault", 2, None), ("c", "condition", 2, cumulative([0.05]))]
    nodes += [(f"s{i}", "sign", 2, cumulative([0.01])) for i in range(signs)]  # type: ignore[misc]
    links = [("a", "c", causes(0.8)), *(("c", f"s{i}", causes(beside(0.01, 0.95))) for i in range(signs))]
    net, prior = make_net(nodes, links), {0: np.array([0.96, 0.04])}  # type: ignore[arg-type]
    assert believed(net, prior, {f"s{i}": YES for i in range(signs)}).chance("a") == pytest.approx(all_seen, abs=0.004)
    assert believed(net, prior, {f"s{i}": NO for i in range(signs)}).chance("a") == pytest.approx(none_seen, abs=0.0002)
