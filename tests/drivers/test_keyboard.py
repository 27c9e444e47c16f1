"""What is typed: into the readout's own field, and at a device of its own (recorded events)."""

from __future__ import annotations

import os
import struct
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from drivers.decoder import Alarm, Decoder
from drivers.keyboard import Keyboard, Typing, TypingWay
from drivers.layout import packaged
from drivers.transport import Chunk, Line, Lost
from inspect_rec.reading import Sighting
from tests.drivers.peers import until

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)
LAYOUT = packaged()["two-axis line"]
LINE = "X+0036.449 Z+0130.250 *"


@pytest.mark.parametrize("enter", ["", "\n", "\r", "\r\n"])
def test_a_typed_line_is_a_frame_with_or_without_its_enter(enter: str) -> None:
    with Keyboard(LAYOUT, lambda: AT) as line:
        line.type(LINE + enter)
        assert line.poll(0) == Chunk(LINE.encode() + b"\r\n", AT)
        assert line.poll(0.01) is None


def test_a_typed_line_is_a_sighting() -> None:
    with Keyboard(LAYOUT, lambda: AT) as line:
        line.type(LINE)
        (found,) = Decoder(LAYOUT, "RO-1").feed(until(line, Chunk).data, AT)
        assert isinstance(found, Sighting)


def test_lines_typed_in_one_go_stay_in_their_order_and_empty_ones_are_none() -> None:
    with Keyboard(LAYOUT, lambda: AT) as line:
        line.type("A\n\nB\n")
        assert [until(line, Chunk).data for _ in "AB"] == [b"A\r\n", b"B\r\n"]
        assert line.poll(0.01) is None


def test_a_sign_that_is_no_byte_is_an_alarm_and_no_figure() -> None:
    with Keyboard(LAYOUT, lambda: AT) as line:
        line.type(LINE.replace("1", "\u0661", 1))  # an Arabic-Indic digit
        found = Decoder(LAYOUT, "RO-1").feed(until(line, Chunk).data, AT)
        assert all(isinstance(each, Alarm) for each in found)
        assert found


# A device of its own: events as the kernel writes them, recorded by hand from linux/input.h

linux = pytest.mark.skipif(sys.platform != "linux", reason="needs Linux's input events")
SHIFT, ENTER, KP_ENTER, KEY, SYN, DOWN, UP, REPEAT = 42, 28, 96, 1, 0, 1, 0, 2


def event(kind: int, code: int, value: int) -> bytes:
    return struct.pack("@llHHi", 1_700_000_000, 1, kind, code, value)


def press(code: int) -> bytes:
    return event(KEY, code, DOWN) + event(SYN, 0, 0) + event(KEY, code, UP) + event(SYN, 0, 0)


def heard(events: bytes) -> bytes:
    ours, theirs = os.pipe()
    os.write(theirs, events)
    port = Typing(ours, b"\r\n")
    try:
        return port.read(0.1)
    finally:
        port.close()
        os.close(theirs)


@linux
def test_keys_are_the_figure_that_was_typed() -> None:
    minus, one, dot, zero, five = 12, 2, 52, 11, 6
    keys = (minus, one, dot, zero, five, ENTER)
    assert heard(b"".join(map(press, keys))) == b"-1.05\r\n"


@linux
def test_keys_of_the_number_pad_are_the_same_figure() -> None:
    keys = (74, 79, 83, 82, 76, KP_ENTER)
    assert heard(b"".join(map(press, keys))) == b"-1.05\r\n"


@linux
def test_shift_counts_while_it_is_held() -> None:
    x, equal = 45, 13
    held = event(KEY, SHIFT, DOWN) + press(x) + press(equal) + event(KEY, SHIFT, UP) + press(x)
    assert heard(held) == b"X+x"


@linux
def test_a_key_that_is_held_is_one_and_an_unknown_one_spoils_the_figure() -> None:
    held = event(KEY, 2, DOWN) + event(KEY, 2, REPEAT) * 3 + event(KEY, 2, UP)
    assert heard(held) == b"1"
    assert heard(press(2) + press(59) + press(3)) == b"1\x1a2"


@linux
def test_a_device_that_is_not_there_or_is_none_is_lost(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    for path, words in ((tmp_path / "gone", "no such port"), (plain, "evdev:")):
        way = TypingWay(f"evdev:{path}", str(path), LAYOUT)
        with Line(way, LAYOUT) as line:
            assert words in until(line, Lost).why


def test_a_layout_without_a_terminator_gets_none() -> None:
    bare = replace(LAYOUT, frame=replace(LAYOUT.frame, terminator=b"", pause_ms=50))
    with Keyboard(bare, lambda: AT) as line:
        line.type("1.5\n")
        assert until(line, Chunk).data == b"1.5"
