"""Numbers for the graphs of a report: edges against each other, length line, profiles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal

from inspect_rec.inspection import Inspection, Result
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures
from inspect_rec.report.content import FluteGraph, Profile, Profiles
from inspect_rec.report.figures import shown
from inspect_rec.report.resulting import margin, value_text
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


def profiles(inspection: Inspection, numbers: dict[str, int], w: Words) -> tuple[Profiles, ...]:
    """Small graphs of every characteristic that is measured round an arc."""
    found = []
    for c in inspection.job.characteristic:
        results = [r for r in inspection.results if r.characteristic.id == c.id]
        if results and c.method == "profile, radius held":
            found.append(_contour(c, results, numbers[c.id], inspection, w))
        elif results and c.method == "arc, centre on the axis":
            found.append(_arcs(c, results, inspection, w))
    return tuple(found)


def _tuple(r: Result, key: str) -> tuple[float, ...]:
    value = r.outcome.detail.get(key, ())
    return value if isinstance(value, tuple) else ()


def _from_tip(r: Result, inspection: Inspection) -> tuple[float, ...]:
    """Angles of an arc's points from the tip toward the side, deg."""
    set_up = inspection.record.set_up
    tip = (0 if set_up.along == "X" else 90) + (0 if set_up.tip == "+" else 180)
    return tuple(abs(_turned(a - tip)) for a in _tuple(r, "angles_deg"))


def _from_middle(r: Result) -> tuple[float, ...]:
    """Angles of an arc's points from the slide's direction nearest its middle, deg; to the right
    positive."""
    found = _tuple(r, "angles_deg")
    x = sum(math.cos(math.radians(a)) for a in found)
    z = sum(math.sin(math.radians(a)) for a in found)
    middle = 90 * round(math.degrees(math.atan2(z, x)) / 90)
    return tuple(_turned(middle - a) for a in found)


def _turned(angle: float) -> float:
    """The same angle within half a turn."""
    return (angle + 180) % 360 - 180


def _number(r: Result, key: str) -> float:
    value = r.outcome.detail.get(key, 0.0)
    return value if isinstance(value, float) else 0.0


def _arcs(
    c: Characteristic, results: Sequence[Result], inspection: Inspection, w: Words
) -> Profiles:
    nominal, zone = float(c.nominal or 0), float((c.width or Decimal("0.02")) / 2) * 1000
    word = w[f"edge.{inspection.tool.edge_word}"]
    edges = tuple(
        Profile(
            f"{word[0].upper()}{word[1:]} {r.flute}",
            f"R {shown(c, r.value, w, exact=True)}",
            tuple(
                (angle, (d - nominal) * 1000)
                for angle, d in zip(
                    _from_tip(r, inspection), _tuple(r, "distances_mm"), strict=True
                )
            ),
            zone,
            figures.figure(f"{zone:g}", w),
            float(r.zones.guard) * 1000 if r.zones else 0.0,
            verdict=r.verdict.value,
        )
        for r in results
    )
    return Profiles(w["texts.profile_caption"].format(edge_word=word), edges)


def _contour(
    c: Characteristic, results: Sequence[Result], number: int, inspection: Inspection, w: Words
) -> Profiles:
    zone = float(c.upper or 0) * 1000
    word = w[f"edge.{inspection.tool.edge_word}"]
    worst = min(results, key=margin)
    radius = c.parameters["radius_mm"]
    edges = tuple(
        Profile(
            f"{word[0].upper()}{word[1:]} {r.flute}",
            f"{value_text(r, w)} µm",
            tuple(
                (angle, d * 1000)
                for angle, d in zip(_from_middle(r), _tuple(r, "deviations_mm"), strict=True)
            ),
            zone,
            figures.figure(f"{zone:g}", w),
            float(r.zones.guard) * 1000 if r.zones else 0.0,
            r is worst,
            r.verdict.value,
        )
        for r in results
    )
    span = max(_number(r, "span_deg") for r in results)
    return Profiles(
        w["texts.contour_caption"],
        edges,
        contour=True,
        number=number,
        title=c.name[0].upper() + c.name[1:],
        subtitle=w["texts.contour_sub"].format(
            half=f"{span / 2:.0f}",
            zone=figures.short(c.upper or Decimal(0), w),
            radius=figures.figure(str(radius), w),
        ),
        radius_mm=float(str(radius)),
        convex=c.parameters.get("form") == "convex",
    )
