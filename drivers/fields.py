"""A frame's fields: its check, its figures as shown, its words. Pure; raises nothing.

What isn't right is handed back as a ``Wrong`` with words for a grinder, never as a figure.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from drivers import checksum
from drivers.layout import CHANNELS, FIGURE, Check, Field, Layout
from drivers.pattern import one_length
from inspect_rec.units import Unit


class Code(StrEnum):
    """Kinds of alarm."""

    CORRUPT = "corrupt"
    UNIT = "unit changed"
    MODE = "mode changed"
    FAULT = "fault word"
    IMPLAUSIBLE = "implausible"
    ZERO = "zero reset"
    SWAPPED = "swapped axes"
    COUNT = "lost count"
    DOUBLED = "doubled"
    SILENT = "silent"
    LOST = "line lost"
    BACK = "line back"


@dataclass(frozen=True, slots=True)
class Shown:
    """What a frame shows. ``figures``: (channel, figure as shown, without a negative nought);
    ``unit`` and ``mode`` where the frame says them itself."""

    figures: tuple[tuple[str, Decimal], ...]
    key: bool
    count: int | None = None
    unit: Unit | None = None
    mode: str | None = None


@dataclass(frozen=True, slots=True)
class Wrong:
    """Why a frame is no reading."""

    code: Code
    said: str


class Checked:
    """The check of a frame, worked out anew."""

    def __init__(self, check: Check) -> None:
        self._check = check
        size = 1 if check.kind != "crc-16" else 2
        self._size = size * (2 if check.as_ == "hex" else 1)

    def holds(self, whole: bytes) -> bool:
        """Whether the frame bears the check of its own bytes."""
        check, n = self._check, len(whole)
        at = check.at if check.at >= 0 else n + check.at
        stands = whole[at : at + self._size] if at >= 0 else b""
        if len(stands) != self._size:
            return False
        try:
            said = int(stands, 16) if check.as_ == "hex" else int.from_bytes(stands, self._order)
        except ValueError:
            return False
        return said == self.of(whole[slice(check.from_, check.to)])

    def of(self, data: bytes) -> int:
        """The check that these bytes ask for."""
        check = self._check
        if check.crc is not None:
            return check.crc.of(data)
        if check.kind == "xor":
            return checksum.xor(data) ^ check.start
        total = sum(data) + check.start
        return (-total if check.kind == "negated sum" else total) % check.modulus

    @property
    def _order(self) -> Literal["little", "big"]:
        return "little" if self._check.as_ == "low first" else "big"

    def written(self, value: int) -> bytes:
        """A check as it stands in a frame."""
        if self._check.as_ == "hex":
            return f"{value:0{self._size}X}".encode("ascii")
        return value.to_bytes(self._size, self._order)


class Fields:
    """Reads the frames of one layout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._checked = None if layout.check is None else Checked(layout.check)
        figures = layout.figures
        self._faults = figures.faults
        self._turn = _turned(figures.decimals, figures.point)
        self._plain = figures.point == "."
        names = layout.names
        self._one_axis = "axis" in names
        self._channels = tuple(
            (name, CHANNELS[name], f"{name}_sign" in names, f"{name}_doubled" in names)
            for name in CHANNELS
            if name in names
        )
        self._simple = self._plain and not any(s or d for _, _, s, d in self._channels)
        self._sign = "sign" in names
        self._words = tuple(
            name for name in ("unit", "mode", "counting", "status") if name in names
        )
        self._has_key, self._has_count = "key" in names, "count" in names
        self._on_key = layout.on_key
        self._binary = {each.name: each for each in layout.fields}
        self.one_length = layout.pattern is None or one_length(
            layout.pattern.pattern.decode("latin-1"), layout.frame.longest
        )
        """Whether all whole frames are of one length, so that half of one is never whole."""

    def read(self, whole: bytes, body: bytes) -> Shown | Wrong:
        """What a whole frame with that body shows."""
        for word in self._faults:
            if word in body:
                return _fault(word)
        if self._checked is not None and not self._checked.holds(whole):
            return Wrong(Code.CORRUPT, "a line whose check is wrong")
        if self._binary:
            return self._of_binary(whole)
        assert self._layout.pattern is not None  # noqa: S101 - a layout has the one or the other
        match = self._layout.pattern.fullmatch(body)
        if match is None:
            return Wrong(Code.CORRUPT, "a line that isn't of the layout")
        return self._of_text(match)

    # -- text ----------------------------------------------------------------------------

    def _of_text(self, match: re.Match[bytes]) -> Shown | Wrong:
        unit = mode = None
        if self._words:
            wrong = self._worded({name: match[name] for name in self._words})
            if wrong is not None:
                return wrong
            unit, mode = self._unit_of(match), self._mode_of(match)
        key = self._on_key or (self._has_key and match["key"] is not None)
        count = int(match["count"]) if self._has_count else None
        if self._one_axis:
            channel = self._layout.figures.axes.get(match["axis"])
            if channel is None:
                return Wrong(Code.CORRUPT, "a line of an axis that the layout doesn't name")
            value = self._figure(match[FIGURE], match["sign"] if self._sign else None)
            return Shown(((channel, value),), key, count, unit, mode)
        if self._simple:
            shown = []
            for name, channel, _, _ in self._channels:
                value = Decimal(match[name].decode())
                # A slide at nought from below shows -0.000.
                shown.append((channel, value or abs(value)))
            return Shown(tuple(shown), key, count, unit, mode)
        return self._several(match, Shown((), key, count, unit, mode))

    def _several(self, match: re.Match[bytes], head: Shown) -> Shown | Wrong:
        shown = []
        for name, channel, signed, doubled in self._channels:
            value = self._figure(match[name], match[f"{name}_sign"] if signed else None)
            if doubled and self._figure(match[f"{name}_doubled"], None) != 2 * value:
                return Wrong(Code.CORRUPT, f"two displays of {channel} that contradict each other")
            shown.append((channel, value))
        return Shown(tuple(shown), head.key, head.count, head.unit, head.mode)

    def _figure(self, text: bytes, sign: bytes | None) -> Decimal:
        value = self._turn(text)
        if sign is not None and sign == self._layout.figures.minus:
            value = -value
        return value or abs(value)

    def _unit_of(self, match: re.Match[bytes]) -> Unit | None:
        if "unit" not in self._words or match["unit"] is None:
            return None
        return self._layout.figures.unit_words.get(match["unit"])

    def _mode_of(self, match: re.Match[bytes]) -> str | None:
        if "mode" not in self._words or match["mode"] is None:
            return None
        return self._layout.figures.mode_words.get(match["mode"])

    def _worded(self, said: dict[str, bytes | None]) -> Wrong | None:
        """A unit, mode, counting or status other than the layout's; None said is nothing said."""
        figures = self._layout.figures
        status, unit = said.get("status"), said.get("unit")
        mode, counting = said.get("mode"), said.get("counting")
        if status is not None and status not in figures.good:
            return _fault(status)
        if unit is not None and figures.unit_words.get(unit) is not figures.unit:
            return _unit(figures.unit)
        if mode is not None and figures.mode_words.get(mode) != figures.mode:
            return _mode(f"in {figures.mode} mode")
        if counting is not None and figures.counting_words.get(counting) != "absolute":
            return _mode("counting absolute")
        return None

    # -- binary --------------------------------------------------------------------------

    def _of_binary(self, whole: bytes) -> Shown | Wrong:
        shown: list[tuple[str, Decimal]] = []
        said: dict[str, str] = {}
        count = None
        for name, each in self._binary.items():
            raw = whole[each.at : each.at + each.size]
            if len(raw) != each.size:
                return Wrong(Code.CORRUPT, "a frame that is too short for its fields")
            number = number_of(raw, each)
            if number is None:
                return Wrong(Code.CORRUPT, "digits that are none")
            if name in CHANNELS:
                value = Decimal(number) * each.scale
                shown.append((CHANNELS[name], value or abs(value)))
            elif name == "count":
                count = number
            elif (word := each.words.get(str(number).encode())) is not None:
                said[name] = word
            elif each.words:
                return Wrong(Code.CORRUPT, f"a word for {name} that the layout doesn't name")
        return self._said(said) or Shown(
            tuple(shown),
            self._on_key or said.get("key") == "key",
            count,
            Unit(said["unit"]) if "unit" in said else None,
            said.get("mode"),
        )

    def _said(self, said: dict[str, str]) -> Wrong | None:
        figures = self._layout.figures
        if said.get("status", "good") != "good":
            return _fault(said["status"].encode())
        if "unit" in said and Unit(said["unit"]) is not figures.unit:
            return _unit(figures.unit)
        if "mode" in said and said["mode"] != figures.mode:
            return _mode(f"in {figures.mode} mode")
        if said.get("counting", "absolute") != "absolute":
            return _mode("counting absolute")
        return None


def number_of(raw: bytes, each: Field) -> int | None:
    """The whole number of a binary field; None where its digits are none."""
    if each.as_ == "text":
        return int(raw) if raw.isdigit() else None
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


def _turned(decimals: int, point: str) -> Callable[[bytes], Decimal]:
    """How a figure's text becomes a number, exact."""
    if point == "none":
        return lambda text: Decimal(text.replace(b" ", b"").decode()).scaleb(-decimals)
    return lambda text: Decimal(text.replace(b",", b".").replace(b" ", b"").decode())


def _fault(word: bytes) -> Wrong:
    shown = word.decode("ascii", "backslashreplace")
    return Wrong(
        Code.FAULT,
        f"Readout says {shown!r} instead of a figure: look at it. Counts may be lost: sight the "
        "pin again",
    )


def _unit(unit: Unit) -> Wrong:
    word = {Unit.MM: "mm", Unit.INCH: "inch"}[unit]
    return Wrong(Code.UNIT, f"Readout is not in {word}: set it back. Nothing was converted")


def _mode(how: str) -> Wrong:
    return Wrong(Code.MODE, f"Readout is not {how}: set it back. Nothing was converted")
