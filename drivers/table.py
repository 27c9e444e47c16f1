"""A table of text, such as a spreadsheet or another program saves: exact, nothing guessed.

Columns, units, separator, decimal sign and encoding are stated by a mapping. Cells are read as
text, so that every decimal stays as it was written. Bad rows are handed back beside the good ones,
their cells named as a spreadsheet names them; none is skipped unseen.
"""

from __future__ import annotations

import csv
import io
from collections import deque
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, BinaryIO, Self

from drivers.encoding import blocks, codec_of
from drivers.instants import RFC_3339, form
from drivers.mapping import SEPARATORS, TABLE, Mapping
from drivers.rows import Columns, File, HalfError, Row, RowError, Wrong, mistakes, row_of
from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Sighting
from inspect_rec.units import Unit

if TYPE_CHECKING:
    from drivers.shapes import Block

MOST_MISTAKES = 10_000
"""Beyond them the file is another one than the mapping says, and no more of it is read."""
MOST_ROWS = 10_000_000
LARGEST = 64 * 1024 * 1024
"""Characters of a table of sightings."""
COLUMNS = ("at", "x", "z", "unit")
"""Of a table of sightings that needs no mapping."""
_KEY = "key"
_MOST_LINES = 100
"""A cell in quotes over more lines than this was never closed."""


class Table:
    """The rows of one table, in their order; ``mistakes`` grows while they are read."""

    def __init__(self, stream: BinaryIO, mapping: Mapping, file: File) -> None:
        """``stream`` stands at the file's begin. Raises InputError where it isn't encoded as
        stated; so does every later read."""
        self.mapping, self.mistakes = mapping, list[Mistake]()
        begin = stream.read(3)
        codec, mark = codec_of(begin, mapping.encoding, file.name)
        stream.seek(mark)
        self.file = replace(file, codec=codec)
        self._number, self._done = 0, False
        self._lines = _Lines(blocks(stream, codec, file.name))
        head = self._head()
        self._columns = Columns(mapping, head, f"{file.name}:{mapping.head}")
        self._wide = len(head) or mapping.cells

    def __iter__(self) -> Iterator[Row]:
        """Good rows; the bad ones are among the mistakes."""
        while not self._done and (line := next(self._lines, None)) is not None:
            self._number += 1
            row = self._single(self._number, line)
            self._enough()
            if row is not None:
                yield row

    def blocks(self) -> Iterator[Block]:
        """The same good rows as columns, some ten thousand at a time, and many times faster."""
        from drivers.alike import Alike
        from drivers.shapes import block_of

        alike = Alike(self._columns, lambda n, line: self._single(n, _text(line)))
        plain = self.mapping.form is not None and len(self.mapping.at) == 1
        while not self._done and (data := self._lines.rest()):
            half = self.file.growing and not data.endswith(b"\n")
            if plain and not half and b'"' not in data:
                before = len(self.mistakes)
                block, lines = alike.read(data, self._number + 1)
                self._number += lines
                self.mistakes[before:] = sorted(self.mistakes[before:], key=row_of)
                self._enough()
                yield block.above(self._number + 1)
            else:
                self._lines.back(data)
                yield block_of(list(self._of_block()), self._columns)

    def _of_block(self) -> Iterator[Row]:
        """The rows that begin in the block at hand."""
        while not self._done and self._lines.at_hand:
            self._number += 1
            row = self._single(self._number, next(self._lines))
            self._enough()
            if row is not None:
                yield row

    def _single(self, number: int, line: str) -> Row | None:
        """One row; None where there is none or it is bad, which is noted."""
        try:
            return self._row(number, line)
        except RowError as error:
            self.mistakes += mistakes(self.file.name, number, error)
            self._done = isinstance(error, _UnclosedError)
            return None

    def _enough(self) -> None:
        """Read nothing below the row with which there are too many mistakes, or rows."""
        if len(self.mistakes) >= MOST_MISTAKES:
            end = row_of(self.mistakes[MOST_MISTAKES - 1])
            most = f"fewer than {MOST_MISTAKES} mistakes"
        elif self._number >= MOST_ROWS:
            end, most = MOST_ROWS, f"fewer than {MOST_ROWS} rows"
        else:
            return
        self._done, self._number = True, end
        last = RowError(Wrong(-1, f"{most}; nothing below was read", "more"))
        kept = [m for m in self.mistakes if row_of(m) <= end]
        self.mistakes[:] = [*kept, *mistakes(self.file.name, end, last)]

    def _head(self) -> list[str]:
        """The cells that name the columns; empty where none do."""
        cells: list[str] = []
        while self._number < self.mapping.head and (line := next(self._lines, None)) is not None:
            self._number += 1
            try:
                cells, _ = self._cells(line)
            except RowError as error:
                found = mistakes(self.file.name, self._number, error)
                raise InputError("the table has no head", found, where=self.file.name) from error
        return cells if self._number == self.mapping.head else []

    def _row(self, number: int, line: str) -> Row | None:
        comment = self.mapping.comment
        if not line.strip(" ") or (comment and line.startswith(comment)):
            return None
        cells, raw = self._cells(line)
        if number in self.mapping.skip or not any(map(str.strip, cells)):
            return None
        if self.file.growing and self._lines.half:
            raise HalfError(line)
        if len(cells) != self._wide:
            raise RowError(Wrong(-1, f"{self._wide} cells", f"{len(cells)}: {line[:40]!r}"))
        return self._columns.row(number, cells, raw.encode(self.file.codec), self.file)

    def _cells(self, line: str) -> tuple[list[str], str]:
        """The cells of the row that begins with this line, and its text. A cell in quotes may
        hold separators, and go over several lines."""
        if '"' not in line:
            return line.split(self.mapping.separator), line
        taken: list[str] = []
        try:
            rows = csv.reader(
                self._more(line, taken), delimiter=self.mapping.separator, strict=True
            )
            return next(rows), "\n".join(taken)
        except csv.Error as error:
            if sum(text.count('"') for text in taken) % 2:
                raise _UnclosedError(line) from error
            raise RowError(
                Wrong(-1, "a separator after a cell's quotes", repr(line[:40]))
            ) from error

    def _more(self, line: str, taken: list[str]) -> Iterator[str]:
        taken.append(line)
        yield line + "\n"
        for more in self._lines:
            taken.append(more)
            if len(taken) > _MOST_LINES:
                raise csv.Error("too many lines")
            yield more + "\n"


