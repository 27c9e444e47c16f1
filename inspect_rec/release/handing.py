"""The first signature: the report of a measured tool, made, numbered and signed "measured by".

In two steps, so that many reports can be made side by side: ``prepared`` says what a report will
be, ``sign`` gives it its number and its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from inspect_rec import __version__
from inspect_rec.config import Folder
from inspect_rec.errors import PersonError, RefusedError, ReportError, StoreError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.ledger import Entry
from inspect_rec.people import Role, Signer, key_id
from inspect_rec.release import conceding, copies
from inspect_rec.release.keeping import finish, keep, sha256, signed
from inspect_rec.release.opening import copy_away
from inspect_rec.report import earlier, figures, pdf
from inspect_rec.report import sign as signing
from inspect_rec.report.make import make
from inspect_rec.report.record import Header, Named
from inspect_rec.store import Store
from inspect_rec.store.sqlite import Draft
from report_templates import letter, words

_TRIES = 5
"""How often a number is asked for anew when another program took it meanwhile."""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """A report that the first person signed."""

    number: str
    path: Path
    inspection: Inspection


@dataclass(frozen=True, slots=True)
class Prepared:
    """All that the report of a measured tool is made from."""

    entries: tuple[Entry, ...]
    inspection: Inspection
    header: Header
    documents: Mapping[str, bytes]

    def numbered(self, number: str) -> Prepared:
        """The same under another number."""
        return replace(self, header=replace(self.header, number=number))


def hand_over(
    store: Store, folder: Folder, inspection_id: str, who: Signer, at: datetime, why: str = ""
) -> HandedOver:
    """Make the report of a tool and sign it "measured by". One that replaces a report that was
    decided is an amendment, and says ``why``: what changed.

    Raises ReportError while something is still to be measured, where a report of the same readings
    is there already, or an amendment has no reason; PersonError for a signer who doesn't measure.
    """
    may_sign(who, Role.MEASURES, at)
    for _ in range(_TRIES):
        found = prepared(store, folder, inspection_id, who, at, why)
        rendered = make(found.entries, found.header, found.documents).rendered
        try:
            handed = sign(store, folder, found, rendered, who)
        except StoreError as error:
            refused = isinstance(error, RefusedError)
            if not refused and store.numbered(found.header.number) is None:
                raise
            continue
        copy_away(store, folder, at, handed.number)
        return handed
    raise StoreError("other programs take every number first", do="Try again")


def prepared(
    store: Store,
    folder: Folder,
    inspection_id: str,
    who: Signer,
    at: datetime,
    why: str = "",
) -> Prepared:
    """What the report of a tool will be, under the next number, which isn't taken yet. Raises
    what ``hand_over`` raises."""
    entries = tuple(store.entries(inspection_id))
    inspection = fold(entries, inspection_id)
    _whole(inspection)
    before = last_made(entries)
    if before is not None:
        _something_new(store, folder, before, inspection)
        _reasoned(entries, before, why)
    header = header_of(store, folder, inspection, who.person.id, at, before, why)
    documents = conceding.documents_of(folder, entries, inspection_id)
    return Prepared(entries, inspection, header, documents)


def may_sign(who: Signer, role: Role, at: datetime) -> None:
    """Raises PersonError where the person hasn't that role, or the certificate isn't valid."""
    who.person.must(role)
    since, until = who.certificate.not_valid_before_utc, who.certificate.not_valid_after_utc
    if not since <= at <= until:
        raise PersonError(
            f"the certificate of {who.person.id} isn't valid",
            expected=f"{since:%Y-%m-%d} to {until:%Y-%m-%d}",
            found=f"{at:%Y-%m-%d}",
            do="Look at the computer's clock, or give the person a new certificate",
        )


def _whole(inspection: Inspection) -> None:
    if inspection.open:
        step = inspection.open[0]
        raise ReportError(
            "the tool isn't measured to its end",
            expected="no step left",
            found=f"{len(inspection.open)} steps, next {_step(step)}",
            do="Measure on, or hand it over when all is taken",
        )


def _step(step: object) -> str:
    place = getattr(step, "place", None)
    return f"{place.feature} {place.mark}" if place is not None else str(step)


def last_made(entries: tuple[Entry, ...]) -> Entry | None:
    """The entry that made a tool's latest report."""
    return next((e for e in reversed(entries) if e.kind == "report made"), None)


