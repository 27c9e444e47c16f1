"""A shop's own head: its logo in the place of its name, and a further line. Nothing else moves."""

from __future__ import annotations

from io import BytesIO

from reportlab.lib.utils import ImageReader

from inspect_rec.errors import ReportError
from report_templates import pictures
from report_templates.lettering import REGULAR, fit, fonts, printable, width
from report_templates.pen import INK2, Pen
from report_templates.sheet import LEFT, LIVE

WIDE, HIGH = 40.0, 10.0
"""Room of a logo, mm; it is never stretched."""
_TOP, _LINE = 5.6, 22.7


def over(line: str) -> float:
    """By how much a line is wider than the head, mm, where even its smallest cut is; else 0."""
    fonts()
    try:
        said = printable(line)
    except ReportError:
        return 0.0
    found = fit(said, LIVE, 7)
    return 0.0 if found.whole else max(width(said, found.font, found.size) - LIVE, 0.1)


def logo(pen: Pen, data: bytes) -> None:
    """The logo, left, on the baseline of the name that it replaces."""
    picture = ImageReader(BytesIO(pictures.flat(data)))
    wide, high = pictures.room(picture.getSize(), WIDE, HIGH)
    pen.picture(picture, LEFT, _TOP + HIGH - high, wide, high)


def line(pen: Pen, said: str) -> None:
    """The shop's further line."""
    pen.fitted(LEFT, _LINE, said, LIVE, 7, REGULAR, INK2)
