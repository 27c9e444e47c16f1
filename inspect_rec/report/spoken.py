"""An inspection with the program's own texts in the language of its report. Numbers stay, and so
does what the shop typed."""

from __future__ import annotations

from dataclasses import replace

from inspect_rec.inspection import Inspection, Result
from inspect_rec.plan import Characteristic, Tool
from report_templates.wording import Words


def spoken(inspection: Inspection, w: Words) -> Inspection:
    """Names, planes, formulas and reasons as the language says them."""
    if not w.texts:
        return inspection
    plan = inspection.job
    known = {c.id: _characteristic(c, w) for c in plan.characteristic}
    job = plan.job.model_copy(update={"title": w.told("text", plan.job.title)})
    update = {"characteristic": tuple(known.values()), "job": job}
    return replace(
        inspection,
        record=replace(inspection.record, job=plan.model_copy(update=update)),
        tool=_tool(inspection.tool, w),
        results=tuple(_result(r, known[r.characteristic.id], w) for r in inspection.results),
    )


def _characteristic(c: Characteristic, w: Words) -> Characteristic:
    said = {"name": w.told("text", c.name), "plane": w.told("plane", c.plane)}
    return c.model_copy(update=said)


def _tool(tool: Tool, w: Words) -> Tool:
    offsets = tuple(o.model_copy(update={"words": w.told("text", o.words)}) for o in tool.offsets)
    said = {
        "title": w.told("text", tool.title or tool.kind),
        "material": w.told("text", tool.material),
        "condition": w.told("text", tool.condition),
        "offsets": offsets,
    }
    return tool.model_copy(update=said)


def _result(r: Result, c: Characteristic, w: Words) -> Result:
    return replace(
        r,
        characteristic=c,
        judgement=replace(r.judgement, reason=w.told("reason", r.judgement.reason)),
        method=replace(r.method, formula=w.told("formula", r.method.formula)),
    )
