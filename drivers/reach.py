"""How far a hand can move a slide between two instants, in the unit of the display. Pure."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from drivers.layout import Layout
from inspect_rec.units import to_mm

_SOONEST_S = 0.05
"""Lines that came in one piece bear one instant; a readout sends at most 20 a second."""
_SLOWEST_S = Decimal("0.5")
"""Between two lines of a recording without instants: a readout sends at least 2 a second."""


class Reach:
    """Of one readout; ``timed``: whether its instants are those at which bytes came."""

    def __init__(self, layout: Layout, *, timed: bool) -> None:
        self._fastest = layout.rules.fastest_mm_per_s / to_mm(Decimal(1), layout.figures.unit)
        self._soonest, self._slowest = (
            self._fastest * Decimal(_SOONEST_S),
            self._fastest * _SLOWEST_S,
        )
        self._timed = timed

    def far(self, before: datetime, at: datetime) -> Decimal:
        """As shown."""
        if not self._timed:
            return self._slowest
        seconds = (at - before).total_seconds()
        return self._soonest if seconds <= _SOONEST_S else self._fastest * Decimal(seconds)
