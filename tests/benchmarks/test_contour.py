"""Points against a contour of straights and arcs: its place in X, Z and rotation with the least
squares of the deviations, against general libraries.

``contour.fit`` is told each point's element. The peers of the goals (2,000 points: 3 times numpy,
40 times shapely) are not, and find the nearest at every step, which is more work; so a peer that
is told stands beside them. With 2,000 points that one is the quicker, as it sums whole arrays where
plain Python pays for each point; a tool has some tens of points, and there it is the slower.
Shapely is asked twice: for a ring, which is the goal's peer, and for its pieces in the order that
its search likes best, which takes it about a tenth.
"""

from __future__ import annotations

import importlib
import importlib.util
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from scipy.optimize import least_squares

from inspect_rec.compute import contour
from inspect_rec.compute.contour import Arc, Element, Point, Straight
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

SIGMA, MOVED = 0.003, (0.08, -0.05, 0.004)
"""Scatter of a point; where the profile sits: X and Z in mm, the turn in rad."""

SHAPELY = "shapely"


@dataclass(frozen=True)
class Profile:
    """A closed contour, and points sighted on it after it was moved."""

    elements: tuple[Element, ...]
    belongs: tuple[int, ...]
    points: tuple[Point, ...]
    bounds: Any
    """Unit vectors from the centre of each arc to its ends, (arcs, 2, 2), anticlockwise."""


def turned(points: Any, angle: Any) -> Any:
    c, s = np.cos(angle), np.sin(angle)
    x, z = np.asarray(points).T
    return np.column_stack((c * x - s * z, s * x + c * z))


def profile(corners: int, each: int) -> Profile:
    """A polygon with rounded corners, walked so that metal left stands on the left."""
    random = np.random.default_rng(9)
    at = 2 * np.pi * (np.arange(corners) + random.uniform(-0.2, 0.2, corners)) / corners
    corner = random.uniform(34, 46, corners)[:, None] * np.column_stack((np.cos(at), np.sin(at)))
    edge = np.roll(corner, -1, axis=0) - corner
    long = np.hypot(*edge.T)
    along = edge / long[:, None]
    before = np.roll(along, 1, axis=0)
    turn = np.arctan2(
        before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0], (before * along).sum(axis=1)
    )
    cut = 0.3 * np.minimum(long, np.roll(long, 1))
    radius, side = cut / np.tan(np.abs(turn) / 2), np.sign(turn)
    elements: list[Element] = []
    points, belongs, bounds = [], [], []
    for k in range(corners):
        start = corner[k] + cut[k] * along[k]
        end = corner[k] + edge[k] - cut[(k + 1) % corners] * along[k]
        first = side[k] * np.array((before[k, 1], -before[k, 0]))
        centre = corner[k] - cut[k] * before[k] - radius[k] * first
        arc = turned([first, first], [0, turn[k]])
        bounds.append(arc[:: int(side[k])])
        belongs += [2 * k] * each + [2 * k + 1] * each
        elements += [
            Straight(tuple(end.tolist()), tuple(start.tolist())),
            Arc(tuple(centre.tolist()), float(radius[k]), convex=bool(side[k] > 0)),
        ]
        part = random.uniform(0, 1, (2, each))
        points.append(start + part[0][:, None] * (end - start))
        points.append(centre + radius[k] * turned(np.tile(first, (each, 1)), part[1] * turn[k]))
    true = np.concatenate(points) + random.normal(0, SIGMA, (2 * each * corners, 2))
    sighted = turned(true, MOVED[2]) + MOVED[:2]
    seen = [(x, z) for x, z in sighted.tolist()]
    return Profile(tuple(elements), tuple(belongs), tuple(seen), np.array(bounds))


def back(points: Any, place: Any) -> Any:
    """The sighted profile taken back from its place (X, Z, turn)."""
    return turned(points - place[:2], -place[2])


def told(given: Profile) -> Callable[[Any], Any]:
    """Deviations of the points at a place, each from its own element, in arrays."""
    points, own = np.array(given.points), [given.elements[k] for k in given.belongs]
    on_arc = np.array([isinstance(e, Arc) for e in own])
    origin = np.array([e.centre if isinstance(e, Arc) else e.start for e in own])
    radius = np.array([e.radius_mm if isinstance(e, Arc) else 0.0 for e in own])
    sign = np.array([1.0 if not isinstance(e, Arc) or e.convex else -1.0 for e in own])
    normal = np.array([(0, 0) if isinstance(e, Arc) else e.deviation(e.start)[1:] for e in own])

    def deviations(place: Any) -> Any:
        off = back(points, place) - origin
        x, z = off.T
        return np.where(on_arc, sign * (np.sqrt(x * x + z * z) - radius), (off * normal).sum(1))

    return deviations


