"""Whether a figure can be true of a slide: range, speed, nought, another unit, mode or axis. Pure.

Figures that can't be are alarms in a grinder's words. A doubt never changes a figure. One frame
that stands out and is followed by figures as before was a fault of the line; where the next one
stays there, the display counts from another zero now, and what follows bears the reason until it
is forgotten (the pin sighted again).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from drivers.layout import Layout
from drivers.parts import CHANNELS
from drivers.reach import Reach
from drivers.shown import Code, Wrong
from inspect_rec.units import INCH_MM, to_mm

_NOUGHT_MM = Decimal("0.010")
"""A figure this close to nought after a jump: somebody has set the zero anew. Within as much a
slide at rest may flicker."""
_AWAY_MM = Decimal(1)
"""A step that is no longer isn't looked at."""
_SUDDEN = 10
"""A step so many times as long as the one before has no way that leads to it."""
_ROUND = 100
"""Last digits of a figure that is a round one."""
_ALIKE_MM = Decimal("0.050")
"""Two axes are swapped where each shows what the other showed to within so much."""
_SHIFTS = (1, 10, 100)
"""Where the point is implied, a display in inch may have one or two decimals more."""
_SLIDES = frozenset({"X", "Y", "Z"})
"""What goes by hand from one place to the next; an indicator may jump."""
_LASTING = (Code.ZERO, Code.SWAPPED, Code.UNIT, Code.MODE)

Figures = Sequence[tuple[str, Decimal]]


@dataclass(slots=True)
class _Seen:
    """What a channel showed, when, and what it showed before that."""

    value: Decimal
    at: datetime
    before: Decimal | None = None


@dataclass(frozen=True, slots=True)
class _Step:
    """From what a channel showed last to what it shows now."""

    channel: str
    value: Decimal
    old: Decimal
    far: Decimal
    """How far a hand can move it in the meantime."""
    sudden: bool
    """No way led there: it stood still, or went in much smaller steps."""

    @property
    def by(self) -> Decimal:
        """How far, and which way."""
        return self.value - self.old


