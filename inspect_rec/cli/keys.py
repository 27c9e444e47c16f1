"""Single keys from a terminal, or lines where there is none: the only module with platform code.

The terminal is put into single-key mode once, for as long as keys are read: switching for each
key would lose those that come in between, and a foot switch is quick.
"""

from __future__ import annotations

import contextlib
import queue
import sys
import threading
from collections.abc import Callable, Iterator

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
    "": LEAVE,
}


class Keys:
    """Keys as they are pressed: names of acts, or the character itself."""

    def __init__(self, read: Callable[[], str]) -> None:
        self._queue: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._read_one = read
        threading.Thread(target=self._read, daemon=True).start()

    def next(self) -> str | None:
        """The next key, or None where none was pressed."""
        try:
            return self._queue.get_nowait()
        except queue.Empty:
            return None

    def _read(self) -> None:
        while True:
            try:
                char = self._read_one()
            except (EOFError, OSError, ValueError):
                char = ""
            self._queue.put(_NAMED.get(char, char))
            if char == "":
                return


@contextlib.contextmanager
def opened() -> Iterator[Keys]:
    """Keys of the terminal, or of what is piped in: there each character is a key."""
    if not sys.stdin.isatty():
        yield Keys(lambda: sys.stdin.read(1))
    elif sys.platform == "win32":
        yield Keys(_windows())
    else:
        with _single_keys():
            yield Keys(lambda: sys.stdin.read(1))


def _windows() -> Callable[[], str]:
    """A key on Windows; arrows and the like come as two and are nothing here. Not tried."""
    import msvcrt

    getwch: Callable[[], str] = getattr(msvcrt, "getwch")  # noqa: B009 - Windows alone has it

    def read() -> str:
        char = getwch()
        return "?" if char in "\x00\xe0" and getwch() else char

    return read


@contextlib.contextmanager
def _single_keys() -> Iterator[None]:
    if sys.platform == "win32":
        yield
        return
    import termios
    import tty

    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)
    tty.setcbreak(number, termios.TCSADRAIN)
    try:
        yield
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)
