"""A readout's line: bytes with their instants; lost and back are values. It is opened, watched and
opened again by itself, whatever way leads to it.

Owns no port of its own: a way (serial, network, server, modbus) opens one. Writes nothing, but the
request of a layout that has one in ``[asks]``.
"""

from __future__ import annotations

import errno
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Protocol, Self

from drivers.asking import Asking
from drivers.layout import Layout

_PAUSE_S, _LONGEST_PAUSE_S = 0.2, 0.5
"""Between two tries to open a lost line; the longer one where it is lost again and again."""
_STEADY_S = 1.0
"""A line that stayed for so long is no flickering one."""
_FIRST_S = 0.3
"""What the start of the program waits for a line; then it goes on without."""
_PATIENCE_S = 1.0
"""A line that is still being opened after so long is said to be lost."""
_LONGEST_SILENCE_S = 30.0
"""Between two fresh starts of a line on which nothing comes."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes as they came, and when."""

    data: bytes
    at: datetime


@dataclass(frozen=True, slots=True)
class Lost:
    """The line went away, or isn't there yet; ``why`` is a sentence for the person at it."""

    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Back:
    """The line is there again."""

    at: datetime


class Port(Protocol):
    """An open line. Its methods raise OSError when it is gone."""

    def read(self, timeout_s: float) -> bytes:
        """The bytes that wait, or come within ``timeout_s``; none when none did."""

    def write(self, data: bytes) -> None:
        """Send a request."""

    def close(self) -> None:
        """Let it go; raises nothing."""


class Way(Protocol):
    """What leads to a line; its ``open`` may be called from a thread."""

    address: str
    vanishes: bool
    """Whether the other end can go without a sign, as a box on a network that loses its power."""

    def open(self) -> Port:
        """The line, within seconds; raises OSError when it isn't there."""

    def close(self) -> None:
        """Nothing more is to be opened; raises nothing."""


def now() -> datetime:
    """The wall clock, in UTC."""
    return datetime.now(UTC)


class Line:
    """One readout's line; use it as a context manager.

    One that isn't there is lost, at the start of the program as later: it is said once, and tried
    again until it comes. A network line of a layout that sends by itself is closed and opened anew
    when nothing came for the layout's ``silent_s``; it is back with its next bytes.
    """

    def __init__(self, way: Way, layout: Layout, clock: Callable[[], datetime] = now) -> None:
        self._way, self._layout, self._clock = way, layout, clock
        self._port: Port | None = None
        self._opening: _Opening | None = None
        self._asking = None if layout.asks is None else Asking(layout)
        self._silent_s = layout.silent_s if way.vanishes else None
        self._lost = self._mute = False
        self._held: Chunk | None = None
        self._patience_s = self._silent_s or 0.0
        self._began = self._heard = self._tried = time.monotonic()
        self._pause_s = _PAUSE_S

    def __enter__(self) -> Self:
        self._began = time.monotonic()
        self._opening = _Opening(self._way.open)
        self._opening.done.wait(_FIRST_S)
        return self

    def __exit__(self, *_: object) -> None:
        self._close()
        self._way.close()

    def poll(self, timeout_s: float = 0.2) -> Chunk | Lost | Back | None:
        """The bytes that wait, or come within ``timeout_s``; that the line went or came back;
        None when there is nothing to say."""
        if self._held is not None:
            held, self._held = self._held, None
            return held
        if self._port is None:
            return self._again(timeout_s)
        try:
            data = self._read(self._port, timeout_s)
        except OSError as error:
            return self._gone(why(error))
        if data:
            return self._bytes(data)
        silent = self._silent_s is not None and time.monotonic() - self._heard > self._patience_s
        return self._quiet() if silent else None

    def _bytes(self, data: bytes) -> Chunk | Back:
        """They come now; where the line was lost by its silence, that it is back comes first."""
        at, self._heard = self._clock(), time.monotonic()
        self._patience_s, self._mute = self._silent_s or 0.0, False
        if self._asking is not None:
            self._asking.heard(data, at)
        if not self._lost:
            return Chunk(data, at)
        self._lost, self._held = False, Chunk(data, at)
        return Back(at)

    def _read(self, port: Port, timeout_s: float) -> bytes:
        if self._asking is None:
            return port.read(timeout_s)
        due_s = self._asking.due_s(time.monotonic())
        if due_s <= 0:
            port.write(self._asking.request)
            self._asking.asked(time.monotonic())
            due_s = self._asking.due_s(time.monotonic())
        return port.read(min(timeout_s, max(due_s, 0)))

    def _gone(self, words: str) -> Lost | None:
        self._close()
        self._tried = time.monotonic()
        steady = self._tried - self._began > _STEADY_S
        self._pause_s = _PAUSE_S if steady else min(2 * self._pause_s, _LONGEST_PAUSE_S)
        return self._say(words)

    def _quiet(self) -> Lost | None:
        """Closed and opened anew; the longer it stays quiet, the less often."""
        assert self._silent_s is not None  # noqa: S101 - the caller looks first
        self._close()
        # At once: with the box gone, a pause is time in which it is back and not found.
        self._tried = float("-inf")
        self._mute = True
        self._patience_s = min(2 * self._patience_s, _LONGEST_SILENCE_S)
        return self._say(f"nothing came for {self._silent_s:g} s")

    def _say(self, words: str) -> Lost | None:
        """That it is lost, once."""
        if self._lost:
            return None
        self._lost = True
        stop = "" if words.endswith("?") else "."
        said = f"{self._way.address}: {words}{stop} It goes on by itself when it is there"
        return Lost(said, self._clock())

    def _again(self, timeout_s: float) -> Lost | Back | None:
        """One try after the other, with a pause; never longer than ``timeout_s`` at a time."""
        if self._opening is None:
            wait_s = self._tried + self._pause_s - time.monotonic()
            if wait_s > timeout_s:
                time.sleep(timeout_s)
                return None
            time.sleep(max(wait_s, 0))
            self._opening = _Opening(self._way.open)
        if not self._opening.done.wait(timeout_s):
            if time.monotonic() - self._began > _PATIENCE_S:
                return self._say("nothing answers there")
            return None
        opening, self._opening = self._opening, None
        self._port = opening.port
        self._tried = self._began = self._heard = time.monotonic()
        if self._port is None:
            return self._say(opening.why)
        if self._asking is not None:
            self._asking.anew()
        if not self._lost or self._mute:
            return None
        self._lost = False
        return Back(self._clock())

    def _close(self) -> None:
        opening, self._opening = self._opening, None
        port, self._port = self._port, None
        if port is not None:
            port.close()
        if opening is not None:
            opening.abandon()


