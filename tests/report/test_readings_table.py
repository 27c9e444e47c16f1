"""The readings that a report carries as a table, for whoever opens it in a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest

from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry
from inspect_rec.report import record
from tests import worked
from tests.inspection.test_fold import again


def table(inspection: Inspection) -> list[dict[str, str]]:
    text = record.to_csv(inspection).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def job(**more: str) -> Inspection:
    """A worked job; ``more`` stands in each reading's entry."""

    def changed(entry: Entry) -> dict[str, Any]:
        body: dict[str, Any] = json.loads(json.dumps(entry.body))
        return body | more if entry.kind == "reading" else body

    return fold(again(worked.entries("I2"), changed), worked.inspection_id("I2"))


def test_what_a_reading_has_not_is_an_empty_cell() -> None:
    first, *rest = table(job())
    assert (first["feature"], first["edge"], first["mark"]) == ("temperature", "", "air")
    assert all(not cell.startswith("'") for row in (first, *rest) for cell in row.values())


def test_spreadsheets_know_its_encoding_by_a_mark() -> None:
    assert record.to_csv(job()).startswith(b"\xef\xbb\xbfstation,")


@pytest.mark.parametrize("text", ["=1+1", "-2+3+cmd|' /C calc'!A0", "+1+1", "@SUM(1)", "\uff1d1"])
def test_a_text_is_a_formula_in_no_spreadsheet(text: str) -> None:
    assert {row["source"] for row in table(job(source=text))} == {f"'{text}"}


@pytest.mark.parametrize("value", ["-0.5", "+1", "-142.318", "RO-1", "a-b"])
def test_a_number_keeps_its_sign_and_another_text_stays(value: str) -> None:
    assert {row["source"] for row in table(job(source=value))} == {value}
