"""The visible blocks of the two signatures, drawn when they are made, at the size of their box."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from report_templates import letter
from report_templates.pen import INK2, MM, REGULAR, SEMIBOLD, Pen


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a signature's block says. ``role`` and ``meaning`` empty: they stand on the page."""

    name: str
    lines: tuple[str, ...]
    role: str = ""
    meaning: str = ""
    released: bool = True


def size(field: str) -> tuple[float, float]:
    """Width and height of a field's block, points."""
    _, x0, y0, x1, y1 = letter.boxes()[field]
    return x1 - x0, y1 - y0


def draw(canvas: Canvas, stamp: Stamp, field: str) -> None:
    """The block on a page of its own."""
    _, high = size(field)
    pen = Pen(canvas, high / MM)
    if not stamp.role:
        _name(pen, stamp, 0.0)
        return
    top = 2.4
    if stamp.released:
        pen.rule(top, 0, letter.THIRD)
    else:
        pen.stripes(top - 0.7, 0, letter.THIRD, 1.4)
    pen.text(0, top + 4, stamp.role, 8, SEMIBOLD)
    pen.fitted(0, top + 7.6, stamp.meaning, letter.THIRD, 7, REGULAR, INK2)
    letter.brackets(pen, 0.2, top + 10.5)
    _name(pen, stamp, top + 10.5)


def _name(pen: Pen, stamp: Stamp, y: float) -> None:
    wide = letter.THIRD - 6
    pen.fitted(3, y + 6, stamp.name, wide, 11, SEMIBOLD)
    lines: Sequence[str] = stamp.lines
    for n, line in enumerate(lines):
        size_, colour = (8.5, None) if n == 0 else (7, INK2)
        if colour is None:
            pen.fitted(3, y + 10.3, line, wide, size_)
        else:
            pen.fitted(3, y + 10.3 + 3.4 * n, line, wide, size_, REGULAR, colour)
