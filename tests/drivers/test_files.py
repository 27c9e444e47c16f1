"""Files instead of a line: recordings and tables, exact, bad lines named and never skipped."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
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
    ],
)
def test_a_bad_line_is_named_with_its_number_beside_the_good(line: str) -> None:
    good_line = f'{{"at": "{AT}", "hex": "58"}}'
    good, bad = replay.read(f"{good_line}\n{line}\n{good_line}\n", "r.jsonl")
    assert len(good) == 2
    assert [m.where for m in bad] == ["r.jsonl:2"]


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
    "row",
    [
        f"{AT},31.447,142.318,cm",
        f"{AT},,142.318,mm",
        f"{AT},31.4e1,142.318,mm",
        f"{AT},NaN,142.318,mm",
        f"{AT},1_0,142.318,mm",
        "yesterday,31.447,142.318,mm",
        "2026-11-17T08:00:00,31.447,142.318,mm",
    ],
)
def test_a_bad_row_is_named_with_its_number_beside_the_good(row: str) -> None:
    good_row = f"{AT},31.447,142.318,mm"
    good, bad = table.read(f"at,x,z,unit\n{good_row}\n{row}\n{good_row}\n", "t.csv", "RO-1")
    assert len(good) == 2
    assert [m.where for m in bad] == ["t.csv:3"]


def test_a_table_without_its_columns_or_with_one_sign_for_both_is_refused() -> None:
    with pytest.raises(InputError, match="columns"):
        table.read("x;z\n1;2\n", "t.csv", "RO-1")
    with pytest.raises(InputError, match="differ"):
        table.read("at,x,z,unit\n", "t.csv", "RO-1", separator=",", decimal=",")
    with pytest.raises(InputError):
        table.read("", "t.csv", "RO-1")
