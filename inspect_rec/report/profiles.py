"""Points of the edges on nominal forms: radii on arcs, profiles on arcs and contours.

A form is drawn where the outcome of a method holds its points: ``distances_mm`` and ``angles_deg``
round a centre, or ``along_mm`` and ``deviations_mm`` along a contour.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from decimal import Decimal
from statistics import fmean

from inspect_rec.compute.chain import Link
from inspect_rec.compute.contour import Straight as Line
from inspect_rec.inspection import Inspection, Result
from inspect_rec.methods.contours import contour_of
from inspect_rec.plan import Characteristic
from inspect_rec.report import figures
from inspect_rec.report.profile_content import Form, Profile, Profiles, Round, Straight
from inspect_rec.report.resulting import margin, value_text
from report_templates.wording import Words

HELD = {
    "arc, centre on the axis": "on_axis",
    "arc, free centre": "free",
    "arc, centre held": "pivot",
    "radius from chord and rise": "three",
    "arc, two opposite flutes": "flutes",
}
"""Methods of a radius, and the word for where the centre is that its points are measured from."""
FORM, PROFILE = "form of an arc", "profile, radius held"

_BEYOND_DEG = 3.0
"""How far an arc is drawn beyond its points, at most."""
_FROM_TIP_DEG = 100.0
"""A convex arc that reaches no further round has its angles from the tip."""
_STEPS_DEG = (1, 2, 5, 10, 15, 30, 45)
_MOST_TICKS = 7


def of(inspection: Inspection, numbers: dict[str, int], w: Words) -> tuple[Profiles, ...]:
    """A drawing of every characteristic whose points lie round an arc or along a contour."""
    found = []
    for c in inspection.job.characteristic:
        results = [
            r for r in inspection.results if r.characteristic.id == c.id and _points(r) is not None
        ]
        about = _about(c, results, inspection) if results else None
        if about is not None:
            found.append(about.said(numbers[c.id], w))
    return tuple(found)


def _points(r: Result) -> tuple[float, ...] | None:
    """What a result holds of its points, or None."""
    held = r.outcome.detail
    value = held.get("along_mm", held.get("angles_deg"))
    return value if isinstance(value, tuple) and value else None


def _about(
    c: Characteristic, results: Sequence[Result], inspection: Inspection
) -> _Contour | _Arc | None:
    name = results[0].method.name
    if "along_mm" in results[0].outcome.detail:
        return _Contour(c, results, inspection)
    if name in HELD:
        return _OfRadius(c, results, inspection) if _nominal(c) is not None else None
    found = {FORM: _OfForm, PROFILE: _OfProfile}.get(name)
    return found(c, results, inspection) if found else None


def _tuple(r: Result, key: str) -> tuple[float, ...]:
    value = r.outcome.detail.get(key, ())
    return value if isinstance(value, tuple) else ()


def _number(r: Result, key: str) -> float:
    value = r.outcome.detail.get(key, 0.0)
    return value if isinstance(value, float) else 0.0


def _nominal(c: Characteristic) -> Decimal | None:
    """What the deviations of a radius are counted from: where no nominal is stated the middle of
    its limits, or the one limit."""
    if c.nominal:
        return c.nominal
    limits = [x for x in (c.lower, c.upper) if x is not None]
    return sum(limits, Decimal(0)) / len(limits) if limits else None


def turned(angle: float) -> float:
    """The same angle within half a turn, deg."""
    return (angle + 180) % 360 - 180


class _Drawn:
    """What all drawings share: the edges, the limits, what is said beside them."""

    nominal = Decimal(0)
    """What the limits are counted from."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        self.c, self.results, self.inspection = c, results, inspection

    def limits(self) -> tuple[Decimal | None, Decimal | None]:
        """Limits of the deviation, um."""
        c = self.c
        lower, upper = (
            None if x is None else (x - self.nominal).scaleb(3) for x in (c.lower, c.upper)
        )
        return (None, None) if c.info else (lower, upper)

    def edges(
        self, w: Words, points: Callable[[Result], Sequence[tuple[float, float]]]
    ) -> tuple[Profile, ...]:
        """Each result with its points, which ``points`` finds: deg or mm, and um."""
        word = figures.capital(w[f"edge.{self.inspection.tool.edge_word}"])
        lower, upper = self.limits()
        found = []
        worst = min(self.results, key=lambda r: (margin(r), -max(abs(d) for _, d in points(r))))
        for r in self.results:
            label = w["page.all"] if r.flute is None else str(r.flute)
            found.append(
                Profile(
                    title=f"{word} {label}" if r.flute is not None else figures.capital(label),
                    label=label,
                    value=self.value(r, w),
                    points=tuple(points(r)),
                    on=self.on(r),
                    lower=None if lower is None else float(lower),
                    upper=None if upper is None else float(upper),
                    limit_texts=(_signed(lower, w), _signed(upper, w)),
                    guard=float(r.zones.guard) * 1000 if r.zones else 0.0,
                    decides=r is worst,
                    verdict=r.verdict.value,
                )
            )
        return tuple(found)

    def value(self, r: Result, w: Words) -> str:
        """The value as it stands over the small graph."""
        return figures.with_unit(self.c, value_text(r, w))

    def on(self, r: Result) -> tuple[int, ...]:
        """The piece of the form to which each point belongs."""
        return (0,) * len(_points(r) or ())

    def zone(self, w: Words) -> str:
        """The limits in words."""
        if self.c.info or not (said := figures.limits_text(self.c, w)):
            return w["page.no_limits"]
        return w["form.zone"].format(limits=said)

    def profiles(
        self,
        number: int,
        w: Words,
        subtitle: str,
        caption: str,
        form: Form,
        points: Callable[[Result], Sequence[tuple[float, float]]],
    ) -> Profiles:
        """The drawing of this characteristic."""
        tool = self.inspection.tool
        return Profiles(
            number=number,
            title=figures.capital(self.c.name) + (f" {self.c.symbol}" if self.c.symbol else ""),
            subtitle=subtitle,
            caption=w[f"form.{caption}"].format(edge_word=w[f"edge.{tool.edge_word}"]),
            form=form,
            edges=self.edges(w, points),
        )


