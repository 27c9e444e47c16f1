"""QIF 3.0: valid after the standard's own schemas, honest, the same bytes, the same when read."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import etree

from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection, fold
from inspect_rec.outgoing import qif, rows
from tests import worked
from tests.outgoing.test_tables import JOBS, filled, inspection, tables

SCHEMAS = Path(__file__).parents[2] / "fixtures" / "qif" / "schema"
AT = {"q": qif.QIF}
every_job = pytest.mark.parametrize("number", JOBS)


@cache
def schema() -> Any:
    """QIFDocument.xsd and what it includes, without network."""
    parser = etree.XMLParser(no_network=True)
    return etree.XMLSchema(etree.parse(SCHEMAS / "QIFDocument.xsd", parser))


def valid(data: bytes) -> Any:
    """The root of a document that holds to the schemas, keys and references included."""
    root = etree.fromstring(data)
    schema().assertValid(root)
    return root


@cache
def of(*numbers: str) -> bytes:
    return qif.to_qif([inspection(number) for number in numbers])


def told(element: Any) -> dict[str, str]:
    found = element.findall("q:Attributes/q:AttributeStr", AT)
    return {each.get("name"): each.get("value") for each in found}


def measurement(root: Any, characteristic: str) -> tuple[Any, Any, Any]:
    """A measurement, its nominal and its definition, by the ids that lead from one to the other."""
    by_id = {e.get("id"): e for e in root.iter() if e.get("id")}
    for found in root.iterfind(".//q:CharacteristicMeasurements/*", AT):
        item = by_id[found.findtext("q:CharacteristicItemId", None, AT)]
        nominal = by_id[item.findtext("q:CharacteristicNominalId", None, AT)]
        definition = by_id[nominal.findtext("q:CharacteristicDefinitionId", None, AT)]
        if told(item)["characteristic"] == characteristic:
            return found, nominal, definition
    raise KeyError(characteristic)


@pytest.mark.parametrize("numbers", [*((n,) for n in JOBS), JOBS], ids="+".join)
def test_a_document_holds_to_the_schemas_of_the_standard(numbers: tuple[str, ...]) -> None:
    root = valid(of(*numbers))
    assert root.tag == f"{{{qif.QIF}}}QIFDocument"
    assert len(root.findall(".//q:MeasurementResults", AT)) == len(numbers)


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        (b">PASS<", b">CONFORMS<"),
        (b"<CharacteristicNominalId>", b"<CharacteristicNominalId>9"),
        (b"<TargetValue>", b"<TargetValue>about "),
    ],
)
def test_the_schemas_find_a_wrong_word_a_wrong_reference_and_a_wrong_figure(
    good: bytes, bad: bytes
) -> None:
    assert good in of("I1")
    with pytest.raises(etree.DocumentInvalid):
        valid(of("I1").replace(good, bad, 1))


def test_what_goes_out_and_comes_in_again_is_the_same() -> None:
    for found, table in zip(qif.from_qif(of(*JOBS)), tables(), strict=True):
        assert found.name == table.name
        assert filled(found) == filled(table)


def test_the_same_entries_give_the_same_bytes_and_others_another_identifier() -> None:
    again = fold(worked.entries("I1"), worked.inspection_id("I1"))
    assert again is not inspection("I1")
    assert qif.to_qif([again]) == of("I1")
    ids = [e.text for n in JOBS for e in valid(of(n)).iter("{*}QPId", "{*}ThisResultsInstanceQPId")]
    assert len(set(ids)) == len(ids) == 2 * len(JOBS)
    part = fold(worked.entries("I1")[:20], worked.inspection_id("I1"))
    assert valid(qif.to_qif([part])).findtext("q:QPId", None, AT) not in ids


def test_the_largest_id_is_stated_and_every_id_stands_once() -> None:
    root = valid(of(*JOBS))
    ids = [int(e.get("id")) for e in root.iter() if e.get("id")]
    assert len(set(ids)) == len(ids) > 100
    assert int(root.get("idMax")) == max(ids)


@every_job
def test_only_what_is_shown_to_conform_passes_and_only_what_is_shown_not_to_fails(
    number: str,
) -> None:
    expected = {
        Verdict.CONFORMS: "PASS",
        Verdict.DOES_NOT_CONFORM: "FAIL",
        Verdict.NEITHER_SHOWN: "INDETERMINATE",
        Verdict.REFUSED: "UNDEFINED",
    }
    root = valid(of(number))
    found = Counter(e.text for e in root.iter("{*}CharacteristicStatusEnum"))
    assert found == Counter(
        "NOT_ANALYZED" if r.characteristic.info else expected[r.verdict]
        for r in inspection(number).results
    )


@pytest.mark.parametrize("verdict", Verdict)
def test_no_tool_passes_unless_it_is_shown_to_conform(verdict: Verdict) -> None:
    one = inspection("I1")
    results = tuple(
        replace(r, judgement=replace(r.judgement, verdict=verdict)) for r in one.results
    )
    root = valid(qif.to_qif([replace(one, results=results)]))
    tool = {e.text for e in root.iter("{*}InspectionStatusEnum")}
    each = {e.text for e in root.iter("{*}CharacteristicStatusEnum")} - {"NOT_ANALYZED"}
    assert len(tool) == len(each) == 1
    assert (tool == {"PASS"}) is (each == {"PASS"}) is (verdict is Verdict.CONFORMS)
    assert (tool == {"FAIL"}) is (each == {"FAIL"}) is (verdict is Verdict.DOES_NOT_CONFORM)


def test_value_nominal_and_limits_stand_in_the_places_of_the_standard() -> None:
    found, nominal, definition = measurement(valid(of("I2")), "DC_2")
    r = inspection("I2").result("DC_2")
    assert r is not None
    c = r.characteristic
    assert Decimal(found.findtext("q:Value", None, AT)) == r.value == Decimal("10.974133")
    assert found.findtext("q:Status/q:CharacteristicStatusEnum", None, AT) == "INDETERMINATE"
    assert Decimal(nominal.findtext("q:TargetValue", None, AT)) == c.nominal
    limits = definition.find("q:Tolerance", AT)
    assert Decimal(limits.findtext("q:MinValue", None, AT)) == c.lower
    assert Decimal(limits.findtext("q:MaxValue", None, AT)) == c.upper
    assert limits.findtext("q:DefinedAsLimit", None, AT) == "true"
    said = told(found)
    assert (Decimal(said["U_mm"]), Decimal(said["u_mm"])) == (r.U, r.u)
    assert (Decimal(said["k"]), said["verdict"]) == (r.k, "neither shown")
    assert (said["method"], said["version"]) == (r.method.name, str(r.method.version))


def test_an_angle_is_an_angular_characteristic_in_degrees() -> None:
    root = valid(of("I2"))
    found, _, _ = measurement(root, "SIG")
    assert found.tag.endswith("UserDefinedAngularCharacteristicMeasurement")
    unit = root.find("q:FileUnits/q:PrimaryUnits/q:AngularUnit", AT)
    assert unit.findtext("q:UnitName", None, AT) == "degree"
    # 180 degrees are pi: S = X * Factor, as the schema says of its conversions.
    factor = float(unit.findtext("q:UnitConversion/q:Factor", None, AT))
    assert 180 * factor == pytest.approx(3.141592653589793, abs=1e-15)


def test_a_profile_has_its_lowest_and_highest_value_and_no_single_one() -> None:
    profiles = [r for n in JOBS for r in inspection(n).results if len(r.values) > 1]
    assert profiles
    for n in JOBS:
        for r in inspection(n).results:
            if len(r.values) > 1:
                found, _, _ = measurement(valid(of(n)), r.characteristic.id)
                assert found.find("q:Value", AT) is None
                low, high = (found.findtext(f"q:{x}Value", None, AT) for x in ("Min", "Max"))
                assert Decimal(low) < Decimal(high)


@every_job
def test_the_instruments_in_use_stand_once_with_their_calibration(number: str) -> None:
    root = valid(of(number))
    used = inspection(number).used
    devices = root.findall(".//q:MeasurementDevice", AT)
    assert [d.findtext("q:Name", None, AT) for d in devices] == [e.id for e in used]
    due = root.findall(".//q:ExpirationDate", AT)
    assert [d.text[:10] for d in due] == [e.due.isoformat() for e in used]
    linked = root.findall(".//q:ActualComponent//q:MeasurementDeviceIds/q:Id", AT)
    assert [e.text for e in linked] == [d.get("id") for d in devices]


def test_two_tools_of_one_plan_share_its_characteristics() -> None:
    twice = valid(qif.to_qif([inspection("I1"), inspection("I1")]))
    once = valid(of("I1"))
    for aspect in ("Definition", "Nominal", "Item"):
        path = f".//q:Characteristic{aspect}s/*"
        assert len(twice.findall(path, AT)) == len(once.findall(path, AT))
    path = ".//q:CharacteristicMeasurements/*"
    assert len(twice.findall(path, AT)) == 2 * len(once.findall(path, AT))


@pytest.mark.parametrize("share", [0.1, 0.5])
def test_a_tool_that_is_not_measured_whole_says_so_and_passes_nothing(share: float) -> None:
    entries = list(worked.entries("I1"))
    part = fold(entries[: max(3, int(share * len(entries)))], worked.inspection_id("I1"))
    assert part.missing
    root = valid(qif.to_qif([part]))
    assert {e.text for e in root.iter("{*}InspectionStatusEnum")} <= {"NOT_CALCULATED", "FAIL"}
    names = [e.get("value") for e in root.iterfind(".//q:AttributeStr[@name='not measured']", AT)]
    assert names == list(part.missing)
    planned, found = (
        len(root.findall(f".//q:Characteristic{x}s/*", AT)) for x in ("Item", "Measurement")
    )
    assert planned == found + len(names)
    assert [filled(t) for t in qif.from_qif(qif.to_qif([part]))] == [
        filled(t) for t in rows.all_of([part])
    ]


def changed(one: Inspection, **told: Any) -> Inspection:
    """With other words for its first characteristic."""
    first = one.job.characteristic[0].model_copy(update=told)
    job = one.job.model_copy(update={"characteristic": (first, *one.job.characteristic[1:])})
    results = tuple(replace(r, characteristic=job.of(r.characteristic.id)) for r in one.results)
    return replace(one, record=replace(one.record, job=job), results=results)


def test_what_is_for_information_has_no_tolerance_and_no_verdict() -> None:
    one = changed(inspection("I2"), info=True)
    data = qif.to_qif([one])
    found, _, definition = measurement(valid(data), one.job.characteristic[0].id)
    assert definition.find("q:Tolerance", AT) is None
    assert definition.findtext("q:NonTolerance", None, AT) == "MEASURED"
    assert found.findtext("q:Status/q:CharacteristicStatusEnum", None, AT) == "NOT_ANALYZED"
    assert "verdict" not in told(found)
    assert filled(qif.from_qif(data)[1]) == filled(rows.results(one))


@given(text=st.text(st.characters(), min_size=1))
@example("]]><!DOCTYPE x [<!ENTITY a 'b'>]>&a;")
@example("a\r\nb\tc\x00\x0b\x1f\ufffe\ud800\\u{41}\\ \x85\u2028")
@example(" \"'<&> ")
@settings(max_examples=40, deadline=None)
def test_any_text_is_held_and_comes_back_as_it_was(text: str) -> None:
    one = changed(inspection("I2"), name=text, symbol=text, plane=text)
    judgement = replace(one.results[0].judgement, reason=text)
    one = replace(one, results=(replace(one.results[0], judgement=judgement), *one.results[1:]))
    last = replace(one.record.readings[-1], source=text, suspect=text)
    one = replace(one, record=replace(one.record, readings=[*one.record.readings[:-1], last]))
    data = qif.to_qif([one])
    valid(data)
    assert [filled(t) for t in qif.from_qif(data)] == [filled(t) for t in rows.all_of([one])]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"PK\x03\x04",
        b"<html/>",
        b"<QIFDocument/>",
        b"<!DOCTYPE x [<!ENTITY a 'b'>]><x>&a;</x>",
        "<QIFDocument/>".encode("utf-16"),
        of("I1").replace(b'name="inspection"', b'name="other"'),
        of("I1").replace(b"<CharacteristicItemId>", b"<CharacteristicItemId>9"),
        of("I1").replace(b"<TargetValue>", b"<TargetValue>x"),
        of("I1")[:-20],
    ],
)
def test_another_document_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match="no QIF document"):
        qif.from_qif(data)


def test_without_an_inspection_there_is_nothing_to_write() -> None:
    with pytest.raises(InputError, match="nothing to write"):
        qif.to_qif([])
