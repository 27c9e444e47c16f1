"""Job and shop files: what is right is read, what is wrong is said at once, with its line."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inspect_rec import jobfile, plan
from inspect_rec.compute.rules import Kind, Rule
from inspect_rec.errors import InputError
from inspect_rec.methods.register import register
from inspect_rec.plan.stated import exact
from inspect_rec.units import Unit
from tests import worked

I1 = (worked.FOLDER / "i1.toml").read_text(encoding="utf-8")
I2 = (worked.FOLDER / "i2.toml").read_text(encoding="utf-8")


def mistakes(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        jobfile.parse_job(text, worked.shop(), "i1.toml")
    return [str(m) for m in caught.value.mistakes]


def line_of(text: str, part: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)


def test_plus_minus_becomes_exact_limits() -> None:
    ball = worked.job("I1").of("R")
    assert (ball.lower, ball.upper) == (Decimal("4.890"), Decimal("4.910"))


def test_a_job_survives_the_way_through_an_entry() -> None:
    for number in ("I1", "I2", "I3"):
        job = worked.job(number)
        assert plan.JobFile.model_validate(job.model_dump(mode="json", by_alias=True)) == job


def test_every_mistake_is_named_at_once_with_its_line() -> None:
    text = (
        I1.replace("edges = 4", 'edges = "four"')
        .replace("upper = 0.010", "upper = nan", 1)
        .replace('per = "flute"\nmethod = "arc', 'per = "tooth"\nmethod = "arc')
    )
    found = mistakes(text)
    assert len(found) == 3
    for part, words in (('edges = "four"', "'four'"), ("upper = nan", ""), ('"tooth"', "'tooth'")):
        line = line_of(text, part)
        assert any(m.startswith(f"i1.toml:{line}:") and words in m for m in found), (line, found)


def test_a_key_that_is_not_known_is_a_mistake() -> None:
    text = I1.replace("guard_factor = 1.645", "guard_faktor = 1.645")
    assert any("guard_faktor" in m and "no such key" in m for m in mistakes(text))


def test_references_that_lead_nowhere_are_mistakes() -> None:
    text = I1.replace('master = "RM-5"\ncheck', 'master = "RM-6"\ncheck').replace(
        'of = "R"\nprinted', 'of = "Q"\nprinted'
    )
    found = mistakes(text)
    assert any("'RM-6'" in m for m in found)
    assert any("'Q'" in m for m in found)


def test_an_unknown_method_is_answered_with_all_that_there_are() -> None:
    text = I1.replace('"arc, centre on the axis"', '"arc"')
    assert any("arc, centre on the axis" in m and "'arc'" in m for m in mistakes(text))


def test_limits_that_cross_are_a_mistake() -> None:
    text = I1.replace("lower = 96.0", "lower = 96.0\nupper = 95.0")
    assert any("lower below upper" in m for m in mistakes(text))


def test_what_is_no_toml_is_named_with_its_line() -> None:
    with pytest.raises(InputError, match=r"i1.toml:3") as caught:
        jobfile.parse_job("[job]\nnumber = 'I1'\ncustomer = \n", worked.shop(), "i1.toml")
    assert "TOML" in str(caught.value)


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 5000,
        ".".join("a" for _ in range(5000)) + " = 1",
        "x" * (600 * 1024),
        "[job]\nnumber = 1979-99-99",
        "\x00",
    ],
    ids=["nested", "dotted", "large", "no date", "zero byte"],
)
def test_hostile_text_is_refused_without_delay(text: str) -> None:
    with pytest.raises(InputError):
        jobfile.parse_job(text, worked.shop(), "i1.toml")


def test_kinds_fill_in_what_a_job_file_leaves_out() -> None:
    text = I1.replace('name = "ball radius"\n', "").replace(
        'method = "arc, centre on the axis"\n', ""
    )
    ball = jobfile.parse_job(text, worked.shop(), "i1.toml").of("R")
    assert ball.name == "ball radius"
    assert ball.method == "arc, centre on the axis"


def test_numbers_may_be_whole_but_never_foreign_or_endless() -> None:
    assert exact(5) == 5
    for bad in (True, "\u0665", "1_000", "1e9", float("nan"), Decimal("Infinity")):
        with pytest.raises(ValueError, match="plain decimal"):
            exact(bad)


# -- the decision rule ---------------------------------------------------------------


def with_rule(*lines: str) -> str:
    return I1.replace("\n[[tool]]", "\n".join(["", "[job.rule]", *lines, "", "[[tool]]"]), 1)


def test_without_a_rule_the_supplier_proves_with_the_guard_factor_of_the_job() -> None:
    job = worked.job("I1").job
    assert (job.rule, job.decision(Unit.MM)) == (None, Rule(factor=Decimal("1.645")))
    text = I1.replace("guard_factor = 1.645", "guard_factor = 2")
    older = jobfile.parse_job(text, worked.shop()).job
    assert older.decision(Unit.DEGREE) == Rule(Kind.SUPPLIER, factor=Decimal(2))


def test_a_job_without_a_rule_leaves_no_trace_of_one_in_its_entry() -> None:
    assert "rule" not in worked.job("I1").model_dump(mode="json", by_alias=True)["job"]


@pytest.mark.parametrize(
    ("lines", "mm", "deg"),
    [
        (
            ('kind = "supplier proves"', "factor = 2"),
            Rule(factor=Decimal(2)),
            Rule(factor=Decimal(2)),
        ),
        (('kind = "customer proves"',), Rule(Kind.CUSTOMER), Rule(Kind.CUSTOMER)),
        (
            (
                'kind = "simple acceptance"',
                "least_tur = 4",
                "largest_expanded_mm = 0.05",
                "largest_expanded_deg = 0.5",
            ),
            Rule(Kind.SIMPLE, least_tur=Decimal(4), largest_expanded=Decimal("0.05")),
            Rule(Kind.SIMPLE, least_tur=Decimal(4), largest_expanded=Decimal("0.5")),
        ),
        (
            ('kind = "share of U"', "share = 0.5"),
            Rule(Kind.SHARE, share=Decimal("0.5")),
            Rule(Kind.SHARE, share=Decimal("0.5")),
        ),
    ],
)
def test_a_job_chooses_its_rule_and_keeps_it_through_an_entry(
    lines: tuple[str, ...], mm: Rule, deg: Rule
) -> None:
    job = jobfile.parse_job(with_rule(*lines), worked.shop())
    assert (job.job.decision(Unit.MM), job.job.decision(Unit.DEGREE)) == (mm, deg)
    assert plan.JobFile.model_validate(job.model_dump(mode="json", by_alias=True)) == job


@pytest.mark.parametrize(
    # ``at``: lines below the table's head.
    ("lines", "at", "words"),
    [
        (('kind = "supplier proofs"',), 1, "'supplier proves', 'customer proves'"),
        (("factor = 2",), 0, "expected kind = ..., found nothing"),
        (('kind = "customer proves"', "share = 1"), 2, "where the rule is 'customer prov"),
        (('kind = "customer proves"', "factor = 0"), 2, "above 0, at most 5, found '0'"),
        (('kind = "customer proves"', "factor = 16.45"), 2, "at most 5, found '16.45'"),
        (('kind = "customer proves"', "faktor = 2"), 2, "no such key"),
        (('kind = "share of U"',), 0, "share = g over U"),
        (('kind = "share of U"', "share = 1.5"), 2, "above 0, at most 1, found '1.5'"),
        (('kind = "simple acceptance"',), 0, "either largest_ratio or least_tur"),
        (
            ('kind = "simple acceptance"', "largest_ratio = 0.2", "least_tur = 4"),
            0,
            "either largest_ratio or least_tur",
        ),
        (
            ('kind = "simple acceptance"', "largest_ratio = 0.2", "largest_expanded_mm = -1"),
            3,
            "a number above 0, found '-1'",
        ),
    ],
)
def test_a_rule_that_is_none_is_a_mistake_with_its_line(
    lines: tuple[str, ...], at: int, words: str
) -> None:
    text = with_rule(*lines)
    (found,) = mistakes(text)
    assert found.startswith(f"i1.toml:{line_of(text, '[job.rule]') + at}: ")
    assert words in found


def test_a_guard_factor_of_its_own_beside_a_rule_is_a_mistake() -> None:
    text = with_rule('kind = "customer proves"').replace("guard_factor = 1.645", "guard_factor = 2")
    (found,) = mistakes(text)
    assert found.startswith(f"i1.toml:{line_of(text, '[job.rule]')}: ")
    assert "either guard_factor or a rule" in found


@pytest.mark.parametrize("factor", ["0", "-1.645", "0.0"])
def test_a_guard_factor_of_nothing_is_a_mistake_that_names_simple_acceptance(factor: str) -> None:
    text = I1.replace("guard_factor = 1.645", f"guard_factor = {factor}")
    (found,) = mistakes(text)
    assert found.startswith(f"i1.toml:{line_of(text, 'guard_factor')}: ")
    assert '[job.rule] kind = "simple acceptance"' in found


def test_simple_acceptance_without_a_bound_for_a_limit_alone_is_a_mistake() -> None:
    text = with_rule('kind = "simple acceptance"', "least_tur = 4")
    (found,) = mistakes(text)
    assert found.startswith(f"i1.toml:{line_of(text, '[job.rule]')}: ")
    assert "largest_expanded_mm = ... for length" in found


def test_a_tolerance_class_becomes_the_limits_of_the_tables() -> None:
    text = I2.replace(
        'nominal = 8.5\nlower = 8.478\nupper = 8.500\nlimits_from = "h8"',
        'nominal = 8.5\ntolerance_class = "h8"',
    )
    diameter = jobfile.parse_job(text, worked.shop(), "i2.toml").of("DC_1")
    assert (diameter.lower, diameter.upper) == (Decimal("8.478"), Decimal("8.5"))
    assert diameter.limits_from == "h8"


def test_a_reamers_limits_come_from_its_hole() -> None:
    text = I2.replace(
        'nominal = 8.5\nlower = 8.478\nupper = 8.500\nlimits_from = "h8"',
        'nominal = 10\nreamer_for = "H7"',
    )
    diameter = jobfile.parse_job(text, worked.shop(), "i2.toml").of("DC_1")
    assert (diameter.lower, diameter.upper) == (Decimal("10.006"), Decimal("10.012"))


@pytest.mark.parametrize(
    ("instead", "said"),
    [
        ('nominal = 8.5\ntolerance_class = "hh8"', "hh8"),
        ('tolerance_class = "h8"', "expected nominal beside tolerance_class"),
        ('nominal = 8.5\ntolerance_class = "h8"\nlower = 8.477', "either tolerance_class"),
        ('nominal = 8.5\ntolerance_class = "h8"\nplus_minus = 0.1', "one of plus_minus and"),
    ],
)
def test_limits_that_are_stated_twice_or_in_part_are_refused(instead: str, said: str) -> None:
    text = I2.replace('nominal = 8.5\nlower = 8.478\nupper = 8.500\nlimits_from = "h8"', instead)
    with pytest.raises(InputError) as caught:
        jobfile.parse_job(text, worked.shop(), "i2.toml")
    assert said.removeprefix("expected ") in str(caught.value)


def test_a_job_settles_the_version_of_each_method_when_it_is_opened() -> None:
    text = I2.replace("version = 1  #", "#")
    job = jobfile.parse_job(text, worked.shop(), "i2.toml")
    newest = register()
    assert newest["point angle from the lips"].version == 3
    assert all(c.version == newest[c.method].version for c in job.characteristic)
    assert worked.job("I2").of("SIG").version == 1, "stated, and kept"
    text = I2.replace(
        'method = "middle off the axis"', 'method = "middle off the axis"\nversion = 99'
    )
    with pytest.raises(InputError, match="99"):
        jobfile.parse_job(text, worked.shop(), "i2.toml")


def asks_for(method: str, stated: str, feature: str = 'drop = "relief drop"') -> list[str]:
    """The mistakes of job I1, its clearance measured by another method."""
    old = I1[I1.index('method = "clearance from a rolled drop"') :]
    old = old[: old.index("printed_in")]
    new = f'method = "{method}"\nfeature = {{ {feature} }}\nwith = {{ {stated} }}\n'
    try:
        jobfile.parse_job(I1.replace(old, new), worked.shop(), "i1.toml")
    except InputError as error:
        return [str(m) for m in error.mistakes]
    return []


SLID = "clearance from a slid drop"
LYING = 'edge_radius_mm = 4.9, travel_mm = 0.6, lever_deg = 0, plane = "transverse"'
END = "axial clearance from a drop on the end face"
ON_END = 'land = "flat", at_radius_mm = 3, dish_deg = 2, lever_deg = 0'


@pytest.mark.parametrize(
    ("method", "stated", "asked"),
    [
        (SLID, f'land = "flat", {LYING}', ""),
        (SLID, LYING, "land = flat | eccentric | hollow"),
        (SLID, f'land = "hollow", {LYING}', "wheel_radius_mm"),
        (SLID, f'land = "hollow", wheel_radius_mm = 50, {LYING}', ""),
        (SLID, f'land = "flat", {LYING}'.replace('"transverse"', '"normal"'), "helix_deg"),
        (SLID, f'land = "flat", {LYING}'.replace(', plane = "transverse"', ""), "plane"),
        (SLID, f'land = "flat", {LYING}'.replace("lever_deg = 0", "lever_deg = 10"), "lever_mm"),
        (SLID, f'land = "flat", {LYING}'.replace(", lever_deg = 0", ""), "lever_deg"),
        (END, f"{ON_END}, travel_mm = 0.6", "moved = slid | rolled"),
        (END, f'{ON_END}, moved = "slid"', "travel_mm"),
        (END, f'{ON_END}, moved = "rolled", travel_mm = 0.6', "roll_deg"),
        (END, f'{ON_END}, moved = "rolled", roll_deg = 6', ""),
    ],
)
def test_a_clearance_that_leaves_land_plane_lever_or_move_open_is_refused_before_the_first_reading(
    method: str, stated: str, asked: str
) -> None:
    said = asks_for(method, stated)
    if asked:
        assert any(asked in each for each in said), said
    else:
        assert said == []


LEAD = (
    'id = "lead"\nname = "lead"\nlower = 90.0\nupper = 110.0\n'
    'method = "lead from travel and turn"\nfeature = { flute = "flute" }\n'
)
FLUTE = (
    '[[feature]]\nid = "flute"\nmarks = ["1", "2", "3"]\nindex = [0, 30, 60]\n\n'
    f"[[characteristic]]\n{LEAD}"
)


@pytest.mark.parametrize("left_out", ["hand", "index_sense", "diameter_mm"])
def test_a_lead_without_its_hand_or_the_sense_of_the_index_is_refused(left_out: str) -> None:
    stated = {"hand": '"right"', "index_sense": '"clockwise"', "diameter_mm": "9.8"}

    def job(names: list[str]) -> str:
        said = ", ".join(f"{name} = {stated[name]}" for name in names)
        return f"{I1}\n{FLUTE}with = {{ {said} }}\n"

    jobfile.parse_job(job([*stated]), worked.shop(), "i1.toml")
    (said,) = mistakes(job([name for name in stated if name != left_out]))
    assert f"expected {left_out}" in said
    assert "found nothing" in said


def test_what_a_place_or_length_counts_from_has_to_be_stated() -> None:
    line = next(each for each in I1.splitlines() if each.startswith("datum"))
    (said,) = mistakes(I1.replace(line, ""))
    assert "datum" in said
    assert "what R counts from" in said


CONTOUR = (
    '[[characteristic]]\nid = "profile"\nname = "profile"\nlower = -0.02\nupper = 0.02\n'
    'method = "profile, contour"\nfeature = { points = "profile arc" }\n'
)


@pytest.mark.parametrize(
    ("stated", "asked"),
    [
        ('freedoms = ["X", "Z", "rotation"]', []),
        ('freedoms = ["rotation"]', ["pivot_x_mm", "pivot_z_mm"]),
        ('freedoms = ["X"], origin_x_mm = 30', ["origin_z_mm"]),
        ('freedoms = ["X"], rake_deg = 5', ["outer_radius_mm", "axis = a feature"]),
    ],
)
def test_a_contour_that_leaves_its_place_or_face_open_is_refused_before_the_first_reading(
    stated: str, asked: list[str]
) -> None:
    elements = 'elements = ["from 0 0", "line 0 5"]'
    text = f"{I1}\n{CONTOUR}with = {{ {elements}, {stated} }}\n"
    if not asked:
        jobfile.parse_job(text, worked.shop(), "i1.toml")
        return
    said = mistakes(text)
    assert len(said) == len(asked)
    assert all(any(name in each for each in said) for name in asked), said
