"""Binary frames from figures: the inverse of ``drivers.binary``. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import product

from drivers.layout import Layout
from drivers.parts import CHANNELS, Field
from inspect_rec.errors import ReadoutError

_SPARE = 9
"""Bytes that may stand between the last field and a terminator: the largest check and one."""


@dataclass(frozen=True, slots=True)
class Meant:
    """What the fields that are no figures are to say. ``words``: name -> meaning."""

    words: Mapping[str, str]
    count: int
    beat: int


class _DoesNotFit(Exception):  # noqa: N818 - never leaves this module
    """A number that its field has no room for."""


def contents(layout: Layout, figures: Mapping[str, Decimal], meant: Meant) -> Iterator[bytes]:
    """Header and fields of frames that may say it, without terminator, trailer and check."""
    frame, fields = layout.frame, layout.fields
    least = max(len(frame.header), *(each.at + each.size for each in fields))
    sizes = (frame.length,) if frame.length else tuple(range(least, least + _SPARE))
    steps = [each for each in fields if each.name == "scale"]
    # A readout shows its finest step as long as there is room.
    for worth in product(*(sorted(each.words.items(), key=_worth) for each in steps)):
        scales = {each.name: step for each, (_, step) in zip(steps, worth, strict=True)}
        numbers = {each.name: number for each, (number, _) in zip(steps, worth, strict=True)}
        try:
            for each in fields:
                if each.name in CHANNELS:
                    _figure(each, figures, scales, layout.names, numbers)
            content = bytearray(max(sizes))
            content[: len(frame.header)] = frame.header
            for each in fields:
                _put(content, each, _number(each, numbers, meant, layout))
        except _DoesNotFit:
            continue
        yield from (bytes(content[:size]) for size in sizes)


def _worth(step: tuple[int, str]) -> Decimal:
    return Decimal(step[1])


def _figure(
    each: Field,
    figures: Mapping[str, Decimal],
    scales: Mapping[str, str],
    names: frozenset[str],
    numbers: dict[str, int],
) -> None:
    """The number of a figure, of its sign and of its second display."""
    value = figures[CHANNELS[each.name]]
    step = each.scale * Decimal(scales[each.scale_from] if each.scale_from else 1)
    sign = f"{each.name}_sign"
    number = (abs(value) if sign in names else value) / step
    if number != number.to_integral_value():
        raise _DoesNotFit
    numbers[each.name] = int(number)
    numbers[f"{each.name}_doubled"] = 2 * int(number)
    numbers[sign] = -1 if value < 0 else 1


def _number(each: Field, numbers: Mapping[str, int], meant: Meant, layout: Layout) -> int:
    """What a field is to hold."""
    if each.name.endswith("_sign"):
        return _word(each, "minus" if numbers[each.name] < 0 else "plus")
    whole = {"count": meant.count, "heartbeat": meant.beat % _room(each), **numbers}
    if each.name in whole or not each.words:
        return whole.get(each.name, 0)
    if each.name == "key" and layout.on_key:
        return next(iter(each.words))
    own = {"unit": layout.figures.unit.value, "mode": layout.figures.mode, "counting": "absolute"}
    return _word(each, {"fixed": "good", **own, **meant.words}[each.name])


def _room(each: Field) -> int:
    """How many numbers from 0 on a field holds, a sign left out."""
    if each.as_ in ("bcd", "text"):
        return int(10 ** (each.size * (2 if each.as_ == "bcd" else 1)))
    if each.mask:
        return int(each.mask >> _shift(each.mask)) + 1
    return int(1 << 8 * each.size - (0 if each.as_ == "unsigned" else 1))


def _word(each: Field, meaning: str) -> int:
    for number, word in each.words.items():
        if word == meaning:
            return number
    raise _DoesNotFit


def _shift(mask: int) -> int:
    return (mask & -mask).bit_length() - 1


def _put(content: bytearray, each: Field, number: int) -> None:
    """A number at its place; fields that share bytes have bits of their own."""
    raw = _raw(number, each)
    for n, byte in enumerate(raw, each.at):
        content[n] = content[n] | byte if each.mask else byte


def _raw(number: int, each: Field) -> bytes:
    if each.as_ == "text":
        return _held(f"{number:0{each.size}d}".encode(), each)
    raw = _big(number, each)
    if each.order == "little":
        return raw[::-1]
    if each.order == "swapped words":
        return b"".join(reversed([raw[n : n + 2] for n in range(0, len(raw), 2)]))
    return raw


def _big(number: int, each: Field) -> bytes:
    """Its bytes, the highest first."""
    if each.as_ == "bcd":
        if number < 0:
            raise _DoesNotFit
        digits = f"{number:0{2 * each.size}d}"
        return bytes.fromhex(digits) if len(digits) == 2 * each.size else _held(b"", each)
    if each.mask:
        placed = number << _shift(each.mask)
        if number < 0 or placed & ~each.mask:
            raise _DoesNotFit
        return placed.to_bytes(each.size, "big")
    signed = each.as_ == "two's complement"
    if each.as_ == "sign and magnitude" and number < 0:
        if -number >= _room(each):
            raise _DoesNotFit
        number = -number | 1 << 8 * each.size - 1
    elif each.as_ == "sign and magnitude" and number >= _room(each):
        raise _DoesNotFit
    try:
        return number.to_bytes(each.size, "big", signed=signed)
    except OverflowError:
        raise _DoesNotFit from None


def _held(raw: bytes, each: Field) -> bytes:
    if len(raw) != each.size:
        raise _DoesNotFit
    return raw


_DARK = {"bcd": b"\xff", "text": b" "}
"""Bytes that stand in the place of digits; every other byte of a number is a number."""


def bright(layout: Layout, name: str) -> bool:
    """Whether a figure can't be blanked, since whatever stands in its place is a figure."""
    return any(each.name == name and each.as_ not in _DARK for each in layout.fields)


def darken(content: bytearray, layout: Layout, channels: frozenset[str]) -> None:
    """Blank these figures. Raises ReadoutError where every byte would be a figure."""
    for each in layout.fields:
        if CHANNELS.get(each.name) in channels:
            if each.as_ not in _DARK:
                raise ReadoutError(
                    "the simulated readout can't blank this figure",
                    expected='a field as "bcd" or "text", or a line of text',
                    found=f"{each.name} as {each.as_!r}, layout {layout.id}",
                )
            content[each.at : each.at + each.size] = _DARK[each.as_] * each.size
