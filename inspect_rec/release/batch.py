"""The first signature for all tools of a job: made side by side, numbered and signed one by one.

Drawing a report is pure and takes most of the time, so it is done by processes of its own; numbers
and signatures come from this one alone, in the order of the job. A number is taken only by the
entries that make the report, all or nothing, so that it can be stopped at any instant and begun
again: no number is used twice, and none is left out.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from multiprocessing import get_context

from inspect_rec.config import Folder
from inspect_rec.errors import InspectRecError, LedgerError, PersonError, RefusedError, StoreError
from inspect_rec.ledger import Entry, Kinds, inspection_digest
from inspect_rec.people import Role, Signer
from inspect_rec.release.handing import (
    HandedOver,
    Prepared,
    last_made,
    may_sign,
    prepared,
    sign,
)
from inspect_rec.release.keeping import finish
from inspect_rec.release.opening import copy_away
from inspect_rec.report import drawing, pdf
from inspect_rec.report.record import Header
from inspect_rec.store import Store

PAYS = 30
"""From how many reports on processes of their own are worth their start: each begins with as much
work as ten reports are."""
WORKERS = 2

Drawn = Callable[[], pdf.Rendered]
"""Waits for a report's pages."""
Drawing = Callable[[Prepared], Drawn]


@dataclass(frozen=True, slots=True)
class Left:
    """A tool that isn't handed over, and why."""

    inspection: str
    why: str


@dataclass(frozen=True, slots=True)
class Survey:
    """The tools of a job: those whose report is there, as they are now, and the others."""

    done: tuple[str, ...]
    to_do: tuple[str, ...]


def tools(store: Store, job: str) -> tuple[str, ...]:
    """The inspections of a job, as the job file in force names its tools. Raises LedgerError for
    a job that nobody opened."""
    opened = [e for e in store.entries(job=job, kinds=(Kinds.JOB_OPENED,)) if e.body["job"] == job]
    if not opened:
        raise LedgerError(f"no entry opened the job {job}", do="Open its job file first")
    return tuple(f"{job}/{tool['mark']}" for tool in opened[-1].body["plan"]["tool"])


def survey(store: Store, folder: Folder, job: str) -> Survey:
    """Which tools of a job have their report; files that a stop left beside their place are put
    there. Raises ReportError where a report's file is lost or another."""
    done, to_do = [], []
    for inspection in tools(store, job):
        entries = tuple(store.entries(inspection))
        made = last_made(entries)
        if made is None or made.body["inspection_digest"] != inspection_digest(entries):
            to_do.append(inspection)
            continue
        if not folder.report(number := str(made.body["number"])).is_file():
            finish(store, folder, number)
        done.append(inspection)
    return Survey(tuple(done), tuple(to_do))


def hand_over_all(
    store: Store,
    folder: Folder,
    inspections: Sequence[str],
    who: Signer,
    now: Callable[[], datetime],
    *,
    workers: int | None = None,
    stopped: Callable[[], bool] = lambda: False,
) -> Iterator[HandedOver | Left]:
    """Hand over tools one after the other and give each as it is done, or what keeps it back.

    ``workers``: processes that draw, 0 for this one alone, None as it pays. ``stopped`` is asked
    before each report; what is drawn and not signed then is thrown away. The ledger is copied
    away once, at the end. Raises PersonError for a signer who doesn't measure, StoreError.
    """
    may_sign(who, Role.MEASURES, now())
    last = ""
    with _drawing(_usual(len(inspections)) if workers is None else workers) as (draw, ahead):
        run = _Run(store, folder, who, now, draw, ahead)
        try:
            for found in run.all(inspections, stopped):
                last = found.number if isinstance(found, HandedOver) else last
                yield found
        finally:
            if last:
                copy_away(store, folder, now(), last)


