"""Batches for tests: the ball nose of job I1 many times over, as a wheel wears."""

from __future__ import annotations

import math
import shutil
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from inspect_rec import release
from inspect_rec.config import Folder, Name
from inspect_rec.ledger import Entry
from inspect_rec.plan import JobFile
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
    return -0.003 + 0.0008 * (n % 7)


def measured(n: int, mark: str, larger: float, upto: int = 114) -> Iterator[Draft]:
    """The acts at the nth tool."""
    first, *rest = worked.entries("I1", upto)
    for entry in rest:
        at = BEGIN + n * APART + (entry.at - first.at) / 4
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
