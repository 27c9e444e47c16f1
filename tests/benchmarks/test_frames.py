"""Frames over a pseudo-terminal to exact figures, against pyserial's readline as most would use it.

Both read what lies ready in the terminal's buffer, so that the writer's time isn't counted, and
both are checked to give the same figures before anything is timed. Ratios alone are claimed.
"""

from __future__ import annotations

import gc
import os
import random
import re
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
import serial

from drivers.decoder import Decoder
from drivers.layout import packaged
from drivers.serial_port import SerialPort, SerialWay
from drivers.transport import Chunk, Line, Lost
from inspect_rec.reading import Sighting
from tests.benchmarks.timing import ROUNDS, Timed

pytestmark = pytest.mark.benchmark

LAYOUT = packaged()["two-axis line"]
FRAME = re.compile(rb"X([+-]\d{4}\.\d{3}) Z([+-]\d{4}\.\d{3})\r\n")
PEER = "pyserial readline, re, Decimal"
BURST, BURSTS = 150, 20
Figures = list[tuple[Decimal, Decimal]]
AT = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)


def frames(count: int, seed: int = 1) -> list[bytes]:
    """Two slides that wander as fast as hands move them."""
    draw, x, z, made = random.Random(seed), 36.449, 130.25, []
    for _ in range(count):
        x, z = x + draw.uniform(-1, 1), z + draw.uniform(-1, 1)
        made.append(f"X{x:+09.3f} Z{z:+09.3f}\r\n".encode())
    return made


DATA = frames(BURST * BURSTS)
EXPECTED = [(Decimal(x.decode()), Decimal(z.decode())) for x, z in FRAME.findall(b"".join(DATA))]


class Terminal:
    """A pseudo-terminal whose buffer is filled before a reader is timed."""

    def __init__(self, master: int, name: str) -> None:
        self.master, self.name = master, name

    def timed(self, waiting: Callable[[], int], read: Callable[[int], Figures]) -> float:
        """Seconds that ``read(bytes)`` takes over all bursts; what it gives is checked."""
        spent, found = 0.0, []
        for first in range(0, len(DATA), BURST):
            burst = b"".join(DATA[first : first + BURST])
            os.write(self.master, burst)
            while waiting() < len(burst):
                time.sleep(0.0001)
            started = time.perf_counter()
            figures = read(len(burst))
            spent += time.perf_counter() - started
            found += figures
        assert found == EXPECTED
        return spent


@contextmanager
def terminal() -> Iterator[Terminal]:
    import tty

    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    try:
        yield Terminal(master, os.ttyname(slave))
    finally:
        os.close(master)
        os.close(slave)


def peer(port: Any, count: int) -> Figures:
    """readline, a regular expression, Decimal."""
    found = []
    while count:
        line = port.readline()
        count -= len(line)
        match = FRAME.fullmatch(line)
        assert match is not None
        found.append((Decimal(match[1].decode()), Decimal(match[2].decode())))
    return found


def ours(line: Line, decoder: Decoder, count: int) -> Figures:
    """The line and the decoder as capture uses them: complete sightings of a described layout."""
    heard: list[Sighting] = []
    while count:
        chunk = line.poll(0.2)
        assert isinstance(chunk, Chunk)
        count -= len(chunk.data)
        for item in decoder.feed(chunk.data, chunk.at):
            assert isinstance(item, Sighting), item
            heard.append(item)
    return [(s.readings[0].value, s.readings[1].value) for s in heard]


def opened_(line: Line) -> None:
    while line._port is None:
        assert not isinstance(line.poll(0.1), Lost)


def waiting(line: Line) -> int:
    """Bytes in the terminal's buffer."""
    assert isinstance(line._port, SerialPort)
    return int(line._port._port.in_waiting)


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_frames_over_a_terminal() -> None:
    taken: dict[str, list[float]] = {"inspect_rec": [], PEER: []}
    instants = iter(AT + timedelta(seconds=n) for n in range(10**6))
    with terminal() as one, terminal() as other:
        port = serial.Serial(other.name, 9600, timeout=1)
        with Line(SerialWay(one.name, LAYOUT), LAYOUT, lambda: next(instants)) as line:
            opened_(line)
            for turn in range(-1, ROUNDS):
                gc.collect()
                # A decoder a round: the slides begin where they began, which would be a jump.
                sighted = partial(ours, line, Decoder(LAYOUT, "RO-1"))
                spent = {
                    "inspect_rec": one.timed(partial(waiting, line), sighted),
                    PEER: other.timed(lambda: port.in_waiting, partial(peer, port)),
                }
                for name, seconds in spent.items() if turn >= 0 else ():
                    taken[name].append(seconds * 1e6 / len(DATA))
        port.close()
    timed = Timed({name: tuple(micros) for name, micros in taken.items()})
    print(timed.table("24-byte frame over a terminal (goal: peer at least 20)", "inspect_rec"))
