"""Readings and results as one QIF 3.0 document (ISO 23952), and back again. No I/O.

A standard place is used wherever there is one; the rest are attributes by name, their units at the
ends of the names. U, u and k are attributes too: the place for a combined uncertainty asks for the
mean error beside it, and that isn't known. A reading has no place there (it is no point in space):
readings stand as XML of their own beside the results they lead to.

The same entries give the same bytes: no clock, and identifiers from the ledger's digests.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from xml.etree import ElementTree as ET
from xml.etree.ElementTree import Element

from inspect_rec import __version__, ledger
from inspect_rec.compute.conformity import Verdict
from inspect_rec.errors import InputError
from inspect_rec.inspection import Inspection, Result
from inspect_rec.outgoing import rows
from inspect_rec.outgoing.rows import READINGS, RESULTS, Cell, Row, Table, cell_of, said
from inspect_rec.plan import Characteristic, Equipment
from inspect_rec.units import Unit

QIF = "http://qifstandards.org/xsd/qif3"
OWN = uuid.UUID("a9941e7e-dde2-492c-a268-0f4cce9380bb")
"""Names the readings' XML, and the space of the identifiers."""
_OWN_XML = f"urn:uuid:{OWN}"
_AT = {"": QIF, "own": _OWN_XML}

STATUS: Mapping[Verdict, tuple[str, str]] = {
    Verdict.CONFORMS: ("PASS", "PASS"),
    Verdict.DOES_NOT_CONFORM: ("FAIL", "FAIL"),
    Verdict.NEITHER_SHOWN: ("INDETERMINATE", "UNDEFINED"),
    Verdict.REFUSED: ("UNDEFINED", "NOT_CALCULATED"),
}
"""Status of a characteristic and of a tool; only what is shown passes or fails."""
_FOR_INFORMATION = "NOT_ANALYZED"

# What XML 1.0 can't hold, and the sign by which it is held nevertheless.
_UNFIT = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|\\\\")
_HELD = re.compile(r"\\u\{([0-9a-f]+)\}")
_ON_MEASUREMENT = ("k", "guard", "verdict", "side", "reason", "method", "version")


def _held(text: str) -> str:
    return _UNFIT.sub(lambda found: f"\\u{{{ord(found[0]):x}}}", text)


def _meant(text: str) -> str:
    return _HELD.sub(lambda found: chr(int(found[1], 16)), text)


def _qpid(what: str, digests: Iterable[str]) -> str:
    """The identifier of what this version of the program makes of entries with those digests."""
    return str(uuid.uuid5(OWN, " ".join((what, __version__, *digests))))


def _add(parent: Element, tag: str, text: Cell = None, **attributes: str) -> Element:
    child = ET.SubElement(parent, tag, attributes)
    if text is not None:
        child.text = _held(said(text))
    return child


def _attributes(parent: Element, told: Iterable[tuple[str, Cell]]) -> Element | None:
    """Attributes by name, those that there are."""
    found = [(name, cell) for name, cell in told if cell not in (None, "")]
    if not found:
        return None
    kept = _add(parent, "Attributes")
    for name, cell in found:
        _add(kept, "AttributeStr", name=name, value=_held(said(cell)))
    return kept


def _some(row: Row, names: Iterable[str]) -> list[tuple[str, Cell]]:
    return [(name, row.get(name)) for name in names]


def _instant(at: datetime) -> str:
    return ledger.instant(at.astimezone(UTC))


class _Document:
    """A document as it grows: each equal definition once, every id another."""

    def __init__(self) -> None:
        self.root = Element("QIFDocument", {"xmlns": QIF, "versionQIF": "3.0.0"})
        self._last = 0
        self._ids: dict[tuple[str, ...], str] = {}

    def new(self) -> str:
        """An id that nothing has yet."""
        self._last += 1
        return str(self._last)

    def once(self, *key: str) -> tuple[str, bool]:
        """The id of what that key stands for, and whether it is new."""
        known = key in self._ids
        if not known:
            self._ids[key] = self.new()
        return self._ids[key], not known

    def whole(self) -> bytes:
        """The document with its counts and its largest id."""
        for element in self.root.iter():
            if element.tag in _COUNTED:
                element.set("n", str(len(element)))
        self.root.set("idMax", str(self._last))
        ET.indent(self.root)
        return bytes(ET.tostring(self.root, "utf-8", xml_declaration=True)) + b"\n"


