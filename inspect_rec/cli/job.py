"""Commands for jobs: check a job file, open it."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from inspect_rec.cli import asking

app = typer.Typer(help="Check and open job files.", no_args_is_help=True)
FILE = typer.Argument(..., metavar="FILE", help="A job file (TOML).")


@app.command()
def check(
    file: Path = FILE, shop: str | None = asking.SHOP, as_json: bool = asking.AS_JSON
) -> None:
    """Check a job file: every mistake with its line; record nothing.

    Example: inspect-rec job check i1.toml
    """
    from inspect_rec import jobfile
    from inspect_rec.config import read_text

    folder = asking.shop(shop)
    job = jobfile.parse_job(read_text(file), folder.read_shop(), file.name)
    if as_json:
        typer.echo(json.dumps(job.model_dump(mode="json", by_alias=True), ensure_ascii=False))
        return
    asking.say(f"Job {job.job.number} for {job.job.customer}. Nothing is wrong.")
    for tool in job.tool:
        asking.say(f"  {job.job.number}/{tool.mark}  {tool.title or tool.kind}")
    for c in job.characteristic:
        low = "–" if c.lower is None else c.lower
        high = "–" if c.upper is None else c.upper
        limits = "for information" if c.info else f"{low:>9} … {high:<9}"
        asking.say(f"  {c.id:16} {limits:21} {c.unit.value:3} {c.method}")


@app.command("open")
def open_(
    file: Path = FILE,
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Open a job: its plan goes into the ledger.

    Open it again after a change of the job file; what was measured stays.

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
