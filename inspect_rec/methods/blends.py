"""Where a radius runs into a straight: step, tangency, and a corner between two straights."""

from __future__ import annotations

import math

from inspect_rec.compute import fitting
from inspect_rec.compute.blend import Blend, blend, corner, meeting_angle, over_points
from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.methods.arcs import (
    ARC,
    RADIUS_MASTER,
    Points,
    detail_of,
    edge_rows,
    points_of,
    round_centre,
)
from inspect_rec.methods.base import Given, Outcome, stated, step
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.scatter import known_or_seen
from inspect_rec.methods.thermal import to_20

STRAIGHT = Role("straight", Reads.POINT, "points along the straight that it runs into", least=3)
_FORM = Asks("form", "which side the metal is on", words=("convex", "concave"))
_LINES = "least-squares circle through the arc, least-squares line through the straight"


def _metal(given: Given) -> float:
    return 1.0 if given.word("form", ("convex", "concave")) == "convex" else -1.0


def _blend(given: Given) -> tuple[Blend, Points, Points]:
    arc, straight = points_of(given.series["arc"]), points_of(given.series["straight"])
    return blend(arc, straight), arc, straight


def _sighted(given: Given, found: Blend, sensitivity: float) -> list[Component]:
    """What the sightings add: as the shop knows them, or as arc and straight show where that is
    more; the edge's own roundness is in what they show."""
    arc, straight = found.circle.residuals_mm, found.straight.residuals_mm
    dof = len(arc) + len(straight) - 5
    seen = math.sqrt(sum(r * r for r in (*arc, *straight)) / dof) * 1000 if dof > 0 else math.nan
    known = (
        given.component(
            f"crosshair, {len(arc)} points and {len(straight)}",
            "crosshair",
            sensitivity=sensitivity,
        ),
        step(given.series["arc"].instrument, "readout step", sensitivity=sensitivity),
        given.component("roundness of the edge, point by point", "edge", sensitivity=sensitivity),
    )
    return list(known_or_seen(known, seen, dof, sensitivity))


def _detail(found: Blend, arc: Points, metal: float) -> dict[str, float | tuple[float, ...]]:
    return detail_of(found.circle, arc) | {
        "step_um": metal * found.outside_mm * 1000,
        "meeting_deg": found.meeting_deg,
        "straightness_um": found.straight.straightness_mm * 1000,
        "foot_x_mm": found.foot[0],
        "foot_z_mm": found.foot[1],
    }


@method(
    "step at a blend",
    roles=(ARC, STRAIGHT),
    asks=(_FORM,),
    plane="image plane, square to the straight",
    formula="distance of the straight from the arc's centre less the arc's radius (concave: the "
    f"other way round): {_LINES}; plus where the straight stands proud of the arc",
    source="derived",
)
def blend_step(given: Given) -> Outcome:
    """Step between a straight and the tangent of the arc that runs into it, mm."""
    (found, arc, straight), metal = _blend(given), _metal(given)
    sensitivity = stated(over_points(lambda a, s: blend(a, s).outside_mm, arc, straight))
    rows = _sighted(given, found, sensitivity)
    value = metal * found.outside_mm
    return Outcome((value,), Budget(tuple(rows), "um"), detail=_detail(found, arc, metal))


