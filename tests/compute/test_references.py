"""Fits and budgets against general-purpose libraries that share nothing with the package.

Fits: scipy's least squares from a start of its own, and the covariance that numpy inverts from the
Jacobian there. Budgets: GTC, which carries degrees of freedom and correlations through the
arithmetic itself (The GUM Tree Calculator, Measurement Standards Laboratory of New Zealand).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import GTC
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from inspect_rec.compute import blend, chain, contour, correlation, fitting, regression, swing
from inspect_rec.compute.uncertainty import Budget, Component, Distribution, t_factor

Points = list[tuple[float, float]]
Residuals = Callable[[Sequence[float]], list[float]]
TIGHT = {"xtol": 1e-15, "ftol": 1e-15, "gtol": 1e-15, "x_scale": "jac", "jac": "3-point"}


@st.composite
def arcs(draw: st.DrawFn, least: float = 50, most: float = 340) -> tuple[Points, float]:
    """Points of an arc about (3, -7) with up to 3 um of form, and its radius."""
    n = draw(st.integers(6, 20))
    span, start = draw(st.floats(least, most)), draw(st.floats(0, 360))
    radius = draw(st.floats(0.5, 50))
    off = draw(st.lists(st.floats(-0.003, 0.003), min_size=n, max_size=n))
    turns = [math.radians(start + span * k / (n - 1)) for k in range(n)]
    points = [
        (3 + (radius + e) * math.cos(t), -7 + (radius + e) * math.sin(t))
        for t, e in zip(turns, off, strict=True)
    ]
    return points, radius


def solved(residuals: Residuals, start: Sequence[float]) -> tuple[Any, Any]:
    """Where scipy comes to rest, and inverse(J'J) there: the covariance over s^2."""
    found = least_squares(residuals, start, **TIGHT)
    return found.x, np.linalg.inv(found.jac.T @ found.jac)


def off_circle(points: Points) -> Callable[[float, float, float], list[float]]:
    return lambda a, b, r: [math.hypot(x - a, z - b) - r for x, z in points]


@given(arcs())
@settings(max_examples=40, deadline=None)
def test_a_free_circle_and_its_covariance_are_scipys_and_numpys(arc: tuple[Points, float]) -> None:
    points, radius = arc
    off = off_circle(points)
    (a, b, r), covariance = solved(lambda p: off(*p), [3.01, -7.01, radius + 0.01])
    ours = fitting.circle(points)
    assert (ours.centre_x_mm, ours.centre_z_mm, ours.radius_mm) == pytest.approx(
        (a, b, r), abs=1e-7 * radius
    )
    stated = ours.u_cx_over_s, ours.u_cz_over_s, ours.u_r_over_s
    assert stated == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-4)


@given(arcs(70), st.floats(-0.02, 0.02), st.sampled_from("xz"))
@settings(max_examples=40, deadline=None)
def test_a_circle_held_on_the_axis_and_its_tip_are_scipys_and_numpys(
    arc: tuple[Points, float], shift: float, which: str
) -> None:
    points, radius = arc
    off = off_circle(points)
    axis = (3 if which == "x" else -7) + shift
    held: Residuals = lambda p: off(axis, *p) if which == "x" else off(p[0], axis, p[1])  # noqa: E731
    (free, r), covariance = solved(held, [-7.01 if which == "x" else 3.01, radius + 0.01])
    assume(covariance[1, 1] < 1e4)  # else the points lie square to the axis and hold nothing
    ours = fitting.circle_on_axis(points, axis, which)
    place = ours.centre_z_mm if which == "x" else ours.centre_x_mm
    assert (place, ours.radius_mm) == pytest.approx((free, r), abs=2e-7 * radius)
    assert ours.u_r_over_s == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-3)
    for way, stated in ((1, ours.u_tip_over_s), (-1, ours.u_tip_below_over_s)):
        tip = math.sqrt(np.array([1, way]) @ covariance @ np.array([1, way]))
        assert stated == pytest.approx(tip, rel=1e-3, abs=1e-6)
    # Shift of the axis by one, by the rule of implicit functions on the normal equations: by trial.
    near = [
        least_squares(
            lambda p, at=axis + d: off(at, *p) if which == "x" else off(p[0], at, p[1]),
            [free, r],
            **TIGHT,
        ).x[1]
        for d in (-1e-4, 1e-4)
    ]
    assert ours.dr_daxis == pytest.approx((near[1] - near[0]) / 2e-4, rel=1e-3, abs=1e-3)


