"""From a readout's address to its line; an address that means nothing is said, with all that are
known.

Opens nothing by itself: a line is opened where it is used.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from urllib.parse import SplitResult, urlsplit

from drivers import installed
from drivers.keyboard import Keyboard, TypingWay
from drivers.layout import Layout
from drivers.standard_input import StandardInput
from drivers.transport import Line, Way, now
from inspect_rec.errors import ReadoutError

KNOWN = {
    "COM3": "a serial port of Windows",
    "/dev/ttyUSB0": "a serial port of Linux or macOS",
    "socket://host:port": "a network box that is called, raw bytes",
    "rfc2217://host:port": "a network box that is called, RFC 2217",
    "listen://:port": "a network box that calls this machine",
    "modbus-tcp://host:port/unit": "a Modbus device in the network",
    "modbus-rtu:COM3/unit": "a Modbus device at a serial port",
    "-": "what another program sends to standard input",
    "keyboard:": "what is typed into the field for it",
    "evdev:/dev/input/by-id/...": "a device that types, apart from the keyboard; Linux",
    "loop://": "nothing but itself, for trying",
}
"""Addresses as they are written, and what each is."""

_DEVICE = re.compile(r"(?:COM\d{1,3}|\\\\\.\\\S+|/\S.*)", re.IGNORECASE)
_RTU = re.compile(r"modbus-rtu:(?P<port>.+?)(?:/(?P<unit>\d{1,3}))?")
_BOX_OPTIONS = re.compile(r"(?:(?:ign_set_control|poll_modem|timeout=\d{1,3})&?)*")
_MODBUS_PORT = 502
"""Of Modbus over TCP (registered with IANA)."""


def is_standard_input(address: str) -> bool:
    """Whether a readout at that address takes standard input for itself."""
    return address.strip().lower() in ("-", "stdin:")


def opened(
    address: str, layout: Layout, clock: Callable[[], datetime] = now
) -> Line | Keyboard | StandardInput:
    """The line at ``address``, to be used as a context manager.

    A line that isn't there is no error: it is lost until it comes. Raises ReadoutError for an
    address that means nothing, or that no readout of this layout can have.
    """
    address = address.strip()
    own = address.lower()
    if own == "keyboard:" or is_standard_input(address):
        _fits(address, layout, asks=False)
        return Keyboard(layout, clock) if own == "keyboard:" else StandardInput(clock)
    return Line(_way(address, layout), layout, clock)


def _way(address: str, layout: Layout) -> Way:
    if address.lower().startswith(("modbus-tcp:", "modbus-rtu:")):
        return _modbus(address, layout)
    types = address.lower().startswith("evdev:/")
    _fits(address, layout, asks=not types)
    if types:
        return TypingWay(address, address[len("evdev:") :], layout)
    if _DEVICE.fullmatch(address) or address == "loop://":
        from drivers.serial_port import SerialWay

        return SerialWay(address, layout)
    return _network(address, layout) or _installed(address, layout)


def _network(address: str, layout: Layout) -> Way | None:
    url = _split(address)
    plain = not (url.query or url.path.strip("/"))
    if url.scheme == "listen" and plain:
        from drivers.server import ServerWay

        return ServerWay(address, url.hostname or "", _port(url, address), layout)
    if url.scheme == "socket" and plain and url.hostname:
        from drivers.network import SocketWay

        return SocketWay(address, url.hostname, _port(url, address))
    if url.scheme == "rfc2217" and url.hostname and _BOX_OPTIONS.fullmatch(url.query):
        from drivers.serial_port import BoxWay

        return BoxWay(address, layout, host=url.hostname, port=_port(url, address))
    return None


def _installed(address: str, layout: Layout) -> Way:
    scheme = _split(address).scheme
    found = installed.way(scheme, address, layout) if scheme else None
    if found is None:
        raise _unknown(address)
    return found


def _modbus(address: str, layout: Layout) -> Way:
    if layout.modbus is None:
        raise ReadoutError(
            "the layout names no registers of a Modbus device",
            expected="first and count in [modbus]",
            where=layout.id,
        )
    from drivers.modbus import RtuWay, TcpWay

    if found := _RTU.fullmatch(address):
        return RtuWay(address, layout, _unit(found["unit"], layout, address), found["port"])
    url = _split(address)
    if not url.hostname or url.query:
        raise _unknown(address)
    unit = _unit(url.path.strip("/") or None, layout, address)
    return TcpWay(address, layout, unit, url.hostname, _port(url, address, _MODBUS_PORT))


def _fits(address: str, layout: Layout, *, asks: bool) -> None:
    """Whether a readout of this layout can be at that address."""
    if layout.modbus is not None and asks:
        raise ReadoutError(
            "the layout is of a Modbus device",
            expected="modbus-tcp://host:port/unit | modbus-rtu:COM3/unit",
            found=address,
        )
    if layout.asks is not None and not asks:
        raise ReadoutError(
            "the layout's readout has to be asked, and here nothing can be asked",
            expected="the address of a port or box",
            found=address,
        )


def _unit(text: str | None, layout: Layout, address: str) -> int:
    if text is None:
        assert layout.modbus is not None  # noqa: S101 - the caller looks first
        return layout.modbus.unit
    if not text.isdecimal() or int(text) > 255:
        raise ReadoutError("no unit of a Modbus device", expected="0 to 255", found=address)
    return int(text)


def _split(address: str) -> SplitResult:
    try:
        return urlsplit(address)
    except ValueError:  # brackets that don't close
        raise _unknown(address) from None


def _port(url: SplitResult, address: str, default: int | None = None) -> int:
    try:
        port = url.port
    except ValueError:
        port = 0
    port = default if port is None else port
    if not port:
        raise ReadoutError(
            "the address has no port that can be", expected="1 to 65535", found=address
        )
    return port


def _unknown(address: str) -> ReadoutError:
    return ReadoutError(
        "this address means nothing",
        expected=" | ".join([*KNOWN, *(f"{each.name}:…" for each in installed.installed())]),
        found=address or "nothing",
    )
