"""A nominal contour as a chain of bounded lines and arcs, and which element a point belongs to.

A point belongs to the bounded element that is nearest to it; at a joint that two share, to the one
from which it deviates more. The best fit moves the profile, so both are repeated until no point
changes its element (derived). Lengths in mm. No I/O.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from itertools import accumulate, chain

from inspect_rec.compute.contour import MANY, Arc, ContourFit, Element, Point, Straight, fit
from inspect_rec.compute.reach import length, within
from inspect_rec.errors import ComputeError

_ROUNDS = 30
_SAME = 1e-9
"""Distances in mm that differ by less are one."""


@dataclass(frozen=True, slots=True)
class Link:
    """An element of a chain with its two ends. An arc is the shorter of the two between them."""

    element: Element
    start: Point
    end: Point

    def distances(self) -> Callable[[float, float], tuple[float, float]]:
        """Of a point (x, z) its distance from what lies between the ends, and by how much of that
        it lies beyond them; mm."""
        deviation, beside = self.element.deviations(), self._beside()
        (ax, az), (bx, bz) = self.start, self.end

        def distance(x: float, z: float) -> tuple[float, float]:
            square_to_it = abs(deviation(x, z)[0])
            if beside(x, z):
                return square_to_it, 0.0
            off = min(math.hypot(x - ax, z - az), math.hypot(x - bx, z - bz))
            return off, math.sqrt(max(0.0, off**2 - square_to_it**2))

        return distance

    def _beside(self) -> Callable[[float, float], bool]:
        """Whether a point lies between the normals at both ends."""
        (ax, az), (bx, bz) = self.start, self.end
        if isinstance(self.element, Straight):
            way_x, way_z = bx - ax, bz - az
            square = way_x * way_x + way_z * way_z
            return lambda x, z: 0 <= way_x * (x - ax) + way_z * (z - az) <= square
        cx, cz = self.element.centre
        # With the body on the right hand a convex arc turns to the right.
        turn = -1.0 if self.element.convex else 1.0
        ax, az, bx, bz = turn * (ax - cx), turn * (az - cz), turn * (bx - cx), turn * (bz - cz)
        return lambda x, z: (
            ax * (z - cz) - az * (x - cx) >= 0 and (x - cx) * bz - (z - cz) * bx >= 0
        )

    def along(self, point: Point) -> float:
        """How far from its start the foot of a point lies, mm; less than nought before it."""
        (ax, az), (bx, bz), (x, z) = self.start, self.end, point
        if isinstance(self.element, Straight):
            way_x, way_z = bx - ax, bz - az
            return (way_x * (x - ax) + way_z * (z - az)) / math.hypot(way_x, way_z)
        turn = self._turned(point)
        # About the middle of the arc, so that what lies past the end of half a turn stays there.
        if turn < self.length_mm / self.element.radius_mm / 2 - math.pi:
            turn += math.tau
        return turn * self.element.radius_mm

    @property
    def length_mm(self) -> float:
        """From its start to its end, along it."""
        if isinstance(self.element, Straight):
            return math.dist(self.start, self.end)
        return abs(self._turned(self.end)) * self.element.radius_mm

    def _turned(self, point: Point) -> float:
        """By how much a point of an arc is turned from its start on the way to its end, rad."""
        assert isinstance(self.element, Arc)  # noqa: S101 - asked of an arc alone
        (cx, cz), way = self.element.centre, -1.0 if self.element.convex else 1.0
        ax, az, x, z = self.start[0] - cx, self.start[1] - cz, point[0] - cx, point[1] - cz
        return way * math.atan2(ax * z - az * x, ax * x + az * z)

    def around(self) -> tuple[float, float, float]:
        """A circle that holds it: centre and radius, mm. An arc of up to half a turn lies in the
        circle about its chord."""
        x, z = (self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2
        return x, z, math.dist(self.start, self.end) / 2


def line(start: Point, end: Point) -> Link:
    """A straight element, the body on the right hand of its way."""
    within(*start, *end)
    length(math.dist(start, end), "straight element")
    return Link(Straight(start, end), start, end)


def arc(start: Point, end: Point, radius_mm: float, *, convex: bool) -> Link:
    """An arc of at most half a turn, the body on the right hand: a convex one turns to the right
    about a centre in the body. Raises ComputeError where its ends lie more than 2 R apart."""
    within(*start, *end)
    length(radius_mm, "radius")
    chord = math.dist(start, end)
    length(chord, "arc")
    if chord > 2 * radius_mm * (1 + 1e-9):
        raise ComputeError(
            "no such arc: its ends lie too far apart",
            expected=f"at most 2 R = {2 * radius_mm:g} mm",
            found=f"{chord:.4f} mm",
        )
    height = math.sqrt(max(0.0, radius_mm**2 - chord**2 / 4))
    right = (end[1] - start[1]) / chord, (start[0] - end[0]) / chord
    side = height if convex else -height
    centre = (
        (start[0] + end[0]) / 2 + side * right[0],
        (start[1] + end[1]) / 2 + side * right[1],
    )
    return Link(Arc(centre, radius_mm, convex), start, end)


@dataclass(frozen=True, slots=True)
class ChainFit:
    """A contour's fit, the link of each point, how far the furthest lies beyond the ends, and the
    points as the fit takes them back to the nominal contour."""

    fit: ContourFit
    belongs: tuple[int, ...]
    beyond_mm: float
    placed: tuple[Point, ...]


def nearest(point: Point, links: Sequence[Link]) -> int:
    """Number of the link to which a point belongs."""
    return _search(links)([point])[0]


def _search(links: Sequence[Link]) -> Callable[[Sequence[Point]], tuple[int, ...]]:
    """The search for the links of many points. It begins with the link of the point before, and
    passes over those that lie further off as a whole."""
    deviations = [link.element.deviations() for link in links]
    distances = [link.distances() for link in links]
    around = [(n, *link.around()) for n, link in enumerate(links)]

    def found(points: Sequence[Point]) -> tuple[int, ...]:
        belongs, own = [], 0
        for x, z in points:
            least = distances[own](x, z)[0] + _SAME
            near = [
                (distances[n](x, z)[0], n)
                for n, mx, mz, radius in around
                if math.hypot(x - mx, z - mz) - radius <= least
            ]
            least = min(near)[0] + _SAME
            own = max(
                [n for distance, n in near if distance <= least],
                key=lambda n: (round(abs(deviations[n](x, z)[0]), 9), -n),
            )
            belongs.append(own)
        return tuple(belongs)

    return found


def fit_chain(
    points: Sequence[Point],
    links: Sequence[Link],
    freedoms: Collection[str],
    pivot: Point = (0.0, 0.0),
) -> ChainFit:
    """Best fit of the points to the chain under the declared freedoms, from the nominal place.

    Raises ComputeError where the points don't hold a freedom, or don't come to rest on their
    elements.
    """
    if not links:
        raise ComputeError("a contour needs an element", expected="1 or more", found="0")
    within(*chain.from_iterable(points))
    placed = list(points)
    elements = [link.element for link in links]
    search = _search(links)
    if len(placed) >= MANY:
        from inspect_rec.compute import contour_arrays

        search = contour_arrays.search(links, _SAME)
    seen: dict[tuple[int, ...], tuple[ContourFit, list[Point]]] = {}
    for _ in range(_ROUNDS):
        belongs = search(placed)
        if belongs in seen:
            # At rest; or a point at a joint goes to and fro, and the least squares count.
            round_trip = list(seen)[list(seen).index(belongs) :]
            belongs = min(round_trip, key=lambda each: seen[each][0].rms_mm)
            found, placed = seen[belongs]
            beyond = _beyond(placed, belongs, links)
            return ChainFit(found, belongs, beyond, tuple(placed))
        found = fit(points, elements, belongs, freedoms, pivot)
        placed = _back(points, found, pivot)
        seen[belongs] = found, placed
    raise ComputeError(
        "the points change their elements without end",
        do="State the contour nearer to where it stands, or sight fewer points at its joints",
    )


def _beyond(points: Sequence[Point], belongs: Sequence[int], links: Sequence[Link]) -> float:
    """How far the furthest point lies past one of the two ends of the whole chain, mm."""
    start, end = links[0].start, links[-1].end
    if math.dist(start, end) <= _SAME:
        return 0.0
    distances = [link.distances() for link in links]
    furthest = 0.0
    for point, number in zip(points, belongs, strict=True):
        off, past = distances[number](*point)
        if past > 0 and off >= min(math.dist(point, start), math.dist(point, end)) - _SAME:
            furthest = max(furthest, past)
    return furthest


def along(found: ChainFit, links: Sequence[Link]) -> tuple[float, ...]:
    """How far from the start of the contour the foot of each point lies, mm."""
    before = list(accumulate((link.length_mm for link in links), initial=0.0))
    return tuple(
        before[number] + links[number].along(point)
        for point, number in zip(found.placed, found.belongs, strict=True)
    )


def normals(found: ChainFit, links: Sequence[Link]) -> tuple[float, ...]:
    """Which way metal is left at each point as it was sighted: deg, from +x towards +z."""
    deviations = [link.element.deviations() for link in links]
    ways = (deviations[n](x, z) for n, (x, z) in zip(found.belongs, found.placed, strict=True))
    return tuple(math.degrees(math.atan2(nz, nx)) + found.fit.rotation_deg for _, nx, nz in ways)


def _back(points: Sequence[Point], found: ContourFit, pivot: Point) -> list[Point]:
    """The measured profile taken back from its place, as the fit does it."""
    turn = math.radians(found.rotation_deg)
    c, s = math.cos(turn), math.sin(turn)
    shift_x, shift_z, (pivot_x, pivot_z) = found.shift_x_mm, found.shift_z_mm, pivot
    moved = [(x - shift_x - pivot_x, z - shift_z - pivot_z) for x, z in points]
    return [(pivot_x + c * x + s * z, pivot_z + c * z - s * x) for x, z in moved]
