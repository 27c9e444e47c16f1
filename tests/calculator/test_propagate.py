"""Uncertainty of typed inputs: budgets against exact derivatives and another library, trials."""

from __future__ import annotations

import math
from typing import Any

import pytest
import uncertainties

from inspect_rec.calculator import propagate
from inspect_rec.calculator.base import register
from inspect_rec.compute import montecarlo
from inspect_rec.errors import ComputeError, InputError

CHORD = {"chord_mm": 4.0, "rise_mm": 0.35}


def budget_of(name: str, inputs: dict[str, Any], u: dict[str, Any]) -> dict[str, propagate.Found]:
    computation = register()[name]
    return propagate.budgets(computation, inputs, propagate.stated(inputs, u))


def test_a_budget_agrees_with_derivatives_by_hand() -> None:
    found = budget_of("chord-rise", CHORD, {"chord_mm": 0.002, "rise_mm": "0.001 rectangular"})
    c, h = 4.0, 0.35
    by_chord = c / (4 * h) * 0.002
    by_rise = abs(0.5 - c * c / 8 / h**2) * 0.001 / math.sqrt(3)
    radius = found["radius_mm"].budget
    assert [row.u for row in radius.components] == pytest.approx([by_chord, by_rise], rel=1e-7)
    assert radius.u == pytest.approx(math.hypot(by_chord, by_rise), rel=1e-7)


def test_a_budget_agrees_with_automatic_differentiation() -> None:
    from uncertainties import umath

    found = budget_of(
        "relief-rolled",
        {"radius_mm": 4.9, "drop_mm": 0.0755, "roll_deg": 7.0},
        {"radius_mm": 0.01, "drop_mm": 0.0016, "roll_deg": 0.1},
    )["alpha_flat_deg"]
    r, h = uncertainties.ufloat(4.9, 0.01), uncertainties.ufloat(0.0755, 0.0016)
    p = umath.radians(uncertainties.ufloat(7.0, 0.1))
    alpha = umath.degrees(umath.atan((r / (r - h) - umath.cos(p)) / umath.sin(p)))
    assert found.value == pytest.approx(alpha.nominal_value, abs=1e-12)
    assert found.budget.u == pytest.approx(alpha.std_dev, rel=1e-6)


def test_an_uncertainty_of_points_holds_for_each_of_their_figures() -> None:
    points = [[math.cos(a), math.sin(a)] for a in (0.0, 1.0, 2.0, 3.0, 4.0, 5.0)]
    found = budget_of("circle", {"points_mm": points}, {"points_mm": 0.001})["radius_mm"]
    # Both slides scatter; square to the arc that is one standard deviation.
    answer = register()["circle"]({"points_mm": points})
    assert found.budget.u == pytest.approx(0.001 * answer["u_r_over_s"], rel=1e-5)
    assert found.budget.components[0].name == "points_mm (12 figures)"


def test_at_a_kink_the_steeper_side_counts_and_not_the_middle_of_both() -> None:
    """Of two lips that are alike the difference without sign is 0, but not its uncertainty; of a
    largest less smallest that is shared by two readings each may become it."""
    lip = [[1.0, 1.0], [2.0, 3.0]]
    lips = {"lip_1_z_r_mm": lip, "lip_2_z_r_mm": lip}
    found = budget_of("point-angle", lips, {"lip_1_z_r_mm": 0.002})
    of_one = found["kappa_1_deg"].budget.u
    assert of_one == pytest.approx(math.degrees(math.sqrt(2) * 0.002 / math.sqrt(5)), rel=1e-6)
    assert found["lip_symmetry_deg"].value == 0
    assert found["lip_symmetry_deg"].budget.u == pytest.approx(of_one, rel=1e-4)
    equal = budget_of("index-runout", {"readings_um": [5.0] * 4}, {"readings_um": 1.0})
    assert equal["variation_um"].budget.u == pytest.approx(2)


def test_degrees_of_freedom_widen_the_coverage_factor() -> None:
    found = budget_of("chord-rise", CHORD, {"rise_mm": "0.001 dof 4"})["radius_mm"].budget
    assert found.dof == pytest.approx(4)
    assert found.coverage_k == pytest.approx(2.87, abs=0.005)  # GUM table G.2, 4 dof, 95.45 %


def test_a_quantity_that_does_not_hang_on_the_input_has_no_uncertainty() -> None:
    found = budget_of(
        "lead-on-taper",
        {"diameter_small_mm": 6.0, "diameter_large_mm": 12.0, "length_mm": 40.0, "helix_deg": 30.0},
        {"length_mm": 0.1},
    )
    assert found["lead_small_mm"].budget.u == 0
    assert found["turn_deg"].budget.u > 0


@pytest.mark.parametrize(
    "said", ["", "0", "-1", "x", "0.1 triangular", "nan", "inf", True, [0.1], "0.1 dof 0.5"]
)
def test_an_uncertainty_that_can_not_be_read_is_refused(said: Any) -> None:
    with pytest.raises(InputError, match="rise_mm"):
        propagate.stated(CHORD, {"rise_mm": said})


def test_an_uncertainty_of_what_is_not_given_is_refused() -> None:
    with pytest.raises(InputError, match="radius_mm"):
        propagate.stated(CHORD, {"radius_mm": 0.1})


def test_trials_agree_with_the_budget_where_the_model_is_nearly_straight() -> None:
    computation, of = register()["chord-rise"], propagate.stated(CHORD, {"rise_mm": 0.0002})
    linear = propagate.budgets(computation, CHORD, of)["radius_mm"]
    told = []
    for number in (2000, 200_000):
        tried = propagate.trials(computation, CHORD, of, number=number, seed=7)["radius_mm"]
        assert tried.u == pytest.approx(linear.budget.u, rel=0.05)
        told.append(montecarlo.agreement(linear.value, linear.budget.u, 2.0, tried, 0.9545))
    assert told == ["more trials needed", "agrees"]


def test_trials_say_where_the_straight_line_is_not_enough() -> None:
    """A rise of half its own size: the radius is skewed, and the budget doesn't see it."""
    computation, of = register()["chord-rise"], propagate.stated(CHORD, {"rise_mm": 0.08})
    linear = propagate.budgets(computation, CHORD, of)["radius_mm"]
    tried = propagate.trials(computation, CHORD, of, number=20_000, seed=7)["radius_mm"]
    told = montecarlo.agreement(linear.value, linear.budget.u, 2.0, tried, 0.9545)
    assert told == "disagrees"
    assert tried.high - linear.value > 1.3 * (linear.value - tried.low)


def test_the_same_seed_gives_the_same_trials() -> None:
    computation, of = register()["chord-rise"], propagate.stated(CHORD, {"rise_mm": 0.001})
    one, two, other = (
        propagate.trials(computation, CHORD, of, number=2000, seed=seed) for seed in (3, 3, 4)
    )
    assert one == two
    assert one != other


def test_a_trial_without_result_is_said() -> None:
    computation, of = register()["chord-rise"], propagate.stated(CHORD, {"rise_mm": 0.3})
    with pytest.raises(ComputeError, match="a trial has no result"):
        propagate.trials(computation, CHORD, of, number=2000, seed=1)
