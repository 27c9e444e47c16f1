"""What stands on the pages of a file against what must stand there, line by line."""

from __future__ import annotations

import hashlib
import io
import zlib
from collections.abc import Sequence

import pikepdf

from inspect_rec.errors import InspectRecError
from inspect_rec.report import pdf
from inspect_rec.report.finding import Code, Findings
from inspect_rec.report.signatures import FORGED, Signed


def pages(data: bytes, again: bytes, said: Findings) -> None:
    """The text on the pages against the text of the same file made again."""
    try:
        found = pdf.text_of(data)
    except (InspectRecError, RuntimeError, *FORGED) as error:
        said.add(Code.PRINTED, "pages whose text can be read", str(error)[:200])
        return
    expected = pdf.text_of(again)
    if len(found) != len(expected):
        said.add(Code.PRINTED, f"{len(expected)} pages", f"{len(found)} pages")
    for number, (want, have) in enumerate(zip(expected, found, strict=False), 1):
        for wanted, printed in _differences(want, have):
            said.add(Code.PRINTED, f"page {number}: {wanted}", printed)


def pictures(data: bytes, again: bytes, said: Findings) -> None:
    """The pictures on the pages against those of the same file made again, pixel by pixel; of a
    JPEG byte by byte, since it stands in the file as it is."""
    try:
        found = _pictures(data)
    except (pikepdf.PdfError, ValueError, RuntimeError, zlib.error, *FORGED) as error:
        said.add(Code.PRINTED, "pictures that can be read", str(error)[:200])
        return
    for number, (want, have) in enumerate(zip(_pictures(again), found, strict=False), 1):
        if want != have:
            what = f"page {number}: {len(want)} pictures, as they are attached"
            said.add(Code.PRINTED, what, f"{len(have)}, or others")


def _pictures(data: bytes) -> list[list[str]]:
    with pikepdf.open(io.BytesIO(data)) as file:
        return [sorted(map(_digest, page.get_images().values())) for page in file.pages]


def _digest(image: pikepdf.Object) -> str:
    """Of a picture's size, colours and pixels; ValueError where they are packed otherwise than
    the program packs them. Never unpacks more than the picture's size is."""
    packing = image.get("/Filter", pikepdf.Name.FlateDecode)
    if isinstance(packing, pikepdf.Array) and len(packing) == 1:
        packing = packing[0]
    pixels = bytes(image.read_raw_bytes())
    if packing == pikepdf.Name.FlateDecode and "/DecodeParms" not in image:
        most = int(image.Width) * int(image.Height) * 3
        pixels = zlib.decompressobj().decompress(pixels, most + 1)
    elif packing != pikepdf.Name.DCTDecode:
        raise ValueError(f"a picture is packed in an unknown way: {packing}"[:80])
    size = f"{image.Width} {image.Height} {image.ColorSpace}\0".encode()
    return hashlib.sha256(size + pixels).hexdigest()


def _differences(want: Sequence[str], have: Sequence[str]) -> list[tuple[str, str]]:
    """The first lines in which two pages differ, at most five."""
    if list(want) == list(have):
        return []
    length = max(len(want), len(have))
    padded = zip(
        [*want, *[""] * (length - len(want))], [*have, *[""] * (length - len(have))], strict=True
    )
    return [(w or "nothing", h or "nothing") for w, h in padded if w != h][:5]


def block(data: bytes, signed: Signed, drawn: bytes, paper: str, said: Findings) -> None:
    """The visible block of a signature against the one that it must bear, ``drawn`` again."""
    expected = pdf.text_of(drawn)[0]
    try:
        found = pdf.text_of_appearance(data, signed.field, paper)
    except (InspectRecError, RuntimeError, *FORGED) as error:
        found = (f"nothing that can be read: {error}"[:200],)
    if expected != found:
        said.add(Code.PRINTED, f"{signed.role}: {' | '.join(expected)}", " | ".join(found))
