"""What a machine can reach: numbers outside are mistakes, and are said to be. No I/O.

So that no typing error, lost decimal point or readout gone wild comes out of a formula as an
infinity, or stops a program with an error that says nothing of it.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any, ParamSpec, TypeVar

from inspect_rec.errors import ComputeError

FAR = 1e6
"""No slide is a kilometre long; squares and products of what is nearer can't overflow."""

LEAST = 1e-9
"""A length in mm that must be above 0 has at least so much: a picometre."""

_NUMBERS = (float, int)

P = ParamSpec("P")
T = TypeVar("T")


def within(*values: object) -> None:
    """All ``values`` that are floats are numbers, and none is further off than FAR."""
    for value in values:
        if isinstance(value, _NUMBERS) and not abs(value) <= FAR:
            raise ComputeError(
                "no number that a machine can reach",
                expected=f"from -{FAR:.0f} to {FAR:.0f}",
                found=str(value),
            )


def length(value_mm: float, what: str) -> None:
    """``value_mm`` is a length above 0, called ``what``."""
    if not LEAST <= value_mm <= FAR:
        raise ComputeError(f"no such {what}", expected="above 0 mm", found=f"{value_mm} mm")


def formula(function: Callable[P, T]) -> Callable[P, T]:
    """Holds the arguments of a formula within reach, and says so where they give no result."""

    @functools.wraps(function)
    def held(*args: P.args, **kwargs: P.kwargs) -> T:
        given = (*args, *kwargs.values())
        within(*given)
        try:
            found = function(*args, **kwargs)
        except ArithmeticError as error:
            raise _none(given) from error
        if not all(map(math.isfinite, _figures(found))):
            raise _none(given)
        return found

    return held


def _none(given: tuple[object, ...]) -> ComputeError:
    return ComputeError("these numbers have no result", found=", ".join(map(str, given)))


def _figures(found: Any) -> tuple[float, ...]:
    """The numbers of a result: a number, a tuple of them, or a dataclass of them."""
    if is_dataclass(found):
        return tuple([getattr(found, field.name) for field in fields(found)])
    return found if isinstance(found, tuple) else (found,)
