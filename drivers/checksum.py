"""Checks that a frame carries over its bytes: exclusive or, sums, CRC-16 by its parameters. Pure.

Which bytes are covered, and how the check is written (hex, high or low byte first), is the
layout's to say; here are bytes in and a whole number out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

from inspect_rec.errors import InputError

_WIDTH = 16
_MOST = 0xFFFF
_TOP = 0x8000


def xor(data: bytes) -> int:
    """Exclusive or of all bytes, 0 of none."""
    found = 0
    for byte in data:
        found ^= byte
    return found


def total(data: bytes, bits: int = 8, *, negated: bool = False) -> int:
    """Sum of all bytes, its lowest ``bits`` (8, 16 or 32); ``negated``: what has to be added to it
    to give 0 (the longitudinal redundancy check of Modbus ASCII; from memory)."""
    if bits not in {8, 16, 32}:
        raise InputError("no such width of a sum", expected="8, 16 or 32 bits", found=f"{bits}")
    found = sum(data)
    return (-found if negated else found) % (1 << bits)


@dataclass(frozen=True, slots=True)
class Crc16:
    """A CRC-16. ``polynomial`` without its highest term, highest power first; ``reflected_in``:
    each byte goes in lowest bit first; ``reflected_out``: the remainder is turned round before
    ``final_xor``. Raises InputError for what isn't 16 bits."""

    polynomial: int
    initial: int = 0
    reflected_in: bool = False
    reflected_out: bool = False
    final_xor: int = 0

    def __post_init__(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            if not isinstance(value, bool) and not 0 <= value <= _MOST:
                raise InputError(
                    f"no such {each.name.replace('_', ' ')} of a CRC-16",
                    expected="from 0 to 0xFFFF",
                    found=f"{value:#x}",
                )
        # Every polynomial in use ends in 1; without it the last bits would go unchecked.
        if not self.polynomial & 1:
            raise InputError(
                "no such polynomial of a CRC-16",
                expected="an odd number, highest power first",
                found=f"{self.polynomial:#06x}",
            )

    def of(self, data: bytes) -> int:
        """The check of these bytes."""
        found = self.initial
        for byte in data:
            found ^= (reflected(byte, 8) if self.reflected_in else byte) << 8
            for _ in range(8):
                found = (found << 1 ^ self.polynomial if found & _TOP else found << 1) & _MOST
        return (reflected(found, _WIDTH) if self.reflected_out else found) ^ self.final_xor


def reflected(value: int, bits: int) -> int:
    """The lowest ``bits`` of a number in opposite order."""
    return int(f"{value & (1 << bits) - 1:0{bits}b}"[::-1], 2)


CRC16: Mapping[str, Crc16] = {
    "arc": Crc16(0x8005, 0, reflected_in=True, reflected_out=True),
    "modbus": Crc16(0x8005, _MOST, reflected_in=True, reflected_out=True),
    "usb": Crc16(0x8005, _MOST, reflected_in=True, reflected_out=True, final_xor=_MOST),
    "umts": Crc16(0x8005),
    "xmodem": Crc16(0x1021),
    "ibm-3740": Crc16(0x1021, _MOST),
    "genibus": Crc16(0x1021, _MOST, final_xor=_MOST),
    "kermit": Crc16(0x1021, 0, reflected_in=True, reflected_out=True),
    "mcrf4xx": Crc16(0x1021, _MOST, reflected_in=True, reflected_out=True),
    "x-25": Crc16(0x1021, _MOST, reflected_in=True, reflected_out=True, final_xor=_MOST),
    "dnp": Crc16(0x3D65, 0, reflected_in=True, reflected_out=True, final_xor=_MOST),
    "en-13757": Crc16(0x3D65, final_xor=_MOST),
}
"""The usual ones under the names that public catalogues of CRCs give them (from memory)."""
_ALSO = {"ccitt-false": "ibm-3740", "ccitt-true": "kermit", "zmodem": "xmodem"}
"""Other names in the same catalogues (from memory)."""


def named(name: str) -> Crc16 | None:
    """The CRC-16 of that name, in small letters or not, with CRC-16/ before it or not."""
    bare = name.lower().removeprefix("crc-16/")
    return CRC16.get(_ALSO.get(bare, bare))
