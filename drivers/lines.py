"""Several lines at a time, each read in a thread of its own; news of all in the order of arrival.

A readout that is slow, silent or gone never holds up another, nor the keys.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Protocol, Self

from drivers.transport import Back, Chunk, Lost


class Pollable(Protocol):
    """A line that can be asked for its news."""

    def poll(self, timeout_s: float) -> Chunk | Lost | Back | None:
        """The bytes that wait or come within the time, or that the line went or came back."""

    def __enter__(self) -> object: ...

    def __exit__(self, *error: object) -> None: ...


@dataclass(frozen=True, slots=True)
class News:
    """What a line had to say; ``source`` is the readout's id in the register."""

    source: str
    what: Chunk | Lost | Back


_POLL_S = 0.1
_MOST = 100_000
"""News that wait to be fetched; a program that fetches none for an hour isn't alive."""


class Lines:
    """Reads several lines; use it as a context manager. ``lines``: id of the readout -> line."""

    def __init__(self, lines: Iterable[tuple[str, Pollable]]) -> None:
        self._lines = tuple(lines)
        self._news: queue.Queue[News] = queue.Queue(_MOST)
        self._stop = threading.Event()
        self._threads: list[threading.Thread] = []
        self._opened: list[Pollable] = []

    def __enter__(self) -> Self:
        try:
            for source, line in self._lines:
                line.__enter__()
                self._opened.append(line)
                thread = threading.Thread(target=self._read, args=(source, line), daemon=True)
                self._threads.append(thread)
                thread.start()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join(2 * _POLL_S + 1)
        for line in self._opened:
            line.__exit__(None, None, None)
        self._opened.clear()

    def poll(self, timeout_s: float) -> News | None:
        """The next news, or None when none come within the time."""
        with suppress(queue.Empty):
            return self._news.get(timeout=timeout_s)
        return None

    def _read(self, source: str, line: Pollable) -> None:
        while not self._stop.is_set():
            found = line.poll(_POLL_S)
            if found is not None:
                self._news.put(News(source, found))
