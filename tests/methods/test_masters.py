"""A master's bias between its two checks, against a bias that is known at every instant."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.methods.base import Given, Instrument, Outcome, Series
from inspect_rec.methods.masters import NO_AFTER, NOT_BETWEEN, STEADY
from inspect_rec.methods.register import named
from tests.methods.readings import alone, asked, both_sides

PIN = Instrument("PIN-10", expanded=1.0, value=9.9996)
HOUR = 3600.0
METHOD = named("width by two sightings")


def at(series: Series, seconds: float) -> Series:
    return replace(series, taken=tuple(replace(t, at=seconds) for t in series.taken))


def checked(
    d: float,
    before_um: float,
    after_um: float,
    share: float,
    *,
    bias_um: float | None = None,
    seen: tuple[float, float, float] = (0, 0, 0),
) -> Given:
    """A width sighted when ``share`` of the time between the checks is over; ``seen``: what each
    of the three widths is off by, um."""
    first, last = 2 * HOUR, 5 * HOUR
    true = before_um + share * (after_um - before_um) if bias_um is None else bias_um

    def sighted(width: float, bias: float, off: float, seconds: float) -> Series:
        return at(both_sides(0.0, (width + (bias + off) / 1000) / 2), seconds)

    assert PIN.value is not None
    master = sighted(PIN.value, before_um, seen[0], first)
    after = sighted(PIN.value, after_um, seen[1], last)
    edges = sighted(d, true, seen[2], first + share * (last - first))
    return replace(
        asked(
            {"edges": edges, "master": replace(master, master=PIN, after=after.taken)},
            drift={"master": after_um + seen[1] - before_um - seen[0]},
        ),
        interpolated=True,
    )


def rows(found: Outcome) -> dict[str, float]:
    return {c.name: c.u for c in found.budget.components}


@given(st.floats(2, 20), st.floats(-8, 8), st.floats(-3, 3), st.floats(0.001, 0.999))
@settings(max_examples=60)
def test_a_bias_that_drifts_steadily_leaves_no_trace_in_the_width(
    d: float, bias: float, drift: float, share: float
) -> None:
    found = METHOD.evaluate(checked(d, bias, bias + drift, share))
    assert found.value == pytest.approx(d, abs=1e-9)
    assert found.detail["bias_mm"] == pytest.approx((bias + share * drift) / 1000, abs=1e-9)


def test_where_the_plan_does_not_ask_for_it_the_bias_is_that_of_the_check_before() -> None:
    asked_for = checked(10, 4, 6, 0.5)
    found = METHOD.evaluate(replace(asked_for, interpolated=False))
    bare = replace(
        asked_for,
        interpolated=False,
        series={name: replace(s, after=()) for name, s in asked_for.series.items()},
    )
    assert found.value == pytest.approx(10.001)
    assert found == METHOD.evaluate(bare)
    assert rows(found)["drift of the pin check"] == pytest.approx(1 / math.sqrt(3))


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.8, 1.0])
def test_what_is_left_of_the_drift_is_the_larger_share_of_half_of_it(share: float) -> None:
    found = METHOD.evaluate(checked(10, 4, 6, share))
    left = next(c for c in found.budget.components if c.name == "drift of the pin check")
    assert left.u == pytest.approx(max(share, 1 - share) / math.sqrt(3))
    assert (left.note == STEADY) is (share > 0)


def test_both_checks_scatter_by_their_shares_in_the_bias() -> None:
    one, both = (METHOD.evaluate(checked(10, 4, 6, share)) for share in (0.0, 0.5))
    alone_u = rows(one)["crosshair on the pin"]
    assert rows(both)["crosshair on the pin, check before"] == pytest.approx(alone_u / 2)
    assert rows(both)["crosshair on the pin, check after"] == pytest.approx(alone_u / 2)
    assert both.budget.u < one.budget.u
    four = (
        "crosshair on the pin, check before",
        "crosshair on the pin, check after",
        "readout step, pin, check before",
        "readout step, pin, check after",
        "crosshair on the tool",
        "readout step, tool",
    )
    scatter = math.hypot(*(rows(both)[name] for name in four))
    assert both.detail["repeat_u_um"] == pytest.approx(scatter)


def _without_after(found: Given) -> Given:
    return replace(
        found, series={name: replace(s, after=()) for name, s in found.series.items()}, drift={}
    )


def _before_the_first_check(found: Given) -> Given:
    return replace(found, series={**found.series, "edges": at(found.series["edges"], HOUR)})


def _after_the_last_check(found: Given) -> Given:
    return replace(found, series={**found.series, "edges": at(found.series["edges"], 6 * HOUR)})


@pytest.mark.parametrize(
    ("change", "note"),
    [
        (_without_after, NO_AFTER),
        (_before_the_first_check, NOT_BETWEEN),
        (_after_the_last_check, NOT_BETWEEN),
    ],
)
def test_without_a_check_on_both_sides_the_bias_is_that_of_the_check_before_and_says_so(
    change: Callable[[Given], Given], note: str
) -> None:
    case = change(checked(10, 4, 6, 0.5))
    found, usual = (METHOD.evaluate(replace(case, interpolated=on)) for on in (True, False))
    assert found.value == usual.value
    assert rows(found) == rows(usual)
    assert {c.note for c in found.budget.components if "pin" in c.name} >= {note}
    assert not any(c.note for c in usual.budget.components if "pin" in c.name)


def test_the_budget_of_a_bias_between_the_checks_holds_by_trials() -> None:
    """Each width off by its own sightings, the bias by what is left of the drift."""
    share, drift = 0.3, 2.5
    influences = alone(crosshair=1.5)
    random = np.random.default_rng(11)
    # Three sightings of each of two sides, 1.5 um each.
    scatter = 1.5 * math.sqrt(2 / 3)

    def once() -> float:
        left = random.uniform(-1, 1) * max(share, 1 - share) * drift / 2
        bias = 4 + share * drift + left
        seen = tuple(random.normal(0, scatter, 3))
        case = checked(10, 4, 4 + drift, share, bias_um=bias, seen=seen)
        return METHOD.evaluate(case).value

    budget = METHOD.evaluate(
        replace(checked(10, 4, 4 + drift, share), influences=influences)
    ).budget
    counted = [c.u for c in budget.components if "crosshair" in c.name or "drift" in c.name]
    found = np.std([once() for _ in range(4000)], ddof=1) * 1000
    assert math.hypot(*counted) == pytest.approx(found, rel=0.04)
