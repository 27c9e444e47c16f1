"""Real lines: a simulated readout over TCP, and independent peers; unplugged and back."""

from __future__ import annotations

import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import pytest
import serial

from drivers.decoder import Decoder
from drivers.layout import packaged
from drivers.transport import Back, Chunk, Line, Lost, now
from inspect_rec.errors import ReadoutError
from inspect_rec.reading import Sighting
from inspect_rec.simulate.readout import SimulatedReadout
from tests.programs import needs

LAYOUT = packaged()["two-axis line"]
Found = TypeVar("Found", Chunk, Lost, Back)
FRAME = b"X+0036.449 Z+0130.250 *\r\n"


def until(line: Line, kind: type[Found], seconds: float = 5.0) -> Found:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = line.poll(0.1)
        if isinstance(found, kind):
            return found
    raise AssertionError(f"no {kind.__name__} within {seconds} s")


def read(line: Line, count: int) -> bytes:
    data = b""
    while len(data) < count:
        found = until(line, Chunk)
        data += found.data
    return data


def test_bytes_arrive_as_they_were_sent() -> None:
    with SimulatedReadout() as readout, Line(readout.url, LAYOUT) as line:
        readout.send(FRAME * 3)
        assert read(line, 3 * len(FRAME)) == FRAME * 3


def test_an_unplugged_line_is_found_within_a_second_and_comes_back_by_itself() -> None:
    with SimulatedReadout() as readout, Line(readout.url, LAYOUT) as line:
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


def test_a_line_that_is_not_there_is_said_with_its_address() -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        url = f"socket://127.0.0.1:{free.getsockname()[1]}"
    with pytest.raises(ReadoutError, match=r"127\.0\.0\.1"), Line(url, LAYOUT):
        pass


def test_a_loop_line_works_alike() -> None:
    with Line("loop://", LAYOUT) as line:
        assert line.poll(0.01) is None
        line._port.write(FRAME * 2)  # a loop line's other end is itself
        assert read(line, 2 * len(FRAME)) == FRAME * 2


def test_bytes_that_wait_in_a_socket_come_in_one_piece_with_the_instant_of_the_clock() -> None:
    at = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
    with SimulatedReadout() as readout, Line(readout.url, LAYOUT, lambda: at) as line:
        readout.send(FRAME * 100)
        sizes: list[int] = []
        while sum(sizes) < 100 * len(FRAME):
            found = until(line, Chunk)
            assert found.at == at
            sizes.append(len(found.data))
        assert len(sizes) <= 10


@pytest.mark.parametrize("last", [FRAME, FRAME[:1]], ids=["a whole line", "one byte"])
def test_bytes_before_a_loss_are_handed_on_before_the_loss(last: bytes) -> None:
    with SimulatedReadout() as readout, Line(readout.url, LAYOUT) as line:
        readout.send(last)
        readout.unplug()
        assert read(line, len(last)) == last
        assert until(line, Lost).why


def test_a_loss_is_said_once_and_so_is_the_return() -> None:
    with SimulatedReadout() as readout, Line(readout.url, LAYOUT) as line:
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
    real, gone, tried = serial.serial_for_url, threading.Event(), threading.Event()

    def slow(*args: object, **more: object) -> object:
        tried.set()
        assert gone.wait(10)
        return real(*args, **more)

    with SimulatedReadout() as readout, Line(readout.url, LAYOUT) as line:
        readout.unplug()
        until(line, Lost)
        monkeypatch.setattr(serial, "serial_for_url", slow)
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
    ports: list[Any] = []
    real, gone, tried = serial.serial_for_url, threading.Event(), threading.Event()

    def slow(*args: object, **more: object) -> object:
        tried.set()
        assert gone.wait(10)
        ports.append(real(*args, **more))
        return ports[0]

    with SimulatedReadout() as readout:
        with Line(readout.url, LAYOUT) as line:
            readout.unplug()
            until(line, Lost)
            monkeypatch.setattr(serial, "serial_for_url", slow)
            while not tried.is_set():
                assert line.poll(0.05) is None
        readout.plug_in()
        gone.set()
        end = time.monotonic() + 5
        while not ports or ports[0].is_open:
            assert time.monotonic() < end
            time.sleep(0.01)


def test_nothing_is_ever_written_to_the_readout() -> None:
    with SimulatedReadout() as readout, Line(readout.url, LAYOUT) as line:
        readout.send(FRAME)
        read(line, len(FRAME))
        assert readout._client is not None
        readout._client.setblocking(False)
        with pytest.raises(BlockingIOError):
            readout._client.recv(1)


def test_a_line_that_was_left_is_closed() -> None:
    with SimulatedReadout() as readout:
        with Line(readout.url, LAYOUT) as line:
            readout.send(FRAME)
            read(line, len(FRAME))
        assert readout._client is not None
        readout._client.settimeout(5)
        assert readout._client.recv(1) == b""


def test_an_address_that_means_nothing_is_said() -> None:
    for url in ("nothing://here", "socket://", "/dev/there-is-no-such-port"):
        with pytest.raises(ReadoutError, match="can't be opened"), Line(url, LAYOUT):
            pass


@contextmanager
def running(*command: str) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL)
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        if process.stdin:
            process.stdin.close()


def appears(path: Path) -> None:
    end = time.monotonic() + 5
    while not path.exists():
        assert time.monotonic() < end, f"{path} didn't appear"
        time.sleep(0.02)


@needs("socat")
def test_a_device_fed_by_an_independent_program_gives_sightings(tmp_path: Path) -> None:
    device = tmp_path / "tty"
    with running("socat", "-", f"pty,raw,echo=0,link={device}") as peer:
        appears(device)
        with Line(str(device), LAYOUT) as line:
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
        with Line(str(device), LAYOUT), pytest.raises(ReadoutError), Line(str(device), LAYOUT):
            pass


@needs("socat")
def test_an_independent_program_over_the_network_gives_sightings() -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with running("socat", "-", f"tcp-listen:{port},bind=127.0.0.1") as peer:
        end = time.monotonic() + 5
        while True:
            try:
                with Line(f"socket://127.0.0.1:{port}", LAYOUT) as line:
                    assert peer.stdin is not None
                    peer.stdin.write(FRAME)
                    peer.stdin.flush()
                    assert read(line, len(FRAME)) == FRAME
                break
            except ReadoutError:
                assert time.monotonic() < end
                time.sleep(0.05)


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # inside pyserial 3.5
@needs("ser2net", "socat")
def test_a_network_box_speaking_rfc2217_gives_the_same_bytes(tmp_path: Path) -> None:
    device = tmp_path / "tty"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    config = tmp_path / "ser2net.yaml"
    config.write_text(
        "connection: &box\n"
        f"  accepter: telnet(rfc2217),tcp,127.0.0.1,{port}\n"
        f"  connector: serialdev,{device},9600n81,local\n",
        encoding="utf-8",
    )
    with running("socat", "-", f"pty,raw,echo=0,link={device}") as peer:
        appears(device)
        with running("ser2net", "-n", "-c", str(config)) as box:
            line = opened(f"rfc2217://127.0.0.1:{port}?ign_set_control")
            with line:
                assert peer.stdin is not None
                peer.stdin.write(FRAME)
                peer.stdin.flush()
                assert read(line, len(FRAME)) == FRAME
                box.kill()
                until(line, Lost)


def opened(url: str) -> Line:
    end = time.monotonic() + 5
    while True:
        try:
            with Line(url, LAYOUT):
                pass
        except ReadoutError:
            assert time.monotonic() < end
            time.sleep(0.1)
        else:
            return Line(url, LAYOUT)
