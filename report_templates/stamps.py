"""The visible blocks of the two signatures, drawn when they are made, at the size of their box."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from inspect_rec.report.content import mapped
from report_templates import letter
from report_templates.lettering import MM, REGULAR, SEMIBOLD, printable
from report_templates.pen import INK2, Pen
from report_templates.sheet import A4, THIRD, Paper


@dataclass(frozen=True, slots=True)
class Stamp:
    """What a signature's block says. ``role`` and ``meaning`` empty: they stand on the page."""

    name: str
    lines: tuple[str, ...]
    role: str = ""
    meaning: str = ""
    released: bool = True
    more: str = "…"
    """What ends a reason that is too long for the block."""


def size(field: str, paper: Paper = A4) -> tuple[float, float]:
    """Width and height of a field's block, points."""
    _, x0, y0, x1, y1 = letter.boxes(paper)[field]
    return x1 - x0, y1 - y0


def draw(canvas: Canvas, stamp: Stamp, field: str, paper: Paper = A4) -> None:
    """The block on a page of its own, to lie exactly where its third of the foot is."""
    _, high = size(field, paper)
    stamp = mapped(stamp, printable)
    pen = Pen(canvas, high / MM, stamp.more)
    x, top = letter.origin(field, paper)
    if stamp.role:
        if stamp.released:
            pen.rule(top, x, THIRD)
        else:
            pen.stripes(top - 0.7, x, THIRD, 1.4)
        pen.text(x, top + 4, stamp.role, 8, SEMIBOLD)
        pen.fitted(x, top + 7.6, stamp.meaning, THIRD, 7, REGULAR, INK2)
        letter.brackets(pen, x, top + 10.5)
    _name(pen, stamp, x + 3, top + 10.5)


def _name(pen: Pen, stamp: Stamp, x: float, y: float) -> None:
    """Name, instant, key, and the reason where there is one: up to three lines, then the
    words that tell where all of it is."""
    wide = THIRD - 6
    at, key, *reason = stamp.lines
    lines = letter.name_of(pen, stamp.name, x, y, high=bool(reason))
    base = y + (7.9 if reason else 10.3) + (3.1 if reason and lines > 1 else lines - 1)
    pen.fitted(x, base, at, wide)
    pen.fitted(x, base + (2.8 if reason else 3.1), key, wide, 7, REGULAR, INK2)
    base, room = base + 5.3, 3 - (lines > 1)
    for n, said in enumerate(reason):
        left = room if n == len(reason) - 1 else 1
        used = pen.fitted(x, base, said, wide, 7, REGULAR, INK2, left, 2.3, wrapped=6.5)
        base, room = base + 2.4 * used, max(1, room - used)
