"""The wire of a simulated readout: a TCP port of this machine, or a pseudo-terminal (POSIX only).

Bytes that nobody listens to are lost, as on any wire. A wire knows nothing of figures.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import sys
import tempfile
from pathlib import Path
from typing import Protocol

from inspect_rec.errors import ReadoutError

LOOPBACK, SOCKET = "127.0.0.1", "socket://"
_PATIENCE_S = 10
"""For a listener that doesn't come."""
_WAITING = 16
"""Calls that wait until the next is met: who hears nothing for long hangs up and calls anew."""
_BLOCK = 4096


class Wire(Protocol):
    """One end of a line, at the readout."""

    @property
    def address(self) -> str:
        """Where the other end is found."""

    def listened(self) -> bool:
        """Whether somebody listens now; the next listener takes the place of the one before."""

    def offer(self, data: bytes) -> None:
        """Send what the other end takes at once; raises nothing."""

    def heard(self) -> bytes:
        """What came from the other end; raises nothing."""

    def unplug(self) -> None:
        """Let the line go."""

    def plug_in(self) -> None:
        """Take the line up again under the same address."""

    def close(self) -> None:
        """Stop."""


class TcpWire:
    """A TCP port that listens on this machine alone. ``port``: 0 for any that is free."""

    def __init__(self, port: int = 0) -> None:
        self._server: socket.socket | None = self._listen(port)
        self._port: int = self._server.getsockname()[1]
        self.client: socket.socket | None = None

    @property
    def address(self) -> str:
        """Where pyserial finds it."""
        return f"{SOCKET}{LOOPBACK}:{self._port}"

    @staticmethod
    def _listen(port: int) -> socket.socket:
        server = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            server.bind((LOOPBACK, port))
            server.listen(_WAITING)
        except (OSError, OverflowError) as error:
            server.close()
            raise ReadoutError(
                "the simulated readout can't have this port",
                expected="a port from 1024 to 65535 that no other program has",
                found=f"{port} ({error})",
            ) from error
        server.settimeout(_PATIENCE_S)
        return server

    def meet(self) -> None:
        """Wait for the next listener, and let the one before go."""
        assert self._server is not None  # noqa: S101 - plugged in
        client, _ = self._server.accept()
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if self.client is not None:
            self.client.close()
        self.client = client

    def listened(self) -> bool:
        """Whether somebody listens now."""
        with contextlib.suppress(OSError):  # it went away at once
            self._meet_all()
        return self.client is not None

    def _meet_all(self) -> None:
        """A listener that heard nothing for long hangs up and calls anew: the last is the one."""
        while self._server is not None and select.select([self._server], [], [], 0)[0]:
            self.meet()

    def send(self, data: bytes) -> None:
        """Send all to whoever listens; waits for the first listener. Raises OSError when it has
        gone."""
        self._meet_all()
        if self.client is None:
            self.meet()
        assert self.client is not None  # noqa: S101 - met
        self.client.sendall(data)

    def offer(self, data: bytes) -> None:
        """Send what the listener takes at once."""
        if self.client is None or not data:
            return
        try:
            if select.select([], [self.client], [], 0)[1]:
                self.client.send(data)
        except OSError:
            self._let_go()

    def heard(self) -> bytes:
        """What came from the listener."""
        if self.client is None or not select.select([self.client], [], [], 0)[0]:
            return b""
        try:
            data = self.client.recv(_BLOCK)
        except OSError:
            data = b""
        if not data:
            self._let_go()
        return data

    def _let_go(self) -> None:
        if self.client is not None:
            self.client.close()
        self.client = None

    def unplug(self) -> None:
        """Let the line go."""
        self._let_go()
        if self._server is not None:
            self._server.close()
        self._server = None

    def plug_in(self) -> None:
        """Take the line up again under the same address."""
        self._server = self._listen(self._port)

    def close(self) -> None:
        """Stop."""
        self.unplug()


class PtyWire:
    """A pseudo-terminal, found under a path that stays while it is unplugged and plugged in."""

    def __init__(self) -> None:
        if sys.platform == "win32":
            raise ReadoutError(
                "there are no pseudo-terminals on Windows",
                do="Take a TCP port: --tcp 0",
            )
        self._folder = tempfile.TemporaryDirectory(prefix="inspect-rec-readout-")
        self._path = Path(self._folder.name) / "readout"
        self._own: int | None = None
        self.plug_in()

    @property
    def address(self) -> str:
        """The path of its device."""
        return str(self._path)

    def plug_in(self) -> None:
        """Take the line up again under the same path."""
        if sys.platform == "win32" or self._own is not None:
            return
        import pty
        import tty

        self._own, other = pty.openpty()
        # Raw: nothing is echoed or changed on its way. Closed at once: that nobody listens shows.
        tty.setraw(other)
        device = os.ttyname(other)
        os.close(other)
        os.set_blocking(self._own, False)
        self._path.unlink(missing_ok=True)
        self._path.symlink_to(device)

    def listened(self) -> bool:
        """Whether somebody has it open."""
        if sys.platform == "win32" or self._own is None:
            return False
        watch = select.poll()
        watch.register(self._own, select.POLLHUP)
        return not any(what & select.POLLHUP for _, what in watch.poll(0))

    def offer(self, data: bytes) -> None:
        """Send what the listener's buffer takes."""
        if self._own is not None and data and self.listened():
            with contextlib.suppress(OSError):  # nobody reads: the rest is lost
                os.write(self._own, data)

    def heard(self) -> bytes:
        """What came from the listener."""
        if self._own is None:
            return b""
        try:
            return os.read(self._own, _BLOCK)
        except OSError:  # nothing waits, or nobody has it open
            return b""

    def unplug(self) -> None:
        """Let the line go: its device is gone."""
        if self._own is not None:
            os.close(self._own)
            self._path.unlink(missing_ok=True)
        self._own = None

    def close(self) -> None:
        """Stop."""
        self.unplug()
        self._folder.cleanup()
