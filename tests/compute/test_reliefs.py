"""Clearances held against tools modelled in space: surfaces, their normals, and touched points."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from inspect_rec.compute import geometry, planes, reliefs
from inspect_rec.compute.sensitivity import slopes
from inspect_rec.errors import ComputeError

Vector = tuple[float, float, float]
Surface = Callable[[float, float, float], float]
"""Above 0 outside the metal; the edge lies in y = 0, the land behind it at y > 0, z is the axis."""

clearances = st.floats(1, 20)
radii = st.floats(2, 20)


def normal(surface: Surface, at: Vector, step: float = 1e-6) -> Vector:
    def slope(n: int) -> float:
        up, down = list(at), list(at)
        up[n], down[n] = at[n] + step, at[n] - step
        return (surface(*up) - surface(*down)) / (2 * step)

    x, y, z = (slope(n) for n in range(3))
    long = math.sqrt(x * x + y * y + z * z)
    return x / long, y / long, z / long


def dot(a: Sequence[float], b: Sequence[float]) -> float:
    return sum(p * q for p, q in zip(a, b, strict=True))


def angle_from(outward: Vector, behind: Vector, surface: Surface, at: Vector) -> float:
    """Clearance in the plane of ``outward`` and ``behind``, from the surface's own normal."""
    n = normal(surface, at)
    return math.degrees(math.atan2(dot(n, behind), dot(n, outward)))


def touched(surface: Surface, at: Vector, way: Vector, roll_deg: float) -> float:
    """Drop under a still indicator that stands at ``at`` along ``way``, after the tool (axis z)
    is rolled by that angle, edge first."""
    p = math.radians(roll_deg)

    def on(depth: float) -> float:
        x, y, z = (a - depth * w for a, w in zip(at, way, strict=True))
        turned = (x * math.cos(p) - y * math.sin(p), x * math.sin(p) + y * math.cos(p), z)
        return surface(*turned)

    return float(brentq(on, -4, 4, xtol=1e-15, rtol=1e-14))


@given(clearances, radii, st.floats(1, 12))
def test_each_land_drawn_gives_its_clearance_back_from_any_point_of_it(
    clearance: float, radius: float, turned: float
) -> None:
    a, p = math.radians(clearance), math.radians(turned)
    reach = radius * p
    assert reliefs.of_land(
        "flat", reach * math.cos(a), reach * math.sin(a), radius
    ) == pytest.approx(clearance, abs=1e-9)

    left = radius * (1 - p * math.tan(a))
    assume(left > 0.1 * radius)
    found = reliefs.of_land("eccentric", left * math.sin(p), radius - left * math.cos(p), radius)
    assert found == pytest.approx(clearance, abs=1e-9)

    wheel = 75.0  # a circle through the edge, whose tangent there is the clearance
    over = reach / wheel
    along = wheel * (math.sin(a) - math.sin(a - over))
    below = wheel * (math.cos(a - over) - math.cos(a))
    found = reliefs.of_land("hollow", along, below, radius, wheel)
    assert found == pytest.approx(clearance, abs=1e-8)


@given(clearances, radii, st.floats(2, 12))
def test_a_rolled_and_a_heel_s_point_agree_with_the_formulas_for_the_flat(
    clearance: float, radius: float, roll: float
) -> None:
    drop = geometry.drop_of_flat(clearance, roll, radius)
    found = reliefs.of_land("flat", *reliefs.rolled_point(drop, roll, radius), radius)
    assert found == pytest.approx(geometry.rolled_flat(drop, roll, radius).clearance_deg)
    width = radius * math.radians(roll)
    a = math.radians(clearance)
    heel = radius - math.hypot(radius - width * math.sin(a), width * math.cos(a))
    found = reliefs.of_land("flat", *reliefs.heel_point(heel, width, radius), radius)
    assert found == pytest.approx(clearance, abs=1e-8)


def test_a_rolled_eccentric_land_is_the_known_one() -> None:
    point = reliefs.rolled_point(0.0755, 7, 4.9)
    known = geometry.rolled_eccentric(0.0755, 7, 4.9).clearance_deg
    assert reliefs.of_land("eccentric", *point, 4.9) == pytest.approx(known, abs=1e-12)


