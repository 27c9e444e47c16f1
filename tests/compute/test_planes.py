"""Angles from plane to plane, leads and infeeds: there and back, and the ends of what can be."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import helix, infeed, planes
from inspect_rec.errors import ComputeError

angles = st.floats(-40, 40)


@given(angles, angles)
def test_at_90_degrees_the_side_rake_is_the_orthogonal_one(side: float, back: float) -> None:
    found = planes.tool_planes(side, back, 90)
    assert found.rake_orthogonal_deg == pytest.approx(side, abs=1e-9)
    assert found.inclination_deg == pytest.approx(back, abs=1e-9)


@given(angles, angles, st.floats(1, 179))
def test_tool_planes_are_those_of_the_face_in_space(side: float, back: float, edge: float) -> None:
    """The face as a plane, cut by the planes of ISO 3002-1 in vectors. Axes: 1 along the assumed
    feed, 2 along the back direction, 3 along the cutting direction; the face is
    h = -(tan gf a + tan gp b), a plane through the edge's point."""
    found = planes.tool_planes(side, back, edge)
    f, p = math.tan(math.radians(side)), math.tan(math.radians(back))
    k = math.radians(edge)
    square = (math.sin(k), math.cos(k))  # square to the edge, in the reference plane
    along = (-math.cos(k), math.sin(k))  # along it
    fall = f * square[0] + p * square[1]
    rise = f * along[0] + p * along[1]
    assert math.tan(math.radians(found.rake_orthogonal_deg)) == pytest.approx(fall, abs=1e-9)
    assert math.tan(math.radians(found.inclination_deg)) == pytest.approx(rise, abs=1e-9)
    # The rake square to the edge itself: angle between the face's normal and the direction that
    # is square to the edge's own direction and to the reference plane's line across it.
    edge_3d = (along[0], along[1], rise)
    across = (square[0], square[1], 0.0)
    in_face = (square[0], square[1], fall)
    length = math.hypot(*edge_3d)
    dot = sum(a * b for a, b in zip(in_face, edge_3d, strict=True)) / length
    flat = [a - dot * b / length for a, b in zip(in_face, edge_3d, strict=True)]
    lean = sum(a * b for a, b in zip(flat, across, strict=True))
    turned = math.degrees(math.acos(max(-1.0, min(1.0, lean / math.hypot(*flat)))))
    assert turned == pytest.approx(abs(found.rake_normal_deg), abs=1e-5)


@given(st.floats(1, 40), st.floats(0, 60))
def test_a_normal_clearance_is_larger_and_a_normal_rake_smaller(angle: float, helix: float) -> None:
    assert planes.normal_clearance(angle, helix) >= angle - 1e-9
    assert planes.normal_rake(angle, helix) <= angle + 1e-9


@given(st.floats(1, 60), st.floats(1, 80))
def test_lead_and_helix_there_and_back(diameter: float, angle: float) -> None:
    lead = helix.lead_of_helix(diameter, angle)
    assert helix.helix_of_lead(diameter, lead) == pytest.approx(angle)
    assert helix.lead_of_creep(lead, diameter / 2, 20, 0.0) == pytest.approx(lead)


@given(st.floats(1, 60), st.floats(5, 60), st.floats(1, 60))
def test_on_a_cylinder_the_turn_is_the_length_over_the_lead(
    diameter: float, angle: float, length: float
) -> None:
    turn = 360 * length / helix.lead_of_helix(diameter, angle)
    for larger in (diameter, diameter * (1 + 1e-12)):
        assert helix.turn_on_taper(diameter, larger, length, angle) == pytest.approx(turn)
        assert helix.turn_on_taper(diameter, larger, length, -angle) == pytest.approx(-turn)


def test_an_infinite_set_lead_leaves_what_the_creep_shows_alone() -> None:
    assert helix.lead_of_creep(None, 5, 20, 0.1) == pytest.approx(2 * math.pi * 5 * 20 / 0.1)
    assert helix.lead_of_creep(1e6, 5, 20, 0.1) == pytest.approx(
        helix.lead_of_creep(None, 5, 20, 0.1), rel=0.01
    )


@given(st.floats(0.001, 0.5), st.floats(2, 30))
def test_what_the_face_loses_the_radius_loses(radius: float, clearance: float) -> None:
    face = infeed.of_face(radius, clearance)
    assert infeed.radius_lost(face, clearance) == pytest.approx(radius)


def test_an_angle_over_its_length_is_stock_at_the_proud_end() -> None:
    assert infeed.of_angle(1, 10) == pytest.approx(10 * math.tan(math.radians(1)))


@pytest.mark.parametrize(
    "ask",
    [
        lambda: planes.tool_planes(90, 0, 45),
        lambda: planes.tool_planes(5, 5, 181),
        lambda: planes.normal_clearance(8, 90),
        lambda: helix.lead_of_helix(10, 0),
        lambda: helix.lead_of_helix(0, 30),
        lambda: helix.helix_of_lead(10, 0),
        lambda: helix.lead_of_creep(50, 0, 20, 0.1),
        lambda: helix.lead_of_creep(2 * math.pi, 1, 1, -1),
        lambda: helix.lead_of_creep(None, 5, 20, 0),
        lambda: helix.lead_of_creep(0, 5, 20, 0.1),
        lambda: helix.turn_on_taper(6, 12, 40, -90),
        lambda: helix.turn_on_taper(6, 12, 0, 30),
        lambda: helix.turn_on_taper(6, 12, 40, 90),
        lambda: infeed.of_face(0.01, 0),
        lambda: infeed.radius_lost(0.2, 90),
        lambda: infeed.of_swivelled(0.01, 90),
    ],
)
def test_what_can_not_be_is_refused(ask: Callable[[], object]) -> None:
    with pytest.raises(ComputeError, match=r"expected|straight|no result"):
        ask()
