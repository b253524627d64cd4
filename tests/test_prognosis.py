"""What would happen on the trip: mixed over the joint of all faults, against enumeration, hand sums and simulation."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
import smallbook as sb
from hypothesis import given, settings
from hypothesis import strategies as st
from network.brute import Joint, joint

from diagnose import assess, lives
from diagnose.assessment import Assessment
from diagnose.case import Case
from diagnose.knowledge.book import Book
from diagnose.machinery import Machinery
from diagnose.network.nodes import Net, sign_id, unknown_id
from diagnose.prior import priors
from diagnose.prognosis import UNKNOWN_ENDS, short_end
from diagnose.situation import resolve

AT_ONCE = (0.1, 0.2)
"""A stage that is over within minutes: on any trip of some hours it ends for certain."""


def assessed(book: Book, *observations: sb.Map, **case: object) -> Assessment:
    return assess(sb.case_of(*observations, **case), book, next_check=False)  # type: ignore[arg-type]


# ------------------------------------------------------------------ the joint


def test_exclusive_rivals_are_mixed_over_the_joint() -> None:
    """One of two rivals is there, either ends badly in 40 of 100: .400 together, where their marginals would say .360.

    Hand sum: each .5, never both, so .5 * .4 + .5 * .4; from marginals 1 - (1 - .5 * .4)^2 = .36.
    """
    signs = [f"sign-{i}" for i in range(4)]
    links = [sb.shows(s, (0.98,)) for s in signs]
    ends = {"lasts": (AT_ONCE,), "outcomes": (("engine-lost", 0.4), ("nuisance", 0.6)), "rate": 0.001}
    book = sb.book_of(sb.component(symptoms=[sb.symptom(s, (0.001,)) for s in signs],
                                   faults=[sb.fault("one", links, **ends), sb.fault("two", links, **ends)]))
    found = assessed(book, *(sb.seen(s, "some") for s in signs))
    assert found.all_probabilities == pytest.approx({"one": 0.5, "two": 0.5}, abs=1e-3)
    assert found.departure.going.worst_at_least["engine-lost"] == pytest.approx(0.4, abs=1e-3)


KINDS = ("nuisance", "repair-bill", "engine-lost", "flooding", "gas", "fire")


def random_book(rng: np.random.Generator) -> Book:
    """Two or three staged faults with several outcomes, a condition, three signs, an unknown fault that matters."""
    def falling(count: int) -> list[float]:
        return sorted((float(x) for x in rng.choice(np.linspace(0.1, 0.95, 30), count, replace=False)), reverse=True)

    sizes = {f"sign-{i}": int(rng.integers(1, 3)) for i in range(3)}
    symptoms = [sb.symptom(s, [0.04, 0.01][:n], worst=str(rng.choice(KINDS))) for s, n in sizes.items()]
    hidden = sb.condition("hidden", (0.03,), [sb.shows(s, falling(n), stages=("some",)) for s, n in sizes.items() if rng.random() < 0.6])
    faults = []
    for i in range(int(rng.integers(2, 4))):
        links = [sb.shows(s, falling(n)) for s, n in sizes.items() if rng.random() < 0.5]
        if rng.random() < 0.5 or not links:
            links.append(sb.shows("hidden", falling(1), condition=True))
        kinds = [str(k) for k in rng.choice(KINDS, int(rng.integers(1, 4)), replace=False)]
        chances = rng.dirichlet(np.ones(len(kinds) + 1))[:-1]
        spans = [(float(s), float(s * rng.uniform(2, 20))) for s in rng.uniform(0.2, 30, int(rng.integers(1, 3)))]
        limits = {"limits": [{"verb": "ease", "say": "Ease her."}], "limits_leave": 0.3} if rng.random() < 0.5 else {}
        faults.append(sb.fault(f"fault-{i}", links, rate=float(rng.uniform(0.05, 0.6)), lasts=spans,
                               outcomes=[(k, float(c) + 1e-3) for k, c in zip(kinds, chances * 0.9, strict=True)], **limits))
    if rng.random() < 0.5:
        faults[0]["leads_to"] = [{"fault": "fault-1", "chance": 0.4, "why": "invented"}]
    return sb.book_of(sb.component(symptoms=symptoms, conditions=[hidden], faults=faults), unknown_share=0.2)


def random_case(rng: np.random.Generator, book: Book) -> Case:
    seen = [sb.seen(s.id, str(rng.choice(list(s.grades)))) for s in book.symptoms.values() if rng.random() < 0.8]
    return sb.case_of(*seen, trip={"engine_hours": float(rng.uniform(2, 40)), "exposure": "coastal", "can_sail": False})


def enumerated(case: Case, book: Book, *, limited: bool) -> tuple[dict[str, float], float]:
    """P(worst at least each kind) and the expected worst loss, over every joint state and every way it may end."""
    situation = resolve(case, book)
    net = Machinery.of(book).net(frozenset())
    prior = priors(book, net, situation)
    table = joint(net, prior)
    weight = table.weigh({net.index[sign_id(s.symptom, s.state)]: s.likelihood for s in situation.seen})
    owners = net.of_kind("fault", "unknown")
    concern = spoken_for(book, net, table, weight, something_seen=any(o.grade != "none" for o in case.observations))
    ways = [ways_to_end(case, book, net.ids[n], limited and net.ids[n] in concern) if net.ids[n] in concern
            else [[(1.0, "")]] * net.sizes[n] for n in owners]
    at_least = dict.fromkeys(sb.CONSEQUENCES, 0.0)
    expected = 0.0
    states, place = np.unique(table.states[:, owners], axis=0, return_inverse=True)
    for states_of, chance in zip(states, np.bincount(place.ravel(), weights=weight) / weight.sum(), strict=True):
        for drawn in itertools.product(*(w[s] for w, s in zip(ways, states_of, strict=True))):
            p = chance * math.prod(q for q, _ in drawn)
            worst = max(sb.LOSES[k] if k else 0 for _, k in drawn)
            expected += p * worst
            for kind in at_least:
                at_least[kind] += p * (worst >= sb.LOSES[kind])
    return at_least, expected


def spoken_for(book: Book, net: Net, table: Joint, weight: np.ndarray, *, something_seen: bool) -> set[str]:
    """The faults whose odds what was seen raises by a deciban or more, those that owe it one in a hundred where there is a
    sign at all, and the unknown ones: they decide."""
    before = table.weigh({})
    found = {n for n in net.ids if n.startswith("unknown:")}
    for name in book.faults:
        node = net.index[name]
        then, now = (table.mass(node, net.sizes[node], w) for w in (before, weight))
        lift = 10 * math.log10(now[1:].sum() / now[0] * then[0] / then[1:].sum())
        p, before_that = now[1:].sum() / now.sum(), then[1:].sum() / then.sum()
        owed = max(0.0, p - before_that) / (1.0 - before_that)
        if round(lift, 3) >= 1.0 or (something_seen and owed >= 0.01):
            found.add(name)
    return found


def ways_to_end(case: Case, book: Book, name: str, limited: bool) -> list[list[tuple[float, str]]]:
    """For each state of a fault the ways the trip may go: chance and consequence ('' for none)."""
    if name not in book.faults:
        worst = [meant(book, o.symptom, str(o.grade)) for o in case.observations if o.grade != "none"]
        kind = max(worst, key=sb.CONSEQUENCES.index, default="")
        return [[(1.0, "")], *[[(1 - UNKNOWN_ENDS, ""), (UNKNOWN_ENDS, str(kind))]] * 3]
    fault = book.faults[name]
    spans = [s.lasts for s in fault.stages]
    found = [[(1.0, "")]]
    for i in range(len(spans)):
        end = lives.chance_of_end(spans[i:], [case.trip.engine_hours or 0.0] * (len(spans) - i))
        end *= fault.limits_leave if limited and fault.limits else 1.0
        ends = [(end * o.chance, str(o.kind)) for o in fault.outcomes]
        found.append([(1 - sum(q for q, _ in ends), ""), *ends])
    return found


def meant(book: Book, symptom: str, grade: str) -> str:
    """The worst a sign can mean; at the mildest of several grades no more than a repair."""
    entry = book.symptoms[symptom]
    mild = list(entry.grades).index(grade) == 1 and len(entry.grades) > 2
    return min(entry.worst, "repair-bill", key=sb.CONSEQUENCES.index) if mild else entry.worst


@settings(max_examples=50)
@given(st.integers(0, 10**6))
def test_risks_equal_enumeration(seed: int) -> None:
    """Chance of each consequence or worse, and the expected worst loss, equal a sum over all joint states and outcomes."""
    rng = np.random.default_rng(seed)
    book = random_book(rng)
    case = random_case(rng, book)
    departure = assess(case, book, next_check=False).departure
    for risk, limited in ((departure.going, False), (departure.with_limits, True)):
        if risk is not None:
            at_least, expected = enumerated(case, book, limited=limited)
            assert dict(risk.worst_at_least) == pytest.approx(at_least, rel=1e-7, abs=1e-12)
            assert risk.expected_hours == pytest.approx(expected, rel=1e-7)


# ------------------------------------------------------------------ losses


def certain(kind: str) -> Book:
    """A book in which three signs prove a fault that ends in this at once."""
    links = [sb.shows("sign", (0.98,)), sb.shows("mark", (0.98,)), sb.shows("token", (0.98,))]
    return sb.book_of(sb.component(symptoms=[sb.symptom(s, (0.001,)) for s in ("sign", "mark", "token")],
                                   faults=[sb.fault("f", links, rate=2.0, lasts=(AT_ONCE,), outcomes=((kind, 1.0),))]))


ALL_SEEN = [sb.seen(s, "some") for s in ("sign", "mark", "token")]


@pytest.mark.parametrize(("trip", "kind", "loss"), [
    ({}, "engine-lost", 200.0),
    ({"can_sail": True}, "engine-lost", 100.0),
    ({"can_sail": True}, "flooding", 3000.0),
    ({"losses": {"by_consequence": {"engine-lost": 700}}}, "engine-lost", 700.0),
    ({"can_sail": True, "losses": {"by_consequence": {"engine-lost": 700}}}, "engine-lost", 700.0),
])
def test_losses_of_the_trip(trip: dict[str, object], kind: str, loss: float) -> None:
    """The book's loss for the exposure; the sail's share of a lost engine; and the skipper's own figure above both."""
    departure = assessed(certain(kind), *ALL_SEEN, trip={"engine_hours": 4, "exposure": "coastal", "can_sail": False, **trip}).departure
    assert departure.losses[kind] == loss  # type: ignore[index]
    assert departure.going.expected_hours == pytest.approx(loss, rel=1e-3)


