"""Temperatures next to readings, and what they make of lengths where a job has them corrected.

Next to readings lie the last reading of the thermometer before them, the first one after and all
between, as far as no cut lies between: the body was anywhere between the lowest and the highest of
them, so their middle counts, and how far they lie apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from inspect_rec.compute.thermal import Body, Pair, Thermal
from inspect_rec.errors import InputError
from inspect_rec.inspection.kept import TEMPERATURE, Kept, Place, Record
from inspect_rec.methods.base import Series
from inspect_rec.methods.register import Method, named
from inspect_rec.plan import Channel, Equipment

TOOL, SCALE, MASTER, AIR = "tool", "scale", "master", "air"
"""Places of the thermometer; a master or a caliper may have one of its own, by its id."""


@dataclass(frozen=True, slots=True)
class _Solid:
    """What expands, and where its temperature is read: the first of the places that has one."""

    name: str
    expansion: Decimal | None
    u: Decimal | None
    places: tuple[str, ...]


class Warmth:
    """The temperatures of one tool's record."""

    def __init__(self, record: Record, standing: Mapping[Place, Kept]) -> None:
        self.conditions = record.job.temperature
        self.equipment = {e.id: e for e in record.shop.equipment}
        # By the order of the entries: two of them may bear the same instant.
        self.order = {(e.station, e.seq): n for n, e in enumerate(record.entries)}
        self.cuts = [self.order[cut.ref] for cut in record.cuts]
        self.read = sorted(
            (self.order[kept.ref], place.mark, float(next(iter(kept.figures.values()))))
            for place, kept in standing.items()
            if place.feature == TEMPERATURE
        )
        self.entering = {
            c.feature[role.name]
            for c in record.job.characteristic
            for role in named(c.method, c.version).roles
            if role.length and role.master and role.name in c.feature
        }

    def thermal(self, how: Method, series: Mapping[str, Series]) -> Thermal | None:
        """What takes the value of those readings to 20 degC; None where it isn't corrected."""
        if not self.conditions.correct:
            return None
        thermometer = self.equipment[self.conditions.instrument]
        if thermometer.expanded is None:
            raise InputError(
                f"equipment {thermometer.id} states no expanded", do="Add its U (k = 2) in K"
            )
        tool = _Solid(
            "the tool", self.conditions.tool_expansion, self.conditions.tool_expansion_u, (TOOL,)
        )
        pairs = {"": self._pair(tool, series[how.roles[0].name])}
        for role in how.roles:
            if role.length and role.master and role.name in series:
                pairs[role.name] = self._master(series[role.name])
        found = {name: pair for name, pair in pairs.items() if isinstance(pair, Pair)}
        return Thermal(
            tool=found.pop("", None),
            expanded=float(thermometer.expanded),
            half_step=None if thermometer.half_step is None else float(thermometer.half_step),
            masters=found,
            missing={name: why for name, why in pairs.items() if not isinstance(why, Pair)},
        )

    def held(self, series: Series) -> Series:
        """The same readings; where the length of their master enters a value, with what the warm
        scale shows of it instead."""
        master = series.master
        if not self.conditions.correct or series.feature not in self.entering or master is None:
            return series
        pair = self._master(series)
        if master.value is None or not isinstance(pair, Pair):
            return series
        return replace(series, master=replace(master, value=pair.shown(master.value)))

    def _master(self, series: Series) -> Pair | tuple[str, ...]:
        if series.master is None:
            return (f"{series.feature} names no master",)
        e = self.equipment[series.master.id]
        return self._pair(_Solid(e.id, e.expansion, e.expansion_u, (e.id, MASTER)), series)

    def _pair(self, solid: _Solid, series: Series) -> Pair | tuple[str, ...]:
        """The body and its scale as they were next to those readings, or what is missing."""
        body, scale = self._body(solid, series), None
        beside = self._scale(series)
        if beside is not None:
            scale = self._body(beside, series)
        lack = tuple(each for each in (body, scale) if isinstance(each, str))
        if lack or isinstance(body, str) or isinstance(scale, str):
            return lack
        return Pair(body, scale)

    def _scale(self, series: Series) -> _Solid | None:
        if series.channel == Channel.SLIDES:
            expansion, u = self.conditions.scale_expansion, self.conditions.scale_expansion_u
            return _Solid("the scale", expansion, u, (SCALE,))
        if series.channel == Channel.LENGTH:
            e: Equipment = self.equipment[series.instrument.id]
            return _Solid(e.id, e.expansion, e.expansion_u, (e.id, AIR))
        return None

    def _body(self, solid: _Solid, series: Series) -> Body | str:
        if solid.expansion is None:
            return f"{solid.name} states no expansion"
        near = next((n for place in solid.places if (n := self._near(place, series))), None)
        if near is None:
            return f"the temperature of {solid.name} is missing"
        return Body(
            solid.name,
            float(solid.expansion),
            (min(near) + max(near)) / 2 - 20,
            max(near) - min(near),
            None if solid.u is None else float(solid.u),
        )

    def _near(self, place: str, series: Series) -> list[float]:
        """Temperatures read there next to those readings, degC; none where there is none."""
        at = [self.order[t.ref] for t in series.taken]
        first, last = min(at), max(at)
        since = max((cut for cut in self.cuts if cut < first), default=-math.inf)
        until = min((cut for cut in self.cuts if cut > last), default=math.inf)
        there = [(n, c) for n, mark, c in self.read if mark == place and since < n < until]
        return [
            *[c for n, c in there if n < first][-1:],
            *[c for n, c in there if first < n < last],
            *[c for n, c in there if n > last][:1],
        ]
