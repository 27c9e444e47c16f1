"""Readings and results for other programs, by the suffix of the file they go to."""

from __future__ import annotations

from pathlib import Path

import typer

from inspect_rec.cli import asking


def register(app: typer.Typer) -> None:
    """Enter the command."""
    app.command()(export)


def export(
    inspections: list[str] = typer.Argument(
        ..., metavar="JOB/TOOL...", help="Such as I1/QF-0417; several go into one table."
    ),
    to: Path = typer.Option(
        ..., "--to", metavar="FILE", help="Its suffix decides: csv, xlsx, jsonl, parquet, qif."
    ),
    shop: str | None = asking.SHOP,
) -> None:
    """Write readings and results for other programs.

    CSV, JSON Lines and Parquet give two files, FILE-readings and FILE-results. Units stand in the
    heads. QIF is one document after QIF 3.0 (ISO 23952), readings included. A file that is there
    already is not written over.

    Example: inspect-rec export I1/QF-0417 --to ball-nose.xlsx
    """
    from inspect_rec.config import write_whole
    from inspect_rec.errors import InputError
    from inspect_rec.inspection import fold
    from inspect_rec.outgoing.writers import WRITERS
    from inspect_rec.store import Store

    writer = WRITERS.get(to.suffix.lower())
    if writer is None:
        raise InputError("no such kind of file", expected=" | ".join(WRITERS), found=to.name)
    with Store.open(asking.shop(shop).ledger) as store:
        found = [fold(store.entries(each), each) for each in inspections]
    made = writer(found)
    paths = {to.with_name(to.stem + tail): data for tail, data in made.items()}
    for path in paths:
        if path.exists():
            raise InputError("the file is there already", found=str(path), do="Name another")
    for path, data in paths.items():
        write_whole(path, data)
        asking.say(f"{path}: {len(data)} bytes")
