"""Bytes of a line cut into frames. Pure: no port, no clock.

A framer hands on whole frames and what is none, each with the instant of its last byte, in order;
any chunking gives the same, but for a layout whose frames end by a pause. What looks like a
frame is not yet a reading: its check and pattern are the decoder's.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol

from drivers.fields import Checked
from drivers.layout import Layout


@dataclass(frozen=True, slots=True)
class Piece:
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

    def drop(self) -> bytes:
        """The bytes that wait for more; they are forgotten."""


def framer(layout: Layout) -> Framer:
    """The framer that a layout asks for."""
    if layout.frame.terminator:
        return Terminated(layout)
    if layout.frame.pause_ms:
        return Paused(layout)
    return Fixed(layout)


ENDLESS, REST = "a line without end", "the rest of a line without end"
HALF, ALIEN = "half a line at the start", "a line that isn't of the layout"
LOOSE = "bytes that belong to no frame"


class Terminated:
    """Frames that end with a terminator, and a trailer of so many bytes behind it."""

    def __init__(self, layout: Layout) -> None:
        frame = layout.frame
        self._end, self._trailer, self._header = frame.terminator, frame.trailer, frame.header
        self._longest = frame.longest
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
        # The last bytes of what is left may be the beginning of a terminator.
        self._left = self._cut(self._left, len(self._end) - 1 + self._trailer, at, found)
        return found

    def _trailed(self, chunk: bytes, at: datetime, found: list[Piece]) -> None:
        """A trailer may look like a terminator, so frames are cut one by one."""
        data = self._left + chunk
        while (end := data.find(self._end)) >= 0:
            stop = end + len(self._end) + self._trailer
            if stop > len(data):
                break
            self._one(data[:end], data[end:stop], at, found)
            data = data[stop:]
        self._left = data

    def _one(self, line: bytes, tail: bytes, at: datetime, found: list[Piece]) -> None:
        if self._endless or len(line) > self._longest:
            rest = self._cut(line, 0, at, found)
            self._endless = False
            found.append(Piece(rest, at, None, REST))
            return
        if self._header:
            start = line.rfind(self._header)
            if start < 0:
                found.append(Piece(line + tail, at, None, HALF))
                return
            if start:
                found.append(Piece(line[:start], at, None, LOOSE))
            line = line[start:]
            found.append(Piece(line + tail, at, line[len(self._header) :]))
            return
        found.append(Piece(line + tail, at, line))

    def _cut(self, line: bytes, spare: int, at: datetime, found: list[Piece]) -> bytes:
        """Cut what is longer than any line can be; the rest is handed back."""
        while len(line) > self._longest + spare:
            found.append(Piece(line[: self._longest], at, None, ENDLESS))
            self._endless = True
            line = line[self._longest :]
        return line

    def idle(self, at: datetime) -> list[Piece]:
        """Nothing: a terminator ends a frame, no pause does."""
        del at
        return []

    def drop(self) -> bytes:
        """The half line."""
        half, self._left, self._endless = self._left, b"", False
        return half


class Fixed:
    """Frames of so many bytes, found by header, check and pattern, whatever there is of them."""

    def __init__(self, layout: Layout) -> None:
        self._length, self._header = layout.frame.length, layout.frame.header
        self._pattern = layout.pattern
        self._checked = None if layout.check is None else Checked(layout.check)
        self._left = b""

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes complete."""
        found: list[Piece] = []
        data, loose = self._left + chunk, b""
        while len(data) >= self._length:
            frame = data[: self._length]
            if self._is(frame):
                if loose:
                    found.append(Piece(loose, at, None, LOOSE))
                    loose = b""
                found.append(Piece(frame, at, frame[len(self._header) :]))
                data = data[self._length :]
            else:
                loose, data = loose + data[:1], data[1:]
        if loose:
            found.append(Piece(loose, at, None, LOOSE))
        self._left = data
        return found

    def _is(self, frame: bytes) -> bool:
        """A header may stand within figures by chance: then check or pattern don't fit."""
        if not frame.startswith(self._header):
            return False
        if self._checked is not None and not self._checked.holds(frame):
            return False
        body = frame[len(self._header) :]
        return self._pattern is None or self._pattern.fullmatch(body) is not None

    def idle(self, at: datetime) -> list[Piece]:
        """Nothing: the length ends a frame, no pause does."""
        del at
        return []

    def drop(self) -> bytes:
        """The half frame."""
        half, self._left = self._left, b""
        return half


class Paused:
    """Frames that nothing ends but a pause. Two that came in one go are cut by their pattern, and
    one that came in two pieces is put together where the pieces make a whole one."""

    def __init__(self, layout: Layout) -> None:
        assert layout.pattern is not None  # noqa: S101 - the layout's parser asks for one
        self._header = layout.frame.header
        self._pattern = re.compile(re.escape(self._header) + layout.pattern.pattern)
        self._pause = timedelta(milliseconds=layout.frame.pause_ms)
        self._longest = layout.frame.longest
        self._left = b""
        self._at: datetime | None = None

    def feed(self, chunk: bytes, at: datetime) -> list[Piece]:
        """What the bytes complete; whole frames are handed on at once."""
        found: list[Piece] = []
        data = self._left + chunk
        self._at = at
        while data:
            match = self._pattern.match(data)
            if match is not None and match.end() and self._ends(data, match.end()):
                whole = match.group()
                found.append(Piece(whole, at, whole[len(self._header) :]))
                data = data[match.end() :]
                continue
            later = self._pattern.search(data, 1)
            if later is not None and later.end() > later.start():
                found.append(Piece(data[: later.start()], at, None, LOOSE))
                data = data[later.start() :]
                continue
            break
        while len(data) > self._longest:
            found.append(Piece(data[: self._longest], at, None, ENDLESS))
            data = data[self._longest :]
        self._left = data
        return found

    @staticmethod
    def _ends(data: bytes, end: int) -> bool:
        """A digit behind it may still belong to it."""
        return not data[end : end + 1].isdigit()

    def idle(self, at: datetime) -> list[Piece]:
        """What a pause leaves over is no frame; a little longer is waited, since pieces of one
        frame may come late."""
        if not self._left or self._at is None or at - self._at < 4 * self._pause:
            return []
        return [Piece(self.drop(), at, None, "half a frame before a pause")]

    def drop(self) -> bytes:
        """The bytes that are no whole frame."""
        half, self._left = self._left, b""
        return half
