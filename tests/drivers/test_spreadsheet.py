"""Spreadsheets: values alone, exact, and no file that can keep the program busy."""

from __future__ import annotations

import io
import re
import time
import zipfile
from datetime import UTC, datetime
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import mapping, spreadsheet
from drivers.mapping import Mapping
from drivers.rows import File, Row
from drivers.spreadsheet import Spreadsheet
from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import Unit

TEXT = """kind = "spreadsheet"
[file]
sheet = "Readings"
decimal = ","
[columns]
at = "when"
x = "X"
z = "Z"
mark = "mark"
[at]
form = "date cell"
zone = "Europe/Berlin"
[units]
lengths = "in"
"""
FILE = File("log.xlsx", "RO-1", "0" * 64)
HEAD = ["when", "X", "Z", "mark"]
WHEN = datetime(2026, 11, 17, 9, 0, 0, 250000)  # noqa: DTZ001 - a cell has no zone
GOOD = [WHEN, 31.447, "-142,3180", "greater"]


def book(*rows: list[Any], title: str = "Readings", head: list[Any] = HEAD) -> bytes:
    made = openpyxl.Workbook()
    sheet = made.active
    sheet.title = title
    for row in (head, *rows):
        sheet.append(row)
    return saved(made)


def saved(made: openpyxl.Workbook) -> bytes:
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def changed(data: bytes, **members: bytes | None) -> bytes:
    """The archive with members put in, changed, or taken out; ``sheet``: of the first sheet."""
    paths = {"sheet": "xl/worksheets/sheet1.xml", "book": "xl/workbook.xml"}
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    for key, part in members.items():
        path = paths.get(key, key)
        if part is None:
            del parts[path]
        else:
            parts[path] = part
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, part in parts.items():
            archive.writestr(path, part)
    return out.getvalue()


def sheet_of(data: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return archive.read("xl/worksheets/sheet1.xml")


def read(data: bytes, given: Mapping | None = None) -> tuple[list[Row], list[Mistake]]:
    found = Spreadsheet(data, given or mapping.parse(TEXT, "m.toml"), FILE)
    return list(found), found.mistakes


def test_numbers_are_the_decimals_that_were_typed_and_dates_have_their_zone() -> None:
    (row,), mistakes = read(book(GOOD))
    assert mistakes == []
    assert [(str(r.value), r.unit) for r in row.sighting.readings] == [
        ("31.447", Unit.INCH),
        ("-142.3180", Unit.INCH),
    ]
    assert row.sighting.at == datetime(2026, 11, 17, 8, 0, 0, 250000, tzinfo=UTC)
    assert (row.number, row.mark) == (2, "greater")
    assert row.sighting.raw == b"2026-11-17 09:00:00.250000\t31,447\t-142,3180\tgreater"


def test_wrong_cells_are_named_beside_good_rows_and_blank_rows_are_counted() -> None:
    made = openpyxl.load_workbook(io.BytesIO(book(GOOD)))
    sheet = made.active
    sheet["B4"], sheet["C4"], sheet["A4"] = "31.447", 0.1234567, "yesterday"
    sheet["A9"], sheet["B9"], sheet["C9"] = WHEN, 5, True
    sheet["A10"], sheet["B10"], sheet["C10"], sheet["IV10"] = WHEN, 1e-5, 12, "far"
    good, mistakes = read(saved(made))
    assert [row.number for row in good] == [2, 10]
    assert str(good[1].sighting.readings[0].value) == "0.00001"
    assert [m.where.partition(":")[2] for m in mistakes] == ["A4", "B4", "C4", "C9"]


def test_a_formula_gives_the_value_that_was_saved_with_it_and_is_never_computed() -> None:
    made = openpyxl.load_workbook(io.BytesIO(book([WHEN, "=1+1", 5, "x"], GOOD)))
    data = saved(made)
    good, mistakes = read(data)
    assert [row.number for row in good] == [3]
    assert [m.where for m in mistakes] == ["log.xlsx:B2"]
    sheet = sheet_of(data)
    kept = re.sub(rb"(<f>1\+1</f>)<v>?.*?/v?>", rb"\1<v>2.5</v>", sheet)
    assert b"<v>2.5</v>" in kept
    good, _ = read(changed(data, sheet=kept))
    assert str(good[0].sighting.readings[0].value) == "2.5"


def test_a_sheet_is_named_or_the_only_one() -> None:
    with pytest.raises(InputError, match="'Readings', found Sheet1"):
        read(book(GOOD, title="Sheet1"))
    alone = mapping.parse(TEXT.replace('sheet = "Readings"\n', ""), "m.toml")
    assert len(read(book(GOOD, title="Sheet1"), alone)[0]) == 1
    made = openpyxl.load_workbook(io.BytesIO(book(GOOD)))
    made.create_sheet("Other")
    with pytest.raises(InputError, match="one sheet, found Readings, Other"):
        read(saved(made), alone)
    assert len(read(saved(made))[0]) == 1


def test_columns_that_are_not_there_are_named() -> None:
    with pytest.raises(InputError) as caught:
        read(book(GOOD, head=["when", "X", "X", ""]))
    assert len(caught.value.mistakes) == 3
    with pytest.raises(InputError, match="lacks columns"):
        read(book(head=[]))


CONTENT = b"application/xml"


@pytest.mark.parametrize(
    ("members", "why"),
    [
        ({"xl/vbaProject.bin": b"x"}, "no macros"),
        ({"xl/macrosheets/sheet1.xml": b"<a/>"}, "no macros"),
        ({"XL/WORKBOOK.XML": b"<a/>"}, "two of one name"),
        ({"[Content_Types].xml": None}, "an XLSX file"),
        ({"book": None}, "an XLSX file"),
        ({"book": b"<workbook"}, "XML in xl/workbook.xml"),
        ({"sheet": b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'}, "no document type"),
        ({"sheet": "<!DOCTYPE a><a/>".encode("utf-16")}, "no document type"),
        ({"xl/sharedStrings.xml": b"<!DOCTYPE a SYSTEM 'file:///a'><a/>"}, "no document type"),
        ({"sheet": b"<a>" * 40 + b"</a>" * 40}, "elements without number"),
        ({"sheet": b"<a>" + b"<b/>" * 100_001 + b"</a>"}, "elements without number"),
        ({"sheet": b'<?xml version="1.0" encoding="no-such"?><a/>'}, "XML in xl/worksheets"),
    ],
)
def test_what_is_no_plain_spreadsheet_is_refused(
    members: dict[str, bytes | None], why: str
) -> None:
    with pytest.raises(InputError, match=why):
        read(changed(book(GOOD), **members))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'<row r="2"', b'<row r="1"'),
        (b'<row r="2"', b'<row r="1048576"'),
        (b'<row r="2"', b'<row r="-2"'),
        (b'r="B2"', b'r="A2"'),
        (b'r="B2"', b'r="B3"'),
        (b'r="D2"', b'r="XFD2"'),
        (b'r="D2"', b'r="D"'),
    ],
)
def test_a_sheet_out_of_order_is_refused_since_one_of_two_values_would_be_lost(
    old: bytes, new: bytes
) -> None:
    data = book(GOOD)
    sheet = sheet_of(data)
    assert sheet.count(old) == 1
    with pytest.raises(InputError, match="in order"):
        read(changed(data, sheet=sheet.replace(old, new)))


