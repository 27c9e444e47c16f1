"""Clearances from a drop: the slopes that the budget uses are those of the formula."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import geometry
from inspect_rec.compute.geometry import Relief
from inspect_rec.errors import ComputeError

Method = Callable[[float, float, float], Relief]


@pytest.mark.parametrize("relief", [geometry.rolled_flat, geometry.rolled_eccentric])
@given(st.floats(0.005, 0.2), st.floats(3, 15), st.floats(2, 20))
def test_the_stated_slopes_are_those_of_the_formula(
    relief: Method, drop: float, roll: float, radius: float
) -> None:
    found = relief(drop, roll, radius)

    def slope(change: Callable[[float], Relief], step: float) -> float:
        up, down = change(step), change(-step)
        return (up.clearance_deg - down.clearance_deg) / (2 * step)

    by_drop = slope(lambda s: relief(drop + s, roll, radius), 1e-6) / 1000
    by_roll = slope(lambda s: relief(drop, roll + s, radius), 1e-4)
    by_radius = slope(lambda s: relief(drop, roll, radius + s), 1e-4)
    assert found.per_drop_deg_per_um == pytest.approx(by_drop, rel=1e-4, abs=1e-6)
    assert found.per_roll_deg_per_deg == pytest.approx(by_roll, rel=1e-4, abs=1e-6)
    assert found.per_radius_deg_per_mm == pytest.approx(by_radius, rel=1e-4, abs=1e-6)


@given(st.floats(2, 14), st.floats(2, 10), st.floats(2, 20))
def test_a_flat_land_drawn_and_rolled_gives_its_own_angle_back(
    clearance: float, roll: float, radius: float
) -> None:
    """Forward model: the land is a line through the edge; rolled, the point under the indicator
    is where that line meets the ray at the angle rolled."""
    a, p = math.radians(clearance), math.radians(roll)
    reach = radius * math.cos(a) / math.cos(a - p) if math.cos(a - p) else 0
    under = radius / (math.cos(p) + math.tan(a) * math.sin(p))
    assert reach == pytest.approx(under, rel=1e-9)
    drop = radius - under
    if 0 < drop < radius:
        assert geometry.rolled_flat(drop, roll, radius).clearance_deg == pytest.approx(
            clearance, abs=1e-9
        )


@pytest.mark.parametrize(
    ("drop", "roll", "radius"), [(0.1, 0, 5), (6, 7, 5), (0.1, 90, 5), (0, 7, 0)]
)
def test_drops_that_can_not_be_are_refused(drop: float, roll: float, radius: float) -> None:
    with pytest.raises(ComputeError):
        geometry.rolled_flat(drop, roll, radius)


@given(st.floats(1, 20), st.floats(0.5, 12), st.floats(2, 15))
def test_the_expected_drop_gives_its_clearance_back(
    clearance: float, roll: float, radius: float
) -> None:
    flat = geometry.drop_of_flat(clearance, roll, radius)
    found = geometry.rolled_flat(flat, roll, radius)
    assert found.clearance_deg == pytest.approx(clearance, abs=1e-8)
    eccentric = geometry.drop_of_eccentric(clearance, roll, radius)
    found = geometry.rolled_eccentric(eccentric, roll, radius)
    assert found.clearance_deg == pytest.approx(clearance, abs=1e-8)


@given(st.floats(-5, 30), st.floats(0.1, 1.5), st.floats(2, 15))
def test_a_heel_drawn_gives_its_clearance_back(
    clearance: float, width: float, radius: float
) -> None:
    """Forward model: the heel lies a width away from the edge, turned in by the clearance."""
    a = math.radians(clearance)
    heel = math.hypot(radius - width * math.sin(a), width * math.cos(a))
    found = geometry.flat_by_width(radius - heel, width, radius)
    assert found.clearance_deg == pytest.approx(clearance, abs=1e-7)
    rubs = clearance < geometry.rubbing_below(width, radius)
    assert rubs is (heel > radius) or math.isclose(heel, radius)


@given(st.floats(0.01, 0.1), st.floats(0.4, 1.2), st.floats(3, 15))
def test_the_slopes_by_width_are_those_of_the_formula(
    drop: float, width: float, radius: float
) -> None:
    found = geometry.flat_by_width(drop, width, radius)

    def slope(h: float, w: float, r: float, step: float) -> float:
        up = geometry.flat_by_width(drop + h, width + w, radius + r).clearance_deg
        down = geometry.flat_by_width(drop - h, width - w, radius - r).clearance_deg
        return (up - down) / (2 * step)

    assert found.per_drop_deg_per_um == pytest.approx(slope(1e-6, 0, 0, 1e-3), rel=1e-4)
    by_width, by_radius = slope(0, 1e-6, 0, 1e-6), slope(0, 0, 1e-6, 1e-6)
    assert found.per_width_deg_per_mm == pytest.approx(by_width, rel=1e-4, abs=1e-3)
    assert found.per_radius_deg_per_mm == pytest.approx(by_radius, rel=1e-4, abs=1e-3)


@given(st.floats(2, 50), st.floats(0.1, 179))
def test_three_points_of_a_circle_give_its_radius_back(radius: float, span: float) -> None:
    half = math.radians(span) / 2
    chord, rise = 2 * radius * math.sin(half), 2 * radius * math.sin(half / 2) ** 2
    assert geometry.radius_of_chord(chord, rise)[0] == pytest.approx(radius)


@given(st.floats(5, 50), st.floats(0, 3))
def test_without_rake_the_face_shows_the_depth_itself(radius: float, depth: float) -> None:
    assert geometry.depth_in_face(radius, depth, 0) == pytest.approx(depth, abs=1e-12)


@given(st.floats(0.5, 20), st.floats(1, 89))
def test_angles_and_their_lengths_there_and_back(length: float, angle: float) -> None:
    stack = geometry.sine_bar(length, angle)
    assert geometry.sine_bar_angle(length, stack) == pytest.approx(angle)
    offset = geometry.rake_offset(length, angle)
    assert geometry.rake_of_offset(length, offset) == pytest.approx(angle)
    tall = length / math.tan(math.radians(angle))
    assert geometry.point_length(2 * length, 2 * angle) == pytest.approx(tall)
    assert geometry.leg(-tall, length).angle_deg == pytest.approx(angle)
    assert geometry.taper(3 * length, length, tall) == pytest.approx(2 * angle)


@given(st.floats(1, 89), st.floats(-60, 60))
def test_an_edge_beyond_the_right_angle_is_the_mirror_of_one_before_it(
    view: float, turned: float
) -> None:
    seen = geometry.edge_out_of_plane(view, turned)
    assert geometry.edge_out_of_plane(180 - view, turned) == pytest.approx(180 - seen)
    assert geometry.edge_out_of_plane(-view, turned) == pytest.approx(-seen)
    assert geometry.edge_out_of_plane(90 + 1e-9, turned) == pytest.approx(90, abs=1e-6)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: geometry.drop_of_flat(90, 5, 5),
        lambda: geometry.drop_of_flat(-60, 40, 5),
        lambda: geometry.flat_by_width(0.1, 0, 5),
        lambda: geometry.flat_by_width(6, 5.5, 5),
        lambda: geometry.flat_by_width(1.5, 0.5, 5),
        lambda: geometry.rubbing_below(11, 5),
        lambda: geometry.slid(0.1, 0),
        lambda: geometry.slid(0.1, 1, 90),
        lambda: geometry.hollow(9, 0.8, 0.3),
        lambda: geometry.edge_out_of_plane(59, 90),
        lambda: geometry.edge_out_of_plane(59, 120),
        lambda: geometry.edge_out_of_plane(-180, 5),
        lambda: geometry.leg(0, 0),
        lambda: geometry.point_length(8, 180),
        lambda: geometry.point_length(math.nan, 130),
        lambda: geometry.radius_of_chord(4, 0),
        lambda: geometry.taper(10, 8, 0),
        lambda: geometry.depth_in_face(30, 26, 8),
        lambda: geometry.depth_in_face(30, -1, 8),
        lambda: geometry.rake_of_offset(10, 11),
        lambda: geometry.sine_bar_angle(math.inf, 1),
    ],
)
def test_what_can_not_be_is_refused(ask: Callable[[], object]) -> None:
    with pytest.raises(ComputeError, match=r"expected|drop over this width"):
        ask()
