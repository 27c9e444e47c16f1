"""Methods from typed readings: the same value as in a job, and nothing guessed."""

from __future__ import annotations

from typing import Any

import pytest

from inspect_rec.calculator import measuring, trying
from inspect_rec.calculator.base import register
from inspect_rec.calculator.measuring import Shelf
from inspect_rec.cli import calculated
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import InputError, InspectRecError
from inspect_rec.inspection.fold import fold
from inspect_rec.methods.base import Outcome
from inspect_rec.methods.register import named
from tests import worked

WIDTH: dict[str, Any] = {
    "edges": {"greater": [19.2495, 19.2497, 19.2493], "smaller": [10.7545, 10.7545, 10.7545]},
    "master": {"greater": [20.0033, 20.0034, 20.0035], "smaller": [10.0007, 10.0007, 10.0007]},
    "master_value": 9.9996,
    "master_instrument": {"expanded": 1.0},
    "master_drift": 0.35,
}
PIN = {"greater": 2, "smaller": 1}


def shelf() -> Shelf:
    return calculated.shelf_of(worked.shop())


def of(name: str, inputs: dict[str, Any]) -> measuring.Measured:
    return measuring.measured(named(name), inputs, shelf())


def in_a_job() -> Outcome:
    inspection = fold(worked.entries("I2"), worked.inspection_id("I2"))
    return next(r.outcome for r in inspection.results if r.characteristic.id == "DC_1")


def test_a_width_typed_by_hand_has_the_budget_of_a_width_in_a_job() -> None:
    typed, job = of("width by two sightings", WIDTH).outcome.budget, in_a_job().budget
    assert [row.name for row in typed.components] == [row.name for row in job.components]
    for one, other in zip(typed.components, job.components, strict=True):
        assert one.u == pytest.approx(other.u, abs=0.02), one.name


def test_the_value_is_that_of_the_formula() -> None:
    found = of("width by two sightings", WIDTH)
    bias = (20.0034 - 10.0007) - 9.9996
    assert found.outcome.value == pytest.approx((19.2495 - 10.7545) - bias, abs=1e-9)
    assert found.told()["bias_mm"] == pytest.approx(bias, abs=1e-9)


def test_limits_give_a_verdict() -> None:
    judged = of("width by two sightings", {**WIDTH, "lower": 8.478, "upper": 8.5}).judged()
    assert judged is not None
    assert judged.verdict is Verdict.CONFORMS
    close = of("width by two sightings", {**WIDTH, "lower": 8.4910, "upper": 8.5130}).judged()
    assert close is not None
    assert close.verdict is Verdict.NEITHER_SHOWN
    assert of("width by two sightings", WIDTH).judged() is None


def test_a_variation_that_no_reading_could_show_within_its_limit_has_no_verdict() -> None:
    """By hand: u 1.26 x root 2, g = 1.645 u = 2.93 um, above a limit of 2.5."""
    typed = {"values": [4.9023, 4.9024], "u_own": 1.26, "upper": 0.0025}
    judged = of("variation over the flutes", {**typed, "natural_zero": True}).judged()
    assert judged is not None
    assert judged.verdict is Verdict.REFUSED
    open_ended = of("variation over the flutes", typed).judged()
    assert open_ended is not None
    assert open_ended.verdict is Verdict.NEITHER_SHOWN
    with pytest.raises(InputError, match="natural_zero"):
        of("variation over the flutes", {**typed, "natural_zero": 1})


def test_an_influence_stated_by_hand_overrides_the_shops() -> None:
    fine = of("width by two sightings", {**WIDTH, "influence": {"crosshair": 0.5}})
    rows = {row.name: row for row in fine.outcome.budget.components}
    assert rows["crosshair on the tool"].amount == 0.5
    assert not rows["crosshair on the tool"].assumed
    assert rows["backlash left over"].assumed


def test_flutes_are_kept_apart() -> None:
    axis = {"greater": [25.0, 25.0], "smaller": [15.0, 15.0]}
    edge = {"flutes": [[25.01], [25.03], [25.02]]}
    found = of("swept diameter", {"edge": edge, "axis": axis})
    assert found.outcome.value == pytest.approx(10.06)
    assert found.told()["radii_mm"] == pytest.approx([5.01, 5.03, 5.02])


