"""Clearances along arcs and forms: tools modelled in space come back, budgets hold by trials."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Series
from tests import worked
from tests.methods.modelled import by_trials, drawn, evaluated, indicated

NORMAL = "clearance on an arc from a normal drop"
TWO = "clearance on an arc from radial and axial drops"
RISE = "rise of a form relief"
FLANK = "clearance normal to a form flank"
LEVER: dict[str, Any] = {"lever_deg": 12, "lever_mm": 20}
COSINE = math.cos(math.radians(12))
ROLL = 7.0
P = math.radians(ROLL)

clearances = st.floats(5, 18)
polars = st.floats(5, 75)


def read(fall: float) -> Series:
    """What the lever shows of a fall, from any zero of the indicator."""
    return indicated(-0.2, fall / COSINE - 0.2)


def arc(polar: float, *, radius: float = 4.0, centre: float = 0.0, inclined: float = 0.0) -> Any:
    return {
        "arc_radius_mm": radius,
        "centre_off_axis_mm": centre,
        "polar_deg": polar,
        "inclination_deg": inclined,
        "roll_deg": ROLL,
        **LEVER,
    }


def steeper(clearance: float, inclined: float) -> float:
    tangent = math.tan(math.radians(clearance)) / math.cos(math.radians(inclined))
    return math.degrees(math.atan(tangent))


def normal_fall(clearance: float, polar: float, rho: float) -> float:
    """Of a flat land in space, on the line of the indicator, which is turned with the roll."""
    a, t = math.radians(clearance), math.radians(polar)
    square = (math.cos(t) * math.cos(a), math.sin(a), math.sin(t) * math.cos(a))

    def outside(h: float) -> float:
        x, z = rho - h * math.cos(t), -h * math.sin(t)
        return square[0] * (x * math.cos(P) - rho) + square[1] * x * math.sin(P) + square[2] * z

    return float(brentq(outside, -1, 1, xtol=1e-15))


@given(clearances, polars, st.sampled_from([0.0, 3.0]), st.floats(0, 35))
@settings(max_examples=60)
def test_a_land_on_an_arc_gives_its_clearance_back_from_its_normal_drop(
    clearance: float, polar: float, centre: float, inclined: float
) -> None:
    rho = centre + 4 * math.cos(math.radians(polar))
    flat = normal_fall(clearance, polar, rho)
    cam = rho * P * math.tan(math.radians(clearance))
    said = arc(polar, centre=centre, inclined=inclined)
    for land, fall in (("flat", flat), ("eccentric", cam)):
        found = evaluated(NORMAL, {"drop": read(fall)}, land=land, **said)
        assert found.value == pytest.approx(steeper(clearance, inclined), abs=1e-9)
        assert found.detail["drop_mm"] == pytest.approx(fall, abs=1e-12)


@given(st.floats(0.05, 0.9), st.floats(0.05, 0.9), polars, st.floats(0, 35))
@settings(max_examples=60)
def test_a_carried_profile_gives_its_clearance_back_from_two_drops(
    inward: float, back: float, polar: float, inclined: float
) -> None:
    """Forward: the point of the carried arc that lies on the normal of the edge's point, for a
    small turn; its fall over the way travelled is the clearance."""
    t, tiny, radius, centre = math.radians(polar), 1e-7, 4.0, 2.0
    centre_moved = (-inward * tiny, -back * tiny)
    along = centre_moved[0] * math.cos(t) + centre_moved[1] * math.sin(t)
    across = centre_moved[1] * math.cos(t) - centre_moved[0] * math.sin(t)
    fall = -along + across**2 / (2 * radius)
    rho = centre + radius * math.cos(t)
    clearance = math.degrees(math.atan2(fall, rho * tiny))
    both = {"radial": read(inward * P), "axial": read(back * P)}
    found = evaluated(TWO, both, **arc(polar, centre=centre, inclined=inclined))
    assert found.value == pytest.approx(steeper(clearance, inclined), abs=1e-5)
    assert found.detail["drops_mm"] == pytest.approx((inward * P, back * P), abs=1e-12)


def test_at_the_ends_of_an_arc_one_drop_alone_decides() -> None:
    both = {"radial": read(0.06), "axial": read(0.09)}
    start = evaluated(TWO, both, **arc(0, centre=2)).value
    tip = evaluated(TWO, both, **arc(90, centre=2)).value
    assert math.tan(math.radians(start)) == pytest.approx(0.06 / (6 * P))
    assert math.tan(math.radians(tip)) == pytest.approx(0.09 / (2 * P))


@given(st.floats(1, 8), st.integers(6, 24), st.floats(5, 90), st.floats(-4, 30))
@settings(max_examples=60)
def test_a_form_relieved_tooth_gives_rise_and_clearance_back(
    rise: float, teeth: int, flank: float, leans: float
) -> None:
    """``rise`` along the relief; the crest shows its radial part. The clearance on the flank is
    found by cutting the carried flank with the plane square to its edge."""
    t, s, rho = math.radians(leans), math.radians(flank), 30.0
    each = rise * teeth / (2 * math.pi)
    tiny = 1e-7
    carried = (-each * math.cos(t) * tiny, -each * math.sin(t) * tiny)
    fall = -(carried[0] * math.sin(s) + carried[1] * math.cos(s))
    crest = {"drop": read(each * math.cos(t) * P)}
    said = {"roll_deg": ROLL, **LEVER}
    found = evaluated(
        FLANK, crest, point_radius_mm=rho, flank_deg=flank, relieved_deg=leans, **said
    )
    assert found.value == pytest.approx(math.degrees(math.atan2(fall, rho * tiny)), abs=1e-9)
    per_tooth = evaluated(RISE, crest, teeth=teeth, **said)
    assert per_tooth.value == pytest.approx(rise * math.cos(t), abs=1e-9)
    assert per_tooth.budget.unit == "um"


# Budgets

_LEVER = {"lever_deg": "angle of the lever", "roll_deg": "angle rolled"}
_ARC = {
    **_LEVER,
    "arc_radius_mm": "radius of the edge",
    "centre_off_axis_mm": "radius of the edge",
    "polar_deg": "place on the arc",
    "inclination_deg": "helix of the edge",
}
_OFF = "height of the axis, angle"


@pytest.mark.parametrize("land", ["flat", "eccentric"])
@pytest.mark.parametrize("polar", [10.0, 60.0])
def test_the_budget_of_a_normal_drop_is_what_trials_give(land: str, polar: float) -> None:
    said = {"land": land, **arc(polar, centre=1.0, inclined=30)}
    drop = {"drop": read(0.06)}
    cosine = math.cos(math.radians(polar))
    steep = (steeper(10.001, 30) - steeper(9.999, 30)) / 0.002
    s = by_trials(NORMAL, drop, said, uncertain=_ARC, added=[(_OFF, cosine * steep)])
    assert evaluated(NORMAL, drop, **said).budget.u == pytest.approx(s, rel=0.05)


def test_the_budget_of_two_drops_counts_one_indicator_s_error_in_both() -> None:
    said = arc(40, centre=2.0, inclined=20)
    both = {"radial": indicated(0, 0.07), "axial": indicated(0, 0.09)}

    def together(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        off = random.normal(0, 0.001)
        floated = drawn("axial float", random) / 1000 / COSINE
        return {
            "radial": indicated(0, 0.07 + off),
            "axial": indicated(0, 0.09 + off + floated),
        }

    cosine = math.cos(math.radians(40))
    steep = (steeper(8.001, 20) - steeper(7.999, 20)) / 0.002
    s = by_trials(
        TWO,
        both,
        said,
        uncertain=_ARC,
        added=[(_OFF, cosine * steep)],
        disturb=together,
        calibrated=False,
    )
    assert evaluated(TWO, both, **said).budget.u == pytest.approx(s, rel=0.05)


@pytest.mark.parametrize("leans", [0.0, 15.0])
def test_the_budget_of_a_form_flank_is_what_trials_give(leans: float) -> None:
    said = {"roll_deg": 5, "point_radius_mm": 30, "flank_deg": 30, "relieved_deg": leans, **LEVER}
    uncertain = {
        **_LEVER,
        "point_radius_mm": "radius of the edge",
        "flank_deg": "flank of the form",
        "relieved_deg": "direction of the relief",
    }
    drop = {"drop": indicated(0, 0.45)}
    s = by_trials(FLANK, drop, said, uncertain=uncertain, added=[(_OFF, 0.5)])
    assert evaluated(FLANK, drop, **said).budget.u == pytest.approx(s, rel=0.05)


def test_the_budget_of_a_rise_is_what_trials_give() -> None:
    said = {"roll_deg": 5, "teeth": 12, **LEVER}
    drop = {"drop": indicated(0, 0.45)}
    s = by_trials(RISE, drop, said, uncertain=_LEVER)
    assert evaluated(RISE, drop, **said).budget.u == pytest.approx(1000 * s, rel=0.05)


_SETTINGS = {
    "lever_deg": ("angle of the lever", "angle of the lever"),
    "roll_deg": ("angle rolled", "angle rolled"),
    "travel_mm": ("travel over the land", "travel over the land"),
    "edge_radius_mm": ("radius of the edge", "radius of the edge"),
    "wheel_radius_mm": ("radius of the wheel", "radius of the wheel"),
    "helix_deg": ("helix of the edge", "helix of the edge"),
    "at_radius_mm": ("place of the indicator", "place of the indicator"),
    "dish_deg": ("dish of the end", "dish of the end"),
    "arc_radius_mm": ("radius of the edge", "radius of the arc"),
    "centre_off_axis_mm": ("radius of the edge", "centre of the arc"),
    "polar_deg": ("place on the arc", "place on the arc"),
    "inclination_deg": ("helix of the edge", "inclination of the edge"),
    "point_radius_mm": ("radius of the edge", "radius of the point"),
    "flank_deg": ("flank of the form", "angle of the flank"),
    "relieved_deg": ("direction of the relief", "direction of the relief"),
}
"""What a plan states -> influence of the shop file, row of the budget."""

_HOLLOW = {
    "land": "hollow",
    "edge_radius_mm": 5,
    "wheel_radius_mm": 40,
    "plane": "normal",
    "helix_deg": 35,
    **LEVER,
}
_END = {"land": "flat", "moved": "rolled", "at_radius_mm": 5, "dish_deg": 3, "roll_deg": 7, **LEVER}
_FORM = {"point_radius_mm": 30, "flank_deg": 30, "relieved_deg": 10, "roll_deg": 5, **LEVER}


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("clearance from a slid drop", {**_HOLLOW, "travel_mm": 0.8}),
        ("clearance in a stated plane from a rolled drop", {**_HOLLOW, "roll_deg": 7}),
        ("axial clearance from a drop on the end face", _END),
        (NORMAL, {"land": "flat", **arc(50, centre=1.0, inclined=30)}),
        (TWO, arc(50, centre=1.0, inclined=30)),
        (FLANK, _FORM),
        (RISE, {"teeth": 12, "roll_deg": 5, **LEVER}),
    ],
)
def test_each_row_is_how_far_the_value_moves_with_its_setting(
    name: str, said: dict[str, Any]
) -> None:
    drops = {role: read(0.07) for role in (("radial", "axial") if name == TWO else ("drop",))}
    budget = evaluated(name, drops, **said).budget
    rows = {row.name: row for row in budget.components}
    unit = 1000 if budget.unit == "um" else 1
    for key, (influence, row) in _SETTINGS.items():
        if key not in said:
            continue
        amount = float(worked.shop().influence[influence].amount)
        up, down = (
            evaluated(name, drops, **{**said, key: said[key] + way * 1e-3}).value for way in (1, -1)
        )
        moves = abs(up - down) / 2e-3 * unit
        if not moves:
            assert row not in rows
            continue
        assert rows.pop(row).u == pytest.approx(moves * amount / math.sqrt(3), rel=1e-4), key


@pytest.mark.parametrize("name", [NORMAL, TWO])
def test_half_of_an_indicator_s_drift_is_a_row_of_every_drop(name: str) -> None:
    drops = {role: read(0.07) for role in (("radial", "axial") if name == TWO else ("drop",))}
    said = {"land": "eccentric", **arc(50)}
    budget = evaluated(name, drops, drift={"master": -3.0}, **said).budget
    calibrated, drift = (
        next(row for row in budget.components if what in row.name)
        for what in ("calibration", "drift")
    )
    assert drift.amount == 1.5
    assert drift.sensitivity == pytest.approx(calibrated.sensitivity)


# What is refused


def test_a_land_that_rises_on_an_arc_or_a_form_is_refused() -> None:
    flat = evaluated(NORMAL, {"drop": read(-0.01)}, land="flat", **arc(30))
    both = {"radial": read(-0.02), "axial": read(0.01)}
    two = evaluated(TWO, both, **arc(30))
    radial = {"point_radius_mm": 30, "flank_deg": 0, "relieved_deg": 0, "roll_deg": 5, **LEVER}
    side = evaluated(FLANK, {"drop": read(0.4)}, **radial)
    rise = evaluated(RISE, {"drop": read(-0.4)}, teeth=12, roll_deg=5, **LEVER)
    for found in (flat, two, side, rise):
        assert any("rubs" in reason for reason in found.refusals)


def test_a_steep_lever_is_refused_once_for_both_drops() -> None:
    both = {"radial": indicated(0, 0.05), "axial": indicated(0, 0.05)}
    found = evaluated(TWO, both, **{**arc(30), "lever_deg": 40})
    assert [reason for reason in found.refusals if "40°" in reason] == list(found.refusals)
    assert len(found.refusals) == 1


def test_the_tip_of_a_ball_and_half_a_tooth_are_refused() -> None:
    with pytest.raises(ComputeError, match="doesn't turn"):
        evaluated(NORMAL, {"drop": read(0.05)}, land="flat", **arc(90))
    with pytest.raises(InputError, match="whole teeth"):
        evaluated(RISE, {"drop": read(0.4)}, teeth=11.5, roll_deg=5, **LEVER)


@pytest.mark.parametrize("missing", ["polar_deg", "inclination_deg", "centre_off_axis_mm", "land"])
def test_what_an_arc_needs_is_asked_for(missing: str) -> None:
    said = {"land": "flat", **arc(30), missing: ""}
    with pytest.raises(InputError, match=missing):
        evaluated(NORMAL, {"drop": read(0.05)}, **said)
