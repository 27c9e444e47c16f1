"""Tables of readings and results: complete, exact, safe to open, the same when they come back."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from decimal import Decimal
from functools import cache

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.outgoing import rows, writers
from inspect_rec.outgoing.rows import Kind, Row, Table
from tests import worked

JOBS = ("I1", "I2", "I3")
WAYS: dict[str, Callable[[Table], Table]] = {
    "csv": lambda t: writers.from_csv(writers.to_csv(t), t.name),
    "csv, semicolon and comma": lambda t: writers.from_csv(
        writers.to_csv(t, ";", ","), t.name, ";", ","
    ),
    "jsonl": lambda t: writers.from_jsonl(writers.to_jsonl(t), t.name),
    "xlsx": lambda t: writers.from_xlsx(writers.to_xlsx([t]))[t.name],
    "parquet": lambda t: writers.from_parquet(writers.to_parquet(t), t.name),
}
every_way = pytest.mark.parametrize("there_and_back", WAYS.values(), ids=WAYS)


@cache
def inspection(number: str) -> Inspection:
    return fold(worked.entries(number), worked.inspection_id(number))


@cache
def tables() -> tuple[Table, Table]:
    return rows.all_of([inspection(number) for number in JOBS])


def filled(table: Table) -> list[Row]:
    """The rows with every column, what isn't there as None."""
    return [{c.name: row.get(c.name) for c in table.columns} for row in table.rows]


@every_way
def test_what_goes_out_and_comes_in_again_is_the_same(
    there_and_back: Callable[[Table], Table],
) -> None:
    for table in tables():
        assert filled(there_and_back(table)) == filled(table)


@every_way
def test_figures_keep_every_digit(there_and_back: Callable[[Table], Table]) -> None:
    for text in ("31.4470", "-0.0005", "142.318", "1999.99999", "0"):
        table = Table("readings", rows.READINGS, ({"x_mm": Decimal(text)},))
        assert there_and_back(table).rows[0]["x_mm"] == Decimal(text)


TEXTS = st.text(st.characters(min_codepoint=32, exclude_categories=["Cs", "Cc"]), min_size=1)


@every_way
@given(text=TEXTS | st.sampled_from(["=1+1", "+1", "-1", "@x", "'", "'=1", '"', "a\u2028b", ";"]))
@settings(max_examples=40, deadline=None)
def test_any_text_comes_back_as_it_was(there_and_back: Callable[[Table], Table], text: str) -> None:
    table = Table("readings", rows.READINGS, ({"why_not": text},))
    assert there_and_back(table).rows[0]["why_not"] == text


@pytest.mark.parametrize("text", ["=HYPERLINK(1)", "+1+1", "-2+3", "@SUM(A1)", "\uff1d1+1", "'x"])
def test_a_text_is_a_formula_in_no_spreadsheet(text: str) -> None:
    table = Table("readings", rows.READINGS, ({"why_not": text},))
    line = list(csv.reader(io.StringIO(writers.to_csv(table).decode("utf-8-sig"))))[1]
    assert line[[c.name for c in rows.READINGS].index("why_not")] == f"'{text}"
    sheet = load_workbook(io.BytesIO(writers.to_xlsx([table])))["readings"]
    cell = next(cell for cell in sheet[2] if cell.value == text)
    assert cell.data_type == "s"


def test_a_negative_figure_is_a_number_in_csv_and_in_a_spreadsheet() -> None:
    table = Table("readings", rows.READINGS, ({"x_mm": Decimal("-1.250")},))
    frame = pd.read_csv(io.BytesIO(writers.to_csv(table)))
    assert frame["x_mm"].tolist() == [-1.25]
    sheet = pd.read_excel(io.BytesIO(writers.to_xlsx([table])), sheet_name="readings")
    assert sheet["x_mm"].tolist() == [-1.25]


def test_other_programs_read_types_and_counts() -> None:
    read, found = tables()
    frame = pd.read_parquet(io.BytesIO(writers.to_parquet(read)))
    assert len(frame) == len(read.rows) > 300
    assert frame["counts"].dtype == bool
    assert set(frame["inspection"]) == {worked.inspection_id(n) for n in JOBS}
    sheets = pd.read_excel(io.BytesIO(writers.to_xlsx([read, found])), sheet_name=None)
    assert {name: len(sheet) for name, sheet in sheets.items()} == {
        "readings": len(read.rows),
        "results": len(found.rows),
    }


def test_every_head_of_a_figure_ends_in_its_unit() -> None:
    for table in tables():
        for column in table.columns:
            if column.kind is Kind.FIGURE:
                assert column.name.endswith(("_mm", "_deg", "_degC")) or column.name in (
                    "k",
                    "guard",
                )


def test_every_column_that_is_filled_is_named() -> None:
    for table in tables():
        names = {column.name for column in table.columns}
        assert all(set(row) <= names for row in table.rows)


@pytest.mark.parametrize("number", JOBS)
def test_each_reading_and_result_is_a_row(number: str) -> None:
    of = inspection(number)
    read, found = rows.readings(of), rows.results(of)
    assert [(r["station"], r["entry"]) for r in read.rows] == [k.ref for k in of.record.readings]
    assert [r["verdict"] for r in found.rows] == [
        None if r.characteristic.info else r.verdict.value for r in of.results
    ]
    void = [row for row in read.rows if not row["counts"]]
    assert all(row["why_not"] for row in void)
    assert len(void) == sum(k.ref in of.record.void for k in of.record.readings)


def test_a_result_is_what_the_report_prints() -> None:
    found = {r["characteristic"]: r for r in rows.results(inspection("I2")).rows}
    diameter = found["DC_2"]
    assert diameter["value_mm"] == Decimal("10.974133")
    assert diameter["verdict"] == "neither shown"
    assert diameter["lower_mm"] == Decimal("10.973")
    assert found["SIG"]["value_mm"] is None if "value_mm" in found["SIG"] else True
    assert isinstance(found["SIG"]["value_deg"], Decimal)


def test_a_table_with_other_columns_is_refused() -> None:
    read, found = tables()
    with pytest.raises(InputError, match="other columns"):
        writers.from_csv(writers.to_csv(found), read.name)
    with pytest.raises(InputError, match="other columns"):
        writers.from_csv(b"", "readings")


def test_without_the_package_parquet_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    with pytest.raises(InputError, match="parquet"):
        writers.to_parquet(tables()[0])


def test_a_data_frame_has_every_row_and_exact_figures() -> None:
    read, _ = tables()
    found = writers.frame(read)
    assert list(found.columns) == [c.name for c in read.columns]
    assert len(found) == len(read.rows)
    assert found["x_mm"].dropna().tolist() == [r["x_mm"] for r in read.rows if r.get("x_mm")]
    assert all(isinstance(x, Decimal) for x in found["x_mm"].dropna())
