"""The use case after the machine: job opened, report made and signed twice, copied away.

Knows no terminal and no clock; instants, persons and opened keys come in. Every act is an entry.
A signed file lies on disk, beside its place, before the entry that tells of it, and takes its
place after: whenever the machine stops, either nothing happened, or ``finish`` completes it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from inspect_rec import __version__, ledger
from inspect_rec.config import Folder, read_whole, write_whole
from inspect_rec.errors import PersonError, ReportError, StoreError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.inspection.conceded import under_concession
from inspect_rec.ledger import Entry, inspection_digest
from inspect_rec.people import Role, Signer, key_id
from inspect_rec.release import conceding
from inspect_rec.release.conceding import replaced_by
from inspect_rec.release.opening import copy_away, open_job
from inspect_rec.report import figures, pdf, sign, signatures
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.make import Made, language_of, make
from inspect_rec.report.record import Header, Named
from inspect_rec.store import Store
from inspect_rec.store.sqlite import Draft
from report_templates import letter, words

__all__ = [
    "HandedOver",
    "copy_away",
    "finish",
    "hand_over",
    "header_of",
    "open_job",
    "release",
    "replaced_by",
    "stale",
]

DECISIONS = ("released", "not released")
_TRIES = 5
"""How often a number is asked for anew when another program took it meanwhile."""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """A report that the first person signed."""

    number: str
    path: Path
    inspection: Inspection


# -- the first signature -----------------------------------------------------


def hand_over(
    store: Store, folder: Folder, inspection_id: str, who: Signer, at: datetime, why: str = ""
) -> HandedOver:
    """Make the report of a tool and sign it "measured by". One that replaces a report that was
    decided is an amendment, and says ``why``: what changed.

    Raises ReportError while something is still to be measured, where a report of the same readings
    is there already, or an amendment has no reason; PersonError for a signer who doesn't measure.
    """
    _may_sign(who, Role.MEASURES, at)
    for _ in range(_TRIES):
        entries = tuple(store.entries(inspection_id))
        inspection = fold(entries, inspection_id)
        _whole(inspection)
        before = _last_made(entries)
        if before is not None:
            _something_new(store, folder, before, inspection)
            _reasoned(entries, before, why)
        header = header_of(store, folder, inspection, who.person.id, at, before, why)
        made = make(entries, header, conceding.documents_of(folder, entries, inspection_id))
        try:
            path = _sign_measured(store, folder, made, header, who, at)
        except StoreError:
            if store.numbered(header.number) is None:
                raise
            continue
        copy_away(store, folder, at, header.number)
        return HandedOver(header.number, path, inspection)
    raise StoreError("other programs take every number first", do="Try again")


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


def _last_made(entries: tuple[Entry, ...]) -> Entry | None:
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
    )


def _sign_measured(
    store: Store, folder: Folder, made: Made, header: Header, who: Signer, at: datetime
) -> Path:
    when = figures.moment(at, words(header.language))
    stamp = pdf.measured_stamp(who.person, key_id(who.certificate), when, header.language)
    signed = sign.measure_sign(made.rendered.pdf, who, at, dict(made.rendered.boxes), stamp)
    base = {"inspection": header.inspection, "number": header.number}
    body: dict[str, Any] = {
        **base,
        "revision": header.revision,
        "digest": _sha256(made.rendered.pdf),
        "inspection_digest": made.inspection.digest,
    }
    if header.replaces is not None:
        body["replaces"] = header.replaces
    drafts: list[Draft] = [
        (at, who.person.id, "report made", body),
        (at, who.person.id, "signed", _signed(base, sign.MEASURED_BY, who, signed)),
    ]
    return _keep(store, folder, header.number, signed, drafts)


# -- the second signature ----------------------------------------------------


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
    signer who doesn't release, or who measured it where the job wants two persons. What isn't
    shown to conform is released under the customer's concessions alone, which the signature names.
    """
    _may_sign(who, Role.RELEASES, at)
    _decided(decision, reason)
    path = finish(store, folder, number)
    data = read_whole(path)
    inspection = _undecided(store, number)
    same = _sound(data, inspection, who, at)
    if decision == "released":
        reason = _released_under(inspection)
    language = language_of(data)
    key, when = key_id(who.certificate), figures.moment(at, words(language))
    stamp = pdf.released_stamp(who.person, key, when, language, decision, reason, measured_too=same)
    signed = sign.release_sign(data, who, at, decision, reason, stamp)
    base = {"inspection": inspection.id, "number": number}
    told = base | {"decision": decision, "reason": reason}
    drafts: list[Draft] = [
        (at, who.person.id, "signed", _signed(base, sign.RELEASED_BY, who, signed)),
        (at, who.person.id, "decided", told),
    ]
    _keep(store, folder, number, signed, drafts)
    copy_away(store, folder, at, number)
    return path


def _released_under(inspection: Inspection) -> str:
    """The concessions that a release rests on; empty for a tool that conforms."""
    if inspection.verdict.value == "conforms":
        return ""
    covering = ", ".join(c.number for c in under_concession(inspection))
    if not covering:
        raise ReportError(
            "this tool can't be released",
            expected="a tool that conforms, or the customer's concession",
            found=inspection.verdict.value,
            do="Measure better, grind on, record a concession, or decide: not released",
        )
    return covering


