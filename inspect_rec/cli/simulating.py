"""A simulated readout from the terminal: its address, its figures, and a hand on its slides.

On a terminal the figures stand at the top and what is typed goes on below; elsewhere lines go in
and out. Never part of a measurement.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    import queue

    from inspect_rec.simulate.readout import Running
    from inspect_rec.simulate.script import Command

WIDE, HIGH = 80, 24
_LOOKS_S = 0.05
"""Between two looks at the figures."""
_LEAVE = ("quit", "q", "exit")


def register(app: typer.Typer) -> None:
    """Enter the command."""
    app.command()(simulate)


def simulate(
    layout: str = typer.Option(
        "two-axis line", "--layout", metavar="LAYOUT", help="A layout's id, or its TOML file."
    ),
    tcp: int = typer.Option(0, "--tcp", metavar="PORT", help="On this TCP port; 0: any free one."),
    pty: bool = typer.Option(False, "--pty", help="On a pseudo-terminal instead. Not on Windows."),
    script: Path | None = typer.Option(
        None, "--script", metavar="FILE", help="Play it; its clock starts with the first listener."
    ),
    rate: float = typer.Option(10.0, "--rate", metavar="N", help="Readings a second."),
    seed: int = typer.Option(0, "--seed", metavar="N", help="Of its noise."),
) -> None:
    """Simulate a readout: slides, key and faults, by hand.

    Prints the address under which it is found; then type commands, ? lists them.

    Example: inspect-rec readout simulate --layout "two-axis line" --tcp 0
    """
    from inspect_rec.cli.readout import named
    from inspect_rec.config import read_text
    from inspect_rec.simulate.display import Display
    from inspect_rec.simulate.readout import Running
    from inspect_rec.simulate.script import Player, parse
    from inspect_rec.simulate.wire import PtyWire, TcpWire, Wire

    described = named(layout)
    steps = () if script is None else parse(read_text(script), script.name, described)
    player = Player(Display(described, seed=seed, rate=rate), steps)
    wire: Wire = PtyWire() if pty else TcpWire(tcp)
    with contextlib.closing(wire):
        run(Running(player, wire), typed(), sys.stdout, screen=_is_terminal())


def _is_terminal() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def typed() -> queue.SimpleQueue[str | None]:
    """Lines of standard input as they are typed; None at its end."""
    import queue
    import threading

    lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def read() -> None:
        rest = b""
        # Past Python's own buffer, whose lock a thread that waits would hold at the end.
        while data := os.read(0, 4096):
            *whole, rest = (rest + data).split(b"\n")
            for line in whole:
                lines.put(line.decode("utf-8", "replace"))
        if rest:
            lines.put(rest.decode("utf-8", "replace"))
        lines.put(None)

    threading.Thread(target=read, daemon=True).start()
    return lines


def run(
    running: Running, lines: queue.SimpleQueue[str | None], out: TextIO, *, screen: bool
) -> None:
    """Until ``quit``, the end of what is typed, or that of a script that says it."""
    from queue import Empty

    scripted = running.player.left > 0
    talk = _Talk(running, out)
    with talk.drawn() if screen else contextlib.nullcontext():
        if not screen:
            talk.say(running.address)
        with contextlib.suppress(KeyboardInterrupt):
            while not running.player.over:
                wait_s = min(running.poll(), _LOOKS_S)
                talk.tell_trouble()
                talk.draw()
                try:
                    line = lines.get(timeout=wait_s) if wait_s > 0 else lines.get_nowait()
                except Empty:
                    continue
                if line is None and not scripted:
                    break
                if line is not None and not talk.obey(line):
                    break


class _Talk:
    """What is typed and what is answered; on a screen, the figures above it."""

    def __init__(self, running: Running, out: TextIO) -> None:
        self._running, self._out = running, out
        self._screen = False
        self._drawn: list[str] = []
        self._size = (0, 0)
        self._trouble = ""

    def say(self, text: str) -> None:
        """Print at once."""
        self._out.write(text + "\n")
        self._out.flush()

    def obey(self, line: str) -> bool:
        """Do what a line says; False to leave."""
        from inspect_rec.errors import InspectRecError
        from inspect_rec.simulate import script

        words = " ".join(line.lower().split())
        if words in _LEAVE:
            return False
        display = self._running.player.display
        try:
            if words in ("?", "help"):
                self._list([how for how in script.KNOWN if not how[0].startswith("wait")], 24)
            elif words == "faults":
                from inspect_rec.simulate.faults import FAULTS

                self._list([(name, fault.what) for name, fault in FAULTS.items()], 14)
            elif words:
                given = script.command(line, display.layout)
                sent: list[bytes] = []

                def act(at: float) -> bytes:
                    sent.append(script.obey(display, given, at))
                    return sent[0]

                self._running.act(act)
                self.say(_answer(given, sent[0]))
        except InspectRecError as error:
            self.say(asking.wrapped(f"No: {error}"))
        self._prompt()
        return True

    def _list(self, rows: list[tuple[str, str]], wide: int) -> None:
        for one, other in rows:
            self.say(f"  {one:{wide}} {other}")

    def _prompt(self) -> None:
        if self._screen:
            self._out.write("> ")
            self._out.flush()

    def tell_trouble(self) -> None:
        """What couldn't be done on the way."""
        player = self._running.player
        told, player.said[:] = list(player.said), []
        trouble = player.display.trouble
        if trouble and trouble != self._trouble:
            told.append(trouble)
        self._trouble = trouble
        for text in told:
            if self._screen:
                # What is being typed stands on this line.
                self._out.write("\n")
            self.say(asking.wrapped(f"No: {text}"))
            self._prompt()

    # -- the screen ----------------------------------------------------------------------

    @contextlib.contextmanager
    def drawn(self) -> Iterator[None]:
        """The figures stay at the top; what is typed scrolls below them."""
        from inspect_rec.cli import keys

        keys.speak_ansi()
        self._screen = True
        try:
            yield
        finally:
            self._screen = False
            self._out.write(f"\x1b[r\x1b[{self._size[1]};1H\n")
            self._out.flush()

    def draw(self) -> None:
        """Draw the lines that changed."""
        if not self._screen:
            return
        size = shutil.get_terminal_size((WIDE, HIGH))
        lines = [line[: size.columns - 1] for line in self._lines(size.columns)]
        written = ""
        if size != self._size:
            self._size, self._drawn = size, []
            first = len(lines) + 1
            written = f"\x1b[r\x1b[2J\x1b[{first};{size.lines}r\x1b[{first};1H"
            written += "Type a command; ? lists them.\n> "
        changed = [
            f"\x1b[{n};1H{line}\x1b[K"
            for n, line in enumerate(lines, 1)
            if n > len(self._drawn) or self._drawn[n - 1] != line
        ]
        if changed:
            written += "\x1b7" + "".join(changed) + "\x1b8"
        self._drawn = lines
        if written:
            self._out.write(written)
            self._out.flush()

    def _lines(self, wide: int) -> list[str]:
        running, display = self._running, self._running.player.display
        now = running.now_s
        listens = "somebody listens" if running.listens else "nobody listens"
        title = f"Simulated readout: {display.layout.id}"
        wrong = ", ".join(sorted(display.active(now)))
        layout = display.layout
        asked = layout.asks or layout.modbus
        sends = {
            "continuously": f"sends {1 / display.every_s:g} a second",
            "on key": "sends on its key",
            "when asked": "answers when asked",
        }["when asked" if asked else layout.rules.sends]
        left = f"; script: {running.player.left} steps to come" if running.player.left else ""
        return [
            f"{title:{max(wide - len(listens) - 1, 0)}}{listens}",
            running.address,
            "",
            *self._figures(now),
            f"{sends}; {display.sent} sent{left}{f'; wrong: {wrong}' if wrong else ''}",
            "─" * (wide - 1),
        ]

    def _figures(self, now: float) -> list[str]:
        display = self._running.player.display
        places = display.layout.figures.decimals
        dark = {name.partition(" ")[2] for name in display.active(now) if name.startswith("blank")}
        rows = []
        for channel, value in display.seen(now).items():
            shown = f"{value:+.{places}f} {display.unit_of(channel)}"
            if channel == "X" and display.mode == "diameter":
                shown += " diameter"
            if not display.powered or channel in dark:
                shown = "off" if not display.powered else "dark"
            rows.append(f"   {channel:12}{shown:>20}")
        return rows


