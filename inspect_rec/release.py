"""The use case after the machine: job opened, report made and signed twice, copied away.

Knows no terminal and no clock; instants, persons and opened keys come in. Every act is an entry;
a file is replaced only by the same file with one signature more.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from inspect_rec import __version__
from inspect_rec.config import Folder, write_whole
from inspect_rec.errors import PersonError, ReportError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry, inspection_digest
from inspect_rec.people import Role, Signer, key_id
from inspect_rec.plan import JobFile
from inspect_rec.report import figures, pdf, sign, signatures
from inspect_rec.report.make import make
from inspect_rec.report.record import Header, Named
from inspect_rec.store import Store
from report_templates import letter

DECISIONS = ("released", "not released")


@dataclass(frozen=True, slots=True)
class HandedOver:
    """A report that the first person signed."""

    number: str
    path: Path
    inspection: Inspection


def open_job(store: Store, folder: Folder, job: JobFile, person: str, at: datetime) -> list[str]:
    """Open a job, or open it anew after a change; gives its inspections."""
    plan = job.model_dump(mode="json", by_alias=True)
    plan["job"]["customer"] = folder.customer_id(job.job.customer)
    body = {
        "job": job.job.number,
        "plan": plan,
        "shop": folder.read_shop().model_dump(mode="json", by_alias=True),
    }
    store.append(at, person, "job opened", body)
    return [f"{job.job.number}/{tool.mark}" for tool in job.tool]


def header_of(
    store: Store, folder: Folder, inspection: Inspection, ground_by: str, at: datetime
) -> Header:
    """What the next report of this tool says of itself."""
    entries = inspection.record.entries
    persons = {e.person for e in entries} | {ground_by}
    known = folder.persons()
    customer = inspection.job.job.customer
    customers = folder.customers()
    return Header(
        number=store.next_number(),
        revision=0,
        replaces=None,
        inspection=inspection.id,
        issued=at,
        head=store.head(),
        program=__version__,
        layout=letter.NAME,
        language=folder.settings().language,
        persons={
            id_: Named(each.name, each.roles)
            for id_, each in known.items()
            if id_ in persons or Role.RELEASES in each.roles or Role.MEASURES in each.roles
        },
        customers={customer: customers[customer].name} if customer in customers else {},
        ground_by=ground_by,
    )


def hand_over(
    store: Store, folder: Folder, inspection_id: str, who: Signer, at: datetime
) -> HandedOver:
    """Make the report of a tool and sign it "measured by".

    Raises ReportError while something is still to be measured, PersonError for a signer who
    doesn't measure.
    """
    who.person.must(Role.MEASURES)
    entries = tuple(store.entries(inspection_id))
    inspection = fold(entries, inspection_id)
    if inspection.open:
        step = inspection.open[0]
        raise ReportError(
            "the tool isn't measured to its end",
            expected="no step left",
            found=f"{len(inspection.open)} steps, next {_step(step)}",
            do="Measure on, or hand it over when all is taken",
        )
    ground_by = next((e.person for e in reversed(entries) if e.kind == "reading"), who.person.id)
    header = header_of(store, folder, inspection, ground_by, at)
    made = make(entries, header)
    stamp = pdf.measured_stamp(
        who.person, key_id(who.certificate), figures.moment(at), header.language
    )
    signed = sign.measure_sign(made.rendered.pdf, who, at, dict(made.rendered.boxes), stamp)
    base = {"inspection": inspection_id, "number": header.number}
    path = folder.report(header.number)
    write_whole(path, signed)
    store.append_all(
        [
            (
                at,
                who.person.id,
                "report made",
                base
                | {
                    "revision": header.revision,
                    "digest": _sha256(made.rendered.pdf),
                    "inspection_digest": inspection.digest,
                },
            ),
            (at, who.person.id, "signed", _signed(base, sign.MEASURED_BY, who, signed)),
        ]
    )
    copy_away(store, folder, at)
    return HandedOver(header.number, path, inspection)


def _step(step: object) -> str:
    place = getattr(step, "place", None)
    return f"{place.feature} {place.mark}" if place is not None else str(step)


def _signed(base: dict[str, str], role: str, who: Signer, data: bytes) -> dict[str, str]:
    return base | {
        "role": role.replace("_", " "),
        "key": key_id(who.certificate),
        "digest": _sha256(data),
    }


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def release(
    store: Store,
    folder: Folder,
    number: str,
    who: Signer,
    decision: str,
    reason: str,
    at: datetime,
) -> Path:
    """Sign a report "released by", with the decision.

    Raises ReportError where the report is stale, broken or signed already, PersonError for a
    signer who doesn't release, or who measured it where the job wants two persons.
    """
    who.person.must(Role.RELEASES)
    if decision not in DECISIONS or (decision == "not released" and not reason):
        raise ReportError(
            "no decision", expected="released, or not released with a reason", found=decision
        )
    path = folder.report(number)
    if not path.is_file():
        raise ReportError("there is no such report", where=str(path))
    data = path.read_bytes()
    inspection_id = _check_unreleased(store, data, number, who, at)
    inspection = fold(store.entries(inspection_id), inspection_id)
    _two_persons(inspection, data, who, at)
    if decision == "released" and inspection.verdict.value != "conforms":
        raise ReportError(
            "this tool can't be released",
            expected="a tool that conforms",
            found=inspection.verdict.value,
            do="Measure better, grind on, or decide: not released",
        )
    language = folder.settings().language
    stamp = pdf.released_stamp(
        who.person, key_id(who.certificate), figures.moment(at), language, decision, reason
    )
    signed = sign.release_sign(data, who, at, decision, reason, stamp)
    base = {"inspection": inspection_id, "number": number}
    write_whole(path, signed)
    store.append_all(
        [
            (at, who.person.id, "signed", _signed(base, sign.RELEASED_BY, who, signed)),
            (at, who.person.id, "decided", base | {"decision": decision, "reason": reason}),
        ]
    )
    copy_away(store, folder, at)
    return path


def _check_unreleased(store: Store, data: bytes, number: str, who: Signer, at: datetime) -> str:
    """The file is the one that was handed over, once signed and not since; gives its tool."""
    made = made_entry(store, number)
    if made is None:
        raise ReportError("the ledger knows no such report", found=number)
    found = [
        f
        for f in signatures.check(data, [who.root], at).findings
        if f.code.value != "signature missing"
    ]
    if found:
        raise ReportError("the file isn't as it was signed", found=str(found[0]))
    inspection_id = str(made.body["inspection"])
    now = inspection_digest(store.entries(inspection_id))
    if now != made.body["inspection_digest"]:
        raise ReportError(
            "the tool was touched after the report was made: it is stale",
            expected=made.body["inspection_digest"],
            found=now,
            do="Hand it over again, for a report of what is true now",
        )
    return inspection_id


def made_entry(store: Store, number: str) -> Entry | None:
    """The entry that made a report."""
    return next(
        (e for e in store.entries(kinds=("report made",)) if e.body["number"] == number), None
    )


def _two_persons(inspection: Inspection, data: bytes, who: Signer, at: datetime) -> None:
    signed = signatures.check(data, [who.root], at).signed
    if any(s.role == "released by" for s in signed):
        raise ReportError("the report is released already")
    same = any(s.person == who.person.id for s in signed)
    if same and not inspection.job.job.same_person_may_release:
        raise PersonError(
            "who measured may not release",
            expected="another person",
            found=who.person.id,
            do="Ask another person, or state same_person_may_release = true in the job file",
        )


def copy_away(store: Store, folder: Folder, at: datetime) -> Path | None:
    """Copy the ledger into the second folder, where one is set."""
    copies = folder.settings().copies
    return store.copy_to(Path(copies), at) if copies else None


def replaced_by(store: Store, number: str) -> str | None:
    """The report that replaces another, if there is one."""
    for entry in store.entries(kinds=("report made",)):
        if entry.body.get("replaces") == number:
            return str(entry.body["number"])
    return None
