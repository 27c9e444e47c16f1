"""Keys as a terminal sends them."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time

import pytest

from inspect_rec.cli import keys


def pressed(text: str) -> list[str]:
    """What comes out for the characters of a terminal."""
    characters = iter(text)
    source = keys.Keys(lambda: next(characters, ""))
    found: list[str] = []
    until = time.monotonic() + 5
    while found[-1:] != [keys.LEAVE] and time.monotonic() < until:
        found += [key for key in (source.next(),) if key is not None]
    return found[:-1]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (" \r\n\x7f\x08", [keys.TAKE] * 3 + [keys.STRIKE] * 2),
        ("\x1b[D\x1b[C\x1bOQ\x1b[3~\x1b[1;5Dg", [keys.OTHER] * 5 + ["g"]),
        ("\x1bd ", [keys.OTHER, keys.TAKE]),
        ("\x1b", [keys.OTHER]),
        ("\x1b[", [keys.OTHER]),
        ("d", ["d"]),
    ],
    ids=["named", "arrows and the like", "with Alt", "cut off", "cut off later", "letter"],
)
def test_an_arrow_is_no_letter(text: str, expected: list[str]) -> None:
    """Left arrow ends in D, which records that the wheel was dressed."""
    assert pressed(text) == expected


WHERE_STDIN_IS_A_READOUT = """
import os, sys, time
from inspect_rec.cli import keys
ours, theirs = os.pipe()
os.write(theirs, b" X+0036.449 \\n")
os.dup2(ours, 0)
with keys.opened(piped=False) as pressed:
    print("ready", flush=True)
    found, until = [], time.monotonic() + 10
    while "g" not in found and time.monotonic() < until:
        key = pressed.next()
        if key is not None:
            found.append(key)
        time.sleep(0.01)
print("keys", found, os.read(0, 100), flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_where_standard_input_is_a_readout_its_bytes_are_no_keys() -> None:
    """A space would take a reading; the person's keys come from the terminal."""
    import pty

    process, master = pty.fork()
    if process == 0:
        os.execv(sys.executable, [sys.executable, "-c", WHERE_STDIN_IS_A_READOUT])
    said = b""

    def until(words: bytes) -> None:
        nonlocal said
        end = time.monotonic() + 20
        while words not in said:
            assert time.monotonic() < end, said
            if select.select([master], [], [], 0.1)[0]:
                said += os.read(master, 1000)

    try:
        until(b"ready")
        os.write(master, b" g")
        until(b"449 ")
        until(b"n'")
    finally:
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        os.close(master)
    assert b"keys ['take', 'g'] b' X+0036.449 \\n'" in said


@pytest.mark.skipif(not hasattr(os, "setsid"), reason="needs a session of its own")
def test_without_a_terminal_nobody_presses_anything_and_nobody_leaves() -> None:
    program = (
        "import time; from inspect_rec.cli import keys\n"
        "with keys.opened(piped=False) as pressed:\n"
        "    time.sleep(0.3); print(pressed.next())\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program],
        input=b" q",
        capture_output=True,
        start_new_session=True,
        check=True,
        timeout=30,
    )
    assert ran.stdout.split() == [b"None"]
