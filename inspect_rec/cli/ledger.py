"""Commands for the ledger: check, copy, start again from a copy, export, account for numbers."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from inspect_rec.ledger import Head

app = typer.Typer(help="Check, copy and export the ledger.", no_args_is_help=True)


@app.command()
def check(
    report: Path | None = typer.Option(
        None, "--report", metavar="FILE", help="Hold it against this report or batch sheet, too."
    ),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Check every entry and name the first that doesn't hold.

    Exit code 0 if all of them hold, 1 if not. A report or batch sheet tells of a shortened
    or rewritten ledger, too, which a ledger alone can't.

    Example: inspect-rec ledger check --report A-0231.pdf
    """
    from inspect_rec.errors import LedgerError
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    known = _head_in(report) if report is not None else None
    found: list[dict[str, str]] = []
    with Store.open(folder.ledger) as store:
        head = store.head()
        if known is not None:
            found = [
                {"code": m.code, "expected": m.expected, "found": m.found}
                for m in store.check_against(known)
            ]
        else:
            try:
                store.check()
            except LedgerError as error:
                found = [{"code": "chain broken", "expected": "a chain", "found": str(error)}]
    if as_json:
        typer.echo(json.dumps({"ok": not found, "seq": head.seq, "findings": found}))
    elif not found:
        typer.echo(f"{head.station}: {head.seq} entries, each follows the one before.")
        if known is not None:
            typer.echo(f"It holds entry {known.station} {known.seq}, which the file names.")
        typer.echo(f"Head: {head.digest}")
    for each in found if not as_json else ():
        asking.say(f"! {each['code']}: expected {each['expected']}, found {each['found']}")
    raise typer.Exit(1 if found else 0)


def _head_in(report: Path) -> Head:
    """The head of the chain that a report or batch sheet carries; ReportError where it carries
    none."""
    import pikepdf

    from inspect_rec.config import read_whole
    from inspect_rec.errors import InspectRecError, ReportError
    from inspect_rec.report import batch, batch_verify, pdf, record

    data = read_whole(report)
    name, form, largest = record.RECORD, record.FORMAT, record.LARGEST
    if batch_verify.is_sheet(data):
        name, form, largest = batch.RECORD, batch.FORMAT, batch.LARGEST
    try:
        header, _ = record.from_bytes(pdf.attachments(data, largest)[name], form, largest)
    except (InspectRecError, pikepdf.PikepdfError, KeyError, ValueError, OSError) as error:
        raise ReportError(
            "the file carries no head of a ledger",
            expected=f"a report with {record.RECORD} inside, or a batch sheet with {batch.RECORD}",
            found=str(error)[:100],
            where=str(report),
        ) from error
    return header.head


@app.command()
def copy(
    folder: Path = typer.Argument(..., metavar="FOLDER", help="Best on another disk."),
    shop: str | None = asking.SHOP,
) -> None:
    """Copy the ledger, whole and checked, while work goes on.

    Example: inspect-rec ledger copy E:/copies
    """
    from inspect_rec.store import Store

    with Store.open(asking.shop(shop).ledger) as store:
        typer.echo(str(store.copy_to(folder, asking.now())))


@app.command()
def restore(
    copy: Path = typer.Argument(..., metavar="COPY", help="Made by `ledger copy` or a signature."),
    shop: str | None = asking.SHOP,
) -> None:
    """Start again from a copy, where the ledger itself is lost.

    Overwrites nothing. What came after the copy isn't in it.

    Example: inspect-rec ledger restore E:/ledger-20261117T082338-117.sqlite
    """
    from inspect_rec.config import read_whole, write_whole
    from inspect_rec.errors import StoreError
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    if folder.ledger.exists():
        raise StoreError(
            "there is a ledger already", where=str(folder.ledger), do="Move it away first"
        )
    with Store.open(copy) as store:
        store.check()
        head = store.head()
    write_whole(folder.ledger, read_whole(copy), private=True)
    typer.echo(f"{folder.ledger}: {head.seq} entries. What came later isn't in it.")


@app.command()
def export(
    inspection: str | None = typer.Argument(None, metavar="[JOB/TOOL]", help="One tool, or all."),
    shop: str | None = asking.SHOP,
) -> None:
    """Print entries as JSON Lines, a canonical entry a line.

    Example: inspect-rec ledger export I1/QF-0417
    """
    from inspect_rec import ledger
    from inspect_rec.store import Store

    with Store.open(asking.shop(shop).ledger) as store:
        for entry in store.entries(inspection):
            typer.echo(ledger.canonical(ledger.to_json(entry)).decode())


@app.command()
def number(
    which: str = typer.Argument(..., metavar="NUMBER", help="Such as A-0233."),
    why: str = typer.Option(..., "--why", metavar="TEXT", help="Where the number went."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Account for a report number that was given elsewhere.

    Example: inspect-rec ledger number A-0233 --why "by hand" --person Q-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.store import Store
    from inspect_rec.store.numbering import NUMBER

    folder = asking.shop(shop)
    if not NUMBER.fullmatch(which):
        raise InputError("no number of a report", expected="A-0233", found=which)
    who = asking.known_person(folder, person)
    with Store.open(folder.ledger) as store:
        before = store.numbered(which)
        if before is not None:
            raise InputError(
                "the number is given already",
                expected=f"a free number, such as {store.next_number()}",
                found=f"{before.kind}, entry {before.station} {before.seq}",
            )
        store.append(asking.now(), who, "number given", {"number": which, "why": why})
    typer.echo(f"{which}: {why}")
