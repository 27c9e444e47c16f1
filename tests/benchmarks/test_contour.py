"""Points against a contour of straights and arcs: its place in X, Z and rotation with the least
squares of the deviations, against general libraries.

As in the program ``chain.fit_chain`` finds each point's element, fits, and does so again until no
point changes its element; the peers find the nearest element at every step. Shapely is asked twice:
for a ring, which is the goal's peer, and for its pieces in the order that its search likes best,
which takes it about a tenth. A fit that is told the elements has a peer that is told, too. A tool
has some tens of points, and those are fitted in plain Python; 2,000, the goals' number, in arrays.

The goals' fit with the least greatest deviation is none of the program's, so nothing is said of it.
"""

from __future__ import annotations

import importlib
import importlib.util
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from scipy.optimize import least_squares

from inspect_rec.compute import chain
from inspect_rec.compute.chain import Link
from inspect_rec.compute.contour import FREEDOMS, Arc, ContourFit, Point, Straight, fit
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

SIGMA, MOVED = 0.003, (0.08, -0.05, 0.004)
"""Scatter of a point; where the profile sits: X and Z in mm, the turn in rad."""

OURS, SHAPELY = "fit_chain", "shapely"


@dataclass(frozen=True)
class Profile:
    """A closed contour, and points sighted on it after it was moved, each with its link."""

    links: tuple[Link, ...]
    belongs: tuple[int, ...]
    points: tuple[Point, ...]


def turned(points: Any, angle: Any) -> Any:
    c, s = np.cos(angle), np.sin(angle)
    x, z = np.asarray(points).T
    return np.column_stack((c * x - s * z, s * x + c * z))


def profile(corners: int, each: int) -> Profile:
    """A polygon with rounded corners, the body on the right hand."""
    random = np.random.default_rng(9)
    at = -2 * np.pi * (np.arange(corners) + random.uniform(-0.2, 0.2, corners)) / corners
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
    links: list[Link] = []
    points, belongs = [], []
    for k in range(corners):
        first, last = corner[k] - cut[k] * before[k], corner[k] + cut[k] * along[k]
        following = corner[k] + edge[k] - cut[(k + 1) % corners] * along[k]
        first_, last_, following_ = (
            (x, z) for x, z in map(np.ndarray.tolist, (first, last, following))
        )
        links += [
            chain.arc(first_, last_, float(radius[k]), convex=bool(side[k] < 0)),
            chain.line(last_, following_),
        ]
        belongs += [2 * k] * each + [2 * k + 1] * each
        ray = side[k] * np.array((before[k, 1], -before[k, 0]))
        part = random.uniform(0, 1, (2, each))
        around = turned(np.tile(ray, (each, 1)), part[0] * turn[k])
        points += [first + radius[k] * (around - ray), last + part[1][:, None] * (following - last)]
    true = np.concatenate(points) + random.normal(0, SIGMA, (2 * each * corners, 2))
    sighted = turned(true, MOVED[2]) + MOVED[:2]
    return Profile(tuple(links), tuple(belongs), tuple([(x, z) for x, z in sighted.tolist()]))


def back(points: Any, place: Any) -> Any:
    """The sighted profile taken back from its place (X, Z, turn)."""
    return turned(points - place[:2], -place[2])


def columns(links: Sequence[Link]) -> Any:
    """Of each link: its ends; start or centre; normal, if straight; radius and sign of an arc."""
    rows = []
    for link in links:
        e = link.element
        if isinstance(e, Straight):
            shape = (*e.start, *e.deviation(e.start)[1:], 0.0, 0.0)
        else:
            shape = (*e.centre, 0.0, 0.0, e.radius_mm, 1.0 if e.convex else -1.0)
        rows.append((*link.start, *link.end, *shape))
    return np.array(rows).T