# ------------------------------------------------------------------ the healthy baseline


def test_healthy_boat_risks_what_begins_on_the_way() -> None:
    """A fault of .5 a year that stops her at once: over 20 h at 100 h a year 1 - exp(-.1), whatever was seen (hand sum)."""
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")],
                                   faults=[sb.fault("f", [sb.shows("sign", (0.9,))], rate=0.5, lasts=(AT_ONCE,))]))
    for seen in ((), (sb.seen("sign", "some"),), (sb.seen("sign", "none"),)):
        healthy = assessed(book, *seen, trip={"engine_hours": 20, "exposure": "coastal"}).departure.on_the_way
        assert healthy.worst_at_least["engine-lost"] == pytest.approx(1 - math.exp(-0.1), rel=2e-3)
        assert healthy.expected_hours == pytest.approx(200 * (1 - math.exp(-0.1)), rel=2e-3)


def test_onset_on_the_way_follows_simulation() -> None:
    """Two stages that begin on a trip of 40 h: the chance that they end before arrival is that of a simulation."""
    rng = np.random.default_rng(31)
    count = 400_000
    onset = rng.uniform(0, 40, count)
    spans = ((2, 20), (1, 10))
    lengths = [np.exp(rng.normal(0.5 * math.log(a * b), math.log(b / a) / (2 * 1.6448536), count)) for a, b in spans]
    ended = (onset + lengths[0] + lengths[1] <= 40).mean()
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")],
                                   faults=[sb.fault("f", [sb.shows("sign", (0.9,))], rate=0.1, lasts=spans)]))
    healthy = assessed(book, trip={"engine_hours": 40, "exposure": "coastal"}).departure.on_the_way
    assert healthy.worst_at_least["engine-lost"] == pytest.approx(1 - math.exp(-0.04 * ended), rel=0.02)


