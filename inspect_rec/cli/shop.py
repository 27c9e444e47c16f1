"""Commands for the shop itself: set it up, check its files."""

from __future__ import annotations

import json
import re
from pathlib import Path

import typer

from inspect_rec.cli import asking

app = typer.Typer(help="Set the shop up and check its files.", no_args_is_help=True)

_STAND_IN = {"calibrated": "2026-01-01", "due": "2026-01-01", "expanded": "1", "value": "1"}
"""In the place of what is to be filled in and isn't a text, to check the rest of a new file."""

_OPEN = re.compile(rf'^({"|".join(_STAND_IN)}) = "FILL IN.*$', re.MULTILINE)


@app.command()
def new(
    folder: Path = typer.Argument(..., metavar="FOLDER", help="A new one, for everything."),
    name: str = typer.Option(..., "--name", metavar="NAME", help="The shop's, as it is printed."),
    station: str = typer.Option(
        "A", "--station", metavar="LETTER", help="Names this machine's ledger."
    ),
    first_number: str = typer.Option(
        "A-0001", "--first-number", metavar="NUMBER", help="Of the first report."
    ),
    passphrase_file: Path | None = asking.PASSPHRASE,
) -> None:
    """Set a shop up: its files, its root certificate, its ledger.

    Example: inspect-rec shop new shop --name "Tallow Lane Tool Grinding"
    """
    from importlib import resources

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
        text = text.replace(f'"@{mark}@"', json.dumps(said, ensure_ascii=False))
    complete = _OPEN.sub(lambda hit: f"{hit[1]} = {_STAND_IN[hit[1]]}", text)
    checked = jobfile.parse_shop(complete, "shop.toml").shop
    secret = asking.passphrase(passphrase_file, "the shop's root", new=True)
    root = new_root(name, secret, asking.now())
    here.path.mkdir(parents=True, exist_ok=True)
    write_whole(here.certificate("root"), root.certificate)
    write_whole(here.key("root"), root.key, private=True)
    write_whole(here.station, (templates / "station.toml").read_bytes())
    Store.create(here.ledger, checked.station, checked.first_number).close()
    write_whole(here.shop, text.encode())
    asking.say(
        f"Set up in {folder}. Next:\n"
        f"1. Fill in what is marked FILL IN in {here.shop}; `inspect-rec shop check` says what is "
        "left.\n"
        f"2. Name the readout and a second folder in {here.station}.\n"
        '3. inspect-rec person add G-01 --name "..." --role grinds --role measures\n'
        f"Customers check your reports with {here.certificate('root')}: give it to them.\n"
        f"Keep the root's passphrase, and a copy of {here.keys}, in a safe place of their own."
    )


@app.command()
def check(shop: str | None = asking.SHOP, as_json: bool = asking.AS_JSON) -> None:
    """Check the shop's files and say every mistake with its line.

    Example: inspect-rec shop check
    """
    folder = asking.shop(shop)
    found = folder.read_shop()
    settings = folder.settings()
    folder.persons()
    today = asking.now().date()
    overdue = {each.id: each.due.isoformat() for each in found.equipment if each.due < today}
    assumed = [name for name, i in found.influence.items() if i.assumed]
    if as_json:
        told = {"shop": found.shop.name, "equipment": [e.id for e in found.equipment]}
        typer.echo(json.dumps({**told, "overdue": overdue, "assumed": assumed}, ensure_ascii=False))
        return
    asking.say(f"{found.shop.name}: {len(found.equipment)} pieces of equipment, nothing wrong.")
    for id_, due in overdue.items():
        asking.say(f"  {id_} was due on {due}: nothing measured with it is judged.")
    if assumed:
        asking.say(f"  Assumed, until your own study: {'; '.join(assumed)}.")
    if not settings.readout:
        asking.say(f"  No readout is named in {folder.station}: `measure` needs one.")
    if not settings.copies:
        asking.say(f"  No second folder is named in {folder.station}: the ledger has no copy.")
