"""A tool's earlier life: what its earlier reports say, and how many sharpenings are left by it.

What an earlier report says is taken over with its number and the digest of its file, so that a
later report names where each figure comes from.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from inspect_rec.errors import LedgerError
from inspect_rec.inspection.life import LengthLeft

_DIGEST = re.compile(r"[0-9a-f]{64}")
MOST = 12
"""Earlier reports that a later one takes over, the latest: nobody sharpens a tool so often."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """One earlier report of the same tool. ``digest``: SHA-256 of its signed file; ``state``: what
    was decided; ``values``: those for the machine by their labels, mm; lengths in mm, None where
    the report tells of none."""

    number: str
    issued: datetime.date
    digest: str
    state: str
    values: tuple[tuple[str, Decimal], ...] = ()
    sharpening: int | None = None
    length: Decimal | None = None
    removed: Decimal | None = None

    def body(self) -> dict[str, Any]:
        """As it stands in a record, without what is absent."""
        whole = {
            "number": self.number,
            "issued": self.issued.isoformat(),
            "digest": self.digest,
            "state": self.state,
            "values": [[label, format(value, "f")] for label, value in self.values],
            "sharpening": self.sharpening,
            "length_mm": _text(self.length),
            "removed_mm": _text(self.removed),
        }
        return {key: value for key, value in whole.items() if value is not None}

    @classmethod
    def of(cls, body: Mapping[str, Any]) -> Earlier:
        """From a record; raises LedgerError for what isn't one."""
        try:
            found = cls(
                number=_line(body["number"]),
                issued=datetime.date.fromisoformat(body["issued"]),
                digest=_line(body["digest"]),
                state=_line(body["state"]),
                values=tuple((_line(label), _mm(value)) for label, value in body["values"]),
                sharpening=_nth(body["sharpening"]) if "sharpening" in body else None,
                length=_mm(body["length_mm"]) if "length_mm" in body else None,
                removed=_mm(body["removed_mm"]) if "removed_mm" in body else None,
            )
            if found.body() != body or not _DIGEST.fullmatch(found.digest):
                raise ValueError(f"not in its one form: {dict(body)!r:.100}")
        except (KeyError, TypeError, ValueError, AttributeError, InvalidOperation) as error:
            raise LedgerError("this is no earlier report", found=str(error)[:100]) from error
        return found


def _text(value: Decimal | None) -> str | None:
    return None if value is None else format(value, "f")


def _mm(text: str) -> Decimal:
    value = Decimal(text)
    if not value.is_finite() or abs(value) > 100_000:
        raise ValueError(f"no length: {text!r:.40}")
    return value


def _nth(number: object) -> int:
    if not isinstance(number, int) or isinstance(number, bool) or not 0 <= number <= 99:
        raise TypeError(f"no number of a sharpening: {number!r:.40}")
    return number


def _line(text: object) -> str:
    if not isinstance(text, str) or len(text) > 200 or not text.isprintable():
        raise TypeError(f"no line of text: {text!r:.60}")
    return text


@dataclass(frozen=True, slots=True)
class Forecast:
    """What sharpenings took of the length so far, mm, and how many are left by the most and by
    the least of it. ``alone``: only this one is known."""

    least_mm: Decimal
    most_mm: Decimal
    fewest: int
    most: int
    alone: bool


def lengths(life: LengthLeft, earlier: Sequence[Earlier]) -> dict[int, Decimal]:
    """Lengths by sharpening, mm, 0 = new; this one isn't among them. A signed report counts before
    what the job file says."""
    stated = dict(enumerate(life.earlier))
    reported = {e.sharpening: e.length for e in earlier if e.length is not None}
    known = stated | {n: length for n, length in reported.items() if n is not None}
    return {n: known[n] for n in sorted(known) if n < life.sharpening}


def forecast(life: LengthLeft, earlier: Sequence[Earlier]) -> Forecast | None:
    """The range of sharpenings left; None where none can be told.

    A sharpening takes what is ground off and what wore off since the one before, so of two lengths
    that follow each other their difference counts; beside them what was taken off this time.
    """
    if life.left_sharpenings is None:
        return None
    known = lengths(life, earlier) | {life.sharpening: life.now}
    pairs = [(known[n - 1], known[n]) for n in known if n - 1 in known]
    took = [life.removed, *(before - after for before, after in pairs if before > after)]
    least, most = min(took), max(took)
    room = max(life.now - life.accepted, Decimal(0))
    return Forecast(least, most, int(room / most), int(room / least), len(took) == 1)
