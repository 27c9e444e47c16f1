"""A Modbus device, over TCP or at a serial port: its registers as frames of bytes.

One block of registers is read again and again; its bytes, as on the wire, are one frame, and what
they mean is the layout's. It reads registers and can write none. pymodbus is imported here only,
and its exceptions stop here.
"""

from __future__ import annotations

import logging
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from drivers.layout import Layout
from drivers.network import CONNECT_S

if TYPE_CHECKING:
    from pymodbus.client import ModbusSerialClient, ModbusTcpClient

_SAID = {
    1: "it doesn't know this request (Modbus exception 1)",
    2: "it has no such registers (Modbus exception 2)",
    3: "it can't give so many registers (Modbus exception 3)",
    4: "it failed (Modbus exception 4)",
    5: "it is still busy with the request (Modbus exception 5)",
    6: "it is busy (Modbus exception 6)",
    10: "the gateway knows no way to it (Modbus exception 10)",
    11: "the gateway hears nothing from it (Modbus exception 11)",
}
"""Exception codes of the Modbus application protocol (V1.1b3, section 7; from memory)."""


@dataclass
class _Way:
    address: str
    layout: Layout
    unit: int
    vanishes = False  # each read is answered, or it is found out

    def open(self) -> Registers:
        """The device, once it has answered."""
        # Its failures are said here; pymodbus would write them over the screen.
        logging.getLogger("pymodbus").addHandler(logging.NullHandler())
        found = Registers(self._client(), self.layout, self.unit)
        try:
            found.begin()
        except OSError:
            found.close()
            raise
        return found

    def _client(self) -> ModbusTcpClient | ModbusSerialClient:
        raise NotImplementedError

    def close(self) -> None:
        """Nothing is kept between two connections."""


@dataclass
class TcpWay(_Way):
    """A way to ``modbus-tcp://host:port/unit``."""

    host: str
    port: int

    def _client(self) -> ModbusTcpClient:
        from pymodbus.client import ModbusTcpClient

        return ModbusTcpClient(self.host, port=self.port, timeout=CONNECT_S, retries=0)


@dataclass
class RtuWay(_Way):
    """A way to ``modbus-rtu:PORT/unit``."""

    port: str

    def _client(self) -> ModbusSerialClient:
        from pymodbus.client import ModbusSerialClient

        port = self.layout.port
        return ModbusSerialClient(
            self.port,
            baudrate=port.baud,
            bytesize=port.bytesize,
            parity=port.parity,
            stopbits=port.stopbits,
            retries=0,
        )


class Registers:
    """A device's block of registers. One answer that is missing or bad is asked for again; it is
    gone when none was good for the layout's ``silent_s``."""

    def __init__(self, client: Any, layout: Layout, unit: int) -> None:
        asked = layout.modbus
        assert asked is not None  # noqa: S101 - the address was refused without
        self._client, self._unit, self._asked = client, unit, asked
        self._silent_s = layout.silent_s or layout.rules.silent_s
        self._good = self._due = time.monotonic()
        self._first = b""

    def begin(self) -> None:
        """Connect, and read once; raises OSError when it doesn't answer."""
        if not self._client.connect():
            raise ConnectionError("nothing answers there")
        self._client.comm_params.timeout_connect = self._asked.answer_ms / 1000
        self._first = self._block()
        self._good = time.monotonic()

    def read(self, timeout_s: float) -> bytes:
        """The block, when it is due within the time. A device that doesn't answer holds it up for
        ``answer_ms``."""
        if self._first:
            first, self._first = self._first, b""
            return first
        wait_s = self._due - time.monotonic()
        time.sleep(max(min(wait_s, timeout_s), 0))
        if wait_s > timeout_s:
            return b""
        try:
            data = self._block()
        except TimeoutError as error:
            if time.monotonic() - self._good > self._silent_s:
                raise ConnectionError(str(error)) from error
            return b""
        self._good = time.monotonic()
        return data

    def _block(self) -> bytes:
        """Raises TimeoutError where the next answer may be better, another OSError where not."""
        from pymodbus.exceptions import ConnectionException, ModbusException

        self._due = time.monotonic() + self._asked.every_ms / 1000
        try:
            answer = self._read()
        except ConnectionException as error:
            raise ConnectionError("the connection to it broke off") from error
        except ModbusException as error:
            if isinstance(self._client.socket, socket.socket):
                # The next read goes over a fresh connection: on this one all later answers could
                # come one request late.
                self._client.close()
            raise TimeoutError(f"unit {self._unit} doesn't answer") from error
        if answer.isError():
            code = int(getattr(answer, "exception_code", 0))
            raise TimeoutError(_SAID.get(code, f"it answers with Modbus exception {code}"))
        registers = answer.registers
        if len(registers) != self._asked.count:
            raise TimeoutError(f"it gave {len(registers)} registers, not {self._asked.count}")
        return b"".join(register.to_bytes(2, "big") for register in registers)

    def _read(self) -> Any:
        kinds: dict[str, Callable[..., Any]] = {
            "holding": self._client.read_holding_registers,
            "input": self._client.read_input_registers,
        }
        asked = self._asked
        return kinds[asked.registers](asked.first, count=asked.count, device_id=self._unit)

    def write(self, data: bytes) -> None:
        """Nothing is ever written to registers."""
        raise OSError(f"{len(data)} bytes can't be sent to a Modbus device")

    def close(self) -> None:
        """Let it go."""
        self._client.close()
