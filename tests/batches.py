"""Batches for tests: the ball nose of job I1 many times over, as a wheel wears."""

from __future__ import annotations

import hashlib
import math
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from inspect_rec import ledger, release
from inspect_rec.config import Folder, Name
from inspect_rec.ledger import Entry, Head
from inspect_rec.plan import JobFile
from inspect_rec.report import batch
from inspect_rec.report.record import Header, Named
from inspect_rec.store import Store
from inspect_rec.store.sqlite import Draft
from tests import signing, worked

JOB = "B1"
OPENED = datetime(2026, 11, 16, 7, 0, tzinfo=UTC)
BEGIN = datetime(2026, 11, 17, 6, 0, tzinfo=UTC)
APART = timedelta(minutes=40)

Wear = Callable[[int], float]
"""How much larger the radius of the nth tool is than that of I1, mm."""


def marks(count: int) -> list[str]:
    return [f"QF-{412 + n:04d}" for n in range(count)]


def inspections(count: int) -> list[str]:
    return [f"{JOB}/{mark}" for mark in marks(count)]


def job(count: int, number: str = JOB) -> JobFile:
    """I1 with so many tools."""
    plan = worked.job("I1")
    tools = tuple(plan.tool[0].model_copy(update={"mark": mark}) for mark in marks(count))
    return plan.model_copy(
        update={"job": plan.job.model_copy(update={"number": number}), "tool": tools}
    )


def steady(n: int) -> float:
    """A wheel that wears by 0.8 µm a tool and is dressed after each seventh."""
    return -0.004 + 0.0008 * (n % 7)


def measured(n: int, mark: str, larger: float, upto: int = 114) -> Iterator[Draft]:
    """The acts at the nth tool."""
    first, *rest = worked.entries("I1", upto)
    for entry in rest:
        at = BEGIN + n * APART + (entry.at - first.at) / 64
        yield at, entry.person, entry.kind, _body(entry, f"{JOB}/{mark}", larger)


def _body(entry: Entry, inspection: str, larger: float) -> dict[str, Any]:
    body = {**entry.body, "inspection": inspection}
    place = body.get("place", {})
    if place.get("feature") != "profile arc":
        return body
    angle = math.radians(95 - 10 * int(place["mark"]))
    ways = {"X": math.cos(angle), "Z": math.sin(angle)}
    taken = [
        {**t, "value": str(_moved(t["value"], larger * ways[t["channel"]]))} for t in body["taken"]
    ]
    return {**body, "taken": taken}


def _moved(value: str, by: float) -> Decimal:
    return (Decimal(value) + Decimal(repr(by))).quantize(Decimal("0.001"))


def shop(path: Path, count: int, wear: Wear = steady, done: int | None = None) -> Folder:
    """A shop's folder with a batch of which the first ``done`` tools are measured, or all."""
    here = Folder(path / "shop")
    here.path.mkdir(parents=True)
    shutil.copyfile(worked.FOLDER / "shop.toml", here.shop)
    for person in (signing.GRINDER, signing.INSPECTOR):
        here.name_person(person.id, Name(person.name, tuple(person.roles)))
    with Store.create(here.ledger, "A", "A-0231") as store:
        release.open_job(store, here, job(count), "G-01", OPENED)
        for n, mark in enumerate(marks(count)[:done]):
            if n and n % 7 == 0:
                body = {"inspection": f"{JOB}/{mark}"}
                at = BEGIN + n * APART - timedelta(minutes=5)
                store.append(at, "G-01", "wheel dressed", body)
            store.append_all(list(measured(n, mark, wear(n))))
        store.settle()
    return here


DECIDED = datetime(2026, 11, 24, 8, 0, tzinfo=UTC)
Decide = Callable[[int], str]
"""What becomes of the nth tool: "released", "not released", "conceded", "undecided", "withdrawn",
"replaced" (released at the second go), or "" for a tool that isn't measured."""


def released(_n: int) -> str:
    return "released"


