"""What a method gets and gives: readings that stand, what the shop knows, value with budget.

A method is one function in one file of this package (``register`` says how it is entered). It
does no I/O, reads no clock, and knows nothing of jobs, flutes of other tools, verdicts or reports.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from statistics import fmean
from typing import Protocol

from inspect_rec.compute.thermal import Thermal
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import InputError

Ref = tuple[str, int]
"""Station and sequence number of an entry."""


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading at its place: the figures in mm, deg or degC by channel."""

    mark: str
    repeat: int
    flute: int | None
    figures: Mapping[str, float]
    ref: Ref
    at: float = 0.0
    """Instant of the reading, s, from any origin that all readings share."""

    def __getitem__(self, channel: str) -> float:
        return self.figures[channel]


@dataclass(frozen=True, slots=True)
class Instrument:
    """What a budget needs to know of a readout, indicator or master."""

    id: str
    half_step: float | None = None
    repeat: float | None = None
    expanded: float | None = None
    largest_error: float | None = None
    value: float | None = None
    own_repeat: Known | None = None
    """Where ``repeat`` comes from a study of the shop's own, or how far such a study has come."""


@dataclass(frozen=True, slots=True)
class Series:
    """The valid readings of one feature, in the order in which they were taken."""

    feature: str
    taken: tuple[Taken, ...]
    channel: str
    instrument: Instrument
    master: Instrument | None = None
    index: tuple[float, ...] = ()
    """Index angle of each mark, deg, in the order of the marks; empty where none is stated."""
    after: tuple[Taken, ...] = ()
    """Of a master: the readings of the check made afterwards, once it is made."""

    def at(self, mark: str) -> list[Taken]:
        """The readings at that mark."""
        return [t for t in self.taken if t.mark == mark]

    def of_flute(self, flute: int | None) -> Series:
        """The readings of that flute alone."""
        chosen = tuple(t for t in self.taken if t.flute == flute)
        return replace(self, taken=chosen)

    def mean(self, mark: str, channel: str) -> float:
        """Mean figure at that mark."""
        return fmean(t[channel] for t in self.at(mark))

    @property
    def marks(self) -> list[str]:
        """The marks in order, each once."""
        return list(dict.fromkeys(t.mark for t in self.taken))

    @property
    def repeats(self) -> int:
        """Readings at the mark that has fewest."""
        return min((len(self.at(mark)) for mark in self.marks), default=0)

    @property
    def flutes(self) -> list[int]:
        """The flutes that have readings, in order."""
        return sorted({t.flute for t in self.taken if t.flute is not None})


class Amount(Protocol):
    """An influence of the shop file."""

    @property
    def amount(self) -> Decimal:
        """How far it may shift a reading."""

    @property
    def distribution(self) -> str:
        """How that is spread."""

    @property
    def assumed(self) -> bool:
        """Whether it is taken from common practice."""


@dataclass(frozen=True, slots=True)
class Known:
    """What a shop knows of an influence by a study of its own, or how far that study has come."""

    amount: Decimal
    distribution: str = Distribution.NORMAL.value
    assumed: bool = False
    dof: float = math.inf
    note: str = ""
    study: str = ""
    """Name of the study; where ``dof`` is infinite it doesn't count yet."""


@dataclass(frozen=True, slots=True)
class MasterBias:
    """What a master read too large at its check, and the standard uncertainty of that check, um."""

    um: float
    u: float


@dataclass(frozen=True, slots=True)
class Slides:
    """What the slides mean: which is radial, and the sense outward and toward the tip."""

    radial: str
    along: str
    outward: int
    tip: int


