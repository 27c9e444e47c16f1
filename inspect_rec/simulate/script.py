"""Commands for a simulated readout, typed one by one or written down as a script. Pure.

A script is one command a line, ``at`` an instant or after the one before; instants are seconds from
its start. The same script and seed give the same bytes at the same instants.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from drivers.layout import Layout
from drivers.parts import CHANNELS
from inspect_rec.errors import InputError, InspectRecError, Mistake
from inspect_rec.simulate import faults
from inspect_rec.simulate.display import Display

KNOWN: Sequence[tuple[str, str]] = (
    ("x 31.447", "turn until the display shows it; likewise z"),
    ("x +0.010", "turn the handwheel by so much, its backlash first"),
    ("x to -5", "until the display shows a figure below nought"),
    ("... over 1.5", "in so many seconds"),
    ("key", "press the readout's print key"),
    ("zero x   set x 12.5", "set a display to nought, or to a figure"),
    ("unit in   mode diameter", "switch it over: mm, in, radius, diameter"),
    ("off   on", "its power; it begins at nought"),
    ("unplug   plug in", "its line"),
    ("half", "half a frame comes next"),
    ("fault NAME   ... for 2", "let something go wrong; faults: lists the names"),
    ("mend", "all that was wrong is over"),
    ("speed x 20", "how fast a hand turns; likewise backlash, noise"),
    ("rate 10", "readings a second"),
    ("wait 0.5", "in a script: seconds until the next line"),
    ("quit", "leave"),
)
"""Every command, and what it does."""

_FIGURE = r"[0-9]{1,6}(?:\.[0-9]{1,6})?"
_OVER = rf"(?: over (?P<over>{_FIGURE}))?"
_SHAPES = {
    "turn": re.compile(rf"(?P<channel>[a-z]+) (?P<figure>[+-]{_FIGURE}){_OVER}"),
    "go": re.compile(rf"(?P<channel>[a-z]+) (?:to )?(?P<figure>[+-]?{_FIGURE}){_OVER}"),
    "zero": re.compile(r"zero (?P<channel>[a-z]+)"),
    "set": re.compile(rf"set (?P<channel>[a-z]+) (?P<figure>[+-]?{_FIGURE})"),
    "switch": re.compile(r"unit (?P<word>mm|in)|mode (?P<mode>radius|diameter)"),
    "fault": re.compile(rf'fault (?P<name>"[^"]+"|[a-z ]+?)(?: for (?P<over>{_FIGURE}))?'),
    "hand": re.compile(
        rf"(?P<word>speed|backlash|noise) (?P<channel>[a-z]+) (?P<figure>{_FIGURE})"
    ),
    "rate": re.compile(rf"rate (?P<figure>{_FIGURE})"),
    "wait": re.compile(rf"wait (?P<over>{_FIGURE})"),
    "plain": re.compile(r"(?P<word>key|off|on|unplug|plug in|half|mend|quit)"),
}
_NO_AXIS = {"zero", "set", "unit", "mode", "fault", "speed", "backlash", "noise", "rate", "wait"}


@dataclass(frozen=True, slots=True)
class Command:
    """One command: which, and what stands in it; seconds in ``over_s``."""

    kind: str
    word: str = ""
    channel: str = ""
    figure: Decimal = Decimal(0)
    over_s: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A command of a script; ``at_s``: None for after the one before."""

    command: Command
    at_s: float | None = None


def command(text: str, layout: Layout) -> Command:
    """A command from its words.

    Raises InputError for what isn't one, and ReadoutError for what this layout can't do.
    """
    words = " ".join(text.lower().split())
    for kind, shape in _SHAPES.items():
        found = shape.fullmatch(words)
        if found is None or (kind in ("turn", "go") and words.split(" ", 1)[0] in _NO_AXIS):
            continue
        named = found.groupdict()
        word = named.get("word") or named.get("mode") or ""
        if kind == "fault":
            word, _ = faults.named((named.get("name") or "").strip('"'), layout)
        if kind == "plain" and word == "half":
            kind, word = "fault", faults.HALF  # noqa: PLW2901 - another name of it
        return Command(
            kind,
            word,
            _channel(named["channel"], layout) if "channel" in named else "",
            Decimal(named.get("figure") or 0),
            float(named["over"]) if named.get("over") else None,
        )
    raise InputError(
        "that is no command",
        expected="one such as x 31.447, x +0.010, key, zero x, fault half frame; ? lists them",
        found=repr(text.strip()[:40]),
    )


def _channel(word: str | None, layout: Layout) -> str:
    channel = CHANNELS.get(word or "", "")
    if channel not in layout.channels:
        own = [name for name, c in CHANNELS.items() if c in layout.channels]
        raise InputError(
            "this readout has no such axis", expected=" | ".join(own), found=repr(word)
        )
    return channel