def test_a_clock_that_always_runs_counts_the_hours_away() -> None:
    """A hose that softens at rest too is judged by the hours away, not by the engine's."""
    def lost(clock: str, away: float) -> float:
        fault = sb.fault("f", [sb.shows("sign", (0.9,))], lasts=((20, 200),))
        fault["stages"][0]["clock"] = clock
        book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=[fault]))
        trip = {"engine_hours": 5, "hours_away": away, "exposure": "coastal"}
        return assessed(book, sb.seen("sign", "some"), trip=trip).departure.going.worst_at_least["engine-lost"]

    assert lost("running", 10) == lost("running", 100)
    ratio = lives.residual_chance(100, (20, 200)) / lives.residual_chance(5, (20, 200))
    assert lost("always", 100) / lost("running", 100) == pytest.approx(ratio, rel=1e-6)


# ------------------------------------------------------------------ grades


def by_dose(doses: Sequence[float], grades: int, base: Sequence[float]) -> list[list[float]]:
    """Strengths by stage such that a worse grade always speaks more for a worse stage.

    P(at most g) = base[g]^dose: the law of the worst of `dose` contributions of one kind, so that the ratio of the chances of
    an exact grade under two doses rises with the grade.
    """
    return [[1 - base[g] ** d for g in range(grades)] for d in doses]


