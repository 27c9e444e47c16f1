"""Binary frames: numbers at their places, and what they mean. Pure; raises nothing."""

from __future__ import annotations

import re
from decimal import Decimal

from drivers.layout import Layout
from drivers.parts import CHANNELS, Field
from drivers.shown import Code, Shown, Wrong, other


class Binary:
    """Reads the frames of one layout of binary fields."""

    def __init__(self, layout: Layout) -> None:
        self._fields, self._figures = layout.fields, layout.figures
        self._on_key = layout.on_key
        self._size = max(each.at + each.size for each in layout.fields)
        self._counts = range(self._figures.count_from, self._figures.count_to + 1)
        self._shown = tuple(each for each in layout.fields if each.name in CHANNELS)
        own = {"status": "good", "unit": self._figures.unit.value, "mode": self._figures.mode}
        self._own = own | {"counting": "absolute"}

    def read(self, whole: bytes) -> Shown | Wrong:
        """What a whole frame shows."""
        found = self._numbers(whole)
        if isinstance(found, Wrong):
            return found
        numbers, said = found
        count = numbers.get("count")
        if count is not None and count not in self._counts:
            return Wrong(Code.CORRUPT, "a number out of its range")
        for name, good in self._own.items():
            if said.get(name, good) != good:
                return other(self._figures, name, said[name].encode(), count)
        for each in self._shown:
            number = numbers[each.name]
            if numbers.get(f"{each.name}_doubled", 2 * number) != 2 * number:
                why = f"two displays of {CHANNELS[each.name]} that contradict each other"
                return Wrong(Code.CORRUPT, why, count)
        figures = tuple(
            (CHANNELS[each.name], _figure(each, numbers[each.name], said)) for each in self._shown
        )
        key = self._on_key or said.get("key") == "key"
        return Shown(figures, key, count, said.get("mode"), numbers.get("heartbeat"))

    def _numbers(self, whole: bytes) -> tuple[dict[str, int], dict[str, str]] | Wrong:
        """The number of each field, and what those mean that have a meaning."""
        if len(whole) < self._size:
            return Wrong(Code.CORRUPT, "a frame that is too short for its fields")
        numbers: dict[str, int] = {}
        said: dict[str, str] = {}
        for each in self._fields:
            number = number_of(whole[each.at : each.at + each.size], each)
            if number is None:
                return Wrong(Code.CORRUPT, "digits that are none")
            numbers[each.name] = number
            if each.words:
                if number not in each.words:
                    name = each.name
                    return Wrong(Code.CORRUPT, f"a word for {name} that the layout doesn't name")
                said[each.name] = each.words[number]
        return numbers, said


def _figure(each: Field, number: int, said: dict[str, str]) -> Decimal:
    value = Decimal(number) * each.scale
    if each.scale_from:
        value *= Decimal(said[each.scale_from])
    if said.get(f"{each.name}_sign") == "minus":
        value = -value
    return value or abs(value)


_SIGNED = re.compile(rb" *[+-]?[0-9]+")


def number_of(raw: bytes, each: Field) -> int | None:
    """The whole number of a binary field; None where its digits are none."""
    if each.as_ == "text":
        return int(raw) if _SIGNED.fullmatch(raw) else None
    if each.order == "little":
        raw = raw[::-1]
    elif each.order == "swapped words":
        words = [raw[n : n + 2] for n in range(0, len(raw), 2)]
        raw = b"".join(reversed(words))
    if each.as_ == "bcd":
        digits = raw.hex()
        return int(digits) if digits.isdigit() else None
    number, bits = int.from_bytes(raw, "big"), 8 * len(raw)
    if each.mask:
        return (number & each.mask) >> ((each.mask & -each.mask).bit_length() - 1)
    if each.as_ == "two's complement" and number >> (bits - 1):
        return number - (1 << bits)
    if each.as_ == "sign and magnitude" and number >> (bits - 1):
        return -(number & ((1 << (bits - 1)) - 1))
    return number
