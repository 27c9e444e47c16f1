"""What comes next: the steps of a plan in order, less what stands already.

The next step is a pure function of the entries, so a program that was killed at any instant
goes on at the same step.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from inspect_rec.inspection.kept import (
    AFTER,
    BEFORE,
    CLOSURE,
    GROUND,
    TEMPERATURE,
    Kept,
    Place,
    Record,
    Round,
)
from inspect_rec.methods.register import named
from inspect_rec.plan import Channel, Feature, JobFile, Tool


@dataclass(frozen=True, slots=True)
class Step:
    """One thing for the person at the machine to do."""

    kind: str
    """``read``, ``clamp`` or ``unclamp``."""
    object: str = ""
    """What is to be clamped."""
    place: Place | None = None
    feature: Feature | None = None
    stage: str = ""
    index_deg: Decimal | None = None

    @property
    def by_eye(self) -> bool:
        """Whether the figure is read by eye and typed."""
        return self.feature is not None and self.feature.channel is not Channel.SLIDES


class Sequence:
    """The steps of one tool's plan, round by round."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self.job: JobFile = record.job
        self.tool: Tool = record.job.tool_of(record.mark)

    @cached_property
    def temperature(self) -> Feature:
        """The thermometer's feature."""
        conditions = self.job.temperature
        return Feature(
            id=TEMPERATURE,
            name="temperature",
            marks=conditions.where,
            channel=Channel.TEMPERATURE,
            instrument=conditions.instrument,
            stage="check",
        )

    def features(self, round_: Round | None) -> list[Feature]:
        """Features of a round in order, its own repeats and master put in."""
        if round_ is None:
            return list(self.job.feature)
        wanted = {
            name
            for c in self.job.characteristic
            if c.id in round_.characteristics
            for name in c.feature.values()
        }
        return [
            self._again(f, round_)
            for f in self.job.feature
            if f.id in wanted and f.stage != "arrival"
        ]

    @cached_property
    def by_mark(self) -> set[str]:
        """Features whose index angles are those of their marks, since a method reads them so."""
        return {
            c.feature[role.name]
            for c in self.job.characteristic
            for role in named(c.method, c.version).roles
            if role.index and role.name in c.feature
        }

    def _again(self, feature: Feature, round_: Round) -> Feature:
        update: dict[str, object] = {}
        if round_.repeats and feature.channel is Channel.SLIDES:
            index = feature.index if feature.id in self.by_mark else ()
            update |= {"repeats": round_.repeats, "index": index}
        if round_.master and feature.check == "width":
            update |= {"master": round_.master}
        return feature.model_copy(update=update)

    def feature(self, name: str, round_: int = 0) -> Feature | None:
        """The feature as that round has it; None where the round doesn't."""
        if name == TEMPERATURE:
            return self.temperature
        which = self.record.rounds[round_ - 1] if round_ else None
        return next((f for f in self.features(which) if f.id == name), None)

    def flutes(self, feature: Feature) -> range:
        """Flutes of a feature, 0 for the tool as a whole."""
        return range(1, self.tool.edges + 1) if feature.per == "flute" else range(1)

    def places(self, feature: Feature, when: str = "", round_: int = 0) -> list[Place]:
        """Every place of a feature in the order in which it is taken."""
        more = self.once_more
        return [
            Place(feature.id, flute, mark, repeat, when, round_)
            for flute in self.flutes(feature)
            for repeat in range(
                1, feature.repeats + 1 + ((feature.id, flute, when, round_) in more)
            )
            for mark in feature.labels
        ]

    @cached_property
    def once_more(self) -> set[tuple[str, int, str, int]]:
        """Feature, flute, time and round of what is sighted once more than planned."""
        standing = [k.place for k in self.record.standing().values() if k.once_more]
        return {(p.feature, p.flute, p.when, p.round) for p in standing}

    def closure_places(self, feature: Feature, round_: int = 0) -> list[Place]:
        """The places that are taken again on flute 1 after the last flute."""
        marks = feature.labels if feature.closure == "all" else (feature.closure,)
        return [Place(feature.id, 1, mark, 1, CLOSURE, round_) for mark in marks if mark]

    def steps(self) -> Iterator[Step]:
        """All readings of all rounds in order, whether taken or not."""
        for round_ in (None, *self.record.rounds):
            yield from self._round(round_)

    def _round(self, round_: Round | None) -> Iterator[Step]:
        features = self.features(round_)
        number = round_.number if round_ else 0
        checks = [f for f in features if f.master]
        arrival = [f for f in features if f.stage == "arrival"]
        yield from (s for f in arrival for s in self._reads(f, "", number))
        yield from self._reads(self.temperature, BEFORE, number)
        yield from (s for f in checks for s in self._reads(f, BEFORE, number))
        last = number == len(self.record.rounds)
        for cut in range(1, len(self.record.cuts) + 1) if last else ():
            yield from self._reads(self.temperature, f"{GROUND} {cut}", 0)
        for feature in features:
            if not feature.master and feature.stage != "arrival":
                yield from self._reads(feature, "", number)
                yield from self._steps(self.closure_places(feature, number), feature, "check")
        yield from (s for f in checks for s in self._reads(f, AFTER, number))
        yield from self._reads(self.temperature, AFTER, number)

    def _reads(self, feature: Feature, when: str, round_: int) -> Iterator[Step]:
        stage = "check" if feature.master else feature.stage
        return self._steps(self.places(feature, when, round_), feature, stage)

    def _steps(self, places: list[Place], feature: Feature, stage: str) -> Iterator[Step]:
        for place in places:
            yield Step("read", "", place, feature, stage, self._index(feature, place))

    def _index(self, feature: Feature, place: Place) -> Decimal | None:
        if feature.index:
            by_mark = feature.channel is not Channel.SLIDES or feature.id in self.by_mark
            n = feature.labels.index(place.mark) if by_mark else place.repeat - 1
            return feature.index[n % len(feature.index)]
        if place.flute:
            return Decimal(360) * (place.flute - 1) / self.tool.edges
        return None

    def clamping(self, step: Step) -> str:
        """What must be clamped for a step; empty where it doesn't matter."""
        feature = step.feature
        if feature is None or feature.id == TEMPERATURE or step.stage == "arrival":
            return ""
        if feature.clamp:
            return feature.clamp
        if feature.master:
            return feature.master if feature.channel is Channel.SLIDES else ""
        return self.record.mark

    def open(self, standing: Mapping[Place, Kept]) -> list[Step]:
        """The steps that are still to be taken, in order, without clamping."""
        return [s for s in self.steps() if s.place not in standing]

    def next(self, standing: Mapping[Place, Kept]) -> Step | None:
        """The very next step, clamping first; None when all is taken."""
        step = next((s for s in self.steps() if s.place not in standing), None)
        if step is None:
            return None
        wanted = self.clamping(step)
        if not wanted or wanted == self.record.clamped:
            return step
        if wanted == "none":
            return step if not self.record.clamped else Step("unclamp", self.record.clamped)
        return Step("clamp", wanted, feature=step.feature)
