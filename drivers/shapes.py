"""Rows that look alike, read together: as a row's own reading would be, and many times faster.

A shape is what a good row looks like, byte for byte: digits and letters where that row has some,
every other byte as it is there. Rows of one shape are compared and computed as one array. What
fits no shape is left to the reading of single rows, so that a shape never decides what is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from drivers.instants import Form
from drivers.mapping import CHANNELS
from drivers.rows import FIGURE, Columns, Row

Bytes = npt.NDArray[np.uint8]
Whole = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]

BYTES_AT_ONCE = 160_000
"""As many bytes of rows as the cache holds with what is computed from them."""
SCALE = 6
"""Figures are integers of the sixth decimal place."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_DAY_US = 86_400_000_000
_DATE = ("year", "month", "day")
_TIME = {"hour": 3_600_000_000, "minute": 60_000_000, "second": 1_000_000}
_WORDS = ("feature", "flute", "mark", "repeat")
_PLAIN = re.compile(rb"[ !#-~]*\r?\n")
_CLASSES = ((48, 9), (65, 25), (97, 25))
"""Digits, large and small letters: the first byte, and how many follow."""


@dataclass(frozen=True, slots=True)
class Block:
    """Good rows as columns, in the order of the file."""

    number: Whole
    """As the spreadsheet counts."""
    at_us: Whole
    """Microseconds since 1970 in UTC."""
    figures: Mapping[str, Whole]
    """By channel, exact: integers of the sixth decimal place, in the unit that is shown; of a row
    without one the least integer."""
    words: Mapping[str, npt.NDArray[np.bytes_]]
    """Feature, flute, mark and repeat, UTF-8, of those that are columns."""

    def __len__(self) -> int:
        return len(self.number)

    def above(self, number: int) -> Block:
        """The rows above that one."""
        if not len(self) or self.number[-1] < number:
            return self
        return self.at(slice(np.searchsorted(self.number, number)))

    def at(self, places: slice | npt.NDArray[Any]) -> Block:
        """Some of its rows."""
        return Block(
            self.number[places],
            self.at_us[places],
            {key: each[places] for key, each in self.figures.items()},
            {key: each[places] for key, each in self.words.items()},
        )


NONE = np.iinfo(np.int64).min
"""No figure."""


def microseconds(at: datetime) -> int:
    """An instant as a block holds it."""
    return (at - _EPOCH) // timedelta(microseconds=1)


def block_of(rows: Sequence[Row], columns: Columns) -> Block:
    """Single rows as a block."""
    channels = [CHANNELS[key] for key, _ in columns.figures]
    figures = {channel: np.full(len(rows), NONE) for channel in channels}
    for n, row in enumerate(rows):
        for reading in row.sighting.readings:
            figures[reading.channel][n] = int(reading.value.scaleb(SCALE))
    words = {
        key: np.array([_said(row, key) for row in rows], dtype="S")
        for key, _ in columns.words
        if key in _WORDS
    }
    return Block(
        np.array([row.number for row in rows], np.int64),
        np.array([microseconds(row.sighting.at) for row in rows], np.int64),
        figures,
        words,
    )


def _said(row: Row, key: str) -> bytes:
    value = getattr(row, key)
    return b"" if value is None else str(value).encode()


def joined(blocks: Sequence[Block]) -> Block:
    """Blocks of the same columns as one, in the order of the file."""
    if len(blocks) == 1:
        return blocks[0]
    first = blocks[0]
    whole = Block(
        np.concatenate([b.number for b in blocks]),
        np.concatenate([b.at_us for b in blocks]),
        {key: np.concatenate([b.figures[key] for b in blocks]) for key in first.figures},
        {key: np.concatenate([b.words[key] for b in blocks]) for key in first.words},
    )
    if (np.diff(whole.number) > 0).all():
        return whole
    return whole.at(np.argsort(whole.number))


