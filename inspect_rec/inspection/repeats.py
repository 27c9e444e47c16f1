"""Repeats that stand in the ledger: one place laid up anew within one clamping. No I/O.

What a person struck out was no sighting of that place; everything else is a repeat and none is
left away because of its value.
"""

from __future__ import annotations

import datetime
import json
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from statistics import stdev
from typing import Protocol

from inspect_rec.compute.studies import largest_range
from inspect_rec.inspection import sequence
from inspect_rec.inspection.checks import Noise
from inspect_rec.inspection.kept import CLOSURE, Kept, Place, Record, Ref
from inspect_rec.methods.base import Known
from inspect_rec.methods.register import Reads, named
from inspect_rec.methods.widths import SIDES
from inspect_rec.plan import Channel, Feature

MOVED = ("clamped", "unclamped", "datum set anew", "ground again")
"""After these the same mark is another place."""

OWN = "repeats of "
"""How the study is named that a tool's own repeats are."""

INDEXED = "repeats at different index angles: form and run-out are in them"
POINTS = "points of an edge: which way they scatter isn't that of one slide"
STRUCK = "struck out by a person, with a reason"

_CHANNEL = {"repeat": Channel.INDICATOR, "laying-up": Channel.LENGTH}


@dataclass(frozen=True, slots=True)
class Repeats:
    """Readings of one place by one channel, mm, oldest first."""

    inspection: str
    place: Place
    """Of the first of them."""
    channel: str
    readings: tuple[Decimal, ...]
    refs: tuple[Ref, ...]
    persons: tuple[str, ...]
    on: datetime.date
    """Of the last of them, UTC."""

    def __str__(self) -> str:
        p = self.place
        flute = f"no. {p.flute}" if p.flute else ""
        again = f"round {p.round}" if p.round else ""
        said = (p.feature, flute, p.mark, p.when, again, self.channel)
        return f"{self.inspection}: {', '.join(part for part in said if part)}"


@dataclass(frozen=True, slots=True)
class Found:
    """The repeats of one influence, and how many readings of what kind are none."""

    groups: tuple[Repeats, ...]
    left_out: Mapping[str, int]


def slide(record: Record, feature: Feature) -> str | None:
    """The slide along which a feature is sighted; None for points and for what is read by eye."""
    if feature.channel is not Channel.SLIDES:
        return None
    set_up = record.set_up
    if set(feature.labels) <= set(SIDES):
        return set_up.radial
    reads = {
        role.reads
        for c in record.job.characteristic
        for role in named(c.method, c.version).roles
        if c.feature.get(role.name) == feature.id
    }
    if len(reads) != 1:
        return None
    return {Reads.RADIAL: set_up.radial, Reads.ALONG: set_up.along}.get(reads.pop())


@dataclass(frozen=True, slots=True)
class Spread:
    """How far the repeats of a mark lie apart, mm, of single sightings or of widths by two."""

    readings: tuple[Decimal, ...]
    sightings: int
    usual_mm: float
    """What good repeats hardly ever exceed."""

    @property
    def range_mm(self) -> Decimal:
        """Largest less smallest."""
        return max(self.readings) - min(self.readings)

    @property
    def too_large(self) -> bool:
        """Whether one of them must be looked at again."""
        return float(self.range_mm) > self.usual_mm

    @property
    def s_um(self) -> float:
        """Standard deviation of one sighting by these repeats alone, um."""
        return stdev(map(float, self.readings)) * 1000 / math.sqrt(self.sightings)

    def __str__(self) -> str:
        return f"{self.range_mm} mm, usual up to {self.usual_mm:.3f} mm"


def spread(
    record: Record,
    steps: sequence.Sequence,
    place: Place,
    sighting_um: float,
    new: Mapping[str, Decimal] | None = None,
) -> Spread | None:
    """Of the repeats of the mark at ``place`` that stand, with ``new`` there where it is about to
    be taken; None while planned ones are missing. ``sighting_um``: what one sighting scatters.

    Where the index turns between the repeats their widths count: run-out isn't in them.
    """
    feature = steps.feature(place.feature, place.round)
    channel = None if feature is None else slide(record, feature)
    if feature is None or channel is None or place.when == CLOSURE or feature.repeats < 2:
        return None
    here = {
        (p.mark, p.repeat): k.figures[channel]
        for p, k in record.standing().items()
        if _group(p) == _group(place)
    }
    if new is not None:
        here[place.mark, place.repeat] = new[channel]
    readings, sightings = [v for (mark, _), v in here.items() if mark == place.mark], 1
    if _turned(steps, feature):
        if set(feature.labels) != set(SIDES):
            return None
        other = SIDES[place.mark == SIDES[0]]
        pairs = [(v, here.get((other, n))) for (m, n), v in here.items() if m == place.mark]
        readings, sightings = [abs(a - b) for a, b in pairs if b is not None], 2
    if len(readings) < feature.repeats:
        return None
    usual = largest_range(len(readings)) * sighting_um * math.sqrt(sightings) / 1000
    return Spread(tuple(readings), sightings, usual)


def _turned(steps: sequence.Sequence, feature: Feature) -> bool:
    """Whether the index turns between the repeats of a mark."""
    return len(set(feature.index)) > 1 and feature.id not in steps.by_mark


