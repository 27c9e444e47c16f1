"""The plug is pulled in the middle of 1,000 numbered readings, again and again.

What the line hands on is held against what was sent: within a connection nothing is missing, over
all of them nothing comes twice or out of order, each half line is dropped and shown, and the line
is found again within a second or two. 240 times in all: 50 each by a server that closes, socat
that is killed, a pseudo-terminal that goes, and a box that calls and is killed; 20 by a Modbus
device that is killed; 10 each by ser2net that is killed, raw and RFC 2217.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import Layout, packaged
from drivers.opening import opened
from drivers.transport import Back, Chunk, Line, Lost
from inspect_rec.reading import Sighting
from tests.drivers.plugs import (
    PATIENCE_S,
    Box,
    Caller,
    Device,
    Killed,
    Plug,
    Server,
    Socat,
    Terminal,
)
from tests.drivers.test_modbus import LAYOUT as REGISTERS
from tests.programs import needs

LAYOUT = packaged()["two-axis line"]
EACH, PULLS = 20, 5
"""Readings between two pulls, and pulls of a line."""
LINES = 10
"""That are pulled side by side: 1,000 readings."""


def frame(n: int) -> bytes:
    return f"X+{n / 1000:08.3f} Z+0130.250\r\n".encode()


NUMBERED = re.compile(rb"X\+(\d{4})\.(\d{3}) Z\+0130\.250\r\n")
HALF = b"X+9999.99"


@dataclass
class Seen:
    """What one line handed on."""

    connections: list[bytes] = field(default_factory=lambda: [b""])
    read: list[int] = field(default_factory=list)
    """Numbers of the readings, as the decoder gave them."""
    halves: list[bytes] = field(default_factory=list)
    others: list[Alarm] = field(default_factory=list)
    lost: int = 0
    found_s: list[float] = field(default_factory=list)
    """From the plug's return to what the line says first."""


class Watched:
    """A line whose news are decoded and kept."""

    def __init__(self, line: Line, layout: Layout) -> None:
        self.line, self.decoder, self.seen = line, Decoder(layout, "RO-1"), Seen()

    def poll(self) -> Chunk | Lost | Back | None:
        found, seen = self.line.poll(0.05), self.seen
        if isinstance(found, Chunk):
            seen.connections[-1] += found.data
            for item in self.decoder.feed(found.data, found.at):
                if isinstance(item, Sighting):
                    seen.read.append(int(item.readings[0].value * 1000))
                else:
                    seen.others.append(item)
        elif isinstance(found, Lost):
            seen.lost += 1
            seen.connections.append(b"")
            seen.halves.append(self.decoder.lost(found.at).raw)
        elif isinstance(found, Back):
            assert self.decoder.back(found.at).code is Code.BACK
        return found

    def until(self, done: Callable[[Chunk | Lost | Back | None], bool]) -> None:
        end = time.monotonic() + PATIENCE_S
        while not done(self.poll()):
            assert time.monotonic() < end, (self.line._way.address, self.seen)


def pulled(plug: Plug, pulls: int, first: int) -> Seen:
    """Send readings with half a one behind, pull, plug in again; ``pulls`` times."""
    plug.plug_in()
    try:
        return used(plug, pulls, first)
    finally:
        plug.close()


