"""Values taken to 20 degC, where the job has its results corrected: one line above a method."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import wraps

from inspect_rec.compute.thermal import USUAL_SHARE, Body
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.methods.base import Evaluate, Given, Outcome

GRADIENT = "temperature gradient"
"""Influence of the shop file: how far a body's temperature may lie from where it was read, K."""

CORRECTION = "to_20_um"
"""Detail of an outcome: what the correction to 20 degC added, um; absent where there is none."""


def to_20(*, master: str = "") -> Callable[[Evaluate], Evaluate]:
    """Stands between ``@method`` and a method whose value is a length; ``master``: the role of the
    master whose own length enters that value.

    A job that isn't corrected goes through untouched. Else values, budget and detail are those at
    20 degC, and where a temperature is missing the value stays as it is and has no verdict.
    """

    def above(evaluate: Evaluate) -> Evaluate:
        @wraps(evaluate)
        def evaluated(given: Given) -> Outcome:
            found = evaluate(given)
            return found if given.thermal is None else _corrected(given, found, master)

        return evaluated

    return above


def _corrected(given: Given, found: Outcome, master: str) -> Outcome:
    if said := lacking(given, master):
        return replace(found, refusals=(*found.refusals, *said))
    values = tuple(value * factor(given) for value in found.values)
    rows = (*found.budget.components, *thermal_rows(given, values[-1], master))
    return replace(
        found,
        values=values,
        budget=Budget(rows, found.budget.unit),
        detail={**found.detail, CORRECTION: (values[-1] - found.value) * 1000},
    )


def lacking(given: Given, master: str = "") -> tuple[str, ...]:
    """Why nothing can be taken to 20 degC; empty where it can, or isn't asked for."""
    if given.thermal is None:
        return ()
    why = given.thermal.missing
    roles = ("", master) if master else ("",)
    return tuple(f"{w}: not corrected to 20 °C" for r in roles for w in why.get(r, ()))


def factor(given: Given) -> float:
    """What a length is multiplied by to be that at 20 degC; 1 where it isn't corrected."""
    thermal = given.thermal
    return 1.0 if thermal is None or thermal.tool is None else thermal.tool.to_20(1.0)


def thermal_rows(given: Given, length_mm: float, master: str = "") -> list[Component]:
    """What the correction of ``length_mm`` adds to a budget in um; nothing where there is none.

    The same for all flutes, and cancelling between them, is all but what the temperatures moved
    while the flutes were read.
    """
    thermal = given.thermal
    if thermal is None or thermal.tool is None or lacking(given, master):
        return []
    held = given.series[master].master if master else None
    master_mm = (held.value or 0.0) if held else 0.0
    lengths = thermal.lengths(length_mm, master, master_mm)
    slopes = [body.expansion * mm * 1e-3 for body, mm in lengths]
    rows = [
        Component(
            name="thermometer, calibration",
            amount=thermal.expanded,
            distribution=Distribution.EXPANDED,
            sensitivity=sum(slopes),
            common=True,
            unit="K",
        )
    ]
    if thermal.half_step:
        rows.append(
            Component(
                name="step of the thermometer",
                amount=thermal.half_step,
                distribution=Distribution.RECTANGULAR,
                sensitivity=math.hypot(*slopes),
                common=True,
                unit="K",
            )
        )
    for name, parts in _by_name(lengths).items():
        rows.append(
            given.component(
                f"temperature of {name}",
                GRADIENT,
                sensitivity=sum(body.expansion * mm * 1e-3 for body, mm in parts),
                common=True,
                unit="K",
            )
        )
        rows += _moved(name, parts)
        rows.append(_expansion(name, parts))
    return rows


Parts = list[tuple[Body, float]]


def _by_name(lengths: Parts) -> dict[str, Parts]:
    """The scale beside the tool and beside the master is one body at two times."""
    found: dict[str, Parts] = {}
    for body, mm in lengths:
        found.setdefault(body.name, []).append((body, mm))
    return found


def _moved(name: str, parts: Parts) -> Iterator[Component]:
    """Between two readings of the thermometer a temperature lies anywhere between the two."""
    for body, mm in parts:
        if body.moved:
            yield Component(
                name=f"temperature of {name}, moving",
                amount=body.moved / 2,
                distribution=Distribution.RECTANGULAR,
                sensitivity=body.expansion * mm * 1e-3,
                unit="K",
                note=f"{body.moved:.1f} K between the readings next to it",
            )


def _expansion(name: str, parts: Parts) -> Component:
    body = parts[0][0]
    known = body.u is not None
    return Component(
        name=f"expansion of {name}",
        amount=body.expansion * USUAL_SHARE if body.u is None else body.u,
        distribution=Distribution.NORMAL if known else Distribution.RECTANGULAR,
        sensitivity=sum(each.away * mm * 1e-3 for each, mm in parts),
        common=True,
        assumed=not known,
        unit="1e-6/K",
        note="" if known else f"± {USUAL_SHARE:.0%} of a table's value",
    )
