"""The fold: entries of one tool in, everything that can be said of it out."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection.checks import Check, Closure
from inspect_rec.inspection.kept import BEFORE, TEMPERATURE, Kept, Place, Record, Ref, record
from inspect_rec.inspection.life import LengthLeft, length_left
from inspect_rec.inspection.results import Evaluator, Result, overdue
from inspect_rec.inspection.sequence import Sequence, Step
from inspect_rec.inspection.stock import with_stock
from inspect_rec.ledger import Entry, inspection_digest
from inspect_rec.plan import Channel, Equipment, JobFile, ShopFile, Tool

ORDER = (Verdict.DOES_NOT_CONFORM, Verdict.REFUSED, Verdict.NEITHER_SHOWN, Verdict.CONFORMS)
"""What decides, first: outside before refused before neither before conform."""


@dataclass(frozen=True)
class Temperature:
    """Temperatures read at one time, degC by place."""

    when: str
    round: int
    degC: Mapping[str, Decimal]  # noqa: N815 - the unit's symbol
    at: datetime.datetime


@dataclass(frozen=True)
class Inspection:
    """All that the entries of one tool prove."""

    id: str
    record: Record
    tool: Tool
    results: tuple[Result, ...]
    checks: tuple[Check, ...]
    closures: tuple[Closure, ...]
    temperatures: tuple[Temperature, ...]
    steps: tuple[Step, ...]
    """All steps of the plan, in order."""
    open: tuple[Step, ...]
    """Steps still to be taken."""
    next: Step | None
    used: tuple[Equipment, ...]
    life: LengthLeft | None
    digest: str
    """SHA-256 over the digests of the entries that touch this tool."""
    standing: Mapping[Place, Kept]
    failed: Mapping[tuple[str, int | None], str] = field(default_factory=dict)
    """Characteristic and flute -> why its readings give no value."""

    @property
    def job(self) -> JobFile:
        """The job file in force."""
        return self.record.job

    @property
    def shop(self) -> ShopFile:
        """The shop file in force when the job was opened."""
        return self.record.shop

    @property
    def missing(self) -> tuple[str, ...]:
        """Characteristics (with limits) that have no result yet; and why, where all is read."""
        have = {(r.characteristic.id, r.flute) for r in self.results}
        said: list[str] = []
        for c in self.job.characteristic:
            flutes = range(1, self.tool.edges + 1) if c.per == "flute" else (None,)
            for f in flutes:
                if (c.id, f) not in have:
                    name, why = _name(c.id, f, self.tool), self.failed.get((c.id, f))
                    said.append(f"{name} ({why})" if why else name)
        return tuple(said)

    @property
    def verdict(self) -> Verdict:
        """Of the tool: what decides among its results; refused while something isn't measured."""
        verdicts = {r.verdict for r in self.results if not r.characteristic.info}
        if self.missing:
            verdicts.add(Verdict.REFUSED)
        return next((v for v in ORDER if v in verdicts), Verdict.REFUSED)

    def result(self, characteristic: str, flute: int | None = None) -> Result | None:
        """The result of that characteristic, and flute."""
        return next(
            (r for r in self.results if r.characteristic.id == characteristic and r.flute == flute),
            None,
        )


def _name(characteristic: str, flute: int | None, tool: Tool) -> str:
    return characteristic if flute is None else f"{characteristic}, {tool.edge_word} {flute}"


def fold(entries: Iterable[Entry], inspection: str) -> Inspection:
    """Everything that can be said of one tool.

    ``entries``: those of the tool and those that opened its job, oldest first, of any stations.
    Raises LedgerError where they aren't of the form they must be. What a method can't work out,
    from its readings or from what plan and shop file give, stands in ``failed`` with the reason.
    """
    found = record(entries, inspection)
    sequence = Sequence(found)
    evaluator = Evaluator(found, sequence)
    temperatures = _temperatures(evaluator)
    used = _used(evaluator)
    results = tuple(_refuse(r, evaluator, temperatures, used) for r in evaluator.results)
    step = 2 * (
        next(e for e in found.shop.equipment if e.id == found.set_up.readout).half_step or 0
    )
    diameters = found.set_up.radial if found.set_up.mode == "diameter" else ""
    results = with_stock(results, Decimal(step) / 1000, sequence.tool.edge_word, diameters)
    steps = tuple(sequence.steps())
    return Inspection(
        id=inspection,
        record=found,
        tool=sequence.tool,
        results=results,
        checks=evaluator.checks,
        closures=evaluator.closures,
        temperatures=temperatures,
        steps=steps,
        open=tuple(s for s in steps if s.place not in evaluator.standing),
        next=sequence.next(evaluator.standing),
        used=tuple(e for e in found.shop.equipment if e.id in used),
        life=length_left(found, results),
        digest=inspection_digest(found.entries),
        standing=evaluator.standing,
        failed=evaluator.failed,
    )


