"""Radii on a radius attachment: read while the edge swings about the pivot, set by a gauge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspect_rec.compute.fitting import span_deg
from inspect_rec.compute.swing import Swing, swing_test
from inspect_rec.compute.uncertainty import Budget, Component, Distribution
from inspect_rec.errors import InputError
from inspect_rec.methods.base import (
    Given,
    Outcome,
    Series,
    calibration,
    drift_row,
    repeat,
    step,
)
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.scatter import known_or_seen, scaled
from inspect_rec.methods.thermal import to_20

SHORTEST_SWING_DEG = 60.0
"""Below about this swing radius and centre can't be told apart, as on a short arc (trade: common
practice)."""

_FORM = Asks("form", "which side the metal is on", words=("convex", "concave"))
_SWING = Role("swing", Reads.INDICATOR, "the edge, at each angle of the swing", least=4, index=True)
_SIGHTED = Role("swing", Reads.RADIAL, "the edge, at each angle of the swing", least=4, index=True)
_MODEL = (
    "e = a + p cos(phi) + q sin(phi) by least squares over the swing phi, e the edge's distance "
    "from the pivot less the setting"
)
_SOURCE = "derived: over a part turn the mean of the readings isn't the radius"
_TOO_SHORT = "a swing below 60 deg"


@dataclass(frozen=True, slots=True)
class _Swung:
    """A swing: its fit, um, and what a budget needs of its readings."""

    series: Series
    fit: Swing
    span_deg: float
    metal: float
    """+1 where metal that is left stands further from the pivot, -1 where nearer."""
    outward: float
    """Sense in which a reading grows with the distance from the pivot."""

    @property
    def detail(self) -> dict[str, float | tuple[float, ...]]:
        return {
            "p_um": self.fit.p_um,
            "q_um": self.fit.q_um,
            "form_um": self.fit.form_um,
            "span_deg": self.span_deg,
            "angles_deg": self.series.index,
            "deviations_mm": tuple(self.metal * r / 1000 for r in self.fit.residuals_um),
        }

    @property
    def refusals(self) -> tuple[str, ...]:
        if self.span_deg > SHORTEST_SWING_DEG - 1e-6:  # an angle's last bit decides nothing
            return ()
        said = f"a swing of {self.span_deg:.0f}° is too short"
        return (f"{said} to tell the radius from the place of its centre: swing further",)

    def u_over_s(self, part: int) -> float:
        return math.sqrt(self.fit.covariance_over_s2[part][part])

    def scatter(self, given: Given, sensitivity: float) -> tuple[Component, ...]:
        """What the readings' own scatter adds; an index that is off counts by the place of the
        centre off the pivot."""
        series, n = self.series, self.series.repeats
        per_degree = math.radians(math.hypot(self.fit.p_um, self.fit.q_um))
        angle = "angle of the swing"
        known = (
            *_one_reading(given, series, n),
            given.component(angle, "index angle", sensitivity=per_degree, unit="deg"),
        )
        dof = len(self.series.marks) - 3
        seen = self.fit.residual_std_um
        return known_or_seen(scaled(known, sensitivity), seen, dof, sensitivity)


def _one_reading(given: Given, series: Series, averaged: int) -> tuple[Component, ...]:
    if series.channel == "indicator":
        again = repeat(series.instrument, "repeat of the indicator", averaged=averaged)
    else:
        again = given.component("crosshair on the edge", "crosshair", averaged=averaged)
    return again, step(series.instrument, "step of the readings")


def _channel(given: Given, series: Series) -> str:
    return given.slides.radial if series.channel == "slides" else series.channel


def _swung(given: Given) -> _Swung:
    """The swing; an indicator's figure grows as its plunger is pushed in, so from inside a
    concave edge it grows toward the pivot."""
    series, form = given.series["swing"], given.word("form", ("convex", "concave"))
    marks = series.marks
    if len(series.index) != len(marks):
        raise InputError(
            "a swing test needs the angle of each mark",
            expected=f"{len(marks)} angles",
            found=str(len(series.index)),
            do=f"State index = [...] at the feature {series.feature}",
        )
    metal = 1.0 if form == "convex" else -1.0
    outward = float(given.slides.outward) if series.channel == "slides" else metal
    channel = _channel(given, series)
    e = [outward * series.mean(mark, channel) * 1000 for mark in marks]
    fit = swing_test(series.index, e)
    turns = [math.radians(angle) for angle in series.index]
    span = span_deg([(math.cos(turn), math.sin(turn)) for turn in turns], 0.0, 0.0)
    return _Swung(series, fit, span, metal, outward)


def _radius(given: Given) -> Outcome:
    swung, gauge = _swung(given), given.series["gauge"]
    if gauge.master is None or gauge.master.value is None:
        raise InputError(
            f"the feature {gauge.feature!r} has no master with a value",
            do="Name the setting gauge as its master, with its value in mm",
        )
    channel = _channel(given, gauge)
    zero = sum(t[channel] for t in gauge.taken) / len(gauge.taken)
    radius = gauge.master.value + swung.fit.a_um / 1000 - swung.outward * zero
    offset_um = math.hypot(swung.fit.p_um, swung.fit.q_um)
    rows = [
        *swung.scatter(given, swung.u_over_s(0)),
        *_one_reading(given, gauge, len(gauge.taken)),
        calibration(gauge.master, "setting gauge, calibration"),
        given.component("edge out of the axial plane, roundness of the edge", "edge"),
        *drift_row(given, "gauge", "drift of the setting"),
    ]
    if swung.series.channel == "indicator":
        rows.append(calibration(swung.series.instrument, "indicator, calibration"))
        rows.append(
            Component(
                name="centre off the pivot, read along the ray",
                amount=offset_um**2 / (2 * radius * 1000),
                distribution=Distribution.ONE_SIDED,
                note="square of the offset over twice the radius",
            )
        )
    else:
        rows.append(given.component("scale between gauge and edge", "scale against a master"))
        rows.append(given.component("backlash left over", "backlash"))
    refusals = list(swung.refusals)
    if given.width is not None and swung.fit.form_um / 1000 > given.width / 2:
        refusals.append(
            f"form {swung.fit.form_um:.1f} µm is more than half of the tolerance: no circle"
        )
    return Outcome(
        (radius,), Budget(tuple(rows), "um"), tuple(refusals), {"radius_mm": radius} | swung.detail
    )


@method(
    "radius by swing test",
    roles=(
        _SWING,
        Role(
            "gauge",
            Reads.INDICATOR,
            "the setting gauge, before the swing",
            master=True,
            length=True,
        ),
    ),
    asks=(_FORM,),
    plane="plane of the swing, through the edge",
    assumes="the indicator's figure grows as its plunger is pushed in; the index counts the swing",
    refuses=(_TOO_SHORT, "a form of more than half the tolerance: no circle"),
    formula=f"setting gauge plus a, where {_MODEL}",
    source=_SOURCE,
)
@to_20(master="gauge")
def swing(given: Given) -> Outcome:
    """Radius of an edge swung about the pivot under an indicator set by a gauge, mm."""
    return _radius(given)


@method(
    "radius by swing test, crosshair",
    roles=(
        _SIGHTED,
        Role(
            "gauge", Reads.RADIAL, "the setting gauge, before the swing", master=True, length=True
        ),
    ),
    asks=(_FORM,),
    plane="plane of the swing, through the edge",
    assumes="the line of the crosshair is laid tangent to the edge; the pivot rides on the slide",
    refuses=(_TOO_SHORT, "a form of more than half the tolerance: no circle"),
    formula=f"setting gauge plus a, where {_MODEL}",
    source=_SOURCE,
)
@to_20(master="gauge")
def swing_by_crosshair(given: Given) -> Outcome:
    """Radius of an edge swung about the pivot and sighted on the radial slide, mm."""
    return _radius(given)


@method(
    "form by swing test",
    roles=(_SWING,),
    asks=(_FORM,),
    plane="plane of the swing, through the edge",
    refuses=(_TOO_SHORT,),
    formula=f"largest less smallest residual, where {_MODEL}",
    source="derived; the scatter of the readings stays in it, which is on the safe side",
)
def form(given: Given) -> Outcome:
    """Form of an edge: what radius and place of the centre leave of the readings, mm."""
    swung = _swung(given)
    rows = (
        *scaled(_one_reading(given, swung.series, swung.series.repeats), math.sqrt(2)),
        calibration(swung.series.instrument, "indicator, calibration"),
        given.component("edge out of the axial plane, roundness of the edge", "edge"),
    )
    value = swung.fit.form_um / 1000
    return Outcome((value,), Budget(rows, "um"), swung.refusals, swung.detail)


_PARTS = ("along 0", "along 90", "amount")


@method(
    "pivot offset by swing test",
    roles=(_SWING,),
    asks=(_FORM, Asks("part", "which part of the offset", words=_PARTS)),
    plane="plane of the swing",
    assumes="for diagnosis: nothing is corrected by it",
    refuses=(_TOO_SHORT,),
    formula=f"p along the zero of the swing, q at 90 deg of it, or their root of squares, where "
    f"{_MODEL}",
    source="derived; the amount counts as uncertain as in the direction that is known least",
)
def pivot_offset(given: Given) -> Outcome:
    """Place of the centre of the edge off the pivot, mm."""
    swung, part = _swung(given), given.word("part", _PARTS)
    fit, (pp, pq, qq) = swung.fit, _of_centre(swung.fit)
    value, sensitivity = {
        "along 0": (fit.p_um, math.sqrt(pp)),
        "along 90": (fit.q_um, math.sqrt(qq)),
        "amount": (
            math.hypot(fit.p_um, fit.q_um),
            math.sqrt((pp + qq) / 2 + math.hypot((pp - qq) / 2, pq)),
        ),
    }[part]
    rows = (
        *swung.scatter(given, sensitivity),
        calibration(swung.series.instrument, "indicator, calibration"),
    )
    return Outcome((value / 1000,), Budget(rows, "um"), swung.refusals, swung.detail)


def _of_centre(fit: Swing) -> tuple[float, float, float]:
    """Variances of p and q and their covariance, for a standard uncertainty of 1."""
    (_, _, _), (_, pp, pq), (_, _, qq) = fit.covariance_over_s2
    return pp, pq, qq
