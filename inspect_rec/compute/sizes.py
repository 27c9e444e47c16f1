"""Limits of size after ISO 286-1 by its rounded tables, in exact decimals; a reamer's limits.

The tables rule: a formula behind an entry may give another value. They are from memory of the
2010 edition; where they have no entry the class is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from inspect_rec.compute.size_tables import deviations, tolerances, transitions
from inspect_rec.errors import ComputeError

_LETTERS = "cd|ef|fg|js|za|zb|zc|[abcdefghjkmnprstuvxyz]"
_CLASS = re.compile(f"({_LETTERS.upper()}|{_LETTERS})(01|0|1[0-8]|[1-9])")
_UM = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class SizeLimits:
    """Limit deviations in µm, limits of size in mm, and the standard tolerance in µm."""

    upper_um: Decimal
    lower_um: Decimal
    upper_mm: Decimal
    lower_mm: Decimal
    it_um: Decimal


@dataclass(frozen=True, slots=True)
class ReamerLimits:
    """Limits of a reamer's diameter: deviations in µm, sizes in mm; and the hole it is for."""

    upper_um: Decimal
    lower_um: Decimal
    upper_mm: Decimal
    lower_mm: Decimal
    hole: SizeLimits


def limits(nominal_mm: Decimal, tolerance_class: str) -> SizeLimits:
    """Limits of a nominal size in mm and a class: ``h6`` is a shaft's, ``H7`` a hole's.

    js and JS are plus and minus half the tolerance, exact: that older editions let half of an odd
    tolerance of IT7 to IT11 be rounded down to whole µm is not followed. A ComputeError says what
    is no class, no size, or not in the tables.
    """
    said = _CLASS.fullmatch(tolerance_class)
    if said is None:
        raise ComputeError(
            "no tolerance class",
            expected="letters and a grade from 01 to 18, as h6 for a shaft or H7 for a hole",
            found=repr(tolerance_class),
        )
    _nominal(nominal_mm)
    letters, grade = said.groups()
    it = _tolerance(nominal_mm, grade)
    deviation = _hole if letters.isupper() else _shaft
    found = deviation(letters, grade, nominal_mm, it)
    if found is None:
        raise ComputeError(
            "the tables give no limits for this class and size",
            expected="a class of ISO 286-1 for this size",
            found=f"{tolerance_class} at {nominal_mm} mm",
            do="State the limits themselves",
        )
    upper, lower = found
    if nominal_mm + lower * _UM <= 0:
        raise ComputeError(
            "nothing is left of the size",
            expected="a lower limit above 0 mm",
            found=f"{tolerance_class} at {nominal_mm} mm: {nominal_mm + lower * _UM} mm",
        )
    return SizeLimits(upper, lower, nominal_mm + upper * _UM, nominal_mm + lower * _UM, it)


def _nominal(nominal_mm: Decimal) -> None:
    end = tolerances().ends[-1]
    if not (nominal_mm.is_finite() and 0 < nominal_mm <= end):
        raise ComputeError(
            "no such nominal size",
            expected=f"above 0 mm and up to {end} mm",
            found=f"{nominal_mm} mm",
        )


def _tolerance(nominal_mm: Decimal, grade: str) -> Decimal:
    it = tolerances().entry(grade, nominal_mm)
    if it is None or (nominal_mm <= 1 and int(grade) > 13):
        raise ComputeError(
            "the tables give no tolerance for this grade and size",
            expected="up to IT13 for sizes up to 1 mm"
            if nominal_mm <= 1
            else "from IT1 up for sizes above 500 mm",
            found=f"IT{grade} at {nominal_mm} mm",
        )
    return it


def _half(it: Decimal) -> tuple[Decimal, Decimal]:
    return it / 2, -it / 2


def _below(upper: Decimal | None, it: Decimal) -> tuple[Decimal, Decimal] | None:
    return None if upper is None else (upper, upper - it)


def _above(lower: Decimal | None, it: Decimal) -> tuple[Decimal, Decimal] | None:
    return None if lower is None else (lower + it, lower)


def _minus(deviation: Decimal | None) -> Decimal | None:
    return None if deviation is None else Decimal(0) - deviation


def _entry(letters: str, nominal_mm: Decimal) -> Decimal | None:
    """The fundamental deviation of a shaft without its sign."""
    if letters in ("a", "b") and nominal_mm <= 1:
        return None
    holds = next(table for table in deviations() if letters in table.columns)
    return holds.entry(letters, nominal_mm)


