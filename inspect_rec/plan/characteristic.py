"""Characteristics: what is to be proved, its limits, and how grinding moves it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import (
    ConfigDict,
    Field,
    model_validator,
)

from inspect_rec.compute import sizes
from inspect_rec.compute.conformity import Limits
from inspect_rec.errors import ComputeError
from inspect_rec.plan.stated import Line, Name, Number, Strict, exact
from inspect_rec.units import Unit, places


class Moves(StrEnum):
    """What more grinding does to the value."""

    SMALLER = "smaller"
    LARGER = "larger"
    EITHER = "either"
    NONE = "none"


class Grinding(Strict):
    """Which way grinding moves a characteristic, and by which slide."""

    moves: Moves
    slide: Line = ""
    hand_wheel: Line = ""
    """Words for the hand, with {aim} for the amount: "pivot {aim} toward the wheel"."""
    flank: Number | None = None
    """Angle of the ground flank against the axis, for a value along the axis, deg: the infeed
    square to the flank is its sine times the value."""
    swivel: Number | None = None
    """Angle of the slide off the normal of the ground face, deg: the infeed grows by 1 / cos."""
    words: Line = ""


def _limits_from(key: str, said: Any, nominal: Decimal) -> tuple[Decimal, Decimal]:
    """Lower and upper limit from what a characteristic states beside its nominal."""
    if key == "plus_minus":
        return nominal - exact(said), nominal + exact(said)
    try:
        found = (
            sizes.limits(nominal, str(said))
            if key == "tolerance_class"
            else sizes.reamer(nominal, str(said))
        )
    except ComputeError as error:
        raise ValueError(str(error)) from error
    return found.lower_mm, found.upper_mm


class Characteristic(Strict):
    """One thing to be proved."""

    id: Name
    name: Name
    symbol: Line = ""
    plane: Line = ""
    unit: Literal[Unit.MM, Unit.DEGREE] = Unit.MM
    nominal: Number | None = None
    plus_minus: Number | None = None
    lower: Number | None = None
    upper: Number | None = None
    tolerance_class: Line = ""
    """After ISO 286, such as h8: the limits from nominal and the tables."""
    reamer_for: Line = ""
    """The class of the hole that a reamer of this nominal is for, such as H7: its limits."""
    limits_from: Line = ""
    natural_zero: bool = False
    per: Literal["tool", "flute"] = "tool"
    method: Name
    version: Annotated[int, Field(ge=1)] = 1
    """Of the method; the newest where a job file leaves it out."""
    feature: Mapping[str, Name] = {}
    """Role in the method -> feature."""
    of: Line = ""
    """For a variation: the characteristic it varies."""
    parameters: Mapping[str, Number | Line | tuple[Number, ...] | tuple[Line, ...]] = Field(
        {}, alias="with"
    )
    grinding: Grinding = Grinding(moves=Moves.NONE)
    printed_in: Literal["mm", "um", "deg"] = "mm"
    places: Annotated[int, Field(ge=0, le=6)] | None = None
    info: bool = False
    """For information: no limits, no verdict."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    @model_validator(mode="before")
    @classmethod
    def _spread(cls, given: Any) -> Any:
        """Limits from nominal and plus_minus, or a class; once for all, so that an entry holds
        them as numbers."""
        if not isinstance(given, Mapping):
            return given
        stated = [key for key in ("plus_minus", "tolerance_class", "reamer_for") if given.get(key)]
        if not stated:
            return given
        key, *others = stated
        if others:
            raise ValueError(f"expected one of {key} and {', '.join(others)}")
        if given.get("nominal") is None:
            raise ValueError(f"expected nominal beside {key}")
        lower, upper = _limits_from(key, given[key], exact(given["nominal"]))
        for name, limit in (("lower", lower), ("upper", upper)):
            if given.get(name) is not None and exact(given[name]) != limit:
                raise ValueError(f"expected either {key}, or lower and upper")
        said = given.get("limits_from") or (given[key] if key == "tolerance_class" else "")
        return {**given, "lower": lower, "upper": upper, "limits_from": said}

    @model_validator(mode="after")
    def _has_limits(self) -> Self:
        if self.info:
            return self
        if self.lower is None and self.upper is None:
            raise ValueError(
                "expected plus_minus, tolerance_class, lower and upper, or one of them, or "
                "info = true"
            )
        if self.lower is not None and self.upper is not None and self.lower >= self.upper:
            raise ValueError(f"expected lower below upper, found {self.lower} and {self.upper}")
        if self.natural_zero and (self.lower is not None or self.upper is None):
            raise ValueError("expected only upper where zero is natural")
        if self.places is None and not self.width:
            raise ValueError("expected places = n, since one limit alone has no width")
        return self

    @property
    def limits(self) -> Limits:
        """The limits, exact."""
        return Limits(self.lower, self.upper, self.natural_zero)

    @property
    def width(self) -> Decimal | None:
        """Width of the tolerance; of a one-sided limit with a natural zero, the limit."""
        if self.lower is not None and self.upper is not None:
            return self.upper - self.lower
        return self.upper if self.natural_zero else None

    @property
    def digits(self) -> int:
        """Decimal places in which values in mm or deg are printed."""
        if self.places is not None:
            return self.places
        return places(self.width) if self.width else 4

    @property
    def symbol_or_id(self) -> str:
        """Short name for lists."""
        return self.id if not self.symbol else self.symbol

    @property
    def deg(self) -> bool:
        """Whether the unit is an angle."""
        return self.unit is Unit.DEGREE
