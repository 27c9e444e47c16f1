"""Points as lines of figures, X and Z: one unit for all, which the mapping or the head line says.

A head line stands above the points: ``mm`` or ``in``, alone or as ``# unit: mm``, among comments if
need be. A comment begins with the sign that the mapping states, ``#`` as a rule, and ends with its
line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import BinaryIO

from drivers.encoding import blocks, codec_of
from drivers.mapping import Mapping
from drivers.rows import Columns, File, Row, RowError, Wrong, mistakes
from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import Unit

MOST = 200_000
"""Lines of a file of points."""
_HEAD = re.compile(
    r"#?\s*(?:units?\b\s*[:=]?\s*(\S+)|(mm|in|inch|inches|[cµμu]m|mils?))", re.IGNORECASE
)
_WORDS = {"mm": "mm", "in": "in", "inch": "in", "inches": "in"}


class Points:
    """The points of a file, in their order; ``mistakes`` grows while they are read."""

    def __init__(self, stream: BinaryIO, mapping: Mapping, file: File) -> None:
        """``stream`` stands at the file's begin. Raises InputError where it isn't encoded as
        stated, holds too many lines, or where no unit is stated, or two."""
        codec, mark = codec_of(stream.read(3), mapping.encoding, file.name)
        stream.seek(mark)
        self.file, self.mistakes = replace(file, codec=codec), list[Mistake]()
        self._lines = _lines(stream, codec, file.name)
        self._head, said = _head(self._lines, mapping.comment, file.name)
        self.mapping = _with_unit(mapping, said, file.name)

    def __iter__(self) -> Iterator[Row]:
        """Good points; the bad ones are among the mistakes."""
        columns, comment = Columns(self.mapping), self.mapping.comment
        wide = 1 + max(*columns.place.values(), *columns.at, 0)
        for number, line in enumerate(self._lines[self._head :], self._head + 1):
            bare = line.split(comment, 1)[0].strip() if comment else line.strip()
            if not bare or number in self.mapping.skip:
                continue
            sign = self.mapping.separator
            cells = bare.split() if sign == " " else bare.split(sign)
            try:
                if len(cells) != wide:
                    raise RowError(Wrong(-1, f"{wide} figures", f"{len(cells)}: {line[:40]!r}"))
                yield columns.row(number, cells, line.encode(self.file.codec), self.file)
            except RowError as error:
                self.mistakes += mistakes(self.file.name, number, error)


def _lines(stream: BinaryIO, codec: str, name: str) -> list[str]:
    lines: list[str] = []
    for block in blocks(stream, codec, name):
        lines += block.decode("utf-8").removesuffix("\n").split("\n")
        if len(lines) > MOST:
            raise InputError("too many lines", expected=f"at most {MOST}", found="more", where=name)
    return [line.removesuffix("\r") for line in lines]


def _head(lines: list[str], comment: str, name: str) -> tuple[int, str | None]:
    """How many lines stand above the points, and the unit that they say; None where none does."""
    said: str | None = None
    for number, line in enumerate(lines):
        found, bare = _HEAD.fullmatch(line.strip()), line.strip()
        if found is None and bare and not (comment and bare.startswith(comment)):
            return number, said
        if found is None:
            continue
        word = (found[1] or found[2]).lower()
        unit = _WORDS.get(word)
        if unit is None or said not in (None, unit):
            raise InputError(
                "the unit of the points isn't known",
                expected=f"{said} again" if unit else "mm or in",
                found=word,
                where=f"{name}:{number + 1}",
            )
        said = unit
    return len(lines), said


def _with_unit(mapping: Mapping, said: str | None, name: str) -> Mapping:
    """The mapping with the unit of all points, which is said once at least and in one way."""
    stated = mapping.units.get("lengths")
    if said is None and stated is None and "unit" not in mapping.columns:
        raise InputError(
            "no unit is stated",
            expected="mm or in",
            where=f"{name}:1",
            do='State it in the mapping, [units] lengths = "mm", or in the first line: # unit: mm',
        )
    if said is not None and (stated not in (None, said) or "unit" in mapping.columns):
        raise InputError(
            "two units are stated",
            expected=f"{stated or 'that of a column'}, as in the mapping",
            found=said,
            where=f"{name}:1",
        )
    return (
        mapping
        if said is None
        else replace(mapping, units={**mapping.units, "lengths": Unit(said)})
    )
