"""Arcs and contours for tests of their drawing, made from numbers alone."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any, cast

from inspect_rec.report.profile_content import Form, Profile, Profiles, Round, Straight
from report_templates import words
from report_templates.contour import Drawing
from report_templates.pen import Nowhere, Pen, Point

Deviation = Callable[[random.Random, int, int], float]
"""Of an edge and a point, both from 0, its deviation, um."""


def scattered(by: float) -> Deviation:
    return lambda of, _edge, _point: of.uniform(-by, by)


SCATTERED = scattered(8)


def signed(limit: float | None) -> str:
    return "" if limit is None else f"{limit:+g}".replace("-", "−")


def edges(
    along: list[tuple[int, float]],
    deviation: Deviation = SCATTERED,
    limits: tuple[float | None, float | None] = (-10.0, 10.0),
    guard: float = 3.0,
    count: int = 4,
    decides: int = 0,
) -> tuple[Profile, ...]:
    """Edges whose points lie on these pieces at these places."""
    of = random.Random(3)
    return tuple(
        Profile(
            f"Flute {n + 1}",
            str(n + 1),
            "R 5.0000",
            tuple((s, deviation(of, n, k)) for k, (_, s) in enumerate(along)),
            tuple(on for on, _ in along),
            *limits,
            (signed(limits[0]), signed(limits[1])),
            guard,
            n == decides,
        )
        for n in range(count)
    )


def arc(
    radius: float, span: tuple[float, float], points: int = 9, plus: int = 1, **more: Any
) -> Profiles:
    """Edges on an arc from the first angle to the last, deg."""
    low, high = span
    angles = [low + (high - low) * k / (points - 1) for k in range(points)]
    step = 15 if high - low > 30 else 2
    ticks = tuple(
        (float(a), f"{a}°") for a in range(step * math.ceil(low / step), int(high) + 1, step)
    )
    pieces = (Round(low, high, (0.0, 0.0), radius, 90 - low, 90 - high, plus),)
    form = Form(pieces, -1, ticks)
    found = edges([(0, a) for a in angles], **more)
    return Profiles(1, "Ball radius", "as drawn", "laid flat", form, found)


def winding(seed: int, pieces: int = 6, **more: Any) -> Profiles:
    """Edges on a contour that winds at random, with sharp corners and round ones of any size."""
    of = random.Random(seed)
    x, y, heading, far = 0.0, 0.0, of.uniform(-0.5, 0.5), 0.0
    found: list[Straight | Round] = []
    along: list[tuple[int, float]] = []
    for n in range(pieces):
        if of.random() < 0.6:
            long = of.uniform(0.5, 3)
            end = x + long * math.cos(heading), y + long * math.sin(heading)
            found.append(Straight(far, far + long, (x, y), end))
            x, y = end
            heading += of.choice((0.0, 0.0, of.uniform(-1.6, 1.6)))
        else:
            radius, turn, left = of.uniform(0.3, 3), of.uniform(0.3, 2.5), of.choice((1, -1))
            long = radius * turn
            cx = x - left * radius * math.sin(heading)
            cy = y + left * radius * math.cos(heading)
            begin = math.degrees(heading) - 90 * left
            last = begin + left * math.degrees(turn)
            # Plus lies on the left: toward the centre where the way turns to the left.
            found.append(Round(far, far + long, (cx, cy), radius, begin, last, -left))
            heading += left * turn
            x = cx + radius * math.cos(math.radians(last))
            y = cy + radius * math.sin(math.radians(last))
        along += [(n, far + long * share) for share in (0.15, 0.5, 0.85)]
        far += long
    ticks = tuple((p.first, f"{p.first:.1f}") for p in found)
    form = Form(tuple(found), -1, ticks, ("X", "Z"))
    return Profiles(1, "Profile", "as drawn", "laid flat", form, edges(along, **more))


def drawing(p: Profiles, language: str = "en") -> Drawing:
    return Drawing(p, p.edges, words(language))


class Seen(Pen):
    """A pen that draws nowhere and remembers discs and lines."""

    def __init__(self) -> None:
        super().__init__(Nowhere(), 297)
        self.discs: list[Point] = []
        self.paths: list[list[Point]] = []

    def disc(self, x: float, y: float, *more: Any, **named: Any) -> None:
        self.discs.append((x, y))
        super().disc(x, y, *more, **named)

    def path(self, points: Any, *more: Any, **named: Any) -> None:
        self.paths.append(list(points))
        super().path(points, *more, **named)


def seen(of: Drawing, left: float = 20.0, top: float = 50.0) -> Seen:
    pen = Seen()
    of.draw(cast("Pen", pen), left, top)
    return pen
