"""The sheet and its grid, in mm from the top left. Four columns, halves and thirds.

A4 is the rule; on US Letter nothing is scaled, and the gaps between the blocks give.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Paper:
    """A size of paper, and what on it hangs on its height."""

    name: str
    wide: float
    high: float

    @property
    def gap(self) -> float:
        """Between the blocks of page 1: all that gives."""
        return (self.high - 257.5) / 5

    @property
    def bottom(self) -> float:
        """The end of what flows."""
        return self.high - 20

    @property
    def sign_top(self) -> float:
        """Where the signatures begin."""
        return self.high - 50


A4, US_LETTER = Paper("A4", 210.0, 297.0), Paper("Letter", 215.9, 279.4)
PAPERS = {paper.name: paper for paper in (A4, US_LETTER)}

WIDE, HIGH = A4.wide, A4.high
LEFT, LIVE = 20.0, 176.0
"""Left margin with its filing holes, and the live width."""
COLUMN = (20.0, 65.0, 110.0, 155.0)
HALF, THIRD = 86.0, 56.0
GAP = A4.gap
TOP, BOTTOM = 25.0, A4.bottom
"""First rule, and the end of what flows."""
FIELD = (THIRD, 18.0)
"""A signature's field inside its brackets."""
