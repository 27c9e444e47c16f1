"""A CSV of sightings, such as a spreadsheet or another program saves: exact, nothing guessed.

Columns ``at``, ``x``, ``z``, ``unit``, and if need be ``key`` (yes or no); separator and decimal
sign are stated by the caller. Cells are read as text, so that every decimal stays as it was
written. Bad rows are handed back beside the good ones, with the numbers of their lines.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from decimal import Decimal

from drivers.replay import instant
from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

LARGEST = 64 * 1024 * 1024
COLUMNS = ("at", "x", "z", "unit")
KEY = "key"
"""A further column; without it every row was sent by a key."""
_SEPARATORS = (",", ";", "\t", "|")
_HALF = re.compile("[\ud800-\udfff]")
"""Halves of a character: such a line is no text, and can't be kept as bytes."""
_DIGITS = r"[+-]?[0-9]{1,6}"
_FIGURE = {
    ".": re.compile(rf"{_DIGITS}(\.[0-9]{{1,6}})?"),
    ",": re.compile(rf"{_DIGITS}(,[0-9]{{1,6}})?"),
}


def read(
    text: str, name: str, source: str, *, separator: str = ",", decimal: str = "."
) -> tuple[list[Sighting], list[Mistake]]:
    """The sightings of a table in their order, and the rows that are none.

    ``source``: id of the readout in the equipment register. Raises InputError where the columns
    aren't there, or separator and decimal sign are the same.
    """
    if len(text) > LARGEST:
        raise InputError("the table is too large", where=name)
    if separator == decimal or decimal not in _FIGURE or separator not in _SEPARATORS:
        raise InputError(
            "separator and decimal sign must differ",
            expected="one of , ; | or a tab, and . or ,",
            found=f"{separator!r} and {decimal!r}",
        )
    lines = [line.removesuffix("\r") for line in text.removeprefix("\ufeff").split("\n")]
    head = _head(lines[0], separator, name)
    good: list[Sighting] = []
    bad: list[Mistake] = []
    whole: list[tuple[int, str]] = []
    for number, line in enumerate(lines[1:], 2):
        cells = line.count(separator) + 1
        if cells == len(head) and not _HALF.search(line):
            whole.append((number, line))
        elif line.strip(" "):
            expected, found = f"{len(head)} cells of text", f"{cells}: {line[:40]!r}"
            bad.append(Mistake(f"{name}:{number}", expected, found))
    for (number, line), row in zip(whole, _rows(whole, head, separator), strict=True):
        try:
            good.append(_sighting(row, line, source, decimal))
        except (ValueError, OverflowError) as error:
            expected = ", ".join(head)
            bad.append(Mistake(f"{name}:{number}", expected, f"{line[:60]!r} ({error})"))
    return good, sorted(bad, key=lambda m: int(m.where.rpartition(":")[2]))


def _head(line: str, separator: str, name: str) -> list[str]:
    """The names of the columns."""
    head = [_bare(cell) for cell in line.split(separator)]
    twice = len(set(head)) < len(head)
    if twice or not set(COLUMNS) <= set(head):
        raise InputError(
            "a column stands twice" if twice else "the table lacks columns",
            expected=", ".join(COLUMNS),
            found=", ".join(head)[:120],
            where=f"{name}:1",
            do="State the separator, or name the columns in its first line",
        )
    return head


def _rows(
    whole: list[tuple[int, str]], head: list[str], separator: str
) -> Iterable[tuple[str, ...]]:
    """The cells of ``COLUMNS`` and ``KEY`` of each line, as text."""
    import pandas as pd

    if not whole:
        return []
    table = pd.read_csv(
        io.StringIO("\n".join(line for _, line in whole)),
        sep=separator,
        names=head,
        dtype=str,
        keep_default_na=False,
        skip_blank_lines=False,
        quoting=csv.QUOTE_NONE,
        lineterminator="\n",
        encoding_errors="strict",
    )
    columns = [*COLUMNS, KEY] if KEY in head else list(COLUMNS)
    return zip(*(table[column] for column in columns), strict=True)


def _bare(cell: str) -> str:
    """A cell without blanks, and without the quotes that some programs put round each."""
    bare = cell.strip()
    return bare[1:-1].strip() if len(bare) > 1 and bare[0] == bare[-1] == '"' else bare


def _sighting(cells: tuple[str, ...], line: str, source: str, decimal: str) -> Sighting:
    at_text, x, z, unit_text, *more = map(_bare, cells)
    at = instant(at_text)
    if unit_text not in (Unit.MM.value, Unit.INCH.value):
        raise ValueError("the unit must be mm or in")
    if more and more[0] not in ("yes", "no"):
        raise ValueError("key must be yes or no")
    raw = line.encode()
    readings = tuple(
        Reading(channel, _figure(figure, decimal), Unit(unit_text), at, source, raw)
        for channel, figure in (("X", x), ("Z", z))
    )
    return Sighting(at, readings, raw, key=not more or more[0] == "yes")


def _figure(text: str, decimal: str) -> Decimal:
    if not _FIGURE[decimal].fullmatch(text):
        raise ValueError(f"{text!r} is no figure")
    value = Decimal(text.replace(",", "."))
    return value or abs(value)
