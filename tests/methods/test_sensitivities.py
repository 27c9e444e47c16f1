"""Budgets against uncertain readings: each figure moved by itself, and GTC's own arithmetic.

Of a method's sightings and indicator readings the budget must hold what they do to the value:
never less, and more only where the method says why.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from typing import Any

import GTC
import pytest

from inspect_rec.calculator import measuring
from inspect_rec.calculator.measuring import Measured, Shelf
from inspect_rec.methods.base import Amount, Instrument, Known, Outcome, Series
from inspect_rec.methods.register import named
from tests import worked
from tests.methods.by_hand import Sample
from tests.methods.by_hand_indicated import INDICATED
from tests.methods.by_hand_sighted import SIGHTED
from tests.methods.readings import alone, asked, indicated

SAMPLES = SIGHTED + INDICATED
MOVED = 1e-6

MORE_THAN_ITS_READINGS = {
    "form of an arc": "two points, where the fit takes part of each up",
    "form by swing test": "two readings, where the fit takes part of each up",
    "profile, radius held": "one point, where the fit takes part of it up",
    "step at a blend": "the scatter that its rough points show",
    "tangency at a blend": "the scatter that its rough points show",
    "radius by swing test": "the scatter that its rough readings show",
    "height against the axis by indicator": "one reading each, though the axis is read twice",
    "lead from travel and turn": "the flute is touched across, which shows along as L / (2 pi r)",
    "helix angle from travel and turn": "as the lead",
    "helix angle on a taper": "as the lead",
}
"""Methods whose rows are more than what moving their readings gives, and what for."""


def only(crosshair: float, repeat: float) -> Shelf:
    """A shop where nothing is uncertain but a sighting and an indicator's reading, um."""
    return Shelf(
        alone(crosshair=crosshair),
        {
            "slides": Instrument("RO-1", half_step=0.0),
            "indicator": Instrument("IN-1", half_step=0.0, repeat=repeat, expanded=0.0),
            "angle": Instrument("OP-1", half_step=0.0, expanded=0.0),
            "length": Instrument("CA-1", half_step=0.0, largest_error=0.0),
        },
    )


def by_moving(found: Measured, channel: str) -> float:
    """Root of the sum of squares of the value's change for each figure of that channel."""
    total = 0.0
    for role, series in found.given.series.items():
        if series.channel != channel:
            continue
        for n, t in enumerate(series.taken):
            for key, figure in t.figures.items():
                ends = []
                for way in (MOVED, -MOVED):
                    moved = replace(t, figures={**t.figures, key: figure + way})
                    taken = (*series.taken[:n], moved, *series.taken[n + 1 :])
                    there = {**found.given.series, role: replace(series, taken=taken)}
                    ends.append(found.method.evaluate(replace(found.given, series=there)).value)
                total += ((ends[0] - ends[1]) / (2 * MOVED)) ** 2
    return math.sqrt(total)


@pytest.mark.parametrize(
    ("channel", "amounts"), [("slides", (1.5, 0.0)), ("indicator", (0.0, 0.6))]
)
@pytest.mark.parametrize(("name", "sample"), SAMPLES, ids=[f"{n} {s.case}" for n, s in SAMPLES])
def test_what_readings_scatter_is_in_the_budget_as_it_moves_the_value(
    name: str, sample: Sample, channel: str, amounts: tuple[float, float]
) -> None:
    typed = {
        key: dict.fromkeys(said, 0.0) if key.endswith("_instrument") else said
        for key, said in sample.inputs.items()
    }
    found = measuring.measured(named(name), typed, only(*amounts))
    moves = by_moving(found, channel) * max(amounts)
    if not moves:
        return
    u = found.outcome.budget.u * (1 if found.method.unit == "mm" else 1000)
    # Sensitivities of fits are stated to two decimals, the axis is rounded up to 0.1 um.
    assert u > 0.99 * moves
    assert (u > 1.03 * moves) is (name in MORE_THAN_ITS_READINGS), u / moves


def study(amount: float, dof: float) -> Known:
    return Known(Decimal(repr(amount)), dof=dof, study="crosshair")


