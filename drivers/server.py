"""Network boxes that call: this machine listens, one box at a time, and never two mixed.

A new call takes the place of a dead one only. A call from elsewhere while a box is alive is turned
away at once, so that nothing of it waits to be taken for something fresh later on.
"""

from __future__ import annotations

import select
import socket
import threading
import time
from contextlib import suppress

from drivers.layout import Layout
from drivers.network import CONNECT_S, Connection

_SAME_S = 1.0
"""A box that calls again from where it called before, unheard for so long, began anew."""
_LOOK_S = 0.1
"""Between two looks for a new call."""
_WAITING = 4
"""Calls that the system holds until they are looked at."""


class ServerWay:
    """Listens at ``listen://host:port``; without a host at all of this machine's addresses."""

    vanishes = True

    def __init__(self, address: str, host: str, port: int, layout: Layout) -> None:
        self.address, self._at = address, (host, port)
        self._silent_s = layout.silent_s
        self._lock = threading.Lock()
        self._listener: socket.socket | None = None
        self._next: tuple[socket.socket, str] | None = None
        self._closed = False

    @property
    def port(self) -> int:
        """The port that is listened at, once it is."""
        return self._listening().getsockname()[1]  # type: ignore[no-any-return]

    def open(self) -> Call:
        """The next call; raises OSError when none comes within a short time."""
        found, self._next = self._next, None
        try:
            own, host = found or self._accept(CONNECT_S)
        except TimeoutError:
            raise ConnectionError("no box has called here yet") from None
        return Call(Connection(own), host, self)

    def close(self) -> None:
        """Stop listening."""
        with self._lock:
            self._closed = True
            for own in (self._listener, self._next and self._next[0]):
                if own is not None:
                    with suppress(OSError):
                        own.close()
            self._listener = self._next = None

    def replaced(self, host: str, unheard_s: float) -> bool:
        """Whether another call takes the place of the one with ``host``, unheard for so long; all
        other calls are turned away."""
        while select.select([self._listening()], [], [], 0)[0]:
            own, caller = self._accept(_LOOK_S)
            dead = unheard_s > (_SAME_S if caller == host else self._silent_s or float("inf"))
            if dead:
                self._next = own, caller
                return True
            own.close()
        return False

    def _accept(self, timeout_s: float) -> tuple[socket.socket, str]:
        listener = self._listening()
        listener.settimeout(timeout_s)
        own, who = listener.accept()
        return own, str(who[0])

    def _listening(self) -> socket.socket:
        with self._lock:
            if self._closed:
                raise ConnectionError("it isn't listened there any more")
            if self._listener is None:
                host = self._at[0]
                family = socket.AF_INET6 if ":" in host else socket.AF_INET
                self._listener = socket.create_server(self._at, family=family, backlog=_WAITING)
            return self._listener


class Call:
    """One box's call."""

    def __init__(self, connection: Connection, host: str, way: ServerWay) -> None:
        self._connection, self._host, self._way = connection, host, way
        self._heard = self._looked = time.monotonic()

    def read(self, timeout_s: float) -> bytes:
        """The bytes that wait, or come within the time; what a box sent comes before its end."""
        data = self._connection.read(timeout_s)
        moment = time.monotonic()
        if data:
            self._heard = moment
        if moment - self._looked >= _LOOK_S:
            self._looked = moment
            if self._way.replaced(self._host, moment - self._heard):
                raise ConnectionError("the box called anew")
        return data

    def write(self, data: bytes) -> None:
        """Send a request."""
        self._connection.write(data)

    def close(self) -> None:
        """Let it go."""
        self._connection.close()
