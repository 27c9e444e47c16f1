"""Lengths at 20 degC against bodies expanded one by one, without the first-order formula."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute.thermal import Body, Pair, Thermal
from inspect_rec.errors import ComputeError

HSS, STEEL, GLASS = 11.0, 11.5, 8.0
kelvins = st.floats(-15, 15)
expansions = st.floats(3, 24)


def pair(expansion: float, away: float, scale_away: float = 0.0, scale: float = GLASS) -> Pair:
    return Pair(Body("the tool", expansion, away), Body("the scale", scale, scale_away))


def sighted(length_mm: float, of: Pair) -> float:
    """What a warm scale shows of a warm body: both expanded exactly, lines of the scale apart."""
    assert of.scale is not None
    body = length_mm * (1 + of.body.expansion * 1e-6 * of.body.away)
    return body / (1 + of.scale.expansion * 1e-6 * of.scale.away)


def test_a_diameter_10_of_high_speed_steel_15_k_warm_reads_1_6_um_large() -> None:
    # Common practice, with 11 per million and kelvin: 100 mm and 15 K give 16 um, 10 mm 1.6 um.
    warm = pair(HSS, 15)
    assert (sighted(10, warm) - 10) * 1000 == pytest.approx(1.6, abs=0.06)
    assert (sighted(100, warm) - 100) * 1000 == pytest.approx(16, abs=0.6)
    assert warm.to_20(sighted(10, warm)) == pytest.approx(10, abs=1e-6)


@given(st.floats(1, 100), expansions, expansions, kelvins, kelvins)
@settings(max_examples=100)
def test_a_known_length_comes_back_whatever_tool_and_scale_are_made_of(
    length: float, tool: float, scale: float, away: float, scale_away: float
) -> None:
    warm = pair(tool, away, scale_away, scale)
    # First order: (24e-6 * 15)^2 * 2 of 100 mm is 0.03 um.
    assert warm.to_20(sighted(length, warm)) == pytest.approx(length, abs=3e-5)


@given(st.floats(1, 100), expansions, kelvins, kelvins)
def test_what_is_shown_of_a_master_is_the_way_back(
    length: float, expansion: float, away: float, scale_away: float
) -> None:
    warm = pair(expansion, away, scale_away)
    assert warm.to_20(warm.shown(length)) == pytest.approx(length, rel=1e-14)


def test_tool_and_scale_alike_need_no_correction() -> None:
    assert pair(GLASS, 7, 7).to_20(50) == pytest.approx(50, abs=1e-12)


def test_without_a_scale_only_the_body_counts() -> None:
    alone = Pair(Body("the tool", HSS, 7), None)
    assert alone.to_20(100) == pytest.approx(100 * (1 - 7 * HSS * 1e-6))
    assert [mm for _, mm in alone.lengths(100)] == [-100]


@given(st.floats(1, 20), st.floats(1, 20), kelvins, kelvins, kelvins, kelvins)
@settings(max_examples=100)
def test_the_lengths_are_the_slopes_of_the_value(
    d: float, pin: float, tool: float, scale: float, master: float, then: float
) -> None:
    def value(*away: float) -> float:
        """D = (W - W_p + L / f_p) f, its sightings held."""
        pair_ = pair(HSS, away[0], away[1])
        held = pair(STEEL, away[2], away[3])
        return pair_.to_20(w - w_pin + held.shown(pin))

    at = (tool, scale, master, then)
    w, w_pin = sighted(d, pair(HSS, tool, scale)), sighted(pin, pair(STEEL, master, then))
    thermal = Thermal(pair(HSS, tool, scale), 0.2, masters={"master": pair(STEEL, master, then)})
    for n, (body, mm) in enumerate(thermal.lengths(d, "master", pin)):
        more, less = ([a + h * (k == n) for k, a in enumerate(at)] for h in (5.0, -5.0))
        slope = (value(*more) - value(*less)) / 10
        # Of second order is a strain of 15 K on the slope, and 5 K there and back.
        assert slope == pytest.approx(body.expansion * 1e-6 * mm, rel=2e-3, abs=1e-9)


def test_a_tool_without_a_temperature_has_no_lengths() -> None:
    with pytest.raises(ComputeError, match="no temperature of the tool"):
        Thermal(None, 0.2).lengths(10, "", 0)
