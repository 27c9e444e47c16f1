"""Features: what is sighted or read on a tool or master, marks in order."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import (
    Field,
    model_validator,
)

from inspect_rec.plan.stated import Line, Name, Number, Strict


class Channel(StrEnum):
    """Where the figures of a feature come from."""

    SLIDES = "slides"
    ANGLE = "angle"
    INDICATOR = "indicator"
    LENGTH = "length"
    TEMPERATURE = "temperature"


class Feature(Strict):
    """One thing on the tool, or on a master, that is sighted or read: marks in order."""

    id: Name
    name: Line = ""
    marks: tuple[Name, ...] = ()
    points: Annotated[int, Field(ge=3, le=200)] | None = None
    channel: Channel = Channel.SLIDES
    instrument: Line = ""
    """Equipment that is read by eye; the readout for the slides."""
    master: Line = ""
    """Equipment that is measured: this feature is a check, before and after."""
    check: Literal["", "width", "arc on the axis", "arc", "step", "angle"] = ""
    axis: Line = ""
    """For an arc on the axis: the feature that gives the axis."""
    clamp: Line = ""
    """What must be clamped: empty = the tool, ``none`` = nothing, else an equipment id."""
    per: Literal["tool", "flute"] = "tool"
    repeats: Annotated[int, Field(ge=1, le=100)] = 1
    index: tuple[Number, ...] = ()
    """Index angle of each repeat, deg, for the prompt; of each mark where it is read by eye or
    where a method reads the angles."""
    closure: Line = ""
    """The mark that is sighted again on flute 1 after the last flute; ``all`` for all."""
    stage: Literal["arrival", "check", "final"] = "final"
    approach: Line = ""
    how: Line = ""
    """One line for the person at the machine."""

    @model_validator(mode="after")
    def _says_what(self) -> Self:
        if bool(self.marks) == (self.points is not None):
            raise ValueError("expected either marks = [...] or points = n")
        if self.closure and self.closure != "all" and self.closure not in self.labels:
            raise ValueError(f"expected a closure on one of its marks, found {self.closure!r}")
        if self.channel is not Channel.SLIDES and not self.instrument:
            raise ValueError("expected instrument = the equipment that is read by eye")
        if self.check and not self.master:
            raise ValueError("expected master = the equipment that the check is held against")
        return self

    @property
    def labels(self) -> tuple[str, ...]:
        """The marks, in the order in which they are taken."""
        return self.marks or tuple(str(n) for n in range(1, (self.points or 0) + 1))