class Shape:
    """What rows of one look hold, and where. ``of`` makes one from a good row."""

    def __init__(self, line: bytes, columns: Columns, spans: Sequence[tuple[int, int]]) -> None:
        """``line`` with its end; ``spans``: begin and end of each bare cell. Raises ValueError
        where rows of this look can't be read together."""
        self.wide = len(line)
        look = np.frombuffer(line, np.uint8)
        self._low, self._span = look.copy(), np.zeros(len(line), np.uint8)
        self._signs: list[int] = []
        keep = [spans[columns.place[key]] for key in ("unit", "key") if key in columns.place]
        keep.append((0, len(columns.mapping.comment)))
        exact = {n for begin, end in keep for n in range(begin, end)}
        for n, byte in enumerate(line):
            for low, span in _CLASSES:
                if low <= byte <= low + span and n not in exact:
                    self._low[n], self._span[n] = low, span
        self._figures = {
            CHANNELS[key]: self._figure(line, *spans[place], columns.mapping.decimal)
            for key, place in columns.figures
        }
        self._words = {key: spans[place] for key, place in columns.words if key in _WORDS}
        self._at = _At(line, spans[columns.at[0]], columns.mapping.form, self)
        self.rows_at_once = max(1, BYTES_AT_ONCE // self.wide)
        # As many times as there are rows: one loop over all bytes, and none over short rows.
        self._low = np.tile(self._low, self.rows_at_once)
        self._span = np.tile(self._span, self.rows_at_once)

    def _figure(
        self, line: bytes, begin: int, end: int, decimal: str
    ) -> tuple[int, int, int, npt.NDArray[np.float64]] | None:
        """Begin, end, place of the sign (-1: none) and weights of a figure's bytes."""
        text = line[begin:end].decode("ascii")
        if not text:
            return None
        if not FIGURE[decimal].fullmatch(text):
            raise ValueError("no figure")
        sign = begin if text[0] in "+-" else -1
        if sign >= 0:
            # "+" is 43 and "-" 45; the "," between them is looked for apart.
            self._low[sign], self._span[sign] = 43, 2
            self._signs.append(sign)
        whole = (text.partition(decimal)[0]).lstrip("+-")
        power, weights = len(whole) - 1, np.zeros(end - begin)
        for n, char in enumerate(text):
            if char.isdigit():
                weights[n] = 10.0 ** (power + SCALE)
                power -= 1
        return begin, end, sign, weights

    def limit(self, at: int, most: int) -> None:
        """A digit that is at most ``most``."""
        self._span[at] = most

    def read(self, rows: Bytes, number: Whole) -> tuple[Block, Truths]:
        """The block of those rows that are of this shape, and which they are. ``rows``: one a
        row, as wide as the shape, at most ``rows_at_once``."""
        off = rows.reshape(-1) - self._low[: rows.size]
        # Bytes wrap round: one comparison tests both sides.
        wrong = (off > self._span[: rows.size]).reshape(rows.shape)
        off = off.reshape(rows.shape)
        fits = np.ones(len(rows), np.bool_)
        if wrong.any():
            np.logical_not(wrong.any(axis=1), out=fits)
        for sign in self._signs:
            fits &= off[:, sign] != 1
        at_us, dated = self._at.read(rows, off)
        fits &= dated
        if not fits.all():
            rows, off, number, at_us = rows[fits], off[fits], number[fits], at_us[fits]
        figures = {key: self._value(off, figure) for key, figure in self._figures.items()}
        words = {key: _cut(rows, *span) for key, span in self._words.items()}
        return Block(number, at_us, figures, words), fits

    @staticmethod
    def _value(off: Bytes, figure: tuple[int, int, int, Any] | None) -> Whole:
        if figure is None:
            return np.full(len(off), NONE)
        begin, end, sign, weights = figure
        # At most 12 digits: exact in a double.
        value = _sum(off[:, begin:end], weights)
        return value if sign < 0 else value * (1 - off[:, sign].astype(np.int64))


class _At:
    """Where a row's instant stands: a date that is read once as long as it stays the same, and
    digits of the time of day."""

    def __init__(self, line: bytes, span: tuple[int, int], form: Form | None, of: Shape) -> None:
        begin, end = span
        text = line[begin:end].decode("ascii")
        found = form.pattern.fullmatch(text) if form is not None else None
        if form is None or found is None:
            raise ValueError("no instant")
        self._form = form
        # Places in the row; the text keeps what stands between the fields.
        named = [(name, *found.span(name)) for name, said in found.groupdict().items() if said]
        parts = {name: (begin + first, begin + last) for name, first, last in named}
        dates = [parts[name] for name in _DATE]
        self._date = min(dates)[0], max(dates)[1]
        if self._date[1] - self._date[0] > 16:
            raise ValueError("a date that two times 8 bytes don't hold")
        self._begin, self._zeros = begin, list(text)
        self._weights = np.zeros(end)
        times = [name for name in (*_TIME, "fraction") if name in parts]
        self._time = min(parts[n][0] for n in times), max(parts[n][1] for n in times)
        for name in times:
            self._digits(name, parts[name], of)
        self._known: dict[bytes, int] = {}

    def _digits(self, name: str, part: tuple[int, int], of: Shape) -> None:
        first, last = part
        if self._date[0] <= first < self._date[1] or (name != "fraction" and last - first != 2):
            raise ValueError("digits of the time that stand alone, or within the date")
        one = 10**6 // 10 ** (last - first) if name == "fraction" else _TIME[name]
        for n in range(first, last):
            self._weights[n] = one * 10 ** (last - 1 - n)
            self._zeros[n - self._begin] = "0"
        if name != "fraction":
            of.limit(first, 2 if name == "hour" else 5)

    def read(self, rows: Bytes, off: Bytes) -> tuple[Whole, Truths]:
        """Microseconds since 1970, and which rows have an instant that is one."""
        first, last = self._date
        alike = _is_one(rows, first) and _is_one(rows, last - 8)
        dates = _cut(rows[:1] if alike else rows, first, last)
        changes = np.flatnonzero(np.concatenate(([True], dates[1:] != dates[:-1])))
        days = np.array([self._day(dates[n]) for n in changes], np.int64)
        day = days if alike else np.repeat(days, np.diff([*changes, len(dates)]))
        first, last = self._time
        time = _sum(off[:, first:last], self._weights[first:last])
        return day + time, (time < _DAY_US) & (day != NONE)

    def _day(self, date: bytes) -> int:
        """Begin of a day; NONE for what is none, or a day on which the clocks change."""
        if date not in self._known:
            self._known[date] = self._begin_of(date)
        return self._known[date]

    def _begin_of(self, date: bytes) -> int:
        first, last = (place - self._begin for place in self._date)
        text = "".join(self._zeros)
        try:
            bare = text[:first] + date.decode("ascii") + text[last:]
            begin = self._form.read(bare)
            zone = self._form.zone
            local = begin.astimezone(zone) if zone is not None else begin
            later = local.replace(tzinfo=zone) + timedelta(hours=23, minutes=59, seconds=59)
        except (ValueError, OverflowError):
            return NONE
        if zone is not None and later.astimezone(UTC) - begin != later - local:
            return NONE
        return microseconds(begin)


def _sum(digits: Bytes, weights: npt.NDArray[np.float64]) -> Whole:
    """Digits by their weights; exact as long as the sum is below 2**53."""
    # Turned into doubles first: a product of two types takes twice as long.
    return np.asarray(digits.astype(np.float64) @ weights).astype(np.int64)


def _is_one(rows: Bytes, first: int) -> bool:
    """Whether the 8 bytes from there on are the same in all rows."""
    wide = rows.shape[1]
    eight = np.ndarray(len(rows), "<u8", np.ascontiguousarray(rows), first, (wide,))
    return bool((eight == eight[0]).all())


def _cut(rows: Bytes, begin: int, end: int) -> npt.NDArray[np.bytes_]:
    """Some columns of bytes as texts."""
    if begin == end:
        return np.zeros(len(rows), "S1")
    return np.ascontiguousarray(rows[:, begin:end]).view(f"S{end - begin}").ravel()


def spans_of(line: bytes, separator: bytes) -> list[tuple[int, int]]:
    """Begin and end of each cell without the blanks round it; ValueError where the line holds
    other than printable ASCII."""
    if not _PLAIN.fullmatch(line.replace(separator, b"")):
        raise ValueError("more than plain text")
    spans, begin = [], 0
    for cell in line.rstrip(b"\r\n").split(separator):
        bare = cell.strip()
        first = begin + (cell.index(bare) if bare else 0)
        spans.append((first, first + len(bare)))
        begin += len(cell) + 1
    return spans
