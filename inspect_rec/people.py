"""Persons, what each may do, and the keys and certificates that prove who signed. No I/O.

Each person has an own P-256 key, encrypted with a passphrase, and a certificate under the shop's
own root. Bytes in, bytes out; instants come from the caller.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID

from inspect_rec.errors import PersonError


class Role(StrEnum):
    """What a person may do."""

    GRINDS = "grinds"
    MEASURES = "measures"
    RELEASES = "releases"


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody of the shop."""

    id: str
    name: str
    roles: tuple[Role, ...]

    def must(self, role: Role) -> None:
        """Raises PersonError where the person hasn't that role."""
        if role not in self.roles:
            raise PersonError(
                f"{self.id} may not do this",
                expected=f"the role {role}",
                found=", ".join(self.roles) or "no role",
                do="Ask a person who has it, or add it with a new certificate",
            )


@dataclass(frozen=True, slots=True)
class Issued:
    """A key, encrypted, and its certificate; both PEM."""

    key: bytes
    certificate: bytes


@dataclass(frozen=True, slots=True)
class Signer:
    """An opened key, its certificate, and the root above it."""

    key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey
    certificate: x509.Certificate
    root: x509.Certificate

    @property
    def person(self) -> Person:
        """Who the certificate says this is."""
        return person_of(self.certificate)


def _name(parts: Sequence[tuple[x509.ObjectIdentifier, str]]) -> x509.Name:
    return x509.Name([x509.NameAttribute(oid, value) for oid, value in parts])


_SHORTEST = 8
"""Characters of a passphrase. The format stretches it little (2048 rounds of PBKDF2), so a short
one could be tried out by whoever copies the file."""
_LONGEST = 64
"""Characters of a name or id in a certificate (RFC 5280, appendix A: ub-common-name)."""


def _pem(key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey, passphrase: str) -> bytes:
    if len(passphrase) < _SHORTEST:
        raise PersonError(
            "the passphrase is too short",
            expected=f"at least {_SHORTEST} characters",
            found=str(len(passphrase)),
        )
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(passphrase.encode()),
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=not signs_certificates,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _valid(
    builder: x509.CertificateBuilder,
    since: datetime.datetime,
    years: int,
    above: x509.Certificate | None = None,
) -> x509.CertificateBuilder:
    until = since + datetime.timedelta(days=365 * years)
    if above is not None:
        until = min(until, above.not_valid_after_utc)
        if since >= until:
            raise PersonError(
                "the shop's root isn't valid any more then",
                expected=f"an instant before {until:%Y-%m-%d}",
                found=f"{since:%Y-%m-%d}",
                do="Look at the computer's clock",
            )
    return builder.not_valid_before(since).not_valid_after(until)


def new_root(shop: str, passphrase: str, since: datetime.datetime, years: int = 25) -> Issued:
    """A shop's own root: its key signs the certificates of its persons and nothing else."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = _name(
        [(NameOID.ORGANIZATION_NAME, shop[:64]), (NameOID.COMMON_NAME, f"{shop} root"[:64])]
    )
    builder = x509.CertificateBuilder(name, name, key.public_key(), x509.random_serial_number())
    certificate = (
        _valid(builder, since, years)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Issued(_pem(key, passphrase), certificate.public_bytes(serialization.Encoding.PEM))


def _nameable(person: Person) -> None:
    """Raises PersonError for what a certificate can't hold whole."""
    for what, text in (("id", person.id), ("name", person.name)):
        if not text.strip() or not text.isprintable() or len(text) > _LONGEST:
            raise PersonError(
                f"no {what} for a certificate",
                expected=f"a line of at most {_LONGEST} characters",
                found=repr(text)[:100],
            )


