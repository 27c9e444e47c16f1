"""A mapping says what a file's columns are; what it doesn't say is a mistake, never a guess."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import drawing, encoding, instants, mapping, picture, spreadsheet
from inspect_rec.errors import InputError
from inspect_rec.units import Unit

TEXT = """\
kind = "table"
note = "as the readout's own program saves it"

[file]
separator = ";"
decimal = ","
encoding = "Windows-1252"
head = 2
skip = [3]

[columns]
at = ["date", "time"]
x = "X"
z = 5
unit = "unit"
feature = "what"
flute = "no."
mark = "mark"

[at]
form = "%d.%m.%Y %H:%M:%S"
zone = "Europe/Berlin"

[units.words]
inch = "in"
mm = "mm"
"""
ZONE = 'zone = "Europe/Berlin"'


def wheres(text: str) -> dict[str, str]:
    """Place of each mistake -> what was expected there."""
    with pytest.raises(InputError) as caught:
        mapping.parse(text, "m.toml")
    return {m.where: m.expected for m in caught.value.mistakes}


def test_a_mapping_says_what_each_column_is() -> None:
    found = mapping.parse(TEXT, "m.toml")
    assert found.at == ("date", "time")
    assert found.columns == {
        "x": "X", "z": 5, "unit": "unit", "feature": "what", "flute": "no.", "mark": "mark",
    }  # fmt: skip
    assert found.unit_words == {"inch": Unit.INCH, "mm": Unit.MM}
    assert (found.separator, found.decimal, found.encoding) == (";", ",", "cp1252")
    assert (found.head, found.skip, found.unit("x")) == (2, frozenset({3}), None)


def test_every_mistake_is_named_with_its_line() -> None:
    text = (
        TEXT.replace('separator = ";"', 'separator = ","')
        .replace("head = 2", "head = -1")
        .replace("z = 5", "z = 0")
        .replace('mark = "mark"', 'mark = "mark"\nspindle = 7')
        .replace("%d.%m.%Y", "%d.%m.%y")
        .replace('inch = "in"', 'inch = "cm"')
    )
    lines = {f"m.toml:{n}" for n in (5, 8, 14, 19, 22)}
    assert set(wheres(text)) == lines | {"m.toml [units]"}


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('kind = "table"', 'kind = "chart"', "m.toml:1"),
        ('kind = "table"\n', "", "m.toml"),
        ('separator = ";"\n', "", "m.toml [file]"),
        ('encoding = "Windows-1252"', 'encoding = "EBCDIC"', "m.toml:7"),
        ("skip = [3]", "skip = 3", "m.toml:9"),
        ("skip = [3]", "skip = [0]", "m.toml:9"),
        ('at = ["date", "time"]', 'at = ["date", "time", "zone"]', "m.toml:12"),
        ('x = "X"', 'x = ""', "m.toml:13"),
        ('x = "X"', "x = true", "m.toml:13"),
        ("z = 5", 'z = "X"', "m.toml:14"),
        ("z = 5", "z = 257", "m.toml:14"),
        ('unit = "unit"\n', "", "m.toml [units]"),
        (ZONE, 'zone = "+25:00"', "m.toml:22"),
        (ZONE, 'zone = "Europe/Nowhere"', "m.toml:22"),
        (ZONE, "", "m.toml [at]"),
        (ZONE, 'zone = "../../etc/passwd"', "m.toml:22"),
        ('form = "%d.%m.%Y %H:%M:%S"', 'form = "%d%m%Y %H:%M:%S"', "m.toml:21"),
        ('form = "%d.%m.%Y %H:%M:%S"', 'form = "%d.%m.%Y"', "m.toml:21"),
        ('form = "%d.%m.%Y %H:%M:%S"', 'form = "%d.%m.%Y %H:%M:%f"', "m.toml:21"),
        ('form = "%d.%m.%Y %H:%M:%S"', 'form = "%d.%d.%Y %H:%M:%S"', "m.toml:21"),
        ('form = "%d.%m.%Y %H:%M:%S"', 'form = "date cell"', "m.toml:21"),
        ('form = "%d.%m.%Y %H:%M:%S"', 'form = "file written"', "m.toml:21"),
        ("[units.words]", '[units]\nlengths = "mm"\n[units.words]', "m.toml:25"),
        ("[units.words]", '[units]\nlengths = "cm"\n[units.words]', "m.toml:25"),
        ("[units.words]", '[key]\nyes = ["1"]\nno = ["1"]\n[units.words]', "m.toml:26"),
    ],
)
def test_a_mapping_that_leaves_something_open_is_refused(old: str, new: str, line: str) -> None:
    assert TEXT.count(old) == 1
    assert line in wheres(TEXT.replace(old, new))


def test_without_a_head_columns_have_numbers_and_the_number_of_cells_is_stated() -> None:
    text = """kind = "table"
