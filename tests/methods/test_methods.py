"""Methods that the worked jobs don't use, and what holds for every method of the register."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Instrument, Series, Slides, Taken
from inspect_rec.methods.register import named, register
from tests import worked

READOUT = Instrument("RO-1", half_step=0.5)
INDICATOR = Instrument("IN-1", half_step=0.05, repeat=0.6, expanded=2.0)
PIN = Instrument("PIN-10", expanded=1.0, value=9.9996)
SLIDES = Slides("X", "Z", 1, 1)


def taken(mark: str, x: float, z: float = 0.0, *, flute: int | None = None, n: int = 1) -> Taken:
    return Taken(mark, n, flute, {"X": x, "Z": z}, ("A", n))


def series(*readings: Taken, master: Instrument | None = None) -> Series:
    return Series("feature", readings, "slides", READOUT, master)


def pin(axis: float, radius: float = 5.0) -> Series:
    both = (taken("greater", axis + radius), taken("smaller", axis - radius))
    return series(*both, *both, *both)


def given_(**roles: Series) -> Given:
    return Given(
        series=roles,
        flute=None,
        parameters={},
        slides=SLIDES,
        influences=worked.shop().influence,
        drift={},
        others={},
        width=0.02,
    )


def test_every_method_says_what_it_does_and_where_that_comes_from() -> None:
    for name, method in register().items():
        assert name == method.name
        assert len(method.formula) > 20
        assert method.source
        assert method.version >= 1
        assert method.evaluate.__doc__


def test_an_unknown_method_is_answered_with_all_that_there_are() -> None:
    with pytest.raises(InputError, match="edge to axis"):
        named("edges to axis")


@given(
    st.floats(-50, 50),
    st.lists(st.floats(3, 8), min_size=3, max_size=7),
)
@settings(max_examples=50)
def test_an_odd_tool_sweeps_twice_its_largest_edge_wherever_its_axis_lies(
    axis: float, radii: list[float]
) -> None:
    edges = series(*(taken("edge", axis + r, flute=n) for n, r in enumerate(radii, 1)))
    found = named("swept diameter").evaluate(given_(edge=edges, axis=pin(axis)))
    assert found.values[0] == pytest.approx(2 * max(radii), abs=1e-9)
    assert found.detail["axis_mm"] == pytest.approx(axis, abs=1e-9)


def test_an_edge_to_axis_is_half_as_uncertain_as_the_diameter_it_sweeps() -> None:
    edge = series(taken("edge", 25.0, flute=1))
    one = named("edge to axis").evaluate(given_(edge=edge, axis=pin(20.0)))
    whole = named("swept diameter").evaluate(given_(edge=edge, axis=pin(20.0)))
    assert one.values[0] == pytest.approx(5.0)
    assert whole.budget.u == pytest.approx(2 * one.budget.u)
    assert one.budget.u_own < one.budget.u


@given(st.floats(10, 80), st.floats(1, 8), st.floats(-30, 30), st.floats(-30, 30), st.booleans())
@settings(max_examples=50)
def test_an_angle_by_two_points_is_the_same_wherever_and_however_the_edge_lies(
    kappa: float, leg: float, dx: float, dz: float, mirrored: bool
) -> None:
    a = math.radians(kappa)
    way = -1 if mirrored else 1
    edge = series(
        taken("1", dx, dz), taken("2", dx + way * leg * math.sin(a), dz - leg * math.cos(a))
    )
    found = named("angle by two points").evaluate(given_(edge=edge))
    assert found.values[0] == pytest.approx(kappa, abs=1e-9)


def test_a_short_leg_makes_an_angle_less_certain() -> None:
    def u(leg: float) -> float:
        edge = series(taken("1", 0, 0), taken("2", leg * 0.7, leg * 0.7))
        return named("angle by two points").evaluate(given_(edge=edge)).budget.u

    found = [u(leg) for leg in (8, 5, 3, 2, 1)]
    assert found == sorted(found)


@given(st.floats(2, 60), st.floats(-0.01, 0.01), st.floats(-100, 100))
@settings(max_examples=50)
def test_a_width_loses_what_its_master_reads_too_large(
    size: float, bias: float, shift: float
) -> None:
    def both(width: float) -> tuple[Taken, ...]:
        return (taken("greater", shift + width), taken("smaller", shift))

    edges = series(*both(size + bias))
    master = series(*both(9.9996 + bias), master=PIN)
    found = named("width by two sightings").evaluate(given_(edges=edges, master=master))
    assert found.values[0] == pytest.approx(size, abs=1e-9)
    assert found.detail["bias_mm"] == pytest.approx(bias, abs=1e-9)


def test_a_width_without_its_master_or_its_influences_is_refused() -> None:
    edges = series(taken("greater", 5), taken("smaller", 0))
    with pytest.raises(InputError, match="no master"):
        named("width by two sightings").evaluate(given_(edges=edges, master=pin(0)))
    bare = Given({"edges": edges}, None, {}, SLIDES, {}, {}, {})
    with pytest.raises(InputError, match="no influence 'crosshair'"):
        named("width by two sightings, no master").evaluate(bare)


def test_a_short_arc_gives_no_free_radius() -> None:
    turns = [math.radians(a) for a in range(0, 50, 5)]
    arc = series(*(taken(str(n), 5 * math.cos(t), 5 * math.sin(t)) for n, t in enumerate(turns)))
    found = named("arc, free centre").evaluate(given_(arc=arc))
    assert any("too short" in r for r in found.refusals)


def test_a_form_that_takes_half_the_tolerance_is_no_circle() -> None:
    turns = [math.radians(a) for a in range(0, 180, 20)]
    arc = series(
        *(
            taken(str(n), (5 + 0.01 * (n % 2)) * math.cos(t), (5 + 0.01 * (n % 2)) * math.sin(t))
            for n, t in enumerate(turns)
        )
    )
    found = named("arc, free centre").evaluate(given_(arc=arc))
    assert any("no circle" in r for r in found.refusals)


def rolled(land: str, drop: float) -> Given:
    marks = [("0.0", 0.0), ("7.0", drop)]
    readings = tuple(Taken(m, 1, 1, {"indicator": h}, ("A", 1)) for m, h in marks)
    parameters: dict[str, Decimal | str | tuple[str, ...]] = {
        "land": land,
        "edge_radius_mm": Decimal("4.9"),
        "roll_deg": Decimal(7),
    }
    return Given(
        {"drop": Series("relief drop", readings, "indicator", INDICATOR)},
        1,
        parameters,
        SLIDES,
        worked.shop().influence,
        {},
        {},
    )


def test_the_land_decides_the_clearance_and_has_to_be_stated() -> None:
    """Expected: worked job I1, flute 1, as flat and as if eccentric."""
    relief = named("clearance from a rolled drop").evaluate
    assert relief(rolled("flat", 0.0755)).values[0] == pytest.approx(10.734353, abs=1e-6)
    assert relief(rolled("eccentric", 0.0755)).values[0] == pytest.approx(7.188052, abs=1e-6)
    with pytest.raises(InputError, match="land"):
        relief(rolled("hollow", 0.0755))


def test_a_heel_that_stands_above_the_edge_is_refused_with_that_reason() -> None:
    found = named("clearance from a rolled drop").evaluate(rolled("flat", -0.001))
    assert any("rubs" in r for r in found.refusals)