def used(plug: Plug, pulls: int, first: int) -> Seen:
    line = opened(plug.address, plug.layout)
    assert isinstance(line, Line)
    with line:
        watched = Watched(line, plug.layout)
        watched.until(lambda _: line._port is not None)
        watched.seen = seen = Seen()  # what starts later than the line is lost before, once
        n = first
        for turn in range(pulls):
            for k in range(EACH):
                plug.send(frame(n + k))
                if k % 5 == 0:
                    watched.poll()
            n += EACH
            if plug.sure:
                plug.send(HALF)
            else:
                watched.until(lambda _: bool(seen.read) and seen.read[-1] >= n - EACH // 2)  # noqa: B023
            plug.pull()
            watched.until(lambda _: seen.lost == turn + 1)  # noqa: B023
            plug.plug_in()
            began = time.monotonic()
            watched.until(lambda found: isinstance(found, Back))
            seen.found_s.append(time.monotonic() - began)
    return seen


def side_by_side(plugs: Sequence[Plug], pulls: int) -> list[tuple[Seen, int]]:
    with ThreadPoolExecutor(len(plugs)) as pool:
        firsts = [1 + 1000 * k for k in range(len(plugs))]
        running = [pool.submit(pulled, p, pulls, f) for p, f in zip(plugs, firsts, strict=True)]
        found = [each.result() for each in running]
    times = sorted(s for seen in found for s in seen.found_s)
    print(f"found again after {times[len(times) // 2]:.2f} s, at most {times[-1]:.2f} s")
    assert times[-1] < 2.0
    return list(zip(found, firsts, strict=True))


def numbers(data: bytes) -> list[int]:
    return [int(m[1] + m[2]) for m in NUMBERED.finditer(data)]


def held(seen: Seen, pulls: int, first: int, *, sure: bool) -> None:
    """Nothing that was handed on is lost, doubled, mixed up or made up."""
    sent = list(range(first, first + pulls * EACH))
    assert seen.lost == pulls
    assert seen.others == []
    handed = [numbers(data) for data in seen.connections]
    for data, found in zip(seen.connections, handed, strict=True):
        assert found == list(range(found[0], found[0] + len(found))) if found else not data
        rest = NUMBERED.sub(b"", data)
        assert b"\n" not in rest, "a line that nobody sent"
    assert [n for found in handed for n in found] == seen.read
    assert sorted(set(seen.read)) == seen.read
    assert set(seen.read) <= set(sent)
    rests = [NUMBERED.sub(b"", data) for data in seen.connections]
    assert seen.halves == rests[:-1]
    if sure:
        assert seen.read == sent
        assert seen.halves == [HALF] * pulls


# A server in the network that closes


def test_a_server_that_closes() -> None:
    found = side_by_side([Server() for _ in range(LINES)], PULLS)
    for seen, first in found:
        held(seen, PULLS, first, sure=True)


# Programs that are killed


@needs("socat")
@pytest.mark.parametrize("kind", [Socat, Caller], ids=["called", "calls"])
def test_a_box_that_is_killed(kind: type[Killed]) -> None:
    found = side_by_side([kind() for _ in range(LINES)], PULLS)
    for seen, first in found:
        held(seen, PULLS, first, sure=False)


# A device that goes, as an adapter that is pulled out


def test_a_device_that_goes(tmp_path: Path) -> None:
    found = side_by_side([Terminal(tmp_path / f"tty{n}") for n in range(LINES)], PULLS)
    for seen, first in found:
        held(seen, PULLS, first, sure=False)


# A network box of an independent maker between the readout and the network


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # inside pyserial 3.5
@needs("ser2net", "socat")
@pytest.mark.parametrize(
    ("accepter", "address"),
    [
        ("tcp,{}", "socket://127.0.0.1:{}"),
        ("telnet(rfc2217),tcp,{}", "rfc2217://127.0.0.1:{}?ign_set_control"),
    ],
    ids=["raw", "rfc2217"],
)
def test_a_network_box_that_is_killed(tmp_path: Path, accepter: str, address: str) -> None:
    plugs = [Box(tmp_path / str(n), accepter, address) for n in range(2)]
    found = side_by_side(plugs, PULLS)
    for seen, first in found:
        held(seen, PULLS, first, sure=False)


# A Modbus device: it counts its reads


def read_and_pulled(device: Device, pulls: int) -> tuple[list[list[int]], list[float]]:
    turns: list[list[int]] = []
    taken: list[float] = []
    line = opened(device.address, REGISTERS)
    assert isinstance(line, Line)
    with line:
        watched = Watched(line, REGISTERS)
        for turn in range(pulls):
            device.plug_in(10_000 * (turn + 1))
            try:
                began, read = time.monotonic(), len(watched.seen.read)
                watched.until(lambda _: len(watched.seen.read) > read)  # noqa: B023
                taken.append(time.monotonic() - began)
                watched.until(lambda _: len(watched.seen.read) >= read + 25)  # noqa: B023
            finally:
                device.pull()
            watched.until(lambda found: isinstance(found, Lost))
            turns.append(watched.seen.read[read:])
    assert watched.seen.others == []
    return turns, taken


def test_a_modbus_device_that_is_killed() -> None:
    devices = [Device() for _ in range(4)]
    with ThreadPoolExecutor(len(devices)) as pool:
        found = list(pool.map(lambda device: read_and_pulled(device, PULLS), devices))
    taken = sorted(s for _, each in found for s in each)
    print(f"found again after {taken[len(taken) // 2]:.2f} s, at most {taken[-1]:.2f} s")
    assert taken[-1] < 2.0
    for turns, _ in found:
        for turn, read in enumerate(turns):
            start = 10_000 * (turn + 1)
            assert read == list(range(start, start + len(read)))
            assert len(read) >= 25
