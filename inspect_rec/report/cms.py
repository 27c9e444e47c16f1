"""The one form that a signature's CMS may have here (RFC 5652, PAdES baseline B-B).

No digest covers the bytes of a file's last signature, so every byte that isn't the signer's own
must follow from the rest: the message is built anew from the signer's certificate, the root, the
digest and the signature's two numbers, and has to come out the same. Reads no file, and never
decides whether a signer is to be trusted.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from asn1crypto import cms, tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.asymmetric.utils import (
    decode_dss_signature,
    encode_dss_signature,
)

Flaw = tuple[str, str]
"""What was expected, and what was found."""

SMALLEST_RSA = 2048
_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
"""Order of P-256's base point (FIPS 186-4, D.1.2.3)."""


@dataclass(frozen=True, slots=True)
class Message:
    """A CMS as it was read: its bytes, without the padding, and its parts."""

    der: bytes
    signed: cms.SignedData
    info: cms.SignerInfo
    signer: asn1_x509.Certificate
    others: tuple[asn1_x509.Certificate, ...]


def low(signature: bytes) -> bytes:
    """An ECDSA signature (r, s) on P-256 in the one form with the smaller s.

    (r, n - s) verifies just as well as (r, s), so without a choice anybody could change a
    signed file and it would stay good.
    """
    r, s = decode_dss_signature(signature)
    return encode_dss_signature(r, min(s, _ORDER - s))


def read(contents: bytes, signer: bytes) -> Message:
    """A CMS from a signature's /Contents; ``signer``: the certificate it points at, DER.

    Raises ValueError for what is no CMS.
    """
    der = contents[: _length(contents)]
    signed = cms.ContentInfo.load(der, strict=True)["content"]
    found = [choice.chosen for choice in signed["certificates"]]
    return Message(
        der,
        signed,
        signed["signer_infos"][0],
        asn1_x509.Certificate.load(signer, strict=True),
        tuple(c for c in found if c.dump() != signer),
    )


def flaws(
    contents: bytes, signer: bytes, digest: bytes, roots: Sequence[x509.Certificate]
) -> Iterator[Flaw]:
    """What keeps a CMS from the one form. ``digest``: SHA-256 over the signed bytes."""
    message = read(contents, signer)
    if contents[len(message.der) :].strip(b"\0"):
        yield "zeros behind the CMS", "other bytes"
    named = list(_named(message))
    yield from named
    yield from _key(message)
    if named:
        return
    yield from _root(message.others[0].dump(), roots)
    if _again(message, digest) != message.der:
        yield "DER exactly, with nothing but what a signature needs", "another encoding"


def _length(data: bytes) -> int:
    """Length of the DER value at the start of ``data``."""
    if len(data) < 4 or data[0] != 0x30 or data[1] != 0x82:
        raise ValueError("no CMS of a signature's size")
    return 4 + int.from_bytes(data[2:4], "big")


def _named(message: Message) -> Iterator[Flaw]:
    """Flaws that have a name of their own; what has none shows in the bytes."""
    signed, info = message.signed, message.info
    count = len(signed["signer_infos"])
    if count != 1:
        yield "one signer", str(count)
    used = {a["algorithm"].native for a in signed["digest_algorithms"]}
    used.add(info["digest_algorithm"]["algorithm"].native)
    if used != {"sha256"}:
        yield "SHA-256 alone", ", ".join(sorted(used))
    if signed["version"].native != "v1" or info["version"].native != "v1":
        yield "version 1", f"{signed['version'].native}, {info['version'].native}"
    if signed["encap_content_info"]["content"].native is not None:
        yield "no content inside", "content"
    if len(info["unsigned_attrs"]):
        yield "no unsigned attributes", ", ".join(a["type"].native for a in info["unsigned_attrs"])
    if len(signed["crls"]):
        yield "no revocation lists", str(len(signed["crls"]))
    if len(message.others) != 1 or message.others[0].subject != message.signer.issuer:
        yield "the certificates of signer and root", f"{len(signed['certificates'])} certificates"


def _key(message: Message) -> Iterator[Flaw]:
    key = x509.load_der_x509_certificate(message.signer.dump()).public_key()
    if isinstance(key, ec.EllipticCurvePublicKey) and isinstance(key.curve, ec.SECP256R1):
        signature = message.info["signature"].native
        if low(signature) != signature:
            yield "the smaller of a signature's two forms", "the other"
    elif not (isinstance(key, rsa.RSAPublicKey) and key.key_size >= SMALLEST_RSA):
        yield "P-256, or RSA of 2048 bits or more", type(key).__name__


def _root(der: bytes, roots: Sequence[x509.Certificate]) -> Iterator[Flaw]:
    """The root that came along: the trusted one of its name, or one that holds by its own key.

    The path is built from the roots that are trusted, never from this one.
    """
    found = x509.load_der_x509_certificate(der)
    same = [root for root in roots if root.subject == found.subject]
    if any(root == found for root in same):
        return
    if same:
        yield "the trusted root, byte for byte", "another of its name"
        return
    try:
        found.verify_directly_issued_by(found)
    except (InvalidSignature, TypeError, ValueError):
        yield "a root that signed itself", "another"


def _again(message: Message, digest: bytes) -> bytes:
    """The CMS built anew from certificates, digest and signature."""
    signer = message.signer
    sha256 = {"algorithm": "sha256"}
    info = cms.SignerInfo(
        {
            "version": "v1",
            "sid": {
                "issuer_and_serial_number": {
                    "issuer": signer.issuer,
                    "serial_number": signer.serial_number,
                }
            },
            "digest_algorithm": sha256,
            "signed_attrs": _attributes(signer, digest),
            "signature_algorithm": {"algorithm": _mechanism(signer)},
            "signature": message.info["signature"].native,
        }
    )
    signed = cms.SignedData(
        {
            "version": "v1",
            "digest_algorithms": [sha256],
            "encap_content_info": {"content_type": "data"},
            "certificates": [signer, *message.others],
            "signer_infos": [info],
        }
    )
    return bytes(cms.ContentInfo({"content_type": "signed_data", "content": signed}).dump())


def _mechanism(signer: asn1_x509.Certificate) -> str:
    return "sha256_ecdsa" if signer.public_key.algorithm == "ec" else "sha256_rsa"


def _attributes(signer: asn1_x509.Certificate, digest: bytes) -> cms.CMSAttributes:
    """The signed attributes: what was signed, and which certificate (RFC 5035)."""
    name = asn1_x509.GeneralName({"directory_name": signer.issuer})
    which = tsp.SigningCertificateV2(
        {
            "certs": [
                {
                    "cert_hash": hashlib.sha256(signer.dump()).digest(),
                    "issuer_serial": {"issuer": [name], "serial_number": signer.serial_number},
                }
            ]
        }
    )
    return cms.CMSAttributes(
        [
            {"type": "content_type", "values": ["data"]},
            {"type": "message_digest", "values": [digest]},
            {"type": "signing_certificate_v2", "values": [which]},
        ]
    )
