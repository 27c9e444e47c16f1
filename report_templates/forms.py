"""A nominal form on paper: its scales, where its places stand, and what lies beside it.

Lengths on paper in mm, y downward, from the form's own zero; nothing here draws.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from inspect_rec.report.profile_content import Form, Profile, Round, Straight
from report_templates.pen import Point

FIELD = (91.0, 50.0)
"""Room for the form itself: the zone and what is written beside it come on top, mm."""
WIDEST_ZONE, OF_RADIUS = 16.0, 0.7
"""A zone is at most so wide, mm, and at most this share of a radius that would fold it."""
BEYOND = 3.0
"""How far beyond the guard bands points are still drawn where they lie, mm."""
SLACK = 0.05
"""What a stroke or a link between two points may fold without being seen, mm."""
_STEP = 0.5
"""Between two places at which lines beside the form are drawn, mm."""


def _round_steps(low: int, high: int, of: Sequence[float]) -> list[float]:
    return [n * 10.0**k for k in range(low, high) for n in of]


def form_scale(wide_mm: float, high_mm: float) -> float:
    """The largest of 1, 1.5, 2, 3, 5, 7.5 times a power of ten with which a form of that size fits
    its field."""
    steps = _round_steps(-4, 5, (1, 1.5, 2, 3, 5, 7.5))
    fits = [s for s in steps if s * wide_mm <= FIELD[0] and s * high_mm <= FIELD[1]]
    return max(fits, default=steps[0])


def magnification(zone_mm: float, radii_paper: Sequence[float]) -> float:
    """The largest of 1, 2, 5 times a power of ten with a zone of at most 16 mm on paper, and at
    most 0.7 of each of these radii there, or it would fold."""
    room = min(WIDEST_ZONE, *(OF_RADIUS * r for r in radii_paper), WIDEST_ZONE)
    steps = _round_steps(-2, 7, (1, 2, 5))
    return max((s for s in steps if zone_mm * s <= room * (1 + 1e-9)), default=steps[0])


@dataclass(frozen=True, slots=True)
class Place:
    """A place of a form, and the unit normal toward plus."""

    x: float
    y: float
    nx: float
    ny: float

    def off(self, by: float) -> Point:
        """So far beside it."""
        return self.x + by * self.nx, self.y + by * self.ny


def _place(piece: Straight | Round, along: float) -> Place:
    """In the form's own coordinates, y upward; beyond its ends a piece goes on."""
    share = (along - piece.first) / (piece.last - piece.first)
    if isinstance(piece, Round):
        turn = math.radians(piece.begin + share * (piece.end - piece.begin))
        x, y = math.cos(turn), math.sin(turn)
        cx, cy = piece.centre
        return Place(cx + piece.radius * x, cy + piece.radius * y, piece.plus * x, piece.plus * y)
    (ax, ay), (bx, by) = piece.start, piece.end
    long = math.hypot(bx - ax, by - ay)
    return Place(ax + share * (bx - ax), ay + share * (by - ay), (ay - by) / long, (bx - ax) / long)


def _long(piece: Straight | Round) -> float:
    """Length of a piece, mm."""
    if isinstance(piece, Round):
        return math.radians(abs(piece.end - piece.begin)) * piece.radius
    return math.dist(piece.start, piece.end)


