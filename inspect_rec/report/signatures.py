"""Are the signatures of a report whole, the right ones, and the last word on every byte?

Libraries each miss something (an update appended, a third signature, bytes hidden behind the
CMS), so their answer is one check among several here. What a forged file does to a parser
becomes a finding at one boundary; nothing is raised for what a file contains.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import pikepdf
from asn1crypto import cms
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from inspect_rec.people import Role, key_id, person_of
from inspect_rec.report.finding import Code, Finding
from inspect_rec.report.sign import FIELDS, MEASURED, MEASURED_BY, NOT_RELEASED, RELEASED, ROLE

# The library logs each path that it can't build; here that is a finding, said once.
logging.getLogger("pyhanko").setLevel(logging.CRITICAL + 1)

LARGEST = 64 * 1024 * 1024
_WORDS = {name: name.replace("_", " ") for name in FIELDS}
_END = re.compile(rb"startxref\r?\n(\d+)\r?\n%%EOF\r?\n?")
_CONTENTS = re.compile(rb"<[0-9A-F]*>")
_SMALLEST_RSA = 2048
_ACTIONS = {
    "/JavaScript",
    "/Launch",
    "/SubmitForm",
    "/ImportData",
    "/GoToR",
    "/GoToE",
    "/Rendition",
    "/Movie",
    "/URI",
}


@dataclass(frozen=True)
class Signed:
    """One signature as found. ``decision``: "released" or "not released", of the second."""

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
    signed: list[Signed] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def say(self, code: Code, expected: str, found: str) -> None:
        self.findings.append(Finding(code, expected, found[:300]))


FORGED = (
    TypeError,
    ValueError,
    OSError,
    RecursionError,
    AttributeError,
    KeyError,
    IndexError,
    AssertionError,
    NotImplementedError,
    ArithmeticError,
    MemoryError,
    pikepdf.PdfError,
)
"""What libraries raise on forged objects; the library's own errors are ValueErrors too."""


def check(data: bytes, roots: Sequence[x509.Certificate], at: datetime) -> SignatureCheck:
    """Check the signatures of a report held against ``roots``. ``at``: now; no signature may
    be later."""
    run = _Checking(data, roots)
    base = None
    if len(data) > LARGEST:
        run.say(Code.NOT_A_REPORT, f"at most {LARGEST} bytes", f"{len(data)} bytes")
        return SignatureCheck((), None, tuple(run.findings))
    try:
        reader = PdfFileReader(io.BytesIO(data), strict=True)
        embedded = list(reader.embedded_signatures)
        base = _base(run, reader)
        _fields(run, [s.field_name for s in embedded])
        for each in embedded:
            if each.field_name in FIELDS:
                _one(run, each, last=each is embedded[-1], at=at)
        if base is not None:
            _unchanged(run, base)
        _active(run)
    except FORGED as error:
        run.say(Code.SIGNATURE_BROKEN, "a signed report", f"{type(error).__name__}: {error}")
    except Exception as error:  # noqa: BLE001 - the parsers' own error classes; one boundary
        run.say(Code.SIGNATURE_BROKEN, "a signed report", f"{type(error).__name__}: {error}")
    return SignatureCheck(tuple(run.signed), base, tuple(run.findings))


def _base(run: _Checking, reader: PdfFileReader) -> bytes | None:
    """The first revision, as it was before any signature."""
    ends = [m.end() for m in _END.finditer(run.data)]
    revisions = reader.total_revisions
    if len(ends) != revisions:
        run.say(Code.CHANGED_AFTER, f"{revisions} ends of file", f"{len(ends)}")
    expected = 1 + len(reader.embedded_signatures)
    if revisions != expected:
        run.say(Code.CHANGED_AFTER, f"{expected} revisions", f"{revisions}")
    if not ends:
        return None
    if ends[-1] != len(run.data):
        junk = len(run.data) - ends[-1]
        run.say(Code.CHANGED_AFTER, "nothing after the end of the file", f"{junk} bytes more")
    return run.data[: ends[0]]


def _fields(run: _Checking, names: list[str]) -> None:
    """Exactly the two fields, in their order."""
    extra = [name for name in names if name not in FIELDS]
    if extra:
        run.say(Code.EXTRA_SIGNATURE, "two signatures", f"also {', '.join(extra)}"[:200])
    for name in FIELDS:
        if name not in names:
            run.say(Code.SIGNATURE_MISSING, _WORDS[name], "nothing")
    known = [name for name in names if name in FIELDS]
    if known != list(FIELDS[: len(known)]):
        run.say(Code.SIGNATURE_FORM, "measured by, then released by", ", ".join(known))


