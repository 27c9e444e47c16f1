"""From an address to its line: each that is known, and each that isn't, said."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivers.keyboard import Keyboard, TypingWay
from drivers.layout import Layout, packaged
from drivers.modbus import RtuWay, TcpWay
from drivers.network import SocketWay
from drivers.opening import KNOWN, opened
from drivers.parts import Asks, Modbus
from drivers.serial_port import BoxWay, SerialWay
from drivers.server import ServerWay
from drivers.standard_input import StandardInput
from drivers.transport import Line, Way
from inspect_rec.errors import ReadoutError

LAYOUT = packaged()["two-axis line"]
ASKED = replace(LAYOUT, asks=Asks(b"?"))
DEVICE = replace(LAYOUT, modbus=Modbus(first=0, count=4))


def way(address: str, layout: Layout = LAYOUT) -> Way:
    line = opened(address, layout)
    assert isinstance(line, Line)
    return line._way


@pytest.mark.parametrize(
    ("address", "kind"),
    [
        ("COM3", SerialWay),
        ("com12", SerialWay),
        (r"\\.\COM12", SerialWay),
        ("/dev/ttyUSB0", SerialWay),
        ("/dev/serial/by-id/usb-box 1-port0", SerialWay),
        ("loop://", SerialWay),
        ("socket://10.0.0.7:4001", SocketWay),
        ("rfc2217://box.shop:4001?ign_set_control", BoxWay),
        ("listen://:4001", ServerWay),
        ("listen://[::1]:4001", ServerWay),
        ("evdev:/dev/input/by-id/usb-gauge-event-kbd", TypingWay),
    ],
)
def test_each_address_has_its_way(address: str, kind: type) -> None:
    assert type(way(address)) is kind


@pytest.mark.parametrize(
    ("address", "kind", "unit"),
    [
        ("modbus-tcp://10.0.0.7:1502/17", TcpWay, 17),
        ("modbus-tcp://10.0.0.7", TcpWay, 1),
        ("modbus-rtu:COM3/17", RtuWay, 17),
        ("modbus-rtu:/dev/ttyUSB0", RtuWay, 1),
        ("modbus-rtu:/dev/ttyUSB0/3", RtuWay, 3),
    ],
)
def test_a_modbus_device_has_the_unit_of_its_address_or_of_its_layout(
    address: str, kind: type, unit: int
) -> None:
    found = way(address, DEVICE)
    assert isinstance(found, TcpWay | RtuWay)
    assert type(found) is kind
    assert found.unit == unit


def test_where_a_device_is_and_at_which_port_is_read_from_its_address() -> None:
    rtu, tcp = way("modbus-rtu:/dev/ttyUSB0/3", DEVICE), way("modbus-tcp://10.0.0.7", DEVICE)
    assert isinstance(rtu, RtuWay)
    assert isinstance(tcp, TcpWay)
    assert (rtu.port, tcp.host, tcp.port) == ("/dev/ttyUSB0", "10.0.0.7", 502)


@pytest.mark.parametrize("address", ["-", "stdin:", " STDIN: "])
def test_standard_input_has_two_names(address: str) -> None:
    assert isinstance(opened(address, LAYOUT), StandardInput)


def test_what_is_typed_has_a_line() -> None:
    assert isinstance(opened("keyboard:", LAYOUT), Keyboard)


@pytest.mark.parametrize(
    "address",
    [
        *(
            "",
            "nothing://here",
            "COM",
            "ttyUSB0",
            "dev/ttyUSB0",
            "socket://",
            "socket:///dev/ttyS0",
        ),
        *("socket://host:1/extra", "socket://host:1?x=1", "listen:4001", "listen://:1/2"),
        *("rfc2217://host:4001?unknown=1", "hwgrep://x", "modbus-udp://host/1", "evdev:gauge"),
        *("socket://[::1:4001", "keyboard", "http://host:80"),
    ],
)
def test_an_address_that_means_nothing_is_refused_with_all_that_are_known(address: str) -> None:
    with pytest.raises(ReadoutError, match="means nothing") as refused:
        opened(address, LAYOUT)
    assert all(known in str(refused.value) for known in KNOWN)
    assert refused.value.found == (address or "nothing")


@pytest.mark.parametrize(
    "address",
    ["socket://host", "socket://host:0", "socket://host:70000", "listen://", "rfc2217://host"],
)
def test_an_address_without_a_port_that_can_be_is_refused(address: str) -> None:
    with pytest.raises(ReadoutError, match="no port that can be"):
        opened(address, LAYOUT)


@pytest.mark.parametrize("address", ["modbus-tcp://host:502/256", "modbus-tcp://host/x"])
def test_a_unit_that_can_not_be_is_refused(address: str) -> None:
    with pytest.raises(ReadoutError, match="unit"):
        opened(address, DEVICE)


@pytest.mark.parametrize("address", ["-", "keyboard:", "evdev:/dev/input/event0"])
def test_a_readout_that_has_to_be_asked_can_not_be_where_nothing_can_be_asked(address: str) -> None:
    with pytest.raises(ReadoutError, match="nothing can be asked"):
        opened(address, ASKED)


def test_a_layout_of_registers_and_an_address_of_a_device_belong_together() -> None:
    with pytest.raises(ReadoutError, match="is of a Modbus device"):
        opened("COM3", DEVICE)
    with pytest.raises(ReadoutError, match="no registers"):
        opened("modbus-tcp://host:502/1", LAYOUT)
