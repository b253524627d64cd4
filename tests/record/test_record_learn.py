"""What this boat's history does to her rates: the gamma against published tables, the update against worked examples, and the log."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import logkit as kit
import pytest
import smallbook as sb
import tiny
from hypothesis import given
from hypothesis import strategies as st

from diagnose import assess
from diagnose.case import Case
from diagnose.errors import InputError
from diagnose.knowledge.book import Book
from diagnose.prior import prior_of
from diagnose.record import entries as e
from diagnose.record.gamma import Gamma, lower_share, rate_within, standard_quantile
from diagnose.record.learn import LEAST, MOST, Learning, learn, learned_case
from diagnose.record.store import Record
from diagnose.situation import resolve

BOAT = "Tern"


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    """An empty record."""
    with Record.open(tmp_path / "r.sqlite3") as made:
        yield made


# ------------------------------------------------------------------ the gamma distribution


@pytest.mark.parametrize(
    ("degrees", "low", "high"),
    [(1, 0.004, 3.841), (2, 0.103, 5.991), (5, 1.145, 11.070), (10, 3.940, 18.307), (20, 10.851, 31.410), (50, 34.764, 67.505),
     (100, 77.929, 124.342)],
)
def test_quantiles_of_chi_square(degrees: int, low: float, high: float) -> None:
    """Twice a standard gamma of half the degrees is chi-square: its 5 and 95 % points to the digits printed.

    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, critical values of the chi-square distribution (memory; each was
    computed again with scipy.stats.chi2.ppf).
    """
    for share, value in ((0.05, low), (0.95, high)):
        assert 2 * standard_quantile(degrees / 2, share) == pytest.approx(value, abs=6e-4)
        assert lower_share(degrees / 2, value / 2) == pytest.approx(share, abs=6e-4)


@given(st.floats(0.05, 200), st.floats(0.01, 0.99))
def test_the_quantile_undoes_the_share(shape: float, share: float) -> None:
    """Below the point found lies the share asked for."""
    assert lower_share(shape, standard_quantile(shape, share)) == pytest.approx(share, abs=1e-9)


def test_shares_rise_from_nothing_to_all() -> None:
    """Through the change of method at shape + 1 the share rises steadily; at shape 1 it is 1 - exp(-x)."""
    import math

    for x in (0.1, 1.0, 1.999, 2.0, 2.001, 5.0, 50.0):
        assert lower_share(1.0, x) == pytest.approx(1 - math.exp(-x), rel=1e-12)
    found = [lower_share(2.64, i / 50) for i in range(1, 800)]
    assert found == sorted(found)
    assert lower_share(2.64, 0) == 0
    assert found[-1] == pytest.approx(1, abs=1e-4)


@pytest.mark.parametrize("spread", [1.2, 1.6, 2, 3, 5, 10, 20])
def test_the_spread_of_the_book_is_the_spread_of_the_gamma(spread: float) -> None:
    """Ninety in a hundred boats lie between value/spread and value*spread, as the book says of its rates."""
    rate = rate_within(0.02, spread)
    assert rate.interval == (pytest.approx(0.02 / spread, rel=1e-8), pytest.approx(0.02 * spread, rel=1e-8))


def test_the_update_of_worked_examples() -> None:
    """Gamma(10, 2) and counts 6, 2, 2, 1 over four units give Gamma(21, 6); 58 in 581 from nothing known give 0.079 to 0.122.

    Johnson, Ott and Dogucu, Bayes Rules!, chapter 5 (read on the reading group's page of its section 5.12); Albert, Bayesian
    Computation with R, inference for a Poisson rate (the author's page; his limits were simulated with 1000 draws).
    """
    assert Gamma(10, 2).after(6 + 2 + 2 + 1, 4) == Gamma(21, 6)
    low, high = Gamma(0, 0).after(58, 581).interval
    assert (low, high) == (pytest.approx(0.079, abs=0.001), pytest.approx(0.122, abs=0.001))


# ------------------------------------------------------------------ a boat's rates


ARRANGED = {"cooling": "sealed", "pump-drive": "belt"}


def ran(record: Record, hours: float, boat: str = BOAT, start: float = 1000, arrangement: dict[str, str] = ARRANGED) -> None:
    """A boat that has run so many hours on record."""
    record.append(e.BoatEntry(at=kit.at(-10), name=boat, arrangement=arrangement), boat=boat)  # type: ignore[arg-type]
    record.append(e.HoursEntry(at=kit.at(-10), engine_hours=start), boat=boat)
    record.append(e.HoursEntry(at=kit.at(-5), engine_hours=start + hours), boat=boat)


def found(record: Record, *faults: str, boat: str = BOAT, minutes: float = 0, **more: Any) -> str:
    """A case in which it was these faults."""
    case = str(record.append(kit.opened(minutes=minutes), boat=boat).case)
    record.append(e.Found(at=kit.at(minutes + 1), faults=faults, **more), boat=boat, case=case)
    return case


def line(learning: Learning, fault: str) -> Any:
    """What was learned of one fault."""
    return next(each for each in learning.lines if each.fault == fault)


def test_a_finding_and_the_hours_move_the_rate(record: Record, tiny_book: Book) -> None:
    """Two findings in 300 engine hours, three boat-years at 100 h a year: two more in the shape, three more years (hand sum)."""
    ran(record, 300)
    for minutes in (0, 10):
        found(record, "pump-seal-worn", minutes=minutes)
    learning = learn(record, BOAT, tiny_book)
    assert (learning.hours, learning.years) == (300, pytest.approx(3))
    seal, bearing = line(learning, "pump-seal-worn"), line(learning, "pump-bearing-worn")
    assert seal.posterior == Gamma(seal.prior.shape + 2, seal.prior.years + 3)
    expected = (1 + 2 / seal.prior.shape) / (1 + 3 / seal.prior.years)
    assert seal.factor == pytest.approx(expected, rel=5e-3)
    assert bearing.factor == pytest.approx(1 / (1 + 3 / bearing.prior.years), rel=5e-3)
    assert bearing.factor < 1 < seal.factor
    assert learning.own_rates["pump-seal-worn"] == seal.factor


def test_without_history_nothing_moves(record: Record, tiny_book: Book) -> None:
    """A boat just entered has the rates of the book."""
    record.append(e.BoatEntry(name=BOAT), boat=BOAT)
    learning = learn(record, BOAT, tiny_book)
    assert {each.factor for each in learning.lines} == {1.0}
    assert learning.own_rates == {}


def test_a_finding_taken_back_moves_the_rate_back(record: Record, tiny_book: Book) -> None:
    """Taken back, a finding has never been; corrected, the later one counts alone; taking back the correction, the first again."""
    ran(record, 100)
    before = learn(record, BOAT, tiny_book)
    case = found(record, "pump-seal-worn")
    first = learn(record, BOAT, tiny_book)
    assert first != before
    stored = record.append(e.Found(at=kit.at(5), faults=("pump-bearing-worn",)), boat=BOAT, case=case)
    second = learn(record, BOAT, tiny_book)
    assert [line(second, f).found for f in ("pump-seal-worn", "pump-bearing-worn")] == [0, 1]
    record.append(e.TakenBack(at=kit.at(6), entry=stored.id), boat=BOAT, case=case)
    assert learn(record, BOAT, tiny_book) == first
    record.append(e.TakenBack(at=kit.at(7), entry=stored.id - 1), boat=BOAT, case=case)
    assert learn(record, BOAT, tiny_book) == before


def test_only_what_is_certain_and_known_counts(record: Record, tiny_book: Book) -> None:
    """What is only likely, and what the book does not hold, is named and moves nothing."""
    ran(record, 100)
    before = learn(record, BOAT, tiny_book)
    found(record, "pump-seal-worn", sure="likely")
    found(record, "fault-of-another-book", minutes=10)
    found(record, minutes=20, not_in_book="a rag in the hose")
    after = learn(record, BOAT, tiny_book)
    assert after.lines == before.lines
    assert len(after.left_out) == 2
    assert "likely, not certain" in after.left_out[0]
    assert "not in this book" in after.left_out[1]


def test_other_boats_count_only_if_asked(record: Record, tiny_book: Book) -> None:
    """One boat's findings move no other's rates; asked to, the findings and hours of all are put together."""
    ran(record, 100)
    ran(record, 200, boat="Wren")
    found(record, "pump-seal-worn", boat="Wren")
    alone, across = learn(record, BOAT, tiny_book), learn(record, BOAT, tiny_book, across=True)
    assert (line(alone, "pump-seal-worn").found, alone.hours, alone.boats) == (0, 100, ("Tern",))
    assert (line(across, "pump-seal-worn").found, across.hours, across.boats) == (1, 300, ("Tern", "Wren"))


def test_faults_she_cannot_have_are_left_alone(record: Record, tiny_book: Book) -> None:
    """Hours without a fault that a boat arranged like this cannot have say nothing of it."""
    ran(record, 500)
    assert "pump-bearing-worn" in {each.fault for each in learn(record, BOAT, tiny_book).lines}
    record.append(e.BoatEntry(at=kit.at(0), name=BOAT, arrangement={"pump-drive": "gear"}), boat=BOAT)
    assert "pump-bearing-worn" not in {each.fault for each in learn(record, BOAT, tiny_book).lines}


def test_the_factor_keeps_its_bounds(record: Record) -> None:
    """However often a fault was found or was not, the rate is not taken for more than twenty times the book's, nor a twentieth."""
    faults = [sb.fault(name, [sb.shows("sign", (0.8,))], rate=rate) for name, rate in (("seldom", 0.001), ("often", 4.0))]
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=faults))
    ran(record, 0, arrangement={})
    with record.writing():
        for minutes in range(90):
            found(record, "seldom", minutes=minutes * 3)
    ran(record, 100_000, boat="Wren", start=0, arrangement={})
    assert line(learn(record, BOAT, book), "seldom").factor == MOST
    assert line(learn(record, "Wren", book), "often").factor == LEAST


