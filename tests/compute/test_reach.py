"""Whatever numbers come, a formula gives a number or the one error."""

from __future__ import annotations

import dataclasses
import inspect
import math
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import contour, geometry, helix, infeed, planes, regression, swing, zone
from inspect_rec.errors import ComputeError

numbers = (
    st.floats(allow_nan=True, allow_infinity=True)
    | st.floats(-20, 20)
    | st.sampled_from([0.0, -0.0, 5e-324, 1e300, 45.0, 90.0, 180.0, 360.0])
)
pairs = st.tuples(numbers, numbers)


def formulas(*rooms: ModuleType) -> Iterator[Any]:
    """All public functions of these modules that take nothing but numbers."""
    for room in rooms:
        for name, function in inspect.getmembers(room, inspect.isfunction):
            hints = inspect.signature(function).parameters.values()
            public = function.__module__ == room.__name__ and not name.startswith("_")
            if public and all(p.annotation == "float" for p in hints):
                yield pytest.param(function, id=f"{room.__name__.split('.')[-1]}.{name}")


def figures(found: Any) -> Iterator[float]:
    if dataclasses.is_dataclass(found):
        for field in dataclasses.fields(found):
            yield from figures(getattr(found, field.name))
    elif isinstance(found, tuple):
        for part in found:
            yield from figures(part)
    else:
        yield found


def sound(call: Callable[[], object]) -> None:
    try:
        found = call()
    except ComputeError as error:
        assert str(error)  # noqa: PT017 - no error is as good
        return
    assert all(map(math.isfinite, figures(found)))


@pytest.mark.parametrize("function", list(formulas(geometry, planes, helix, infeed)))
@given(data=st.data())
def test_a_formula_gives_a_number_or_the_one_error(
    function: Callable[..., object], data: st.DataObject
) -> None:
    parameters = inspect.signature(function).parameters.values()
    by_name = {p.name: data.draw(numbers) for p in parameters}
    sound(lambda: function(**by_name))


def test_the_formulas_are_found() -> None:
    assert len(list(formulas(geometry, planes, helix, infeed))) >= 30


@given(st.lists(numbers, max_size=6), st.lists(numbers, max_size=6), numbers)
@settings(max_examples=200)
def test_series_give_numbers_or_the_one_error(
    one: list[float], two: list[float], held: float
) -> None:
    sound(lambda: regression.regression(one, two))
    sound(lambda: helix.lead_of_travel(one, two))
    sound(lambda: swing.swing_test(one, two))
    sound(lambda: swing.index_runout(one))
    sound(lambda: swing.spacing(held, one))


@given(st.lists(pairs, max_size=7), pairs, numbers, st.sets(st.sampled_from(contour.FREEDOMS)))
@settings(max_examples=200)
def test_points_give_numbers_or_the_one_error(
    points: list[tuple[float, float]], at: tuple[float, float], held: float, free: set[str]
) -> None:
    sound(lambda: zone.minimum_ring(points))
    sound(lambda: zone.minimum_strip(points))
    sound(lambda: contour.one_arc(points, at, held, convex=True, freedoms=free))
