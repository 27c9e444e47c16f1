"""Lead and helix: from travel and turn, and from an indicator that follows at a set lead.

A right-hand flute turns clockwise as it goes away from whoever looks along the axis; so, seen onto
the tip, a right-hand tool is turned counter-clockwise to bring places further from the tip to
where the flute is touched.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from inspect_rec.compute.helix import helix_of_lead, lead_of_creep
from inspect_rec.compute.reach import length
from inspect_rec.compute.regression import regression
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
from inspect_rec.methods.heights import STEP_MASTER
from inspect_rec.methods.register import Asks, Reads, Role, method
from inspect_rec.methods.scatter import known_or_seen, scaled
from inspect_rec.methods.thermal import to_20

SHORTEST_TURN_DEG = 10.0
"""Below it an index good to 0.03 deg costs more than a quarter of a per cent of the lead."""

SHORTEST_TRAVEL_MM = 1.0
"""Below it 2 um at each end cost about as much."""

_HANDS = ("right", "left")
_SENSES = ("clockwise", "counter-clockwise")
FLUTE = Role(
    "flute",
    Reads.ALONG,
    "where the flute is touched at each index angle, always at the same diameter",
    least=3,
    index=True,
)
HAND = Asks("hand", "hand of the flutes", words=_HANDS)
SENSE = Asks("index_sense", "sense in which the index grows, seen onto the tip", words=_SENSES)
_DIAMETER = Asks("diameter_mm", "diameter at which the flute is touched")
REFUSES = (
    f"a turn below {SHORTEST_TURN_DEG:.0f} deg or a travel below {SHORTEST_TRAVEL_MM:.0f} mm",
    "readings of the other hand than the one that is stated",
)
_SLOPE = "L = 360 times the slope of the place along the tool over the index angle, least squares"


@dataclass(frozen=True, slots=True)
class Travel:
    """Places of a flute at their index angles: mm away from the tip, and the turn that a
    right-hand flute is given for them, deg."""

    series: Series
    away_mm: tuple[float, ...]
    turn_deg: tuple[float, ...]
    hand: float
    """+1 where a right hand is stated, -1 for a left one."""

    @property
    def travel_mm(self) -> float:
        """Furthest less nearest place."""
        return max(self.away_mm) - min(self.away_mm)

    @property
    def whole_turn_deg(self) -> float:
        """Largest less smallest index angle."""
        return max(self.turn_deg) - min(self.turn_deg)

    def refusals(self, lead: float) -> tuple[str, ...]:
        """Why the travel gives no verdict; ``lead`` is plus for a right hand."""
        found = []
        if self.whole_turn_deg < SHORTEST_TURN_DEG - 1e-6:
            found.append(f"a turn of {self.whole_turn_deg:.1f}° is too short for a lead")
        if self.travel_mm < SHORTEST_TRAVEL_MM - 1e-9:
            found.append(f"a travel of {self.travel_mm:.2f} mm is too short for a lead")
        if lead * self.hand < 0:
            stated, other = _HANDS if self.hand > 0 else _HANDS[::-1]
            found.append(
                f"the readings are those of a {other}-hand flute, {stated} is stated: check hand, "
                "index_sense and the sense of the slide"
            )
        return tuple(found)


def travel_of(given: Given) -> Travel:
    """The places of the flute as a travel; InputError where one has no index angle."""
    series = given.series["flute"]
    marks = series.marks
    if len(series.index) != len(marks):
        raise InputError(
            "a lead needs the index angle of each mark",
            expected=f"{len(marks)} angles",
            found=str(len(series.index)),
            do=f"State index = [...] at the feature {series.feature}",
        )
    turned = 1.0 if given.word("index_sense", _SENSES) == "counter-clockwise" else -1.0
    return Travel(
        series,
        tuple(-given.slides.tip * series.mean(mark, given.slides.along) for mark in marks),
        tuple(turned * angle for angle in series.index),
        1.0 if given.word("hand", _HANDS) == "right" else -1.0,
    )


def root_of_squares(values: Sequence[float]) -> float:
    """Root of the sum of squares about the mean."""
    mean = sum(values) / len(values)
    return math.sqrt(sum((value - mean) ** 2 for value in values))


def one_mark(given: Given, series: Series, per_degree: float, radius: float) -> list[Component]:
    """What scatters one place by itself, um along the tool; ``per_degree`` is what the place
    moves for a degree of turn, mm."""
    across = abs(per_degree) * math.degrees(1 / radius)
    n = series.repeats
    return [
        given.component("flute touched", "crosshair", sensitivity=across, averaged=n),
        step(series.instrument, "readout step"),
        given.component("index angle", "index angle", sensitivity=per_degree * 1000, unit="deg"),
    ]


def ends(given: Given, per_um: float) -> list[Component]:
    """What shifts one end of the travel against the other, carried on by ``per_um``."""
    return [
        given.component("scale over the travel", "scale over a length", sensitivity=per_um),
        given.component("offset and tilt of the slide", "tilt over a length", sensitivity=per_um),
        given.component("backlash left over", "backlash", sensitivity=per_um),
    ]


def _lead(given: Given) -> tuple[Travel, float, list[Component]]:
    """The travel, its lead in mm, right hand positive, and the rows of its budget, um."""
    travel, diameter = travel_of(given), given.number("diameter_mm")
    length(diameter, "diameter")
    fit = regression(travel.turn_deg, travel.away_mm)
    per_um = 360 / root_of_squares(travel.turn_deg)
    rows = [
        *known_or_seen(
            scaled(one_mark(given, travel.series, fit.slope, diameter / 2), per_um),
            fit.residual_std * 1000,
            len(travel.away_mm) - 2,
            per_um,
        ),
        *ends(given, 360 / travel.whole_turn_deg),
    ]
    return travel, 360 * fit.slope, rows


def _detail(
    travel: Travel, lead: float, diameter: float, off_mm: Sequence[float]
) -> dict[str, float | tuple[float, ...]]:
    return {
        "hand": math.copysign(1.0, lead),
        "lead_mm": lead,
        "helix_deg": helix_of_lead(diameter, lead),
        "turn_deg": travel.whole_turn_deg,
        "travel_mm": travel.travel_mm,
        "deviations_mm": tuple(off_mm),
    }


def _residuals(travel: Travel) -> Sequence[float]:
    return regression(travel.turn_deg, travel.away_mm).residuals


@method(
    "lead from travel and turn",
    roles=(FLUTE,),
    asks=(_DIAMETER, HAND, SENSE),
    plane="along the axis, at the diameter stated",
    assumes="the flute is touched at the same diameter and the same height everywhere",
    refuses=REFUSES,
    formula=f"{_SLOPE}; plus for the hand that is stated",
    source="derived",
)
@to_20()
def lead(given: Given) -> Outcome:
    """Lead of a flute, mm, plus where it has the hand that is stated."""
    travel, found, rows = _lead(given)
    return Outcome(
        (found * travel.hand,),
        Budget(tuple(rows), "um"),
        travel.refusals(found),
        _detail(travel, found, given.number("diameter_mm"), _residuals(travel)),
    )


@method(
    "helix angle from travel and turn",
    roles=(FLUTE,),
    asks=(_DIAMETER, HAND, SENSE),
    plane="tangent to the cylinder of the diameter stated, against the axis",
    assumes="the flute is touched at the diameter stated, and at the same height everywhere",
    refuses=REFUSES,
    formula=f"tan b = pi D / L, where {_SLOPE}; plus for the hand that is stated",
    source="derived",
    unit="deg",
)
def helix(given: Given) -> Outcome:
    """Helix angle at a diameter, deg, plus where it has the hand that is stated."""
    travel, found, rows = _lead(given)
    diameter = given.number("diameter_mm")
    size = abs(found)
    below = size**2 + (math.pi * diameter) ** 2
    per_um = math.degrees(math.pi * diameter / below) / 1000
    per_mm = math.degrees(math.pi * size / below)
    radius = given.component(
        "diameter, twice its radius", "radius of the edge", sensitivity=2 * per_mm, unit="mm"
    )
    value = math.copysign(helix_of_lead(diameter, found), found * travel.hand)
    return Outcome(
        (value,),
        Budget((*scaled(rows, per_um), radius), "deg"),
        travel.refusals(found),
        _detail(travel, found, diameter, _residuals(travel)),
    )


_PLUS = ("more turn", "less turn")


@method(
    "lead from creep at a set lead",
    roles=(
        Role("creep", Reads.INDICATOR, "the flute, at each place of the travel", least=2),
        STEP_MASTER,
    ),
    asks=(
        Asks("set_lead_mm", "lead at which the machine carries the tool, without sign"),
        Asks("radius_mm", "radius at which the indicator touches the flute"),
        Asks("places_mm", "travel of each mark from the first", many=True),
        Asks("plus", "what the flute does where the indicator's figure grows", words=_PLUS),
    ),
    plane="along the axis, tangential at the radius stated",
    assumes="machine and flute have the same hand",
    refuses=("a flute that is straight or of the other hand", "a travel below 1 mm"),
    formula="1/L = 1/L_set + c / (2 pi r), c the creep of the indicator for each mm of travel: "
    "least squares",
    source="derived",
)
def creep(given: Given) -> Outcome:
    """Lead of a flute from what an indicator creeps while it follows at a set lead, mm."""
    series, places = given.series["creep"], given.numbers("places_mm")
    if len(places) != len(series.marks):
        raise InputError(
            "each mark needs its place along the travel",
            expected=f"places_mm with {len(series.marks)} numbers",
            found=str(len(places)),
            do="State one place for each mark, the first 0",
        )
    turned = 1.0 if given.word("plus", _PLUS) == "more turn" else -1.0
    set_mm, radius = given.number("set_lead_mm"), given.number("radius_mm")
    e = [turned * series.mean(mark, series.channel) for mark in series.marks]
    slope, seen_um, dof = slope_of(places, e)
    found = lead_of_creep(set_mm, radius, 1.0, slope)
    travel = max(places) - min(places)
    # For 1 um of creep to each mm; over the whole travel it counts by its length.
    per_um = -(found**2) / (2 * math.pi * radius)
    per_mark, whole = per_um / root_of_squares(places), per_um / travel
    n = series.repeats
    known = scaled(
        (
            repeat(series.instrument, "repeat of the indicator", averaged=n),
            step(series.instrument, "step of the indicator"),
        ),
        per_mark,
    )
    rows = (
        *known_or_seen(known, seen_um, dof, per_mark),
        calibration(series.instrument, "indicator, calibration", sensitivity=whole),
        *drift_row(given, "master", "drift of the indicator check", sensitivity=whole),
        given.component(
            "machine, following at the set lead", "following at a set lead", sensitivity=whole
        ),
        given.component(
            "radius at which it touches",
            "radius of the edge",
            sensitivity=-per_um * slope / radius * 1000,
            unit="mm",
        ),
        given.component("scale over the travel", "scale over a length", sensitivity=-whole * slope),
    )
    refusals = []
    if found < 0:
        refusals.append("a flute of the other hand than the set lead: check plus and set_lead_mm")
    if travel < SHORTEST_TRAVEL_MM - 1e-9:
        refusals.append(f"a travel of {travel:.2f} mm is too short for a lead")
    detail = {"creep_um_per_mm": slope * 1000, "travel_mm": travel}
    return Outcome((found,), Budget(rows, "um"), tuple(refusals), detail)


def slope_of(places: Sequence[float], e: Sequence[float]) -> tuple[float, float, int]:
    """Slope of what is read over its places, mm both; the standard deviation of the residuals in
    um and the degrees of freedom that are left, which after two marks are none."""
    if len(places) == 2:
        length(abs(places[1] - places[0]), "travel")
        return (e[1] - e[0]) / (places[1] - places[0]), math.nan, 0
    fit = regression(places, e)
    return fit.slope, fit.residual_std * 1000, len(places) - 2
