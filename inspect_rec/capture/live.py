"""The live figures of one readout or several: what stands still, and what an instrument shows.

The slides come from the main readout, or one slide from it and the other from another; every
further readout is an instrument of the register (an indicator, a thermometer) whose figure may be
taken where the plan has it read. Knows no ledger and no clock.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from drivers.joined import Joined
from drivers.layout import Layout
from drivers.settled import Settled, State
from inspect_rec.reading import Reading, Sighting

SLIDES = ("X", "Z")


class Live:
    """Watches all readouts. ``source``: id of the main one; ``others``: id -> layout."""

    def __init__(self, source: str, layout: Layout, others: Mapping[str, Layout]) -> None:
        self.source, self.layout, self._others = source, layout, others
        self._slides = Settled(layout)
        self._instruments = {name: Settled(other) for name, other in others.items()}
        alone = set(SLIDES) <= set(layout.channels) and not layout.figures.axes
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
