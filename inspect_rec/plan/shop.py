"""A shop's own file: who reports, the machine's set-up, equipment, influences, studies."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from inspect_rec.plan.stated import Line, Name, Number, Strict, no_twins


class Distribution(StrEnum):
    """How the amount of an influence is spread (GUM 4.3)."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    ONE_SIDED = "rectangular one-sided"
    EXPANDED = "expanded k=2"


class Influence(Strict):
    """How far one influence may shift a reading: an amount of the shop's own knowledge."""

    amount: Number
    distribution: Distribution = Distribution.NORMAL
    unit: Literal["um", "mm", "deg", "K"] = "um"
    assumed: bool = False
    """Taken from common practice until the shop's own study replaces it; the report says so."""


def _per_million(given: Decimal) -> Decimal:
    if not Decimal("0.01") <= given <= 50:
        raise ValueError("expected millionths for 1 K, 0.01 to 50, such as 11.5 for steel")
    return given


Expansion = Annotated[Number, AfterValidator(_per_million)]
"""Coefficient of linear expansion, per million and kelvin."""


def known(table: BaseModel, name: str) -> None:
    """An uncertainty stands beside its coefficient, and is smaller."""
    given, u = getattr(table, name), getattr(table, f"{name}_u")
    if u is not None and (given is None or u >= given):
        raise ValueError(f"expected {name}_u beside {name}, and below it")


class Equipment(Strict):
    """One thing that measures, or by which is measured, and why it may be trusted."""

    id: Name
    what: Line
    certificate: Line = ""
    calibrated: datetime.date
    due: datetime.date
    traceable: Line = ""
    uncertainty: Line = ""
    """In words, as the certificate says it."""
    expanded: Number | None = None
    """U (k = 2) in um, in deg for an angle, or in K for a thermometer."""
    largest_error: Number | None = None
    """In um, for what is certified by a limit of error."""
    value: Number | None = None
    """Of a master: mm or deg."""
    half_step: Number | None = None
    """Half the width of what one read figure can stand for: um, deg or K."""
    repeat: Number | None = None
    """Standard deviation of one reading laid up anew, um."""
    expansion: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    """Of a master, or of what has a scale of its own."""
    expansion_u: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    """Standard uncertainty; without it the coefficient is a table's, and good to 10 %."""

    @model_validator(mode="after")
    def _expands(self) -> Self:
        known(self, "expansion")
        return self


def _one_place(readings: tuple[Decimal, ...]) -> tuple[Decimal, ...]:
    if len(readings) < 2:
        raise ValueError("expected 2 readings or more of the place, laid up anew each time")
    apart = max(readings) - min(readings)
    if apart > _LARGEST_SCATTER_MM:
        raise ValueError(f"expected readings of one place, in mm; these lie {apart} apart")
    return readings


def _by_ids(persons: str) -> str:
    if not all(re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,30}", p) for p in persons.split(", ")):
        raise ValueError("expected ids of persons, such as G-01, since entries hold no names")
    return persons


_LARGEST_SCATTER_MM = 1
Group = Annotated[tuple[Number, ...], AfterValidator(_one_place)]


class Study(Strict):
    """Repeats by which a shop knows its own scatter: of each group one place, laid up anew for
    each reading, mm."""

    influence: Literal["crosshair", "laying-up", "laying-up on the screen", "clamping", "repeat"]
    """What scatters; ``repeat``: the instrument that is named."""
    instrument: Annotated[Line, Field(validate_default=True)] = ""
    on: datetime.date
    by: Annotated[str, Field(max_length=200), AfterValidator(_by_ids)]
    until: Annotated[str, Field(pattern=r"^([A-Z] [0-9]{1,9})?$")] = ""
    """Last entry of the ledger whose repeats are in it, such as A 340: none may count twice."""
    what: Line = ""
    """What was laid up, and whatever a reader has to know of these readings."""
    groups: Annotated[tuple[Group, ...], Field(min_length=1)]

    @field_validator("instrument")
    @classmethod
    def _repeats(cls, instrument: str, info: ValidationInfo) -> str:
        influence = info.data.get("influence")
        if influence and (influence == "repeat") is not bool(instrument):
            raise ValueError('expected instrument = ... where influence = "repeat", and only there')
        return instrument


class Wheel(Strict):
    """Where the tool stands at the wheel: beyond a figure of one slide. A slide that goes there
    after a final reading makes the program ask whether that edge was ground."""

    slide: Literal["X", "Z"]
    beyond: Number
    side: Literal["+", "-"] = "+"

    def holds(self, figure: Decimal) -> bool:
        """Whether the slide stands there."""
        return figure > self.beyond if self.side == "+" else figure < self.beyond


class SetUp(Strict):
    """What the slides mean on this machine with this clamping."""

    readout: Name
    optics: Name
    radial: Literal["X", "Z"] = "X"
    outward: Literal["+", "-"] = "+"
    """Sense of the radial slide in which the distance from the axis grows."""
    tip: Literal["+", "-"] = "+"
    """Sense of the other slide toward the tip."""
    mode: Literal["radius", "diameter"] = "radius"
    """What the radial slide shows: its travel, or twice its travel."""
    approach: Line = "from the right"
    arrive: Mapping[Literal["X", "Z"], Literal["+", "-"]] = Field({}, exclude_if=lambda a: not a)
    """Sense in which a slide must come to a sighting, so that its backlash stays on one side; a
    reading that came the other way is suspect. A slide that isn't named isn't watched."""
    mirrored: bool = False
    """Whether the optics show the picture mirrored; proved with one known move."""
    wheel: Wheel | None = None
    note: Line = ""

    @property
    def along(self) -> str:
        """The slide along the tool."""
        return "Z" if self.radial == "X" else "X"


class Shop(Strict):
    """Who reports, and what is the same for every job."""

    name: Name
    address: Line = ""
    place: Line = ""
    station: Annotated[str, Field(pattern=r"^[A-Z]$")]
    first_number: Annotated[str, Field(pattern=r"^[A-Z]-[0-9]{4}$")]


class ShopFile(Strict):
    """A shop's own file: shop, machine, equipment, influences."""

    shop: Shop
    set_up: SetUp
    equipment: tuple[Equipment, ...]
    influence: Mapping[str, Influence]
    study: tuple[Study, ...] = Field((), exclude_if=lambda studies: not studies)
    """From ENOUGH_DOF degrees of freedom up they replace the amounts of their influences."""

    @model_validator(mode="after")
    def _unique(self) -> Self:
        no_twins("equipment", (e.id for e in self.equipment))
        return self