@dataclass(frozen=True, slots=True)
class Given:
    """Everything one evaluation may use."""

    series: Mapping[str, Series]
    flute: int | None
    parameters: Mapping[str, Decimal | str | tuple[Decimal, ...] | tuple[str, ...]]
    slides: Slides
    influences: Mapping[str, Amount]
    drift: Mapping[str, float]
    """Role of a checked feature -> drift of its master between the checks, um or deg; a role
    that has had no check after is absent."""
    others: Mapping[int, Outcome]
    """For a variation: flute -> outcome of the characteristic that varies."""
    width: float | None = None
    """Width of the tolerance, mm or deg; None where there is one limit alone."""
    bias: Mapping[str, MasterBias] = field(default_factory=dict)
    """Role of a checked feature -> what its master read too large at the check before, where the
    check knows it better than its own points do: one whose centre is held on its axis."""
    thermal: Thermal | None = None
    """What takes a length to 20 degC; None where the job isn't corrected."""
    interpolated: bool = False
    """Whether a master's bias is taken between its checks, not from the one before."""

    def number(self, name: str) -> float:
        """A number the plan has to state; there is no default guess."""
        value = self.parameters.get(name)
        if not isinstance(value, Decimal):
            raise InputError(
                f"the method needs a number for {name}", do=f"State {name} in the plan"
            )
        return float(value)

    def numbers(self, name: str) -> tuple[float, ...]:
        """A list of numbers the plan has to state."""
        value = self.parameters.get(name)
        if not isinstance(value, tuple) or not all(isinstance(v, Decimal) for v in value):
            raise InputError(
                f"the method needs a list of numbers for {name}",
                do=f"State {name} = [...] in the plan",
            )
        return tuple(float(v) for v in value)

    def word(self, name: str, among: Iterable[str]) -> str:
        """A word the plan has to state; there is no default guess."""
        value = self.parameters.get(name)
        if value not in (allowed := tuple(among)):
            raise InputError(
                f"the method needs {name}",
                expected=" or ".join(allowed),
                found=str(value or "nothing"),
                do=f"State {name} in the plan",
            )
        return str(value)

    def component(
        self,
        name: str,
        influence: str,
        *,
        sensitivity: float = 1.0,
        ends: int = 1,
        averaged: int = 1,
        common: bool = False,
        unit: str = "um",
    ) -> Component:
        """A row of the budget whose amount is the shop's own knowledge."""
        amount = self.influences.get(influence)
        if amount is None:
            raise InputError(
                f"the shop file states no influence {influence!r}",
                do=f"Add [influence.{influence!r}] with amount and distribution",
            )
        known = amount if isinstance(amount, Known) else None
        return Component(
            name=name,
            amount=float(amount.amount) * _in(unit, amount, influence),
            distribution=Distribution(amount.distribution),
            sensitivity=sensitivity,
            ends=ends,
            averaged=averaged,
            common=common,
            dof=known.dof if known else math.inf,
            assumed=amount.assumed,
            note=known.note if known else "",
            unit=unit,
            study=known.study if known else "",
            of_reading=influence if influence == "crosshair" else "",
        )

    def crosshair_um(self) -> float:
        """Standard deviation of one sighting, um."""
        return self.component("crosshair", "crosshair").u


_UM = {"um": 1.0, "mm": 1000.0}


def _in(unit: str, amount: Amount, influence: str) -> float:
    """What takes an influence from the unit in which the shop states it to the one of its row."""
    stated = getattr(amount, "unit", unit)
    if stated == unit:
        return 1.0
    if {stated, unit} <= set(_UM):
        return _UM[stated] / _UM[unit]
    raise InputError(
        f"the influence {influence!r} is stated in another unit",
        expected=f'unit = "{unit}"',
        found=f'unit = "{stated}"',
        do="State its unit beside its amount in the shop file; um where none is stated",
    )


def step(instrument: Instrument, name: str, **more: float | int | bool | str) -> Component:
    """The row for the step of a readout or instrument (half step, rectangular)."""
    return _row(instrument, "half_step", name, Distribution.RECTANGULAR, of_reading="step", **more)


def repeat(instrument: Instrument, name: str, **more: float | int | bool | str) -> Component:
    """The row for the scatter of one reading of an instrument laid up anew."""
    if (own := instrument.own_repeat) is not None:
        more = {"dof": own.dof, "note": own.note, "study": own.study, **more}
    return _row(instrument, "repeat", name, Distribution.NORMAL, of_reading="repeat", **more)


def calibration(instrument: Instrument, name: str, **more: float | int | bool | str) -> Component:
    """The row for the calibration of an instrument or master (its U, k = 2)."""
    return _row(instrument, "expanded", name, Distribution.EXPANDED, **more)


def _row(
    instrument: Instrument,
    what: str,
    name: str,
    distribution: Distribution,
    **more: float | int | bool | str,
) -> Component:
    amount = getattr(instrument, what)
    if amount is None:
        raise InputError(
            f"equipment {instrument.id} states no {what}", do=f"Add {what} to its table"
        )
    return Component(name=name, amount=amount, distribution=distribution, **more)  # type: ignore[arg-type]


def drift_row(
    given: Given, role: str, name: str, **more: float | int | bool | str
) -> list[Component]:
    """The row for a master's drift: half of it, rectangular (trade: common practice)."""
    if role not in given.drift:
        return []
    half = abs(given.drift[role]) / 2
    return [
        Component(name=name, amount=half, distribution=Distribution.RECTANGULAR, **more)  # type: ignore[arg-type]
    ]


def stated(sensitivity: float) -> float:
    """A sensitivity that comes from a fit, as the budget states and uses it: to two decimals.

    So all flutes of a tool share one budget, and a reader who adds up the printed budget by
    hand gets the printed uncertainty; the difference is far below what an uncertainty is known to.
    """
    return round(sensitivity, 2 if sensitivity >= 0.1 else 4)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What readings became: one value, or lowest and highest of a profile."""

    values: tuple[float, ...]
    budget: Budget
    refusals: tuple[str, ...] = ()
    detail: Mapping[str, float | tuple[float, ...]] = field(default_factory=dict)

    @property
    def value(self) -> float:
        """The value; of a profile the highest."""
        return self.values[-1]


Evaluate = Callable[[Given], Outcome]
"""What a method is: what it is given to what the readings became."""
