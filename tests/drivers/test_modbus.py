"""Modbus devices: pymodbus's server in a program of its own, over TCP and on a serial line."""

from __future__ import annotations

import logging
import os
import signal
import socket
import struct
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.decoder import Decoder
from drivers.layout import Layout, parse
from drivers.lines import Pollable
from drivers.modbus import Registers
from drivers.opening import opened
from drivers.transport import Back, Chunk, Lost
from inspect_rec.reading import Sighting
from tests.drivers.peers import appears, free_port, running, until
from tests.programs import needs

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)
DEVICE = Path(__file__).with_name("modbus_device.py")
STAYS = "-130.250"


def layout(**asked: int | str) -> Layout:
    values: dict[str, int | str] = {"first": 100, "count": 4, "every_ms": 20, "answer_ms": 200}
    stated = "\n".join(f"{key} = {value!r}" for key, value in (values | asked).items())
    return parse(
        f"""
id = "registers"
[port]
baud = 115200
[modbus]
{stated}
[frame]
length = {2 * int(asked.get("count", 4))}
[[field]]
name = "x"
at = 0
bytes = 4
scale = "0.001"
[[field]]
name = "z"
at = 4
bytes = 4
scale = "0.001"
[rules]
silent_s = 0.5
""",
        "registers.toml",
    )


LAYOUT = layout()


@contextmanager
def device(kind: str, at: str | int | Path, first: int = 1000) -> Iterator[int]:
    """Gives its process id."""
    with running(sys.executable, str(DEVICE), kind, str(at), str(first)) as process:
        yield process.pid


def counts(data: bytes) -> list[int]:
    """The counts of whole frames, whose second figure stays."""
    assert len(data) % 8 == 0
    frames = [data[n : n + 8] for n in range(0, len(data), 8)]
    assert all(int.from_bytes(f[4:], "big", signed=True) == -130250 for f in frames)
    return [int.from_bytes(f[:4], "big") for f in frames]


def take(line: Pollable, many: int) -> list[int]:
    return [n for _ in range(many) for n in counts(until(line, Chunk).data)]


@pytest.mark.parametrize("registers", ["holding", "input"])
def test_a_device_in_the_network_is_read_block_by_block_none_left_out(registers: str) -> None:
    port = free_port()
    asked = layout(registers=registers)
    with device("tcp", port), opened(f"modbus-tcp://127.0.0.1:{port}/17", asked) as line:
        assert take(line, 50) == list(range(1000, 1050))


def test_a_block_of_registers_is_a_sighting() -> None:
    port = free_port()
    with device("tcp", port), opened(f"modbus-tcp://127.0.0.1:{port}/17", LAYOUT) as line:
        (found,) = Decoder(LAYOUT, "RO-1").feed(until(line, Chunk).data, AT)
    assert isinstance(found, Sighting)
    read = {each.channel: each.value for each in found.readings}
    assert read == {"X": Decimal("1.000"), "Z": Decimal(STAYS)}


def test_the_next_read_waits_for_its_time() -> None:
    port = free_port()
    asked = layout(every_ms=100)
    with device("tcp", port), opened(f"modbus-tcp://127.0.0.1:{port}/17", asked) as line:
        until(line, Chunk)
        began = time.monotonic()
        take(line, 10)
        assert 0.9 < time.monotonic() - began < 1.6


