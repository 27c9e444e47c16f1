"""Arcs and contours as they are drawn: points where they must lie, zones that never fold."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.report import profiles
from inspect_rec.report.profile_content import Profiles, Round
from report_templates import forms, scale_bars, words
from report_templates.contour import Drawing
from report_templates.pen import Point
from tests import signing, worked
from tests.report import contoured, drawn, samples

# -- scales ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wide", "high", "scale"),
    [
        (5.87, 2.38, 15.0),
        (4.45, 4.45, 10.0),
        (0.09, 0.09, 500.0),
        (24.6, 24.6, 2.0),
        (10.0, 0.0, 7.5),
    ],
)
def test_a_form_is_drawn_at_the_largest_round_scale_that_fits(
    wide: float, high: float, scale: float
) -> None:
    rounds = {n * 10.0**k for k in range(-2, 4) for n in (1, 1.5, 2, 3, 5, 7.5)}
    fits = [s for s in rounds if s * wide <= forms.FIELD[0] and s * high <= forms.FIELD[1]]
    assert forms.form_scale(wide, high) == pytest.approx(max(fits))
    assert max(fits) == pytest.approx(scale)


def test_a_zone_is_at_most_16_wide_and_never_folds_in_a_radius() -> None:
    assert forms.magnification(0.03, [45.0]) == 500
    assert forms.magnification(0.03, [10.0]) == 200  # 6 wide; 500 would be 15, 0.7 R is 7
    assert forms.magnification(0.03, []) == 500


@pytest.mark.parametrize(("scale", "usual", "long"), [(15, 1, 1), (500, 1, 0.02), (0.2, 1, 50)])
def test_a_scale_bar_is_the_usual_one_or_the_next_round_one_that_fits(
    scale: float, usual: float, long: float
) -> None:
    assert scale_bars.bar(scale, usual) == pytest.approx(long)


# -- points ----------------------------------------------------------------------


def own_circle(points: list[Point], axis: float) -> tuple[float, float]:
    """Radius and place along Z of the circle on the axis, from x^2 + z^2 = 2 z0 z + c (Kasa)."""
    x, z = np.array(points).T
    a = np.column_stack([2 * z, np.ones_like(z)])
    z0, c = np.linalg.lstsq(a, (x - axis) ** 2 + z**2, rcond=None)[0]
    return math.sqrt(c + z0**2), float(z0)


def sighted(number: str, flute: int) -> list[Point]:
    """Points of an edge as the readout showed them, those that count."""
    last: dict[str, Point] = {}
    for e in worked.entries(number, signing.UPTO[number]):
        place = e.body.get("place", {})
        if (place.get("feature"), place.get("flute")) != ("profile arc", flute):
            continue
        if place.get("when") is None:
            x, z = (float(t["value"]) for t in e.body["taken"])
            last[place["mark"]] = (x, z)
    return list(last.values())


@pytest.mark.parametrize("flute", [1, 2, 4])
def test_points_of_a_ball_lie_at_nominal_plus_the_magnified_deviation(flute: int) -> None:
    """Against a circle fitted by other equations to the readings as they were sent."""
    (p,) = samples.contents()["I1"].profiles
    d = drawn.drawing(p)
    assert (d.laid.scale, d.laid.times) == (10, 500)
    points = sighted("I1", flute)
    made = signing.made("I1").inspection.result("R", flute)
    assert made is not None
    axis = made.outcome.detail["centre_x_mm"]
    assert isinstance(axis, float)
    radius, z0 = own_circle(points, axis)
    assert radius == pytest.approx(float(made.value), abs=2e-4)
    wanted = []
    for x, z in points:
        far, turn = math.hypot(x - axis, z - z0), math.atan2(abs(x - axis), z - z0)
        on_paper = 4.9 * 10 + (far - 4.9) * 500
        wanted.append((on_paper * math.sin(turn), -on_paper * math.cos(turn)))
    found = [s.at for s in d.spots[id(p.edges[flute - 1])]]
    # 0.2 um are 0.1 mm on paper.
    assert np.array(sorted(found)) == pytest.approx(np.array(sorted(wanted)), abs=0.1)


def test_points_of_a_contour_lie_at_their_foot_plus_the_magnified_deviation() -> None:
    """Against places and normals worked out by hand; the fit takes off what it was free to move."""
    (p,) = contoured.said().profiles
    d = drawn.drawing(p)
    scale, times = d.laid.scale, d.laid.times
    for n, edge in enumerate(p.edges, 1):
        wanted = []
        shift = _shift(n)
        for k, (x, z, nx, nz) in enumerate(contoured.ON, 1):
            shown = [float(v) for v in contoured.sighted(n, k)]
            off = (shown[0] - x - shift[0]) * nx + (shown[1] - z - shift[1]) * nz
            wanted.append((scale * x + times * off * nx, -(scale * z + times * off * nz)))
        found = [s.at for s in d.spots[id(edge)]]
        # A foot that lies 5 um further along the form is 0.05 mm on paper.
        assert np.array(found) == pytest.approx(np.array(wanted), abs=0.1)


def _shift(tooth: int) -> tuple[float, float]:
    """The least-squares shift of a tooth's points, linear in the normals."""
    rows, off = [], []
    for k, (x, z, nx, nz) in enumerate(contoured.ON, 1):
        shown = [float(v) for v in contoured.sighted(tooth, k)]
        rows.append((nx, nz))
        off.append((shown[0] - x) * nx + (shown[1] - z) * nz)
    x, z = np.linalg.lstsq(np.array(rows, float), np.array(off), rcond=None)[0]
    return float(x), float(z)


