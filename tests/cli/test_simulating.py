"""A simulated readout from the terminal: by hand, by script, on a screen, and in plain lines."""

from __future__ import annotations

import io
import queue
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import serial
import typer
from typer.testing import CliRunner

from drivers.decoder import Alarm, Code, Decoder
from drivers.layout import packaged
from drivers.opening import opened
from drivers.transport import Chunk
from inspect_rec.cli import app, simulating
from inspect_rec.errors import InputError, InspectRecError
from inspect_rec.reading import Sighting
from inspect_rec.simulate.display import Display
from inspect_rec.simulate.faults import FAULTS
from inspect_rec.simulate.readout import Running
from inspect_rec.simulate.script import KNOWN, Player, parse
from inspect_rec.simulate.wire import TcpWire
from tests.cli.test_measure import Terminal
from tests.simulate.layouts import described

PAGE = (Path(__file__).parents[2] / "docs" / "simulate-a-readout.md").read_text("utf-8")
TWO = packaged()["two-axis line"]
PROGRAM = [sys.executable, "-m", "inspect_rec", "readout", "simulate"]
posix = pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")


def answers(*typed: str, layout_id: str = "two-axis line") -> list[str]:
    """What is said to commands, line by line; the address stands first."""
    lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    for line in (*typed, None):
        lines.put(line)
    out, wire = io.StringIO(), TcpWire()
    try:
        running = Running(Player(Display(described()[layout_id])), wire)
        simulating.run(running, lines, out, screen=False)
    finally:
        wire.close()
    return out.getvalue().splitlines()


def test_the_address_stands_first_and_each_command_is_answered() -> None:
    address, *said = answers(
        "x +0.010", "z 142.318", "key", "zero x", "unit in", "fault blank z for 2", "off", "key",
        "on", "rate 20", "backlash x 0.01", "half", "mend", "wait 3", "", "set z -1",
    )  # fmt: skip
    assert re.fullmatch(r"socket://127\.0\.0\.1:\d+", address)
    assert said == [
        "X's handwheel is turned by +0.010",
        "Z goes to where it shows 142.318",
        said[2],
        "X is set to nought",
        "it is switched to in",
        "blank Z: the display of Z is dark",
        "it is off",
        "the key was pressed, and nothing sent",
        "it is on: its zeros are lost",
        "20 a second",
        "backlash of X: 0.01",
        "half frame: the next frame ends in its middle",
        "nothing is wrong any more; a lost zero stays lost",
        "only a script waits",
        "Z is set to -1",
    ]
    assert re.fullmatch(r"sent X[+]0000\.\d{3} Z[+]\d{4}\.\d{3} \*", said[2])


def test_commands_and_faults_are_listed() -> None:
    _, *said = answers("?", "faults", "quit", "key")
    assert len(said) == len(KNOWN) - 1 + len(FAULTS)
    assert all(len(line) < 80 for line in said)
    assert any("handwheel" in line for line in said)
    assert any(line.startswith("  swapped axes") for line in said)


def test_what_can_not_be_done_is_answered_and_goes_on() -> None:
    _, *said = answers("jump", "fault counter gap", "key", layout_id="sum within the line")
    assert max(map(len, said)) <= 80
    told = [" ".join(one.split()) for one in "\n".join(said).split("No: ")]
    assert len(told) == 4
    assert "no command: expected one such as x 31.447" in told[1]
    assert "counter" in told[2]
    assert "no print key" in told[3]


def test_a_figure_for_which_a_frame_has_no_room_is_said_once() -> None:
    lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    lines.put("x 123456 over 0")
    out, wire, clock = io.StringIO(), TcpWire(), iter(range(1000))
    running = Running(Player(Display(TWO, rate=1)), wire, clock=lambda: next(clock) / 10)

    class _Over(Exception):  # noqa: N818 - ends the test's loop
        pass

    polled = 0
    poll = running.poll

    def counted() -> float:
        nonlocal polled
        polled += 1
        if polled > 60:
            raise _Over
        poll()
        return 0.0

    running.poll = counted  # type: ignore[method-assign]
    try:
        with pytest.raises(_Over):
            simulating.run(running, lines, out, screen=False)
    finally:
        wire.close()
    assert out.getvalue().count("can't show this") == 1


# The program


