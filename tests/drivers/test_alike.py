"""Rows that look alike are read together, and give what each of them gives alone."""

from __future__ import annotations

import io
import random
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import encoding, mapping, table
from drivers.rows import File
from drivers.shapes import NONE, Block, block_of, joined
from drivers.table import Table
from inspect_rec.errors import Mistake

FILE = File("log.csv", "RO-1", "0" * 64, datetime(2026, 11, 17, 8, tzinfo=UTC))
STATED = """kind = "table"
[file]
separator = ";"
decimal = ","
head = 0
cells = 9
skip = [7]
comment = "no"
[columns]
at = 1
x = 2
z = 3
indicator = 4
feature = 5
flute = 6
mark = 7
key = 8
[at]
form = "%d.%m.%Y %H:%M:%S.%f"
zone = "Europe/Berlin"
[units]
lengths = "mm"
"""


def both(data: bytes, text: str = STATED) -> tuple[Block, list[Mistake]]:
    """The table read in blocks, held against the same read row by row."""
    given = mapping.parse(text, "m.toml")
    one, other = (Table(io.BytesIO(data), given, FILE) for _ in range(2))
    blocks, rows = list(one.blocks()), list(other)
    expected = block_of(rows, other._columns)
    found = joined(blocks or [expected])
    np.testing.assert_array_equal(found.number, expected.number)
    np.testing.assert_array_equal(found.at_us, expected.at_us)
    assert set(found.figures) == set(expected.figures)
    for channel, values in expected.figures.items():
        np.testing.assert_array_equal(found.figures[channel], values)
    for word, texts in expected.words.items():
        assert found.words[word].tolist() == texts.tolist()
    assert one.mistakes == other.mistakes
    return found, one.mistakes


def line(draw: random.Random, *, odd: float = 0.02) -> str:
    """A row as a readout's program may write it; some are odd."""
    month = draw.choice(["11", "11", "10", "3"])
    at = f"{draw.randrange(1, 32):02}.{month}.2026 "
    at += f"{draw.randrange(25):02}:{draw.randrange(61):02}:{draw.randrange(60):02}."
    at += f"{draw.randrange(1000):03}"
    x = f"{draw.choice(['', '+', '-', ' '])}{draw.uniform(0, 120):.{draw.randrange(5)}f}"
    cells = [
        at,
        x.replace(".", ","),
        f"{draw.uniform(-9, 9):8.3f}".replace(".", ","),
        draw.choice(["", "-0,000", "0,001"]),
        draw.choice(["edge", "Edge", "Ø"]),
        draw.choice(["1", "2", "12", ""]),
        draw.choice(["greater", "smaller", "a-b"]),
        draw.choice(["yes", "no"]),
        draw.choice(["", "note", '"a;b"', "x" * draw.randrange(4)]),
    ]
    if draw.random() < odd:
        cells[draw.randrange(9)] = draw.choice(["?", "+", ",5", "1,", "1,2,3", "1e5", "\x1c1", " "])
    if draw.random() < odd / 2:
        cells.pop()
    return ";".join(cells)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("seed", range(4))
def test_blocks_hold_what_single_rows_hold(
    monkeypatch: pytest.MonkeyPatch, seed: int, end: str
) -> None:
    monkeypatch.setattr(encoding, "BLOCK", 20_000)
    draw = random.Random(seed)
    text = end.join([*(line(draw) for _ in range(1500)), "", "no comment", line(draw, odd=0)])
    found, mistakes = both(text.encode())
    assert len(found) > 500
    assert len(mistakes) > 50


def test_rows_of_a_few_looks_are_hardly_ever_read_one_by_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given = mapping.parse(STATED, "m.toml")
    draw = random.Random(1)
    rows = [
        f"17.11.2026 {n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}.000;"
        + f"{draw.uniform(-99, 99):.3f};1,5;;edge;{n % 4};greater;yes;".replace(".", ",")
        for n in range(20_000)
    ]
    data = "\n".join(rows).encode()
    one, single = Table(io.BytesIO(data), given, FILE), 0
    read = Table._single

    def counted(self: Table, number: int, text: str) -> object:
        nonlocal single
        single += 1
        return read(self, number, text)

    monkeypatch.setattr(Table, "_single", counted)
    assert sum(map(len, one.blocks())) == 19_999
    assert single < 60


