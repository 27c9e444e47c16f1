"""What is given once: a report's number, a revision of a tool's report or a job's sheet, and the
decision on a report.

Asked inside the transaction that writes, so that of two programs one is refused. Writes nothing.
"""

from __future__ import annotations

import re
import sqlite3

from inspect_rec import ledger
from inspect_rec.errors import RefusedError
from inspect_rec.ledger import Entry, Kinds

NUMBER = re.compile(r"([A-Z])-([0-9]{4,6})")
NUMBERED = (Kinds.REPORT_MADE, Kinds.NUMBER_GIVEN)
"""Kinds that take a report number; nothing else does."""
_ONCE: dict[str, tuple[str, str]] = {
    Kinds.REPORT_MADE: ("inspection", "revision"),
    Kinds.SHEET_SIGNED: ("job", "revision"),
    Kinds.DECIDED: ("inspection", "number"),
}
"""Kinds of which a tool or job has one entry for each revision, or each number."""


def following(db: sqlite3.Connection) -> str:
    """The next report number of this station's series: the first that no entry has taken."""
    letter, count, width = _series(db)
    taken = {row[0] for row in db.execute("SELECT number FROM number")}
    while (number := f"{letter}-{count:0{width}d}") in taken:
        count += 1
    return number


def _series(db: sqlite3.Connection) -> tuple[str, int, int]:
    """Letter, first count and least width of this station's report numbers."""
    first = db.execute("SELECT value FROM about WHERE key = 'first number'").fetchone()[0]
    letter, digits = first.split("-")
    return letter, int(digits), len(digits)


def free(db: sqlite3.Connection, number: object) -> str:
    """``number`` where an entry may take it; raises RefusedError where it is none or taken."""
    letter, _, width = _series(db)
    match = NUMBER.fullmatch(number) if isinstance(number, str) else None
    # Two ways to write one number of the own series would give it out twice.
    if match is None or (match[1] == letter and match[2] != f"{int(match[2]):0{width}d}"):
        raise RefusedError(
            "no report number",
            expected=f"such as {following(db)}",
            found=repr(number)[:40],
        )
    row = db.execute("SELECT station, seq FROM number WHERE number = ?", (match[0],))
    if taken := row.fetchone():
        raise RefusedError(
            "a report number is given once",
            expected=f"such as {following(db)}",
            found=f"{number}, which entry {taken[0]} {taken[1]} has taken",
        )
    return match[0]


def must_be_new(db: sqlite3.Connection, entry: Entry) -> None:
    """Raises RefusedError where an entry before this one took the same revision of the same tool's
    report or job's sheet, or decided on the same report: who wrote this one didn't know of it."""
    if entry.kind not in _ONCE:
        return
    of, field = _ONCE[entry.kind]
    thing, taken = entry.body.get(of), entry.body.get(field)
    if thing is None or taken is None:
        return
    # "+": by the index of the tool or job, not by that of the kind, which grows with the shop.
    rows = db.execute(
        f"SELECT text FROM entry WHERE {of} = ? AND +kind = ?"  # noqa: S608 - a name from above
        " AND NOT (station = ? AND seq >= ?)",
        (thing, entry.kind, entry.station, entry.seq),
    )
    for before in (ledger.parse(text) for (text,) in rows):
        if before.body.get(field) == taken:
            raise RefusedError(
                f"another program was faster: {entry.kind} once for each {field}",
                expected=f"a {field} of {thing} that no such entry names",
                found=f"{taken}, named by entry {before.station} {before.seq}",
                do="Look at that one first; nothing was stored",
            )
