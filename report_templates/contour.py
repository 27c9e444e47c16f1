"""The contour: all edges on their nominal arc, deviations magnified square to it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from inspect_rec.report.content import Profile, Profiles
from report_templates.lettering import REGULAR, SEMIBOLD
from report_templates.pen import INK2, LINE, MEASURED, WHITE, Pen, Point

OnArc = Callable[[float, float], Point]
"""Where an angle from the middle, deg, with its deviation, mm, stands on the page."""

_FIELD = 46.0
"""Radius on paper that the field holds, mm."""
_BEYOND = 3.0
"""Degrees that the zone is drawn beyond the points."""


def form_scale(radius_mm: float) -> float:
    """The largest of 1, 1.5, 2, 3, 5, 7.5 times a power of ten that fits the field."""
    steps = [n * 10.0**k for k in range(-3, 4) for n in (1, 1.5, 2, 3, 5, 7.5)]
    return max(s for s in steps if s <= _FIELD / radius_mm)


def magnification(limit_mm: float, radius_paper: float) -> float:
    """The largest of 1, 2, 5 times a power of ten with a zone of at most 16 mm on paper, and less
    than 0.4 of the radius there, or the zone would fold."""
    room = min(16.0, 0.4 * radius_paper)
    steps = [n * 10.0**k for k in range(6) for n in (1, 2, 5)]
    return max((s for s in steps if 2 * limit_mm * s <= room), default=1.0)


class _Scale:
    """Sizes of a contour on paper."""

    def __init__(self, c: Profiles) -> None:
        angles = [a for p in c.edges for a, _ in p.points]
        self.low, self.high = min(angles), max(angles)
        self.limit = c.edges[0].limit / 1000
        self.guard = c.edges[0].guard / 1000
        self.form = form_scale(c.radius_mm)
        self.r = c.radius_mm * self.form
        self.times = magnification(self.limit, self.r)
        self.metal = 1 if c.convex else -1
        self.zone = self.limit * self.times
        self.band = min(self.guard, self.limit) * self.times

    @property
    def above(self) -> float:
        """From the top of the drawing to the centre of the arc."""
        return self.r + self.zone + self.band + 6

    @property
    def below(self) -> float:
        """From the centre of the arc to the lowest end of the zone."""
        ends = (self.low - _BEYOND, self.high + _BEYOND)
        radii = (self.r + self.zone, self.r - self.zone)
        return max(-r * math.cos(math.radians(a)) for a in ends for r in radii)


def height(c: Profiles) -> float:
    """Height of the drawing with its scales, mm."""
    s = _Scale(c)
    return s.above + s.below + 17


def draw(pen: Pen, c: Profiles, left: float, top: float, words: Mapping[str, str]) -> None:
    """The contour in a field 131 wide."""
    s = _Scale(c)
    cx, cy = left + 66.0, top + s.above

    def at(angle: float, deviation_mm: float) -> Point:
        out = s.r + s.metal * deviation_mm * s.times
        turn = math.radians(angle)
        return cx + out * math.sin(turn), cy - out * math.cos(turn)

    _zone(pen, s, at)
    _ticks(pen, s, (cx, cy))
    for p in sorted(c.edges, key=lambda p: p.decides):
        _edge(pen, p, at)
    _labels(pen, c, s, at)
    inner, outer = (words["page.metal"], words["page.air"])[:: 1 if c.convex else -1]
    pen.text(cx, cy - 0.35 * s.r, inner, 7, REGULAR, INK2, "middle")
    pen.text(cx, top + 3.5, outer, 7, REGULAR, INK2, "middle")
    _scales(pen, left + 20, cy + s.below + 12, s.form, s.times, words)


def _zone(pen: Pen, s: _Scale, at: OnArc) -> None:
    """Limits, their guard bands as short slanting strokes, the nominal between them."""
    low, high = s.low - _BEYOND, s.high + _BEYOND
    steps = [low + (high - low) * k / 120 for k in range(121)]
    strokes = max(2, round(math.radians(high - low) * s.r / 0.9))
    for side in (s.limit, -s.limit):
        pen.path([at(a, side) for a in steps], 0.35)
        for k in range(strokes + 1 if 0 < s.guard < s.limit else 0):
            a = low + (high - low) * k / strokes
            pen.line(at(a - 0.6, side - s.guard), at(a + 0.6, side + s.guard), 0.09)
    pen.path([at(a, 0) for a in steps], 0.15, LINE, dash=(2, 0.6, 0.4, 0.6))


def _ticks(pen: Pen, s: _Scale, centre: Point) -> None:
    """Angles inside the arc, every 30 degrees."""
    inside = s.r - s.zone - s.band - 1.2
    for angle in range(-180, 181, 30):
        if not s.low - 1 <= angle <= s.high + 1:
            continue
        x, y = math.sin(math.radians(angle)), -math.cos(math.radians(angle))
        a, b = ((centre[0] + out * x, centre[1] + out * y) for out in (inside, inside - 1.4))
        pen.line(a, b, 0.12, INK2)
        out = inside - 4.6
        said = f"{angle}°".replace("-", "−")
        pen.text(centre[0] + out * x, centre[1] + out * y + 0.9, said, 7, REGULAR, INK2, "middle")


def _edge(pen: Pen, p: Profile, at: OnArc) -> None:
    points = [at(a, v / 1000) for a, v in sorted(p.points)]
    if p.decides:
        for a, v in p.points:
            pen.line(at(a, 0), at(a, v / 1000), 0.12, MEASURED)
        pen.path(points, 0.3, MEASURED)
        for x, y in points:
            pen.disc(x, y, 0.75, MEASURED)
        return
    pen.path(points, 0.15, LINE)
    for x, y in points:
        pen.disc(x, y, 0.5, WHITE, 0.15, LINE)


def _labels(pen: Pen, c: Profiles, s: _Scale, at: OnArc) -> None:
    """Which edge is which under the left end of the zone, the limits under the right."""
    end = s.high + _BEYOND
    foot = max(at(end, side)[1] for side in (s.limit, -s.limit)) + 3.6
    for side, said in ((s.limit, f"+{c.edges[0].limit_text}"), (0.0, "0")):
        pen.text(at(end, side)[0], foot, said, 7, SEMIBOLD if side else REGULAR, align="middle")
    pen.text(
        at(end, -s.limit)[0], foot, f"−{c.edges[0].limit_text} µm", 7, SEMIBOLD, align="middle"
    )
    x = at(s.low - _BEYOND, 0)[0]
    deciding = next((p for p in c.edges if p.decides), None)
    others = [p.title.split()[-1] for p in c.edges if p is not deciding]
    if deciding is not None:
        pen.text(x, foot, deciding.title, 7, SEMIBOLD, MEASURED, "middle")
        foot += 3.2
    pen.text(x, foot, _run(others), 7, REGULAR, INK2, "middle")


def _run(names: Sequence[str]) -> str:
    """The other edges in few words."""
    return ", ".join(names) if len(names) < 5 else f"{names[0]} … {names[-1]}"


def _figure(scale: float, words: Mapping[str, str]) -> str:
    return f"{scale:g}".replace(".", words["figures.decimal"])


def _scales(
    pen: Pen, left: float, y: float, form: float, times: float, words: Mapping[str, str]
) -> None:
    said_form = words["page.form_scale"].format(scale=_figure(form, words))
    said_deviation = words["page.deviation_scale"].format(scale=_figure(times, words))
    for x, long_, bold, said in (
        (left, form, "1 mm", said_form),
        (left + 54, 0.01 * times, "10 µm", said_deviation),
    ):
        pen.line((x, y), (x + long_, y), 0.35)
        for end in (x, x + long_):
            pen.line((end, y - 0.8), (end, y + 0.8), 0.35)
        wide = pen.text(x + long_ + 2, y + 0.9, bold, 7, SEMIBOLD)
        pen.text(x + long_ + 3.5 + wide, y + 0.9, said, 7, REGULAR, INK2)
