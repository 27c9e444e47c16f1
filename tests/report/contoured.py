"""Job I3 with a contour in place of its radius: straight and round elements, two sharp corners."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

from inspect_rec import ledger
from inspect_rec.ledger import Entry, Head
from inspect_rec.plan import JobFile
from inspect_rec.report import make
from inspect_rec.report.content import Content
from tests import signing, worked

ELEMENTS = (
    "from 44.5 60.5",
    "line 43 60.5",
    "arc 42.5 61 0.5 convex",
    "line 42.5 61.5",
    "arc 41.5 62.5 1 concave",
    "line 39 62.5",
    "line 38 60.5",
    "line 36.5 60.5",
)
"""The axis lies above, where Z grows: the body is on the right hand of the way to the left."""
R2 = math.sqrt(0.5)
SIDE = 1 / math.sqrt(5)
ON = (
    (44.3, 60.5, 0, -1), (43.6, 60.5, 0, -1), (43 - 0.5 * R2, 61 - 0.5 * R2, -R2, -R2),
    (42.5, 61.3, -1, 0), (41.5 + R2, 61.5 + R2, -R2, -R2), (41.0, 62.5, 0, -1),
    (40.4, 62.5, 0, -1), (39.8, 62.5, 0, -1), (39.3, 62.5, 0, -1),
    (38.7, 61.9, 2 * SIDE, -SIDE), (38.3, 61.1, 2 * SIDE, -SIDE),
    (37.6, 60.5, 0, -1), (36.8, 60.5, 0, -1),
)  # fmt: skip
"""Points of the contour by their marks, worked out by hand: x, z, normal out of the metal."""


def deviation(tooth: int, mark: int) -> float:
    """Metal left at a point, mm: a slow wave, another on each tooth."""
    return 0.006 * math.sin(0.7 * mark + 1.3 * tooth) + 0.0015 * tooth - 0.004


def sighted(tooth: int, mark: int) -> tuple[str, str]:
    """What the slides show at a point."""
    x, z, nx, nz = ON[mark - 1]
    off = deviation(tooth, mark)
    return f"{x + off * nx:.3f}", f"{z + off * nz:.3f}"


def plan(first: Entry, freedoms: Sequence[str] = ("X", "Z")) -> JobFile:
    """The plan of I3, with the contour alone and the height of the face."""
    job = JobFile.model_validate(first.body["plan"])
    profile, face = (c for c in job.characteristic if c.id in {"profile", "face"})
    contour = profile.model_copy(
        update={
            "method": "profile, contour",
            "feature": {"points": "profile arc"},
            "parameters": {"elements": ELEMENTS, "freedoms": tuple(freedoms)},
        }
    )
    tool = job.tool[0].model_copy(update={"variation": "", "offsets": job.tool[0].offsets[2:]})
    return job.model_copy(update={"characteristic": (contour, face), "tool": (tool,)})


def entries(freedoms: Sequence[str] = ("X", "Z")) -> tuple[Entry, ...]:
    """The ledger of I3 with the points of the contour."""
    first, *rest = worked.entries("I3", signing.UPTO["I3"])
    made = plan(first, freedoms).model_dump(mode="json", by_alias=True)
    body = dict(first.body) | {"plan": made}
    head = Head(first.station, 0, "0" * 64)
    found = [ledger.make(head, first.at, first.person, first.kind, body)]
    for e in rest:
        before = found[-1]
        head = Head(before.station, before.seq, before.digest)
        found.append(ledger.make(head, e.at, e.person, e.kind, _moved(e.body)))
    return tuple(found)


def _moved(body: Mapping[str, Any]) -> dict[str, Any]:
    place = body.get("place", {})
    if place.get("feature") != "profile arc":
        return dict(body)
    figures = sighted(place["flute"], int(place["mark"]))
    taken = [
        {"channel": axis, "value": value, "unit": "mm"}
        for axis, value in zip("XZ", figures, strict=True)
    ]
    return dict(body) | {"taken": taken}


@cache
def said(language: str = "en") -> Content:
    """The report of that job."""
    kept = entries()
    return make.make(kept, replace(signing.header("I3", kept), language=language)).said
