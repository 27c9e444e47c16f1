"""Files instead of a line: recordings and tables, exact, bad lines named and never skipped."""

from __future__ import annotations

import contextlib
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import replay, table
from inspect_rec.errors import InputError

RECORDINGS = Path(__file__).parents[2] / "fixtures" / "recordings"
AT = "2026-11-17T08:00:00Z"


@pytest.mark.parametrize("path", sorted(RECORDINGS.glob("*.jsonl")), ids=lambda p: p.name)
def test_every_recording_is_read_whole_and_in_order(path: Path) -> None:
    good, bad = replay.read(path.read_text("utf-8"), path.name)
    assert bad == []
    assert len(good) > 300
    assert [p.at for p in good] == sorted(p.at for p in good)


@pytest.mark.parametrize(
    "line",
    [
        "nothing",
        "[]",
        '{"at": "2026-11-17T08:00:00", "hex": "00"}',
        '{"at": "2026-11-17T08:00:00Z"}',
        '{"at": "2026-11-17T08:00:00Z", "hex": "0"}',
        '{"at": "2026-11-17T08:00:00Z", "hex": "00", "hex": "01"}',
        '{"at": "2026-11-17T08:00:00Z", "act": "take", "n": NaN}',
        '{"at": 5, "hex": "00"}',
        '{"a":' * 3000,
        '{"at": "20261117T080000Z", "hex": "00"}',
        '{"at": "2026-11-17", "hex": "00"}',
        '{"at": "0001-01-01T00:00:00+14:00", "hex": "00"}',
        '{"at": "2026-02-30T08:00:00Z", "hex": "00"}',
        '{"at": "2026-11-17T08:00:00Z", "act": "take", "n": 1e99999999999999999999}',
        '{"at": "2026-11-17T08:00:00Z", "act": "take", "n": ' + "1" * 5000 + "}",
        '{"at": "2026-11-17T08:00:00Z", "act": "take", "n": {"a": 1, "a": 2}}',
        '{"at": "2026-11-17T08:00:00Z", "hex": "00", "act": "take"}',
        '{"at": "2026-11-17T08:00:00Z", "act": 7}',
        " " * (300 * 1024) + "x",
    ],
)
def test_a_bad_line_is_named_with_its_number_beside_the_good(line: str) -> None:
    good_line = f'{{"at": "{AT}", "hex": "58"}}'
    good, bad = replay.read(f"{good_line}\n{line}\n{good_line}\n", "r.jsonl")
    assert len(good) == 2
    assert [m.where for m in bad] == ["r.jsonl:2"]


def test_a_line_may_hold_signs_that_end_a_line_elsewhere_and_its_decimals_stay_exact() -> None:
    line = '{"at": "2026-11-17T09:00:00+01:00", "act": "note", "a": "\u2028\x85", "b": 0.10}'
    good, bad = replay.read(f"{line}\r\n\n{line}\n", "r.jsonl")
    assert bad == []
    assert [(p.at.isoformat(), p.act, p.data) for p in good] == [
        ("2026-11-17T08:00:00+00:00", "note", b"")
    ] * 2
    assert {str(p.more["b"]) for p in good} == {"0.10"}


def test_a_recording_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(replay, "LARGEST", 100)
    with pytest.raises(InputError, match="too large"):
        replay.read("x" * 101, "r.jsonl")
    monkeypatch.setattr(table, "LARGEST", 100)
    with pytest.raises(InputError, match="too large"):
        table.read("x" * 101, "t.csv", "RO-1")


def test_a_chunk_as_large_as_a_line_hands_it_on_is_read_again() -> None:
    line = f'{{"at": "{AT}", "hex": "{"58" * 64 * 1024}"}}'
    good, bad = replay.read(line, "r.jsonl")
    assert bad == []
    assert len(good[0].data) == 64 * 1024


@given(st.text(max_size=400))
def test_any_text_gives_lines_or_mistakes_and_never_an_error(text: str) -> None:
    good, bad = replay.read(text, "r.jsonl")
    assert len(good) + len(bad) <= len(text.splitlines())


def test_decimals_of_a_table_stay_as_they_were_written() -> None:
    text = f"at;x;z;unit\n{AT};31,4470;-0,000;mm\n{AT};1,23800;5,6;in\n"
    good, bad = table.read(text, "t.csv", "RO-1", separator=";", decimal=",")
    assert bad == []
    shown = [str(r.value) for s in good for r in s.readings]
    assert shown == ["31.4470", "0.000", "1.23800", "5.6"]
    assert good[0].readings[0].value == Decimal("31.447")


