"""Arcs and straights: what was planted is found, wherever and however the tool lies."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import fitting
from inspect_rec.compute.blend import blend, corner, meeting_angle, over_points
from inspect_rec.errors import ComputeError

places = st.floats(-50, 50)
Pairs = list[tuple[float, float]]


def nose(radius: float, outside: float) -> tuple[Pairs, Pairs]:
    """A quarter about (0, 0), and a straight along z at x = radius + outside below it."""
    turns = [math.radians(2 + 86 * k / 8) for k in range(9)]
    arc = [(radius * math.cos(t), radius * math.sin(t)) for t in turns]
    return arc, [(radius + outside, -1.0 - 2.0 * k) for k in range(5)]


def moved(points: Pairs, x: float, z: float, turn_deg: float, mirrored: bool) -> Pairs:
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    way = -1 if mirrored else 1
    return [(x + c * way * a - s * b, z + s * way * a + c * b) for a, b in points]


@given(
    st.floats(1, 20), st.floats(-0.02, 0.02), places, places, st.floats(-180, 180), st.booleans()
)
@settings(max_examples=60)
def test_the_step_of_a_blend_comes_back_shifted_turned_and_mirrored(
    radius: float, outside: float, x: float, z: float, turn: float, mirrored: bool
) -> None:
    arc, straight = (moved(p, x, z, turn, mirrored) for p in nose(radius, outside))
    found = blend(arc, straight)
    assert found.outside_mm == pytest.approx(outside, abs=1e-9)
    foot = moved([(radius + outside, 0.0)], x, z, turn, mirrored)[0]
    assert found.foot == pytest.approx(foot, abs=1e-9)


@given(st.floats(1, 20), st.floats(0.5, 30), st.floats(-1, 1))
def test_a_straight_that_cuts_the_arc_meets_it_at_its_angle(
    radius: float, angle: float, part: float
) -> None:
    """Where a straight at cos(angle) of the radius cuts the circle, the tangent stands at it."""
    arc, straight = nose(radius, -radius * (1 - math.cos(math.radians(angle))))
    found = blend(arc, straight)
    assert found.meeting_deg == pytest.approx(angle, abs=1e-6)
    at = radius * math.sin(math.radians(angle))
    assert found.angle_at(at, 1) == pytest.approx(angle, abs=1e-6)
    off = part * radius * 0.9
    assert found.angle_at(off, 1) == pytest.approx(
        abs(math.degrees(math.asin(off / radius))), abs=1e-9
    )


def test_what_has_no_angle_is_refused_and_what_does_not_meet_has_none() -> None:
    found = blend(*nose(5.0, 0.01))
    assert found.meeting_deg == 0
    with pytest.raises(ComputeError, match="beyond the arc"):
        found.angle_at(5.01, 1)
    with pytest.raises(ComputeError, match="square to the slide"):
        found.angle_at(0.0, 0)
    with pytest.raises(ComputeError, match="beyond the whole circle"):
        meeting_angle(-10.1, 5.0)


def between(radius: float, dish_deg: float, *, leg: float = 3.0) -> tuple[Pairs, Pairs, Pairs]:
    """A corner: arc about (0, 0) from the side x = radius to an end that sinks by the dish."""
    top = 90.0 + dish_deg
    turns = [math.radians(top * k / 8) for k in range(9)]
    arc = [(radius * math.cos(t), radius * math.sin(t)) for t in turns]
    side = [(radius, -leg * k / 3) for k in range(4)]
    last = turns[-1]
    x, z, c, s = arc[-1][0], arc[-1][1], -math.sin(last), math.cos(last)
    return arc, side, [(x + c * leg * k / 3, z + s * leg * k / 3) for k in range(4)]


@given(st.floats(0.2, 10), st.floats(-5, 30), places, places, st.floats(-180, 180), st.booleans())
@settings(max_examples=60)
def test_a_corner_comes_back_shifted_turned_and_mirrored(
    radius: float, dish: float, x: float, z: float, turn: float, mirrored: bool
) -> None:
    groups = between(radius, dish)
    arc, side, end = (moved(p, x, z, turn, mirrored) for p in groups)
    for found in (corner(arc, side, end), corner(arc, end, side)):
        assert found.radius_mm == pytest.approx(radius, abs=1e-9)
        assert found.centre == pytest.approx(moved([(0.0, 0.0)], x, z, turn, mirrored)[0], abs=1e-9)
        assert found.between_deg == pytest.approx(90 + dish, abs=1e-6)
        assert max(map(abs, found.residuals_mm)) < 1e-9


def test_straights_of_one_direction_and_points_that_say_nothing_are_refused() -> None:
    arc, side, _ = between(2.0, 0.0)
    with pytest.raises(ComputeError, match="one direction"):
        corner(arc, side, [(0.0, 0.0), (0.0, 5.0)])
    with pytest.raises(ComputeError, match="points on its arc"):
        corner([], side, [(0.0, 2.0), (-1.0, 2.0)])
    # Where the arc meets a straight, its place says nothing of the radius.
    with pytest.raises(ComputeError, match="radius"):
        corner([(2.0, 0.0)] * 3, side, [(0.0, 2.0), (-1.0, 2.0)])
    with pytest.raises(ComputeError, match="no number"):
        corner([(math.nan, 2.0)], side, [(0.0, 2.0), (-1.0, 2.0)])


def test_differences_find_what_a_fit_says_of_its_own_radius() -> None:
    arc, straight = nose(5.0, 0.0)
    by_fit = fitting.circle(arc).u_r_over_s
    assert over_points(lambda p: fitting.circle(p).radius_mm, arc) == pytest.approx(
        by_fit, rel=1e-5
    )
    mean = over_points(lambda p: sum(x for x, _ in p) / len(p), straight)
    assert mean == pytest.approx(1 / math.sqrt(5), rel=1e-6)
