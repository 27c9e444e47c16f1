"""Lips, chisel edges and flanks: drawn ones come back, in any place and whichever way round."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import points
from inspect_rec.errors import ComputeError

lengths = st.floats(0.3, 10)
turns = st.floats(-180, 180)
places = st.floats(-50, 50)


@given(st.floats(1, 89), lengths, st.booleans())
def test_a_leg_opens_the_same_whichever_of_its_points_comes_first(
    angle: float, long: float, swapped: bool
) -> None:
    way = -1 if swapped else 1
    across, along = long * math.sin(math.radians(angle)), long * math.cos(math.radians(angle))
    assert points.opening(way * across, way * along) == pytest.approx(angle, abs=1e-9)
    assert points.opening(way * -across, way * along) == pytest.approx(-angle, abs=1e-9)


@given(st.floats(10, 80), st.floats(0.5, 4), st.floats(5, 9), st.floats(0.1, 10), places)
def test_a_lip_has_the_height_of_its_line(
    kappa: float, inner: float, outer: float, at: float, z: float
) -> None:
    def height(r: float) -> float:
        return z - r / math.tan(math.radians(kappa))

    found = points.height_at(at, inner, height(inner), outer, height(outer))
    assert found == pytest.approx(height(at), abs=1e-9)
    found = points.height_at(at, outer, height(outer), inner, height(inner))
    assert found == pytest.approx(height(at), abs=1e-9)


@given(st.floats(0, 90), turns, lengths, lengths, st.sampled_from([-1, 1]))
def test_an_angle_between_two_edges_is_that_drawn_whichever_way_they_run(
    angle: float, turned: float, first: float, second: float, way: int
) -> None:
    a, b = math.radians(turned), math.radians(turned + way * angle)
    found = points.between(
        first * math.cos(a), first * math.sin(a), -second * math.cos(b), -second * math.sin(b)
    )
    assert found == pytest.approx(angle, abs=1e-6)


@given(st.floats(-0.2, 0.2), turns, st.floats(0.3, 2), st.floats(-0.3, 0.3), places, places)
def test_half_a_turn_shows_how_far_an_edge_lies_off_the_axis(
    off: float, turned: float, long: float, along: float, x: float, z: float
) -> None:
    c, s = math.cos(math.radians(turned)), math.sin(math.radians(turned))
    ends = [along - long / 2, along + long / 2]
    flat = [(e * c - off * s, e * s + off * c) for e in ends]
    before = tuple(v for p in flat for v in (x + p[0], z + p[1]))
    after = tuple(v for p in flat for v in (x - p[0], z - p[1]))
    assert abs(points.off_axis(before, after)) == pytest.approx(abs(off), abs=1e-9)
    assert points.off_half_a_turn(before, after) == pytest.approx(0, abs=1e-6)
    bright = tuple(v + 0.003 for v in (*before, *after))  # the line is laid aside, both times
    assert points.off_axis(bright[:4], bright[4:]) == pytest.approx(
        points.off_axis(before, after), abs=1e-9
    )


@given(st.floats(-170, 170))
def test_what_is_missing_to_half_a_turn_is_found(missing: float) -> None:
    a = math.radians(180 + missing)
    after = (0.0, 0.0, math.cos(a), math.sin(a))
    assert points.off_half_a_turn((0, 0, 1, 0), after) == pytest.approx(abs(missing), abs=1e-9)


def test_a_diameter_that_shrinks_toward_the_shank_has_a_back_taper() -> None:
    assert points.back_taper(8.5, 8.46, 80) == pytest.approx(0.05)
    assert points.back_taper(8.46, 8.5, 80) == pytest.approx(-0.05)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: points.opening(0, 0),
        lambda: points.height_at(3, 2, 0, 2, 1),
        lambda: points.between(0, 0, 1, 1),
        lambda: points.between(1, 1, 0, 0),
        lambda: points.off_axis((0, 0, 1, 0), (0, 0, 1, 0)),
        lambda: points.off_half_a_turn((0, 0, 0, 0), (0, 0, 1, 0)),
        lambda: points.off_half_a_turn((0, 0, 1, 0), (0, 0, 0, 0)),
        lambda: points.back_taper(8, 7, 0),
        lambda: points.opening(math.nan, 1),
    ],
)
def test_what_can_not_be_is_refused(ask: Callable[[], float]) -> None:
    with pytest.raises(ComputeError):
        ask()
