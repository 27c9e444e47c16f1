"""A document 3.1 after EN 10204: only where it was ordered, released by a person who doesn't grind.

EN 10204:2004, 4.1: validated by a representative who is independent of the manufacturing department
(from memory).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from inspect_rec import jobfile, release
from inspect_rec.errors import InputError, PersonError
from inspect_rec.inspection.fold import fold
from inspect_rec.people import Person, Role, key_id
from inspect_rec.report import figures, make, pdf, sign, verify
from inspect_rec.report.finding import Code
from tests import signing, worked

TITLE = "Inspection certificate 3.1"
OFFICE = signing.INSPECTOR
HAND = replace(signing.INSPECTOR, roles=(Role.GRINDS, Role.RELEASES))


def job(said: str) -> list[str]:
    """The mistakes of job I1 with these lines in its [job]."""
    text = (worked.FOLDER / "i1.toml").read_text(encoding="utf-8")
    text = text.replace("[job]\n", f"[job]\n{said}\n", 1)
    try:
        jobfile.parse_job(text, worked.shop(), "i1.toml")
    except InputError as error:
        return [str(m) for m in error.mistakes]
    return []


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (f'title = "{TITLE}"', 'certificate = "3.1" and a title that says 3.1 together'),
        ('certificate = "3.1"', 'certificate = "3.1" and a title that says 3.1 together'),
        ('title = "Calibration certificate"', "'calibration'"),
        ('title = "Inspection certificate 3.2"', "'3.2'"),
        (f'title = "{TITLE}"\ncertificate = "3.1"\nsame_person_may_release = true', "independent"),
    ],
)
def test_a_title_that_the_shop_may_not_give_is_refused(said: str, why: str) -> None:
    assert any(why in mistake for mistake in job(said))


def test_what_was_ordered_is_taken() -> None:
    assert job(f'title = "{TITLE}"\ncertificate = "3.1"') == []


def ordered(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = worked.opened

    def opened(number: str, customer: str = "C-1") -> dict[str, Any]:
        body = plain(number, customer)
        body["plan"]["job"] |= {"title": TITLE, "certificate": "3.1"}
        return body

    monkeypatch.setattr(worked, "opened", opened)


def test_a_person_who_grinds_may_not_release_it(monkeypatch: pytest.MonkeyPatch) -> None:
    ordered(monkeypatch)
    inspection = fold(worked.entries("I1", signing.UPTO["I1"]), signing.made("I1").inspection.id)
    with pytest.raises(PersonError, match="independent of the grinding"):
        release._independent(inspection, signing.shop().signer(HAND))
    release._independent(inspection, signing.shop().signer(OFFICE))


def signed(person: Person) -> tuple[Any, ...]:
    """What ``verify`` finds in a document 3.1 that this person released, however it came about."""
    entries = worked.entries("I1", signing.UPTO["I1"])
    header = signing.header("I1", entries)
    named = replace(header.persons[person.id], roles=tuple(r.value for r in person.roles))
    made = make.make(entries, replace(header, persons={**header.persons, person.id: named}))
    first, second = signing.shop().signer(signing.GRINDER), signing.shop().signer(person)
    moment, later = figures.moment(signing.MEASURED_AT), figures.moment(signing.RELEASED_AT)
    data = sign.measure_sign(
        made.rendered.pdf,
        first,
        signing.MEASURED_AT,
        dict(made.rendered.boxes),
        pdf.measured_stamp(first.person, key_id(first.certificate), moment, "en"),
    )
    told = pdf.released_stamp(
        second.person, key_id(second.certificate), later, "en", "released", ""
    )
    data = sign.release_sign(data, second, signing.RELEASED_AT, "released", "", told)
    return verify.verify(data, [signing.shop().certificate], signing.NOW).findings


def test_one_that_a_grinder_released_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    ordered(monkeypatch)
    assert signed(OFFICE) == ()
    (found,) = signed(HAND)
    assert found.code is Code.SIGNER
    assert "independent of the grinding" in found.expected
