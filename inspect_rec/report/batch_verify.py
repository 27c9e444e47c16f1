"""Is a batch sheet genuine and right? Its signature, its record, and every figure made again.

Needs nothing but the file and the roots that are trusted. Whether the reports that it names are
what they say, each of them tells by itself: this tells that they are the ones that are named.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from cryptography import x509

from inspect_rec.errors import InspectRecError
from inspect_rec.ledger import Entry
from inspect_rec.people import Person
from inspect_rec.report import batch, figures, pdf, printed, record, shown, signatures
from inspect_rec.report.batch import DIGESTS, FORMAT, LARGEST, RECORD, Made
from inspect_rec.report.batch_content import Sheet
from inspect_rec.report.fields import SHEET_FIELDS
from inspect_rec.report.finding import Code, Finding, Findings
from inspect_rec.report.record import Header
from inspect_rec.report.signatures import FORGED, Signed
from report_templates import words


@dataclass(frozen=True)
class SheetVerification:
    """What was found. ``ok``: genuine, complete, recomputed, and signed under a trusted root."""

    findings: tuple[Finding, ...]
    header: Header | None = None
    said: Sheet | None = None
    entries: tuple[Entry, ...] = ()
    signed: tuple[Signed, ...] = ()
    same_bytes: bool | None = None
    """Whether this program makes the unsigned file byte for byte again."""
    since: tuple[str, ...] = ()
    """What a store tells of the job after this sheet; the sheet is genuine all the same."""

    @property
    def ok(self) -> bool:
        """Nothing is wrong."""
        return not self.findings

    @property
    def number(self) -> str | None:
        """What the sheet is called."""
        return self.header.number if self.header else None

    @property
    def reports(self) -> Mapping[str, str]:
        """SHA-256 of the signed file of each report that is decided, by its number."""
        named = self.said.reports if self.said else ()
        return {r.number: r.digest for r in named if r.digest}


def is_sheet(data: bytes) -> bool:
    """Whether a file is to be checked as a batch sheet: it has a sheet's record inside.

    Looks at the bytes alone, before any parser. A file that lies about it gains nothing: what is
    checked as the one isn't signed as the other.
    """
    return f"/UF ({RECORD})".encode() in data


def verify(data: bytes, roots: Sequence[x509.Certificate], at: datetime) -> SheetVerification:
    """Check a batch sheet; ``at`` is now, for certificates. Never raises for what it holds."""
    checked = signatures.check(data, roots, at, SHEET_FIELDS)
    said = Findings(list(checked.findings))
    read = _record(checked.base or data, said)
    if read is None:
        return SheetVerification(tuple(said.found), signed=checked.signed)
    header, entries, digests = read
    made = _made(header, entries, said)
    if made is None:
        return SheetVerification(tuple(said.found), header, None, entries, checked.signed)
    if digests != batch.digests(made.said.reports):
        said.add(Code.ATTACHMENT, f"{DIGESTS} with the digests of {RECORD}", "other digests")
    printed.pages(data, made.rendered.pdf, said)
    stamps = {each.field: block(each, header) for each in checked.signed}
    for each in checked.signed:
        _signer(header, each, said)
        printed.block(data, each, stamps[each.field], header.paper, said)
    shown.against(data, checked.base, made.rendered, stamps, said)
    return SheetVerification(
        tuple(said.found),
        header,
        made.said,
        entries,
        checked.signed,
        same_bytes=checked.base == made.rendered.pdf,
    )


def block(signed: Signed, header: Header) -> bytes:
    """The visible block that the signature must bear."""
    who = Person(signed.person, signed.name, signed.roles)
    at = figures.moment(signed.at, words(header.language))
    return batch.block(who, signed.key, at, header)


_Read = tuple[Header, tuple[Entry, ...], bytes]


def _record(base: bytes, said: Findings) -> _Read | None:
    """The attachments, exactly those that there must be, and the record read from them."""
    wanted = {RECORD, DIGESTS}
    try:
        files = pdf.attachments(base, LARGEST)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.ATTACHMENT, "attachments that can be read", str(error)[:200])
        return None
    if set(files) != wanted:
        found = ", ".join(sorted(files)) or "none"
        said.add(Code.ATTACHMENT, ", ".join(sorted(wanted)), found)
        return None
    try:
        header, entries = record.from_bytes(files[RECORD], FORMAT, LARGEST)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.RECORD, "a record whose every entry holds", str(error)[:300])
        return None
    return header, entries, files[DIGESTS]


def _made(header: Header, entries: tuple[Entry, ...], said: Findings) -> Made | None:
    """The sheet made again from its own entries, whose head says nothing of its own accord."""
    job = header.inspection
    plain = replace(
        header,
        number=batch.number_of(job),
        revision=batch.revision_of(entries, job),
        replaces=None,
        ground_by="",
        why="",
    )
    if plain != header:
        wanted = f"{plain.number}, revision {plain.revision}, and nothing more"
        said.add(Code.RECORD, wanted, f"{header.number}, revision {header.revision}")
    try:
        return batch.make(entries, header)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.RECORD, "entries from which the sheet can be made again", str(error)[:300])
        return None


def _signer(header: Header, each: Signed, said: Findings) -> None:
    """A person that the record names."""
    name = header.person(each.person)
    if each.person not in header.persons or each.name != name:
        said.add(Code.SIGNER, f"a person of the record ({name})", f"{each.name} {each.person}")
