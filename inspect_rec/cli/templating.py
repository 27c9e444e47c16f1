"""Commands for how reports look, and for the file that the shop keeps beside each."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.report.letterhead import Letterhead

OUT = typer.Option(..., "--out", metavar="FILE", help="The PDF; one that is there is replaced.")


app = typer.Typer(
    help="Look at a sample report, or write a tool's measurement record.", no_args_is_help=True
)


@app.command()
def preview(
    out: Path = OUT,
    letterhead: Path | None = typer.Option(
        None, "--letterhead", metavar="FILE", help="Such as shop/letterhead.toml."
    ),
    language: str | None = typer.Option(
        None, "--language", metavar="TEXT", help="Such as de; else the station's, or en."
    ),
    shop: str | None = typer.Option(
        None, "--shop", metavar="FOLDER", help="Takes name and letterhead from the shop's."
    ),
) -> None:
    """Draw a sample report, to see a letterhead or a language.

    The tool is invented. Every page says that it is a sample. It has no record
    and no signature, and isn't verified.

    Example: inspect-rec report preview --shop shop --out sample.pdf
    """
    from inspect_rec.config import read_letterhead, write_whole

    folder = asking.shop(shop) if shop is not None else None
    head: Letterhead | None = None
    if letterhead is not None:
        head = read_letterhead(letterhead)
    elif folder is not None:
        head = folder.letterhead()
    if language is None:
        language = folder.settings().language if folder is not None else "en"
    write_whole(out, drawn(language, head, folder))
    asking.say(f"{out}: a sample, not a report")


def drawn(language: str, head: Letterhead | None, folder: Folder | None = None) -> bytes:
    """The pages of the sample. Raises InputError for a language without words."""
    from dataclasses import replace
    from importlib import resources

    from inspect_rec.inspection import fold
    from inspect_rec.ledger import instant
    from inspect_rec.report import pdf, record, saying
    from report_templates import words

    sample = resources.files("inspect_rec.cli") / "templates" / "sample.json"
    header, entries = record.from_bytes(sample.read_bytes())
    w = words(_known(language))
    header = replace(header, number=w["preview.sample"], language=language, letterhead=head)
    said = saying.of(fold(entries, header.inspection), header)
    said = replace(said, title=w["preview.title"], foot=(w["preview.foot"], w["preview.data"]))
    if folder is not None:
        own = folder.read_shop().shop
        place = " · ".join(x for x in (own.address, own.place) if x)
        said = replace(said, head_left=(own.name, place))
    return pdf.render(said, {}, instant(header.issued)).pdf


@app.command("record")
def kept(
    inspection: str = asking.INSPECTION,
    out: Path = OUT,
    language: str | None = typer.Option(
        None, "--language", metavar="TEXT", help="Such as de; else the station's."
    ),
    shop: str | None = asking.SHOP,
) -> None:
    """Write the measurement record for the shop's own file.

    All readings with instants and persons, also those that don't count and why; all budgets row by
    row; checks, closures, temperatures. It is no report, and nobody signs it.

    Example: inspect-rec report record I1/QF-0417 --out QF-0417-record.pdf
    """
    from inspect_rec import __version__
    from inspect_rec.config import write_whole
    from inspect_rec.inspection import fold
    from inspect_rec.report import measurements
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        found = fold(tuple(store.entries(inspection)), inspection)
    named = {**folder.persons(), **folder.customers()}
    said = measurements.Said(
        _known(language or folder.settings().language),
        __version__,
        {id_: each.name for id_, each in named.items()},
        folder.letterhead(),
    )
    write_whole(out, measurements.made(found, said))
    count = len(found.record.readings)
    asking.say(f"{out}: {count} readings, {len(found.results)} results; not signed, no report")


def _known(language: str) -> str:
    from inspect_rec.errors import InputError
    from report_templates import languages

    if language not in languages():
        known = " or ".join(sorted(languages()))
        raise InputError("a language without words", expected=known, found=language)
    return language