class Laid:
    """A form with its edges laid on paper at round scales."""

    def __init__(self, form: Form, edges: Sequence[Profile]) -> None:
        self.form = form
        self.turned = False
        self.scale = self._scale()
        deviations = [d for p in edges for _, d in p.points]
        self.lower, self.upper = edges[0].lower, edges[0].upper
        self.guard_um = edges[0].guard
        self.times = magnification(self._spread_um(deviations) / 1000, self._foldable())
        self.band = self._band_um() * self.times / 1000
        self.most = self._side(deviations, 1), self._side(deviations, -1)
        """How far beside the form anything is drawn, on the side of plus and of minus."""
        self.nominal = list(self._nominal())

    def _scale(self) -> float:
        """A form whose zero is a slide's may lie on its side, where that makes it larger."""
        across = [_place(p, s) for p in self.form.pieces for s in _along(p, 60)]
        wide = max(p.x for p in across) - min(p.x for p in across)
        high = max(p.y for p in across) - min(p.y for p in across)
        upright, lying = form_scale(wide, high), form_scale(high, wide)
        self.turned = bool(self.form.axes) and lying > upright
        return lying if self.turned else upright

    def _spread_um(self, deviations: Sequence[float]) -> float:
        """What is to be seen beside the form: limits and nominal; without limits the points."""
        limits = [x for x in (self.lower, self.upper) if x is not None]
        low, high = min(0.0, *limits, 0.0), max(0.0, *limits, 0.0)
        if len(limits) == 2 and high > low:
            return high - low
        return 2 * max(high, -low, 0.0 if limits and high > low else _largest(deviations))

    def _foldable(self) -> list[float]:
        """Radii on paper in which a zone would fold: of an arc alone, and of a contour those whose
        centre is in the air."""
        pieces = self.form.pieces
        return [
            p.radius * self.scale
            for p in pieces
            if isinstance(p, Round) and (p.plus < 0 or len(pieces) == 1)
        ]

    def _band_um(self) -> float:
        """Half a guard band; none where it would leave no room between the limits."""
        ends = [x for x in (self.lower, self.upper) if x is not None]
        room = (max(ends) - min(ends)) / 2 if len(ends) == 2 else math.inf
        return self.guard_um if ends and self.guard_um < room else 0.0

    def _side(self, deviations: Sequence[float], side: int) -> float:
        limit = self.upper if side > 0 else self.lower
        zone = 0.0 if limit is None else max(0.0, side * limit * self.times / 1000) + self.band
        room = zone + BEYOND if limit is not None else WIDEST_ZONE / 2 + BEYOND
        reach = max((side * d * self.times / 1000 for d in deviations), default=0.0)
        return max(zone, min(max(reach, 0.0), room))

    # -- places --------------------------------------------------------------

    def place(self, on: int, along: float) -> Place:
        """A place of the form on paper."""
        p, s = _place(self.form.pieces[on], along), self.scale
        if self.turned:
            # A quarter turn to the left: what was up lies left.
            return Place(-s * p.y, -s * p.x, -p.ny, -p.nx)
        return Place(s * p.x, -s * p.y, p.nx, -p.ny)

    def on(self, along: float) -> int:
        """The piece on which a place lies."""
        pieces = self.form.pieces
        return next((n for n, p in enumerate(pieces) if along <= p.last), len(pieces) - 1)

    @property
    def first(self) -> Place:
        """The beginning of the form."""
        return self.nominal[0]

    @property
    def last(self) -> Place:
        """The end of the form."""
        return self.nominal[-1]

    def way(self, place: Place) -> Point:
        """The direction in which the form goes on from one of its places."""
        # Plus lies on the left of the way, but beside an arc that goes round to the right.
        piece = self.form.pieces[0]
        left = (
            1 if isinstance(piece, Straight) or (piece.end - piece.begin) * piece.plus < 0 else -1
        )
        return -left * place.ny, left * place.nx

    def _nominal(self) -> Iterator[Place]:
        before: Place | None = None
        for n, piece in enumerate(self.form.pieces):
            count = max(2, math.ceil(_long(piece) * self.scale / _STEP))
            for k, along in enumerate(_along(piece, count)):
                here = self.place(n, along)
                if k == 0 and before is not None:
                    yield from _fan(before, here)
                yield here
                before = here

    def beside(self, um: float) -> list[list[Point]]:
        """The line so far beside the form, in the pieces that lie so far from all of it: at a
        sharp corner it is cut where it would fold."""
        by, runs = um * self.times / 1000, [list[Point]()]
        for place in self.nominal:
            point = place.off(by)
            if self.folds(point, by):
                if runs[-1]:
                    runs.append([])
            else:
                runs[-1].append(point)
        return [run for run in _joined(runs) if len(run) > 1]

    def folds(self, point: Point, by: float, slack: float = 1e-6) -> bool:
        """Whether a point ``by`` beside one place lies nearer than that to another, by more than
        ``slack``."""
        if len(self.form.pieces) == 1:
            return False
        s, (x, y) = self.scale, point
        own = (-y / s, -x / s) if self.turned else (x / s, -y / s)
        return any(s * _distance(p, *own) < abs(by) - slack for p in self.form.pieces)

    def between(self, a: tuple[int, float, float], b: tuple[int, float, float]) -> list[Point]:
        """From one point to the next beside the form, each (piece, along, mm on paper beside):
        the deviation changes evenly along the form, so that the line can't be taken for it."""
        (on, first, low), (other, last, high) = a, b
        found = []
        for n in range(on, other + 1):
            piece = self.form.pieces[n]
            start = first if n == on else piece.first
            end = last if n == other else piece.last
            per = _long(piece) * self.scale / (piece.last - piece.first)
            count = max(1, math.ceil(abs(end - start) * per / (2 * _STEP)))
            for k in range(count + 1):
                along = start + (end - start) * k / count
                share = (along - first) / (last - first) if last != first else 1.0
                by = low + (high - low) * share
                point = self.place(n, along).off(by)
                measured = along in {first, last}
                if measured or not self.folds(point, by, SLACK):
                    found.append(point)
        return found


