"""How figures are written is seen from what came, and lets in what a slide may show next."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from drivers.decoder import Alarm, Code, Decoder
from drivers.learning import ports
from drivers.learning.figures import counts, wraps
from drivers.learning.frames import framings, named
from drivers.learning.hexadecimal import plain
from drivers.learning.learn import learn
from drivers.learning.line import escaped, quoted
from drivers.learning.recording import Recording, moves, read
from drivers.learning.text import analyse, points
from drivers.parts import Port


def pattern(*bodies: bytes) -> re.Pattern[bytes]:
    text = analyse(bodies, points(bodies)[0])
    assert text is not None
    (figure,) = text.figures
    return re.compile(figure.pattern("x", "x_sign").encode())


@pytest.mark.parametrize(
    ("seen", "let_in", "kept_out"),
    [
        ([b"31.447", b"41.447"], [b"-31.447", b"1142.318", b"0.000"], [b"31.4470", b"+3.000"]),
        ([b"+31.447", b"-1.447"], [b"+142.318"], [b"31.447", b"+-1.447"]),
        ([b"0031.447", b"0041.447"], [b"0142.318"], [b"31.447", b"00031.447"]),
        ([b"   31.447", b"  131.447"], [b"    1.447", b"  -31.447"], [b"31.447 ", b"31,447"]),
        ([b" 0031.447", b"-0031.447"], [b" 0001.447"], [b"0031.447"]),
        ([b"0031.447-", b"0031.447 "], [b"0000.447-"], [b"-0031.447", b"0031.447"]),
        ([b"-  31.447", b"    1.447"], [b"    0.447", b"- 131.447"], [b"--31.447"]),
        ([b".447", b"-.447"], [b"1.447"], [b"447"]),
        ([b"031447", b"041447"], [b"999999"], [b"31447", b"0314470"]),
    ],
)
def test_a_pattern_lets_in_figures_written_so_and_no_others(
    seen: list[bytes], let_in: list[bytes], kept_out: list[bytes]
) -> None:
    made = pattern(*seen)
    for text in [*seen, *let_in]:
        assert made.fullmatch(text), (made.pattern, text)
    for text in kept_out:
        assert made.fullmatch(text) is None, (made.pattern, text)


@pytest.mark.parametrize(
    ("values", "is_one"),
    [
        ([1, 2, 3, 4], True),
        ([97, 98, 99, 0, 1], True),
        ([7, 8, 10, 11, 12, 13, 14], True),
        ([9687, 9688, 9289, 9690, 9691, 9692, 9693, 9694], True),
        ([5, 5, 5, 5], False),
        ([31447, 31448, 31447, 31448], False),
        ([1, 101, 201, 301], False),
    ],
)
def test_a_counter_goes_on_by_one(values: list[int], is_one: bool) -> None:
    assert counts(values) is is_one


def test_where_a_counter_starts_anew_is_where_it_was_highest() -> None:
    assert wraps([97, 98, 99, 0, 1], range(5)) == (0, 99)
    assert wraps([97, 98, 99, 1, 2], range(5)) == (1, 99)
    assert wraps([97, 98, 99, 1, 2], [0, 1, 2, 4, 5]) == (0, 99)
    assert wraps([97, 98, 1, 100, 101], range(5)) is None
    assert wraps([1, 2, 3], range(3)) is None


@pytest.mark.parametrize(
    ("data", "terminator", "trailer"),
    [
        (b"X1.0\r\nX2.0\r\nX3.0\r\n", b"\r\n", 0),
        (b"X1.0\n\rX2.0\n\rX3.0\n\r", b"\n\r", 0),
        (b"X1.0;X2.0;X3.0;", b";", 0),
        (b"1.0 2.0 3.0 4.0 ", b" ", 0),
        (b"\x02X1.0\x03\r\n\x02X2.0\x03\r\n\x02X3.0\x03\r\n", b"\x03\r\n", 0),
        (b"1.0\t2.0\r1.0\t3.0\r1.0\t4.0\r", b"\r", 0),
    ],
)
def test_the_longest_terminator_goes_before_its_parts(
    data: bytes, terminator: bytes, trailer: int
) -> None:
    first = next(f for f in framings(Recording(data, (len(data),))) if not f.checked)
    assert (first.terminator, first.trailer) == (terminator, trailer)


def test_bytes_are_written_so_that_a_person_and_a_pattern_read_them() -> None:
    assert named(b"\x02X \r\n\xff") == "STX X blank CR LF 0xFF"
    assert escaped(b"a.b*\x09\xff") == r"a\.b\*\x09\xff"
    assert quoted('"\\\r\xff') == '"\\"\\\\\\u000D\xff"'


def test_settings_of_a_plug_are_judged_by_the_text_that_they_give() -> None:
    good, bad = b"X31.447 Z142.318\r\n" * 4, bytes(range(128, 255))
    assert ports.enough(good)
    assert not ports.enough(bad)
    port, said = ports.best([(Port(4800), bad), (Port(9600), good)])
    assert port == Port(9600)
    assert "settings tried: 2" in said
    assert {(p.baud, p.bytesize) for p in ports.usual()} >= {(9600, 8), (9600, 7), (115200, 8)}


def test_parity_in_the_highest_bit_names_the_settings() -> None:
    text = b"X31.447 Z142.318\r\n" * 4
    even = bytes(b | 0x80 if b.bit_count() % 2 else b for b in text)
    assert ports.with_parity(Port(4800), even) == Port(4800, 7, "E")
    assert ports.with_parity(Port(4800), text) is None


@pytest.mark.parametrize(("first", "form"), [(0x3C5FA, "05X"), (0xF6, "02X"), (0x1FB, "04x")])
def test_a_counter_in_hexadecimal_is_known_and_goes_on(first: int, form: str) -> None:
    wide = int(form[:2])
    numbers = [(first + n) % 16**wide for n in range(30)]
    xs = [31.447] * 10 + [31.447 + n for n in range(1, 10)] + [41.447] * 11
    rows = [f"N {n:{form}} X{x:.3f} Z142.318\r\n" for n, x in zip(numbers, xs, strict=True)]
    rows[7] = rows[7].replace("31", "3?")
    layout = learn(read("".join(rows).encode(), "a"), moves(["X=+10mm"])).layout
    assert layout.figures.count_to == 16**wide - 1
    decoder, at = Decoder(layout, "RO-1"), datetime(2026, 11, 17, tzinfo=UTC)
    then = [f"N {n:{form}} X41.447 Z142.318\r\n" for n in (0x9E, 0x9F, 0xA0, 0xA3)]
    items = decoder.feed("".join(then).encode(), at)
    sightings = [item for item in items if not isinstance(item, Alarm)]
    assert [s.count for s in sightings] == [0x9E, 0x9F, 0xA0, 0xA3]
    assert [item.code for item in items if isinstance(item, Alarm)] == [Code.COUNT]


def test_a_sum_in_hexadecimal_is_no_counter() -> None:
    assert plain([b"X1.000 %02X" % (37 * n % 256) for n in range(20)]).digits == ""
    assert plain([b"X1.000 %02d" % n for n in range(20)]).digits == ""