def test_days_that_do_not_exist_and_days_on_which_the_clocks_change_are_read_with_care() -> None:
    days = ("30.02.2026", "25.10.2026", "29.03.2026", "24.10.2026", "01.01.0001", "31.12.9999")
    times = ("00:00:00.000", "02:30:00.000", "23:59:59.999", "24:00:00.000")
    rows = [f"{day} {time};1,5;2;;e;1;m;yes;" for day in days for time in times]
    plain = [f"17.11.2026 08:00:0{n % 10}.000;1,5;2;;e;1;m;yes;" for n in range(40)]
    found, mistakes = both("\n".join([*plain, *rows, *plain]).encode())
    assert len(mistakes) >= 4 + 2 + len(days) - 1
    assert len(found) > 80


def test_what_fits_a_shape_byte_for_byte_and_still_is_wrong_is_found() -> None:
    plain = [f"17.11.2026 0{n % 10}:00:00.000;+1,5;2;;e;1;m;yes;" for n in range(60)]
    plain[20] = plain[20].replace("+1,5", ",1,5")
    plain[30] = "17.11.2026 24:00:00.000" + plain[30][23:]
    plain[40] = plain[40].replace("yes", "yep")
    plain[50] = "nonsense of as many bytes as the others hav;e;1;m;yes;"[: len(plain[50])]
    found, mistakes = both("\n".join(plain).encode())
    assert [m.where for m in mistakes] == [f"log.csv:{cell}" for cell in ("B21", "A31", "H41")]
    assert len(found) == 60 - 3 - 1 - 1


def test_a_comment_may_begin_as_a_reading_does() -> None:
    days = [f"{1 + n % 30:02}.11.2026 08:00:00.000;1,5;2;;e;1;m;yes;" for n in range(90)]
    found, mistakes = both("\n".join(days).encode(), STATED.replace('"no"', '"3"'))
    assert (len(found), mistakes) == (90 - 3 - 1, [])


def test_rfc_3339_says_its_zone_in_each_row() -> None:
    stated = 'form = "%d.%m.%Y %H:%M:%S.%f"\nzone = "Europe/Berlin"'
    text = STATED.replace(stated, 'form = "RFC 3339"')
    zones = ("Z", "+01:00", "-05:30", "z")
    rows = [f"2026-11-17T0{n % 9}:00:00{zones[n % 4]};1,5;2;;e;1;m;yes;" for n in range(200)]
    found, mistakes = both("\n".join(rows).encode(), text)
    assert (len(found), mistakes) == (199, [])


def test_a_figure_that_is_not_there_is_none() -> None:
    rows = ["17.11.2026 08:00:00.000;;;0,5;e;1;m;yes;"] * 30
    found, _ = both("\n".join(rows).encode())
    assert set(found.figures["X"]) == {NONE}
    assert set(found.figures["indicator"]) == {500_000}


def test_too_many_mistakes_end_it_at_the_same_row(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table, "MOST_MISTAKES", 20)
    draw = random.Random(5)
    found, mistakes = both("\n".join(line(draw, odd=0.1) for _ in range(2000)).encode())
    assert "nothing below" in mistakes[-1].expected
    assert len(found) < 1000


def test_too_many_rows_end_it_at_the_same_row(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table, "MOST_ROWS", 300)
    draw = random.Random(6)
    found, mistakes = both("\n".join(line(draw) for _ in range(500)).encode())
    assert found.number[-1] <= 300
    assert (mistakes[-1].where, mistakes[-1].expected[:19]) == (
        "log.csv:300",
        "fewer than 300 rows",
    )


CELLS = st.sampled_from(
    ["17.11.2026 08:00:00.000", "1,5", "-0,0", "", "e", "yes", "no", "1", "?", "\r", "é", '"', "+"]
)


@given(st.lists(st.lists(CELLS, min_size=7, max_size=10), max_size=12), st.integers(1, 5))
@settings(deadline=None, max_examples=60)
def test_any_table_gives_the_same_in_blocks(rows: list[list[str]], times: int) -> None:
    good = "17.11.2026 08:00:00.000;1,5;2;;e;1;m;yes;"
    lines = [*[good] * 20, *[";".join(row) for row in rows]] * times
    both("\n".join(lines).encode())
