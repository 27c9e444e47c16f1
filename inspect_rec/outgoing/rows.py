"""Readings and results of a tool as rows with named, typed columns; units stand in the heads.

A figure is exact, an instant RFC 3339 in UTC; what isn't there is None, and never an empty text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC
from decimal import Decimal
from enum import StrEnum
from typing import Any

from inspect_rec import ledger
from inspect_rec.inspection import Inspection, Result
from inspect_rec.inspection.kept import Kept

Cell = str | Decimal | int | bool | None
Row = dict[str, Cell]


class Kind(StrEnum):
    """What the cells of a column are."""

    TEXT = "text"
    FIGURE = "figure"
    WHOLE = "whole"
    TRUTH = "truth"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, with the unit at its end, and the kind of its cells."""

    name: str
    kind: Kind = Kind.TEXT


@dataclass(frozen=True, slots=True)
class Table:
    """A table by name."""

    name: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


def _columns(text: str, kind: Kind = Kind.TEXT) -> tuple[Column, ...]:
    return tuple(Column(name, kind) for name in text.split())


_TRUTHS = {"true": True, "false": False}
_CHANNELS = {
    "X": "x_mm",
    "Z": "z_mm",
    "Y": "y_mm",
    "indicator": "indicator_mm",
    "angle": "angle_deg",
    "length": "length_mm",
    "temperature": "temperature_degC",
}
READINGS = (
    *_columns("inspection feature"),
    *_columns("flute", Kind.WHOLE),
    *_columns("mark"),
    *_columns("repeat", Kind.WHOLE),
    *_columns("when"),
    *_columns("round", Kind.WHOLE),
    *_columns("stage"),
    *(Column(name, Kind.FIGURE) for name in _CHANNELS.values()),
    *_columns("shown unit_shown source"),
    *_columns("by_eye", Kind.TRUTH),
    *_columns("person at"),
    *_columns("counts", Kind.TRUTH),
    *_columns("why_not suspect station"),
    *_columns("entry", Kind.WHOLE),
    *_columns("raw_hex"),
)
RESULTS = (
    *_columns("inspection characteristic name symbol"),
    *_columns("flute", Kind.WHOLE),
    *_columns("plane"),
    *(
        Column(f"{name}_{unit}", Kind.FIGURE)
        for unit in ("mm", "deg")
        for name in ("nominal", "lower", "upper", "lowest", "value", "U")
    ),
    *_columns("k guard", Kind.FIGURE),
    *_columns("verdict side reason method"),
    *_columns("version", Kind.WHOLE),
)


def said(cell: Cell) -> str:
    """A cell as plain text."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, Decimal):
        return format(cell, "f")
    return str(cell)


def cell_of(text: str, kind: Kind) -> Cell:
    """The cell that a plain text stands for."""
    if not text:
        return None
    if kind is Kind.FIGURE:
        return Decimal(text)
    if kind is Kind.WHOLE:
        return int(text)
    return _TRUTHS[text] if kind is Kind.TRUTH else text


def readings(inspection: Inspection) -> Table:
    """Every reading of the tool, those that count and those that don't, a row each."""
    raws = {
        (entry.station, entry.seq): entry.body
        for entry in inspection.record.entries
        if entry.kind == "reading"
    }
    rows = (_reading(inspection, kept, raws) for kept in inspection.record.readings)
    return Table("readings", READINGS, tuple(rows))


def _reading(
    inspection: Inspection, kept: Kept, raws: Mapping[tuple[str, int], Mapping[str, Any]]
) -> Row:
    place, body = kept.place, raws[kept.ref]
    why_not = inspection.record.void.get(kept.ref)
    row: Row = {
        "inspection": inspection.id,
        "feature": place.feature,
        "flute": place.flute or None,
        "mark": place.mark,
        "repeat": place.repeat,
        "when": place.when or None,
        "round": place.round,
        "stage": kept.stage,
        "shown": " ".join(kept.shown.values()),
        "unit_shown": " ".join(dict.fromkeys(t["unit"] for t in body["taken"])),
        "source": kept.source,
        "by_eye": kept.by_eye,
        "person": kept.person,
        "at": ledger.instant(kept.at.astimezone(UTC)),
        "counts": why_not is None,
        "why_not": why_not or None,
        "suspect": kept.suspect or None,
        "station": kept.ref[0],
        "entry": kept.ref[1],
        "raw_hex": body["raw"],
    }
    row |= {_CHANNELS[channel]: figure for channel, figure in kept.figures.items()}
    return _bare(row)


def _bare(row: Row) -> Row:
    """A row without empty texts: what isn't there is None."""
    return {name: None if cell == "" else cell for name, cell in row.items()}


def results(inspection: Inspection) -> Table:
    """Every result that stands, with its uncertainty and verdict; a profile by its two ends."""
    return Table("results", RESULTS, tuple(map(_bare, _results(inspection))))


def _results(inspection: Inspection) -> Iterator[Row]:
    for r in inspection.results:
        c = r.characteristic
        unit = "deg" if c.deg else "mm"
        yield {
            "inspection": inspection.id,
            "characteristic": c.id,
            "name": c.name,
            "symbol": c.symbol or None,
            "flute": r.flute,
            "plane": c.plane or None,
            f"nominal_{unit}": c.nominal,
            f"lower_{unit}": c.lower,
            f"upper_{unit}": c.upper,
            f"lowest_{unit}": r.values[0] if len(r.values) > 1 else None,
            f"value_{unit}": r.values[-1],
            f"U_{unit}": r.U,
            "k": r.k,
            "guard": None if r.zones is None else r.zones.guard,
            "verdict": None if c.info else r.verdict.value,
            "side": r.judgement.side,
            "reason": r.judgement.reason or None,
            "method": r.method.name,
            "version": r.method.version,
        }


def all_of(inspections: Sequence[Inspection]) -> tuple[Table, Table]:
    """Readings and results of several tools, one under the other."""
    read, found = [readings(i) for i in inspections], [results(i) for i in inspections]
    return (
        Table("readings", READINGS, tuple(row for table in read for row in table.rows)),
        Table("results", RESULTS, tuple(row for table in found for row in table.rows)),
    )


__all__ = [
    "READINGS",
    "RESULTS",
    "Cell",
    "Column",
    "Kind",
    "Result",
    "Row",
    "Table",
    "all_of",
    "cell_of",
    "said",
]
