"""A network box that loses its power, in a network of its own (``unshare -rn python ...``).

Its one interface is taken down, so that every packet is lost and nobody is told; then it comes up
again. Prints what was seen as JSON. Run by test_vanished.py.
"""

from __future__ import annotations

import fcntl
import json
import socket
import struct
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime

from drivers.decoder import Decoder
from drivers.layout import Layout, packaged
from drivers.opening import opened
from drivers.transport import Back, Chunk, Line, Lost
from inspect_rec.reading import Sighting

GET_FLAGS, SET_FLAGS, UP = 0x8913, 0x8914, 1
FRAME = b"X+0036.449 Z+0130.250\r\n"
LAYOUT = packaged()["two-axis line"]
ON_KEY = replace(LAYOUT, rules=replace(LAYOUT.rules, sends="on key"))
AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


def power(*, on: bool) -> None:
    with socket.socket() as own:
        asked = struct.pack("16sH14x", b"lo", 0)
        (flags,) = struct.unpack_from("H", fcntl.ioctl(own, GET_FLAGS, asked), 16)
        flags = flags | UP if on else flags & ~UP
        fcntl.ioctl(own, SET_FLAGS, struct.pack("16sH14x", b"lo", flags))


def until(line: Line, kind: type, seconds: float = 15.0) -> tuple[Chunk | Lost | Back, float]:
    began = time.monotonic()
    while time.monotonic() - began < seconds:
        found = line.poll(0.05)
        if found is not None and isinstance(found, kind):
            return found, time.monotonic() - began
    raise AssertionError(f"no {kind.__name__} within {seconds} s")


@contextmanager
def connected(layout: Layout) -> Iterator[tuple[Line, socket.socket, socket.socket]]:
    power(on=True)
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(10)
        line = opened(f"socket://127.0.0.1:{server.getsockname()[1]}", layout)
        assert isinstance(line, Line)
        with line:
            box, _ = server.accept()
            yield line, server, box
            box.close()


def called_anew(line: Line, server: socket.socket) -> tuple[list[Back], socket.socket]:
    """The next call of the line, which is polled meanwhile."""
    server.settimeout(0.02)
    backs: list[Back] = []
    for _ in range(200):
        found = line.poll(0.02)
        assert found is None or isinstance(found, Back)
        backs += [found] if found is not None else []
        with suppress(TimeoutError):
            return backs, server.accept()[0]
    raise AssertionError("it didn't call anew")


def gone_and_back(layout: Layout) -> dict[str, object]:
    """Off in the middle of a line, on again after a while."""
    with connected(layout) as (line, server, box):
        box.sendall(FRAME + FRAME[:8])
        first, _ = until(line, Chunk)
        assert isinstance(first, Chunk)
        power(on=False)
        lost, lost_s = until(line, Lost)
        assert isinstance(lost, Lost)
        silent = [line.poll(0.1) for _ in range(15)]
        power(on=True)
        began = time.monotonic()
        backs, anew = called_anew(line, server)
        anew.sendall(FRAME)
        if not backs:
            until(line, Back)
        found_s = time.monotonic() - began
        second, _ = until(line, Chunk)
        assert isinstance(second, Chunk)
        anew.close()
    decoder = Decoder(layout, "RO-1")
    before = decoder.feed(first.data, AT)
    half = decoder.lost(lost.at).raw
    after = decoder.feed(second.data, AT)
    return {
        "why": lost.why,
        "lost_s": lost_s,
        "quiet": all(each is None for each in silent),
        "found_s": found_s,
        "first": first.data.decode(),
        "second": second.data.decode(),
        "half": half.decode(),
        "sightings": [[isinstance(each, Sighting) for each in found] for found in (before, after)],
    }


def short_outage() -> dict[str, object]:
    """A second without the network, in which the box sends: TCP brings it afterwards."""
    with connected(ON_KEY) as (line, _, box):
        box.sendall(FRAME)
        until(line, Chunk)
        power(on=False)
        box.sendall(FRAME * 2)
        before = [line.poll(0.1) for _ in range(10)]
        power(on=True)
        data, losses = b"", 0
        end = time.monotonic() + 5
        while len(data) < 2 * len(FRAME) and time.monotonic() < end:
            found = line.poll(0.05)
            data += found.data if isinstance(found, Chunk) else b""
            losses += isinstance(found, Lost)
    return {
        "before": sum(each is not None for each in before),
        "data": data.decode(),
        "losses": losses,
    }


if __name__ == "__main__":
    json.dump(
        {
            "by itself": gone_and_back(LAYOUT),
            "on key": gone_and_back(ON_KEY),
            "short": short_outage(),
        },
        sys.stdout,
    )
