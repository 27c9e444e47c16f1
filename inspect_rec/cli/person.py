"""Commands for persons: add one with a key, list them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.people import Issued, Person

app = typer.Typer(help="Add persons, each with an own key.", no_args_is_help=True)


@app.command()
def add(
    person: str = typer.Argument(..., metavar="ID", help="Such as G-01; stands in the ledger."),
    name: str = typer.Option(..., "--name", metavar="NAME", help="As it is printed."),
    role: list[str] = typer.Option(
        ..., "--role", metavar="ROLE", help="grinds, measures or releases; repeat it."
    ),
    pkcs12: Path | None = typer.Option(
        None, "--pkcs12", metavar="FILE", help="A key made elsewhere, certified by the shop's root."
    ),
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
    root_passphrase_file: Path | None = typer.Option(
        None, "--root-passphrase-file", metavar="FILE", help="Holds the root's passphrase."
    ),
    pkcs12_passphrase_file: Path | None = typer.Option(
        None, "--pkcs12-passphrase-file", metavar="FILE", help="Holds that of the PKCS#12 file."
    ),
) -> None:
    """Add a person, with a key and certificate of their own.

    The certificate stands under the shop's root, whose passphrase is asked for. The shop's
    first persons: one who grinds and measures, another who releases.

    Example: inspect-rec person add Q-01 --name "Tomasz Wren" --role releases
    """
    from inspect_rec.config import Name, write_whole
    from inspect_rec.people import Person, Role
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    _new(folder, person, name, role)
    who = Person(person, name, tuple(Role(each) for each in role))
    secret = asking.passphrase(passphrase_file, person, new=True)
    if pkcs12 is not None:
        issued = _brought(folder, who, pkcs12, pkcs12_passphrase_file, secret)
    else:
        issued = _made(folder, who, root_passphrase_file, secret)
    with Store.open(folder.ledger) as store:
        write_whole(folder.certificate(person), issued.certificate)
        write_whole(folder.key(person), issued.key, private=True)
        folder.name_person(person, Name(name, tuple(role)))
        store.append(asking.now(), person, "person added", _told(who, issued))
    asking.say(f"{person} {name}: {', '.join(role)}.")


def _new(folder: Folder, person: str, name: str, roles: list[str]) -> None:
    """Raises InputError or PersonError for an id, name or role that can't be."""
    from inspect_rec.config import PERSON_ID, Name
    from inspect_rec.errors import InputError, PersonError
    from inspect_rec.people import Role

    known = [role.value for role in Role]
    if wrong := [role for role in roles if role not in known]:
        raise PersonError("no such role", expected=", ".join(known), found=", ".join(wrong))
    if not PERSON_ID.fullmatch(person):
        raise InputError("no id", expected="letters, digits, . _ and -, such as G-01", found=person)
    try:
        Name(name, tuple(roles))
    except ValueError as error:
        line = "a line of at most 60 characters"
        raise InputError("no name", expected=line, found=repr(name)) from error
    if person in folder.persons() or person == "root":
        raise PersonError("there is such a person already", expected="a new id", found=person)


def _made(folder: Folder, who: Person, root_passphrase_file: Path | None, secret: str) -> Issued:
    from inspect_rec.config import read_whole
    from inspect_rec.people import Issued, new_person

    root = Issued(read_whole(folder.key("root")), read_whole(folder.certificate("root")))
    root_secret = asking.passphrase(root_passphrase_file, "the shop's root")
    name = folder.read_shop().shop.name
    return new_person(who, name, secret, root, root_secret, asking.now())


def _brought(
    folder: Folder, who: Person, file: Path, file_passphrase: Path | None, secret: str
) -> Issued:
    """A key made elsewhere; its certificate must say of the person what the shop says."""
    from cryptography import x509

    from inspect_rec.config import read_whole
    from inspect_rec.errors import PersonError
    from inspect_rec.people import from_pkcs12, person_of

    issued = from_pkcs12(
        read_whole(file), asking.passphrase(file_passphrase, file.name), new_passphrase=secret
    )
    certificate = x509.load_pem_x509_certificate(issued.certificate)
    root = x509.load_pem_x509_certificate(read_whole(folder.certificate("root")))
    says = person_of(certificate)
    if (says.id, says.name, set(says.roles)) != (who.id, who.name, set(who.roles)):
        raise PersonError(
            "the certificate says something else of the person",
            expected=f"{who.id} {who.name}: {', '.join(who.roles)}",
            found=f"{says.id} {says.name}: {', '.join(says.roles)}",
            where=str(file),
        )
    try:
        certificate.verify_directly_issued_by(root)
    except Exception as error:  # the library raises three kinds, one of them its own
        raise PersonError(
            "the certificate isn't under the shop's root",
            expected=root.subject.rfc4514_string(),
            found=certificate.issuer.rfc4514_string(),
            where=str(file),
        ) from error
    return issued


def _told(who: Person, issued: Issued) -> dict[str, object]:
    """What the ledger keeps: roles and key, and no name, so that a name can be removed."""
    from cryptography import x509

    from inspect_rec.people import key_id

    certificate = x509.load_pem_x509_certificate(issued.certificate)
    return {"person": who.id, "roles": list(who.roles), "key": key_id(certificate)}


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
    if not persons:
        asking.say("Nobody yet. Add a person with: inspect-rec person add")
