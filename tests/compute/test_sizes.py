"""Tables of ISO 286-1 held against published cases, the formulas behind them, and their rules.

The formulas are from memory (ISO 286-1, annex on the bases of the system); the standard was not at
hand. A table entry is a formula's value rounded, so a share of it is stated that no sound entry
exceeds: a slip of memory or of a finger does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise

import pytest

from inspect_rec.compute.size_tables import deviations, tolerances
from inspect_rec.compute.sizes import limits, reamer, reamer_deviations
from inspect_rec.errors import ComputeError
from tests.compute.published import cases

D = Decimal
CASES = cases()
GRADES = ["01", "0", *map(str, range(1, 19))]


def published(calc: str) -> list[str]:
    found = [name for name, case in CASES.items() if case["calc"] == calc]
    assert found
    return found


def lies(nominal: str, tolerance_class: str, upper: float, lower: float) -> bool:
    found = limits(D(nominal), tolerance_class)
    return (found.upper_um, found.lower_um) == (D(str(upper)), D(str(lower)))


def steps() -> list[tuple[float, float]]:
    """Steps of nominal size; the first is reckoned from 1 mm."""
    ends = [float(end) for end in tolerances().ends]
    return list(zip([1, *ends], ends, strict=False))


@pytest.mark.parametrize("name", published("size-limits"))
def test_published_limits_of_size_come_out_to_the_last_digit(name: str) -> None:
    """The source of each case stands beside it in the file."""
    given, expect = CASES[name]["inputs"], CASES[name]["expect"]
    found = limits(D(str(given["nominal_mm"])), given["class"])
    for want, got in (
        ("upper_deviation_um", found.upper_um),
        ("lower_deviation_um", found.lower_um),
        ("upper_limit_mm", found.upper_mm),
        ("lower_limit_mm", found.lower_mm),
    ):
        assert got == D(str(expect[want]["value"])), want


@pytest.mark.parametrize("name", published("reamer-limits"))
def test_published_limits_of_reamers_come_out_to_the_last_digit(name: str) -> None:
    """The source of each case stands beside it in the file."""
    given, expect = CASES[name]["inputs"], CASES[name]["expect"]
    it, top = D(given["IT_um"]), D(given["hole_max_deviation_um"])
    found = reamer(D(str(given["nominal_mm"])), given["hole_class"], it_um=it, hole_max_um=top)
    assert (found.upper_um, found.lower_um) == reamer_deviations(it, top)
    for want, got in (
        ("upper_deviation_um", found.upper_um),
        ("lower_deviation_um", found.lower_um),
        ("upper_limit_mm", found.upper_mm),
        ("lower_limit_mm", found.lower_mm),
    ):
        assert got == D(str(expect[want]["value"])), want


def unit(size: float) -> float:
    """i in µm."""
    return 0.45 * math.cbrt(size) + 0.001 * size


TIMES = (7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000, 1600, 2500)


def tolerance_by_formula(grade: str, size: float) -> float:
    """µm; IT2 to IT4 are a geometric series between IT1 and IT5."""
    first, fifth = 0.8 + 0.020 * size, 7 * unit(size)
    if grade in ("01", "0", "1"):
        return {"01": 0.3 + 0.008 * size, "0": 0.5 + 0.012 * size, "1": first}[grade]
    number = int(grade)
    if number < 5:
        return float(first * (fifth / first) ** ((number - 1) / 4))
    return TIMES[number - 5] * unit(size)


def off(entry: Decimal | None, formula: float) -> tuple[float, float]:
    """How far an entry lies off its formula, in µm and as a share of the formula's value."""
    assert entry is not None
    return abs(float(entry) - formula), abs(float(entry) / formula - 1)


@pytest.mark.parametrize("grade", GRADES)
def test_every_tolerance_lies_by_its_formula(grade: str) -> None:
    """Up to IT4 the entries are rounded to a coarse series of their own, up to 3 mm all are."""
    for (low, high), entry in zip(steps(), tolerances().columns[grade], strict=True):
        um, share = off(entry, tolerance_by_formula(grade, math.sqrt(low * high)))
        if int(grade) < 5 or grade == "01":
            assert um <= 0.25 or share <= 0.22, high
        else:
            assert um <= 0.7 or share <= (0.16 if high == 3 else 0.05), high


