"""Signing: the base stays as it is, two persons sign in their order, and nobody signs less."""

from __future__ import annotations

import asyncio
import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pikepdf
import pytest
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature

from inspect_rec.errors import PersonError, ReportError
from inspect_rec.people import Person, Role
from inspect_rec.report import cms, sign
from inspect_rec.report.sign import MEASURED_BY, RELEASED_BY, Box
from inspect_rec.report.signatures import check
from tests import signing
from tests.report import forging, small


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def values(data: bytes) -> dict[str, Any]:
    """What stands in each signature; None where a field waits for one."""
    with opened(data) as file:
        fields = list(file.Root.AcroForm.Fields)
        return {
            str(f.T): {k: str(v) for k, v in f.V.items()} if "/V" in f else None for f in fields
        }


def test_the_base_and_the_first_signature_stay_byte_for_byte() -> None:
    assert small.report_of_one().startswith(small.base())
    assert small.report().startswith(small.report_of_one())


def test_the_first_signature_prepares_the_second_ones_field() -> None:
    found = values(small.report_of_one())
    assert list(found) == [MEASURED_BY, RELEASED_BY]
    assert found[RELEASED_BY] is None


def test_a_signature_says_who_when_where_and_what_it_means() -> None:
    first = values(small.report())[MEASURED_BY]
    assert first["/Name"] == "Marten Oakes"
    assert first["/Location"] == "Tallow Lane Tool Grinding"
    assert first["/Reason"] == "Measured by: the readings are mine and true."
    assert first["/M"] == "D:20261123090000Z"
    assert first["/SubFilter"] == "/ETSI.CAdES.detached"


def test_the_decision_stands_in_the_second_signature_alone() -> None:
    said = small.released(decision="not released", reason="DC_2 neither shown")
    second = values(said)[RELEASED_BY]
    assert second["/Reason"].startswith("Not released:")
    assert second["/Reason"].endswith("Reason: DC_2 neither shown")
    assert said[: len(small.report_of_one())] == small.report_of_one()


def test_the_first_signature_certifies_and_allows_form_filling() -> None:
    with opened(small.report()) as file:
        first, second = file.Root.AcroForm.Fields
        assert file.Root.Perms.DocMDP.objgen == first.V.objgen
        assert first.V.Reference[0].TransformParams.P == 2
        assert "/Reference" not in second.V


def test_an_instant_is_the_callers_in_any_zone() -> None:
    summer = datetime(2026, 11, 23, 11, 0, tzinfo=timezone(timedelta(hours=2)))
    data = sign.measure_sign(
        small.base(), small.who(small.GRINDER), summer, small.BOXES, small.stamp("")
    )
    found = check(data, [small.trusted()], small.NOW).signed[0].at
    assert found == small.MEASURED_AT


def test_an_instant_without_a_zone_is_refused() -> None:
    naive = small.MEASURED_AT.replace(tzinfo=None)
    with pytest.raises(ReportError, match="time zone"):
        sign.measure_sign(
            small.base(), small.who(small.GRINDER), naive, small.BOXES, small.stamp("")
        )


# -- PDF/A stays PDF/A ----------------------------------------------------------------


def fonts(file: pikepdf.Pdf) -> list[Any]:
    return [
        thing
        for thing in file.objects
        if isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/Font"
    ]


def test_signing_adds_no_font_that_is_not_embedded() -> None:
    with opened(small.base()) as before, opened(small.report()) as after:
        assert len(fonts(after)) > len(fonts(before))
        for font in fonts(after):
            assert "/FontFile2" in font.FontDescriptor, str(font.BaseFont)


def test_a_block_says_a_korean_name_and_reason_in_an_embedded_font() -> None:
    inspector = Person("Q-02", "박서준", (Role.RELEASES,))
    signed = signing.released(
        signing.measured("I2"), signing.who(inspector), "not released", "마모가 커서 다시 연삭"
    )
    with opened(signed) as file:
        blocks = [
            drawn
            for field in file.Root.AcroForm.Fields
            for drawn in dict(field.AP.N.Resources.XObject).values()
        ]
        names = {str(font.BaseFont) for font in fonts(file)}
        assert all("/FontFile2" in font.FontDescriptor for font in fonts(file))
        used = {str(f.BaseFont) for b in blocks for f in dict(b.Resources.Font).values()}
    assert any(name.endswith("+TallowHangul-Regular") for name in names & used)
    checked = check(signed, [signing.shop().certificate], signing.NOW)
    assert checked.findings == ()
    assert [who.name for who in checked.signed] == ["Marten Oakes", "박서준"]


def test_version_metadata_and_trailer_are_left_alone() -> None:
    with opened(small.base()) as before, opened(small.report()) as after:
        assert before.pdf_version == after.pdf_version
        assert "/Version" not in after.Root
        assert "/Extensions" not in after.Root
        assert "/Info" not in after.trailer
        assert after.Root.Metadata.objgen == before.Root.Metadata.objgen
        assert after.Root.Metadata.read_raw_bytes() == before.Root.Metadata.read_raw_bytes()


