"""Tables of text as other programs write them: every figure exact, every bad cell named."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import encoding, mapping, table
from drivers.mapping import Mapping
from drivers.rows import File, Row
from drivers.table import Table
from inspect_rec.errors import InputError, Mistake
from inspect_rec.units import Unit

AT = "17.11.2026 09:00:00"
WRITTEN = datetime(2026, 11, 17, 9, tzinfo=UTC)
FILE = File("log.csv", "RO-1", "0" * 64)

STATED = """kind = "table"
[file]
separator = "{separator}"
decimal = "{decimal}"
{more}
[columns]
at = "Zeit"
x = "X"
z = "Z"
feature = "Maß"
flute = "Zahn"
mark = "Stelle"
[at]
form = "%d.%m.%Y %H:%M:%S"
zone = "+01:00"
[units]
lengths = "mm"
"""
HEAD = ("Zeit", "X", "Z", "Maß", "Zahn", "Stelle", "Notiz")
GOOD = (AT, "31,4470", "-142,318", "Ø", "2", "greater", "=1+1")


def stated(separator: str = ";", decimal: str = ",", more: str = "") -> Mapping:
    shown = "\\t" if separator == "\t" else separator
    return mapping.parse(STATED.format(separator=shown, decimal=decimal, more=more), "m.toml")


def read(
    data: bytes, given: Mapping | None = None, file: File = FILE
) -> tuple[list[Row], list[Mistake]]:
    found = Table(io.BytesIO(data), given or stated(), file)
    return list(found), found.mistakes


def text(*rows: tuple[str, ...], separator: str = ";") -> str:
    return "".join(separator.join(row) + "\r\n" for row in (HEAD, *rows))


@pytest.mark.parametrize(
    ("separator", "decimal"), [(";", ","), ("\t", ","), ("|", "."), (",", ".")]
)
def test_separator_and_decimal_sign_are_those_that_are_stated(separator: str, decimal: str) -> None:
    row = [cell.replace(",", decimal) for cell in GOOD]
    data = text(tuple(row), separator=separator).encode()
    (found,), mistakes = read(data, stated(separator, decimal))
    assert mistakes == []
    assert [(r.channel, str(r.value), r.unit) for r in found.sighting.readings] == [
        ("X", "31.4470", Unit.MM),
        ("Z", "-142.318", Unit.MM),
    ]
    assert (found.number, found.feature, found.flute, found.mark, found.repeat) == (
        2, "Ø", 2, "greater", None,
    )  # fmt: skip
    assert found.sighting.at.isoformat() == "2026-11-17T08:00:00+00:00"


@pytest.mark.parametrize(
    ("codec", "said"),
    [
        ("utf-8", ""),
        ("utf-8-sig", ""),
        ("utf-8-sig", "UTF-8"),
        ("utf-16", ""),
        ("utf-16", "UTF-16"),
        ("cp1252", "Windows-1252"),
        ("latin-1", "Latin-1"),
    ],
)
def test_an_encoding_is_stated_or_marked_and_its_raw_bytes_are_kept(codec: str, said: str) -> None:
    given = stated(more=f'encoding = "{said}"' if said else "")
    (found,), mistakes = read(text(GOOD).encode(codec), given)
    assert mistakes == []
    assert found.feature == "Ø"
    own = {"utf-8-sig": "utf-8", "utf-16": "utf-16-le"}.get(codec, codec)
    assert found.sighting.raw == ";".join(GOOD).encode(own)


def test_utf_16_of_the_other_byte_order_is_known_by_its_mark() -> None:
    (found,), _ = read(b"\xfe\xff" + text(GOOD).encode("utf-16-be"))
    assert found.mark == "greater"


@pytest.mark.parametrize(
    ("data", "said", "why"),
    [
        (text(GOOD).encode("cp1252"), "", "isn't UTF-8: found the bytes df"),
        (text(GOOD).encode("utf-16"), "Windows-1252", "isn't encoded as stated"),
        (text(GOOD).encode("utf-16-le"), "UTF-16", "with its mark"),
        (text(GOOD).encode("utf-8-sig"), "Latin-1", "isn't encoded as stated"),
        (text(GOOD).encode("utf-16-le"), "", "found the bytes 5a 00 65, as of UTF-16 without"),
        (text(GOOD).encode("utf-16-be"), "Latin-1", "as of UTF-16 without its mark"),
        (
            text(GOOD).replace("\r\n", "\r").encode(),
            "",
            "expected LF, or CR and LF, found CR alone",
        ),
        (text(GOOD).replace("\r\n", "\r").encode("utf-16"), "", "found CR alone"),
        (text(GOOD).encode("utf-16") + b"\0", "", "isn't UTF-16"),
        (text((*GOOD[:-1], "")).encode("cp1252") + b"\x81", "Windows-1252", "log.csv:3"),
        (text(GOOD).encode() + b"x" * (encoding.BLOCK + 1), "", "too long"),
    ],
)
def test_another_encoding_is_never_guessed(data: bytes, said: str, why: str) -> None:
    with pytest.raises(InputError, match=why):
        read(data, stated(more=f'encoding = "{said}"' if said else ""))


def test_every_wrong_cell_of_a_row_is_named_and_good_rows_stay() -> None:
    bad = ("gestern", "31.447", "", "x" * 61, "two", "greater", "")
    good, mistakes = read(text(GOOD, bad, GOOD, GOOD[:-1]).encode())
    assert [row.number for row in good] == [2, 4]
    assert [m.where.partition(":")[2] for m in mistakes] == ["A3", "B3", "C3", "D3", "E3", "5"]


def test_a_cell_that_begins_like_a_formula_is_text_unless_it_is_a_figure_of_its_column() -> None:
    signed = (AT, "+31,447", "-1", "=cmd", "2", "@mark", "+x")
    formula = (AT, "=31,447", "@1", "-a", "2", "+b", "")
    good, mistakes = read(text(signed, formula).encode())
    assert [(row.feature, row.mark) for row in good] == [("=cmd", "@mark")]
    assert [str(r.value) for r in good[0].sighting.readings] == ["31.447", "-1"]
    assert [m.where.partition(":")[2] for m in mistakes] == ["B3", "C3"]


def test_a_cell_in_quotes_holds_separators_quotes_and_lines() -> None:
    note = '"31;32 ""so""\r\n' + ";".join(GOOD) + '\r\n"'
    good, mistakes = read((text((*GOOD[:-1], note), GOOD)).encode())
    assert mistakes == []
    assert [row.number for row in good] == [2, 3], "the row within the note is none"


def test_below_quotes_that_are_not_closed_nothing_is_read() -> None:
    good, mistakes = read(text(GOOD, (*GOOD[:-1], '"open'), GOOD, GOOD).encode())
    assert [row.number for row in good] == [2]
    assert [m.where for m in mistakes] == ["log.csv:3"]
    assert "nothing below" in mistakes[0].expected
    many = text(GOOD, (*GOOD[:-1], '"open'), *[GOOD] * 200)
    assert [row.number for row in read(many.encode())[0]] == [2]


def test_rows_above_the_head_rows_to_skip_comments_and_blanks_are_no_mistakes() -> None:
    given = stated(more='head = 2\nskip = [4]\ncomment = "#"')
    lines = [
        "A program, version 2",
        ";".join(HEAD),
        "",
        "units;mm",
        "# note",
        ";;;;;;",
        ";".join(GOOD),
    ]
    good, mistakes = read("\n".join(lines).encode(), given)
    assert mistakes == []
    assert [row.number for row in good] == [7]


@pytest.mark.parametrize(
    ("head", "why"),
    [
        (HEAD[1:], "one column 'Zeit', for at"),
        ((*HEAD, "X"), "it 2 times"),
        ((), "no names"),
    ],
)
def test_columns_that_are_not_there_or_stand_twice_are_named(
    head: tuple[str, ...], why: str
) -> None:
    with pytest.raises(InputError, match=why):
        read(";".join(head).encode())
    with pytest.raises(InputError) as caught:
        read(b"a;b\n")
    assert len(caught.value.mistakes) == 6


def test_a_head_whose_quotes_are_not_closed_is_refused() -> None:
    with pytest.raises(InputError, match="has no head"):
        read(b'"Zeit;X\n')


def test_the_unit_is_that_of_the_row_where_a_column_says_it() -> None:
    given = mapping.parse(
        """kind = "table"
