"""Ball noses as a whole: two opposite flutes jointly, and the place of the tip."""

from __future__ import annotations

from statistics import fmean

from inspect_rec.compute import fitting
from inspect_rec.compute.uncertainty import Budget
from inspect_rec.errors import InputError
from inspect_rec.methods.arcs import (
    ARC,
    LIGHT,
    RADIUS_MASTER,
    Points,
    detail_of,
    edge_rows,
    no_circle,
    on_axis,
    points_of,
    u_of_tip,
)
from inspect_rec.methods.base import Given, Outcome, Series, stated, step
from inspect_rec.methods.register import Reads, Role, method
from inspect_rec.methods.thermal import to_20
from inspect_rec.methods.widths import AXIS, axis_row, middle_mm

SHORTEST_JOINT_SPAN_DEG = 120.0
"""Below it a joint circle knows no more than one flute held on the axis (trade: the table of
spans)."""


@method(
    "arc, two opposite flutes",
    roles=(
        Role(
            "arc",
            Reads.POINT,
            "points round both flutes, from side over tip to side, without indexing between",
            least=6,
        ),
        AXIS,
        RADIUS_MASTER,
    ),
    plane="image plane through the axis",
    assumes="both flutes are sighted at one index position, each on its own side of the axis; "
    + LIGHT,
    refuses=(
        "flutes whose own radii differ by more than half the tolerance: one radius would hide it",
        f"an arc below {SHORTEST_JOINT_SPAN_DEG:.0f} deg",
        "a form of more than half the tolerance: no circle",
    ),
    formula="least-squares circle through the points of both flutes, centre and radius free",
    source="derived; the axis gives each flute's own radius beside it",
    over_flutes=True,
)
@to_20()
def opposite_flutes(given: Given) -> Outcome:
    """Radius of a ball nose from two opposite flutes at once."""
    arc, radial = given.series["arc"], given.slides.radial
    points = points_of(arc)
    axis_mm = middle_mm(given.series["axis"], radial)
    circle = fitting.circle(points)
    own = [_own(side, axis_mm, radial) for side in _sides(points, axis_mm, radial)]
    rows = (
        given.component(
            f"crosshair, {len(points)} points over {circle.span_deg:.0f} deg, free fit",
            "crosshair",
            sensitivity=stated(circle.u_r_over_s),
        ),
        *edge_rows(given),
    )
    hidden = own[1] - own[0]
    refusals = list(no_circle(given, circle))
    if given.width is not None and abs(hidden) > given.width / 2:
        refusals.append(
            f"the radii of the two flutes differ by {abs(hidden) * 1000:.1f} µm, more than half of "
            "the tolerance: judge each flute"
        )
    if circle.span_deg < SHORTEST_JOINT_SPAN_DEG:
        refusals.append(f"an arc of {circle.span_deg:.0f}° is too short for two flutes jointly")
    detail = detail_of(circle, points) | {
        "radii_mm": tuple(own),
        "hidden_difference_um": hidden * 1000,
        "off_axis_um": (_radial(circle, radial) - axis_mm) * 1000,
    }
    return Outcome((circle.radius_mm,), Budget(rows, "um"), tuple(refusals), detail)


def _sides(points: Points, axis_mm: float, radial: str) -> tuple[Points, Points]:
    """The points below and above the axis along the radial slide."""
    at = 0 if radial == "X" else 1
    below = [p for p in points if p[at] < axis_mm]
    above = [p for p in points if p[at] >= axis_mm]
    if min(len(below), len(above)) < 3:
        raise InputError(
            "two flutes jointly need points on both sides of the axis",
            expected="three or more on each side",
            found=f"{len(below)} and {len(above)}",
            do="Sight the opposite flute on the other side without indexing",
        )
    return below, above


def _own(points: Points, axis_mm: float, radial: str) -> float:
    return fitting.circle_on_axis(points, axis_mm, which=radial.lower()).radius_mm


def _radial(circle: fitting.Circle, radial: str) -> float:
    return circle.centre_x_mm if radial == "X" else circle.centre_z_mm


@method(
    "tip from a datum",
    roles=(
        ARC,
        AXIS,
        Role("datum", Reads.ALONG, "the face or stop that the drawing measures from"),
    ),
    plane="along the axis",
    assumes="the centre lies on the axis",
    formula="distance along the tool of the tip from the datum, the tip being centre plus radius "
    "of the arc held on the axis",
    source="derived",
)
@to_20()
def tip_from_datum(given: Given) -> Outcome:
    """Place of the tip of a ball nose along the tool, from a datum, mm."""
    arc, datum, along = given.series["arc"], given.series["datum"], given.slides.along
    circle = on_axis(given, arc)
    from_mm = fmean(t[along] for t in datum.taken)
    tip = _tip(given, circle)
    rows = (
        given.component(
            "crosshair, place of the tip", "crosshair", sensitivity=stated(u_of_tip(given, circle))
        ),
        axis_row(given, stated(abs(_by_axis(given, arc))), common=True),
        given.component("crosshair on the datum", "crosshair", averaged=len(datum.taken)),
        step(datum.instrument, "readout step, datum"),
        given.component("light on tip and datum", "light", ends=2),
        given.component("scale over the length", "scale over a length", common=True),
        given.component("offset and tilt of the slide", "tilt over a length", common=True),
        given.component("backlash left over", "backlash"),
        given.component("edge", "edge"),
    )
    detail = detail_of(circle, points_of(arc)) | {"tip_mm": tip, "datum_mm": from_mm}
    return Outcome((abs(tip - from_mm),), Budget(rows, "um"), detail=detail)


def _tip(given: Given, circle: fitting.Circle) -> float:
    along = circle.centre_z_mm if given.slides.along == "Z" else circle.centre_x_mm
    return along + given.slides.tip * circle.radius_mm


def _by_axis(given: Given, arc: Series) -> float:
    """Change of the tip's place for a change of the axis, by difference, 1 um to both sides."""
    axis_mm = middle_mm(given.series["axis"], given.slides.radial)
    points, which = points_of(arc), given.slides.radial.lower()
    low, high = (
        _tip(given, fitting.circle_on_axis(points, axis_mm + d, which=which)) for d in (-1e-3, 1e-3)
    )
    return (high - low) / 2e-3