@method(
    "tangency at a blend",
    roles=(ARC, STRAIGHT),
    asks=(
        _FORM,
        Asks("place_mm", "place of the blend on the slide along the tool", needed=False),
    ),
    plane="image plane",
    refuses=("an arc and a straight that don't meet, where no place is stated",),
    formula=f"angle between the straight and the arc's tangent: {_LINES}; acos(d / R) where the "
    "straight, d from the centre, cuts the arc, or asin(t / R) at a place t along the straight "
    "from where it is nearest to the centre",
    source="derived; near tangency the angle goes with the root of the step, and u is that of a "
    "step of one u",
    unit="deg",
)
def tangency(given: Given) -> Outcome:
    """Angle at which an arc runs into a straight, deg; 0 is smooth."""
    (found, arc, straight), metal = _blend(given), _metal(given)
    detail = _detail(found, arc, metal)
    if "place_mm" in given.parameters:
        place, slide = given.number("place_mm"), 0 if given.slides.along == "X" else 1
        value = found.angle_at(place, slide)
        per_um = over_points(lambda a, s: blend(a, s).angle_at(place, slide), arc, straight) / 1000
        per_place = math.degrees(1e-3 / found.circle.radius_mm) / math.cos(math.radians(value))
        where = given.component("place of the blend", "corner", sensitivity=per_place)
        rows = (*_sighted(given, found, _stated(per_um)), where)
        return Outcome((value,), Budget(rows, "deg"), detail=detail)
    radius = found.circle.radius_mm

    def cosine(arc_points: Points, straight_points: Points) -> float:
        each = blend(arc_points, straight_points)
        return each.distance_mm / each.circle.radius_mm

    per_step = radius * over_points(cosine, arc, straight)
    u_um = Budget(tuple(_sighted(given, found, per_step))).u
    per_um = _by_step(found, u_um) * per_step
    refusals: tuple[str, ...] = ()
    if found.outside_mm >= 0:
        apart = f"arc and straight don't meet, {found.outside_mm * 1000:.1f} µm lie between them"
        refusals = (f"{apart}: judge the step, or state the place of the blend",)
    rows = tuple(_sighted(given, found, _stated(per_um)))
    return Outcome((found.meeting_deg,), Budget(rows, "deg"), refusals, detail)


def _stated(sensitivity: float) -> float:
    """A sensitivity in deg for each um, to three figures."""
    return float(f"{sensitivity:.3g}")


def _by_step(found: Blend, u_um: float) -> float:
    """Change of the meeting angle for a change of the step, deg for each um, over one u to both
    sides: the slope itself has no end where the two are tangent."""
    if u_um <= 0:
        return 0.0
    radius, outside, u = found.circle.radius_mm, found.outside_mm, u_um / 1000
    wide = meeting_angle(outside - u, radius) - meeting_angle(outside + u, radius)
    return wide / (2 * u_um)


@method(
    "corner radius between two straights",
    roles=(
        ARC,
        Role("side", Reads.POINT, "points along the periphery", least=2),
        Role("end", Reads.POINT, "points along the end", least=2),
        RADIUS_MASTER,
    ),
    asks=(_FORM,),
    plane="image plane",
    assumes="the radius runs smoothly into both straights",
    refuses=("a form of more than half the tolerance: no smooth corner",),
    formula="least squares of the arc's points for the radius alone, its centre held a radius away "
    "from the least-squares lines of periphery and end",
    source="derived; the free circle's steps to both lines stand beside it, if they aren't smooth",
)
@to_20()
def corner_radius(given: Given) -> Outcome:
    """Corner radius that runs smoothly into periphery and end, mm."""
    arc, side, end = (points_of(given.series[name]) for name in ("arc", "side", "end"))
    found, metal = corner(arc, side, end), _metal(given)
    sensitivity = stated(over_points(lambda *g: corner(*g).radius_mm, arc, side, end))
    rows = (
        given.component(
            f"crosshair, {len(arc)} points, {len(side)} and {len(end)} along the straights",
            "crosshair",
            sensitivity=sensitivity,
        ),
        step(given.series["arc"].instrument, "readout step", sensitivity=sensitivity),
        *edge_rows(given),
    )
    form = max(found.residuals_mm) - min(found.residuals_mm)
    refusals: tuple[str, ...] = ()
    if given.width is not None and form > given.width / 2:
        refusals = (
            f"form {form * 1000:.1f} µm is more than half of the tolerance: no smooth corner",
        )
    free = fitting.circle(arc)
    detail: dict[str, float | tuple[float, ...]] = {
        "centre_x_mm": found.centre[0],
        "centre_z_mm": found.centre[1],
        "radius_mm": found.radius_mm,
        "form_um": form * 1000,
        "between_deg": found.between_deg,
        "span_deg": fitting.span_deg(arc, *found.centre),
        "deviations_mm": tuple(metal * r for r in found.residuals_mm),
        **round_centre(found.centre, arc),
        "free_radius_mm": free.radius_mm,
        "step_side_um": metal * blend(arc, side).outside_mm * 1000,
        "step_end_um": metal * blend(arc, end).outside_mm * 1000,
    }
    return Outcome((found.radius_mm,), Budget(rows, "um"), refusals, detail)
