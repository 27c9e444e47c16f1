"""Chisel edge and web from the end: drawn ones come back, and budgets hold by trials."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.errors import InputError
from inspect_rec.methods.base import Series
from tests.methods.modelled import by_trials, drawn, evaluated, joined, moved, places, turned
from tests.methods.test_points import leaning

LENGTH, ANGLE = "chisel edge length", "chisel edge angle"
OFFSET = "chisel edge off the axis, half a turn"
WEB, SYMMETRY = "web thickness from both sides", "web off the axis, half a turn"

lengths = st.floats(0.3, 2)
directions = st.floats(-180, 180)
shifts = st.floats(-40, 40)


def edge(long: float, off: float = 0.0, along: float = 0.0) -> Series:
    """A chisel edge along the radial slide, that far off the axis at (0, 0)."""
    return places(("1", along - long / 2, off), ("2", along + long / 2, off))


@given(lengths, directions, shifts, shifts, st.booleans())
@settings(max_examples=60)
def test_a_length_seen_from_the_end_is_the_same_however_the_tool_lies(
    long: float, direction: float, dx: float, dz: float, mirrored: bool
) -> None:
    seen = moved(turned(edge(long), direction), dx, dz, mirrored=mirrored)
    assert evaluated(LENGTH, {"ends": seen}).value == pytest.approx(long, abs=1e-9)
    assert evaluated(WEB, {"web": seen}).value == pytest.approx(long, abs=1e-9)


@given(lengths, st.floats(-0.1, 0.1), directions, shifts, shifts, st.floats(-0.005, 0.005))
@settings(max_examples=60)
def test_half_a_turn_gives_the_chisel_edge_s_offset_wherever_the_axis_lies(
    long: float, off: float, direction: float, dx: float, dz: float, aside: float
) -> None:
    """``aside``: the crosshair's line is laid off the edge, both times the same way."""
    before = turned(edge(long, off, 0.05), direction)
    after = turned(edge(long, off, 0.05), direction + 180)
    seen = {
        "ends": moved(before, dx + aside, dz - aside),
        "turned": moved(after, dx + aside, dz - aside),
    }
    found = evaluated(OFFSET, seen)
    assert found.value == pytest.approx(abs(off), abs=1e-9)
    assert found.refusals == ()


@given(st.floats(30, 89), directions, shifts, st.booleans(), st.booleans())
@settings(max_examples=60)
def test_a_chisel_edge_angle_is_counted_as_the_drawing_means_it(
    angle: float, direction: float, shift: float, mirrored: bool, swapped: bool
) -> None:
    lip = turned(places(("1", 0.4, 0.1), ("2", 4.0, 0.1)), angle)
    chisel = edge(-0.6 if swapped else 0.6)
    seen = {
        role: moved(turned(part, direction), shift, shift, mirrored=mirrored)
        for role, part in (("ends", chisel), ("lip", lip))
    }
    acute = evaluated(ANGLE, seen, counted="acute").value
    assert acute == pytest.approx(angle, abs=1e-9)
    assert evaluated(ANGLE, seen, counted="obtuse").value == pytest.approx(180 - angle, abs=1e-9)


@given(st.floats(0.2, 1), st.floats(-0.05, 0.05), shifts, st.booleans(), st.floats(-0.01, 0.01))
@settings(max_examples=60)
def test_a_web_off_the_axis_shows_over_half_a_turn(
    half: float, off: float, axis: float, mirrored: bool, light: float
) -> None:
    one = places(("side", half + off + light, 0), flute=1)
    two = places(("side", half - off + light, 0), flute=2)
    seen = moved(joined(one, two), axis, mirrored=mirrored)
    assert evaluated(SYMMETRY, {"side": seen}).value == pytest.approx(abs(off), abs=1e-9)


# Budgets


def test_the_budget_of_a_length_from_the_end_is_what_trials_give() -> None:
    read = {"ends": turned(edge(0.6), 30)}
    added = [("light", 2e-3), ("backlash", 1e-3), ("corner", 1e-3), ("corner", 1e-3)]
    s = by_trials(LENGTH, read, {}, uncertain={}, added=added)
    assert evaluated(LENGTH, read).budget.u == pytest.approx(1000 * s, rel=0.05)
    s = by_trials(WEB, {"web": read["ends"]}, {}, uncertain={}, added=added[:2])
    assert evaluated(WEB, {"web": read["ends"]}).budget.u == pytest.approx(1000 * s, rel=0.05)


def test_the_budget_of_an_offset_is_what_trials_give() -> None:
    """Read so far off the axis that no trial changes its side."""
    before, after = edge(0.6, 0.05), turned(edge(0.6, 0.05), 180)
    read = {"ends": before, "turned": after}

    def seated(series: Mapping[str, Series], random: Any) -> dict[str, Series]:
        return {**series, "turned": moved(after, 0, drawn("clamping", random) / 1000)}

    added = [("backlash", 0.5e-3), ("backlash", 0.5e-3)]
    s = by_trials(OFFSET, read, {}, uncertain={}, added=added, disturb=seated)
    assert evaluated(OFFSET, read).budget.u == pytest.approx(1000 * s, rel=0.05)


@pytest.mark.parametrize("counted", ["acute", "obtuse"])
def test_the_budget_of_a_chisel_edge_angle_is_what_trials_give(counted: str) -> None:
    lip = turned(places(("1", 0.4, 0.1), ("2", 4.0, 0.1)), 55)
    read = {"ends": edge(0.6), "lip": lip}
    s = by_trials(ANGLE, read, {"counted": counted}, uncertain={}, disturb=leaning)
    assert evaluated(ANGLE, read, counted=counted).budget.u == pytest.approx(s, rel=0.05)


def test_the_budget_of_a_web_off_the_axis_is_what_trials_give() -> None:
    sides = places(("side", 0.45, 0), flute=1), places(("side", 0.35, 0), flute=2)
    read = {"side": joined(*sides)}
    added = [("clamping", 0.5e-3), ("backlash", 0.5e-3), ("backlash", 0.5e-3)]
    s = by_trials(SYMMETRY, read, {}, uncertain={}, added=added)
    assert evaluated(SYMMETRY, read).budget.u == pytest.approx(1000 * s, rel=0.05)


# What is refused


def test_an_edge_that_was_not_turned_by_half_a_turn_is_refused() -> None:
    ends = edge(0.6, 0.02)
    found = evaluated(OFFSET, {"ends": ends, "turned": turned(ends, 177)})
    assert any("3.0°" in reason for reason in found.refusals)
    assert evaluated(OFFSET, {"ends": ends, "turned": turned(ends, 179)}).refusals == ()


def test_ends_that_were_read_in_another_order_are_refused() -> None:
    ends = edge(0.6, 0.02)
    other = places(("2", 0.3, -0.02), ("1", -0.3, -0.02))
    with pytest.raises(InputError, match="same marks"):
        evaluated(OFFSET, {"ends": ends, "turned": other})


def test_three_ends_one_flute_and_an_angle_not_stated_are_refused() -> None:
    three = places(("1", 0, 0), ("2", 1, 0), ("3", 2, 0))
    with pytest.raises(InputError, match="two points"):
        evaluated(LENGTH, {"ends": three})
    with pytest.raises(InputError, match="two sides"):
        evaluated(SYMMETRY, {"side": places(("side", 0.4, 0), flute=1)})
    with pytest.raises(InputError, match="acute or obtuse"):
        evaluated(ANGLE, {"ends": edge(1), "lip": edge(4)})
