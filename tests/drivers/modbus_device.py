"""A Modbus device, run as a program of its own: pymodbus's server, an independent peer.

``modbus_device.py tcp PORT FIRST`` or ``... rtu DEVICE FIRST``: unit 17, registers 100 to 103,
holding and input alike: a 32-bit count of the reads from FIRST on, and a 32-bit figure that stays.
"""

from __future__ import annotations

import asyncio
import sys

from pymodbus.constants import ExcCodes
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

STAYS = -130250


async def main(kind: str, at: str, first: int) -> None:
    count = first

    async def counted(
        _code: int, start: int, address: int, _n: int, registers: list[int], _set: object
    ) -> ExcCodes | None:
        nonlocal count
        words = count.to_bytes(4, "big") + STAYS.to_bytes(4, "big", signed=True)
        for n in range(4):
            registers[100 - start + n] = int.from_bytes(words[2 * n : 2 * n + 2], "big")
        count += address == 100
        return None

    device = SimDevice(
        id=17,
        simdata=[SimData(100, count=4, values=0, datatype=DataType.REGISTERS)],
        action=counted,
    )
    server: ModbusTcpServer | ModbusSerialServer
    if kind == "tcp":
        server = ModbusTcpServer(device, address=("127.0.0.1", int(at)))
    else:
        server = ModbusSerialServer(device, port=at, baudrate=115200)
    await server.serve_forever(background=True)
    print("ready", flush=True)
    await server.serving


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1], sys.argv[2], int(sys.argv[3])))