def _one(run: _Checking, each: Any, *, last: bool, at: datetime) -> None:
    name = each.field_name
    who = _certificate(each)
    moment = each.self_reported_timestamp
    status = _status(run, each, moment)
    words = _WORDS[name]
    intact = bool(status is not None and status.intact and status.valid)
    trusted = bool(status is not None and status.trusted and run.roots)
    if not intact:
        run.say(Code.SIGNATURE_BROKEN, f"{words}: bytes as signed", "other bytes")
    elif status is not None and not (status.docmdp_ok is not False and _unmodified(status)):
        run.say(Code.CHANGED_AFTER, f"{words}: nothing changed after it", str(status.summary()))
    if last and status is not None and status.coverage is not SignatureCoverageLevel.ENTIRE_FILE:
        run.say(Code.CHANGED_AFTER, f"{words} covers the whole file", str(status.coverage.name))
    if intact and not trusted:
        found = "another root" if run.roots else "no root was given to trust"
        run.say(Code.UNTRUSTED, f"{words}: a signer under a trusted root", found)
    _form(run, each, words)
    person = person_of(who)
    meaning = str(each.sig_object.get("/Reason", ""))
    decision, reason = _decision(run, name, meaning)
    if ROLE[name] not in person.roles:
        held = ", ".join(person.roles) or "none"
        run.say(Code.SIGNER, f"{words}: a person who {ROLE[name]}", f"{person.name}: {held}")
    if str(each.sig_object.get("/Name", "")) != person.name:
        run.say(Code.SIGNER, f"{words}: {person.name}", str(each.sig_object.get("/Name", "")))
    if moment is None or moment > at:
        run.say(Code.SIGNATURE_FORM, f"{words}: signed before now", str(moment))
    run.signed.append(
        Signed(
            name,
            words,
            person.id,
            person.name,
            person.roles,
            key_id(who),
            moment or at,
            meaning,
            decision,
            reason,
            intact,
            trusted,
        )
    )


def _unmodified(status: Any) -> bool:
    """Whether later updates, if any, were only those that the first signature permits."""
    level = status.modification_level
    return level is None or level.name in ("NONE", "LTA_UPDATES", "FORM_FILLING")


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
    if name == MEASURED_BY:
        if meaning != MEASURED:
            run.say(Code.SIGNATURE_FORM, MEASURED, meaning)
        return None, ""
    if meaning == RELEASED:
        return "released", ""
    if meaning.startswith(NOT_RELEASED):
        return "not released", meaning.removeprefix(NOT_RELEASED)
    run.say(Code.SIGNATURE_FORM, f"{RELEASED} | {NOT_RELEASED}...", meaning)
    return "not released", meaning


def _form(run: _Checking, each: Any, words: str) -> None:
    """The one form a signature may have: no byte of it is free to vary."""
    for expected, found, good in _forms(run, each):
        if not good:
            run.say(Code.SIGNATURE_FORM, f"{words}: {expected}", found)


def _forms(run: _Checking, each: Any) -> Iterator[tuple[str, str, bool]]:
    first, length, second, rest = (int(n) for n in each.byte_range)
    gap = run.data[length:second]
    yield "byte range from the start", str(each.byte_range), first == 0
    yield "byte range to an end of file", str(second + rest), _ends_at(run.data, second + rest)
    yield "a CMS in upper-case hex and nothing else", repr(gap[:40]), bool(_CONTENTS.fullmatch(gap))
    if not _CONTENTS.fullmatch(gap):
        return
    whole = bytes.fromhex(gap[1:-1].decode("ascii"))
    der = whole[: _der_length(whole)]
    yield "zeros behind the CMS", "other bytes", not whole[len(der) :].strip(b"\0")
    content = cms.ContentInfo.load(der, strict=True)
    yield "DER exactly", "another encoding", _encoded_again(content) == der
    signed = content["content"]
    info = signed["signer_infos"][0]
    algorithms = [a["algorithm"].native for a in signed["digest_algorithms"]]
    yield "one signer", str(len(signed["signer_infos"])), len(signed["signer_infos"]) == 1
    yield "SHA-256 alone", str(algorithms), algorithms == ["sha256"]
    digest = info["digest_algorithm"]["algorithm"].native
    yield "SHA-256", digest, digest == "sha256"
    yield "version 1", signed["version"].native, signed["version"].native == "v1"
    yield "signer version 1", info["version"].native, info["version"].native == "v1"
    yield "no content inside", "content", signed["encap_content_info"]["content"].native is None
    yield "no unsigned attributes", "some", not info["unsigned_attrs"].native
    yield "no revocation lists", "some", not signed["crls"].native
    yield from _certificates(signed, each, run.roots)
    key = _certificate(each).public_key()
    strong = (
        isinstance(key, ec.EllipticCurvePublicKey) and isinstance(key.curve, ec.SECP256R1)
    ) or (isinstance(key, rsa.RSAPublicKey) and key.key_size >= _SMALLEST_RSA)
    yield "P-256, or RSA of 2048 bits", type(key).__name__, strong