def _signed(um: Decimal | None, w: Words) -> str:
    """A limit of a deviation as it stands at its line: +10, 0, −10."""
    if um is None:
        return ""
    return ("+" if um > 0 else "") + figures.short(um + 0, w)


# -- arcs ------------------------------------------------------------------------


class _Arc(_Drawn):
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
        that can't be told. An arc that looks away from the axis, or toward the tip, is convex."""
        stated = {"convex": 1, "concave": -1}.get(str(self.c.parameters.get("form")))
        if stated is not None:
            return stated
        angles = [math.radians(a) for r in self.results for a in _tuple(r, "angles_deg")]
        for way in map(math.radians, (self.side, self.tip)):
            looks = fmean(math.cos(a - way) for a in angles)
            if abs(looks) > 0.1:
                return 1 if looks > 0 else -1
        return 0

    def from_tip(self, r: Result) -> tuple[float, ...]:
        """Angles of the points from the tip toward the side, deg; on the other side negative, but
        for an edge that was sighted on that side alone."""
        way = 1 if turned(self.side - self.tip) > 0 else -1
        found = tuple(way * turned(a - self.tip) for a in _tuple(r, "angles_deg"))
        one_sided = max(found) < min(20.0, -min(found))
        return tuple(-a for a in found) if one_sided else found

    def from_middle(self, r: Result) -> tuple[float, ...]:
        """Angles of the points from the slide's direction nearest the middle of the first edge's,
        deg; to the right positive."""
        first = [math.radians(a) for a in _tuple(self.results[0], "angles_deg")]
        x, z = fmean(map(math.cos, first)), fmean(map(math.sin, first))
        middle = 90 * round(math.degrees(math.atan2(z, x)) / 90)
        return tuple(turned(middle - a) for a in _tuple(r, "angles_deg"))

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
        low, high = (figures.figure(f"{x:.0f}", w) for x in (min(angles) + 0.0, max(angles)))
        if self.by_tip:
            return w["form.span_tip"].format(low=low.replace("−0", "0"), high=high)
        return w["form.span"].format(low=low, high=high)

    def said(self, number: int, w: Words) -> Profiles:
        """The drawing."""
        raise NotImplementedError


