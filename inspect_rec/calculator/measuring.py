"""The measuring methods from values typed by hand: readings by role and mark, parameters by name.

What a budget needs of the shop (influences, instruments) is given by whoever calls; what the inputs
state overrides it. Nothing else is assumed. No I/O.

- a role without fixed marks: a list of its readings, ``[x, z]`` where both slides are read
- a role with marks: ``{"greater": 36.4471, "smaller": 26.4440}``, repeats as a list
- readings of several flutes: ``{"flutes": [one flute, the next, ...]}``
- ``ROLE_index_deg`` the index angles, ``ROLE_instrument`` a table that overrides the instrument's
- ``master_value`` what the master is certified as, ``master_instrument`` its U, of whatever role;
  ``ROLE_drift`` the drift of a master, um or deg
- ``influence`` amounts that override the shop's, ``tolerance_width``, ``lower``, ``upper``,
  ``natural_zero`` (true where no value lies below 0, as of a form), ``guard_factor``
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from inspect_rec.calculator.base import plain
from inspect_rec.calculator.base import register as computations
from inspect_rec.compute import conformity
from inspect_rec.compute.reach import FAR
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import ComputeError, InputError, InspectRecError
from inspect_rec.methods.base import (
    Amount,
    Given,
    Instrument,
    Known,
    Outcome,
    Series,
    Slides,
    Taken,
)
from inspect_rec.methods.register import Method, Reads, Role, register
from inspect_rec.units import Unit, quantise

SLIDES = Slides("X", "Z", 1, 1)
_CHANNEL = {
    Reads.RADIAL: "X",
    Reads.ALONG: "Z",
    Reads.INDICATOR: "indicator",
    Reads.ANGLE: "angle",
    Reads.LENGTH: "length",
}
_OTHERS = (
    "influence",
    "tolerance_width",
    "lower",
    "upper",
    "natural_zero",
    "guard_factor",
    "values",
    "u_own",
)


@dataclass(frozen=True, slots=True)
class Shelf:
    """What the shop knows: how far each influence may shift a reading, and its instruments by what
    they read ("slides", "indicator", "angle", "length")."""

    influences: Mapping[str, Amount] = field(default_factory=dict)
    instruments: Mapping[str, Instrument] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Measured:
    """What a method made of typed readings."""

    method: Method
    given: Given
    outcome: Outcome
    limits: conformity.Limits | None = None
    guard_factor: Decimal = Decimal("1.645")

    def judged(self) -> conformity.Judgement | None:
        """The verdict where limits are stated."""
        if self.limits is None:
            return None
        unit = Unit(self.method.unit)
        values = [quantise(v, unit) for v in self.outcome.values]
        budget = self.outcome.budget
        u = quantise(budget.u / (1 if unit is Unit.DEGREE else 1000), unit)
        factor = Decimal(repr(round(budget.guard_k(float(self.guard_factor)), 4)))
        found = conformity.judge_range(min(values), max(values), self.limits, u, factor)
        if self.outcome.refusals:
            reason = "; ".join(self.outcome.refusals)
            return replace(found, verdict=conformity.Verdict.REFUSED, reason=reason)
        return found

    def told(self) -> dict[str, Any]:
        """Quantities by name, as a case or a program reads them."""
        outcome, budget, unit = self.outcome, self.outcome.budget, self.method.unit
        size = "um" if unit == "mm" else unit
        found: dict[str, Any] = {f"value_{unit}": outcome.value}
        if len(outcome.values) > 1:
            found = {f"lowest_{unit}": outcome.values[0], f"highest_{unit}": outcome.values[-1]}
        found |= {
            f"u_{size}": budget.u,
            f"U_{size}": budget.expanded,
            "k": budget.coverage_k,
            "dof_effective": budget.dof,
        }
        judged = self.judged()
        if judged is not None:
            found |= {"verdict": judged.verdict.value, "refused_because": judged.reason or None}
        return {name: plain(value) for name, value in (found | dict(outcome.detail)).items()}


def by_slug(name: str) -> Method | None:
    """The method of that name, as it is written or as a word of a command line."""
    return next((m for m in register().values() if name in (m.name, m.slug)), None)


def no_such(name: str) -> InputError:
    """What to say of a name that is no computation's and no method's: which are like it."""
    names = [*computations(), *(m.slug for m in register().values())]
    return InputError(
        "no such computation",
        expected=" | ".join(get_close_matches(name, names, 3, 0.5)) or "a name of the list",
        found=repr(name),
        do="See them with: inspect-rec calc --list",
    )


def inputs_of(method: Method) -> dict[str, str]:
    """What a method takes, by name, in words."""
    found = {}
    for role in method.roles:
        marks = f" at {', '.join(role.marks)}" if role.marks else ""
        many = ", every flute" if method.over_flutes else ""
        left = "" if role.needed else " (may be left out)"
        found[role.name] = f"{role.what}: {role.reads.value}{marks}{many}{left}"
        if role.index:
            found[f"{role.name}_index_deg"] = "index angle at each mark"
    if any(role.master for role in method.roles):
        found["master_value"] = "what the master is certified as"
        found["master_instrument"] = 'its U (k = 2), um or deg, as {"expanded": 1.0}'
    for each in method.asks:
        found[each.name] = f"{each.what}: {each.kind}" + (
            "" if each.needed else " (may be left out)"
        )
    if method.varies:
        found |= {"values": "value of each flute", "u_own": "u of one flute's own part, um or deg"}
    return found


def measured(method: Method, inputs: Mapping[str, Any], shelf: Shelf) -> Measured:
    """The method's value with its budget, null standing for what is left out. InputError or
    ComputeError where it can't be had."""
    inputs = {name: value for name, value in inputs.items() if value is not None}
    _known(method, inputs)
    influences = {**shelf.influences, **_influences(inputs.get("influence") or {})}
    series = {
        role.name: _series(role, inputs, shelf)
        for role in method.roles
        if role.needed or role.name in inputs
    }
    width = inputs.get("tolerance_width")
    limits = _limits(inputs)
    if width is None and limits is not None and limits.width is not None:
        width = limits.width
    given = Given(
        series=series,
        flute=None,
        parameters={
            each.name: _parameter(inputs[each.name], each.name)
            for each in method.asks
            if each.name in inputs
        },
        slides=SLIDES,
        influences=influences,
        drift=_drift(method, inputs),
        others=_others(method, inputs),
        width=None if width is None else float(width),
    )
    factor = _decimal(inputs.get("guard_factor", Decimal("1.645")), "guard_factor")
    return Measured(method, given, _evaluated(method, given), limits, factor)


