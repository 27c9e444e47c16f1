"""Checks are found by kind, place and slice, among damaged frames, and never made up."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from drivers.checksum import CRC16, total
from drivers.fields import Checked
from drivers.learning import checks
from tests.drivers.learning.recordings import crc16, xor


def bodies(n: int = 30, seed: int = 1) -> list[bytes]:
    rng = random.Random(seed)
    return [b"$X%+08.3f Z%+08.3f" % (rng.uniform(-99, 99), rng.uniform(-99, 99)) for _ in range(n)]


KINDS: dict[str, Callable[[bytes], bytes]] = {
    "xor": lambda b: b"*%02X\r\n" % xor(b),
    "xor without its header": lambda b: b"*%02X\r\n" % xor(b[1:]),
    "sum": lambda b: b"%c\r\n" % total(b),
    "sum of seven bits": lambda b: b"%c\r\n" % (sum(b) % 128),
    "negated sum": lambda b: b"%02x\r\n" % total(b, negated=True),
    "xor with a start": lambda b: b"%c\r\n" % (xor(b) ^ 0x5A),
    "sum with a start": lambda b: b"%02X\r\n" % ((sum(b) + 77) % 256),
    "crc, low first": lambda b: crc16(b).to_bytes(2, "little") + b"\r\n",
    "crc, high first": lambda b: CRC16["xmodem"].of(b).to_bytes(2, "big") + b"\r\n",
    "crc in hex": lambda b: b"*%04X\r\n" % CRC16["x-25"].of(b),
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_check_is_found_that_holds_on_other_frames(kind: str) -> None:
    check = KINDS[kind]
    found = checks.find([b + check(b) for b in bodies()], 1, 2, (2, 3))
    assert found is not None
    assert found.held == found.of == 30
    checked = Checked(found.check)
    assert all(checked.holds(b + check(b)) for b in bodies(50, seed=2))
    assert not any(checked.holds(b.replace(b"Z", b"Y") + check(b)) for b in bodies(50, seed=3))


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_frames_dont_hide_it(kind: str) -> None:
    check = KINDS[kind]
    wholes = [b + check(b) for b in bodies(60)]
    for n in range(0, 60, 9):
        wholes[n] = wholes[n].replace(b"Z", b"3")
    found = checks.find(wholes * 2, 1, 2, (2, 3))
    assert found is not None
    assert Checked(found.check).holds(wholes[1])
    assert found.held < found.of


@pytest.mark.parametrize("seed", range(30))
def test_figures_without_a_check_have_none(seed: int) -> None:
    wholes = [b + b"\r\n" for b in bodies(40, seed)]
    assert checks.find(wholes, 1, 2, (2, 3), least=0.85) is None


def test_two_different_frames_prove_no_check() -> None:
    wholes = [b + KINDS["xor"](b) for b in bodies(2)] * 20
    assert checks.find(wholes, 1, 2, (2, 3)) is None


def test_a_byte_that_never_changes_is_no_check() -> None:
    wholes = [bytes([n, n ^ 0x55, 0x55]) for n in range(40)]
    assert checks.find(wholes, 0, 0, (0,)) is None


@pytest.mark.parametrize("name", CRC16)
def test_the_quick_crc_is_that_of_the_decoder(name: str) -> None:
    data = bodies(1)[0]
    assert checks._quick(CRC16[name], data) == CRC16[name].of(data)