_COUNTED = {
    "ActualComponentIds",
    "ActualComponentSet",
    "ActualComponentSets",
    "Attributes",
    "Calibrations",
    "CharacteristicDefinitions",
    "CharacteristicItems",
    "CharacteristicMeasurements",
    "CharacteristicNominals",
    "MeasurementDeviceIds",
    "MeasurementDevices",
    "MeasurementResultsSet",
}


def to_qif(inspections: Sequence[Inspection]) -> bytes:
    """Inspections with plan, instruments, results and readings as one document, mm and degrees.

    Raises InputError where there is none.
    """
    if not inspections:
        raise InputError("there is nothing to write", expected="one inspection or more")
    document = _Document()
    root = document.root
    _add(root, "QPId", _qpid("document", (i.digest for i in inspections)))
    _attributes(root, [("version of the program", __version__)])
    _add(_add(_add(root, "Header"), "Application"), "Name", "inspect-rec")
    standard = _add(_add(root, "StandardsDefinitions", n="1"), "Standard", id=document.new())
    _add(_add(standard, "Organization"), "StandardsOrganizationEnum", "ISO")
    _add(standard, "Designator", "ISO 14253-1")
    units = _add(_add(root, "FileUnits"), "PrimaryUnits")
    # Factors as the standard's own table of conversions has them; of the degree to more places.
    for tag, si, name, factor in (
        ("AngularUnit", "radian", "degree", "0.017453292519943296"),
        ("LinearUnit", "meter", "mm", "0.001"),
    ):
        unit = _add(units, tag)
        _add(unit, "SIUnitName", si)
        _add(unit, "UnitName", name)
        _add(_add(unit, "UnitConversion"), "Factor", factor)
    _devices(document, inspections)
    _characteristics(document, inspections, standard.attrib["id"])
    _results(document, inspections)
    return document.whole()


def _devices(document: _Document, inspections: Sequence[Inspection]) -> None:
    used = [equipment for inspection in inspections for equipment in inspection.used]
    if not used:
        return
    devices = _add(_add(document.root, "MeasurementResources"), "MeasurementDevices")
    for equipment in used:
        id_, new = document.once(*_device(equipment))
        if not new:
            continue
        device = _add(devices, "MeasurementDevice", id=id_)
        _add(device, "Name", equipment.id)
        _add(device, "Description", equipment.what)
        names = ("certificate", "traceable", "uncertainty")
        _attributes(device, [(name, getattr(equipment, name)) for name in names])
        calibration = _add(_add(device, "Calibrations"), "Calibration")
        _add(calibration, "CalibrationDate", f"{equipment.calibrated.isoformat()}T00:00:00")
        _add(calibration, "ExpirationDate", f"{equipment.due.isoformat()}T23:59:59")


def _device(equipment: Equipment) -> tuple[str, str]:
    return "device", repr(equipment)


def _kind(c: Characteristic, aspect: str) -> str:
    return f"UserDefined{'Angular' if c.deg else 'Linear'}Characteristic{aspect}"


def _item(c: Characteristic, flute: int | None) -> tuple[str, str, str]:
    return "item", repr(c), said(flute)


def _characteristics(document: _Document, inspections: Sequence[Inspection], standard: str) -> None:
    """What the plans ask for, measured or not."""
    whole = _add(document.root, "Characteristics")
    _add(whole, "FormalStandardId", standard)
    definitions = _add(whole, "CharacteristicDefinitions")
    nominals = _add(whole, "CharacteristicNominals")
    items = _add(whole, "CharacteristicItems")
    for inspection in inspections:
        for c in inspection.job.characteristic:
            key = repr(c)
            definition, new = document.once("definition", key)
            nominal, _ = document.once("nominal", key)
            if new:
                _definition(_add(definitions, _kind(c, "Definition"), id=definition), c)
                stated = _add(nominals, _kind(c, "Nominal"), id=nominal)
                _add(stated, "CharacteristicDefinitionId", definition)
                _add(stated, "Name", c.id)
                if c.nominal is not None:
                    _add(stated, "TargetValue", c.nominal)
            for flute in _flutes(inspection, c):
                id_, new = document.once(*_item(c, flute))
                if new:
                    item = _add(items, _kind(c, "Item"), id=id_)
                    _attributes(item, [("characteristic", c.id), ("flute", flute)])
                    name = c.id if flute is None else f"{c.id}, {inspection.tool.edge_word} {flute}"
                    _add(item, "Name", name)
                    _add(item, "CharacteristicNominalId", nominal)


