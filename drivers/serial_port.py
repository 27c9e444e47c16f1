"""A serial port through pyserial: a device of this machine, rfc2217://, loop://.

pyserial is imported here only, and its exceptions stop here.
"""

from __future__ import annotations

import socket
import time
from dataclasses import dataclass
from typing import Any

import serial

from drivers.layout import Layout
from drivers.network import keep_alive, knock

_SLICE_S = 0.02
"""Timeout of a single read. It stays as it is: a network box is told all port settings anew
whenever it changes."""
_WRITE_S = 0.5
_HUNG_S = 4.0
"""A box that is off, not one that refuses."""
_BLOCK = 64 * 1024
"""Bytes of one read at most."""
_LOSSES = (serial.SerialException, OSError, ValueError, TypeError)
"""What pyserial raises for a port that isn't there or was pulled out."""


class SerialPort:
    """An open port of pyserial."""

    def __init__(self, port: Any) -> None:
        self._port = port

    def read(self, timeout_s: float) -> bytes:
        """The bytes that wait, or come within the time."""
        end = time.monotonic() + timeout_s
        try:
            while True:
                data = self._port.read(min(max(1, self._port.in_waiting), _BLOCK))
                if data or time.monotonic() >= end:
                    return bytes(data)
        except _LOSSES as error:
            raise _lost(error) from error

    def write(self, data: bytes) -> None:
        """Send a request."""
        try:
            self._port.write(data)
        except _LOSSES as error:
            raise _lost(error) from error

    def close(self) -> None:
        """Let it go."""
        try:
            self._port.close()
        except _LOSSES:
            # The line is gone already; there is nothing left to let go of.
            return


def _lost(error: Exception) -> OSError:
    number = getattr(error, "errno", None)
    said = str(error) or type(error).__name__
    return OSError(number, said) if isinstance(number, int) else OSError(said)


@dataclass
class SerialWay:
    """A way to a port by its name: ``COM3``, ``/dev/ttyUSB0``, ``loop://``."""

    address: str
    layout: Layout
    vanishes: bool = False

    def open(self) -> SerialPort:
        """The open port, for this program alone."""
        port = self.layout.port
        more = {} if "://" in self.address else {"exclusive": True, "write_timeout": _WRITE_S}
        try:
            return SerialPort(
                serial.serial_for_url(
                    self.address,
                    baudrate=port.baud,
                    bytesize=port.bytesize,
                    parity=port.parity,
                    stopbits=port.stopbits,
                    timeout=_SLICE_S,
                    **more,
                )
            )
        except _LOSSES as error:
            raise _lost(error) from error

    def close(self) -> None:
        """Nothing is kept between two ports."""


@dataclass
class BoxWay(SerialWay):
    """A way to a network box that speaks RFC 2217."""

    host: str = ""
    port: int = 0
    vanishes: bool = True
    _hung: bool = False

    def open(self) -> SerialPort:
        """The box's port. pyserial waits five seconds for a box that is off, with longer and longer
        pauses between its tries; so one that was off is knocked at first."""
        if self._hung:
            knock(self.host, self.port)
        began, self._hung = time.monotonic(), False
        try:
            found = super().open()
        except OSError:
            self._hung = time.monotonic() - began > _HUNG_S
            raise
        own = getattr(found._port, "_socket", None)  # noqa: SLF001 - pyserial shows it nowhere else
        if isinstance(own, socket.socket):
            keep_alive(own)
        return found
