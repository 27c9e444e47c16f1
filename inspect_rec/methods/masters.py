"""A master's bias at the instant of a reading: of the check before, or between its two checks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import fmean

from inspect_rec.compute.studies import interpolated
from inspect_rec.compute.uncertainty import Component, Distribution
from inspect_rec.methods.base import Given, Series, drift_row, stated, step

STEADY = "drift taken as steady between the checks"
NO_AFTER = "no good check after yet: bias of the check before"
NOT_BETWEEN = "not read between the checks: bias of the check before"


@dataclass(frozen=True, slots=True)
class Bias:
    """What a master reads too large, mm, and the share of the check after in it; 0 is the check
    before alone, ``note`` then says why where the plan asks for more."""

    mm: float
    share: float = 0.0
    note: str = ""


def bias_between(given: Given, role: str, before_mm: float, read: Series) -> Bias:
    """The bias when ``read`` was read, mm: ``before_mm``, or where the plan says so even in time
    between the checks, as far as the drift counts as none."""
    if not given.interpolated:
        return Bias(before_mm)
    master = given.series[role]
    if role not in given.drift or not master.after:
        return Bias(before_mm, note=NO_AFTER)
    first, last, at = (fmean(t.at for t in s) for s in (master.taken, master.after, read.taken))
    if not first <= at <= last or first == last:
        return Bias(before_mm, note=NOT_BETWEEN)
    after_mm = before_mm + given.drift[role] / 1000
    return Bias(
        interpolated(before_mm, after_mm, first, last, at),
        interpolated(0.0, 1.0, first, last, at),
    )


def _checks(given: Given, role: str, bias: Bias) -> list[tuple[str, Series, float]]:
    master = given.series[role]
    if not bias.share:
        return [("", master, 1.0)]
    share = stated(bias.share)
    after = replace(master, taken=master.after)
    return [(", check before", master, 1 - share), (", check after", after, share)]


def sighted_rows(given: Given, role: str, bias: Bias, name: str, ends: int) -> list[Component]:
    """The scatter of the sightings of each check, by its share in the bias."""
    return [
        replace(
            given.component(
                f"crosshair on {name}{which}",
                "crosshair",
                sensitivity=share,
                ends=ends,
                averaged=series.repeats,
            ),
            note=bias.note,
        )
        for which, series, share in _checks(given, role, bias)
    ]


def step_rows(given: Given, role: str, bias: Bias, name: str, ends: int) -> list[Component]:
    """The step of the readout at each check, by its share in the bias."""
    return [
        step(series.instrument, f"readout step, {name}{which}", ends=ends, sensitivity=share)
        for which, series, share in _checks(given, role, bias)
    ]


def drift_left(given: Given, role: str, bias: Bias, name: str) -> list[Component]:
    """What is left of the drift: half of it, or of a bias between the checks the larger share of
    half of it (trade: common practice)."""
    if not bias.share:
        return [replace(row, note=bias.note) for row in drift_row(given, role, name)]
    larger = max(1 - stated(bias.share), stated(bias.share))
    return [
        Component(
            name=name,
            amount=larger * abs(given.drift[role]) / 2,
            distribution=Distribution.RECTANGULAR,
            note=STEADY,
        )
    ]
