"""Points of the edges on nominal forms: radii on arcs, profiles on arcs and contours.

A form is drawn where the outcome of a method holds its points: ``distances_mm`` and ``angles_deg``
round a centre, or ``along_mm`` and ``deviations_mm`` along a contour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from inspect_rec.compute.chain import Link
from inspect_rec.compute.contour import Straight as Line
from inspect_rec.inspection import Inspection, Result
from inspect_rec.methods.contours import contour_of
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures
from inspect_rec.report.profile_arcs import (
    FORM,
    HELD,
    PROFILE,
    OfForm,
    OfProfile,
    OfRadius,
    OfSwing,
    nominal_of,
)
from inspect_rec.report.profile_content import Form, Profiles, Round, Straight
from inspect_rec.report.profile_drawn import Drawn, fitted, places_of, several
from report_templates.wording import Words


def of(inspection: Inspection, numbers: dict[str, int], w: Words) -> tuple[Profiles, ...]:
    """A drawing of every characteristic whose points lie round an arc or along a contour."""
    found = []
    for c in inspection.job.characteristic:
        results = [r for r in inspection.results if r.characteristic.id == c.id and places_of(r)]
        about = _about(c, results, inspection) if results else None
        if about is not None:
            found.append(about.said(numbers[c.id], w))
    return tuple(found)


def _about(c: Characteristic, results: Sequence[Result], inspection: Inspection) -> Drawn | None:
    name = results[0].method.name
    if "along_mm" in results[0].outcome.detail:
        return _Contour(c, results, inspection)
    if name in HELD:
        drawn = OfRadius if "distances_mm" in results[0].outcome.detail else OfSwing
        return drawn(c, results, inspection) if nominal_of(c) is not None else None
    found = {FORM: OfForm, PROFILE: OfProfile}.get(name)
    return found(c, results, inspection) if found else None


class _Contour(Drawn):
    """Deviations square to a contour of lines and arcs, after the declared best fit."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        super().__init__(c, results, inspection)
        texts = c.parameters.get("elements")
        self.links = contour_of([str(t) for t in texts] if isinstance(texts, tuple) else [])

    def on(self, r: Result) -> tuple[int, ...]:
        """The element to which each point belongs, in their order along the contour."""
        return tuple(round(n) - 1 for n in sorted(several(r, "elements")))

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Lengths along the contour, mm, and deviations, um, in the order of ``on``."""
        own, along = several(r, "elements"), several(r, "along_mm")
        order = sorted(zip(own, along, several(r, "deviations_mm"), strict=True))
        return [(s, d * 1000) for _, s, d in order]

    def said(self, number: int, w: Words) -> Profiles:
        """The drawing."""
        pieces, ends = [], [0.0]
        for link in self.links:
            ends.append(ends[-1] + link.length_mm)
            pieces.append(_piece(link, ends[-2], ends[-1]))
        ticks = tuple((s, figures.figure(f"{s:.1f}" if s else "0", w)) for s in ends)
        form = Form(tuple(pieces), -1, ticks, ("X", "Z"))
        lines = sum(isinstance(link.element, Line) for link in self.links)
        subtitle = w["form.contour_sub"].format(
            lines=lines,
            arcs=len(self.links) - lines,
            long=figures.figure(f"{ends[-1]:.2f}", w),
            zone=self.zone(w),
            fitted=fitted(self.c, w),
        )
        return self.profiles(number, w, subtitle, "contour_caption", form)


def _piece(link: Link, first: float, last: float) -> Straight | Round:
    """An element of a contour, for drawing."""
    element = link.element
    if isinstance(element, Line):
        return Straight(first, last, link.start, link.end)
    (x, z), plus = element.centre, 1 if element.convex else -1
    begin = math.degrees(math.atan2(link.start[1] - z, link.start[0] - x))
    by = math.degrees(link.length_mm / element.radius_mm)
    return Round(first, last, (x, z), element.radius_mm, begin, begin - plus * by, plus)
