"""What somebody with a parser, or even with a good key, could do to a signed file."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pikepdf
from asn1crypto import cms
from asn1crypto import keys as asn1_keys
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.generic import pdf_name
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko_certvalidator.registry import SimpleCertificateStore

from inspect_rec import people
from inspect_rec.people import Person, Role, Signer
from inspect_rec.report import sign
from tests.report import small

Writer = IncrementalPdfFileWriter
Change = Callable[[Writer], None]


def flipped(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]


def resaved(data: bytes, change: Callable[[pikepdf.Pdf], None], **how: Any) -> bytes:
    """Opened, changed and written anew by another library."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(data)) as file:
        change(file)
        file.save(out, **how)
    return out.getvalue()


def updated(data: bytes, change: Change) -> bytes:
    """An incremental update after everything."""
    writer = sign._writer(data)
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


# -- by persons who hold a good key, in the revision that they sign -----------------


def measured_with(
    change: Change | None = None,
    data: bytes | None = None,
    *,
    certify: bool = True,
    lock: fields.FieldMDPSpec | None = None,
) -> bytes:
    """Signed first, by somebody who changes something else in the same breath."""
    writer = sign._writer(data or small.base())
    for name, box in small.BOXES.items():
        edges = (box.x0, box.y0, box.x1, box.y1)
        spec = fields.SigFieldSpec(name, on_page=box.page, box=edges, field_mdp_spec=lock)  # type: ignore[arg-type]
        fields.append_signature_field(writer, spec)
    if change is not None:
        change(writer)
    who = small.who(small.GRINDER)
    drawn = small.stamp(who.person.name)
    return sign._sign(
        writer, sign.MEASURED_BY, who, small.MEASURED_AT, sign.MEASURED, drawn, certify=certify
    )


def released_with(
    change: Change | None = None,
    data: bytes | None = None,
    who: Any = None,
    meaning: str = sign.RELEASED,
    at: datetime = small.RELEASED_AT,
) -> bytes:
    """Signed second, without a look at the file, by somebody who changes something else."""
    writer = sign._writer(data or small.report_of_one())
    if change is not None:
        change(writer)
    who = who or small.who(small.INSPECTOR)
    drawn = small.stamp(who.person.name)
    return sign._sign(writer, sign.RELEASED_BY, who, at, meaning, drawn, certify=False)


def released_first() -> bytes:
    """Both signatures are good, in the other order."""
    writer = sign._writer(small.base())
    for name, box in small.BOXES.items():
        spec = fields.SigFieldSpec(name, on_page=box.page, box=(box.x0, box.y0, box.x1, box.y1))  # type: ignore[arg-type]
        fields.append_signature_field(writer, spec)
    drawn, one, two = small.stamp("x"), small.who(small.INSPECTOR), small.who(small.GRINDER)
    first = sign._sign(
        writer, sign.RELEASED_BY, one, small.RELEASED_AT, sign.RELEASED, drawn, certify=True
    )
    again = sign._writer(first)
    return sign._sign(
        again, sign.MEASURED_BY, two, small.RELEASED_AT, sign.MEASURED, drawn, certify=False
    )


@dataclass(frozen=True)
class Liar:
    """A good key whose holder writes another name beside it."""

    honest: Signer
    person: Person

    def __getattr__(self, name: str) -> Any:
        return getattr(self.honest, name)


def third(data: bytes) -> bytes:
    """One more signature, invisible, by another person under the same root."""
    writer = Writer(io.BytesIO(data))
    fields.append_signature_field(writer, fields.SigFieldSpec("third"))
    meta = signers.PdfSignatureMetadata(field_name="third", md_algorithm="sha256")
    other = small.who(Person("X-09", "Somebody Else", (Role.RELEASES,)))
    made = signers.PdfSigner(meta, sign._signer(other)).sign_pdf(writer, bytes_reserved=8192)
    return bytes(made.getbuffer())


