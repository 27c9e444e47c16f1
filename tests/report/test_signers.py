"""Who signed: roles, names, roots, validity, keys and words, each held against what it must be."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa

from inspect_rec.report import sign
from inspect_rec.report.finding import Code
from inspect_rec.report.signatures import check
from tests.report import forging, small
from tests.report.small import checked, codes, said


def test_a_signer_without_the_role_is_found() -> None:
    data = forging.released_with(who=small.who(small.GRINDER))
    assert codes(data) == {Code.SIGNER}
    assert "released by: a person who releases: Marten Oakes: grinds, measures" in said(data)


def test_another_name_beside_a_good_key_is_found() -> None:
    liar = forging.Liar(small.who(small.INSPECTOR), replace(small.INSPECTOR, name="Ada Vane"))
    assert codes(forging.released_with(who=liar)) == {Code.SIGNER}


def test_without_a_root_and_under_another_root_nobody_is_trusted() -> None:
    for roots in ([], [small.trusted("Another Shop")]):
        found = checked(small.report(), roots)
        assert [f.code for f in found.findings] == [Code.UNTRUSTED, Code.UNTRUSTED]
        assert not any(each.trusted for each in found.signed)
        assert all(each.intact for each in found.signed)


def test_one_signer_of_another_shop_is_found() -> None:
    stranger = small.who(small.INSPECTOR, "Another Shop")
    assert codes(forging.released_with(who=stranger)) == {Code.UNTRUSTED}


@pytest.mark.parametrize("days", [-800, 1])
def test_a_certificate_that_is_not_valid_when_it_signs_is_found(days: int) -> None:
    since = small.RELEASED_AT + timedelta(days=days)
    other = small.who(small.INSPECTOR, since=since, years=1)
    assert codes(forging.released_with(who=other)) == {Code.UNTRUSTED}


def test_a_certificate_that_ran_out_since_is_good_for_what_it_signed() -> None:
    later = small.RELEASED_AT + timedelta(days=365 * 9)
    assert check(small.report(), [small.trusted()], later).findings == ()


def test_a_certificate_issued_by_a_person_is_found() -> None:
    by = small.who(small.INSPECTOR)
    other = forging.certified(ec.generate_private_key(ec.SECP256R1()), by)
    assert Code.UNTRUSTED in codes(forging.released_with(who=other))


@pytest.mark.parametrize("curve", [ec.SECP384R1(), ec.SECP256K1()])
def test_a_key_on_another_curve_is_found(
    curve: ec.EllipticCurve, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sign, "low", lambda signature: signature)
    data = forging.released_with(who=forging.certified(ec.generate_private_key(curve)))
    assert codes(data) & {Code.SIGNATURE_FORM, Code.SIGNATURE_BROKEN}


@pytest.mark.parametrize("digest", ["sha1", "sha384", "sha512"])
def test_a_signature_over_another_digest_is_found(digest: str) -> None:
    data = forging.released_otherwise(digest)
    assert codes(data) & {Code.SIGNATURE_FORM, Code.SIGNATURE_BROKEN}
    assert f"released by: SHA-256 alone: {digest}" in said(data)


def test_another_shop_beside_a_good_key_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sign, "shop_of", lambda _: "Another Shop")
    assert codes(forging.released_with()) == {Code.SIGNER}


def test_a_short_rsa_key_is_found() -> None:
    data = forging.released_with(who=forging.certified(rsa.generate_private_key(65537, 1024)))
    assert Code.SIGNATURE_FORM in codes(data)


def test_a_kind_of_signature_that_nobody_knows_is_none() -> None:
    data = small.report().replace(b"/ETSI.CAdES.detached", b"/ETSI.CAdES.detachex")
    assert Code.SIGNATURE_MISSING in codes(data)


def test_a_signature_that_cannot_be_checked_is_found_and_the_rest_is_checked() -> None:
    def spoil(signed: Any) -> None:
        kept = signed["signer_infos"][0]["signed_attrs"]
        signed["signer_infos"][0]["signed_attrs"] = [
            each for each in kept if each["type"].native != "message_digest"
        ]

    found = checked(forging.with_cms(small.report(), spoil))
    assert [each.intact for each in found.signed] == [True, False]
    assert "released by: a signature that can be checked" in [f.expected for f in found.findings]


def test_words_that_no_first_signature_has_are_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sign, "MEASURED", "Measured by: I think so.")
    data = forging.released_with(data=forging.measured_with())
    assert codes(data) == {Code.SIGNATURE_FORM}


def test_words_that_no_signature_has_are_found() -> None:
    assert codes(forging.released_with(meaning="Released, more or less")) == {Code.SIGNATURE_FORM}


def test_a_release_before_the_measurement_and_from_the_future_are_found() -> None:
    before = forging.released_with(at=small.MEASURED_AT - timedelta(minutes=1))
    assert codes(before) == {Code.SIGNATURE_FORM}
    assert "released after it was measured" in said(before)
    assert "signed before now" in said(forging.released_with(at=small.NOW + timedelta(hours=1)))