def _evaluated(method: Method, given: Given) -> Outcome:
    try:
        return method.evaluate(given)
    except InspectRecError:
        raise
    except (ArithmeticError, ValueError) as error:
        do = "Look for one that is far too large or too small, or that is lacking"
        if method.over_flutes and not any(each.flutes for each in given.series.values()):
            do = 'Give those of every flute: {"flutes": [of one, of the next, ...]}'
        raise ComputeError(f"{method.name}: these readings have no result", do=do) from error


def _known(method: Method, inputs: Mapping[str, Any]) -> None:
    names = {*inputs_of(method), *_OTHERS, *(f"{r.name}_instrument" for r in method.roles)}
    names |= {f"{r.name}_drift" for r in method.roles if r.master}
    for name in inputs:
        if name not in names:
            raise InputError(
                f"{method.name}: no such input",
                expected=", ".join(inputs_of(method)),
                found=repr(name),
            )


def _decimal(value: Any, where: str) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise InputError("not a number", expected="a number", found=repr(value)[:60], where=where)
    found = value if isinstance(value, Decimal) else Decimal(repr(value))
    if not (found.is_finite() and abs(found) <= FAR):
        raise InputError(
            "no number that a machine can reach",
            expected=f"from -{FAR:.0f} to {FAR:.0f}",
            found=str(value)[:40],
            where=where,
        )
    return found


def _several(value: Any, where: str) -> list[Any] | tuple[Any, ...]:
    if not isinstance(value, list | tuple):
        raise InputError("not a list", expected="a list", found=repr(value)[:40], where=where)
    return value


def _number(value: Any, where: str) -> float:
    return float(_decimal(value, where))


def _parameter(value: Any, where: str) -> Decimal | str | tuple[Decimal, ...] | tuple[str, ...]:
    if isinstance(value, list | tuple):
        if all(isinstance(each, str) for each in value):
            return tuple(str(each) for each in value)
        return tuple(_decimal(each, where) for each in value)
    return value if isinstance(value, str) else _decimal(value, where)


def _influences(said: Any) -> dict[str, Amount]:
    if not isinstance(said, Mapping):
        raise InputError("influence must be a table", expected='{"crosshair": 1.2}')
    found: dict[str, Amount] = {}
    for name, each in said.items():
        if isinstance(each, Mapping):
            distribution = str(each.get("distribution", "normal"))
            amount = _decimal(each.get("amount"), f"influence {name}")
        else:
            amount, distribution = _decimal(each, f"influence {name}"), "normal"
        if distribution not in set(Distribution):
            raise InputError(
                "no such distribution", expected=" | ".join(Distribution), found=distribution
            )
        # In the unit of the row that asks for it: none is typed.
        found[str(name)] = Known(amount, distribution)
    return found


