"""Which settings of a plug give text: the usual ones, tried in turn. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from drivers.learning import blocks, parity
from drivers.learning.frames import TEXT
from drivers.learning.recording import Recording
from drivers.parts import Port

_BAUDS = (9600, 4800, 19200, 2400, 38400, 57600, 115200, 1200)
_FEWEST = 24
"""Bytes from which settings are judged."""
_GOOD = 0.95
"""Of the bytes are text's: at a wrong speed hardly half of them are."""


def usual() -> Iterator[Port]:
    """Settings of readouts, the commonest first (common practice)."""
    for baud in _BAUDS:
        yield Port(baud)
    for baud in _BAUDS:
        yield Port(baud, 7, "E")


def judged(data: bytes) -> float:
    """How much these bytes look like what a readout sends: 1 is text throughout; 0.9 are binary
    frames that a check proves; below 0.95 and otherwise nothing is proved."""
    if len(data) < _FEWEST:
        return 0.0
    share = sum(b in TEXT for b in data) / len(data)
    if share < _GOOD and blocks.find(Recording(data, (len(data),))) is not None:
        return 0.9
    return share


def with_parity(port: Port, data: bytes) -> Port | None:
    """The same with 7 bits and the parity that the highest bits show; None where they show none."""
    found = parity.of(data)
    return Port(port.baud, 7, found, port.stopbits) if found else None


def best(tried: Sequence[tuple[Port, bytes]]) -> tuple[Port, str]:
    """The settings whose bytes look best, and why, in words."""
    port, data = max(tried, key=lambda each: judged(each[1]))
    share = judged(data)
    said = f"{share:.0%} of {len(data)} bytes are text with it; settings tried: {len(tried)}"
    return port, said if share != 0.9 else "its frames bear a check that holds"


def enough(data: bytes) -> bool:
    """Whether these settings needn't be looked behind."""
    return judged(data) >= _GOOD or judged(data) == 0.9
