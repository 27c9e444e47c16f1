"""Earlier reports of a tool, found in the ledger by its mark: the same mark, kind and customer."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from inspect_rec.inspection import Inspection
from inspect_rec.inspection.history import MOST, Earlier
from inspect_rec.report import standing
from inspect_rec.report.resulting import offset_values
from inspect_rec.report.standing import State
from inspect_rec.store import Store

_DECIDED = (State.RELEASED, State.CONCEDED, State.NOT_RELEASED)


def of(store: Store, inspection: Inspection) -> tuple[Earlier, ...]:
    """What the decided reports of earlier jobs say of this tool, oldest first; of a tool that has
    several of one job the last. One that was withdrawn isn't among them, nor what was measured
    later than this tool."""
    mark = inspection.record.mark
    others = (i for i in store.inspections() if i.endswith(f"/{mark}") and i != inspection.id)
    found = [each for i in others for each in _told(store, i, inspection)]
    if inspection.record.readings:
        own = standing.finished_at(inspection)
        found = [(at, each) for at, each in found if at < own]
    before = sorted((at, each.number, each) for at, each in found)
    return tuple(each for _, _, each in before[-MOST:])


def _told(store: Store, id_: str, inspection: Inspection) -> Iterator[tuple[datetime, Earlier]]:
    entries = tuple(store.entries(id_))
    then = standing.of_tool(id_, entries)
    report, told = then.report, then.inspection
    if report is None or told is None or then.state not in _DECIDED:
        return
    same = told.job.job.customer == inspection.job.job.customer
    if not same or told.tool.kind != inspection.tool.kind:
        return
    life = told.life
    earlier = Earlier(
        number=report.number,
        issued=report.made.at.date(),
        digest=report.digest,
        state=then.state.value,
        values=offset_values(told),
        sharpening=told.tool.life.sharpening if told.tool.life else None,
        length=life.now if life else None,
        removed=life.removed if life else None,
    )
    yield standing.finished_at(told), earlier
