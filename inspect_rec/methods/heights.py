"""Heights and lengths read by eye on an indicator or a caliper, and variations over the flutes."""

from __future__ import annotations

from statistics import fmean

from inspect_rec.compute.uncertainty import Budget, Component, Distribution, spread_of_flutes
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
from inspect_rec.methods.register import Reads, Role, method
from inspect_rec.methods.thermal import to_20

STEP_MASTER = Role("master", Reads.INDICATOR, "a step of gauge blocks", master=True, needed=False)


def _figures(series: Series) -> list[float]:
    return [t[series.channel] for t in series.taken]


def indicator_rows(given: Given, series: Series) -> list[Component]:
    """Two readings of one indicator against each other."""
    return [
        step(series.instrument, "step of the indicator, read to half", ends=2),
        calibration(series.instrument, "indicator, calibration"),
        repeat(series.instrument, "repeat", ends=2),
        *drift_row(given, "master", "drift of the indicator check"),
    ]


@method(
    "height difference by indicator",
    roles=(
        Role("heights", Reads.INDICATOR, "one place of every lip or tooth"),
        STEP_MASTER,
    ),
    plane="along the axis",
    formula="largest less smallest reading of the indicator at one place of every lip or tooth",
    source="common practice",
    over_flutes=True,
)
def height_difference(given: Given) -> Outcome:
    """Difference of the heights of lips or teeth, mm."""
    heights = given.series["heights"]
    each = tuple(fmean(_figures(heights.of_flute(n))) for n in heights.flutes)
    rows = (
        *indicator_rows(given, heights),
        given.component("axial float while indexing", "axial float"),
    )
    return Outcome((max(each) - min(each),), Budget(rows, "um"), detail={"places_mm": each})


@method(
    "height against the axis by indicator",
    roles=(
        Role("face", Reads.INDICATOR, "the face, at the edge"),
        Role("axis", Reads.INDICATOR, "the height of the axis: arbor and gauge blocks"),
        STEP_MASTER,
    ),
    plane="square to the face",
    formula="reading of the indicator on the face less its mean reading on the height of the axis",
    source="common practice",
)
def against_axis(given: Given) -> Outcome:
    """Height of a face over the axis, mm."""
    face, axis = given.series["face"], given.series["axis"]
    value = fmean(_figures(face)) - fmean(_figures(axis))
    rows = (
        *indicator_rows(given, face),
        given.component("height of the axis: arbor, gauge blocks", "height of the axis"),
    )
    return Outcome((value,), Budget(rows, "um"))


@method(
    "length by caliper",
    roles=(Role("length", Reads.LENGTH, "the length", length=True),),
    plane="along the axis",
    formula="the figure read on the caliper",
    source="common practice",
)
@to_20()
def caliper(given: Given) -> Outcome:
    """A length read on a caliper, mm."""
    length = given.series["length"]
    instrument = length.instrument
    if instrument.largest_error is None:
        raise InputError(
            f"equipment {instrument.id} states no largest_error",
            do="Add largest_error (um) to its table",
        )
    rows = (
        Component(
            name="caliper, largest error",
            amount=instrument.largest_error,
            distribution=Distribution.RECTANGULAR,
        ),
        step(instrument, "step of the caliper"),
        given.component("laying-up", "laying-up", averaged=len(length.taken)),
    )
    return Outcome((fmean(_figures(length)),), Budget(rows, "um"))


@method(
    "variation over the flutes",
    roles=(),
    formula="largest less smallest value of the flutes",
    source="derived; what is common to all flutes cancels, and the root of two times one flute's "
    "own part is on the safe side",
    varies=True,
)
def variation(given: Given) -> Outcome:
    """Largest less smallest of a characteristic over the flutes, mm or deg."""
    values = tuple(outcome.value for outcome in given.others.values())
    own = max((o.budget for o in given.others.values()), key=lambda budget: budget.u_own)
    return Outcome(
        (max(values) - min(values),),
        spread_of_flutes(own, "one flute, own part"),
        detail={"places_mm": values},
    )
