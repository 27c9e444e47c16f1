"""The dialogue that teaches a layout: shows the bytes, asks to hold still, to move, to press.

``Lesson`` is what was heard and what is asked next, without a terminal; ``taught`` runs one on a
line. Never writes to the readout, but the request that was given.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, TextIO

from inspect_rec.cli import keys
from inspect_rec.errors import InputError, ReadoutError

if TYPE_CHECKING:
    from drivers.layout import Layout
    from drivers.learning.evidence import Undecided
    from drivers.learning.proposal import Known, Proposal
    from drivers.learning.recording import Move
    from drivers.parts import Port

WIDE, HIGH = 80, 24
_ROW = 16
_ROWS = 10
_TRY_S, _POLL_S = 3.0, 0.1
_FEWEST = 8
"""Bytes without which nothing was heard."""
_LONGEST = 24
_FIRST = "Move X by +10 mm"


class Lesson:
    """Bytes as they come, and what the person is asked to do next."""

    def __init__(self, moves: Sequence[Move], known: Known) -> None:
        self._moves = {move.axis: move for move in moves}
        self._known = known
        self._pieces: list[tuple[float, bytes]] = []
        self._size = 0
        self._stage = "still"
        self._said = ""
        self.undecided: Undecided | None = None
        self.found: Proposal | None = None

    @property
    def over(self) -> bool:
        """Whether the layout is known."""
        return self.found is not None

    def hear(self, data: bytes, at: float) -> None:
        """Bytes came, at an instant in seconds."""
        self._pieces.append((at, data))
        self._size += len(data)

    def enter(self, typed: str) -> None:
        """Enter was pressed behind what was typed."""
        self._said = ""
        if self._stage == "still":
            if self._size < _FEWEST:
                self._said = "Nothing came yet: look at its plug, or press the readout's own key."
                return
            self._stage = "move"
        elif self._stage == "move":
            if typed or not self._moves:
                self._move(typed or "nothing")
            if self._moves and not self._said:
                self._stage = "key"
        elif self._stage == "key":
            self._learn()
        else:
            if typed:
                self._move(typed)
            if not self._said:
                self._learn()

    def _move(self, typed: str) -> None:
        from dataclasses import replace

        from drivers.learning.recording import moves

        try:
            (new,) = moves([typed])
        except InputError:
            self._said = f"{typed!r} isn't understood: type it such as X=+10mm or Z=-0.5in."
            return
        before = self._moves.get(new.axis)
        if before is not None and self._stage != "move":
            mm = before.mm + new.mm
            if not mm:
                self._said = f"{new.axis} is back where it began: move it on, by another way."
                return
            new = replace(new, mm=mm, said=f"{mm:+} mm")
        self._moves[new.axis] = new

    def _learn(self) -> None:
        from drivers.learning.evidence import Undecided
        from drivers.learning.learn import learn
        from drivers.learning.recording import of

        try:
            self.found = learn(of(self._pieces), tuple(self._moves.values()), self._known)
        except Undecided as undecided:
            self.undecided, self._stage = undecided, "more"

    # -- what is shown -----------------------------------------------------------------------

    def asks(self) -> list[str]:
        """What the person is asked, in lines of 80 columns."""
        import textwrap

        if self._stage == "still":
            words = (
                "1 of 3. Hold all slides still until figures came for some seconds, then Enter. "
                "Where it sends on its own key only: press that three times first."
            )
        elif self._stage == "move":
            known = " and ".join(str(move) for move in self._moves.values())
            what = f"Move {known}" if known else _FIRST
            words = (
                f"2 of 3. {what}, no other slide, and hold still again. Where it sends on its own "
                "key only: press that three times. "
            )
            words += "Then Enter." if known else "Then type what you moved, as X=+10mm, and Enter."
        elif self._stage == "key":
            words = (
                "3 of 3. If it has a print key or a contact: press it three times, a second apart. "
                "Then Enter, also where it has none."
            )
        else:
            assert self.undecided is not None  # noqa: S101 - the stage begins with it
            words = (
                f"Not decided: {self.undecided.why}. To decide: {self.undecided.decides}. Go on "
                "here: then type what you moved, as Z=+5mm, and Enter; q leaves."
            )
        return [*textwrap.wrap(words, WIDE), *textwrap.wrap(self._said, WIDE)]

    def lines(self, typed: str = "") -> list[str]:
        """The screen: what came, what is asked, what is typed."""
        head = f"Learning a readout: {self._size} bytes came"
        rows = self._bytes()
        asked = self.asks()[: HIGH - _ROWS - 6]
        shown = [head, "", *rows, *[""] * (_ROWS - len(rows)), "", *asked, "", f"> {typed}_"]
        return [*shown, *[""] * (HIGH - len(shown))][:HIGH]

    def _bytes(self) -> list[str]:
        """The last bytes, in hex and as characters."""
        tail = b""
        for _, data in reversed(self._pieces):
            tail = data + tail
            if len(tail) >= _ROW * _ROWS:
                break
        left = self._size - len(tail)
        first = max(0, self._size - _ROW * _ROWS)
        first += -first % _ROW
        tail = tail[max(0, first - left) :]
        rows = [tail[n : n + _ROW] for n in range(0, len(tail), _ROW)]
        return [
            f"{row.hex(' '):<{3 * _ROW}} "
            + "".join(chr(b) if 0x20 <= b < 0x7F else "." for b in row)
            for row in rows
        ]


def taught(address: str, moves: tuple[Move, ...], known: Known) -> Proposal:
    """The layout of the readout at ``address``, after a dialogue on the terminal. Raises Undecided
    where the person leaves before it is decided, and ReadoutError where nothing comes."""
    from dataclasses import replace

    from drivers.opening import opened
    from drivers.transport import Chunk

    port, heard = _plug(address, known)
    lesson = Lesson(moves, replace(known, port=port, heard=heard))
    shown = _Shown(sys.stdout)
    typed = ""
    with opened(address, _provisional(port, known)) as line, keys.opened() as pressed:
        while not lesson.over:
            item = line.poll(_POLL_S)
            if isinstance(item, Chunk):
                lesson.hear(item.data, item.at.timestamp())
            while (key := pressed.next()) is not None and not lesson.over:
                if key == keys.LEAVE or (key in ("q", "Q") and not typed):
                    raise lesson.undecided or ReadoutError("left before anything was learned")
                if key == keys.TAKE:
                    lesson.enter(typed)
                    typed = ""
                elif key == keys.STRIKE:
                    typed = typed[:-1]
                elif len(key) == 1 and len(typed) < _LONGEST:
                    typed += key
            shown.show(lesson, typed)
    shown.end()
    assert lesson.found is not None  # noqa: S101 - over means found
    return lesson.found


def _plug(address: str, known: Known) -> tuple[Port, str]:
    """Settings of the plug: the usual ones in turn, at a serial port; else those that are given."""
    from drivers.learning import ports
    from drivers.opening import opened
    from drivers.transport import Chunk

    if "://" in address or address.endswith(":") or address.startswith(("-", "modbus")):
        return known.port, ""
    tried: list[tuple[Port, bytes]] = []
    for port in ports.usual():
        data, until = b"", time.monotonic() + _TRY_S
        with opened(address, _provisional(port, known)) as line:
            while time.monotonic() < until and not ports.enough(data):
                item = line.poll(_POLL_S)
                data += item.data if isinstance(item, Chunk) else b""
        tried.append((port, data))
        _tell(f"{port.baud} {port.bytesize}{port.parity}{port.stopbits}: {len(data)} bytes")
        if (other := ports.with_parity(port, data)) is not None:
            return other, "the highest bits of its bytes bear that parity"
        if ports.enough(data):
            break
    if not any(data for _, data in tried):
        raise ReadoutError(
            "nothing came from the readout",
            where=address,
            do="Look at its plug; where it sends on its own key only press that while settings are "
            "tried",
        )
    return ports.best(tried)


def _provisional(port: Port, known: Known) -> Layout:
    """A layout to open the line with: only its plug and its request count."""
    from drivers.layout import parse
    from drivers.learning.line import quoted

    asks = f"[asks]\nrequest = {quoted(known.asked.decode('latin-1'))}\n" if known.asked else ""
    return parse(
        f'id = "not known yet"\n[port]\nbaud = {port.baud}\nbytesize = {port.bytesize}\n'
        f'parity = "{port.parity}"\nstopbits = {port.stopbits}\n{asks}[frame]\n'
        'terminator = "\\n"\npattern = "(?P<x>[+-]\\\\d{4}\\\\.\\\\d{3})"\n',
        "not known yet",
    )


def _tell(words: str) -> None:
    sys.stderr.write(f"{words}\n")


class _Shown:
    """Draws a lesson: on a terminal the whole screen, elsewhere what is asked, once."""

    def __init__(self, out: TextIO) -> None:
        self._out, self._before = out, [""]

    def show(self, lesson: Lesson, typed: str) -> None:
        """Draw what changed."""
        whole = self._out.isatty()
        lines = lesson.lines(typed) if whole else lesson.asks()
        if lines == self._before:
            return
        if whole:
            first = "\x1b[2J" if self._before == [""] else ""
            drawn = "".join(f"\x1b[{n};1H{line}\x1b[K" for n, line in enumerate(lines, 1))
            self._out.write(first + drawn)
        else:
            sys.stderr.write("\n".join(lines) + "\n")
        self._out.flush()
        self._before = lines

    def end(self) -> None:
        """Leave the screen as it is, and go on below."""
        if self._out.isatty():
            self._out.write(f"\x1b[{HIGH};1H\n")
