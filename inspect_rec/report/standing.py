"""What became of each tool of a job: its reports, the one in force, and what that one says.

Reads entries only. The latest report of a tool is in force; one that it replaced doesn't count
any more, and one that was withdrawn leaves the tool without any.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from inspect_rec.errors import LedgerError, ReportError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry, Kinds, inspection_digest
from inspect_rec.plan import JobFile

RELEASED = "released"


class State(StrEnum):
    """What holds for a tool."""

    RELEASED = "released"
    CONCEDED = "conceded"
    """Released under the customer's concession."""
    NOT_RELEASED = "not released"
    UNDECIDED = "undecided"
    WITHDRAWN = "withdrawn"
    NO_REPORT = "no report"

    @property
    def given_out(self) -> bool:
        """Whether the tool is released, under a concession or without."""
        return self in (State.RELEASED, State.CONCEDED)


@dataclass(frozen=True, slots=True)
class Report:
    """One report of a tool, as the ledger tells of it. ``digest``: SHA-256 of its signed file."""

    number: str
    revision: int
    inspection_digest: str
    made: Entry
    digest: str
    measured_by: str
    decided: Entry | None
    replaces: str
    withdrawn: str
    """Why it isn't to be relied on; empty where it holds."""

    @property
    def decision(self) -> str:
        """Released or not released; empty while nobody decided."""
        return "" if self.decided is None else str(self.decided.body["decision"])

    @property
    def reason(self) -> str:
        """Why it wasn't released, or under which concessions it was."""
        return "" if self.decided is None else str(self.decided.body.get("reason", ""))


@dataclass(frozen=True, slots=True)
class Standing:
    """One tool of a job. ``inspection``: what the report in force says; None without one."""

    id: str
    state: State
    reports: tuple[Report, ...]
    inspection: Inspection | None
    touched: str
    """What came after the report in force; empty while it tells of the tool as it is."""

    @property
    def mark(self) -> str:
        """The tool's mark."""
        return self.id.split("/", 1)[1]

    @property
    def report(self) -> Report | None:
        """The report in force, or that was last; None without one."""
        return self.reports[-1] if self.reports else None


def job_of(entries: Iterable[Entry], job: str) -> JobFile:
    """The job file in force. Raises LedgerError where no entry opened the job."""
    found = None
    for entry in entries:
        if entry.kind == Kinds.JOB_OPENED and entry.body.get("job") == job:
            found = entry
    if found is None:
        raise LedgerError(f"no entry opened the job {job}", do="Open its job file first")
    return JobFile.model_validate(found.body["plan"])


def of(entries: Sequence[Entry], job: str) -> Iterator[Standing]:
    """The tools of a job one by one, as its job file names them; then those that it names no
    more, but that have a report. ``entries``: all of the job, oldest first.

    Raises ReportError where a report's readings aren't among them, LedgerError where no entry
    opened the job.
    """
    planned = [f"{job}/{tool.mark}" for tool in job_of(entries, job).tool]
    whole = [e for e in entries if "inspection" not in e.body and e.body.get("job") == job]
    own: dict[str, list[Entry]] = {inspection: [] for inspection in planned}
    for entry in entries:
        inspection = str(entry.body.get("inspection", ""))
        if inspection.startswith(f"{job}/"):
            own.setdefault(inspection, []).append(entry)
    for inspection, acts in own.items():
        found = of_tool(inspection, _in_order([*whole, *acts]))
        if inspection in planned or found.reports:
            yield found


def _in_order(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """As the store gives them."""
    return tuple(sorted(entries, key=lambda e: (e.station, e.seq)))


def of_tool(inspection: str, entries: tuple[Entry, ...]) -> Standing:
    """One tool. ``entries``: its own and those of its job as a whole, as the store gives them.
    Raises what ``of`` raises."""
    reports = tuple(_reports(entries))
    if not reports:
        return Standing(inspection, State.NO_REPORT, (), None, "")
    last = reports[-1]
    state = _state(last)
    told = None if state is State.WITHDRAWN else fold(_told(entries, last), inspection)
    touched = ""
    if inspection_digest(entries) != last.inspection_digest:
        later = entries[entries.index(last.made) + 1 :]
        touched = next((e.kind for e in later if e.kind not in _QUIET), last.made.kind)
    return Standing(inspection, state, reports, told, touched)


_QUIET = frozenset({Kinds.REPORT_MADE, Kinds.SIGNED, Kinds.DECIDED, Kinds.WITHDRAWN})


def _state(report: Report) -> State:
    if report.withdrawn:
        return State.WITHDRAWN
    if report.decided is None:
        return State.UNDECIDED
    if report.decision != RELEASED:
        return State.NOT_RELEASED
    return State.CONCEDED if report.reason else State.RELEASED


def _told(entries: tuple[Entry, ...], report: Report) -> tuple[Entry, ...]:
    """The entries that a report tells of: those that were there when it was made."""
    if inspection_digest(entries) == report.inspection_digest:
        return entries
    made = report.made
    then = tuple(
        e for e in entries if (e.seq < made.seq if e.station == made.station else e.at <= made.at)
    )
    if inspection_digest(then) != report.inspection_digest:
        raise ReportError(
            f"the readings of {report.number} can't be found again",
            expected=f"inspection {report.inspection_digest[:16]}",
            found=inspection_digest(then)[:16],
        )
    return then


def _reports(entries: Sequence[Entry]) -> Iterator[Report]:
    acts: dict[str, list[Entry]] = {}
    for entry in entries:
        if entry.kind in _QUIET:
            acts.setdefault(str(entry.body["number"]), []).append(entry)
    for entry in entries:
        if entry.kind == Kinds.REPORT_MADE:
            yield _report(entry, acts[str(entry.body["number"])])


def _report(made: Entry, acts: Sequence[Entry]) -> Report:
    body = made.body
    report = Report(
        number=str(body["number"]),
        revision=int(body["revision"]),
        inspection_digest=str(body["inspection_digest"]),
        made=made,
        digest="",
        measured_by=made.person,
        decided=None,
        replaces=str(body.get("replaces", "")),
        withdrawn="",
    )
    for entry in acts:
        if entry.kind == Kinds.SIGNED:
            report = replace(report, digest=str(entry.body["digest"]))
        elif entry.kind == Kinds.DECIDED:
            report = replace(report, decided=entry)
        elif entry.kind == Kinds.WITHDRAWN:
            report = replace(report, withdrawn=str(entry.body["why"]))
    return report


def replaced_by(reports: Iterable[Report]) -> dict[str, str]:
    """Number of each report that was replaced -> of the one that replaces it."""
    return {r.replaces: r.number for r in reports if r.replaces}


def finished_at(inspection: Inspection) -> datetime:
    """When the last reading was taken that the tool's final values rest on."""
    record = inspection.record
    final = [r.at for r in record.readings if r.stage == "final" and r.ref not in record.void]
    return max(final or [r.at for r in record.readings])
