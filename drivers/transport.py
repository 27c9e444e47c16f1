"""A readout's line through pyserial: device, socket://, rfc2217://, loop://. Never writes.

Reads what is waiting and hands it on with its instant; a lost line is a value, and it is opened
again by itself. pyserial is imported here only, and its exceptions stop here.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Self

import serial

from drivers.layout import Layout
from inspect_rec.errors import ReadoutError

_PAUSE_S = 0.5
"""Between two tries to open a lost line."""
_LOSSES = (serial.SerialException, OSError, ValueError)
"""What pyserial raises for a port that isn't there, or an address that means nothing."""
_BLOCK = 64 * 1024
"""Bytes of one chunk at most."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes as they came, and when."""

    data: bytes
    at: datetime


@dataclass(frozen=True, slots=True)
class Lost:
    """The line went away."""

    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Back:
    """The line is there again."""

    at: datetime


def now() -> datetime:
    """The wall clock, in UTC."""
    return datetime.now(UTC)


class Line:
    """One readout's line; use it as a context manager."""

    def __init__(self, url: str, layout: Layout, clock: Callable[[], datetime] = now) -> None:
        self.url, self._layout, self._clock = url, layout, clock
        self._port: Any = None
        self._opening: _Opening | None = None
        self._tried = 0.0
        # pyserial tells of a socket only whether something waits, not how much.
        self._counts = not url.lower().startswith("socket:")

    def __enter__(self) -> Self:
        try:
            self._port = self._open()
        except _LOSSES as error:
            raise ReadoutError(
                "the readout's line can't be opened",
                found=str(error)[:160],
                where=self.url,
                do="Check the plug and the name of the port",
            ) from error
        return self

    def __exit__(self, *_: object) -> None:
        self._close()

    def poll(self, timeout_s: float = 0.2) -> Chunk | Lost | Back | None:
        """The bytes that wait, or come within ``timeout_s``; None when none did."""
        if self._port is None:
            return self._again(timeout_s)
        try:
            self._wait_at_most(timeout_s)
            data = self._port.read(min(max(1, self._port.in_waiting), _BLOCK))
        except (serial.SerialException, OSError, TypeError) as error:
            # A port that was pulled out raises either, and stays "open".
            self._close()
            self._tried = time.monotonic()
            return Lost(str(error)[:160] or type(error).__name__, self._clock())
        at = self._clock()
        if data and not self._counts:
            data += self._rest()
        return Chunk(data, at) if data else None

    def _wait_at_most(self, timeout_s: float) -> None:
        """Set only where it changes: a network box is told all port settings each time."""
        if self._port.timeout != timeout_s:
            self._port.timeout = timeout_s

    def _rest(self) -> bytes:
        """What else waits in a socket. A loss found here is found again by the next read, after
        these bytes were handed on."""
        try:
            self._wait_at_most(0)
            return bytes(self._port.read(_BLOCK))
        except (serial.SerialException, OSError):
            return b""

    def _again(self, timeout_s: float) -> Back | None:
        """One try after the other, with a pause; never longer than ``timeout_s`` at a time."""
        if self._opening is None:
            wait_s = self._tried + _PAUSE_S - time.monotonic()
            if wait_s > timeout_s:
                time.sleep(timeout_s)
                return None
            time.sleep(max(wait_s, 0))
            self._opening = _Opening(self._open)
        if not self._opening.done.wait(timeout_s):
            return None
        self._port, self._opening = self._opening.port, None
        self._tried = time.monotonic()
        return None if self._port is None else Back(self._clock())

    def _open(self) -> Any:
        port = self._layout.port
        return serial.serial_for_url(
            self.url,
            baudrate=port.baud,
            bytesize=port.bytesize,
            parity=port.parity,
            stopbits=port.stopbits,
            timeout=0.2,
            **({} if "://" in self.url else {"exclusive": True}),
        )

    def _close(self) -> None:
        opening, self._opening = self._opening, None
        port, self._port = self._port, None
        _let_go(port)
        if opening is not None:
            opening.abandon()


class _Opening:
    """A try to open a line, in a thread of its own: a network box that is gone takes seconds to be
    found gone, and the keys must not wait for it."""

    def __init__(self, opened: Callable[[], Any]) -> None:
        self.port: Any = None
        self.done = threading.Event()
        self._opened, self._lock, self._abandoned = opened, threading.Lock(), False
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        port = None
        try:
            port = self._opened()
        except _LOSSES:
            # Not there yet: the next try comes after a pause.
            return
        finally:
            with self._lock:
                self.port = port
                if self._abandoned:
                    _let_go(port)
            self.done.set()

    def abandon(self) -> None:
        """Nobody waits any more: what is opened, or will be, is closed again."""
        with self._lock:
            self._abandoned = True
            _let_go(self.port)


def _let_go(port: Any) -> None:
    if port is None:
        return
    try:
        port.close()
    except (serial.SerialException, OSError):
        # The line is gone already; there is nothing left to let go of.
        return