def _group(place: Place) -> tuple[str, int, str, int]:
    return place.feature, place.flute, place.when, place.round


class _Folded(Protocol):
    """What an evaluator has."""

    record: Record
    sequence: sequence.Sequence

    @property
    def noise(self) -> Noise: ...


def own_scatter(of: _Folded, refs: Iterable[Ref]) -> Known | None:
    """What one sighting scatters by the repeats themselves, where some of ``refs`` still differ
    too much after one more was taken; None where the shop's figure describes them."""
    wanted = set(refs)
    places = [k.place for k in of.record.readings if k.once_more and k.ref in wanted]
    found_ = {(*_group(p), p.mark): spread(of.record, of.sequence, p, of.noise.one) for p in places}
    wide = {key: s for key, s in found_.items() if s is not None and s.too_large}
    if not wide:
        return None
    key, worst = max(wide.items(), key=lambda item: item[1].s_um)
    if worst.s_um <= of.noise.one:
        return None  # of very many repeats one lies far out
    name = f"{OWN}{key[0]}, {key[-1]}"
    return Known(
        Decimal(repr(worst.s_um)).quantize(Decimal("0.01"), ROUND_CEILING),
        dof=len(worst.readings) - 1,
        note=f"{name}, differ by {worst}: their own scatter is taken",
        study=name,
    )


def found(
    records: Iterable[Record],
    influence: str,
    instrument: str = "",
    after: Ref | None = None,
    since: datetime.datetime | None = None,
) -> Found:
    """The repeats by which an influence shows: ``crosshair`` by the slides, ``laying-up`` by a
    caliper, ``repeat`` by the indicator ``instrument``; of entries later than ``after``, taken
    at ``since`` or later."""
    groups: list[Repeats] = []
    left_out: Counter[str] = Counter()
    for record in records:
        of_one, none = _of(
            record, influence, instrument, [k for k in record.readings if _late(k, after, since)]
        )
        groups += of_one
        left_out += none
    return Found(tuple(groups), dict(left_out))


def _of(
    record: Record, influence: str, instrument: str, readings: Iterable[Kept]
) -> tuple[list[Repeats], Counter[str]]:
    steps, when = sequence.Sequence(record), _clampings(record)
    by_place: dict[tuple[Place, int], list[Kept]] = {}
    for kept in readings:
        p = kept.place
        if p.when != CLOSURE:
            place = Place(p.feature, p.flute, p.mark, 0, p.when, p.round)
            by_place.setdefault((place, when[kept.ref]), []).append(kept)
    groups, left_out = list[Repeats](), Counter[str]()
    for (place, _), here in by_place.items():
        feature = steps.feature(place.feature, place.round)
        if feature is None or not _shows(feature, influence, instrument):
            continue
        good = [k for k in here if record.void.get(k.ref) != "struck out"]
        left_out[STRUCK] += len(here) - len(good)
        if len(good) < 2:
            continue
        channel = slide(record, feature) if influence == "crosshair" else feature.channel.value
        if channel is None or (influence == "crosshair" and _turned(steps, feature)):
            left_out[POINTS if channel is None else INDEXED] += len(good)
            continue
        groups.append(
            Repeats(
                record.inspection,
                good[0].place,
                channel,
                tuple(k.figures[channel] for k in good),
                tuple(k.ref for k in good),
                tuple(dict.fromkeys(k.person for k in good)),
                good[-1].at.date(),
            )
        )
    return groups, +left_out


def _late(kept: Kept, after: Ref | None, since: datetime.datetime | None) -> bool:
    of_later = after is None or kept.ref[0] != after[0] or kept.ref > after
    return of_later and (since is None or kept.at >= since)


def _shows(feature: Feature, influence: str, instrument: str) -> bool:
    if influence == "crosshair":
        return feature.channel is Channel.SLIDES
    return feature.channel is _CHANNEL[influence] and instrument in ("", feature.instrument)


def table(groups: Sequence[Repeats], influence: str, instrument: str = "") -> str:
    """The groups as a ``[[study]]`` table of the shop file; raises ValueError without groups."""
    last = max(ref for group in groups for ref in group.refs)
    features = ", ".join(dict.fromkeys(group.place.feature for group in groups))
    said = {"influence": influence, "instrument": instrument}
    ends = {
        "by": ", ".join(sorted({person for group in groups for person in group.persons})),
        "until": "{} {}".format(*last),
        "what": f"repeats in the ledger: {features}"[:200].strip(" ,"),
    }
    lines = ["[[study]]"]
    lines += [f"{key} = {_text(value)}" for key, value in said.items() if value]
    lines.append(f"on = {max(group.on for group in groups).isoformat()}")
    lines += [f"{key} = {_text(value)}" for key, value in ends.items()]
    rows = (f"    [{', '.join(format(r, 'f') for r in g.readings)}],  # {g}" for g in groups)
    return "\n".join([*lines, "groups = [", *rows, "]", ""])


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _clampings(record: Record) -> dict[Ref, int]:
    """Reading -> how often something was moved before it."""
    count, found_ = 0, {}
    for entry in record.entries:
        count += entry.kind in MOVED
        found_[entry.station, entry.seq] = count
    return found_