def _flutes(inspection: Inspection, c: Characteristic) -> Iterable[int | None]:
    """Where it is asked for, and where it has a result."""
    planned = range(1, inspection.tool.edges + 1) if c.per == "flute" else (None,)
    found = (r.flute for r in inspection.results if r.characteristic.id == c.id)
    return dict.fromkeys((*planned, *found))


def _definition(definition: Element, c: Characteristic) -> None:
    unit = "deg" if c.deg else "mm"
    limits = [("MaxValue", "upper", c.upper), ("MinValue", "lower", c.lower)]
    told: list[tuple[str, Cell]] = [("name", c.name), ("symbol", c.symbol), ("plane", c.plane)]
    told.append(("limits from", c.limits_from))
    if c.info:
        # Limits that nothing is judged by are no tolerance.
        told += [(f"{name}_{unit}", limit) for _, name, limit in limits]
    _attributes(definition, told)
    _add(definition, "Description", c.name)
    _add(definition, "Name", c.id)
    if c.info:
        _add(definition, "NonTolerance", "MEASURED")
    else:
        tolerance = _add(definition, "Tolerance")
        for tag, _, limit in limits:
            if limit is not None:
                _add(tolerance, tag, limit)
        _add(tolerance, "DefinedAsLimit", "true")
    _add(definition, "WhatToMeasure", c.name)


def _results(document: _Document, inspections: Sequence[Inspection]) -> None:
    results = _add(document.root, "Results")
    measured = _add(results, "MeasurementResultsSet")
    tools = _add(_add(results, "ActualComponentSets"), "ActualComponentSet")
    for inspection in inspections:
        tool = _add(tools, "ActualComponent", id=document.new())
        _add(tool, "SerialNumber", inspection.tool.mark)
        status = STATUS[inspection.verdict][1]
        _add(_add(tool, "Status"), "InspectionStatusEnum", status)
        if inspection.used:
            ids = _add(_add(tool, "Traceability"), "MeasurementDeviceIds")
            for equipment in inspection.used:
                _add(ids, "Id", document.once(*_device(equipment))[0])
        one = _add(measured, "MeasurementResults", id=document.new())
        _told_of(one, inspection)
        _add(one, "ThisResultsInstanceQPId", _qpid("results", [inspection.digest]))
        if inspection.results:
            found = _add(_add(one, "MeasuredCharacteristics"), "CharacteristicMeasurements")
            at = {kept.ref: kept.at for kept in inspection.record.readings}
            for r, row in zip(inspection.results, rows.results(inspection).rows, strict=True):
                last = max((at[ref] for ref in r.refs if ref in at), default=None)
                _measurement(document, found, r, row, last, tool.attrib["id"])
        _add(_add(one, "InspectionStatus"), "InspectionStatusEnum", status)
        _add(_add(one, "ActualComponentIds"), "Id", tool.attrib["id"])


def _told_of(results: Element, inspection: Inspection) -> None:
    """Attributes and traceability of an inspection, and its readings."""
    job, told = inspection.job.job, [("inspection", inspection.id)]
    told += [("verdict", inspection.verdict.value), ("digest", inspection.digest)]
    told += [("decision rule", job.decision(Unit.MM).kind.value)]
    told += [("drawing", job.drawing), ("drawing revision", job.drawing_revision)]
    told += [("not measured", missing) for missing in inspection.missing]
    attributes = _attributes(results, told)
    table = rows.readings(inspection)
    if attributes is not None and table.rows:
        user = _add(attributes, "AttributeUser", name="readings", nameUserAttribute="readings")
        readings = _add(_add(user, "UserDataXML"), "readings", xmlns=_OWN_XML)
        for row in table.rows:
            cells = {name: _held(said(cell)) for name, cell in row.items() if cell is not None}
            ET.SubElement(readings, "reading", cells)
    trace = _add(results, "InspectionTraceability")
    _add(_add(trace, "InspectingOrganization"), "Name", inspection.shop.shop.name)
    customer = _add(trace, "CustomerOrganization")
    _add(customer, "Name", job.customer)
    _add(customer, "CustomerNumber", job.customer)
    if job.order:
        _add(trace, "OrderNumber", job.order)
    instants = [kept.at for kept in inspection.record.readings]
    if instants:
        _add(trace, "InspectionStart", _instant(min(instants)))
        _add(trace, "InspectionEnd", _instant(max(instants)))


