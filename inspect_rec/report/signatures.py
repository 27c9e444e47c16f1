"""Are the signatures of a report whole, the right ones, and the last word on every byte?

Libraries each miss something (an update appended, a third signature, bytes hidden behind the
CMS), so their answer is one check among several here. What a forged file does to a parser
becomes a finding at one boundary; nothing is raised for what a file contains.
"""

from __future__ import annotations

import hashlib
import io
import logging
import re
import warnings
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import pikepdf
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.utils import CryptographyDeprecationWarning
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from inspect_rec.people import Role, key_id, person_of, shop_of
from inspect_rec.report import cms, revisions
from inspect_rec.report.cms import Flaw
from inspect_rec.report.fields import FIELDS, MEASURED_BY, SHEET_FIELDS
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.sign import (
    CONCEDED,
    MEASURED,
    NOT_RELEASED,
    RELEASED,
    ROLE,
    SHEET,
)

# The library logs each path that it can't build; here that is a finding, said once.
logging.getLogger("pyhanko").setLevel(logging.CRITICAL + 1)
# The same for a forged certificate's oddities.
warnings.filterwarnings(
    "ignore", category=CryptographyDeprecationWarning, module=r"inspect_rec\.report|pyhanko"
)

LARGEST = 64 * 1024 * 1024
_WORDS = {name: name.replace("_", " ") for name in FIELDS}
_CONTENTS = re.compile(rb"<[0-9A-F]*>")
_ACTIONS = {
    "/GoTo3DView", "/GoToDp", "/GoToE", "/GoToR", "/Hide", "/ImportData", "/JavaScript",
    "/Launch", "/Movie", "/Named", "/Rendition", "/ResetForm", "/RichMediaExecute",
    "/SetOCGState", "/Sound", "/SubmitForm", "/Thread", "/URI",
}  # fmt: skip
"""Actions of ISO 32000-2, table 201, less the jump inside the file."""
_ACTIVE = {"/AA", "/JavaScript", "/JS", "/OCProperties", "/OpenAction", "/RichMedia", "/XFA"}
"""Keys that start something, or show one thing to one reader and another to the next."""


@dataclass(frozen=True)
class Signed:
    """One signature as found. ``decision``: "released" or "not released", of a report's second."""

    field: str
    role: str
    person: str
    name: str
    roles: tuple[Role, ...]
    key: str
    at: datetime
    meaning: str
    decision: str | None
    reason: str
    intact: bool
    trusted: bool
    appearance: int
    """Number of the object that draws the visible block; 0 where there is none."""
    page: int
    """Page of the visible block, from 0; -1 where it stands on none."""
    box: tuple[float, ...]
    """Left, bottom, right, top of the visible block, points; empty where it has none."""

    @property
    def released(self) -> bool | None:
        """Whether it released the tool; None for the first signature."""
        return None if self.decision is None else self.decision == "released"


@dataclass(frozen=True)
class SignatureCheck:
    """Signers and what is wrong. ``base``: the file before any signature, where it was found."""

    signed: tuple[Signed, ...]
    base: bytes | None
    findings: tuple[Finding, ...]


@dataclass
class _Checking:
    data: bytes
    roots: Sequence[x509.Certificate]
    fields: tuple[str, ...] = FIELDS
    signed: list[Signed] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def say(self, code: Code, expected: str, found: str) -> None:
        self.findings.append(Finding(code, expected, found[:300]))


FORGED = (
    TypeError,
    ValueError,
    OSError,
    RuntimeError,
    StopIteration,
    AttributeError,
    LookupError,
    AssertionError,
    NotImplementedError,
    ArithmeticError,
    MemoryError,
    pikepdf.PikepdfError,
    zlib.error,
)
"""What libraries raise on forged objects, for callers that read on in such a file."""


def check(
    data: bytes,
    roots: Sequence[x509.Certificate],
    at: datetime,
    fields: tuple[str, ...] = FIELDS,
) -> SignatureCheck:
    """Check the signatures of a report held against ``roots``, or with SHEET_FIELDS of a batch
    sheet. ``at``: now, aware; no signature may be later. Never raises for what ``data`` holds."""
    run = _Checking(data, roots, fields)
    if len(data) > LARGEST:
        run.say(Code.NOT_A_REPORT, f"at most {LARGEST} bytes", f"{len(data)} bytes")
        return SignatureCheck((), None, tuple(run.findings))
    # Before any parser: a compressed table could grow without end while it is read.
    packed = [table for _, table in revisions.ends(data) if data[table : table + 4] != b"xref"]
    if packed:
        code = Code.SIGNATURE_BROKEN if b"/ByteRange" in data else Code.NOT_A_REPORT
        run.say(code, "plain tables of objects, as they were signed", f"none at {packed[:9]}")
        return SignatureCheck((), None, tuple(run.findings))
    base = None
    with _boundary(run):
        reader = PdfFileReader(io.BytesIO(data), strict=True)
        embedded = list(reader.embedded_signatures)
        base = _base(run, reader, len(embedded))
        _fields(run, [s.field_name for s in embedded])
        for number, each in enumerate(embedded):
            if each.field_name in fields:
                with _boundary(run):
                    _one(run, each, number, last=each is embedded[-1], at=at)
        _order(run)
        with _boundary(run):
            _changes(run, len(embedded))
        with _boundary(run):
            _active(run)
    return SignatureCheck(tuple(run.signed), base, tuple(run.findings))


