"""A readout that answers is asked, one request at a time; any other is never sent a byte."""

from __future__ import annotations

import os
import select
import socket
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from drivers.asking import Asking
from drivers.decoder import Decoder
from drivers.layout import Layout, packaged, parse
from drivers.lines import Pollable
from drivers.opening import opened
from drivers.parts import Asks
from drivers.transport import Back, Chunk, Lost
from inspect_rec.reading import Sighting
from tests.drivers.peers import FRAME, appears, comes, free_port, read, running, until
from tests.programs import needs

AT = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)
LAYOUT = packaged()["two-axis line"]
ASKED = parse(
    'id = "asked"\n[asks]\nrequest = "?\\r"\nevery_ms = 50\nanswer_ms = 400\n'
    "[frame]\nterminator = \"\\r\\n\"\npattern = 'X(?P<x>[+-]\\d{4}\\.\\d{3})'\n"
    '[rules]\nsends = "when asked"\n',
    "asked.toml",
)
REQUEST = b"?\r"


@contextmanager
def box() -> Iterator[tuple[str, socket.socket]]:
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(5)
        yield f"socket://127.0.0.1:{server.getsockname()[1]}", server


def meet(server: socket.socket) -> socket.socket:
    own, _ = server.accept()
    own.settimeout(5)
    return own


def got(own: socket.socket, count: int) -> bytes:
    data = b""
    while len(data) < count:
        more = own.recv(count - len(data))
        assert more, "the line was closed"
        data += more
    return data


@contextmanager
def polled(line: Pollable) -> Iterator[list[Chunk | Lost | Back]]:
    """The line, read in a thread of its own."""
    found: list[Chunk | Lost | Back] = []
    stop = threading.Event()

    def run() -> None:
        while not stop.is_set():
            news = line.poll(0.05)
            if news is not None:
                found.append(news)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield found
    finally:
        stop.set()
        thread.join(5)


# When it is asked


def test_the_first_request_is_due_at_once_and_the_next_when_it_has_answered() -> None:
    asking = Asking(ASKED)
    assert asking.due_s(10.0) <= 0
    asking.asked(10.0)
    asking.heard(b"X+0001", AT)
    assert asking.due_s(10.0) == pytest.approx(0.4)
    asking.heard(b".000\r\n", AT)
    assert asking.due_s(10.02) == pytest.approx(0.03)


def test_half_an_answer_is_none_and_what_is_no_frame_is_a_bad_one() -> None:
    asking = Asking(ASKED)
    asking.asked(0.0)
    asking.heard(b"X+0", AT)
    assert asking.due_s(0.1) == pytest.approx(0.3)
    asking.heard(b"??\r\n", AT)
    assert asking.due_s(0.1) <= 0


def test_a_line_that_was_opened_anew_is_asked_at_once() -> None:
    asking = Asking(ASKED)
    asking.asked(0.0)
    asking.anew()
    assert asking.due_s(0.001) <= 0


@pytest.mark.parametrize(
    ("asks", "silent_s"),
    [(None, 2.0), (Asks(b"?", every_ms=200, answer_ms=500), 2.0), (Asks(b"?", 5000, 500), 5.5)],
    ids=["by itself", "often", "seldom"],
)
def test_silence_of_an_asked_readout_counts_from_its_requests(
    asks: Asks | None, silent_s: float
) -> None:
    layout = replace(LAYOUT, asks=asks)
    decoder = Decoder(layout, "RO-1")
    decoder.feed(FRAME, AT)
    assert layout.silent_s == silent_s
    assert decoder.silent(AT + timedelta(seconds=silent_s - 0.1)) is None
    assert decoder.silent(AT + timedelta(seconds=silent_s)) is not None


# On a line


def test_a_readout_that_answers_is_asked_again_and_again_one_request_at_a_time() -> None:
    with box() as (url, server), opened(url, ASKED) as line, polled(line) as found:
        own = meet(server)
        with own:
            for n in range(20):
                assert got(own, len(REQUEST)) == REQUEST
                assert not select.select([own], [], [], 0.06)[0], "asked before it answered"
                own.sendall(f"X+0001.{n:03}\r\n".encode())
            got(own, len(REQUEST))
        data = b"".join(each.data for each in found if isinstance(each, Chunk))
    sightings = Decoder(ASKED, "RO-1").feed(data, AT)
    assert [s.readings[0].value * 1000 for s in sightings if isinstance(s, Sighting)] == [
        1000 + n for n in range(20)
    ]