def _measurement(
    document: _Document, found: Element, r: Result, row: Row, at: datetime | None, tool: str
) -> None:
    c = r.characteristic
    one = _add(found, _kind(c, "Measurement"), id=document.new())
    unit = "deg" if c.deg else "mm"
    told: list[tuple[str, Cell]] = [(f"U_{unit}", r.U), (f"u_{unit}", r.u)]
    _attributes(one, told + _some(row, _ON_MEASUREMENT))
    status = _FOR_INFORMATION if c.info else STATUS[r.verdict][0]
    _add(_add(one, "Status"), "CharacteristicStatusEnum", status)
    _add(one, "CharacteristicItemId", document.once(*_item(c, r.flute))[0])
    if at is not None:
        _add(one, "TimeStamp", _instant(at))
    _add(one, "ActualComponentId", tool)
    if len(r.values) == 1:
        _add(one, "Value", r.values[0])
    else:
        _add(one, "MaxValue", r.values[-1])
        _add(one, "MinValue", r.values[0])


def from_qif(data: bytes) -> tuple[Table, Table]:
    """Readings and results of a document that ``to_qif`` wrote. InputError for another one."""
    root = _parsed(data)
    by_id = {element.attrib["id"]: element for element in root.iter() if "id" in element.attrib}
    read: list[Row] = []
    found: list[Row] = []
    try:
        for results in root.iterfind("Results/MeasurementResultsSet/MeasurementResults", _AT):
            for reading in results.iterfind("Attributes/AttributeUser/*/*/own:reading", _AT):
                told = {name: _meant(text) for name, text in reading.attrib.items()}
                read.append({c.name: cell_of(told.get(c.name, ""), c.kind) for c in READINGS})
            inspection = _told(results)["inspection"]
            path = "MeasuredCharacteristics/CharacteristicMeasurements/*"
            found += [_row(m, by_id, inspection) for m in results.iterfind(path, _AT)]
    except (KeyError, ValueError, InvalidOperation) as error:
        raise _other(f"{type(error).__name__} {error}") from error
    return Table("readings", READINGS, tuple(read)), Table("results", RESULTS, tuple(found))


def _other(found: str) -> InputError:
    return InputError(
        "this is no QIF document that can be read here",
        expected="a QIF 3.0 document that inspect-rec export wrote",
        found=found[:80],
    )


def _parsed(data: bytes) -> Element:
    try:
        text = data.decode("utf-8-sig")
        if "<!" in text:
            raise _other("a document type, a comment or marked text, which none of them has")
        root = ET.fromstring(text)  # noqa: S314 - without entities there is nothing to blow up
    except (ET.ParseError, UnicodeDecodeError) as error:
        raise _other(str(error)) from error
    if root.tag != f"{{{QIF}}}QIFDocument":
        raise _other(f"the root {root.tag}")
    return root


def _told(element: Element) -> dict[str, str]:
    found = element.iterfind("Attributes/AttributeStr", _AT)
    return {each.attrib["name"]: _meant(each.attrib["value"]) for each in found}


def _figure(element: Element, *paths: str) -> Decimal | None:
    """The figure at the first of these places that there is."""
    found = (element.findtext(path, None, _AT) for path in paths)
    return next((Decimal(text) for text in found if text is not None), None)


def _row(measurement: Element, by_id: Mapping[str, Element], inspection: str) -> Row:
    item = by_id[measurement.findtext("CharacteristicItemId", "", _AT)]
    nominal = by_id[item.findtext("CharacteristicNominalId", "", _AT)]
    definition = by_id[nominal.findtext("CharacteristicDefinitionId", "", _AT)]
    told = {**_told(definition), **_told(item), **_told(measurement), "inspection": inspection}
    row = {c.name: cell_of(told.get(c.name, ""), c.kind) for c in RESULTS}
    unit = "deg" if "Angular" in measurement.tag else "mm"
    places = {
        "nominal": _figure(nominal, "TargetValue"),
        "lower": _figure(definition, "Tolerance/MinValue"),
        "upper": _figure(definition, "Tolerance/MaxValue"),
        "lowest": _figure(measurement, "MinValue"),
        "value": _figure(measurement, "Value", "MaxValue"),
    }
    return row | {f"{name}_{unit}": cell for name, cell in places.items() if cell is not None}


__all__ = ["STATUS", "from_qif", "to_qif"]
