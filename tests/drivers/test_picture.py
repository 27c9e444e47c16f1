"""Pictures: the header says what they are, and nothing else of them is read."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from drivers import picture
from drivers.picture import Picture
from inspect_rec.errors import InputError


def drawn(kind: str, size: tuple[int, int] = (7, 5), **more: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "white").save(out, kind, **more)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (drawn("PNG"), "PNG"),
        (drawn("JPEG"), "JPEG"),
        (drawn("JPEG", progressive=True), "JPEG"),
        (drawn("JPEG", comment=b"\xff\xc0" * 30_000), "JPEG"),
    ],
)
def test_kind_and_size_are_those_that_another_library_wrote(data: bytes, kind: str) -> None:
    assert picture.is_picture(data)
    assert picture.read(data, "a") == Picture(kind, 7, 5)


def png(width: int, height: int) -> bytes:
    head = b"IHDR" + struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + head + struct.pack(">I", zlib.crc32(head))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a",
        drawn("PNG")[:30],
        drawn("PNG").replace(b"IHDR", b"IDAT"),
        drawn("PNG")[:19] + b"\x08" + drawn("PNG")[20:],
        png(0, 5),
        png(30_001, 5),
        png(20_000, 20_000),
        drawn("JPEG")[:20],
        b"\xff\xd8\xff\xda\0\4",
        b"\xff\xd8\xff\xe0\0\0" * 9,
        b"\xff\xd8" + b"\xff" * 100,
    ],
)
def test_what_is_no_picture_or_a_bomb_is_refused(data: bytes) -> None:
    with pytest.raises(InputError):
        picture.read(data, "a")


def test_a_picture_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture, "LARGEST", 20)
    with pytest.raises(InputError, match="at most"):
        picture.read(drawn("PNG"), "a")


@given(
    st.sampled_from([b"", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"]),
    st.binary(max_size=60),
)
def test_any_bytes_are_a_picture_or_refused(begin: bytes, rest: bytes) -> None:
    try:
        found = picture.read(begin + rest, "a")
    except InputError:
        return
    assert 0 < found.width * found.height <= picture.MOST_PIXELS
