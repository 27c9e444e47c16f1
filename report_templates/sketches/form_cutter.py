"""Sketch of a form cutter with a concave radius."""

from __future__ import annotations

import math

from inspect_rec.report.content import Content
from report_templates.lettering import REGULAR, SEMIBOLD
from report_templates.pen import INK2, WHITE, Pen, Point
from report_templates.sketches.parts import (
    MOST_EDGES,
    Numbers,
    arc,
    axis,
    balloon,
    numbered,
    seen,
)


def draw(pen: Pen, c: Content, left: float, top: float, numbers: Numbers) -> None:
    """The face with its profile above, the cutter along its axis below."""
    x0, y0, wide, high, r = left + 14.0, top + 1.5, 40.0, 19.5, 12.0
    middle = (x0 + wide / 2, y0)
    hollow = arc(middle, r, 180, 360, 48)
    edge = [(x0, y0 + high), (x0, y0), *hollow, (x0 + wide, y0), (x0 + wide, y0 + high)]
    pen.path(edge, 0.35)
    pen.path(
        [(x0 + wide * t / 24, y0 + high + 0.7 * math.sin(math.pi * t / 4)) for t in range(25)], 0.2
    )
    pen.text(middle[0], y0 + high - 2.4, c.words["page.face"], 7, REGULAR, INK2, "middle")
    cx, cy = left + 22.0, top + 40.0
    _teeth(pen, c, cx, cy, 8.6)
    seen(pen, c, left + 42, top + 47, "page.seen_cutter")
    numbered(
        numbers,
        {
            "R": lambda k: balloon(pen, k, (left + 5, top + 6), hollow[10]),
            "profile": lambda k: balloon(pen, k, (middle[0], y0 + 4.5), hollow[24]),
            "R_variation": lambda k: balloon(pen, k, (left + 63, top + 6), hollow[38]),
            "radial_spread": lambda k: balloon(pen, k, (left + 5, top + 47), (cx - 8.2, cy + 0.4)),
            "face": lambda k: balloon(pen, k, (left + 40, top + 35), (cx, cy - 6.8)),
        },
    )


def _teeth(pen: Pen, c: Content, cx: float, cy: float, r: float) -> None:
    """Relieved teeth along the axis, each with its face in front."""
    shown = min(c.edges, MOST_EDGES)
    step = 2 * math.pi / shown
    axis(pen, cx - r - 1, cx + r + 1, cy)
    pen.disc(cx, cy, 2.8, WHITE, 0.3)
    for k in range(shown):
        a = math.radians(90 - 360 * k / shown)

        def at(share: float, turn: float, a: float = a) -> Point:
            return cx + r * share * math.cos(a + turn), cy - r * share * math.sin(a + turn)

        relief = [at(1 - 0.035 * t, 0.1 * t * step) for t in range(8)]
        pen.path([at(0.5, 0), *relief, at(0.6, 0.82 * step), at(0.5, step)], 0.3)
        x, y = at(1 + 2.6 / r, 0)
        pen.text(x, y + 0.9, str(k + 1), 7.5, SEMIBOLD, align="middle")
