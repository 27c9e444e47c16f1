"""A drill's point seen from its end, both slides square to the axis: chisel edge and web."""

from __future__ import annotations

import math
from statistics import fmean

from inspect_rec.compute import points
from inspect_rec.compute.uncertainty import Budget
from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Outcome, Series, step
from inspect_rec.methods.points import ends, squareness
from inspect_rec.methods.quantities import sighted, worked_out
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.thermal import to_20

ENDS = Role("ends", Reads.POINT, "both ends of the chisel edge", least=2)

FROM_THE_END = "square to the axis, from the end"

LARGEST_SKEW = 2.0
"""Deg that an edge may be off half a turn; 2 um on a chisel edge of 0.3 mm are half a degree."""


def _length(given: Given, role: str, what: str) -> tuple[float, Budget]:
    """Distance of two points, and what every such distance is uncertain by."""
    series = given.series[role]

    def model(x1: float, z1: float, x2: float, z2: float) -> float:
        return math.hypot(x2 - x1, z2 - z1)

    value, budget = worked_out(model, sighted(given, series, what, *ends(series, given)), unit="um")
    rows = (
        *budget.components,
        given.component(
            "light on each side, no master of such size: adds at both", "light", sensitivity=2
        ),
        given.component("backlash left over", "backlash"),
    )
    return value, Budget(rows, "um")


@method(
    "chisel edge length",
    roles=(ENDS,),
    plane=FROM_THE_END,
    refuses=("other than two ends",),
    formula="distance of the two ends of the chisel edge, from their places on both slides",
    source="derived; the light at both ends stays in the uncertainty",
)
@to_20()
def chisel_length(given: Given) -> Outcome:
    """Length of the chisel edge in the end view, mm."""
    value, budget = _length(given, "ends", "the chisel edge")
    corners = given.component("corners not sharp", "corner", ends=2)
    return Outcome((value,), Budget((*budget.components, corners), "um"))


@method(
    "chisel edge off the axis, half a turn",
    roles=(
        ENDS,
        Role(
            "turned",
            Reads.POINT,
            "the same two ends in the same order, the tool turned by 180 deg",
            least=2,
        ),
    ),
    plane=FROM_THE_END,
    assumes="what the light does to the line laid on the edge is the same both times",
    refuses=("other than two ends", "both lines aren't half a turn from each other"),
    formula="half the distance between the line through both ends and that through the same ends "
    "after half a turn, without sign",
    source="derived; the axis is what the tool was turned about, and needs no sighting",
)
def chisel_offset(given: Given) -> Outcome:
    """How far the chisel edge's line passes by the axis, mm."""
    first, after = given.series["ends"], given.series["turned"]
    if first.marks != after.marks:
        raise InputError(
            "both sightings of the chisel edge must have the same marks, in the same order",
            expected=", ".join(first.marks),
            found=", ".join(after.marks),
        )
    before, now = ends(first, given), ends(after, given)

    def model(*figures: float) -> float:
        return points.off_axis(figures[:4], figures[4:])

    value, budget = worked_out(
        model,
        sighted(given, first, "the chisel edge", *before),
        sighted(given, after, "the chisel edge, turned", *now),
        unit="um",
    )
    rows = (
        *budget.components,
        given.component("tool turned in its seat", "clamping", sensitivity=0.5),
        given.component("backlash left over", "backlash", sensitivity=0.5, ends=2),
    )
    skew = points.off_half_a_turn(before, now)
    off = f"the two lines are {skew:.1f}° off half a turn, allowed {LARGEST_SKEW:g}°"
    refusals = (off,) if skew > LARGEST_SKEW else ()
    return Outcome((abs(value),), Budget(rows, "um"), refusals, {"off_half_a_turn_deg": skew})


@method(
    "chisel edge angle",
    roles=(
        ENDS,
        Role("lip", Reads.POINT, "two points of a lip, far apart", least=2),
    ),
    asks=(Asks("counted", "which of the two angles the drawing means", words=("acute", "obtuse")),),
    plane=FROM_THE_END,
    assumes="the lip is straight in this view",
    refuses=("other than two points on an edge", "which angle is counted isn't stated"),
    formula="angle between the lines through two points of the chisel edge and of a lip; obtuse: "
    "180 deg less the acute one",
    source="derived",
    unit="deg",
)
def chisel_angle(given: Given) -> Outcome:
    """Angle between the chisel edge and a lip in the end view, deg."""
    counted = given.word("counted", ("acute", "obtuse"))
    edge, lip = given.series["ends"], given.series["lip"]

    def model(*figures: float) -> float:
        lean = math.tan(math.radians(figures[8]))
        (x1, z1, x2, z2), (u1, w1, u2, w2) = figures[:4], figures[4:8]
        across, over = x2 - x1 + lean * (z2 - z1), u2 - u1 + lean * (w2 - w1)
        acute = points.between(across, z2 - z1, over, w2 - w1)
        return acute if counted == "acute" else 180 - acute

    value, budget = worked_out(
        model,
        sighted(given, edge, "the chisel edge", *ends(edge, given)),
        sighted(given, lip, "the lip", *ends(lip, given)),
        squareness(given),
        unit="deg",
    )
    return Outcome((value,), budget)


@method(
    "web thickness from both sides",
    roles=(
        Role(
            "web",
            Reads.POINT,
            "both sides of the web where it is thinnest, across from each other",
            least=2,
        ),
    ),
    plane=FROM_THE_END,
    assumes="the two points lie across from each other: where they don't, it reads too thick",
    refuses=("other than two points",),
    formula="distance of a point on each side of the web, from their places on both slides",
    source="derived; the light on both sides stays in the uncertainty",
)
@to_20()
def web_thickness(given: Given) -> Outcome:
    """Thickness of the web at the point, after thinning where it was thinned, mm."""
    value, budget = _length(given, "web", "both sides of the web")
    return Outcome((value,), budget)


def _mean(series: Series, channel: str) -> float:
    return fmean(t[channel] for t in series.taken)


@method(
    "web off the axis, half a turn",
    roles=(
        Role(
            "side",
            Reads.RADIAL,
            "one side of the web for each flute, sighted at the same side of the axis",
        ),
    ),
    plane=FROM_THE_END,
    assumes="the tool is turned from flute to flute, the web lies along the other slide; the "
    "light does the same to both",
    refuses=("other than two flutes",),
    formula="half the difference of the two places, without sign: how far the middle of the web "
    "lies off the axis",
    source="derived; the axis is what the tool was turned about, and needs no sighting",
    over_flutes=True,
)
def web_symmetry(given: Given) -> Outcome:
    """How far the middle of the web lies off the axis, mm: symmetry of the thinning."""
    side, channel = given.series["side"], given.slides.radial
    flutes = [side.of_flute(n) for n in side.flutes]
    if len(flutes) != 2:
        raise InputError("a web has two sides", expected="2 flutes", found=str(len(flutes)))
    both = tuple(_mean(each, channel) for each in flutes)
    rows = (
        given.component(
            "crosshair on the two sides",
            "crosshair",
            sensitivity=0.5,
            ends=2,
            averaged=min(len(each.taken) for each in flutes),
        ),
        step(side.instrument, "readout step, two sides", sensitivity=0.5, ends=2),
        given.component("tool turned in its seat", "clamping", sensitivity=0.5),
        given.component("backlash left over", "backlash", sensitivity=0.5, ends=2),
    )
    value = abs(both[0] - both[1]) / 2
    return Outcome((value,), Budget(rows, "um"), detail={"places_mm": both})
