"""Limits of size and of reamers: published cases, the rules of ISO 286-1, and what is refused."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inspect_rec.compute.size_tables import deviations
from inspect_rec.compute.sizes import limits, reamer, reamer_deviations
from inspect_rec.errors import ComputeError
from tests.compute.published import cases

D = Decimal
CASES = cases()


def published(calc: str) -> list[str]:
    found = [name for name, case in CASES.items() if case["calc"] == calc]
    assert found
    return found


def lies(nominal: str, tolerance_class: str, upper: float, lower: float) -> bool:
    found = limits(D(nominal), tolerance_class)
    return (found.upper_um, found.lower_um) == (D(str(upper)), D(str(lower)))


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


def sample() -> list[Decimal]:
    """The end of every step, and a hair above it."""
    ends = deviations()[1].ends
    return [*ends, *(end + D("0.001") for end in ends[:-1])]


def test_the_end_of_a_step_belongs_to_it() -> None:
    assert lies("10", "h7", 0, -15)
    assert lies("10.000001", "h7", 0, -18)
    assert lies("18", "d9", -50, -93)
    assert lies("18.01", "d9", -65, -117)


def holds(nominal: Decimal, tolerance_class: str) -> bool:
    try:
        limits(nominal, tolerance_class)
    except ComputeError:
        return False
    return True


@pytest.mark.parametrize("letters", ["a", "b", "c", "cd", "d", "e", "ef", "f", "fg", "g", "h"])
def test_a_clearance_hole_is_the_shaft_mirrored(letters: str) -> None:
    for nominal in sample():
        for grade in range(5, 15):
            if not holds(nominal, f"{letters}{grade}"):
                assert not holds(nominal, f"{letters.upper()}{grade}")
                continue
            shaft = limits(nominal, f"{letters}{grade}")
            hole = limits(nominal, f"{letters.upper()}{grade}")
            assert (hole.lower_um, hole.upper_um) == (-shaft.upper_um, -shaft.lower_um)
            assert hole.upper_um - hole.lower_um == hole.it_um
            assert hole.lower_um >= 0


DELTA = """
6   1.0 1.5 1  3  4  6
10  1.0 1.5 2  3  6  7
18  1.0 2.0 3  3  7  9
30  1.5 2.0 3  4  8 12
50  1.5 3.0 4  5  9 14
80  2.0 3.0 5  6 11 16
120 2.0 4.0 5  7 13 19
180 3.0 4.0 6  7 15 23
250 3.0 4.0 6  9 17 26
315 4.0 4.0 7  9 20 29
400 4.0 5.0 7 11 21 32
500 5.0 5.0 7 13 23 34
"""


def test_a_transition_hole_lies_delta_above_the_shaft_mirrored() -> None:
    """Δ of IT3 to IT8 from memory of the standard's own columns, where it is printed."""
    compared = 0
    for line in DELTA.strip().splitlines():
        end, *delta = line.split()
        for letters in ("K", "M", "N", "P", "R", "S", "U", "X", "Z", "ZA", "ZB", "ZC"):
            for grade in range(3, 9 if letters in "KMN" else 8):
                shaft = limits(D(end), f"{letters.lower()}5").lower_um
                found = limits(D(end), f"{letters}{grade}").upper_um
                if (end, letters, grade) == ("315", "M", 6):
                    assert found == -9
                else:
                    assert found == D(delta[grade - 3]) - shaft, (end, letters, grade)
                compared += 1
    assert compared == 12 * (3 * 6 + 9 * 5)


def test_up_to_3_mm_and_above_500_mm_a_hole_is_the_shaft_mirrored() -> None:
    for nominal in ("0.8", "3", "560", "3150"):
        for letters in ("k", "m", "n", "p", "r", "s", "u"):
            shaft = limits(D(nominal), f"{letters}7")
            hole = limits(D(nominal), f"{letters.upper()}7")
            assert (hole.upper_um, hole.lower_um) == (-shaft.lower_um, -shaft.upper_um)


