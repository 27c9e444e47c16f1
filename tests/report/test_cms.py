"""The one form of a signature's CMS: whatever else means the same is found, by name or by bytes."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from asn1crypto import cms as asn1_cms
from asn1crypto import core
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.utils import (
    decode_dss_signature,
    encode_dss_signature,
)
from cryptography.hazmat.primitives.serialization import Encoding
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec import people
from inspect_rec.people import new_root
from inspect_rec.report import cms
from inspect_rec.report.finding import Code
from tests.report import forging, small
from tests.report.small import checked, codes, said

# -- inside the last signature ------------------------------------------------------


def unsigned_attribute(signed: Any) -> None:
    extra = asn1_cms.CMSAttribute({"type": "1.2.3.4", "values": [asn1_cms.OctetString(b"x")]})
    signed["signer_infos"][0]["unsigned_attrs"] = asn1_cms.CMSAttributes([extra])


def one_more_certificate(signed: Any) -> None:
    other = small.trusted("Another Shop").public_bytes(Encoding.DER)
    signed["certificates"].append(asn1_cms.CertificateChoices.load(other))


def no_certificates_but_the_signers(signed: Any) -> None:
    signed["certificates"] = [c for c in signed["certificates"] if c.chosen.self_signed == "no"]


def sha1_beside_it(signed: Any) -> None:
    signed["digest_algorithms"].append({"algorithm": "sha1"})


def another_version(signed: Any) -> None:
    signed["version"] = "v3"


def the_other_s(signed: Any) -> None:
    r, s = decode_dss_signature(signed["signer_infos"][0]["signature"].native)
    signed["signer_infos"][0]["signature"] = encode_dss_signature(r, cms._ORDER - s)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (unsigned_attribute, "no unsigned attributes"),
        (one_more_certificate, "the certificates of signer and root"),
        (no_certificates_but_the_signers, "the certificates of signer and root"),
        (sha1_beside_it, "SHA-256 alone"),
        (another_version, "version 1"),
        (the_other_s, "the smaller of a signature's two forms"),
    ],
)
def test_a_cms_in_another_form_is_found(change: Callable[[Any], None], expected: str) -> None:
    """The library calls each of these valid and trusted."""
    data = forging.with_cms(small.report(), change)
    found = checked(data)
    assert all(each.intact for each in found.signed)
    assert {f.code for f in found.findings} == {Code.SIGNATURE_FORM}
    assert expected in said(data)


def test_a_cms_written_with_long_lengths_is_found() -> None:
    data = small.report()
    begin, end = forging.gap(data)
    whole = bytes.fromhex(data[begin:end].decode())
    size = int.from_bytes(whole[2:4], "big")
    long = b"\x30\x83" + size.to_bytes(3, "big") + whole[4 : 4 + size]
    assert codes(forging.with_der(data, long)) & {Code.SIGNATURE_FORM, Code.SIGNATURE_BROKEN}


def test_bytes_hidden_behind_the_cms_are_found() -> None:
    data = small.report()
    _, end = forging.gap(data)
    assert data[end - 8 : end] == b"00000000"
    hidden = data[: end - 8] + b"DEADBEEF" + data[end:]
    assert codes(hidden) == {Code.SIGNATURE_FORM}
    assert "zeros behind the CMS" in said(hidden)


def test_lower_case_hex_is_found() -> None:
    data = small.report()
    begin, end = forging.gap(data)
    lower = data[:begin] + data[begin:end].lower() + data[end:]
    assert codes(lower) == {Code.SIGNATURE_FORM}


# -- what the library refuses already, and what only the bytes tell -------------------


def content_inside(signed: Any) -> None:
    signed["encap_content_info"]["content"] = core.OctetString(b"hidden")


def two_signers(signed: Any) -> None:
    signed["signer_infos"].append(signed["signer_infos"][0].copy())


def a_revocation_list(signed: Any) -> None:
    above = small.root(small.SHOP)
    key = people.open_key(above.key, small.PASSPHRASE)
    builder = x509.CertificateRevocationListBuilder(small.trusted().subject)
    made = builder.last_update(small.SINCE).next_update(small.SINCE + timedelta(days=1))
    der = made.sign(key, hashes.SHA256()).public_bytes(Encoding.DER)
    signed["crls"] = [asn1_cms.RevocationInfoChoice.load(der)]


def a_parameter_left_out(signed: Any) -> None:
    bare = b"\x30\x0b\x06\x09\x60\x86\x48\x01\x65\x03\x04\x02\x01"
    signed["digest_algorithms"] = [asn1_cms.DigestAlgorithm.load(bare)]


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (content_inside, "no content inside: content"),
        (two_signers, "one signer: 2"),
        (a_revocation_list, "no revocation lists: 1"),
        (
            a_parameter_left_out,
            "DER exactly",
        ),
    ],
)
def test_a_cms_with_something_more_or_less_is_found(
    change: Callable[[Any], None], expected: str
) -> None:
    data = forging.with_cms(small.report(), change)
    begin, end = forging.gap(data)
    contents = bytes.fromhex(data[begin:end].decode())
    signer = small.who(small.INSPECTOR).certificate.public_bytes(Encoding.DER)
    signed = hashlib.sha256(data[: begin - 1] + data[end + 1 :]).digest()
    found = list(cms.flaws(contents, signer, signed, [small.trusted()]))
    assert any(": ".join(flaw).startswith(expected) for flaw in found)
    assert checked(data).findings


def with_root(der: bytes) -> Callable[[Any], None]:
    def change(signed: Any) -> None:
        kept = [c for c in signed["certificates"] if c.chosen.self_signed == "no"]
        signed["certificates"] = [*kept, asn1_cms.CertificateChoices.load(der)]

    return change


def test_another_root_of_the_same_name_that_came_along_is_found() -> None:
    namesake = new_root(small.SHOP, small.PASSPHRASE, small.SINCE)
    der = x509.load_pem_x509_certificate(namesake.certificate).public_bytes(Encoding.DER)
    data = forging.with_cms(small.report(), with_root(der))
    assert codes(data) == {Code.SIGNATURE_FORM}
    assert "the trusted root, byte for byte: another of its name" in said(data)


def test_a_root_that_did_not_sign_itself_is_found_where_none_is_trusted() -> None:
    der = bytearray(small.trusted().public_bytes(Encoding.DER))
    der[-1] ^= 1
    data = forging.with_cms(small.report(), with_root(bytes(der)))
    assert "a root that signed itself: another" in said(data, [])


@given(st.integers(1, cms._ORDER - 1), st.integers(1, cms._ORDER - 1))
def test_of_two_forms_of_a_signature_both_give_the_smaller(r: int, s: int) -> None:
    one, other = encode_dss_signature(r, s), encode_dss_signature(r, cms._ORDER - s)
    assert cms.low(one) == cms.low(other) in (one, other)
    assert decode_dss_signature(cms.low(one))[1] <= cms._ORDER // 2


@given(st.binary(max_size=60))
def test_what_is_no_cms_raises_a_value_error(data: bytes) -> None:
    with pytest.raises(ValueError, match=r"."):
        cms.read(data, small.trusted().public_bytes(Encoding.DER))
