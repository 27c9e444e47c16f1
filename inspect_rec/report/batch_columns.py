"""The columns of a batch sheet: what each tool gives for them, and largest, mean and smallest.

A value to type into a machine stands for its characteristic; every other characteristic has a
column of its own, the same that page 1 of a report shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Result
from inspect_rec.inspection.fold import ORDER
from inspect_rec.plan import Characteristic, JobFile, Offset
from inspect_rec.report import figures
from inspect_rec.report.batch_content import Cell, Column
from inspect_rec.report.resulting import chosen, margin, offset_value, signed
from inspect_rec.units import printed
from report_templates.wording import Words

MOST = 9
"""Characteristics beside the values for the machine, as on page 1 of a report."""
_NOTHING = "–"


@dataclass(frozen=True, slots=True)
class Taken:
    """What one tool gives for a column: its cell, all values behind it, how close they are."""

    cell: Cell
    values: tuple[Decimal, ...]
    limits: str
    rank: tuple[int, float]
    """What doesn't conform first, then what is closest to a limit."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a column shows: a characteristic, or the value of one that a machine needs."""

    characteristic: Characteristic
    offset: Offset | None = None

    @property
    def digits(self) -> int:
        """Decimal places in mm or deg."""
        if self.offset is None:
            return self.characteristic.digits
        return 2 if self.characteristic.places == 2 else 3

    def name(self, w: Words) -> str:
        """Of what a machine needs with the words for which edge: RE, largest."""
        c, offset = self.characteristic, self.offset
        name = c.symbol or figures.capital(w.told("text", c.name))
        pick = "" if offset is None or offset.pick == "value" else w[f"batch.{offset.pick}"]
        return ", ".join(x for x in (name, pick) if x)

    def of(self, inspection: Inspection, w: Words) -> Taken | None:
        """What a tool gives; None where it isn't measured."""
        id_ = self.characteristic.id
        results = [r for r in inspection.results if r.characteristic.id == id_]
        if not results:
            return None
        c = results[0].characteristic
        if self.offset is None:
            values = tuple(v for r in results for v in r.values)
            text = _range(c, values, w)
        else:
            pick = chosen(self.offset, results)
            values = (offset_value(self.offset, pick),)
            text = figures.plain(values[0], w)
            values = (pick.value * self.offset.factor,)
        verdict = min((r.verdict for r in results), key=ORDER.index)
        rank = min(map(_rank, results))
        return Taken(
            Cell(text, "info" if c.info else verdict.value), values, figures.limits_text(c, w), rank
        )

    def text(self, value: Decimal, w: Words) -> str:
        """A value that isn't any tool's own, such as a mean."""
        c = self.characteristic
        if self.offset is None:
            return signed(c, value, figures.shown(c, value, w, exact=True))
        limits = [x * self.offset.factor for x in (c.lower, c.upper) if x is not None]
        return figures.plain(printed(value, self.digits, limits), w)

    def head(self, limits: Iterable[str], taken: Sequence[Taken], w: Words) -> Column:
        """The column's head, and its figures over the tools that were released."""
        c, offset = self.characteristic, self.offset
        stated = dict.fromkeys(limits) or [figures.limits_text(c, w)]
        differ = w["batch.limits_differ"]
        name = offset.label if offset else c.symbol or figures.capital(w.told("text", c.name))
        note = "" if offset is None or offset.pick == "value" else w[f"batch.{offset.pick}"]
        values = [v for each in taken for v in each.values]
        scaled = offset is not None and offset.factor != 1
        said = differ if len(stated) > 1 else "" if scaled else _held(next(iter(stated)))
        if not values:
            return Column(name, said, note, offset is not None)
        mean = sum(values, Decimal(0)) / len(values)
        largest, middle, smallest = (self.text(v, w) for v in (max(values), mean, min(values)))
        return Column(name, said, note, offset is not None, largest, middle, smallest)


def _held(limits: str) -> str:
    """A limit stays on one line with its sign."""
    return limits.replace("≤ ", "≤\u00a0").replace("≥ ", "≥\u00a0")


def _range(c: Characteristic, values: Sequence[Decimal], w: Words) -> str:
    ends = dict.fromkeys((min(values), max(values)))
    return "–".join(dict.fromkeys(signed(c, v, figures.shown(c, v, w, exact=True)) for v in ends))


def _rank(r: Result) -> tuple[int, float]:
    return ORDER.index(r.verdict), margin(r)


def wanted(job: JobFile) -> Iterator[Wanted]:
    """The columns that a job may have, values for the machine first. A multiple, such as D = 2 R,
    says nothing more beside what it is a multiple of."""
    by_id = {c.id: c for c in job.characteristic}
    offsets = {o.label: o for tool in job.tool for o in tool.offsets[:3] if o.of in by_id}
    plain = {o.of for o in offsets.values() if o.factor == 1}
    for offset in offsets.values():
        if offset.factor == 1 or offset.of not in plain:
            yield Wanted(by_id[offset.of], offset)
    shown = {o.of for o in offsets.values()}
    for c in job.characteristic:
        if not c.info and c.id not in shown:
            yield Wanted(c)


def kept(columns: Sequence[Wanted], taken: Sequence[Sequence[Taken | None]]) -> list[int]:
    """Which columns are shown, in their order: of the characteristics those that decide most."""

    def rank(n: int) -> tuple[int, float]:
        found = [row[n] for row in taken]
        return min((t.rank for t in found if t is not None), default=(len(ORDER), 0.0))

    plain = [n for n, column in enumerate(columns) if column.offset is None]
    most = set(sorted(plain, key=lambda n: (rank(n), n))[:MOST])
    return [n for n, column in enumerate(columns) if column.offset is not None or n in most]


def nothing() -> Cell:
    """The cell of what isn't measured."""
    return Cell(_NOTHING, Verdict.CONFORMS.value)
