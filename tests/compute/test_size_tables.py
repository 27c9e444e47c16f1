"""Every entry of the tables held against the formula behind it, the tables' own order, and a book.

The formulas are from memory (ISO 286-1, bases of the system; the standard was not at hand), those
up to 500 mm also in the book below, table 15.4. An entry is a formula's value rounded, so a share
of it is stated that no sound entry exceeds: a slip of memory or of a finger does.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise

import pytest

from inspect_rec.compute.size_tables import Table, deviations, tolerances, transitions

D = Decimal
GRADES = ["01", "0", *map(str, range(1, 19))]
MAIN, FINER = deviations()


def entries(table: Table, column: str) -> list[tuple[float, float, float]]:
    """End of each step that has an entry, its geometric mean (the first from 1 mm), the entry."""
    ends = [float(end) for end in table.ends]
    return [
        (high, math.sqrt(low * high), float(entry))
        for low, high, entry in zip([1, *ends], ends, table.columns[column], strict=False)
        if entry is not None
    ]


def unit(size: float) -> float:
    """i up to 500 mm, I above, in µm."""
    return 0.45 * math.cbrt(size) + 0.001 * size if size < 500 else 0.004 * size + 2.1


TIMES = (7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000, 1600, 2500)


def tolerance(grade: str, size: float) -> float:
    """µm; IT2 to IT4 are a geometric series between IT1 and IT5."""
    if grade in ("01", "0"):
        return 0.3 + 0.008 * size if grade == "01" else 0.5 + 0.012 * size
    number = int(grade)
    if number >= 5:
        return TIMES[number - 5] * unit(size)
    first = 0.8 + 0.020 * size if size < 500 else 2 * unit(size)
    return float(first * (7 * unit(size) / first) ** ((number - 1) / 4))


@pytest.mark.parametrize("grade", GRADES)
def test_every_tolerance_lies_by_its_formula(grade: str) -> None:
    """Up to IT4 the entries are rounded to a coarse series of their own, up to 3 mm all are."""
    fine = grade == "01" or int(grade) < 5
    for high, size, entry in entries(tolerances(), grade):
        formula = tolerance(grade, size)
        um, share = abs(entry - formula), abs(entry / formula - 1)
        if fine and high <= 500:
            assert um <= 0.25 or share <= 0.22, high
        else:
            allowed = 0.16 if high == 3 else 0.08 if fine else 0.053
            assert um <= 0.7 or share <= allowed, high


def main_step(end: float) -> float:
    """Geometric mean of the main step that a finer step lies in."""
    ends = [float(e) for e in tolerances().ends]
    return math.sqrt(next(a * b for a, b in pairwise([1, *ends]) if end <= b))


def it(grade: int, end: float) -> float:
    return tolerance(str(grade), main_step(end))


Formula = Callable[[float, float], float]
"""Of a deviation in µm, from the geometric mean of the step and its end in mm."""

MAIN_FORMULAS: dict[str, Formula] = {
    "d": lambda size, end: 16 * size**0.44,
    "e": lambda size, end: 11 * size**0.41,
    "f": lambda size, end: 5.5 * size**0.41,
    "g": lambda size, end: 2.5 * size**0.34,
    "k": lambda size, end: 0.6 * math.cbrt(size),
    "m": lambda size, end: 6 * unit(size) if end <= 500 else 0.024 * size + 12.6,
    "n": lambda size, end: 5 * size**0.34 if end <= 500 else 0.04 * size + 21,
    "p": lambda size, end: it(7, end) + 2.5 if end <= 500 else 0.072 * size + 37.8,
}
"""m is IT7 - IT6; p is IT7 and 0 to 5 more up to 500 mm: here the middle."""

UP_TO_3_MM = {"f": 1, "k": 1, "g": 1.1, "m": 1.3, "n": 2.1, "p": 5.2}
"""µm off the formula; the tables' first step has values of its own."""


