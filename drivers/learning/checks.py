"""Which check a frame carries: xor, sums, CRC-16, where it stands and what it covers. Pure.

A check is believed when it holds on every frame that looks whole, and frames differ enough that
chance can't do it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import product

from drivers.checksum import CRC16, Crc16, reflected
from drivers.fields import Checked
from drivers.parts import Check

_HEX = re.compile(rb"[0-9A-Fa-f]{4}")
_SAMPLE = 24
_FEWEST = 3
"""Different frames on which a check must hold; two give a chance of 1 to 300 with so many kinds."""
_DIFFERENT = 0.6
"""Of the different frames hold: each damaged one differs from all others."""
_BETTER = 0.05
_START = 5
"""Different frames for a check with a start value of its own: it explains one of them by itself."""


@dataclass(frozen=True, slots=True)
class Found:
    """A check that holds: ``at`` and ``size`` from the end of the whole frame."""

    check: Check
    size: int
    held: int
    of: int

    @property
    def said(self) -> str:
        """Kind and place in words."""
        check = self.check
        kind = {"xor": "exclusive or", "sum": "sum", "negated sum": "negated sum"}.get(check.kind)
        if kind is None:
            kind = "CRC-16"
        to = "the end" if check.to == 0 else f"byte {check.to}"
        return f"{kind} of bytes {check.from_} up to {to}, as {check.as_} at {check.at}"


def find(
    wholes: Sequence[bytes],
    header: int,
    tail: int,
    spots: Sequence[int],
    starts: Sequence[bool] = (False, True),
    least: float = 0.75,
) -> Found | None:
    """The check of these frames; None where none holds.

    ``header`` and ``tail``: bytes that every frame begins and ends with (a terminator with what
    is behind it); ``spots``: how many bytes may stand behind the check; ``starts``: with start
    values of their own, or without; ``least``: share of the frames that must hold.
    """
    known = Counter(wholes)
    if len(known) < _FEWEST:
        return None
    different = [whole for whole, _ in known.most_common()]
    if len(different) < _START:
        starts = [start for start in starts if not start]
    step = max(1, len(different) // _SAMPLE)
    some = different[::step][:_SAMPLE]
    best: Found | None = None
    # One of these three is no damaged one; the commonest is it nearly always.
    probes = dict.fromkeys((some[0], some[len(some) // 2], some[-1]))
    for behind, probe in product(spots, probes):
        for check, size in _kinds(behind, header, tail, probe, starts):
            if not _holds(check, probe, some) or not _varies(some, behind, size):
                continue
            checked = Checked(check)
            held = sum(n for whole, n in known.items() if checked.holds(whole))
            if held == len(wholes):
                return Found(check, size, held, held)
            # One that covers less forgives damage; it must do much better to go before.
            beats = 0 if best is None else best.held + _BETTER * len(wholes)
            if held >= max(least * len(wholes), beats):
                best = Found(check, size, held, len(wholes))
    return best


def _varies(wholes: Sequence[bytes], behind: int, size: int) -> bool:
    """A check that is always the same is none."""
    seen = {whole[len(whole) - behind - size : len(whole) - behind] for whole in wholes}
    return len(seen) >= min(_FEWEST, len(wholes))


def _holds(check: Check, probe: bytes, wholes: Sequence[bytes]) -> bool:
    """Whether it holds on one frame, and on most others."""
    checked, wrong = Checked(check), 0
    if not checked.holds(probe):
        return False
    most = min(int((1 - _DIFFERENT) * len(wholes)), len(wholes) - _FEWEST)
    for whole in wholes:
        wrong += not checked.holds(whole)
        if wrong > most:
            return False
    return True


def _kinds(
    behind: int, header: int, tail: int, probe: bytes, starts: Sequence[bool]
) -> Iterator[tuple[Check, int]]:
    """Every check that may stand there, the usual ones first, with its bytes; sums of two bytes
    before their own lower half."""
    for size, as_ in ((2, "high first"), (2, "low first"), (4, "hex")):
        for from_, to in _slices(behind + size, header, tail):
            wide = Check("sum", from_, to, -behind - size, as_, modulus=65536)
            yield wide, size
            yield replace(wide, kind="negated sum"), size
    for start in starts:
        for size, as_ in ((1, "byte"), (2, "hex")):
            for from_, to in _slices(behind + size, header, tail):
                check = Check("xor", from_, to, -behind - size, as_)
                for kind, modulus in (
                    ("xor", 256),
                    ("sum", 256),
                    ("negated sum", 256),
                    ("sum", 128),
                ):
                    each = replace(check, kind=kind, modulus=modulus)
                    yield (_started(each, size, probe) if start else each), size
        if start:
            continue
        for size, as_ in ((2, "low first"), (4, "hex")):
            for from_, to in _slices(behind + size, header, tail):
                yield from _crcs(Check("crc-16", from_, to, -behind - size, as_), size, probe)


def _crcs(check: Check, size: int, whole: bytes) -> Iterator[tuple[Check, int]]:
    """The CRCs that hold on one frame: few are left to be tried on the others."""
    stands = whole[len(whole) + check.at :][:size]
    if len(stands) != size or (size == 4 and not _HEX.fullmatch(stands)):
        return
    low = int(stands, 16) if size == 4 else int.from_bytes(stands, "little")
    high = low if size == 4 else int.from_bytes(stands, "big")
    data = whole[slice(check.from_, check.to)]
    for crc in CRC16.values():
        value = _quick(crc, data)
        if value == low:
            yield replace(check, crc=crc), size
        elif value == high:
            yield replace(check, crc=crc, as_="high first"), size


def _quick(crc: Crc16, data: bytes) -> int:
    """The same as ``Crc16.of``, by table, of one whose bytes go in and out in one order."""
    found, table = crc.initial, _table(crc.polynomial, crc.reflected_in)
    if crc.reflected_in:
        found = reflected(found, 16)
        for byte in data:
            found = found >> 8 ^ table[(found ^ byte) & 0xFF]
    else:
        for byte in data:
            found = (found << 8 & 0xFFFF) ^ table[found >> 8 ^ byte]
    return found ^ crc.final_xor


@cache
def _table(polynomial: int, turned: bool) -> tuple[int, ...]:  # noqa: FBT001 - a key of the cache
    plain = Crc16(polynomial, 0, turned, turned)
    return tuple(plain.of(bytes([n])) for n in range(256))


def _slices(at: int, header: int, tail: int) -> Iterator[tuple[int, int]]:
    """Bytes that a check at ``-at`` may cover: with the header or without, and with what stands
    before it (a mark, or the terminator where it stands behind that) or without."""
    froms = dict.fromkeys((0, header, 1))
    # A check behind the terminator covers it, or not.
    tos = dict.fromkeys((-at, -at - 1, -tail if tail > at - 1 else -at))
    for from_ in froms:
        for to in tos:
            yield from_, to


def _started(check: Check, size: int, whole: bytes) -> Check:
    """The check with the start value that explains one frame."""
    stands = whole[len(whole) + check.at :][:size]
    try:
        said = int(stands, 16) if check.as_ == "hex" else int.from_bytes(stands, "big")
    except ValueError:
        return check
    without = Checked(check).of(whole[slice(check.from_, check.to)])
    if check.kind == "xor":
        return replace(check, start=said ^ without)
    by = said - without
    return replace(check, start=(-by if check.kind == "negated sum" else by) % check.modulus)


def toml(check: Check) -> list[str]:
    """The lines of the table ``[check]``."""
    crc = check.crc
    lines = [
        f'kind = "{check.kind}"',
        f"from = {check.from_}",
        f"to = {check.to}",
        f"at = {check.at}",
        f'as = "{check.as_}"',
    ]
    if crc is None:
        if check.start:
            lines.append(f"start = {check.start}")
        if check.kind != "xor":
            lines.append(f"modulus = {check.modulus}")
        return lines
    return [
        *lines,
        f"polynomial = 0x{crc.polynomial:04X}",
        f"start = 0x{crc.initial:04X}",
        f"reflected = {str(crc.reflected_in).lower()}",
        f"final = 0x{crc.final_xor:04X}",
    ]