def _decided(decision: str, reason: str) -> None:
    if decision not in DECISIONS:
        raise ReportError("no decision", expected=" or ".join(DECISIONS), found=repr(decision))
    if decision == "not released" and not (reason.strip() and reason.isprintable()):
        raise ReportError(
            "a tool isn't released for a reason", expected="a line of text", found=repr(reason)
        )


def _undecided(store: Store, number: str) -> Inspection:
    """The tool of a report that isn't decided and isn't stale."""
    made = _made(store, number)
    inspection_id = str(made.body["inspection"])
    entries = tuple(store.entries(inspection_id))
    for entry in entries:
        if entry.kind == "decided" and entry.body["number"] == number:
            raise ReportError(
                "the report is decided already",
                found=f"{entry.body['decision']}, {entry.person}, {ledger.instant(entry.at)}",
            )
    found = stale(entries, str(made.body["inspection_digest"]))
    if found is not None:
        raise ReportError(
            "the tool was touched after the report was made: it is stale",
            expected=found.expected,
            found=found.found,
            do="Hand it over again, for a report of what is true now",
        )
    return fold(entries, inspection_id)


def _sound(data: bytes, inspection: Inspection, who: Signer, at: datetime) -> bool:
    """Signed once, whole, by another person where the job wants two; whether by the same."""
    checked = signatures.check(data, [who.root], at)
    wrong = [f for f in checked.findings if f.code is not Code.SIGNATURE_MISSING]
    if wrong:
        raise ReportError(
            "the file isn't as it was signed", expected=wrong[0].expected, found=wrong[0].found
        )
    same = any(s.person == who.person.id for s in checked.signed)
    if same and not inspection.job.job.same_person_may_release:
        raise PersonError(
            "who measured may not release",
            expected="another person",
            found=who.person.id,
            do="Ask another person, or state same_person_may_release = true in the job file",
        )
    return same


def _may_sign(who: Signer, role: Role, at: datetime) -> None:
    who.person.must(role)
    since, until = who.certificate.not_valid_before_utc, who.certificate.not_valid_after_utc
    if not since <= at <= until:
        raise PersonError(
            f"the certificate of {who.person.id} isn't valid",
            expected=f"{since:%Y-%m-%d} to {until:%Y-%m-%d}",
            found=f"{at:%Y-%m-%d}",
            do="Look at the computer's clock, or give the person a new certificate",
        )


# -- what lies in the folder, and what the ledger says of it -----------------


def stale(entries: tuple[Entry, ...], digest: str) -> Finding | None:
    """Whether a tool was touched since its ``digest`` was signed.

    ``entries``: all entries of the tool. None while nothing came that changes what was measured.
    """
    now = inspection_digest(entries)
    if now == digest:
        return None
    count = next(
        (n for n in range(len(entries)) if inspection_digest(entries[: n + 1]) == digest), None
    )
    later = [] if count is None else [e for e in entries[count + 1 :] if e.kind not in ledger.APART]
    said = f"{later[0].kind}, entry {later[0].station} {later[0].seq}" if later else now
    return Finding(Code.STORE, f"nothing about the tool after inspection {digest[:8]}", said)


def finish(store: Store, folder: Folder, number: str) -> Path:
    """The report's file, signed as often as the ledger says.

    Puts it in its place where the machine stopped between entry and file. Raises ReportError
    where the ledger knows no such report, or the file isn't the one that was signed last.
    """
    made = _made(store, number)
    last = ""
    for entry in store.entries(str(made.body["inspection"]), kinds=("signed",)):
        if entry.body["number"] == number:
            last = str(entry.body["digest"])
    path = folder.report(number)
    found = _sha256(read_whole(path)) if path.is_file() else "no file"
    if found == last:
        return path
    waiting = _waiting(path, last)
    if waiting.is_file() and _sha256(read_whole(waiting)) == last:
        waiting.replace(path)
        return path
    raise ReportError(
        "the file isn't the one that was signed last",
        expected=f"SHA-256 {last}",
        found=found,
        where=str(path),
        do="Bring that file back from a copy",
    )


def _made(store: Store, number: str) -> Entry:
    entry = store.numbered(number)
    if entry is None or entry.kind != "report made":
        found = number if entry is None else f"{number}: {entry.body.get('why', entry.kind)}"
        raise ReportError("the ledger knows no such report", found=found)
    return entry


def _waiting(path: Path, digest: str) -> Path:
    return path.with_name(f".{path.stem}-{digest[:12]}.part")


def _keep(store: Store, folder: Folder, number: str, data: bytes, drafts: list[Draft]) -> Path:
    """File and entries: the entries decide. A file whose entries failed stays beside its place,
    since a failing disk may have kept them all the same."""
    path = folder.report(number)
    waiting = _waiting(path, _sha256(data))
    write_whole(waiting, data)
    store.append_all(drafts)
    waiting.replace(path)
    return path


def _signed(base: Mapping[str, str], role: str, who: Signer, data: bytes) -> dict[str, str]:
    return {
        **base,
        "role": role.replace("_", " "),
        "key": key_id(who.certificate),
        "digest": _sha256(data),
    }


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
