"""Reports of the worked jobs, signed, for tests: keys are made once, instants are fixed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache

from cryptography import x509

from inspect_rec.ledger import Entry, Head
from inspect_rec.people import Issued, Person, Role, Signer, key_id, new_person, new_root, signer
from inspect_rec.report import figures, make, pdf, sign
from inspect_rec.report.fields import Box
from inspect_rec.report.record import Header, Named
from tests import worked

PASSPHRASE = "only a test"
SINCE = datetime(2026, 1, 1, tzinfo=UTC)
NOW = datetime(2026, 11, 24, tzinfo=UTC)
MEASURED_AT = datetime(2026, 11, 23, 9, 0, tzinfo=UTC)
RELEASED_AT = datetime(2026, 11, 23, 9, 30, tzinfo=UTC)
GRINDER = Person("G-01", "Marten Oakes", (Role.GRINDS, Role.MEASURES))
INSPECTOR = Person("Q-01", "Tomasz Wren", (Role.RELEASES,))
NUMBERS = {"I1": "A-0231", "I2": "A-0232", "I3": "A-0240"}
UPTO = {"I1": 114, "I2": 56, "I3": 125}


@dataclass(frozen=True)
class Shop:
    """A root and the persons under it."""

    root: Issued
    name: str = "Tallow Lane Tool Grinding"

    @property
    def certificate(self) -> x509.Certificate:
        return x509.load_pem_x509_certificate(self.root.certificate)

    def signer(self, person: Person, since: datetime = SINCE, years: int = 5) -> Signer:
        issued = new_person(person, self.name, PASSPHRASE, self.root, PASSPHRASE, since, years)
        return signer(issued, PASSPHRASE, self.root.certificate)


@cache
def shop(name: str = "Tallow Lane Tool Grinding") -> Shop:
    return Shop(new_root(name, PASSPHRASE, SINCE), name)


@cache
def who(person: Person) -> Signer:
    return shop().signer(person)


def header(number: str, entries: tuple[Entry, ...]) -> Header:
    last = entries[-1]
    return Header(
        number=NUMBERS[number],
        revision=0,
        replaces=None,
        inspection=worked.inspection_id(number),
        issued=last.at,
        head=Head(last.station, last.seq, last.digest),
        program="0.1.0",
        layout="letter-1",
        language="en",
        persons={p.id: Named(p.name, tuple(p.roles)) for p in (GRINDER, INSPECTOR)},
        customers={"C-1": worked.job(number).job.customer},
        ground_by="G-01",
    )


@cache
def made(number: str) -> make.Made:
    entries = worked.entries(number, UPTO[number])
    return make.make(entries, header(number, entries))


def measured(
    number: str,
    grinder: Signer | None = None,
    base: bytes | None = None,
    boxes: Mapping[str, Box] | None = None,
) -> bytes:
    grinder = grinder or who(GRINDER)
    stamp = pdf.measured_stamp(
        grinder.person, key_id(grinder.certificate), figures.moment(MEASURED_AT), "en"
    )
    rendered = made(number).rendered
    places = dict(boxes or rendered.boxes)
    return sign.measure_sign(base or rendered.pdf, grinder, MEASURED_AT, places, stamp)


def released(
    data: bytes, inspector: Signer | None = None, decision: str = "released", reason: str = ""
) -> bytes:
    inspector = inspector or who(INSPECTOR)
    stamp = pdf.released_stamp(
        inspector.person,
        key_id(inspector.certificate),
        figures.moment(RELEASED_AT),
        "en",
        decision,
        reason,
    )
    return sign.release_sign(data, inspector, RELEASED_AT, decision, reason, stamp)


@cache
def report(number: str = "I1") -> bytes:
    """A report, signed twice."""
    if number == "I2":
        return released(measured(number), None, "not released", "DC_2 neither shown")
    return released(measured(number))
