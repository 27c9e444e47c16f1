"""Tables as CSV, XLSX, Parquet and JSON Lines, and back again: what goes out comes in the same.

Safe to open in a spreadsheet: a text that a program could take for a formula is a text. No I/O:
bytes out, bytes in.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection
from inspect_rec.outgoing import qif, rows
from inspect_rec.outgoing.rows import (
    READINGS,
    RESULTS,
    Cell,
    Column,
    Kind,
    Row,
    Table,
    cell_of,
    said,
)

_FORMULA = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20'"
"""Signs that begin a formula in some spreadsheet, in full width, too (from memory), and the one
that says that text follows."""
_COLUMNS = {"readings": READINGS, "results": RESULTS}
_ROWS = 1_048_575
"""Rows of a spreadsheet's sheet, less its head."""


def to_csv(table: Table, separator: str = ",", decimal: str = ".") -> bytes:
    """RFC 4180, UTF-8 with a mark that spreadsheets know it by; a text that looks like a formula
    has an apostrophe before it."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    writer.writerow(column.name for column in table.columns)
    for row in table.rows:
        writer.writerow(_safe(row.get(c.name), c.kind, decimal) for c in table.columns)
    return out.getvalue().encode("utf-8-sig")


def _safe(cell: Cell, kind: Kind, decimal: str) -> str:
    text = said(cell)
    if kind is Kind.FIGURE:
        return text.replace(".", decimal)
    return f"'{text}" if kind is Kind.TEXT and text[:1] and text[0] in _FORMULA else text


def from_csv(data: bytes, name: str, separator: str = ",", decimal: str = ".") -> Table:
    """A table that ``to_csv`` wrote. InputError for another one."""
    columns = _COLUMNS[name]
    lines = list(csv.reader(io.StringIO(data.decode("utf-8-sig")), delimiter=separator))
    _headed(lines[0] if lines else [], columns)
    return Table(
        name,
        columns,
        tuple(
            {
                c.name: cell_of(_bare(text, c.kind, decimal), c.kind)
                for c, text in zip(columns, line, strict=True)
            }
            for line in lines[1:]
        ),
    )


def _bare(text: str, kind: Kind, decimal: str) -> str:
    if kind is Kind.FIGURE:
        return text.replace(decimal, ".")
    return text[1:] if kind is Kind.TEXT and text[:1] == "'" else text


def _headed(found: Sequence[str], columns: Sequence[Column]) -> None:
    expected = [column.name for column in columns]
    if list(found) != expected:
        raise InputError(
            "the table has other columns", expected=", ".join(expected), found=", ".join(found)
        )


def to_jsonl(table: Table) -> bytes:
    """A JSON object a row; figures as texts, so that no program rounds them."""
    lines = []
    for row in table.rows:
        told = {c.name: _json(row.get(c.name)) for c in table.columns}
        lines.append(json.dumps(told, ensure_ascii=False) + "\n")
    return "".join(lines).encode()


def _json(cell: Cell) -> Any:
    return format(cell, "f") if isinstance(cell, Decimal) else cell


def from_jsonl(data: bytes, name: str) -> Table:
    """A table that ``to_jsonl`` wrote."""
    columns, rows = _COLUMNS[name], []
    # Not splitlines: a text may hold other signs that end a line.
    for line in data.decode().removesuffix("\n").split("\n"):
        told = json.loads(line)
        _headed(list(told), columns)
        rows.append(
            {
                c.name: Decimal(value)
                if c.kind is Kind.FIGURE and (value := told[c.name]) is not None
                else told[c.name]
                for c in columns
            }
        )
    return Table(name, columns, tuple(rows))


def to_xlsx(tables: Sequence[Table]) -> bytes:
    """A sheet a table; figures are numbers with their places, texts are texts whatever they begin
    with. InputError for more rows than a sheet has."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.utils.exceptions import IllegalCharacterError

    book = Workbook(write_only=True)
    for table in tables:
        if len(table.rows) > _ROWS:
            raise InputError(
                "too many rows for a sheet", expected=f"at most {_ROWS}", found=str(len(table.rows))
            )
        sheet = book.create_sheet(table.name)
        sheet.freeze_panes = "A2"
        sheet.append([column.name for column in table.columns])
        for row in table.rows:
            cells = []
            for column in table.columns:
                value = row.get(column.name)
                try:
                    cell = WriteOnlyCell(sheet, value=value)
                except IllegalCharacterError:
                    cell = WriteOnlyCell(sheet, value=json.dumps(value))
                if isinstance(value, str):
                    cell.data_type = "s"
                elif isinstance(value, Decimal):
                    places = max(0, -int(value.as_tuple().exponent))
                    cell.number_format = f"0.{'0' * places}" if places else "0"
                cells.append(cell)
            sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def from_xlsx(data: bytes) -> dict[str, Table]:
    """The tables that ``to_xlsx`` wrote."""
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data), read_only=True)
    found = {}
    for sheet in book.worksheets:
        columns = _COLUMNS[sheet.title]
        lines = sheet.iter_rows()
        _headed([str(cell.value) for cell in next(lines)], columns)
        rows = tuple(
            {
                # A row ends with its last cell that isn't empty.
                c.name: _of_sheet(line[n], c.kind) if n < len(line) else None
                for n, c in enumerate(columns)
            }
            for line in lines
        )
        found[sheet.title] = Table(sheet.title, columns, rows)
    return found


