"""Earlier reports of a tool, found by its mark: the same mark, kind and customer.

Loads nothing that draws or signs: who takes a tool in is told of them at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime

from inspect_rec.inspection import Inspection
from inspect_rec.inspection.history import MOST, Earlier
from inspect_rec.ledger import Entry
from inspect_rec.report import standing
from inspect_rec.report.resulting import offset_values
from inspect_rec.report.standing import State

_DECIDED = (State.RELEASED, State.CONCEDED, State.NOT_RELEASED)
EntriesOf = Callable[[str], Iterable[Entry]]
"""The entries of an inspection and those of its job as a whole, oldest first."""


def of(inspection: Inspection, ids: Iterable[str], entries_of: EntriesOf) -> tuple[Earlier, ...]:
    """What the decided reports of earlier jobs say of this tool, oldest first; of a tool that has
    several of one job the last. One that was withdrawn isn't among them, nor what was measured
    later than this tool. ``ids``: all inspections that the ledger knows."""
    mark = inspection.record.mark
    others = (i for i in ids if i.endswith(f"/{mark}") and i != inspection.id)
    found = [each for i in others for each in _told(i, tuple(entries_of(i)), inspection)]
    if inspection.record.readings:
        own = standing.finished_at(inspection)
        found = [(at, each) for at, each in found if at < own]
    before = sorted((at, each.number, each) for at, each in found)
    return tuple(each for _, _, each in before[-MOST:])


def _told(
    id_: str, entries: tuple[Entry, ...], inspection: Inspection
) -> Iterator[tuple[datetime, Earlier]]:
    then = standing.of_tool(id_, entries)
    report, told = then.report, then.inspection
    if report is None or told is None or then.state not in _DECIDED:
        return
    same = told.job.job.customer == inspection.job.job.customer
    if not same or told.tool.kind != inspection.tool.kind:
        return
    said = as_said(told, report.number, report.made.at.date(), report.digest, then.state.value)
    yield standing.finished_at(told), said


def as_said(
    inspection: Inspection, number: str, issued: date, digest: str = "", state: str = ""
) -> Earlier:
    """What a report says that later ones take over."""
    life = inspection.life
    return Earlier(
        number,
        issued,
        digest,
        state,
        offset_values(inspection),
        inspection.tool.life.sharpening if inspection.tool.life else None,
        life.now if life else None,
        life.removed if life else None,
    )
