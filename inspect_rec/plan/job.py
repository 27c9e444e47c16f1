"""A job file, whole: customer, order, drawing, tools, features, characteristics, rules."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import (
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from inspect_rec.compute.rules import USUAL_FACTOR, Rule
from inspect_rec.plan.characteristic import Characteristic
from inspect_rec.plan.feature import Feature
from inspect_rec.plan.rule import DecisionRule, Drift
from inspect_rec.plan.shop import Expansion, Influence, SetUp, known
from inspect_rec.plan.stated import Line, Name, Number, Strict, no_twins
from inspect_rec.plan.tool import Tool
from inspect_rec.units import Unit

_NEVER = ("calibration", "kalibrier", "accredited", "akkreditiert", "3.2")
"""What a shop's own report may not call itself (EN 10204; ISO/IEC 17025)."""


class Job(Strict):
    """Customer, order, drawing, and the rules of this job."""

    number: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,30}$")]
    customer: Name
    order: Line = ""
    drawing: Name
    drawing_revision: Line = ""
    received: datetime.date
    plan: Line = ""
    plan_revision: Line = ""
    guard_factor: Number = USUAL_FACTOR
    rule: DecisionRule | None = Field(None, exclude_if=lambda rule: rule is None)
    """Counts instead of guard_factor."""
    drift: Drift = Field(Drift.HALF, exclude_if=lambda drift: drift is Drift.HALF)
    same_person_may_release: bool = False
    title: Line = "Inspection report"
    certificate: Literal["", "3.1"] = Field("", exclude_if=lambda ordered: not ordered)
    """The document of EN 10204 that was ordered, where one was."""
    supplied: Line = ""
    """Which data came from the customer."""
    not_covered: Line = ""
    deviations: Line = ""
    correction: Line = ""
    """Whether results are corrected to 20 degC, and how large the correction is."""
    waiting_min: Annotated[int, Field(ge=0, le=600)] = 0
    datum: Line = ""
    next_time: Line = ""

    @field_validator("guard_factor")
    @classmethod
    def _guards(cls, factor: Decimal) -> Decimal:
        if factor <= 0:
            raise ValueError(
                "expected a guard factor above 0; where a value is accepted up to its limits, "
                '[job.rule] kind = "simple acceptance" with the largest U that was agreed on'
            )
        return factor

    @field_validator("rule")
    @classmethod
    def _one_rule(cls, rule: DecisionRule | None, info: ValidationInfo) -> DecisionRule | None:
        if rule is not None and info.data.get("guard_factor", USUAL_FACTOR) != USUAL_FACTOR:
            raise ValueError("expected either guard_factor or a rule")
        return rule

    @model_validator(mode="after")
    def _titled(self) -> Self:
        """A document is called what it is: nobody's calibration certificate, and one after
        EN 10204 only where it was ordered and another than the grinder can vouch for it."""
        for word in _NEVER:
            if word in self.title.lower():
                raise ValueError(f"expected a title without {word!r}: this is an inspection report")
        if ("3.1" in self.title) != (self.certificate == "3.1"):
            raise ValueError(
                'expected certificate = "3.1" and a title that says 3.1 together, where it was '
                "ordered; else neither"
            )
        if self.certificate and self.same_person_may_release:
            raise ValueError(
                "expected same_person_may_release = false: a document 3.1 is released by a person "
                "who is independent of the grinding"
            )
        return self

    def decision(self, unit: Unit) -> Rule:
        """The decision rule for values in mm or deg."""
        return self.rule.of(unit) if self.rule else Rule(factor=self.guard_factor)


class Conditions(Strict):
    """Temperatures that a verdict needs, and how far they may lie apart."""

    instrument: Name
    where: tuple[Name, ...] = ("air", "tool", "scale")
    largest_step: Number = Decimal(2)
    """K between 20 degC and the tool, above which nothing is judged."""
    correct: bool = Field(default=False, exclude_if=lambda given: not given)
    """Whether lengths are corrected to 20 degC."""
    tool_expansion: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    tool_expansion_u: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    scale_expansion: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    scale_expansion_u: Expansion | None = Field(None, exclude_if=lambda given: given is None)
    """Standard uncertainties; without one the coefficient is a table's, and good to 10 %."""

    @model_validator(mode="after")
    def _corrects(self) -> Self:
        for body in ("tool", "scale"):
            name = f"{body}_expansion"
            if self.correct and getattr(self, name) is None:
                raise ValueError(f"expected {name} = ... where results are corrected")
            if self.correct and body not in self.where:
                raise ValueError(f"expected {body!r} in where, since results are corrected")
            if not self.correct and getattr(self, name) is not None:
                raise ValueError(f"expected correct = true beside {name}")
            known(self, name)
        return self


class JobFile(Strict):
    """A job file, whole."""

    job: Job
    tool: tuple[Tool, ...] = Field(min_length=1)
    temperature: Conditions
    feature: tuple[Feature, ...] = Field(min_length=1)
    characteristic: tuple[Characteristic, ...] = Field(min_length=1)
    set_up: SetUp | None = None
    influence: Mapping[str, Influence] = {}

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        no_twins("tool", (t.mark for t in self.tool))
        no_twins("feature", (f.id for f in self.feature))
        no_twins("characteristic", (c.id for c in self.characteristic))
        return self

    def of(self, characteristic: str) -> Characteristic:
        """The characteristic of that id."""
        return next(c for c in self.characteristic if c.id == characteristic)

    def tool_of(self, mark: str) -> Tool:
        """The tool of that mark."""
        return next(t for t in self.tool if t.mark == mark)
