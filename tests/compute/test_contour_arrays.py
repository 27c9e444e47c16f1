"""Contours of many points in arrays: the same as point by point."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import chain, contour, contour_arrays
from inspect_rec.compute.chain import Link
from inspect_rec.compute.contour import ContourFit, Point
from inspect_rec.errors import ComputeError

LINKS: tuple[Link, ...] = (
    chain.line((0.0, 5.0), (2.2, 5.0)),
    chain.arc((2.2, 5.0), (3.0, 4.2), 0.8, convex=True),
    chain.line((3.0, 4.2), (3.0, 2.5)),
    chain.arc((3.0, 2.5), (4.5, 1.0), 1.5, convex=False),
    chain.line((4.5, 1.0), (7.0, 1.0)),
    chain.arc((7.0, 1.0), (9.0, 1.0), 1.0, convex=True),
    chain.line((9.0, 1.0), (9.0, -3.0)),
)
"""End, rounded corner, side, fillet, shoulder, half a turn, a sharp corner."""
ELEMENTS = [link.element for link in LINKS]


def sighted(count: int, scatter: float) -> list[Point]:
    """Points on the ends' chords, set off and turned: far enough off for the arcs to show."""
    dice = random.Random(7)
    found = []
    for n in range(count):
        link, t = LINKS[n % len(LINKS)], dice.random()
        x, z = (a + t * (b - a) for a, b in zip(link.start, link.end, strict=True))
        found.append((x - 0.002 * z + dice.gauss(0, scatter), z + 0.002 * x + 0.03))
    return found


def of_each(points: list[Point], monkeypatch: pytest.MonkeyPatch) -> tuple[ContourFit, ContourFit]:
    """The fit in arrays, and point by point."""
    belongs = chain._search(LINKS)(points)
    arrays = contour.fit(points, ELEMENTS, belongs, contour.FREEDOMS, (1.0, 2.0))
    monkeypatch.setattr(contour, "MANY", len(points) + 1)
    return arrays, contour.fit(points, ELEMENTS, belongs, contour.FREEDOMS, (1.0, 2.0))


def test_many_points_fit_as_few_do(monkeypatch: pytest.MonkeyPatch) -> None:
    arrays, plain = of_each(sighted(contour.MANY, 0.004), monkeypatch)
    assert arrays.shift_x_mm == pytest.approx(plain.shift_x_mm, abs=1e-13)
    assert arrays.shift_z_mm == pytest.approx(plain.shift_z_mm, abs=1e-13)
    assert arrays.rotation_deg == pytest.approx(plain.rotation_deg, abs=1e-12)
    assert arrays.deviations_mm == pytest.approx(plain.deviations_mm, abs=1e-13)
    assert arrays.before_mm == pytest.approx(plain.before_mm, abs=1e-13)
    assert arrays.rotation_deg != 0
    assert {type(d) for d in arrays.deviations_mm} == {float}


tenths = st.integers(-10, 110).map(lambda n: n / 10)
anywhere = st.floats(-3, 12)


@given(
    st.lists(st.tuples(tenths, tenths) | st.tuples(anywhere, anywhere), min_size=1, max_size=300)
)
@settings(max_examples=150, deadline=None)
def test_many_points_find_the_links_that_each_of_them_finds(points: list[Point]) -> None:
    """On tenths there are ties: joints, corners, middles between links."""
    centres = {link.element.centre for link in LINKS if isinstance(link.element, contour.Arc)}
    points = [p for p in points if all(math.dist(p, c) > 1e-6 for c in centres)] or [(1.0, 1.0)]
    found = contour_arrays.search(LINKS, chain._SAME)(points)
    assert found == tuple([chain.nearest(point, LINKS) for point in points])


def test_a_whole_chain_is_fitted_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    points = [p for link in LINKS for p in [link.start, link.end]] * 40
    arrays = chain.fit_chain(points, LINKS, contour.FREEDOMS)
    assert len(points) >= contour.MANY
    monkeypatch.setattr(contour, "MANY", len(points) + 1)
    monkeypatch.setattr(chain, "MANY", len(points) + 1)
    plain = chain.fit_chain(points, LINKS, contour.FREEDOMS)
    assert arrays.belongs == plain.belongs
    assert arrays.fit.deviations_mm == pytest.approx(plain.fit.deviations_mm, abs=1e-12)


def test_one_of_many_in_the_centre_of_its_arc_is_refused() -> None:
    (arc,) = [e for e in ELEMENTS[:2] if isinstance(e, contour.Arc)]
    points = [(2.9, 4.6)] * contour.MANY + [arc.centre]
    with pytest.raises(ComputeError, match="in the centre"):
        contour.fit(points, [arc], [0] * len(points), ())
