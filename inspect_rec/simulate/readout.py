"""A simulated readout on a wire of this machine, for learning, demo and tests.

It stands below the decoder, so the real one runs. ``SimulatedReadout`` sends what it is told to,
and never sleeps; ``Running`` plays a display on a wire in real time.
"""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator
from decimal import Decimal, InvalidOperation
from typing import Self

from drivers.layout import Layout, packaged
from inspect_rec.errors import ReadoutError
from inspect_rec.simulate.script import Player
from inspect_rec.simulate.speaking import Said, Speaker
from inspect_rec.simulate.wire import SOCKET, TcpWire, Wire

LAYOUT = "two-axis line"
_LONGEST_S = 0.05
"""Between two looks at the wire."""


class SimulatedReadout:
    """A readout behind ``url``; use it as a context manager.

    ``layout``: what ``show`` sends is of it; the packaged one of two slides by default.
    """

    def __init__(self, layout: Layout | None = None) -> None:
        self.layout = layout or packaged()[LAYOUT]
        self._speaker = Speaker(self.layout)
        self._wire = TcpWire()
        self._count = self.layout.figures.count_from

    @property
    def url(self) -> str:
        """Where pyserial finds it."""
        return self._wire.address

    @property
    def _client(self) -> socket.socket | None:
        """The listener's end."""
        return self._wire.client

    def meet(self) -> None:
        """Wait for the next listener, and let the one before go."""
        self._wire.meet()

    def send(self, data: bytes) -> None:
        """Send bytes to whoever listens; waits for the first listener."""
        self._wire.send(data)

    def show(self, x: Decimal | str, z: Decimal | str, *, key: bool = False) -> bytes:
        """Send these figures, by the print key or on the way; gives their bytes.

        Raises ReadoutError for figures that a frame of the layout can't show.
        """
        try:
            figures = {"X": Decimal(x), "Z": Decimal(z)}
        except InvalidOperation as error:
            raise ReadoutError(
                "the simulated readout can't show this",
                expected="figures such as 36.449",
                found=f"X {x}, Z {z}",
            ) from error
        frames = self._speaker.frames(Said(figures, key=key, count=self._count))
        for _ in frames:
            self._count = self._speaker.next(self._count)
        sent = b"".join(frames)
        self.send(sent)
        return sent

    def unplug(self) -> None:
        """Let the line go; waits for the first listener."""
        if self._client is None:
            self._wire.meet()
        self._wire.unplug()

    def plug_in(self) -> None:
        """Take the line up again under the same url."""
        self._wire.plug_in()

    def close(self) -> None:
        """Stop."""
        self._wire.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


class Running:
    """Plays ``player`` on ``wire``; a script's clock starts with the first listener.

    ``clock``: seconds; ``listens``: whether somebody does. ``poll`` does what is due and gives the
    seconds until it should be called again.
    """

    def __init__(
        self, player: Player, wire: Wire, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.player, self.wire = player, wire
        self.listens = False
        self._clock, self._start = clock, clock()
        self._met = False
        self._plugged = True
        self._lock = threading.Lock()
        player.begin(None)

    @property
    def address(self) -> str:
        """Where it is found, as a readout's address is written."""
        modbus = self.player.display.layout.modbus
        if modbus is None:
            return self.wire.address
        if self.wire.address.startswith(SOCKET):
            host = self.wire.address.removeprefix(SOCKET)
            return f"modbus-tcp://{host}/{modbus.unit}"
        return f"modbus-rtu:{self.wire.address}/{modbus.unit}"

    @property
    def now_s(self) -> float:
        """Seconds since it runs."""
        return self._clock() - self._start

    def poll(self) -> float:
        """Do what is due."""
        with self._lock:
            self.listens = self.wire.listened()
            now, display = self.now_s, self.player.display
            if self.listens and not self._met:
                self._met = True
                self.player.begin(now)
            asked = self.wire.heard()
            display.skip(now)
            for _, data in self.player.advance(now):
                self._plug()
                self.wire.offer(data)
            self._plug()
            if asked:
                self.wire.offer(display.asked(asked, now))
            due = self.player.next_s(now)
            return _LONGEST_S if due is None else min(max(due - self.now_s, 0.0), _LONGEST_S)

    def act(self, done: Callable[[float], bytes]) -> None:
        """Do what a person does now, and send what that sends."""
        with self._lock:
            self.wire.offer(done(self.now_s))
            self._plug()

    def _plug(self) -> None:
        plugged = self.player.display.plugged
        if plugged != self._plugged:
            self._plugged = plugged
            if plugged:
                self.wire.plug_in()
            else:
                self.wire.unplug()

    @contextlib.contextmanager
    def in_background(self) -> Iterator[Self]:
        """Runs in a thread of its own until it is left or over."""
        stop = threading.Event()

        def run() -> None:
            while not self.player.over and not stop.wait(self.poll()):
                pass

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        try:
            yield self
        finally:
            stop.set()
            thread.join()
            self.wire.close()
