"""A layout is data; what is wrong in it is said at once, with its line."""

from __future__ import annotations

from decimal import Decimal
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import layout
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
    assert found.port == layout.Port(9600, 8, "N", 1)
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
