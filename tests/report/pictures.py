"""Pages as pictures, kept in ``fixtures/pictures``: a change of look is seen before it is sent out.

``python -m tests.report.pictures`` keeps today's, once somebody has looked at them.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pypdfium2
from PIL import Image

from tests.report import samples

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "fixtures" / "pictures"
SEEN = ROOT / "look-out"
"""Every run leaves its pages here, and what differs from those that are kept."""
DPI = 60
NAMES = {
    "I1": 3,
    "I2": 3,
    "I3": 3,
    "I3, German": 3,
    "Korean names": 1,
    "contour": 2,
    "emptiest": 2,
    "foreign names": 3,
    "known tool": 3,
    "known tool, German": 3,
    "longest": 3,
}
"""Reports that are kept, and how many pages of each."""
_GREYS = 16
_SEEN_AT = 64
"""Steps of grey, of 255, from which a difference is seen."""


def page_names() -> list[tuple[str, int]]:
    """All pages that are kept, by report and index."""
    return [(name, n) for name, pages in NAMES.items() for n in range(pages)]


def file_name(name: str, page: int) -> str:
    """The name of a page's picture."""
    return f"{name.replace(', ', '-').replace(' ', '-')}-{page + 1}.png"


def drawn(name: str, page: int) -> Image.Image:
    """A page as it looks today, in grey."""
    document = pypdfium2.PdfDocument(samples.rendered(name))
    bitmap = document[page].render(scale=DPI / 72, grayscale=True)
    picture: Image.Image = bitmap.to_pil().convert("L")
    return picture


def png(picture: Image.Image) -> bytes:
    """The file of a picture, small."""
    out = BytesIO()
    picture.quantize(_GREYS).save(out, "PNG", optimize=True)
    return out.getvalue()


def differing(one: Image.Image, other: Image.Image) -> tuple[float, Image.Image]:
    """The share of pixels that look different, and where: black."""
    if one.size != other.size:
        return 1.0, one
    pairs = zip(one.tobytes(), other.tobytes(), strict=True)
    where = bytes(0 if abs(a - b) >= _SEEN_AT else 255 for a, b in pairs)
    return where.count(0) / len(where), Image.frombytes("L", one.size, where)


def main() -> None:
    """Keeps today's pictures."""
    KEPT.mkdir(parents=True, exist_ok=True)
    for old in KEPT.glob("*.png"):
        old.unlink()
    for name, page in page_names():
        (KEPT / file_name(name, page)).write_bytes(png(drawn(name, page)))


if __name__ == "__main__":
    main()