class _Run:
    """Reports on their way: a few are drawn ahead of the one that is signed."""

    def __init__(
        self,
        store: Store,
        folder: Folder,
        who: Signer,
        now: Callable[[], datetime],
        draw: Drawing,
        ahead: int,
    ) -> None:
        self.store, self.folder, self.who, self.now = store, folder, who, now
        self.draw, self.ahead = draw, ahead
        self.under_way: deque[tuple[Prepared, Drawn]] = deque()
        self.numbers = _free(store)

    def all(
        self, inspections: Sequence[str], stopped: Callable[[], bool]
    ) -> Iterator[HandedOver | Left]:
        """One after the other, in their order."""
        left = deque(inspections)
        while (left or self.under_way) and not stopped():
            kept_back = self._fill(left)
            if kept_back is not None:
                yield kept_back
            elif (found := self._next()) is not None:
                yield found

    def _fill(self, left: deque[str]) -> Left | None:
        """Set reports going; gives a tool that can't be handed over."""
        while left and len(self.under_way) < self.ahead:
            inspection = left.popleft()
            try:
                found = prepared(self.store, self.folder, inspection, self.who, self.now())
            except (StoreError, PersonError):
                raise
            except InspectRecError as error:
                return Left(inspection, str(error))
            self._go(found)
        return None

    def _go(self, found: Prepared) -> None:
        found = found.numbered(next(self.numbers))
        self.under_way.append((found, self.draw(found)))

    def _next(self) -> HandedOver | Left | None:
        """Sign the next report; None where its number is another's by now, and it begins anew."""
        if not self.under_way:
            return None
        found, drawn = self.under_way[0]
        try:
            rendered = drawn()
        except StoreError:
            raise
        except InspectRecError as error:
            self.under_way.popleft()
            self._renumber()
            return Left(found.header.inspection, str(error))
        try:
            handed = sign(self.store, self.folder, found, rendered, self.who)
        except StoreError as error:
            if self.store.numbered(found.header.number) is not None:
                self._renumber()
                return None
            if not isinstance(error, RefusedError):
                raise
            # Another program handed this tool over meanwhile.
            self.under_way.popleft()
            self._renumber()
            return Left(found.header.inspection, str(error))
        self.under_way.popleft()
        return handed

    def _renumber(self) -> None:
        """Draw again what is under way, with the numbers that are free now: none is left out."""
        self.numbers = _free(self.store)
        again, self.under_way = self.under_way, deque()
        for found, _ in again:
            self._go(found)


def _free(store: Store) -> Iterator[str]:
    """The numbers of the station's series that nothing has taken, from the next one on."""
    letter, digits = store.next_number().split("-")
    count = int(digits)
    while True:
        number = f"{letter}-{count:0{len(digits)}d}"
        if store.numbered(number) is None:
            yield number
        count += 1


# -- processes that draw -------------------------------------------------------------


def _usual(count: int) -> int:
    """How many processes pay for so many reports."""
    return WORKERS if count >= PAYS and (os.cpu_count() or 1) > 1 else 0


@contextmanager
def _drawing(workers: int) -> Iterator[tuple[Drawing, int]]:
    """How a report is drawn, and how many may be under way at once."""
    if not workers:
        yield (lambda found: lambda: drawing.draw(*_parts(found))), 1
        return
    # Started anew, not forked: the same on every system, and no open ledger goes along.
    pool = ProcessPoolExecutor(workers, get_context("spawn"), drawing.begin)
    try:
        yield (lambda found: _waiting(pool.submit(drawing.draw, *_parts(found)))), workers + 1
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


_Parts = tuple[tuple[Entry, ...], Header, Mapping[str, bytes]]


def _parts(found: Prepared) -> _Parts:
    return found.entries, found.header, found.documents


def _waiting(under_way: Future[pdf.Rendered]) -> Drawn:
    def wait() -> pdf.Rendered:
        try:
            return under_way.result()
        except BrokenProcessPool as error:
            raise StoreError(
                "a process that draws reports has stopped",
                found=str(error),
                do="Begin again: what is signed is kept",
            ) from error

    return wait
