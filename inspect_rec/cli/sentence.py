"""Verdicts and stock in the shop's words, a sentence each: flute first, then what, then how much.

Says what the fold found and decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection import Inspection, Result, Stock
from inspect_rec.inspection.kept import Kept

WORST = (Verdict.DOES_NOT_CONFORM, Verdict.REFUSED, Verdict.NEITHER_SHOWN, Verdict.CONFORMS)


def told(inspection: Inspection, last: Kept | None) -> tuple[str, ...]:
    """Verdicts that the last reading completed, what doesn't conform first; else the stock that
    is left."""
    fresh = [
        r
        for r in inspection.results
        if last is not None and last.ref in r.refs and not r.characteristic.info
    ]
    if last is not None and last.stage == "final" and fresh:
        fresh.sort(key=lambda r: WORST.index(r.verdict))
        good = [_who(r, inspection) for r in fresh if r.verdict is Verdict.CONFORMS]
        bad = _spoken(r for r in fresh if r.verdict is not Verdict.CONFORMS)
        asks = [sentence(r, inspection) for r in bad if _asks(r.stock)]
        rest = [sentence(r, inspection) for r in bad if not _asks(r.stock)]
        if good:
            rest.append(f"{', '.join(good)} conform{'s' if len(good) == 1 else ''}.")
        return (*asks, " ".join(rest))
    return tuple(sentence(r, inspection) for r in _spoken(inspection.results) if _asks(r.stock))


def _asks(stock: Stock | None) -> bool:
    return stock is not None and stock.state != "none needed"


def _spoken(results: Iterable[Result]) -> list[Result]:
    """A variation says what its flutes say, with the tighter limits: it speaks for them."""
    results = list(results)
    spoken = {r.stock.flute for r in results if r.method.varies and r.stock is not None}
    return [r for r in results if r.method.varies or r.flute is None or r.flute not in spoken]


def sentence(result: Result, inspection: Inspection) -> str:
    """Verdict and stock of one result: "Flute 3 does not conform: over. Grind 0.012 ..."."""
    word = inspection.tool.edge_word
    said = f"{_who(result, inspection)} {_verdict(result)}."
    stock = result.stock
    if stock is None or not _asks(stock):
        return said
    if stock.state != "to grind" or stock.step_aim is None:
        what = "grind" if stock.state == "to grind" else stock.state
        return f"{said} {what.capitalize()}{f': {stock.note}' if stock.note else ''}."
    if stock.flute not in (None, result.flute):
        said += f" {word.capitalize()} {stock.flute}:"
    most = "" if stock.step_most is None else f", most {stock.step_most}"
    how = stock.hand_wheel or stock.slide
    return (
        f"{said} Grind {stock.step_aim} more{f': {how}' if how else ''}; "
        f"least {stock.step_least}{most}. Aim: {stock.aim_level}."
    )


def _who(result: Result, inspection: Inspection) -> str:
    """Flute first, then what; what alone where it is of the tool as a whole."""
    c, word = result.characteristic, inspection.tool.edge_word
    what = c.symbol or c.name
    if result.flute is None:
        return what[:1].upper() + what[1:]
    each = [o for o in inspection.job.characteristic if o.per == "flute" and not o.info]
    return f"{word.capitalize()} {result.flute}{f' {what}' if len(each) > 1 else ''}"


def _verdict(result: Result) -> str:
    if result.verdict is Verdict.REFUSED:
        return f"– no verdict: {result.judgement.reason}"
    if result.verdict is Verdict.NEITHER_SHOWN:
        return "neither shown. Measure again, better, first"
    side = result.judgement.side
    return f"{result.verdict.value}{f': {side}' if side else ''}"
