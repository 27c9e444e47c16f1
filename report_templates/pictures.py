"""Pictures on a page: as their files are, never stretched, turned as their camera says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

from reportlab.lib.utils import ImageReader

from inspect_rec.report.content import Picture
from report_templates.flow import Flow
from report_templates.lettering import REGULAR, SEMIBOLD, wrap
from report_templates.pen import INK2, Pen
from report_templates.sheet import HALF, LEFT

HIGH = 64.5
"""Room of a picture beside another, mm: three to four of the width."""
_ORIENTATION = 0x0112
"""Tag of EXIF: how a camera was held (CIPA DC-008; from memory)."""
_TURNS = {3: 180, 6: 90, 8: 270}
"""Its values, and by how many degrees to the right the picture is turned upright. Mirrored ones
stay as they are."""


def flat(data: bytes) -> bytes:
    """A picture as it is; of a PNG that lets the ground through its colours on white, since that
    needs more than every reader can do."""
    from PIL import Image

    with Image.open(BytesIO(data), formats=("PNG", "JPEG")) as found:
        opaque = found.mode in {"RGB", "L"} and "transparency" not in found.info
        if found.format == "JPEG" or opaque:
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


def turned(data: bytes) -> int:
    """By how many degrees to the right a JPEG is to be turned; 0 for a PNG."""
    from PIL import Image

    with Image.open(BytesIO(data), formats=("PNG", "JPEG")) as found:
        if found.format != "JPEG":
            return 0
        return _TURNS.get(found.getexif().get(_ORIENTATION, 1), 0)


def room(size: tuple[int, int], wide: float, high: float) -> tuple[float, float]:
    """Width and height of so many pixels in a room, mm."""
    scale = min(wide / size[0], high / size[1])
    return size[0] * scale, size[1] * scale


def draw(pen: Pen, data: bytes, x: float, y: float, wide: float, high: float) -> None:
    """A picture in the room that begins there, at its foot and in its middle."""
    picture, turn = ImageReader(BytesIO(flat(data))), turned(data)
    size: tuple[int, int] = picture.getSize()
    w, h = room(size[::-1] if turn % 180 else size, wide, high)
    pen.picture(picture, x + (wide - w) / 2, y + high - h, w, h, turn)


def block(flow: Flow, pictures: Sequence[Picture], words: Mapping[str, str]) -> None:
    """Two beside each other, each with what it shows; the heading stays with the first row."""
    for n in range(0, len(pictures), 2):
        _row(flow, pictures[n : n + 2], words["pictures.heading"] if n == 0 else "")


def _row(flow: Flow, row: Sequence[Picture], heading: str) -> None:
    top = 6.5 if heading else 0.0
    said = [(wrap(p.title, SEMIBOLD, 7.5, HALF), wrap(p.about, REGULAR, 7, HALF)) for p in row]
    lines = max(len(title) + len(about) for title, about in said)

    def drawn(pen: Pen, y: float) -> None:
        if heading:
            pen.rule(y)
            pen.heading(LEFT, y + 4, heading)
        for k, (picture, (title, about)) in enumerate(zip(row, said, strict=True)):
            x, base = LEFT + k * (HALF + 4), y + top + HIGH + 3.6
            draw(pen, picture.data, x, y + top, HALF, HIGH)
            with pen.leaf():
                for line in title:
                    pen.text(x, base, line, 7.5, SEMIBOLD)
                    base += 3.2
            with pen.leaf():
                for line in about:
                    pen.text(x, base, line, 7, REGULAR, INK2)
                    base += 3.2

    flow.place(top + HIGH + 3.6 + 3.2 * lines + 3, drawn)
