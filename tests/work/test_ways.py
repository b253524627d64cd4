"""Ways to the same end: the order by hand, parts aboard, and what a case offers."""

from __future__ import annotations

import pytest
import workkit as wk

from diagnose.errors import InputError
from diagnose.work.ways import ends_of, ways, ways_of_case


def way(enough: float, what: str) -> dict[str, object]:
    """That a job is a way to a clean pump."""
    return {"to": "clean-pump", "enough": enough, "inspects": what, "waste": f"{what} water"}


BOOK = wk.book(jobs=[
    wk.job("rinse", ["pump-worn"], minutes=60, way=way(0.4, "nothing"), order=["grease"]),
    wk.job("lift", ["pump-worn"], minutes=300, way=way(0.95, "all of it"), setups=["box-open"], order=["grease"]),
    wk.job("core", ["pump-worn"], minutes=150, way=way(0.7, "the core"), setups=["cover-off"], order=["grease"]),
    wk.job("seal", ["seal-worn"], minutes=90)])
KIT = {"spares": ["grease"]}


def test_ways_in_the_order_of_chance_over_time() -> None:
    """0.4 in an hour, 0.7 in 2.5, 0.95 in 5: in that order; on average 1 + 0.6 x 2.5 + 0.6 x 0.3 x 5 hours, and 0.991 in all (by hand)."""
    found = ways(wk.ground({"pump-worn": "some"}, BOOK, **KIT), "clean-pump")
    assert [line.job for line in found.lines] == ["rinse", "core", "lift"]
    assert found.expected_hours == pytest.approx(1 + 0.6 * 2.5 + 0.6 * 0.3 * 5)
    assert found.enough_in_all == pytest.approx(1 - 0.6 * 0.3 * 0.05)
    assert [line.access for line in found.lines] == [(), ("box open", "cock shut", "cover off"), ("box open",)]
    assert found.lines[1].inspects == "the core"
    assert found.lines[1].waste == "the core water"


def test_a_fault_and_a_job_lead_to_the_same_ways() -> None:
    """Asked by the fault, by the end or by one of the jobs, the same three ways are compared."""
    ground = wk.ground({"pump-worn": "some"}, BOOK, **KIT)
    found = {tuple(line.job for line in ways(ground, name).lines) for name in ("pump-worn", "clean-pump", "core")}
    assert found == {("rinse", "core", "lift")}
    assert list(ends_of(BOOK)) == ["clean-pump"]
    with pytest.raises(InputError, match="neither a fault nor an end"):
        ways(ground, "clean-pumps")


def test_a_part_to_buy_counts_against_its_way() -> None:
    """Without the grease aboard each way takes an hour more: the quickest loses most by it, and costs two hours for 0.4."""
    found = ways(wk.ground({"pump-worn": "some"}, BOOK), "clean-pump")
    assert {line.job: line.missing for line in found.lines} == dict.fromkeys(("rinse", "core", "lift"), ("grease",))
    # 0.4 / 2, 0.7 / 3.5, 0.95 / 6 an hour: equal ones by their id
    assert [line.job for line in found.lines][-1] == "lift"
    assert [line.takes for line in found.lines if line.job == "rinse"] == [pytest.approx(2.0)]


def test_a_case_shows_the_ends_with_more_than_one_way() -> None:
    """For a worn pump its three ways; a worn seal has one job only and is not listed; a sound boat has none."""
    assert [w.to for w in ways_of_case(wk.ground({"pump-worn": "some", "seal-worn": "some"}, BOOK))] == ["pump-worn"]
    assert ways_of_case(wk.ground(dict.fromkeys(wk.FAULTS, "none"), BOOK)) == ()