def test_a_coarse_hole_lies_without_delta() -> None:
    assert lies("20", "P8", -22, -55)
    assert lies("20", "ZC11", -188, -318)
    assert lies("20", "M9", -8, -60)
    assert lies("20", "N9", 0, -52)
    assert lies("3", "K9", 0, -25)
    assert lies("1.1", "N9", -4, -29)
    assert lies("600", "P8", -78, -188)


def test_a_hole_and_a_shaft_one_grade_finer_fit_alike_from_hole_or_shaft() -> None:
    """What Δ is for: H7/p6 and P7/h6 have the same largest and least interference."""
    for nominal in sample():
        if not 3 < nominal <= 500:
            continue
        for letters in ("p", "r", "s", "u"):
            bore, pin = limits(nominal, "H7"), limits(nominal, f"{letters}6")
            other, shaft = limits(nominal, f"{letters.upper()}7"), limits(nominal, "h6")
            assert pin.upper_um - bore.lower_um == shaft.upper_um - other.lower_um
            assert pin.lower_um - bore.upper_um == shaft.lower_um - other.upper_um


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
    assert lies("8", "k01", 0.4, 0)
    assert lies("600", "k6", 44, 0)


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
    ("20", "c11", -110, -240),
    ("20", "a11", -300, -430),
    ("8", "b11", -150, -240),
    ("20", "C11", 240, 110),
    ("20", "K7", 6, -15),
    ("20", "M7", 0, -21),
    ("20", "N7", -7, -28),
    ("20", "P7", -14, -35),
    ("20", "R7", -20, -41),
    ("20", "S7", -27, -48),
    ("20", "U7", -33, -54),
    ("20", "K6", 2, -11),
    ("20", "M6", -4, -17),
    ("20", "N6", -11, -24),
    ("20", "P6", -18, -31),
    ("20", "K8", 10, -23),
    ("20", "N8", -3, -36),
    ("8", "K7", 5, -10),
    ("50", "M8", 5, -34),
    ("6", "N9", 0, -30),
    ("6", "P9", -12, -42),
    ("3", "N9", -4, -29),
    ("40", "r6", 50, 34),
    ("40", "s6", 59, 43),
    ("40", "t6", 64, 48),
    ("50", "u6", 86, 70),
    ("30", "x6", 77, 64),
    ("20", "z6", 86, 73),
    ("3", "H6", 6, 0),
    ("500", "H7", 63, 0),
    ("600", "H7", 70, 0),
    ("600", "N7", -44, -114),
    ("600", "p6", 122, 78),
]


@pytest.mark.parametrize(("nominal", "tolerance_class", "upper", "lower"), WELL_KNOWN)
def test_well_known_classes_come_out(
    nominal: str, tolerance_class: str, upper: int, lower: int
) -> None:
    """From memory: pairs that stand in many handbooks' lists of preferred fits."""
    assert lies(nominal, tolerance_class, upper, lower)


def test_j_lies_about_the_nominal_size_for_every_size() -> None:
    for nominal in sample():
        for tolerance_class in () if nominal > 500 else ("j5", "j6", "j7", "J6", "J7", "J8"):
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
        ("3150.001", "H7", "up to 3150 mm, found 3150.001 mm"),
        ("501", "h01", "from IT1 up for sizes above 500 mm"),
        ("501", "j6", "no limits"),
        ("501", "a11", "no limits"),
        ("501", "x7", "no limits"),
        ("501", "K9", "no limits"),
        ("501", "M9", "no limits"),
        ("501", "N9", "no limits"),
        ("501", "P5", "no limits"),
        ("51", "cd8", "no limits"),
        ("20", "ef8", "no limits"),
        ("20", "EF8", "no limits"),
        ("1", "a11", "no limits"),
        ("1", "B11", "no limits"),
        ("1", "N9", "no limits"),
        ("4", "K9", "no limits"),
        ("24", "t6", "no limits"),
        ("14", "V7", "no limits"),
        ("18", "y6", "no limits"),
        ("20", "N2", "no limits"),
        ("20", "P01", "no limits"),
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
    with pytest.raises(ComputeError, match=r"each rounded up, found 1\.5 µm"):
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