_AT = re.compile(rf"at (?P<at>{_FIGURE}) +(?P<rest>.*)")


def parse(text: str, name: str, layout: Layout) -> tuple[Step, ...]:
    """The steps of a script; empty lines and what stands behind # are let be.

    Raises InputError with every mistake and its line.
    """
    steps: list[Step] = []
    mistakes: list[Mistake] = []
    latest = 0.0
    for number, line in enumerate(text.splitlines(), 1):
        bare = " ".join(line.partition("#")[0].split())
        if not bare:
            continue
        where = f"{name}:{number}"
        timed = _AT.fullmatch(bare.lower())
        at = float(timed["at"]) if timed else None
        if at is not None:
            if at < latest:
                expected = f"an instant not before that of a line above, {latest:g}"
                mistakes.append(Mistake(where, expected, f"at {at:g}"))
            latest = max(at, latest)
        try:
            steps.append(Step(command(timed["rest"] if timed else bare, layout), at))
        except InspectRecError as error:
            mistakes.append(Mistake(where, error.expected, f"{error.found} ({error.what})"))
    if mistakes:
        raise InputError("the script has mistakes", mistakes, where=name)
    return tuple(steps)


def obey(display: Display, given: Command, at: float) -> bytes:
    """Do what a command says; gives the bytes that are sent at once.

    Raises InputError and ReadoutError for what this readout can't do.
    """
    figure, channel = given.figure, given.channel
    if given.kind == "go":
        display.go(channel, figure, at, given.over_s)
    elif given.kind == "turn":
        display.turn(channel, figure, at, given.over_s)
    elif given.kind in ("zero", "set"):
        display.preset(channel, figure, at)
    elif given.kind == "switch":
        display.switch(given.word)
    elif given.kind == "fault":
        display.fault(given.word, at, given.over_s)
    elif given.kind == "rate":
        display.set_rate(float(figure))
    elif given.kind == "hand":
        _hand(display, given, at)
    elif given.word == "key":
        return display.key(at)
    elif given.word in ("on", "off"):
        display.power(at, on=given.word == "on")
    elif given.word in ("unplug", "plug in"):
        display.plugged = given.word == "plug in"
    elif given.word == "mend":
        display.mend(at)
    return b""


def _hand(display: Display, given: Command, at: float) -> None:
    slide = display.slides[given.channel]
    if given.word == "backlash":
        slide.set_backlash(given.figure, at)
    elif given.word == "noise":
        slide.noise = given.figure
    else:
        slide.speed = given.figure


class Player:
    """Plays a script on a display: ``advance`` gives what is sent until an instant, in order.

    ``over``: that the script, where there is one, has said ``quit``. ``said``: commands that the
    readout couldn't do, in words.
    """

    def __init__(self, display: Display, steps: Sequence[Step] = ()) -> None:
        self.display, self.over = display, False
        self.said: list[str] = []
        self._steps = list(steps)
        self._start_s: float | None = 0.0
        self._free_s = 0.0

    def begin(self, at: float | None) -> None:
        """The script's clock starts at an instant; None: it waits for one."""
        self._start_s = at
        self._free_s = at or 0.0

    @property
    def left(self) -> int:
        """Steps that are still to come."""
        return len(self._steps)

    def next_s(self, at: float) -> float | None:
        """The instant at which something is due; None where nothing ever is."""
        due = [self._step_s(), self.display.due_s(at)]
        found = [instant for instant in due if instant is not None]
        return min(found, default=None)

    def advance(self, to: float) -> list[tuple[float, bytes]]:
        """Everything that is due until ``to``: instants, and bytes where some are sent."""
        found: list[tuple[float, bytes]] = []
        while not self.over:
            step = self._step_s()
            live = self.display.due_s(to)
            if step is not None and step <= to and (live is None or step <= live):
                found.append((step, self._play(step)))
            elif live is not None and live <= to:
                found.append((live, self.display.live(live)))
            else:
                break
        self.display.active(to)
        return [(at, data) for at, data in found if data]

    def _step_s(self) -> float | None:
        if not self._steps or self._start_s is None:
            return None
        at = self._steps[0].at_s
        return self._free_s if at is None else self._start_s + at

    def _play(self, at: float) -> bytes:
        given = self._steps.pop(0).command
        self.display.active(at)
        self._free_s = at
        if given.kind == "wait":
            self._free_s += given.over_s or 0.0
            return b""
        if given.word == "quit":
            self.over = True
            return b""
        try:
            sent = obey(self.display, given, at)
        except InspectRecError as error:
            self.said.append(str(error))
            return b""
        self._free_s = max(at, self.display.busy_until_s())
        return sent
