"""The command for a whole job: the reports of all its tools, and the batch sheet."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.people import Signer
    from inspect_rec.release.batch import Left
    from inspect_rec.release.handing import HandedOver
    from inspect_rec.store import Store

JOB = typer.Argument(..., metavar="JOB", help="Such as I1.")


def register(app: typer.Typer) -> None:
    """Enter the command."""
    app.command()(batch)


def batch(
    job: str = JOB,
    handover: bool = typer.Option(
        False, "--handover", help='Sign the tools\' reports "measured by" instead.'
    ),
    workers: int | None = typer.Option(
        None, "--workers", metavar="N", min=0, max=16, help="Processes that draw; else as it pays."
    ),
    out: Path | None = typer.Option(
        None, "--out", metavar="FILE", help="A copy of the sheet, beside the shop's own."
    ),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Make a job's batch sheet, or hand over all its tools.

    The sheet sums up a job once its reports are decided, names each of them with its SHA-256 and
    is signed "released by". With --handover the reports of all tools that are measured are made
    and signed "measured by"; Ctrl-C stops that after the report in hand, and the same command
    goes on with the next number.

    Example: inspect-rec batch I1 --person Q-01 --out I1-batch.pdf
    """
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.signer(folder, person, passphrase_file)
    with Store.open(folder.ledger) as store:
        if handover:
            _hand_over(store, folder, job, who, workers, as_json=as_json)
        else:
            _sheet(store, folder, job, who, out, as_json=as_json)


# -- all tools of the job ------------------------------------------------------------


def _hand_over(
    store: Store, folder: Folder, job: str, who: Signer, workers: int | None, *, as_json: bool
) -> None:
    from inspect_rec.release.batch import Left, hand_over_all, survey

    found = survey(store, folder, job)
    tell = _Teller(len(found.to_do), quiet=as_json)
    if found.done:
        tell.say(f"{len(found.done)} handed over already")
    with _stopped_by_key(tell) as stopped:
        for each in hand_over_all(
            store, folder, found.to_do, who, asking.now, workers=workers, stopped=stopped
        ):
            if isinstance(each, Left):
                tell.left(each)
            else:
                tell.handed(each)
    if as_json:
        told = {"handed_over": tell.reports, "left": tell.kept_back, "done": list(found.done)}
        typer.echo(json.dumps(told, ensure_ascii=False))
    else:
        tell.farewell(job)


class _Teller:
    """Says what became of each tool, and how long the rest may take."""

    def __init__(self, count: int, *, quiet: bool) -> None:
        self.count, self.quiet = count, quiet
        self.begun = time.monotonic()
        self.reports: list[dict[str, str]] = []
        self.kept_back: list[dict[str, str]] = []

    def say(self, text: str) -> None:
        if not self.quiet:
            asking.say(text)

    def handed(self, each: HandedOver) -> None:
        """A report is signed."""
        told = {"inspection": each.inspection.id, "number": each.number}
        told |= {"verdict": each.inspection.verdict.value, "file": str(each.path)}
        self.reports.append(told)
        self.say(
            f"{self._counted()}  {each.number}  {each.inspection.tool.mark}: {told['verdict']}"
            f"{self._rest()}"
        )

    def left(self, each: Left) -> None:
        """A tool is kept back."""
        self.kept_back.append({"inspection": each.inspection, "why": each.why})
        self.say(f"{self._counted()}  {each.inspection}: not handed over. {each.why}")

    def _counted(self) -> str:
        width = len(str(self.count))
        return f"{len(self.reports) + len(self.kept_back):{width}} of {self.count}"

    def _rest(self) -> str:
        """The time that is left, once it can be told and is worth telling."""
        done = len(self.reports) + len(self.kept_back)
        left = (time.monotonic() - self.begun) / done * (self.count - done)
        return f"  about {left / 60:.0f} min left" if done >= 5 and left >= 90 else ""

    def farewell(self, job: str) -> None:
        """What is done, what isn't, and what comes next."""
        done, kept, rest = len(self.reports), len(self.kept_back), self.count
        rest -= done + kept
        self.say(f"{done} handed over, {kept} kept back" + (f", {rest} to come" if rest else ""))
        if rest:
            self.say(f"  Go on with: inspect-rec batch {job} --handover --person ...")
        elif done:
            self.say("  Next: inspect-rec release NUMBER --person ... for each of them")


@contextmanager
def _stopped_by_key(tell: _Teller) -> Iterator[Callable[[], bool]]:
    """Ctrl-C once: the report in hand is finished, and no other begun. Twice: at once."""
    import signal

    asked = False

    def ask(_signal: int, _frame: FrameType | None) -> None:
        nonlocal asked
        asked = True
        signal.signal(signal.SIGINT, before)
        tell.say("Stopping after the report in hand ...")

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)


# -- the sheet -----------------------------------------------------------------------


def _sheet(
    store: Store, folder: Folder, job: str, who: Signer, out: Path | None, *, as_json: bool
) -> None:
    import shutil

    from inspect_rec.errors import InputError
    from inspect_rec.release.sheet import sign_sheet

    if out is not None and out.exists():
        raise InputError("the file is there already", found=str(out), do="Name another")
    path = sign_sheet(store, folder, job, who, asking.now())
    if out is not None:
        shutil.copyfile(path, out)
    told = {"number": path.stem, "file": str(path), **({"copy": str(out)} if out else {})}
    if as_json:
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    asking.say(f'{path.stem}: signed "released by": {out or path}')
    asking.say(f"  Check it with: inspect-rec verify {out or path}")