FORMULAS: dict[str, Callable[[float], float]] = {
    "d": lambda size: 16 * size**0.44,
    "e": lambda size: 11 * size**0.41,
    "f": lambda size: 5.5 * size**0.41,
    "g": lambda size: 2.5 * size**0.34,
    "k": lambda size: 0.6 * math.cbrt(size),
    "m": lambda size: 6 * unit(size),
    "n": lambda size: 5 * size**0.34,
    "p": lambda size: 16 * unit(size) + 2.5,
}
"""Of fundamental deviations, µm; m is IT7 - IT6, p is IT7 and 0 to 5 more: here the middle."""

UP_TO_3_MM = {"f": 1, "k": 1, "g": 1.1, "m": 1.3, "n": 2.1, "p": 5.2}
"""µm off the formula; the tables' first step has values of its own."""


@pytest.mark.parametrize("letters", FORMULAS)
def test_every_fundamental_deviation_lies_by_its_formula(letters: str) -> None:
    for (low, high), entry in zip(steps(), deviations()[0].columns[letters], strict=True):
        um, share = off(entry, FORMULAS[letters](math.sqrt(low * high)))
        least = UP_TO_3_MM.get(letters, 0.7) if high == 3 else 3.3 if letters == "p" else 0.7
        assert um <= least or share <= 0.04, high


def test_the_shaft_h_begins_at_the_nominal_size() -> None:
    assert set(deviations()[0].columns["h"]) == {D(0)}


def test_a_tolerance_grows_with_the_grade_and_with_the_size() -> None:
    columns = [tolerances().columns[grade] for grade in GRADES]
    for finer, coarser in pairwise(columns):
        assert all(a < b for a, b in zip(finer, coarser, strict=True) if a and b)
    for column in columns:
        assert list(column) == sorted(column, key=lambda entry: entry or D(0))


def test_from_it6_on_five_grades_are_a_factor_of_ten() -> None:
    """But for one entry of the tables: IT6 and IT11 above 3 mm up to 6 mm are 8 µm and 75 µm."""
    for grade in range(6, 14):
        fine, coarse = (tolerances().columns[str(n)] for n in (grade, grade + 5))
        for end, a, b in zip(tolerances().ends, fine, coarse, strict=True):
            assert a is not None
            assert b is not None
            assert b == (75 if (grade, end) == (6, D(6)) else 10 * a)


def sample() -> list[Decimal]:
    """The end of every step, and a hair above it."""
    ends = [D(end) for end in tolerances().ends]
    return [*ends, *(end + D("0.001") for end in ends[:-1])]


def test_the_end_of_a_step_belongs_to_it() -> None:
    assert lies("10", "h7", 0, -15)
    assert lies("10.000001", "h7", 0, -18)
    assert lies("18", "d9", -50, -93)
    assert lies("18.01", "d9", -65, -117)


@pytest.mark.parametrize("letters", ["d", "e", "f", "g", "h"])
def test_a_clearance_hole_is_the_shaft_mirrored(letters: str) -> None:
    for nominal in sample():
        for grade in range(5, 15):
            shaft = limits(nominal, f"{letters}{grade}")
            hole = limits(nominal, f"{letters.upper()}{grade}")
            assert (hole.lower_um, hole.upper_um) == (-shaft.upper_um, -shaft.lower_um)
            assert hole.upper_um - hole.lower_um == hole.it_um
            assert hole.lower_um >= 0


@pytest.mark.parametrize("letters", ["js", "JS"])
def test_js_lies_half_the_tolerance_to_both_sides_exactly(letters: str) -> None:
    for nominal in sample():
        found = limits(nominal, f"{letters}7")
        assert found.upper_um == -found.lower_um == found.it_um / 2
    assert limits(D(10), f"{letters}7").upper_mm == D("10.0075")


def test_k_lies_on_the_nominal_size_but_for_it4_to_it7() -> None:
    assert lies("8", "k4", 5, 1)
    assert lies("8", "k7", 16, 1)
    assert lies("8", "k8", 22, 0)
    assert lies("8", "k3", 2.5, 0)


