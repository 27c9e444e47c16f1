"""The layout "batch-1": a value over the tools in the order in which they were measured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from inspect_rec.report.batch_content import Point, Sheet, Trend
from report_templates import graphs
from report_templates.flow import Flow
from report_templates.graphs import Place
from report_templates.lettering import REGULAR, SEMIBOLD, width
from report_templates.pen import INK, INK2, LINE, MEASURED, OF_VERDICT, Pen
from report_templates.sheet import LEFT, LIVE

_HIGH = 28.0
_LEFT = 15.0
"""Room for the limits' figures."""


def draw(flow: Flow, c: Sheet) -> None:
    """The graph, or why there is none."""
    t = c.trend
    if not t.points:
        flow.place(12, lambda pen, y: _none(pen, t, y))
        return
    flow.place(_HIGH + 18, lambda pen, y: _trend(pen, t, y))


def _none(pen: Pen, t: Trend, y: float) -> None:
    pen.rule(y)
    pen.heading(LEFT, y + 4, t.title, wide=LIVE)
    pen.text(LEFT, y + 7.8, t.why_not, 7.5, REGULAR, INK2)


def _trend(pen: Pen, t: Trend, y: float) -> None:
    pen.rule(y)
    pen.heading(LEFT, y + 4, t.title, wide=LIVE)
    top, left, right = y + 9.5, LEFT + _LEFT, LEFT + LIVE
    values = [p.value for p in t.points]
    at = graphs.heights(t.lower, t.upper, [*values, t.lower or values[0]], top, _HIGH)
    pitch = (right - left) / len(t.points)
    places = [left + pitch * (n + 0.5) for n in range(len(t.points))]
    _limits(pen, t, at, (left, right), (top, top + _HIGH))
    _dressings(pen, t.points, [x - pitch / 2 for x in places], top)
    with pen.tags.inside("P"):
        _dots(pen, t.points, places, at, (top, top + _HIGH))
        _labels(pen, t.points, places, top + _HIGH + 3.2)


def _limits(
    pen: Pen, t: Trend, at: Place, across: tuple[float, float], plot: tuple[float, float]
) -> None:
    """The limits, and round each its guard band, which may be another for each tool."""
    left, right = across
    pitch = (right - left) / len(t.points)
    upper, middle, lower = t.limit_texts
    for limit, text in ((t.upper, upper), (t.lower, lower)):
        if limit is None:
            continue
        for first, count, guard in _runs(t.points):
            wide = abs(at(limit - guard) - at(limit + guard))
            ends = left + first * pitch, left + (first + count) * pitch
            graphs.band(pen, ends, at(limit), wide, plot)
        pen.line((left, at(limit)), (right, at(limit)), 0.35)
        pen.text(left - 1.5, at(limit) + 0.9, text, 7, align="right")
    if t.lower is not None and t.upper is not None:
        centre = at((t.lower + t.upper) / 2)
        pen.line((left, centre), (right, centre), 0.12, LINE)
        if middle:
            pen.text(left - 1.5, centre + 0.9, middle, 7, REGULAR, INK2, "right")
    elif t.zero:
        pen.line((left, at(0)), (right, at(0)), 0.12, LINE)
        pen.text(left - 1.5, at(0) + 0.9, "0", 7, REGULAR, INK2, "right")


def _runs(points: Sequence[Point]) -> Iterator[tuple[int, int, float]]:
    """Tools one behind the other with the same guard band: the first, how many, the band."""
    first = 0
    for guard, group in groupby(points, key=lambda p: p.guard):
        count = len(list(group))
        yield first, count, guard
        first += count


def _dots(
    pen: Pen,
    points: Sequence[Point],
    places: Sequence[float],
    at: Place,
    plot: tuple[float, float],
) -> None:
    pitch = places[1] - places[0]
    r = 0.95 if pitch > 3 else 0.65 if pitch > 1.3 else 0.45
    top, bottom = plot

    def held(value: float) -> float:
        return min(max(at(value), top), bottom)

    for n, point in enumerate(points):
        if point.joined:
            before = places[n - 1], held(points[n - 1].value)
            pen.line(before, (places[n], held(point.value)), 0.2, MEASURED)
    for x, point in zip(places, points, strict=True):
        colour = OF_VERDICT.get(point.verdict, INK2)
        y = held(point.value)
        if y == at(point.value):
            plain = point.verdict == "conforms"
            pen.value_mark(point.verdict, x, y, r if plain else max(r, 0.8))
        else:
            way = -1 if at(point.value) < top else 1
            graphs.chevron(pen, x, y, way, colour)
            pen.text(
                x - 1.6, y + (1.6 if way < 0 else 0), point.text, 6.5, SEMIBOLD, colour, "right"
            )


def _labels(pen: Pen, points: Sequence[Point], places: Sequence[float], y: float) -> None:
    """As many marks as there is room for."""
    free = 0.0
    for point, x in zip(points, places, strict=True):
        half = width(point.label, REGULAR, 7) / 2
        if x - half >= free:
            pen.text(x, y, point.label, 7, REGULAR, INK2, "middle")
            free = x + half + 2


def _dressings(pen: Pen, points: Sequence[Point], places: Sequence[float], top: float) -> None:
    """An upright line at each dressing, and its words where they have room; no line runs through
    the words of another."""
    free = 0.0
    for point, x in zip(points, places, strict=True):
        if not point.dressed:
            continue
        wide = width(point.dressed, REGULAR, 7)
        told = x >= free and x + 1.2 + wide <= LEFT + LIVE
        pen.line((x, top - (3.2 if told else 0)), (x, top + _HIGH), 0.2, INK, (0.9, 0.7))
        if told:
            pen.text(x + 1.2, top - 1.2, point.dressed, 7)
            free = x + wide + 4
