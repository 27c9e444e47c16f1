"""A block of a table's lines to columns: rows that look alike together, the rest one by one.

Gives what the reading of single rows gives, rows and mistakes alike, and in the same order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from drivers.rows import Columns, Row
from drivers.shapes import Block, Bytes, Shape, Whole, block_of, joined, spans_of

MOST_SHAPES, LEAST_ROWS = 64, 16
"""Looks that are kept; fewer rows than this are quicker one by one."""
_LONG_RUN = 64

Single = Callable[[int, bytes], Row | None]
"""The reading of one row by its number and its line; it notes the row's mistakes."""


class Alike:
    """Reads blocks; the shapes that were met are kept from block to block."""

    def __init__(self, columns: Columns, single: Single) -> None:
        self._columns, self._single = columns, single
        self._separator = columns.mapping.separator.encode()
        self._shapes: list[Shape] = []

    def read(self, data: bytes, first: int) -> tuple[Block, int]:
        """The good rows of whole lines without quotes, and how many lines there are; ``first``:
        number of the first row."""
        lines = _Lines(data, first)
        skip = self._columns.mapping.skip
        left = np.arange(len(lines.starts))
        apart = np.isin(lines.number, list(skip)) if skip else np.zeros(len(left), np.bool_)
        left, alone = left[~apart], left[apart]
        found: list[Block] = []
        for shape in self._shapes:
            left = self._all_of(shape, lines, left, found)
        singles: list[tuple[int, Row]] = []
        tried: list[int] = []
        while len(left) >= LEAST_ROWS and len(tried) < MOST_SHAPES:
            n = int(left[0])
            row = self._single(int(lines.number[n]), lines.line(n))
            tried.append(n)
            if row is not None:
                singles.append((n, row))
            left = left[1:]
            made = self._shape(lines.line(n)) if row is not None else None
            if made is not None:
                left = self._all_of(made, lines, left, found)
        for n in (int(n) for n in np.sort(np.concatenate([left, alone]))):
            row = self._single(int(lines.number[n]), lines.line(n))
            if row is not None:
                singles.append((n, row))
        singles.sort(key=lambda each: each[0])
        found.append(block_of([row for _, row in singles], self._columns))
        return joined([each for each in found if len(each)] or found[-1:]), len(lines.starts)

    def _shape(self, line: bytes) -> Shape | None:
        """The shape of a good row, kept; None where rows of its look can't be read together."""
        if len(self._shapes) >= MOST_SHAPES:
            return None
        try:
            shape = Shape(line, self._columns, spans_of(line, self._separator))
        except ValueError:
            return None
        self._shapes.append(shape)
        return shape

    @staticmethod
    def _all_of(shape: Shape, lines: _Lines, left: Whole, found: list[Block]) -> Whole:
        """Put the rows of one shape to what was found; the rest is left."""
        wide = lines.wide[left] == shape.wide
        if not wide.any():
            return left
        others = [left[~wide]]
        for places, rows in lines.rows(left[wide], shape):
            block, fits = shape.read(rows, lines.number[places])
            if len(block):
                found.append(block)
            if len(block) < len(places):
                others.append(places[~fits])
        rest = np.concatenate(others)
        return np.sort(rest) if len(others) > 1 else rest


class _Lines:
    """The lines of a block, as bytes with their ends."""

    def __init__(self, data: bytes, first: int) -> None:
        whole = data if data.endswith(b"\n") else data + b"\n"
        self._data, self._bytes = whole, np.frombuffer(whole, np.uint8)
        ends = np.flatnonzero(self._bytes == 10) + 1
        self.starts: Whole = np.concatenate(([0], ends[:-1]))
        self.wide: Whole = ends - self.starts
        self.number: Whole = np.arange(first, first + len(ends))

    def line(self, n: int) -> bytes:
        """One line with its end."""
        start = int(self.starts[n])
        return self._data[start : start + int(self.wide[n])]

    def rows(self, places: Whole, shape: Shape) -> Iterator[tuple[Whole, Bytes]]:
        """Lines of one width, a row each, some thousand at a time; without a copy where they
        follow one another."""
        wide, many = shape.wide, shape.rows_at_once
        cuts = np.flatnonzero(np.diff(places) != 1) + 1
        if len(cuts) * _LONG_RUN > len(places):
            view = np.lib.stride_tricks.sliding_window_view(self._bytes, wide)
            for n in range(0, len(places), many):
                some = places[n : n + many]
                yield some, view[self.starts[some]]
            return
        for begin, end in zip([0, *cuts], [*cuts, len(places)], strict=True):
            for n in range(begin, end, many):
                some = places[n : min(n + many, end)]
                start = int(self.starts[some[0]])
                yield some, self._bytes[start : start + wide * len(some)].reshape(-1, wide)
