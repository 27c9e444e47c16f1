"""Points round arcs: radii and forms about their own circle, profiles after a best fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from statistics import fmean

from inspect_rec.inspection import Inspection, Result
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures
from inspect_rec.report.profile_content import Form, Profiles, Round
from inspect_rec.report.profile_drawn import Drawn, fitted, several, single
from inspect_rec.report.resulting import value_text
from report_templates.wording import Words

HELD = {
    "arc, centre on the axis": "on_axis",
    "arc, free centre": "free",
    "arc, centre held": "pivot",
    "radius from chord and rise": "three",
    "arc, two opposite flutes": "flutes",
    "corner radius between two straights": "corner",
    "radius by swing test": "swing",
    "radius by swing test, crosshair": "swing",
}
"""Methods of a radius, and the word for where the centre is that its points are measured from."""
FORM, PROFILE = "form of an arc", "profile, radius held"

_BEYOND_DEG = 3.0
"""How far an arc is drawn beyond its points, at most."""
_FROM_TIP_DEG = 100.0
"""A convex arc that reaches no further round has its angles from the tip."""
_STEPS_DEG = (1, 2, 5, 10, 15, 30, 45)
_MOST_TICKS = 7


def nominal_of(c: Characteristic) -> Decimal | None:
    """What the deviations of a radius are counted from: where no nominal is stated the middle of
    its limits, or the one limit."""
    if c.nominal:
        return c.nominal
    limits = [x for x in (c.lower, c.upper) if x is not None]
    return sum(limits, Decimal(0)) / len(limits) if limits else None


def turned(angle: float) -> float:
    """The same angle within half a turn, deg."""
    return (angle + 180) % 360 - 180


class Arc(Drawn):
    """Points round an arc, by their angles."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        super().__init__(c, results, inspection)
        set_up = inspection.record.set_up
        self.tip = (0 if set_up.along == "X" else 90) + (0 if set_up.tip == "+" else 180)
        self.side = (0 if set_up.radial == "X" else 90) + (0 if set_up.outward == "+" else 180)
        self.convex = self._convex()
        angles = [a for r in results for a in self.from_tip(r)]
        self.by_tip = self.convex == 1 and max(map(abs, angles)) <= _FROM_TIP_DEG

    def _convex(self) -> int:
        """Whether the metal lies on the side of the centre (1) or beyond the arc (-1); 0 where
        that can't be told. An arc that looks away from the axis, or toward the tip, is convex; one
        whose centre lies on the axis has both sides, and only the tip tells."""
        stated = {"convex": 1, "concave": -1}.get(str(self.c.parameters.get("form")))
        if stated is not None:
            return stated
        angles = [math.radians(a) for r in self.results for a in several(r, "angles_deg")]
        on_axis = any(role.name == "axis" for role in self.results[0].method.roles)
        for way in map(math.radians, (self.tip,) if on_axis else (self.side, self.tip)):
            looks = fmean(math.cos(a - way) for a in angles)
            if abs(looks) > 0.1:
                return 1 if looks > 0 else -1
        return 0

    def from_tip(self, r: Result) -> tuple[float, ...]:
        """Angles of the points from the tip toward the side, deg; on the other side negative, but
        for an edge that was sighted on that side alone."""
        way = 1 if turned(self.side - self.tip) > 0 else -1
        found = tuple(way * turned(a - self.tip) for a in several(r, "angles_deg"))
        one_sided = max(found) < min(20.0, -min(found))
        return tuple(-a for a in found) if one_sided else found

    def from_middle(self, r: Result) -> tuple[float, ...]:
        """Angles of the points from the slide's direction nearest the middle of the first edge's,
        deg; to the right positive."""
        first = [math.radians(a) for a in several(self.results[0], "angles_deg")]
        x, z = fmean(map(math.cos, first)), fmean(map(math.sin, first))
        middle = 90 * round(math.degrees(math.atan2(z, x)) / 90)
        return tuple(turned(middle - a) for a in several(r, "angles_deg"))

    def angles(self, r: Result) -> tuple[float, ...]:
        """Angles of the points as they are drawn, deg."""
        return self.from_tip(r) if self.by_tip else self.from_middle(r)

    def form(self, radius: float, plus: int, metal: int, w: Words) -> Form:
        """The nominal arc with its ticks, 0° upward."""
        angles = [a for r in self.results for a in self.angles(r)]
        low, high = min(angles), max(angles)
        beyond = min(_BEYOND_DEG, 0.06 * (high - low)) or _BEYOND_DEG
        low, high = low - beyond, high + beyond
        arc = Round(low, high, (0.0, 0.0), radius, 90 - low, 90 - high, plus)
        steps = [n for n in _STEPS_DEG if (high - low) / n <= _MOST_TICKS]
        step = steps[0] if steps else 90
        ticks = {
            float(a): f"{figures.figure(str(a), w)}°"
            for a in range(step * math.ceil(low / step), math.floor(high) + 1, step)
        }
        if self.by_tip:
            for at, name in ((0.0, "tip"), (90.0, "side")):
                if low - 8 <= at <= high + 8:
                    ticks[at] = w[f"form.{name}"]
        return Form((arc,), metal, tuple(sorted(ticks.items())))

    def span(self, w: Words) -> str:
        """From where to where the points lie."""
        angles = [a for r in self.results for a in self.angles(r)]
        low, high = (figures.figure(str(round(x)), w) for x in (min(angles), max(angles)))
        return w["form.span_tip" if self.by_tip else "form.span"].format(low=low, high=high)


