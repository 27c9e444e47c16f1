"""A readout whose bytes another program sends to standard input: never asked, never back."""

from __future__ import annotations

import os
import queue
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from typing import IO, Self

from drivers.transport import Back, Chunk, Lost, now, why

_BLOCK = 64 * 1024
_MOST = 64
"""Chunks that wait to be fetched; the other program waits while there are so many."""
_WAIT_S = 0.1


class StandardInput:
    """Standard input, or another stream, as a line; use it as a context manager."""

    def __init__(
        self, clock: Callable[[], datetime] = now, stream: IO[bytes] | None = None
    ) -> None:
        own = None if sys.stdin is None else sys.stdin.buffer
        self._stream, self._clock = stream or own, clock
        self._news: queue.Queue[Chunk | Lost] = queue.Queue(_MOST)
        self._left = threading.Event()
        self._ended = False

    def __enter__(self) -> Self:
        threading.Thread(target=self._run, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._left.set()

    def poll(self, timeout_s: float = 0.2) -> Chunk | Lost | Back | None:
        """The bytes that wait, or come within the time; once, that there will be no more."""
        if self._ended:
            time.sleep(timeout_s)
            return None
        with suppress(queue.Empty):
            found = self._news.get(timeout=timeout_s)
            self._ended = isinstance(found, Lost)
            return found
        return None

    def _run(self) -> None:
        """Reads in a thread of its own: on Windows nobody can wait for a pipe and for a time."""
        words = "it is at its end"
        try:
            while self._stream is not None and not self._left.is_set():
                data = os.read(self._stream.fileno(), _BLOCK)
                if not data:
                    break
                self._put(Chunk(data, self._clock()))
        except (OSError, ValueError) as error:  # ValueError: closed from this side
            words = why(error)
        self._put(Lost(f"Standard input: {words}. Nothing more comes from it", self._clock()))

    def _put(self, news: Chunk | Lost) -> None:
        while not self._left.is_set():
            with suppress(queue.Full):
                self._news.put(news, timeout=_WAIT_S)
                return
