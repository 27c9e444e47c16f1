"""Widths, diameters, lengths and places from crosshair sightings along one slide."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import fmean

from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import InputError
from inspect_rec.methods.base import Given, Outcome, Series, calibration, step
from inspect_rec.methods.masters import bias_between, drift_left, sighted_rows, step_rows
from inspect_rec.methods.register import Reads, Role, method
from inspect_rec.methods.thermal import to_20

GREATER, SMALLER = "greater", "smaller"
"""The two sides of a pin, shank or width: where the slide shows more, and less."""

SIDES = (GREATER, SMALLER)
PLACE_OF_AXIS = "place of the axis"
AXIS = Role("axis", Reads.RADIAL, "both sides of a pin or shank, which give the axis", SIDES)
EDGE = Role("edge", Reads.RADIAL, "the edge of each flute")


def width_mm(series: Series, channel: str) -> float:
    """Distance of the two sides along ``channel``, mm, each side the mean of its sightings."""
    return abs(series.mean(GREATER, channel) - series.mean(SMALLER, channel))


def middle_mm(series: Series, channel: str) -> float:
    """Middle of the two sides along ``channel``, mm, never rounded."""
    return (series.mean(GREATER, channel) + series.mean(SMALLER, channel)) / 2


def axis_um(crosshair: float, clamping: float, half_step: float, sightings: int) -> float:
    """u of the place of an axis, um, rounded up to 0.1 um: sightings of both sides, what the
    clamping leaves (u), and the readout's step."""
    exact = math.sqrt(crosshair**2 / sightings + clamping**2 + half_step**2 / 3)
    return math.ceil(exact * 10 - 1e-9) / 10


def axis_row(given: Given, sensitivity: float, *, common: bool) -> Component:
    """What the place of the axis adds to a value that hangs on it."""
    axis = given.series["axis"]
    clamping = given.component("clamping", "clamping")
    crosshair = given.component("crosshair", "crosshair")
    half_step = axis.instrument.half_step or 0.0
    amount = axis_um(crosshair.u, clamping.u, half_step, len(axis.taken))
    return Component(
        name=PLACE_OF_AXIS,
        amount=amount,
        distribution=Distribution.NORMAL,
        sensitivity=sensitivity,
        common=common,
        dof=min(crosshair.dof, clamping.dof),
        assumed=crosshair.assumed or clamping.assumed,
        note=f"{len(axis.taken)} sightings, clamping, step; rounded up to 0.1 µm",
        study=crosshair.study or clamping.study,
    )


def _out_of_plane(given: Given, size_mm: float) -> Component:
    """An edge turned out of the axial plane reads short by size (1 - cos e), never long."""
    turned = given.component("", "edge out of the axial plane", unit="deg")
    return replace(
        turned,
        name=f"edge {turned.amount:g} deg out of the axial plane",
        amount=size_mm * (1 - math.cos(math.radians(turned.amount))) * 1000,
        distribution=Distribution.ONE_SIDED,
        unit="um",
    )


def _warm(given: Given) -> list[Component]:
    """What temperature adds where it isn't corrected."""
    if given.thermal is not None:
        return []
    return [given.component("temperature of tool and pin", "temperature of a diameter")]


def bias_mm(series: Series, channel: str) -> float:
    """What a master's width reads too large, mm."""
    if series.master is None or series.master.value is None:
        raise InputError(f"the feature {series.feature!r} has no master with a value")
    return width_mm(series, channel) - series.master.value


@method(
    "width by two sightings",
    roles=(
        Role("edges", Reads.RADIAL, "both edges of the tool", SIDES),
        Role(
            "master",
            Reads.RADIAL,
            "both sides of a pin of similar size",
            SIDES,
            master=True,
            length=True,
        ),
    ),
    plane="square to the axis",
    assumes="edges and pin are sighted in the same light, approached from the same side",
    refuses=("no master with a value",),
    formula="distance of the two sightings, less what a master pin sighted the same way reads "
    "too large",
    source="common practice; light and line width act on both edges, so only a master of similar "
    "size removes them",
    infeed=0.5,
)
@to_20(master="master")
def width(given: Given) -> Outcome:
    """Diameter or width over two edges, bias of the master taken off."""
    edges, master, channel = given.series["edges"], given.series["master"], given.slides.radial
    bias = bias_between(given, "master", bias_mm(master, channel), edges)
    value = width_mm(edges, channel) - bias.mm
    if master.master is None:
        raise InputError("the master has no calibration")
    sightings = [
        given.component("crosshair on the tool", "crosshair", ends=2, averaged=edges.repeats),
        *sighted_rows(given, "master", bias, "the pin", 2),
        step(edges.instrument, "readout step, tool", ends=2),
        *step_rows(given, "master", bias, "pin", 2),
    ]
    rows = [
        *sightings,
        given.component("scale, left over against the pin", "scale against a master"),
        given.component("offset and tilt of the slide, left over", "tilt against a master"),
        given.component("backlash left over", "backlash"),
        _out_of_plane(given, value),
        *_warm(given),
        calibration(master.master, "pin, calibration"),
        *drift_left(given, "master", bias, "drift of the pin check"),
    ]
    detail = {
        "bias_mm": bias.mm,
        "uncorrected_mm": value + bias.mm,
        "repeat_u_um": math.sqrt(sum(row.u**2 for row in sightings)),
    }
    return Outcome((value,), Budget(tuple(rows), "um"), detail=detail)