def _reasoned(entries: tuple[Entry, ...], before: Entry, why: str) -> None:
    """What a customer has in hands isn't replaced without a word (ISO/IEC 17025:2017, 7.8.8; from
    memory)."""
    number = before.body["number"]
    decided = any(e.kind == "decided" and e.body["number"] == number for e in entries)
    if decided and not (why.strip() and why.isprintable()):
        raise ReportError(
            f"this report amends {number}, which was decided",
            expected="what changed, and why",
            found=repr(why),
            do="State it with --why",
        )


def _something_new(store: Store, folder: Folder, before: Entry, inspection: Inspection) -> None:
    """A second report of the same readings would say nothing new under another number."""
    if before.body["inspection_digest"] != inspection.digest:
        return
    number = str(before.body["number"])
    raise ReportError(
        "the tool was handed over already, and nothing came since",
        found=number,
        where=str(finish(store, folder, number)),
        do="Release that one; a new report needs a new entry about the tool",
    )


def header_of(
    store: Store,
    folder: Folder,
    inspection: Inspection,
    signer: str,
    at: datetime,
    before: Entry | None = None,
    why: str = "",
) -> Header:
    """What the next report of this tool says of itself; ``before``: the report it replaces."""
    entries = inspection.record.entries
    readings = (e.person for e in reversed(entries) if e.kind == "reading")
    persons = {e.person for e in entries} | {signer}
    customer, customers = inspection.job.job.customer, folder.customers()
    return Header(
        number=store.next_number(),
        revision=0 if before is None else int(before.body["revision"]) + 1,
        replaces=None if before is None else str(before.body["number"]),
        inspection=inspection.id,
        issued=at,
        head=store.head(),
        program=__version__,
        layout=letter.NAME,
        language=folder.language_for(customer),
        persons={
            id_: Named(each.name, each.roles)
            for id_, each in folder.persons().items()
            if id_ in persons or Role.RELEASES in each.roles
        },
        customers={customer: customers[customer].name} if customer in customers else {},
        ground_by=next(readings, signer),
        why="" if before is None else why,
        letterhead=folder.letterhead(),
        copies=customers[customer].beside if customer in customers else (),
        contact=customers[customer].contact if customer in customers else "",
        earlier=earlier.of(inspection, store.inspections(), store.entries),
    )


def sign(
    store: Store, folder: Folder, what: Prepared, rendered: pdf.Rendered, who: Signer
) -> HandedOver:
    """Sign a report "measured by" and give it its number: file and entries, all or nothing.
    Raises RefusedError where the number or the revision is taken."""
    header, at = what.header, what.header.issued
    when = figures.moment(at, words(header.language))
    stamp = pdf.measured_stamp(
        who.person, key_id(who.certificate), when, header.language, header.paper
    )
    data = signing.measure_sign(rendered.pdf, who, at, dict(rendered.boxes), stamp)
    base = {"inspection": header.inspection, "number": header.number}
    body: dict[str, Any] = {
        **base,
        "revision": header.revision,
        "digest": sha256(rendered.pdf),
        "inspection_digest": what.inspection.digest,
    }
    if header.replaces is not None:
        body["replaces"] = header.replaces
    drafts: list[Draft] = [
        (at, who.person.id, "report made", body),
        (at, who.person.id, "signed", signed(base, signing.MEASURED_BY, who, data)),
    ]
    path = keep(store, folder.report(header.number), data, drafts)
    copies.beside(folder, header, what.inspection)
    return HandedOver(header.number, path, what.inspection)
