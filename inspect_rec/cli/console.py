"""What the person at the machine sees, presses and is asked; every act goes to the capture.

Nothing here opens over anything else: a question stands in its line, and any key that doesn't
answer it lets it go. It never sets off an act that the person didn't press.
"""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Self, TextIO

from drivers.decoder import Alarm
from drivers.settled import State
from inspect_rec.capture import REASONS, Capture, Said
from inspect_rec.cli import keys, screen
from inspect_rec.errors import InputError, StoreError
from inspect_rec.reading import Sighting

_FIGURE = "0123456789.,+-"
_LONGEST = 12


@dataclass
class _Question:
    """Something asked: of one key, or (``line``) of digits that end with the key that takes."""

    words: str
    answer: Callable[[str, datetime], Said | None]
    line: bool = False
    typed: str = ""

    @property
    def shown(self) -> str:
        return f"{self.words} {self.typed}_" if self.line else self.words


class Console:
    """One person's terminal: a screen, or lines that another program can read (``plain``)."""

    def __init__(self, capture: Capture, *, plain: bool, out: TextIO | None = None) -> None:
        self.capture, self.plain, self._out = capture, plain, out or sys.stdout
        self.said = ""
        self._asked: _Question | None = None
        self._help = False
        self._typed = ""
        self._deaf_until: datetime | None = None
        self._shown: list[str] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown:
            self._out.write(f"\x1b[{len(self._shown)};1H\r\n\x1b[?25h")
            self._out.flush()

    def ready(self) -> None:
        """The line is open: what is next, for a program that waits for it."""
        step = self.capture.step
        if self.plain and step is not None:
            what = step.object if step.place is None else json.dumps(step.place.body())
            self._print(f"ready {step.kind} {what}")

    def hear(self, item: Sighting | Alarm, source: str = "") -> None:
        """Something came from a readout; ``source`` is empty for that of the slides."""
        self.tell(self._stored(lambda: self.capture.hear(item, source)))

    def key(self, key: str, at: datetime) -> bool:
        """Act on a key; False to leave."""
        if key == keys.LEAVE:
            return False
        if key == keys.TAKE and self._deaf_until is not None and at < self._deaf_until:
            return True
        if self._asked is not None:
            self._answered(self._asked, key, at)
            return True
        if key in ("q", "Q"):
            return False
        self.tell(self._stored(lambda: self._act(key, at)))
        return True

    # -- what a key does -----------------------------------------------------

    def _act(self, key: str, at: datetime) -> Said | None:
        capture, step = self.capture, self.capture.step
        if key == keys.TAKE:
            self._typed = ""
            return capture.take(at)
        if key == keys.STRIKE:
            return self._strike()
        if key in _FIGURE and step is not None and step.by_eye:
            return self._type(key)
        acts: dict[str, Callable[[], Said | None]] = {
            "g": self._ground,
            "z": self._zero,
            "h": self._turn_help,
            "?": self._turn_help,
            "c": lambda: self._clamped(at),
            "d": lambda: capture.wheel_dressed(at),
        }
        act = acts.get(key.lower())
        return None if act is None else act()

    def _type(self, key: str) -> Said:
        """A digit more. What is refused stays refused until it is cleared, so that digits typed
        on in haste never become another figure."""
        self._typed += key
        said = self.capture.type(self._typed)
        return said if said.ok else Said(f"{said.words}. Backspace clears it", ok=False)

    def _turn_help(self) -> None:
        self._help = not self._help

    def _clamped(self, at: datetime) -> Said:
        """Clamped anew, after a knock or a look; where the step is to clamp, that step."""
        step, record = self.capture.step, self.capture.inspection.record
        if step is not None and step.kind == "clamp":
            return self.capture.clamped(at, step.object)
        thing = record.clamped if record.clamped not in ("", "none") else record.mark
        said = self.capture.clamped(at, thing)
        return Said(f"Clamped anew: {thing}", said.entry)

    def _strike(self, back: int = 1) -> Said | None:
        """Typed digits go first; then the last reading, with a reason; again: the one before."""
        if self._typed:
            self._typed = ""
            self.capture.type("")
            return Said("Typed figure cleared")
        reading = self.capture.taken(back)
        if reading is None:
            return Said("There is nothing to strike out", ok=False)

        def answer(key: str, at: datetime) -> Said | None:
            if key == keys.STRIKE:
                return self._strike(back + 1)
            if key in ("1", "2", "3", "4"):
                return self.capture.strike_out(at, REASONS[int(key) - 1], back)
            return Said("Nothing struck out")

        reasons = "  ".join(f"{n} {reason}" for n, reason in enumerate(REASONS, 1))
        words = f"Strike out {self.capture.named(reading)}: why?"
        self._ask(_Question(f"{words} {reasons}  Backspace: the one before", answer))
        return None

    def _ground(self) -> None:
        tool = self.capture.inspection.tool

        def which(typed: str, _at: datetime) -> Said | None:
            if not typed.isdecimal() or int(typed) > tool.edges:
                return Said(f"Nothing recorded: expected 1 to {tool.edges}, or 0 = all", ok=False)
            flute = int(typed)
            what = f"{tool.edge_word.capitalize()} {flute}" if flute else "All"
            words = f"{what}: ground by how much? mm, then Enter (Enter alone: not known):"
            self._ask(
                _Question(
                    words, lambda mm, at: self.capture.ground_again(at, flute, mm, ""), line=True
                )
            )
            return None

        words = f"Ground again: which {tool.edge_word}? 1 to {tool.edges}, 0 = all, then Enter:"
        self._ask(_Question(words, which, line=True))

    def _zero(self) -> None:
        def which(key: str, at: datetime) -> Said | None:
            if key.upper() in ("X", "Z"):
                return self.capture.datum_set_anew(at, key.upper())
            return Said("Nothing recorded")

        self._ask(_Question("Which slide shows another zero now? X or Z", which))

    # -- questions -----------------------------------------------------------

    def _ask(self, question: _Question) -> None:
        self._asked = question
        if self.plain:
            self._print(f"asks {question.words}")

    def _answered(self, question: _Question, key: str, at: datetime) -> None:
        if question.line and key in _FIGURE:
            question.typed = (question.typed + key)[:_LONGEST]
            return
        if question.line and key == keys.STRIKE:
            question.typed = question.typed[:-1]
            return
        self._asked = None
        if question.line and key != keys.TAKE:
            self.tell(Said("Nothing recorded"))
            return
        if key == keys.TAKE:
            # The key that ends an answer must not, bouncing, take a figure or end the next.
            self._deaf_until = at + timedelta(milliseconds=self.capture.layout.rules.lockout_ms)
        what = question.typed if question.line else key
        self.tell(self._stored(lambda: question.answer(what, at)))

    # -- what is shown -------------------------------------------------------

    @staticmethod
    def _stored(act: Callable[[], Said | None]) -> Said | None:
        """A full disk, or a sign that can't be printed, refuses an act and ends nothing: the next
        one tries again."""
        try:
            return act()
        except (StoreError, InputError) as error:
            return Said(f"Not stored. {error}", ok=False)

    def tell(self, said: Said | None) -> None:
        """An answer: on the screen, or one line that a program can wait for."""
        if said is None:
            return
        self.said = said.words
        if not self.plain:
            return
        entry = said.entry
        if entry is not None and entry.kind == "reading":
            place = json.dumps(entry.body["place"], sort_keys=True)
            doubt = said.words.removeprefix("Taken").lstrip(".")
            self._print(f"taken {entry.seq} {place}{doubt}")
            return
        alarm = entry is not None and entry.kind == "alarm"
        self._print(f"{'alarm' if alarm else 'said' if said.ok else 'refused'} {said.words}")

    def _print(self, line: str) -> None:
        self._out.write(line + "\n")
        self._out.flush()

    def show(self, state: State) -> None:
        """Draw the lines that changed."""
        if self.plain:
            return
        size = shutil.get_terminal_size((screen.WIDE, screen.HIGH))
        lines = self._lines(state, size.columns, size.lines)
        before = self._shown if len(self._shown) == len(lines) else []
        written = ""
        if not before:
            keys.speak_ansi()
            written = "\x1b[?25l\x1b[2J"
        for n, line in enumerate(lines):
            if not before or before[n] != line:
                written += f"\x1b[{n + 1};1H{line}\x1b[K"
        self._shown = lines
        if written:
            self._out.write(written)
            self._out.flush()

    def _lines(self, state: State, wide: int, high: int) -> list[str]:
        if wide < screen.WIDE or high < screen.HIGH:
            return [f"Make this window {screen.WIDE} by {screen.HIGH}"[:wide], *[""] * (high - 1)]
        asked = "" if self._asked is None else self._asked.shown
        view = screen.view(self.capture, state, self.said, asked=asked, help_=self._help)
        return screen.draw(view, wide, high)
