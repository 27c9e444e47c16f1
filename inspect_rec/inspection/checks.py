"""Master checks and closures: whether what lies between them can be trusted.

A drift counts as real above twice the standard uncertainty of the difference of the two checks;
a closure is met within twice that of its difference (trade: common practice).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from inspect_rec.compute import fitting
from inspect_rec.errors import ComputeError, InputError
from inspect_rec.methods.arcs import points_of
from inspect_rec.methods.base import Instrument, Series, stated
from inspect_rec.methods.widths import axis_um, middle_mm, width_mm
from inspect_rec.plan import Feature

ROOT_12 = math.sqrt(12)


@dataclass(frozen=True, slots=True)
class Check:
    """A master measured before and after: deviations from its value, um or deg."""

    feature: str
    equipment: str
    unit: str
    round: int
    before: float | None
    after: float | None
    limit: float
    """Largest drift that counts as none."""
    deviation_limit: float | None
    """Largest deviation from the calibrated value; None where the bias is taken off."""
    value_before: float | None = None
    value_after: float | None = None
    failed: str = ""
    """Why its readings give no value; empty where they do."""
    u: float = 0.0
    """Of one of the two checks: what its own sightings scatter."""

    @property
    def drift(self) -> float | None:
        """After less before."""
        if self.before is None or self.after is None:
            return None
        return self.after - self.before

    @property
    def good(self) -> bool:
        """Whether it was made before and after, and nothing speaks against what lies between."""
        return self.drift is not None and not self.refusals

    @property
    def refusals(self) -> tuple[str, ...]:
        """Why nothing since the last good check can be trusted; empty where it can."""
        said = [f"master {self.equipment}: {self.failed}"] if self.failed else []
        unit = "µm" if self.unit == "um" else "°"
        if self.drift is not None and abs(self.drift) > self.limit:
            said.append(
                f"master {self.equipment} drifted by {self.drift:+.1f} {unit}, "
                f"allowed {self.limit:.1f}: everything since the check before is suspect"
            )
        for which, found in (("before", self.before), ("after", self.after)):
            if found is not None and self.deviation_limit and abs(found) > self.deviation_limit:
                said.append(
                    f"master {self.equipment} {which} is off by {found:+.1f} {unit}, "
                    f"allowed {self.deviation_limit:.1f}"
                )
        return tuple(said)


@dataclass(frozen=True, slots=True)
class Closure:
    """Flute 1 sighted again after the last flute: the difference, um."""

    feature: str
    round: int
    difference: float
    limit: float
    unit: str = "um"

    @property
    def ok(self) -> bool:
        """Whether flute 1 was found where it had been."""
        return abs(self.difference) <= self.limit


@dataclass(frozen=True, slots=True)
class Noise:
    """Standard deviation of one sighting and half the step of the readout, um."""

    crosshair: float
    half_step: float
    clamping: float
    """u of what clamping leaves of the place of an axis, um."""

    def axis(self, sightings: int) -> float:
        """u of the place of an axis from that many sightings of its sides, um, rounded up to
        0.1 um."""
        return axis_um(self.crosshair, self.clamping, self.half_step, sightings)

    def two(self, averaged: int) -> float:
        """u of a width from two sides sighted ``averaged`` times each, um."""
        return math.sqrt(2 * self.crosshair**2 / averaged + 2 * self.half_step**2 / 3)

    @property
    def one(self) -> float:
        """u of one sighting, um."""
        return math.sqrt(self.crosshair**2 + self.half_step**2 / 3)


@dataclass(frozen=True, slots=True)
class _Found:
    deviation: float
    value: float
    noise: float


def check(
    feature: Feature,
    round_: int,
    series: Mapping[str, Series | None],
    axis: Mapping[str, Series | None],
    noise: Noise,
    radial: str,
    unknown_um: float,
    *,
    taken_off: bool = False,
) -> Check | None:
    """A master check from its complete series ``before`` and ``after``; None before the first.

    ``unknown_um`` is the u of what the check can't see in itself (scale, edge, calibration),
    for the limit of the deviation; there is none where its bias is ``taken_off``.
    """
    angle = feature.check == "angle"
    taken_off = taken_off or feature.check == "width"
    unit = "deg" if angle else "um"
    try:
        found = {
            when: _MEASURE[feature.check](each, axis.get(when), noise, radial)
            for when, each in series.items()
            if each is not None
        }
    except ComputeError as error:
        said = str(error)
        return Check(feature.id, feature.master, unit, round_, None, None, 0.0, None, failed=said)
    if not found:
        return None
    u = next(iter(found.values())).noise
    before, after = found.get("before"), found.get("after")
    half_drift = 0.0
    if before and after:
        half_drift = (after.deviation - before.deviation) / ROOT_12
    return Check(
        feature=feature.id,
        equipment=feature.master,
        unit=unit,
        round=round_,
        before=before.deviation if before else None,
        after=after.deviation if after else None,
        limit=2 * math.sqrt(2) * u,
        deviation_limit=None if taken_off else 2 * math.sqrt(u**2 + unknown_um**2 + half_drift**2),
        value_before=before.value if before else None,
        value_after=after.value if after else None,
        u=u,
    )


def _master(series: Series) -> float:
    if series.master is None or series.master.value is None:
        raise InputError(f"the master of {series.feature} states no value")
    return series.master.value


def _width(series: Series, _axis: Series | None, noise: Noise, radial: str) -> _Found:
    value = width_mm(series, radial)
    return _Found((value - _master(series)) * 1000, value, noise.two(series.repeats))


def _arc(series: Series, _axis: Series | None, noise: Noise, _radial: str) -> _Found:
    circle = fitting.circle(points_of(series))
    u = stated(circle.u_r_over_s) * noise.crosshair
    return _Found((circle.radius_mm - _master(series)) * 1000, circle.radius_mm, u)


def _arc_on_axis(series: Series, axis: Series | None, noise: Noise, radial: str) -> _Found:
    if axis is None:
        raise InputError(f"the check {series.feature} needs the axis of its master")
    circle = fitting.circle_on_axis(
        points_of(series), middle_mm(axis, radial), which=radial.lower()
    )
    u_axis = noise.axis(len(axis.taken))
    u = math.hypot(
        stated(circle.u_r_over_s) * noise.crosshair, stated(abs(circle.dr_daxis)) * u_axis
    )
    return _Found((circle.radius_mm - _master(series)) * 1000, circle.radius_mm, u)


def _step(series: Series, _axis: Series | None, _noise: Noise, _radial: str) -> _Found:
    first, last = series.marks[0], series.marks[-1]
    value = series.mean(last, series.channel) - series.mean(first, series.channel)
    return _Found((value - _master(series)) * 1000, value, _by_eye_um(series.instrument, 2))


def _angle(series: Series, _axis: Series | None, _noise: Noise, _radial: str) -> _Found:
    value = fmean(t[series.channel] for t in series.taken)
    half = series.instrument.half_step or 0.0
    return _Found(value - _master(series), value, half / math.sqrt(3))


_MEASURE = {
    "width": _width,
    "arc": _arc,
    "arc on the axis": _arc_on_axis,
    "step": _step,
    "angle": _angle,
}


def _by_eye_um(instrument: Instrument, readings: int) -> float:
    """u of a difference built from that many readings of an indicator, um."""
    repeat, half = instrument.repeat or 0.0, instrument.half_step or 0.0
    return math.sqrt(readings * (repeat**2 + half**2 / 3))


def closure(
    feature: Feature,
    round_: int,
    first: Series,
    again: Series,
    axis: Series | None,
    noise: Noise,
    radial: str,
) -> Closure:
    """Flute 1 as it was, and as it is after the last flute.

    On an arc the difference is taken square to it, on a line of two points square to the line,
    on one point along the radial slide, on an indicator or protractor as read.
    """
    if first.channel != "slides":
        return _by_eye_closure(feature, round_, first, again)
    mark = again.marks[0]
    old, new = first.at(mark)[0], again.at(mark)[0]
    direction = _square(first, mark, axis, radial)
    if direction is None:
        circle = (
            fitting.circle_on_axis(points_of(first), middle_mm(axis, radial), which=radial.lower())
            if axis
            else fitting.circle(points_of(first))
        )
        centre = (circle.centre_x_mm, circle.centre_z_mm)
        far = [math.hypot(t["X"] - centre[0], t["Z"] - centre[1]) for t in (old, new)]
        difference = far[1] - far[0]
    else:
        difference = (new["X"] - old["X"]) * direction[0] + (new["Z"] - old["Z"]) * direction[1]
    return Closure(feature.id, round_, difference * 1000, 2 * math.sqrt(2) * noise.one)


def _square(
    series: Series, mark: str, axis: Series | None, radial: str
) -> tuple[float, float] | None:
    """Unit vector square to a line of two points, or along the radial slide; None for an arc."""
    del mark, axis
    marks: Sequence[str] = series.marks
    if len(marks) > 2:
        return None
    if len(marks) == 1:
        return (1.0, 0.0) if radial == "X" else (0.0, 1.0)
    a, b = (series.at(m)[0] for m in marks)
    dx, dz = b["X"] - a["X"], b["Z"] - a["Z"]
    long = math.hypot(dx, dz)
    if not long:
        raise ComputeError("both points of a line lie at one place")
    return -dz / long, dx / long


def _by_eye_closure(feature: Feature, round_: int, first: Series, again: Series) -> Closure:
    def figure(series: Series) -> float:
        marks = series.marks
        last = series.mean(marks[-1], series.channel)
        return last - series.mean(marks[0], series.channel) if len(marks) > 1 else last

    readings = len(again.marks)
    limit = 2 * math.sqrt(2) * _by_eye_um(first.instrument, readings)
    return Closure(feature.id, round_, (figure(again) - figure(first)) * 1000, limit)
