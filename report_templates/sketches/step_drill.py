"""Sketch of a step drill with two lips."""

from __future__ import annotations

from inspect_rec.report.content import Content
from report_templates.lettering import REGULAR, SEMIBOLD
from report_templates.pen import INK2, LINE, Pen, Point
from report_templates.sketches.parts import (
    Numbers,
    arc,
    axis,
    balloon,
    helix,
    length_line,
    numbered,
    seen,
    shank,
)


def draw(pen: Pen, c: Content, left: float, top: float, numbers: Numbers) -> None:
    """Point, step and flutes from the side; lips and chisel edge from the tip."""
    y, r1, r2 = top + 12.0, 6.8, 9.0
    tip, corner, step, end = left + 6.0, left + 9.2, left + 37.0, left + 54.0
    top_edge = [(tip, 0.0), (corner, r1), (step, r1), (step + r2 - r1, r2)]
    upper = [(x, y - dy) for x, dy in top_edge]
    lower = [(x, y + dy) for x, dy in top_edge]
    pen.path([(end, y + r2), *reversed(lower), *upper[1:], (end, y - r2)], 0.35)
    for x, r in ((step, r1), (step + r2 - r1, r2), (end, r2)):
        pen.line((x, y - r), (x, y + r), 0.12)

    def radius(x: float) -> float:
        if x < corner:
            return r1 * (x - tip) / (corner - tip)
        return r1 if x < step else min(r2, r1 + x - step)

    helix(pen, radius, corner, end, y, 2, c.hand, 0.95 * (end - corner))
    shank(pen, end, left + 80, y, r2)
    axis(pen, left + 1, left + 85, y)
    pen.path(arc((tip, y), 6.0, -65, 65), 0.15, INK2)
    _side_numbers(pen, numbers, left, top, y, (tip, corner, step), (r1, r2))
    _lips(pen, c, numbers, left, top)


def _side_numbers(
    pen: Pen,
    numbers: Numbers,
    left: float,
    top: float,
    y: float,
    xs: tuple[float, float, float],
    radii: tuple[float, float],
) -> None:
    tip, corner, step = xs
    r1, r2 = radii
    numbered(
        numbers,
        {
            "SIG": lambda k: balloon(pen, k, (left + 2.5, y - 9), (tip + 1.6, y - 3.4)),
            "DC_1": lambda k: balloon(pen, k, (left + 20, top - 0.5), (left + 23.5, y - r1)),
            "STA": lambda k: balloon(pen, k, (left + 35, top - 0.5), (step + 1.1, y - r1 - 1.1)),
            "DC_2": lambda k: balloon(pen, k, (left + 52, top - 2.2), (left + 48, y - r2)),
            "SDL": lambda k: length_line(pen, k, corner, step, y + r2 + 3.5),
        },
    )


def _lips(pen: Pen, c: Content, numbers: Numbers, left: float, top: float) -> None:
    """Lips, lands and chisel edge as seen from the tip; lip 1 to the right."""
    cx, cy, r, web, chisel = left + 18.0, top + 41.0, 8.5, 1.0, 0.55
    pen.disc(cx, cy, r, None, 0.12, LINE)
    for side in (1, -1):

        def at(x: float, up: float, side: int = side) -> Point:
            return cx + side * x, cy - side * up

        turned = 0 if side == 1 else 180
        land = arc((cx, cy), r, 187 + turned, 84 + turned)
        heel = [at(*_curve(t / 12, r, web, chisel)) for t in range(13)]
        pen.path([at(-r * 0.993, -web), *land[1:], *heel, at(r * 0.993, web)], 0.3)
        x, _ = at(r + 2.4, 0)
        pen.text(x, cy + 0.9, "1" if side > 0 else "2", 7.5, SEMIBOLD, align="middle")
    pen.line((cx - chisel, cy + web), (cx + chisel, cy - web), 0.45)
    upper = [numbers[k] for k in ("chisel", "chisel_offset") if k in numbers]
    lower = [numbers[k] for k in ("lip_symmetry", "lip_height") if k in numbers]
    for which, y, to, word in (
        (upper, top + 35.0, (cx, cy), "page.chisel"),
        (lower, top + 48.0, (cx + 4.6, cy - web), "page.lips"),
    ):
        if which:
            balloon(pen, which, (left + 36, y), to)
            x = left + 40 + 4.6 * (len(which) - 1)
            pen.text(x, y + 0.9, c.words[word], 7, REGULAR, INK2)
    seen(pen, c, left + 40, top + 40.5)


def _curve(t: float, r: float, web: float, chisel: float) -> Point:
    """From the end of a land over the heel to the inner end of the other lip (quadratic)."""
    ends = ((0.105 * r, 0.994 * r), (-0.1 * r, 0.3 * r), (chisel, web))
    weights = ((1 - t) ** 2, 2 * t * (1 - t), t * t)
    x, up = (sum(w * p[k] for w, p in zip(weights, ends, strict=True)) for k in (0, 1))
    return x, up
