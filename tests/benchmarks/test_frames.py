"""Frames to exact figures: over a pseudo-terminal, against pyserial's readline as most use it, and
in memory, against a regular expression and Decimal.

Over a terminal both read what lies ready in its buffer, so that the writer's time isn't counted.
In memory figures become integers of the last place and their places, which is what a Decimal holds.
All are checked to give the same figures before anything is timed. Ratios alone are claimed.
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

from drivers import columns
from drivers.decoder import Decoder
from drivers.layout import packaged, parse
from drivers.runs import BLOCK
from drivers.serial_port import SerialPort, SerialWay
from drivers.transport import Chunk, Line, Lost
from inspect_rec.reading import Sighting
from tests.benchmarks.timing import ROUNDS, Timed, interleaved

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


MANY = 200_000
"""Frames in memory; a million take as long each."""
LINES = re.compile(rb"X([+-]\d+\.\d+)Z([+-]\d+\.\d+)\r")
BOTH = re.compile(r"X([+-]\d+\.\d+)Z([+-]\d+\.\d+)\r\n")
FORMATS = {
    "fixed format": (r"[+-]\d{4}\.\d{3}", "3"),
    "mixed widths and decimals": (r"[+-]\d{1,5}\.\d{1,5}", "[1, 5]"),
}


def in_memory(title: str, seed: int = 2) -> bytes:
    draw = random.Random(seed)

    def figure() -> str:
        whole, places = (draw.randint(1, 5), draw.randint(1, 5)) if "mixed" in title else (4, 3)
        digits = f"{draw.randrange(10**whole):0{whole}d}.{draw.randrange(10**places):0{places}d}"
        return draw.choice("+-") + digits

    return "".join(f"X{figure()}Z{figure()}\r\n" for _ in range(MANY)).encode()


def split(data: bytes) -> Figures:
    found = []
    for line in data.split(b"\n")[:-1]:
        match = LINES.fullmatch(line)
        assert match is not None
        found.append((Decimal(match[1].decode()), Decimal(match[2].decode())))
    return found


def found_all(data: bytes) -> Figures:
    return [(Decimal(x), Decimal(z)) for x, z in BOTH.findall(data.decode("ascii"))]


def in_columns(reader: columns.Columns, data: bytes) -> list[columns.Block]:
    """A block at a time, as a long recording is decoded."""
    found, at = [], 0
    while at < len(data):
        block = reader.read(data[at : at + BLOCK])
        at += int(block.stops[-1]) + 2
        found.append(block)
    return found


@pytest.mark.parametrize("title", FORMATS)
def test_frames_in_memory(title: str) -> None:
    form, decimals = FORMATS[title]
    text = f"id = 'm'\n[frame]\npattern = 'X(?P<x>{form})Z(?P<z>{form})'\n"
    reader = columns.of(parse(f"{text}[figures]\ndecimals = {decimals}\n", "m.toml"))
    assert reader is not None
    data = in_memory(title)
    blocks = in_columns(reader, data)
    assert all(block.good.all() for block in blocks)
    ours = [
        tuple(Decimal(n).scaleb(-k) for n, k in zip(ns, ks, strict=True))
        for block in blocks
        for ns, ks in zip(block.values.T.tolist(), block.places.T.tolist(), strict=True)
    ]
    expected = split(data)
    assert [str(d) for pair in ours for d in pair] == [
        str(d or abs(d)) for pair in expected for d in pair
    ]
    assert found_all(data) == expected
    routes: dict[str, Callable[[], object]] = {
        "inspect_rec": partial(in_columns, reader, data),
        "findall, Decimal": partial(found_all, data),
        "split, re, Decimal": partial(split, data),
    }
    timed = interleaved(routes, MANY)
    goal = 10 if "mixed" in title else 20
    print(timed.table(f"Frames in memory, {title} (goal: peers at least {goal})", "inspect_rec"))
