"""Plans and jobs: what a job file and a shop file may say. Opens nothing, reads no text.

A job names customer, order and drawing, the tools with their marks, the features to be
sighted in their order, and the characteristics to be proved from them.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationInfo,
    field_validator,
    model_validator,
)

from inspect_rec.compute import sizes
from inspect_rec.compute.conformity import Limits
from inspect_rec.compute.rules import NUMBERS, USUAL_FACTOR, Kind, Rule
from inspect_rec.errors import ComputeError
from inspect_rec.units import Unit, places

_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(\.[0-9]{1,12})?")


def _exact(value: object) -> Decimal:
    """An exact decimal from a TOML number, or from the text it is kept as in an entry."""
    if isinstance(value, Decimal) and value.is_finite():
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Decimal(value)
    if isinstance(value, str) and _NUMBER.fullmatch(value):
        return Decimal(value)
    raise ValueError("expected a plain decimal number, such as 4.890")


Number = Annotated[
    Decimal, BeforeValidator(_exact), PlainSerializer(lambda d: format(d, "f"), return_type=str)
]


def _one_line(text: str) -> str:
    if not text.isprintable() or text != text.strip():
        raise ValueError("expected one line of printable text without blanks at its ends")
    return text


Line = Annotated[str, Field(max_length=200), AfterValidator(_one_line)]
Name = Annotated[str, Field(min_length=1, max_length=60), AfterValidator(_one_line)]


class Strict(BaseModel):
    """A frozen table of a job or shop file; a key that isn't known is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid")


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


def _known(table: BaseModel, name: str) -> None:
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
        _known(self, "expansion")
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
        _no_twins("equipment", (e.id for e in self.equipment))
        return self


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
        return nominal - _exact(said), nominal + _exact(said)
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
        lower, upper = _limits_from(key, given[key], _exact(given["nominal"]))
        for name, limit in (("lower", lower), ("upper", upper)):
            if given.get(name) is not None and _exact(given[name]) != limit:
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

    mark: Annotated[str, Field(pattern=r"^[^\s/\\][^/\\]{0,38}$"), AfterValidator(_one_line)]
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


class DecisionRule(Strict):
    """The decision rule that was agreed with the customer, where it isn't the supplier who proves
    with the job's guard_factor."""

    kind: Kind
    factor: Number | None = None
    """g over u, of who proves; 1.645 unless stated."""
    share: Number | None = None
    """g over U."""
    largest_ratio: Number | None = None
    """Simple acceptance: U over the width of the tolerance, at most."""
    least_tur: Number | None = None
    """Simple acceptance: that width over 2 U, at least (test uncertainty ratio)."""
    largest_expanded_mm: Number | None = None
    largest_expanded_deg: Number | None = None
    """Simple acceptance at a limit that stands alone and has no width: U, at most."""

    @field_validator(
        "factor",
        "share",
        "largest_ratio",
        "least_tur",
        "largest_expanded_mm",
        "largest_expanded_deg",
    )
    @classmethod
    def _belongs(cls, number: Decimal | None, info: ValidationInfo) -> Decimal | None:
        kind = info.data.get("kind")
        if number is None or kind is None:
            return number
        name = str(info.field_name).removesuffix("_mm").removesuffix("_deg")
        if name not in NUMBERS[kind]:
            raise ValueError(f"expected no such number where the rule is {kind.value!r}")
        most = {"factor": 5, "share": 1, "largest_ratio": 1}.get(name)
        if number <= 0 or (most and number > most):
            raise ValueError(f"expected a number above 0{f', at most {most}' if most else ''}")
        return number

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        try:
            self.of(Unit.MM)
        except ComputeError as error:
            raise ValueError(f"expected {error.expected}") from error
        return self

    def of(self, unit: Unit) -> Rule:
        """The rule for values in mm or deg."""
        largest = self.largest_expanded_deg if unit is Unit.DEGREE else self.largest_expanded_mm
        return Rule(self.kind, self.factor, self.share, self.largest_ratio, self.least_tur, largest)