@given(clearances, st.floats(0, 55))
def test_square_to_a_helical_edge_the_clearance_is_that_of_the_land_in_space(
    transverse: float, helix: float
) -> None:
    """The land is the flat of the transverse plane, turned along the axis with the helix."""
    r, t = 5.0, math.tan(math.radians(transverse))
    lead = math.tan(math.radians(helix)) / r  # turn for each mm along the axis

    def land(x: float, y: float, z: float) -> float:
        c, s = math.cos(lead * z), math.sin(lead * z)
        return (x * c + y * s - r) + t * (y * c - x * s)

    edge = math.radians(helix)
    square = (0.0, math.cos(edge), -math.sin(edge))
    found = angle_from((1.0, 0.0, 0.0), square, land, (r, 0.0, 0.0))
    assert planes.normal_clearance(transverse, helix) == pytest.approx(found, abs=1e-6)


@given(clearances, radii, st.floats(0, 4), st.floats(2, 12), st.sampled_from(["flat", "eccentric"]))
def test_an_end_land_in_space_gives_its_axial_clearance_back(
    clearance: float, radius: float, dish: float, roll: float, land: str
) -> None:
    t, d = math.tan(math.radians(clearance)), math.tan(math.radians(dish))

    def flat(x: float, y: float, z: float) -> float:
        return z + y * t - (x - radius) * d

    def helicoid(x: float, y: float, z: float) -> float:
        return z + radius * t * math.atan2(y, x) - (math.hypot(x, y) - radius) * d

    face = flat if land == "flat" else helicoid
    at, p = (radius, 0.0, 0.0), math.radians(roll)
    drop = touched(face, at, (0, 0, 1), roll)
    beside, behind = radius * math.cos(p), radius * math.sin(p)
    found = reliefs.end_face(land, beside, behind, drop, radius, dish)
    assert found == pytest.approx(clearance, abs=1e-9)
    travel = radius * p
    drop = -brentq(lambda z: face(radius, travel, z), -50, 50, xtol=1e-14)
    found = reliefs.end_face(land, radius, travel, drop, radius, dish)
    assert found == pytest.approx(clearance, abs=1e-9)


@given(clearances, st.floats(0, 90), st.floats(0.5, 8), st.floats(2, 10))
def test_a_flat_on_an_arc_in_space_gives_its_clearance_back(
    clearance: float, polar: float, radius: float, roll: float
) -> None:
    a, t = math.radians(clearance), math.radians(polar)
    way = (math.cos(t), 0.0, math.sin(t))
    at = (radius, 0.0, 3.0)

    def land(x: float, y: float, z: float) -> float:
        square = (way[0] * math.cos(a), math.sin(a), way[2] * math.cos(a))
        return dot(square, (x - at[0], y, z - at[2]))

    drop = touched(land, at, way, roll)
    found = reliefs.on_arc("flat", drop, roll, radius, polar)
    assert found == pytest.approx(clearance, abs=1e-9)


def carried(profile: Callable[[float, float], float], radial: float, axial: float) -> Surface:
    """A profile in (radius, height) that a cam carries inward and back, mm for each radian."""

    def surface(x: float, y: float, z: float) -> float:
        turned = math.atan2(y, x)
        return profile(math.hypot(x, y) + radial * turned, z + axial * turned)

    return surface


@given(st.floats(0, 80), st.floats(0, 5), st.floats(0.1, 1), st.floats(0, 1))
def test_a_carried_arc_in_space_gives_the_clearance_of_its_two_drops(
    polar: float, centre: float, radial: float, axial: float
) -> None:
    """The drops are read where the profile is parallel and square to the axis; the clearance is
    taken from the surface's own normal, in the plane square to the edge."""
    arc, roll, t = 4.0, 6.0, math.radians(polar)
    radius = reliefs.radius_on_arc(centre, arc, polar)
    assert radius == pytest.approx(centre + arc * math.cos(t))
    surface = carried(lambda r, z: math.hypot(r - centre, z) - arc, radial, axial)
    at = (radius, 0.0, arc * math.sin(t))
    outward = (math.cos(t), 0.0, math.sin(t))
    by_surface = angle_from(outward, (0.0, 1.0, 0.0), surface, at)
    p = math.radians(roll)
    found = reliefs.on_arc_of_two(radial * p, axial * p, roll, radius, polar)
    assert found == pytest.approx(by_surface, abs=1e-6)
    alone = reliefs.on_arc(
        "eccentric", (radial * math.cos(t) + axial * math.sin(t)) * p, roll, radius, polar
    )
    assert found == pytest.approx(alone, abs=1e-12)


