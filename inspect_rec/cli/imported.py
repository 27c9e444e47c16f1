"""What a file held, and what was taken of it, for a person or a program."""

from __future__ import annotations

import json
from typing import Any

import typer

from inspect_rec.cli import asking

SHOWN = 100
"""Rows that are printed; with --json a hundred times as many."""


def say(told: dict[str, Any], *, as_json: bool) -> None:
    """As JSON, or for a person: rows, a contour's elements, or a picture in a line."""
    if as_json:
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    if "elements" in told:
        _print_contour(told)
    elif "width" in told:
        where = "and on its report" if told.get("on_report") else "not on its report"
        kept = f"; kept with the tool, {where}: entry {told['entry']}" if "entry" in told else ""
        typer.echo(f"{told['file']}: {told['kind']}, {told['width']} by {told['height']}{kept}")
    else:
        _print_rows(told)


def _print_rows(told: dict[str, Any]) -> None:
    for row in told["rows"][:SHOWN]:
        figures = "  ".join(f"{f['channel']} {f['value']} {f['unit']}" for f in row["figures"])
        place = row.get("place", row)
        names = [str(place[key]) for key in ("feature", "flute", "mark", "repeat") if key in place]
        doubt = f"  {row['doubt']}" if row.get("doubt") else ""
        asking.say(f"{row['row']:>7}  {row['at']}  {figures}  {', '.join(names)}".rstrip() + doubt)
    if told["count"] > SHOWN:
        typer.echo(f"         and {told['count'] - SHOWN} more")
    for each in told["mistakes"]:
        asking.say(f"  {each['where']}: expected {each['expected']}, found {each['found']}")
    known = f", {told['known']} taken before" if told.get("known") else ""
    taken = f"taken, entry {told['entry']}" if told.get("entry") else "good"
    count, wrong = told["count"], len(told["mistakes"])
    typer.echo(f"{told['file']}: {_many(count, 'row')} {taken}{known}, {_many(wrong, 'mistake')}")


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _print_contour(told: dict[str, Any]) -> None:
    typer.echo("elements = [")
    for element in told["elements"]:
        typer.echo(f"    {json.dumps(element)},")
    typer.echo("]")
    for each in told["left"]:
        asking.say(f"# not in it: {each['where']}: {each['found']}; expected {each['expected']}")
    typer.echo(f"# {told['file']}: ends up to {told['gap_mm'] * 1000:.3f} um apart were joined")
