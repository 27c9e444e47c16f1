"""Bytes of a line cut into frames. Pure: no port, no clock.

A framer hands on whole frames and what is none, each with the instant of its last byte, in order;
any chunking gives the same, but for a layout whose frames end by a pause. What looks like a
frame is not yet a reading: its check and pattern are the decoder's.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import NamedTuple, Protocol

from drivers.fields import Checked
from drivers.layout import Layout


class Piece(NamedTuple):
    """A frame: ``whole`` with header, terminator and trailer, ``body`` between them. Where ``body``
    is None it is no frame, and ``why`` says in a grinder's words what it is."""

    whole: bytes
    at: datetime
    body: bytes | None = None
    why: str = ""


class Framer(Protocol):
    """Cuts bytes into frames."""

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes up to and with ``chunk`` complete."""

    def idle(self, at: datetime) -> list[Piece]:
        """What a pause until ``at`` completes."""

    def end(self) -> list[Piece]:
        """What no more bytes complete: frames that only a pause ends."""

    def drop(self) -> bytes:
        """The bytes that wait for more; they are forgotten."""


def framer(layout: Layout) -> Framer:
    """The framer that a layout asks for."""
    if layout.frame.terminator and not layout.fields:
        return Terminated(layout)
    if layout.frame.pause_ms:
        return Paused(layout)
    if layout.modbus is not None:
        return Blocks(layout, layout.modbus.every_ms)
    return Fixed(layout)


ENDLESS, REST = "a line without end", "the rest of a line without end"
HALF, LOOSE = "half a line at the start", "bytes that belong to no frame"
CUT = "a line with something lost or added"


class Terminated:
    """Frames that end with a terminator, and a trailer of so many bytes behind it."""

    def __init__(self, layout: Layout) -> None:
        frame = layout.frame
        self._end, self._trailer, self._header = frame.terminator, frame.trailer, frame.header
        self._longest, self._width = frame.longest, frame.width
        self._checked = None if layout.check is None else Checked(layout.check)
        self._plain = not (self._header or self._width)
        self._left = b""
        self._endless = False

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes complete."""
        found: list[Piece] = []
        if self._trailer:
            self._trailed(chunk, at, found)
        else:
            *lines, self._left = (self._left + chunk).split(self._end)
            for line in lines:
                self._one(line, self._end, at, found)
        # The last bytes of what is left may be the beginning of a terminator and its trailer.
        spare = len(self._end) - 1 + self._trailer
        self._left = self._cut(self._left, spare, at, found)
        return found

    def _trailed(self, chunk: bytes, at: datetime, found: list[Piece]) -> None:
        """A trailer may look like a terminator, so frames are cut one by one."""
        data, start = self._left + chunk, 0
        while (end := data.find(self._end, start)) >= 0:
            tail = end + len(self._end)
            stop = tail + self._trailer
            if stop > len(data):
                break
            line, rest = data[start:end], data[tail:stop]
            again = self._begins_again(line, rest)
            self._one(line, data[end : tail + again], at, found)
            start = tail + again
        self._left = data[start:]

    def _begins_again(self, line: bytes, trailer: bytes) -> int:
        """How many bytes of the trailer belong to the frame: where its check is lost, the next
        frame may begin in its place."""
        if self._checked is None or not self._header or self._header[0] not in trailer:
            return len(trailer)
        if not self._endless and len(line) <= self._longest:
            frame = self._framed(line)
            if not self._checked.holds(frame + self._end + trailer):
                return trailer.index(self._header[:1])
        return len(trailer)

    def _framed(self, line: bytes) -> bytes:
        """The part of a line that can be a frame, or nothing."""
        if self._width:
            size = len(self._header) + self._width
            frame = line[-size:]
            return frame if len(frame) == size and frame.startswith(self._header) else b""
        start = line.rfind(self._header)
        return line[start:] if start >= 0 else b""

    def _one(self, line: bytes, tail: bytes, at: datetime, found: list[Piece]) -> None:
        if self._endless or len(line) > self._longest:
            rest = self._cut(line, 0, at, found)
            self._endless = False
            found.append(Piece(rest + tail, at, None, REST))
        elif self._plain:
            found.append(Piece(line + tail, at, line))
        else:
            self._marked(line, tail, at, found)

    def _marked(self, line: bytes, tail: bytes, at: datetime, found: list[Piece]) -> None:
        """A line whose frame is known by its header or its width."""
        frame = self._framed(line)
        loose = line[: len(line) - len(frame)]
        if not frame or (loose and not self._header):
            found.append(Piece(line + tail, at, None, CUT))
            return
        if loose:
            found.append(Piece(loose, at, None, LOOSE))
        found.append(Piece(frame + tail, at, frame[len(self._header) :]))

    def _cut(self, line: bytes, spare: int, at: datetime, found: list[Piece]) -> bytes:
        """Cut what is longer than any line can be; the rest is handed back."""
        start = 0
        while len(line) - start > self._longest + spare:
            found.append(Piece(line[start : start + self._longest], at, None, ENDLESS))
            self._endless = True
            start += self._longest
        return line[start:]

    def idle(self, at: datetime) -> list[Piece]:
        """Nothing: a terminator ends a frame, no pause does."""
        del at
        return []

    def end(self) -> list[Piece]:
        """Nothing."""
        return []

    def drop(self) -> bytes:
        """The half line."""
        half, self._left, self._endless = self._left, b"", False
        return half


