"""Every method against arithmetic that shares nothing with it."""

from __future__ import annotations

import pytest

from inspect_rec.methods.register import register
from tests.methods.by_hand import Sample, measured
from tests.methods.by_hand_indicated import INDICATED
from tests.methods.by_hand_sighted import SIGHTED

SAMPLES = SIGHTED + INDICATED


def test_every_method_has_been_worked_out_by_hand() -> None:
    assert {name for name, _ in SAMPLES} == set(register())


@pytest.mark.parametrize(("name", "sample"), SAMPLES, ids=[f"{n} {s.case}" for n, s in SAMPLES])
def test_a_value_is_what_arithmetic_by_hand_gives(name: str, sample: Sample) -> None:
    found = measured(name, sample.inputs).outcome
    assert found.values == pytest.approx(sample.by_hand, abs=1e-9)
    assert found.budget.u > 0


def test_no_role_is_called_like_a_parameter_so_that_both_can_be_typed() -> None:
    for method in register().values():
        assert not {r.name for r in method.roles} & {a.name for a in method.asks}, method.name
