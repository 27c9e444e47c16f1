"""What is left to grind: more metal never asks for less, whichever way the slides count."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute.rules import judge_range
from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.inspection.results import Result
from inspect_rec.inspection.stock import TO_GRIND, with_stock
from inspect_rec.methods.base import Outcome, Slides, Taken
from inspect_rec.methods.register import named
from inspect_rec.plan import Characteristic, Moves
from inspect_rec.units import quantise
from tests import worked
from tests.methods.readings import asked as asked_of
from tests.methods.readings import both_sides, points

STEP = Decimal("0.001")
U_UM = 1.8


def of(
    c: Characteristic, flute: int | None, values: Sequence[float], places: object = ()
) -> Result:
    """A result of that value, judged as the job judges it."""
    found = tuple(quantise(v, c.unit) for v in values)
    u = quantise(U_UM / 1000, c.unit)
    judged = judge_range(found[0], found[-1], c.limits, u, worked.job("I1").job.decision(c.unit))
    detail = {"places_mm": places} if places else {}
    outcome = Outcome(tuple(values), Budget((Component("all", U_UM),)), detail=detail)  # type: ignore[arg-type]
    how = named(c.method, c.version)
    return Result(
        c,
        flute,
        found,
        u,
        2 * u,
        Decimal(2),
        50.0,
        judged.judgement,
        outcome,
        how,
        (),
        0,
        None,
        False,
    )


def tool(radii: Sequence[float], moves: Moves) -> tuple[Result, ...]:
    """R of each flute and its variation, of a plan in which grinding moves R that way."""
    job = worked.job("I1")
    size, spread = job.of("R"), job.of("R_variation")
    size = size.model_copy(update={"grinding": size.grinding.model_copy(update={"moves": moves})})
    results = [of(size, n, [r]) for n, r in enumerate(radii, 1)]
    results.append(of(spread, None, [max(radii) - min(radii)]))
    return with_stock(results, STEP, "flute")


def asked(results: Sequence[Result], flute: int) -> tuple[Decimal, Decimal, Decimal, Decimal]:
    """Least and aim of that flute, by its size and by the variation; 0 where nothing is asked."""
    zero = Decimal(0)
    found = []
    for stock in (results[flute - 1].stock, results[-1].stock):
        here = stock is not None and stock.state == TO_GRIND and stock.flute == flute
        found += [stock.least or zero, stock.aim or zero] if here and stock else [zero, zero]
    return found[0], found[1], found[2], found[3]


@given(
    st.lists(st.integers(-70, 70), min_size=1, max_size=4),
    st.sampled_from([Moves.SMALLER, Moves.LARGER]),
)
@settings(max_examples=40, deadline=None)
def test_more_metal_left_never_gives_less_to_grind(others: list[int], moves: Moves) -> None:
    """One flute grows out of its zone in steps of 0.5 um, the others stay where they are; metal
    counts in 0.1 um over the middle of the tolerance."""
    way = -1 if moves is Moves.LARGER else 1
    sizes = [4.9 + way * metal / 10_000 for metal in others]
    before = None
    for metal in range(-100, 260, 5):
        results = tool([4.9 + way * metal / 10_000, *sizes], moves)
        now = asked(results, 1)
        if before is not None:
            for less, more, what in zip(
                before, now, ("least", "aim", "least by variation", "aim by variation"), strict=True
            ):
                assert more >= less, (what, metal, less, more)
        before = now


@pytest.mark.parametrize("tip", [1, -1])
def test_the_tip_that_stands_proud_is_ground_whichever_way_the_slide_counts(
    tip: int,
) -> None:
    """Three ball noses about the axis 20; the third stands 12 um further out at the tip."""
    proud = {1: 0.0, 2: 0.004, 3: 0.012}
    turns = [math.radians(a) for a in range(5, 90, 10)]
    arcs = [
        Taken(
            str(n),
            1,
            flute,
            {"X": 20 + 5 * math.cos(t), "Z": tip * (100 + further + 5 * math.sin(t))},
            ("A", n),
        )
        for flute, further in proud.items()
        for n, t in enumerate(turns)
    ]
    series = {"arc": replace(points([]), taken=tuple(arcs)), "axis": both_sides(20.0)}
    found = named("spread of the tips").evaluate(asked_of(series, slides=Slides("X", "Z", 1, tip)))
    assert found.value == pytest.approx(0.012, abs=1e-9)
    spread = worked.job("I1").of("tip_spread")
    ground = spread.grinding.model_copy(update={"slide": "pivot"})
    c = spread.model_copy(update={"grinding": ground})
    places = found.detail["places_mm"]
    (result,) = with_stock([of(c, None, [found.value], places)], STEP, "flute")
    assert result.stock is not None
    assert result.stock.flute == 3
    assert result.stock.state == TO_GRIND


def test_a_swept_diameter_that_is_over_is_half_as_much_infeed() -> None:
    """By hand: 0.030 over the middle of 0.020, g = 1.645 x 1.8 um on a diameter, infeed half."""
    size = worked.job("I1").of("R")
    c = size.model_copy(update={"method": "swept diameter", "per": "tool"})
    (result,) = with_stock([of(c, None, [4.930])], STEP, "flute")
    assert result.stock is not None
    guard = 1.645 * 0.0018
    least, most = (0.020 + guard) / 2, (0.040 - guard) / 2
    assert result.stock.state == TO_GRIND
    assert float(result.stock.least or 0) == pytest.approx(least, abs=2e-6)
    assert float(result.stock.aim or 0) == pytest.approx(0.015, abs=2e-6)
    assert float(result.stock.most or 0) == pytest.approx(most, abs=2e-6)


@pytest.mark.parametrize(("diameters_on", "said"), [("X", True), ("Z", False), ("", False)])
def test_an_infeed_on_a_slide_whose_readout_counts_the_diameter_says_so(
    diameters_on: str, said: bool
) -> None:
    size = worked.job("I1").of("R")
    ground = size.grinding.model_copy(update={"slide": "X"})
    c = size.model_copy(update={"method": "swept diameter", "grinding": ground})
    (result,) = with_stock([of(c, None, [4.930])], STEP, "flute", diameters_on)
    assert result.stock is not None
    assert result.stock.step_aim == Decimal("0.015")
    assert ("shows 0.030" in result.stock.hand_wheel) is said
    (fine,) = with_stock([of(c, None, [4.900])], STEP, "flute", diameters_on)
    assert fine.stock is None