def widths(dof: float, repeats: int) -> Outcome:
    """A width against a pin, the crosshair known from a study of so many degrees of freedom."""
    sample = next(s for name, s in SIGHTED if name == "width by two sightings")
    typed = {
        key: {mark: [said[mark]] * repeats for mark in said} if key in ("edges", "master") else said
        for key, said in sample.inputs.items()
    }
    influences: dict[str, Amount] = {**worked.shop().influence, "crosshair": study(1.5, dof)}
    shelf = Shelf(influences, {"slides": Instrument("RO-1", half_step=0.5)})
    return measuring.measured(named("width by two sightings"), typed, shelf).outcome


@pytest.mark.parametrize("dof", [3.0, 8.0, 19.0])
@pytest.mark.parametrize("repeats", [1, 3])
def test_a_width_with_a_study_of_its_own_is_that_of_uncertain_numbers(
    dof: float, repeats: int
) -> None:
    """um. All four sides rest on one s, which is one uncertain number with its degrees of freedom;
    the other rows by hand: step 0.5 at four ends, scale 0.2, tilt 0.1, backlash 1, an edge up to
    1 deg out of plane, temperature 0.52, pin U 1."""
    found = widths(dof, repeats)
    short = 8499.9 * (1 - math.cos(math.radians(1)))
    parts = [
        GTC.ureal(0, 1.5 * math.sqrt(4 / repeats), dof),
        *(GTC.ureal(0, GTC.type_b.uniform(0.5)) for _ in range(4)),
        GTC.ureal(0, 0.2),
        GTC.ureal(0, 0.1),
        GTC.ureal(0, GTC.type_b.uniform(1.0)),
        GTC.ureal(0, GTC.type_b.uniform(short / 2)),
        GTC.ureal(0, GTC.type_b.uniform(0.52)),
        GTC.ureal(0, 0.5),
    ]
    total = sum(parts)
    assert found.budget.u == pytest.approx(GTC.uncertainty(total), rel=1e-6)
    assert found.budget.dof == pytest.approx(GTC.dof(total), rel=1e-6)
    if found.budget.dof < 20:
        k = GTC.reporting.k_factor(math.floor(found.budget.dof), 95.45)
        assert found.budget.coverage_k == pytest.approx(k, rel=1e-6)


def rolled(own_dof: float) -> Outcome:
    repeat = Known(Decimal("0.6"), dof=own_dof, study="repeat of IN-1")
    instrument = Instrument("IN-1", 0.05, 0.6, 2.0, own_repeat=repeat)
    drop: Series = indicated([0.0, 0.0755], instrument=instrument)
    given_ = asked({"drop": drop}, land="flat", edge_radius_mm=4.9, roll_deg=7.0)
    return named("clearance from a rolled drop").evaluate(given_)


@pytest.mark.parametrize("dof", [2.0, 9.0, 50.0])
def test_a_clearance_is_that_of_uncertain_numbers_put_through_its_formula(dof: float) -> None:
    """GTC differentiates tan a = (r / (r - h) - cos p) / sin p by itself. mm and rad; the shop:
    indicator U 2, repeat 0.6 and step 0.05 at both ends, roll 0.1 deg, radius 0.01 mm, height of
    the axis 0.15 deg."""
    found = rolled(dof)

    def mm(value: float, um: float, dof: float = math.inf) -> Any:
        return GTC.ureal(value, um / 1000, dof)

    h = mm(0.0755, 1.0) + mm(0, 0.6 * math.sqrt(2), dof)
    h += sum(mm(0, GTC.type_b.uniform(0.05)) for _ in range(2))
    p = GTC.ureal(math.radians(7), math.radians(GTC.type_b.uniform(0.1)))
    r = GTC.ureal(4.9, GTC.type_b.uniform(0.01))
    a = GTC.atan((r / (r - h) - GTC.cos(p)) / GTC.sin(p)) + GTC.ureal(0, math.radians(0.15))
    assert found.value == pytest.approx(math.degrees(GTC.value(a)), abs=1e-9)
    assert found.budget.u == pytest.approx(math.degrees(GTC.uncertainty(a)), rel=1e-6)
    assert found.budget.dof == pytest.approx(GTC.dof(a), rel=1e-4)
