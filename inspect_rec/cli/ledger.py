"""Commands for the ledger: check, copy, start again from a copy, export, account for numbers."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from inspect_rec.cli import asking

app = typer.Typer(help="Check, copy and export the ledger.", no_args_is_help=True)


@app.command()
def check(
    report: Path | None = typer.Option(None, "--report", help="Hold it against this report."),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Check every entry of the ledger, and name the first that doesn't hold.

    Example: inspect-rec ledger check --report A-0231.pdf
    """
    from inspect_rec.errors import LedgerError
    from inspect_rec.report import pdf, record
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    found: list[dict[str, str]] = []
    with Store.open(folder.ledger) as store:
        head = store.head()
        if report is not None:
            files = pdf.attachments(report.read_bytes(), record.LARGEST)
            header, _ = record.from_bytes(files[record.RECORD])
            found = [
                {"code": m.code, "expected": m.expected, "found": m.found}
                for m in store.check_against(header.head)
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
        typer.echo(f"Head: {head.digest}")
    for each in found if not as_json else ():
        typer.echo(f"! {each['code']}: expected {each['expected']}, found {each['found']}")
    raise typer.Exit(1 if found else 0)


@app.command()
def copy(
    folder: Path = typer.Argument(..., help="Best on another disk."),
    shop: str | None = asking.SHOP,
) -> None:
    """Copy the ledger, whole and checked, while work goes on.

    Example: inspect-rec ledger copy E:/inspection-copies
    """
    from inspect_rec.store import Store

    with Store.open(asking.shop(shop).ledger) as store:
        typer.echo(str(store.copy_to(folder, asking.now())))


@app.command()
def restore(
    copy: Path = typer.Argument(..., help="A copy that `ledger copy` or a handover made."),
    shop: str | None = asking.SHOP,
) -> None:
    """Start again from a copy, where the ledger itself is lost. Overwrites nothing.

    Example: inspect-rec ledger restore E:/inspection-copies/ledger-20261117T082338-117.sqlite
    """
    from inspect_rec.config import write_whole
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
    write_whole(folder.ledger, copy.read_bytes(), private=True)
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
    why: str = typer.Option(..., "--why", help="Where the number went."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Account for a report number that was given elsewhere.

    Example: inspect-rec ledger number A-0233 --why "written by hand" --person Q-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.store import Store
    from inspect_rec.store.sqlite import NUMBER

    folder = asking.shop(shop)
    if not NUMBER.fullmatch(which):
        raise InputError("no number of a report", expected="A-0233", found=which)
    who = asking.known_person(folder, person)
    with Store.open(folder.ledger) as store:
        store.append(asking.now(), who, "number given", {"number": which, "why": why})
    typer.echo(f"{which}: {why}")