def test_the_next_request_waits_for_its_time() -> None:
    slow = replace(ASKED, asks=replace(ASKED.asks, every_ms=300))  # type: ignore[type-var]
    with box() as (url, server), opened(url, slow) as line, polled(line):
        own = meet(server)
        with own:
            got(own, len(REQUEST))
            own.sendall(b"X+0001.000\r\n")
            began = time.monotonic()
            got(own, len(REQUEST))
            assert 0.2 < time.monotonic() - began < 0.6


def test_an_answer_that_does_not_come_is_asked_for_again_after_its_time() -> None:
    with box() as (url, server), opened(url, ASKED) as line, polled(line):
        own = meet(server)
        with own:
            got(own, len(REQUEST))
            began = time.monotonic()
            assert got(own, len(REQUEST)) == REQUEST
            assert 0.3 < time.monotonic() - began < 0.8


def test_a_readout_that_can_not_be_written_to_is_lost() -> None:
    with box() as (url, server), opened(url, ASKED) as line:
        meet(server).close()
        until(line, Lost)


# On all others no byte leaves

EVERY = [each for _, each in sorted(packaged().items()) if not (each.asks or each.modbus)]
every = pytest.mark.parametrize("layout", EVERY, ids=lambda layout: layout.id)


def listen_for_a_while(line: Pollable) -> None:
    """Reads, a pause, silence, all that a job does."""
    end = time.monotonic() + 0.4
    while time.monotonic() < end:
        line.poll(0.02)


@every
def test_no_byte_leaves_for_a_box_in_the_network(layout: Layout) -> None:
    with box() as (url, server), opened(url, layout) as line:
        own = meet(server)
        with own:
            own.sendall(FRAME * 3 + FRAME[:7])
            listen_for_a_while(line)
            line.__exit__(None, None, None)
            assert own.recv(1) == b""


@every
def test_no_byte_leaves_for_a_box_that_calls(layout: Layout) -> None:
    port = free_port()
    with (
        opened(f"listen://127.0.0.1:{port}", layout) as line,
        socket.create_connection(("127.0.0.1", port), 5) as own,
    ):
        own.sendall(FRAME * 3)
        listen_for_a_while(line)
        line.__exit__(None, None, None)
        assert own.recv(1) == b""


@every
def test_no_byte_leaves_for_a_device(layout: Layout) -> None:
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    with opened(os.ttyname(slave), layout) as line:
        comes(line)
        os.write(master, FRAME * 3)
        listen_for_a_while(line)
        assert not select.select([master], [], [], 0.1)[0]
    assert not select.select([master], [], [], 0.1)[0]
    os.close(master)
    os.close(slave)


def test_the_proof_can_fail_a_request_is_seen_at_a_device() -> None:
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    with opened(os.ttyname(slave), ASKED) as line:
        comes(line)
        listen_for_a_while(line)
        assert os.read(master, 100).startswith(REQUEST)
        os.write(master, b"X+0001.000\r\n")
        assert read(line, 12) == b"X+0001.000\r\n"
    os.close(master)
    os.close(slave)


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # inside pyserial 3.5
@needs("ser2net", "socat")
@pytest.mark.parametrize(
    ("layout", "sent"), [(LAYOUT, b""), (ASKED, REQUEST)], ids=["not", "asked"]
)
def test_behind_a_box_that_speaks_rfc2217_the_readout_gets_the_request_alone(
    tmp_path: Path, layout: Layout, sent: bytes
) -> None:
    device, port, seen = tmp_path / "tty", free_port(), tmp_path / "seen"
    config = tmp_path / "ser2net.yaml"
    config.write_text(
        "connection: &box\n"
        f"  accepter: telnet(rfc2217),tcp,127.0.0.1,{port}\n"
        f"  connector: serialdev,{device},9600n81,local\n",
        encoding="utf-8",
    )
    with running("socat", "-u", f"pty,raw,echo=0,link={device}", f"create:{seen}"):
        appears(device)
        with (
            running("ser2net", "-n", "-c", str(config)),
            opened(f"rfc2217://127.0.0.1:{port}?ign_set_control", layout) as line,
        ):
            comes(line)
            listen_for_a_while(line)
        assert seen.read_bytes()[: len(REQUEST)] == sent