def _answer(given: Command, sent: bytes) -> str:
    """What was done, in words."""
    from inspect_rec.simulate.faults import FAULTS

    channel, figure = given.channel, given.figure
    if given.kind == "plain":
        return _PLAIN[given.word] if given.word != "key" else _key(sent)
    if given.kind == "fault":
        head, _, tail = given.word.partition(" ")
        about = FAULTS[f"{head} x" if head in ("zero", "blank") else given.word]
        return f"{given.word}: {about.what.replace('X, or another axis,', tail)}"
    return {
        "go": f"{channel} goes to where it shows {figure}",
        "turn": f"{channel}'s handwheel is turned by {figure:+}",
        "zero": f"{channel} is set to nought",
        "set": f"{channel} is set to {figure}",
        "switch": f"it is switched to {given.word}",
        "hand": f"{given.word} of {channel}: {figure}",
        "rate": f"{figure} a second",
        "wait": "only a script waits",
    }[given.kind]


_PLAIN = {
    "on": "it is on: its zeros are lost",
    "off": "it is off",
    "unplug": "its plug is out",
    "plug in": "its plug is in",
    "mend": "nothing is wrong any more; a lost zero stays lost",
}


def _key(sent: bytes) -> str:
    if not sent:
        return "the key was pressed, and nothing sent"
    return f"sent {sent.decode('ascii', 'backslashreplace').rstrip()}"
