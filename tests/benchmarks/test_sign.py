"""Signing a finished file twice over: this program, and pyHanko as given; checking beside it."""

from __future__ import annotations

import io
from typing import Any

import pytest
from asn1crypto import keys as asn1_keys
from cryptography.hazmat.primitives import serialization
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko_certvalidator.registry import SimpleCertificateStore

from inspect_rec.report import sign
from inspect_rec.report.sign import MEASURED_BY
from inspect_rec.report.signatures import check
from tests.benchmarks.timing import interleaved
from tests.report import small

pytestmark = pytest.mark.benchmark

WHO = small.who(small.GRINDER)
STAMP = small.stamp(WHO.person.name)
PER = 5


def plain() -> signers.SimpleSigner:
    """The library's own signer: it parses the key for every signature."""
    pkcs8 = WHO.key.private_bytes(
        serialization.Encoding.DER,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    store = SimpleCertificateStore()
    store.register(sign._asn1(WHO.root))
    return signers.SimpleSigner(
        signing_cert=sign._asn1(WHO.certificate),
        signing_key=asn1_keys.PrivateKeyInfo.load(pkcs8),
        cert_registry=store,
    )


PLAIN = plain()


def as_given() -> bytes:
    """Both fields, the stamp and the certification, by the library's defaults."""
    writer = IncrementalPdfFileWriter(io.BytesIO(small.base()))
    for name, box in small.BOXES.items():
        spec = fields.SigFieldSpec(name, on_page=box.page, box=(box.x0, box.y0, box.x1, box.y1))  # type: ignore[arg-type]
        fields.append_signature_field(writer, spec)
    meta = signers.PdfSignatureMetadata(
        field_name=MEASURED_BY,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        name=WHO.person.name,
        reason=sign.MEASURED,
        certify=True,
        docmdp_permissions=fields.MDPPerm.FILL_FORMS,
    )
    signing = signers.PdfSigner(meta, PLAIN, stamp_style=sign._style(STAMP))
    out = signing.sign_pdf(writer, existing_fields_only=True)
    return bytes(out.getbuffer())


def ours() -> bytes:
    return sign.measure_sign(small.base(), WHO, small.MEASURED_AT, small.BOXES, STAMP)


def released() -> bytes:
    """The second signature, with the check of the first."""
    return small.released()


def checked() -> bytes:
    assert check(small.report(), [small.trusted()], small.NOW).findings == ()
    return b""


def test_a_signature_against_the_librarys_default() -> None:
    for data in (as_given(), ours()):
        found = check(data, [small.trusted()], small.NOW.replace(year=2036)).signed[0]
        assert found.intact
        assert found.trusted
    routes = {"pyHanko, as given": as_given, "measure_sign": ours}
    routes |= {"release_sign, with its check": released, "check of both signatures": checked}
    timed = interleaved({name: many(route) for name, route in routes.items()}, per=PER)
    title = "Sign a finished file, PAdES B-B, P-256 (goal for measure_sign: at most 0.65)"
    print(timed.table(title, "pyHanko, as given"))


def many(route: Any) -> Any:
    def call() -> None:
        for _ in range(PER):
            route()

    return call
