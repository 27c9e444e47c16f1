"""Single keys from a terminal, or lines where there is none: the only module with platform code.

The terminal is put into single-key mode once, for as long as keys are read: switching for each
key would lose those that come in between, and a foot switch is quick.
"""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import queue
import sys
import threading
from collections.abc import Callable, Iterator

TAKE, STRIKE, LEAVE, OTHER = "take", "strike", "leave", "other"
_ESCAPE = "\x1b"
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
        while char := self._one():
            if char == _ESCAPE:
                # An arrow sends letters after it: without this, left would be D.
                self._skip_sequence()
                self._queue.put(OTHER)
            else:
                self._queue.put(_NAMED.get(char, char))
        self._queue.put(LEAVE)

    def _one(self) -> str:
        try:
            return self._read_one()
        except (EOFError, OSError, ValueError):
            return ""

    def _skip_sequence(self) -> None:
        """Swallow what a key that isn't a character sends: one more, or a control sequence up to
        its final byte (ECMA-48, 5.4; quoted from memory)."""
        char = self._one()
        if char in ("[", "O"):
            char = self._one()
            while char and not "@" <= char <= "~":
                char = self._one()


@contextlib.contextmanager
def opened(*, piped: bool = True) -> Iterator[Keys]:
    """Keys of the terminal, or of what is piped in: there each character is a key.

    ``piped``: whether they may be; where standard input is a readout's, its bytes are no keys, and
    these come from the terminal itself, or not at all.
    """
    if isinstance(sys.stdin, io.TextIOWrapper):
        # A key that the encoding doesn't know is another key, not the end of all keys.
        sys.stdin.reconfigure(errors="replace")
    if piped and not sys.stdin.isatty():
        yield Keys(lambda: sys.stdin.read(1))
    elif sys.platform == "win32":
        yield Keys(_windows())
    elif piped:
        with _single_keys(sys.stdin.fileno()):
            yield Keys(lambda: sys.stdin.read(1))
    else:
        yield from _of_the_terminal()


def _of_the_terminal() -> Iterator[Keys]:
    try:
        number = os.open("/dev/tty", os.O_RDONLY)
    except OSError:  # none: nobody presses anything
        yield Keys(_nothing)
        return
    signs = codecs.getincrementaldecoder("utf-8")("replace")

    def read() -> str:
        while data := os.read(number, 1):
            if char := signs.decode(data):
                return char
        return ""

    # Never closed: the thread that waits for a key may wait for ever.
    with _single_keys(number):
        yield Keys(read)


def _nothing() -> str:
    threading.Event().wait()
    return ""


def speak_ansi() -> None:
    """Make an old Windows console understand the sequences that place the cursor. Not tried."""
    if sys.platform == "win32":
        import ctypes

        kernel, enable = ctypes.windll.kernel32, 0x0004
        handle, mode = kernel.GetStdHandle(-11), ctypes.c_ulong()
        if kernel.GetConsoleMode(handle, ctypes.byref(mode)):
            kernel.SetConsoleMode(handle, mode.value | enable)


def _windows() -> Callable[[], str]:
    """A key on Windows; arrows and the like come as two and are nothing here. Not tried."""
    import msvcrt

    getwch: Callable[[], str] = getattr(msvcrt, "getwch")  # noqa: B009 - Windows alone has it

    def read() -> str:
        char = getwch()
        return OTHER if char in ("\x00", "\xe0") and getwch() else char

    return read


@contextlib.contextmanager
def _single_keys(number: int) -> Iterator[None]:
    if sys.platform == "win32":
        yield
        return
    import termios
    import tty

    before = termios.tcgetattr(number)
    tty.setcbreak(number, termios.TCSADRAIN)
    try:
        yield
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)