@given(arcs())
@settings(max_examples=40, deadline=None)
def test_a_held_centre_or_radius_is_scipys_and_numpys(arc: tuple[Points, float]) -> None:
    points, radius = arc
    off = off_circle(points)
    (r,), covariance = solved(lambda p: off(3, -7, p[0]), [radius + 0.01])
    ours = fitting.circle_held_centre(points, (3, -7))
    assert ours.radius_mm == pytest.approx(r, abs=1e-8 * radius)
    assert ours.u_r_over_s == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-6)
    (a, b), covariance = solved(lambda p: off(p[0], p[1], radius), [3.01, -7.01])
    ours = fitting.circle_held_radius(points, radius)
    assert (ours.centre_x_mm, ours.centre_z_mm) == pytest.approx((a, b), abs=1e-7 * radius)
    stated = ours.u_cx_over_s, ours.u_cz_over_s
    assert stated == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-3)


CONTOUR = (
    chain.line((5.0, -8.0), (5.0, 0.0)),
    chain.arc((5.0, 0.0), (3.0, 2.0), 2.0, convex=False),
    chain.line((3.0, 2.0), (-1.0, 2.0)),
)
"""Side, concave corner, end, with the body on the right hand of the way."""
ON_IT = [
    *((5.0, -1.0 - 1.5 * k) for k in range(5)),
    *((3 + 2 * math.cos(t), 2 * math.sin(t)) for t in (0.2, 0.6, 1.0, 1.4)),
    *((2.5 - k, 2.0) for k in range(4)),
]
OWN = [0] * 5 + [1] * 4 + [2] * 4


@given(
    st.lists(st.floats(-0.003, 0.003), min_size=13, max_size=13),
    st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02), st.floats(-0.2, 0.2)),
)
@settings(max_examples=30, deadline=None)
def test_a_contour_under_all_freedoms_is_scipys(
    form: list[float], place: tuple[float, float, float]
) -> None:
    """Distances written out here, plus where metal is left: the side is x = 5, the end z = 2, the
    corner about (3, 0)."""
    dx, dz, turn = place[0], place[1], math.radians(place[2])

    def turned(x: float, z: float, by: float) -> tuple[float, float]:
        return x * math.cos(by) - z * math.sin(by), x * math.sin(by) + z * math.cos(by)

    points = []
    for (x, z), own, e in zip(ON_IT, OWN, form, strict=True):
        out = {0: (e, 0.0), 1: ((3 - x) * e / 2, -z * e / 2), 2: (0.0, e)}[own]
        tx, tz = turned(x + out[0], z + out[1], turn)
        points.append((tx + dx, tz + dz))

    def off(p: Sequence[float]) -> list[float]:
        found = []
        for (x, z), own in zip(points, OWN, strict=True):
            bx, bz = turned(x - p[0], z - p[1], -p[2])
            found.append([5 - bx, 2 - math.hypot(bx - 3, bz), 2 - bz][own])
        return found

    (sx, sz, by), _ = solved(off, [0.0, 0.0, 0.0])
    ours = chain.fit_chain(points, CONTOUR, contour.FREEDOMS).fit
    assert (ours.shift_x_mm, ours.shift_z_mm) == pytest.approx((sx, sz), abs=1e-7)
    assert ours.rotation_deg == pytest.approx(math.degrees(by), abs=1e-6)
    assert ours.deviations_mm == pytest.approx(off([sx, sz, by]), abs=1e-7)


