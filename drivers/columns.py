"""Many lines of text at a time to columns of exact integers of the last place. Pure.

A plan is made of a layout whose lines are figures between signs that never change; what else a
line may have at its end (a key's mark, its unit) makes it one for the decoder. A line is only taken
where each of its bytes is as the layout's pattern says; whether its figures can be true isn't
looked at here. Eight digits at a time are read as one number, as is known of parsers of numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.layout import Layout
from drivers.parts import CHANNELS

Ints = NDArray[np.int64]
Words = NDArray[np.uint64]
Bytes = NDArray[np.uint8]
Truths = NDArray[np.bool_]
_WORD = 8
"""Bytes; the first is the lowest, whatever the machine's own order is."""
_MOST_DIGITS = 7
"""A word shows where digits end only if fewer than eight begin it."""
_DIGIT = r"(?:\\d|\[0-9\])"
_FIGURE = re.compile(
    r"\(\?P<(?P<name>[a-z_]+)>(?:\[(?P<signs>[+-]{1,2})\]|(?P<minus>-))?(?P<perhaps>\?)?"
    rf"{_DIGIT}(?:\{{(?P<least>\d+)(?:,(?P<most>\d+))?\}})?"
    rf"\\?(?P<point>[.,]){_DIGIT}\{{(?P<fewest>\d)(?:,(?P<places>\d))?\}}\)"
)
_LITERAL = re.compile(
    r"\\x(?P<hex>[0-9a-fA-F]{2})|\\(?P<escaped>[^a-zA-Z0-9])|(?P<plain>[^\\()\[\]{}*+?.|^$])"
)
_PERHAPS = re.compile(r"(?:\((?:\?:|\?P<(?:unit|key)>)(?:[^()\\]|\\.|\([^()]*\))*\)\?)*")
"""Groups at the end that a line may lack."""


@dataclass(frozen=True, slots=True)
class _Figure:
    """How the figure of a channel is written: its signs and whether it may lack one; fewest and
    most digits before and behind the point."""

    channel: str
    signs: bytes
    unsigned: bool
    whole: tuple[int, int]
    places: tuple[int, int]
    point: int

    @property
    def fixed(self) -> bool:
        """Whether all are equally long."""
        plain = self.unsigned != bool(self.signs)
        return plain and self.whole[0] == self.whole[1] and self.places[0] == self.places[1]


@dataclass(frozen=True, slots=True)
class Block:
    """Lines of a piece of bytes. ``values``, ``places``: a row a channel, a column a line, of use
    where ``good``; ``starts``, ``stops``: where each line lies, without its terminator."""

    values: Ints
    places: Bytes
    good: Truths
    starts: Ints
    stops: Ints


class Columns:
    """Reads lines of one layout; see ``of``."""

    def __init__(self, layout: Layout, parts: tuple[int | _Figure, ...]) -> None:
        self._parts, self._end = parts, layout.frame.terminator
        self._longest = layout.frame.longest
        figures = [part for part in parts if isinstance(part, _Figure)]
        self.channels = tuple(figure.channel for figure in figures)
        self._fixed = all(figure.fixed for figure in figures)
        # A line that is none may be looked at beyond its end, as far as the longest goes.
        self._room = bytes(_WORD * (4 * len(figures) + len(parts)))

    def read(self, data: bytes) -> Block:
        """Lines that ``data`` begins with, all or, while all are good and equally long, these; none
        where there is no terminator. What follows the last is left."""
        padded = data + self._room
        signs = np.frombuffer(padded, np.uint8)
        end = len(self._end)
        first = data.find(self._end)
        step = first + end
        if self._fixed and 0 < first <= self._longest:
            stops = np.arange(first, len(data) - end + 1, step)
            found = self._looked_at(_Alike(padded, signs, step, len(stops)), stops - first, stops)
            for n, byte in enumerate(self._end):
                found.good[:] &= signs[first + n :: step][: len(stops)] == byte
            if found.good.all():
                return found
        stops = self._stops(signs[: len(data)])
        starts = np.zeros_like(stops)
        starts[1:] = stops[:-1] + end
        return self._looked_at(_Each(padded, signs, starts), starts, stops)

    def _looked_at(self, look: _Look, starts: Ints, stops: Ints) -> Block:
        count = len(stops)
        values = np.empty((len(self.channels), count), np.int64)
        places = np.empty((len(self.channels), count), np.uint8)
        good = stops - starts <= self._longest
        row = 0
        for part in self._parts if count else ():
            if isinstance(part, int):
                good &= look.byte() == part
                look.on(1)
            else:
                values[row], places[row] = _figure(look, part, good)
                row += 1
        good &= look.place == (stops if isinstance(look, _Each) else stops[:1])
        return Block(values, places, good, starts, stops)

    def _stops(self, signs: Bytes) -> Ints:
        """Where each line ends."""
        last = np.flatnonzero(signs == self._end[-1])
        for back in range(1, len(self._end)):
            whole = (last >= back) & (signs.take(last - back, mode="clip") == self._end[-1 - back])
            last = last if whole.all() else last[whole]
        return last - (len(self._end) - 1)


