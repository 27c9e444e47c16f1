"""Commands for the shop itself: set it up, check its files."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from collections.abc import Iterator

    from inspect_rec.config import Folder
    from inspect_rec.inspection.repeats import Found
    from inspect_rec.inspection.studied import Studied
    from inspect_rec.plan import ShopFile

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
    from inspect_rec.inspection import studied

    folder = asking.shop(shop)
    found = folder.read_shop()
    settings = folder.settings()
    folder.persons()
    today = asking.now().date()
    overdue = {each.id: each.due.isoformat() for each in found.equipment if each.due < today}
    own = studied.studies(found)
    assumed = [name for name, i in studied.influences(found).items() if i.assumed]
    if as_json:
        told = {
            "shop": found.shop.name,
            "equipment": [e.id for e in found.equipment],
            "studies": [_told(each) for each in own.values()],
        }
        typer.echo(json.dumps({**told, "overdue": overdue, "assumed": assumed}, ensure_ascii=False))
        return
    asking.say(f"{found.shop.name}: {len(found.equipment)} pieces of equipment, nothing wrong.")
    for id_, due in overdue.items():
        asking.say(f"  {id_} was due on {due}: nothing measured with it is judged.")
    if assumed:
        asking.say(f"  Assumed, until your own study: {'; '.join(assumed)}.")
    for each in own.values():
        asking.say(f"  {each.name}: {each}.")
        for said in each.advice:
            asking.say(f"    {said}.")
    if not settings.readout:
        asking.say(f"  No readout is named in {folder.station}: `measure` needs one.")
    if not settings.copies:
        asking.say(f"  No second folder is named in {folder.station}: the ledger has no copy.")


@app.command()
def study(
    influence: str = typer.Option(
        "crosshair",
        "--influence",
        metavar="NAME",
        help="crosshair, laying-up (of a caliper), or repeat (of an --instrument).",
    ),
    instrument: str = typer.Option(
        "", "--instrument", metavar="ID", help="The indicator, such as IN-1."
    ),
    since: datetime | None = typer.Option(
        None, "--since", formats=["%Y-%m-%d"], metavar="DATE", help="Leave out what is older."
    ),
    write: bool = typer.Option(False, "--write", help="Append the table to shop.toml."),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Pool the repeats in the ledger: the shop's own scatter.

    Printed as a table for shop.toml. A repeat is the same mark sighted again in the same clamping;
    what is in a study of shop.toml already isn't counted again.

    Example: inspect-rec shop study --influence crosshair
    """
    from inspect_rec import jobfile
    from inspect_rec.errors import InputError
    from inspect_rec.inspection import repeats, studied

    folder = asking.shop(shop)
    file = folder.read_shop()
    _can_be_pooled(file, influence, instrument)
    found = _repeats(folder, file, influence, instrument, since)
    name = f"repeat of {instrument}" if instrument else influence
    if not found.groups:
        raise InputError(
            f"no repeats in the ledger for {name}{' that no study has yet' if file.study else ''}",
            expected="a mark sighted twice or more in one clamping",
            found=_left_out(found) or "none",
            do="Give features repeats = 3 in their job files, without an index",
        )
    table = repeats.table(found.groups, influence, instrument)
    text = folder.shop.read_bytes().decode()
    together = studied.studies(jobfile.parse_shop(f"{text}\n{table}", folder.shop.name))[name]
    new = studied.Studied(
        name, tuple(g.readings for g in found.groups), tuple(g.on for g in found.groups)
    )
    if write:
        if not together.alike:
            raise InputError("the study isn't written", found=together.left, do=together.advice[-1])
        _append(folder.shop, table)
    if as_json:
        told = {**_told(new), "left_out": dict(found.left_out), "table": table}
        typer.echo(json.dumps({**told, "with_shop_file": _told(together)}, ensure_ascii=False))
        return
    for line in _said(file, new, together, found):
        asking.say(line)
    typer.echo("Appended to shop.toml:" if write else "For the end of shop.toml (or --write):")
    typer.echo(f"\n{table}")


def _can_be_pooled(file: ShopFile, influence: str, instrument: str) -> None:
    from inspect_rec.errors import InputError

    if influence not in ("crosshair", "laying-up", "repeat"):
        raise InputError(
            "no readings of the ledger show this influence",
            expected="crosshair | laying-up | repeat",
            found=repr(influence),
            do="Write its [[study]] table by hand, from readings of your own",
        )
    known = [e.id for e in file.equipment]
    if (influence == "repeat") is not bool(instrument) or instrument not in ("", *known):
        raise InputError(
            "a repeat is that of one instrument",
            expected="--influence repeat --instrument with one of " + ", ".join(known),
            found=f"--influence {influence} --instrument {instrument or '(none)'}",
        )


def _repeats(
    folder: Folder, file: ShopFile, influence: str, instrument: str, since: datetime | None
) -> Found:
    from inspect_rec.inspection import repeats
    from inspect_rec.inspection.kept import record
    from inspect_rec.store import Store

    with Store.open(folder.ledger) as store:
        station = store.head().station
        ends = [
            int(s.until.split()[1])
            for s in file.study
            if (s.influence, s.instrument) == (influence, instrument)
            and s.until.startswith(f"{station} ")
        ]
        records = [record(store.entries(each), each) for each in store.inspections()]
    after = (station, max(ends, default=0))
    oldest = since.replace(tzinfo=UTC) if since else None
    return repeats.found(records, influence, instrument, after, oldest)


def _append(path: Path, table: str) -> None:
    """What stands in the file stays as it is, byte for byte."""
    from inspect_rec.config import write_whole

    data = path.read_bytes()
    ending = "\r\n" if b"\r\n" in data else "\n"
    gap = ending if data.endswith(b"\n") else 2 * ending
    write_whole(path, data + (gap + table.replace("\n", ending)).encode())


def _told(each: Studied) -> dict[str, object]:
    found = each.pooled
    return {
        "influence": each.name,
        "s_um": str(each.s_um),
        "dof": found.dof,
        "groups": found.groups,
        "counts": each.counts,
        "missing_dof": each.missing,
        "alike": found.alike
        and {"test": found.alike.test, "statistic": found.alike.statistic, "p": found.alike.p},
        "outliers": [
            {"group": o.group + 1, "reading": o.index + 1, "value_mm": o.value}
            for o in found.outliers
        ],
        "advice": list(each.advice),
    }


def _left_out(found: Found) -> str:
    return "; ".join(f"{n} readings left out: {why}" for why, n in found.left_out.items())


def _said(file: ShopFile, new: Studied, together: Studied, found: Found) -> Iterator[str]:
    pooled = new.pooled
    readings, tools = sum(map(len, new.groups)), len({g.inspection for g in found.groups})
    yield (
        f"{new.name}: s = {new.s_um} µm with {pooled.dof} degrees of freedom, from {readings} "
        f"readings in {pooled.groups} groups, tools: {tools}."
    )
    if pooled.alike is not None:
        alike = "alike" if pooled.alike.alike else "unlike"
        yield f"The groups scatter {alike} ({pooled.alike.test}, p = {pooled.alike.p:.2g})."
    if found.left_out:
        yield f"{_left_out(found)}."
    if together.groups != new.groups:
        yield (
            f"With what stands in shop.toml: s = {together.s_um} µm with {together.pooled.dof} "
            "degrees of freedom."
        )
    stated = file.influence.get(new.name)
    for said in together.advice:
        yield f"{said}."
    if together.counts:
        instead = f" in the place of {stated.amount} µm" if stated else ""
        yield f"In shop.toml it counts{instead}, for every job that is opened from then on."
