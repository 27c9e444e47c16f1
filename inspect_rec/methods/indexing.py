"""What is read on each flute or tooth at its index: spacing, and variation of the edges."""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import fmean

from inspect_rec.compute.reach import length, within
from inspect_rec.compute.swing import index_runout, spacing
from inspect_rec.compute.uncertainty import Budget, Component
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
from inspect_rec.methods.heights import STEP_MASTER, indicator_rows
from inspect_rec.methods.register import Asks, Reads, Role, method

_WHICH = ("adjacent", "total")
_AHEAD = ("ahead", "behind")
_RADIUS = Asks("radius_mm", "radius at which the faces are touched")
_ERROR = Asks(
    "which",
    "the largest error from one tooth to the next, or the largest less the smallest of all",
    words=_WHICH,
)


def _each(series: Series) -> tuple[float, ...]:
    """Mean figure of each flute, mm, in order."""
    found = tuple(fmean(t[series.channel] for t in series.of_flute(n).taken) for n in series.flutes)
    if len(found) < 2:
        raise InputError(
            "teeth are compared with each other",
            expected="two or more, each with its readings",
            found=str(len(found)),
        )
    return found


def _spaced(given: Given, errors: tuple[float, ...], repeats: int) -> Outcome:
    """Spacing from the index error of each tooth, deg, in the order of the teeth."""
    series, radius = given.series["teeth"], given.number("radius_mm")
    steps = tuple(b - a for a, b in pairwise((*errors, errors[0])))
    total = max(errors) - min(errors)
    largest = max(map(abs, steps))
    value = largest if given.word("which", _WHICH) == "adjacent" else total
    per_um = math.degrees(1e-3 / radius)
    two: dict[str, float | int] = {"sensitivity": per_um, "ends": 2}
    rows: tuple[Component, ...] = (
        repeat(series.instrument, "repeat of the two readings", averaged=repeats, **two),
        step(series.instrument, "step of the indicator, two readings", **two),
        calibration(series.instrument, "indicator, calibration", sensitivity=per_um),
        *drift_row(given, "master", "drift of the indicator check", sensitivity=per_um),
        given.component("index of the two teeth", "index angle", ends=2, unit="deg"),
        given.component(
            "run-out of the arbor at the two teeth", "indexing", sensitivity=per_um, ends=2
        ),
        given.component(
            "radius touched", "radius of the edge", sensitivity=value / radius, unit="mm"
        ),
    )
    detail: dict[str, float | tuple[float, ...]] = {
        "errors_deg": errors,
        "adjacent_deg": steps,
        "total_deg": total,
    }
    return Outcome((value,), Budget(rows, "deg"), detail=detail)


@method(
    "spacing, equal pitch",
    roles=(
        Role("teeth", Reads.INDICATOR, "the face of each tooth, indexed by equal steps"),
        STEP_MASTER,
    ),
    asks=(_RADIUS, _ERROR),
    plane="square to the axis, at the radius touched",
    assumes="every face is touched at the same radius, tangentially; plate, holes and turns of "
    "the index are recorded",
    formula="error of a tooth's index: tangential offset of its face over the radius",
    source="derived",
    unit="deg",
    over_flutes=True,
)
def equal_pitch(given: Given) -> Outcome:
    """Spacing error of teeth at equal pitch, deg."""
    series = given.series["teeth"]
    found = spacing(given.number("radius_mm"), [mm * 1000 for mm in _each(series)])
    repeats = min(len(series.of_flute(n).taken) for n in series.flutes)
    return _spaced(given, tuple(minutes / 60 for minutes in found.index_arcmin), repeats)


@method(
    "spacing, unequal pitch",
    roles=(
        Role("teeth", Reads.INDICATOR, "the face of each tooth, at its index", least=2, index=True),
        STEP_MASTER,
    ),
    asks=(
        _RADIUS,
        _ERROR,
        Asks("angles_deg", "nominal angle of each tooth from the first", many=True),
        Asks(
            "plus",
            "where a tooth stands whose figure is larger; ahead: at a larger angle than its index",
            words=_AHEAD,
        ),
    ),
    plane="square to the axis, at the radius touched",
    assumes="every face is touched at the same radius, tangentially; index and nominal angles "
    "count the same way",
    refuses=("no nominal angle for each tooth",),
    formula="error of a tooth's index: index less nominal angle, and tangential offset of its face "
    "over the radius",
    source="derived",
    unit="deg",
)
def unequal_pitch(given: Given) -> Outcome:
    """Spacing error of teeth at a pitch that is unequal by design, deg."""
    series, nominal = given.series["teeth"], given.numbers("angles_deg")
    marks = series.marks
    if not len(marks) == len(nominal) == len(series.index):
        raise InputError(
            "each tooth needs its nominal angle and its index",
            expected=f"{len(marks)} of each",
            found=f"{len(nominal)} in angles_deg, {len(series.index)} in index",
        )
    radius = given.number("radius_mm")
    length(radius, "radius")
    ahead = 1.0 if given.word("plus", _AHEAD) == "ahead" else -1.0
    offsets = [ahead * math.degrees(series.mean(m, series.channel) / radius) for m in marks]
    within(*offsets)
    start = series.index[0] - nominal[0]
    errors = tuple(
        (index - angle - start + 180) % 360 - 180 + offset
        for index, angle, offset in zip(series.index, nominal, offsets, strict=True)
    )
    return _spaced(given, errors, series.repeats)


@method(
    "variation of the edges by indicator",
    roles=(Role("edges", Reads.INDICATOR, "the edge of each flute, at its index"), STEP_MASTER),
    plane="square to the axis",
    assumes="every edge is turned gently through its largest reading; the first harmonic in the "
    "detail is for diagnosis and is never taken off",
    formula="largest less smallest reading of the indicator over the edges",
    source="common practice",
    over_flutes=True,
)
def edges(given: Given) -> Outcome:
    """Difference of the radii of the edges as clamped, mm; of three flutes or more with the first
    harmonic: eccentricity of the clamping, where the flutes are alike."""
    series = given.series["edges"]
    each = _each(series)
    rows = (
        *indicator_rows(given, series),
        given.component("run-out of the arbor at two flutes", "indexing", ends=2),
    )
    detail: dict[str, float | tuple[float, ...]] = {"places_mm": each}
    if len(each) > 2:
        harmonic = index_runout([mm * 1000 for mm in each])
        detail |= {
            "eccentricity_um": harmonic.eccentricity_um,
            "high_side_deg": harmonic.high_side_deg,
            "remainder_um": harmonic.remainder_um,
        }
    return Outcome((max(each) - min(each),), Budget(rows, "um"), detail=detail)
