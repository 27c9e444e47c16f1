"""Numbers for the graphs of a report: edges against each other, length line."""

from __future__ import annotations

from decimal import Decimal

from inspect_rec.inspection import Inspection
from inspect_rec.report import figures
from inspect_rec.report.content import FluteGraph
from inspect_rec.report.resulting import value_text
from report_templates.wording import Words


def graph(inspection: Inspection, w: Words) -> FluteGraph | None:
    """The edges against each other; None where no variation is named or measured."""
    c = next((c for c in inspection.job.characteristic if c.id == inspection.tool.variation), None)
    result = inspection.result(c.id) if c else None
    if c is None or result is None:
        return None
    parts = [r for r in inspection.results if c.of and r.characteristic.id == c.of]
    name = c.name[0].upper() + c.name[1:]
    mm_value = result.shown(result.value)
    head = {
        "title": name,
        "value": figures.plain(mm_value, w),
        "allowed": w["page.allowed"].format(
            unit="mm", limit=figures.plain(c.upper or Decimal(0), w)
        ),
        "verdict": result.verdict.value,
        "spread": _micro(mm_value, w),
        "edge_word": w[f"edge.{inspection.tool.edge_word}"],
    }
    if parts:
        one = parts[0].characteristic
        zones = parts[0].zones
        limits = tuple(
            "" if x is None else figures.plain(x, w) for x in (one.upper, one.nominal, one.lower)
        )
        return FluteGraph(
            **head,
            labels=tuple(str(r.flute) for r in parts),
            texts=tuple(value_text(r, w) for r in parts),
            values=tuple(float(r.value) for r in parts),
            whiskers=tuple(float(r.U) for r in parts),
            verdicts=tuple(r.verdict.value for r in parts),
            lower=None if one.lower is None else float(one.lower),
            upper=None if one.upper is None else float(one.upper),
            guard=float(zones.guard) if zones else 0.0,
            limit_texts=limits,  # type: ignore[arg-type]
        )
    places = result.outcome.detail.get("places_mm", ())
    values = tuple(places) if isinstance(places, tuple) else ()
    lowest = min(values, default=0.0)
    return FluteGraph(
        **head,
        labels=tuple(str(n) for n in range(1, len(values) + 1)),
        texts=tuple(_micro(Decimal(repr(round(v - lowest, 4))), w) for v in values),
        values=tuple(v - lowest for v in values),
        whiskers=tuple(float(result.U) for _ in values),
        verdicts=tuple(result.verdict.value for _ in values),
        lower=None,
        upper=None if c.upper is None else float(c.upper),
        guard=float(result.zones.guard) if result.zones else 0.0,
        limit_texts=("" if c.upper is None else figures.plain(c.upper, w), "", "0"),
    )


def _micro(mm: Decimal, w: Words) -> str:
    """A length in µm, with the digits that are printed in mm."""
    return f"{figures.short(mm.scaleb(3), w)} µm"
