"""Backlash at each point: beside the crosshair, spread alike, and in every budget of sightings."""

from __future__ import annotations

import pytest

from inspect_rec.methods.approached import BEFORE
from inspect_rec.methods.register import named
from inspect_rec.simulate.coverage import cases
from inspect_rec.simulate.job import Measured, measured
from inspect_rec.simulate.known import tools
from inspect_rec.simulate.machine import BUDGETS, errors


def sighted(name: str, case: str, version: int | None = None) -> Measured:
    """A known tool, as one version of its method measures it."""
    found = measured(named(name), tools()[name][case], errors(BUDGETS), "approached")
    if version is None:
        return found
    outcome = named(name, version).evaluate(found.given)
    return Measured(found.truth, outcome, found.given, found.refusals, found.natural_zero)


@pytest.mark.parametrize(("name", "case"), cases())
def test_no_budget_counts_the_crosshair_and_not_the_backlash(name: str, case: str) -> None:
    rows = [row.name for row in sighted(name, case).outcome.budget.components]
    if any("crosshair" in row for row in rows):
        assert any("backlash" in row for row in rows)


@pytest.mark.parametrize(("name", "case"), [each for each in cases() if each[0] in BEFORE])
def test_a_row_of_backlash_stands_beside_each_of_the_crosshair_spread_alike(
    name: str, case: str
) -> None:
    """Rectangular, 1 µm to both sides, where the crosshair scatters by 1.5: 0.385 times as much."""
    new = sighted(name, case).outcome
    old = sighted(name, case, BEFORE[name]).outcome
    assert new.values == old.values
    assert new.budget.components[: len(old.budget.components)] == old.budget.components
    added = new.budget.components[len(old.budget.components) :]
    beside = [row for row in old.budget.components if row.of_reading == "crosshair"]
    assert len(added) == len(beside) > 0
    for row, of in zip(added, beside, strict=True):
        assert row.u == pytest.approx(of.u / (1.5 * 3**0.5))
        assert (row.common, row.of_reading) == (of.common, "backlash")
        assert row.name.startswith("backlash left over, ")