def test_a_variation_is_computed_from_the_values_of_the_flutes() -> None:
    found = of("variation over the flutes", {"values": [4.9023, 4.9174, 4.9050], "u_own": 1.26})
    assert found.outcome.value == pytest.approx(0.0151)
    assert found.outcome.budget.u == pytest.approx(1.26 * 2**0.5)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"edges": {"greater": 19.0}}, "edges lacks readings"),
        ({"edges": None}, "needs edges"),
        ({"edge": [1.0]}, "no such input"),
        ({"master_value": "ten"}, "not a number"),
        ({"master_instrument": {"colour": 1}}, "expanded"),
        ({"influence": {"crosshair": {"amount": 1, "distribution": "round"}}}, "distribution"),
        ({"influence": [1]}, "influence"),
        ({"lower": "8.4"}, "not a number"),
    ],
)
def test_what_can_not_be_used_is_refused_by_name(change: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        of("width by two sightings", {**WIDTH, **change})


def test_a_role_or_parameter_that_is_missing_is_asked_for() -> None:
    with pytest.raises(InputError, match="the method needs master"):
        of("width by two sightings", {"edges": WIDTH["edges"]})
    drop = {"drop": {"edge": 0.0, "end": 0.0755}, "roll_deg": 7, "edge_radius_mm": 4.9}
    indicator = {"drop_instrument": {"half_step": 0.05, "repeat": 0.6, "expanded": 2.0}}
    with pytest.raises(InputError, match="land"):
        of("clearance from a rolled drop", {**drop, **indicator})
    flat = of("clearance from a rolled drop", {**drop, **indicator, "land": "flat"})
    typed = {"radius_mm": 4.9, "drop_mm": 0.0755, "roll_deg": 7.0}
    assert flat.outcome.value == register()["relief-rolled"](typed)["alpha_flat_deg"]
    with pytest.raises(InputError, match="equipment indicator states no"):
        of("clearance from a rolled drop", {**drop, "land": "flat"})


def test_null_is_what_is_left_out() -> None:
    left = of("width by two sightings", {**WIDTH, "lower": None, "tolerance_width": None})
    assert left.judged() is None
    assert left.outcome == of("width by two sightings", WIDTH).outcome


@pytest.mark.parametrize(
    ("name", "inputs", "said"),
    [
        ("height difference by indicator", {"heights": {"flutes": 2}}, "not a list"),
        ("swept diameter", {"edge": [1], "axis": PIN}, "those of every flute"),
        ("height difference by indicator", {"heights": {"flutes": [1e7, 0]}}, "can reach"),
        ("form by swing test", {"swing": [0, 1, 2], "swing_index_deg": 5}, "not a list"),
        ("edge to axis", {"edge": [10**400], "axis": PIN}, "can reach"),
        (
            "chisel edge off the axis, half a turn",
            {"ends": [[1, 0], [1, 0]], "turned": [[1, 0], [1, 0]]},
            "edge",
        ),
    ],
)
def test_readings_of_the_wrong_kind_or_out_of_reach_are_said_to_be(
    name: str, inputs: dict[str, Any], said: str
) -> None:
    with pytest.raises(InspectRecError, match=said):
        of(name, inputs)


def test_trials_of_a_method_agree_with_its_budget_where_they_should() -> None:
    found = of("width by two sightings", WIDTH)
    tried = trying.trials(found, number=20_000, seed=5)
    assert tried.u * 1000 == pytest.approx(found.outcome.budget.u, rel=0.04)
    assert tried.mean == pytest.approx(found.outcome.value, abs=5e-5)


def test_trials_of_a_fit_go_through_the_fit() -> None:
    """On a short arc the radius is skewed to the large side: no straight line shows that."""
    import math

    def arc(span: float) -> list[list[float]]:
        angles = [math.radians(90 - span / 2 + span * k / 8) for k in range(9)]
        return [[5 * math.cos(a), 5 * math.sin(a)] for a in angles]

    short = of("arc, free centre", {"arc": arc(20.0), "influence": {"crosshair": 8.0}})
    tried = trying.trials(short, number=4000, seed=5)
    value = short.outcome.value
    assert tried.high - value > 1.3 * (value - tried.low)
    wide = of("arc, free centre", {"arc": arc(180.0)})
    tried = trying.trials(wide, number=4000, seed=5)
    assert tried.u * 1000 == pytest.approx(wide.outcome.budget.u, rel=0.06)


def test_a_methods_case_runs_like_any_other() -> None:
    from inspect_rec.calculator import cases

    case = {
        "id": "mine",
        "calc": "width-by-two-sightings",
        "inputs": WIDTH,
        "expect": {"value_mm": {"value": 8.4919, "tol": 1e-4}},
    }
    assert cases.run(case, shelf()).ok
    case["expect"] = {"value_mm": {"value": 8.4950, "tol": 1e-4}}
    assert not cases.run(case, shelf()).ok
