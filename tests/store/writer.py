"""A program that appends readings for ever, to be killed: says "begin" before, "taken" after.

Run as ``python -m tests.store.writer STORE``.
"""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from inspect_rec.store import Store


def main(path: Path) -> None:
    """Append until killed."""
    at = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
    with Store.open(path) as store:
        seq = store.head().seq
        while True:
            seq += 1
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
    main(Path(sys.argv[1]))
