"""Lengths and angles as exact decimals: conversion, quantising, and rounding for print.

Never computes with rounded figures, and never lets a rounded figure stand on the other side
of a limit than the value it stands for.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from enum import StrEnum

INCH_MM = Decimal("25.4")
"""The international inch, exactly (NIST SP 811; quoted from memory)."""


class Unit(StrEnum):
    """Units that a reading or a characteristic may bear."""

    MM = "mm"
    INCH = "in"
    DEGREE = "deg"
    CELSIUS = "degC"


QUANTUM = {Unit.MM: Decimal("0.000001"), Unit.DEGREE: Decimal("0.0001")}
"""Results and their uncertainties are quantised to 1 nm and 0.0001 deg before they are judged,
printed or digested, so that another processor's last bit changes nothing."""


def to_mm(value: Decimal, unit: Unit) -> Decimal:
    """A length in mm, exact. ``unit`` is MM or INCH."""
    if unit is Unit.INCH:
        return value * INCH_MM
    if unit is Unit.MM:
        return value
    raise ValueError(f"{unit} is no unit of length")


def quantise(value: float | Decimal, unit: Unit) -> Decimal:
    """``value`` to 1 nm or 0.0001 deg, half to even; never a negative zero."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    return exact.quantize(QUANTUM[unit], ROUND_HALF_EVEN) + 0


def places(width: Decimal) -> int:
    """Decimal places for print: one digit finer than a tenth of ``width`` (of the tolerance,
    or of a one-sided limit), 0.1 um at the finest. (Rule of the house.)"""
    if width <= 0:
        raise ValueError("a tolerance has a width above 0")
    finest = 4
    return max(0, min(finest, 1 - (width / 10).adjusted()))


def printed(value: Decimal, digits: int, limits: Iterable[Decimal] = ()) -> Decimal:
    """``value`` rounded half to even for print; digits are added while the rounded figure
    would stand on the other side of, or on, one of ``limits`` that the value doesn't."""
    limits = tuple(limits)
    for more in range(digits, digits + 7):
        rounded = value.quantize(Decimal(1).scaleb(-more), ROUND_HALF_EVEN) + 0
        if all(value.compare(limit) == rounded.compare(limit) for limit in limits):
            return rounded
    return value


def to_step(value: Decimal, step: Decimal, way: str) -> Decimal:
    """``value`` in steps of the readout: ``way`` is ``up``, ``down`` or ``nearest``."""
    rounding = {"up": ROUND_CEILING, "down": ROUND_FLOOR, "nearest": ROUND_HALF_EVEN}[way]
    return (value / step).to_integral_value(rounding) * step
