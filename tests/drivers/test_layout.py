"""A layout is data; what is wrong in it is said at once, with its line."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import described, layout, stated
from drivers.decoder import Code
from drivers.parts import Figures, Port
from inspect_rec.errors import InputError

TEXT = (resources.files("drivers") / "layouts" / "two-axis-line.toml").read_text("utf-8")


def test_every_packaged_layout_is_read_under_its_own_name() -> None:
    found = layout.packaged()
    assert found
    assert all(name == each.id for name, each in found.items())


def test_every_mistake_is_named_with_its_line() -> None:
    text = (
        TEXT.replace("baud = 9600", "baud = 1")
        .replace('parity = "N"', 'parity = "maybe"')
        .replace('sends = "continuously"', 'sends = "often"\nvolume = 11')
    )
    with pytest.raises(InputError) as caught:
        layout.parse(text, "mine.toml")
    said = [str(m) for m in caught.value.mistakes]
    assert len(said) == 4
    for part in ("baud = 1", 'parity = "maybe"', 'sends = "often"', "volume = 11"):
        line = next(n for n, row in enumerate(text.splitlines(), 1) if part in row)
        assert any(s.startswith(f"mine.toml:{line}:") for s in said), (part, said)


@pytest.mark.parametrize(
    "pattern", ["X(", "(?P<y>.)", "X", "(?P<key> )", "(?P<x>(a+)+)b", "(?P<x>[0-9]*)*", "(?P<x>ä€)"]
)
def test_a_pattern_that_is_wrong_or_may_run_for_ever_is_refused(pattern: str) -> None:
    lines = [
        f"pattern = '{pattern}'" if row.startswith("pattern") else row for row in TEXT.splitlines()
    ]
    with pytest.raises(InputError, match="pattern"):
        layout.parse("\n".join(lines), "mine.toml")


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("decimals = 3", "decimals = 4", "pattern = "),
        ('unit = "mm"', 'unit = "cm"', 'unit = "cm"'),
        ('" in" = "in"', '" in" = "inch"', "unit_words = "),
        ('" mm" = "mm", ', "", "unit_words = "),
        ('{ " mm" = "mm", " in" = "in" }', "{}", "unit_words = "),
        ('" in" = "in"', '" €" = "in"', "unit_words = "),
        ("x = [-2000, 2000]", "x = [2000, -2000]", "x = ["),
        ("z = [-2000, 2000]", "z = [1]", "z = ["),
        ("z = [-2000, 2000]", "z = [nan, inf]", "z = ["),
        ("z = [-2000, 2000]", "z = 2000", "z = 2000"),
        ("settled_apart_ms = 300", "settled_apart_ms = 299", "settled_apart_ms"),
        ("settled_reads = 2", "settled_reads = 1", "settled_reads"),
        ("silent_s = 2.0", "silent_s = nan", "silent_s"),
        ("silent_s = 2.0", "silent_s = true", "silent_s"),
        ("fastest_mm_per_s = 500", "fastest_mm_per_s = 0", "fastest_mm_per_s"),
        ("baud = 9600", "baud = 9600.0", "baud"),
        ('terminator = "\\r\\n"', 'terminator = ""', "terminator"),
        ('terminator = "\\r\\n"', 'terminator = "€"', "terminator"),
        ("longest = 64", "longest = 100000", "longest"),
        ("lockout_ms = 300", "lockout_ms = -1", "lockout_ms"),
        ("[rules]", "[rule]  # what can be", "[rule]"),
        ("[rules]", "[[rules]]", "[[rules]]"),
        ('id = "two-axis line"', "id = 7", "id = 7"),
        ("(?P<unit> mm| in)?", "", "unit_words = "),
    ],
)
def test_a_mistake_is_found_where_it_stands(old: str, new: str, line: str) -> None:
    assert old in TEXT
    text = TEXT.replace(old, new)
    with pytest.raises(InputError) as caught:
        layout.parse(text, "mine.toml")
    found = [m for m in caught.value.mistakes if m.where.startswith("mine.toml")]
    at = next(n for n, row in enumerate(text.splitlines(), 1) if row.startswith(line))
    assert [m.where for m in found] == [f"mine.toml:{at}"]


def test_the_settings_of_a_layout_are_read_exactly() -> None:
    text = TEXT.replace("x = [-2000, 2000]", "x = [-0.5, 120.125]").replace("= 500", "= 250.5")
    found = layout.parse(text, "mine.toml")
    assert found.rules.range("X") == (Decimal("-0.5"), Decimal("120.125"))
    assert found.rules.fastest_mm_per_s == Decimal("250.5")
    assert found.port == Port(9600, 8, "N", 1)
    assert not found.on_key
    assert layout.parse(text.replace('"continuously"\n', '"on key"\n'), "mine.toml").on_key


@given(st.text(max_size=300) | st.just(TEXT).map(lambda t: t.replace("3", "[", 3)))
@settings(deadline=None)
def test_any_text_is_a_layout_or_refused(text: str) -> None:
    with pytest.raises(InputError):
        layout.parse(text, "mine.toml")


def test_what_is_no_toml_or_too_large_is_refused() -> None:
    texts = ("id = ", "x" * 100_000, "a=" + "[" * 900, "a=" + "1" * 5000, "a." * 600 + "a=1")
    for text in texts:
        with pytest.raises(InputError):
            layout.parse(text, "mine.toml")


PAGE = Path(__file__).parents[2] / "docs" / "describe-a-layout.md"


def keys_of_the_page(heading: str) -> set[str]:
    """The keys of the first table below a heading."""
    text = PAGE.read_text("utf-8").split(f"## `{heading}`")[1].split("\n## ")[0]
    table = text[text.index("\n|") :].split("\n\n")[0]
    first = [row.split("|")[1] for row in table.strip().splitlines()[2:]]
    return {key for cell in first for key in re.findall(r"`([a-z_]+)`", cell)}


@pytest.mark.parametrize(
    ("heading", "values", "taken"),
    [
        ("[port]", {"baud": 9600}, stated.port),
        ("[asks]", {"request": "?"}, stated.asks),
        ("[modbus]", {"first": 0, "count": 1}, stated.modbus),
        ("[frame]", {}, lambda t: (stated.frame(t, binary=False), t.text_("pattern"))),
        ("[[field]]", {"name": "unit"}, stated.field),
        ("[figures]", {}, lambda t: stated.figures(t, described.Table("axes", "", "f", {}))),
        ("[check]", {"kind": "crc-16", "crc": "no such"}, stated.check),
        ("[rules]", {}, lambda t: stated.rules(t, frozenset("xz"), Figures())),
    ],
)
def test_the_page_names_every_key_and_no_other(
    heading: str, values: dict[str, object], taken: Callable[[described.Table], object]
) -> None:
    table = described.Table(heading.strip("[]"), "", "f", values)
    taken(table)
    assert keys_of_the_page(heading) == table.taken


def test_the_page_names_every_alarm_that_a_line_can_lead_to() -> None:
    told = {code.value for code in Code} - {"line lost", "line back"}
    text = PAGE.read_text("utf-8").split("## What is said")[1]
    rows = re.findall(r"^\| ([a-z, ]+) \|", text, re.MULTILINE)
    assert {word for row in rows for word in row.split(", ")} == {"alarm"} | told


BINARY = """
id = "b"
[frame]
length = 6
[[field]]
name = "x"
at = 0
bytes = 4
scale_from = "scale"
[[field]]
name = "scale"
at = 4
bytes = 1
words = { "1" = "0.001", "0x02" = "0.0001" }
[check]
kind = "sum"
"""


@pytest.mark.parametrize(
    ("old", "new", "line", "told"),
    [
        ('scale_from = "scale"', 'scale_from = "step"', "scale_from", "name of a field"),
        ('name = "scale"', 'name = "x"', 'name = "x"', "another name"),
        ('name = "x"', 'name = "count"', 'name = "count"', "x, z or another"),
        ("bytes = 4", "bytes = 8", "at = 0", "within the frame"),
        ('words = { "1" = "0.001", "0x02" = "0.0001" }', "", "[[field]]", "what its numbers mean"),
        ('"0x02" = "0.0001"', '"two" = "0.0001"', "words", "numbers in quotes"),
        ('"0x02" = "0.0001"', '"2" = "small"', "words", "worth"),
        ('[check]\nkind = "sum"', "", "length", "a check"),
        ("length = 6", 'terminator = "\\r"\nheader = "#"', "[frame]", "between header and end"),
        ("length = 6", "length = 6\npause_ms = 5", "pause_ms", "nothing beside length"),
        ("bytes = 1", "bytes = 1\nmask = 0x100", "mask", "within its bytes"),
        ("bytes = 1", 'bytes = 1\norder = "swapped words"', "order", "16-bit"),
        ("[frame]\n", '[frame]\npattern = "X"\n', "pattern", "one of"),
    ],
)
def test_a_mistake_in_a_binary_layout_is_found_where_it_stands(
    old: str, new: str, line: str, told: str
) -> None:
    assert layout.parse(BINARY, "b.toml").channels == ("X",)
    text = BINARY.replace(old, new)
    assert text != BINARY
    with pytest.raises(InputError, match=told) as caught:
        layout.parse(text, "b.toml")
    rows = [n for n, row in enumerate(text.splitlines(), 1) if row.startswith(line)]
    places = {f"b.toml:{n}" for n in rows} | {f"b.toml {line}"}
    assert any(m.where in places for m in caught.value.mistakes), caught.value.mistakes


@pytest.mark.parametrize(
    ("frame", "told"),
    [
        (r"length = 7; pattern = '(?P<x>\d{7})'; [figures]; point = 'none'", "header"),
        (r"length = 9; pattern = 'X(?P<x>\d{7})'; [figures]; point = 'none'", "8 to 8"),
        (r"width = 4; pattern = 'X(?P<x>\d\.\d{3})'", "6 to 6"),
        (r"header = '1'; pattern = '(?P<x>\d{1,4}\.\d{3})'", "can't stand within"),
        (r"pattern = '(?P<x>\d\.\d{3})?'", "once in every line"),
        (r"pattern = '(?P<x>\d\.\d{3})'; [asks]; every_ms = 100", "ask for one reading"),
        (r"pattern = '(?P<x>\d\.\d{3})'; [figures]; decimals = [4, 3]", "number of places"),
        (r"pattern = '(?P<x>\d\.\d{3})'; [figures]; decimals = [4, 5]", "of 4,5 decimals"),
        (r"pattern = '(?P<x>\d{4})'; [figures]; point='none'; decimals = [3, 4]", "implied"),
        (r"pattern = '(?P<x>\d\.\d{3})'; [modbus]; first = 0; count = 2", "4, two bytes"),
    ],
)
def test_what_could_pass_as_another_figure_is_no_layout(frame: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        layout.parse(f"id = 'a'\n[frame]\n{frame}\n".replace("; ", "\n"), "a.toml")
