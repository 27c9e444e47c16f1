"""One tool of a job: marks, edges, life, and the values that the customer types in."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    Field,
)

from inspect_rec.plan.stated import Line, Name, Number, Strict, one_line


class Offset(Strict):
    """A value that the customer types into a machine."""

    label: Name
    of: Line = ""
    """Characteristic, or empty where it isn't on the plan."""
    factor: Number = Decimal(1)
    pick: Literal["largest", "smallest", "value"] = "value"
    words: Line = ""


class Life(Strict):
    """Sharpenings of this tool, by its length."""

    sharpening: Annotated[int, Field(ge=0, le=99)]
    length: Name
    """The characteristic that is the length, with its lower limit as the minimum."""
    arrival: Name
    """The feature that gives the length on arrival."""
    earlier: tuple[Number, ...] = ()
    """Lengths in mm, oldest first: new, after the first sharpening, ..."""


class Tool(Strict):
    """One tool of the job."""

    mark: Annotated[str, Field(pattern=r"^[^\s/\\][^/\\]{0,38}$"), AfterValidator(one_line)]
    kind: Name
    title: Line = ""
    edges: Annotated[int, Field(ge=1, le=60)]
    edge_word: Literal["flute", "tooth", "lip", "edge"] = "flute"
    hand: Literal["right", "left", "none"] = "right"
    material: Line = ""
    coating: Line = ""
    condition: Line = ""
    life: Life | None = None
    offsets: tuple[Offset, ...] = ()
    variation: Line = ""
    """The characteristic whose spread over the edges page 1 shows."""
