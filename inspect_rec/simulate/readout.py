"""A simulated readout on a TCP port of this machine, for learning, demo and tests.

It sends bytes that it is handed, and can be unplugged. It stands below the decoder, so the real
one runs.
"""

from __future__ import annotations

import socket
from typing import Self

LOOPBACK = "127.0.0.1"


class SimulatedReadout:
    """A readout behind ``url``; use it as a context manager."""

    def __init__(self) -> None:
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
        server.settimeout(10)
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
        if self._client is None:
            self.meet()
        assert self._client is not None  # noqa: S101 - met
        self._client.sendall(data)

    def unplug(self) -> None:
        """Let the line go."""
        if self._client is None:
            self.meet()
        assert self._client is not None  # noqa: S101 - met
        self._client.close()
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

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