@method(
    "width by two sightings, no master",
    roles=(Role("edges", Reads.RADIAL, "both edges of the tool", SIDES),),
    plane="square to the axis",
    assumes="the light counts at both edges with its full amount",
    formula="distance of the two sightings; the light at both edges stays in the uncertainty",
    source="common practice",
    infeed=0.5,
)
@to_20()
def width_without_master(given: Given) -> Outcome:
    """A width for which there is no master of similar size."""
    edges = given.series["edges"]
    rows = (
        given.component("crosshair at the two ends", "crosshair", ends=2, averaged=edges.repeats),
        step(edges.instrument, "readout step", ends=2),
        given.component(
            "light on each edge, no master of such size: adds at both edges", "light", sensitivity=2
        ),
        given.component("backlash left over", "backlash"),
    )
    return Outcome((width_mm(edges, given.slides.radial),), Budget(rows, "um"))


@method(
    "middle off the axis",
    roles=(Role("edges", Reads.RADIAL, "both edges", SIDES), AXIS),
    plane="square to the axis",
    assumes="the light shifts both edges alike, so it cancels in the middle",
    formula="middle of the two sightings less the place of the axis, without sign",
    source="common practice",
)
def middle_off_axis(given: Given) -> Outcome:
    """How far the middle of two edges lies off the axis; the light cancels in the middle."""
    edges, axis, channel = given.series["edges"], given.series["axis"], given.slides.radial
    value = abs(middle_mm(edges, channel) - middle_mm(axis, channel))
    rows = (
        given.component("crosshair, middle of two", "crosshair", averaged=len(edges.taken)),
        step(edges.instrument, "readout step, middle of two", averaged=2),
        given.component("axis: crosshair", "crosshair", averaged=len(axis.taken)),
        given.component("axis: clamping", "clamping"),
        given.component("backlash left over", "backlash"),
    )
    return Outcome((value,), Budget(rows, "um"), detail={"axis_mm": middle_mm(axis, channel)})


@method(
    "length between two corners",
    roles=(Role("corners", Reads.ALONG, "the two corners", least=2),),
    plane="along the axis",
    refuses=("other than two corners",),
    formula="difference of the places of the two corners along the tool, each the mean of its "
    "sightings",
    source="common practice",
)
@to_20()
def corner_to_corner(given: Given) -> Outcome:
    """A step length from corner to corner."""
    corners, along = given.series["corners"], given.slides.along
    if len(corners.marks) != 2:
        raise InputError(
            "a length needs two corners", expected="2 marks", found=str(len(corners.marks))
        )
    first, second = (corners.mean(mark, along) for mark in corners.marks)
    rows = (
        given.component(
            "crosshair at the two corners", "crosshair", ends=2, averaged=corners.repeats
        ),
        step(corners.instrument, "readout step", ends=2),
        given.component("corners not sharp", "corner", ends=2),
        given.component("light on the two corners", "light", ends=2),
        given.component("scale over the length", "scale over a length"),
        given.component("offset and tilt of the slide", "tilt over a length"),
        given.component("backlash left over", "backlash"),
    )
    return Outcome((abs(first - second),), Budget(rows, "um"))


def _radius_mm(series: Series, axis_mm: float, channel: str) -> float:
    return fmean(abs(t[channel] - axis_mm) for t in series.taken)


def _radius_rows(given: Given, edge: Series, radius_mm: float, factor: float) -> list[Component]:
    more = {"sensitivity": factor}
    return [
        given.component("crosshair on the edge", "crosshair", averaged=len(edge.taken), **more),  # type: ignore[arg-type]
        step(edge.instrument, "readout step, edge", **more),
        axis_row(given, factor, common=True),
        given.component("light on one edge", "light", common=True, **more),  # type: ignore[arg-type]
        given.component("scale", "scale", common=True, **more),  # type: ignore[arg-type]
        given.component("backlash left over", "backlash", **more),  # type: ignore[arg-type]
        _out_of_plane(given, radius_mm * factor),
    ]


@method(
    "edge to axis",
    roles=(EDGE, AXIS),
    plane="square to the axis",
    assumes="the edge is turned gently through its largest reading",
    formula="distance of the edge from the axis, the axis being the middle of both sides of a "
    "pin or shank",
    source="common practice; the only way for an odd number of flutes",
)
@to_20()
def edge_to_axis(given: Given) -> Outcome:
    """Radius of one flute's edge from the axis."""
    channel = given.slides.radial
    axis_mm = middle_mm(given.series["axis"], channel)
    edge = given.series["edge"]
    value = _radius_mm(edge, axis_mm, channel)
    return Outcome(
        (value,),
        Budget(tuple(_radius_rows(given, edge, value, 1.0)), "um"),
        detail={"axis_mm": axis_mm},
    )


@method(
    "swept diameter",
    roles=(EDGE, AXIS),
    plane="square to the axis",
    assumes="every edge is turned gently through its largest reading",
    formula="twice the largest distance of an edge from the axis over all flutes",
    source="common practice; the only way for an odd number of flutes",
    infeed=0.5,
    over_flutes=True,
)
@to_20()
def swept_diameter(given: Given) -> Outcome:
    """The diameter that the tool sweeps, by its largest flute."""
    channel = given.slides.radial
    axis_mm = middle_mm(given.series["axis"], channel)
    edges = [given.series["edge"].of_flute(n) for n in given.series["edge"].flutes]
    radii = [_radius_mm(edge, axis_mm, channel) for edge in edges]
    largest = max(range(len(radii)), key=radii.__getitem__)
    rows = _radius_rows(given, edges[largest], radii[largest], 2.0)
    return Outcome(
        (2 * radii[largest],),
        Budget(tuple(rows), "um"),
        detail={"axis_mm": axis_mm, "radii_mm": tuple(radii)},
    )
