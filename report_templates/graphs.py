"""Graphs: edges against each other, profiles laid flat, the length line."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reportlab.lib.colors import Color

from inspect_rec.report.content import FluteGraph, LifeLine
from inspect_rec.report.profile_content import Form, Profile
from report_templates.lettering import REGULAR, SEMIBOLD, fit, width
from report_templates.pen import INK, INK2, LINE, MEASURED, OF_VERDICT, WHITE, Pen

Place = Callable[[float], float]
"""Where a value stands on the page, mm."""
Spot = tuple[float, float, bool, float]
"""A point in a small graph: where it is drawn, whether it lies there, and its deviation, um."""

# -- edges against each other ----------------------------------------------------


def flutes(pen: Pen, g: FluteGraph, left: float, top: float) -> None:
    """Values in cutting order, limits hatched, the variation as a dimension."""
    x0, x1, high = left + 13, left + 69, 24.0
    at = heights(g.lower, g.upper, g.values, top, high)
    for limit, text in ((g.upper, g.limit_texts[0]), (g.lower, g.limit_texts[2])):
        if limit is None:
            continue
        wide = max(abs(at(limit - g.guard) - at(limit + g.guard)), 0.8) if g.guard else 0.0
        band(pen, (x0, x1), at(limit), wide, (top, top + high))
        pen.line((x0, at(limit)), (x1, at(limit)), 0.35)
        pen.text(x0 - 1.5, at(limit) + 0.9, text, 7, REGULAR, align="right")
    middle = 0.0 if g.lower is None else (g.lower + (g.upper or 0)) / 2
    pen.line((x0, at(middle)), (x1, at(middle)), 0.12, LINE)
    pen.text(
        x0 - 1.5, at(middle) + 0.9, g.limit_texts[1] or g.limit_texts[2], 7, REGULAR, INK2, "right"
    )
    _edges(pen, g, x0, x1, at, top + high)


def band(
    pen: Pen, across: tuple[float, float], limit: float, band: float, plot: tuple[float, float]
) -> None:
    """The guard band of a limit; none where it is so wide that it would fill the graph."""
    if band <= 0.5 * (plot[1] - plot[0]):
        pen.hatch(across[0], limit - band / 2, across[1] - across[0], band)


def heights(
    lower: float | None, upper: float | None, values: Sequence[float], top: float, high: float
) -> Place:
    """Function from a value to a height: limits at 0.2 and 0.8, or from the nought at 0.85."""
    if upper is None:
        base = min(values, default=0.0)
        spread = max(max(values, default=1) - base, 1e-6)
        return lambda v: top + high * (0.8 - 0.6 * (v - base) / spread)
    if lower is None:
        return lambda v: top + high * (0.85 - 0.65 * v / (upper or 1))
    span = upper - lower
    return lambda v: top + high * (0.8 - 0.6 * (v - lower) / span)


def _edges(pen: Pen, g: FluteGraph, x0: float, x1: float, at: Place, foot: float) -> None:
    n = len(g.values)
    if n == 0:
        return
    pitch = (x1 - x0) / n
    r = 0.75 if n > 12 else 1.0
    lowest, highest = min(g.values), max(g.values)
    top, bottom = foot - 24.0 + 0.8, foot - 0.4

    def held(value: float) -> float:
        return min(max(at(value), top), bottom)

    places = [x0 + pitch * (k + 0.5) for k in range(n)]
    arrow = x1 + 2.5
    if n > 1:
        for value in (lowest, highest):
            # What lies beyond the graph has its figure where the line would run.
            beyond = held(value) != at(value)
            start = x1 if beyond else places[g.values.index(value)]
            pen.line((start, held(value)), (arrow + 1, held(value)), 0.12, MEASURED, (0.5, 0.5))
        dimension(pen, (arrow, held(highest)), (arrow, held(lowest)))
        middle = (held(highest) + held(lowest)) / 2
        pen.text(arrow + 2, middle + 1, g.spread, 7.5, SEMIBOLD, MEASURED)
    labelled = _labelled(g, places, n > 12)
    for k, (x, value) in enumerate(zip(places, g.values, strict=True)):
        colour = OF_VERDICT.get(g.verdicts[k], INK2)
        if held(value) != at(value):
            chevron(pen, x, held(value), -1 if at(value) < top else 1, colour)
            base = held(value) + (1.6 if at(value) < top else 0)
            pen.text(x - 1.8, base, g.texts[k], 6.5, SEMIBOLD, colour, "right")
        else:
            a, b = held(value - g.whiskers[k]), held(value + g.whiskers[k])
            pen.line((x, a), (x, b), 0.25, colour)
            for end in (a, b):
                pen.line((x - 0.6, end), (x + 0.6, end), 0.25, colour)
            pen.value_mark(g.verdicts[k], x, at(value), r)
        if k in labelled:
            pen.text(x, foot + 3, g.labels[k], 7, labelled[k], align="middle")
    pen.text(x0 - 1.5, foot + 3, g.edge_word, 7, REGULAR, INK2, "right")


def _labelled(g: FluteGraph, places: Sequence[float], many: bool) -> dict[int, str]:  # noqa: FBT001
    """Which edges bear their number, and in which cut: of many the lowest and the highest, and
    others that stand at least 5 mm from every one that does."""
    found: dict[int, str] = {}
    if many:
        ends = (min(g.values), max(g.values))
        found = {g.values.index(v): SEMIBOLD for v in ends}
    for k, x in enumerate(places):
        if all(abs(x - places[other]) >= 5 for other in found if other != k):
            found.setdefault(k, REGULAR)
    return found


def chevron(pen: Pen, x: float, y: float, way: int, colour: Color) -> None:
    """What lies beyond a graph, above (-1) or below (1)."""
    back = y - 1.1 * way
    pen.path([(x - 1.1, back), (x, y), (x + 1.1, back)], 0.4, colour)


def dimension(pen: Pen, a: tuple[float, float], b: tuple[float, float]) -> None:
    """A dimension line with two arrow heads, upright or level."""
    pen.line(a, b, 0.15, MEASURED)
    upright = a[0] == b[0]
    short = abs(b[1] - a[1] if upright else b[0] - a[0]) < 2.2
    for tip, other in ((a, b), (b, a)):
        way = (1 if other[1 if upright else 0] > tip[1 if upright else 0] else -1) * (
            -1 if short else 1
        )
        back = 1.1 * way
        wings = (
            [(tip[0] - 0.4, tip[1] + back), tip, (tip[0] + 0.4, tip[1] + back)]
            if upright
            else [(tip[0] + back, tip[1] - 0.4), tip, (tip[0] + back, tip[1] + 0.4)]
        )
        pen.path(wings, 0, fill=MEASURED, closed=True)


# -- profiles --------------------------------------------------------------------


def profile(pen: Pen, form: Form, p: Profile, left: float, top: float, wide: float = 41.0) -> None:
    """One edge laid flat: two limits at a quarter and three quarters, deviation over the angle or
    the length."""
    x0, x1, high = left + 8.5, left + wide, 22.0
    pen.line((left, top), (left + wide, top), 0.35)
    colour = OF_VERDICT.get(p.verdict, INK2)
    value = fit(p.value, wide - width(p.title, SEMIBOLD, 8) - 2, 8, SEMIBOLD)
    pen.heading(left, top + 4, p.title)
    pen.text(left + wide, top + 4, p.value, value.size, value.font, colour, "right")
    base = top + 7
    middle, half = window(p)

    def at(v: float) -> float:
        return base + high * (0.5 - (v - middle) / (2 * half))

    for limit, said in zip((p.lower, p.upper), p.limit_texts, strict=True):
        if limit is None:
            continue
        thick = abs(at(limit - p.guard) - at(limit + p.guard))
        band(pen, (x0, x1), at(limit), thick, (base, base + high))
        pen.line((x0, at(limit)), (x1, at(limit)), 0.35)
        pen.text(x0 - 1.2, at(limit) + 0.9, said, 7, REGULAR, align="right")
    labelled = [(x, "") for x in (p.lower, p.upper) if x is not None]
    rest = [(0.0, "0")] if labelled else [(0.0, "0"), *_round(half / 2)]
    for v, said in rest:
        if abs(v - middle) < half and all(abs(at(v) - at(x)) > 2.6 for x, _ in labelled):
            pen.line((x0, at(v)), (x1 if v == 0 else x0 + 1.5, at(v)), 0.12, LINE)
            pen.text(x0 - 1.2, at(v) + 0.9, said, 7, REGULAR, INK2, "right")
    _points(pen, form, p, (x0, x1), (base, base + high), at)


def window(p: Profile) -> tuple[float, float]:
    """Middle and half height of a small graph, um: both limits at a quarter and three quarters;
    where one stands alone, or none, about the nominal."""
    if p.lower is not None and p.upper is not None and p.upper > p.lower:
        return (p.lower + p.upper) / 2, p.upper - p.lower
    limits = [abs(x) for x in (p.lower, p.upper) if x]
    if limits:
        return 0.0, 2 * max(limits)
    most = max((abs(v) for _, v in p.points), default=0.0)
    steps = [n * 10.0**k for k in range(6) for n in (1, 2, 5)]
    return 0.0, 2 * next((s for s in steps if s >= most), steps[-1])


def _round(value: float) -> list[tuple[float, str]]:
    return [(v, f"{v:+g}".replace("-", "−")) for v in (value, -value)]


def _points(
    pen: Pen,
    form: Form,
    p: Profile,
    across: tuple[float, float],
    plot: tuple[float, float],
    at: Place,
) -> None:
    """The points on the angle or the length that they lie at, and what stands below."""
    (x0, x1), (top, foot) = across, plot
    places = [place for place, _ in p.points]
    low, high = min(places), max(places)
    if form.axes:
        low, high = form.pieces[0].first, form.pieces[-1].last
    span = max(high - low, 1e-6)

    def over(place: float) -> float:
        return x0 + 2.5 + (x1 - x0 - 5) * min(max((place - low) / span, -0.05), 1.05)

    spots = []
    for place, v in p.points:
        held = min(max(at(v), top), foot)
        spots.append((over(place), held, held == at(v), v))
    pen.path([(x, y) for x, y, _, _ in spots] if len(spots) > 1 else [], 0.25, MEASURED)
    for x, y, _, _ in (one for one in _apart(spots) if one[2]):
        pen.disc(x, y, 0.6, MEASURED, 0.15, WHITE)
    beyond = [one for one in spots if not one[2]]
    for x, y, _, v in beyond:
        chevron(pen, x, y, -1 if v > 0 else 1, MEASURED)
    if beyond:
        x, y, _, v = max(beyond, key=lambda one: abs(one[3]))
        if y <= top:
            pen.text(x, y - 0.9, _um(v), 6.5, SEMIBOLD, MEASURED, "middle")
        else:
            # Beside it: the angles stand below.
            way, align = (1, "left") if x < (x0 + x1) / 2 else (-1, "right")
            pen.text(x + 1.8 * way, y - 0.9, _um(v), 6.5, SEMIBOLD, MEASURED, align)
    ticks = (
        form.ticks
        if form.axes
        else [(a, f"{round(a)}°".replace("-", "−")) for a in (low, (low + high) / 2, high)]
    )
    end = -1e9
    for place, said in ticks:
        x, half = over(place), width(said, REGULAR, 7) / 2
        pen.line((x, foot - 2.2), (x, foot - 1.2), 0.12, LINE)
        if x - half > end + 1:
            pen.text(x, foot + 1.6, said, 7, REGULAR, INK2, "middle")
            end = x + half


def _apart(spots: Sequence[Spot]) -> Sequence[Spot]:
    """Of very many points the highest, the lowest, and others that have room for a disc."""
    if len(spots) <= 40:
        return spots
    found = [max(spots, key=lambda s: s[3]), min(spots, key=lambda s: s[3])]
    for s in spots:
        if all(abs(s[0] - other[0]) >= 1.3 for other in found):
            found.append(s)
    return found


def _um(value: float) -> str:
    return f"{round(value):+d}".replace("-", "−")


# -- length ----------------------------------------------------------------------


def life(pen: Pen, line: LifeLine, left: float, y: float, wide: float) -> None:
    """New on the left, minimum on the right; done thick, to come hollow, beyond hatched."""
    if line.now is None or line.minimum is None:
        return
    values = [v for _, _, v in (*line.done, line.now, *line.to_come)] + [line.minimum[2]]
    high, low = max(values), min(values)
    span = max(high - low, 1e-6)
    x1 = left + wide - 10

    def at(v: float) -> float:
        return left + (x1 - left) * (high - v) / span

    now, end = at(line.now[2]), at(line.minimum[2])
    pen.line((at(high), y), (now, y), 0.8)
    pen.line((now, y), (end, y), 0.2)
    pen.hatch(end, y - 1.3, max(left + wide - end, 10), 2.6)
    pen.line((end, y - 2), (end, y + 2), 0.35)
    for _, _, v in line.done:
        pen.line((at(v), y - 1.2), (at(v), y + 1.2), 0.25)
    for _, _, v in line.to_come:
        pen.disc(at(v), y, 1.1, WHITE, 0.3)
    pen.disc(now, y, 1.3, MEASURED)
    _life_labels(pen, line, at, y)


def _life_labels(pen: Pen, line: LifeLine, at: Place, y: float) -> None:
    """Labels never closer than 9 mm: the older goes first; now and the minimum always stand."""
    assert line.now is not None  # noqa: S101 - the caller looks first
    assert line.minimum is not None  # noqa: S101
    taken: list[float] = []
    wanted: list[tuple[float, str, str, bool]] = [
        (at(line.now[2]), line.now[0], line.now[1], True),
        (at(line.minimum[2]), line.minimum[0], line.minimum[1], True),
    ]
    later: Sequence[tuple[str, str, float]] = (*line.to_come, *reversed(line.done))
    wanted += [(at(v), name, text, False) for name, text, v in later]
    for x, name, text, strong in wanted:
        if not strong and any(abs(x - other) < 13 for other in taken):
            continue
        taken.append(x)
        colour = MEASURED if name == line.now[0] else INK
        font = SEMIBOLD if strong else REGULAR
        pen.text(x, y - 3.4, name, 7, font, colour if strong else INK2, "middle")
        pen.text(x, y + 5, text, 7, font, colour if strong else INK2, "middle")