@pytest.mark.parametrize(
    ("column", "row"),
    [
        ("D", f"{AT},31.447,142.318,cm"),
        ("B", f"{AT},,142.318,mm"),
        ("B", f"{AT},31.4e1,142.318,mm"),
        ("B", f"{AT},NaN,142.318,mm"),
        ("B", f"{AT},1_0,142.318,mm"),
        ("A", "yesterday,31.447,142.318,mm"),
        ("A", "2026-11-17T08:00:00,31.447,142.318,mm"),
        ("", f"{AT},31.447,142.318,mm,9"),
        ("", f"{AT},31.447,142.318"),
        ("B", f'{AT},"31,447",142.318,mm'),
        ("B", f"{AT},٣١.447,142.318,mm"),
        ("B", f"{AT},31.447\0,142.318,mm"),
        ("D", f"{AT},31.447,142.318\r,MM"),
        ("", "x"),
    ],
)
def test_a_bad_cell_is_named_as_a_spreadsheet_names_it(column: str, row: str) -> None:
    good_row = f"{AT},31.447,142.318,mm"
    good, bad = table.read(f"at,x,z,unit\n{good_row}\n{row}\n{good_row}\n", "t.csv", "RO-1")
    assert len(good) == 2
    assert [m.where.rstrip("0123456789") for m in bad] == ["t.csv:" + column]
    assert bad[0].where.endswith("3")


def test_a_table_without_its_columns_or_with_one_sign_for_both_is_refused() -> None:
    with pytest.raises(InputError, match="columns"):
        table.read("x;z\n1;2\n", "t.csv", "RO-1")
    with pytest.raises(InputError, match="differ"):
        table.read("at,x,z,unit\n", "t.csv", "RO-1", separator=",", decimal=",")
    with pytest.raises(InputError):
        table.read("", "t.csv", "RO-1")


def test_rows_keep_the_numbers_of_their_lines_and_their_order() -> None:
    good_row, wide = f"{AT},31.447,142.318,mm", f"{AT},1,2,mm,3"
    text = f"at,x,z,unit\n\n{wide}\n{good_row}\nx,x,x,x\n\n{wide}\n{good_row}"
    good, bad = table.read(text, "t.csv", "RO-1")
    assert [m.where for m in bad] == [
        *("t.csv:3", "t.csv:A5", "t.csv:B5", "t.csv:C5", "t.csv:D5", "t.csv:7")
    ]
    assert [s.raw.decode() for s in good] == [good_row] * 2


def test_columns_may_stand_anywhere_quoted_and_with_a_key() -> None:
    text = f'\ufeff"unit";"key";"z";"what";"at";"x"\r\n"mm";"yes";"1.5";"";"{AT}";"-0.000"\r\n'
    text += f"mm;no;1.50;edge;{AT};2\r\nmm;perhaps;1;;{AT};2\r\n"
    good, bad = table.read(text, "t.csv", "RO-1", separator=";")
    assert [(s.key, *(str(r.value) for r in s.readings)) for s in good] == [
        (True, "0.000", "1.5"),
        (False, "2", "1.50"),
    ]
    assert [m.where for m in bad] == ["t.csv:B4"]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@given(data=st.data())
@settings(deadline=None)
def test_any_table_gives_rows_or_mistakes(separator: str, data: st.DataObject) -> None:
    cell = st.sampled_from([AT, "1.5", "mm", "in", "", "NaN", "#", "\r", "\0", "=1+1", "x"])
    rows = data.draw(st.lists(st.lists(cell, max_size=6).map(separator.join), max_size=6))
    text = "\n".join([separator.join(table.COLUMNS), *rows])
    good, bad = table.read(text, "t.csv", "RO-1", separator=separator)
    wrong = {m.where.lstrip("t.csv:ABCDEF") for m in bad}
    filled = [row for row in rows if any(map(str.strip, row.split(separator)))]
    assert len(good) + len(wrong) == len(filled)
    assert {str(r.value) for s in good for r in s.readings} <= {"1.5"}


@given(st.text('",;\n\rx5', max_size=60))
def test_quotes_of_any_kind_give_rows_or_mistakes(text: str) -> None:
    with contextlib.suppress(InputError):
        table.read(f"at,x,z,unit\n{text}", "t.csv", "RO-1")
