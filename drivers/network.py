"""A TCP connection to a network box, watched so that one that vanished is found out.

Raw bytes only. A box that loses its power says nothing: the connection is kept alive by probes,
and given up when they stay without an answer.
"""

from __future__ import annotations

import socket
import struct
from contextlib import suppress
from dataclasses import dataclass

CONNECT_S = 0.8
"""For one try to connect. TCP itself waits longer and longer between its tries; fresh tries find a
box sooner after its return."""
_IDLE_S, _INTERVAL_S, _PROBES = 1, 1, 3
_WRITE_S = 0.5
_BLOCK = 64 * 1024
_PROBED = (
    ("TCP_KEEPIDLE", _IDLE_S),
    ("TCP_KEEPALIVE", _IDLE_S),  # macOS's name for it
    ("TCP_KEEPINTVL", _INTERVAL_S),
    ("TCP_KEEPCNT", _PROBES),
    ("TCP_USER_TIMEOUT", 1000 * (_IDLE_S + _PROBES * _INTERVAL_S)),
)
"""Options by name: not every system has all of them."""


def keep_alive(own: socket.socket) -> None:
    """Have the other end probed every second of silence, and given up after three without an
    answer; what is written goes out at once."""
    own.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    own.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    for name, value in _PROBED:
        option = getattr(socket, name, None)
        if option is not None:
            own.setsockopt(socket.IPPROTO_TCP, option, value)


def called(host: str, port: int) -> socket.socket:
    """A fresh connection; raises OSError when nothing answers in time."""
    try:
        return socket.create_connection((host, port), CONNECT_S)
    except (socket.gaierror, UnicodeError):  # a name that is none: too long, or with empty parts
        raise ConnectionError("no machine of that name is known") from None


def knock(host: str, port: int) -> None:
    """Raises OSError unless something answers; it is let go at once, and learns nothing."""
    with called(host, port) as own:
        # Reset, not closed in form: a box that takes one caller is free again at once.
        own.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))


class Connection:
    """An open TCP connection."""

    def __init__(self, own: socket.socket) -> None:
        keep_alive(own)
        self._own = own

    def read(self, timeout_s: float) -> bytes:
        """The bytes that wait, or come within the time."""
        try:
            # Zero would mean: don't wait even for what is on its way through the kernel.
            self._own.settimeout(max(timeout_s, 0.001))
            data = self._own.recv(_BLOCK)
        except TimeoutError as error:
            if error.errno is None:
                return b""
            # The same class means that the probes stayed without an answer.
            raise
        if not data:
            raise ConnectionError("the other end broke off")
        return data

    def write(self, data: bytes) -> None:
        """Send a request."""
        self._own.settimeout(_WRITE_S)
        self._own.sendall(data)

    def close(self) -> None:
        """Let it go."""
        with suppress(OSError):
            self._own.close()


@dataclass
class SocketWay:
    """A way to a box that is called: ``socket://host:port``."""

    address: str
    host: str
    port: int
    vanishes: bool = True

    def open(self) -> Connection:
        """A fresh connection."""
        return Connection(called(self.host, self.port))

    def close(self) -> None:
        """Nothing is kept between two connections."""