def certified(key: Any, issuer: Signer | None = None) -> Signer:
    """A certificate for any key, made by hand; the issuer may be a person instead of the root."""
    above = small.root(small.SHOP)
    root = x509.load_pem_x509_certificate(above.certificate)
    by = issuer.certificate if issuer else root
    signing = issuer.key if issuer else people.open_key(above.key, small.PASSPHRASE)
    subject = small.who(small.INSPECTOR).certificate.subject
    builder = x509.CertificateBuilder(by.subject, subject, key.public_key(), 77)
    builder = builder.not_valid_before(small.SINCE).not_valid_after(root.not_valid_after_utc)
    builder = builder.add_extension(people._usage(signs_certificates=False), critical=True)
    return Signer(key, builder.sign(signing, hashes.SHA256()), root)


# -- changes that a writer makes ----------------------------------------------------


def page(writer: Writer, number: int = 0) -> Any:
    kid = writer.root["/Pages"]["/Kids"].raw_get(number)
    writer.mark_update(kid)
    return kid.get_object()


def other_content(writer: Writer) -> None:
    stream = generic.StreamObject(stream_data=b"BT ET")
    page(writer)[pdf_name("/Contents")] = writer.add_object(stream)


def one_more_page(writer: Writer) -> None:
    new = generic.DictionaryObject(
        {
            pdf_name("/Type"): pdf_name("/Page"),
            pdf_name("/Parent"): writer.root.raw_get("/Pages"),
            pdf_name("/MediaBox"): generic.ArrayObject(
                [generic.NumberObject(n) for n in (0, 0, 595, 842)]
            ),
        }
    )
    pages = writer.root["/Pages"]
    pages["/Kids"].append(writer.add_object(new))
    pages[pdf_name("/Count")] = generic.NumberObject(int(pages["/Count"]) + 1)
    writer.mark_update(writer.root.raw_get("/Pages"))


def note_over_the_page(writer: Writer) -> None:
    note = generic.DictionaryObject(
        {
            pdf_name("/Type"): pdf_name("/Annot"),
            pdf_name("/Subtype"): pdf_name("/FreeText"),
            pdf_name("/Contents"): generic.pdf_string("DC_1 4.9001 mm"),
            pdf_name("/Rect"): generic.ArrayObject(
                [generic.NumberObject(n) for n in (60, 770, 300, 800)]
            ),
        }
    )
    on = page(writer)
    if "/Annots" not in on:
        on[pdf_name("/Annots")] = generic.ArrayObject()
    on["/Annots"].append(writer.add_object(note))


def other_metadata(writer: Writer) -> None:
    new = generic.StreamObject(
        {pdf_name("/Type"): pdf_name("/Metadata"), pdf_name("/Subtype"): pdf_name("/XML")},
        stream_data=small.XMP + b" ",
    )
    writer.root[pdf_name("/Metadata")] = writer.add_object(new)
    writer.update_root()


def unused_object(writer: Writer) -> None:
    writer.add_object(generic.pdf_string("nobody asks for this"))


def one_more_attachment(writer: Writer) -> None:
    names = writer.root["/Names"]["/EmbeddedFiles"]["/Names"]
    names.extend([generic.pdf_string("z.json"), names.raw_get(1)])
    writer.update_container(names)


def field(writer: Writer, name: str) -> Any:
    """A signature's field, to be changed."""
    for ref in writer.root["/AcroForm"]["/Fields"]:
        if ref.get_object()["/T"] == name:
            writer.mark_update(ref)
            return ref.get_object()
    raise AssertionError(name)


def other_stamp(writer: Writer) -> None:
    """The block of the first signature says something else."""
    drawn = generic.StreamObject(
        {
            pdf_name("/Type"): pdf_name("/XObject"),
            pdf_name("/Subtype"): pdf_name("/Form"),
            pdf_name("/BBox"): generic.ArrayObject(
                [generic.NumberObject(n) for n in (0, 0, 160, 50)]
            ),
        },
        stream_data=b"0 0 160 50 re f",
    )
    where = field(writer, sign.MEASURED_BY)
    where["/AP"][pdf_name("/N")] = writer.add_object(drawn)


def hidden_stamp(writer: Writer) -> None:
    field(writer, sign.MEASURED_BY)[pdf_name("/F")] = generic.NumberObject(0b10)


def one_more_key_in_the_field(writer: Writer) -> None:
    field(writer, sign.MEASURED_BY)[pdf_name("/TU")] = generic.pdf_string("released by")


