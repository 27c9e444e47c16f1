"""The register of computations: what is listed is what is computed, and mistakes are said."""

from __future__ import annotations

import json
import math
from contextlib import suppress
from decimal import Decimal
from typing import Any

import pytest

from inspect_rec.calculator import base
from inspect_rec.calculator.base import register
from inspect_rec.errors import InputError, InspectRecError
from inspect_rec.methods import register as methods
from tests.compute.published import every

ASKED = [c for c in every().values() if c["calc"] and not c["expect"].get("error")]
ONE_EACH = list({c["calc"]: c for c in ASKED}.values())


def test_every_published_computation_is_there_and_every_computation_is_checked() -> None:
    assert {c["calc"] for c in ASKED} == set(register())


def test_no_computation_is_called_like_a_method() -> None:
    slugs = [m.slug for m in methods.register().values()]
    assert len(set(slugs)) == len(slugs)
    assert not set(slugs) & set(register())


@pytest.mark.parametrize("case", ONE_EACH, ids=lambda c: c["calc"])
def test_what_is_given_is_what_is_listed(case: dict[str, Any]) -> None:
    computation = register()[case["calc"]]
    listed = [name for name in computation.gives if "{" not in name]
    given = list(computation(case["inputs"]))
    assert [name for name in given if name in listed] == listed
    stems = [name.partition("{")[0] for name in computation.gives if "{" in name]
    assert all(name in listed or name.startswith(tuple(stems)) for name in given)


@pytest.mark.parametrize("computation", register().values(), ids=lambda c: c.name)
def test_each_says_what_it_does_and_where_that_comes_from(computation: base.Computation) -> None:
    assert len(computation.formula) > 8
    assert computation.source
    assert (computation.evaluate.__doc__ or "").strip().endswith(".")
    assert all(i.kind for i in computation.inputs)


@pytest.mark.parametrize("case", ONE_EACH, ids=lambda c: c["calc"])
def test_each_needed_input_is_asked_for_by_name_and_unit(case: dict[str, Any]) -> None:
    computation = register()[case["calc"]]
    for each in computation.inputs:
        if not each.needed:
            continue
        left = {name: value for name, value in case["inputs"].items() if name != each.name}
        with pytest.raises(InputError) as caught:
            computation(left)
        assert [m.where for m in caught.value.mistakes] == [each.name]
        assert each.unit in caught.value.mistakes[0].expected


@pytest.mark.parametrize(
    ("name", "inputs", "where"),
    [
        ("chord-rise", {"chord_mm": True, "rise_mm": 1}, "chord_mm"),
        ("chord-rise", {"chord_mm": "4", "rise_mm": 1}, "chord_mm"),
        ("chord-rise", {"chord_mm": float("nan"), "rise_mm": 1}, "chord_mm"),
        ("circle", {"points_mm": "1,2"}, "points_mm"),
        ("circle", {"points_mm": [[1, 2], [3]]}, "points_mm.1.1"),
        ("circle", {"points_mm": [[1, 2], [3, None]]}, "points_mm.1.1"),
        ("circle-span", {"number_of_points": 9.5, "spans_deg": [30]}, "number_of_points"),
        ("size-limits", {"nominal_mm": 10, "class": 7}, "class"),
        ("size-limits", {"nominal_mm": 10, "class": "h7", "sort": "x"}, "sort"),
        ("effective-dof", {"u_um": [], "dof": []}, "u_um"),
        ("inch-to-mm", {"inch_text": [0.5]}, "inch_text.0"),
        ("t-factor", {"p": [0.95], "dof": [10**400]}, "dof.0"),
        ("conformity", {"y_mm": 10**400, "u_mm": 1, "upper_limit_mm": 1}, "y_mm"),
        ("chart-constants", {"n": math.inf}, "n"),
        ("chart-constants", {"n": Decimal("nan")}, "n"),
        ("chart-constants", {"n": None}, "n"),
        ("circle", {"points_mm": [[0, 0]] * (base.LONGEST + 1)}, "points_mm"),
    ],
)
def test_an_input_of_the_wrong_kind_is_named_with_its_place(
    name: str, inputs: dict[str, Any], where: str
) -> None:
    with pytest.raises(InputError) as caught:
        register()[name](inputs)
    assert where in [m.where for m in caught.value.mistakes]


