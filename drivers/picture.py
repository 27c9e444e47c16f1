"""Pictures of a tool, PNG and JPEG: kept as the bytes they are; only their header is read.

Nothing is decoded, so no picture can do harm here. Sources: W3C PNG (IHDR), ITU-T T.81 (markers,
frame header); from memory, checked against pictures that another library wrote.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

from inspect_rec.errors import InputError

LARGEST = 32 * 1024 * 1024
"""Bytes of a picture."""
WIDEST, MOST_PIXELS = 30_000, 200_000_000
_PNG = b"\x89PNG\r\n\x1a\n"
_JPEG = b"\xff\xd8\xff"
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_ALONE = frozenset([0x01, *range(0xD0, 0xD9)])
"""Markers without a segment."""


@dataclass(frozen=True, slots=True)
class Picture:
    """What a picture's header says."""

    kind: str
    """``PNG`` or ``JPEG``."""
    width: int
    height: int
    """Pixels."""


def is_picture(data: bytes) -> bool:
    """Whether a file begins as a picture does."""
    return data.startswith((_PNG, _JPEG))


def read(data: bytes, name: str) -> Picture:
    """What the header says; InputError for what is no picture, or beyond the limits."""
    if len(data) > LARGEST:
        raise _refused(name, f"at most {LARGEST // 2**20} MiB", "more")
    if data.startswith(_PNG):
        found = Picture("PNG", *_png(data, name))
    elif data.startswith(_JPEG):
        found = Picture("JPEG", *_jpeg(data, name))
    else:
        raise _refused(name, "a PNG or JPEG picture", f"the bytes {data[:4].hex(' ')}")
    most = max(found.width, found.height)
    least = min(found.width, found.height)
    if least < 1 or most > WIDEST or most * least > MOST_PIXELS:
        said = f"{found.width} by {found.height} pixels"
        raise _refused(name, f"1 to {WIDEST} pixels, {MOST_PIXELS} at most", said)
    return found


def _refused(name: str, expected: str, found: str) -> InputError:
    return InputError("the picture can't be kept", expected=expected, found=found, where=name)


def _png(data: bytes, name: str) -> tuple[int, int]:
    """Width and height of the first chunk, whose check must hold."""
    head = data[8:33]
    if len(head) < 25 or head[:8] != b"\0\0\0\rIHDR":
        raise _refused(name, "a header IHDR", f"the bytes {head[:8].hex(' ')}")
    width, height = struct.unpack(">II", head[8:16])
    if zlib.crc32(head[4:21]) != int.from_bytes(head[21:], "big"):
        raise _refused(name, "a header whose check holds", "another")
    return width, height


def _jpeg(data: bytes, name: str) -> tuple[int, int]:
    """Width and height of the frame header, behind any other segments."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF or marker in _ALONE:
            at += 1 if marker == 0xFF else 2
            continue
        size = int.from_bytes(data[at + 2 : at + 4], "big")
        if marker in _FRAMES and size >= 8 and at + 9 <= len(data):
            height, width = struct.unpack(">HH", data[at + 5 : at + 9])
            return width, height
        if marker in (*_FRAMES, 0xDA, 0xD9) or size < 2:
            break
        at += 2 + size
    raise _refused(name, "a frame header", f"none up to byte {at}")