class _UnclosedError(RowError):
    """Quotes aren't closed, so nobody knows where the next row begins."""

    def __init__(self, line: str) -> None:
        expected = "cells whose quotes are closed; nothing below was read"
        super().__init__(Wrong(-1, expected, repr(line[:40])))


class _Lines:
    """The lines of a file, one after the other, or what is left of a block at once."""

    def __init__(self, blocks: Iterator[bytes]) -> None:
        self._blocks = blocks
        self._left: deque[bytes] = deque()
        self._ended = True

    def __iter__(self) -> Self:
        return self

    def __next__(self) -> str:
        if not self._left:
            self.back(next(self._blocks))
        return _text(self._left.popleft())

    @property
    def half(self) -> bool:
        """Whether the line before was the file's last, without an end."""
        return not self._left and not self._ended

    @property
    def at_hand(self) -> bool:
        """Whether the block isn't at its end."""
        return bool(self._left)

    def back(self, data: bytes) -> None:
        """Put back what ``rest`` gave."""
        self._left.extend(data.removesuffix(b"\n").split(b"\n"))
        self._ended = data.endswith(b"\n")

    def rest(self) -> bytes:
        """What is left of the block, or the next one; nothing at the end of the file."""
        if not self._left:
            return next(self._blocks, b"")
        data = b"\n".join(self._left) + (b"\n" if self._ended else b"")
        self._left.clear()
        return data


def _text(line: bytes) -> str:
    return line.removesuffix(b"\n").removesuffix(b"\r").decode("utf-8")


def read(
    text: str, name: str, source: str, *, separator: str = ",", decimal: str = "."
) -> tuple[list[Sighting], list[Mistake]]:
    """The sightings of a table whose head names ``COLUMNS``, and if need be ``key`` (yes or no):
    in their order, and the mistakes of the rest. It needs no mapping.

    ``source``: id of the readout in the equipment register. Raises InputError where the columns
    aren't there, or separator and decimal sign are the same.
    """
    if len(text) > LARGEST:
        raise InputError("the table is too large", where=name)
    if separator == decimal or decimal not in (".", ",") or separator not in SEPARATORS:
        raise InputError(
            "separator and decimal sign must differ",
            expected="one of , ; | or a tab, and . or ,",
            found=f"{separator!r} and {decimal!r}",
        )
    columns = {"x": "x", "z": "z", "unit": "unit"}
    if _KEY in [cell.strip(' "\r') for cell in text.split("\n", 1)[0].split(separator)]:
        columns[_KEY] = _KEY
    stated = Mapping(
        name=name,
        kind=TABLE,
        columns=columns,
        at=("at",),
        form=form(RFC_3339, ""),
        unit_words={"mm": Unit.MM, "in": Unit.INCH},
        key_words={"yes": True, "no": False},
        encoding="utf-8",
        separator=separator,
        decimal=decimal,
    )
    try:
        data = text.removeprefix("\ufeff").encode("utf-8")
    except UnicodeEncodeError as error:
        raise InputError("the table holds half a character", where=name) from error
    table = Table(io.BytesIO(data), stated, File(name, source))
    return [row.sighting for row in table], table.mistakes