def told(given: Profile) -> Callable[[Any], Any]:
    """Deviations of the points at a place, each from its own element, in arrays."""
    points = np.array(given.points)
    _, _, _, _, x0, z0, nx, nz, radius, sign = columns(given.links)[:, given.belongs]

    def deviations(place: Any) -> Any:
        x, z = back(points, place).T
        dx, dz = x - x0, z - z0
        off = sign * (np.sqrt(dx * dx + dz * dz) - radius)
        return np.where(sign == 0, dx * nx + dz * nz, off)

    return deviations


def nearest(given: Profile) -> Callable[[Any], Any]:
    """Deviations of the points at a place from the nearest bounded element, in arrays."""
    points = np.array(given.points)
    arcs, lines = columns(given.links[::2]), columns(given.links[1::2])
    (sx, sz, ex, ez, cx, cz), (radius, sign) = arcs[:6], arcs[8:]
    sx, sz, ex, ez = sx - cx, sz - cz, ex - cx, ez - cz
    ax, az, bx, bz, _, _, nx, nz = lines[:8]
    way_x, way_z = bx - ax, bz - az
    square = way_x * way_x + way_z * way_z

    def deviations(place: Any) -> Any:
        x, z = back(points, place).T[:, :, None]
        dx, dz = x - ax, z - az
        reached = dx * way_x + dz * way_z
        straight = np.where((reached >= 0) & (reached <= square), dx * nx + dz * nz, np.inf)
        px, pz = x - cx, z - cz
        inside = (sign * (sz * px - sx * pz) >= 0) & (sign * (pz * ex - px * ez) >= 0)
        arc = np.where(inside, sign * (np.sqrt(px * px + pz * pz) - radius), np.inf)
        both = np.concatenate((straight, arc), axis=1)
        return both[np.arange(len(both)), np.abs(both).argmin(axis=1)]

    return deviations


def by_shapely(given: Profile, *, ring: bool) -> Callable[[Any], Any]:
    """Distances of the points at a place from the contour as one ring or in pieces, each arc as
    64 chords."""
    shapely = importlib.import_module(SHAPELY)
    points = np.array(given.points)
    pieces: list[Any] = []
    for arc, straight in zip(given.links[::2], given.links[1::2], strict=True):
        assert isinstance(arc.element, Arc)
        centre = np.array(arc.element.centre)
        (sx, sz), (ex, ez) = np.array((arc.start, arc.end)) - centre
        span = math.atan2(sx * ez - sz * ex, sx * ex + sz * ez)
        around = centre + turned(np.tile((sx, sz), (65, 1)), np.linspace(0, span, 65))
        pair = around, np.array((straight.start, straight.end))
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
    deviations, elements = nearest(given), [link.element for link in given.links]

    def place(found: ContourFit) -> Any:
        return found.shift_x_mm, found.shift_z_mm, math.radians(found.rotation_deg)

    def by_scipy(residual: Callable[[Any], Any]) -> Callable[[], Any]:
        return lambda: least_squares(residual, np.zeros(3)).x

    routes: dict[str, Callable[[], Any]] = {
        OURS: lambda: place(chain.fit_chain(given.points, given.links, FREEDOMS).fit),
        "scipy and numpy": by_scipy(deviations),
        "fit, told": lambda: place(fit(given.points, elements, given.belongs, FREEDOMS)),
        "scipy and numpy, told": by_scipy(told(given)),
    }
    if importlib.util.find_spec(SHAPELY):
        routes["scipy and shapely, ring"] = by_scipy(by_shapely(given, ring=True))
        routes["scipy and shapely, pieces"] = by_scipy(by_shapely(given, ring=False))
    else:
        print("\nshapely isn't installed: its peers are left out")
    least = np.linalg.norm(deviations(routes[OURS]()))
    for name, route in routes.items():
        assert route() == pytest.approx(MOVED, abs=0.003), name
        assert np.linalg.norm(deviations(route())) == pytest.approx(least, rel=0.02), name
    timed = interleaved(routes)
    print(timed.table(f"{len(given.points)} points (goals: numpy 3, shapely's ring 40)", OURS))
