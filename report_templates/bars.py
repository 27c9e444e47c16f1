"""The tolerance bar: limits always at a quarter and three quarters, guard bands hatched, the
value drawn as its verdict, U as a whisker."""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspect_rec.report.content import Bar
from report_templates.lettering import REGULAR, SEMIBOLD, width
from report_templates.pen import HAIR, INK2, LINE, OF_VERDICT, WHITE, Pen


@dataclass(frozen=True, slots=True)
class Scale:
    """Places along a bar of ``wide`` mm that begins at ``left``."""

    left: float
    wide: float
    origin: float
    per_unit: float
    """mm for one unit of the value."""

    def at(self, value: float) -> float:
        """Place of a value, wherever it lies."""
        return self.left + self.wide / 4 + (value - self.origin) * self.per_unit

    def clipped(self, value: float) -> float:
        """Place of a value, or the bar's end."""
        return min(max(self.at(value), self.left), self.left + self.wide)

    def inside(self, value: float) -> bool:
        """Whether the value lies on the bar."""
        return self.left <= self.at(value) <= self.left + self.wide


def scale(bar: Bar, left: float, wide: float) -> Scale:
    """The scale of a bar: half its width is the tolerance, or the limit above a natural zero."""
    if bar.lower is not None and bar.upper is not None:
        return Scale(left, wide, bar.lower, wide / 2 / (bar.upper - bar.lower))
    if bar.upper is not None and bar.zero:
        return Scale(left, wide, 0.0, wide / 2 / bar.upper)
    span = _nice(max(1.25 * abs(bar.low - _limit(bar)), 4 * bar.whisker))
    if bar.lower is not None:
        return Scale(left, wide, bar.lower, wide / 2 / span)
    return Scale(left, wide, _limit(bar) - span, wide / 2 / span)


def _limit(bar: Bar) -> float:
    limit = bar.lower if bar.lower is not None else bar.upper
    return 0.0 if limit is None else limit


