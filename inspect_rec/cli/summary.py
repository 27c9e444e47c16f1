"""Results as a table for the terminal, and as plain data for summary.json and --json."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from inspect_rec.inspection import Inspection, Result, Stock
from inspect_rec.inspection.history import Earlier
from inspect_rec.report import figures


def table(inspection: Inspection, only: set[str] | None = None) -> str:
    """Verdicts and stock in at most 80 columns."""
    lines = [f"  {'':14} {'':>4} {'value':>16} {'U':>8}  verdict"]
    for r in inspection.results:
        if only is not None and r.characteristic.id not in only:
            continue
        c = r.characteristic
        value = figures.with_unit(c, " to ".join(figures.shown(c, v, exact=True) for v in r.values))
        edge = "" if r.flute is None else f"{r.flute}"
        said = r.verdict.value + (f", {r.judgement.side}" if r.judgement.side else "")
        lines.append(
            f"  {c.id[:14]:14} {edge:>4} {value:>16} {figures.spread(c, r.U):>8}  {said}"[:80]
        )
        if r.judgement.reason:
            lines += textwrap.wrap(
                r.judgement.reason, 74, initial_indent=" " * 6, subsequent_indent=" " * 8
            )
        if r.stock is not None and r.stock.state != "none needed":
            lines += [f"      {line}" for line in stock_words(r.stock, inspection.tool.edge_word)]
    return "\n".join(lines)


def earlier(reports: Iterable[Earlier]) -> list[str]:
    """What earlier reports of the tool say, a line each, the latest first."""
    told = []
    for each in reversed(list(reports)):
        said = [f"{label} {value}" for label, value in each.values]
        if each.length is not None:
            off = "" if each.removed is None else f", {figures.short(each.removed)} taken off"
            said.append(f"length {figures.short(each.length)}{off}")
        day = figures.day(each.issued)
        told.append(f"{each.number} of {day}, {each.state}: {'; '.join(said) or 'no values'}")
    return told


def stock_words(stock: Stock, word: str) -> list[str]:
    """What is left to grind, in the grinder's words, a line each."""
    where = "" if stock.flute is None else f"{word} {stock.flute}: "
    if stock.state != "to grind" or stock.step_aim is None:
        return textwrap.wrap(f"{where}{stock.state}. {stock.note}".rstrip(), 74)
    most = "" if stock.step_most is None else f", most {stock.step_most}"
    amount = f"{where}grind {stock.step_aim} ({stock.aim_level}); least {stock.step_least}{most}"
    lines = [amount, f"{' ' * len(where)}{stock.hand_wheel or stock.slide}"]
    return [piece for line in lines for piece in textwrap.wrap(line, 74, drop_whitespace=True)]


def results(stages: Sequence[Inspection], sets: Sequence[str]) -> list[dict[str, Any]]:
    """All sets of results, each once: what a later stage has unchanged isn't told again."""
    told: list[dict[str, Any]] = []
    seen: dict[tuple[str, int | None], tuple[Any, ...]] = {}
    again = _methods_again(stages)
    last = {(r.characteristic.id, r.flute): _refs(r) for r in stages[-1].results}
    for stage, name in zip(stages, sets, strict=True):
        for r in stage.results:
            key = (r.characteristic.id, r.flute)
            if seen.get(key) == _refs(r):
                continue
            first = key not in seen
            seen[key] = _refs(r)
            set_ = ("first" if r.method.name in again else "only") if first else name
            told.append(result(r, stage, set_, feeds=last.get(key) == _refs(r)))
    return told


def _refs(r: Result) -> tuple[Any, ...]:
    return tuple(sorted(set(r.refs)))


def _methods_again(stages: Sequence[Inspection]) -> set[str]:
    """Methods of which a later stage has another set."""
    found: set[str] = set()
    seen: dict[tuple[str, int | None], tuple[Any, ...]] = {}
    for stage in stages:
        for r in stage.results:
            key = (r.characteristic.id, r.flute)
            if key in seen and seen[key] != _refs(r):
                found.add(r.method.name)
            seen[key] = _refs(r)
    return found


def result(r: Result, inspection: Inspection, set_: str, *, feeds: bool) -> dict[str, Any]:
    """One result as plain data; values in mm or deg, u and g in u_unit."""
    c, zones = r.characteristic, r.zones
    per = 1 if c.deg else 1000
    told: dict[str, Any] = {"characteristic": c.id, "flute": r.flute, "set": set_}
    if len(r.values) == 1:
        told |= {"value": float(r.value), "printed": figures.shown(c, r.value, exact=True)}
    else:
        low, high = r.values[0], r.values[-1]
        told |= {
            "lowest": float(low),
            "highest": float(high),
            "printed_lowest": figures.shown(c, low, exact=True),
            "printed_highest": figures.shown(c, high, exact=True),
        }
    told |= {
        "u": float(r.u * per),
        "U_k2": float(r.U * per),
        "g": None if zones is None else float(zones.guard * per),
        "u_unit": "deg" if c.deg else "um",
    }
    for name in ("accept_low", "accept_high", "reject_below", "reject_above"):
        limit = None if zones is None else getattr(zones, name)
        told[name] = None if limit is None else float(limit)
        told[f"printed_{name}"] = None if limit is None else figures.shown(c, limit)
    told |= {
        "verdict": r.verdict.value,
        "warn_U_over_quarter": r.warn,
        "stock": stock(r.stock),
        "feeds_report": feeds,
        "readings": readings(r, inspection),
    }
    return told


def stock(found: Stock | None) -> dict[str, Any] | None:
    """Stock as plain data."""
    if found is None:
        return None
    told: dict[str, Any] = {"state": found.state, "side": found.side, "flute": found.flute}
    names = {"least": (found.least, found.step_least), "aim": (found.aim, found.step_aim)}
    names |= {"most": (found.most, found.step_most)}
    if found.state == "none needed":
        names = {"to_level": (found.aim, found.step_aim)}
    for name, (amount, step) in names.items():
        if amount is not None:
            told |= {f"{name}_mm": float(amount), f"printed_{name}": _text(step)}
    for key in ("aim_level", "slide", "hand_wheel", "note"):
        if getattr(found, key):
            told[key] = getattr(found, key)
    return told


def _text(step: Decimal | None) -> str | None:
    return None if step is None else format(step, "f")


def readings(r: Result, inspection: Inspection) -> list[dict[str, Any]]:
    """The readings that a result rests on, each once, in the order in which they were taken."""
    by_ref = {k.ref: k for k in inspection.record.readings}
    refs: Iterable[tuple[str, int]] = sorted(set(r.refs))
    return [
        {
            "station": ref[0],
            "seq": ref[1],
            "feature": by_ref[ref].place.feature,
            "mark": by_ref[ref].place.mark,
            "shown": dict(by_ref[ref].shown),
            "read_by_eye": by_ref[ref].by_eye,
        }
        for ref in refs
    ]
