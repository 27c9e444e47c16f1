"""A store's file: private, made beside and moved into place whole, its errors said in words.

Knows nothing of what stands in it.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from inspect_rec.errors import StoreError


@contextmanager
def new(path: Path) -> Iterator[sqlite3.Connection]:
    """A new file that only its owner may read, where the system knows that; SQLite gives the files
    beside it the same permissions."""
    path.touch(mode=0o600, exist_ok=False)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        yield db


def remove(path: Path) -> None:
    """Remove what a killed program left of a file, and SQLite's files beside it."""
    for tail in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + tail).unlink(missing_ok=True)


def put_in_place(beside: Path, target: Path) -> None:
    """Give a whole file its name; both are on disk when this returns."""
    with beside.open("rb+") as file:
        os.fsync(file.fileno())
    beside.replace(target)
    if os.name != "nt":  # Windows can't sync a folder.
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


@contextmanager
def said(path: Path) -> Iterator[None]:
    """SQLite's own errors stop here."""
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        raise StoreError(
            "the store can't be used", found=str(error), where=str(path), do=_advice(error)
        ) from error


def _advice(error: Exception) -> str:
    text = str(error)
    if "locked" in text:
        return "Another program writes to it: close that program, then try again"
    if "full" in text:
        return "The disk is full: nothing was stored; make room, then try again"
    if "readonly" in text:
        return "Copy the file to a folder that may be written to"
    return ""
