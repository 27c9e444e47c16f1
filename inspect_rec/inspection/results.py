"""Results: readings that stand, through their method, to value, uncertainty and verdict."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from inspect_rec.compute.conformity import Judgement, Verdict, Zones, warns
from inspect_rec.compute.rules import judge_range
from inspect_rec.compute.uncertainty import Budget
from inspect_rec.errors import ComputeError, InputError
from inspect_rec.inspection import repeats, studied
from inspect_rec.inspection.checks import Check, Closure, Noise, check, closure
from inspect_rec.inspection.kept import AFTER, BEFORE, Kept, Place, Record, Ref
from inspect_rec.inspection.sequence import Sequence
from inspect_rec.inspection.stock import Stock
from inspect_rec.inspection.warmth import Warmth
from inspect_rec.methods.base import (
    Given,
    Instrument,
    MasterBias,
    Outcome,
    Series,
    Slides,
    Taken,
)
from inspect_rec.methods.register import Method, named
from inspect_rec.plan import Characteristic, Drift, Equipment, Feature
from inspect_rec.units import printed, quantise


@dataclass(frozen=True, slots=True)
class Result:
    """One characteristic on one flute: value, uncertainty, verdict, and what is left to grind.

    ``values``: one, or lowest and highest, quantised, in mm or deg; ``u``, ``U``, ``g`` likewise.
    """

    characteristic: Characteristic
    flute: int | None
    values: tuple[Decimal, ...]
    u: Decimal
    U: Decimal
    k: Decimal
    dof: float
    judgement: Judgement
    outcome: Outcome
    method: Method
    refs: tuple[Ref, ...]
    round: int
    ratio: Decimal | None
    """U over the width of the tolerance; None where there is none."""
    warn: bool
    stock: Stock | None = None

    @property
    def value(self) -> Decimal:
        """The value; of a profile the one nearer to (or further beyond) its limit."""
        if len(self.values) == 1:
            return self.values[0]
        return max(self.values, key=lambda v: abs(v - self._centre))

    @property
    def _centre(self) -> Decimal:
        c = self.characteristic
        return ((c.lower or Decimal(0)) + (c.upper or Decimal(0))) / 2

    @property
    def verdict(self) -> Verdict:
        """What can be said."""
        return self.judgement.verdict

    @property
    def zones(self) -> Zones | None:
        """Acceptance and rejection limits; None where there are no limits or a refusal."""
        return self.judgement.zones

    @property
    def budget(self) -> Budget:
        """Where the uncertainty comes from."""
        return self.outcome.budget

    def shown(self, value: Decimal) -> Decimal:
        """``value`` rounded for print in mm or deg, never across a limit."""
        c = self.characteristic
        limits = [limit for limit in (c.lower, c.upper) if limit is not None]
        return printed(value, c.digits, limits)


class Evaluator:
    """Everything that can be computed from what stands, each thing once."""

    def __init__(self, record: Record, sequence: Sequence) -> None:
        self.record = record
        self.sequence = sequence
        self.standing: Mapping[Place, Kept] = record.standing()
        self.equipment = {e.id: e for e in record.shop.equipment}
        self.influences = studied.influences(record.shop, record.job)
        self.known = studied.known(record.shop)
        self.warmth = Warmth(record, self.standing)
        self.failed: dict[tuple[str, int | None], str] = {}
        set_up = record.set_up
        self.slides = Slides(
            radial=set_up.radial,
            along=set_up.along,
            outward=1 if set_up.outward == "+" else -1,
            tip=1 if set_up.tip == "+" else -1,
        )

    # -- readings ------------------------------------------------------------

    def instrument(self, name: str) -> Instrument:
        """Equipment as a budget needs it."""
        e: Equipment | None = self.equipment.get(name)
        if e is None:
            raise InputError("no such equipment in the shop file", found=repr(name))
        own = self.known.get(f"repeat of {e.id}")
        amounts = (
            e.half_step,
            own.amount if own else e.repeat,
            e.expanded,
            e.largest_error,
            e.value,
        )
        half_step, repeat, expanded, largest_error, value = (
            None if amount is None else float(amount) for amount in amounts
        )
        return Instrument(e.id, half_step, repeat, expanded, largest_error, value, own)

    def series(self, feature: Feature, places: list[Place]) -> Series | None:
        """The readings at ``places``; None while one is missing."""
        kept = [self.standing.get(place) for place in places]
        taken = tuple(
            Taken(
                r.place.mark,
                r.place.repeat,
                r.place.flute or None,
                {channel: float(figure) for channel, figure in r.figures.items()},
                r.ref,
                r.at.timestamp(),
            )
            for r in kept
            if r is not None
        )
        if len(taken) < len(places):
            return None
        found = Series(
            feature.id,
            taken,
            feature.channel.value,
            self.instrument(feature.instrument or self.record.set_up.readout),
            self.instrument(feature.master) if feature.master else None,
            tuple(float(angle) for angle in feature.index),
        )
        return self.warmth.held(found)

    def of(self, name: str, round_: int, flute: int | None = None) -> tuple[Series, int] | None:
        """The complete series of a feature in the latest round up to ``round_`` that has one,
        and that round; of a master the one before."""
        for number in range(round_, -1, -1):
            feature = self.sequence.feature(name, number)
            if feature is None:
                continue
            when = BEFORE if feature.master else ""
            places = self.sequence.places(feature, when, number)
            if flute is not None and feature.per == "flute":
                places = [p for p in places if p.flute == flute]
            found = self.series(feature, places)
            if found is not None:
                return self._with_after(found, feature, number), number
        return None

    def _with_after(self, found: Series, feature: Feature, number: int) -> Series:
        """Of a master whose check after is made, and good: with its readings."""
        good = (c.feature == feature.id and c.round == number and c.good for c in self.checks)
        if not any(good):
            return found
        after = self.series(feature, self.sequence.places(feature, AFTER, number))
        return replace(found, after=after.taken) if after else found

    # -- checks --------------------------------------------------------------

    @cached_property
    def noise(self) -> Noise:
        """What one sighting scatters, for the limits of drift and closure."""
        given = self._given({}, None, None, {}, {})
        readout = self.instrument(self.record.set_up.readout)
        clamping = given.component("clamping", "clamping").u if "clamping" in self.influences else 0
        return Noise(given.crosshair_um(), readout.half_step or 0.0, clamping)

    @cached_property
    def checks(self) -> tuple[Check, ...]:
        """All master checks, by round, as far as they were made."""
        return tuple(c for number in self._rounds() for c in self._checks(number))

    def _rounds(self) -> range:
        return range(len(self.record.rounds) + 1)

    def _features(self, number: int) -> list[Feature]:
        return self.sequence.features(self.record.rounds[number - 1] if number else None)

    def _checks(self, number: int) -> Iterator[Check]:
        for feature in self._features(number):
            if not feature.check:
                continue
            axis = self.sequence.feature(feature.axis, number) if feature.axis else None
            both = {
                when: self.series(feature, self.sequence.places(feature, when, number))
                for when in (BEFORE, AFTER)
            }
            axes = {
                when: self.series(axis, self.sequence.places(axis, when, number)) if axis else None
                for when in (BEFORE, AFTER)
            }
            if axis:
                both = {when: s if axes[when] else None for when, s in both.items()}
            found = check(
                feature,
                number,
                both,
                axes,
                self.noise,
                self.slides.radial,
                self._unknown(feature),
                taken_off=self._taken_off(feature),
            )
            if found is not None:
                yield found

    def _taken_off(self, feature: Feature) -> bool:
        """Whether whatever rests on this master takes its bias off."""
        roles = [
            role
            for c in self.record.job.characteristic
            for role in named(c.method, c.version).roles
            if c.feature.get(role.name) == feature.id
        ]
        return bool(roles) and all(role.length for role in roles)

    def _unknown(self, feature: Feature) -> float:
        """u of what a check can't see in itself: the master's calibration, and on an arc scale
        and edge."""
        master = self.instrument(feature.master)
        parts = [(master.expanded or 0.0) / 2]
        if feature.check in ("arc", "arc on the axis"):
            given = self._given({}, None, None, {}, {})
            parts += [given.component(name, name).u for name in ("scale", "edge")]
        return math.sqrt(sum(p**2 for p in parts))

    @cached_property
    def closures(self) -> tuple[Closure, ...]:
        """All closures that stand."""
        return tuple(c for number in self._rounds() for c in self._closures(number))

    def _closures(self, number: int) -> Iterator[Closure]:
        for feature in self._features(number):
            places = self.sequence.closure_places(feature, number)
            if not places:
                continue
            first = self.series(
                feature, [p for p in self.sequence.places(feature, "", number) if p.flute == 1]
            )
            again = self.series(feature, places)
            if first is None or again is None:
                continue
            found = self.of(feature.axis, number) if feature.axis else None
            axis = found[0] if found else None
            with suppress(ComputeError):  # the results that it vouches for say why
                yield closure(feature, number, first, again, axis, self.noise, self.slides.radial)

    # -- results -------------------------------------------------------------

    @cached_property
    def results(self) -> tuple[Result, ...]:
        """Every result that can be computed now, in the order of the plan."""
        found: list[Result] = []
        for c in self.record.job.characteristic:
            found += self._results(c, found)
        return tuple(found)

    def _results(self, c: Characteristic, found: list[Result]) -> list[Result]:
        how = named(c.method, c.version)
        if how.varies:
            parts = [r for r in found if r.characteristic.id == c.of]
            if len(parts) < self.sequence.tool.edges:
                return []
            others = {r.flute or 0: r.outcome for r in parts}
            refs = tuple(ref for r in parts for ref in r.refs)
            given = self._given({}, None, c, {}, others)
            return [self._judged(c, how, None, given, refs, max(r.round for r in parts))]
        flutes = range(1, self.sequence.tool.edges + 1) if c.per == "flute" else (None,)
        return [r for flute in flutes if (r := self._result(c, how, flute)) is not None]

    def _result(self, c: Characteristic, how: Method, flute: int | None) -> Result | None:
        series: dict[str, Series] = {}
        round_ = len(self.record.rounds)
        primary = how.roles[0].name
        used = 0
        for each in how.roles:
            role = each.name
            name = c.feature.get(role)
            if name is None:
                if not each.needed:
                    continue
                raise InputError(
                    f"characteristic {c.id} names no feature for {role}",
                    do=f"Add {role} = ... to its feature table",
                )
            got = self.of(name, round_, flute)
            if got is None:
                return None
            series[role] = got[0]
            if role == primary:
                used = round_ = got[1]
        given = self._given(series, flute, c, self._drift(c, how, used), {})
        given = replace(
            given,
            thermal=self.warmth.thermal(how, series),
            bias={
                role: MasterBias(each.before, each.u)
                for role, each in self._checked(c, how, used)
                if each.before is not None
            },
        )
        refs = self._refs(series)
        if self.sequence.once_more and (own := repeats.own_scatter(self, refs)):
            given = replace(given, influences={**given.influences, "crosshair": own})
        try:
            return self._judged(c, how, flute, given, refs, used)
        except (ComputeError, InputError) as error:  # one slip must not stop everything else
            self.failed[c.id, flute] = str(error)
            return None

    @staticmethod
    def _refs(series: Mapping[str, Series]) -> tuple[Ref, ...]:
        return tuple(t.ref for s in series.values() for t in s.taken)

    def _drift(self, c: Characteristic, how: Method, round_: int) -> dict[str, float]:
        return {
            role: each.drift
            for role, each in self._checked(c, how, round_)
            if each.drift is not None
        }

    def _checked(self, c: Characteristic, how: Method, round_: int) -> Iterator[tuple[str, Check]]:
        """Role and check of each master that was checked in that round."""
        for role in how.roles:
            for each in self.checks:
                if each.feature == c.feature.get(role.name) and each.round == round_:
                    yield role.name, each

    def _given(
        self,
        series: Mapping[str, Series],
        flute: int | None,
        c: Characteristic | None,
        drift: Mapping[str, float],
        others: Mapping[int, Outcome],
    ) -> Given:
        return Given(
            series=series,
            flute=flute,
            parameters=c.parameters if c else {},
            slides=self.slides,
            influences=self.influences,
            drift=drift,
            others=others,
            width=float(c.width) if c and c.width else None,
            interpolated=self.record.job.job.drift is Drift.INTERPOLATED,
        )

    def _suspect(self, refs: tuple[Ref, ...]) -> list[str]:
        """Why readings that it rests on can't be trusted, each reason once."""
        found = {kept.ref: kept.suspect for kept in self.standing.values() if kept.suspect}
        return list(dict.fromkeys(found[ref] for ref in refs if ref in found))

    def _judged(
        self,
        c: Characteristic,
        how: Method,
        flute: int | None,
        given: Given,
        refs: tuple[Ref, ...],
        round_: int,
    ) -> Result:
        outcome = how.evaluate(given)
        per_unit = 1 if c.deg else 1000
        budget = outcome.budget
        u = quantise(budget.u / per_unit, c.unit)
        k = Decimal(repr(round(budget.coverage_k, 4)))
        rule = self.record.job.job.decision(c.unit)
        values = tuple(quantise(v, c.unit) for v in outcome.values)
        if c.info:
            judgement = Judgement(Verdict.REFUSED, None, "for information: no limits", None)
        else:
            ends = values[0], values[-1]
            judgement = judge_range(*ends, c.limits, u, rule, budget.dof).judgement
        if refusals := (*outcome.refusals, *self._suspect(refs)):
            judgement = replace(judgement, verdict=Verdict.REFUSED, reason="; ".join(refusals))
        expanded = quantise(k * u, c.unit)
        ratio, warn = (None, False) if c.info else warns(c.limits, expanded)
        return Result(
            c,
            flute,
            values,
            u,
            expanded,
            k,
            budget.dof,
            judgement,
            outcome,
            how,
            refs,
            round_,
            ratio,
            warn,
        )


def overdue(record: Record, used: set[str], at: datetime.datetime) -> list[str]:
    """Equipment in use whose calibration had run out on the day."""
    return [
        f"{e.id} was due on {e.due.isoformat()}"
        for e in record.shop.equipment
        if e.id in used and e.due < at.date()
    ]
