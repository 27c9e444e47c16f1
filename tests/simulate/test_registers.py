"""A simulated Modbus device answers an independent client, over TCP and at a serial port."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymodbus.client import ModbusSerialClient, ModbusTcpClient

from drivers.decoder import Alarm, Decoder
from drivers.layout import packaged
from drivers.opening import opened
from drivers.parts import Modbus
from drivers.transport import Chunk
from inspect_rec.reading import Sighting
from inspect_rec.simulate.display import Display
from inspect_rec.simulate.readout import Running
from inspect_rec.simulate.registers import Device
from inspect_rec.simulate.script import Player, parse
from inspect_rec.simulate.wire import PtyWire, TcpWire, Wire

LAYOUT = packaged()["register block"]
BLOCK = bytes(range(8))
posix = pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
every_way = pytest.mark.parametrize("serial", [False, pytest.param(True, marks=posix)])


def answers(data: bytes, asked: Modbus | None = None) -> list[bytes]:
    device = Device(asked or Modbus(first=100, count=4, unit=17))
    return [answer(BLOCK) for answer in device.hear(data)]


def test_a_request_over_tcp_is_answered_with_its_registers() -> None:
    request = bytes.fromhex("0001 0000 0006 11 03 0064 0004")
    assert answers(request) == [bytes.fromhex("0001 0000 000b 11 03 08 0001020304050607")]
    part = bytes.fromhex("1234 0000 0006 11 03 0066 0001")
    assert answers(part) == [bytes.fromhex("1234 0000 0005 11 03 02 0405")]


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ("11 03 0064 0005", "11 83 02"),
        ("11 03 0063 0001", "11 83 02"),
        ("11 03 0064 0000", "11 83 02"),
        ("11 04 0064 0001", "11 84 01"),
        ("11 06 0064 0001", "11 86 01"),
        ("11 10 0064 0001 02 0007", "11 90 01"),
    ],
)
def test_what_it_has_not_and_what_would_write_is_refused(asked: str, answer: str) -> None:
    body, said = bytes.fromhex(asked), bytes.fromhex(answer)
    head = bytes.fromhex("0007 0000")
    found = answers(head + len(body).to_bytes(2, "big") + body)
    assert found == [head + len(said).to_bytes(2, "big") + said]


def test_another_unit_is_not_answered_and_the_next_request_is() -> None:
    other = bytes.fromhex("0001 0000 0006 12 03 0064 0004")
    own = bytes.fromhex("0002 0000 0006 11 03 0064 0001")
    assert answers(other + own) == [bytes.fromhex("0002 0000 0005 11 03 02 0001")]


def test_a_request_at_a_serial_port_is_found_behind_noise() -> None:
    # The example of the check is worked by pymodbus in the tests below.
    asked = Modbus(first=0, count=4, registers="input")
    request = bytes.fromhex("01 04 0000 0001 31ca")
    (answer,) = answers(b"\xff\x01\x04" + request, asked)
    assert answer[:5] == bytes.fromhex("01 04 02 0001")
    assert len(answer) == 7


@given(st.integers(1, 11))
def test_a_request_in_two_pieces_is_one(cut: int) -> None:
    request = bytes.fromhex("0001 0000 0006 11 03 0064 0004")
    device = Device(Modbus(first=100, count=4, unit=17))
    assert device.hear(request[:cut]) == []
    assert len(device.hear(request[cut:])) == 1


@given(st.binary(max_size=600))
@settings(max_examples=200, deadline=None)
def test_no_bytes_make_it_fail(data: bytes) -> None:
    for answer in answers(data):
        assert len(answer) >= 5


# Independent clients


@contextmanager
def running(*, serial: bool, script: str = "") -> Iterator[Running]:
    wire: Wire = PtyWire() if serial else TcpWire()
    with Running(Player(Display(LAYOUT), parse(script, "s", LAYOUT)), wire).in_background() as one:
        yield one


@every_way
def test_an_independent_client_reads_the_registers(serial: bool) -> None:
    with running(serial=serial) as readout:
        readout.player.display.preset("X", Decimal("-31.4478"), 0.0)
        address = readout.wire.address
        client: Any = (
            ModbusSerialClient(address, baudrate=115200, timeout=2)
            if serial
            else ModbusTcpClient("127.0.0.1", port=int(address.rpartition(":")[2]), timeout=2)
        )
        assert client.connect()
        found = [client.read_input_registers(0, count=4, device_id=1).registers for _ in range(3)]
        refused = client.write_register(0, 7, device_id=1)
        client.close()
    words = b"".join(n.to_bytes(2, "big") for n in found[0][:2])
    assert int.from_bytes(words, "big", signed=True) == -314478
    assert [each[2] for each in found] == [10000] * 3
    assert [each[3] for each in found] == [0, 1, 2]
    assert refused.isError()


@every_way
def test_the_own_driver_takes_figures_from_it(serial: bool) -> None:
    decoder = Decoder(LAYOUT, "RO-1")
    found: list[Sighting | Alarm] = []
    with running(serial=serial, script="x 31.447 over 0.3") as readout:
        assert readout.address.startswith("modbus-rtu:/" if serial else "modbus-tcp://127.0.0.1:")
        with opened(readout.address, LAYOUT) as line:
            end = time.monotonic() + 6
            while time.monotonic() < end and len(found) < 12:
                if isinstance(news := line.poll(0.05), Chunk):
                    found += decoder.feed(news.data, news.at)
    assert all(isinstance(item, Sighting) for item in found)
    assert str(found[-1].readings[0].value) == "31.4470"  # type: ignore[union-attr]