WELL_KNOWN = [
    ("20", "f7", -20, -41),
    ("25", "g6", -7, -20),
    ("50", "e8", -50, -89),
    ("100", "d9", -120, -207),
    ("40", "j6", 11, -5),
    ("60", "j7", 18, -12),
    ("120", "k6", 25, 3),
    ("70", "m6", 30, 11),
    ("30", "n6", 28, 15),
    ("20", "p6", 35, 22),
    ("12", "F8", 43, 16),
    ("12", "E9", 75, 32),
    ("40", "G7", 34, 9),
    ("25", "H7", 21, 0),
    ("6", "H8", 18, 0),
    ("80", "H11", 190, 0),
    ("40", "J7", 14, -11),
    ("28", "J6", 8, -5),
    ("28", "J8", 20, -13),
    ("20", "JS9", 26, -26),
]


@pytest.mark.parametrize(("nominal", "tolerance_class", "upper", "lower"), WELL_KNOWN)
def test_well_known_classes_come_out(
    nominal: str, tolerance_class: str, upper: int, lower: int
) -> None:
    """From memory: pairs that stand in many handbooks' lists of preferred fits."""
    assert lies(nominal, tolerance_class, upper, lower)


def test_j_lies_about_the_nominal_size_for_every_size() -> None:
    for nominal in sample():
        for tolerance_class in ("j5", "j6", "j7", "J6", "J7", "J8"):
            found = limits(nominal, tolerance_class)
            assert found.lower_um < 0 < found.upper_um, (nominal, tolerance_class)


@pytest.mark.parametrize(
    ("nominal", "tolerance_class", "said"),
    [
        ("10", "i7", "h6 for a shaft"),
        ("10", "Js7", "h6 for a shaft"),
        ("10", "H19", "h6 for a shaft"),
        ("10", "H", "h6 for a shaft"),
        ("10", "H 7", "h6 for a shaft"),
        ("10", "w6", "h6 for a shaft"),
        ("10", "j9", "no limits"),
        ("10", "J5", "no limits"),
        ("5", "j8", "no limits"),
        ("0", "H7", "above 0 mm"),
        ("-3", "H7", "above 0 mm"),
        ("NaN", "H7", "above 0 mm"),
        ("500.001", "H7", "up to 500 mm, found 500.001 mm"),
        ("1", "h14", "up to IT13"),
        ("0.02", "d9", "a lower limit above 0 mm"),
    ],
)
def test_what_the_tables_do_not_hold_is_refused(
    nominal: str, tolerance_class: str, said: str
) -> None:
    with pytest.raises(ComputeError, match=said):
        limits(D(nominal), tolerance_class)


def test_a_stated_tolerance_that_is_not_the_tables_is_refused() -> None:
    with pytest.raises(ComputeError, match="expected 15 µm, found 18 µm"):
        reamer(D(10), "H7", it_um=D(18))
    with pytest.raises(ComputeError, match="expected 28 µm, found 15 µm"):
        reamer(D(10), "F7", hole_max_um=D(15))
    assert reamer(D(10), "F7", it_um=D(15), hole_max_um=D(28)).hole == limits(D(10), "F7")


def test_a_reamer_lies_within_its_hole_or_is_refused() -> None:
    for nominal in sample():
        for grade in range(4, 14):
            for letters in ("F", "G", "H", "JS"):
                found = reamer(nominal, f"{letters}{grade}")
                hole = found.hole
                assert hole.lower_um <= found.lower_um < found.upper_um < hole.upper_um
    with pytest.raises(ComputeError, match="3 µm or more"):
        reamer(D(10), "H2")


def test_a_product_that_is_whole_is_not_rounded_up() -> None:
    """0.15 and 0.35 of 20 µm or 100 µm are whole; in binary floating point they lie off."""
    assert reamer_deviations(D(20), D(20)) == (D(17), D(10))
    assert reamer_deviations(D(100), D(100)) == (D(85), D(50))
    assert reamer_deviations(D(40), D(40)) == (D(34), D(20))


def test_no_reamer_is_made_for_a_shaft_or_for_nothing() -> None:
    with pytest.raises(ComputeError, match="expected a hole's class"):
        reamer(D(10), "h7")
    for it in ("0", "-1", "NaN"):
        with pytest.raises(ComputeError, match="above 0 µm"):
            reamer_deviations(D(it), D(10))
