"""Budgets: the GUM's own example, an independent package, coverage at few degrees of freedom."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from inspect_rec.compute.uncertainty import (
    Budget,
    Component,
    Distribution,
    spread_of_flutes,
    t_factor,
)


def end_gauge() -> Budget:
    """JCGM 100:2008, H.1, the linear terms in nm (values quoted from memory)."""
    return Budget(
        (
            Component("standard", 25, dof=18),
            Component("difference, repeats", 5.8, dof=24),
            Component("difference, random of the comparator", 3.9, dof=5),
            Component("difference, systematic of the comparator", 6.7, dof=8),
            Component("difference of the expansions", 2.9, dof=50),
            Component("difference of the temperatures", 16.6, dof=2),
        ),
        "nm",
    )


def test_the_end_gauge_of_the_gum() -> None:
    """H.1.5 and H.1.6: u = 32 nm (printed), effective degrees of freedom 16, U99 = 93 nm."""
    budget = end_gauge()
    assert round(budget.u) == 32
    assert math.floor(budget.dof) in (16, 17)
    assert t_factor(0.99, 16) == pytest.approx(2.92, abs=0.005)
    assert round(2.92 * 32) == 93


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


def test_what_is_common_cancels_between_flutes() -> None:
    one = Budget((Component("axis", 3, common=True), Component("sighting", 1)))
    assert spread_of_flutes(one, "own").u == pytest.approx(math.sqrt(2))