class OfRadius(Arc):
    """Distances from the centre of each edge's own circle, against the nominal radius."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        super().__init__(c, results, inspection)
        self.nominal = nominal_of(c) or Decimal(0)

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um. What is taken off the radius is taken off its points."""
        off = float(r.value) - single(r, "radius_mm") - float(self.nominal)
        pairs = zip(self.angles(r), several(r, "distances_mm"), strict=True)
        return sorted((angle, (d + off) * 1000) for angle, d in pairs)

    def value(self, r: Result, w: Words) -> str:
        """R 4.9023."""
        return f"R {value_text(r, w)}"

    def said(self, number: int, w: Words) -> Profiles:
        """The drawing."""
        held = w[f"form.{HELD[self.results[0].method.name]}"].format(
            along=self.inspection.record.set_up.along
        )
        subtitle = w["form.radius_sub"].format(
            span=self.span(w),
            radius=figures.short(self.nominal, w),
            zone=self.zone(w),
            held=held,
        )
        caption = "radius_caption_tip" if self.by_tip else "radius_caption"
        form = self.form(float(self.nominal), 1, -self.convex, w)
        return self.profiles(number, w, subtitle, caption, form)


class OfSwing(OfRadius):
    """What radius and place of the centre leave of the readings of a swing, at its own angles."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        super().__init__(c, results, inspection)
        self.by_tip = False

    def angles(self, r: Result) -> tuple[float, ...]:
        """Angles of the swing, deg."""
        return several(r, "angles_deg")

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um."""
        off = float(r.value - self.nominal)
        pairs = zip(self.angles(r), several(r, "deviations_mm"), strict=True)
        return sorted((angle, (off + self.convex * d) * 1000) for angle, d in pairs)


class OfForm(Arc):
    """Distances from the centre of each edge's own circle, against its own radius."""

    def limits(self) -> tuple[Decimal | None, Decimal | None]:
        """None: a form has a width and no place."""
        return None, None

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um."""
        radius = single(r, "radius_mm")
        pairs = zip(self.angles(r), several(r, "distances_mm"), strict=True)
        return sorted((angle, (d - radius) * 1000) for angle, d in pairs)

    def said(self, number: int, w: Words) -> Profiles:
        """The drawing."""
        subtitle = w["form.form_sub"].format(span=self.span(w), zone=self.zone(w))
        radius = fmean(single(r, "radius_mm") for r in self.results)
        form = self.form(radius, 1, -self.convex, w)
        return self.profiles(number, w, subtitle, "form_caption", form)


class OfProfile(Arc):
    """Deviations from the nominal arc after the declared best fit."""

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um."""
        pairs = zip(self.angles(r), several(r, "deviations_mm"), strict=True)
        return sorted((angle, d * 1000) for angle, d in pairs)

    def said(self, number: int, w: Words) -> Profiles:
        """The drawing."""
        radius = self.c.parameters["radius_mm"]
        subtitle = w["form.profile_sub"].format(
            span=self.span(w),
            radius=figures.figure(str(radius), w),
            zone=self.zone(w),
            fitted=fitted(self.c, w),
        )
        form = self.form(float(str(radius)), self.convex, -1, w)
        return self.profiles(number, w, subtitle, "profile_caption", form)
