"""Limits of size after ISO 286, and those of a reamer for a hole."""

from __future__ import annotations

from inspect_rec.calculator.base import Answer, Exact, Text, computation
from inspect_rec.compute import sizes

_LIMITS = ("upper_limit_mm", "lower_limit_mm", "upper_deviation_um", "lower_deviation_um")


@computation(
    "size-limits",
    topic="sizes",
    gives=(*_LIMITS, "IT_um"),
    formula="fundamental deviation and tolerance of the class from the rounded tables, in exact "
    "decimals; a size on the end of a step belongs to the step that it ends",
    source="ISO 286-1:2010 (tables from memory, held against public transcriptions)",
    refuses="a class or size that the tables don't have",
)
def size_limits(nominal_mm: Exact, class_: Text) -> Answer:
    """Limits of size of a tolerance class."""
    found = sizes.limits(nominal_mm, class_)
    return {
        "upper_limit_mm": found.upper_mm,
        "lower_limit_mm": found.lower_mm,
        "upper_deviation_um": found.upper_um,
        "lower_deviation_um": found.lower_um,
        "IT_um": found.it_um,
    }


@computation(
    "reamer-limits",
    topic="sizes",
    gives=_LIMITS,
    formula="upper limit = upper limit of the hole - 0.15 IT, lower = upper - 0.35 IT, each "
    "product rounded up to whole µm, in exact decimals",
    source="published rule on the basis of DIN 1420 (from memory)",
    refuses="a class of a shaft; a tolerance or deviation that isn't the tables'",
)
def reamer_limits(
    nominal_mm: Exact,
    hole_class: Text,
    IT_um: Exact | None = None,
    hole_max_deviation_um: Exact | None = None,
) -> Answer:
    """Limits of a new reamer for a hole."""
    found = sizes.reamer(nominal_mm, hole_class, it_um=IT_um, hole_max_um=hole_max_deviation_um)
    return {
        "upper_limit_mm": found.upper_mm,
        "lower_limit_mm": found.lower_mm,
        "upper_deviation_um": found.upper_um,
        "lower_deviation_um": found.lower_um,
    }