[file]
separator = ","
head = 0
cells = 4
[columns]
indicator = 1
angle = 2
temperature = 3
unit = 4
[at]
form = "file written"
[units]
angle = "deg"
temperature = "degC"
[units.words]
inch = "in"
deg = "deg"
C = "degC"
""",
        "m.toml",
    )
    lines = ["0.01,,,inch", ",15.5,,deg", ",15.5,,", ",15.5,20.1,", "0.01,1,,inch"]
    wrong = ["0.01,,,", "0.01,,,deg", ",15.5,,C", ",15.5,20.1,deg", ",1,,x", ",,,inch"]
    file = File("log.csv", "RO-1", "0" * 64, WRITTEN)
    good, mistakes = read("\n".join([*lines, *wrong]).encode(), given, file)
    assert [[r.unit.value for r in row.sighting.readings] for row in good] == [
        ["in"], ["deg"], ["deg"], ["deg", "degC"], ["in", "deg"],
    ]  # fmt: skip
    assert [m.where.partition(":")[2] for m in mistakes] == ["D6", "D7", "D8", "D9", "D10", "A11"]
    assert {row.sighting.at for row in good} == {WRITTEN}


@pytest.mark.parametrize(
    ("head", "agrees"),
    [
        ("X [mm]", True),
        ("X(mm)", True),
        ("Länge/mm", True),
        ("x_mm", True),
        ("X, mm", True),
        ("slide in", True),
        ("X (right)", True),
        ("X [in]", False),
        ("X (inch)", False),
        ("Länge/µm", False),
        ("x_inch", False),
        ("X [ cm ]", False),
    ],
)
def test_a_unit_in_a_columns_name_is_the_stated_one(head: str, *, agrees: bool) -> None:
    given = mapping.parse(
        STATED.format(separator=";", decimal=",", more="").replace('"X"', f'"{head}"'), "m.toml"
    )
    data = text(GOOD).replace(";X;", f";{head};").encode()
    if agrees:
        assert len(read(data, given)[0]) == 1
        return
    with pytest.raises(InputError, match=r"two units are stated\n.*expected x in mm"):
        read(data, given)


def test_a_line_without_its_end_is_not_taken_while_another_program_writes() -> None:
    data = text(GOOD, (AT, "31,5", "-142,3", "Ø", "2", "greater", "")).encode()
    grows = replace(FILE, growing=True)
    for file, held, count in ((FILE, data[:-2], 2), (grows, data[:-2], 1), (grows, data, 2)):
        good, wrong = read(held, file=file)
        assert (len(good), len(wrong)) == (count, 2 - count)
        together = Table(io.BytesIO(held), stated(), file)
        assert sum(map(len, together.blocks())) == count
        assert together.mistakes == wrong


def test_the_digest_of_a_row_is_that_of_its_cells_if_it_has_an_instant() -> None:
    later = ("17.11.2026 09:00:01", *GOOD[1:])
    first, _ = read(text(GOOD, later).encode())
    quoted = tuple(f'" {cell} "' for cell in GOOD)
    again, _ = read(text(later, quoted).encode("cp1252"), stated(more='encoding = "Windows-1252"'))
    assert [row.digest for row in again] == [row.digest for row in reversed(first)]
    assert first[0].digest != first[1].digest


def test_a_row_without_an_instant_is_known_by_its_file_and_number() -> None:
    given = mapping.parse(
        'kind = "table"\n[file]\nseparator = ";"\n[columns]\nx = "X"\nz = "Z"\n'
        '[at]\nform = "file written"\n[units]\nlengths = "mm"\n',
        "m.toml",
    )
    one, other = (File("p.csv", "RO-1", digit * 64, WRITTEN) for digit in "12")
    digests = [
        row.digest for file in (one, other) for row in read(b"X;Z\n1;2\n1;2\n", given, file)[0]
    ]
    assert len(set(digests)) == 4


def test_a_file_full_of_mistakes_is_another_file(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(table, "MOST_MISTAKES", 3)
    _, mistakes = read(text(*[("x",)] * 9).encode())
    assert [m.where for m in mistakes] == [f"log.csv:{n}" for n in (2, 3, 4, 4)]


def test_a_file_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(encoding, "LARGEST", 500)
    with pytest.raises(InputError, match="too large"):
        read(text(*[GOOD] * 50).encode())
    with pytest.raises(InputError, match="too large"):
        read(text(*[GOOD] * 50).encode("utf-16"))


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_a_wrong_byte_far_down_is_named_with_its_row(
    monkeypatch: pytest.MonkeyPatch, mark: bytes
) -> None:
    monkeypatch.setattr(encoding, "BLOCK", 300)
    data = mark + text(*[GOOD] * 50).encode() + b"\xff"
    with pytest.raises(InputError, match=r"log\.csv:52: the file isn't"):
        read(data)


@pytest.mark.parametrize("codec", ["utf-8", "utf-16"])
def test_blocks_of_any_size_give_the_same_rows(monkeypatch: pytest.MonkeyPatch, codec: str) -> None:
    data = text(*[GOOD] * 7, (*GOOD[:-1], '"a\nb"'), ("x",), GOOD).encode(codec)
    whole = read(data)
    for size in (5, 64, 101, 1000):
        monkeypatch.setattr(encoding, "BLOCK", size)
        assert read(data) == whole
    assert len(whole[0]) == 9


CELLS = st.sampled_from([*GOOD, *HEAD, '"', "\r", "\0", "\n", ";", "1,5", "ÿ", "", "  "])


@given(st.lists(CELLS, max_size=40).map("".join), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
@settings(deadline=None)
def test_any_text_gives_rows_or_mistakes_or_is_refused(body: str, codec: str) -> None:
    said = 'encoding = "Windows-1252"' if codec == "cp1252" else ""
    data = (text() + body).encode(codec)
    good, mistakes = read(data, stated(more=said))
    assert all(row.number > 1 for row in good)
    assert all(m.where.startswith("log.csv:") for m in mistakes)


@given(st.binary(max_size=200))
@settings(deadline=None)
def test_any_bytes_give_rows_or_mistakes_or_are_refused(data: bytes) -> None:
    try:
        good, _ = read(data)
    except InputError:
        return
    assert good == []
