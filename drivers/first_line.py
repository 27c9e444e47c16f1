"""The first line that is heard may be the end of one whose beginning nobody heard. Pure.

Where the end of a line of the layout could be a line, too, and nothing else shows that it is whole
(no header, no check, no one width), it waits for the next line and is compared with it.
"""

from __future__ import annotations

import re
from decimal import Decimal

from drivers.framing import Piece
from drivers.layout import Layout
from drivers.parts import CHANNELS, FIGURE
from drivers.reach import Reach
from drivers.shown import Shown

Heard = tuple[Piece, Shown]
_LIKELIER = 10
"""A line is taken for whole where, if it were half of one, the slide would have gone this many
times as far to the next figure."""
_DIGITS = re.compile(rb"[0-9]")


class FirstLine:
    """Holds the first line of a readout until the next shows whether it is whole."""

    def __init__(self, layout: Layout, *, timed: bool) -> None:
        frame, shape, self._on_key = layout.frame, layout.shape, layout.on_key
        marked = bool(layout.check or frame.header or frame.length or frame.width)
        self._open = shape is not None and shape.halves and not marked
        self._implied = layout.figures.decimals if layout.figures.point == "none" else 0
        self._reach = Reach(layout, timed=timed)
        self._pattern = layout.pattern
        index = {} if layout.pattern is None else layout.pattern.groupindex
        figures = sorted(index.items(), key=lambda each: each[1])
        self._left = next((n for n, _ in figures if n in CHANNELS or n == FIGURE), "")
        self._held: Heard | None = None

    @property
    def waits(self) -> bool:
        """Whether a line is held."""
        return self._held is not None

    def quiet_before(self) -> None:
        """It is known that nothing came before: the first line is whole."""
        self._open = False

    def hold(self, piece: Piece, shown: Shown) -> bool:
        """Whether this line has to wait for the next."""
        if not self._open:
            return False
        self._open, self._held = False, (piece, shown)
        return True

    def compared(self, piece: Piece, shown: Shown) -> tuple[Heard, bool]:
        """The line that was held, and whether it is whole, now that the next has come."""
        held = self.given_up()
        return held, self._whole(held, (piece, shown))

    def given_up(self) -> Heard:
        """The line that was held: nothing comes that it could be compared with."""
        assert self._held is not None  # noqa: S101 - the caller looks whether one waits
        held, self._held = self._held, None
        return held

    def _whole(self, first: Heard, second: Heard) -> bool:
        (one, shown), (other, later) = first, second
        left = self._leftmost(one)
        if one.whole == other.whole or left[:1] in b"+-":
            return True
        if self._on_key:
            # Between two presses figures may change as they like: only how they are written tells.
            return len(left) >= len(self._leftmost(other))
        channel, value = self._figure(shown)
        nexts = dict(later.figures)
        if channel not in nexts:
            return False
        next_, far = nexts[channel], self._reach.far(one.at, other.at)
        by = abs(next_ - value)
        halves = (abs(next_ - half) for half in self._more(left, abs(value), next_))
        return by <= far and all(by * _LIKELIER <= half for half in halves if half <= far)

    def _more(self, left: bytes, value: Decimal, next_: Decimal) -> tuple[Decimal, Decimal]:
        """What the figure would have been with further digits or a sign before those that came:
        above and below nought that which is nearest to the next."""
        whole = len(_DIGITS.findall(left.replace(b",", b".").partition(b".")[0])) - self._implied
        unit = Decimal(1).scaleb(whole)
        above = max(Decimal(1), ((next_ - value) / unit).to_integral_value())
        below = max(Decimal(0), ((-next_ - value) / unit).to_integral_value())
        return value + above * unit, -value - below * unit

    def _leftmost(self, piece: Piece) -> bytes:
        """The figure that a lost beginning would have changed, as it stands."""
        assert self._pattern is not None  # noqa: S101 - else nothing is held
        match = self._pattern.fullmatch(piece.body or b"")
        return match[self._left].strip() if match is not None else b""

    def _figure(self, shown: Shown) -> tuple[str, Decimal]:
        channel = CHANNELS.get(self._left, shown.figures[0][0])
        return channel, dict(shown.figures)[channel]