def _series(role: Role, inputs: Mapping[str, Any], shelf: Shelf) -> Series:
    if role.name not in inputs:
        raise InputError(
            f"the method needs {role.name}", expected=f"{role.what}: {role.reads.value}"
        )
    taken = tuple(
        replace(each, ref=("", n)) for n, each in enumerate(_flutes(role, inputs[role.name]), 1)
    )
    index = tuple(
        _number(each, f"{role.name}_index_deg")
        for each in _several(inputs.get(f"{role.name}_index_deg") or (), f"{role.name}_index_deg")
    )
    slides = role.reads in (Reads.RADIAL, Reads.ALONG, Reads.POINT)
    channel = "slides" if slides else _CHANNEL[role.reads]
    instrument = shelf.instruments.get(channel, Instrument(channel))
    instrument = _stated(instrument, inputs.get(f"{role.name}_instrument"), role.name)
    master = None
    if role.master:
        value = inputs.get("master_value")
        master = Instrument(
            "master", value=None if value is None else _number(value, "master_value")
        )
        master = _stated(master, inputs.get("master_instrument"), role.name)
    series = Series(role.name, taken, channel, instrument, master, index)
    marks = series.of_flute(series.flutes[0]).marks if series.flutes else series.marks
    if not set(role.marks) <= set(marks) or len(marks) < role.least:
        expected = ", ".join(role.marks) or f"{role.least} readings or more"
        raise InputError(f"{role.name} lacks readings", expected=expected, found=", ".join(marks))
    if role.index and len(index) != len(marks):
        raise InputError(
            f"{role.name} needs the index at each mark",
            expected=f"{role.name}_index_deg with {len(marks)} angles",
            found=str(len(index)),
        )
    return series


def _stated(instrument: Instrument, said: Any, where: str) -> Instrument:
    if said is None:
        return instrument
    names = {"half_step", "repeat", "expanded", "largest_error", "value"}
    if not isinstance(said, Mapping) or not set(said) <= names:
        raise InputError(
            f"the instrument of {where} can't be read",
            expected=", ".join(sorted(names)),
            found=repr(said),
        )
    amounts: dict[str, Any] = {name: _number(value, where) for name, value in said.items()}
    return replace(instrument, **amounts)


def _flutes(role: Role, said: Any) -> Iterator[Taken]:
    if isinstance(said, Mapping) and set(said) == {"flutes"}:
        for flute, each in enumerate(_several(said["flutes"], f"{role.name} flutes"), 1):
            yield from _marks(role, each, flute)
        return
    yield from _marks(role, said, None)


def _marks(role: Role, said: Any, flute: int | None) -> Iterator[Taken]:
    if isinstance(said, Mapping):
        for mark, each in said.items():
            for repeat, figure in enumerate(_repeats(role, each), 1):
                yield _taken(role, str(mark), repeat, flute, figure)
        return
    if not isinstance(said, list | tuple) or (
        role.reads is Reads.POINT and said and not isinstance(said[0], list | tuple)
    ):
        said = [said]
    for mark, figure in enumerate(said, 1):
        yield _taken(role, str(mark), 1, flute, figure)


def _repeats(role: Role, said: Any) -> list[Any]:
    if not isinstance(said, list | tuple):
        return [said]
    one_point = role.reads is Reads.POINT and said and not isinstance(said[0], list | tuple)
    return [said] if one_point else list(said)


def _taken(role: Role, mark: str, repeat: int, flute: int | None, figure: Any) -> Taken:
    where = f"{role.name} {mark}"
    if role.reads is Reads.POINT:
        if not isinstance(figure, list | tuple) or len(figure) != 2:
            raise InputError(f"{where} is no point", expected="[x, z]", found=repr(figure))
        figures = {"X": _number(figure[0], where), "Z": _number(figure[1], where)}
    else:
        figures = {_CHANNEL[role.reads]: _number(figure, where)}
    return Taken(mark, repeat, flute, figures, ("", 0))


def _drift(method: Method, inputs: Mapping[str, Any]) -> dict[str, float]:
    return {
        role.name: _number(inputs[f"{role.name}_drift"], f"{role.name}_drift")
        for role in method.roles
        if role.master and f"{role.name}_drift" in inputs
    }


def _others(method: Method, inputs: Mapping[str, Any]) -> dict[int, Outcome]:
    if not method.varies:
        return {}
    values, own = inputs.get("values"), inputs.get("u_own")
    if not isinstance(values, list | tuple) or len(values) < 2 or own is None:
        raise InputError(
            f"{method.name} needs the flutes' values",
            expected="values = two or more, u_own = u of one flute's own part",
            found=repr(values),
        )
    budget = Budget((Component("one flute, own part", _number(own, "u_own")),))
    return {n: Outcome((_number(value, "values"),), budget) for n, value in enumerate(values, 1)}


def _limits(inputs: Mapping[str, Any]) -> conformity.Limits | None:
    lower, upper = inputs.get("lower"), inputs.get("upper")
    if lower is None and upper is None:
        return None
    natural_zero = inputs.get("natural_zero", False)
    if not isinstance(natural_zero, bool):
        raise InputError(
            "natural_zero can't be read", expected="true or false", found=repr(natural_zero)
        )
    return conformity.Limits(
        None if lower is None else _decimal(lower, "lower"),
        None if upper is None else _decimal(upper, "upper"),
        natural_zero,
    )
