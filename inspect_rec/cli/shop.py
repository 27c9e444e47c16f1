"""Commands for the shop itself: set it up, check its files."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import typer

from inspect_rec.cli import asking

app = typer.Typer(help="Set the shop up and check its files.", no_args_is_help=True)


@app.command()
def new(
    folder: Path = typer.Argument(..., help="A new folder for everything of the shop."),
    name: str = typer.Option(..., "--name", help="The shop's name, as it is printed."),
    station: str = typer.Option("A", "--station", help="A letter for this machine's ledger."),
    first_number: str = typer.Option("A-0001", "--first-number", help="Of the first report."),
    passphrase_file: Path | None = asking.PASSPHRASE,
) -> None:
    """Set a shop up: its files, its root certificate, its ledger.

    Example: inspect-rec shop new shop --name "Tallow Lane Tool Grinding"
    """
    from inspect_rec import jobfile
    from inspect_rec.config import Folder, write_whole
    from inspect_rec.errors import InputError
    from inspect_rec.people import new_root
    from inspect_rec.store import Store

    here = Folder(folder)
    if here.shop.exists() or here.ledger.exists():
        raise InputError("there is a shop already", where=str(folder), do="Name another folder")
    templates = resources.files("inspect_rec.cli") / "templates"
    text = (templates / "shop.toml").read_text(encoding="utf-8")
    for mark, said in (("NAME", name), ("STATION", station), ("FIRST_NUMBER", first_number)):
        text = text.replace(f"@{mark}@", said.replace("\\", "\\\\").replace('"', '\\"'))
    checked = jobfile.parse_shop(text, "shop.toml")
    secret = asking.passphrase(passphrase_file, "the shop's root", new=True)
    root = new_root(name, secret, asking.now())
    write_whole(here.shop, text.encode())
    write_whole(here.station, (templates / "station.toml").read_bytes())
    write_whole(here.certificate("root"), root.certificate)
    write_whole(here.key("root"), root.key, private=True)
    Store.create(here.ledger, checked.shop.station, checked.shop.first_number).close()
    typer.echo(f"Set up in {folder}. Next:")
    typer.echo(f"  1. Write your equipment into {here.shop}, then: inspect-rec shop check")
    typer.echo(f"  2. Name readout and second folder in {here.station}")
    typer.echo("  3. inspect-rec person add G-01 --name ... --role grinds --role measures")
    typer.echo(f"Customers check your reports with {here.certificate('root')}: give it to them.")
    typer.echo("Keep the root's passphrase and a copy of keys/ in a safe place of their own.")


@app.command()
def check(shop: str | None = asking.SHOP) -> None:
    """Check the shop's files and say every mistake with its line.

    Example: inspect-rec shop check
    """
    folder = asking.shop(shop)
    found = folder.read_shop()
    folder.settings()
    typer.echo(f"{found.shop.name}: {len(found.equipment)} pieces of equipment, all readable.")
    today = asking.now().date()
    for each in found.equipment:
        if each.due < today:
            typer.echo(f"  {each.id} was due on {each.due}: nothing measured with it is judged.")
    assumed = [name for name, i in found.influence.items() if i.assumed]
    if assumed:
        typer.echo(f"  Assumed, until your own study: {', '.join(assumed)}")