class Fixed:
    """Frames of so many bytes, found by header, check and pattern, whatever there is of them."""

    def __init__(self, layout: Layout) -> None:
        frame = layout.frame
        self._header, self._end, self._trailer = frame.header, frame.terminator, frame.trailer
        around = len(frame.header) + len(frame.terminator) + frame.trailer
        self._length = frame.length or frame.width + around
        self._longest = max(frame.longest, self._length)
        self._pattern = layout.pattern
        self._checked = None if layout.check is None else Checked(layout.check)
        self._left = self._loose = b""

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes complete."""
        found: list[Piece] = []
        data, start = self._left + chunk, 0
        while len(data) - start >= self._length:
            frame = data[start : start + self._length]
            if self._is(frame):
                self._let_go(at, found)
                found.append(Piece(frame, at, frame[len(self._header) :]))
                start += self._length
                continue
            self._loose += data[start : start + 1]
            start += 1
            if len(self._loose) >= self._longest:
                self._let_go(at, found)
        self._left = data[start:]
        return found

    def _let_go(self, at: datetime, found: list[Piece]) -> None:
        """What belongs to no frame, in one piece however it came."""
        if self._loose:
            found.append(Piece(self._loose, at, None, LOOSE))
            self._loose = b""

    def _is(self, frame: bytes) -> bool:
        """A header may stand within figures by chance: then check or pattern don't fit."""
        end = len(frame) - self._trailer
        if not frame.startswith(self._header) or not frame.endswith(self._end, 0, end):
            return False
        if self._checked is not None and not self._checked.holds(frame):
            return False
        body = frame[len(self._header) :]
        return self._pattern is None or self._pattern.fullmatch(body) is not None

    def idle(self, at: datetime) -> list[Piece]:
        """Nothing: the length ends a frame, no pause does."""
        del at
        return []

    def end(self) -> list[Piece]:
        """Nothing."""
        return []

    def drop(self) -> bytes:
        """The half frame."""
        half, self._left, self._loose = self._loose + self._left, b"", b""
        return half


class Blocks:
    """Blocks of so many bytes, read one by one: nothing within one marks its beginning, so what is
    left over when the next is read is none."""

    def __init__(self, layout: Layout, every_ms: int) -> None:
        self._length = layout.frame.length
        self._apart = timedelta(milliseconds=every_ms / 2)
        self._left = b""
        self._at: datetime | None = None

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes complete."""
        found = self.idle(at)
        data, self._at = self._left + chunk, at
        stop = len(data) - len(data) % self._length
        for start in range(0, stop, self._length):
            block = data[start : start + self._length]
            found.append(Piece(block, at, block))
        self._left = data[stop:]
        return found

    def idle(self, at: datetime) -> list[Piece]:
        """Part of a block that the rest didn't come to."""
        if not self._left or self._at is None or at - self._at < self._apart:
            return []
        return [Piece(self.drop(), self._at, None, CUT)]

    def end(self) -> list[Piece]:
        """Nothing."""
        return []

    def drop(self) -> bytes:
        """The part of a block."""
        half, self._left = self._left, b""
        return half


class Paused:
    """Frames that nothing ends but a pause, or the beginning of the next where bytes mark it: two
    that came in one go are cut there, and what came in pieces without a pause is put together."""

    def __init__(self, layout: Layout) -> None:
        assert layout.pattern is not None  # noqa: S101 - the layout's parser asks for one
        assert layout.shape is not None  # noqa: S101 - it comes with the pattern
        self._header, self._pattern = layout.frame.header, layout.pattern
        begins = layout.shape.begins
        if self._header:
            # A header that may stand within a line marks nothing.
            inside = self._header[1:] + layout.shape.alphabet
            begins = b"" if self._header[0] in inside else self._header[:1]
        self._begins = re.compile(b"[" + re.escape(begins) + b"]") if begins else None
        self._pause = timedelta(milliseconds=layout.frame.pause_ms)
        self._longest = layout.frame.longest
        self._left, self._endless = b"", False
        self._at: datetime | None = None

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes complete."""
        found = self.idle(at)
        data, start = self._left + chunk, 0
        self._at = at
        for next_ in self._begins.finditer(data, 1) if self._begins is not None else ():
            start = self._cut(data, start, next_.start(), at, found)
            self._one(data[start : next_.start()], at, found)
            start = next_.start()
        self._left = data[self._cut(data, start, len(data), at, found) :]
        return found

    def _cut(self, data: bytes, start: int, end: int, at: datetime, found: list[Piece]) -> int:
        """Cut what is longer than any frame can be; where the rest begins is handed back."""
        while end - start > self._longest:
            found.append(Piece(data[start : start + self._longest], at, None, ENDLESS))
            start, self._endless = start + self._longest, True
        return start

    def _one(self, line: bytes, at: datetime, found: list[Piece]) -> None:
        whole, self._endless = not self._endless, False
        body = line.removeprefix(self._header)
        if not whole:
            found.append(Piece(line, at, None, REST))
        elif len(line) - len(body) == len(self._header) and self._pattern.fullmatch(body):
            found.append(Piece(line, at, body))
        else:
            found.append(Piece(line, at, None, CUT))

    def idle(self, at: datetime) -> list[Piece]:
        """What a pause until ``at`` ends, whole or not."""
        if self._at is None or at - self._at < self._pause:
            return []
        return self.end()

    def end(self) -> list[Piece]:
        """What came since the last pause."""
        found: list[Piece] = []
        if self._left and self._at is not None:
            left, self._left = self._left, b""
            self._one(left, self._at, found)
        return found

    def drop(self) -> bytes:
        """The bytes that no pause has ended yet."""
        half, self._left, self._endless = self._left, b"", False
        return half
