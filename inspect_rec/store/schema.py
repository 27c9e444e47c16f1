"""The tables of a store, and the way from each older form to the newest. Knows no entry.

A form that was ever released stays here as a step: a store is brought up step by step, each step
and the number that says it was done in one transaction, so that a kill leaves one form or the
other and never half of both.
"""

from __future__ import annotations

import sqlite3

from inspect_rec.errors import StoreError

_ENTRIES = (
    """
CREATE TABLE entry (
    station TEXT NOT NULL, seq INTEGER NOT NULL, inspection TEXT, job TEXT, kind TEXT NOT NULL,
    text BLOB NOT NULL, PRIMARY KEY (station, seq)
) WITHOUT ROWID""",
    """
CREATE INDEX entry_inspection ON entry (inspection, station, seq) WHERE inspection IS NOT NULL""",
    "CREATE INDEX entry_job ON entry (job, station, seq) WHERE job IS NOT NULL",
    """
CREATE TRIGGER entry_unchanged BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END""",
    """
CREATE TRIGGER entry_kept BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry is never removed'); END""",
    """
CREATE TRIGGER entry_in_order BEFORE INSERT ON entry
WHEN NEW.seq <> 1 + COALESCE((SELECT MAX(seq) FROM entry WHERE station = NEW.station), 0)
BEGIN SELECT RAISE(ABORT, 'an entry is missing or out of order'); END""",
    "CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
)
PROJECTIONS = (
    "DROP TABLE IF EXISTS last",
    "DROP TABLE IF EXISTS number",
    """
CREATE TABLE last (inspection TEXT PRIMARY KEY, station TEXT, seq INTEGER, kind TEXT)
WITHOUT ROWID""",
    "CREATE TABLE number (number TEXT PRIMARY KEY, station TEXT, seq INTEGER) WITHOUT ROWID",
)
"""Thrown away and made anew; what fills them is derived from the entries."""

_OPEN_ONES = "CREATE INDEX last_open ON last (station, seq) WHERE kind <> 'decided'"
REBUILT = (*PROJECTIONS, _OPEN_ONES)

_STEPS: tuple[tuple[str, ...], ...] = (
    # 1: entries, projections.
    (*_ENTRIES, *PROJECTIONS),
    # 2: a station renamed by hand would begin a second chain unseen; and what is open, and what
    # became of it, is found without reading every reading there ever was.
    (
        """
CREATE TRIGGER about_unchanged BEFORE UPDATE ON about
BEGIN SELECT RAISE(ABORT, 'a store keeps its station and its series'); END""",
        """
CREATE TRIGGER about_kept BEFORE DELETE ON about
BEGIN SELECT RAISE(ABORT, 'a store keeps its station and its series'); END""",
        """
CREATE TRIGGER about_once BEFORE INSERT ON about
WHEN EXISTS (SELECT 1 FROM about WHERE key = NEW.key)
BEGIN SELECT RAISE(ABORT, 'a store keeps its station and its series'); END""",
        "CREATE INDEX entry_kind ON entry (kind, station, seq) WHERE kind <> 'reading'",
        _OPEN_ONES,
    ),
)
SCHEMA = len(_STEPS)


def version(db: sqlite3.Connection) -> int:
    """Which form the file has; 0 while it is none of ours."""
    found: int = db.execute("PRAGMA user_version").fetchone()[0]
    return found


def bring_up(db: sqlite3.Connection, where: str = "") -> None:
    """Bring the tables up to the newest form, one transaction a step; an empty file as well.

    Each step looks at the number again inside its transaction: another process may have been
    faster. Raises StoreError for a form that a newer program wrote, and changes nothing then.
    """
    while (found := version(db)) != SCHEMA:
        if found > SCHEMA:
            raise StoreError(
                "the store was written by a newer version of this program",
                expected=f"schema {SCHEMA} or older",
                found=f"schema {found}",
                where=where,
                do="Install the newer version; nothing was changed",
            )
        db.execute("BEGIN IMMEDIATE")
        try:
            if version(db) == found:
                for statement in _STEPS[found]:
                    db.execute(statement)
                db.execute(f"PRAGMA user_version = {found + 1}")
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise
