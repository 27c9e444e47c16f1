"""A program that appends readings, to be killed: says "begin" before, "commit" when the entry is
made and the first byte is about to be written, "taken" after.

Run as ``python -m tests.store.writer STORE [HOW MANY [PRAGMA ...]]``; for ever without a number.
"""

from __future__ import annotations

import itertools
import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from inspect_rec.store import Store


def main(path: Path, count: int | None = None, *pragmas: str) -> None:
    """Append ``count`` readings, or until killed."""
    at = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
    with Store.open(path) as store:
        first = store.head().seq + 1
        for pragma in pragmas:
            store._db.execute(f"PRAGMA {pragma}")
        # SQLite writes to its log and syncs inside COMMIT, and tells of the statement before.
        store._db.set_trace_callback(lambda sql: sql == "COMMIT" and os.write(1, b"commit\n"))
        for seq in itertools.count(first) if count is None else range(first, first + count):
            body = {
                "inspection": "I1/QF-0417",
                "place": {"feature": "profile arc", "flute": 1, "mark": str(seq)},
                "taken": [{"channel": "X", "value": "31.447", "unit": "mm"}],
                "raw": "58" * 24,
            }
            os.write(1, b"begin %d\n" % seq)
            entry = store.append(at + timedelta(seconds=seq), "G-01", "reading", body)
            os.write(1, b"taken %d %s\n" % (entry.seq, entry.digest.encode()))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else None, *sys.argv[3:])
