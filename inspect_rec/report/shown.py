"""How the pages look and what the file holds besides, against the same file made again.

Text that is right can lie under a white box, outside the paper or behind swapped letters, and a
picture can be masked. So each page is drawn by an independent engine (PDFium), and all that isn't
drawn (outlines, attachments' streams, metadata, the tree of headings) is held object by object.
"""

from __future__ import annotations

import io
import zlib
from collections import deque
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
from numpy.typing import NDArray
from pikepdf import Array, Dictionary, Name, Stream

from inspect_rec.errors import InspectRecError
from inspect_rec.report.finding import Code, Findings
from inspect_rec.report.pdf import Rendered
from inspect_rec.report.signatures import FORGED

_SCALE = 2.0
"""Pixels a point: the smallest digit of a report is some ten pixels high."""
_FAINTEST = 24
"""How far the colour of a pixel may be off, of 255. Another version of a library may round a place
on the page otherwise, by less than a hundredth of a pixel; the lightest grey that a report uses
differs from white by more than this."""
_MOST = 5
"""Findings of each kind."""
_DRAWN = {"/Contents", "/Font"}
"""What a page is drawn with: another library may write it otherwise, so it is looked at."""
_ROOM = 4096
"""Bytes by which the contents of a page may be more than twice as long as when they are made
again: drawing takes its time, and without end where they are."""
_MM = 25.4 / 72


def against(
    data: bytes, base: bytes | None, made: Rendered, stamps: Mapping[str, bytes], said: Findings
) -> None:
    """The signed file against its pages made again, with the visible block of each signature,
    ``stamps``, by its field. ``base``: the file before any signature; where it is the same to the
    byte, only pages with a block are looked at. Where it wasn't found, or text or attachments are
    others, that was said already, and nothing is looked at."""
    if base is None or {f.code for f in said.found} & {Code.PRINTED, Code.ATTACHMENT}:
        return
    same = base == made.pdf
    try:
        flaws = [] if same else list(held(base, made.pdf))
        for expected, found in flaws[:_MOST]:
            said.add(Code.PRINTED, expected, found)
        if flaws:
            return
        boxes = {made.boxes[name].page for name in stamps} if same else None
        for expected, found in _looked(data, _stamped(made, stamps), boxes):
            said.add(Code.PRINTED, expected, found)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.PRINTED, "pages that can be drawn", str(error)[:200])


# -- what is drawn ------------------------------------------------------------------


def _stamped(made: Rendered, stamps: Mapping[str, bytes]) -> bytes:
    """The file made again, each visible block in its box."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(made.pdf)) as file:
        for name, drawn in stamps.items():
            box = made.boxes[name]
            with pikepdf.open(io.BytesIO(drawn)) as stamp:
                edges = pikepdf.Rectangle(box.x0, box.y0, box.x1, box.y1)
                file.pages[box.page].add_overlay(stamp.pages[0], edges)
        file.save(out)
    return out.getvalue()


def _looked(data: bytes, again: bytes, numbers: set[int] | None) -> Iterator[tuple[str, str]]:
    """Where pages look otherwise; ``numbers``: of which pages, from 0, or all."""
    have, want = pypdfium2.PdfDocument(data), pypdfium2.PdfDocument(again)
    try:
        have.init_forms()  # signatures' blocks are drawn by the form alone
        for n in range(min(len(have), len(want))):
            if numbers is not None and n not in numbers:
                continue
            if have[n].get_size() != want[n].get_size():
                yield f"page {n + 1}: {_size(want[n])}", _size(have[n])
            elif (where := _apart(_pixels(want[n]), _pixels(have[n]))) is not None:
                yield f"page {n + 1}: as it is drawn again", f"another look {where}"
    finally:
        have.close()
        want.close()


def _size(page: pypdfium2.PdfPage) -> str:
    wide, high = page.get_size()
    return f"{wide * _MM:.0f} × {high * _MM:.0f} mm"


def _pixels(page: pypdfium2.PdfPage) -> NDArray[np.uint8]:
    """A page with its forms, which are always drawn with smoothing in colours: so the rest, too."""
    drawn: NDArray[np.uint8] = page.render(scale=_SCALE, optimize_mode="lcd").to_numpy()
    return drawn


def _apart(want: NDArray[np.uint8], have: NDArray[np.uint8]) -> str | None:
    """The place, from the upper left corner, in which two pages look otherwise."""
    if np.array_equal(want, have):
        return None
    off = np.abs(want.astype(np.int16) - have).max(axis=2)
    rows, columns = np.nonzero(off > _FAINTEST)
    if not len(rows):
        return None
    mm = _MM / _SCALE
    across = f"{columns.min() * mm:.0f} to {(columns.max() + 1) * mm:.0f} mm from the left"
    return f"{across}, {rows.min() * mm:.0f} to {(rows.max() + 1) * mm:.0f} mm from the top"


# -- what isn't drawn ---------------------------------------------------------------


def held(data: bytes, again: bytes) -> Iterator[tuple[str, str]]:
    """Where the objects of two files differ, whatever their numbers are; those that draw pages
    aside. Each object of the file made again is gone to once, so no file takes longer."""
    with (
        pikepdf.open(io.BytesIO(data), attempt_recovery=False) as have,
        pikepdf.open(io.BytesIO(again)) as want,
    ):
        met: dict[tuple[int, int], tuple[int, int]] = {}
        waiting: deque[tuple[str, Any, Any]] = deque([("the file", want.Root, have.Root)])
        while waiting:
            where, one, other = waiting.popleft()
            number = _number(one)
            if number in met:
                if met[number] != _number(other):
                    yield f"{where}: one object", "another"
                continue
            if number[0]:
                met[number] = _number(other)
            flaw = _unlike(one, other)
            if flaw is not None:
                yield f"{where}: {flaw[0]}"[:200], flaw[1][:200]
                continue
            waiting += ((f"{where} {key}", a, b) for key, a, b in _parts(one, other))


def _number(thing: Any) -> tuple[int, int]:
    """An object's number; (0, 0) where it stands inside another."""
    return thing.objgen if isinstance(thing, pikepdf.Object) else (0, 0)


