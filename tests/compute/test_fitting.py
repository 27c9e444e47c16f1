"""Fits: against scipy, against a published example, and unmoved by where the part lies."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import fitting
from inspect_rec.errors import ComputeError

Points = list[tuple[float, float]]


@st.composite
def arcs(draw: st.DrawFn) -> Points:
    n = draw(st.integers(6, 20))
    span = draw(st.floats(70, 350))
    start = draw(st.floats(0, 360))
    radius = draw(st.floats(0.5, 50))
    noise = draw(st.lists(st.floats(-0.003, 0.003), min_size=n, max_size=n))
    turns = [math.radians(start + span * k / (n - 1)) for k in range(n)]
    return [
        ((radius + e) * math.cos(t), (radius + e) * math.sin(t))
        for t, e in zip(turns, noise, strict=True)
    ]


def turned(points: Points, angle: float, dx: float, dz: float, *, mirror: bool) -> Points:
    c, s = math.cos(angle), math.sin(angle)
    return [((-1 if mirror else 1) * (x * c - z * s) + dx, x * s + z * c + dz) for x, z in points]


@given(arcs(), st.floats(0, 6.28), st.floats(-300, 300), st.floats(-300, 300), st.booleans())
@settings(max_examples=150, deadline=None)
def test_a_circle_is_the_same_wherever_the_part_lies(
    points: Points, angle: float, dx: float, dz: float, mirror: bool
) -> None:
    a = fitting.circle(points)
    b = fitting.circle(turned(points, angle, dx, dz, mirror=mirror))
    assert b.radius_mm == pytest.approx(a.radius_mm, abs=2e-9)
    assert b.form_mm == pytest.approx(a.form_mm, abs=2e-9)
    assert b.u_r_over_s == pytest.approx(a.u_r_over_s, rel=1e-6)


@given(arcs())
@settings(max_examples=60, deadline=None)
def test_a_circle_is_that_of_an_independent_least_squares(points: Points) -> None:
    from scipy.optimize import least_squares

    def distances(p: list[float]) -> list[float]:
        return [math.hypot(x - p[0], z - p[1]) - p[2] for x, z in points]

    ours = fitting.circle(points)
    start = [ours.centre_x_mm + 0.01, ours.centre_z_mm - 0.01, ours.radius_mm + 0.01]
    theirs = least_squares(distances, start, xtol=1e-15, ftol=1e-15, gtol=1e-15)
    assert ours.radius_mm == pytest.approx(theirs.x[2], abs=2e-7)
    assert ours.centre_x_mm == pytest.approx(theirs.x[0], abs=2e-7)


@given(arcs(), st.floats(-0.0005, 0.0005))
@settings(max_examples=60, deadline=None)
def test_the_radius_held_on_the_axis_moves_with_it_as_stated(points: Points, shift: float) -> None:
    step = 1e-4
    a, b = (fitting.circle_on_axis(points, shift + s) for s in (-step, step))
    slope = (b.radius_mm - a.radius_mm) / (2 * step)
    middle = fitting.circle_on_axis(points, shift)
    assert slope == pytest.approx(middle.dr_daxis, rel=1e-4, abs=1e-4)
    assert middle.centre_x_mm == shift


def test_six_points_of_gander_golub_and_strebel() -> None:
    """BIT 34 (1994), values quoted from memory: centre (4.7398, 2.9835), radius 4.7142."""
    found = fitting.circle([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)])
    assert round(found.centre_x_mm, 4) == 4.7398
    assert round(found.centre_z_mm, 4) == 2.9835
    assert round(found.radius_mm, 4) == 4.7142


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(0, 0), (1, 1)], "too few"),
        ([(0, 0), (1, 1), (2, 2), (3, 3)], "line"),
        ([(0, 0), (0, 0), (0, 0)], "too few"),
        ([(0, 0), (1, math.nan), (2, 0)], "no number"),
        ([(0, 0), (1, math.inf), (2, 0)], "no number"),
        ([(0, 0), (1, 1e7), (2, 0)], "further off"),
        ([], "too few"),
    ],
)
def test_points_that_give_no_circle_are_refused(points: Points, words: str) -> None:
    with pytest.raises(ComputeError, match=words):
        fitting.circle(points)


def test_the_radius_gets_less_certain_as_the_arc_shrinks() -> None:
    def u(span: float) -> float:
        turns = [math.radians(span * k / 8) for k in range(9)]
        return fitting.circle([(math.cos(t), math.sin(t)) for t in turns]).u_r_over_s

    found = [u(span) for span in range(170, 20, -10)]
    assert found == sorted(found)


@given(arcs(), st.floats(0.3, 60))
@settings(max_examples=60, deadline=None)
def test_a_line_is_the_same_in_both_directions(points: Points, scale: float) -> None:
    straight = [(x * scale, 0.01 * z) for x, z in points]
    a, b = fitting.line(straight), fitting.line(straight[::-1])
    assert a.angle_deg == pytest.approx(b.angle_deg, abs=1e-7)
    assert a.straightness_mm == pytest.approx(b.straightness_mm, abs=1e-9)


anything = st.floats(allow_nan=True, allow_infinity=True)
coarse = st.sampled_from([0.0, 1.0, 1.0 + 1e-9, 2.0, 3.0, -1.0, 1e-300, 1e160, 1e300, 142.318])


@given(
    st.lists(st.tuples(coarse, coarse) | st.tuples(anything, anything), max_size=7),
    coarse | anything,
)
@settings(max_examples=400, deadline=None)
def test_whatever_is_sighted_a_fit_comes_out_or_the_one_error(points: Points, held: float) -> None:
    for fit in (
        lambda: fitting.circle(points),
        lambda: fitting.circle_on_axis(points, held),
        lambda: fitting.circle_on_axis(points, held, which="z"),
        lambda: fitting.circle_held_centre(points, (held, 0.0)),
        lambda: fitting.circle_held_radius(points, held),
        lambda: fitting.line(points),
    ):
        try:
            found = fit()
        except ComputeError:
            continue
        numbers = (
            [*found.residuals_mm, *found.middle]
            if isinstance(found, fitting.Line)
            else [*found.residuals_mm, found.radius_mm, found.centre_x_mm, found.centre_z_mm]
        )
        assert all(map(math.isfinite, numbers))
        assert len(found.residuals_mm) == len(points)
