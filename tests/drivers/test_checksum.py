"""Checks of a frame: published values, another route to each, and the errors that they find."""

from __future__ import annotations

import binascii
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import checksum
from drivers.checksum import CRC16, Crc16, named
from inspect_rec.errors import InputError
from tests.compute.published import cases

STX, ETX = 2, 3
DIGITS = b"123456789"

# Check values of the public catalogues of CRCs, from memory: of the ASCII digits 1 to 9.
CHECKS = {
    "arc": 0xBB3D,
    "modbus": 0x4B37,
    "usb": 0xB4C8,
    "umts": 0xFEE8,
    "xmodem": 0x31C3,
    "ibm-3740": 0x29B1,
    "genibus": 0xD64E,
    "kermit": 0x2189,
    "mcrf4xx": 0x6F91,
    "x-25": 0x906E,
    "dnp": 0xEA82,
    "en-13757": 0xC2B7,
}


def divided(crc: Crc16, data: bytes) -> int:
    """The remainder of one long division of polynomials over two elements, bit by bit, as a CRC is
    defined: the message times x^16, its first 16 bits inverted where ``initial`` says so."""
    bits = "".join(f"{byte:08b}"[:: -1 if crc.reflected_in else 1] for byte in data) + "0" * 16
    rest = int(bits, 2) ^ crc.initial << len(bits) - 16
    divisor = 1 << 16 | crc.polynomial
    while rest.bit_length() > 16:
        rest ^= divisor << rest.bit_length() - 17
    told = f"{rest:016b}"
    return int(told[::-1] if crc.reflected_out else told, 2) ^ crc.final_xor


def test_a_frame_with_its_exclusive_or_is_that_of_the_derived_case() -> None:
    case = cases()["xor-frame"]
    body = case["inputs"]["body_ascii"].encode()
    check = checksum.xor(body + bytes([ETX]))
    assert check == case["expect"]["check_byte"]["value"]
    frame = bytes([STX, *body, ETX, check])
    assert frame.hex() == case["expect"]["frame_hex"]["value"]


def test_both_published_check_values_come_out() -> None:
    case = cases()["crc16-check-values"]
    data = case["inputs"]["ascii_text"].encode()
    assert CRC16["modbus"].of(data) == case["expect"]["crc16_modbus"]["value"]
    assert CRC16["ibm-3740"].of(data) == case["expect"]["crc16_1021_ffff"]["value"]


@pytest.mark.parametrize("name", CRC16)
def test_each_named_crc_has_the_check_value_of_the_catalogues(name: str) -> None:
    assert CRC16[name].of(DIGITS) == CHECKS[name]


crcs = st.builds(
    Crc16,
    st.integers(0, 0x7FFF).map(lambda n: 2 * n + 1),
    st.integers(0, 0xFFFF),
    st.booleans(),
    st.booleans(),
    st.integers(0, 0xFFFF),
)


@given(crcs, st.binary(min_size=2, max_size=40))
def test_a_crc_is_the_remainder_of_a_division_of_polynomials(crc: Crc16, data: bytes) -> None:
    assert crc.of(data) == divided(crc, data)


@given(st.binary(max_size=60), st.integers(0, 0xFFFF))
def test_the_crc_of_1021_is_that_of_the_standard_library(data: bytes, start: int) -> None:
    assert Crc16(0x1021, start).of(data) == binascii.crc_hqx(data, start)


@given(st.binary(min_size=1, max_size=30))
def test_a_frame_and_its_own_crc_low_byte_first_leave_nothing_over(data: bytes) -> None:
    """So a receiver of Modbus checks a whole frame."""
    crc = CRC16["modbus"]
    assert crc.of(data + crc.of(data).to_bytes(2, "little")) == 0


@pytest.mark.parametrize("name", CRC16)
def test_any_one_or_two_wrong_bits_of_a_line_are_found(name: str) -> None:
    crc, line = CRC16[name], b"+031447+142318\x03"
    right = crc.of(line)
    number = int.from_bytes(line)
    wrong = [(n,) for n in range(8 * len(line))] + list(combinations(range(8 * len(line)), 2))
    for bits in wrong:
        changed = number ^ sum(1 << n for n in bits)
        assert crc.of(changed.to_bytes(len(line))) != right


def test_sums_keep_their_lowest_bits_and_a_negated_one_adds_up_to_nothing() -> None:
    """The redundancy check of a Modbus ASCII frame 01 03 00 00 00 0A is F2 (from memory)."""
    assert checksum.total(b"\xff\xff\x03") == 0x01
    assert checksum.total(b"\xff\xff\x03", 16) == 0x0201
    assert checksum.total(b"\xff" * 300, 32) == 300 * 255
    assert checksum.total(bytes.fromhex("01030000000a"), negated=True) == 0xF2
    assert checksum.total(b"", negated=True) == 0


@given(st.binary(max_size=50))
def test_a_byte_with_its_check_is_even(data: bytes) -> None:
    assert checksum.xor(data + bytes([checksum.xor(data)])) == 0
    assert checksum.total(data + bytes([checksum.total(data, negated=True)])) == 0


def test_what_is_no_sum_and_no_crc_is_refused() -> None:
    with pytest.raises(InputError, match="8, 16 or 32"):
        checksum.total(b"a", 7)
    with pytest.raises(InputError, match=r"initial of a CRC-16.*0x10000"):
        Crc16(0x1021, 0x10000)
    with pytest.raises(InputError, match="final xor"):
        Crc16(0x1021, final_xor=-1)
    with pytest.raises(InputError, match="odd"):
        Crc16(0x8408)


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("CRC-16/CCITT-FALSE", "ibm-3740"),
        ("ccitt-false", "ibm-3740"),
        ("KERMIT", "kermit"),
        ("Crc-16/Modbus", "modbus"),
    ],
)
def test_a_crc_is_known_by_each_of_its_names(said: str, name: str) -> None:
    assert named(said) is CRC16[name]
    assert named(f"{said}s") is None
