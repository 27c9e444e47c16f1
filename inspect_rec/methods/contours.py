"""Profiles against a contour of lines and arcs that the plan states, and lengths on a screen."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from statistics import fmean

from inspect_rec.compute import chain
from inspect_rec.compute.reach import length
from inspect_rec.compute.uncertainty import Budget, Component
from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.arcs import Points, grown, points_of
from inspect_rec.methods.base import Given, Outcome, Series, calibration, step
from inspect_rec.methods.register import Asks, Reads, Role, asked_where, method, where
from inspect_rec.methods.thermal import CORRECTION, factor, lacking, thermal_rows
from inspect_rec.methods.widths import AXIS, axis_row, middle_mm

FORM = "from X Z, then: line X Z | arc X Z R convex | arc X Z R concave"
"""How a contour is stated: where it starts, and for each element where it ends."""

FURTHEST_BEYOND_MM = 0.1
"""A point further past the end of the contour has nothing that it could be held against."""

_NUMBER = r"([+-]?[0-9]+(?:\.[0-9]+)?)"
_FROM = re.compile(rf"from {_NUMBER} {_NUMBER}")
_LINE = re.compile(rf"line {_NUMBER} {_NUMBER}")
_ARC = re.compile(rf"arc {_NUMBER} {_NUMBER} {_NUMBER} (convex|concave)")


def contour_of(texts: Sequence[str]) -> tuple[chain.Link, ...]:
    """The contour that is stated, in its own coordinates; InputError says which text isn't
    written as ``FORM``, or what is no element."""
    if len(texts) < 2:
        raise InputError("a contour has a start and an element", expected=FORM, found=str(texts))
    start = _FROM.fullmatch(texts[0])
    if not start:
        raise _unread(1, texts[0], "from X Z")
    at = float(start[1]), float(start[2])
    links = []
    for n, text in enumerate(texts[1:], 2):
        found = _LINE.fullmatch(text) or _ARC.fullmatch(text)
        if not found:
            raise _unread(n, text, "line X Z | arc X Z R convex | arc X Z R concave")
        end = float(found[1]), float(found[2])
        try:
            if found.re is _LINE:
                links.append(chain.line(at, end))
            else:
                links.append(chain.arc(at, end, float(found[3]), convex=found[4] == "convex"))
        except ComputeError as error:
            raise InputError(f"element {n} ({text}): {error}") from error
        at = end
    return tuple(links)


def _unread(number: int, text: str, expected: str) -> InputError:
    return InputError(f"element {number} of the contour", expected=expected, found=repr(text))


_FREEDOMS = ("X", "Z", "rotation", "none")
BELONGS = (
    "an arc is at most half a turn; a point belongs to the element that is nearest to it, at a "
    "joint to the one that it is further off"
)


def _turns_only(parameters: Mapping[str, object]) -> bool:
    """Whether a contour may turn and not shift, so that it needs a pivot."""
    free = parameters.get("freedoms")
    return isinstance(free, tuple) and "rotation" in free and not {"X", "Z"} <= set(free)


_PIVOT = "about which it may turn, where it may not shift"
_OPTIONAL = (
    asked_where(where("origin_z_mm"), "origin_x_mm", "slide X where the contour has its zero"),
    asked_where(where("origin_x_mm"), "origin_z_mm", "slide Z where the contour has its zero"),
    asked_where(_turns_only, "pivot_x_mm", f"slide X {_PIVOT}"),
    asked_where(_turns_only, "pivot_z_mm", f"slide Z {_PIVOT}"),
    asked_where(
        where("outer_radius_mm"), "rake_deg", "rake of the face in which the points are sighted"
    ),
    asked_where(
        where("rake_deg"), "outer_radius_mm", "radius of the outermost point, where that rake is"
    ),
)


def _pair(given: Given, first: str, second: str) -> tuple[float, float] | None:
    """Two parameters that are stated together or not at all."""
    stated = [name for name in (first, second) if name in given.parameters]
    if len(stated) == 1:
        raise InputError(
            f"{stated[0]} alone says nothing", expected=f"{first} and {second}", found=stated[0]
        )
    return (given.number(first), given.number(second)) if stated else None


def _freedoms(given: Given) -> tuple[str, ...]:
    stated = given.parameters.get("freedoms")
    if isinstance(stated, tuple) and stated and set(stated) <= set(_FREEDOMS):
        free = tuple(str(f) for f in stated if f != "none")
        if not free or "none" not in stated:
            return free
    raise InputError(
        "the method needs declared freedoms",
        expected='freedoms of "X", "Z", "rotation", or ["none"]',
        found=str(stated or "nothing"),
    )


def _pivot(given: Given, free: Sequence[str], points: Points) -> tuple[float, float]:
    stated = _pair(given, "pivot_x_mm", "pivot_z_mm")
    if stated is not None:
        return stated
    if "rotation" in free and not {"X", "Z"} <= set(free):
        raise InputError(
            "a contour that may turn and not shift turns about a pivot",
            do="State pivot_x_mm and pivot_z_mm, or let it shift in X and Z",
        )
    # Where it may shift, the pivot is of no consequence: the middle keeps the shift small.
    return fmean(x for x, _ in points), fmean(z for _, z in points)


def out_of_face(points: Points, axis_mm: float, sine_mm: float, at: int, outward: int) -> Points:
    """Points sighted in a face with rake g, as they lie in an axial plane: a place y from the axis
    in the face has the radius sqrt(y^2 + (r sin g)^2), r the outer radius (derived). ``at`` is
    the coordinate of the radial slide, ``sine_mm`` is r sin g."""
    found = []
    for point in points:
        y = outward * (point[at] - axis_mm)
        if y <= 0:
            raise InputError("a point of the face lies beyond the axis", found=f"{y:.4f} mm")
        radial = axis_mm + outward * math.hypot(y, sine_mm)
        found.append((radial, point[1]) if at == 0 else (point[0], radial))
    return found


class _Profile:
    """A profile with everything that decides its deviations, so that one may be changed."""

    def __init__(self, given: Given) -> None:
        self.given = given
        texts = given.parameters.get("elements")
        if not isinstance(texts, tuple) or not all(isinstance(t, str) for t in texts):
            raise InputError("the method needs a contour", expected=f"elements = [{FORM}]")
        self.links = contour_of([str(t) for t in texts])
        self.origin = _pair(given, "origin_x_mm", "origin_z_mm") or (0.0, 0.0)
        self.free = _freedoms(given)
        self.sighted = points_of(given.series["points"])
        self.pivot = _pivot(given, self.free, self.sighted)
        self.rake = _pair(given, "rake_deg", "outer_radius_mm")
        self.axis_mm = 0.0
        if self.rake is not None:
            length(self.rake[1], "outer radius")
            if "axis" not in given.series:
                raise InputError(
                    "points in a face with rake need the axis",
                    do="Name a feature for axis: both sides of an arbor or shank",
                )
            self.axis_mm = middle_mm(given.series["axis"], given.slides.radial)

    def fitted(
        self, *, more_rake: float = 0.0, more_axis: float = 0.0, more_size: float = 0.0
    ) -> chain.ChainFit:
        """The best fit at 20 degC, where that is asked for, with the rake (deg), the axis (mm) or
        the size (as a share) changed by so much."""
        slides, by = self.given.slides, factor(self.given) + more_size
        points = grown(self.sighted, self.origin, by)
        if self.rake is not None:
            rake, outer = self.rake
            sine = outer * math.sin(math.radians(rake + more_rake))
            at = 0 if slides.radial == "X" else 1
            axis_mm = grown([(self.axis_mm, self.axis_mm)], self.origin, by)[0][at]
            points = out_of_face(points, axis_mm + more_axis, sine, at, slides.outward)
        # In the contour's own coordinates.
        ox, oz = self.origin
        moved = [(x - ox, z - oz) for x, z in points]
        pivot = self.pivot[0] - ox, self.pivot[1] - oz
        return chain.fit_chain(moved, self.links, self.free, pivot)

    def largest_change(self, **more: float) -> float:
        """Largest change of a deviation, mm, for one of what is changed: by difference."""
        low = self.fitted(**{name: -by for name, by in more.items()}).fit.deviations_mm
        high = self.fitted(**more).fit.deviations_mm
        (by,) = more.values()
        return max(abs(b - a) for a, b in zip(low, high, strict=True)) / (2 * by)

    def thermal_rows(self) -> list[Component]:
        """What the correction to 20 degC adds; nothing where there is none."""
        if self.given.thermal is None:
            return []
        return thermal_rows(self.given, self.largest_change(more_size=1e-4))

    def correction_um(self) -> dict[str, float]:
        """What the correction to 20 degC added to the highest deviation."""
        if self.given.thermal is None or lacking(self.given):
            return {}
        raw = self.fitted(more_size=1 - factor(self.given))
        return {CORRECTION: (self.fitted().fit.highest_mm - raw.fit.highest_mm) * 1000}

    def face_rows(self) -> list[Component]:
        """What rake and axis add, where points are sighted in a face with rake."""
        if self.rake is None:
            return []
        per_degree = self.largest_change(more_rake=0.01) * 1000
        rake = self.given.component(
            "rake of the face, where it changes most",
            "rake of the face",
            sensitivity=per_degree,
            unit="deg",
        )
        return [rake, axis_row(self.given, self.largest_change(more_axis=1e-3), common=True)]


@method(
    "profile, contour",
    roles=(
        Role("points", Reads.POINT, "points spread along the whole contour", least=3),
        replace(AXIS, needed=False, needed_where=where("rake_deg")),
    ),
    asks=(
        Asks(
            "elements",
            "the contour, the body on the right hand of its way (X to the right, Z up)",
            many=True,
            form=FORM,
            reads=contour_of,
        ),
        Asks("freedoms", "what the best fit may move", words=_FREEDOMS, many=True),
        *_OPTIONAL,
    ),
    plane="image plane, square to the nominal contour; of a face with rake, the axial plane",
    assumes=BELONGS,
    refuses=(
        "freedoms that aren't declared",
        f"a point more than {FURTHEST_BEYOND_MM} mm past the end of the contour",
    ),
    formula="distance square to the element to which each point belongs, after a best fit that "
    "sets free only what the plan declares and is repeated until every point keeps its element; "
    "plus = metal left; of a face with rake g the radius is sqrt(y^2 + r^2 sin^2 g)",
    source="derived: least squares of normal distances",
)
def contour(given: Given) -> Outcome:
    """Lowest and highest deviation of a profile from a contour of lines and arcs, mm."""
    profile = _Profile(given)
    found = profile.fitted()
    fit = found.fit
    rows = (
        given.component("crosshair, one point", "crosshair"),
        step(given.series["points"].instrument, "readout step"),
        given.component("scale", "scale"),
        given.component("edge", "edge"),
        *profile.face_rows(),
        *profile.thermal_rows(),
    )
    refusals = lacking(given)
    if found.beyond_mm > FURTHEST_BEYOND_MM:
        refusals = (
            *refusals,
            f"a point lies {found.beyond_mm:.2f} mm past the end of the contour",
        )
    detail: dict[str, float | tuple[float, ...]] = {
        "deviations_mm": fit.deviations_mm,
        "elements": tuple(float(n + 1) for n in found.belongs),
        "along_mm": chain.along(found, profile.links),
        "normals_deg": chain.normals(found, profile.links),
        "shift_x_um": fit.shift_x_mm * 1000,
        "shift_z_um": fit.shift_z_mm * 1000,
        "rotation_deg": fit.rotation_deg,
        "rms_um": fit.rms_mm * 1000,
        "beyond_mm": found.beyond_mm,
        **profile.correction_um(),
    }
    return Outcome((fit.lowest_mm, fit.highest_mm), Budget(rows, "um"), refusals, detail)


def _read(series: Series) -> float:
    return fmean(t[series.channel] for t in series.taken)


@method(
    "length on the screen",
    roles=(
        Role("length", Reads.LENGTH, "the length as it appears on the screen"),
        Role("graticule", Reads.LENGTH, "a graticule as it appears there", master=True),
    ),
    plane="image plane",
    assumes="tool and graticule are sharp, in the same field, at the same focus",
    refuses=("no graticule with a value",),
    formula="length on the screen over the magnification, which is that of the graticule on the "
    "screen over its own length",
    source="common practice; the slides are the better way where they reach",
)
def screen(given: Given) -> Outcome:
    """A length from its picture on the screen, mm."""
    length_, graticule = given.series["length"], given.series["graticule"]
    master = graticule.master
    if master is None or master.value is None:
        raise InputError(
            f"the feature {graticule.feature!r} has no master with a value",
            do="Name the graticule as its master, with its length in mm",
        )
    shown, known = _read(length_), _read(graticule)
    length(known, "graticule on the screen")
    length(master.value, "graticule")
    magnification = known / master.value
    value = shown / magnification
    per_um, per_known = 1 / magnification, -value / known
    rows = (
        *_laid(given, length_, "the tool", per_um),
        *_laid(given, graticule, "the graticule", per_known),
        given.component("defocus, edge of the field", "field of the screen", sensitivity=per_um),
        calibration(master, "graticule, calibration", sensitivity=value / master.value),
    )
    return Outcome((value,), Budget(rows, "um"), detail={"magnification": magnification})


def _laid(given: Given, series: Series, what: str, per_um: float) -> list[Component]:
    """What a reading on the screen scatters: laid up anew, and its rule's step at both ends."""
    laid = given.component(
        f"laying-up on {what}",
        "laying-up on the screen",
        sensitivity=per_um,
        averaged=len(series.taken),
    )
    return [laid, step(series.instrument, f"step of the rule, {what}", sensitivity=per_um, ends=2)]