class Ledger:
    """A ledger in memory, with a batch in it. Digests of files are made up."""

    def __init__(self, count: int, wear: Wear = steady, decide: Decide = released) -> None:
        self.entries: list[Entry] = []
        plan = job(count).model_dump(mode="json", by_alias=True)
        plan["job"]["customer"] = "C-1"
        opened = {"job": JOB, "plan": plan, "shop": worked.opened("I1")["shop"]}
        self.add(OPENED, "G-01", "job opened", opened)
        for n, mark in enumerate(marks(count)):
            if decide(n):
                if n and n % 7 == 0:
                    at = BEGIN + n * APART - timedelta(minutes=5)
                    self.add(at, "G-01", "wheel dressed", {"inspection": f"{JOB}/{mark}"})
                for draft in measured(n, mark, wear(n)):
                    self.add(*draft)
        self.number = 231
        for n, inspection in enumerate(inspections(count)):
            if decide(n):
                self._decide(inspection, decide(n), DECIDED + n * timedelta(minutes=1))

    def add(self, at: datetime, person: str, kind: str, body: Mapping[str, Any]) -> None:
        head = Head("A", 0, ledger.NOTHING)
        if self.entries:
            head = Head("A", self.entries[-1].seq, self.entries[-1].digest)
        self.entries.append(ledger.make(head, at, person, kind, body))

    @property
    def head(self) -> Head:
        return Head("A", self.entries[-1].seq, self.entries[-1].digest)

    def of(self, inspection: str) -> list[Entry]:
        return [
            e
            for e in self.entries
            if e.body.get("inspection") == inspection or e.kind == "job opened"
        ]

    def _decide(self, inspection: str, how: str, at: datetime) -> None:
        if how == "replaced":
            number = self.report(inspection, at, "not released", "a second look")
            self.add(at, "G-01", "received", {"inspection": inspection, "state": "seen again"})
            self.report(inspection, at, "released", "", replaces=number)
            return
        if how == "conceded":
            granted = {"number": "CON-7", "characteristics": ["R", "R_variation"], "flutes": []}
            self.add(at, "Q-01", "concession", {"inspection": inspection, **granted})
        decision = {"conceded": "released", "withdrawn": "released"}.get(how, how)
        reason = {"conceded": "CON-7", "not released": "the radius"}.get(how, "")
        number = self.report(inspection, at, "" if how == "undecided" else decision, reason)
        if how == "withdrawn":
            why = {"inspection": inspection, "number": number, "why": "wrong tool in the tube"}
            self.add(at, "Q-01", "withdrawn", why)

    def report(
        self, inspection: str, at: datetime, decision: str, reason: str, replaces: str = ""
    ) -> str:
        """A report made, signed and decided, as its entries tell."""
        number = f"A-{self.number:04d}"
        self.number += 1
        base = {"inspection": inspection, "number": number}
        digest = ledger.inspection_digest(self.of(inspection))
        made = {**base, "revision": int(bool(replaces)), "inspection_digest": digest}
        made |= {"replaces": replaces} if replaces else {}
        self.add(at, "G-01", "report made", {**made, "digest": _made_up(number, "unsigned")})
        for person, role in (("G-01", "measured by"), ("Q-01", "released by")):
            if person == "G-01" or decision:
                told = {"role": role, "key": "0000 0000", "digest": _made_up(number, role)}
                self.add(at, person, "signed", {**base, **told})
        if decision:
            self.add(at, "Q-01", "decided", {**base, "decision": decision, "reason": reason})
        return number


def _made_up(number: str, what: str) -> str:
    return hashlib.sha256(f"{number} {what}".encode()).hexdigest()


def rewritten(found: Ledger, change: Callable[[Entry], Draft]) -> Ledger:
    """The same acts changed one by one; reports are of what the readings are then."""
    made = Ledger(1)
    made.entries, made.number = [], found.number
    for entry in found.entries:
        at, person, kind, body = change(entry)
        if kind == "report made":
            digest = ledger.inspection_digest(made.of(str(body["inspection"])))
            body = {**body, "inspection_digest": digest}
        made.add(at, person, kind, body)
    return made


def header(found: Ledger, language: str = "en") -> Header:
    """The head of the batch's sheet."""
    return Header(
        number=f"{JOB}-batch",
        revision=0,
        replaces=None,
        inspection=JOB,
        issued=found.entries[-1].at,
        head=found.head,
        program="0.1.0",
        layout="batch-1",
        language=language,
        persons={p.id: Named(p.name, tuple(p.roles)) for p in (signing.GRINDER, signing.INSPECTOR)},
        customers={"C-1": worked.job("I1").job.customer},
        ground_by="",
    )


def sheet(found: Ledger, language: str = "en") -> batch.Made:
    return batch.make(tuple(found.entries), header(found, language))


def clock(begin: datetime, step: timedelta = timedelta(seconds=1)) -> Callable[[], datetime]:
    """A clock that goes on by ``step`` each time it is read."""
    at = begin - step

    def read() -> datetime:
        nonlocal at
        at += step
        return at

    return read


def numbers(store: Store) -> Sequence[str]:
    """The report numbers that the ledger gave away, in the order of its entries."""
    kinds = ("report made", "number given")
    return [str(e.body["number"]) for e in store.entries(kinds=kinds)]
