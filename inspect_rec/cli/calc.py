"""The calculator's command: one computation, their list, or a file of cases."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from inspect_rec.cli import asking
from inspect_rec.errors import InputError

if TYPE_CHECKING:
    from inspect_rec.calculator.measuring import Shelf


def register(app: typer.Typer) -> None:
    """Enter the command."""
    app.command()(calc)


def calc(
    name: str = typer.Argument("", metavar="NAME", help="A computation or method; see --list."),
    values: list[str] = typer.Argument(
        None, metavar="INPUT=VALUE...", help="Its inputs; none: JSON from standard input."
    ),
    show: bool = typer.Option(False, "--list", help="List what there is, or tell of NAME alone."),
    trials: int = typer.Option(
        0, "--trials", metavar="N", help="Monte Carlo trials besides the budget, such as 200000."
    ),
    seed: int = typer.Option(1, "--seed", metavar="N", help="The same gives the same trials."),
    cases: Path | None = typer.Option(
        None, "--cases", metavar="FILE", help="Run a file of cases with known answers."
    ),
    record: Path | None = typer.Option(
        None, "--record", metavar="PDF", help="With --cases: write a validation record."
    ),
    by: str = typer.Option(
        "", "--by", metavar="TEXT", help="Who validates, for the record.", show_default=False
    ),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Compute by hand, or validate the program by known cases.

    Points are typed as x:z,x:z. A standard uncertainty is typed as u.INPUT, a half width as
    "u.INPUT=0.1 rectangular". Methods take the shop's influences, outside a shop those of common
    practice. Exit code of --cases: 0 if nothing with an expectation is off, else 1.

    Example: inspect-rec calc chord-rise chord_mm=4 rise_mm=0.35 u.rise_mm=0.001
    """
    from inspect_rec.cli import calc_words, calculated

    if cases is not None:
        raise typer.Exit(_cases(cases, record, by, shop, as_json=as_json))
    if record is not None:
        raise InputError("a validation record needs cases", do="Add --cases FILE")
    if show:
        told = calculated.listed(name)
        typer.echo(json.dumps(told, ensure_ascii=False) if as_json else calc_words.listed(told))
        return
    if not name:
        raise InputError(
            "nothing to compute", expected="a name", do="See them with: inspect-rec calc --list"
        )
    inputs = calculated.typed(values, name) if values else _piped(name)
    told = calculated.computed(name, inputs, _shelf(shop), trials, seed)
    typer.echo(json.dumps(told, ensure_ascii=False) if as_json else calc_words.words(told))


def _piped(name: str) -> dict[str, Any]:
    """Inputs as JSON from standard input; at a keyboard the inputs are told instead."""
    from inspect_rec.cli import calculated

    names = calculated.inputs_of(name)
    if sys.stdin is None or sys.stdin.isatty():
        raise InputError(f"{name} needs its inputs", expected=", ".join(names))
    return calculated.from_json(sys.stdin.read())


def _shelf(shop: str | None) -> Shelf:
    """The shop's knowledge; outside a shop that of common practice, from a new shop's file."""
    from inspect_rec.cli import calculated
    from inspect_rec.config import folder

    here = folder(shop)
    if shop is not None or here.shop.is_file():
        return calculated.shelf_of(asking.shop(shop).read_shop())
    return calculated.common_practice()


def _cases(file: Path, record: Path | None, by: str, shop: str | None, *, as_json: bool) -> int:
    import hashlib

    from inspect_rec.calculator import cases as running
    from inspect_rec.cli import calc_words, calculated
    from inspect_rec.config import folder, read_text, read_whole, write_whole

    shelf = _shelf(shop)
    ran = [running.run(case, shelf) for case in running.read(read_text(file), file.name)]
    if record is not None:
        from inspect_rec.report.validation import made

        digest = hashlib.sha256(read_whole(file)).hexdigest()
        platform, language = calculated.platform(), folder(shop).settings().language
        at = asking.now()
        write_whole(record, made(ran, file.name, digest, platform, at, by=by, language=language))
    if as_json:
        typer.echo(json.dumps({"cases": [each.told() for each in ran]}, ensure_ascii=False))
    else:
        typer.echo(calc_words.cases(ran))
        if record is not None:
            asking.say(f"Validation record: {record}")
    return 0 if all(each.ok for each in ran) else 1