def new_person(
    person: Person,
    shop: str,
    passphrase: str,
    root: Issued,
    root_passphrase: str,
    since: datetime.datetime,
    years: int = 5,
) -> Issued:
    """A person's key and certificate under the shop's root, which it doesn't outlive.

    Raises PersonError for a name that is too long, a short passphrase, or the root's wrong one.
    """
    _nameable(person)
    above = x509.load_pem_x509_certificate(root.certificate)
    root_key = open_key(root.key, root_passphrase)
    key = ec.generate_private_key(ec.SECP256R1())
    name = _name(
        [
            (NameOID.ORGANIZATION_NAME, shop[:64]),
            *((NameOID.ORGANIZATIONAL_UNIT_NAME, role.value) for role in person.roles),
            (NameOID.COMMON_NAME, person.name[:64]),
            (NameOID.SERIAL_NUMBER, person.id),
        ]
    )
    builder = x509.CertificateBuilder(
        above.subject, name, key.public_key(), x509.random_serial_number()
    )
    above_id = above.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    certificate = (
        _valid(builder, since, years, above)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(above_id), critical=False
        )
        .sign(root_key, hashes.SHA256())
    )
    return Issued(_pem(key, passphrase), certificate.public_bytes(serialization.Encoding.PEM))


def open_key(pem: bytes, passphrase: str) -> ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey:
    """A key from its PEM; raises PersonError for a wrong passphrase or an unfit key."""
    try:
        key = serialization.load_pem_private_key(pem, passphrase.encode())
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise PersonError(
            "the key can't be opened", found=str(error)[:80], do="Type the passphrase again"
        ) from error
    return _fit(key)


def _fit(key: object) -> ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey:
    if isinstance(key, ec.EllipticCurvePrivateKey) and isinstance(key.curve, ec.SECP256R1):
        return key
    if isinstance(key, rsa.RSAPrivateKey) and key.key_size >= 2048:
        return key
    raise PersonError("the key is unfit", expected="P-256, or RSA of 2048 bits or more")


def signer(issued: Issued, passphrase: str, root: bytes) -> Signer:
    """An opened key with its certificate and root (PEM).

    Raises PersonError for a wrong passphrase, and where the three don't belong together.
    """
    certificate = x509.load_pem_x509_certificate(issued.certificate)
    key = open_key(issued.key, passphrase)
    if key.public_key() != certificate.public_key():
        raise PersonError("key and certificate don't belong together")
    above = x509.load_pem_x509_certificate(root)
    try:
        certificate.verify_directly_issued_by(above)
    except (InvalidSignature, TypeError, ValueError) as error:
        raise PersonError("the certificate isn't under that root") from error
    return Signer(key, certificate, above)


def from_pkcs12(data: bytes, passphrase: str, new_passphrase: str) -> Issued:
    """A key and certificate made elsewhere; raises PersonError where it can't be opened."""
    try:
        key, certificate, _ = pkcs12.load_key_and_certificates(data, passphrase.encode())
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise PersonError(
            "the file can't be opened", found=str(error)[:80], do="Type its passphrase again"
        ) from error
    if key is None or certificate is None:
        raise PersonError("the file holds no key with a certificate")
    pem = _pem(_fit(key), new_passphrase)
    return Issued(pem, certificate.public_bytes(serialization.Encoding.PEM))


def shop_of(certificate: x509.Certificate) -> str:
    """The shop that a certificate names; empty where it names none."""
    found = certificate.subject.get_attributes_for_oid(NameOID.ORGANIZATION_NAME)
    return str(found[0].value) if found else ""


def person_of(certificate: x509.Certificate) -> Person:
    """Who a certificate names; roles that nobody knows are left out."""
    subject = certificate.subject
    known = {role.value for role in Role}

    def first(oid: x509.ObjectIdentifier) -> str:
        found = subject.get_attributes_for_oid(oid)
        return str(found[0].value) if found else ""

    units = subject.get_attributes_for_oid(NameOID.ORGANIZATIONAL_UNIT_NAME)
    roles = tuple(Role(str(u.value)) for u in units if u.value in known)
    return Person(first(NameOID.SERIAL_NUMBER), first(NameOID.COMMON_NAME), roles)


def key_id(certificate: x509.Certificate) -> str:
    """Short name of a key, for print: the first eight digits of its certificate's SHA-256."""
    digest = certificate.fingerprint(hashes.SHA256()).hex().upper()
    return f"{digest[:4]} {digest[4:8]}"
