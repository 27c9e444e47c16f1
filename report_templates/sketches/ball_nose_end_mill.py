"""Sketch of a ball nose end mill."""

from __future__ import annotations

import math

from inspect_rec.report.content import Content
from report_templates.lettering import REGULAR
from report_templates.pen import INK2, Pen
from report_templates.sketches.parts import (
    MOST_EDGES,
    Numbers,
    arc,
    axis,
    balloon,
    end_view,
    helix,
    length_line,
    numbered,
    seen,
    shank,
)


def draw(pen: Pen, c: Content, left: float, top: float, numbers: Numbers) -> None:
    """Ball and flutes from the side, the edges from the tip, the land behind an edge."""
    y, r, x0, end = top + 12.0, 9.0, left + 6.0, left + 48.0
    ball = arc((x0 + r, y), r, -90, -270, 60)
    pen.path([(end, y + r), *ball, (end, y - r)], 0.35)
    pen.line((end, y - r), (end, y + r), 0.12)

    def radius(x: float) -> float:
        return math.sqrt(max(0.0, r * r - (x0 + r - x) ** 2)) if x < x0 + r else r

    helix(pen, radius, x0, end, y, min(c.edges, MOST_EDGES), c.hand, 1.7 * (end - x0))
    for side in (-1, 1):
        pen.line((end, y + side * r), (end + 3, y + side * (r - 0.4)))
    shank(pen, end + 3, left + 80, y, r - 0.4)
    axis(pen, left + 1, left + 85, y)
    on = x0 + r - r * math.cos(math.radians(50)), y - r * math.sin(math.radians(50))
    end_view(pen, left + 18, top + 41, 8, c.edges)
    seen(pen, c, left + 31, top + 31.5)
    numbered(
        numbers,
        {
            "R": lambda k: balloon(pen, k, (left + 3, top + 1), on),
            "R_variation": lambda k: balloon(
                pen, k, (left + 32, top + 47), (left + 25.6, top + 41)
            ),
            "tip_spread": lambda k: balloon(pen, k, (left + 2.5, y + 9.5), (x0, y)),
            "clearance": lambda k: _land(pen, c, left + 60, top + 37, k),
            "length": lambda k: length_line(pen, k, x0, left + 80, y + r + 4.5),
        },
    )


def _land(pen: Pen, c: Content, x: float, y: float, number: int) -> None:
    """The land behind an edge, with its clearance angle."""
    outline = [(x - 2.4, y + 11), (x - 3.6, y + 6), (x, y), (x + 10, y + 2.3), (x + 14, y + 11)]
    pen.path(outline, 0.3)
    pen.line((x, y), (x + 16.5, y), 0.12, INK2, (0.8, 0.6))
    pen.line((x + 10, y + 2.3), (x + 14.5, y + 3.34), 0.12, INK2)
    pen.path(arc((x, y), 13.5, 0, -13), 0.15, INK2)
    balloon(pen, number, (x + 20.5, y + 1.6), (x + 13.4, y + 1.6))
    pen.text(x + 4.7, y + 7.6, c.words["page.land"], 7, REGULAR, INK2, "middle")
