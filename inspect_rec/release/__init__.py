"""The use case after the machine: job opened, report made and signed twice, copied away.

Knows no terminal and no clock; instants, persons and opened keys come in. Every act is an entry.
A signed file lies on disk, beside its place, before the entry that tells of it, and takes its
place after: whenever the machine stops, either nothing happened, or ``finish`` completes it.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from inspect_rec import ledger
from inspect_rec.config import Folder, read_whole
from inspect_rec.errors import PersonError, ReportError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.inspection.conceded import under_concession
from inspect_rec.ledger import Entry, inspection_digest
from inspect_rec.people import Role, Signer, key_id
from inspect_rec.release.conceding import replaced_by
from inspect_rec.release.handing import HandedOver, hand_over, header_of, may_sign
from inspect_rec.release.keeping import finish, keep, report_made, signed
from inspect_rec.release.opening import copy_away, open_job
from inspect_rec.report import figures, pdf, sign
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.make import header_of as written
from inspect_rec.report.verify import verify
from inspect_rec.store import Store
from inspect_rec.store.sqlite import Draft
from report_templates import words

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
    may_sign(who, Role.RELEASES, at)
    _decided(decision, reason)
    path = finish(store, folder, number)
    data = read_whole(path)
    inspection = _undecided(store, number)
    same = _sound(data, inspection, who, at)
    if decision == "released":
        reason = _released_under(inspection)
    header = written(data)
    key, when = key_id(who.certificate), figures.moment(at, words(header.language))
    stamp = pdf.released_stamp(
        who.person,
        key,
        when,
        header.language,
        decision,
        reason,
        measured_too=same,
        paper=header.paper,
    )
    data = sign.release_sign(data, who, at, decision, reason, stamp)
    base = {"inspection": inspection.id, "number": number}
    told = base | {"decision": decision, "reason": reason}
    drafts: list[Draft] = [
        (at, who.person.id, "signed", signed(base, sign.RELEASED_BY, who, data)),
        (at, who.person.id, "decided", told),
    ]
    keep(store, path, data, drafts)
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
    made = report_made(store, number)
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
    """Signed once, whole, its pages those of its readings, by another person where the job wants
    two; whether by the same."""
    checked = verify(data, [who.root], at)
    wrong = [f for f in checked.findings if f.code is not Code.SIGNATURE_MISSING]
    if wrong:
        raise ReportError(
            "the file isn't what its readings and its signature make it",
            expected=wrong[0].expected,
            found=wrong[0].found,
            do="Ask who handed it over; then hand the tool over again",
        )
    same = any(s.person == who.person.id for s in checked.signed)
    if same and not inspection.job.job.same_person_may_release:
        raise PersonError(
            "who measured may not release",
            expected="another person",
            found=who.person.id,
            do="Ask another person, or state same_person_may_release = true in the job file",
        )
    _independent(inspection, who)
    return same


def _independent(inspection: Inspection, who: Signer) -> None:
    """What was ordered after EN 10204 3.1 is released by a person who doesn't grind."""
    if inspection.job.job.certificate and Role.GRINDS in who.person.roles:
        raise PersonError(
            "a document 3.1 is released by a person who is independent of the grinding",
            expected=f"a person without the role {Role.GRINDS.value!r}",
            found=f"{who.person.id}, {', '.join(who.person.roles)}",
            do="Ask a person who doesn't grind, or agree on an inspection report with the customer",
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