@contextmanager
def started(*words: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The program with piped input, and its address."""
    process = subprocess.Popen(
        [*PROGRAM, *words], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert process.stdin is not None
    try:
        yield process, process.stdout.readline().strip()
    finally:
        process.kill()
        process.wait()
        process.stdin.close()
        process.stdout.close()


def type_(process: subprocess.Popen[str], line: str) -> str:
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(f"{line}\n")
    process.stdin.flush()
    return process.stdout.readline().strip()


@pytest.mark.parametrize("where", ["--tcp=0", pytest.param("--pty", marks=posix)])
def test_a_hand_and_a_listener_see_the_same(where: str) -> None:
    with (
        started(where, "--rate", "20") as (process, address),
        serial.serial_for_url(address, timeout=3) as port,
    ):
        assert "goes to" in type_(process, "x 31.447 over 0.1")
        time.sleep(0.3)
        said = type_(process, "key")
        assert said == "sent X+0031.447 Z+0000.000 *"
        assert said.removeprefix("sent ").encode() in port.read(24 * 20)
        assert type_(process, "quit") == ""
        assert process.wait(5) == 0


def test_the_end_of_what_is_typed_ends_it() -> None:
    with started("--tcp", "0") as (process, _):
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(5) == 0


def test_a_script_is_played_and_ends_it(tmp_path: Path) -> None:
    script = tmp_path / "pin.txt"
    script.write_text("x 5 over 0.2\nkey\nwait 0.3\nfault half frame\nwait 0.3\nquit\n", "utf-8")
    found: list[Sighting | Alarm] = []
    decoder = Decoder(TWO, "RO-1")
    with (
        started("--script", str(script), "--seed", "3") as (process, address),
        opened(address, TWO) as line,
    ):
        assert process.stdin is not None
        process.stdin.close()
        end = time.monotonic() + 8
        while process.poll() is None and time.monotonic() < end:
            if isinstance(news := line.poll(0.05), Chunk):
                found += decoder.feed(news.data, news.at)
        assert process.wait(1) == 0
    assert [item.key for item in found if isinstance(item, Sighting)].count(True) == 1
    assert [item.code for item in found if isinstance(item, Alarm)] == [Code.CORRUPT]


def called(*words: str) -> BaseException:
    found = CliRunner().invoke(app, ["readout", "simulate", *words])
    assert found.exception is not None
    return found.exception


def test_a_script_with_mistakes_never_begins(tmp_path: Path) -> None:
    script = tmp_path / "pin.txt"
    script.write_text("x 5\njump\n", "utf-8")
    error = called("--script", str(script))
    assert isinstance(error, InputError)
    assert [m.where for m in error.mistakes] == ["pin.txt:2"]


def test_a_layout_is_named_by_its_id_or_its_file(tmp_path: Path) -> None:
    assert isinstance(called("--layout", "nonsense"), InputError)
    assert "two-axis line" in str(called("--layout", "nonsense"))
    assert isinstance(called("--layout", str(tmp_path / "none.toml")), InspectRecError)
    own = tmp_path / "own.toml"
    own.write_text("id = 'own'\n[frame]\npattern = '(?P<y>[+-]\\d{3}\\.\\d{3})'\n", "utf-8")
    with started("--layout", str(own)) as (process, address):
        port = int(address.rpartition(":")[2])
        with socket.create_connection(("127.0.0.1", port), timeout=3) as peer:
            assert type_(process, "y 7 over 0") == "Y goes to where it shows 7"
            data = b""
            while b"+007.000\r\n" not in data:
                more = peer.recv(100)
                assert more
                data += more


@posix
def test_on_a_screen_of_80_by_24_the_figures_stand_above_what_is_typed() -> None:
    program = Terminal([*PROGRAM, "--tcp", "0"])
    try:
        program.wait_for("? lists them")
        program.wait_for("nobody listens")
        program.wait_for("socket://127.0.0.1:")
        program.press("x 31.447 over 0\n")
        program.wait_for("X goes to where it shows 31.447")
        program.wait_for("+31.447 mm")
        program.press("fault blank z\n")
        program.wait_for("dark")
        program.wait_for("wrong: blank Z")
        program.press("off\n")
        program.wait_for(" off")
        program.press("quit\n")
        assert program.process.wait(5) == 0
        program.read()
        assert b"\x1b[r" in program.written
    finally:
        program.close()


# The page


def table(heading: str) -> dict[str, str]:
    """What a table of the page says, by its first column."""
    part = PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    return dict(re.findall(r"^\| `([^`]+)` \| (.+) \|$", part, re.MULTILINE))


def test_the_page_lists_every_command_and_every_fault() -> None:
    assert table("By hand") == dict(KNOWN)
    assert table("What can go wrong") == {name: fault.what for name, fault in FAULTS.items()}


def test_the_pages_script_does_what_its_remarks_say() -> None:
    text = PAGE.split("```text\n")[1].split("```")[0]
    player = Player(Display(TWO, seed=7), parse(text, "page", TWO))
    decoder, found = Decoder(TWO, "RO-1"), []
    start = datetime(2026, 11, 17, 8, 0, tzinfo=UTC)
    for at, data in [*player.advance(0.0), *player.advance(30.0)]:
        found += decoder.feed(data, start + timedelta(seconds=at))
    assert player.over
    assert player.said == []
    taken = [item for item in found if isinstance(item, Sighting) and item.key]
    assert [item.suspect is None for item in taken] == [True, False, False]
    first, _, last = ([float(r.value) for r in item.readings] for item in taken)
    assert first == pytest.approx([31.447, 142.318], abs=0.0015)
    assert last == pytest.approx([21.449, 142.318], abs=0.0015)
    assert Code.ZERO in [item.code for item in found if isinstance(item, Alarm)]


def test_every_call_on_the_page_is_one_that_the_command_takes() -> None:
    command = typer.main.get_command(app).commands["readout"].commands["simulate"]  # type: ignore[attr-defined]
    calls = re.findall(r"^inspect-rec readout simulate *([^#\n]*)", PAGE, re.MULTILINE)
    assert len(calls) == 4
    for call in calls:
        command.make_context("simulate", call.split())
