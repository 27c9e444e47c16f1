"""The live figures of one readout or several: what stands still, and what an instrument shows.

The slides come from the main readout, or one slide from it and the other from another; every
further readout is an instrument of the register (an indicator, a thermometer) whose figure may be
taken where the plan has it read. Knows no ledger and no clock.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Literal

from drivers.joined import Joined
from drivers.layout import Layout
from drivers.settled import Settled, State
from inspect_rec.reading import Reading, Sighting
from inspect_rec.units import to_mm

SLIDES = ("X", "Z")
Slide = Literal["X", "Z"]
Sense = Literal["+", "-"]


WHY_NOT = {
    State.LIVE: "Still moving",
    State.STALE: "The figure is old: wait for the readout",
    State.LOST: "No figure: is the readout's plug in?",
    State.STILL: "",
}
"""Why a figure isn't taken."""

_TURNED_MM = Decimal("0.003")
"""A slide that comes back by less than this has not turned round: figures flicker at rest."""


class Arrival:
    """In which sense each slide came to where it stands."""

    def __init__(self) -> None:
        self._moves: dict[str, tuple[str, Decimal]] = {}
        """Slide -> sense, empty before the first move, and how far it came in it."""

    def hear(self, sighting: Sighting) -> None:
        """Figures of the slides as they move."""
        for reading in sighting.readings:
            value = to_mm(reading.value, reading.unit)
            sense, far = self._moves.get(reading.channel, ("", value))
            if sense != "-" and value > far and (sense or value - far >= _TURNED_MM):
                sense, far = "+", value
            elif sense != "+" and value < far and (sense or far - value >= _TURNED_MM):
                sense, far = "-", value
            elif abs(value - far) >= _TURNED_MM:
                sense, far = ("+" if value > far else "-"), value
            self._moves[reading.channel] = sense, far

    def wrong(self, wanted: Mapping[Slide, Sense]) -> list[str]:
        """The slides that came in another sense than is wanted; one that didn't move yet isn't
        known to."""
        return [
            slide
            for slide, sense in wanted.items()
            if self._moves.get(slide, ("",))[0] not in ("", sense)
        ]


class Live:
    """Watches all readouts. ``source``: id of the main one; ``others``: id -> layout."""

    def __init__(self, source: str, layout: Layout, others: Mapping[str, Layout]) -> None:
        self.source, self.layout, self._others = source, layout, others
        self._slides = Settled(layout)
        self._instruments = {name: Settled(other) for name, other in others.items()}
        alone = set(SLIDES) <= set(layout.channels) and not layout.figures.axes
        self.arrival = Arrival()
        self._joined = None if alone else Joined(SLIDES, layout.rules.pair_ms)

    @property
    def slides(self) -> Sighting | None:
        """The last figures of the slides."""
        return self._slides.last

    def complete(self, sighting: Sighting, source: str) -> Sighting | None:
        """The sighting of both slides that this one completes; None for one slide alone, or for an
        instrument, whose figure is kept."""
        if source in self._instruments and not self._shows_slide(sighting):
            self._instruments[source].hear(sighting)
            return None
        return sighting if self._joined is None else self._joined.hear(sighting)

    @staticmethod
    def _shows_slide(sighting: Sighting) -> bool:
        return any(reading.channel in SLIDES for reading in sighting.readings)

    def hear(self, sighting: Sighting) -> None:
        """Both slides."""
        self._slides.hear(sighting)
        self.arrival.hear(sighting)

    def came_wrong(self, wanted: Mapping[Slide, Sense]) -> str:
        """What to say of slides that came from the side where their backlash lies. A readout that
        sends on its key shows no way that a slide came."""
        if self.layout.on_key or not (slides := self.arrival.wrong(wanted)):
            return ""
        return (
            f"{' and '.join(slides)} came from the wrong side, so the backlash counts. Strike it "
            "out, go back and come again"
        )

    def lose(self, source: str) -> None:
        """A line went away, or an alarm came: what was still isn't any more."""
        if source in self._instruments:
            self._instruments[source].lose()
        if source not in self._instruments or self._joined is not None:
            self._slides.lose()
        if self._joined is not None:
            self._joined.lose()

    def state(self, at: datetime) -> State:
        """State of the slides' figures."""
        return self._slides.state(at)

    def instrument(self, source: str, channel: str) -> tuple[Settled, Reading | None] | None:
        """A further readout with its last reading of that channel; None where there is no such."""
        settled = self._instruments.get(source)
        if settled is None or channel not in self._others[source].channels:
            return None
        readings = () if settled.last is None else settled.last.readings
        return settled, next((r for r in readings if r.channel == channel), None)
