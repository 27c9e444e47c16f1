"""A network box that is gone without a word: found out, closed, opened anew; nothing doubled."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from drivers.decoder import Decoder
from drivers.layout import packaged
from drivers.network import Connection, knock
from drivers.opening import opened
from drivers.serial_port import BoxWay, SerialPort, SerialWay
from drivers.transport import Back, Chunk, Lost
from inspect_rec.reading import Sighting
from tests.drivers.peers import FRAME, read, until
from tests.programs import needs

LAYOUT = packaged()["two-axis line"]
QUICK = replace(LAYOUT, rules=replace(LAYOUT.rules, silent_s=0.5))
ON_KEY = replace(QUICK, rules=replace(QUICK.rules, sends="on key"))
HALF = FRAME[:8]


def listener() -> tuple[socket.socket, str]:
    server = socket.create_server(("127.0.0.1", 0), backlog=0)
    server.settimeout(5)
    return server, f"socket://127.0.0.1:{server.getsockname()[1]}"


# A box that stays silent and never hangs up


def test_a_box_that_falls_silent_is_lost_called_anew_and_back_with_its_next_bytes() -> None:
    server, url = listener()
    decoder = Decoder(QUICK, "RO-1")
    with server, opened(url, QUICK) as line:
        dead, _ = server.accept()
        with dead:
            dead.sendall(FRAME + HALF)
            first = until(line, Chunk)
            began = time.monotonic()
            lost = until(line, Lost)
            assert 0.3 < time.monotonic() - began < 1.0
            assert "nothing came for 0.5 s" in lost.why
            assert line.poll(0.2) is None  # connected, and still not back: nothing came yet
            anew, _ = server.accept()
            with anew:
                anew.sendall(FRAME)
                back = until(line, Back)
                second = until(line, Chunk)
    assert second.at == back.at
    assert [type(s) for s in decoder.feed(first.data, first.at)] == [Sighting]
    assert decoder.lost(lost.at).raw == HALF
    assert [type(s) for s in decoder.feed(second.data, second.at)] == [Sighting]
    assert second.data == FRAME


def test_a_box_that_stays_silent_is_called_anew_less_and_less_often_and_said_to_be_lost_once() -> (
    None
):
    server, url = listener()
    server.listen(10)
    calls: list[socket.socket] = []
    with server, opened(url, QUICK) as line:
        server.settimeout(0.01)
        news, end = [], time.monotonic() + 4.0
        while time.monotonic() < end:
            news.append(line.poll(0.05))
            with suppress(TimeoutError):
                calls.append(server.accept()[0])
    for own in calls:
        own.close()
    assert [type(found) for found in news if found is not None] == [Lost]
    assert 3 <= len(calls) <= 4  # at 0, 0.5, 1.5 and 3.5 s


def test_silence_of_a_readout_that_sends_on_its_key_means_nothing() -> None:
    server, url = listener()
    with server, opened(url, ON_KEY) as line:
        box, _ = server.accept()
        with box:
            end = time.monotonic() + 1.5
            while time.monotonic() < end:
                assert line.poll(0.1) is None
            box.sendall(FRAME)
            assert read(line, len(FRAME)) == FRAME


# A box that is off: not even a refusal


def fill(server: socket.socket) -> list[socket.socket]:
    """Calls until the next stays without any answer, as from a machine that is off."""
    calls: list[socket.socket] = []
    while True:
        own = socket.socket()
        own.settimeout(0.2)
        try:
            own.connect(server.getsockname())
        except TimeoutError:
            own.close()
            return calls
        calls.append(own)
        assert len(calls) < 20


def let_in(server: socket.socket, calls: list[socket.socket]) -> None:
    for own in calls:
        server.accept()[0].close()
        own.close()


linux = pytest.mark.skipif(sys.platform != "linux", reason="a full queue refuses elsewhere")


@linux
@pytest.mark.parametrize("off_s", [0.3, 1.1, 1.7])
def test_a_box_that_is_off_is_found_within_a_second_of_its_return(off_s: float) -> None:
    server, url = listener()
    calls = fill(server)
    with server, opened(url, LAYOUT) as line:
        assert "nothing answers there" in until(line, Lost).why
        end = time.monotonic() + off_s
        while time.monotonic() < end:
            assert line.poll(0.05) is None
        let_in(server, calls)
        began = time.monotonic()
        until(line, Back)
        assert time.monotonic() - began < 1.2


@linux
def test_a_box_that_is_off_keeps_nobody_waiting() -> None:
    server, url = listener()
    calls = fill(server)
    with server, opened(url, LAYOUT) as line:
        for _ in range(30):
            began = time.monotonic()
            line.poll(0.05)
            assert time.monotonic() - began < 0.3
        for own in calls:
            own.close()


@linux
def test_a_knock_at_a_box_that_is_off_takes_a_second_at_most() -> None:
    server, _ = listener()
    calls = fill(server)
    host, port = server.getsockname()
    began = time.monotonic()
    with pytest.raises(TimeoutError):
        knock(host, port)
    assert time.monotonic() - began < 1.0
    let_in(server, calls)
    knock(host, port)
    box, _ = server.accept()
    with box, server, pytest.raises(ConnectionResetError):
        box.recv(1)


def test_a_box_of_rfc2217_that_hung_is_knocked_at_before_pyserial_waits_for_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tried: list[SerialWay] = []

    def off(way: SerialWay) -> SerialPort:
        tried.append(way)
        time.sleep(0.05)
        raise OSError("timed out")

    monkeypatch.setattr(SerialWay, "open", off)
    monkeypatch.setattr("drivers.serial_port._HUNG_S", 0.04)
    server, _ = listener()
    host, port = server.getsockname()
    server.close()
    way = BoxWay("rfc2217://x", LAYOUT, host=host, port=port)
    with pytest.raises(OSError, match="timed out"):
        way.open()
    for _ in range(3):
        with pytest.raises(ConnectionRefusedError):
            way.open()
    assert tried == [way]


@pytest.mark.skipif(not hasattr(socket, "TCP_KEEPIDLE"), reason="named otherwise here")
def test_a_connection_is_probed_every_second_and_given_up_after_three() -> None:
    one, other = socket.create_server(("127.0.0.1", 0)), socket.socket()
    with one, other:
        other.connect(one.getsockname())
        Connection(other)
        assert other.getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
        level = socket.IPPROTO_TCP
        options = (socket.TCP_KEEPIDLE, socket.TCP_KEEPINTVL, socket.TCP_KEEPCNT)
        assert [other.getsockopt(level, option) for option in options] == [1, 1, 3]


# The power goes, for good: an interface is taken down, in a network of its own


def may_make_networks() -> bool:
    tried = subprocess.run(["unshare", "-rn", "true"], capture_output=True, check=False)
    return tried.returncode == 0


@cache
def seen() -> dict[str, Any]:
    if not may_make_networks():
        pytest.skip("this machine lets nobody make a network of his own (unshare -rn)")
    root = Path(__file__).parents[2]
    script = root / "tests" / "drivers" / "powered_off.py"
    ran = subprocess.run(
        ["unshare", "-rn", sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(root)},
        capture_output=True,
        timeout=60,
        check=True,
    )
    found: dict[str, Any] = json.loads(ran.stdout)
    return found


@needs("unshare")
@pytest.mark.parametrize(
    ("layout", "words", "longest_s"),
    [("by itself", "nothing came for 2 s", 2.6), ("on key", "answers no more", 6.0)],
)
def test_a_box_without_power_is_lost_and_found_within_a_second_of_its_return(
    layout: str, words: str, longest_s: float
) -> None:
    found = seen()[layout]
    assert words in found["why"]
    assert found["lost_s"] < longest_s
    assert found["quiet"]
    assert found["found_s"] < 1.2


@needs("unshare")
@pytest.mark.parametrize("layout", ["by itself", "on key"])
def test_the_half_line_of_a_box_without_power_is_dropped_and_nothing_is_doubled(
    layout: str,
) -> None:
    found = seen()[layout]
    whole = FRAME.replace(b" *", b"").decode()
    assert found["first"] == whole + whole[:8]
    assert found["half"] == whole[:8]
    assert found["second"] == whole
    assert found["sightings"] == [[True], [True]]


@needs("unshare")
def test_a_second_without_the_network_is_no_loss_and_nothing_is_lost() -> None:
    found, whole = seen()["short"], FRAME.replace(b" *", b"").decode()
    assert (found["before"], found["losses"], found["data"]) == (0, 0, 2 * whole)
