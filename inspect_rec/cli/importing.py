"""The command for files: what one holds, its rows into a tool, or a watched folder."""

from __future__ import annotations

from pathlib import Path

import typer

from inspect_rec.cli import asking
from inspect_rec.errors import InputError

WRONG = 2
"""Exit code where a row is wrong, or wasn't taken."""


def command(
    file: Path | None = typer.Argument(None, metavar="[FILE]", help="Or --watch a folder."),
    mapping: Path | None = typer.Option(
        None, "--mapping", metavar="FILE", help="Says what its columns are; a picture needs none."
    ),
    inspection: str = typer.Option(
        "", "--inspection", metavar="JOB/TOOL", help="Take the rows for it; else only show them."
    ),
    person: str = typer.Option("", "--person", metavar="ID", help="Who does this, such as G-01."),
    watch: Path | None = typer.Option(
        None, "--watch", metavar="FOLDER", help="Take each file that is put there, once."
    ),
    still: float = typer.Option(
        2.0, "--still", metavar="SECONDS", help="A file is complete when it stood still so long."
    ),
    flute: int = typer.Option(
        0, "--flute", min=0, metavar="NUMBER", help="Which a picture shows.", show_default=False
    ),
    words: str = typer.Option(
        "", "--words", metavar="TEXT", help="What a picture shows.", show_default=False
    ),
    keep_only: bool = typer.Option(
        False, "--keep-only", help="Keep a picture with the tool, not on its report."
    ),
    once: bool = typer.Option(
        False, "--once", help="Leave the folder when no file waits in it any more."
    ),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Show what a file holds, or take its rows for a tool.

    Tables (CSV), spreadsheets (XLSX), points, drawings (DXF), pictures; docs/read-files.md says
    how a mapping is written. Exit code 2 if a row is wrong or wasn't taken.

    Example: inspect-rec import log.csv --mapping log.toml
    """
    if (file is None) is (watch is None):
        raise InputError(
            "one of both is needed",
            expected="FILE or --watch FOLDER",
            found="both" if file else "none",
        )
    if bool(inspection) is not bool(person) or (watch is not None and not inspection):
        raise InputError(
            "somebody has to answer for what is taken",
            expected="--inspection JOB/TOOL and --person ID",
            found=f"{inspection or 'no tool'}, {person or 'nobody'}",
        )
    from inspect_rec.cli import imported, taking

    given = taking.mapping_of(mapping)
    about = taking.About(flute, words, not keep_only)
    if watch is not None:
        if given is None:
            raise InputError("a folder's files need a mapping", expected="--mapping FILE")
        from inspect_rec.cli import watching

        folder = asking.shop(shop)
        who = asking.known_person(folder, person)
        taker = taking.Taker(folder, inspection, who, given, about)
        watching.run(watch, folder, taker, still_s=still, once=once)
        return
    with taking.opened(file or Path()) as found:
        if inspection:
            folder = asking.shop(shop)
            who = asking.known_person(folder, person)
            taker = taking.Taker(folder, inspection, who, given, about)
            told = taker.take(found)
        else:
            told = taking.shown(found, given)
            found.unchanged()
    imported.say(told, as_json=as_json)
    if told.get("mistakes"):
        raise typer.Exit(WRONG)
