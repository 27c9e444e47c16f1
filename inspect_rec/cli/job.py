"""Commands for jobs: check a job file, open it."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from inspect_rec.cli import asking

app = typer.Typer(help="Check and open job files.", no_args_is_help=True)
FILE = typer.Argument(..., help="A job file (TOML).")


@app.command()
def check(
    file: Path = FILE, shop: str | None = asking.SHOP, as_json: bool = asking.AS_JSON
) -> None:
    """Check a job file and say every mistake with its line; record nothing.

    Example: inspect-rec job check i1.toml
    """
    from inspect_rec import jobfile
    from inspect_rec.config import read_text

    folder = asking.shop(shop)
    job = jobfile.parse_job(read_text(file), folder.read_shop(), file.name)
    if as_json:
        typer.echo(json.dumps(job.model_dump(mode="json", by_alias=True), ensure_ascii=False))
        return
    typer.echo(f"Job {job.job.number} for {job.job.customer}: {len(job.tool)} tools,")
    for c in job.characteristic:
        low = "–" if c.lower is None else c.lower
        high = "–" if c.upper is None else c.upper
        typer.echo(f"  {c.id:16} {low:>9} … {high:<9} {c.unit.value:4} {c.method}")


@app.command("open")
def open_(
    file: Path = FILE,
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Open a job: its plan goes into the ledger; open it again after a change.

    Example: inspect-rec job open i1.toml --person G-01
    """
    from inspect_rec import jobfile
    from inspect_rec.config import read_text
    from inspect_rec.release import open_job
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    job = jobfile.parse_job(read_text(file), folder.read_shop(), file.name)
    who = asking.known_person(folder, person)
    with Store.open(folder.ledger) as store:
        for inspection in open_job(store, folder, job, who, asking.now()):
            typer.echo(inspection)
