"""A CSV of sightings, such as a spreadsheet or another program saves: exact, nothing guessed.

Columns ``at``, ``x``, ``z`` and ``unit``; the caller states separator and decimal sign. Cells are
read as text, so that every decimal stays as it was written. Bad rows are handed back beside the
good.
"""

from __future__ import annotations

import io
import re
from datetime import datetime
from decimal import Decimal

from inspect_rec.errors import InputError, Mistake
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import Unit

LARGEST = 64 * 1024 * 1024
COLUMNS = ("at", "x", "z", "unit")
_FIGURE = re.compile(r"[+-]?[0-9]{1,6}(\.[0-9]{1,6})?")


def read(
    text: str, name: str, source: str, *, separator: str = ",", decimal: str = "."
) -> tuple[list[Sighting], list[Mistake]]:
    """The sightings of a table in their order, and the rows that are none.

    ``source``: id of the readout in the equipment register. Raises InputError where the columns
    aren't there, or separator and decimal sign are the same.
    """
    import pandas as pd

    if len(text) > LARGEST:
        raise InputError("the table is too large", where=name)
    if separator == decimal or decimal not in ".,":
        raise InputError(
            "separator and decimal sign must differ", found=f"{separator!r} and {decimal!r}"
        )
    try:
        table = pd.read_csv(
            io.StringIO(text), sep=separator, dtype=str, keep_default_na=False, engine="c"
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError, ValueError) as error:
        raise InputError("this is no table", found=str(error)[:120], where=name) from error
    missing = [column for column in COLUMNS if column not in table.columns]
    if missing:
        raise InputError(
            "the table lacks columns",
            expected=", ".join(COLUMNS),
            found=", ".join(map(str, table.columns))[:120],
            where=f"{name}:1",
            do="State the separator, or name the columns in its first line",
        )
    good: list[Sighting] = []
    bad: list[Mistake] = []
    rows = zip(*(table[column] for column in COLUMNS), strict=True)
    for number, cells in enumerate(rows, 2):
        try:
            good.append(_sighting(cells, source, decimal))
        except ValueError as error:
            bad.append(Mistake(f"{name}:{number}", "at, x, z, unit", f"{cells} ({error})"))
    return good, bad


def _sighting(cells: tuple[str, ...], source: str, decimal: str) -> Sighting:
    at_text, x, z, unit_text = (cell.strip() for cell in cells)
    at = datetime.fromisoformat(at_text)
    if at.tzinfo is None:
        raise ValueError("the instant has no time zone")
    if unit_text not in (Unit.MM.value, Unit.INCH.value):
        raise ValueError("the unit must be mm or in")
    raw = "\t".join(cells).encode()
    readings = tuple(
        Reading(channel, _figure(figure, decimal), Unit(unit_text), at, source, raw)
        for channel, figure in (("X", x), ("Z", z))
    )
    return Sighting(at, readings, raw, key=True)


def _figure(text: str, decimal: str) -> Decimal:
    plain = text.replace(decimal, ".") if "." not in text or decimal == "." else ""
    if not _FIGURE.fullmatch(plain):
        raise ValueError(f"{text!r} is no figure")
    return Decimal(plain) + 0
