"""Sketch of an end mill with square ends."""

from __future__ import annotations

from inspect_rec.report.content import Content
from report_templates.pen import Pen
from report_templates.sketches.parts import (
    MOST_EDGES,
    Numbers,
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
    """Flutes from the side, the edges from the tip."""
    y, r, x0, end = top + 12.0, 9.0, left + 6.0, left + 48.0
    pen.path([(end, y + r), (x0, y + r), (x0, y - r), (end, y - r)], 0.35)
    pen.line((end, y - r), (end, y + r), 0.12)
    helix(pen, lambda _x: r, x0, end, y, min(c.edges, MOST_EDGES), c.hand, 1.7 * (end - x0))
    shank(pen, end, left + 80, y, r)
    axis(pen, left + 1, left + 85, y)
    end_view(pen, left + 18, top + 41, 8, c.edges)
    seen(pen, c, left + 31, top + 31.5)
    numbered(
        numbers,
        {
            "DC": lambda k: balloon(pen, k, (left + 3, top - 0.5), (x0 + 3.5, y - r)),
            "edge": lambda k: balloon(pen, k, (left + 3, top + 33), (left + 18, top + 33.4)),
            "edge_variation": lambda k: balloon(
                pen, k, (left + 32, top + 47), (left + 25.6, top + 41)
            ),
            "length": lambda k: length_line(pen, k, x0, left + 80, y + r + 4.5),
        },
    )
