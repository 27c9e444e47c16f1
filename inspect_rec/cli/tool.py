"""Commands for one tool: receive, measure, what it's like, ground, struck out, measure again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.store import Store


def register(app: typer.Typer) -> None:
    """Enter the commands."""
    for command in (receive, measure, ground, strike, again, revise):
        app.command()(command)
    app.command("state")(state)


def _event(folder: Folder, inspection: str, person: str, kind: str, body: dict[str, Any]) -> None:
    from inspect_rec.inspection import fold
    from inspect_rec.store import Store

    who = asking.known_person(folder, person)
    with Store.open(folder.ledger) as store:
        fold(store.entries(inspection), inspection)
        entry = store.append(asking.now(), who, kind, {"inspection": inspection, **body})
    typer.echo(f"{kind}: entry {entry.station} {entry.seq}")


def receive(
    inspection: str = asking.INSPECTION,
    state: str = typer.Option(..., "--state", help='As it came: "worn, two chips on flute 3".'),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record the state in which a tool arrived.

    Example: inspect-rec receive I1/QF-0417 --state "worn, no chips" --person G-01
    """
    body = {"state": state, "tool": inspection.split("/", 1)[-1]}
    _event(asking.shop(shop), inspection, person, "received", body)


def measure(
    inspection: str = asking.INSPECTION,
    person: str = asking.PERSON,
    recording: Path | None = typer.Option(
        None, "--recording", help="Play recorded bytes instead of a readout."
    ),
    readout: str | None = typer.Option(None, "--readout", help="Address, instead of station.toml."),
    plain: bool = typer.Option(False, "--plain", help="Lines instead of the large screen."),
    shop: str | None = asking.SHOP,
) -> None:
    """Measure a tool, step by step; goes on where it was left.

    Wheel stopped before you sight, touch or clean. This program starts and stops nothing.

    Example: inspect-rec measure I1/QF-0417 --person G-01
    """
    from inspect_rec.cli.measure import run

    folder = asking.shop(shop)
    who = asking.known_person(folder, person)
    run(folder, inspection, who, recording=recording, readout=readout, plain=plain)


def ground(
    inspection: str = asking.INSPECTION,
    flute: int = typer.Option(0, "--flute", help="Which; without it all of them."),
    infeed: str = typer.Option("", "--infeed", help="mm, as taken."),
    how: str = typer.Option("", "--how", help="In words."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record that a cut was taken: what was final there doesn't stand any more.

    Example: inspect-rec ground I1/QF-0417 --flute 3 --infeed 0.012 --person G-01
    """
    body = {"flute": flute, "infeed_mm": infeed, "how": how, "noticed": "by command"}
    _event(asking.shop(shop), inspection, person, "ground again", body)


def strike(
    inspection: str = asking.INSPECTION,
    seq: int = typer.Argument(..., help="Sequence number of the reading's entry."),
    reason: str = typer.Option(..., "--reason", help="Why it doesn't count."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Strike out a reading; it stays visible, with who and why.

    Example: inspect-rec strike I1/QF-0417 57 --reason "film on edge" --person G-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        station = store.station
        kinds = [e.kind for e in store.entries(inspection) if e.seq == seq]
    if kinds != ["reading"]:
        raise InputError(
            "that entry is no reading of this tool", found=f"{station} {seq}: {kinds or 'nothing'}"
        )
    body = {"entry": {"station": station, "seq": seq}, "reason": reason}
    _event(folder, inspection, person, "struck out", body)


def again(
    inspection: str = asking.INSPECTION,
    characteristic: list[str] = typer.Argument(..., help="Ids of the plan."),
    repeats: int = typer.Option(0, "--repeats", help="Sightings each; without it as planned."),
    master: str = typer.Option("", "--master", help="Another master pin."),
    why: str = typer.Option(..., "--why", help="In words."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Order characteristics to be measured again, finer; the first measurement stays.

    Example: inspect-rec again I2/BW-22-B DC_2 --repeats 9 --master PIN-11 --why "neither shown"
    --person Q-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.inspection import fold
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        job = fold(store.entries(inspection), inspection).job
    known = [c.id for c in job.characteristic]
    wrong = [c for c in characteristic if c not in known]
    if wrong:
        raise InputError(
            "no such characteristic", expected=", ".join(known), found=", ".join(wrong)
        )
    body = {"characteristics": list(characteristic), "repeats": repeats, "master": master}
    _event(folder, inspection, person, "measure again", body | {"why": why})


def revise(
    inspection: str = asking.INSPECTION,
    to: str = typer.Option(..., "--to", help="The drawing's new revision."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record a new drawing revision: no verdict until the job is opened anew.

    Example: inspect-rec revise I1/QF-0417 --to C --person Q-01
    """
    from inspect_rec.inspection import fold
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        before = fold(store.entries(inspection), inspection).record.revision
    body = {"from": before, "to": to}
    _event(folder, inspection, person, "drawing revision changed", body)


def state(
    inspection: str | None = typer.Argument(None, metavar="[JOB/TOOL]", help="One tool, or all."),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Show verdicts, stock and what comes next.

    Example: inspect-rec state I1/QF-0417
    """
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        names = [inspection] if inspection else store.inspections()
        told = [_state(store, name, as_json=as_json) for name in names]
    if as_json:
        typer.echo(json.dumps(told[0] if inspection else told, ensure_ascii=False))


def _state(store: Store, name: str, *, as_json: bool) -> dict[str, Any]:
    from inspect_rec.cli import summary
    from inspect_rec.inspection import fold

    found = fold(store.entries(name), name)
    told: dict[str, Any] = {
        "inspection": name,
        "verdict": found.verdict.value,
        "open_steps": len(found.open),
        "results": [summary.result(r, found, "now", feeds=True) for r in found.results],
    }
    if not as_json:
        typer.echo(f"{name}  {found.verdict.value}, {len(found.open)} steps open")
        typer.echo(summary.table(found))
    return told
