"""A frame's fields: its check, its figures as shown, its words. Pure; raises nothing.

What isn't right is handed back as a ``Wrong`` with words for a grinder, never as a figure.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Literal

from drivers import checksum
from drivers.binary import Binary
from drivers.layout import Layout
from drivers.parts import CHANNELS, FIGURE, Check
from drivers.pattern import count_base
from drivers.shown import Code, Shown, Wrong, fault, other


class Checked:
    """The check of a frame, worked out anew."""

    def __init__(self, check: Check) -> None:
        self._check = check
        size = 2 if check.crc is not None or check.modulus > 256 else 1
        self._size = size * (2 if check.as_ == "hex" else 1)

    def holds(self, whole: bytes) -> bool:
        """Whether the frame bears the check of its own bytes."""
        check, n = self._check, len(whole)
        at = check.at if check.at >= 0 else n + check.at
        stands = whole[at : at + self._size] if at >= 0 else b""
        if len(stands) != self._size:
            return False
        if check.as_ == "hex" and not _HEX.fullmatch(stands):
            return False
        said = int(stands, 16) if check.as_ == "hex" else int.from_bytes(stands, self._order)
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


_HEX = re.compile(rb"[0-9A-Fa-f]+")
_ALIEN = "a line that isn't of the layout"


class Fields:
    """Reads the frames of one layout."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout
        self._checked = None if layout.check is None else Checked(layout.check)
        figures, names = layout.figures, layout.names
        faults = sorted(figures.faults, key=len, reverse=True)
        self._faults = re.compile(b"|".join(map(re.escape, faults))) if faults else None
        self._turn = _turned(figures.decimals, figures.point)
        self._axis = "axis" in names
        shown = (FIGURE,) if self._axis else tuple(n for n in CHANNELS if n in names)
        self._channels = tuple((n, CHANNELS.get(n, ""), _sign(n, names)) for n in shown)
        self._doubled = tuple(n for n in shown if f"{n}_doubled" in names)
        signed = any(sign for _, _, sign in self._channels)
        self._simple = figures.point == "." and not (self._axis or signed or self._doubled)
        places = None if layout.shape is None else layout.shape.places
        # Where the pattern lets in more decimals than the layout has, each figure is looked at.
        self._loose = places is not None and not (
            figures.fewest <= places[0] and places[1] <= figures.decimals
        )
        own: Mapping[str, set[bytes | None]] = {
            "unit": {w for w, unit in figures.unit_words.items() if unit is figures.unit},
            "mode": {w for w, mode in figures.mode_words.items() if mode == figures.mode},
            "counting": {w for w, how in figures.counting_words.items() if how == "absolute"},
            "status": set(figures.good),
        }
        index = {} if layout.pattern is None else layout.pattern.groupindex
        self._words = tuple((index[n], n, {None, *good}) for n, good in own.items() if n in index)
        self._plain = tuple((index.get(n, 0), channel) for n, channel, _ in self._channels)
        self._mode, self._own_mode = index.get("mode", 0), figures.mode
        self._key, self._has_count = index.get("key", 0), "count" in names
        self._base = 10 if layout.pattern is None else count_base(layout.pattern)
        self._on_key = layout.on_key
        self._counts = range(figures.count_from, figures.count_to + 1)
        alone = layout.shape is not None and not (layout.check or layout.frame.header)
        begins = layout.shape.begins if alone and layout.shape is not None else b""
        self._begins = re.compile(b"[" + re.escape(begins) + b"]") if begins else None
        self._binary = Binary(layout) if layout.fields else None

    def fault(self, data: bytes) -> Wrong | None:
        """The word for a fault that stands in these bytes."""
        found = None if self._faults is None else self._faults.search(data)
        return None if found is None else fault(found.group())

    def begins_within(self, body: bytes) -> int:
        """Where a whole line begins within one that is none, behind what is foreign to it; 0: where
        none does. The last sign that only begins lines must begin one that goes to the end."""
        if self._begins is None or self._layout.pattern is None:
            return 0
        at = max((found.start() for found in self._begins.finditer(body)), default=0)
        return at if at and self._layout.pattern.fullmatch(body, at) else 0

    def read(self, whole: bytes, body: bytes) -> Shown | Wrong:
        """What a whole frame with that body shows."""
        if self._faults is not None and self._binary is None and (wrong := self.fault(body)):
            return wrong
        if self._checked is not None and not self._checked.holds(whole):
            return Wrong(Code.CORRUPT, "a line whose check is wrong")
        if self._binary is not None:
            return self._binary.read(whole)
        assert self._layout.pattern is not None  # noqa: S101 - a layout has the one or the other
        match = self._layout.pattern.fullmatch(body)
        if match is None:
            return Wrong(Code.CORRUPT, _ALIEN)
        return self._of_text(match)

    def _of_text(self, match: re.Match[bytes]) -> Shown | Wrong:
        count = None
        if self._has_count:
            count = int(match["count"], self._base)
            if count not in self._counts:
                return Wrong(Code.CORRUPT, "a number out of its range")
        for index, name, good in self._words:
            if match[index] not in good:
                return self._worded(name, match[index], count)
        if self._simple:
            shown = []
            for index, channel in self._plain:
                value = Decimal(match[index].decode())
                # A slide at nought from below shows -0.000.
                shown.append((channel, value or abs(value)))
        else:
            shown = [
                (channel, self._figure(match[name], match[sign] if sign else None))
                for name, channel, sign in self._channels
            ]
        if (self._loose or not self._simple) and (wrong := self._looked_at(match, shown)):
            return Wrong(Code.CORRUPT, wrong, count)
        key = self._on_key or (self._key > 0 and match[self._key] is not None)
        mode = self._own_mode if self._mode and match[self._mode] is not None else None
        return Shown(tuple(shown), key, count, mode)

    def _figure(self, text: bytes, sign: bytes | None) -> Decimal:
        value = self._turn(text)
        if sign is not None and sign == self._layout.figures.minus:
            value = -value
        return value or abs(value)

    def _looked_at(self, match: re.Match[bytes], shown: list[tuple[str, Decimal]]) -> str:
        """What is wrong with figures that the pattern lets in, or nothing. Names their axis."""
        figures = self._layout.figures
        if self._loose:
            for _, value in shown:
                places = value.as_tuple().exponent
                if not isinstance(places, int) or not figures.fewest <= -places <= figures.decimals:
                    return f"a figure of {value.as_tuple().exponent} places"
        for name, _, sign in self._channels:
            if sign and match[sign] == figures.minus and match[name].lstrip()[:1] == b"-":
                return "a figure with two signs"
        for name in self._doubled:
            value = dict(shown)[CHANNELS[name]]
            if self._figure(match[f"{name}_doubled"], None) != 2 * value:
                return f"two displays of {CHANNELS[name]} that contradict each other"
        if self._axis:
            channel = figures.axes.get(match["axis"])
            if channel is None:
                return "a line of an axis that the layout doesn't name"
            shown[0] = channel, shown[0][1]
        return ""

    def _worded(self, name: str, word: bytes, count: int | None) -> Wrong:
        """What a word other than the layout's says."""
        figures = self._layout.figures
        meant: Mapping[str, Mapping[bytes, object]] = {
            "unit": figures.unit_words,
            "mode": figures.mode_words,
            "counting": figures.counting_words,
        }
        if name != "status" and word not in meant[name]:
            return Wrong(Code.CORRUPT, f"a word for {name} that the layout doesn't name", count)
        return other(figures, name, word, count)


def _sign(name: str, names: frozenset[str]) -> str:
    """The group of the sign that stands apart from a figure, or nothing."""
    sign = "sign" if name == FIGURE else f"{name}_sign"
    return sign if sign in names else ""


def _turned(decimals: int, point: str) -> Callable[[bytes], Decimal]:
    """How a figure's text becomes a number, exact."""
    if point == "none":
        return lambda text: Decimal(text.replace(b" ", b"").decode()).scaleb(-decimals)
    return lambda text: Decimal(text.replace(b",", b".").replace(b" ", b"").decode())