def test_archives_that_unpack_without_end_are_refused_before_they_are_unpacked() -> None:
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        for n in range(3):
            archive.writestr(f"xl/{n}.xml", b"0" * (50 * 2**20))
    begin = time.process_time()
    with pytest.raises(InputError, match="MiB unpacked, found 150 MiB"):
        read(bomb.getvalue())
    assert time.process_time() - begin < 1
    many = io.BytesIO()
    with zipfile.ZipFile(many, "w") as archive:
        for n in range(1001):
            archive.writestr(f"{n}.xml", b"")
    with pytest.raises(InputError, match="at most 1000 members"):
        read(many.getvalue())


def test_a_member_that_holds_more_than_it_says_is_refused() -> None:
    data = bytearray(changed(book(GOOD), sheet=b"<a>" + b" " * 10**6 + b"</a>"))
    told = (10**6 + 7).to_bytes(4, "little")
    assert data.count(told) == 2
    with pytest.raises(InputError):
        read(bytes(data).replace(told, (100).to_bytes(4, "little")))


def test_a_file_beyond_the_limits_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    data = book(*[GOOD] * 30)
    for limit, why in (
        ("LARGEST", "at most 0 MiB"),
        ("MOST_ROWS", "rows"),
        ("MOST_CELLS", "cells"),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(spreadsheet, limit, 20)
            with pytest.raises(InputError, match=why):
                read(data)


DATA = book(GOOD, GOOD, [WHEN, "=1+1", 5, "x"])


@given(st.lists(st.tuples(st.integers(0, len(DATA) - 1), st.binary(max_size=4)), max_size=6))
@settings(deadline=None, max_examples=150)
def test_a_damaged_file_gives_rows_or_is_refused(places: list[tuple[int, bytes]]) -> None:
    data = bytearray(DATA)
    for at, part in places:
        data[at : at + len(part)] = part
    try:
        good, _ = read(bytes(data))
    except InputError:
        return
    assert len(good) <= 3


def test_a_file_that_ends_inside_a_part_is_refused() -> None:
    """The directory says that a sheet is longer than what lies there."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(DATA)) as given_, zipfile.ZipFile(out, "w") as stored:
        for name in given_.namelist():
            stored.writestr(name, given_.read(name))
    longer = bytearray(out.getvalue())
    at = longer.index(b"xl/worksheets/sheet1.xml", longer.index(b"PK\x01\x02")) - 46
    for field in (20, 24):
        longer[at + field : at + field + 4] = (10**6).to_bytes(4, "little")
    with pytest.raises(InputError, match="can't be read"):
        read(bytes(longer))


SHEET = sheet_of(DATA)
SCRAPS = st.sampled_from(
    [b"", b"<c>", b"<v>", b"</v>", b't="s"', b't="d"', b't="b"', b"1e999", b"-1", b"&#0;",
     b'r="A2"', b"9" * 5000, b"<mergeCell/>", b's="99"', b"<is><t>x</t></is>", b"<row>",
     b't="inlineStr"']
)  # fmt: skip


@given(st.lists(st.tuples(st.integers(0, len(SHEET)), st.integers(0, 9), SCRAPS), max_size=4))
@settings(deadline=None, max_examples=150)
def test_a_damaged_sheet_gives_rows_or_is_refused(places: list[tuple[int, int, bytes]]) -> None:
    sheet = SHEET
    for at, less, scrap in places:
        sheet = sheet[:at] + scrap + sheet[at + less :]
    try:
        good, _ = read(changed(DATA, sheet=sheet))
    except InputError:
        return
    assert all(row.number > 1 for row in good)


@given(st.binary(max_size=300))
def test_any_bytes_are_refused(data: bytes) -> None:
    with pytest.raises(InputError):
        read(data)