@contextmanager
def _boundary(run: _Checking) -> Iterator[None]:
    """Whatever a forged object makes a library raise is a finding, and the next check goes on."""
    try:
        yield
    except Exception as error:  # noqa: BLE001 - the parsers raise plain errors of every kind
        run.say(Code.SIGNATURE_BROKEN, "a signed report", f"{type(error).__name__}: {error}")


def _base(run: _Checking, reader: PdfFileReader, signed: int) -> bytes | None:
    """The first revision, as it was before any signature."""
    count = reader.total_revisions
    tables = [reader.xrefs.get_startxref_for_revision(n) for n in range(count)]
    for expected, found in revisions.layout(run.data, tables):
        run.say(Code.CHANGED_AFTER, expected, found)
    if count != 1 + signed:
        run.say(Code.CHANGED_AFTER, f"{1 + signed} revisions", f"{count}")
    ends = revisions.ends(run.data)
    return run.data[: ends[0][0]] if ends else None


def _changes(run: _Checking, signed: int) -> None:
    """Each revision changed what it may and nothing else; the form holds the fields alone."""
    if signed == 0:
        return
    for expected, found in revisions.changes(run.data, run.fields):
        run.say(Code.CHANGED_AFTER, expected, found)
    for expected, found in revisions.form(run.data, run.fields, signed):
        run.say(Code.SIGNATURE_FORM, expected, found)


def _fields(run: _Checking, names: list[str]) -> None:
    """Exactly the fields that there must be, in their order."""
    extra = [name for name in names if name not in run.fields]
    if extra:
        count = {1: "one signature", 2: "two signatures"}[len(run.fields)]
        run.say(Code.EXTRA_SIGNATURE, count, f"also {', '.join(extra)}"[:200])
    for name in run.fields:
        if name not in names:
            run.say(Code.SIGNATURE_MISSING, _WORDS[name], "nothing")
    known = [name for name in names if name in run.fields]
    if known != list(run.fields[: len(known)]):
        run.say(
            Code.SIGNATURE_FORM,
            ", then ".join(_WORDS[name] for name in run.fields),
            ", ".join(_WORDS[name] for name in known),
        )


def _one(run: _Checking, each: Any, number: int, *, last: bool, at: datetime) -> None:
    name = each.field_name
    words = _WORDS[name]
    who = _certificate(each)
    moment = each.self_reported_timestamp
    status = _status(run, each, moment)
    intact = bool(status is not None and status.intact and status.valid)
    trusted = bool(status is not None and status.trusted and run.roots)
    _judged(run, words, status, intact=intact, trusted=trusted, last=last)
    if moment is None or moment.tzinfo is None or moment > at:
        run.say(Code.SIGNATURE_FORM, f"{words}: signed before now", str(moment))
    person = person_of(who)
    _says(run, name, each, who)
    meaning = str(each.sig_object.get("/Reason", ""))
    decision, reason = _decision(run, name, meaning)
    appearance, page, box = _placed(each)
    run.signed.append(
        Signed(
            field=name,
            role=words,
            person=person.id,
            name=person.name,
            roles=person.roles,
            key=key_id(who),
            at=moment if moment is not None and moment.tzinfo is not None else at,
            meaning=meaning,
            decision=decision,
            reason=reason,
            intact=intact,
            trusted=trusted,
            appearance=appearance,
            page=page,
            box=box,
        )
    )
    _form(run, each, number, words)


def _judged(
    run: _Checking, words: str, status: Any, *, intact: bool, trusted: bool, last: bool
) -> None:
    """What the library says of a signature, less where it is known to say too little."""
    if status is None:
        return
    if not intact:
        run.say(Code.SIGNATURE_BROKEN, f"{words}: bytes as signed", "other bytes")
    elif status.docmdp_ok is not True or (trusted and not status.bottom_line):
        run.say(Code.CHANGED_AFTER, f"{words}: nothing changed after it", str(status.summary()))
    if last and status.coverage is not SignatureCoverageLevel.ENTIRE_FILE:
        run.say(Code.CHANGED_AFTER, f"{words} covers the whole file", str(status.coverage.name))
    if intact and not trusted:
        found = "another root, or out of date" if run.roots else "no root was given to trust"
        run.say(Code.UNTRUSTED, f"{words}: a signer under a trusted root", found)


def _says(run: _Checking, name: str, each: Any, who: x509.Certificate) -> None:
    """The certificate's roles fit the field, and the signature names whom the certificate names."""
    person, words = person_of(who), _WORDS[name]
    if ROLE[name] not in person.roles:
        held = ", ".join(person.roles) or "none"
        run.say(Code.SIGNER, f"{words}: a person who {ROLE[name]}", f"{person.name}: {held}")
    for key, wanted in (("/Name", person.name), ("/Location", shop_of(who))):
        found = str(each.sig_object.get(key, ""))
        if found != wanted:
            run.say(Code.SIGNER, f"{words}: {wanted}", found)


