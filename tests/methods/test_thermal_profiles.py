"""Profiles of a warm tool at 20 degC, and which values of all methods aren't corrected, and why."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from inspect_rec.compute.thermal import Body
from inspect_rec.methods.base import Given, Instrument, Series, Taken
from inspect_rec.methods.register import named, register
from inspect_rec.methods.thermal import CORRECTION
from tests.compute.test_blend import between
from tests.compute.test_chain import ON
from tests.methods.readings import asked, both_sides, points
from tests.methods.test_contours import ELEMENTS
from tests.methods.test_thermal import HSS, WARM

SMALL = "a difference, a place or a form: a few hundredths of a mm, so the correction is nil"
NOT_CORRECTED = {
    "back taper from two diameters": SMALL,
    "chisel edge off the axis, half a turn": SMALL,
    "form by swing test": SMALL,
    "form of an arc": SMALL,
    "height against the axis by indicator": SMALL,
    "height difference by indicator": SMALL,
    "lip height difference from the lips": SMALL,
    "middle off the axis": SMALL,
    "pivot offset by swing test": SMALL,
    "rise of a form relief": SMALL,
    "spread of the centres": SMALL,
    "spread of the tips": SMALL,
    "step at a blend": SMALL,
    "variation of the edges by indicator": SMALL,
    "variation over the flutes": "of values that are corrected already",
    "web off the axis, half a turn": SMALL,
    "lead from creep at a set lead": "rests on the machine's own lead, whose expansion isn't known",
    "length on the screen": "laying-up on the screen is a hundred times as uncertain",
}


def test_every_length_is_corrected_or_known_not_to_need_it() -> None:
    by_hand = {"profile, radius held", "profile, contour"}
    lengths = {name for name, m in register().items() if m.unit == "mm"}
    without = {n for n in lengths if not hasattr(named(n).evaluate, "__wrapped__")}
    assert without - by_hand == set(NOT_CORRECTED)


def contour(factor: float, *freedoms: str, moving: float = 0.0, **more: float) -> Given:
    tool = WARM.thermal.tool
    assert tool is not None
    thermal = replace(
        WARM.thermal,
        tool=replace(tool, body=replace(tool.body, moved=moving)),
        half_step=None,
        expanded=0.0,
    )
    read = points([(x * factor, z * factor) for x, z in ON])
    given = asked({"points": read}, elements=ELEMENTS, freedoms=freedoms, **more)  # type: ignore[arg-type]
    return replace(given, thermal=thermal)


@pytest.mark.parametrize("freedoms", [("X", "Z"), ("X", "Z", "rotation"), ("X",)])
def test_a_contour_of_a_warm_tool_comes_back_to_what_was_drawn(freedoms: tuple[str, ...]) -> None:
    case = contour(WARM.shown(1.0), *freedoms)
    found = named("profile, contour").evaluate(case)
    cold = named("profile, contour").evaluate(replace(case, thermal=None))
    assert max(map(abs, found.values)) < 1e-7
    assert max(map(abs, cold.values)) > 3e-5
    off = (found.values[-1] - cold.values[-1]) * 1000
    assert found.detail[CORRECTION] == pytest.approx(off, abs=1e-6)


def test_a_face_with_rake_is_corrected_before_it_is_taken_out_of_the_face() -> None:
    f, axis_mm, rake, outer = WARM.shown(1.0), -20.0, 10.0, 27.0
    sine = outer * math.sin(math.radians(rake))
    face = [(axis_mm + math.sqrt((x - axis_mm) ** 2 - sine**2), z) for x, z in ON]
    case = contour(f, "X", "Z", rake_deg=rake, outer_radius_mm=outer)
    series = {
        "points": points([(x * f, z * f) for x, z in face]),
        "axis": both_sides(axis_mm * f, 10.0 * f),
    }
    found = named("profile, contour").evaluate(replace(case, series=series))
    assert max(map(abs, found.values)) < 1e-6


def test_a_contours_budget_holds_the_change_that_a_moving_temperature_makes() -> None:
    """The half-width of the row is what half of the movement does to the worst deviation."""
    moving = 2.0
    case = contour(1.0, "X", "Z", moving=moving)
    row = next(
        c
        for c in named("profile, contour").evaluate(case).budget.components
        if c.name.endswith("moving")
    )
    plain = replace(case, thermal=None)
    warmer = contour(1 + HSS * 1e-6 * moving / 2, "X", "Z")
    a, b = (
        named("profile, contour").evaluate(replace(c, thermal=None)).detail["deviations_mm"]
        for c in (plain, warmer)
    )
    assert isinstance(a, tuple)
    assert isinstance(b, tuple)
    worst = max(abs(x - y) for x, y in zip(a, b, strict=True)) * 1000
    assert row.u * math.sqrt(3) == pytest.approx(worst, rel=0.02)


def test_a_profile_without_a_temperature_keeps_its_deviations_and_has_no_verdict() -> None:
    case = contour(1.0001, "X", "Z")
    assert case.thermal is not None
    lacks = replace(
        case.thermal, tool=None, missing={"": ("the temperature of the tool is missing",)}
    )
    found = named("profile, contour").evaluate(replace(case, thermal=lacks))
    plain = named("profile, contour").evaluate(replace(case, thermal=None))
    assert found.values == plain.values
    assert found.refusals == ("the temperature of the tool is missing: not corrected to 20 °C",)
    assert CORRECTION not in found.detail


def test_a_corner_a_chisel_edge_and_a_web_come_back_at_20_degrees() -> None:
    f = WARM.shown(1.0)
    corner = dict(zip(("arc", "side", "end"), between(6.0, 1.0), strict=True))
    cases = {
        "corner radius between two straights": (
            {name: points([(x * f, z * f) for x, z in group]) for name, group in corner.items()},
            6.0,
        ),
        "chisel edge length": ({"ends": points([(0, 0), (3 * f, 4 * f)])}, 5.0),
        "web thickness from both sides": ({"web": points([(0, 0), (0.6 * f, 0.8 * f)])}, 1.0),
    }
    for name, (series, true) in cases.items():
        given = asked(series, form="convex")
        assert named(name).evaluate(replace(given, thermal=WARM.thermal)).value == pytest.approx(
            true, abs=2e-6
        )


def test_a_caliper_of_its_own_scale_is_as_far_off_as_it_is_cooler_than_the_tool() -> None:
    length = Series(
        "length",
        (Taken("tip", 1, None, {"length": 100.0}, ("A", 1)),),
        "length",
        Instrument("CA-1", half_step=5, largest_error=30),
    )
    tool = WARM.thermal.tool
    assert tool is not None
    pair = replace(tool, scale=Body("CA-1", 11.5, 2.0))
    given = replace(asked({"length": length}), thermal=replace(WARM.thermal, tool=pair))
    found = named("length by caliper").evaluate(given)
    # 11 * 7 less 11.5 * 2 millionths of 100 mm.
    assert found.detail[CORRECTION] == pytest.approx(-5.4, abs=1e-6)
