"""What every command needs from its caller: the shop's folder, the instant, passphrases, keys."""

from __future__ import annotations

import textwrap
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.errors import InputError, PersonError

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.people import Signer

WIDE = 80
SHOP = typer.Option(
    None, "--shop", metavar="FOLDER", help="The shop's; else INSPECT_REC_SHOP, or ./shop."
)
PERSON = typer.Option(..., "--person", metavar="ID", help="Who does this, such as G-01.")
PASSPHRASE = typer.Option(
    None, "--passphrase-file", metavar="FILE", help="Holds the passphrase; else it is asked for."
)
AS_JSON = typer.Option(False, "--json", help="Print the same as JSON.")
INSPECTION = typer.Argument(..., metavar="JOB/TOOL", help="Such as I1/QF-0417.")


def wrapped(text: str) -> str:
    """``text`` in lines of 80 columns, what goes on set in; long names and digests stay whole."""
    return "\n".join(
        textwrap.fill(
            line,
            WIDE,
            subsequent_indent=" " * (len(line) - len(line.lstrip()) + 2),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in text.splitlines()
    )


def say(text: str) -> None:
    """Print, in lines of 80 columns."""
    typer.echo(wrapped(text))


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
        from inspect_rec.config import read_text

        return read_text(file).rstrip("\r\n")
    asked: str = typer.prompt(f"Passphrase of {whose}", hide_input=True, confirmation_prompt=new)
    return asked


def signer(folder: Folder, person: str, file: Path | None) -> Signer:
    """A person's opened key."""
    from inspect_rec.config import read_whole
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
    issued = Issued(read_whole(key), read_whole(certificate))
    found = opened(issued, passphrase(file, person), read_whole(folder.certificate("root")))
    if found.person.id != person:
        raise PersonError(
            "the certificate is another person's",
            expected=person,
            found=found.person.id or "no id",
            where=str(certificate),
        )
    return found


def known_person(folder: Folder, person: str) -> str:
    """The id of a person that the shop knows."""
    persons = folder.persons()
    if person not in persons:
        raise PersonError(
            "no such person",
            expected=", ".join(persons) or "one of names.toml, which has none yet",
            found=person,
            do=f"Add the person with: inspect-rec person add {person} --name ... --role ...",
        )
    return person
