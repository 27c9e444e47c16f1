"""A long line without instants, decoded a block at a time: runs of figures in which nothing is to
be said, and for all else the decoder itself. What comes out is the same; it comes sooner.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

import numpy as np

from drivers.columns import Block, Columns
from drivers.decoder import Alarm, Decoder
from drivers.layout import Layout
from inspect_rec.reading import Sighting
from inspect_rec.units import to_mm

BLOCK = 1 << 18
"""Bytes that are looked at together."""
_AWAY_MM = Decimal(1)
"""No rule says anything of a step that is no longer."""


@dataclass(frozen=True, slots=True)
class Run:
    """Figures one after the other, a row a channel: integers of the last place, and places."""

    channels: tuple[str, ...]
    values: tuple[list[int], ...]
    places: tuple[list[int], ...]
    suspect: str | None = None
    """As of a sighting, of all of them."""


class Runs:
    """Decodes the bytes of one layout's line; ``columns`` is its reader."""

    def __init__(self, layout: Layout, columns: Columns, at: datetime) -> None:
        self.decoder = Decoder(layout, "", timed=False)
        self._columns, self._at = columns, at
        self._most = layout.figures.decimals
        self._end = len(layout.frame.terminator)
        scale = Decimal(10) ** self._most
        self._away = int(_AWAY_MM / to_mm(Decimal(1), layout.figures.unit) * scale)
        ranges = [layout.rules.range(channel) for channel in columns.channels]
        self._least = [-int(-least * scale // 1) for least, _ in ranges]
        self._upper = [int(most * scale // 1) for _, most in ranges]
        self._left = b""

    def feed(self, chunk: bytes) -> Iterator[Run | Sighting | Alarm]:
        """What the bytes up to and with ``chunk`` complete."""
        data = self._left + chunk
        while True:
            block = self._columns.read(data)
            if not len(block.stops):
                break
            yield from self._block(block, data)
            data = data[int(block.stops[-1]) + self._end :]
        # What has no end for so long has none: the decoder says so.
        if len(data) > BLOCK:
            yield from self.decoder.feed(data, self._at)
            data = b""
        self._left = data

    def close(self) -> Iterator[Sighting | Alarm]:
        """What waited for more at the end."""
        yield from self.decoder.feed(self._left, self._at)
        yield from self.decoder.close(self._at)

    def _block(self, block: Block, data: bytes) -> Iterator[Run | Sighting | Alarm]:
        lacking = self._most - np.minimum(block.places, self._most).astype(np.int64)
        scaled = block.values * 10**lacking
        near = block.good.copy()
        near[0] = False
        near[1:] &= block.good[:-1]
        for row, figures in enumerate(scaled):
            near[1:] &= np.abs(np.diff(figures)) <= self._away
            near &= (figures >= self._least[row]) & (figures <= self._upper[row])
        count, line = len(near), 0
        breaks = np.append(np.flatnonzero(~near), count)
        while line < count:
            # The decoder looks at each line from a break on, until it is calm again.
            found = self.decoder.feed(self._bytes(block, data, line), self._at)
            yield from found
            line += 1
            if block.good[line - 1] and found and self._calm(found[-1]):
                stop = int(breaks[np.searchsorted(breaks, line)])
                if stop - line > 1:
                    yield self._run(block, line, stop)
                    self._skip(block, stop - 1)
                    line = stop

    def _bytes(self, block: Block, data: bytes, line: int) -> bytes:
        """A line with its terminator."""
        return data[int(block.starts[line]) : int(block.stops[line]) + self._end]

    def _calm(self, found: Sighting | Alarm) -> bool:
        """Whether the decoder took a line, and nothing hangs over from before it."""
        return isinstance(found, Sighting) and self.decoder.calm

    def _run(self, block: Block, start: int, stop: int) -> Run:
        return Run(
            self._columns.channels,
            tuple(block.values[:, start:stop].tolist()),
            tuple(block.places[:, start:stop].tolist()),
            self.decoder.suspect,
        )

    def _skip(self, block: Block, line: int) -> None:
        """Tell the decoder where the slides are now, and were before that."""
        exponents = (-block.places[:, line - 1 : line + 1].astype(int)).tolist()
        values = block.values[:, line - 1 : line + 1].tolist()
        figures = {
            channel: tuple(Decimal(n).scaleb(e) for n, e in zip(ns, es, strict=True))
            for channel, ns, es in zip(self._columns.channels, values, exponents, strict=True)
        }
        self.decoder.went_on(figures, self._at)