class Drift(StrEnum):
    """What becomes of a master's drift between its checks, where it counts as none."""

    HALF = "half in the budget"
    INTERPOLATED = "interpolated"


class Job(Strict):
    """Customer, order, drawing, and the rules of this job."""

    number: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,30}$")]
    customer: Name
    order: Line = ""
    drawing: Name
    drawing_revision: Line = ""
    received: datetime.date
    plan: Line = ""
    plan_revision: Line = ""
    guard_factor: Number = USUAL_FACTOR
    rule: DecisionRule | None = Field(None, exclude_if=lambda rule: rule is None)
    """Counts instead of guard_factor."""
    drift: Drift = Field(Drift.HALF, exclude_if=lambda drift: drift is Drift.HALF)
    same_person_may_release: bool = False
    title: Line = "Inspection report"
    supplied: Line = ""
    """Which data came from the customer."""
    not_covered: Line = ""
    deviations: Line = ""
    correction: Line = ""
    """Whether results are corrected to 20 degC, and how large the correction is."""
    waiting_min: Annotated[int, Field(ge=0, le=600)] = 0
    datum: Line = ""
    next_time: Line = ""

    @field_validator("guard_factor")
    @classmethod
    def _guards(cls, factor: Decimal) -> Decimal:
        if factor <= 0:
            raise ValueError(
                "expected a guard factor above 0; where a value is accepted up to its limits, "
                '[job.rule] kind = "simple acceptance" with the largest U that was agreed on'
            )
        return factor

    @field_validator("rule")
    @classmethod
    def _one_rule(cls, rule: DecisionRule | None, info: ValidationInfo) -> DecisionRule | None:
        if rule is not None and info.data.get("guard_factor", USUAL_FACTOR) != USUAL_FACTOR:
            raise ValueError("expected either guard_factor or a rule")
        return rule

    def decision(self, unit: Unit) -> Rule:
        """The decision rule for values in mm or deg."""
        return self.rule.of(unit) if self.rule else Rule(factor=self.guard_factor)


class Conditions(Strict):
    """Temperatures that a verdict needs, and how far they may lie apart."""

    instrument: Name
    where: tuple[Name, ...] = ("air", "tool", "scale")
    largest_step: Number = Decimal(2)
    """K between 20 degC and the tool, above which nothing is judged."""
    correct: bool = Field(default=False, exclude_if=lambda given: not given)
    """Whether lengths are corrected to 20 degC."""
    tool_expansion: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    tool_expansion_u: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    scale_expansion: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    scale_expansion_u: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    """Standard uncertainties; without one the coefficient is a table's, and good to 10 %."""

    @model_validator(mode="after")
    def _corrects(self) -> Self:
        for body in ("tool", "scale"):
            name = f"{body}_expansion"
            if self.correct and getattr(self, name) is None:
                raise ValueError(f"expected {name} = ... where results are corrected")
            if self.correct and body not in self.where:
                raise ValueError(f"expected {body!r} in where, since results are corrected")
            if not self.correct and getattr(self, name) is not None:
                raise ValueError(f"expected correct = true beside {name}")
            _known(self, name)
        return self


class JobFile(Strict):
    """A job file, whole."""

    job: Job
    tool: tuple[Tool, ...] = Field(min_length=1)
    temperature: Conditions
    feature: tuple[Feature, ...] = Field(min_length=1)
    characteristic: tuple[Characteristic, ...] = Field(min_length=1)
    set_up: SetUp | None = None
    influence: Mapping[str, Influence] = {}

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        _no_twins("tool", (t.mark for t in self.tool))
        _no_twins("feature", (f.id for f in self.feature))
        _no_twins("characteristic", (c.id for c in self.characteristic))
        return self

    def of(self, characteristic: str) -> Characteristic:
        """The characteristic of that id."""
        return next(c for c in self.characteristic if c.id == characteristic)

    def tool_of(self, mark: str) -> Tool:
        """The tool of that mark."""
        return next(t for t in self.tool if t.mark == mark)


def _no_twins(what: str, names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise ValueError(f"expected every {what} once, found {name!r} twice")
        seen.add(name)
