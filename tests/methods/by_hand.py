"""Readings of a tool for every method, and what they give by arithmetic that is written out.

Nothing of the package computes an expected value: a clearance is chosen and the drop that such a
land shows is worked out from plane geometry; a circle's points have residuals that are square to
all that the fit may move, so that it must find the circle they were laid about.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from inspect_rec.calculator import measuring
from inspect_rec.calculator.measuring import Measured, Shelf
from inspect_rec.methods.base import Instrument
from inspect_rec.methods.register import named
from tests import worked

SHELF = Shelf(
    worked.shop().influence,
    {
        "slides": Instrument("RO-1", half_step=0.5),
        "indicator": Instrument("IN-1", half_step=0.05, repeat=0.6, expanded=2.0),
        "angle": Instrument("OP-1", half_step=0.05, expanded=0.0417),
        "length": Instrument("CA-1", half_step=5, largest_error=30),
    },
)


@dataclass(frozen=True, slots=True)
class Sample:
    """Typed inputs of a method and its value by hand, mm or deg; of a profile the lowest and the
    highest."""

    inputs: Mapping[str, Any]
    by_hand: tuple[float, ...]
    case: str = ""
    turns: bool = False
    """Whether the value is the same in a picture that is turned about the zero of both slides."""
    handed: bool = False
    """Whether a mirrored picture is another one, as that of a contour with its body on one side."""


ROUND = (0, 90, 180, 270)
"""Places over a whole round, deg."""


def measured(name: str, inputs: Mapping[str, Any]) -> Measured:
    """The method's value of typed readings, with the shop of the worked jobs."""
    return measuring.measured(named(name), inputs, SHELF)