def nearest(given: Profile) -> Callable[[Any], Any]:
    """Deviations of the points at a place from the nearest bounded element, in arrays."""
    points = np.array(given.points)
    start, end = (
        np.array([getattr(e, name) for e in given.elements if isinstance(e, Straight)])
        for name in ("start", "end")
    )
    long = np.hypot(*(end - start).T)
    (ax, az), (ux, uz) = start.T, ((end - start) / long[:, None]).T
    arcs = [e for e in given.elements if isinstance(e, Arc)]
    cx, cz = np.array([e.centre for e in arcs]).T
    radius = np.array([e.radius_mm for e in arcs])
    sign = np.array([1.0 if e.convex else -1.0 for e in arcs])
    (sx, sz), (ex, ez) = given.bounds.transpose(1, 2, 0)

    def deviations(place: Any) -> Any:
        x, z = back(points, place).T[:, :, None]
        reached = (x - ax) * ux + (z - az) * uz
        off = (z - az) * ux - (x - ax) * uz
        straight = np.where((reached >= 0) & (reached <= long), off, np.inf)
        px, pz = x - cx, z - cz
        inside = (sx * pz - sz * px >= 0) & (px * ez - pz * ex >= 0)
        arc = np.where(inside, sign * (np.sqrt(px * px + pz * pz) - radius), np.inf)
        both = np.concatenate((straight, arc), axis=1)
        return both[np.arange(len(both)), np.abs(both).argmin(axis=1)]

    return deviations


def by_shapely(given: Profile, *, ring: bool) -> Callable[[Any], Any]:
    """Distances of the points at a place from the contour as one ring or in pieces, each arc as
    64 chords."""
    shapely = importlib.import_module(SHAPELY)
    points, arcs = np.array(given.points), iter(given.bounds)
    pieces: list[Any] = []
    for straight, arc in zip(given.elements[::2], given.elements[1::2], strict=True):
        assert isinstance(straight, Straight)
        assert isinstance(arc, Arc)
        (sx, sz), (ex, ez) = next(arcs)
        span = math.atan2(sx * ez - sz * ex, sx * ex + sz * ez)
        rays = turned(np.tile((sx, sz), (65, 1)), np.linspace(0, span, 65))
        around = arc.centre + arc.radius_mm * rays
        pair = around[:: 1 if arc.convex else -1], np.array((straight.end, straight.start))
        pieces += pair if ring else pair[::-1]
    if ring:
        line = shapely.LinearRing(np.concatenate(pieces))
    else:
        line = shapely.multilinestrings([shapely.linestrings(piece) for piece in pieces])
    shapely.prepare(line)
    return lambda place: shapely.distance(line, shapely.points(back(points, place)))


@pytest.mark.parametrize(("corners", "each"), [(25, 40), (5, 4)], ids=["2000", "40"])
def test_a_contour(corners: int, each: int) -> None:
    given = profile(corners, each)
    deviations = nearest(given)

    def ours() -> Any:
        found = contour.fit(given.points, given.elements, given.belongs, contour.FREEDOMS)
        return found.shift_x_mm, found.shift_z_mm, math.radians(found.rotation_deg)

    def by_scipy(residual: Callable[[Any], Any]) -> Callable[[], Any]:
        return lambda: least_squares(residual, np.zeros(3)).x

    routes: dict[str, Callable[[], Any]] = {
        "contour.fit, told": ours,
        "scipy and numpy, told": by_scipy(told(given)),
        "scipy and numpy, nearest": by_scipy(deviations),
    }
    if importlib.util.find_spec(SHAPELY):
        routes["scipy and shapely, ring"] = by_scipy(by_shapely(given, ring=True))
        routes["scipy and shapely, pieces"] = by_scipy(by_shapely(given, ring=False))
    else:
        print("\nshapely isn't installed: its peer is left out")
    least = math.sqrt((deviations(ours()) ** 2).sum())
    for name, route in routes.items():
        place = route()
        assert place == pytest.approx(MOVED, abs=0.003), name
        assert math.sqrt((deviations(place) ** 2).sum()) == pytest.approx(least, rel=0.02), name
    timed = interleaved(routes)
    points = len(given.points)
    print(
        timed.table(f"A contour of {points} points (goal: nearest, 3 and 40)", "contour.fit, told")
    )
