"""Spreads over the flutes of places that arcs give: tips of a ball nose, centres of a profile."""

from __future__ import annotations

from collections.abc import Callable

from inspect_rec.compute import fitting
from inspect_rec.compute.uncertainty import Budget, Component, spread_of_flutes
from inspect_rec.methods.arcs import ARC, on_axis, points_of, u_of_tip
from inspect_rec.methods.base import Given, Outcome, Series, stated
from inspect_rec.methods.register import method
from inspect_rec.methods.widths import AXIS


def _spread(
    given: Given, place: Callable[[Series], tuple[float, float]], more: list[Component], name: str
) -> Outcome:
    """Largest less smallest of a place of each flute's arc; ``place`` gives mm and u/s, counted
    the way in which metal stands proud, whichever way the slide counts."""
    arc = given.series["arc"]
    found = [place(arc.of_flute(n)) for n in arc.flutes]
    places = tuple(value for value, _ in found)
    own = Budget(
        (
            given.component(
                name, "crosshair", sensitivity=stated(max(sensitivity for _, sensitivity in found))
            ),
            given.component("edge", "edge"),
            *more,
        ),
        "um",
    )
    return Outcome(
        (max(places) - min(places),),
        spread_of_flutes(own, "one flute, own part"),
        detail={"places_mm": places},
    )


@method(
    "spread of the tips",
    roles=(ARC, AXIS),
    plane="along the axis",
    assumes="the centres lie on the axis",
    formula="largest less smallest place of the tips along the tool, the tip being centre plus "
    "radius of the arc held on the axis",
    source="derived",
    over_flutes=True,
)
def tip_spread(given: Given) -> Outcome:
    """Spread of the tips of a ball nose along the tool, mm."""

    def tip(arc: Series) -> tuple[float, float]:
        circle = on_axis(given, arc)
        along = circle.centre_z_mm if given.slides.along == "Z" else circle.centre_x_mm
        return given.slides.tip * along + circle.radius_mm, u_of_tip(given, circle)

    return _spread(given, tip, [], "crosshair, place of the tip")


@method(
    "spread of the centres",
    roles=(ARC,),
    plane="along the radial slide",
    formula="largest less smallest place of the centres of the arcs along the radial slide",
    source="derived",
    over_flutes=True,
)
def centre_spread(given: Given) -> Outcome:
    """Spread of the radial places of a profile's arcs over the teeth, mm."""

    def centre(arc: Series) -> tuple[float, float]:
        circle = fitting.circle(points_of(arc))
        if given.slides.radial == "Z":
            return given.slides.outward * circle.centre_z_mm, circle.u_cz_over_s
        return given.slides.outward * circle.centre_x_mm, circle.u_cx_over_s

    indexing = given.component("indexing, run-out of the arbor", "indexing")
    return _spread(given, centre, [indexing], "crosshair, place of the centre")