def _nice(least: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten from ``least`` up."""
    if least <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(least))
    return next(n * power for n in (1, 2, 5, 10) if n * power >= least * (1 - 1e-9))


def draw(
    pen: Pen, bar: Bar, left: float, middle: float, wide: float, high: float, r: float
) -> None:
    """A bar with its middle line at ``middle``; ``high``: the row's height, ``r``: the value's
    radius. Limit lines run through the whole height."""
    s = scale(bar, left, wide)
    limits(pen, bar, s, middle, high)
    if bar.nominal is not None and s.inside(bar.nominal):
        x = s.at(bar.nominal)
        pen.line((x, middle - high / 2), (x, middle + high / 2), 0.12, HAIR)
    _value(pen, bar, s, middle, r)


def limits(pen: Pen, bar: Bar, s: Scale, middle: float, high: float) -> None:
    """Track, guard bands and limits, through the whole height of a row."""
    _track(pen, bar, s, middle)
    for limit in (bar.lower, bar.upper):
        if limit is None:
            continue
        a, b = s.clipped(limit - bar.guard), s.clipped(limit + bar.guard)
        pen.hatch(a, middle - 0.33 * high, b - a, 0.66 * high)
    for limit in (bar.lower, bar.upper):
        if limit is not None:
            pen.line((s.at(limit), middle - high / 2), (s.at(limit), middle + high / 2), 0.35)


def _track(pen: Pen, bar: Bar, s: Scale, middle: float) -> None:
    right = s.left + s.wide
    if bar.lower is not None and bar.upper is not None:
        pen.line((s.at(bar.lower), middle), (s.at(bar.upper), middle), 0.12, LINE)
    elif bar.upper is not None and bar.zero:
        pen.line((s.at(0), middle), (s.at(bar.upper), middle), 0.12, LINE)
        pen.line((s.at(0), middle - 0.8), (s.at(0), middle + 0.8), 0.12, LINE)
    elif bar.lower is not None:
        pen.line((s.at(bar.lower), middle), (right, middle), 0.12, LINE)
        pen.path(
            [(right - 1.2, middle - 0.6), (right, middle), (right - 1.2, middle + 0.6)], 0.12, LINE
        )
    elif bar.upper is not None:
        pen.line((s.left, middle), (s.at(bar.upper), middle), 0.12, LINE)


def _value(pen: Pen, bar: Bar, s: Scale, middle: float, r: float) -> None:
    colour = OF_VERDICT.get(bar.verdict, INK2)
    a, b = s.clipped(bar.low - bar.whisker), s.clipped(bar.high + bar.whisker)
    if b > a:
        pen.line((a, middle), (b, middle), 0.75, WHITE)
        pen.line((a, middle), (b, middle), 0.25, colour)
    for end, value, way in ((a, bar.low - bar.whisker, 1), (b, bar.high + bar.whisker, -1)):
        if s.inside(value):
            pen.line((end, middle - 0.6), (end, middle + 0.6), 0.25, colour)
        elif s.inside(bar.low if way == 1 else bar.high):
            tip = [
                (end + way * 0.9, middle - 0.55),
                (end, middle),
                (end + way * 0.9, middle + 0.55),
            ]
            pen.path(tip, 0.25, colour)
    if bar.low != bar.high:
        pen.line((s.clipped(bar.low), middle), (s.clipped(bar.high), middle), 0.7, colour)
    for value in dict.fromkeys((bar.low, bar.high)):
        if s.inside(value):
            pen.value_mark(bar.verdict, s.at(value), middle, r)
        else:
            end = s.clipped(value)
            way = 1 if s.at(value) < s.left else -1
            chevron = [(end + way * 1.2, middle - 1), (end, middle), (end + way * 1.2, middle + 1)]
            pen.path(chevron, 0.4, colour)


def deciding(pen: Pen, bar: Bar, left: float, top: float, zones: str, accepted: str) -> None:
    """The large bar of page 1: words of the zones over it, limits and acceptance under it."""
    wide, high = 86.0, 8.6
    s = scale(bar, left, wide)
    middle = top + 3.6 + high / 2
    _zone_words(pen, bar, s, top + 1.6, zones.split("|"))
    draw(pen, bar, left, middle, wide, high, 1.25)
    below = middle + high / 2 + 3.6
    for limit, text in ((bar.lower, bar.lower_text), (bar.upper, bar.upper_text)):
        if limit is not None:
            pen.text(s.at(limit), below, text, 8, SEMIBOLD, align="middle")
    if bar.zero:
        pen.text(s.at(0), below, "0", 8, REGULAR, INK2, align="middle")
    pen.text(left + wide / 2, below + 3.8, accepted, 7.5, REGULAR, INK2, align="middle")


def _zone_words(pen: Pen, bar: Bar, s: Scale, y: float, words: list[str]) -> None:
    """A word over each zone that has room for it; "neither" goes first where it is narrow."""
    does_not, neither, conforms = words[0], words[1], words[2]
    ends = [s.left]
    names: list[str] = []
    for limit, before, after in ((bar.lower, does_not, conforms), (bar.upper, conforms, does_not)):
        if limit is None:
            continue
        ends += [s.clipped(limit - bar.guard), s.clipped(limit + bar.guard)]
        names += [before, neither]
        last = after
    names.append(last)
    if bar.upper is not None and bar.zero:
        ends[0] = s.at(0)
    ends.append(s.left + s.wide)
    for name, a, b in zip(names, ends, ends[1:], strict=False):
        needed = width(name, REGULAR, 7)
        room = b - a + (7 if name == neither and bar.guard else 0)
        if room >= needed:
            pen.text((a + b) / 2, y, name, 7, REGULAR, INK2, align="middle")
        elif b == ends[-1] and room + 2.5 >= needed:
            # The word may lean over its zone as long as it ends with the bar.
            pen.text(b, y, name, 7, REGULAR, INK2, align="right")
