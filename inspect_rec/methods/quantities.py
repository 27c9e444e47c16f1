"""A value worked out from several quantities, and its budget: no method, what methods share.

Each quantity says for itself which rows it adds, once it is known how far the value moves with it
(GUM 5.1): a sighting its scatter and step, a stated angle what the shop knows of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from inspect_rec.compute.sensitivity import slopes
from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.methods.base import Given, Series, step

Rows = Callable[[float], Iterable[Component]]
"""From how far the value moves for 1 mm or 1 deg (in um or deg), the rows of the budget."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """Figures that enter a value, mm or deg, each as uncertain as the others and independent."""

    values: tuple[float, ...]
    rows: Rows


def worked_out(
    model: Callable[..., float], *quantities: Quantity, unit: str
) -> tuple[float, Budget]:
    """The value of ``model`` (mm or deg), which takes the figures of all quantities in order, and
    its budget in ``unit``, um or deg. What doesn't move the value has no row."""
    figures = [figure for quantity in quantities for figure in quantity.values]
    moved = iter(slopes(model, *figures))
    rows: list[Component] = []
    for quantity in quantities:
        slope = math.hypot(*(next(moved) for _ in quantity.values))
        if slope:
            rows += quantity.rows(slope * 1000 if unit == "um" else slope)
    return model(*figures), Budget(tuple(rows), unit)


def setting(given: Given, name: str, influence: str, value: float, unit: str) -> Quantity:
    """What the plan states in mm or deg; the shop knows how far off it may be."""
    return Quantity(
        (value,),
        lambda slope: [given.component(name, influence, sensitivity=slope, unit=unit)],
    )


def sighted(given: Given, series: Series, what: str, *values: float) -> Quantity:
    """Means of sightings of ``what``, one for each mark and slide, mm."""
    return Quantity(
        values,
        lambda slope: [
            given.component(
                f"crosshair on {what}",
                "crosshair",
                sensitivity=slope / 1000,
                averaged=series.repeats,
            ),
            step(series.instrument, f"readout step, {what}", sensitivity=slope / 1000),
        ],
    )
