"""Single keys from a terminal, or lines where there is none: the only place that cares which.

``click.getchar`` reads a key alike on Windows and Unix; it waits, so it waits in a thread.
"""

from __future__ import annotations

import queue
import sys
import threading

import click

TAKE, STRIKE, LEAVE = "take", "strike", "leave"
_NAMED = {
    " ": TAKE,
    "\r": TAKE,
    "\n": TAKE,
    "\x7f": STRIKE,
    "\x08": STRIKE,
    "\x03": LEAVE,
    "\x04": LEAVE,
    "\x1a": LEAVE,
}


class Keys:
    """Keys as they are pressed: names of acts, or the character itself."""

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._terminal = sys.stdin.isatty()
        threading.Thread(target=self._read, daemon=True).start()

    @property
    def terminal(self) -> bool:
        """Whether a person sits at it."""
        return self._terminal

    def next(self) -> str | None:
        """The next key, or None where none was pressed."""
        try:
            return self._queue.get_nowait()
        except queue.Empty:
            return None

    def _read(self) -> None:
        if self._terminal:
            self._characters()
        else:
            self._lines()

    def _characters(self) -> None:
        while True:
            try:
                char = click.getchar()
            except (EOFError, KeyboardInterrupt, OSError):
                self._queue.put(LEAVE)
                return
            self._queue.put(_NAMED.get(char, char))

    def _lines(self) -> None:
        """A line of digits is typed and taken; an empty one takes; a word is its key."""
        for line in sys.stdin:
            for char in line.rstrip("\r\n"):
                self._queue.put(_NAMED.get(char, char))
            self._queue.put(TAKE)
        self._queue.put(LEAVE)
