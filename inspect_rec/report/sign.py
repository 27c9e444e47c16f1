"""Signing a report: two prepared fields, measured by and released by, in that order.

The base file stays byte for byte at the head of the signed one: both fields and the first
signature come in one incremental update, the second signature in another. PAdES baseline B-B
through pyHanko, which is imported here and in ``signatures`` only.
"""

from __future__ import annotations

import datetime
import hashlib
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from asn1crypto import x509 as asn1_x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, padding
from pyhanko.pdf_utils import content, layout
from pyhanko.pdf_utils.generic import pdf_name
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.misc import PdfError
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign import fields, signers
from pyhanko.sign.fields import MDPPerm, SigFieldSpec, SigSeedSubFilter
from pyhanko.stamp import StaticStampStyle
from pyhanko_certvalidator.registry import SimpleCertificateStore

from inspect_rec.errors import ReportError
from inspect_rec.people import Role, Signer, shop_of
from inspect_rec.report.cms import low
from inspect_rec.report.fields import FIELDS, MEASURED_BY, RELEASED_BY, Box

__all__ = [
    "FIELDS",
    "MEASURED_BY",
    "RELEASED_BY",
    "ROLE",
    "Box",
    "measure_sign",
    "release_sign",
    "sheet_sign",
]

ROLE = {MEASURED_BY: Role.MEASURES, RELEASED_BY: Role.RELEASES}

MEASURED = "Measured by: the readings are mine and true."
RELEASED = "Released: I authorise this report and release the tool."
CONCEDED = (
    "Released under the customer's concession: I authorise this report and release the tool. "
    "Concession: "
)
NOT_RELEASED = "Not released: I authorise this report. I do not release the tool. Reason: "

SHEET = "Batch sheet: I release what it names as released, nothing else."

RESERVED = 4096
"""Bytes kept for a signature's CMS; given, so that pyHanko needn't sign twice to guess it."""


class _KeptKey(signers.SimpleSigner):
    """Uses the key that is open already; the library's own signer parses it each time."""

    opened: Any = None

    async def async_sign_raw(
        self,
        data: bytes,
        digest_algorithm: str,  # noqa: ARG002 - always SHA-256; the library's signature
        dry_run: bool = False,  # noqa: FBT001, FBT002 - the library's signature
    ) -> bytes:
        if dry_run:
            return bytes(RESERVED // 8)
        if isinstance(self.opened, ec.EllipticCurvePrivateKey):
            return low(self.opened.sign(data, ec.ECDSA(hashes.SHA256())))
        return bytes(self.opened.sign(data, padding.PKCS1v15(), hashes.SHA256()))


class _At(signers.PdfSigner):
    """A signing whose instant is handed in; the library would take the machine's clock."""

    def __init__(self, at: datetime.datetime, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._at = at

    def init_signing_session(self, *args: Any, **kwargs: Any) -> Any:
        session = super().init_signing_session(*args, **kwargs)
        session.system_time = self._at
        return session


def _asn1(certificate: Any) -> asn1_x509.Certificate:
    return asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER))


def _signer(who: Signer) -> _KeptKey:
    store = SimpleCertificateStore()
    store.register(_asn1(who.root))
    made = _KeptKey(signing_cert=_asn1(who.certificate), signing_key=None, cert_registry=store)
    made.opened = who.key
    return made


def measure_sign(
    base: bytes, who: Signer, at: datetime.datetime, boxes: dict[str, Box], stamp_pdf: bytes
) -> bytes:
    """The report signed "measured by"; ``boxes`` for both fields, ``stamp_pdf`` drawn for the
    first at the size of its box. ``at``: aware.

    Raises PersonError for a signer without that role, ReportError for a base that can't be
    signed.
    """
    who.person.must(Role.MEASURES)
    with _library():
        writer = _writer(base)
        for name in FIELDS:
            _field(writer, name, boxes[name])
        return _sign(writer, MEASURED_BY, who, at, MEASURED, stamp_pdf, certify=True)


def release_sign(
    pdf: bytes, who: Signer, at: datetime.datetime, decision: str, reason: str, stamp_pdf: bytes
) -> bytes:
    """The report signed "released by", whatever the decision: "released" or "not released".

    Raises PersonError for a signer without that role; ReportError for another decision, for one
    against the tool without a reason, and where the file isn't exactly what was signed first.
    """
    who.person.must(Role.RELEASES)
    meaning = _meaning(decision, reason)
    _only_measured(pdf, who, at)
    with _library():
        return _sign(_writer(pdf), RELEASED_BY, who, at, meaning, stamp_pdf, certify=False)


def sheet_sign(
    base: bytes, who: Signer, at: datetime.datetime, box: Box, stamp_pdf: bytes
) -> bytes:
    """A batch sheet signed "released by"; nothing more can be signed on it. Its reports are
    decided each by a signature of their own.

    Raises PersonError for a signer without that role, ReportError for a base that can't be signed.
    """
    who.person.must(Role.RELEASES)
    with _library():
        writer = _writer(base)
        _field(writer, RELEASED_BY, box)
        return _sign(writer, RELEASED_BY, who, at, SHEET, stamp_pdf, certify=True)


