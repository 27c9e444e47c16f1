"""Minimum zones: never wider than any other ring or strip that holds the points."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import fitting, zone
from inspect_rec.errors import ComputeError

Points = list[tuple[float, float]]


@st.composite
def rounds(draw: st.DrawFn) -> Points:
    n = draw(st.integers(5, 24))
    noise = draw(st.lists(st.floats(-0.01, 0.01), min_size=n, max_size=n))
    return [
        ((5 + e) * math.cos(2 * math.pi * k / n), (5 + e) * math.sin(2 * math.pi * k / n))
        for k, e in enumerate(noise)
    ]


@given(rounds(), st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))
@settings(max_examples=60, deadline=None)
def test_no_other_centre_makes_a_narrower_ring(points: Points, dx: float, dz: float) -> None:
    ring = zone.minimum_ring(points)
    other = [math.hypot(x - ring.centre_x_mm - dx, z - ring.centre_z_mm - dz) for x, z in points]
    own = [math.hypot(x - ring.centre_x_mm, z - ring.centre_z_mm) for x, z in points]
    assert ring.zone_mm == pytest.approx(max(own) - min(own), abs=1e-12)
    assert ring.zone_mm <= max(other) - min(other) + 1e-9
    assert ring.zone_mm <= fitting.circle(points).form_mm + 1e-12


@pytest.mark.parametrize("seed", range(60))
def test_of_a_rough_arc_no_centre_near_or_far_makes_a_narrower_ring(seed: int) -> None:
    """The few points at the ends of such an arc may have no ring of their own near by."""
    draw = random.Random(seed)
    n, span, noise = draw.randint(5, 11), draw.choice((70, 200, 330)), draw.choice((0.02, 0.1, 0.4))
    points = [
        ((5 + e) * math.cos(t), (5 + e) * math.sin(t))
        for t, e in (
            (math.radians(draw.uniform(0, span)), draw.uniform(-noise, noise)) for _ in range(n)
        )
    ]
    start, ring = fitting.circle(points), zone.minimum_ring(points)
    for power in range(7):
        for turn in range(64):
            a, step = math.radians(turn * 5.625), 2 * 10.0**-power
            x, z = ring.centre_x_mm + step * math.cos(a), ring.centre_z_mm + step * math.sin(a)
            away = [math.hypot(px - x, pz - z) for px, pz in points]
            if math.hypot(x - start.centre_x_mm, z - start.centre_z_mm) < start.radius_mm:
                assert ring.zone_mm <= max(away) - min(away) + 1e-8


@given(rounds(), st.floats(0, 180))
@settings(max_examples=60, deadline=None)
def test_no_other_direction_makes_a_narrower_strip(points: Points, turn: float) -> None:
    strip = zone.minimum_strip(points)
    for angle, bound in ((strip.angle_deg, strip.zone_mm), (turn, math.inf)):
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        across = [z * c - x * s for x, z in points]
        width = max(across) - min(across)
        assert strip.zone_mm - 1e-9 <= width <= bound + 1e-9
    assert -90 < strip.angle_deg <= 90


def test_points_on_one_line_need_no_width() -> None:
    strip = zone.minimum_strip([(0.0, 0.0), (1.0, 1.0), (3.0, 3.0), (2.0, 2.0)])
    assert (strip.zone_mm, strip.angle_deg) == pytest.approx((0, 45))


def test_the_ring_of_exact_points_has_no_width() -> None:
    points = [(math.cos(k), math.sin(k)) for k in range(6)]
    assert zone.minimum_ring(points).zone_mm == pytest.approx(0, abs=1e-12)


def test_points_that_went_wild_end_in_a_ring_all_the_same() -> None:
    """Steps that narrow it by a last bit alone would go on for ever."""
    points = [
        (104.2398, 204.2398), (101.553, 205.7959), (98445.3, 205.0), (95.7617, 204.2383),
        (9.42082e-05, 201.5519), (94.2006, 198.4461), (95.7569, 195.7569), (98.4475, 194.2059),
        (101.5529, 194.2044), (104.2407, 195.7593),
    ]  # fmt: skip
    assert zone.minimum_ring(points).zone_mm <= fitting.circle(points).form_mm


def test_too_few_points_are_refused() -> None:
    with pytest.raises(ComputeError):
        zone.minimum_ring([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)])
    with pytest.raises(ComputeError):
        zone.minimum_strip([(1.0, 0.0), (1.0, 0.0)])
    with pytest.raises(ComputeError, match="no number"):
        zone.minimum_strip([(1.0, 0.0), (math.nan, 0.0)])