def _unlike(one: Any, other: Any) -> tuple[str, str] | None:
    """How an object differs in itself; what it holds has its own turn."""
    if isinstance(one, Dictionary | Stream):
        if type(one) is type(other):
            return _keys_unlike(one, other)
        return "a dictionary" if isinstance(one, Dictionary) else "a stream", "something else"
    if isinstance(one, Array):
        same = isinstance(other, Array) and len(one) == len(other)
        return None if same else (f"a list of {len(one)}", "another")
    if isinstance(other, Dictionary | Stream | Array) or one != other:
        return str(one), type(other).__name__ if _number(other)[0] else str(other)
    return None


def _keys_unlike(one: Any, other: Any) -> tuple[str, str] | None:
    wanted, found = set(one.keys()), set(other.keys())
    if wanted != found:
        more, less = sorted(found - wanted), sorted(wanted - found)
        return " ".join(less) or "nothing more", " ".join(more) or "nothing"
    if "/Contents" in wanted and _swollen(one.Contents, other.Contents):
        return "the contents of a page", "far more"
    if isinstance(one, Stream) and _unpacked(one, one) != _unpacked(other, one):
        return "the same bytes", "others"
    return None


def _swollen(contents: Any, others: Any) -> bool:
    """Whether what draws a page is far more than when it is made again, or packed otherwise."""
    most = 2 * len(contents.read_bytes()) + _ROOM
    for stream in others if isinstance(others, Array) else [others]:
        packing = stream.get("/Filter")
        if packing not in (None, Name.FlateDecode) or "/DecodeParms" in stream:
            return True
        raw = bytes(stream.read_raw_bytes())
        most -= len(raw if packing is None else zlib.decompressobj().decompress(raw, most + 1))
        if most < 0:
            return True
    return False


def _unpacked(stream: Any, like: Any) -> bytes:
    """A stream's bytes, unpacked where that one is, and never far beyond its length."""
    raw = bytes(stream.read_raw_bytes())
    if like.get("/Filter") != Name.FlateDecode or "/DecodeParms" in like:
        return raw
    return zlib.decompressobj().decompress(raw, len(like.read_bytes()) + 1)


def _parts(one: Any, other: Any) -> Iterator[tuple[str, Any, Any]]:
    """What two objects of one form hold, less what draws a page and how long a stream is packed."""
    if isinstance(one, Array):
        yield from ((str(n), a, b) for n, (a, b) in enumerate(zip(one, other, strict=True), 1))
    elif isinstance(one, Dictionary | Stream):
        for key in one.keys():  # noqa: SIM118 - an Object's own iteration isn't typed
            if key not in _DRAWN | {"/Length"}:
                yield key, one[key], other[key]
