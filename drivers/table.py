"""A table of text, such as a spreadsheet or another program saves: exact, nothing guessed.

Columns, units, separator, decimal sign and encoding are stated by a mapping. Cells are read as
text, so that every decimal stays as it was written. Bad rows are handed back beside the good ones,
their cells named as a spreadsheet names them; none is skipped unseen.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from typing import BinaryIO

from drivers.encoding import blocks, codec_of
from drivers.instants import RFC_3339, form
from drivers.mapping import SEPARATORS, TABLE, Mapping
from drivers.rows import Columns, File, Row, RowError, Wrong, mistakes
from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Sighting
from inspect_rec.units import Unit

MOST_MISTAKES = 10_000
"""Beyond them the file is another one than the mapping says, and no more of it is read."""
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
        self._number = 0
        self._lines = self._decoded(stream, codec)

    def _decoded(self, stream: BinaryIO, codec: str) -> Iterator[str]:
        for block in blocks(stream, codec, self.file.name):
            lines = block.decode("utf-8").split("\n")
            if not lines[-1]:
                lines.pop()
            for line in lines:
                yield line.removesuffix("\r")

    def __iter__(self) -> Iterator[Row]:
        """Good rows; the bad ones are among the mistakes."""
        head = self._head()
        columns = Columns(self.mapping, head, f"{self.file.name}:{self.mapping.head}")
        wide = len(head) or self.mapping.cells
        for line in self._lines:
            self._number += 1
            try:
                row = self._row(line, columns, wide)
            except RowError as error:
                if self._mistaken(error):
                    return
                continue
            if row is not None:
                yield row

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

    def _row(self, line: str, columns: Columns, wide: int) -> Row | None:
        comment = self.mapping.comment
        if not line.strip(" ") or (comment and line.startswith(comment)):
            return None
        cells, raw = self._cells(line)
        if self._number in self.mapping.skip or not any(map(str.strip, cells)):
            return None
        if len(cells) != wide:
            raise RowError(Wrong(-1, f"{wide} cells", f"{len(cells)}: {line[:40]!r}"))
        return columns.row(self._number, cells, raw.encode(self.file.codec), self.file)

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

    def _mistaken(self, error: RowError) -> bool:
        """Note it; whether nothing below can be read any more."""
        self.mistakes += mistakes(self.file.name, self._number, error)
        if len(self.mistakes) < MOST_MISTAKES:
            return isinstance(error, _UnclosedError)
        expected = f"fewer than {MOST_MISTAKES} mistakes; nothing below was read"
        last = RowError(Wrong(-1, expected, "another table than the mapping says"))
        self.mistakes += mistakes(self.file.name, self._number, last)
        return True


class _UnclosedError(RowError):
    """Quotes aren't closed, so nobody knows where the next row begins."""

    def __init__(self, line: str) -> None:
        expected = "cells whose quotes are closed; nothing below was read"
        super().__init__(Wrong(-1, expected, repr(line[:40])))


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
