"""A small file to sign, apart from how reports look: two pages, two attachments, own fonts."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pikepdf
from cryptography import x509
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

import report_templates
from inspect_rec.people import Issued, Person, Role, Signer, new_person, new_root, signer
from inspect_rec.report.finding import Code
from inspect_rec.report.sign import MEASURED_BY, RELEASED_BY, Box, measure_sign, release_sign
from inspect_rec.report.signatures import SignatureCheck, check

PASSPHRASE = "only a test"
SHOP = "Tallow Lane Tool Grinding"
SINCE = datetime(2026, 1, 1, tzinfo=UTC)
MEASURED_AT = datetime(2026, 11, 23, 9, 0, tzinfo=UTC)
RELEASED_AT = datetime(2026, 11, 23, 9, 30, tzinfo=UTC)
NOW = datetime(2026, 11, 24, tzinfo=UTC)
GRINDER = Person("G-01", "Marten Oakes", (Role.GRINDS, Role.MEASURES))
INSPECTOR = Person("Q-01", "Tomasz Wren", (Role.RELEASES,))
BOXES = {MEASURED_BY: Box(0, 60, 60, 220, 110), RELEASED_BY: Box(0, 240, 60, 400, 110)}
_FONT = "Small-Sans"
XMP = (
    b'<x:xmpmeta xmlns:x="adobe:ns:meta/">'
    b'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/></x:xmpmeta>'
)


@cache
def root(shop: str) -> Issued:
    return new_root(shop, PASSPHRASE, SINCE)


@cache
def trusted(shop: str = SHOP) -> x509.Certificate:
    return x509.load_pem_x509_certificate(root(shop).certificate)


@cache
def who(person: Person, shop: str = SHOP, since: datetime = SINCE, years: int = 5) -> Signer:
    above = root(shop)
    issued = new_person(person, shop, PASSPHRASE, above, PASSPHRASE, since, years)
    return signer(issued, PASSPHRASE, above.certificate)


def canvas(out: io.BytesIO, wide: float, high: float) -> Canvas:
    fonts = Path(report_templates.__file__).parent / "fonts"
    pdfmetrics.registerFont(TTFont(_FONT, str(fonts / "TallowSans-Regular.ttf")))
    made = Canvas(out, pagesize=(wide, high), invariant=1, initialFontName=_FONT, lang="en")
    made.setFont(_FONT, 10)
    return made


@cache
def base() -> bytes:
    drawn = io.BytesIO()
    page = canvas(drawn, 595, 842)
    for number in (1, 2):
        page.setFont(_FONT, 10)
        page.drawString(60, 780, f"DC_1 4.9023 mm, page {number}")
        page.showPage()
    page.save()
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(drawn.getvalue())) as file:
        file.attachments["record.json"] = b'{"value":"4.9023"}'
        file.attachments["readings.csv"] = b"X\n36.345\n"
        file.Root.Metadata = pikepdf.Stream(file, XMP, Type=pikepdf.Name.Metadata)
        del file.trailer["/Info"]
        file.save(
            out,
            deterministic_id=True,
            fix_metadata_version=False,
            object_stream_mode=pikepdf.ObjectStreamMode.disable,
        )
    return out.getvalue()


def stamp(*lines: str) -> bytes:
    out = io.BytesIO()
    page = canvas(out, 160, 50)
    for n, line in enumerate(lines):
        page.drawString(4, 36 - 12 * n, line)
    page.showPage()
    page.save()
    return out.getvalue()


def measured(by: Signer | None = None, data: bytes | None = None) -> bytes:
    by = by or who(GRINDER)
    return measure_sign(data or base(), by, MEASURED_AT, BOXES, stamp(by.person.name))


def released(
    data: bytes | None = None,
    by: Signer | None = None,
    decision: str = "released",
    reason: str = "",
    at: datetime = RELEASED_AT,
) -> bytes:
    by = by or who(INSPECTOR)
    drawn = stamp(by.person.name, decision, reason)
    return release_sign(data or report_of_one(), by, at, decision, reason, drawn)


@cache
def report_of_one() -> bytes:
    """Signed by the first person."""
    return measured()


@cache
def report() -> bytes:
    """Signed by both."""
    return released()


def checked(data: bytes, roots: Sequence[x509.Certificate] | None = None) -> SignatureCheck:
    return check(data, [trusted()] if roots is None else roots, NOW)


def codes(data: bytes, roots: Sequence[x509.Certificate] | None = None) -> set[Code]:
    return {each.code for each in checked(data, roots).findings}


def said(data: bytes, roots: Sequence[x509.Certificate] | None = None) -> str:
    return " | ".join(f"{f.expected}: {f.found}" for f in checked(data, roots).findings)