[file]
separator = "|"
head = 0
[columns]
at = "time"
length = 3
[at]
form = "RFC 3339"
[units]
lengths = "mm"
"""
    assert set(wheres(text)) == {"m.toml [file]", "m.toml:6"}
    found = mapping.parse(
        text.replace("head = 0", "head = 0\ncells = 3").replace('"time"', "1"), ""
    )
    assert (found.cells, found.unit("length"), found.unit("angle")) == (3, Unit.MM, None)


def test_the_unit_of_an_angle_and_of_a_temperature_is_stated_too() -> None:
    text = TEXT.replace('x = "X"', 'x = "X"\nangle = "a"\ntemperature = "t"')
    assert set(wheres(text)) == {"m.toml [units]"}
    stated = text.replace(
        "[units.words]", '[units]\nangle = "deg"\ntemperature = "degC"\n[units.words]'
    )
    assert mapping.parse(stated, "m.toml").unit("temperature") is Unit.CELSIUS


def test_rows_without_instants_have_that_of_the_file_if_it_is_stated() -> None:
    text = 'kind = "points"\n'
    assert set(wheres(text)) == {"m.toml [columns]"}
    found = mapping.parse(text + '[at]\nform = "file written"\n', "m.toml")
    assert (found.form, found.columns, found.separator, found.comment) == (
        None, {"x": 1, "z": 2}, " ", "#",
    )  # fmt: skip


def test_a_contour_says_where_it_begins() -> None:
    text = 'kind = "contour"\n[contour]\nbegin = [0, 12.5]\nlayer = "EDGE"\n'
    found = mapping.parse(text, "m.toml")
    assert found.begin == mapping.Begin(Decimal(0), Decimal("12.5"))
    assert (found.layer, found.unit("x")) == ("EDGE", None)
    for wrong in ("[1]", "[1, nan]", '["0", 1]', "[true, 1]", "5"):
        assert set(wheres(text.replace("[0, 12.5]", wrong))) == {"m.toml:3"}


@pytest.mark.parametrize("text", ["x", "a = [" + "[" * 3000, "a." * 700 + "b = 1", "a" * 17_000])
def test_what_is_no_mapping_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        mapping.parse(text, "m.toml")


@pytest.mark.parametrize(
    ("form", "zone", "text", "utc"),
    [
        ("RFC 3339", "", "2026-11-17T09:00:00.25+01:00", "2026-11-17T08:00:00.250000"),
        ("RFC 3339", "", "2026-11-17 08:00:00z", "2026-11-17T08:00:00"),
        ("%d.%m.%Y %H:%M", "+05:30", "7.1.2026 9:05", "2026-01-07T03:35:00"),
        ("%m/%d/%Y %H:%M:%S", "-05:00", "11/17/2026 23:00:01", "2026-11-18T04:00:01"),
        ("%Y-%m-%dT%H:%M:%S.%f", "UTC", "2026-11-17T08:00:00.123", "2026-11-17T08:00:00.123000"),
        ("%d.%m.%Y %H:%M", "Europe/Berlin", "17.07.2026 09:00", "2026-07-17T07:00:00"),
        ("%d.%m.%Y %H:%M", "Europe/Berlin", "17.11.2026 09:00", "2026-11-17T08:00:00"),
        ("date cell", "UTC", "2026-11-17 08:00:00", "2026-11-17T08:00:00"),
    ],
)
def test_an_instant_is_read_in_its_form_and_zone(form: str, zone: str, text: str, utc: str) -> None:
    assert instants.form(form, zone).read(text) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("25.10.2026 02:30:00", "twice"),
        ("29.03.2026 02:30:00", "leave out"),
        ("31.11.2026 02:30:00", "day"),
        ("17.11.2026 24:00:00", "hour"),
        ("17.11.26 08:00:00", "written as"),
        ("٣3.11.2026 08:00:00", "written as"),
    ],
)
def test_a_time_that_the_clocks_never_showed_or_showed_twice_is_refused(
    text: str, why: str
) -> None:
    form = instants.form("%d.%m.%Y %H:%M:%S", "Europe/Berlin")
    with pytest.raises(ValueError, match=why):
        form.read(text)


LINE = st.sampled_from(TEXT.splitlines()) | st.text(max_size=30)


@given(st.lists(LINE, max_size=25).map("\n".join))
@settings(deadline=None)
def test_any_text_is_a_mapping_or_refused(text: str) -> None:
    try:
        found = mapping.parse(text, "m.toml")
    except InputError:
        return
    assert found.kind in mapping.KINDS


def test_columns_are_lettered_as_in_a_spreadsheet() -> None:
    letters = [mapping.column_letters(n) for n in (0, 1, 26, 27, 52, 53, 256, 702, 703)]
    assert letters == ["", "A", "Z", "AA", "AZ", "BA", "IV", "ZZ", "AAA"]


DOCUMENT = Path(__file__).parents[2] / "docs" / "read-files.md"
EXAMPLES = re.findall(r"^```toml\n(.*?)^```", DOCUMENT.read_text("utf-8"), re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("text", EXAMPLES, ids=lambda text: text.split('"')[1])
def test_every_example_of_the_document_is_a_mapping(text: str) -> None:
    assert mapping.parse(text, "m.toml").kind in text.splitlines()[0]


def test_the_document_shows_every_kind() -> None:
    assert {mapping.parse(text, "m.toml").kind for text in EXAMPLES} == set(mapping.KINDS)


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        (encoding.LARGEST, "{} MiB, 256 columns"),
        (spreadsheet.LARGEST, "{} MiB, 128 MiB unpacked"),
        (spreadsheet.LARGEST_UNPACKED, "{} MiB unpacked"),
        (drawing.LARGEST, "{} MiB, 10 000 lines and arcs"),
        (picture.LARGEST, "{} MiB, 200 million pixels"),
    ],
)
def test_the_document_says_the_limits(limit: int, said: str) -> None:
    assert said.format(limit // 2**20) in DOCUMENT.read_text("utf-8")
