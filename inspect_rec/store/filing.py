"""A row of the store: an entry's bytes, and beside them what it is found by."""

from __future__ import annotations

from inspect_rec import ledger
from inspect_rec.errors import LedgerError, RefusedError
from inspect_rec.ledger import Entry, Head

Filed = tuple[str, int, str | None, str | None, str]
"""Station, sequence number, inspection, job, kind."""
Row = tuple[str, int, str | None, str | None, str, bytes]


def columns(entry: Entry) -> Filed:
    """What an entry is found by."""
    inspection, job = entry.body.get("inspection"), entry.body.get("job")
    for name, value in (("inspection", inspection), ("job", job)):
        if value is not None and not isinstance(value, str):
            raise LedgerError(f"{name} is no text", expected="text", found=repr(value)[:60])
    return entry.station, entry.seq, inspection, job, entry.kind


def as_filed(row: Row) -> Entry:
    """The entry of a row; raises LedgerError where the row would have it found as another."""
    *filed, text = row
    where = f"{row[0]} {row[1]}"
    try:
        entry = ledger.parse(text)
    except LedgerError as error:
        raise LedgerError(
            error.what, expected=error.expected, found=error.found, where=where
        ) from error
    if (said := columns(entry)) != tuple(filed):
        raise LedgerError(
            "an entry is filed as what it isn't", expected=str(said), found=str(filed), where=where
        )
    return entry


def must_follow(head: Head, after: Head | None) -> None:
    """Raises RefusedError where the chain went on since it ended at ``after``: what was decided by
    the entries up to there may be decided otherwise now."""
    if after is None or after == head:
        return
    raise RefusedError(
        "the ledger went on meanwhile",
        expected=f"its end at {after.seq}",
        found=f"at {head.seq}",
        do="Do it again: nothing was stored",
    )
