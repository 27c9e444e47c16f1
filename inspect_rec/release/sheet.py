"""The batch sheet of a job: made from its entries, signed by who releases, told to the ledger."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from inspect_rec import __version__
from inspect_rec.config import Folder
from inspect_rec.ledger import Entry, Kinds
from inspect_rec.people import Role, Signer, key_id
from inspect_rec.release.handing import may_sign
from inspect_rec.release.keeping import in_place, keep, sha256, signed
from inspect_rec.release.opening import copy_away
from inspect_rec.report import batch, figures, sign, standing
from inspect_rec.report.record import Header, Named
from inspect_rec.store import Store
from report_templates import batch as layout
from report_templates import words


def sign_sheet(store: Store, folder: Folder, job: str, who: Signer, at: datetime) -> Path:
    """Make the sheet of a job as the ledger tells of it now, and sign it "released by". One that
    is signed again gets the next revision; the earlier ones stay as they are.

    Raises PersonError for a signer who doesn't release, LedgerError for a job that nobody opened,
    ReportError where no report of the job is decided, RefusedError where another program signed a
    sheet of this job meanwhile; whatever else came into the ledger doesn't matter.
    """
    may_sign(who, Role.RELEASES, at)
    entries = tuple(store.entries(job=job))
    header = _header(store, folder, job, who, at, entries)
    made = batch.make(entries, header)
    key, when = key_id(who.certificate), figures.moment(at, words(header.language))
    block = batch.block(who.person, key, when, header)
    box = made.rendered.boxes[sign.RELEASED_BY]
    data = sign.sheet_sign(made.rendered.pdf, who, at, box, block)
    body: dict[str, Any] = {
        **signed({"job": job}, sign.RELEASED_BY, who, data),
        "revision": header.revision,
        "made": sha256(made.rendered.pdf),
    }
    path = path_of(folder, job, header.revision)
    keep(store, path, data, [(at, who.person.id, Kinds.SHEET_SIGNED, body)])
    copy_away(store, folder, at, header.number)
    return path


def path_of(folder: Folder, job: str, revision: int) -> Path:
    """Where a sheet lies: beside the reports, each revision in a file of its own."""
    name = batch.number_of(job)
    return folder.report(f"{name}-{revision}" if revision else name)


def finish_sheets(store: Store, folder: Folder, job: str) -> list[Path]:
    """The job's sheets, put in their places where the machine stopped between entry and file.
    Raises ReportError where one isn't the file that was signed."""
    return [
        in_place(path_of(folder, job, int(e.body["revision"])), str(e.body["digest"]))
        for e in _sheets(store, job)
    ]


def _sheets(store: Store, job: str) -> list[Entry]:
    found = store.entries(job=job, kinds=(Kinds.SHEET_SIGNED,))
    return [e for e in found if e.body.get("job") == job]


def _header(
    store: Store, folder: Folder, job: str, who: Signer, at: datetime, entries: tuple[Entry, ...]
) -> Header:
    customer = standing.job_of(entries, job).job.customer
    customers, persons = folder.customers(), folder.persons()
    named = {e.person for e in entries} | {who.person.id}
    return Header(
        number=batch.number_of(job),
        revision=batch.revision_of(entries, job),
        replaces=None,
        inspection=job,
        issued=at,
        head=store.head(),
        program=__version__,
        layout=layout.NAME,
        language=folder.language_for(customer),
        persons={id_: Named(p.name, p.roles) for id_, p in persons.items() if id_ in named},
        customers={customer: customers[customer].name} if customer in customers else {},
        ground_by="",
        letterhead=folder.letterhead(),
    )
