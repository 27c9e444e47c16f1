"""Budgets: the GUM's own example, an independent package, coverage at few degrees of freedom."""

from __future__ import annotations

import json
import math
import statistics
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from inspect_rec.compute.montecarlo import Quantity, monte_carlo
from inspect_rec.compute.uncertainty import (
    Budget,
    Component,
    Distribution,
    spread_of_flutes,
    t_factor,
    type_a,
)
from inspect_rec.errors import ComputeError
from tests.compute.published import cases, inputs


def worked_jobs() -> Any:
    folder = Path(__file__).parents[2] / "fixtures" / "worked"
    return json.loads((folder / "worked-jobs.json").read_text(encoding="utf-8"))


H1 = "gum-h1-end-gauge"


def difference() -> Budget:
    """JCGM 100:2008, H.1.3.2: what is in the difference of the two gauges, nm."""
    given = inputs(H1)
    return Budget(
        (
            Component(
                "repeats",
                given["pooled_std_difference_nm"],
                averaged=given["observations"],
                dof=given["dof_pooled"],
            ),
            Component(
                "comparator, random",
                given["u_comparator_random_nm"],
                dof=given["dof_comparator_random"],
            ),
            Component(
                "comparator, systematic",
                given["u_comparator_systematic_nm"],
                dof=given["dof_comparator_systematic"],
            ),
        ),
        "nm",
    )


def end_gauge() -> Budget:
    """JCGM 100:2008, H.1, the linear terms, nm; lengths in nm, temperatures in K."""
    given = inputs(H1)
    length = given["length_standard_mm"] * 1e6
    own = difference()
    return Budget(
        (
            Component("standard", given["u_length_standard_nm"], dof=given["dof_length_standard"]),
            Component("difference", own.u, dof=own.dof),
            Component(
                "difference of the expansions",
                given["delta_alpha_halfwidth_rect_per_K"],
                Distribution.RECTANGULAR,
                sensitivity=length * given["theta_mean_K"],
                dof=given["dof_delta_alpha"],
            ),
            Component(
                "difference of the temperatures",
                given["delta_theta_halfwidth_rect_K"],
                Distribution.RECTANGULAR,
                sensitivity=length * given["alpha_standard_per_K"],
                dof=given["dof_delta_theta"],
            ),
        ),
        "nm",
    )


def test_the_end_gauge_of_the_gum() -> None:
    """H.1 (values quoted from memory): every printed step."""
    budget = end_gauge()
    found = {
        "u_difference_nm": difference().u,
        "dof_difference": difference().dof,
        "u_delta_alpha_nm": budget.components[2].u,
        "u_delta_theta_nm": budget.components[3].u,
        "u_combined_nm": budget.u,
        "dof_effective": budget.dof,
        "t_99": t_factor(0.99, budget.dof),
        "U99_nm": t_factor(0.99, budget.dof) * budget.u,
    }
    for name, value in found.items():
        want = cases()[H1]["expect"][name]
        assert value == pytest.approx(want["value"], abs=want["tol"]), name


def test_the_second_order_of_the_end_gauge_comes_out_by_trials() -> None:
    """H.1.7 (quoted from memory): 34 nm, where the linear terms give 32."""
    given = inputs(H1)

    def length(standard: Any, difference: Any, da: Any, theta: Any, a: Any, dt: Any) -> Any:
        return standard + difference - standard * (da * theta + a * dt)

    found = monte_carlo(
        length,
        [
            Quantity(given["length_standard_mm"] * 1e6, given["u_length_standard_nm"]),
            Quantity(given["mean_difference_nm"], difference().u),
            Quantity(0, given["delta_alpha_halfwidth_rect_per_K"], Distribution.RECTANGULAR),
            Quantity(given["theta_mean_K"], given["u_theta_K"]),
            Quantity(
                given["alpha_standard_per_K"],
                given["alpha_halfwidth_rect_per_K"],
                Distribution.RECTANGULAR,
            ),
            Quantity(0, given["delta_theta_halfwidth_rect_K"], Distribution.RECTANGULAR),
        ],
        seed=1,
    )
    assert round(found.u) == cases()[H1]["expect"]["u_combined_second_order_nm"]["value"]
    assert found.mean / 1e6 == pytest.approx(cases()[H1]["expect"]["length_mm"]["value"], abs=5e-7)