class _OfRadius(_Arc):
    """Distances from the centre of each edge's own circle, against the nominal radius."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        super().__init__(c, results, inspection)
        self.nominal = _nominal(c) or Decimal(0)

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um. What is taken off the radius is taken off its points."""
        off = float(r.value) - _number(r, "radius_mm") - float(self.nominal)
        pairs = zip(self.angles(r), _tuple(r, "distances_mm"), strict=True)
        return sorted((angle, (d + off) * 1000) for angle, d in pairs)

    def value(self, r: Result, w: Words) -> str:
        """R 4.9023."""
        return f"R {value_text(r, w)}"

    def said(self, number: int, w: Words) -> Profiles:
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
        return self.profiles(number, w, subtitle, caption, form, self.points)


class _OfForm(_Arc):
    """Distances from the centre of each edge's own circle, against its own radius."""

    def limits(self) -> tuple[Decimal | None, Decimal | None]:
        """None: a form has a width and no place."""
        return None, None

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um."""
        radius = _number(r, "radius_mm")
        pairs = zip(self.angles(r), _tuple(r, "distances_mm"), strict=True)
        return sorted((angle, (d - radius) * 1000) for angle, d in pairs)

    def said(self, number: int, w: Words) -> Profiles:
        subtitle = w["form.form_sub"].format(span=self.span(w), zone=self.zone(w))
        radius = fmean(_number(r, "radius_mm") for r in self.results)
        form = self.form(radius, 1, -self.convex, w)
        return self.profiles(number, w, subtitle, "form_caption", form, self.points)


class _OfProfile(_Arc):
    """Deviations from the nominal arc after the declared best fit."""

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Angles and deviations, um."""
        pairs = zip(self.angles(r), _tuple(r, "deviations_mm"), strict=True)
        return sorted((angle, d * 1000) for angle, d in pairs)

    def said(self, number: int, w: Words) -> Profiles:
        radius = self.c.parameters["radius_mm"]
        subtitle = w["form.profile_sub"].format(
            span=self.span(w),
            radius=figures.figure(str(radius), w),
            zone=self.zone(w),
            fitted=_fitted(self.c, w),
        )
        form = self.form(float(str(radius)), self.convex, -1, w)
        return self.profiles(number, w, subtitle, "profile_caption", form, self.points)


def _fitted(c: Characteristic, w: Words) -> str:
    """What the best fit was free to move."""
    stated = c.parameters.get("freedoms")
    free = stated if isinstance(stated, tuple) else ()
    shifts = [str(f) for f in free if f in {"X", "Z"}]
    both = w["form.and"].format(a="X", b="Z") if len(shifts) == 2 else "".join(shifts)
    if "rotation" in free:
        return w["form.fit_turned" if shifts else "form.fit_turned_only"].format(free=both)
    return w["form.fit" if shifts else "form.fit_nothing"].format(free=both)


# -- contours --------------------------------------------------------------------


class _Contour(_Drawn):
    """Deviations square to a contour of lines and arcs, after the declared best fit."""

    def __init__(
        self, c: Characteristic, results: Sequence[Result], inspection: Inspection
    ) -> None:
        super().__init__(c, results, inspection)
        texts = c.parameters.get("elements")
        self.links = contour_of([str(t) for t in texts] if isinstance(texts, tuple) else [])

    def on(self, r: Result) -> tuple[int, ...]:
        order = sorted(zip(_tuple(r, "along_mm"), _tuple(r, "elements"), strict=True))
        return tuple(round(n) - 1 for _, n in order)

    def points(self, r: Result) -> list[tuple[float, float]]:
        """Lengths along the contour, mm, and deviations, um, in the order of ``on``."""
        along, own = _tuple(r, "along_mm"), _tuple(r, "elements")
        order = sorted(zip(along, own, _tuple(r, "deviations_mm"), strict=True))
        return [(s, d * 1000) for s, _, d in order]

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
            fitted=_fitted(self.c, w),
        )
        return self.profiles(number, w, subtitle, "contour_caption", form, self.points)


def _piece(link: Link, first: float, last: float) -> Straight | Round:
    """An element of a contour, for drawing."""
    element = link.element
    if isinstance(element, Line):
        return Straight(first, last, link.start, link.end)
    (x, z), plus = element.centre, 1 if element.convex else -1
    begin = math.degrees(math.atan2(link.start[1] - z, link.start[0] - x))
    by = math.degrees(link.length_mm / element.radius_mm)
    return Round(first, last, (x, z), element.radius_mm, begin, begin - plus * by, plus)
