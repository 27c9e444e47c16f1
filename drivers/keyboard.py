"""Readouts that type: into a field of the face that is kept for them, or, on Linux, apart from the
keyboard at a device of their own.

A figure that is typed ends with Enter; here the end of the layout's frame stands in its place.
"""

from __future__ import annotations

import os
import queue
import select
import struct
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Self

from drivers.layout import Layout
from drivers.transport import Back, Chunk, Lost, now

_MOST = 1024
"""Characters of one entry; more isn't typed by a readout."""


class Keyboard:
    """A line that is typed; the face hands over what stands in the readout's own field."""

    def __init__(self, layout: Layout, clock: Callable[[], datetime] = now) -> None:
        self._end, self._clock = layout.frame.terminator, clock
        self._typed: queue.SimpleQueue[Chunk] = queue.SimpleQueue()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing is held."""

    def type(self, text: str) -> None:
        """Hand over what was typed, with or without its Enter, now. A sign that no byte stands for
        is handed over spelled out, so that it is an alarm and never a figure."""
        for line in text[:_MOST].splitlines():
            if line:
                data = line.encode("latin-1", "backslashreplace") + self._end
                self._typed.put(Chunk(data, self._clock()))

    def poll(self, timeout_s: float = 0.2) -> Chunk | Lost | Back | None:
        """The next entry, or None when there is none within the time."""
        with suppress(queue.Empty):
            return self._typed.get(timeout=timeout_s)
        return None


# Linux: a device of its own. Decoding is tested with recorded events; no device was at hand to try
# the rest with.

_EVENT = struct.Struct("@llHHi")
"""struct input_event of linux/input.h: seconds, microseconds, type, code, value."""
_KEY, _DOWN = 1, 1
_GRAB = 0x40044590
"""EVIOCGRAB of linux/input.h: what is typed goes nowhere else."""
_SHIFTS, _ENTERS = (42, 54), (28, 96)
_SILENT = (29, 56, 58, 69, 70, 97, 100, 125, 126)
"""Control, alternate, locks and their like."""
_ROWS = (
    (2, "1234567890-=", "!@#$%^&*()_+"),
    (16, "qwertyuiop[]", "QWERTYUIOP{}"),
    (30, "asdfghjkl;'`", 'ASDFGHJKL:"~'),
    (43, "\\zxcvbnm,./", "|ZXCVBNM<>?"),
    (57, " ", " "),
    (71, "789-456+1230.", "789-456+1230."),
)
"""Key codes of linux/input-event-codes.h from the first of each row on; the US keyboard, which
devices that type speak unless told otherwise (common practice)."""
_UNKNOWN = "\x1a"
"""In place of any other key, so that what was typed is an alarm and no shorter figure."""
_PLAIN, _SHIFTED = (
    {first + n: sign for first, *rows in _ROWS for n, sign in enumerate(rows[which])}
    for which in (0, 1)
)


@dataclass
class TypingWay:
    """A way to ``evdev:/dev/input/...``."""

    address: str
    path: str
    layout: Layout
    vanishes: bool = False

    def open(self) -> Typing:
        """The device, for this program alone."""
        if sys.platform != "linux":
            raise OSError("such a device can be read on Linux only")
        import fcntl

        own = os.open(self.path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        try:
            fcntl.ioctl(own, _GRAB, 1)
        except OSError:
            os.close(own)
            raise
        return Typing(own, self.layout.frame.terminator)

    def close(self) -> None:
        """Nothing is kept between two devices."""


class Typing:
    """An open device; ``own`` is its file descriptor."""

    def __init__(self, own: int, end: bytes) -> None:
        self._own, self._end, self._shifts = own, end, set[int]()

    def read(self, timeout_s: float) -> bytes:
        """What was typed within the time."""
        if not select.select([self._own], [], [], timeout_s)[0]:
            return b""
        data = os.read(self._own, 64 * _EVENT.size)
        if not data:
            raise OSError("its plug was pulled")
        return b"".join(map(self._typed, _EVENT.iter_unpack(data)))

    def _typed(self, event: tuple[int, ...]) -> bytes:
        _, _, kind, code, value = event
        if kind != _KEY:
            return b""
        if code in _SHIFTS:
            (self._shifts.add if value else self._shifts.discard)(code)
            return b""
        if value != _DOWN or code in _SILENT:
            return b""
        if code in _ENTERS:
            return self._end
        return (_SHIFTED if self._shifts else _PLAIN).get(code, _UNKNOWN).encode("ascii")

    def write(self, data: bytes) -> None:
        """Nobody listens there."""
        raise OSError(f"{len(data)} bytes can't be sent to a device that types")

    def close(self) -> None:
        """Let it go."""
        with suppress(OSError):
            os.close(self._own)