def _shaft(
    letters: str, grade: str, nominal_mm: Decimal, it: Decimal
) -> tuple[Decimal, Decimal] | None:
    if letters == "js":
        return _half(it)
    if letters == "j":
        return _above(_minus(transitions().entry(letters + grade, nominal_mm)), it)
    found = _entry(letters, nominal_mm)
    if letters <= "h":
        return _below(_minus(found), it)
    if letters == "k" and not 4 <= int(grade) <= 7:
        return it, Decimal(0)
    return _above(found, it)


def _hole(
    letters: str, grade: str, nominal_mm: Decimal, it: Decimal
) -> tuple[Decimal, Decimal] | None:
    if letters == "JS":
        return _half(it)
    if letters == "J":
        return _below(transitions().entry(letters + grade, nominal_mm), it)
    if letters <= "H":
        return _above(_entry(letters.lower(), nominal_mm), it)
    return _below(_upper_of_hole(letters, int(grade), nominal_mm), it)


def _upper_of_hole(letters: str, grade: int, nominal_mm: Decimal) -> Decimal | None:
    """Upper deviation of a hole K to ZC: the shaft's mirrored, Δ higher in the finer grades."""
    mirrored = _minus(_entry(letters.lower(), nominal_mm))
    if mirrored is None or grade > (8 if letters in ("K", "M", "N") else 7):
        return _coarse(letters, nominal_mm, mirrored)
    if (letters, grade) == ("M", 6) and 250 < nominal_mm <= 315:
        return Decimal(-9)
    delta = _delta(grade, nominal_mm)
    return None if delta is None else mirrored + delta


def _coarse(letters: str, nominal_mm: Decimal, mirrored: Decimal | None) -> Decimal | None:
    """The same above IT8 for K, M and N, above IT7 for P to ZC: without Δ."""
    if letters == "K":
        return mirrored if nominal_mm <= 3 else None
    if letters == "N" and 3 < nominal_mm <= 500:
        return Decimal(0)
    if (letters == "N" and nominal_mm <= 1) or (letters in ("M", "N") and nominal_mm > 500):
        return None
    return mirrored


def _delta(grade: int, nominal_mm: Decimal) -> Decimal | None:
    """The tolerance less that of the next finer grade, given from IT3 on; none up to 3 mm and
    above 500 mm, where the tables begin at IT6."""
    if grade < 3 or (nominal_mm > 500 and grade < 6):
        return None
    if not 3 < nominal_mm <= 500:
        return Decimal(0)
    return _tolerance(nominal_mm, str(grade)) - _tolerance(nominal_mm, str(grade - 1))


def reamer(
    nominal_mm: Decimal,
    hole_class: str,
    *,
    it_um: Decimal | None = None,
    hole_max_um: Decimal | None = None,
) -> ReamerLimits:
    """Limits of a new reamer for a hole: the upper lies 0.15 IT below the hole's upper limit, the
    lower 0.35 IT below that, each product rounded up to whole µm (rule on the basis of DIN 1420).

    A tolerance or an upper deviation of the hole that is stated must be the tables'.
    """
    hole = limits(nominal_mm, hole_class)
    if not hole_class.isupper():
        raise ComputeError(
            "a reamer makes a hole", expected="a hole's class, as H7", found=repr(hole_class)
        )
    for stated, tabled, what in (
        (it_um, hole.it_um, "tolerance"),
        (hole_max_um, hole.upper_um, "upper deviation of the hole"),
    ):
        if stated is not None and stated != tabled:
            raise ComputeError(
                f"the {what} is not that of {hole_class} at {nominal_mm} mm",
                expected=f"{tabled} µm",
                found=f"{stated} µm",
            )
    upper, lower = reamer_deviations(hole.it_um, hole.upper_um)
    return ReamerLimits(upper, lower, nominal_mm + upper * _UM, nominal_mm + lower * _UM, hole)


def reamer_deviations(it_um: Decimal, hole_max_um: Decimal) -> tuple[Decimal, Decimal]:
    """Upper and lower deviation of a reamer, µm, from the hole's tolerance and upper deviation."""
    if not (it_um.is_finite() and hole_max_um.is_finite() and it_um > 0):
        raise ComputeError(
            "no hole for a reamer", expected="a tolerance above 0 µm", found=f"{it_um} µm"
        )
    upper = hole_max_um - _up(Decimal("0.15") * it_um)
    lower = upper - _up(Decimal("0.35") * it_um)
    if lower < hole_max_um - it_um:
        raise ComputeError(
            "whole µm leave no reamer within this tolerance",
            expected="a tolerance with room for 0.15 and 0.35 of it, each rounded up",
            found=f"{it_um} µm",
        )
    return upper, lower


def _up(um: Decimal) -> Decimal:
    return um.to_integral_value(ROUND_CEILING)
