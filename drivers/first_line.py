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
from drivers.shown import Shown
from inspect_rec.units import to_mm

Heard = tuple[Piece, Shown]
_NEAR_MM = Decimal(1)
"""The next figure is no further than this from a whole one; from one that lost a digit or its sign
it is nine times as far."""
_PLAIN_MM = Decimal(5)
"""A figure nearer to nought than this could have lost its sign."""
_DIGITS = re.compile(rb"[0-9]")


class FirstLine:
    """Holds the first line of a readout until the next shows whether it is whole."""

    def __init__(self, layout: Layout) -> None:
        frame, shape, self._on_key = layout.frame, layout.shape, layout.on_key
        marked = bool(layout.check or frame.header or frame.length or frame.width)
        self._open = shape is not None and shape.halves and not marked
        in_mm = to_mm(Decimal(1), layout.figures.unit)
        self._near, self._plain = _NEAR_MM / in_mm, _PLAIN_MM / in_mm
        self._decimals = layout.figures.decimals
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
        if one.whole == other.whole:
            return True
        if self._on_key:
            # Between two presses figures may change as they like: only how they are written tells.
            return len(self._leftmost(one)) >= len(self._leftmost(other))
        if [channel for channel, _ in shown.figures] != [channel for channel, _ in later.figures]:
            return False
        steps = zip(shown.figures, later.figures, strict=True)
        if any(abs(b - a) > self._near for (_, a), (_, b) in steps):
            return False
        left = self._leftmost(one)
        enough = len(_DIGITS.findall(left)) > self._decimals
        return enough and abs(self._value(shown)) >= self._plain

    def _leftmost(self, piece: Piece) -> bytes:
        """The figure that a lost beginning would have changed, as it stands."""
        assert self._pattern is not None  # noqa: S101 - else nothing is held
        match = self._pattern.fullmatch(piece.body or b"")
        return match[self._left] if match is not None else b""

    def _value(self, shown: Shown) -> Decimal:
        return dict(shown.figures).get(CHANNELS.get(self._left, ""), shown.figures[0][1])