@needs("socat")
def test_a_device_at_a_serial_port_is_read_and_found_again(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours", tmp_path / "theirs"
    pair = [f"pty,raw,echo=0,link={path}" for path in (ours, theirs)]
    with opened(f"modbus-rtu:{ours}/17", LAYOUT) as line:
        assert "nothing answers there" in until(line, Lost).why
        with running("socat", *pair):
            appears(theirs)
            with device("rtu", theirs):
                until(line, Back)
                assert take(line, 30) == list(range(1000, 1030))
        until(line, Lost)
        ours.unlink(missing_ok=True)
        with running("socat", *pair):
            appears(theirs)
            with device("rtu", theirs, 5000):
                until(line, Back)
                assert take(line, 10) == list(range(5000, 5010))


@pytest.mark.parametrize(
    ("asked", "unit", "words"),
    [
        (layout(first=300), 17, "it has no such registers"),
        (LAYOUT, 18, "it failed"),
    ],
    ids=["other registers", "other unit"],
)
def test_an_exception_of_the_device_is_said_in_words_once(
    asked: Layout, unit: int, words: str
) -> None:
    port = free_port()
    with device("tcp", port):
        answers(port)
        with opened(f"modbus-tcp://127.0.0.1:{port}/{unit}", asked) as line:
            assert words in until(line, Lost).why
            assert [line.poll(0.1) for _ in range(10)] == [None] * 10


def answers(port: int) -> None:
    """Until the device is there."""
    with opened(f"modbus-tcp://127.0.0.1:{port}/17", LAYOUT) as line:
        until(line, Chunk)


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="needs to halt a program")
def test_a_device_that_falls_silent_is_asked_on_then_lost_and_back_when_it_answers() -> None:
    port = free_port()
    with (
        device("tcp", port) as process,
        opened(f"modbus-tcp://127.0.0.1:{port}/17", LAYOUT) as line,
    ):
        before = take(line, 5)
        os.kill(process, signal.SIGSTOP)
        began = time.monotonic()
        assert "unit 17 doesn't answer" in until(line, Lost).why
        assert 0.4 < time.monotonic() - began < 1.5
        os.kill(process, signal.SIGCONT)
        began = time.monotonic()
        until(line, Back)
        assert time.monotonic() - began < 1.0
        after = take(line, 20)
    # Reads that were given up are left out; what was handed on stays in order, none twice.
    assert before == list(range(1000, 1005))
    assert after == list(range(after[0], after[0] + 20))
    assert after[0] > before[-1]


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="needs to halt a program")
def test_one_answer_that_comes_late_is_no_loss_and_is_not_taken_for_the_next() -> None:
    port = free_port()
    with (
        device("tcp", port) as process,
        opened(f"modbus-tcp://127.0.0.1:{port}/17", LAYOUT) as line,
    ):
        before = take(line, 5)
        os.kill(process, signal.SIGSTOP)
        threading.Timer(0.3, os.kill, (process, signal.SIGCONT)).start()
        news = [line.poll(0.1) for _ in range(40)]
    assert not [each for each in news if isinstance(each, Lost)]
    after = [n for each in news if isinstance(each, Chunk) for n in counts(each.data)]
    assert len(after) > 20
    assert before[-1] < after[0] <= before[-1] + 4
    assert after == list(range(after[0], after[0] + len(after)))


def test_nothing_of_pymodbus_is_written_over_the_screen(capfd: pytest.CaptureFixture[str]) -> None:
    with opened(f"modbus-tcp://127.0.0.1:{free_port()}/17", LAYOUT) as line:
        until(line, Lost)
        line.poll(0.5)
    assert logging.getLogger("pymodbus").handlers
    assert capfd.readouterr() == ("", "")


def test_all_that_a_device_is_sent_are_requests_to_read() -> None:
    sent: list[bytes] = []

    def answer(server: socket.socket) -> None:
        own, _ = server.accept()
        with own:
            while request := own.recv(100):
                sent.append(request)
                # MBAP header (transaction, protocol 0, length), unit, function, count, registers.
                own.sendall(request[:4] + b"\0\x0b\x11\x03\x08" + bytes(range(8)))

    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(5)
        thread = threading.Thread(target=answer, args=(server,))
        thread.start()
        url = f"modbus-tcp://127.0.0.1:{server.getsockname()[1]}/17"
        with opened(url, LAYOUT) as line:
            assert {until(line, Chunk).data for _ in range(20)} == {bytes(range(8))}
        thread.join(5)
    assert len(sent) >= 20
    assert {each[2:] for each in sent} == {b"\0\0\0\6\x11\x03" + struct.pack(">HH", 100, 4)}
    with pytest.raises(OSError, match="can't be sent"):
        Registers(None, LAYOUT, 17).write(b"x")