@pytest.mark.parametrize("letters", MAIN_FORMULAS)
def test_every_deviation_of_the_main_steps_lies_by_its_formula(letters: str) -> None:
    for high, size, entry in entries(MAIN, letters):
        if letters == "k" and high > 500:
            assert entry == 0
            continue
        formula = MAIN_FORMULAS[letters](size, high)
        least = UP_TO_3_MM.get(letters, 0.7) if high == 3 else 0.7
        if letters == "p" and 3 < high <= 500:
            least = 3.3
        um, share = abs(entry - formula), abs(entry / formula - 1)
        assert um <= least or share <= (0.04 if high <= 500 else 0.05), high


@pytest.mark.parametrize("letters", ["cd", "ef", "fg"])
def test_a_letter_between_two_lies_at_their_geometric_mean(letters: str) -> None:
    found = entries(MAIN, letters)
    assert [high for high, _, _ in found] == [
        end for end in (3, 6, 10, 18, 30, 50) if (letters, end) != ("ef", 30)
    ]
    for high, _, entry in found:
        pair = [(FINER if a == "c" else MAIN).entry(a, D(str(high))) for a in letters]
        mean = math.sqrt(math.prod(float(one) for one in pair if one is not None))
        assert entry == pytest.approx(mean, abs=0.9, rel=0.025), high


def geometric_r(size: float, end: float) -> float:
    pair = (MAIN.entry("p", D(str(end))), FINER.entry("s", D(str(end))))
    return math.sqrt(math.prod(float(one) for one in pair if one is not None))


FINER_FORMULAS: dict[str, Formula] = {
    "a": lambda size, end: 265 + 1.3 * size if end <= 120 else 3.5 * size,
    "b": lambda size, end: 140 + 0.85 * size if end <= 160 else 1.8 * size,
    "c": lambda size, end: 52 * size**0.2 if end <= 40 else 95 + 0.8 * size,
    "r": geometric_r,
    "s": lambda size, end: it(8, end) + 2.5 if end <= 50 else it(7, end) + 0.4 * size,
    "t": lambda size, end: it(7, end) + 0.63 * size,
    "u": lambda size, end: it(7, end) + size,
    "v": lambda size, end: it(7, end) + 1.25 * size,
    "x": lambda size, end: it(7, end) + 1.6 * size,
    "y": lambda size, end: it(7, end) + 2 * size,
    "z": lambda size, end: it(7, end) + 2.5 * size,
    "za": lambda size, end: it(8, end) + 3.15 * size,
    "zb": lambda size, end: it(9, end) + 4 * size,
    "zc": lambda size, end: it(10, end) + 5 * size,
}
"""s is IT8 and 1 to 4 more up to 50 mm: here the middle."""

OWN_VALUES_UP_TO = {"c": 40, **dict.fromkeys(["u", "x", "z"], 18), "za": 10, "zb": 6, "zc": 6}
"""mm; there the tables depart from the formula, upwards, by up to 17 µm."""


@pytest.mark.parametrize("letters", FINER_FORMULAS)
def test_every_deviation_of_the_finer_steps_lies_by_its_formula(letters: str) -> None:
    for high, size, entry in entries(FINER, letters):
        formula = FINER_FORMULAS[letters](size, high)
        if high <= OWN_VALUES_UP_TO.get(letters, 0):
            assert -0.2 < entry - formula <= 17, high
        else:
            um, share = abs(entry - formula), abs(entry / formula - 1)
            assert um <= 3.3 or share <= 0.05, high


