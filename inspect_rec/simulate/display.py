"""A readout as it stands on a machine: slides, zeros, unit, mode, counter, key, faults; its bytes.

Everything is drawn from one seed and instants come in (seconds of any clock), so that the same
acts give the same bytes. Pure: no port, no clock. Never part of a measurement.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import ROUND_HALF_EVEN, Decimal

from drivers.layout import Layout
from drivers.parts import CHANNELS
from inspect_rec.errors import InputError, InspectRecError, ReadoutError
from inspect_rec.simulate import faults
from inspect_rec.simulate.faults import other_parity
from inspect_rec.simulate.registers import Device
from inspect_rec.simulate.slides import Slide
from inspect_rec.simulate.speaking import Said, Speaker
from inspect_rec.units import INCH_MM, Unit

RATE, FASTEST = 10.0, 100.0
"""Readings a second where nothing else is said (common practice: 2 to 20), and at most."""
_BEHIND_S = 1.0
"""A readout that was held up for longer doesn't make up for it."""
_LENGTHS = {c for name, c in CHANNELS.items() if name not in ("angle", "temperature")}


class Display:
    """One simulated readout. ``trouble``: why the last reading couldn't be shown, or nothing;
    ``sent``: how many frames it sent; ``every_s``: seconds between two readings."""

    def __init__(self, layout: Layout, *, seed: int = 0, rate: float = RATE) -> None:
        self.layout, self.speaker = layout, Speaker(layout)
        self.slides = {channel: Slide() for channel in layout.channels}
        self.unit, self.mode = layout.figures.unit, layout.figures.mode
        self.counting = "absolute"
        self.powered = self.plugged = True
        self.sent = 0
        self.trouble = ""
        self._zero = dict.fromkeys(layout.channels, Decimal(0))
        self._count = layout.figures.count_from
        self._beat = 0
        self._random, self._eyes = random.Random(seed), random.Random(seed)
        self._next_s: float | None = None
        self.every_s = 0.0
        self.set_rate(rate)
        self._lasting: dict[str, float] = {}
        self._once: list[str] = []
        self._waiting = b""
        self._device = None if layout.modbus is None else Device(layout.modbus)

    # -- what it shows -------------------------------------------------------------------

    def seen(self, at: float) -> Mapping[str, Decimal]:
        """The figures on its displays, for somebody who looks at them: noise of their own, so that
        looking changes nothing that is sent."""
        return self.shown(at, self._eyes)

    def shown(self, at: float, draw: random.Random | None = None) -> Mapping[str, Decimal]:
        """The figures on its displays."""
        figures = {c: self._figure(c, at, draw or self._random) for c in self.slides}
        if faults.SWAPPED in self.active(at):
            figures["X"], figures["Z"] = figures["Z"], figures["X"]
        return figures

    def _figure(self, channel: str, at: float, draw: random.Random) -> Decimal:
        place = self.slides[channel].shown(at, draw) - self._zero[channel]
        step = self.speaker.step(channel)
        turned = place * self._factor(channel)
        return (turned / step).to_integral_value(ROUND_HALF_EVEN) * step + 0

    def unit_of(self, channel: str) -> Unit:
        """What a channel's figures are in now."""
        return self.unit if channel in _LENGTHS else self.layout.figures.unit_of(channel)

    def _factor(self, channel: str) -> Decimal:
        """From a slide's unit to what is shown now."""
        own, factor = self.layout.figures, Decimal(1)
        if channel == "X" and self.mode != own.mode:
            factor = Decimal(2) if self.mode == "diameter" else Decimal("0.5")
        if channel in _LENGTHS and self.unit is not own.unit:
            factor = factor / INCH_MM if self.unit is Unit.INCH else factor * INCH_MM
        return factor

    def active(self, at: float) -> frozenset[str]:
        """The faults that last at an instant."""
        for name in [n for n, end in self._lasting.items() if at >= end]:
            self._end(name, at)
        return frozenset(self._lasting)

    # -- what a hand does ----------------------------------------------------------------

    def go(self, channel: str, figure: Decimal, at: float, over_s: float | None = None) -> None:
        """Turn until the display shows ``figure``."""
        place = figure / self._factor(channel) + self._zero[channel]
        self.slides[channel].go(place, at, over_s)

    def turn(self, channel: str, by: Decimal, at: float, over_s: float | None = None) -> None:
        """Turn the handwheel by so much on its dial, in the slide's own unit."""
        self.slides[channel].turn(by, at, over_s)

    def preset(self, channel: str, figure: Decimal, at: float) -> None:
        """Set the display to a figure, nought for zero; the slide stays where it is."""
        place = self.slides[channel].place(at)
        self._zero[channel] = place - figure / self._factor(channel)

    def switch(self, word: str) -> None:
        """Set it to mm, in, radius, diameter, absolute or incremental. Raises ReadoutError where
        its frames have another word for that, but none for this."""
        if not faults.can_say(word, self.layout):
            raise ReadoutError(
                f"this readout can't be switched to {word}",
                expected=f"a word for {word}",
                found=f"layout {self.layout.id}",
            )
        if word in ("mm", "in"):
            self.unit = Unit(word)
        elif word in ("radius", "diameter"):
            self.mode = word
        else:
            self.counting = word

    def power(self, at: float, *, on: bool) -> None:
        """Switch it off or on; it begins at nought, wherever its slides are."""
        if on and not self.powered:
            for channel, slide in self.slides.items():
                self._zero[channel] = slide.place(at)
            self._count = self.layout.figures.count_from
        self.powered = on

    def set_rate(self, rate: float) -> None:
        """How many readings a second it sends. Raises InputError for what none does."""
        if not 0 < rate <= FASTEST:
            raise InputError(
                "no readout sends so often",
                expected=f"above 0 and at most {FASTEST:g} a second",
                found=f"{rate:g}",
            )
        self.every_s = 1 / rate

    def busy_until_s(self) -> float:
        """The instant at which no hand moves a slide any more."""
        return max(slide.busy_until_s for slide in self.slides.values())

    # -- faults --------------------------------------------------------------------------

    def fault(self, name: str, at: float, for_s: float | None = None) -> str:
        """Let something go wrong; gives its name. Raises InputError for a name that no fault has,
        and ReadoutError for one that this layout can't have."""
        name, kind = faults.named(name, self.layout)
        head, _, channel = name.partition(" ")
        if head == "zero":
            self.preset(channel, Decimal(0), at)
        elif kind.once and for_s is None:
            self._try(name)
            self._once.append(name)
        else:
            self._try(name)
            lasts = kind.for_s if for_s is None else for_s
            self._begin(name)
            self._lasting[name] = float("inf") if lasts is None else at + lasts
        return name

    def _try(self, name: str) -> None:
        """Whether the layout has a place for it, found out before a frame asks for it."""
        figures = dict.fromkeys(self.layout.channels, Decimal(0))
        said = Said(figures, count=self._count)
        if name == faults.WORD:
            self.speaker.fault()
        elif name.startswith("blank "):
            self.speaker.frames(self._dark(said, {name}))

    def _begin(self, name: str) -> None:
        if name == faults.UNIT:
            self._other_unit()
        elif name == faults.MODE:
            self._other_mode()
        elif name == faults.COUNTING:
            self.counting = "incremental"
        elif name == faults.CYCLE:
            self.powered = False
        elif name == faults.UNPLUGGED:
            self.plugged = False

    def _end(self, name: str, at: float) -> None:
        self._lasting.pop(name)
        if name == faults.UNIT:
            self.unit = self.layout.figures.unit
        elif name == faults.MODE:
            self.mode = self.layout.figures.mode
        elif name == faults.COUNTING:
            self.counting = "absolute"
        elif name == faults.CYCLE:
            self.power(at, on=True)
        elif name == faults.UNPLUGGED:
            self.plugged = True

    def _other_unit(self) -> None:
        self.unit = Unit.MM if self.layout.figures.unit is Unit.INCH else Unit.INCH

    def _other_mode(self) -> None:
        self.mode = "radius" if self.layout.figures.mode == "diameter" else "diameter"

    def mend(self, at: float) -> None:
        """End all faults; a zero that was lost stays lost."""
        for name in list(self._lasting):
            self._end(name, at)
        self._once.clear()

    # -- what it sends -------------------------------------------------------------------

    def key(self, at: float) -> bytes:
        """Press its print key; gives the bytes that it sends.

        Raises ReadoutError where the layout knows no key, or can't show the figures.
        """
        if not self.layout.on_key and "key" not in self.layout.names:
            raise ReadoutError(
                "this readout has no print key",
                expected="a group or field key, or sends = 'on key'",
                found=f"layout {self.layout.id}",
            )
        sent = self._reading(at, key=True)
        if self.trouble:
            raise ReadoutError(self.trouble)
        return sent

    def due_s(self, at: float) -> float | None:
        """The instant of its next reading; None where it sends none by itself."""
        layout = self.layout
        if layout.rules.sends != "continuously" or layout.asks or layout.modbus:
            return None
        if self._next_s is None:
            self._next_s = at
        return self._next_s

    def skip(self, at: float) -> None:
        """It was held up: what is long overdue at ``at`` isn't sent late."""
        if self._next_s is not None and at - self._next_s > _BEHIND_S:
            self._next_s = at

    def live(self, at: float) -> bytes:
        """The reading that is due at ``at``, or nothing."""
        due = self.due_s(at)
        if due is None or at < due:
            return b""
        # In whole microseconds, so that hours of readings don't add up to another instant.
        self._next_s = round(due + self.every_s, 6)
        return self._reading(at)

    def asked(self, data: bytes, at: float) -> bytes:
        """Bytes that came for it: an answer to each whole request among them."""
        if self._device is not None:
            answers = self._device.hear(data)
            return b"".join([self._reading(at, in_=answer) for answer in answers])
        asks = self.layout.asks
        if asks is None:
            return b""
        *requests, self._waiting = (self._waiting + data).split(asks.request)
        self._waiting = self._waiting[-len(asks.request) :]
        return b"".join([self._reading(at) for _ in requests])

    def _reading(
        self, at: float, *, key: bool = False, in_: Callable[[bytes], bytes] = bytes
    ) -> bytes:
        """One reading, each frame of it ``in_`` what carries it."""
        active = self.active(at)
        self.trouble = ""
        if not self.powered or not self.plugged or faults.SILENCE in active:
            return b""
        now = self._now(active, key=key)
        try:
            if faults.GAP in now:
                self._count = self._after(self._count, 3)
            said = self._dark(self._said(at, key=key), now)
            frames = self.speaker.frames(said)
            counted = True
            if faults.WORD in now:
                frame, counted = self.speaker.fault(count=self._count)
                frames = (frame,)
        except InspectRecError as error:
            self.trouble = str(error)
            return b""
        self._count = self._after(self._count, len(frames) if counted else 0)
        self._beat += 1
        self.sent += len(frames)
        return self._spoilt(tuple(map(in_, frames)), now)

    def _now(self, active: frozenset[str], *, key: bool) -> frozenset[str]:
        """The faults that this reading has: those that last, and those that waited for it."""
        by_key = "key" in self.layout.names and "count" not in self.layout.names
        waits = [n for n in self._once if n == faults.DOUBLED and by_key and not key]
        now = active | {n for n in self._once if n not in waits}
        self._once = waits
        return now

    def _after(self, count: int, steps: int) -> int:
        for _ in range(steps):
            count = self.speaker.next(count)
        return count

    def _said(self, at: float, *, key: bool) -> Said:
        own, names = self.layout.figures, self.layout.names
        return Said(
            self.shown(at),
            key=key,
            count=self._count,
            unit=self.unit if "unit" in names and self.unit is not own.unit else None,
            mode=self.mode if "mode" in names and self.mode != own.mode else None,
            counting=self.counting if self.counting != "absolute" else None,
            beat=self._beat,
        )

    @staticmethod
    def _dark(said: Said, now: frozenset[str] | set[str]) -> Said:
        dark = frozenset(name.partition(" ")[2] for name in now if name.startswith("blank "))
        return replace(said, blank=dark)

    @staticmethod
    def _spoilt(frames: tuple[bytes, ...], now: frozenset[str]) -> bytes:
        if faults.HALF in now:
            frames = (*frames[:-1], frames[-1][: len(frames[-1]) // 2])
        if faults.DOUBLED in now:
            frames = tuple(frame for frame in frames for _ in range(2))
        if faults.PARITY in now:
            frames = tuple(map(other_parity, frames))
        return b"".join(frames)
