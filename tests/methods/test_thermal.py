"""Tools of a known size, expanded body by body and sighted warm, come back at 20 degC.

The trials draw each temperature, the thermometer's error and each coefficient, expand the bodies
exactly, and work the value out by the method: of the budget only the amounts go into them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pytest

from inspect_rec.compute.thermal import Body, Pair, Thermal
from inspect_rec.methods.base import Given, Instrument, Outcome, Series, Taken
from inspect_rec.methods.heights import variation
from inspect_rec.methods.register import Method, named, register
from inspect_rec.methods.thermal import CORRECTION, GRADIENT
from tests.methods.readings import GAUGE, READOUT, alone, asked, both_sides, indicated
from tests.methods.readings import points as at

HSS, STEEL, GLASS = 11.0, 11.5, 8.0
PIN = Instrument("PIN-10", expanded=1.0, value=9.9996)


@dataclass(frozen=True)
class Warm:
    """Coefficients per million and kelvin, K above 20 degC."""

    tool: float = HSS
    pin: float = STEEL
    scale: float = GLASS
    tool_k: float = 7.0
    pin_k: float = 6.0
    scale_k: float = 5.0
    moved: float = 0.0

    def shown(self, mm: float, *, pin: bool = False) -> float:
        """What the slides show of a length, mm; all expanded exactly."""
        a, k = (self.pin, self.pin_k) if pin else (self.tool, self.tool_k)
        return mm * (1 + a * 1e-6 * k) / (1 + self.scale * 1e-6 * self.scale_k)

    @property
    def thermal(self) -> Thermal:
        scale = Body("the scale", self.scale, self.scale_k)
        return Thermal(
            Pair(Body("the tool", self.tool, self.tool_k, self.moved), scale),
            expanded=0.2,
            half_step=0.05,
            masters={"master": Pair(Body("PIN-10", self.pin, self.pin_k), scale)},
        )


WARM = Warm()


def sides(width: float, master: Instrument | None = None, axis: float = 0.0) -> Series:
    found = both_sides(axis, width / 2)
    return replace(found, master=master)


def held(warm: Warm, pin: Instrument = PIN) -> Instrument:
    """The pin as a warm scale shows it, which is how a method gets it."""
    assert pin.value is not None
    return replace(pin, value=warm.thermal.masters["master"].shown(pin.value))


def widths(d: float, warm: Warm, bias: float = 0.004) -> dict[str, Series]:
    assert PIN.value is not None
    return {
        "edges": sides(warm.shown(d) + bias),
        "master": sides(warm.shown(PIN.value, pin=True) + bias, held(warm)),
    }


def outcome(method: str, series: Mapping[str, Series], warm: Warm | None) -> Outcome:
    given = asked(series)
    return named(method).evaluate(replace(given, thermal=warm.thermal if warm else None))


def arc(radius: float, factor: float, **about: float) -> Series:
    centre = about.get("x", 0.0), about.get("z", 0.0)
    turns = [math.radians(5 + 10 * n) for n in range(9)]
    r = radius * factor
    return at([(centre[0] + r * math.cos(t), centre[1] + r * math.sin(t)) for t in turns])


# -- values ------------------------------------------------------------------


def test_a_diameter_10_of_high_speed_steel_15_k_warm_is_taken_back_by_1_6_um() -> None:
    # Common practice: 11 per million and kelvin over 10 mm and 15 K are 1.6 um.
    warm = Warm(tool_k=15, scale_k=0)
    found = outcome("width by two sightings, no master", {"edges": sides(warm.shown(10))}, warm)
    assert found.detail[CORRECTION] == pytest.approx(-1.6, abs=0.06)
    assert found.value == pytest.approx(10, abs=1e-6)


@pytest.mark.parametrize("d", [3.0, 8.5, 10.0, 24.0])
def test_a_width_against_a_pin_that_is_warm_too_comes_back_at_20_degrees(d: float) -> None:
    found = outcome("width by two sightings", widths(d, WARM), WARM)
    # First order leaves (11.5e-6 * 7)^2 of 24 mm, less than 1 nm.
    assert found.value == pytest.approx(d, abs=1e-6)
    # The program knows the bias to the expansion of itself.
    assert found.detail["bias_mm"] == pytest.approx(0.004, abs=1e-6)


def test_without_the_correction_the_same_width_is_off_by_what_the_tool_is_warmer_than_the_pin() -> (
    None
):
    # The uncorrected bias takes the pin's own value: what is left is D(a_t t - a_s s) - L(...).
    series = widths(10.0, WARM) | {"master": sides(WARM.shown(9.9996, pin=True) + 0.004, PIN)}
    raw = outcome("width by two sightings", series, None)
    left = 10.0 * (HSS * 7 - GLASS * 5) - 9.9996 * (STEEL * 6 - GLASS * 5)
    assert (raw.value - 10.0) * 1000 == pytest.approx(left * 1e-3, abs=1e-3)
    assert abs(left) * 1e-3 > 0.05


def _cases() -> dict[str, tuple[dict[str, Series], float]]:
    f = WARM.shown(1.0)
    corners = at([(0.0, 3.0 * f), (0.0, 43.0 * f)])
    edge = Series(
        "edge",
        tuple(
            Taken("edge", 1, n, {"X": f * (20 + r), "Z": 0.0}, ("A", n))
            for n, r in ((1, 5.0), (2, 5.002), (3, 4.999))
        ),
        "slides",
        READOUT,
    )
    axis = sides(10.0, axis=20.0 * f)
    turned = at([(0.0, n * 2.0 * f) for n in range(5)])
    return {
        "width by two sightings, no master": ({"edges": sides(12 * f)}, 12.0),
        "length between two corners": ({"corners": corners}, 40.0),
        "edge to axis": ({"edge": edge.of_flute(1), "axis": axis}, 5.0),
        "swept diameter": ({"edge": edge, "axis": axis}, 10.004),
        "arc, centre on the axis": ({"arc": arc(5.0, f), "axis": sides(10.0)}, 5.0),
        "arc, free centre": ({"arc": arc(5.0, f, x=7.0)}, 5.0),
        "lead from travel and turn": (
            {"flute": replace(turned, index=tuple(20.0 * n for n in range(5)))},
            36.0,
        ),
    }


@pytest.mark.parametrize("method", _cases())
def test_a_known_length_at_27_degrees_comes_back_at_20(method: str) -> None:
    series, true = _cases()[method]
    said: dict[str, object] = {}
    if method.startswith("lead"):
        said = {"diameter_mm": 10, "hand": "right", "sense": "tip"}
        how = named(method)
        words = {each.name: each.words for each in how.asks}
        said |= {name: w[0] for name, w in words.items() if w}
    given = asked(series, **said)  # type: ignore[arg-type]
    cold = named(method).evaluate(given)
    found = named(method).evaluate(replace(given, thermal=WARM.thermal))
    assert abs(found.value) == pytest.approx(true, abs=2e-6)
    off = (found.value - cold.value) * 1000
    assert found.detail[CORRECTION] == pytest.approx(off)
    assert abs(off) == pytest.approx(true * (HSS * 7 - GLASS * 5) * 1e-3, rel=1e-3)


def test_a_profile_of_a_warm_cutter_comes_back_to_its_nominal_arc() -> None:
    f = WARM.shown(1.0)
    said = {"form": "convex", "freedoms": ("X", "Z"), "radius_mm": 8.0}
    given = asked({"arc": arc(8.0, f)}, **said, centre_x_mm=0, centre_z_mm=0)  # type: ignore[arg-type]
    cold = named("profile, radius held").evaluate(given)
    found = named("profile, radius held").evaluate(replace(given, thermal=WARM.thermal))
    assert max(map(abs, found.values)) < 1e-7
    # Uncorrected, what the best fit can't take up stands proud by a few hundredths of a um.
    assert cold.values[1] > 1e-5
    assert found.detail[CORRECTION] == pytest.approx(-cold.values[1] * 1000, rel=1e-2)


def test_a_caliper_as_warm_as_the_tool_needs_next_to_no_correction() -> None:
    caliper = Instrument("CA-1", half_step=5, largest_error=30)
    taken = (Taken("tip", 1, None, {"length": 96.5}, ("A", 1)),)
    series = {"length": Series("length", taken, "length", caliper)}
    both = Thermal(Pair(Body("the tool", STEEL, 7), Body("CA-1", STEEL, 7)), 0.2)
    cold = named("length by caliper").evaluate(asked(series))
    found = named("length by caliper").evaluate(replace(asked(series), thermal=both))
    assert found.value == cold.value
    # Thermometer and gradients still count, the shared thermometer not at all.
    rows = {c.name: c.u for c in found.budget.components}
    assert rows["thermometer, calibration"] == pytest.approx(0)
    assert rows["temperature of CA-1"] == pytest.approx(96.5 * STEEL * 1e-3 * 0.5 / math.sqrt(3))


def test_a_radius_set_by_a_warm_gauge_takes_the_gauge_to_20_degrees() -> None:
    gauge = Body("SG-5", STEEL, 6)
    thermal = Thermal(
        Pair(Body("the tool", HSS, 7), None), 0.2, masters={"gauge": Pair(gauge, None)}
    )
    set_at = thermal.masters["gauge"].shown(5.0)
    true = 5.003
    away = true * (1 + HSS * 7e-6) - 5.0 * (1 + STEEL * 6e-6)
    swing = indicated([away] * 5, [0.0, 20.0, 40.0, 60.0, 80.0])
    zero = indicated([0.0], master=replace(GAUGE, value=set_at))
    given = asked({"swing": swing, "gauge": zero}, form="convex")
    found = named("radius by swing test").evaluate(replace(given, thermal=thermal))
    assert found.value == pytest.approx(true, abs=1e-7)


# -- what isn't corrected ----------------------------------------------------


@pytest.mark.parametrize("method", [name for name in _cases() if "lead" not in name])
def test_a_job_that_is_not_corrected_has_nothing_of_the_correction(method: str) -> None:
    found = outcome(method, _cases()[method][0], None)
    assert CORRECTION not in found.detail
    assert not [c.name for c in found.budget.components if c.unit in ("K", "1e-6/K")]


def test_the_row_of_an_uncorrected_diameter_gives_way_to_those_of_the_correction() -> None:
    cold, warm = (outcome("width by two sightings", widths(10, WARM), w) for w in (None, WARM))
    names = [[c.name for c in found.budget.components] for found in (cold, warm)]
    assert "temperature of tool and pin" in names[0]
    assert "temperature of tool and pin" not in names[1]
    assert [c.name for c in warm.budget.components if c.unit != "um"] == [
        "thermometer, calibration",
        "step of the thermometer",
        "temperature of the tool",
        "expansion of the tool",
        "temperature of the scale",
        "expansion of the scale",
        "temperature of PIN-10",
        "expansion of PIN-10",
    ]


@pytest.mark.parametrize("role", ["", "master"])
def test_a_missing_temperature_leaves_the_value_as_it_is_and_without_verdict(role: str) -> None:
    given = asked(widths(10, WARM))
    lacks = replace(WARM.thermal, missing={role: ("the temperature of X is missing",)})
    lacks = replace(lacks, masters={}) if role else replace(lacks, tool=None)
    found = named("width by two sightings").evaluate(replace(given, thermal=lacks))
    plain = named("width by two sightings").evaluate(given)
    assert found.value == plain.value
    assert found.refusals == ("the temperature of X is missing: not corrected to 20 °C",)
    assert CORRECTION not in found.detail


def _with_length() -> list[Method]:
    return [m for m in register().values() if any(r.length and r.master for r in m.roles)]


def test_each_method_whose_value_holds_a_masters_length_is_known_to_hold_it() -> None:
    assert {m.name for m in _with_length()} == {
        "arc, centre held",
        "arc, centre on the axis",
        "arc, free centre",
        "arc, two opposite flutes",
        "profile, contour",
        "profile, radius held",
        "radius from chord and rise",
        "width by two sightings",
        "radius by swing test",
        "radius by swing test, crosshair",
    }


# -- budgets -----------------------------------------------------------------


def trials_um(value: Callable[[Warm], float], u_tool: float | None = None) -> float:
    """Standard deviation of a value, um, where thermometer, gradients and coefficients are off."""
    random = np.random.default_rng(27)

    def off(coefficient: float, u: float | None = None) -> float:
        if u is not None:
            return coefficient + random.normal(0, u)
        return coefficient * (1 + random.uniform(-0.1, 0.1))

    def once() -> float:
        common = random.normal(0, 0.1)
        apart = random.uniform(-0.5, 0.5, 3) + random.uniform(-0.05, 0.05, 3) + common
        return value(
            Warm(
                off(HSS, u_tool),
                off(STEEL),
                off(GLASS),
                7 + apart[0] + random.uniform(-WARM_MOVED / 2, WARM_MOVED / 2),
                6 + apart[1],
                5 + apart[2],
            )
        )

    return float(np.std([once() for _ in range(2500)], ddof=1)) * 1000


WARM_MOVED = 0.8


@pytest.mark.parametrize("d", [4.0, 10.0, 40.0])
def test_the_budget_of_a_corrected_width_holds_by_trials(d: float) -> None:
    believed = replace(WARM, moved=WARM_MOVED)

    def value(true: Warm) -> float:
        assert PIN.value is not None
        series = {
            "edges": sides(true.shown(d)),
            "master": sides(true.shown(PIN.value, pin=True), held(believed)),
        }
        return outcome("width by two sightings", series, believed).value

    found = outcome("width by two sightings", widths(d, WARM), believed)
    rows = [c.u for c in found.budget.components if c.unit in ("K", "1e-6/K")]
    assert math.hypot(*rows) == pytest.approx(trials_um(value), rel=0.04)


def test_the_budget_of_a_corrected_length_without_a_master_holds_by_trials() -> None:
    believed = replace(WARM, moved=WARM_MOVED)
    thermal = believed.thermal
    assert thermal.tool is not None
    known = replace(thermal.tool.body, u=0.3)
    thermal = replace(thermal, tool=replace(thermal.tool, body=known))

    def evaluated(true: Warm) -> Outcome:
        corners = at([(0.0, 0.0), (0.0, true.shown(80.0))])
        given = replace(asked({"corners": corners}), thermal=thermal)
        return named("length between two corners").evaluate(given)

    found = evaluated(WARM)
    rows = [c.u for c in found.budget.components if c.unit in ("K", "1e-6/K")]
    by_trials = trials_um(lambda true: evaluated(true).value, u_tool=0.3)
    assert math.hypot(*rows) == pytest.approx(by_trials, rel=0.04)


def test_the_budget_of_a_corrected_profile_holds_by_trials() -> None:
    said = {"form": "convex", "freedoms": ("X",), "radius_mm": 8.0}

    def evaluated(true: Warm) -> Outcome:
        series = {"arc": arc(8.0, true.shown(1.0))}
        given = asked(series, **said, centre_x_mm=0, centre_z_mm=0)  # type: ignore[arg-type]
        return named("profile, radius held").evaluate(
            replace(given, thermal=replace(WARM, moved=WARM_MOVED).thermal)
        )

    found = evaluated(WARM)
    u = math.hypot(*(c.u for c in found.budget.components if c.unit in ("K", "1e-6/K")))
    # Signed: the deviation at the end of the arc that growing moves most.
    last = trials_um(lambda true: evaluated(true).detail["deviations_mm"][-1])  # type: ignore[index]
    assert u == pytest.approx(last, rel=0.04)


def test_of_two_scales_alike_only_what_tool_and_pin_differ_by_is_left() -> None:
    near, far = (
        {
            c.name: c.u
            for c in outcome("width by two sightings", widths(d, WARM), WARM).budget.components
        }
        for d in (9.9996, 40.0)
    )
    assert near["expansion of the scale"] == pytest.approx(0, abs=1e-4)
    assert near["temperature of the scale"] == pytest.approx(0, abs=1e-4)
    assert far["temperature of the scale"] == pytest.approx(
        30.0004 * GLASS * 1e-3 * 0.5 / math.sqrt(3), rel=1e-3
    )


def test_between_flutes_all_cancels_but_what_the_temperature_moved() -> None:
    def spread(warm: Warm) -> float:
        f = warm.shown(1.0)
        influences = alone(**{GRADIENT.replace(" ", "_"): 0.5})
        one = asked(
            {"edge": at([(25.0 * f, 0.0)]), "axis": sides(10.0, axis=20.0 * f)},
            influences=influences,
        )
        instrument = replace(READOUT, half_step=0.0)
        one = replace(
            one,
            series={name: replace(s, instrument=instrument) for name, s in one.series.items()},
            thermal=warm.thermal,
        )
        flute = named("edge to axis").evaluate(one)
        assert flute.budget.u > 0
        empty: Given = asked({})
        return variation(replace(empty, others={1: flute, 2: flute})).budget.u

    # The one row left is the tool's, 0.8 K over 5 mm, of each of two flutes.
    moved = 0.4 / math.sqrt(3) * 5 * HSS * 1e-3
    assert spread(replace(WARM, moved=0.8)) == pytest.approx(math.sqrt(2) * moved, rel=1e-3)
    assert spread(WARM) < 1e-6


def test_a_coefficient_from_a_table_is_assumed_and_a_known_one_is_not() -> None:
    thermal = WARM.thermal
    assert thermal.tool is not None
    known = replace(thermal, tool=replace(thermal.tool, body=replace(thermal.tool.body, u=0.2)))
    given = asked({"edges": sides(10)})
    for which, assumed, amount in ((thermal, True, 1.1), (known, False, 0.2)):
        found = named("width by two sightings, no master").evaluate(replace(given, thermal=which))
        row = next(c for c in found.budget.components if c.name == "expansion of the tool")
        assert row.assumed is assumed
        assert row.amount == pytest.approx(amount)
        assert row.sensitivity == pytest.approx(-7 * 10 * 1e-3, rel=1e-3)
