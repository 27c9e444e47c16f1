"""Contours: what was planted is found, and only what is declared free may move."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.compute import contour, fitting
from inspect_rec.compute.contour import Arc, Element, Point, Straight
from inspect_rec.errors import ComputeError

CORNER: list[Element] = [
    Straight((5.0, -8.0), (5.0, 0.0)),
    Arc((3.0, 0.0), 2.0, convex=False),
    Straight((3.0, 2.0), (-1.0, 2.0)),
]
"""Side, concave corner, end: metal to the left of each line, inside the arc."""
ON: list[tuple[int, Point]] = [
    *((0, (5.0, -1.5 * k - 1)) for k in range(5)),
    *((1, (3 + 2 * math.cos(t), 2 * math.sin(t))) for t in (0.2, 0.6, 1.0, 1.4)),
    *((2, (2.5 - k, 2.0)) for k in range(4)),
]
shifts = st.floats(-0.05, 0.05)


def placed(dx: float, dz: float, turn_deg: float, pivot: Point) -> list[Point]:
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    found = []
    for _, (x, z) in ON:
        px, pz = x - pivot[0], z - pivot[1]
        found.append((pivot[0] + c * px - s * pz + dx, pivot[1] + s * px + c * pz + dz))
    return found


@given(shifts, shifts, st.floats(-0.5, 0.5), st.tuples(shifts, shifts))
def test_a_profile_set_off_and_turned_is_found_where_it_is(
    dx: float, dz: float, turn: float, pivot: Point
) -> None:
    belongs = [number for number, _ in ON]
    found = contour.fit(placed(dx, dz, turn, pivot), CORNER, belongs, contour.FREEDOMS, pivot)
    place = found.shift_x_mm, found.shift_z_mm, found.rotation_deg
    assert place == pytest.approx((dx, dz, turn), abs=1e-8)
    assert max(map(abs, found.deviations_mm)) < 1e-9


@given(shifts, shifts, st.sampled_from([(), ("X",), ("Z",), ("X", "Z"), ("rotation",)]))
def test_what_is_not_declared_free_stays(dx: float, dz: float, free: tuple[str, ...]) -> None:
    belongs = [number for number, _ in ON]
    found = contour.fit(placed(dx, dz, 0.1, (3.0, 0.0)), CORNER, belongs, free, (3.0, 0.0))
    assert "X" in free or found.shift_x_mm == 0
    assert "Z" in free or found.shift_z_mm == 0
    assert "rotation" in free or found.rotation_deg == 0
    if not free:
        assert found.deviations_mm == found.before_mm
    assert found.rms_mm <= math.hypot(*found.before_mm) / math.sqrt(len(ON)) + 1e-12


def test_metal_left_is_positive_on_convex_and_concave_alike() -> None:
    further = [(3.002 * math.cos(t), 3.002 * math.sin(t)) for t in (0.5, 1.0, 2.0, 2.5)]
    for convex, sign in ((True, 1), (False, -1)):
        found = contour.one_arc(further, (0, 0), 3.0, convex=convex, freedoms=())
        assert found.deviations_mm == pytest.approx([sign * 0.002] * 4, abs=1e-12)
    left = Straight((0, 0), (10, 0)).deviation((5, 0.003))
    assert left == pytest.approx((0.003, 0, 1))


@given(
    st.lists(st.floats(-0.004, 0.004), min_size=13, max_size=13), st.floats(30, 300), shifts, shifts
)
def test_one_arc_is_the_circle_of_held_radius(
    noise: list[float], span: float, dx: float, dz: float
) -> None:
    turns = [math.radians(span * k / 12) for k in range(13)]
    points = [
        (40 + dx + (3 + e) * math.cos(t), 60 + dz + (3 + e) * math.sin(t))
        for t, e in zip(turns, noise, strict=True)
    ]
    ours = contour.one_arc(points, (40, 60), 3.0, convex=True)
    circle = fitting.circle_held_radius(points, 3.0)
    assert 40 + ours.shift_x_mm == pytest.approx(circle.centre_x_mm, abs=1e-8)
    assert 60 + ours.shift_z_mm == pytest.approx(circle.centre_z_mm, abs=1e-8)
    assert ours.deviations_mm == pytest.approx(circle.residuals_mm, abs=1e-8)


def test_a_short_arc_is_held_by_its_nominal_place() -> None:
    """Of an arc so short that the noise outweighs its rise, a free circle lands on either side;
    from the nominal place the metal stays on its own."""
    turns = [math.radians(90 + step) for step in (-1, -0.5, 0, 0.5, 1)]
    points = [
        (3 * math.cos(t), 3 * math.sin(t) + e)
        for t, e in zip(turns, (0.002, 0, -0.002, 0, 0.002), strict=True)
    ]
    assert fitting.circle(points).centre_z_mm > 3
    assert contour.one_arc(points, (0, 0), 3.0, convex=True).shift_z_mm == pytest.approx(
        0, abs=1e-3
    )


@pytest.mark.parametrize(
    ("points", "belongs", "free", "words"),
    [
        ([(5.0, -1.0), (5.0, -2.0)], [0, 0], ("X", "Z"), "don't hold"),
        ([(5.0, -1.0)], [0], ("X", "Z"), "don't hold"),
        ([], [], (), "don't hold"),
        ([(5.0, -1.0)], [3], (), "no element"),
        ([(5.0, -1.0)], [-1], (), "no element"),
        ([(5.0, -1.0)], [0], ("scale",), "no such freedom"),
        ([(math.nan, -1.0)], [0], (), "no number"),
        ([(3.0, 0.0)], [1], (), "in the centre"),
    ],
)
def test_points_that_do_not_hold_the_contour_are_refused(
    points: list[Point], belongs: list[int], free: tuple[str, ...], words: str
) -> None:
    with pytest.raises(ComputeError, match=words):
        contour.fit(points, CORNER, belongs, free)


def test_elements_that_are_none_are_refused() -> None:
    with pytest.raises(ComputeError, match="straight element"):
        contour.fit([(0, 0)], [Straight((1, 1), (1, 1))], [0], ())
    with pytest.raises(ComputeError, match="radius"):
        contour.one_arc([(0, 0)], (1, 1), 0.0, convex=True)
