"""Commands for reports: hand over, release, verify; and the demo."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from inspect_rec.cli import asking


def register(app: typer.Typer) -> None:
    """Enter the commands."""
    for command in (handover, release, verify, demo):
        app.command()(command)


def handover(
    inspection: str = asking.INSPECTION,
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
) -> None:
    """Make the report of a tool that is measured, and sign it "measured by".

    Example: inspect-rec handover I1/QF-0417 --person G-01
    """
    from inspect_rec.release import hand_over
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.signer(folder, person, passphrase_file)
    with Store.open(folder.ledger) as store:
        handed = hand_over(store, folder, inspection, who, asking.now())
    typer.echo(f"{handed.number}: {handed.inspection.verdict.value}. {handed.path}")


def release(
    number: str = typer.Argument(..., help="Number of the report, such as A-0231."),
    decision: str = typer.Option("released", "--decision", help='"released" or "not released".'),
    reason: str = typer.Option("", "--reason", help="Why it isn't released."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
) -> None:
    """Decide on a tool and sign its report "released by".

    Example: inspect-rec release A-0231 --decision released --person Q-01
    """
    from inspect_rec.release import release as decide
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.signer(folder, person, passphrase_file)
    with Store.open(folder.ledger) as store:
        path = decide(store, folder, number, who, decision, reason, asking.now())
    typer.echo(f"{number}: {decision}. {path}")


def verify(
    files: list[Path] = typer.Argument(..., metavar="FILE...", help="Reports."),
    trust: list[Path] = typer.Option([], "--trust", help="A root's certificate; repeat it."),
    store: Path | None = typer.Option(None, "--store", help="A ledger to hold it against."),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Check a report: signatures, ledger, and every printed figure made again.

    Exit code 0 only if it is genuine, complete and recomputed, and its signers stand under a
    root given by --trust or in the shop's settings; 1 if anything is wrong.

    Example: inspect-rec verify A-0231.pdf --trust shop-root.pem
    """
    from inspect_rec.cli import verifying
    from inspect_rec.config import folder as shop_folder
    from inspect_rec.errors import InputError
    from inspect_rec.report import verify as verification

    roots = [verifying.read_root(path) for path in trust]
    here = shop_folder(shop)
    if not trust and here.shop.is_file():
        own = here.certificate("root")
        paths = [*map(Path, here.settings().roots), *([own] if own.is_file() else [])]
        roots = [verifying.read_root(path) for path in paths]
    answers = []
    for file in files:
        try:
            data = file.read_bytes()
        except OSError as error:
            raise InputError("the report can't be read", found=str(error)) from error
        found = verification.verify(data, roots, asking.now())
        if store is not None:
            found = verifying.against_store(found, store)
        answers.append(found)
        if not as_json:
            typer.echo(verifying.as_words(found, file.name))
    if as_json:
        told = [verifying.as_json(found) for found in answers]
        typer.echo(json.dumps(told[0] if len(told) == 1 else told, ensure_ascii=False))
    raise typer.Exit(0 if all(found.ok for found in answers) else 1)


def demo(
    out: Path = typer.Option(Path("demo-out"), "--out", help="Where its files go."),
    fixtures: Path = typer.Option(Path("fixtures"), "--fixtures", help="Where its jobs are."),
) -> None:
    """Play three worked jobs of an invented shop, from bytes to signed reports.

    Example: inspect-rec demo --out demo-out
    """
    from inspect_rec.cli.demo import run

    raise typer.Exit(run(fixtures, out))
