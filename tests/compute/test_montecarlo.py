"""Trials against the examples of JCGM 101, and against budgets where those hold."""

from __future__ import annotations

import math
from typing import Any

import pytest

from inspect_rec.compute import fitting
from inspect_rec.compute.montecarlo import Quantity, monte_carlo, radius_by_trials
from inspect_rec.compute.uncertainty import Distribution
from inspect_rec.errors import ComputeError
from tests.compute.published import expected

SEED = 20261125
RECTANGULAR = Distribution.RECTANGULAR


def total(*parts: Any) -> Any:
    return sum(parts)


@pytest.mark.parametrize(
    ("case", "quantities"),
    [
        ("jcgm101-additive-normal", [Quantity(0, 1)] * 4),
        ("jcgm101-additive-rectangular", [Quantity(0, math.sqrt(3), RECTANGULAR)] * 4),
        (
            "jcgm101-additive-dominant-rect",
            [
                *[Quantity(0, math.sqrt(3), RECTANGULAR)] * 3,
                Quantity(0, 10 * math.sqrt(3), RECTANGULAR),
            ],
        ),
    ],
)
def test_sums_of_jcgm_101(case: str, quantities: list[Quantity]) -> None:
    """9.2.2 to 9.2.4; beside the print, 0.5 % for the scatter of 400,000 trials."""
    found = monte_carlo(total, quantities, seed=SEED, trials=400_000)
    half = (found.high - found.low) / 2
    assert found.u == pytest.approx(expected(case, "u"), rel=0.005)
    assert half == pytest.approx(expected(case, "interval_half_width"), rel=0.005)


def test_mass_calibration_of_jcgm_101() -> None:
    """9.3: the product of small terms, which a budget's first order misses, counts."""

    def model(m: Any, dm: Any, air: Any, weight: Any, reference: Any) -> Any:
        return (m + dm) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100000

    quantities = [
        Quantity(100000, 0.05),
        Quantity(1.234, 0.02),
        Quantity(1.2, 0.1, RECTANGULAR),
        Quantity(8000, 1000, RECTANGULAR),
        Quantity(8000, 50, RECTANGULAR),
    ]
    found = monte_carlo(model, quantities, seed=SEED, trials=400_000)
    case = "jcgm101-mass-calibration"
    assert found.mean == pytest.approx(expected(case, "estimate_mg"), abs=0.0006)
    assert found.u == pytest.approx(expected(case, "u_full_distribution_mg"), rel=0.005)
    assert found.low == pytest.approx(expected(case, "interval_low_mg"), abs=0.003)
    assert found.high == pytest.approx(expected(case, "interval_high_mg"), abs=0.003)
    assert found.u > 1.3 * expected(case, "u_first_order_mg")


@pytest.mark.parametrize(
    ("quantity", "u", "mean"),
    [
        (Quantity(5, 2, Distribution.EXPANDED), 1, 5),
        (Quantity(5, 3, Distribution.ONE_SIDED), 3 / math.sqrt(12), 6.5),
        (Quantity(5, 2, dof=10), 2 * math.sqrt(10 / 8), 5),
    ],
)
def test_each_distribution_spreads_as_stated(quantity: Quantity, u: float, mean: float) -> None:
    """A t of n degrees of freedom has the variance n / (n - 2)."""
    found = monte_carlo(total, [quantity], seed=SEED)
    assert found.u == pytest.approx(u, rel=0.01)
    assert found.mean == pytest.approx(mean, abs=0.02)


def test_the_shortest_interval_of_a_skew_result_is_shorter() -> None:
    found = monte_carlo(lambda x: x * x, [Quantity(0, 1)], seed=SEED)
    assert found.shortest_high - found.shortest_low < 0.9 * (found.high - found.low)
    assert found.shortest_low == pytest.approx(0, abs=1e-3)


def test_the_shortest_interval_of_a_symmetric_result_is_the_symmetric_one() -> None:
    found = monte_carlo(total, [Quantity(7, 1)], seed=SEED)
    for low, high in ((found.low, found.high), (found.shortest_low, found.shortest_high)):
        assert (low, high) == pytest.approx((7 - 1.96, 7 + 1.96), abs=0.08)
    assert found.shortest_high - found.shortest_low <= found.high - found.low


def test_the_same_seed_gives_the_same_digits() -> None:
    one, two = (monte_carlo(total, [Quantity(0, 1)], seed=SEED, trials=1000) for _ in range(2))
    other = monte_carlo(total, [Quantity(0, 1)], seed=SEED + 1, trials=1000)
    assert one == two
    assert one != other


def test_the_trials_of_an_arc_agree_with_its_sensitivity() -> None:
    points = [
        (5 * math.cos(math.radians(a)), 5 * math.sin(math.radians(a))) for a in range(0, 181, 20)
    ]
    found = radius_by_trials(points, 0.002, seed=SEED, trials=50_000)
    assert found.u == pytest.approx(0.002 * fitting.circle(points).u_r_over_s, rel=0.02)
    assert found.trials == 50_000


def test_trials_that_say_nothing_are_refused() -> None:
    with pytest.raises(ComputeError, match="too few trials"):
        monte_carlo(total, [Quantity(0, 1)], seed=SEED, trials=10)
    with pytest.raises(ComputeError, match="probability"):
        monte_carlo(total, [Quantity(0, 1)], seed=SEED, p=1.0)
    with pytest.raises(ComputeError, match="no number"):
        monte_carlo(lambda x: x * math.inf, [Quantity(1, 0.1)], seed=SEED)