class _Each:
    """A place in each of many lines."""

    def __init__(self, padded: bytes, signs: Bytes, starts: Ints) -> None:
        self._signs, self.place = signs, starts
        self._words: Words = np.ndarray((len(signs) - _WORD + 1,), "<u8", padded, strides=(1,))

    def byte(self) -> Bytes:
        """The byte that stands there."""
        return self._signs[self.place]

    def word(self) -> Words:
        """Eight bytes from there on."""
        return self._words[self.place]

    def on(self, by: int | Bytes | Truths) -> None:
        """Further on."""
        self.place = self.place + by


class _Alike:
    """The same place in each of many lines that are equally long."""

    def __init__(self, padded: bytes, signs: Bytes, step: int, count: int) -> None:
        self._signs, self._step, self._count, self.place = signs, step, count, 0
        self._words: Words = np.ndarray((len(signs) - _WORD + 1,), "<u8", padded, strides=(1,))

    def byte(self) -> Bytes:
        """The byte that stands there."""
        return self._signs[self.place :: self._step][: self._count]

    def word(self) -> Words:
        """Eight bytes from there on."""
        return self._words[self.place :: self._step][: self._count].copy()

    def on(self, by: int | Bytes | Truths) -> None:
        """Further on, everywhere as far."""
        self.place += int(by)


_Look = _Each | _Alike
_ZEROS, _TENS = np.uint64(0x3030303030303030), np.uint64(0x7676767676767676)
_HIGH, _BYTE = np.uint64(0x8080808080808080), np.uint64(8)
_PAIRS, _HALF = np.uint64(0x000000FF000000FF), np.uint64(16)
_HUNDREDS, _ONES = np.uint64(0x000F424000000064), np.uint64(0x0000271000000001)
_TEN, _UPPER, _ONE = np.uint64(10), np.uint64(32), np.uint64(1)
_POWERS = 10 ** np.arange(_WORD + 1, dtype=np.int64)
# What a shift by all bits of a word does isn't said; a line without digits isn't good anyway.
_SHIFTS = np.array([0, *range(56, -8, -8)], np.uint64)


def _figure(look: _Look, part: _Figure, good: Truths) -> tuple[Ints, Bytes | int]:
    """A figure from where one looks on, as an integer of its last place, and its places; what is
    wrong with a line is noted in ``good``."""
    minus: Truths | None = None
    if part.signs:
        sign = look.byte()
        minus = sign == ord("-")
        signed = minus | (sign == ord("+")) if b"+" in part.signs else minus
        if b"-" not in part.signs:
            good &= ~minus
        if not part.unsigned:
            good &= signed
        look.on(signed if part.unsigned else 1)
    places: Bytes | int = part.places[0]
    if isinstance(look, _Alike):
        value = _alike(look, part, good)
    else:
        whole, _ = _digits(look, part.whole, good)
        good &= look.byte() == part.point
        look.on(1)
        rest, places = _digits(look, part.places, good)
        value = whole * _POWERS.take(places)
        value += rest
    if minus is not None:
        np.negative(value, out=value, where=minus)
    return value, places