def _placed(each: Any) -> tuple[int, int, tuple[float, ...]]:
    """Object number, page and box of a signature's visible block."""
    field = each.sig_field
    drawn = field.get("/AP", {})
    number = drawn.raw_get("/N").idnum if "/N" in drawn else 0
    box = tuple(float(edge) for edge in field.get("/Rect", ()))
    page = field.raw_get("/P").idnum if "/P" in field else None
    reader = each.reader
    pages = range(int(reader.root["/Pages"]["/Count"]))
    on = (n for n in pages if reader.find_page_for_modification(n)[0].idnum == page)
    return number, next(on, -1), box


def _order(run: _Checking) -> None:
    """Nobody releases what isn't measured yet."""
    instants = [each.at for each in run.signed]
    if instants != sorted(instants):
        run.say(
            Code.SIGNATURE_FORM,
            "released after it was measured",
            ", then ".join(each.isoformat() for each in instants),
        )


def _certificate(each: Any) -> x509.Certificate:
    return x509.load_der_x509_certificate(each.signer_cert.dump())


def _status(run: _Checking, each: Any, moment: datetime | None) -> Any:
    roots = [
        asn1_x509.Certificate.load(root.public_bytes(serialization.Encoding.DER))
        for root in run.roots
    ]
    context = ValidationContext(trust_roots=roots, allow_fetching=False, moment=moment)
    try:
        return validate_pdf_signature(each, signer_validation_context=context)
    except Exception as error:  # noqa: BLE001 - forged objects raise anything; one boundary
        run.say(
            Code.SIGNATURE_BROKEN,
            f"{_WORDS[each.field_name]}: a signature that can be checked",
            f"{type(error).__name__}: {error}",
        )
        return None


def _decision(run: _Checking, name: str, meaning: str) -> tuple[str | None, str]:
    """What a signature says it means; any other words are a finding."""
    if run.fields == SHEET_FIELDS:
        if meaning != SHEET:
            run.say(Code.SIGNATURE_FORM, SHEET, meaning)
        return None, ""
    if name == MEASURED_BY:
        if meaning != MEASURED:
            run.say(Code.SIGNATURE_FORM, MEASURED, meaning)
        return None, ""
    if meaning == RELEASED:
        return "released", ""
    if meaning.startswith(CONCEDED):
        return "released", meaning.removeprefix(CONCEDED)
    if meaning.startswith(NOT_RELEASED):
        return "not released", meaning.removeprefix(NOT_RELEASED)
    run.say(Code.SIGNATURE_FORM, f"{RELEASED} | {CONCEDED}... | {NOT_RELEASED}...", meaning)
    return "not released", meaning


def _form(run: _Checking, each: Any, number: int, words: str) -> None:
    """The one form a signature may have: no byte of it is free to vary."""
    for expected, found in _forms(run, each, number):
        run.say(Code.SIGNATURE_FORM, f"{words}: {expected}", found)


def _forms(run: _Checking, each: Any, number: int) -> Iterator[Flaw]:
    first, length, second, rest = (int(n) for n in each.byte_range)
    ends = [end for end, _ in revisions.ends(run.data)]
    begin, end = ends[number], ends[number + 1]
    if first != 0 or second + rest != end or not begin < length < second < end:
        yield f"a byte range from the start to byte {end}", str(list(each.byte_range))
    gap = run.data[length:second]
    if not _CONTENTS.fullmatch(gap):
        yield "a CMS in upper-case hex and nothing else", repr(gap[:40])
        return
    contents = bytes.fromhex(gap[1:-1].decode("ascii"))
    if contents != each.pkcs7_content:
        yield "the CMS in the gap of the byte range", "another"
    digest = hashlib.sha256(run.data[:length] + run.data[second:end]).digest()
    yield from cms.flaws(contents, each.signer_cert.dump(), digest, run.roots)


def _active(run: _Checking) -> None:
    """Nothing in a report runs, opens, sends, hides or loads anything."""
    with pikepdf.open(io.BytesIO(run.data), attempt_recovery=False) as pdf:
        for thing in pdf.objects:
            for found in _actions(thing):
                run.say(Code.ACTIVE_CONTENT, "nothing that runs", found)


def _actions(thing: Any) -> Iterator[str]:
    """What an object holds that does something, in itself or in what it holds directly."""
    if isinstance(thing, pikepdf.Array):
        for value in thing:
            yield from _inside(value)
    elif isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        kind = thing.get("/S")
        if isinstance(kind, pikepdf.Name) and str(kind) in _ACTIONS:
            yield str(kind)
        for key, value in thing.items():
            if key in _ACTIVE:
                yield key
            yield from _inside(value)


def _inside(value: Any) -> Iterator[str]:
    """Other objects have their own turn; following them here would never end."""
    if isinstance(value, pikepdf.Object) and not value.is_indirect:
        yield from _actions(value)
