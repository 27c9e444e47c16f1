"""Fits: against scipy, against a published example, and unmoved by where the part lies."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import fitting
from inspect_rec.errors import ComputeError
from tests.compute.published import cases

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


def exact_arc(span: float, start: float, n: int = 9, radius: float = 5.0) -> Points:
    turns = [math.radians(start + span * k / (n - 1)) for k in range(n)]
    return [(radius * math.cos(t), radius * math.sin(t)) for t in turns]


Fit = Callable[[Points], fitting.Circle]
FITS: dict[str, tuple[Fit, Callable[[fitting.Circle], float]]] = {
    "free, radius": (fitting.circle, lambda c: c.radius_mm),
    "free, x": (fitting.circle, lambda c: c.centre_x_mm),
    "free, z": (fitting.circle, lambda c: c.centre_z_mm),
    "x held, radius": (lambda p: fitting.circle_on_axis(p, 0.0), lambda c: c.radius_mm),
    "x held, z": (lambda p: fitting.circle_on_axis(p, 0.0), lambda c: c.centre_z_mm),
    "x held, tip": (
        lambda p: fitting.circle_on_axis(p, 0.0),
        lambda c: c.centre_z_mm + c.radius_mm,
    ),
    "z held, radius": (lambda p: fitting.circle_on_axis(p, 0.0, "z"), lambda c: c.radius_mm),
    "z held, x": (lambda p: fitting.circle_on_axis(p, 0.0, "z"), lambda c: c.centre_x_mm),
    "z held, tip": (
        lambda p: fitting.circle_on_axis(p, 0.0, "z"),
        lambda c: c.centre_x_mm + c.radius_mm,
    ),
    "centre held, radius": (
        lambda p: fitting.circle_held_centre(p, (0.0, 0.0)),
        lambda c: c.radius_mm,
    ),
    "radius held, x": (lambda p: fitting.circle_held_radius(p, 5.0), lambda c: c.centre_x_mm),
    "radius held, z": (lambda p: fitting.circle_held_radius(p, 5.0), lambda c: c.centre_z_mm),
}
STATED: dict[str, Callable[[fitting.Circle], float]] = {
    "radius": lambda c: c.u_r_over_s,
    "x": lambda c: c.u_cx_over_s,
    "z": lambda c: c.u_cz_over_s,
    "tip": lambda c: c.u_tip_over_s,
}


@pytest.mark.parametrize("name", FITS)
@pytest.mark.parametrize(("span", "start"), [(80, 7), (156, -168), (300, 20)])
def test_what_a_fit_states_of_its_noise_is_what_moved_points_show(
    name: str, span: float, start: float
) -> None:
    """Each point in turn a hair further out: the changes, added as squares, are the stated ones."""
    fit, asked = FITS[name]
    points, hair = exact_arc(span, start), 1e-6
    total = 0.0
    for k, (x, z) in enumerate(points):
        ends = []
        for way in (hair, -hair):
            out = (1 + way / 5) * x, (1 + way / 5) * z
            ends.append(asked(fit([*points[:k], out, *points[k + 1 :]])))
        total += ((ends[0] - ends[1]) / (2 * hair)) ** 2
    stated = STATED[name.split(", ")[1]](fit(points))
    assert stated == pytest.approx(math.sqrt(total), rel=1e-4)


@pytest.mark.parametrize("span", [10, 90, 179, 181, 300])
@pytest.mark.parametrize("start", [0, 100, 170, -45])
def test_the_span_of_an_arc_is_that_of_its_points(span: float, start: float) -> None:
    points = exact_arc(span, start, n=25)
    assert fitting.circle(points).span_deg == pytest.approx(span)
    assert fitting.span_deg(points[:1], 0, 0) == 0


@given(st.floats(-89, 90), st.integers(2, 12), st.floats(1, 30))
def test_what_a_line_states_of_its_noise_is_what_moved_points_show(
    angle: float, n: int, length: float
) -> None:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    points = [(3 + c * length * k / (n - 1), -7 + s * length * k / (n - 1)) for k in range(n)]
    found, hair = fitting.line(points), 1e-6
    turned = math.remainder(found.angle_deg - angle, 180)
    assert turned == pytest.approx(0, abs=1e-7)
    total = 0.0
    for k, (x, z) in enumerate(points):
        out = (x - s * hair, z + c * hair)
        moved = fitting.line([*points[:k], out, *points[k + 1 :]]).angle_deg
        total += (math.remainder(moved - found.angle_deg, 180) / hair) ** 2
    assert found.u_angle_deg_over_s == pytest.approx(math.sqrt(total), rel=1e-3)
    if n == 2:
        assert found.u_angle_deg_over_s == pytest.approx(math.degrees(math.sqrt(2) / length))


def test_a_radius_held_lets_a_short_arc_keep_its_place() -> None:
    found = fitting.circle_held_radius(exact_arc(20, 80), 5.0)
    assert (found.centre_x_mm, found.centre_z_mm) == pytest.approx((0, 0), abs=1e-7)
    assert found.form_mm == pytest.approx(0, abs=1e-9)


def test_an_algebraic_fit_lands_elsewhere_and_is_not_what_is_given() -> None:
    """Gander, Golub, Strebel 1994 (from memory): the six points by the coefficients of
    a (x^2 + z^2) + b1 x + b2 z + c = 0 held to norm 1."""
    case = cases()["circle-gander-algebraic-differs"]
    points = case["inputs"]["points_mm"]
    rows = np.array([[x * x + z * z, x, z, 1.0] for x, z in points])
    a, b1, b2, c = np.linalg.svd(rows)[2][-1]
    x, z = -b1 / (2 * a), -b2 / (2 * a)
    algebraic = {
        "centre_x_mm": x,
        "centre_z_mm": z,
        "radius_mm": math.sqrt(x * x + z * z - c / a),
    }
    ours = fitting.circle(points)
    for name, wanted in case["expect"].items():
        assert algebraic[name] == pytest.approx(wanted["value"], abs=wanted["tol"]), name
        assert abs(getattr(ours, name) - wanted["value"]) > 0.1, name


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


@given(st.floats(0.01, 100), st.floats(3e-4, 0.4), st.floats(-1e4, 1e4))
@settings(deadline=None)
def test_three_points_give_the_radius_of_their_chord_and_rise_however_low_that_is(
    half: float, share: float, z: float
) -> None:
    points = [(-half, z), (0.0, z + share * half), (half, z)]
    # What is left of the rise beside a place far off.
    rise = points[1][1] - z
    radius = half**2 / (2 * rise) + rise / 2
    assert fitting.circle(points).radius_mm == pytest.approx(radius, rel=1e-9)


def test_an_arc_that_can_not_be_told_from_a_line_is_one() -> None:
    for rise in (1e-4, 1e-5, 1e-6, 1e-7):
        with pytest.raises(ComputeError, match="one line"):
            fitting.circle([(-1.0, 0.0), (0.0, rise), (1.0, 0.0)])


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


@pytest.mark.parametrize(
    ("fit", "words"),
    [
        (lambda: fitting.circle_on_axis([(0, 1), (1, 0)], 0.0, "y"), "x or z"),
        (lambda: fitting.circle_on_axis([(-1, 1), (1, 1)], 0.0), "no place along the axis"),
        (lambda: fitting.circle_held_centre([(0, 0)], (0.0, 0.0)), "in the centre"),
        (lambda: fitting.circle_held_radius([(0, 0), (1, 1), (2, 0)], 0.0), "radius"),
        (lambda: fitting.circle_held_radius([(0, 0), (1, 0), (2, 0)], 5.0), "line"),
        (lambda: fitting.line([(1, 0), (-1, 0), (0, 1), (0, -1)]), "no direction"),
    ],
)
def test_what_does_not_hold_a_fit_is_said(fit: Callable[[], object], words: str) -> None:
    with pytest.raises(ComputeError, match=words):
        fit()
