"""A budget of five inputs against a general package for uncertain numbers.

A length from a reading, a calibration correction, a zero, and what two temperatures do to it:
value, combined uncertainty, and what each input adds.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from uncertainties import ufloat

from inspect_rec.compute.uncertainty import Budget, Component
from tests.benchmarks.timing import interleaved

pytestmark = pytest.mark.benchmark

VALUES = (25.0123, 0.0004, -0.0001, 1.5, 11.5e-6)
"""Reading, correction, zero in mm; excess temperature in K; expansion per K."""
US = (0.0008, 0.0003, 0.0005, 0.29, 0.6e-6)
CALLS = 200
NAMES = ("reading", "correction", "zero", "temperature", "expansion")


def by_package() -> tuple[float, ...]:
    r, c, z, t, a = (ufloat(v, u) for v, u in zip(VALUES, US, strict=True))
    length = (r + c - z) * (1 - a * t)
    parts = length.error_components()
    return (length.nominal_value, length.std_dev, *(parts[v] for v in (r, c, z, t, a)))


def ours() -> tuple[float, ...]:
    """As a method does it: the value, a row for each input with its slope, and their budget."""
    r, c, z, t, a = VALUES
    raw, factor = r + c - z, 1 - a * t
    slopes = (factor, factor, -factor, -raw * a, -raw * t)
    budget = Budget(
        tuple(
            [
                Component(name, u, sensitivity=slope)
                for name, u, slope in zip(NAMES, US, slopes, strict=True)
            ]
        ),
        "mm",
    )
    return (raw * factor, budget.u, *[component.u for component in budget.components])


def test_a_budget_of_five_inputs() -> None:
    assert ours() == pytest.approx(by_package(), rel=1e-9)

    def times(work: Callable[[], object]) -> Callable[[], object]:
        return lambda: [work() for _ in range(CALLS)]

    timed = interleaved({"inspect_rec": times(ours), "uncertainties": times(by_package)}, CALLS)
    print(timed.table("A budget of five inputs (goal: uncertainties at least 8)", "inspect_rec"))
