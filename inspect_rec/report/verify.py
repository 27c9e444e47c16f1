"""Is a report genuine and right? Signatures, record, and every printed figure made again.

Needs nothing but the file and the roots that are trusted. Never stops at the first finding where
it can go on, and never raises for what a file contains: each thing wrong is a finding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from cryptography import x509

from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import InspectRecError
from inspect_rec.inspection import Inspection
from inspect_rec.inspection.conceded import under_concession
from inspect_rec.ledger import Entry
from inspect_rec.people import Role
from inspect_rec.report import documents, pdf, printed, record, shown, signatures
from inspect_rec.report.finding import Code, Finding, Findings
from inspect_rec.report.make import Made, make
from inspect_rec.report.record import Header
from inspect_rec.report.signatures import FORGED, Signed

MEASURED_BY, RELEASED_BY = "measured by", "released by"


@dataclass(frozen=True)
class Verification:
    """What was found. ``ok``: genuine, complete, recomputed, and signed under a trusted root."""

    findings: tuple[Finding, ...]
    header: Header | None = None
    inspection: Inspection | None = None
    entries: tuple[Entry, ...] = ()
    signed: tuple[Signed, ...] = ()
    same_bytes: bool | None = None
    """Whether this program makes the unsigned file byte for byte again; another version of a
    library may draw the same page with other bytes."""
    replaced_by: str | None = None
    withdrawn: str | None = None
    """Why it was withdrawn, where it was held against the ledger."""
    touched: str | None = None
    """What a store tells of the tool after this report; the report is genuine all the same."""

    @property
    def ok(self) -> bool:
        """Nothing is wrong."""
        return not self.findings

    @property
    def number(self) -> str | None:
        """The report's number."""
        return self.header.number if self.header else None

    @property
    def verdict(self) -> str | None:
        """The tool's verdict, as recomputed."""
        return self.inspection.verdict.value if self.inspection else None

    @property
    def released(self) -> bool | None:
        """Whether the last signature released the tool; None without that signature."""
        last = next((s for s in self.signed if s.role == RELEASED_BY), None)
        return None if last is None else last.released


def verify(data: bytes, roots: Sequence[x509.Certificate], at: datetime) -> Verification:
    """Check a report; ``at`` is now, for certificates."""
    checked = signatures.check(data, roots, at)
    said = Findings(list(checked.findings))
    read = _record(checked.base or data, said)
    if read is None:
        return Verification(tuple(said.found), signed=checked.signed)
    header, entries, readings, files = read
    made = _made(header, entries, files, said)
    if made is None:
        return Verification(tuple(said.found), header, None, entries, checked.signed)
    _readings(made, readings, said)
    printed.pages(data, made.rendered.pdf, said)
    _persons(header, made.inspection, checked.signed, said)
    _decided(made.inspection, checked.signed, said)
    stamps = _stamps(data, header, checked.signed, said)
    shown.against(data, checked.base, made.rendered, stamps, said)
    return Verification(
        tuple(said.found),
        header,
        made.inspection,
        entries,
        checked.signed,
        same_bytes=checked.base == made.rendered.pdf,
    )


_Read = tuple[Header, tuple[Entry, ...], bytes, dict[str, bytes]]


def _record(base: bytes, said: Findings) -> _Read | None:
    """The attachments, exactly those that there must be, and the record read from them."""
    try:
        files = pdf.attachments(base, record.LARGEST)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.ATTACHMENT, "attachments that can be read", str(error)[:200])
        return None
    if not {record.RECORD, record.READINGS} <= set(files):
        wanted = f"{record.READINGS}, {record.RECORD}"
        said.add(Code.ATTACHMENT, wanted, ", ".join(sorted(files)) or "none")
        return None
    try:
        header, entries = record.from_bytes(files[record.RECORD])
        documents_ = documents.named(entries, header.inspection)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.RECORD, "a record whose every entry holds", str(error)[:300])
        return None
    if set(files) != (wanted_ := {record.RECORD, record.READINGS, *documents_}):
        said.add(Code.ATTACHMENT, ", ".join(sorted(wanted_)), ", ".join(sorted(files)))
        return None
    given = {name: files[name] for name in documents_}
    return header, entries, files[record.READINGS], given


def _made(
    header: Header, entries: tuple[Entry, ...], given: dict[str, bytes], said: Findings
) -> Made | None:
    """The report made again from its own readings; a document that isn't the one is a finding."""
    try:
        return make(entries, header, given)
    except (InspectRecError, *FORGED) as e:
        said.add(Code.RECORD, "readings from which the report can be made again", str(e)[:300])
        return None


def _readings(made: Made, readings: bytes, said: Findings) -> None:
    if record.to_csv(made.inspection) != readings:
        said.add(
            Code.ATTACHMENT,
            f"{record.READINGS} with the readings of {record.RECORD}",
            "another table",
        )


def _persons(
    header: Header, inspection: Inspection, signed: Sequence[Signed], said: Findings
) -> None:
    """Signers are the persons that the record names, and two unless the job allows one."""
    for each in signed:
        name = header.person(each.person)
        if each.person not in header.persons or each.name != name:
            said.add(Code.SIGNER, f"a person of the record ({name})", f"{each.name} {each.person}")
    by_role = {each.role: each.person for each in signed}
    same = by_role.get(MEASURED_BY) == by_role.get(RELEASED_BY)
    if len(by_role) == 2 and same and not inspection.job.job.same_person_may_release:
        said.add(Code.SIGNER, "two different persons", f"{by_role[MEASURED_BY]} signed both")
    releasing = header.persons.get(by_role.get(RELEASED_BY, ""))
    if inspection.job.job.certificate and releasing and Role.GRINDS in releasing.roles:
        found = f"{releasing.name}: {', '.join(releasing.roles)}"
        said.add(Code.SIGNER, "a person independent of the grinding, for a document 3.1", found)


def _decided(inspection: Inspection, signed: Sequence[Signed], said: Findings) -> None:
    """A tool is released where it conforms, or under the concessions that cover it, by name."""
    for each in signed:
        if each.decision != "released":
            continue
        covering = ", ".join(c.number for c in under_concession(inspection))
        expected = "" if inspection.verdict is Verdict.CONFORMS else covering
        if inspection.verdict is not Verdict.CONFORMS and not covering:
            said.add(Code.RECORD, "a tool that conforms, or a concession", inspection.verdict.value)
        elif each.reason != expected:
            said.add(Code.RECORD, f"released {expected or 'without a concession'}", each.reason)


def _stamps(
    data: bytes, header: Header, signed: Sequence[Signed], said: Findings
) -> dict[str, bytes]:
    """The visible block of each signature against what was signed; those that there must be."""
    measured, stamps = {each.person for each in signed if each.role == MEASURED_BY}, {}
    for each in signed:
        drawn = pdf.stamp_of(each, header, measured_too=each.person in measured)
        printed.block(data, each, drawn, header.paper, said)
        stamps[each.field] = drawn
    return stamps
