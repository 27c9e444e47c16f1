"""Commands for persons: add one with a key, list them."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from inspect_rec.cli import asking

app = typer.Typer(help="Add persons, each with an own key.", no_args_is_help=True)


@app.command()
def add(
    person: str = typer.Argument(..., metavar="ID", help="Such as G-01; stands in the ledger."),
    name: str = typer.Option(..., "--name", help="As it is printed."),
    role: list[str] = typer.Option(..., "--role", help="grinds, measures or releases; repeat it."),
    pkcs12: Path | None = typer.Option(None, "--pkcs12", help="Use a key made elsewhere."),
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
    root_passphrase_file: Path | None = typer.Option(
        None, "--root-passphrase-file", help="A file with the root's passphrase."
    ),
) -> None:
    """Add a person with an own key and a certificate under the shop's root.

    Example: inspect-rec person add G-01 --name "Marten Oakes" --role grinds --role measures
    """
    from inspect_rec.config import Name, write_whole
    from inspect_rec.errors import PersonError
    from inspect_rec.people import Issued, Person, Role, from_pkcs12, new_person

    folder = asking.shop(shop)
    known = [r.value for r in Role]
    wrong = [r for r in role if r not in known]
    if wrong:
        raise PersonError("no such role", expected=", ".join(known), found=", ".join(wrong))
    if person in folder.persons() or person == "root":
        raise PersonError("there is such a person already", found=person)
    who = Person(person, name, tuple(Role(r) for r in role))
    secret = asking.passphrase(passphrase_file, person, new=True)
    if pkcs12 is not None:
        issued = from_pkcs12(pkcs12.read_bytes(), asking.passphrase(None, pkcs12.name), secret)
    else:
        root = Issued(folder.key("root").read_bytes(), folder.certificate("root").read_bytes())
        root_secret = asking.passphrase(root_passphrase_file, "the shop's root")
        shop_name = folder.read_shop().shop.name
        issued = new_person(who, shop_name, secret, root, root_secret, asking.now())
    write_whole(folder.certificate(person), issued.certificate)
    write_whole(folder.key(person), issued.key, private=True)
    folder.name_person(person, Name(name, tuple(role)))
    typer.echo(f"{person} {name}: {', '.join(role)}.")


@app.command("list")
def list_(shop: str | None = asking.SHOP, as_json: bool = asking.AS_JSON) -> None:
    """List the shop's persons and what each may do.

    Example: inspect-rec person list
    """
    persons = asking.shop(shop).persons()
    if as_json:
        told = {id_: {"name": p.name, "roles": list(p.roles)} for id_, p in persons.items()}
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    for id_, p in persons.items():
        typer.echo(f"{id_:8} {p.name:30} {', '.join(p.roles)}")
