"""A simulated readout on a real wire: pyserial and an independent program read what it sends."""

from __future__ import annotations

import contextlib
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
import serial

from drivers.decoder import Decoder
from drivers.opening import opened
from drivers.transport import Back, Chunk, Lost
from inspect_rec.errors import ReadoutError
from inspect_rec.reading import Sighting
from inspect_rec.simulate.display import Display
from inspect_rec.simulate.readout import Running
from inspect_rec.simulate.script import Player, parse
from inspect_rec.simulate.wire import PtyWire, TcpWire, Wire
from tests.programs import needs
from tests.simulate.layouts import described

LAYOUTS = described()
TWO = LAYOUTS["two-axis line"]
LINE = b"X+0000.000 Z+0000.000\r\n"
WIRES: list[Callable[[], Wire]] = [TcpWire]
if sys.platform != "win32":
    WIRES.append(PtyWire)
every_wire = pytest.mark.parametrize("wire", WIRES, ids=lambda kind: kind.__name__)
posix = pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")


def running(wire: Wire, script: str = "", layout_id: str = "two-axis line") -> Running:
    layout = LAYOUTS[layout_id]
    return Running(Player(Display(layout, rate=50), parse(script, "s", layout)), wire)


def until(done: Callable[[], bool], seconds: float = 5.0) -> None:
    end = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < end
        time.sleep(0.01)


@every_wire
def test_pyserial_reads_what_is_sent(wire: Callable[[], Wire]) -> None:
    readout = running(wire())
    with readout.in_background(), serial.serial_for_url(readout.address, timeout=2) as port:
        assert port.read(10 * len(LINE)) == 10 * LINE


@every_wire
def test_a_line_sees_it_go_and_come_back_under_the_same_address(wire: Callable[[], Wire]) -> None:
    with running(wire(), "at 0.3 fault unplugged for 0.5").in_background() as readout:
        address = readout.address
        with opened(address, TWO) as line:
            news: list[object] = []

            def heard() -> bool:
                if (found := line.poll(0.05)) is not None:
                    news.append(found)
                return isinstance(news[-1], Chunk) and any(isinstance(n, Back) for n in news)

            news.append(None)
            until(heard)
        kinds = [type(n) for n in news if isinstance(n, (Lost, Back))]
        assert kinds == [Lost, Back]
        assert readout.address == address


@every_wire
def test_the_next_listener_hears_nothing_of_what_was_sent_to_nobody(
    wire: Callable[[], Wire],
) -> None:
    with running(wire(), "at 0.5 x 7 over 0").in_background() as readout:
        with serial.serial_for_url(readout.address, timeout=2) as port:
            assert port.read(len(LINE)) == LINE
        time.sleep(0.8)
        with serial.serial_for_url(readout.address, timeout=2) as port:
            assert port.read(len(LINE)) == b"X+0007.000 Z+0000.000\r\n"


@every_wire
def test_it_answers_when_it_is_asked_and_never_else(wire: Callable[[], Wire]) -> None:
    readout = running(wire(), "", "asked, on the inch")
    with readout.in_background(), serial.serial_for_url(readout.address, timeout=0.3) as port:
        assert port.read(1) == b""
        port.write(b"??")
        assert port.read(100) == 2 * b"+0000.000+0000.000\r\n"


@every_wire
def test_the_clock_of_a_script_starts_with_the_first_listener(wire: Callable[[], Wire]) -> None:
    readout = running(wire(), "at 0.2 fault silence for 9")
    with readout.in_background():
        time.sleep(0.5)
        with serial.serial_for_url(readout.address, timeout=0.6) as port:
            data = port.read(1000)
    assert len(LINE) * 5 <= len(data) <= len(LINE) * 15


