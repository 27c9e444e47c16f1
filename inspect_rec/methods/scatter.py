"""What a fit's own residuals say of the readings, held against what the shop knows of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from inspect_rec.compute.uncertainty import Component


def scaled(rows: Sequence[Component], factor: float, *, common: bool = False) -> list[Component]:
    """Rows of a budget carried on to a value that follows the first by ``factor``."""
    return [replace(r, sensitivity=r.sensitivity * factor, common=common or r.common) for r in rows]


def known_or_seen(
    known: Sequence[Component], seen: float, dof: int, sensitivity: float, *, unit: str = "um"
) -> tuple[Component, ...]:
    """The rows of what scatters from reading to reading, as the shop knows it; or, where the
    residuals of the fit scatter more than that, their standard deviation ``seen`` with the degrees
    of freedom that are left.

    The larger of the two is on the safe side: few residuals that happen to be small prove nothing,
    and a form or an index that adds to them must not be left out.
    """
    row = Component(
        name="scatter of the readings about their fit",
        amount=seen,
        sensitivity=sensitivity,
        dof=dof,
        unit=unit,
        note="more than the shop's own figures for one reading",
    )
    if dof < 1 or not math.isfinite(seen) or row.u <= math.hypot(*(r.u for r in known)):
        return tuple(known)
    return (row,)