def test_the_discs_on_the_page_are_the_points_of_the_edge_that_decides() -> None:
    (p,) = samples.contents()["I1"].profiles
    d = drawn.drawing(p)
    deciding = next(e for e in p.edges if e.decides)
    first, *rest = (s.at for s in d.spots[id(deciding)])
    seen = drawn.seen(d).discs
    there = seen[-len(deciding.points)]
    for spot, disc in zip(rest, seen[-len(rest) :], strict=True):
        assert disc[0] - there[0] == pytest.approx(spot[0] - first[0])
        assert disc[1] - there[1] == pytest.approx(spot[1] - first[1])


def test_a_line_between_two_points_follows_the_form_and_never_cuts_a_corner() -> None:
    p = drawn.arc(5, (0, 90), points=2, deviation=lambda _of, _n, k: 10.0 * k, count=1)
    d = drawn.drawing(p)
    a, b = d.spots[id(p.edges[0])]
    between = d.laid.between((0, a.along, a.by), (0, b.along, b.by))
    radii = [math.hypot(x, y) - 5 * d.laid.scale for x, y in between]
    assert len(radii) > 20
    assert radii == pytest.approx(np.linspace(0, 10 * d.laid.times / 1000, len(radii)))


def test_what_is_taken_off_a_radius_is_taken_off_its_points() -> None:
    made = signing.made("I1")
    less = tuple(
        replace(r, values=tuple(v - Decimal("0.001") for v in r.values))
        if r.characteristic.id == "R"
        else r
        for r in made.inspection.results
    )
    other = replace(made.inspection, results=less)
    before, after = (
        profiles.of(i, {"R": 1}, words("en"))[0].edges[1].points for i in (made.inspection, other)
    )
    assert [b - a for (_, a), (_, b) in zip(before, after, strict=True)] == pytest.approx(
        [-1.0] * 9
    )


# -- zones -----------------------------------------------------------------------


def dense(p: Profiles, d: Drawing) -> np.ndarray:
    """The nominal form on paper, worked out piece by piece, 0.05 mm apart."""
    found = []
    for piece in p.form.pieces:
        shares = np.linspace(0, 1, 1 + int((piece.last - piece.first) * d.laid.scale / 0.05))
        if isinstance(piece, Round):
            turn = np.radians(piece.begin + shares * (piece.end - piece.begin))
            (cx, cy), r = piece.centre, piece.radius
            found.append(np.column_stack([cx + r * np.cos(turn), cy + r * np.sin(turn)]))
        else:
            a, b = np.array(piece.start), np.array(piece.end)
            found.append(a + shares[:, None] * (b - a))
    x, y = (d.laid.scale * np.concatenate(found)).T
    return np.column_stack([-y, -x] if d.laid.turned else [x, -y])


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_a_limit_lies_nowhere_nearer_to_the_form_than_it_must(seed: int) -> None:
    """So it never folds: a line that folds comes nearer to another part of the form."""
    p = drawn.winding(seed)
    d = drawn.drawing(p)
    form = dense(p, d)
    for um in (-10.0, 10.0):
        by = abs(um * d.laid.times / 1000)
        points = np.array([point for run in d.laid.beside(um) for point in run])
        assert len(points) > 20
        near = np.array([np.hypot(*(form - point).T).min() for point in points])
        assert near.min() > by - 0.02
        assert near.max() < by + 0.02


def crossings(line: list[Point]) -> int:
    def turn(a: Point, b: Point, c: Point) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    found = 0
    parts = list(pairwise(line))
    for n, (a, b) in enumerate(parts):
        for c, e in parts[n + 2 :]:
            if turn(a, b, c) * turn(a, b, e) < -1e-9 and turn(c, e, a) * turn(c, e, b) < -1e-9:
                found += 1
    return found


def test_limits_of_the_worked_contour_cross_nowhere_not_even_at_its_sharp_corners() -> None:
    (p,) = contoured.said().profiles
    d = drawn.drawing(p)
    for um in (-15.0, 15.0):
        (run,) = d.laid.beside(um)
        assert crossings(run) == 0
    folded = [place.off(-15 * d.laid.times / 1000) for place in d.laid.nominal]
    assert crossings(folded) > 0


@pytest.mark.parametrize("plus", [1, -1])
@pytest.mark.parametrize(("radius", "span"), [(3, (-78, 78)), (200, (40, 50)), (0.1, (5, 85))])
def test_the_zone_of_an_arc_is_two_arcs_about_its_centre(
    radius: float, span: tuple[float, float], plus: int
) -> None:
    d = drawn.drawing(drawn.arc(radius, span, plus=plus))
    for um in (-10.0, 10.0):
        (run,) = d.laid.beside(um)
        wanted = radius * d.laid.scale + plus * um * d.laid.times / 1000
        assert [math.hypot(x, y) for x, y in run] == pytest.approx([wanted] * len(run))
    assert 20 * d.laid.times / 1000 <= min(16, 0.7 * radius * d.laid.scale) + 1e-9
