"""Boxes that call: one at a time, a new call for a dead one, and never two mixed."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest

from drivers.layout import Layout, packaged
from drivers.lines import Pollable
from drivers.opening import opened
from drivers.server import ServerWay
from drivers.transport import Back, Chunk, Line, Lost
from tests.drivers.peers import FRAME, comes, free_port, read, running, until
from tests.programs import needs

LAYOUT = packaged()["two-axis line"]
QUICK = replace(LAYOUT, rules=replace(LAYOUT.rules, silent_s=0.5))
ON_KEY = replace(LAYOUT, rules=replace(LAYOUT.rules, sends="on key"))


@contextmanager
def listening(layout: Layout = LAYOUT, host: str = "127.0.0.1") -> Iterator[tuple[Line, int]]:
    way = ServerWay(f"listen://{host}:0", host, 0, layout)
    with Line(way, layout) as line:
        yield line, way.port


def call(port: int, source: str = "127.0.0.1") -> socket.socket:
    own = socket.create_connection(("127.0.0.1", port), 5, (source, 0))
    own.settimeout(5)
    return own


def turned_away(own: socket.socket) -> bool:
    try:
        return own.recv(1) == b""
    except ConnectionResetError:
        return True


def quiet(line: Pollable, seconds: float) -> None:
    """Read for a while, and hear nothing."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        assert line.poll(0.05) is None


def test_the_bytes_of_a_box_that_calls_are_handed_on() -> None:
    with listening() as (line, port), call(port) as own:
        own.sendall(FRAME * 3)
        assert read(line, 3 * len(FRAME)) == FRAME * 3


def test_until_a_box_calls_the_line_is_lost_and_then_it_is_back_within_a_second() -> None:
    with listening() as (line, port):
        assert "no box has called here yet" in until(line, Lost).why
        quiet(line, 1.0)
        began = time.monotonic()
        with call(port) as own:
            until(line, Back)
            assert time.monotonic() - began < 1.0
            own.sendall(FRAME)
            assert read(line, len(FRAME)) == FRAME


def test_what_a_box_sent_before_it_hung_up_comes_before_its_loss_and_the_next_call_is_taken() -> (
    None
):
    with listening() as (line, port):
        with call(port) as own:
            own.sendall(FRAME + FRAME[:5])
        assert read(line, len(FRAME) + 5) == FRAME + FRAME[:5]
        assert "broke off" in until(line, Lost).why
        with call(port) as own:
            until(line, Back)
            own.sendall(FRAME)
            assert read(line, len(FRAME)) == FRAME


def test_a_second_box_is_turned_away_while_the_first_is_alive() -> None:
    with listening() as (line, port), call(port) as own:
        comes(line)
        with call(port) as other:
            other.sendall(b"of another box\r\n")
            heard = b""
            for _ in range(20):
                own.sendall(FRAME)
                heard += read(line, len(FRAME))
                time.sleep(0.02)
            assert turned_away(other)
        assert heard == FRAME * 20


def test_a_box_elsewhere_is_turned_away_from_a_box_that_sends_on_its_key_only() -> None:
    with listening(ON_KEY) as (line, port), call(port) as own:
        own.sendall(FRAME)
        read(line, len(FRAME))
        quiet(line, 1.2)
        with call(port, "127.0.0.2") as other:
            quiet(line, 0.5)
            assert turned_away(other)
        own.sendall(FRAME)
        assert read(line, len(FRAME)) == FRAME


@pytest.mark.parametrize("layout", [LAYOUT, ON_KEY], ids=["by itself", "on key"])
def test_a_box_that_calls_anew_takes_the_place_of_its_dead_call(layout: Layout) -> None:
    with listening(layout) as (line, port), call(port) as dead:
        dead.sendall(FRAME + FRAME[:9])
        read(line, len(FRAME) + 9)
        time.sleep(1.1)
        with call(port) as anew:
            anew.sendall(FRAME)
            began = time.monotonic()
            assert "called anew" in until(line, Lost).why
            until(line, Back)
            assert until(line, Chunk).data == FRAME
            assert time.monotonic() - began < 1.0
            assert turned_away(dead)


def test_a_box_elsewhere_takes_the_place_of_one_that_was_silent_for_too_long() -> None:
    with listening(QUICK) as (line, port), call(port) as dead:
        dead.sendall(FRAME)
        read(line, len(FRAME))
        assert "nothing came for 0.5 s" in until(line, Lost).why
        assert turned_away(dead)
        with call(port) as silent:
            comes(line)
            quiet(line, 0.7)
            with call(port, "127.0.0.2") as other:
                other.sendall(FRAME)
                until(line, Back)
                assert until(line, Chunk).data == FRAME
                assert turned_away(silent)


def test_a_port_that_another_program_listens_at_is_said_and_taken_when_it_is_free() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        line = opened(f"listen://127.0.0.1:{port}", LAYOUT)
        with line:
            assert "another program listens there already" in until(line, Lost).why
            other.close()
            end = time.monotonic() + 5
            while True:
                try:
                    own = call(port)
                except ConnectionRefusedError:
                    assert time.monotonic() < end
                    line.poll(0.05)
                else:
                    break
            with own:
                until(line, Back)


def test_a_line_that_was_left_listens_no_more_and_hangs_up() -> None:
    with listening() as (line, port):
        own = call(port)
        comes(line)
    with own:
        assert turned_away(own)
    with pytest.raises(ConnectionRefusedError):
        call(port)


@needs("socat")
def test_an_independent_program_that_calls_is_heard_and_may_call_again() -> None:
    port = free_port()
    with opened(f"listen://127.0.0.1:{port}", LAYOUT) as line:
        for turn in range(3):
            with running("socat", "-u", "-", f"tcp:127.0.0.1:{port},retry=50,interval=0.1") as peer:
                assert peer.stdin is not None
                peer.stdin.write(FRAME * (turn + 1))
                peer.stdin.flush()
                assert read(line, len(FRAME) * (turn + 1)) == FRAME * (turn + 1)
            until(line, Lost)
