"""An ICC version 2 profile of sRGB, made from its published numbers.

PDF/A wants an output intent; the profiles at hand are of version 4, which PDF/A-1 checkers
refuse. Primaries adapted to D50 and the transfer curve are those of IEC 61966-2-1 (quoted from
memory); the curve is a table of 1024 places.
"""

from __future__ import annotations

import struct
from functools import cache

_PRIMARIES = {
    b"rXYZ": (0.4360747, 0.2225045, 0.0139322),
    b"gXYZ": (0.3850649, 0.7168786, 0.0971045),
    b"bXYZ": (0.1430804, 0.0606169, 0.7141733),
}
_D50 = (0.9642, 1.0, 0.8249)


def _fixed(value: float) -> bytes:
    return struct.pack(">i", round(value * 65536))


def _xyz(values: tuple[float, float, float]) -> bytes:
    return b"XYZ \0\0\0\0" + b"".join(map(_fixed, values))


def _curve() -> bytes:
    places = (n / 1023 for n in range(1024))
    linear = (x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in places)
    table = b"".join(struct.pack(">H", round(y * 65535)) for y in linear)
    return b"curv\0\0\0\0" + struct.pack(">I", 1024) + table


def _description(text: bytes) -> bytes:
    said = text + b"\0"
    return b"desc\0\0\0\0" + struct.pack(">I", len(said)) + said + bytes(8) + bytes(3) + bytes(67)


@cache
def profile() -> bytes:
    """The profile's bytes."""
    curve = _curve()
    tags = {
        b"desc": _description(b"sRGB IEC61966-2.1"),
        b"cprt": b"text\0\0\0\0No rights reserved\0",
        b"wtpt": _xyz(_D50),
        **{name: _xyz(values) for name, values in _PRIMARIES.items()},
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    offset = 128 + 4 + 12 * len(tags)
    table, data, seen = b"", b"", {}
    for name, body in tags.items():
        if body not in seen:
            padded = body + bytes(-len(body) % 4)
            seen[body] = offset + len(data)
            data += padded
        table += name + struct.pack(">II", seen[body], len(body))
    size = offset + len(data)
    header = struct.pack(
        ">I4sI4s4s4s6H4sI4sI4sQI12s4s44s",
        size,
        b"\0\0\0\0",
        0x02100000,
        b"mntr",
        b"RGB ",
        b"XYZ ",
        *(2026, 1, 1, 0, 0, 0),
        b"acsp",
        0,
        b"\0\0\0\0",
        0,
        b"\0\0\0\0",
        0,
        0,
        b"".join(map(_fixed, _D50)),
        b"\0\0\0\0",
        bytes(44),
    )
    return header + struct.pack(">I", len(tags)) + table + data