class Plausible:
    """Watches the figures of one readout."""

    def __init__(self, layout: Layout, *, timed: bool = True) -> None:
        self._rules = layout.rules
        in_mm = to_mm(Decimal(1), layout.figures.unit)
        self._ranges = {channel: layout.rules.range(channel) for channel in CHANNELS.values()}
        self._reach = Reach(layout, timed=timed)
        self._nought, self._away, self._alike = (
            mm / in_mm for mm in (_NOUGHT_MM, _AWAY_MM, _ALIKE_MM)
        )
        self._short = -self._away
        # A binary figure goes in steps of its own, such as 5 µm.
        steps = [Decimal(f.scale) for f in layout.fields if f.name in CHANNELS and not f.scale_from]
        self._digit = max(Decimal(1).scaleb(-layout.figures.decimals), *steps, Decimal(0))
        # Cables that are swapped halve and double what is shown as a diameter.
        self._times = (1, 2) if layout.figures.mode == "diameter" else (1,)
        self._on_key, self._timed = layout.on_key, timed
        self._silence = timedelta(seconds=layout.rules.silent_s)
        self._seen: dict[str, _Seen] = {}
        self._refused: dict[str, _Seen] = {}
        self._why = ""
        self._before_loss: dict[str, Decimal] = {}
        self.suspect: str | None = None

    def lost(self) -> None:
        """The line went away: where the slides stood is kept, how fast they went isn't."""
        if self._seen:
            self._before_loss = {channel: seen.value for channel, seen in self._seen.items()}
        self._seen, self._refused = {}, {}

    @property
    def calm(self) -> bool:
        """Whether nothing hangs over from before the last figures."""
        return not (self._refused or self._before_loss)

    def went_on(self, figures: Mapping[str, tuple[Decimal, ...]], at: datetime) -> None:
        """By steps of which nothing is to be said the slides came to where they are; of each
        channel the last two figures."""
        for channel, (before, last) in figures.items():
            self._seen[channel] = _Seen(last, at, before)

    def doubt(self, figures: Figures, at: datetime) -> Wrong | None:
        """What is wrong with these figures; None where they can be true."""
        if not self._refused and not self._before_loss:
            for channel, value in figures:
                seen = self._seen.get(channel)
                if seen is None or not self._short <= value - seen.value <= self._away:
                    break
                least, most = self._ranges[channel]
                if not least <= value <= most:
                    break
            else:
                # Nothing further than 1 mm: most of all frames.
                for channel, value in figures:
                    seen = self._seen[channel]
                    seen.before, seen.value, seen.at = seen.value, value, at
                return None
        return self._looked_at(figures, at)

    def _looked_at(self, figures: Figures, at: datetime) -> Wrong | None:
        for channel, value in figures:
            least, most = self._rules.range(channel)
            if not least <= value <= most:
                return Wrong(
                    Code.IMPLAUSIBLE,
                    f"{channel} {value} is out of range ({least} to {most}): check the readout. "
                    "The figure was kept, and not used",
                )
        if self._before_loss and (wrong := self._switched_off(figures)) is not None:
            self.suspect = wrong.said
            self._accept(figures, at)
            return wrong
        steps = [] if self._on_key else self._steps(figures, at)
        if self._refused and steps and self._settled(figures, at, steps):
            self._accept(figures, at)
            return None
        wrong = None
        if any(abs(step.by) > self._away for step in steps):
            wrong = self._moved(steps)
        if wrong is None:
            self._accept(figures, at)
        else:
            self._refuse(figures, at, wrong)
        return wrong

    def _accept(self, figures: Figures, at: datetime) -> None:
        for channel, value in figures:
            seen = self._seen.get(channel)
            self._seen[channel] = _Seen(value, at, None if seen is None else seen.value)

    def _refuse(self, figures: Figures, at: datetime, wrong: Wrong) -> None:
        for channel, value in figures:
            self._refused[channel] = _Seen(value, at)
        self._why = wrong.said
        if wrong.code in _LASTING:
            self.suspect = wrong.said

    def _settled(self, figures: Figures, at: datetime, steps: Sequence[_Step]) -> bool:
        """Whether figures behind refused ones go on there, or as before; else it isn't known."""
        there = [
            (abs(value - seen.value), self._reach.far(seen.at, at))
            for channel, value in figures
            if (seen := self._refused.get(channel)) is not None
        ]
        if not there:
            return False
        from_new, from_old = sum(by for by, _ in there), sum(abs(step.by) for step in steps)
        new = all(by <= far for by, far in there)
        old = all(abs(step.by) <= step.far for step in steps)
        if new and (from_new <= from_old or not old):
            # What was refused is where the slides are, and no hand brought them there.
            self.suspect = self.suspect or self._why
            for channel, _ in figures:
                if channel in self._refused:
                    self._seen[channel] = self._refused.pop(channel)
            return True
        if old and from_old < from_new:
            if self.suspect == self._why:
                self.suspect = None
            for channel, _ in figures:
                self._refused.pop(channel, None)
            return True
        return False

    def _steps(self, figures: Figures, at: datetime) -> list[_Step]:
        found = []
        for channel, value in figures:
            seen = self._seen.get(channel)
            if seen is None or channel not in _SLIDES:
                continue
            by = abs(value - seen.value)
            waited = self._timed and at - seen.at > self._silence
            paced = seen.before is not None and by > _SUDDEN * abs(seen.value - seen.before)
            sudden = by > self._away and (waited or paced)
            found.append(_Step(channel, value, seen.value, self._reach.far(seen.at, at), sudden))
        return found

    def _moved(self, steps: Sequence[_Step]) -> Wrong | None:
        """One of them went further than 1 mm."""
        found = next((f for times in self._times if (f := self._swapped(steps, times))), None)
        if found is None and any(step.sudden for step in steps):
            found = self._other_unit(steps) or self._other_mode(steps)
        return found or self._to_nought(steps) or self._too_far(steps)

    def _swapped(self, steps: Sequence[_Step], times: int) -> Wrong | None:
        """Each of two axes shows what the other showed; ``times``: X so often as its slide."""

        def stood(channel: str, value: Decimal) -> Decimal:
            return value / times if channel == "X" else value

        if len(steps) == 1 and steps[0].sudden:
            one = steps[0]
            others = [
                (channel, seen.value)
                for channel, seen in self._seen.items()
                if channel != one.channel and channel in _SLIDES
            ]
        elif len(steps) == 2 and all(abs(step.by) > self._away for step in steps):
            one, two = steps
            if abs(stood(two.channel, two.value) - stood(one.channel, one.old)) > self._alike:
                return None
            others = [(two.channel, two.old)]
        else:
            return None
        shown, old = stood(one.channel, one.value), stood(one.channel, one.old)
        for channel, value in others:
            there = stood(channel, value)
            if abs(shown - there) <= self._alike and abs(old - there) > self._away:
                return Wrong(
                    Code.SWAPPED,
                    f"{one.channel} and {channel} have changed places: look at the readout's "
                    "cables and settings, then sight the pin again",
                )
        return None

    def _other_unit(self, steps: Sequence[_Step]) -> Wrong | None:
        """Every figure is what it was, shown in the other unit; the point may have moved."""
        for shift in _SHIFTS:
            near = self._digit * (INCH_MM * 3 / 5 + shift)
            if all(abs(s.value * INCH_MM - s.old * shift) <= near for s in steps) or all(
                abs(s.old * INCH_MM - s.value * shift) <= near for s in steps
            ):
                said = ", ".join(f"{s.channel} {s.value} for {s.old}" for s in steps)
                return Wrong(
                    Code.UNIT,
                    f"Readout shows {said}: mm and inch were changed. Set it back and sight the "
                    "pin again. Nothing was converted",
                )
        return None

    def _other_mode(self, steps: Sequence[_Step]) -> Wrong | None:
        """One slide shows twice or half of what it did, at rest."""
        moved = [step for step in steps if abs(step.by) > self._nought]
        if len(moved) != 1 or not moved[0].sudden:
            return None
        step, near = moved[0], 2 * self._digit
        # A hand may well go from 10.000 to 20.000; to twice 31.447 it doesn't.
        if min(step.value, step.old, key=abs) % (_ROUND * self._digit) == 0:
            return None
        if abs(step.value - 2 * step.old) > near and abs(2 * step.value - step.old) > near:
            return None
        return Wrong(
            Code.MODE,
            f"{step.channel} shows {step.value} for {step.old}: radius and diameter were changed. "
            "Set it back and sight the pin again. Nothing was converted",
        )

    def _to_nought(self, steps: Sequence[_Step]) -> Wrong | None:
        """To nought where no way led there, or faster than a hand: somebody set the zero."""
        sudden = [step for step in steps if step.sudden]
        at_rest = bool(sudden) and all(abs(step.value) <= self._nought for step in sudden)
        for step in steps:
            if abs(step.value) > self._nought or abs(step.by) <= self._away:
                continue
            if (step.sudden and at_rest) or abs(step.by) > step.far:
                said = f"{step.channel} jumped by {step.by:+} to nought: zero was reset. "
                return Wrong(Code.ZERO, f"{said}Sight the pin again")
        return None

    def _too_far(self, steps: Sequence[_Step]) -> Wrong | None:
        beyond = [step for step in steps if abs(step.by) > step.far]
        if not beyond:
            return None
        step = max(beyond, key=lambda s: abs(s.by))
        return Wrong(
            Code.IMPLAUSIBLE,
            f"{step.channel} jumped by {step.by:+}, further than a slide can go between two "
            f"figures ({step.far:.0f}): sight the pin again",
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