# ------------------------------------------------------------------ what a rate of her own does


def test_a_rate_of_her_own_multiplies_the_prior() -> None:
    """Four times as often on this boat, noticed 20 h ago at .05 a year of 100 h: 1 - exp(-.04) (hand sum)."""
    import math

    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=[sb.fault("f", [sb.shows("sign", (0.8,))], rate=0.05)]))
    situation = resolve(sb.case_of(noticed_hours=20), book)
    assert prior_of(book.faults["f"], situation, 4.0)[1] == pytest.approx(1 - math.exp(-0.04), rel=1e-12)


def test_a_rate_of_her_own_multiplies_wear_too() -> None:
    """Where the age of a part gives the rate, the factor acts on that hazard: twice it is one minus the square of surviving."""
    worn = {"since": "pump", "shape": 2, "life": {"value": 1000, "unit": "hour", "spread": 1.1, "source": "common-practice"}}
    fault = sb.fault("f", [sb.shows("sign", (0.8,))], rate=0.001, ages_with=worn)
    book = sb.book_of(sb.component(symptoms=[sb.symptom("sign")], faults=[fault]))
    situation = resolve(sb.case_of(boat={"serviced": {"pump": {"hours_ago": 600}}}, noticed_hours=100), book)
    once, twice = (prior_of(book.faults["f"], situation, own)[1] for own in (1.0, 2.0))
    assert twice == pytest.approx(1 - (1 - once) ** 2, rel=1e-9)


