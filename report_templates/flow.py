"""Pages that fill from the top: blocks one under the other, a full page is closed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from report_templates.pen import Pen
from report_templates.sheet import BOTTOM, TOP

Draw = Callable[[Pen], None]

_BELOW_A_BLOCK = 3.0
"""Of the space that each block leaves below itself, what a mark may take, mm."""


@dataclass
class Flow:
    """Pages as they fill."""

    pages: list[list[Draw]] = field(default_factory=lambda: [[]])
    y: float = TOP
    bottom: float = BOTTOM

    def place(self, high: float, draw: Callable[[Pen, float], None]) -> None:
        """Put a block on this page, or on the next where it doesn't fit."""
        if self.y + high > self.bottom and self.y > TOP:
            self.next()
        y = self.y
        self.pages[-1].append(lambda pen: draw(pen, y))
        self.y += high

    def close(self, high: float, draw: Callable[[Pen, float], None]) -> None:
        """Put the last mark: where the page lacks a little, into the space below the last block,
        so that no page bears it alone."""
        lacks = self.y + high - self.bottom
        if 0 < lacks <= _BELOW_A_BLOCK:
            self.y -= lacks
        self.place(high, draw)

    def next(self) -> None:
        """A new page."""
        self.pages.append([])
        self.y = TOP

    def room(self) -> float:
        """What is left of the page."""
        return self.bottom - self.y

    @property
    def whole(self) -> float:
        """A page that is empty."""
        return self.bottom - TOP


def fitting(heights: Sequence[float], room: float) -> int:
    """How many rows of these heights fit, leaving at least 3 for the next page."""
    high, count = 0.0, 0
    for row in heights:
        high += row
        if high > room:
            break
        count += 1
    if 0 < len(heights) - count < 3:
        count = max(1, len(heights) - 3)
    return max(1, count)
