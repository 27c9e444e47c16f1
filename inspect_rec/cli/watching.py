"""A watched folder: each file that is put there is taken once, then moved, whenever it is killed.

Looks again and again, since no system tells of a file in a folder of another machine. A file is
moved only when its entry is on disk; where the program was killed in between, the ledger knows the
file's digest, and it is only moved. What can't be read lies in ``refused``, the reason beside it.
"""

from __future__ import annotations

import os
import stat
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from drivers.watched import REFUSED, TAKEN, Seen, Watched, name_after
from inspect_rec.errors import InputError, InspectRecError, StoreError

if TYPE_CHECKING:
    from inspect_rec.cli.taking import Opened, Taker
    from inspect_rec.config import Folder
    from inspect_rec.ledger import Entry

EVERY_S = 0.5
"""Between two looks at the folder, at most; a shorter time to stand still is looked at oftener."""


def run(path: Path, folder: Folder, taker: Taker, *, still_s: float, once: bool) -> None:
    """Watch until it is interrupted, or with ``once`` until no file waits any more.

    Raises InputError where there is no such folder, LedgerError where the job isn't open.
    """
    from inspect_rec.capture.from_file import FromFile, Source
    from inspect_rec.store import Store

    if not path.is_dir():
        raise InputError("there is no such folder", where=str(path))
    with Store.open(folder.ledger) as store:
        FromFile(store, taker.inspection, taker.person, Source("", "", 0, ""))
    try:
        watched = Watched(still_s)
    except ValueError as error:
        raise InputError("--still is no time", expected=str(error), found=str(still_s)) from error
    watch = Watch(path, folder, taker)
    try:
        while True:
            complete = watched.look(_look(path), time.monotonic())
            dealt_with = {name for name in complete if watch.deal_with(path / name)}
            if once and watched.waiting <= dealt_with:
                return
            time.sleep(min(EVERY_S, still_s / 4))
    except KeyboardInterrupt:  # everything is on disk: it is a way to leave
        return


def _look(path: Path) -> dict[str, Seen]:
    """Plain files of the folder itself; links and folders are nobody's readings."""
    found = {}
    try:
        with os.scandir(path) as entries:
            for entry in entries:
                try:
                    about = entry.stat(follow_symlinks=False)
                except OSError:
                    continue  # it went away meanwhile
                if stat.S_ISREG(about.st_mode):
                    found[entry.name] = Seen(about.st_size, about.st_mtime_ns)
    except OSError as error:
        raise InputError("the folder can't be read", found=str(error), where=str(path)) from error
    return found


class Watch:
    """What is done with a complete file."""

    def __init__(self, path: Path, folder: Folder, taker: Taker) -> None:
        self.path, self.folder, self.taker = path, folder, taker
        self._said: dict[str, str] = {}

    def deal_with(self, file: Path) -> bool:
        """Take it and move it, or move it beside its reason; False while another writes to it.

        What has to do with this machine, not with the file, is said, and the file stays."""
        from inspect_rec.cli.taking import is_open_for_writing, opened

        try:
            if is_open_for_writing(file):
                return False
            with opened(file) as found:
                folder, reason, said = self._taken(found)
            self._move(file, folder, found.digest, reason)
        except (StoreError, InputError, OSError) as error:
            said = str(error)
        self._say(file.name, said)
        return True

    def _taken(self, found: Opened) -> tuple[str, str, str]:
        """The folder for it, the words to lie beside it, and what is said of it."""
        from inspect_rec.capture.from_file import said

        entry = self._entry(found.digest)
        if entry is None:
            try:
                self.taker.take(found)
            except StoreError:
                raise
            except InspectRecError as error:
                found.unchanged()
                return REFUSED, str(error), f"refused. {error}"
            entry = self._entry(found.digest)
        found.unchanged()
        if entry is None:
            return REFUSED, "no row of it was taken", "refused. No row of it was taken"
        rows = len(entry.body.get("rows", []))
        left = "\n".join(said(entry))
        more = f", {entry.body['refused_in_all']} mistakes" if left else ""
        return TAKEN, left, f"taken, entry {entry.seq}, {rows} rows{more}"

    def _entry(self, digest: str) -> Entry | None:
        """The entry by which the ledger knows a file; None where it doesn't."""
        from inspect_rec.capture.from_file import NAMING_A_FILE, known
        from inspect_rec.store import Store

        with Store.open(self.folder.ledger) as store:
            return known(store.entries(kinds=NAMING_A_FILE)).files.get(digest)

    def _move(self, file: Path, folder: str, digest: str, reason: str) -> None:
        """The reason first, so that a file that lies there always has it beside it."""
        from inspect_rec.config import write_whole

        target = self.path / folder / name_after(file.name, digest)
        target.parent.mkdir(exist_ok=True)
        if reason:
            write_whole(target.with_name(f"{target.name}.txt"), (reason + "\n").encode())
        file.replace(target)

    def _say(self, name: str, words: str) -> None:
        """Once, as long as it stays the same."""
        if self._said.get(name) != words:
            self._said[name] = words
            typer.echo(f"{name}: {words}")
            sys.stdout.flush()
