"""Text of seven bits with parity that was read as eight bits: recognised, and said. Pure."""

from __future__ import annotations

from drivers.learning.frames import TEXT

_FEWEST = 16
_HELD = 0.98


def of(data: bytes) -> str:
    """The parity that the highest bit of every byte bears: "E", "O" or "M"; "" where it is none.
    Of even parity that bit makes the number of ones even; mark sets it always."""
    if len(data) < _FEWEST or all(b < 0x80 for b in data):
        return ""
    seven = bytes(b & 0x7F for b in data)
    if sum(b in TEXT for b in seven) < _HELD * len(data):
        return ""
    ones = [b.bit_count() & 1 for b in data]
    enough = _HELD * len(data)
    if sum(b >= 0x80 for b in data) >= enough:
        return "M"
    if len(ones) - sum(ones) >= enough:
        return "E"
    return "O" if sum(ones) >= enough else ""
