"""Fields of frames, text and binary: exact figures, words, checks; what isn't right is said."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.binary import number_of
from drivers.fields import Checked, Fields
from drivers.layout import parse
from drivers.parts import Check, Field
from drivers.shown import Code, Shown, Wrong


def fields(text: str) -> Fields:
    return Fields(parse(f'id = "f"\n{text}', "f.toml"))


def read(text: str, line: bytes) -> Shown | Wrong:
    return fields(text).read(line + b"\r\n", line)


def figures(text: str, line: bytes) -> dict[str, str]:
    shown = read(text, line)
    assert isinstance(shown, Shown), shown
    return {channel: str(value) for channel, value in shown.figures}


MARKED = r"""[frame]
pattern = '(?P<x>\d{1,4},\d{2})(?P<x_sign>[+-]) (?P<z_sign>[+ -])(?P<z>\d{1,4},\d{2})'
[figures]
decimals = 2
point = ","
"""


def test_signs_may_stand_before_or_behind_and_blanks_are_no_digits() -> None:
    assert figures(MARKED, b"1,50- -2,25") == {"X": "-1.50", "Z": "-2.25"}
    assert figures(MARKED, b"1,50+  2,25") == {"X": "1.50", "Z": "2.25"}
    assert figures(MARKED, b"0,00- -0,00") == {"X": "0.00", "Z": "0.00"}


def test_a_minus_of_its_own_is_the_layouts() -> None:
    text = MARKED.replace("decimals = 2", 'decimals = 2\nminus = " "')
    assert figures(text, b"1,50-  2,25") == {"X": "1.50", "Z": "-2.25"}


def test_a_figure_with_two_signs_is_no_figure() -> None:
    twice = MARKED.replace(r"(?P<x>\d", r"(?P<x>-?\d")
    assert figures(twice, b"-1,50+  2,25") == {"X": "-1.50", "Z": "2.25"}
    wrong = read(twice, b"-1,50-  2,25")
    assert isinstance(wrong, Wrong)
    assert wrong.code is Code.CORRUPT


VARYING = r"""[frame]
pattern = 'X(?P<x>-?\d{1,4}\.\d{2,5})(?P<unit>mm|in)?'
[figures]
decimals = [3, 4]
unit_words = { "mm" = "mm", "in" = "in" }
"""


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (b"X1.234", "1.234"),
        (b"X1.2340mm", "1.2340"),
        (b"X1.23", Code.CORRUPT),
        (b"X1.23450mm", Code.CORRUPT),
        (b"X1.23450in", Code.UNIT),
        (b"X1.234in", Code.UNIT),
    ],
)
def test_decimals_beyond_the_layouts_are_let_in_and_refused(line: bytes, said: object) -> None:
    shown = read(VARYING, line)
    assert (shown.code if isinstance(shown, Wrong) else str(shown.figures[0][1])) == said


@given(st.integers(-(10**7), 10**7))
def test_implied_decimals_are_exact(steps: int) -> None:
    text = "[frame]\npattern = '(?P<x>[+-]\\d{1,8})'\n[figures]\npoint = 'none'\ndecimals = 4\n"
    shown = read(text, f"{steps:+d}".encode())
    assert isinstance(shown, Shown)
    assert shown.figures[0][1].as_tuple() == (Decimal(steps) * Decimal("0.0001")).as_tuple()


COUNTED = r"""[frame]
pattern = '(?P<count>\d{1,3}) (?P<x>\d\.\d{3})(?P<status>OK|NO)'
[figures]
good = ["OK"]
count_from = 1
count_to = 200
"""


def test_a_counter_out_of_its_range_is_no_number() -> None:
    assert isinstance(read(COUNTED, b"200 1.234OK"), Shown)
    for line in (b"201 1.234OK", b"0 1.234OK"):
        wrong = read(COUNTED, line)
        assert isinstance(wrong, Wrong)
        assert wrong.code is Code.CORRUPT


def test_what_is_no_reading_is_counted_all_the_same() -> None:
    wrong = read(COUNTED, b"17 1.234NO")
    assert isinstance(wrong, Wrong)
    assert (wrong.code, wrong.count) == (Code.FAULT, 17)


NUMBER = Field("x", 0, 4)


@pytest.mark.parametrize(
    ("order", "as_", "raw", "number"),
    [
        ("big", "two's complement", "ffffff85", -123),
        ("little", "two's complement", "85ffffff", -123),
        ("swapped words", "two's complement", "ff85ffff", -123),
        ("big", "unsigned", "ffffff85", 4294967173),
        ("big", "sign and magnitude", "8000007b", -123),
        ("big", "sign and magnitude", "80000000", 0),
        ("big", "bcd", "00031447", 31447),
        ("little", "bcd", "47140300", 31447),
        ("big", "bcd", "0003144a", None),
        ("big", "text", b"-123".hex(), -123),
        ("big", "text", b" 123".hex(), 123),
        ("big", "text", b"12 3".hex(), None),
        ("big", "text", b"1_23".hex(), None),
    ],
)
def test_binary_numbers_are_read_as_they_are_written(
    order: str, as_: str, raw: str, number: int | None
) -> None:
    assert number_of(bytes.fromhex(raw), Field("x", 0, 4, order, as_)) == number


def test_a_mask_takes_its_bits_and_shifts_them_down() -> None:
    assert number_of(b"\xa5", Field("unit", 0, 1, mask=0x30)) == 2


STATUS = """
[frame]
length = 7
[[field]]
name = "x"
at = 0
bytes = 2
scale = "0.01"
[[field]]
name = "x_sign"
at = 2
bytes = 1
words = { "0x2B" = "plus", "0x2D" = "minus" }
[[field]]
name = "x_doubled"
at = 3
bytes = 2
[[field]]
name = "status"
at = 5
bytes = 1
words = { "0" = "good", "1" = "fault" }
[check]
kind = "sum"
"""


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("000a2b001400", "0.10"),
        ("000a2d001400", "-0.10"),
        ("00002d000000", "0.00"),
        ("000a2b001500", Code.CORRUPT),
        ("000a20001400", Code.CORRUPT),
        ("000a2b001401", Code.FAULT),
        ("000a2b001402", Code.CORRUPT),
    ],
)
def test_binary_signs_displays_and_states_are_looked_at(body: str, said: object) -> None:
    data = bytes.fromhex(body)
    data += bytes([sum(data) % 256])
    shown = fields(STATUS).read(data, data)
    assert (shown.code if isinstance(shown, Wrong) else str(shown.figures[0][1])) == said


@pytest.mark.parametrize(
    ("check", "value", "written"),
    [
        (Check("xor"), 0x41, b"A"),
        (Check("sum", as_="hex"), 0x4F, b"4F"),
        (Check("sum", modulus=65536, as_="low first"), 0x1234, b"\x34\x12"),
        (Check("sum", modulus=65536, as_="hex"), 0x1234, b"1234"),
    ],
)
def test_a_check_is_written_as_it_is_read(check: Check, value: int, written: bytes) -> None:
    assert Checked(check).written(value) == written


@given(st.binary(min_size=3, max_size=20), st.sampled_from(["byte", "hex"]))
def test_a_frame_with_its_own_check_holds_and_with_another_doesnt(data: bytes, as_: str) -> None:
    at = -2 if as_ == "hex" else -1
    checked = Checked(Check("negated sum", to=at, at=at, as_=as_))
    right = checked.written(checked.of(data))
    assert checked.holds(data + right)
    assert checked.holds(data + right.lower()) or as_ == "byte"
    other = checked.written((checked.of(data) + 1) % 256)
    assert not checked.holds(data + other)


@pytest.mark.parametrize("stands", [b"+f", b" f", b"0x", b"_f", b"f", b""])
def test_a_check_in_hex_is_two_digits_and_nothing_else(stands: bytes) -> None:
    assert not Checked(Check("xor", to=-2, at=-2, as_="hex")).holds(b"\x0f" + stands)


@pytest.mark.parametrize(("digits", "said"), [("[0-9A-F]{2}", b"1F"), ("[0-9a-f]{2}", b"1f")])
def test_a_counter_may_be_hexadecimal(digits: str, said: bytes) -> None:
    text = rf"""[frame]
pattern = '(?P<count>{digits}) X(?P<x>\d\.\d{{3}})'
[figures]
count_to = 255
"""
    shown = read(text, said + b" X1.000")
    assert isinstance(shown, Shown)
    assert shown.count == 31
    assert isinstance(read(text, b"1G X1.000"), Wrong)