def _temperatures(evaluator: Evaluator) -> tuple[Temperature, ...]:
    by_time: dict[tuple[int, str], dict[str, Kept]] = {}
    for place, kept in evaluator.standing.items():
        if place.feature == TEMPERATURE:
            by_time.setdefault((place.round, place.when), {})[place.mark] = kept
    return tuple(
        Temperature(
            when,
            round_,
            {mark: next(iter(k.figures.values())) for mark, k in read.items()},
            min(k.at for k in read.values()),
        )
        for (round_, when), read in by_time.items()
    )


def _used(evaluator: Evaluator) -> set[str]:
    """Equipment that readings of this tool came from or were held against."""
    used = set()
    for place, kept in evaluator.standing.items():
        feature = evaluator.sequence.feature(place.feature, place.round)
        used.add(kept.source)
        if feature is not None:
            used |= {feature.instrument, feature.master} - {""}
            if feature.channel is Channel.SLIDES:
                used |= {evaluator.record.set_up.readout, evaluator.record.set_up.optics}
            if feature.channel is Channel.ANGLE:
                used.add(evaluator.record.set_up.optics)
    return used


def _refuse(
    result: Result, evaluator: Evaluator, temperatures: tuple[Temperature, ...], used: set[str]
) -> Result:
    """A verdict is refused, with every reason, where what it rests on can't be trusted."""
    reasons = [
        *_warm(evaluator.record, temperatures, result.round),
        *_checked(result, evaluator),
        *_closed(result, evaluator),
        *_overdue(result, evaluator, used),
    ]
    if evaluator.record.revision != evaluator.record.job.job.drawing_revision:
        reasons.append(
            f"the drawing is at revision {evaluator.record.revision} now, the job file at "
            f"{evaluator.record.job.job.drawing_revision}"
        )
    if not reasons or result.characteristic.info:
        return result
    if result.judgement.reason:
        reasons.insert(0, result.judgement.reason)
    judgement = replace(result.judgement, verdict=Verdict.REFUSED, reason="; ".join(reasons))
    return replace(result, judgement=judgement)


def _warm(record: Record, temperatures: tuple[Temperature, ...], round_: int) -> list[str]:
    conditions = record.job.temperature
    of_round = [t for t in temperatures if t.round == round_]
    if not any(t.when == BEFORE for t in of_round):
        return ["the temperature is missing"]
    return [
        f"the tool is at {t.degC['tool']} °C ({t.when}), allowed 20 ± {conditions.largest_step} °C"
        for t in of_round
        if "tool" in t.degC and abs(t.degC["tool"] - 20) > conditions.largest_step
    ]


def _instruments(result: Result, evaluator: Evaluator) -> set[str]:
    """Instruments by which the readings of a result were taken."""
    refs = set(result.refs)
    return {k.source for k in evaluator.standing.values() if k.ref in refs}


def _checked(result: Result, evaluator: Evaluator) -> list[str]:
    sources = _instruments(result, evaluator)
    said: list[str] = []
    for each in evaluator.checks:
        feature = evaluator.sequence.feature(each.feature, each.round)
        by = (feature.instrument if feature else "") or evaluator.record.set_up.readout
        if each.round == result.round and by in sources:
            said += each.refusals
    return said


def _closed(result: Result, evaluator: Evaluator) -> list[str]:
    features = set(result.characteristic.feature.values())
    if result.characteristic.of:
        features |= set(evaluator.record.job.of(result.characteristic.of).feature.values())
    return [
        f"closure on {evaluator.sequence.tool.edge_word} 1 is off by {c.difference:+.1f} µm, "
        f"allowed {c.limit:.1f}"
        for c in evaluator.closures
        if c.feature in features and c.round == result.round and not c.ok
    ]


def _overdue(result: Result, evaluator: Evaluator, used: set[str]) -> list[str]:
    refs: set[Ref] = set(result.refs)
    taken = [k.at for k in evaluator.standing.values() if k.ref in refs]
    return overdue(evaluator.record, used, max(taken)) if taken else []
