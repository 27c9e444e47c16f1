"""Validation records to be looked at: met, off, refused, many, hostile."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from typing import Any

from inspect_rec.calculator import cases as running
from inspect_rec.calculator.cases import Ran
from inspect_rec.report import pdf, validation
from inspect_rec.report.content import Cases, Compared, Validation
from tests.compute.published import cases

AT = datetime(2026, 11, 17, 8, 22, 38, tzinfo=UTC)
DIGEST = "1f" * 32
PLATFORM = {"Python": "3.11.7", "system": "Linux 6.1", "processor": "x86_64", "numpy": "2.4.6"}
CHORD = {"chord_mm": 4.0, "rise_mm": 0.35}
RADIUS = 5.889285714285714
"""c^2 / (8 h) + h / 2, worked out by hand: 16 / 2.8 + 0.175."""
LONG_ID = "-".join(["a-name-that-goes-on"] * 20)
LONG_SOURCE = "A source that has much to tell, page after page. " * 150


def ran(id_: str = "one", calc: str | None = "chord-rise", **more: Any) -> Ran:
    return running.run({"id": id_, "calc": calc, "inputs": CHORD} | more)


def expecting(value: Any, tol: float = 1e-9, **more: Any) -> Ran:
    return ran(expect={"radius_mm": {"value": value, "tol": tol}}, **more)


def met(id_: str = "met") -> Ran:
    return expecting(RADIUS, id_=id_)


def off(id_: str = "off") -> Ran:
    return expecting(5.9, id_=id_)


def refused(id_: str = "must be refused", *, expected: bool = True) -> Ran:
    return ran(id_, inputs=CHORD | {"rise_mm": 0}, expect={"error": True} if expected else {})


@cache
def published() -> tuple[Ran, ...]:
    return tuple(running.run(case) for case in cases().values())


@cache
def many() -> tuple[Ran, ...]:
    kinds = (met, off, refused)
    return tuple(kinds[n % 3](f"case {n:04}") for n in range(2000))


@cache
def hostile() -> tuple[Ran, ...]:
    """Texts without end, signs that no font has, more items than a page has lines."""
    items = [float(n) for n in range(300)]
    long = Ran("list", "line", "", "", {"v": [*items[:-1], 0.0]}, None, expected=True, ok=False)
    figures = {"v": items}, {"v": 0.5}
    return (
        ran(LONG_ID, source=LONG_SOURCE, provenance="\u5c71\n{page}", expect={"error": True}),
        ran("text", expect={"radius_mm": {"value": "word " * 90}, "q" * 300: {"value": 1}}),
        ran("unknown", calc="no-such-thing" * 30, expect={"x_mm": {"value": 1.0}}),
        ran("nothing asked"),
        ran("not run", calc=None),
        Ran(**_fields(long), wanted=figures[0], tolerances=figures[1]),
        *(expecting(RADIUS, id_=f"{n}", source=LONG_SOURCE[: 40 * n]) for n in range(60)),
    )


def _fields(of: Ran) -> dict[str, Any]:
    names = ("id", "calc", "source", "provenance", "got", "error", "expected", "ok")
    return {name: getattr(of, name) for name in names}


KINDS: dict[str, Callable[[], tuple[Ran, ...]]] = {
    "published": published,
    "hostile": hostile,
    "empty": lambda: (),
    "one off": lambda: (off(), met()),
}


def said(*of: Ran, **more: Any) -> Validation:
    return validation.said(of, validation.Run("open.json", DIGEST, PLATFORM, AT, **more))


def made(of: tuple[Ran, ...], **more: Any) -> bytes:
    return validation.made(of, "open.json", DIGEST, PLATFORM, AT, **more)


@cache
def record(name: str) -> bytes:
    return made(KINDS[name]())


def pages(data: bytes) -> list[str]:
    return [" ".join(page) for page in pdf.text_of(data)]


def dense(text: str) -> str:
    """Letters and digits alone: a hyphen that ends a line is read as something else."""
    return re.sub(r"[\W_]", "", text)


def rows(section: Cases, n: int = 0) -> tuple[Compared, ...]:
    return section.cases[n].rows


def counts(of: Validation) -> dict[str, int]:
    return {name: int(count) for name, count in of.counts}