def _distance(piece: Straight | Round, x: float, y: float) -> float:
    """Of a point from what lies between the ends of a piece, mm."""
    if isinstance(piece, Straight):
        (ax, ay), (bx, by) = piece.start, piece.end
        dx, dy = bx - ax, by - ay
        share = min(max(((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy), 0.0), 1.0)
        return math.hypot(x - ax - share * dx, y - ay - share * dy)
    cx, cy = piece.centre
    sweep = piece.end - piece.begin
    turn = math.degrees(math.atan2(y - cy, x - cx)) - piece.begin
    if (turn if sweep > 0 else -turn) % 360 <= abs(sweep):
        return abs(math.hypot(x - cx, y - cy) - piece.radius)
    ends = (_place(piece, piece.first), _place(piece, piece.last))
    return min(math.hypot(x - end.x, y - end.y) for end in ends)


def _along(piece: Straight | Round, count: int) -> list[float]:
    return [piece.first + (piece.last - piece.first) * k / count for k in range(count + 1)]


def _largest(deviations: Sequence[float]) -> float:
    """The largest deviation, um; at least one that can be drawn."""
    return max(max((abs(d) for d in deviations), default=0.0), 0.5)


def _fan(a: Place, b: Place) -> Iterator[Place]:
    """The normals of a sharp corner between those of its two sides."""
    turn = math.atan2(a.nx * b.ny - a.ny * b.nx, a.nx * b.nx + a.ny * b.ny)
    count = math.ceil(abs(turn) / math.radians(6))
    for k in range(1, count):
        by = turn * k / count
        c, s = math.cos(by), math.sin(by)
        yield Place(a.x, a.y, c * a.nx - s * a.ny, s * a.nx + c * a.ny)


def _joined(runs: Sequence[list[Point]]) -> list[list[Point]]:
    """Pieces of a line that end where the next one begins are one."""
    found: list[list[Point]] = []
    for run in runs:
        if found and run and found[-1] and math.dist(found[-1][-1], run[0]) < 3 * _STEP:
            found[-1].extend(run)
        elif run:
            found.append(run)
    return found


def spread(wanted: Sequence[float], gaps: Sequence[float]) -> list[float]:
    """Places in the same order at least these gaps apart, as near as can be to those wanted (least
    squares, by pooling neighbours that would come too close)."""
    before = [sum(gaps[:n]) for n in range(len(wanted))]
    pools: list[tuple[float, int]] = []
    for place, gap in zip(wanted, before, strict=True):
        mean, count = place - gap, 1
        while pools and pools[-1][0] > mean:
            other, many = pools.pop()
            mean, count = (mean * count + other * many) / (count + many), count + many
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    return [mean + gap for mean, gap in zip(flat, before, strict=True)]


def strokes(long: float, pitch: float) -> list[float]:
    """Lengths at which strokes stand on a line, evenly from end to end."""
    count = max(2, round(long / pitch))
    return [long * k / count for k in range(count + 1)]


def lengths(points: Sequence[Place]) -> list[float]:
    """How far along a line its places lie."""
    found = [0.0]
    for a, b in pairwise(points):
        found.append(found[-1] + math.hypot(b.x - a.x, b.y - a.y))
    return found