@st.composite
def staged(draw: st.DrawFn) -> tuple[Book, int]:
    """One fault of two or three stages whose sign (direct, or by way of a condition) has monotone strengths."""
    stages = draw(st.integers(2, 3))
    grades = draw(st.integers(2, 3))
    apart = (0.2, 0.35, 0.5, 0.65, 0.8, 0.93)
    base = sorted(draw(st.lists(st.sampled_from(apart), min_size=grades, max_size=grades, unique=True)))
    steps = draw(st.lists(st.floats(0.3, 2.0), min_size=stages, max_size=stages))
    background = [1 - b ** 0.02 for b in base]
    rows = by_dose(np.cumsum(steps).tolist(), grades, base)
    hidden = draw(st.booleans())
    shown = sb.shows("sign", *rows, stages=GRADES) if hidden else sb.shows("sign", *rows)
    other = sb.shows("other", (draw(st.floats(0.2, 0.9)),))
    parts: dict[str, list[sb.Map]] = {"symptoms": [sb.symptom("sign", background), sb.symptom("other", (0.05,))]}
    if hidden:
        inner = by_dose(np.cumsum(draw(st.lists(st.floats(0.3, 2.0), min_size=stages, max_size=stages))).tolist(), stages,
                        [0.3, 0.5, 0.7][:stages])
        parts["conditions"] = [sb.condition("hidden", [1 - b ** 0.02 for b in (0.3, 0.5, 0.7)[:stages]], [shown])]
        links = [sb.shows("hidden", *inner, condition=True), other]
    else:
        links = [shown, other]
    spans = ((50, 300), (20, 100), (2, 15))[:stages]
    parts["faults"] = [sb.fault("f", links, rate=draw(st.floats(0.01, 1.0)), lasts=spans)]
    return sb.book_of(sb.component(**parts)), grades


GRADES = ("some", "much", "utter")


@settings(max_examples=60)
@given(staged(), st.sampled_from([(), (sb.seen("other", "some"),), (sb.seen("other", "none"),)]))
def test_a_worse_grade_alone_is_never_better_news(made: tuple[Book, int], others: tuple[sb.Map, ...]) -> None:
    """Grade by grade the expected loss and the chance of the later stages never fall, the rest being equal."""
    book, grades = made
    runs = [assessed(book, sb.seen("sign", g), *others) for g in sb.GRADES[: grades + 1]]
    losses = [a.departure.going.expected_hours for a in runs]
    assert all(b >= a - 1e-7 * max(1.0, a) for a, b in itertools.pairwise(losses))
    for first_late in range(1, len(book.faults["f"].stages)):
        late = [sum(list(stages_of(a).values())[first_late:]) for a in runs]
        assert all(b >= a - 1e-7 for a, b in itertools.pairwise(late))


def stages_of(a: Assessment) -> Mapping[str, float]:
    return next(line.stages for line in a.ranking if line.fault == "f")


# ------------------------------------------------------------------ words


def test_short_end_counts_half_of_the_stage_at_hand() -> None:
    """Short ends of 20, 10 and 1 h: met in the first stage 10 + 10 + 1, in the last half an hour (hand sums)."""
    fault = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=[
        sb.fault("f", [sb.shows("sign", (0.9,))], lasts=((20, 200), (10, 100), (1, 10)))])).faults["f"]
    assert short_end(fault, 0) == pytest.approx(21.0)
    assert short_end(fault, 2) == pytest.approx(0.5)


def test_unknown_faults_are_one_a_system() -> None:
    """The unknown fault of a system is named for it, so that its worst can be looked up."""
    assert unknown_id("cooling") == "unknown:cooling"
