"""Known tools: one for every method, and a machine without errors gives back the truth."""

from __future__ import annotations

import random

import pytest

from inspect_rec.methods.register import Role, named, register
from inspect_rec.simulate.coverage import cases
from inspect_rec.simulate.job import measured
from inspect_rec.simulate.known import Known, known, tools
from inspect_rec.simulate.machine import NONE, Machine

WITHOUT_A_KNOWN_TOOL: frozenset[str] = frozenset()
"""Methods of the register that no known tool is there for yet."""

INEXACT = {
    # The cosine of a lever that turns while it reads; each budget has a row for it.
    "axial clearance from a drop on the end face": 0.05,
    "clearance from a slid drop": 0.1,
    "clearance from land width and heel drop": 0.1,
    "clearance in a stated plane from a rolled drop": 0.1,
    "clearance normal to a form flank": 0.15,
    "clearance on an arc from a normal drop": 0.1,
    "clearance on an arc from radial and axial drops": 0.1,
    "rise of a form relief": 0.05,
    # An indicator reads along the ray, the model is that of the tangent.
    "form by swing test": 1e-3,
    "pivot offset by swing test": 1e-3,
    "radius by swing test": 1e-3,
}
"""Methods whose own formula is no exact one, and how far it may be off, mm or deg."""


def drawn(method: str, case: str, seed: int) -> Known:
    return tools()[method][case](random.Random(seed), Machine(NONE, str(seed)))


def test_every_method_has_a_known_tool_or_is_named_as_one_without() -> None:
    assert set(register()) - set(tools()) == WITHOUT_A_KNOWN_TOOL
    assert set(tools()) - set(register()) == set()


@pytest.mark.parametrize(("method", "case"), cases())
def test_a_machine_without_errors_gives_back_the_truth(method: str, case: str) -> None:
    """The forward models are written apart from the methods, so that this is a check of both."""
    how, make = named(method), tools()[method][case]
    answered = 0
    for seed in range(40):
        found = measured(how, make, NONE, str(seed))
        answered += not found.refusals
        if not found.refusals:
            assert found.errors == pytest.approx(
                (0.0,) * len(found.truth), abs=INEXACT.get(method, 1e-6)
            )
    assert answered >= 30


@pytest.mark.parametrize(("method", "case"), cases())
def test_a_known_tool_has_the_roles_and_the_marks_of_its_method(method: str, case: str) -> None:
    tool = drawn(method, case, 1)
    how = named(tool.of or method)
    roles: dict[str, Role] = {role.name: role for role in how.roles}
    assert {r.name for r in how.roles if r.needed} <= set(tool.spots) <= set(roles)
    assert all(roles[name].master for name in tool.masters)
    assert {name for name in tool.spots if roles[name].master} == set(tool.masters)
    for name, spots in tool.spots.items():
        marks = {spot.mark for spot in spots}
        assert len(marks) >= roles[name].least
        assert marks >= set(roles[name].marks)
        assert bool(tool.index.get(name)) is roles[name].index
    asked = {asks.name: asks for asks in named(method).asks}
    needed = {name for name, asks in asked.items() if asks.needed}
    assert needed - {"wheel_radius_mm"} <= set(tool.parameters) <= set(asked) or tool.of


def test_the_same_seed_draws_the_same_tool_and_another_another_one() -> None:
    for method, case in cases():
        assert drawn(method, case, 1) == drawn(method, case, 1)
        assert drawn(method, case, 1).truth != drawn(method, case, 2).truth


def test_two_known_tools_of_a_method_have_different_names() -> None:
    with pytest.raises(ValueError, match="two known tools"):
        known("edge to axis")(tools()["edge to axis"][""])