_WORDS = {
    errno.ECONNREFUSED: "nothing answers there",
    errno.ETIMEDOUT: "the other end answers no more",
    errno.ECONNRESET: "the other end broke off",
    errno.EPIPE: "the other end broke off",
    errno.EHOSTUNREACH: "no way leads to that machine: is it on, is the network's plug in?",
    errno.ENETUNREACH: "no way leads to that machine: is it on, is the network's plug in?",
    errno.EADDRINUSE: "another program listens there already",
    errno.EADDRNOTAVAIL: "this machine hasn't that address",
    errno.ENOENT: "there is no such port: is its plug in?",
    errno.EACCES: "this person may not open it",
    errno.EAGAIN: "another program has it open",
    errno.EBUSY: "another program has it open",
    errno.EIO: "its plug was pulled",
    errno.ENODEV: "its plug was pulled",
    errno.ENXIO: "its plug was pulled",
}
_SIGNS = (
    ("FileNotFoundError", "there is no such port: is its plug in?"),
    ("PermissionError", "another program has it open, or this person may not open it"),
    ("Connection refused", "nothing answers there"),
    ("timed out", "nothing answers there"),
    ("returned no data", "its plug was pulled"),
    ("Errno 5]", "its plug was pulled"),
    ("getaddrinfo", "no machine of that name is known"),
    ("Name or service", "no machine of that name is known"),
    ("does not seem to support", "the box doesn't speak RFC 2217"),
    ("disconnected", "the other end broke off"),
)
"""pyserial keeps the number of an error in its words alone."""


def why(error: Exception) -> str:
    """What happened, in words, without the names of Python's errors."""
    number = getattr(error, "errno", None)
    if isinstance(number, int) and number in _WORDS:
        return _WORDS[number]
    said = str(error)[:160] or type(error).__name__
    return next((words for sign, words in _SIGNS if sign in said), said)


class _Opening:
    """A try to open a line, in a thread of its own: a network box that is gone takes seconds to be
    found gone, and the keys must not wait for it."""

    def __init__(self, opened: Callable[[], Port]) -> None:
        self.port: Port | None = None
        self.why = ""
        self.done = threading.Event()
        self._opened, self._lock, self._abandoned = opened, threading.Lock(), False
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        port = None
        try:
            port = self._opened()
        except (OSError, ValueError) as error:
            # Not there yet: the next try comes after a pause. ValueError: a name that is none.
            self.why = why(error)
        finally:
            with self._lock:
                self.port = port
                if self._abandoned and port is not None:
                    port.close()
            self.done.set()

    def abandon(self) -> None:
        """Nobody waits any more: what is opened, or will be, is closed again."""
        with self._lock:
            self._abandoned = True
            if self.port is not None:
                self.port.close()
