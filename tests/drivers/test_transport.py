"""Real lines: a simulated readout over TCP, and independent peers; unplugged and back."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
import time
import tty
from datetime import UTC, datetime
from pathlib import Path

import pytest

from drivers.decoder import Decoder
from drivers.layout import packaged
from drivers.network import Connection, SocketWay
from drivers.opening import opened
from drivers.transport import Back, Chunk, Line, Lost, now
from inspect_rec.reading import Sighting
from inspect_rec.simulate.readout import SimulatedReadout
from tests.drivers.peers import FRAME, appears, comes, free_port, read, running, until
from tests.programs import needs

LAYOUT = packaged()["two-axis line"]


def test_bytes_arrive_as_they_were_sent() -> None:
    with SimulatedReadout() as readout, opened(readout.url, LAYOUT) as line:
        readout.send(FRAME * 3)
        assert read(line, 3 * len(FRAME)) == FRAME * 3


def test_an_unplugged_line_is_found_within_a_second_and_comes_back_by_itself() -> None:
    with SimulatedReadout() as readout, opened(readout.url, LAYOUT) as line:
        readout.send(FRAME)
        read(line, len(FRAME))
        readout.unplug()
        started = time.monotonic()
        until(line, Lost)
        assert time.monotonic() - started < 1.0
        assert line.poll(0.05) is None
        readout.plug_in()
        until(line, Back)
        readout.send(FRAME)
        assert read(line, len(FRAME)) == FRAME


def test_a_line_that_is_not_there_is_lost_and_found_within_a_second_of_its_coming() -> None:
    port = free_port()
    with opened(f"socket://127.0.0.1:{port}", LAYOUT) as line:
        lost = until(line, Lost)
        assert lost.why.startswith(f"socket://127.0.0.1:{port}: nothing answers there.")
        assert lost.why.endswith("It goes on by itself when it is there")
        assert [line.poll(0.1) for _ in range(5)] == [None] * 5
        with socket.create_server(("127.0.0.1", port)) as server:
            began = time.monotonic()
            until(line, Back)
            assert time.monotonic() - began < 1.0
            box, _ = server.accept()
            with box:
                box.sendall(FRAME)
                assert read(line, len(FRAME)) == FRAME


def test_a_device_that_is_not_there_is_lost_and_found_when_it_is_plugged_in(tmp_path: Path) -> None:
    device = tmp_path / "tty"
    with opened(str(device), LAYOUT) as line:
        assert "is its plug in?" in until(line, Lost).why
        master, slave = os.openpty()
        tty.setraw(slave)
        device.symlink_to(os.ttyname(slave))
        began = time.monotonic()
        until(line, Back)
        assert time.monotonic() - began < 1.0
        os.write(master, FRAME)
        assert read(line, len(FRAME)) == FRAME
    os.close(master)
    os.close(slave)


@pytest.mark.parametrize("host", ["no.such.name.invalid", "a" * 70, "a..b"])
def test_a_machine_that_nobody_knows_is_said(host: str) -> None:
    with opened(f"socket://{host}:4001", LAYOUT) as line:
        assert "no machine of that name is known" in until(line, Lost, 15).why


def test_why_a_line_is_lost_is_in_the_alarm() -> None:
    with opened(f"socket://127.0.0.1:{free_port()}", LAYOUT) as line:
        lost = until(line, Lost)
    alarm = Decoder(LAYOUT, "RO-1").lost(lost.at, lost.why)
    assert alarm.said == f"Readout line lost: {lost.why}"
    assert alarm.said.endswith("nothing answers there. It goes on by itself when it is there")


def test_an_address_brings_in_only_the_libraries_that_it_needs() -> None:
    program = (
        "import sys\n"
        "from drivers.layout import packaged\n"
        "from drivers.opening import opened\n"
        "for address in ('keyboard:', '-', 'COM3'):\n"
        "    opened(address, packaged()['two-axis line'])\n"
        "    print(sorted({'serial', 'pymodbus', 'asyncio', 'logging'} & set(sys.modules)))\n"
    )
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True)
    assert ran.stdout.decode().split("\n") == ["[]", "[]", "['serial']", ""]


def test_a_loop_line_works_alike() -> None:
    with opened("loop://", LAYOUT) as line:
        assert line.poll(0.01) is None
        assert isinstance(line, Line)
        assert line._port is not None
        line._port.write(FRAME * 2)  # a loop line's other end is itself
        assert read(line, 2 * len(FRAME)) == FRAME * 2


def test_bytes_that_wait_in_a_socket_come_in_one_piece_with_the_instant_of_the_clock() -> None:
    at = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
    with SimulatedReadout() as readout, opened(readout.url, LAYOUT, lambda: at) as line:
        readout.send(FRAME * 100)
        sizes: list[int] = []
        while sum(sizes) < 100 * len(FRAME):
            found = until(line, Chunk)
            assert found.at == at
            sizes.append(len(found.data))
        assert len(sizes) <= 10


@pytest.mark.parametrize("last", [FRAME, FRAME[:1]], ids=["a whole line", "one byte"])
def test_bytes_before_a_loss_are_handed_on_before_the_loss(last: bytes) -> None:
    with SimulatedReadout() as readout, opened(readout.url, LAYOUT) as line:
        readout.send(last)
        readout.unplug()
        assert read(line, len(last)) == last
        assert until(line, Lost).why


def test_a_loss_is_said_once_and_so_is_the_return() -> None:
    with SimulatedReadout() as readout, opened(readout.url, LAYOUT) as line:
        readout.unplug()
        until(line, Lost)
        assert [line.poll(0.1) for _ in range(12)] == [None] * 12
        readout.plug_in()
        started = time.monotonic()
        until(line, Back)
        assert time.monotonic() - started < 1.0
        assert line.poll(0.05) is None


def test_a_box_that_takes_long_to_be_found_gone_keeps_nobody_waiting(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real, gone, tried = SocketWay.open, threading.Event(), threading.Event()

    def slow(way: SocketWay) -> Connection:
        tried.set()
        assert gone.wait(10)
        return real(way)

    with SimulatedReadout() as readout, opened(readout.url, LAYOUT) as line:
        readout.unplug()
        until(line, Lost)
        monkeypatch.setattr(SocketWay, "open", slow)
        until_tried = time.monotonic() + 5
        while not tried.is_set():
            assert time.monotonic() < until_tried
            assert line.poll(0.05) is None
        started = time.monotonic()
        assert line.poll(0.05) is None
        assert time.monotonic() - started < 1.0
        readout.plug_in()
        gone.set()
        until(line, Back)
        readout.send(FRAME)
        assert read(line, len(FRAME)) == FRAME


def test_a_line_that_is_left_while_it_is_opened_again_is_closed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ports: list[Connection] = []
    real, gone, tried = SocketWay.open, threading.Event(), threading.Event()

    def slow(way: SocketWay) -> Connection:
        tried.set()
        assert gone.wait(10)
        ports.append(real(way))
        return ports[0]

    with SimulatedReadout() as readout:
        with opened(readout.url, LAYOUT) as line:
            readout.unplug()
            until(line, Lost)
            monkeypatch.setattr(SocketWay, "open", slow)
            while not tried.is_set():
                assert line.poll(0.05) is None
        readout.plug_in()
        gone.set()
        end = time.monotonic() + 5
        while not ports or ports[0]._own.fileno() >= 0:
            assert time.monotonic() < end
            time.sleep(0.01)


def test_nothing_is_ever_written_to_the_readout() -> None:
    with SimulatedReadout() as readout, opened(readout.url, LAYOUT) as line:
        readout.send(FRAME)
        read(line, len(FRAME))
        assert readout._client is not None
        readout._client.setblocking(False)
        with pytest.raises(BlockingIOError):
            readout._client.recv(1)


def test_a_line_that_was_left_is_closed() -> None:
    with SimulatedReadout() as readout:
        with opened(readout.url, LAYOUT) as line:
            readout.send(FRAME)
            read(line, len(FRAME))
        assert readout._client is not None
        readout._client.settimeout(5)
        assert readout._client.recv(1) == b""


@needs("socat")
def test_a_device_fed_by_an_independent_program_gives_sightings(tmp_path: Path) -> None:
    device = tmp_path / "tty"
    with running("socat", "-", f"pty,raw,echo=0,link={device}") as peer:
        appears(device)
        with opened(str(device), LAYOUT) as line:
            assert peer.stdin is not None
            peer.stdin.write(FRAME)
            peer.stdin.flush()
            data = read(line, len(FRAME))
            (found,) = Decoder(LAYOUT, "RO-1").feed(data, now())
            assert isinstance(found, Sighting)
            peer.kill()
            until(line, Lost)


@needs("socat")
def test_a_port_that_is_open_is_shared_with_nobody(tmp_path: Path) -> None:
    device = tmp_path / "tty"
    with running("socat", "-", f"pty,raw,echo=0,link={device}"):
        appears(device)
        with opened(str(device), LAYOUT) as first, opened(str(device), LAYOUT) as second:
            assert "another program has it open" in until(second, Lost).why
            assert first.poll(0.1) is None


@needs("socat")
def test_an_independent_program_over_the_network_gives_sightings() -> None:
    port = free_port()
    with (
        running("socat", "-", f"tcp-listen:{port},bind=127.0.0.1") as peer,
        opened(f"socket://127.0.0.1:{port}", LAYOUT) as line,
    ):
        assert peer.stdin is not None
        peer.stdin.write(FRAME)
        peer.stdin.flush()
        assert read(line, len(FRAME)) == FRAME


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # inside pyserial 3.5
@needs("ser2net", "socat")
def test_a_network_box_speaking_rfc2217_gives_the_same_bytes(tmp_path: Path) -> None:
    device, port = tmp_path / "tty", free_port()
    config = tmp_path / "ser2net.yaml"
    config.write_text(
        "connection: &box\n"
        f"  accepter: telnet(rfc2217),tcp,127.0.0.1,{port}\n"
        f"  connector: serialdev,{device},9600n81,local\n",
        encoding="utf-8",
    )
    with running("socat", "-", f"pty,raw,echo=0,link={device}") as peer:
        appears(device)
        with (
            running("ser2net", "-n", "-c", str(config)) as box,
            opened(f"rfc2217://127.0.0.1:{port}?ign_set_control", LAYOUT) as line,
        ):
            comes(line)
            assert peer.stdin is not None
            peer.stdin.write(FRAME)
            peer.stdin.flush()
            assert read(line, len(FRAME)) == FRAME
            box.kill()
            until(line, Lost)