def test_the_visible_block_is_the_drawing_at_its_own_size() -> None:
    with opened(small.report()) as file:
        for each in file.Root.AcroForm.Fields:
            box = small.BOXES[str(each.T)]
            assert [float(n) for n in each.Rect] == [box.x0, box.y0, box.x1, box.y1]
            drawn = next(iter(dict(each.AP.N.Resources.XObject).values()))
            assert [float(n) for n in drawn.BBox] == [0, 0, box.x1 - box.x0, box.y1 - box.y0]
            assert b" Tj" in drawn.read_bytes()


# -- what is refused ------------------------------------------------------------------


def test_only_who_measures_signs_first_and_only_who_releases_signs_second() -> None:
    with pytest.raises(PersonError, match="measures"):
        small.measured(small.who(small.INSPECTOR))
    with pytest.raises(PersonError, match="releases"):
        small.released(by=small.who(small.GRINDER))


def swapped(data: bytes) -> bytes:
    return forging.resaved(
        data, lambda file: file.Root.Names.EmbeddedFiles.Names[1].EF.F.write(b"{}")
    )


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: forging.flipped(data, len(small.base()) // 2),
        lambda data: data + b"junk",
        lambda data: forging.updated(data, forging.one_more_page),
        lambda data: forging.updated(data, forging.other_stamp),
        swapped,
        lambda _: small.base(),
        lambda _: small.report(),
        lambda _: b"%PDF-1.7\nno report",
        lambda _: b"",
    ],
    ids=["byte", "junk", "page", "stamp", "attachment", "unsigned", "twice", "no file", "empty"],
)
def test_nobody_releases_a_file_that_the_first_signature_does_not_cover(
    spoil: Callable[[bytes], bytes],
) -> None:
    by, drawn = small.who(small.INSPECTOR), small.stamp("x")
    data = spoil(small.report_of_one())
    with pytest.raises(ReportError):
        sign.release_sign(data, by, small.RELEASED_AT, "released", "", drawn)


def test_nobody_signs_what_is_signed_already() -> None:
    with pytest.raises(ReportError, match="signed already"):
        small.released(small.report())


def test_nobody_releases_what_a_stranger_measured() -> None:
    stranger = small.who(small.GRINDER, "Another Shop")
    with pytest.raises(ReportError, match="trusted root"):
        small.released(small.measured(stranger))


def test_nobody_releases_before_it_was_measured() -> None:
    with pytest.raises(ReportError):
        small.released(at=small.MEASURED_AT - timedelta(seconds=1))


@pytest.mark.parametrize(
    ("decision", "reason"),
    [
        ("maybe", ""),
        ("", ""),
        ("released", " "),
        ("released", "a\nb"),
        ("not released", " "),
        ("not released", "a\nb"),
    ],
)
def test_a_decision_is_one_of_two_and_against_the_tool_has_a_reason(
    decision: str, reason: str
) -> None:
    with pytest.raises(ReportError):
        small.released(decision=decision, reason=reason)


@pytest.mark.parametrize(
    "edges", [(0, 60.5, 60, 220, 110), (0, 220, 60, 60, 110), (0, 0, 9, 9, 9), (-1, 0, 0, 9, 9)]
)
def test_a_box_that_is_none_is_refused(edges: tuple[int, float, float, float, float]) -> None:
    with pytest.raises(ReportError, match="whole points"):
        Box(*edges)


@pytest.mark.parametrize("base", [b"", b"%PDF-1.7\n", b"\0" * 100])
def test_a_base_that_is_no_file_is_refused(base: bytes) -> None:
    with pytest.raises(ReportError):
        sign.measure_sign(
            base, small.who(small.GRINDER), small.MEASURED_AT, small.BOXES, small.stamp("")
        )


def test_a_page_that_is_not_there_is_refused() -> None:
    boxes = {name: Box(7, 10, 10, 170, 60) for name in small.BOXES}
    with pytest.raises(ReportError):
        sign.measure_sign(
            small.base(), small.who(small.GRINDER), small.MEASURED_AT, boxes, small.stamp("")
        )


# -- the signature's own form ---------------------------------------------------------


def test_a_signature_takes_the_smaller_of_its_two_forms() -> None:
    """Of twelve by chance alone all would be small once in 4096."""
    key = small.who(small.GRINDER)
    for n in range(12):
        made = asyncio.run(sign._signer(key).async_sign_raw(bytes([n]), "sha256"))
        _, s = decode_dss_signature(made)
        assert s <= cms._ORDER // 2


def test_one_person_may_sign_both_where_the_caller_lets_them() -> None:
    both = small.who(Person("G-01", "Marten Oakes", (Role.MEASURES, Role.RELEASES)))
    data = small.released(small.measured(both), both)
    assert check(data, [small.trusted()], datetime(2026, 12, 1, tzinfo=UTC)).findings == ()
