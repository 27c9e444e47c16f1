"""What was corrected: lengths to 20 degC, and a master's bias between its checks, in sentences."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from inspect_rec.compute.thermal import USUAL_SHARE
from inspect_rec.inspection import Inspection
from inspect_rec.methods.masters import NO_AFTER, NOT_BETWEEN, STEADY
from inspect_rec.methods.thermal import CORRECTION
from inspect_rec.plan import Drift
from inspect_rec.report import figures
from report_templates.wording import Words


def sentences(inspection: Inspection, w: Words) -> Iterable[str]:
    """With which coefficients, how large the correction was, and what wasn't corrected."""
    if inspection.job.temperature.correct:
        yield w["texts.corrected"].format(bodies="; ".join(_bodies(inspection, w)))
        yield from _amounts(inspection, w)
    if inspection.job.job.drift is Drift.INTERPOLATED:
        yield from _between(inspection, w)


def _bodies(inspection: Inspection, w: Words) -> Iterable[str]:
    conditions = inspection.job.temperature
    rows = {row.name for r in inspection.results for row in r.budget.components}
    known = [
        (w["texts.the_tool"], conditions.tool_expansion, conditions.tool_expansion_u),
        (w["texts.the_scale"], conditions.scale_expansion, conditions.scale_expansion_u),
        *(
            (e.id, e.expansion, e.expansion_u)
            for e in inspection.used
            if f"expansion of {e.id}" in rows
        ),
    ]
    for name, expansion, u in known:
        if expansion is not None:
            said = w["texts.table_value"].format(share=f"{USUAL_SHARE * 100:.0f}")
            if u is not None:
                said = w["texts.known_value"].format(u=figures.short(u, w))
            yield f"{name} {figures.short(expansion, w)} ({said})"


def _amounts(inspection: Inspection, w: Words) -> Iterable[str]:
    """The largest correction of each characteristic over its edges, and what has none."""
    largest: dict[str, float] = {}
    without: list[str] = []
    for r in inspection.results:
        name, amount = r.characteristic.name, r.outcome.detail.get(CORRECTION)
        if not isinstance(amount, float):
            without += [] if r.characteristic.deg else [name]
        elif abs(amount) >= abs(largest.get(name, 0.0)):
            largest[name] = amount
    if largest:
        said = ", ".join(f"{name} {_um(amount, w)}" for name, amount in largest.items())
        yield w["texts.correction_amounts"].format(names=said)
    if without:
        yield w["texts.not_corrected"].format(names=", ".join(dict.fromkeys(without)))


def _um(amount: float, w: Words) -> str:
    rounded = round(Decimal(repr(amount)), 2)
    return f"{figures.figure(format(rounded, '+f'), w) if rounded else '0'} µm"


def _between(inspection: Inspection, w: Words) -> Iterable[str]:
    for key, notes in (
        ("texts.bias_between", {STEADY}),
        ("texts.bias_before", {NO_AFTER, NOT_BETWEEN}),
    ):
        names = dict.fromkeys(
            r.characteristic.name
            for r in inspection.results
            if notes & {row.note for row in r.budget.components}
        )
        if names:
            yield w[key].format(names=", ".join(names))
