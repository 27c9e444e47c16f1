"""Clearances by every way of reading a drop: drawn lands come back, and budgets hold by trials."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from inspect_rec.compute.reliefs import LANDS
from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.base import Series
from tests.methods.modelled import by_trials, drawn, evaluated, indicated, moved, places

RADIUS, WHEEL = 5.0, 75.0
SLID = "clearance from a slid drop"
ROLLED = "clearance in a stated plane from a rolled drop"
HEEL = "clearance from land width and heel drop"
END = "axial clearance from a drop on the end face"
PLUNGER: dict[str, Any] = {"lever_deg": 0}
LEVER: dict[str, Any] = {"lever_deg": 15, "lever_mm": 20}
OF_LAND: dict[str, Any] = {"edge_radius_mm": RADIUS, "wheel_radius_mm": WHEEL}

clearances = st.floats(6, 18)
lands = st.sampled_from(LANDS)


class Land:
    """A land drawn in the transverse plane; its edge at the origin, the axis RADIUS below."""

    def __init__(self, kind: str, clearance_deg: float) -> None:
        self.kind, self.a = kind, math.radians(clearance_deg)

    def point(self, over: float) -> tuple[float, float]:
        """Along and below, so far down the land."""
        if self.kind == "flat":
            return over * math.cos(self.a), over * math.sin(self.a)
        if self.kind == "hollow":
            start, end = self.a, self.a - over / WHEEL
            return (
                WHEEL * (math.sin(start) - math.sin(end)),
                WHEEL * (math.cos(end) - math.cos(start)),
            )
        turned = over / RADIUS
        left = RADIUS * (1 - turned * math.tan(self.a))
        return left * math.sin(turned), RADIUS - left * math.cos(turned)

    def at(self, what: str, wanted: float) -> tuple[float, float]:
        """Drop that is read, and along, where the travel, roll or chord is as wanted."""

        def is_(over: float) -> float:
            along, below = self.point(over)
            if what == "slid":
                return along
            if what == "rolled":
                return math.degrees(math.atan2(along, RADIUS - below))
            return math.hypot(along, below)

        along, below = self.point(brentq(lambda o: is_(o) - wanted, 0, 3, xtol=1e-14))
        radial = RADIUS - math.hypot(along, RADIUS - below)
        return (below if what == "slid" else radial), along


def drop(mm: float, lever: Mapping[str, Any]) -> Series:
    """The reading of a lever that falls by so much, from any zero of the indicator."""
    return indicated(0.31, 0.31 + mm / math.cos(math.radians(lever["lever_deg"])))


def normal(transverse: float, helix: float) -> float:
    tangent = math.tan(math.radians(transverse)) / math.cos(math.radians(helix))
    return math.degrees(math.atan(tangent))


@given(lands, clearances, st.floats(0.4, 0.9), st.sampled_from([PLUNGER, LEVER]))
@settings(max_examples=60)
def test_a_drawn_land_slid_past_the_indicator_gives_its_clearance_back(
    kind: str, clearance: float, travel: float, lever: dict[str, Any]
) -> None:
    fall, _ = Land(kind, clearance).at("slid", travel)
    said = {**OF_LAND, **lever, "land": kind, "travel_mm": travel, "plane": "transverse"}
    found = evaluated(SLID, {"drop": drop(fall, lever)}, **said)
    assert found.value == pytest.approx(clearance, abs=1e-9)
    assert found.detail["drop_mm"] == pytest.approx(fall, abs=1e-12)
    assert found.refusals == ()


@given(lands, clearances, st.floats(4, 9), st.floats(0, 50))
@settings(max_examples=60)
def test_a_drawn_land_rolled_gives_its_clearance_back_square_to_the_edge(
    kind: str, clearance: float, roll: float, helix: float
) -> None:
    fall, _ = Land(kind, clearance).at("rolled", roll)
    said = {**OF_LAND, **LEVER, "land": kind, "roll_deg": roll}
    said |= {"plane": "normal", "helix_deg": helix}
    found = evaluated(ROLLED, {"drop": drop(fall, LEVER)}, **said)
    assert found.value == pytest.approx(normal(clearance, helix), abs=1e-9)
    assert found.detail["transverse_deg"] == pytest.approx(clearance, abs=1e-9)


@given(lands, clearances, st.floats(0.4, 0.9), st.floats(-50, 50), st.booleans())
@settings(max_examples=60)
def test_a_drawn_land_s_width_and_heel_give_its_clearance_back_wherever_the_slide_is_zeroed(
    kind: str, clearance: float, width: float, shift: float, mirrored: bool
) -> None:
    fall, _ = Land(kind, clearance).at("width", width)
    land = moved(places(("greater", width, 0), ("smaller", 0, 0)), shift, mirrored=mirrored)
    said = {**OF_LAND, **PLUNGER, "land": kind, "plane": "transverse"}
    found = evaluated(HEEL, {"drop": drop(fall, PLUNGER), "width": land}, **said)
    assert found.value == pytest.approx(clearance, abs=1e-9)


def test_a_known_tool_rolled_reads_the_same_by_the_method_without_lever_and_plane() -> None:
    """Worked job I1, flute 1, as flat."""
    said = {**OF_LAND, **PLUNGER, "edge_radius_mm": 4.9, "land": "flat", "roll_deg": 7}
    both = {"drop": indicated(0.0, 0.0755)}
    found = evaluated(ROLLED, both, **said, plane="transverse")
    known = evaluated(
        "clearance from a rolled drop", both, land="flat", edge_radius_mm=4.9, roll_deg=7
    )
    assert found.value == pytest.approx(known.value, abs=1e-12)
    assert found.budget.u == pytest.approx(known.budget.u, rel=1e-6)


def test_the_trade_s_hollow_and_helix_examples_come_out() -> None:
    """trade: w 0.8 ground hollow by a wheel of R 75 is 0.31 deg more than its chord; 8 deg
    transverse is 11.2 deg square to an edge of 45 deg helix (both re-computed by hand)."""
    said = {**OF_LAND, **PLUNGER, "travel_mm": 0.8 * math.cos(math.radians(8)), "helix_deg": 45}
    both = {"drop": indicated(0.0, 0.8 * math.sin(math.radians(8)))}
    hollow = evaluated(SLID, both, **said, land="hollow", plane="transverse")
    assert hollow.value - 8 == pytest.approx(0.306, abs=5e-4)
    assert hollow.detail["chord_deg"] == pytest.approx(8)
    flat = evaluated(SLID, both, **said, land="flat", plane="normal")
    assert flat.value == pytest.approx(11.24, abs=5e-3)


@given(clearances, st.sampled_from(["flat", "eccentric"]), st.floats(0, 3), st.floats(2, 8))
@settings(max_examples=60)
def test_an_end_land_slid_or_rolled_gives_its_axial_clearance_back(
    clearance: float, kind: str, dish: float, roll: float
) -> None:
    fall, rise = math.tan(math.radians(clearance)), math.tan(math.radians(dish))
    p = math.radians(roll)
    said = {**LEVER, "land": kind, "at_radius_mm": RADIUS, "dish_deg": dish}
    if kind == "flat":
        rolled = RADIUS * math.sin(p) * fall + RADIUS * (1 - math.cos(p)) * rise
        slid = 0.5 * fall
    else:
        rolled = RADIUS * p * fall
        slid = RADIUS * math.atan2(0.5, RADIUS) * fall
        slid -= (math.hypot(0.5, RADIUS) - RADIUS) * rise
    one = evaluated(END, {"drop": drop(rolled, LEVER)}, **said, moved="rolled", roll_deg=roll)
    two = evaluated(END, {"drop": drop(slid, LEVER)}, **said, moved="slid", travel_mm=0.5)
    assert one.value == pytest.approx(clearance, abs=1e-9)
    assert two.value == pytest.approx(clearance, abs=1e-9)


# Budgets

_STATED = {
    "edge_radius_mm": "radius of the edge",
    "lever_deg": "angle of the lever",
}


@pytest.mark.parametrize("kind", LANDS)
@pytest.mark.parametrize("helix", [0.0, 40.0])
@pytest.mark.parametrize("name", [SLID, ROLLED])
def test_the_budget_of_a_drop_is_what_trials_give(name: str, kind: str, helix: float) -> None:
    what, key, over = ("slid", "travel_mm", 0.8) if name == SLID else ("rolled", "roll_deg", 7.0)
    fall, _ = Land(kind, 9.0).at(what, over)
    said: dict[str, Any] = {**OF_LAND, **LEVER, "land": kind, key: over}
    said["plane"] = "normal" if helix else "transverse"
    uncertain = {**_STATED, key: "travel over the land" if name == SLID else "angle rolled"}
    if kind == "hollow":
        uncertain["wheel_radius_mm"] = "radius of the wheel"
    if helix:
        said["helix_deg"] = helix
        uncertain["helix_deg"] = "helix of the edge"
    read = {"drop": drop(fall, LEVER)}
    factor = (normal(9.001, helix) - normal(8.999, helix)) / 0.002
    if name == ROLLED and kind == "hollow":
        factor *= 1 + RADIUS / WHEEL  # both points lie elsewhere on the hollow, too
    s = by_trials(
        name, read, said, uncertain=uncertain, added=[("height of the axis, angle", factor)]
    )
    assert evaluated(name, read, **said).budget.u == pytest.approx(s, rel=0.05)


@pytest.mark.parametrize("kind", LANDS)
def test_the_budget_by_width_and_heel_is_what_trials_give(kind: str) -> None:
    fall, _ = Land(kind, 10.0).at("width", 0.8)
    said: dict[str, Any] = {**OF_LAND, **PLUNGER, "land": kind, "plane": "transverse"}
    read = {"drop": drop(fall, PLUNGER), "width": places(("greater", 0.8, 0), ("smaller", 0, 0))}

    def light(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        off = drawn("light", random) / 1000
        shifted = places(("greater", 0.8 + off, 0), ("smaller", -off, 0))
        return {**series, "width": shifted}

    uncertain = {"edge_radius_mm": "radius of the edge"}
    if kind == "hollow":
        uncertain["wheel_radius_mm"] = "radius of the wheel"
    axis = [("height of the axis, angle", 1.0)]
    s = by_trials(HEEL, read, said, uncertain=uncertain, added=axis, disturb=light)
    assert evaluated(HEEL, read, **said).budget.u == pytest.approx(s, rel=0.05)


@pytest.mark.parametrize("kind", ["flat", "eccentric"])
@pytest.mark.parametrize("how", ["slid", "rolled"])
def test_the_budget_of_an_end_face_is_what_trials_give(kind: str, how: str) -> None:
    said: dict[str, Any] = {**LEVER, "land": kind, "at_radius_mm": RADIUS, "dish_deg": 2.0}
    key, influence = (
        ("roll_deg", "angle rolled") if how == "rolled" else ("travel_mm", "travel over the land")
    )
    said |= {"moved": how, key: 7.0 if how == "rolled" else 0.6}
    uncertain = {
        key: influence,
        "lever_deg": "angle of the lever",
        "at_radius_mm": "place of the indicator",
        "dish_deg": "dish of the end",
    }
    read = {"drop": drop(0.1, LEVER)}

    def floats(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        off = drawn("axial float", random) / 1000 / math.cos(math.radians(15))
        first, last = (t["indicator"] for t in series["drop"].taken)
        return {"drop": indicated(first, last + (off if how == "rolled" else 0.0))}

    s = by_trials(END, read, said, uncertain=uncertain, disturb=floats)
    assert evaluated(END, read, **said).budget.u == pytest.approx(s, rel=0.05)


def test_a_lever_that_turns_has_a_row_and_a_plunger_none() -> None:
    said = {**OF_LAND, "land": "flat", "travel_mm": 0.8, "plane": "transverse"}

    def rows(lever: dict[str, Any]) -> list[str]:
        found = evaluated(SLID, {"drop": drop(0.1, lever)}, **said, **lever)
        return [row.name for row in found.budget.components if "lever" in row.name]

    assert rows(PLUNGER) == []
    assert rows(LEVER) == ["lever that turns while it reads", "angle of the lever"]


# What is refused


def slid(*, fall: float = 0.1, **other: Any) -> tuple[str, ...]:
    said = {**OF_LAND, **PLUNGER, "land": "flat", "travel_mm": 0.8, "plane": "transverse"}
    return evaluated(SLID, {"drop": indicated(0, fall)}, **{**said, **other}).refusals


def test_the_heel_that_rubs_is_refused_though_its_chord_falls() -> None:
    """r 5, w 0.8: below 4.6 deg the heel of a flat stands further out than the edge."""
    assert any("rubs" in r for r in slid(fall=0.8 * math.tan(math.radians(4.5))))
    assert any("rubs" in r for r in slid(fall=-0.01))
    assert slid(fall=0.8 * math.tan(math.radians(4.7))) == ()


def test_a_lever_too_steep_or_turned_too_far_for_its_cosine_is_refused() -> None:
    assert any("35°" in r for r in slid(lever_deg=35, lever_mm=20))
    assert slid(lever_deg=30, lever_mm=20) == ()
    assert any("turns too far" in r for r in slid(lever_deg=30, lever_mm=2))
    assert any("turns too far" in r for r in slid(fall=0.6, lever_deg=30, lever_mm=15))


@pytest.mark.parametrize(
    ("missing", "named"),
    [
        ({"land": "round"}, "flat or eccentric or hollow"),
        ({"plane": ""}, "transverse or normal"),
        ({"plane": "normal"}, "helix_deg"),
        ({"land": "hollow", "wheel_radius_mm": ""}, "wheel_radius_mm"),
        ({"lever_deg": 10}, "lever_mm"),
        ({"lever_deg": ""}, "lever_deg"),
        ({"edge_radius_mm": ""}, "edge_radius_mm"),
    ],
)
def test_what_the_plan_does_not_state_is_asked_for(missing: dict[str, Any], named: str) -> None:
    with pytest.raises(InputError, match=named):
        slid(**missing)


def test_a_drop_beyond_the_radius_and_a_land_without_travel_are_refused() -> None:
    with pytest.raises(ComputeError, match="below the radius"):
        slid(fall=5.1, land="eccentric")
    with pytest.raises(ComputeError, match="no such travel"):
        slid(travel_mm=0)
