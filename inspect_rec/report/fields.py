"""The signature fields of a report and of a batch sheet: their names, and where they stand.

Apart from signing, so that pages can be drawn without the libraries that sign.
"""

from __future__ import annotations

from dataclasses import dataclass

from inspect_rec.errors import ReportError

MEASURED_BY, RELEASED_BY = "measured_by", "released_by"
FIELDS = (MEASURED_BY, RELEASED_BY)
SHEET_FIELDS = (RELEASED_BY,)
"""Of a batch sheet: its reports bear the other."""


@dataclass(frozen=True, slots=True)
class Box:
    """Where a signature stands: page from 0, whole points from the lower left.

    Readers round a field's box to whole points, and its stamp would shift.
    """

    page: int
    x0: float
    y0: float
    x1: float
    y1: float

    def __post_init__(self) -> None:
        whole = all(float(edge).is_integer() for edge in (self.x0, self.y0, self.x1, self.y1))
        if not whole or self.page < 0 or self.x0 >= self.x1 or self.y0 >= self.y1:
            raise ReportError(
                "a signature's box is no box",
                expected="a page from 0, whole points, left before right, bottom before top",
                found=f"{self.page}: {self.x0} {self.y0} {self.x1} {self.y1}",
            )
