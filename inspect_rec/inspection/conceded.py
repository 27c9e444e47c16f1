"""What a customer's concession covers, and what was measured before an order to measure again."""

from __future__ import annotations

import math
from dataclasses import dataclass

from inspect_rec.compute.conformity import Verdict
from inspect_rec.inspection.fold import Inspection, fold
from inspect_rec.inspection.kept import Concession, Ref, Round
from inspect_rec.inspection.results import Result

_OPEN = (Verdict.NEITHER_SHOWN, Verdict.DOES_NOT_CONFORM)
"""Verdicts that a customer may take as they are; what couldn't be judged isn't one."""


def needs_one(result: Result) -> bool:
    """Whether a customer may take the result as it is, since it isn't shown to conform."""
    return result.verdict in _OPEN and not result.characteristic.info


def concession(inspection: Inspection, result: Result) -> Concession | None:
    """The last concession that covers a result which isn't shown to conform; it was granted for
    what was known then, so a reading taken later is none of its."""
    if not needs_one(result):
        return None
    order = _order(inspection)
    latest = max((order[ref] for ref in result.refs if ref in order), default=-1)
    covering = [
        c
        for c in inspection.record.concessions
        if result.characteristic.id in c.characteristics
        and (not c.flutes or result.flute is None or result.flute in c.flutes)
        and order[c.ref] > latest
    ]
    return covering[-1] if covering else None


def _order(inspection: Inspection) -> dict[Ref, int]:
    """Where each entry stands among those of the tool: stations count each for itself."""
    return {(e.station, e.seq): n for n, e in enumerate(inspection.record.entries)}


def under_concession(inspection: Inspection) -> tuple[Concession, ...]:
    """The concessions that together cover everything that isn't shown to conform; none where
    something is left over, or nothing needs one."""
    if inspection.missing:
        return ()
    judged = [r for r in inspection.results if not r.characteristic.info]
    left = [r for r in judged if r.verdict is not Verdict.CONFORMS]
    found = [concession(inspection, r) for r in left]
    covering = [c for c in found if c is not None]
    return tuple(dict.fromkeys(covering)) if len(covering) == len(left) else ()


@dataclass(frozen=True, slots=True)
class Before:
    """A result as it was before an order to measure again, and how far the new one lies off."""

    round: Round
    result: Result
    now: Result | None

    @property
    def difference(self) -> float | None:
        """New less old, mm or deg; None where there is no new one, or of a profile."""
        if self.now is None or len(self.now.values) > 1:
            return None
        return float(self.now.value - self.result.value)

    @property
    def limit(self) -> float | None:
        """Twice the u of the difference, in which what both have in common (the same pin, scale
        and edge) cancels where a method tells its repeats apart; else of both whole."""
        if self.now is None:
            return None
        parts = [_own(self.result), _own(self.now)]
        return 2 * math.hypot(*parts)


def _own(result: Result) -> float:
    """u of what differs from one measurement to the next, mm or deg."""
    own = result.outcome.detail.get("repeat_u_um")
    return own / 1000 if isinstance(own, float) else float(result.u)


def before(inspection: Inspection) -> tuple[Before, ...]:
    """Every result that was measured again later, as it stood when the order came."""
    entries = inspection.record.entries
    orders = [n for n, entry in enumerate(entries) if entry.kind == "measure again"]
    found = []
    for n, order in zip(orders, inspection.record.rounds, strict=True):
        then = fold(entries[:n], inspection.id)
        for result in then.results:
            if result.characteristic.id in order.characteristics:
                now = inspection.result(result.characteristic.id, result.flute)
                found.append(Before(order, result, now))
    return tuple(found)