def _alike(look: _Alike, part: _Figure, good: Truths) -> Ints:
    """A figure of so many digits before and behind its point; its digits pushed together are read
    at once where a word holds them."""
    before, behind = part.whole[0], part.places[0]
    if before + 1 + behind > _WORD:
        whole = _fixed(look.word(), before, good)
        look.on(before)
        good &= look.byte() == part.point
        look.on(1)
        rest = _fixed(look.word(), behind, good)
        look.on(behind)
        return whole * int(_POWERS[behind]) + rest
    word = look.word()
    point = np.uint64(8 * before)
    good &= (word >> point & np.uint64(0xFF)) == part.point
    front = np.uint64((1 << 8 * before) - 1)
    together = (word & front) | (word >> _BYTE & ~front)
    look.on(before + 1 + behind)
    return _fixed(together, before + behind, good)


def _fixed(word: Words, count: int, good: Truths) -> Ints:
    """The number that so many digits make."""
    word = (word ^ _ZEROS) << np.uint64(64 - 8 * count)
    good &= ((word + _TENS) | word) & _HIGH == 0
    return _number(word)


def _digits(look: _Each, least_most: tuple[int, int], good: Truths) -> tuple[Ints, Bytes]:
    """The number that digits make, and how many they are."""
    word = look.word() ^ _ZEROS
    wrong = ((word + _TENS) | word) & _HIGH
    # The bits below the lowest that is set are those of the bytes that are digits.
    count: Bytes = np.bitwise_count((wrong - _ONE) & ~wrong) >> np.uint8(3)
    good &= (count >= least_most[0]) & (count <= least_most[1])
    word <<= _SHIFTS.take(count)
    look.on(count)
    return _number(word), count


def _number(word: Words) -> Ints:
    """Eight digits, the first lowest, as a number."""
    word = word * _TEN + (word >> _BYTE)
    number = ((word & _PAIRS) * _HUNDREDS + ((word >> _HALF) & _PAIRS) * _ONES) >> _UPPER
    return number.view(np.int64)


def of(layout: Layout) -> Columns | None:
    """A reader of a layout's lines, where they can be read so."""
    frame, pattern = layout.frame, layout.pattern
    marked = frame.header or frame.trailer or frame.width or layout.check
    if pattern is None or not frame.terminator or marked or layout.on_key or layout.figures.faults:
        return None
    if layout.figures.point == "none":
        return None
    found = tuple(_parts(pattern.pattern.decode("latin-1")))
    parts = tuple(part for part in found if part is not None)
    figures = [part for part in parts if isinstance(part, _Figure)]
    few = layout.figures.fewest, layout.figures.decimals
    able = all(
        figure.channel
        and 1 <= figure.whole[0] <= figure.whole[1] <= _MOST_DIGITS
        and few[0] <= figure.places[0] <= figure.places[1] <= few[1] <= _MOST_DIGITS
        and figure.places[0] > 0
        for figure in figures
    )
    return Columns(layout, parts) if figures and able and parts == found else None


def _parts(text: str) -> Iterator[int | _Figure | None]:
    """What a line consists of; None where it is something else."""
    at = 0
    while at < len(text) and not _PERHAPS.fullmatch(text, at):
        figure, literal = _FIGURE.match(text, at), _LITERAL.match(text, at)
        if figure is not None:
            signs = (figure["signs"] or figure["minus"] or "").encode()
            least, fewest = int(figure["least"] or 1), int(figure["fewest"])
            yield _Figure(
                CHANNELS.get(figure["name"], ""),
                signs,
                not signs or figure["perhaps"] is not None,
                (least, int(figure["most"] or least)),
                (fewest, int(figure["places"] or fewest)),
                ord(figure["point"]),
            )
            at = figure.end()
        elif literal is not None:
            sign = literal["escaped"] or literal["plain"]
            yield int(literal["hex"], 16) if literal["hex"] else ord(sign)
            at = literal.end()
        else:
            yield None
            return
