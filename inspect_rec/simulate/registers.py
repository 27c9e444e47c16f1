"""A simulated Modbus device: requests for registers, and answers that hold a frame. Pure.

It gives the layout's block of registers to who asks for it, over TCP or at a serial port, and lets
nobody write. Modbus application protocol V1.1b3 and Modbus over serial line V1.02, from memory.
"""

from __future__ import annotations

from collections.abc import Callable

from drivers.checksum import CRC16
from drivers.parts import Modbus

_FUNCTION = {"holding": 3, "input": 4}
_NO_FUNCTION, _NO_ADDRESS = 1, 2
_ASKED = 5
"""Bytes of a request that reads registers: function, first, count."""
_HEAD, _CRC = 7, 2
_LONGEST = 256


class Device:
    """Answers the requests for one block of registers."""

    def __init__(self, asked: Modbus) -> None:
        self._asked = asked
        self._waiting = b""

    def hear(self, data: bytes) -> list[Callable[[bytes], bytes]]:
        """For each whole request up to and with these bytes: what makes its answer of a block."""
        self._waiting = (self._waiting + data)[-2 * _LONGEST :]
        found = []
        while (taken := self._next()) is not None:
            size, answer = taken
            self._waiting = self._waiting[size:]
            if answer is not None:
                found.append(answer)
        return found

    def _next(self) -> tuple[int, Callable[[bytes], bytes] | None] | None:
        """Bytes of the next request, and its answer; None while it isn't whole. A byte that begins
        none is passed over."""
        waiting = self._waiting
        whole = waiting[: 1 + _ASKED + _CRC]
        if len(whole) == 1 + _ASKED + _CRC and _checked(whole[:-_CRC]) == whole:
            return len(whole), self._serial(whole) if whole[0] == self._asked.unit else None
        if len(waiting) >= _HEAD and waiting[2:5] == bytes(3) and waiting[5] > 1:
            size = _HEAD - 1 + waiting[5]
            if len(waiting) < size:
                return None
            own = waiting[_HEAD - 1] == self._asked.unit
            return size, self._tcp(waiting[:size]) if own else None
        return (1, None) if len(waiting) > _ASKED + _CRC else None

    def _tcp(self, whole: bytes) -> Callable[[bytes], bytes]:
        """With the header of TCP: transaction, protocol 0, length, unit."""

        def answer(block: bytes) -> bytes:
            said = whole[_HEAD - 1 : _HEAD] + self._answer(whole[_HEAD:], block)
            return whole[:4] + len(said).to_bytes(2, "big") + said

        return answer

    def _serial(self, whole: bytes) -> Callable[[bytes], bytes]:
        """With the check of a serial line."""

        def answer(block: bytes) -> bytes:
            return _checked(whole[:1] + self._answer(whole[1:-_CRC], block))

        return answer

    def _answer(self, asked: bytes, block: bytes) -> bytes:
        """Function and registers, or an exception."""
        function = asked[0]
        if function != _FUNCTION[self._asked.registers] or len(asked) != _ASKED:
            return bytes([function | 0x80, _NO_FUNCTION])
        first, count = int.from_bytes(asked[1:3], "big"), int.from_bytes(asked[3:5], "big")
        from_, to = 2 * (first - self._asked.first), 2 * (first - self._asked.first + count)
        if not 0 <= from_ < to <= 2 * self._asked.count:
            return bytes([function | 0x80, _NO_ADDRESS])
        registers = block[from_:to]
        return bytes([function, len(registers)]) + registers


def _checked(data: bytes) -> bytes:
    return data + CRC16["modbus"].of(data).to_bytes(_CRC, "little")