def _field(writer: IncrementalPdfFileWriter, name: str, box: Box) -> None:
    spec = SigFieldSpec(name, on_page=box.page, box=(box.x0, box.y0, box.x1, box.y1))  # type: ignore[arg-type]
    fields.append_signature_field(writer, spec)


@contextmanager
def _library() -> Iterator[None]:
    """The library's errors stop here; those of signing itself are plain ValueErrors."""
    try:
        yield
    except (PdfError, ValueError) as error:
        raise ReportError("the report can't be signed", found=str(error)[:200]) from error


def _meaning(decision: str, reason: str) -> str:
    if decision == "released" and not reason:
        return RELEASED
    start = {"released": CONCEDED, "not released": NOT_RELEASED}.get(decision)
    if start is not None and reason.strip() and reason.isprintable():
        return start + reason
    raise ReportError(
        "no decision",
        expected='"released", alone or with the concessions it is under, or "not released" with a '
        "line that says why",
        found=f"{decision!r}, {reason!r}",
    )


def _only_measured(pdf: bytes, who: Signer, at: datetime.datetime) -> None:
    """The file is whole, signed "measured by" and by nobody else: nobody vouches for less."""
    from inspect_rec.report.finding import Code  # the check reads this module's constants
    from inspect_rec.report.signatures import check

    missing = "released by"
    for found in check(pdf, [who.root], at).findings:
        if found.code is Code.SIGNATURE_MISSING and found.expected == missing:
            missing = ""
            continue
        raise ReportError(
            "the file isn't as it was signed first", expected=found.expected, found=found.found
        )
    if missing:
        raise ReportError("the report is signed already", expected=f"no signature {missing!r}")


class _Quiet(IncrementalPdfFileWriter):
    """Adds the form and its signatures, and leaves version, extensions and metadata alone.

    The library would raise the version to 2.0 and rewrite the metadata with the machine's
    clock; both would take the file out of PDF/A-3, and change objects of the base.
    """

    def ensure_output_version(self, version: Any) -> None:
        pass

    def register_extension(self, ext: Any) -> None:
        pass

    def _update_meta(self) -> None:
        pass


def _writer(pdf: bytes) -> IncrementalPdfFileWriter:
    return _Quiet(io.BytesIO(pdf))


def _sign(
    writer: IncrementalPdfFileWriter,
    field: str,
    who: Signer,
    at: datetime.datetime,
    meaning: str,
    stamp_pdf: bytes,
    *,
    certify: bool,
) -> bytes:
    if at.tzinfo is None:
        raise ValueError(f"an instant without a time zone: {at}")
    meta = signers.PdfSignatureMetadata(
        field_name=field,
        md_algorithm="sha256",
        subfilter=SigSeedSubFilter.PADES,
        name=who.person.name,
        reason=meaning,
        location=shop_of(who.certificate) or None,
        certify=certify,
        docmdp_permissions=MDPPerm.FILL_FORMS,
    )
    signing = _At(at, meta, _signer(who), stamp_style=_style(stamp_pdf))
    out = signing.sign_pdf(
        writer, existing_fields_only=True, bytes_reserved=2 * RESERVED, in_place=False
    )
    return bytes(out.getbuffer())


class _Drawn(content.ImportedPdfPage):
    """A page of a PDF in memory; the library's own class opens a file."""

    def __init__(self, data: bytes) -> None:
        super().__init__("")  # type: ignore[no-untyped-call]
        self._data = data

    def render(self) -> bytes:
        reader = PdfFileReader(io.BytesIO(self._data))
        writer = self.writer
        assert writer is not None  # noqa: S101 - the library sets it before it renders
        xobject = writer.import_page_as_xobject(reader, page_ix=0)
        name = "/Import" + hashlib.sha256(self._data).hexdigest()[:16]
        self.resources.xobject[pdf_name(name)] = xobject
        box = xobject.get_object()["/BBox"]
        self.box = layout.BoxConstraints(width=float(box[2]), height=float(box[3]))
        return name.encode("ascii") + b" Do"


def _style(stamp_pdf: bytes) -> StaticStampStyle:
    """The visible block, from a page that the layout drew at the size of the box."""
    return StaticStampStyle(
        border_width=0,
        background=_Drawn(stamp_pdf),
        background_opacity=1.0,
        background_layout=_FILL,
    )


_FILL = layout.SimpleBoxLayoutRule(
    x_align=layout.AxisAlignment.ALIGN_MIN,
    y_align=layout.AxisAlignment.ALIGN_MIN,
    margins=layout.Margins(0, 0, 0, 0),
    inner_content_scaling=layout.InnerScaling.NO_SCALING,
)