def test_a_diameter_by_two_sightings() -> None:
    """Magnitudes are common practice; the sum is checked."""
    case = "budget-diameter"
    rows = [Component("x", a, Distribution.RECTANGULAR) for a in inputs(case)["rect_halfwidth_um"]]
    rows += [Component("x", u) for u in inputs(case)["normal_u_um"]]
    budget = Budget(tuple(rows))
    for value, name in ((budget.u, "u_combined_um"), (budget.expanded, "U_k2_um")):
        want = cases()[case]["expect"][name]
        assert value == pytest.approx(want["value"], abs=want["tol"])


@given(st.lists(st.tuples(st.floats(0.01, 10), st.floats(-3, 3)), min_size=1, max_size=8))
def test_a_budget_is_that_of_an_independent_package(parts: list[tuple[float, float]]) -> None:
    budget = Budget(tuple(Component("x", u, sensitivity=c) for u, c in parts))
    total = sum(c * ufloat(0, u) for u, c in parts)
    assert budget.u == pytest.approx(getattr(total, "std_dev", 0.0), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    ("distribution", "divisor"),
    [
        ("normal", 1),
        ("rectangular", 3**0.5),
        ("rectangular one-sided", 12**0.5),
        ("expanded k=2", 2),
    ],
)
def test_an_amount_is_divided_as_its_distribution_asks(distribution: str, divisor: float) -> None:
    component = Component("x", 3.0, Distribution(distribution), sensitivity=-2, ends=2, averaged=4)
    assert component.u == pytest.approx(2 * 3 / divisor * math.sqrt(2 / 4))


def test_coverage_is_2_from_20_degrees_of_freedom_up_and_students_below() -> None:
    many, few = (Budget((Component("x", 1.0, dof=dof),)) for dof in (20, 5))
    assert many.coverage_k == 2
    assert many.guard_k() == 1.645
    assert few.coverage_k == pytest.approx(2.65, abs=0.005)
    assert few.guard_k() == pytest.approx(2.015, abs=0.001)
    # As far out as 2 is of a normal value: a guard of 2 u would leave 5 per cent beyond it.
    assert few.guard_k(2) == pytest.approx(2.65, abs=0.005)


def test_what_is_common_cancels_between_flutes() -> None:
    one = Budget((Component("axis", 3, common=True), Component("sighting", 1)))
    assert spread_of_flutes(one, "own").u == pytest.approx(math.sqrt(2))


def test_what_cancels_lends_no_degrees_of_freedom_to_the_rest() -> None:
    one = Budget((Component("axis", 3, common=True), Component("sighting", 1, dof=8)))
    assert one.coverage_k == 2
    spread = spread_of_flutes(one, "own")
    assert spread.dof == pytest.approx(8)
    assert spread.coverage_k == pytest.approx(t_factor(0.9545, 8))


def test_an_assumed_amount_that_cancels_does_not_mark_the_rest() -> None:
    common, own = (
        Budget(
            (
                Component("axis", 3, common=True, assumed=axis),
                Component("sighting", 1, assumed=not axis),
            )
        )
        for axis in (True, False)
    )
    assert not spread_of_flutes(common, "own").components[0].assumed
    assert spread_of_flutes(own, "own").components[0].assumed