def _of_sheet(cell: Any, kind: Kind) -> Cell:
    value = cell.value
    if value is None:
        return None
    if kind is Kind.FIGURE:
        places = len(str(cell.number_format).partition(".")[2])
        return Decimal(repr(value)).quantize(Decimal(1).scaleb(-places))
    if kind is Kind.WHOLE:
        return int(value)
    return bool(value) if kind is Kind.TRUTH else str(value)


def frame(table: Table) -> Any:
    """The table as a pandas data frame, for who goes on with it in Python; figures stay exact."""
    import pandas as pd

    columns = {c.name: [row.get(c.name) for row in table.rows] for c in table.columns}
    kinds = {Kind.TEXT: "object", Kind.FIGURE: "object", Kind.WHOLE: "Int64", Kind.TRUTH: "boolean"}
    return pd.DataFrame(
        {c.name: pd.Series(columns[c.name], dtype=kinds[c.kind]) for c in table.columns}
    )


def to_parquet(table: Table) -> bytes:
    """Columns of decimals with twelve places, whole numbers, truths and texts. InputError where the
    package for it isn't installed."""
    arrow, parquet = _arrow()
    kinds = {
        Kind.TEXT: arrow.string(),
        Kind.FIGURE: arrow.decimal128(38, 12),
        Kind.WHOLE: arrow.int64(),
        Kind.TRUTH: arrow.bool_(),
    }
    schema = arrow.schema([(column.name, kinds[column.kind]) for column in table.columns])
    out = io.BytesIO()
    made = arrow.Table.from_pandas(frame(table), schema=schema, preserve_index=False)
    parquet.write_table(made.replace_schema_metadata(None), out)
    return out.getvalue()


def from_parquet(data: bytes, name: str) -> Table:
    """A table that ``to_parquet`` wrote; figures without the noughts that it puts behind them."""
    _, parquet = _arrow()
    columns = _COLUMNS[name]
    read = parquet.read_table(io.BytesIO(data))
    _headed(read.column_names, columns)
    rows = tuple(
        {key: _short(value) if isinstance(value, Decimal) else value for key, value in row.items()}
        for row in read.to_pylist()
    )
    return Table(name, columns, rows)


def _short(value: Decimal) -> Decimal:
    bare = value.normalize()
    return bare if int(bare.as_tuple().exponent) <= 0 else bare.quantize(Decimal(1))


def _arrow() -> tuple[Any, Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise InputError(
            "Parquet needs a further package",
            expected="pyarrow",
            do='Install it with: pip install "inspect-rec[parquet]"; or write CSV or XLSX',
        ) from None
    return pyarrow, pyarrow.parquet


Writer = Callable[[Sequence[Inspection]], Mapping[str, bytes]]


def _each(suffix: str, write: Callable[[Table], bytes]) -> Writer:
    """A file a table, its name between the stem and the suffix."""
    return lambda found: {f"-{t.name}{suffix}": write(t) for t in rows.all_of(found)}


WRITERS: Mapping[str, Writer] = {
    ".csv": _each(".csv", to_csv),
    ".jsonl": _each(".jsonl", to_jsonl),
    ".parquet": _each(".parquet", to_parquet),
    ".qif": lambda found: {".qif": qif.to_qif(found)},
    ".xlsx": lambda found: {".xlsx": to_xlsx(rows.all_of(found))},
}
"""By the suffix that a person writes: how the files are called behind its stem, and their bytes."""

__all__ = ["WRITERS", "Row", "from_csv", "from_jsonl", "from_parquet", "from_xlsx"]
