"""Budgets of uncertainty row by row, for print: what each adds, and where its amount is from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from inspect_rec.compute.uncertainty import Component, Distribution
from inspect_rec.inspection import Inspection, Result
from inspect_rec.report.content import Grid, Line
from report_templates.wording import Words

_WIDTHS = (48.0, 18.0, 27.0, 18.0, 11.0, 16.0, 15.0, 9.0, 14.0)
_HEADS = ("row", "amount", "spread", "sensitivity", "ends", "averaged", "adds", "dof", "origin")


def amount(value: float, unit: str, w: Words, *, sign: bool = False) -> str:
    """A small amount with its unit (um, mm or deg): 0.87 µm."""
    end = {"um": " µm", "mm": " mm", "deg": "°"}[unit]
    digits = 2 if unit == "um" else 4
    rounded = round(value, digits) + 0.0
    plus = "+" if sign and rounded else ""
    return f"{w.figure(f'{rounded:{plus}.{digits}f}')}{end}"


def dof(value: float, w: Words) -> str:
    """Degrees of freedom, rounded down as GUM G.4.1 lets it; ∞ where nothing is finite."""
    return w.figure(f"{math.floor(value)}") if math.isfinite(value) else "∞"


def edge(r: Result, inspection: Inspection, w: Words) -> str:
    """Which edge a result is of."""
    if r.flute is None:
        return w["page.all"]
    return f"{w[f'edge.{inspection.tool.edge_word}']} {r.flute}"


def grids(results: Sequence[Result], inspection: Inspection, w: Words) -> Iterator[Grid]:
    """The budgets of one characteristic; edges whose rows all agree share one."""
    heads = tuple(w[f"measurements.{head}"] for head in _HEADS)
    same: dict[tuple[Line, ...], list[Result]] = {}
    for r in results:
        same.setdefault(tuple(_lines(r, w)), []).append(r)
    for lines, which in same.items():
        edges = ", ".join(edge(r, inspection, w) for r in which)
        yield Grid(heads, _WIDTHS, lines, w["measurements.budget"].format(edges=edges))


def _lines(r: Result, w: Words) -> Iterator[Line]:
    unit = r.budget.unit
    for c in r.budget.components:
        yield Line(_cells(c, unit, w), _note(c, w))
    yield Line(
        (
            w["measurements.combined"],
            *[""] * 5,
            amount(r.budget.u, unit, w),
            dof(r.budget.dof, w),
            "",
        )
    )


def name(row: str, w: Words) -> str:
    """A row's name in the words of the language: whole, or part by part where it is put together
    of what it is and of what it was read."""
    if w.knows("row", row):
        return w.told("row", row)
    return ", ".join(
        ": ".join(_part(piece, w) for piece in part.split(": ")) for part in row.split(", ")
    )


def _part(part: str, w: Words) -> str:
    return w.told("row" if w.knows("row", part) else "text", part)


def _cells(c: Component, unit: str, w: Words) -> tuple[str, ...]:
    origin = "study" if c.study else "assumed" if c.assumed else "stated"
    return (
        name(c.name, w),
        amount(c.amount, c.unit, w),
        w[f"distribution.{Distribution(c.distribution).name.lower()}"],
        _factor(c.sensitivity, w),
        str(c.ends),
        str(c.averaged),
        amount(c.u, unit, w),
        dof(c.dof, w),
        w[f"measurements.{origin}"],
    )


def _factor(value: float, w: Words) -> str:
    """A sensitivity to four figures."""
    said = f"{value:.4g}"
    return w.figure(said.replace("e-0", "E-").replace("e-", "E-").replace("e+0", "E"))


def _note(c: Component, w: Words) -> str:
    said = [w.told("note", c.note)] if c.note else []
    if c.study:
        said.append(w["measurements.of_study"].format(study=name(c.study, w)))
    if c.common:
        said.append(w["measurements.common"])
    return "; ".join(said)