def test_a_script_is_measured_as_a_readout_would_be() -> None:
    script = "at 0.2 x 31.447 over 0.3\nz 142.318 over 0.2\nkey\nwait 0.2\nquit"
    decoder, found = Decoder(TWO, "RO-1"), []
    with (
        running(TcpWire(), script).in_background() as readout,
        opened(readout.address, TWO) as line,
    ):
        end = time.monotonic() + 5
        while not readout.player.over and time.monotonic() < end:
            news = line.poll(0.05)
            if isinstance(news, Chunk):
                found += decoder.feed(news.data, news.at)
    taken = [item for item in found if isinstance(item, Sighting) and item.key]
    assert [[str(r.value) for r in item.readings] for item in taken] == [["31.447", "142.318"]]
    assert all(isinstance(item, Sighting) for item in found)


def test_a_hand_acts_at_once() -> None:
    readout = running(TcpWire())
    with readout.in_background(), serial.serial_for_url(readout.address, timeout=2) as port:
        assert port.read(len(LINE)) == LINE
        readout.act(readout.player.display.key)
        assert b" *\r\n" in port.read(5 * len(LINE))


@posix
def test_a_listener_that_reads_nothing_holds_nothing_up() -> None:
    wire = PtyWire()
    try:
        with serial.Serial(wire.address):
            assert wire.listened()
            started = time.monotonic()
            for _ in range(1000):
                wire.offer(LINE)
            assert time.monotonic() - started < 2.0
    finally:
        wire.close()


def test_a_listener_over_tcp_that_reads_nothing_holds_nothing_up() -> None:
    wire = TcpWire()
    port = int(wire.address.rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port)):
        until(wire.listened)
        started = time.monotonic()
        for _ in range(2000):
            wire.offer(LINE * 100)
        assert time.monotonic() - started < 5.0
    until(lambda: wire.heard() == b"" and not wire.listened())
    wire.close()


@posix
def test_the_path_is_gone_when_it_is_closed() -> None:
    wire = PtyWire()
    path = Path(wire.address)
    assert path.is_symlink()
    wire.unplug()
    assert not path.is_symlink()
    assert not wire.listened()
    assert wire.heard() == b""
    wire.offer(b"lost")
    wire.close()
    assert not path.parent.exists()


def test_a_port_that_another_has_or_that_there_is_not_is_said() -> None:
    taken = TcpWire()
    try:
        port = int(taken.address.rpartition(":")[2])
        for one in (port, 70000, -1):
            with pytest.raises(ReadoutError, match="can't have this port"):
                TcpWire(one)
    finally:
        taken.close()


def test_there_is_no_pseudo_terminal_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    with pytest.raises(ReadoutError, match="--tcp"):
        PtyWire()


# An independent program


def listened(address: str) -> bytes:
    """What socat reads there within two seconds."""
    where = address
    if address.startswith("socket://"):
        where = "tcp:" + address.removeprefix("socket://")
    peer = subprocess.Popen(["socat", "-u", where, "-"], stdout=subprocess.PIPE)
    assert peer.stdout is not None
    data = b""
    try:
        end = time.monotonic() + 5
        while data.count(b"\n") < 20 and time.monotonic() < end:
            data += peer.stdout.read1(4096)  # type: ignore[attr-defined]
    finally:
        peer.kill()
        peer.wait()
        peer.stdout.close()
    return data


@needs("socat")
@every_wire
def test_an_independent_program_reads_the_same_bytes(wire: Callable[[], Wire]) -> None:
    with running(wire()).in_background() as readout:
        data = listened(readout.address)
    assert data.count(LINE) >= 20
    at = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
    assert all(isinstance(item, Sighting) for item in Decoder(TWO, "RO-1").feed(data, at))


def test_a_listener_that_heard_nothing_for_long_and_called_anew_is_sent_to() -> None:
    wire = TcpWire()
    quick = replace(TWO, rules=replace(TWO.rules, silent_s=0.3))
    with contextlib.closing(wire), opened(wire.address, quick) as line:
        wire.send(LINE)
        until(lambda: isinstance(line.poll(0.05), Lost))
        line.poll(0.2)
        wire.send(LINE)
        until(lambda: isinstance(line.poll(0.05), Back))
        found = line.poll(1)
        assert isinstance(found, Chunk)
        assert found.data == LINE
