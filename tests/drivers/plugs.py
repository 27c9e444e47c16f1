"""What stands at the other end of a line and can be pulled out: servers, programs, devices."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tty
from collections.abc import Sequence
from pathlib import Path

from drivers.layout import packaged
from tests.drivers.peers import appears, free_port
from tests.drivers.test_modbus import DEVICE

LAYOUT = packaged()["two-axis line"]
PATIENCE_S = 15


class Plug:
    """Plugged in, pulled out, again and again."""

    address: str
    layout = LAYOUT
    sure = True
    """Whether all that was sent arrives; a killed program may keep some."""

    def plug_in(self) -> None:
        """Be there (again)."""
        raise NotImplementedError

    def send(self, data: bytes) -> None:
        """Send; may wait until somebody listens."""
        raise NotImplementedError

    def pull(self) -> None:
        """Go, without a word where that can be."""
        raise NotImplementedError

    def close(self) -> None:
        """Go for good."""
        self.pull()


class Server(Plug):
    """A server in the network that closes."""

    def __init__(self) -> None:
        self._port = free_port()
        self.address = f"socket://127.0.0.1:{self._port}"
        self._own: socket.socket | None = None

    def plug_in(self) -> None:
        self._server = socket.create_server(("127.0.0.1", self._port))
        self._server.settimeout(PATIENCE_S)

    def send(self, data: bytes) -> None:
        if self._own is None:
            self._own, _ = self._server.accept()
        self._own.sendall(data)

    def pull(self) -> None:
        if self._own is not None:
            self._own.close()
            self._own = None
        self._server.close()


class Killed(Plug):
    """A program whose standard input goes to the line."""

    sure = False

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None

    def command(self) -> Sequence[str]:
        raise NotImplementedError

    def plug_in(self) -> None:
        self._process = subprocess.Popen(
            self.command(), stdin=subprocess.PIPE, stderr=subprocess.DEVNULL
        )

    def send(self, data: bytes) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(data)
        self._process.stdin.flush()

    def pull(self) -> None:
        assert self._process is not None
        self._process.kill()
        self._process.communicate()


class Socat(Killed):
    """A box that is called."""

    def __init__(self) -> None:
        super().__init__()
        self._port = free_port()
        self.address = f"socket://127.0.0.1:{self._port}"

    def command(self) -> Sequence[str]:
        return ("socat", "-u", "-", f"tcp-listen:{self._port},bind=127.0.0.1,reuseaddr")


class Caller(Killed):
    """A box that calls."""

    def __init__(self) -> None:
        super().__init__()
        self._port = free_port()
        self.address = f"listen://127.0.0.1:{self._port}"

    def command(self) -> Sequence[str]:
        return ("socat", "-u", "-", f"tcp:127.0.0.1:{self._port},retry=100,interval=0.1")


class Terminal(Plug):
    """A device that goes, as an adapter that is pulled out."""

    sure = False

    def __init__(self, path: Path) -> None:
        self._path, self.address = path, str(path)

    def plug_in(self) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self._path.symlink_to(os.ttyname(self._slave))

    def send(self, data: bytes) -> None:
        os.write(self._master, data)

    def pull(self) -> None:
        self._path.unlink()
        os.close(self._slave)
        os.close(self._master)


class Box(Plug):
    """socat is the readout, ser2net the box that is killed."""

    sure = False

    def __init__(self, folder: Path, accepter: str, address: str) -> None:
        folder.mkdir()
        self._device, port = folder / "tty", free_port()
        self.address = address.format(port)
        self._config = folder / "ser2net.yaml"
        self._config.write_text(
            f"connection: &box\n  accepter: {accepter.format(f'127.0.0.1,{port}')}\n"
            f"  connector: serialdev,{self._device},9600n81,local\n",
            encoding="utf-8",
        )
        self._readout: subprocess.Popen[bytes] | None = None

    def plug_in(self) -> None:
        if self._readout is None:
            self._readout = subprocess.Popen(
                ["socat", "-", f"pty,raw,echo=0,link={self._device}"],
                stdin=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
            appears(self._device)
        self._box = subprocess.Popen(
            ["ser2net", "-n", "-c", str(self._config)], stderr=subprocess.DEVNULL
        )

    def send(self, data: bytes) -> None:
        assert self._readout is not None
        assert self._readout.stdin is not None
        self._readout.stdin.write(data)
        self._readout.stdin.flush()

    def pull(self) -> None:
        self._box.kill()
        self._box.wait()

    def close(self) -> None:
        if self._readout is not None:
            self._readout.kill()
            self._readout.communicate()
        self.pull()


class Device:
    """A Modbus device; it counts its reads."""

    def __init__(self) -> None:
        self._port = free_port()
        self.address = f"modbus-tcp://127.0.0.1:{self._port}/17"

    def plug_in(self, first: int) -> None:
        command = (sys.executable, str(DEVICE), "tcp", str(self._port), str(first))
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == b"ready\n"

    def pull(self) -> None:
        self._process.kill()
        self._process.communicate()
