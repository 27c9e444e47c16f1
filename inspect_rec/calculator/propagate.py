"""Uncertainty of a computation from those of its inputs: by a budget, and by trials. No I/O.

The budget follows GUM 5.1.2 with sensitivities by central differences; the trials follow JCGM 101.
An input's uncertainty is stated as ``0.0016``, as ``0.1 rectangular``, or with its degrees of
freedom as ``0.0016 dof 4``; of a list or of points it holds for each figure.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from inspect_rec.calculator.base import Computation
from inspect_rec.compute.montecarlo import Propagated, Quantity, by_trials
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import ComputeError, InputError

Place = tuple[str | int, ...]
"""Input, and where in its list."""

PROBABILITY = 0.9545
"""Of an interval of two standard uncertainties to both sides."""

_STATED = re.compile(
    r"(?P<amount>[0-9.]+(?:e-?[0-9]+)?)"
    r"(?: (?P<how>normal|rectangular one-sided|rectangular|expanded k=2))?"
    r"(?: dof (?P<dof>[0-9.]+))?"
)


@dataclass(frozen=True, slots=True)
class Found:
    """A quantity with its uncertainty."""

    value: float
    budget: Budget
    trials: Propagated | None = None


def stated(inputs: Mapping[str, Any], u: Mapping[str, Any]) -> dict[Place, Quantity]:
    """Every figure of the inputs that has an uncertainty."""
    found: dict[Place, Quantity] = {}
    for name, said in u.items():
        if name not in inputs:
            raise InputError(
                f"an uncertainty of what isn't given: {name}", expected=", ".join(inputs)
            )
        amount, how, dof = _amount(name, said)
        for place, value in _figures(inputs[name], (name,)):
            found[place] = Quantity(value, amount, how, dof)
    return found


def _amount(name: str, said: Any) -> tuple[float, Distribution, float]:
    match = _STATED.fullmatch(str(said).strip())
    try:
        if match is None or isinstance(said, bool):
            raise ValueError
        amount = float(match["amount"])
        dof = float(match["dof"]) if match["dof"] else math.inf
        if not (math.isfinite(amount) and amount > 0 and dof >= 1):
            raise ValueError
    except ValueError:
        raise InputError(
            f"the uncertainty of {name} can't be read",
            expected='such as 0.0016, "0.1 rectangular" or "0.0016 dof 4"',
            found=repr(said),
        ) from None
    return amount, Distribution(match["how"] or "normal"), dof


def _figures(value: Any, place: Place) -> Iterator[tuple[Place, float]]:
    if isinstance(value, list | tuple):
        for n, each in enumerate(value):
            yield from _figures(each, (*place, n))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield place, float(value)


def _moved(inputs: Mapping[str, Any], changes: Mapping[Place, float]) -> dict[str, Any]:
    """The inputs with the figures at the places of ``changes``."""
    names = {str(place[0]) for place in changes}
    moved = {name: _copied(value) if name in names else value for name, value in inputs.items()}
    for place, figure in changes.items():
        holder: Any = moved
        for key in place[:-1]:
            holder = holder[key]
        holder[place[-1]] = figure
    return moved


def _copied(value: Any) -> Any:
    return [_copied(each) for each in value] if isinstance(value, list | tuple) else value


def numbers(answer: Mapping[str, Any]) -> dict[str, float]:
    """The quantities that are single numbers."""
    return {
        name: float(value)
        for name, value in answer.items()
        if isinstance(value, int | float) and not isinstance(value, bool)
    }


def budgets(
    computation: Computation, inputs: Mapping[str, Any], of: Mapping[Place, Quantity]
) -> dict[str, Found]:
    """Each single number with the budget of the inputs' uncertainties, in its own unit."""
    values = numbers(computation(inputs))
    slopes = {place: _slopes(computation, inputs, values, place, q) for place, q in of.items()}
    found = {}
    for name, value in values.items():
        rows: dict[str, list[Place]] = {}
        for place in of:
            rows.setdefault(str(place[0]), []).append(place)
        components = tuple(_row(name, row, places, of, slopes) for row, places in rows.items())
        found[name] = Found(value, Budget(components, ""))
    return found


def _row(
    name: str,
    row: str,
    places: list[Place],
    of: Mapping[Place, Quantity],
    slopes: Mapping[Place, Mapping[str, float]],
) -> Component:
    """One input's row; of a list the slopes of its figures are added as squares."""
    q = of[places[0]]
    slope = math.sqrt(sum(slopes[place].get(name, 0.0) ** 2 for place in places))
    if len(places) == 1:
        slope = slopes[places[0]].get(name, 0.0)
    figures = f" ({len(places)} figures)" if len(places) > 1 else ""
    return Component(f"{row}{figures}", q.amount, q.distribution, slope, dof=q.dof, unit="")


def _slopes(
    computation: Computation,
    inputs: Mapping[str, Any],
    values: Mapping[str, float],
    place: Place,
    q: Quantity,
) -> dict[str, float]:
    """Change of each number for one of that figure, by central differences."""
    # The cube root of the rounding balances what rounding and curvature leave over.
    h = max(abs(q.value), q.amount, 1e-3) * 6e-6
    low, high = (
        numbers(computation(_moved(inputs, {place: q.value + way * h}))) for way in (-1, 1)
    )
    return {
        name: _slope(low[name], value, high[name], h)
        for name, value in values.items()
        if name in low and name in high
    }


def _slope(low: float, value: float, high: float, h: float) -> float:
    """Of three values ``h`` apart. At a kink, as an amount without sign has one at 0, both sides
    cancel in the middle: there the steeper side counts."""
    below, above = (value - low) / h, (high - value) / h
    steeper = max(below, above, key=abs)
    rounding = 1e-12 * max(abs(low), abs(high)) / h
    if abs(above - below) > max(0.1 * abs(steeper), rounding):
        return steeper
    return (high - low) / (2 * h)


def trials(
    computation: Computation,
    inputs: Mapping[str, Any],
    of: Mapping[Place, Quantity],
    *,
    number: int,
    seed: int,
    p: float = PROBABILITY,
) -> dict[str, Propagated]:
    """Each single number by trials. Raises ComputeError where a trial has no result."""
    places = list(of)

    def once(figures: list[float]) -> Mapping[str, float]:
        changes = dict(zip(places, figures, strict=True))
        try:
            return numbers(computation(_moved(inputs, changes)))
        except (ComputeError, InputError) as error:
            raise ComputeError(
                f"a trial has no result: {error}",
                do="State smaller uncertainties, or trust neither",
            ) from error

    return by_trials(once, [of[place] for place in places], number=number, seed=seed, p=p)
