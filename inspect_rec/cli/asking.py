"""What every command needs from its caller: the shop's folder, the instant, passphrases, keys."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.errors import InputError, PersonError

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.people import Signer

SHOP = typer.Option(
    None, "--shop", help="The shop's folder. Without it: INSPECT_REC_SHOP, or ./shop."
)
PERSON = typer.Option(..., "--person", help="Id of the person who does this, such as G-01.")
PASSPHRASE = typer.Option(
    None, "--passphrase-file", help="A file that holds the passphrase; asked for without it."
)
AS_JSON = typer.Option(False, "--json", help="Print the same as JSON.")
INSPECTION = typer.Argument(..., metavar="JOB/TOOL", help="Such as I1/QF-0417.")


def now() -> datetime:
    """The instant of an act, in whole seconds, UTC."""
    return datetime.now(UTC).replace(microsecond=0)


def shop(given: str | None) -> Folder:
    """The shop's folder; InputError where there is none."""
    from inspect_rec.config import folder

    found = folder(given)
    if not found.shop.is_file():
        raise InputError(
            "there is no shop here",
            expected="shop.toml",
            where=str(found.path),
            do="Set one up with: inspect-rec shop new FOLDER",
        )
    return found


def passphrase(file: Path | None, whose: str, *, new: bool = False) -> str:
    """A passphrase, from a file or asked for without echo."""
    if file is not None:
        try:
            return file.read_text(encoding="utf-8").rstrip("\r\n")
        except OSError as error:
            raise InputError("the passphrase file can't be read", where=str(file)) from error
    asked: str = typer.prompt(f"Passphrase of {whose}", hide_input=True, confirmation_prompt=new)
    return asked


def signer(folder: Folder, person: str, file: Path | None) -> Signer:
    """A person's opened key."""
    from inspect_rec.people import Issued
    from inspect_rec.people import signer as opened

    certificate, key = folder.certificate(person), folder.key(person)
    if not certificate.is_file() or not key.is_file():
        raise PersonError(
            f"{person} has no key here",
            expected=key.name,
            where=str(folder.keys),
            do=f"Add the person with: inspect-rec person add {person} --name ... --role ...",
        )
    issued = Issued(key.read_bytes(), certificate.read_bytes())
    root = folder.certificate("root").read_bytes()
    return opened(issued, passphrase(file, person), root)


def known_person(folder: Folder, person: str) -> str:
    """The id of a person that the shop knows."""
    persons = folder.persons()
    if person not in persons:
        raise PersonError("no such person", expected=", ".join(persons) or "a person", found=person)
    return person


def on_windows() -> bool:
    """Whether this is Windows."""
    return os.name == "nt"
