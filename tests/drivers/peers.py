"""What the tests of the lines share: waiting for news, and programs at the other end."""

from __future__ import annotations

import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from drivers.lines import Pollable
from drivers.transport import Back, Chunk, Line, Lost

FRAME = b"X+0036.449 Z+0130.250 *\r\n"
Found = TypeVar("Found", Chunk, Lost, Back)


def until(line: Pollable, kind: type[Found], seconds: float = 5.0) -> Found:
    """The next news of that kind; what else comes before is let go."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = line.poll(0.1)
        if isinstance(found, kind):
            return found
    raise AssertionError(f"no {kind.__name__} within {seconds} s")


def read(line: Pollable, count: int) -> bytes:
    """The next bytes, so many at least."""
    data = b""
    while len(data) < count:
        data += until(line, Chunk).data
    return data


def comes(line: Pollable) -> None:
    """Until it is open: what a box is sent before, it may clear."""
    assert isinstance(line, Line)
    end = time.monotonic() + 5
    while line._port is None:
        assert time.monotonic() < end
        line.poll(0.05)


def free_port() -> int:
    """A port of this machine that nobody listens at."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def running(*command: str) -> Iterator[subprocess.Popen[bytes]]:
    """A program, killed at the end."""
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        if process.stdin:
            process.stdin.close()


def appears(path: Path) -> None:
    """Until another program has made it."""
    end = time.monotonic() + 5
    while not path.exists():
        assert time.monotonic() < end, f"{path} didn't appear"
        time.sleep(0.02)
