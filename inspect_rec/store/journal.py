"""The raw record: every byte of every readout with its instant, so that it can be decoded again.

A journal is a folder of recordings, one row of files a readout: JSON Lines ``{"at", "hex"}``, begun
anew at a size, the finished ones compressed, the oldest let go beyond a bound. What is taken never
hangs on it: an entry holds the bytes of its own reading.
"""

from __future__ import annotations

import gzip
import os
import re
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Self, TextIO

from inspect_rec.errors import InputError, StoreError

ONE_FILE = 4 * 1024 * 1024
"""Bytes of one recording, before it is compressed: about an hour of two axes ten times a second."""
ALL_FILES = 2 * 1024**3
"""Bytes of a whole journal: years of one readout."""
STALE_S = 24 * 3600
"""A recording that nobody wrote into for a day isn't open any more."""
_NAME = re.compile(r"(?P<source>[\w.-]+)-(?P<begun>\d{8}T\d{12})\.jsonl(\.gz)?")


def now() -> datetime:
    """The wall clock, in UTC."""
    return datetime.now(UTC)


class Journal:
    """Writes the recordings of one readout; use it as a context manager.

    Raises StoreError where the first file can't be begun; later a disk that is full is told by
    ``write``, and what comes next is tried again.
    """

    def __init__(
        self,
        folder: Path,
        source: str,
        *,
        one_file: int = ONE_FILE,
        all_files: int = ALL_FILES,
        clock: Callable[[], datetime] = now,
    ) -> None:
        self._folder, self._source = folder, re.sub(r"[^\w.-]", "_", source) or "_"
        self._one, self._all, self._clock = one_file, all_files, clock
        self._file: TextIO | None = None
        self._path: Path | None = None
        self._written = 0

    def __enter__(self) -> Self:
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            for left in self._folder.glob(f"{self._source}-*.jsonl"):
                # Left by a program that was stopped in the middle of it, and not by one that runs.
                if self._clock().timestamp() - left.stat().st_mtime > STALE_S:
                    _compressed(left)
            self._begin()
        except OSError as error:
            raise StoreError(
                "the journal of raw bytes can't be written",
                found=str(error),
                where=str(self._folder),
                do="Make room or let this person write there, then measure again",
            ) from error
        return self

    def __exit__(self, *_: object) -> None:
        self._end()

    def write(self, data: bytes, at: datetime) -> str:
        """Bytes as they came. Gives what is wrong, in words; empty where nothing is."""
        stamp = at.isoformat().replace("+00:00", "Z")
        line = f'{{"at": "{stamp}", "hex": "{data.hex()}"}}\n'
        try:
            if self._file is None or self._written + len(line) > self._one:
                self._end()
                self._begin()
            assert self._file is not None  # noqa: S101 - begun
            self._file.write(line)
            self._file.flush()
        except OSError as error:
            broken, self._file = self._file, None
            if broken is not None:
                with suppress(OSError):
                    broken.close()
            return f"The journal of raw bytes isn't written: {error}. Is the disk full?"
        self._written += len(line)
        return ""

    def _begin(self) -> None:
        name = f"{self._source}-{self._clock():%Y%m%dT%H%M%S%f}.jsonl"
        self._path, self._written = self._folder / name, 0
        self._file = self._path.open("x", encoding="utf-8", newline="\n")

    def _end(self) -> None:
        file, self._file = self._file, None
        if file is None or self._path is None:
            return
        file.close()
        _compressed(self._path)
        self._let_go()

    def _let_go(self) -> None:
        """The oldest recordings beyond the bound, whoever wrote them."""
        kept = sorted(
            (p for p in self._folder.iterdir() if _NAME.fullmatch(p.name)),
            key=lambda p: _NAME.fullmatch(p.name)["begun"],  # type: ignore[index]
        )
        total = sum(p.stat().st_size for p in kept)
        while total > self._all and len(kept) > 1:
            oldest = kept.pop(0)
            total -= oldest.stat().st_size
            oldest.unlink()


def _compressed(path: Path) -> None:
    """``path`` as .gz beside it; an empty recording is none. Cut short, either the one or the
    other is whole."""
    data = path.read_bytes()
    if data:
        made = path.with_name(path.name + ".gz.part")
        # No name and no instant inside: the same recording gives the same bytes.
        with made.open("wb") as raw:
            with gzip.GzipFile(filename="", fileobj=raw, mode="wb", mtime=0) as packed:
                packed.write(data)
            raw.flush()
            os.fsync(raw.fileno())
        made.replace(path.with_name(path.name + ".gz"))
    path.unlink()


def recording(path: Path, largest: int = 256 * 1024 * 1024) -> bytes:
    """The bytes of a recording's file, unpacked where it is compressed."""
    try:
        if path.suffix != ".gz":
            if path.stat().st_size > largest:
                raise InputError("the recording is too large", where=path.name)
            return path.read_bytes()
        with gzip.open(path) as packed:
            data = packed.read(largest + 1)
    except (OSError, EOFError, gzip.BadGzipFile) as error:
        raise InputError("the recording can't be read", found=str(error), where=str(path)) from None
    if len(data) > largest:
        raise InputError("the recording is too large", where=path.name)
    return data
