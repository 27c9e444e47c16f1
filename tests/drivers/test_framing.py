"""Bytes cut into frames: what is one, what is none, and that nothing is lost or kept for ever."""

from __future__ import annotations

import time
from datetime import datetime

import pytest

from drivers.framing import Piece, framer
from drivers.layout import parse
from tests.drivers.cases import AT, after

STX = r"""
header = "\u0002"
terminator = "\u0003"
pattern = '(?P<x>\d)'
[figures]
decimals = 0
"""
FIXED = r"""
length = 3
pattern = '(?P<x>\d{2})Q'
[figures]
decimals = 0
"""
PAUSED = r"""
pause_ms = 50
pattern = 'X(?P<x>\d{1,3})'
longest = 8
[figures]
decimals = 0
"""
UNMARKED = PAUSED.replace("X(?P<x>", "(?P<x>")
MARKED_BY_HEADER = PAUSED.replace("pause_ms", "header = '#'\npause_ms").replace("X(?P<x>", "(?P<x>")
CHECKED = r"""
header = "\u0002"
terminator = "\u0003"
trailer = 1
pattern = '(?P<x>\d)'
[figures]
decimals = 0
[check]
kind = "xor"
"""


def cut(text: str, *sent: tuple[float, bytes]) -> list[Piece]:
    found = framer(parse(f'id = "f"\n[frame]{text}', "f.toml"))
    pieces = [piece for ms, data in sent for piece in found.feed(data, after(ms))]
    return [*pieces, *found.end(), Piece(found.drop(), AT, None, "left")]


def short(pieces: list[Piece]) -> list[bytes | tuple[bytes, str]]:
    """Bodies of frames; what is none in whole, with why."""
    return [p.body if p.body is not None else (p.whole, p.why) for p in pieces if p.whole]


def test_a_header_begins_a_frame_and_what_stands_before_it_belongs_to_none() -> None:
    loose = "bytes that belong to no frame"
    lost = "a line with something lost or added"
    assert short(cut(STX, (0, b"ab\x021\x03\x02\x022\x033\x03\x024"))) == [
        (b"ab", loose),
        b"1",
        (b"\x02", loose),
        b"2",
        (b"3\x03", lost),
        (b"\x024", "left"),
    ]


def test_a_fixed_frame_is_found_again_behind_what_is_none() -> None:
    loose = "bytes that belong to no frame"
    found = cut(FIXED, (0, b"1Q12Q"), (5, b"xx3"), (9, b"4Q5"))
    assert short(found) == [(b"1Q", loose), b"12Q", (b"xx", loose), b"34Q", (b"5", "left")]
    assert [p.at for p in found[:-1]] == [AT, AT, after(9), after(9)]


@pytest.mark.parametrize("text", [PAUSED, MARKED_BY_HEADER])
def test_frames_between_pauses_are_cut_where_the_next_begins(text: str) -> None:
    x = b"X" if text is PAUSED else b"#"
    strip = 0 if text is PAUSED else 1
    lost = "a line with something lost or added"
    sent = [(0, b"9" + x + b"12" + x), (49, b"3"), (99, b"4"), (300, x + b"5a" + x + b"6")]
    assert short(cut(text, *sent)) == [
        (b"9", lost),
        (x + b"12")[strip:],
        (x + b"3")[strip:],
        (b"4", lost),
        (x + b"5a", lost),
        (x + b"6")[strip:],
    ]


def test_where_nothing_marks_a_beginning_what_comes_between_pauses_is_one_frame() -> None:
    lost = "a line with something lost or added"
    assert short(cut(UNMARKED, (0, b"12"), (60, b"3"), (70, b"4"), (130, b"56789"))) == [
        b"12",
        b"34",
        (b"56789", lost),
    ]


def test_a_trailer_that_looks_like_a_header_belongs_to_the_frame_whose_check_it_is() -> None:
    lost = "a line with something lost or added"
    one = b"\x021\x03" + bytes([ord("1") ^ 3 ^ 2])
    two = b"\x02" + b"2\x03"
    good = two + bytes([2 ^ ord("2") ^ 3])
    assert short(cut(CHECKED, (0, one + good))) == [b"1", b"2"]
    assert short(cut(CHECKED, (0, one[:-1] + good))) == [b"1", b"2"]
    assert short(cut(CHECKED, (0, b"\x03\x03" + good))) == [(b"\x03\x03", lost), b"2"]


@pytest.mark.parametrize("text", [STX, FIXED, PAUSED, UNMARKED, CHECKED])
@pytest.mark.parametrize("junk", [b"#", b"\x03", b"1", b"\r\n", b"\x02", b"X"])
def test_much_of_anything_is_cut_soon_and_whole(text: str, junk: bytes) -> None:
    data = junk * (2**17 // len(junk))
    started = time.process_time()
    pieces = cut(text, (0, data))
    assert time.process_time() - started < 4
    assert b"".join(p.whole for p in pieces) == data
    assert max(len(p.whole) for p in pieces) <= 80


def test_what_a_pause_does_not_end_is_waited_for() -> None:
    found = framer(parse(f'id = "f"\n[frame]{PAUSED}', "f.toml"))
    assert found.feed(b"X1", AT) == []
    assert found.idle(after(49)) == []
    (piece,) = found.idle(after(50))
    assert (piece.body, piece.at) == (b"X1", AT)
    assert found.idle(after(5000)) == []
    other = framer(parse(f'id = "f"\n[frame]{STX}', "f.toml"))
    assert other.feed(b"\x021", AT) == []
    assert other.idle(datetime.max.replace(tzinfo=AT.tzinfo)) == []
