"""Marks by which edges are told apart without colour: eight hollow shapes of one size."""

from __future__ import annotations

import math

from report_templates.pen import INK, WHITE, Pen

R = 0.8
"""Half the size of a mark, mm."""
_THICK = 0.16


def _polygon(corners: int, first_deg: float, r: float) -> tuple[tuple[float, float], ...]:
    turns = [math.radians(first_deg + 360 * n / corners) for n in range(corners)]
    return tuple((r * math.cos(t), r * math.sin(t)) for t in turns)


_SHAPES: tuple[tuple[tuple[float, float], ...], ...] = (
    (),
    _polygon(4, 45, 1.05 * R),
    _polygon(3, -90, 1.15 * R),
    _polygon(4, 0, 1.15 * R),
    _polygon(3, 90, 1.15 * R),
    ((-R, -R), (R, R), (R, -R), (-R, R)),
    ((-R, -R), (R, R), (-R, R), (R, -R)),
    ((-1.1 * R, -0.5 * R), (1.1 * R, -0.5 * R), (1.1 * R, 0.5 * R), (-1.1 * R, 0.5 * R)),
)
COUNT = len(_SHAPES)


def edge_mark(pen: Pen, n: int, x: float, y: float, size: float = 1.0) -> None:
    """The mark of the nth edge that is drawn, from 0; its middle at (x, y)."""
    shape = _SHAPES[n % COUNT]
    if not shape:
        pen.disc(x, y, 0.85 * R * size, WHITE, _THICK, INK)
        return
    corners = [(x + size * px, y + size * py) for px, py in shape]
    pen.path(corners, _THICK, INK, fill=WHITE, closed=True)