def one_more_stamp(writer: Writer) -> None:
    """What is drawn while the mouse is down."""
    drawn = field(writer, sign.RELEASED_BY)["/AP"]
    drawn[pdf_name("/D")] = drawn.raw_get("/N")


def one_more_key_in_the_form(writer: Writer) -> None:
    form = writer.root["/AcroForm"]
    form[pdf_name("/DA")] = generic.pdf_string("/Helv 0 Tf 0 g")
    writer.update_container(form)


def text_field(writer: Writer) -> None:
    new = generic.DictionaryObject(
        {pdf_name("/FT"): pdf_name("/Tx"), pdf_name("/T"): generic.pdf_string("note")}
    )
    form = writer.root["/AcroForm"]
    form["/Fields"].append(writer.add_object(new))
    writer.update_container(form)


def another_root(writer: Writer) -> None:
    """Every object stays; the trailer starts elsewhere."""
    root = generic.DictionaryObject(writer.root)
    root[pdf_name("/Lang")] = generic.pdf_string("xx")
    writer._root = writer.add_object(root)


def one_more_key_in_the_trailer(writer: Writer) -> None:
    writer.set_info(generic.DictionaryObject({pdf_name("/Title"): generic.pdf_string("other")}))


def written_over(*, unseen: bool) -> bytes:
    """A whole other file behind the base, then signed: its table leads to no earlier one.

    ``unseen``: its end is written in a way that some readers take and others overlook.
    """
    base = small.base()

    def everything(writer: Writer) -> None:
        for ref in writer.prev.xrefs.explicit_refs_in_revision(0):
            writer.mark_update(ref)
        other_content(writer)

    data = updated(base, everything)
    behind = re.sub(rb"/Prev \d+", lambda m: b" " * len(m[0]), data[len(base) :])
    if unseen:
        behind = re.sub(rb"startxref\n(\d+)\n%%EOF", rb"startxref\r\1\r%%EOF", behind)
    return released_with(data=measured_with(data=base + behind))


# -- inside the last signature, which no digest covers ------------------------------


def gap(data: bytes) -> tuple[int, int]:
    """Where the hex of the last signature stands, without its brackets."""
    found = list(re.finditer(rb"<([0-9A-F]{2000,})>", data))[-1]
    return found.span(1)


def with_cms(data: bytes, change: Callable[[Any], None]) -> bytes:
    """The last signature's CMS changed and encoded again."""
    begin, end = gap(data)
    whole = bytes.fromhex(data[begin:end].decode())
    message = cms.ContentInfo.load(whole[: 4 + int.from_bytes(whole[2:4], "big")])
    change(message["content"])
    return with_der(data, message.dump(force=True))


def with_der(data: bytes, der: bytes) -> bytes:
    begin, end = gap(data)
    written = der.hex().upper().encode().ljust(end - begin, b"0")
    return data[:begin] + written + data[end:]


def released_otherwise(
    name: str = "sha256",
    kind: fields.SigSeedSubFilter = fields.SigSeedSubFilter.PADES,
    contact: str | None = None,
) -> bytes:
    """Signed second, by the library's own signer, with another digest, kind or key than here."""
    key = rsa.generate_private_key(65537, 2048)
    who = certified(key)
    pkcs8 = key.private_bytes(
        serialization.Encoding.DER,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    store = SimpleCertificateStore()
    store.register(sign._asn1(who.root))
    signer = signers.SimpleSigner(
        signing_cert=sign._asn1(who.certificate),
        signing_key=asn1_keys.PrivateKeyInfo.load(pkcs8),
        cert_registry=store,
    )
    meta = signers.PdfSignatureMetadata(
        field_name=sign.RELEASED_BY,
        md_algorithm=name,
        subfilter=kind,
        contact_info=contact,
        reason=sign.RELEASED,
        name=who.person.name,
        location=small.SHOP,
    )
    signing = sign._At(small.RELEASED_AT, meta, signer, stamp_style=sign._style(small.stamp("x")))
    writer = sign._writer(small.report_of_one())
    made = signing.sign_pdf(writer, existing_fields_only=True, bytes_reserved=8192)
    return bytes(made.getbuffer())
