"""A shop's own head: its logo in the place of its name, and a further line. Nothing else moves."""

from __future__ import annotations

from io import BytesIO

from reportlab.lib.utils import ImageReader

from inspect_rec.errors import ReportError
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


def room(wide_px: int, high_px: int) -> tuple[float, float]:
    """Width and height of a picture in the room of a logo, mm."""
    scale = min(WIDE / wide_px, HIGH / high_px)
    return wide_px * scale, high_px * scale


def logo(pen: Pen, data: bytes) -> None:
    """The logo, left, on the baseline of the name that it replaces."""
    picture = ImageReader(BytesIO(_flat(data)))
    wide, high = room(*picture.getSize())
    pen.picture(picture, LEFT, _TOP + HIGH - high, wide, high)


def _flat(data: bytes) -> bytes:
    """A JPEG as it is; of a PNG its colours on white, since what lets the ground through needs
    more than every reader can do."""
    from PIL import Image

    with Image.open(BytesIO(data), formats=("PNG", "JPEG")) as found:
        if found.format == "JPEG":
            return data
        if found.mode.startswith("I"):
            deep = found.convert("I").point(lambda level: level / 256)
            picture = deep.convert("L").convert("RGBA")
        else:
            picture = found.convert("RGBA")
        ground = Image.new("RGBA", picture.size, "white")
        out = BytesIO()
        Image.alpha_composite(ground, picture).convert("RGB").save(out, "PNG")
    return out.getvalue()


def line(pen: Pen, said: str) -> None:
    """The shop's further line."""
    pen.fitted(LEFT, _LINE, said, LIVE, 7, REGULAR, INK2)