@pytest.mark.parametrize("number", ["job1", "job2", "job3"])
def test_the_budgets_of_the_worked_jobs(number: str) -> None:
    """fixtures/worked/worked-jobs.json: by component, own part, u, U and g to the last digit."""
    compared = 0
    for name, budget in worked_jobs()[number]["budgets"].items():
        rows = tuple(
            Component(
                row["name"],
                row["amount"],
                Distribution(row["distribution"]),
                row["sensitivity"],
                row["ends_added"],
                row["repeats_averaged"],
                row["part"] == "common",
            )
            for row in budget["components"]
        )
        for ours, row in zip(rows, budget["components"], strict=True):
            assert ours.u == pytest.approx(row["u"], abs=1.5e-5), (name, row["name"])
        found = Budget(rows)
        assert found.u == pytest.approx(budget["u"], abs=1.5e-5), name
        assert found.u_own == pytest.approx(budget["u_own_part"], abs=1.5e-5), name
        assert found.expanded == pytest.approx(budget["U_k2"], abs=3e-5), name
        assert found.guard_k() * found.u == pytest.approx(budget["g"], abs=3e-5), name
        compared += 1
    assert compared


def test_rows_of_one_study_have_its_degrees_of_freedom_once() -> None:
    """Two sightings with the same s err together: 10 readings more or less in s move both."""
    alone = Budget((Component("tool", 1.5, dof=12), Component("pin", 1.5, dof=12)))
    study = Budget(tuple(replace(c, study="crosshair") for c in alone.components))
    assert alone.dof == pytest.approx(24)
    assert study.dof == pytest.approx(12)
    assert study.u == alone.u
    more = Budget((*study.components, Component("scale", 3.0)))
    assert more.dof == pytest.approx(12 * (more.u / study.u) ** 4)


@given(st.floats(0.01, 50), st.integers(1, 9), st.floats(0.1, 90))
def test_a_study_of_20_is_enough_on_every_way_through_the_squares(
    s: float, averaged: int, sensitivity: float
) -> None:
    row = Component("crosshair", s, sensitivity=sensitivity, averaged=averaged, dof=20, study="s")
    assert Budget((row, replace(row, ends=2))).coverage_k == 2


def test_mean_and_standard_deviation_of_numacc1_come_out_to_the_last_digit() -> None:
    """NIST StRD, univariate, NumAcc1 (certified; quoted from memory)."""
    case = cases()["type-a-numacc1"]
    found = type_a(case["inputs"]["readings"])
    for ours, name in ((found.mean, "mean"), (found.s, "std"), (found.u, "u_mean")):
        wanted = case["expect"][name]
        assert ours == pytest.approx(wanted["value"], rel=0, abs=wanted["tol"]), name


@pytest.mark.parametrize(
    ("middle", "s", "digits"), [(1.2, 0.1, 13), (1_000_000.2, 0.1, 9), (10_000_000.2, 0.1, 8)]
)
def test_the_harder_sets_of_numacc_lose_only_what_binary_readings_have_lost(
    middle: float, s: float, digits: int
) -> None:
    """NIST StRD, NumAcc2 to NumAcc4 (from memory): the middle once, and 0.1 below and above it 500
    times each; certified s 0.1. Squares less the square of the sum lose all of NumAcc4."""
    readings = [middle] + [round(middle - 0.1, 1), round(middle + 0.1, 1)] * 500
    found = type_a(readings)
    assert found.mean == pytest.approx(middle, rel=1e-15)
    assert found.s == pytest.approx(s, rel=10**-digits)
    naive = sum(x * x for x in readings) - sum(readings) ** 2 / found.n
    assert (abs(naive / (found.n - 1) - s * s) > s * s) is (middle > 1e7)


@given(st.lists(st.integers(-999, 999), min_size=2, max_size=12), st.integers(0, 12))
def test_readings_of_exact_steps_give_what_exact_fractions_give(steps: list[int], far: int) -> None:
    readings = [10**far + step / 8 for step in steps]
    found = type_a(readings)
    assert found.mean == pytest.approx(statistics.fmean(readings), rel=1e-15)
    assert found.s == pytest.approx(statistics.stdev(readings), rel=1e-12)


def test_one_reading_says_nothing_of_its_scatter() -> None:
    with pytest.raises(ComputeError, match="2 or more"):
        type_a([1.0])
    with pytest.raises(ComputeError, match="no number"):
        type_a([1.0, math.nan])
    assert type_a([10.001, 10.001]).u == 0
