"""Every computation of the calculator once by arithmetic that is written out.

The published cases check the same computations against printed values and other routes; here it is
plain arithmetic, constants that tables print (from memory, rounded as printed), and exact
fractions.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from inspect_rec.calculator.base import register
from tests.calculator.hand_numbers import NUMBERS
from tests.calculator.hand_shapes import SHAPES

CASES = SHAPES + NUMBERS


def test_every_computation_has_been_worked_out_by_hand() -> None:
    assert {name for name, *_ in CASES} == set(register())
    assert len({name for name, *_ in CASES}) == len(CASES)


@pytest.mark.parametrize(("name", "inputs", "by_hand", "within"), CASES, ids=[c[0] for c in CASES])
def test_a_computation_gives_what_arithmetic_by_hand_gives(
    name: str, inputs: Mapping[str, Any], by_hand: Mapping[str, Any], within: float
) -> None:
    found = register()[name](inputs)
    for quantity, expected in by_hand.items():
        if isinstance(expected, str | bool):
            assert found[quantity] == expected, quantity
        elif isinstance(expected, list) and isinstance(expected[0], list):
            for ours, theirs in zip(found[quantity], expected, strict=True):
                assert ours == pytest.approx(theirs, abs=within), quantity
        else:
            assert found[quantity] == pytest.approx(expected, abs=within), quantity