def _certificates(
    signed: Any, each: Any, roots: Sequence[x509.Certificate]
) -> Iterator[tuple[str, str, bool]]:
    """The signer's certificate and its root's, each once and nothing else.

    The path is built from the roots that are trusted, never from the root that came along, and
    no digest covers that one: so it is held against the trusted one byte by byte.
    """
    found = [c.chosen for c in signed["certificates"]]
    signer = each.signer_cert
    others = [c for c in found if c.dump() != signer.dump()]
    chain = len(found) == 2 and len(others) == 1 and others[0].subject == signer.issuer
    yield "the certificates of signer and root", f"{len(found)} certificates", chain
    if chain:
        yield "a root that signed itself", "another", _is_root(others[0].dump(), roots)


def _is_root(der: bytes, roots: Sequence[x509.Certificate]) -> bool:
    """Whether a certificate is the trusted one of its name, or at least holds by its own key."""
    found = x509.load_der_x509_certificate(der)
    same = [root for root in roots if root.subject == found.subject]
    if same:
        return any(root.public_bytes(serialization.Encoding.DER) == der for root in same)
    try:
        found.verify_directly_issued_by(found)
    except (InvalidSignature, TypeError, ValueError):
        return False
    return True


def _ends_at(data: bytes, end: int) -> bool:
    return any(m.end() == end for m in _END.finditer(data, max(0, end - 64), end)) or any(
        m.end() == end for m in _END.finditer(data)
    )


def _der_length(data: bytes) -> int:
    """Length of the DER value at the start of ``data``."""
    if len(data) < 2 or data[0] != 0x30:
        raise ValueError("no CMS")
    if data[1] < 0x80:
        return 2 + data[1]
    count = data[1] & 0x7F
    return 2 + count + int.from_bytes(data[2 : 2 + count], "big")


def _encoded_again(content: Any) -> bytes:
    """The CMS written anew from its values."""
    again = cms.ContentInfo.load(content.dump(), strict=True)
    _ = again.native
    return bytes(again.dump(force=True))


def _unchanged(run: _Checking, base: bytes) -> None:
    """Every object of the file before the signatures is still what it was, but for the form
    that holds the signatures."""
    with pikepdf.open(io.BytesIO(base)) as old, pikepdf.open(io.BytesIO(run.data)) as new:
        pages = {page.objgen for page in old.pages}
        for thing in old.objects:
            now = new.get_object(thing.objgen)
            grown: set[str] = set()
            if thing.objgen == old.Root.objgen:
                grown = {"/AcroForm", "/Perms"}
            elif thing.objgen in pages:
                grown = {"/Annots"}
            if _plain(thing, grown) != _plain(now, grown):
                run.say(
                    Code.CHANGED_AFTER,
                    f"object {thing.objgen[0]} as it was before the signatures",
                    "another",
                )
        widgets = sum(len(page.get("/Annots", [])) for page in new.pages)
        if widgets > len(FIELDS):
            run.say(Code.EXTRA_SIGNATURE, f"{len(FIELDS)} fields on the pages", f"{widgets}")


def _plain(thing: Any, without: set[str]) -> tuple[bytes, bytes]:
    """An object as text, less some keys, and the raw bytes of a stream."""
    raw = thing.read_raw_bytes() if isinstance(thing, pikepdf.Stream) else b""
    if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        parts = (
            f"{key} ".encode() + _text(value)
            for key, value in sorted(thing.items())
            if key not in without
        )
        return b"\n".join(parts), raw
    return _text(thing), raw


def _text(value: Any) -> bytes:
    return bytes(value.unparse()) if hasattr(value, "unparse") else repr(value).encode()


def _active(run: _Checking) -> None:
    """Nothing in a report runs, opens, sends or loads anything."""
    with pikepdf.open(io.BytesIO(run.data)) as pdf:
        for key in ("/OpenAction", "/AA"):
            if key in pdf.Root:
                run.say(Code.ACTIVE_CONTENT, "nothing that runs", key)
        if "/XFA" in pdf.Root.get("/AcroForm", {}):
            run.say(Code.ACTIVE_CONTENT, "nothing that runs", "/XFA")
        for thing in pdf.objects:
            if not isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
                continue
            action = thing.get("/S")
            if isinstance(action, pikepdf.Name) and str(action) in _ACTIONS:
                run.say(Code.ACTIVE_CONTENT, "nothing that runs", str(action))
            if "/JS" in thing or "/AA" in thing:
                run.say(Code.ACTIVE_CONTENT, "nothing that runs", "a script")
