"""A simulated readout on a TCP port of this machine, for learning, demo and tests.

It sends bytes that it is handed, or figures as a readout of two slides sends them, and can be
unplugged and plugged in again. It stands below the decoder, so the real one runs. It waits for
nothing but its listener, and never sleeps.
"""

from __future__ import annotations

import socket
from decimal import Decimal
from typing import Self

from drivers.layout import Layout, packaged
from inspect_rec.errors import ReadoutError

LOOPBACK = "127.0.0.1"
LAYOUT = "two-axis line"
_PATIENCE_S = 10
"""For a listener that doesn't come."""


class SimulatedReadout:
    """A readout behind ``url``; use it as a context manager.

    ``layout``: what ``show`` sends must be lines of it; the packaged one of two slides by default.
    """

    def __init__(self, layout: Layout | None = None) -> None:
        self.layout = layout or packaged()[LAYOUT]
        self._server = self._listen(0)
        self._port: int = self._server.getsockname()[1]
        self._client: socket.socket | None = None

    @property
    def url(self) -> str:
        """Where pyserial finds it."""
        return f"socket://{LOOPBACK}:{self._port}"

    @staticmethod
    def _listen(port: int) -> socket.socket:
        server = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        server.bind((LOOPBACK, port))
        server.listen(1)
        server.settimeout(_PATIENCE_S)
        return server

    def meet(self) -> None:
        """Wait for the next listener, and let the one before go."""
        client, _ = self._server.accept()
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if self._client is not None:
            self._client.close()
        self._client = client

    def send(self, data: bytes) -> None:
        """Send bytes to whoever listens; waits for the first listener."""
        self._listener().sendall(data)

    def show(self, x: Decimal | str, z: Decimal | str, *, key: bool = False) -> bytes:
        """Send a line with these figures, by the print key or on the way; gives its bytes.

        Raises ReadoutError for figures that a line of the layout can't show.
        """
        line = f"X{Decimal(x):+09.3f} Z{Decimal(z):+09.3f}{' *' if key else ''}".encode("ascii")
        pattern = self.layout.pattern
        match = None if pattern is None else pattern.fullmatch(line)
        shown = (
            None
            if match is None
            else [Decimal(figure.decode()) for figure in match.group("x", "z")]
        )
        if shown != [Decimal(x), Decimal(z)]:
            raise ReadoutError(
                "the simulated readout can't show this",
                expected=f"{self.layout.figures.decimals} decimals, and a layout of two slides",
                found=f"X {x}, Z {z}, layout {self.layout.id}",
            )
        self.send(line + self.layout.frame.terminator)
        return line + self.layout.frame.terminator

    def unplug(self) -> None:
        """Let the line go."""
        self._listener().close()
        self._server.close()
        self._client = None

    def plug_in(self) -> None:
        """Take the line up again under the same url."""
        self._server = self._listen(self._port)

    def close(self) -> None:
        """Stop."""
        if self._client is not None:
            self._client.close()
            self._client = None
        self._server.close()

    def _listener(self) -> socket.socket:
        if self._client is None:
            self.meet()
        assert self._client is not None  # noqa: S101 - met
        return self._client

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
