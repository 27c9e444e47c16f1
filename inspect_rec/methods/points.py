"""Points and flanks in a view along the tool: lips turned out of the image plane, lip heights,
legs on both sides, back taper."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from statistics import fmean

from inspect_rec.compute import geometry, points
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import InputError
from inspect_rec.methods.angles import LIPS
from inspect_rec.methods.base import Given, Outcome, Series
from inspect_rec.methods.quantities import Quantity, setting, sighted, worked_out
from inspect_rec.methods.register import Asks, Reads, Role, method, newer
from inspect_rec.methods.widths import AXIS, GREATER, SIDES, SMALLER

TURNED = Asks(
    "turned_deg", "how far each lip is turned out of the image plane, lip 1 first", many=True
)


def ends(series: Series, given: Given) -> tuple[float, float, float, float]:
    """Both points of an edge: place on the radial slide and along the tool, mm, twice."""
    if len(series.marks) != 2:
        raise InputError("an edge needs two points", expected="2", found=str(len(series.marks)))
    first, second = series.marks
    radial, along = given.slides.radial, given.slides.along
    return (
        series.mean(first, radial),
        series.mean(first, along),
        series.mean(second, radial),
        series.mean(second, along),
    )


def _of_flutes(series: Series, least: int, what: str) -> list[Series]:
    found = [series.of_flute(n) for n in series.flutes]
    if len(found) < least:
        raise InputError(f"{what} needs {least} lips", expected=str(least), found=str(len(found)))
    return found


def squareness(given: Given) -> Quantity:
    """How far the two slides are from square, 0 deg."""
    return setting(given, "squareness of the slides", "squareness", 0.0, "deg")


def _half_angle(lip: tuple[float, ...], turned: float, off: float) -> float:
    """Angle of a lip against the axis, deg, its turn out of the image plane taken back; ``off``,
    what the slides lack in squareness, opens a lip on one side of the axis and closes it on the
    other."""
    x1, z1, x2, z2 = lip
    way = math.copysign(1.0, (x2 - x1) * (z2 - z1))
    view = math.degrees(math.atan2(abs(x2 - x1), abs(z2 - z1))) + way * off
    return geometry.edge_out_of_plane(view, turned)


def _turned_lips(
    given: Given, of_two: Callable[[float, float], float]
) -> tuple[float, Budget, tuple[float, ...]]:
    lips = _of_flutes(given.series["lips"], 2, "a point angle")
    turns = given.numbers("turned_deg")
    if len(lips) != 2 or len(turns) != 2:
        raise InputError(
            "a point angle needs two lips and the turn of each",
            expected="2 and 2",
            found=f"{len(lips)} and {len(turns)}",
        )

    def model(*figures: float) -> float:
        one, two, off = figures[8:]
        return of_two(_half_angle(figures[:4], one, off), _half_angle(figures[4:8], two, off))

    names = [f"lip {n}" for n in given.series["lips"].flutes]
    value, budget = worked_out(
        model,
        *(
            sighted(given, lip, name, *ends(lip, given))
            for lip, name in zip(lips, names, strict=True)
        ),
        *(
            setting(given, f"turn of {name}", "turn of the lip", turned, "deg")
            for name, turned in zip(names, turns, strict=True)
        ),
        squareness(given),
        unit="deg",
    )
    halves = [
        _half_angle(ends(lip, given), turned, 0.0) for lip, turned in zip(lips, turns, strict=True)
    ]
    return value, budget, tuple(halves)


@method(
    "point angle from turned lips",
    roles=(LIPS,),
    asks=(TURNED,),
    plane="axial: each lip's turn out of the image plane is taken back",
    refuses=("other than two lips",),
    formula="sum of the two half angles, tan k = tan k_view / cos e, with the view's angle from "
    "two points of each lip and its turn e out of the image plane",
    source="derived",
    unit="deg",
    over_flutes=True,
)
def turned_point_angle(given: Given) -> Outcome:
    """Included angle of a drill point whose lips stand out of the image plane, deg."""
    value, budget, halves = _turned_lips(given, lambda one, two: one + two)
    return Outcome((value,), budget, detail={"half_angles_deg": halves})


@method(
    "lip symmetry from turned lips",
    roles=(LIPS,),
    asks=(TURNED,),
    plane="axial: each lip's turn out of the image plane is taken back",
    refuses=("other than two lips",),
    formula="difference of the two half angles, without sign; tan k = tan k_view / cos e, with "
    "the view's angle from two points of each lip and its turn e out of the image plane",
    source="derived",
    unit="deg",
    over_flutes=True,
)
def turned_lip_symmetry(given: Given) -> Outcome:
    """Difference of the half angles of lips that stand out of the image plane, deg."""
    value, budget, halves = _turned_lips(given, lambda one, two: one - two)
    return Outcome((abs(value),), budget, detail={"half_angles_deg": halves})


def axis_of(given: Given) -> Quantity:
    """Both sides of the pin or shank whose middle is the axis, mm."""
    axis, channel = given.series["axis"], given.slides.radial
    both = sighted(given, axis, "the axis", *(axis.mean(side, channel) for side in SIDES))

    def rows(slope: float) -> list[Component]:
        # The slope is that of two sides, each of which moves the middle by half.
        middle = slope * math.sqrt(2) / 1000
        clamping = given.component("axis: clamping", "clamping", sensitivity=middle)
        return [*both.rows(slope), clamping]

    return Quantity(both.values, rows)


@method(
    "lip height difference from the lips",
    roles=(LIPS, AXIS),
    asks=(Asks("at_radius_mm", "distance from the axis at which the lips are compared"),),
    plane="along the axis, at the stated radius",
    assumes="each lip is straight between its two points",
    refuses=("the stated radius lies outside the two points of a lip", "fewer than two lips"),
    formula="largest less smallest height of the lips at one distance from the axis, each on the "
    "line through its two points",
    source="derived; where the lips are sighted on one side, the place of the axis cancels as far "
    "as they are alike",
    over_flutes=True,
)
def lip_heights(given: Given) -> Outcome:
    """Difference of the heights of the lips at one distance from the axis, mm."""
    lips = _of_flutes(given.series["lips"], 2, "a height difference")
    at, tip = given.number("at_radius_mm"), given.slides.tip
    axis = axis_of(given)
    middle = fmean(axis.values)

    def height(lip: tuple[float, ...], axis_mm: float, off_deg: float) -> float:
        x1, z1, x2, z2 = lip
        lean = math.tan(math.radians(off_deg))
        r1, r2 = abs(x1 - axis_mm), abs(x2 - axis_mm)
        up1, up2 = (tip * z + lean * (x - axis_mm) for x, z in ((x1, z1), (x2, z2)))
        return points.height_at(at, r1, up1, r2, up2)

    sightings = [ends(lip, given) for lip in lips]
    heights = [height(each, middle, 0.0) for each in sightings]
    low, *_, high = sorted(range(len(heights)), key=heights.__getitem__)

    def model(*figures: float) -> float:
        greater, smaller, off = figures[8:]
        axis_mm = (greater + smaller) / 2
        return height(figures[:4], axis_mm, off) - height(figures[4:8], axis_mm, off)

    value, budget = worked_out(
        model,
        sighted(given, lips[high], "the highest lip", *sightings[high]),
        sighted(given, lips[low], "the lowest lip", *sightings[low]),
        axis,
        squareness(given),
        unit="um",
    )
    float_row = given.component("axial float while indexing", "axial float")
    outside = [
        f"lip {n} was not sighted on both sides of radius {at:g} mm"
        for n, (x1, _, x2, _) in zip(given.series["lips"].flutes, sightings, strict=True)
        if not min(abs(x1 - middle), abs(x2 - middle)) <= at
        or not at <= max(abs(x1 - middle), abs(x2 - middle))
    ]
    rows = (*budget.components, float_row)
    return Outcome(
        (value,),
        Budget(rows, "um"),
        tuple(outside),
        {"places_mm": tuple(heights), "axis_mm": middle},
    )


@newer(
    "lip height difference from the lips",
    2,
    assumes="each lip is straight between its two points; one out of the image plane shows them "
    "nearer to the axis than they are",
    since="had no row for a lip out of the image plane: on a simulated machine its U held 81 of "
    "100 values instead of 95",
)
def lip_heights_turned(given: Given) -> Outcome:
    """Difference of the heights of the lips at one distance from the axis, mm."""
    found = lip_heights(given)
    lips, at = given.series["lips"], given.number("at_radius_mm")
    turned = given.component("", "lip out of the image plane", unit="deg")
    falls = [_fall(ends(lips.of_flute(n), given)) for n in lips.flutes]
    further = at * (1 / math.cos(math.radians(turned.amount)) - 1)
    row = replace(
        turned,
        name=f"lip up to {turned.amount:g} deg out of the image plane",
        amount=max(falls) * further * 1000,
        distribution=Distribution.ONE_SIDED,
        ends=2,
        unit="um",
    )
    return replace(found, budget=Budget((*found.budget.components, row), "um"))


def _fall(lip: tuple[float, float, float, float]) -> float:
    """How far a lip falls for 1 mm across."""
    x1, z1, x2, z2 = lip
    return abs((z2 - z1) / (x2 - x1))


@method(
    "included angle from legs on both sides",
    roles=(
        Role(
            GREATER,
            Reads.POINT,
            "two points of the leg where the radial slide shows more, far apart",
            least=2,
        ),
        Role(SMALLER, Reads.POINT, "two points of the leg where it shows less", least=2),
    ),
    plane="axial, included",
    assumes="both legs are sighted without turning the tool, their edges in the image plane",
    refuses=("a leg has other than two points", "the legs don't open away from the tip"),
    formula="sum of the angles of both legs against the axis, each from two of its points; what "
    "the slides lack in squareness, and a tool that leans, cancel in the sum",
    source="derived",
    unit="deg",
)
def included(given: Given) -> Outcome:
    """Included angle of a countersink or step from two points of each of its sides, deg."""
    away = -given.slides.tip

    def leg(side: int, figures: tuple[float, ...], off_deg: float) -> float:
        x1, z1, x2, z2 = figures
        along = away * (z2 - z1)
        across = x2 - x1 + math.tan(math.radians(off_deg)) * along
        return points.opening(side * across, along)

    def model(*figures: float) -> float:
        off = figures[8]
        return leg(1, figures[:4], off) + leg(-1, figures[4:8], off)

    greater, smaller = given.series[GREATER], given.series[SMALLER]
    value, budget = worked_out(
        model,
        sighted(given, greater, "the leg at greater", *ends(greater, given)),
        sighted(given, smaller, "the leg at smaller", *ends(smaller, given)),
        squareness(given),
        unit="deg",
    )
    halves = (leg(1, ends(greater, given), 0.0), leg(-1, ends(smaller, given), 0.0))
    closed = ("the legs don't open away from the tip",) if min(halves) <= 0 else ()
    plane = given.component("image plane", "image plane", ends=2, unit="deg")
    rows = (*budget.components, plane)
    return Outcome((value,), Budget(rows, "deg"), closed, {"half_angles_deg": halves})


def _margins_turned(given: Given, sizes_mm: tuple[float, float], per_mm: float) -> Component:
    """Margins turned off their largest reading make a diameter read short, never long."""
    angle = given.component("", "edge out of the axial plane", unit="deg")
    short = max(geometry.off_maximum(size / 2, angle.amount) * 2 for size in sizes_mm)
    return Component(
        name=f"margins {angle.amount:g}° off their largest reading",
        amount=short * 1000,
        distribution=Distribution.ONE_SIDED,
        sensitivity=per_mm,
        ends=2,
        dof=angle.dof,
        assumed=angle.assumed,
        note=angle.note,
        study=angle.study,
    )


@method(
    "back taper from two diameters",
    roles=(
        Role("front", Reads.POINT, "both margins behind the corners", SIDES),
        Role("back", Reads.POINT, "both margins near the shank", SIDES),
    ),
    plane="square to the axis, on 100 mm along it",
    assumes="both diameters are sighted in the same light, which cancels in their difference",
    refuses=("both diameters at one place along the tool",),
    formula="(diameter in front - diameter at the back) x 100 mm / distance along the tool; above "
    "0 where the tool gets smaller toward the shank",
    source="derived",
)
def back_taper(given: Given) -> Outcome:
    """How much smaller the diameter gets toward the shank, mm on 100 mm."""
    front, back = given.series["front"], given.series["back"]
    radial, along = given.slides.radial, given.slides.along

    def sides(series: Series) -> tuple[float, ...]:
        return tuple(series.mean(side, channel) for channel in (radial, along) for side in SIDES)

    def size(figures: tuple[float, ...]) -> float:
        return figures[0] - figures[1]

    def model(*figures: float) -> float:
        one, two = figures[:4], figures[4:]
        apart = fmean(one[2:]) - fmean(two[2:])
        return points.back_taper(size(one), size(two), given.slides.tip * apart)

    both = sides(front), sides(back)
    value, budget = worked_out(
        model,
        sighted(given, front, "the diameter in front", *both[0]),
        sighted(given, back, "the diameter at the back", *both[1]),
        unit="um",
    )
    distance = given.slides.tip * (fmean(both[0][2:]) - fmean(both[1][2:]))
    per_mm = 100 / distance
    sizes = size(both[0]), size(both[1])
    rows = (
        *budget.components,
        given.component(
            "scale, left over between the two", "scale against a master", sensitivity=per_mm
        ),
        given.component("backlash left over", "backlash", sensitivity=per_mm, ends=2),
        _margins_turned(given, sizes, per_mm),
    )
    return Outcome(
        (value,),
        Budget(rows, "um"),
        detail={"diameters_mm": sizes, "distance_mm": distance},
    )
