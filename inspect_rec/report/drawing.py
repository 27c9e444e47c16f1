"""Reports drawn by processes of their own: what goes to them, what comes back, how they end.

Loads none of the libraries that sign: such a process has no key, and begins in half the time.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Mapping
from multiprocessing import parent_process

from inspect_rec.ledger import Entry
from inspect_rec.report import pdf
from inspect_rec.report.make import make
from inspect_rec.report.record import Header


def draw(
    entries: tuple[Entry, ...], header: Header, documents: Mapping[str, bytes]
) -> pdf.Rendered:
    """The unsigned report of a tool. Raises what ``make`` raises."""
    return make(entries, header, documents).rendered


def begin() -> None:
    """What such a process does first: the key that stops is for the one that signs; where that
    one is gone, this one goes, too."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_gone, daemon=True).start()


def _gone() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