@given(st.lists(st.floats(-0.003, 0.003), min_size=17, max_size=17), st.floats(0.3, 3))
@settings(max_examples=30, deadline=None)
def test_a_corner_between_two_straights_is_scipys_with_numpys_lines(
    form: list[float], radius: float
) -> None:
    side = [(10 + form[k], -2 - 1.5 * k) for k in range(4)]
    end = [(7.5 - 1.5 * k, 4 + form[4 + k]) for k in range(4)]
    arc = [
        (10 - radius + (radius + e) * math.cos(t), 4 - radius + (radius + e) * math.sin(t))
        for e, t in zip(form[8:], [0.15 + 0.16 * k for k in range(9)], strict=True)
    ]

    def straight(points: Points) -> tuple[Any, float]:
        """Unit normal toward the metal, and its level, by the smallest singular value."""
        array = np.array(points)
        normal = np.linalg.svd(array - array.mean(axis=0))[2][1]
        normal = -normal if normal.sum() > 0 else normal
        return normal, float(normal @ array.mean(axis=0))

    (n1, l1), (n2, l2) = straight(side), straight(end)

    def off(p: Sequence[float]) -> list[float]:
        centre = np.linalg.solve(np.array([n1, n2]), np.array([l1 + p[0], l2 + p[0]]))
        return [math.dist(point, centre) - p[0] for point in arc]

    (r,), _ = solved(off, [radius + 0.01])
    assert blend.corner(arc, side, end).radius_mm == pytest.approx(r, abs=1e-8)


@given(
    st.lists(st.floats(-20, 20), min_size=5, max_size=15), st.floats(60, 350), st.floats(-180, 180)
)
def test_a_swing_and_its_covariance_are_numpys(
    read: list[float], span: float, start: float
) -> None:
    turns = [start + span * k / (len(read) - 1) for k in range(len(read))]
    rows = np.array([(1, math.cos(math.radians(t)), math.sin(math.radians(t))) for t in turns])
    ours = swing.swing_test(turns, read)
    theirs = np.linalg.lstsq(rows, np.array(read), rcond=None)[0]
    assert (ours.a_um, ours.p_um, ours.q_um) == pytest.approx(theirs, abs=1e-8)
    assert np.array(ours.covariance_over_s2) == pytest.approx(
        np.linalg.inv(rows.T @ rows), rel=1e-6, abs=1e-9
    )


@given(st.lists(st.floats(-5, 5), min_size=4, max_size=12), st.floats(-3, 3), st.floats(-100, 100))
def test_a_slope_and_an_orthogonal_line_are_numpys(
    off: list[float], slope: float, far: float
) -> None:
    x = [far + 2.5 * k for k in range(len(off))]
    y = [slope * a + e / 1000 for a, e in zip(x, off, strict=True)]
    ours = regression.regression(x, y)
    rows = np.stack([np.ones(len(x)), np.array(x)], axis=1)
    (intercept, rise), _, _, _ = np.linalg.lstsq(rows, np.array(y), rcond=None)
    assert (ours.slope, ours.intercept) == pytest.approx((rise, intercept), abs=1e-9)
    u = ours.residual_std * np.sqrt(np.diag(np.linalg.inv(rows.T @ rows)))
    assert (ours.u_intercept, ours.u_slope) == pytest.approx(u, rel=1e-6, abs=1e-12)
    array = np.array([x, y]).T
    way = np.linalg.svd(array - array.mean(axis=0))[2][0]
    line = fitting.line(list(zip(x, y, strict=True)))
    assert math.remainder(line.angle_deg - math.degrees(math.atan2(way[1], way[0])), 180) == (
        pytest.approx(0, abs=1e-7)
    )


rows = st.lists(
    st.tuples(
        st.floats(0.01, 10),
        st.floats(-3, 3).filter(lambda c: abs(c) > 1e-3),
        st.sampled_from([math.inf, 2.0, 5.0, 12.0, 50.0]),
        st.sampled_from(list(Distribution)),
    ),
    min_size=2,
    max_size=8,
)
SPREADS: dict[Distribution, Callable[[float, float], Any]] = {
    Distribution.NORMAL: lambda a, dof: GTC.ureal(0, a, dof),
    Distribution.EXPANDED: lambda a, dof: GTC.ureal(0, a / 2, dof),
    Distribution.RECTANGULAR: lambda a, dof: GTC.ureal(0, GTC.type_b.uniform(a), dof),
    Distribution.ONE_SIDED: lambda a, dof: GTC.ureal(0, GTC.type_b.uniform(a / 2), dof),
}