def judged(book: Book, **rates: float) -> dict[str, float]:
    """Chances of the tiny book's faults on a boat with rates of her own."""
    case = tiny.case(observations=[tiny.observation("pump-weep", "drip")])
    case["boat"]["own_rates"] = {name.replace("_", "-"): value for name, value in rates.items()}
    return assess(Case.model_validate(case), book, next_check=False).all_probabilities


def test_rates_of_her_own_act_on_her_cases_only(tiny_book: Book) -> None:
    """A higher rate makes the fault likelier, a lower one less likely, and the next boat is judged as if nothing had been."""
    usual = judged(tiny_book)["pump-seal-worn"]
    assert judged(tiny_book, pump_seal_worn=0.1)["pump-seal-worn"] < usual < judged(tiny_book, pump_seal_worn=10)["pump-seal-worn"]
    assert judged(tiny_book)["pump-seal-worn"] == usual
    assert judged(tiny_book, pump_seal_worn=1)["pump-seal-worn"] == usual


@pytest.mark.parametrize("value", [0.0, 0.049, 20.1, float("nan")])
def test_a_rate_out_of_bounds_is_refused(value: float) -> None:
    """A factor outside 0.05 to 20 is no rate of one boat."""
    with pytest.raises(ValueError, match="own_rates"):
        Case.model_validate({"opened_because": "routine-look", "boat": {"own_rates": {"f": value}}})


def test_a_rate_of_an_unknown_fault_is_named(tiny_book: Book) -> None:
    """A factor for a fault the book does not know is refused, with the nearest."""
    with pytest.raises(InputError, match="'pump-seal-wron' is not a fault of the book") as caught:
        judged(tiny_book, pump_seal_wron=2)
    assert "pump-seal-worn" in caught.value.right


def test_a_case_is_judged_with_what_was_known_before_it(record: Record, tiny_book: Book) -> None:
    """An earlier finding raises the chance in a later case; a case's own finding, and later ones, do not come into it."""
    ran(record, 50)
    case = found(record, "pump-seal-worn", minutes=0)
    later = str(record.append(kit.opened("Again", 100), boat=BOAT).case)
    assert "pump-seal-worn" not in learned_case(record, case, tiny_book).boat.own_rates
    assert learned_case(record, later, tiny_book).boat.own_rates["pump-seal-worn"] > 1
    record.append(e.Found(at=kit.at(101), faults=("pump-seal-worn",)), boat=BOAT, case=later)
    assert "pump-seal-worn" not in learned_case(record, case, tiny_book).boat.own_rates
    assert learned_case(record, case, tiny_book, now=kit.START + timedelta(days=1)).now == kit.START + timedelta(days=1)
