"""Standard input as a line: bytes as they came, and its end said once."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from typing import IO

from drivers.standard_input import StandardInput
from drivers.transport import Chunk, Lost
from tests.drivers.peers import FRAME, read, until

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)


@contextmanager
def pipe() -> Iterator[tuple[IO[bytes], IO[bytes]]]:
    ours, theirs = os.pipe()
    with closing(os.fdopen(ours, "rb", 0)) as one, closing(os.fdopen(theirs, "wb", 0)) as other:
        yield one, other


def test_bytes_come_as_they_were_sent_with_the_instant_of_the_clock() -> None:
    with pipe() as (ours, theirs), StandardInput(lambda: AT, ours) as line:
        theirs.write(FRAME)
        assert until(line, Chunk) == Chunk(FRAME, AT)
        assert line.poll(0.01) is None
        theirs.write(FRAME * 3)
        assert read(line, 3 * len(FRAME)) == FRAME * 3


def test_its_end_is_said_once_after_all_that_came_before() -> None:
    with pipe() as (ours, theirs), StandardInput(lambda: AT, ours) as line:
        theirs.write(FRAME)
        theirs.close()
        assert until(line, Chunk).data == FRAME
        assert "at its end" in until(line, Lost).why
        assert [line.poll(0.01) for _ in range(3)] == [None] * 3


def test_a_sender_that_is_faster_waits_and_nothing_is_lost() -> None:
    program = "import sys; sys.stdout.buffer.write(b'0123456789' * 1_000_000)"
    with subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE) as sender:
        assert sender.stdout is not None
        with StandardInput(stream=sender.stdout) as line:
            assert read(line, 10_000_000) == b"0123456789" * 1_000_000
            until(line, Lost)


def test_a_program_without_standard_input_has_a_lost_line() -> None:
    line = StandardInput(lambda: AT)
    line._stream = None
    with line:
        assert until(line, Lost).at == AT