@given(st.floats(5, 85), st.floats(-4, 30), st.floats(1, 8), st.integers(6, 24))
def test_a_flank_of_a_form_in_space_gives_its_clearance_back(
    flank: float, relieved: float, rise: float, teeth: int
) -> None:
    s, t, radius, roll = math.radians(flank), math.radians(relieved), 30.0, 5.0
    each = rise * teeth / (2 * math.pi)  # mm for each radian, along the relief
    out = (math.sin(s), math.cos(s))  # normal of the flank, in (radius, height)
    surface = carried(
        lambda r, z: out[0] * (r - radius) + out[1] * z,
        each * math.cos(t),
        each * math.sin(t),
    )
    by_surface = angle_from((out[0], 0.0, out[1]), (0.0, 1.0, 0.0), surface, (radius, 0.0, 0.0))
    crest = carried(lambda r, z: r - radius, each * math.cos(t), each * math.sin(t))
    drop = touched(crest, (radius, 0.0, 0.0), (1.0, 0.0, 0.0), roll)
    found = reliefs.form_flank(drop, roll, radius, flank, relieved)
    assert found == pytest.approx(by_surface, abs=1e-6)
    assert reliefs.form_rise(drop, roll, teeth) == pytest.approx(rise * math.cos(t))


@given(st.floats(0.5, 8), st.integers(6, 24), st.floats(40, 150), st.floats(5, 90))
def test_the_known_formulas_of_form_relief_hold(
    rise: float, teeth: int, diameter: float, flank: float
) -> None:
    """tan a = k z / (pi D) on the crest, tan a sin s on a flank (common practice)."""
    roll = 5.0
    drop = rise * teeth * roll / 360
    crest = reliefs.form_flank(drop, roll, diameter / 2, 90)
    tangent = rise * teeth / (math.pi * diameter)
    assert math.tan(math.radians(crest)) == pytest.approx(tangent)
    side = reliefs.form_flank(drop, roll, diameter / 2, flank)
    assert math.tan(math.radians(side)) == pytest.approx(tangent * math.sin(math.radians(flank)))


@given(st.floats(0.01, 0.4), st.floats(5, 40), st.floats(10, 40), st.sampled_from([-1, 1]))
def test_a_lever_that_turns_is_wrong_by_what_is_stated(
    reading: float, lever: float, arm: float, way: int
) -> None:
    start = math.radians(lever)
    true = way * arm * (math.sin(start + way * reading / arm) - math.sin(start))
    off = true - geometry.true_drop(reading, lever)
    rest = reading**3 / arm**2  # the third order
    assert abs(off) == pytest.approx(reliefs.lever_turns(reading, lever, arm), abs=rest)


def test_slopes_are_the_derivatives_in_the_order_of_the_inputs() -> None:
    found = slopes(lambda x, y: x**3 * math.sin(y), 2.0, 0.7)
    assert found == pytest.approx((12 * math.sin(0.7), 8 * math.cos(0.7)), rel=1e-8)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: reliefs.of_land("round", 1, 0.1, 5),
        lambda: reliefs.of_land("flat", 0, 0.1, 5),
        lambda: reliefs.of_land("hollow", 1, 0.1, 5),
        lambda: reliefs.of_land("eccentric", 1, 5, 5),
        lambda: reliefs.rolled_point(0.1, 90, 5),
        lambda: reliefs.rolled_point(5, 7, 5),
        lambda: reliefs.heel_point(5, 7, 5),
        lambda: reliefs.end_face("hollow", 5, 1, 0.1, 5, 0),
        lambda: reliefs.end_face("flat", 5, 0, 0.1, 5, 0),
        lambda: reliefs.radius_on_arc(0, 5, 90),
        lambda: reliefs.on_arc("hollow", 0.1, 7, 5, 30),
        lambda: reliefs.on_arc("flat", 6, 7, 5, 0),
        lambda: reliefs.on_arc_of_two(0.1, 0.1, 0, 5, 30),
        lambda: reliefs.form_rise(0.1, 7, 0),
        lambda: reliefs.form_flank(0.1, 7, 5, 30, 90),
        lambda: reliefs.lever_turns(0.1, 10, 0),
    ],
)
def test_what_can_not_be_is_refused(ask: Callable[[], float]) -> None:
    with pytest.raises(ComputeError):
        ask()
