"""Whether a figure can be true of a slide: range, speed, nought, swapped axes, counter. Pure.

Figures that can't be are alarms in a grinder's words. A doubt never changes a figure; what follows
a zero reset or swapped axes bears the reason until it is forgotten (the pin sighted again).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from drivers.fields import Code, Wrong
from drivers.layout import Layout
from inspect_rec.units import to_mm

_NOUGHT_MM = Decimal("0.010")
"""A figure this close to nought after a jump: somebody has set the zero anew."""
_AWAY_MM = Decimal(1)
"""Further from nought than this before: it was another zero."""
_SOONEST_S = 0.05
"""Lines that came in one piece bear one instant; a readout sends at most 20 a second."""
_SLOWEST_S = 0.5
"""Between two lines of a recording without instants: a readout sends at least 2 a second."""
_ALIKE_MM = Decimal("0.050")
"""Two axes are swapped where each shows what the other showed to within so much."""

Figures = Sequence[tuple[str, Decimal]]


@dataclass(slots=True)
class _Seen:
    """What a channel showed last, when, and whether it stood still before."""

    value: Decimal
    at: datetime
    still: bool = False


Steps = Sequence[tuple[str, Decimal, Decimal, _Seen]]
"""Channel, figure, how far from the last, and what was seen last."""


class Plausible:
    """Watches the figures of one readout."""

    def __init__(self, layout: Layout, *, timed: bool = True) -> None:
        self._rules = layout.rules
        in_mm = to_mm(Decimal(1), layout.figures.unit)
        self._fastest = layout.rules.fastest_mm_per_s / in_mm
        self._nought, self._away, self._alike = (
            mm / in_mm for mm in (_NOUGHT_MM, _AWAY_MM, _ALIKE_MM)
        )
        self._on_key, self._timed = layout.on_key, timed
        self._seen: dict[str, _Seen] = {}
        self._before_loss: dict[str, Decimal] = {}
        self._count: int | None = None
        self._counts = layout.figures.count_to - layout.figures.count_from + 1
        self._lockout = timedelta(milliseconds=layout.rules.lockout_ms)
        self._key: tuple[Figures, datetime] | None = None
        self.suspect: str | None = None

    def lost(self) -> None:
        """The line went away: where the slides stood is kept, how fast they went isn't."""
        if self._seen:
            self._before_loss = {channel: seen.value for channel, seen in self._seen.items()}
        self._seen, self._count, self._key = {}, None, None

    def counted(self, count: int | None) -> Wrong | None:
        """A counter that left some out, or stands still."""
        before, self._count = self._count, count
        if count is None or before is None:
            return None
        step = (count - before) % self._counts
        if step == 1:
            return None
        if step == 0:
            return Wrong(Code.DOUBLED, f"Readout sent number {count} twice: the second isn't used")
        return Wrong(
            Code.COUNT,
            f"{step - 1} lines of the readout were lost before number {count}: check the cable. "
            "What comes is good",
        )

    def bounced(self, figures: Figures, at: datetime) -> Wrong | None:
        """The same figures by key again, sooner than a hand presses it twice."""
        before, self._key = self._key, (figures, at)
        if not self._timed or before is None or before[0] != figures:
            return None
        if at - before[1] >= self._lockout:
            return None
        return Wrong(Code.DOUBLED, "The key bounced: the second isn't used")

    def doubt(self, figures: Figures, at: datetime) -> Wrong | None:
        """What is wrong with these figures; None where they can be true."""
        for channel, value in figures:
            least, most = self._rules.range(channel)
            if not least <= value <= most:
                return Wrong(
                    Code.IMPLAUSIBLE,
                    f"{channel} {value} is out of range ({least} to {most}): check the readout. "
                    "The figure was kept, and not used",
                )
        wrong = self._moved(figures, at)
        for channel, value in figures:
            seen = self._seen.get(channel)
            still = seen is not None and seen.value == value
            self._seen[channel] = _Seen(value, at, still)
        if wrong is not None and wrong.code in (Code.ZERO, Code.SWAPPED):
            self.suspect = wrong.said
        return wrong

    def _moved(self, figures: Figures, at: datetime) -> Wrong | None:
        if self._before_loss and (wrong := self._switched_off(figures)) is not None:
            return wrong
        steps = [
            (channel, value, value - seen.value, seen)
            for channel, value in figures
            if (seen := self._seen.get(channel)) is not None
        ]
        if not steps or self._on_key:
            # Between two presses of a key a slide may go anywhere.
            return None
        return self._swapped(steps) or self._to_nought(steps, at) or self._too_far(steps, at)

    def _to_nought(self, steps: Steps, at: datetime) -> Wrong | None:
        """To nought from rest, one slide alone, or faster than a hand: somebody set the zero."""
        moving = sum(1 for _, _, by, _ in steps if by)
        for channel, value, step, seen in steps:
            if abs(value) > self._nought or abs(step) <= self._away:
                continue
            if (seen.still and moving == 1) or abs(step) > self._far(seen.at, at):
                said = f"{channel} jumped by {step:+} to nought: zero was reset. "
                return Wrong(Code.ZERO, f"{said}Sight the pin again")
        return None

    def _too_far(self, steps: Steps, at: datetime) -> Wrong | None:
        beyond = [
            (abs(step), channel, step, far)
            for channel, _, step, seen in steps
            if abs(step) > (far := self._far(seen.at, at))
        ]
        if not beyond:
            return None
        _, channel, step, far = max(beyond)
        return Wrong(
            Code.IMPLAUSIBLE,
            f"{channel} jumped by {step:+}, further than a slide can go between two figures "
            f"({far:.0f}): sight the pin again",
        )

    def _far(self, before: datetime, at: datetime) -> Decimal:
        """How far a hand can move a slide between two instants, as shown."""
        if not self._timed:
            return self._fastest * Decimal(_SLOWEST_S)
        return self._fastest * Decimal(max((at - before).total_seconds(), _SOONEST_S))

    def _swapped(self, steps: Steps) -> Wrong | None:
        """Each of two axes shows what the other showed."""
        if len(steps) != 2:
            return None
        (one, a, by_one, seen_one), (two, b, by_two, seen_two) = steps
        if min(abs(by_one), abs(by_two)) <= self._away:
            return None
        if abs(a - seen_two.value) > self._alike or abs(b - seen_one.value) > self._alike:
            return None
        return Wrong(
            Code.SWAPPED,
            f"{one} and {two} have changed places: look at the readout's cables and settings, then "
            "sight the pin again",
        )

    def _switched_off(self, figures: Figures) -> Wrong | None:
        """A readout that was off begins at nought, wherever its slides stand."""
        before = [(c, v, self._before_loss.pop(c, None)) for c, v in figures]
        for channel, value, old in before:
            if old is not None and abs(value) <= self._nought and abs(old) > self._away:
                return Wrong(
                    Code.ZERO,
                    f"{channel} is at nought since the line is back, it was at {old}: was the "
                    "readout off? Zero was reset. Sight the pin again",
                )
        return None
