"""One result in words and as a bar: what tables, lists and graphs of a report share."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from inspect_rec.inspection import Inspection, Result
from inspect_rec.plan import Characteristic, Offset
from inspect_rec.report import figures
from inspect_rec.report.content import Bar
from inspect_rec.report.figures import shown
from inspect_rec.units import printed
from report_templates.wording import Words


def leaves_room(r: Result) -> bool:
    """Whether the uncertainty leaves an acceptance zone between the limits."""
    c, zones = r.characteristic, r.zones
    if zones is None:
        return False
    if c.lower is not None and c.upper is not None:
        return 2 * zones.guard < c.upper - c.lower
    return not c.natural_zero or c.upper is None or zones.guard < c.upper


def why(r: Result, w: Words) -> str:
    """Why a verdict is refused, in the words of the report."""
    too_large = not r.outcome.refusals and not leaves_room(r) and not r.characteristic.info
    return w["page.no_bar"] if too_large else r.judgement.reason


def bar(r: Result, w: Words) -> Bar | None:
    """The result in its tolerance, for drawing; None where there are no limits, or no room is
    left between them."""
    c, zones = r.characteristic, r.zones
    if zones is None or c.info or not leaves_room(r):
        return None
    return Bar(
        lower=None if c.lower is None else float(c.lower),
        upper=None if c.upper is None else float(c.upper),
        nominal=None if c.nominal is None or c.natural_zero else float(c.nominal),
        zero=c.natural_zero,
        guard=float(zones.guard),
        low=float(r.values[0]),
        high=float(r.values[-1]),
        whisker=float(r.U),
        verdict=r.verdict.value,
        lower_text="" if c.lower is None else figures.limit_text(c, c.lower, w),
        upper_text="" if c.upper is None else figures.limit_text(c, c.upper, w),
        accepted=figures.accepted(r, w),
    )


def named(r: Result, inspection: Inspection, w: Words) -> str:
    """A result by name: ball radius RE, flute 3."""
    c = r.characteristic
    name = c.name[0].upper() + c.name[1:] + (f" {c.symbol}" if c.symbol else "")
    return (
        name if r.flute is None else f"{name}, {w[f'edge.{inspection.tool.edge_word}']} {r.flute}"
    )


def value_text(r: Result, w: Words) -> str:
    """The value as printed, or both ends of a profile."""
    c = r.characteristic
    low, *high = (signed(c, v, shown(c, v, w, exact=True)) for v in r.values)
    return w["figures.range"].format(low=low, high=high[0]) if high else low


def signed(c: Characteristic, value: Decimal, text: str) -> str:
    """A deviation that may lie on both sides bears its sign."""
    both = c.nominal == 0 and c.lower is not None
    return f"+{text}" if both and value > 0 else text


def margin(r: Result) -> float:
    """Distance to the nearest acceptance limit over the width of the tolerance; where one limit
    stands alone, over 4 U, the least width that such a result could be judged in."""
    zones, width = r.zones, r.characteristic.width or 4 * r.U
    if zones is None or not width:
        return 1e9
    room = []
    if zones.accept_low is not None:
        room.append(r.values[0] - zones.accept_low)
    if zones.accept_high is not None:
        room.append(zones.accept_high - r.values[-1])
    return float(min(room) / width)


def chosen(offset: Offset, results: Sequence[Result]) -> Result:
    """The result that a value for the machine is taken from: of several edges the largest, or the
    smallest."""
    if offset.pick == "value":
        return results[0]
    return (max if offset.pick == "largest" else min)(results, key=lambda r: r.value)


def offset_value(offset: Offset, result: Result) -> Decimal:
    """The value for the machine, rounded for its display and never across a limit."""
    c = result.characteristic
    limits = [x * offset.factor for x in (c.lower, c.upper) if x is not None]
    return printed(result.value * offset.factor, 2 if c.places == 2 else 3, limits)


def offset_values(inspection: Inspection) -> tuple[tuple[str, Decimal], ...]:
    """The values for the machine that were measured, mm, by their labels."""
    found = []
    for offset in inspection.tool.offsets:
        results = [r for r in inspection.results if r.characteristic.id == offset.of]
        if results:
            found.append((offset.label, offset_value(offset, chosen(offset, results))))
    return tuple(found)


def edge_word(inspection: Inspection, w: Words) -> str:
    """What an edge of the tool is called."""
    return w[f"edge.{inspection.tool.edge_word}"]