@pytest.mark.parametrize(
    ("elements", "said"),
    [
        (5, "elements: expected a list, found 5"),
        ([5], "elements.0: expected a table, found 5"),
        ([{}], "elements.0: expected a table with its 'kind', found {}"),
        ([{"kind": "curve"}], "elements.0: expected a 'kind' of 'line', 'arc', found"),
        (
            [{"kind": "line", "from_mm": [0, 0]}],
            "elements.0.line.to_mm: expected a value, found no",
        ),
        (
            [{"kind": "line", "from_mm": [0, 0], "to_mm": [1, 2, 3]}],
            "elements.0.line.to_mm: expected at most 2 entries, found [1, 2, 3]",
        ),
        (
            [{"kind": "arc", "centre_mm": [0, 0], "radius_mm": 1, "sign": 2, "span": 3}],
            "elements.0.arc.sign: expected 1 or -1, found 2",
        ),
    ],
)
def test_a_mistake_in_a_table_is_said_in_the_words_of_the_trade(elements: Any, said: str) -> None:
    inputs = {"points_mm": [[0, 0]], "elements": elements, "point_element": [0], "freedoms": []}
    with pytest.raises(InputError) as caught:
        register()["contour-fit"](inputs)
    assert said in str(caught.value)


def test_numbers_are_taken_as_they_were_written() -> None:
    """6.35 - 1.645 * 0.0016 in binary fractions lies below 6.347368."""
    inputs = {"y_mm": 6.347368, "u_mm": 0.0016, "upper_limit_mm": 6.35, "k_one_sided": 1.645}
    assert 6.35 - 1.645 * 0.0016 < 6.347368
    assert register()["conformity"](inputs)["verdict"] == "conforms"
    more = {**inputs, "y_mm": Decimal("6.3473680000000000000000001")}
    assert register()["conformity"](more)["verdict"] == "neither shown"


def test_a_name_ends_in_its_unit() -> None:
    assert base.unit_of("diameter_mm") == "mm"
    assert base.unit_of("sensitivity_flat_deg_per_um") == "°/µm"
    assert base.unit_of("alpha_tool_per_K") == "1/K"
    assert base.unit_of("verdict") == ""
    assert base.unit_of("n") == ""


def test_what_is_no_finite_number_is_null() -> None:
    found = register()["effective-dof"]({"u_um": [1.0], "dof": [None]})
    assert found["dof_effective"] is None
    assert register()["circle"]({"points_mm": [[0, 0], [2, 0], [1, 1]]})["residual_std_mm"] is None


def test_null_for_an_input_that_may_be_left_out_is_as_if_it_were() -> None:
    inputs = {"x1": 1.0, "x2": 2.0}
    left = register()["width-two-sightings"](inputs)
    assert register()["width-two-sightings"](inputs | {"scale_factor": None}) == left
    decided = {"y_mm": 1.5, "u_mm": 0.01, "upper_limit_mm": 2, "k_one_sided": None}
    assert register()["conformity"](decided)["guard_band_mm"] == pytest.approx(0.01645)


def test_a_harmonic_that_is_none_has_no_high_side() -> None:
    for readings in ([5.0] * 5, [0.1, -0.1, 0.1, -0.1]):
        found = register()["index-runout"]({"readings_um": readings})
        assert found["eccentricity_um"] == pytest.approx(0, abs=1e-12)
        assert found["high_side_deg"] is None


EDGES: list[Any] = [0, -1, 1, 1e-300, 1e300, -1e300, 90, 180, 360, 2**53, None, "", [], [[]], {}]
EDGES += [math.inf, -math.inf, math.nan, 1e308, 10**400, Decimal("nan"), Decimal("1e400")]


@pytest.mark.parametrize("case", ONE_EACH, ids=lambda c: c["calc"])
def test_any_input_gives_an_answer_or_a_refusal(case: dict[str, Any]) -> None:
    """Each input in turn is set to what a slip of the hand or a hostile file may hold."""
    computation = register()[case["calc"]]
    for name in case["inputs"]:
        for value in EDGES:
            with suppress(InspectRecError):
                found = computation({**case["inputs"], name: value})
                json.dumps(found, allow_nan=False)
