"""Commands for reports: hand over, release, verify; and the demo."""

from __future__ import annotations

import json
from pathlib import Path

import typer

from inspect_rec.cli import asking


def register(app: typer.Typer) -> None:
    """Enter the commands."""
    for command in (handover, release, concede, withdraw, verify, demo):
        app.command()(command)


def handover(
    inspection: str = asking.INSPECTION,
    why: str = typer.Option(
        "", "--why", metavar="TEXT", help="Of an amendment: what changed.", show_default=False
    ),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Make a measured tool's report and sign it "measured by".

    A report that replaces a decided one is an amendment: it gets a number of its own, names the
    one it replaces, and says what changed and why.

    Example: inspect-rec handover I1/QF-0417 --person G-01
    """
    from inspect_rec.release import hand_over
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.signer(folder, person, passphrase_file)
    with Store.open(folder.ledger) as store:
        handed = hand_over(store, folder, inspection, who, asking.now(), why)
    verdict = handed.inspection.verdict.value
    if as_json:
        told = {"number": handed.number, "verdict": verdict, "file": str(handed.path)}
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    asking.say(f'{handed.number}: {verdict}. Signed "measured by": {handed.path}')
    asking.say(f"  Next: inspect-rec release {handed.number} --person ...")


def release(
    number: str = typer.Argument(..., metavar="NUMBER", help="The report's, such as A-0231."),
    decision: str = typer.Option(
        "released", "--decision", metavar="TEXT", help='"released" or "not released".'
    ),
    reason: str = typer.Option(
        "", "--reason", metavar="TEXT", help="Why it isn't released.", show_default=False
    ),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
    passphrase_file: Path | None = asking.PASSPHRASE,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Decide on a tool and sign its report "released by".

    Only a tool that conforms can be released, or one whose other results the customer conceded.
    Read the report before you sign.

    Example: inspect-rec release A-0231 --decision released --person Q-01
    """
    from inspect_rec.release import release as decide
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.signer(folder, person, passphrase_file)
    with Store.open(folder.ledger) as store:
        path = decide(store, folder, number, who, decision, reason, asking.now())
    if as_json:
        told = {"number": number, "decision": decision, "file": str(path)}
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    asking.say(f'{number}: {decision}. Signed "released by": {path}')


def concede(
    inspection: str = asking.INSPECTION,
    characteristics: list[str] = typer.Argument(
        ..., metavar="CHARACTERISTIC...", help="Ids of the plan."
    ),
    number: str = typer.Option(..., "--number", metavar="TEXT", help="The customer's reference."),
    granted_by: str = typer.Option(
        "", "--granted-by", metavar="TEXT", help="Who at the customer's.", show_default=False
    ),
    words: str = typer.Option(
        "", "--words", metavar="TEXT", help="What was agreed.", show_default=False
    ),
    flutes: list[int] = typer.Option(
        [], "--flute", metavar="N", help="A flute it covers; repeat it. None: all."
    ),
    document: Path | None = typer.Option(
        None, "--document", metavar="FILE", help="Is kept, and attached to the report."
    ),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record that the customer takes results as they are.

    The verdicts stay; the next report prints the concession beside what it covers.

    Example: inspect-rec concede I2/BW-22-B DC_2 --number CON-7 --person Q-01
    """
    from inspect_rec.release.conceding import Granted
    from inspect_rec.release.conceding import concede as record
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.known_person(folder, person)
    granted = Granted(number, tuple(characteristics), tuple(flutes), words, granted_by, document)
    with Store.open(folder.ledger) as store:
        entry = record(store, folder, inspection, who, granted, asking.now())
    asking.say(f"concession {number}: entry {entry.station} {entry.seq}")
    asking.say(f'  Next: inspect-rec handover {inspection} --why "..." --person ...')


def withdraw(
    number: str = typer.Argument(..., metavar="NUMBER", help="The report's, such as A-0231."),
    why: str = typer.Option(..., "--why", metavar="TEXT", help="Why it can't be relied on."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record that a report isn't to be relied on any more.

    The report stays as it is; whoever verifies it against the ledger is told.

    Example: inspect-rec withdraw A-0231 --why "wrong tool" --person Q-01
    """
    from inspect_rec.release import conceding
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    who = asking.known_person(folder, person)
    with Store.open(folder.ledger) as store:
        entry = conceding.withdraw(store, number, who, asking.now(), why)
    asking.say(f"{number} withdrawn: entry {entry.station} {entry.seq}. Tell its customer")


def verify(
    files: list[Path] = typer.Argument(..., metavar="FILE...", help="Reports, batch sheets."),
    trust: list[Path] = typer.Option(
        [], "--trust", metavar="ROOT", help="A root's certificate; repeat it."
    ),
    store: Path | None = typer.Option(
        None, "--store", metavar="LEDGER", help="Hold the report against it."
    ),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Check a report or a batch sheet, every figure made again.

    Exit code 0 only if everything is genuine, complete and recomputed, and its signers stand
    under a root given by --trust or in the shop's settings; 1 if anything is wrong. Reports
    beside their batch sheet are held against the digests that it names.

    Example: inspect-rec verify A-0231.pdf --trust shop-root.pem
    """
    from inspect_rec.cli import sheets, verifying
    from inspect_rec.config import folder as shop_folder
    from inspect_rec.config import read_whole

    roots = [verifying.read_root(path) for path in trust]
    here = shop_folder(shop)
    if not trust and here.shop.is_file():
        own = here.certificate("root")
        paths = [*map(Path, here.settings().roots), *([own] if own.is_file() else [])]
        roots = [verifying.read_root(path) for path in paths]
    answers = sheets.side_by_side(
        sheets.answer(read_whole(file), roots, asking.now(), store, file.name) for file in files
    )
    if as_json:
        told = [found.told for found in answers]
        typer.echo(json.dumps(told[0] if len(told) == 1 else told, ensure_ascii=False))
    else:
        for found in answers:
            asking.say(found.words)
    raise typer.Exit(0 if all(found.ok for found in answers) else 1)


def demo(
    out: Path = typer.Option(
        Path("demo-out"), "--out", metavar="FOLDER", help="Where its files go."
    ),
    fixtures: Path = typer.Option(
        Path("fixtures"), "--fixtures", metavar="FOLDER", help="Where its jobs are."
    ),
) -> None:
    """Play three jobs of an invented shop, to signed reports.

    Example: inspect-rec demo --out demo-out
    """
    from inspect_rec.cli.demo import run

    raise typer.Exit(run(fixtures, out))
