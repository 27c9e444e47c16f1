"""Bytes of a text file to lines: the encoding is stated or marked, else it is UTF-8, strictly.

A wrong byte refuses the file with its row: an encoding that was guessed turns one sign into
another, unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import BinaryIO

from inspect_rec.errors import InputError

LARGEST = 256 * 1024 * 1024
"""Bytes of a text file."""
LONGEST_LINE = 256 * 1024
BLOCK = 1 << 22
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_NAMES = {"utf-8": "UTF-8", "cp1252": "Windows-1252", "latin-1": "Latin-1", "utf-16": "UTF-16"}


def codec_of(begin: bytes, stated: str, where: str) -> tuple[str, int]:
    """Python's name of the encoding and the length of its mark, from a file's first bytes.

    ``stated``: Python's name, or empty. Raises InputError where the mark says another, or where
    UTF-16 is stated without one.
    """
    marked = next(((codec, len(mark)) for mark, codec in _MARKS if begin.startswith(mark)), None)
    if marked is None and stated != "utf-16" and b"\0" in begin:
        raise InputError(
            "the file isn't encoded as stated",
            expected=_NAMES[stated or "utf-8"],
            found=f"the bytes {begin.hex(' ')}, as of UTF-16 without its mark",
            where=where,
            do="Save it as UTF-8, or as UTF-16 with its mark",
        )
    if marked is None and stated != "utf-16":
        return stated or "utf-8", 0
    if marked is None or (stated and not marked[0].startswith(stated)):
        raise InputError(
            "the file isn't encoded as stated",
            expected=_NAMES[stated] + (" with its mark" if stated == "utf-16" else ""),
            found=f"the bytes {begin[:3].hex(' ')}",
            where=where,
        )
    return marked


def blocks(stream: BinaryIO, codec: str, where: str) -> Iterator[bytes]:
    """The rest of a file in blocks of whole lines, as UTF-8; the last line may lack its end.

    Raises InputError for a byte that isn't of the encoding, with its row; for a line or a file
    that is too long.
    """
    if codec.startswith("utf-16"):
        yield from _whole(stream, codec, where)
        return
    left, size, begin = b"", 0, stream.tell()

    def before(end: int) -> int:
        """The lines up to there, counted for a mistake alone."""
        stream.seek(begin)
        return stream.read(end).count(b"\n")

    while chunk := stream.read(BLOCK):
        size += len(chunk)
        _limit(size, where)
        end = chunk.rfind(b"\n") + 1
        if not end:
            left += chunk
            if len(left) > LONGEST_LINE:
                raise InputError("a line is too long", where=where)
            continue
        block, left = left + chunk[:end], chunk[end:]
        yield _utf_8(block, codec, where, partial(before, size - len(left) - len(block)))
    if left:
        if len(left) == size:
            _one_line(left, where)
        yield _utf_8(left, codec, where, partial(before, size - len(left)))


def _whole(stream: BinaryIO, codec: str, where: str) -> Iterator[bytes]:
    """UTF-16 at once: its lines don't end on a byte of their own."""
    data = stream.read(LARGEST // 4 + 1)
    _limit(len(data) * 4, where)
    text = _utf_8(data, codec, where, lambda: 0)
    _one_line(text, where)
    for first in range(0, len(text), BLOCK):
        # Cut at the ends of lines, as the others are.
        begin = text.rfind(b"\n", 0, first) + 1 if first else 0
        end = text.rfind(b"\n", 0, first + BLOCK) + 1 if first + BLOCK < len(text) else len(text)
        if end > begin:
            yield text[begin:end]


def _one_line(data: bytes, where: str) -> None:
    """Raises InputError for a file of one line that has other ends of lines inside."""
    if b"\n" not in data and b"\r" in data[:-1]:
        raise InputError(
            "the lines end in another way",
            expected="LF, or CR and LF",
            found="CR alone",
            where=where,
            do="Save it with the ends of lines of today",
        )


def _limit(size: int, where: str) -> None:
    if size > LARGEST:
        expected = f"at most {LARGEST // 2**20} MiB"
        raise InputError("the file is too large", expected=expected, found="more", where=where)


def _utf_8(block: bytes, codec: str, where: str, rows_before: Callable[[], int]) -> bytes:
    try:
        text = block.decode(codec)
    except UnicodeDecodeError as error:
        row = 1 + rows_before() + block[: error.start].decode(codec, "replace").count("\n")
        raise InputError(
            f"the file isn't {_NAMES.get(codec, 'UTF-16')}",
            found=f"the bytes {block[error.start : error.start + 2].hex(' ')}",
            where=f"{where}:{row}",
            do="State its encoding in the mapping: [file] encoding",
        ) from error
    return block if codec == "utf-8" else text.encode("utf-8")
