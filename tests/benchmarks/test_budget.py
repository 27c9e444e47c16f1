"""A budget of five inputs against a general package for uncertain numbers.

A length from a reading, a calibration correction, a zero, and what two temperatures do to it:
value, combined uncertainty, and what each input adds.

The goals are 8 times the package for any formula, 30 times for a closed one. The numbers alone,
any formula's slopes taken by differences, reach the first. The budget that a report states doesn't:
it makes a row of each input, which bears its name, distribution, degrees of freedom and origin and
can't be changed. Making five such rows takes two thirds of its time; as named tuples instead of
the frozen dataclasses that all records here are, the whole would take half as long, which is still
short of the goal. No value of the program comes without its rows, so 30 times isn't aimed at.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from uncertainties import ufloat

from inspect_rec.compute.sensitivity import slopes
from inspect_rec.compute.uncertainty import Budget, Component
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

VALUES = (25.0123, 0.0004, -0.0001, 1.5, 11.5e-6)
"""Reading, correction, zero in mm; excess temperature in K; expansion per K."""
US = (0.0008, 0.0003, 0.0005, 0.29, 0.6e-6)
CALLS = 200
NAMES = ("reading", "correction", "zero", "temperature", "expansion")


def length(r: float, c: float, z: float, t: float, a: float) -> float:
    return (r + c - z) * (1 - a * t)


def by_package() -> tuple[float, ...]:
    r, c, z, t, a = (ufloat(v, u) for v, u in zip(VALUES, US, strict=True))
    length = (r + c - z) * (1 - a * t)
    parts = length.error_components()
    return (length.nominal_value, length.std_dev, *(parts[v] for v in (r, c, z, t, a)))


def numbers_alone() -> tuple[float, ...]:
    """The formula's slopes by differences, as methods take them, and no rows."""
    parts = [abs(slope) * u for slope, u in zip(slopes(length, *VALUES), US, strict=True)]
    return (length(*VALUES), math.hypot(*parts), *parts)


def with_rows() -> tuple[float, ...]:
    """As a method does it: the value, a row for each input with its slope, and their budget."""
    r, c, z, t, a = VALUES
    raw, factor = r + c - z, 1 - a * t
    moved = (factor, factor, -factor, -raw * a, -raw * t)
    budget = Budget(
        tuple(
            [
                Component(name, u, sensitivity=slope)
                for name, u, slope in zip(NAMES, US, moved, strict=True)
            ]
        ),
        "mm",
    )
    return (raw * factor, budget.u, *[component.u for component in budget.components])


def test_a_budget_of_five_inputs() -> None:
    assert with_rows() == pytest.approx(by_package(), rel=1e-9)
    assert numbers_alone() == pytest.approx(by_package(), rel=1e-6)

    def times(work: Callable[[], object]) -> Callable[[], object]:
        return lambda: [work() for _ in range(CALLS)]

    routes = {
        "the numbers alone": times(numbers_alone),
        "rows and budget": times(with_rows),
        "uncertainties": times(by_package),
    }
    timed = interleaved(routes, CALLS)
    print(
        timed.table("A budget of five inputs (goal: uncertainties at least 8)", "rows and budget")
    )
    alone = timed.ratio("uncertainties", "the numbers alone")
    print(f"uncertainties takes {alone:.2f} times as long as the numbers alone")
