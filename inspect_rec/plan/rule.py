"""The decision rule that a job agrees on, and what becomes of a master's drift."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import Self

from pydantic import (
    ValidationInfo,
    field_validator,
    model_validator,
)

from inspect_rec.compute.rules import NUMBERS, Kind, Rule
from inspect_rec.errors import ComputeError
from inspect_rec.plan.stated import Number, Strict
from inspect_rec.units import Unit


class DecisionRule(Strict):
    """The decision rule that was agreed with the customer, where it isn't the supplier who proves
    with the job's guard_factor."""

    kind: Kind
    factor: Number | None = None
    """g over u, of who proves; 1.645 unless stated."""
    share: Number | None = None
    """g over U."""
    largest_ratio: Number | None = None
    """Simple acceptance: U over the width of the tolerance, at most."""
    least_tur: Number | None = None
    """Simple acceptance: that width over 2 U, at least (test uncertainty ratio)."""
    largest_expanded_mm: Number | None = None
    largest_expanded_deg: Number | None = None
    """Simple acceptance at a limit that stands alone and has no width: U, at most."""

    @field_validator(
        "factor",
        "share",
        "largest_ratio",
        "least_tur",
        "largest_expanded_mm",
        "largest_expanded_deg",
    )
    @classmethod
    def _belongs(cls, number: Decimal | None, info: ValidationInfo) -> Decimal | None:
        kind = info.data.get("kind")
        if number is None or kind is None:
            return number
        name = str(info.field_name).removesuffix("_mm").removesuffix("_deg")
        if name not in NUMBERS[kind]:
            raise ValueError(f"expected no such number where the rule is {kind.value!r}")
        most = {"factor": 5, "share": 1, "largest_ratio": 1}.get(name)
        if number <= 0 or (most and number > most):
            raise ValueError(f"expected a number above 0{f', at most {most}' if most else ''}")
        return number

    @model_validator(mode="after")
    def _is_whole(self) -> Self:
        try:
            self.of(Unit.MM)
        except ComputeError as error:
            raise ValueError(f"expected {error.expected}") from error
        return self

    def of(self, unit: Unit) -> Rule:
        """The rule for values in mm or deg."""
        largest = self.largest_expanded_deg if unit is Unit.DEGREE else self.largest_expanded_mm
        return Rule(self.kind, self.factor, self.share, self.largest_ratio, self.least_tur, largest)


class Drift(StrEnum):
    """What becomes of a master's drift between its checks, where it counts as none."""

    HALF = "half in the budget"
    INTERPOLATED = "interpolated"