BOOK = """
3    2  4  6  10  14   -  18   -  20   -   26   32   40   60
6    4  8 12  15  19   -  23   -  28   -   35   42   50   80
10   6 10 15  19  23   -  28   -  34   -   42   52   67   97
14   7 12 18  23  28   -  33   -  40   -   50   64   90  130
18   7 12 18  23  28   -  33  39  45   -   60   77  108  150
24   8 15 22  28  35   -  41  47  54  63   73   98  136  188
30   8 15 22  28  35  41  48  55  64  75   88  118  160  218
40   9 17 26  34  43  48  60  68  80  94  112  148  200  274
50   9 17 26  34  43  54  70  81  97 114  136  180  242  325
65  11 20 32  41  53  66  87 102 122 144  172  226  300  405
80  11 20 32  43  59  75 102 120 146 174  210  274  360  480
100 13 23 37  51  71  91 124 146 178 214  258  335  445  585
120 13 23 37  54  79 104 144 172 210 254  310  400  525  690
140 15 27 43  63  92 122 170 202 248 300  365  470  620  800
160 15 27 43  65 100 134 190 228 280 340  415  535  700  900
180 15 27 43  68 108 146 210 252 310 380  465  600  780 1000
200  -  - 50  77 122 166 236 284 350 425  520  670  880 1150
225  -  - 50  80 130 180 256 310 385 470  575  740  960 1250
250  -  - 50  84 140 196 284 340 425 520  640  820 1050 1350
280  -  - 56  94 158 218 315 385 475 580  710  920 1200 1550
315  -  - 56  98 170 240 350 425 525 650  790 1000 1300 1700
355  -  - 62 108 190 268 390 475 590 730  900 1150 1500 1900
400  -  - 62 114 208 294 435 530 650 820 1000 1300 1650 2100
450  -  - 68 126 232 330 490 595 740 920 1100 1450 1850 2400
500  -  - 68 132 252 360 540 660 820 1000 1250 1600 2100 2600
"""


def test_the_deviations_m_to_zc_are_those_of_a_book_but_for_its_two_misprints() -> None:
    """Narayana, Kannaiah, Venkata Reddy: Machine Drawing, table 15.2 up to 180 mm and table 15.3
    (holes P to ZC, without sign) above. Where it has 256 and 650 the formulas give 258.4 and
    659.8, and a public transcription of the national edition of 2011 has 258 and 660."""
    letters, differing = [*"mnprstuvxyz", "za", "zb", "zc"], []
    for line in BOOK.strip().splitlines():
        end, *row = line.split()
        for letter, cell in zip(letters, row, strict=True):
            if cell == "-" and int(end) > 180:
                continue
            entry = (MAIN if letter in MAIN.columns else FINER).entry(letter, D(end))
            if entry != (None if cell == "-" else D(cell)):
                differing.append((letter, end, str(entry), cell))
    assert differing == [("u", "225", "258", "256"), ("x", "400", "660", "650")]


def test_the_shaft_h_begins_at_the_nominal_size() -> None:
    assert set(MAIN.columns["h"]) == {D(0)}


@pytest.mark.parametrize("table", [tolerances(), MAIN, FINER, transitions()])
def test_no_entry_is_less_than_that_of_a_smaller_size(table: Table) -> None:
    for column, found in table.columns.items():
        held = [entry for entry in found if entry is not None]
        if column == "k":
            held = held[:13]
        assert held == sorted(held), column
        assert list(table.ends) == sorted(set(table.ends))


def test_a_tolerance_grows_with_the_grade() -> None:
    for finer, coarser in pairwise(GRADES):
        columns = (tolerances().columns[grade] for grade in (finer, coarser))
        for a, b in zip(*columns, strict=True):
            assert a is None or (b is not None and a < b)


def test_letters_stand_in_the_order_of_their_deviations() -> None:
    for away in (["h", "g", "fg", "f", "ef", "e", "d", "cd", "c", "b", "a"], list("kmnprstuvxyz")):
        for end in FINER.ends:
            row = [
                (MAIN if letter in MAIN.columns else FINER).entry(letter, end) for letter in away
            ]
            held = [entry for entry in row if entry is not None]
            assert held == sorted(set(held)), end
    for end in FINER.ends[:25]:
        row = [FINER.entry(letter, end) for letter in ("z", "za", "zb", "zc")]
        assert row == sorted(set(row), key=lambda entry: entry or D(0))


def test_from_it6_on_five_grades_are_a_factor_of_ten() -> None:
    """But for one entry of the tables: IT6 and IT11 above 3 mm up to 6 mm are 8 µm and 75 µm."""
    for grade in range(6, 14):
        fine, coarse = (tolerances().columns[str(n)] for n in (grade, grade + 5))
        for end, a, b in zip(tolerances().ends, fine, coarse, strict=True):
            assert a is not None
            assert b == (75 if (grade, end) == (6, D(6)) else 10 * a)