@given(rows)
@settings(deadline=None)
def test_a_budget_has_the_u_and_the_degrees_of_freedom_of_uncertain_numbers(
    parts: list[tuple[float, float, float, Distribution]],
) -> None:
    budget = Budget(tuple(Component("x", a, how, c, dof=dof) for a, c, dof, how in parts))
    total = sum(c * SPREADS[how](a, dof) for a, c, dof, how in parts)
    assert budget.u == pytest.approx(GTC.uncertainty(total), rel=1e-9)
    if math.isinf(GTC.dof(total)):
        assert math.isinf(budget.dof)
    else:
        assert budget.dof == pytest.approx(GTC.dof(total), rel=1e-6)


@given(rows, st.integers(2, 4), st.integers(1, 9))
@settings(deadline=None)
def test_ends_are_added_and_repeats_averaged_as_independent_numbers_are(
    parts: list[tuple[float, float, float, Distribution]], ends: int, averaged: int
) -> None:
    a, c, _, how = parts[0]
    row = Component("x", a, how, c, ends, averaged)
    each = [sum(SPREADS[how](a, math.inf) for _ in range(averaged)) / averaged for _ in range(ends)]
    assert row.u == pytest.approx(GTC.uncertainty(c * sum(each)), rel=1e-9)


@given(st.floats(0.5, 5), st.floats(0.1, 5), st.floats(0.1, 5), st.sampled_from([4.0, 9.0, 19.0]))
@settings(deadline=None)
def test_two_rows_of_one_study_are_one_uncertain_number(
    s: float, one: float, other: float, dof: float
) -> None:
    """What both rows rest on is one s: their squares add, and its degrees of freedom stay."""
    scale = Component("scale", 0.8)
    shared = [Component("x", s, sensitivity=c, dof=dof, study="s") for c in (one, other)]
    budget = Budget((*shared, scale))
    total = GTC.ureal(0, s * math.hypot(one, other), dof) + GTC.ureal(0, 0.8)
    assert budget.u == pytest.approx(GTC.uncertainty(total), rel=1e-9)
    assert budget.dof == pytest.approx(GTC.dof(total), rel=1e-6)


@given(
    st.lists(st.tuples(*[st.floats(-3, 3)] * 3), min_size=6, max_size=12),
    st.tuples(*[st.floats(0.2, 2)] * 3),
)
@settings(deadline=None)
def test_quantities_read_together_propagate_as_correlated_uncertain_numbers(
    noise: list[tuple[float, ...]], slopes: tuple[float, ...]
) -> None:
    read = [(10 + a, 20 + b + a / 2, 30 + c - b / 3) for a, b, c in noise]
    means = correlation.simultaneous(read)
    assume(min(means.u) > 1e-3)
    # The library refuses a correlation that rounding takes past 1.
    assume(all(abs(means.r[i][k]) < 1 - 1e-9 for i in range(3) for k in range(i)))
    theirs = GTC.type_a.multi_estimate_real(list(zip(*read, strict=True)))
    assert means.values == pytest.approx([GTC.value(one) for one in theirs], rel=1e-12)
    assert means.u == pytest.approx([GTC.uncertainty(one) for one in theirs], rel=1e-9)
    for i in range(3):
        for k in range(3):
            r = GTC.get_correlation(theirs[i], theirs[k])
            assert means.r[i][k] == pytest.approx(r, abs=1e-9)
    ((variance,),) = correlation.propagated([slopes], means.u, means.r)
    total = sum(c * one for c, one in zip(slopes, theirs, strict=True))
    assert math.sqrt(variance) == pytest.approx(GTC.uncertainty(total), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("dof", [1, 2, 5, 12, 19, 50])
@pytest.mark.parametrize("p", [0.68, 0.90, 0.9545, 0.99])
def test_a_coverage_factor_is_that_of_another_library(p: float, dof: int) -> None:
    assert t_factor(p, dof) == pytest.approx(GTC.reporting.k_factor(dof, 100 * p), rel=1e-6)
