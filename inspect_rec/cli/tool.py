"""Commands for one tool: receive, measure, what it's like, ground, struck out, measure again."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from inspect_rec.cli import asking

if TYPE_CHECKING:
    from inspect_rec.config import Folder
    from inspect_rec.inspection import Inspection
    from inspect_rec.ledger import Entry
    from inspect_rec.store import Store

_MM = re.compile(r"[0-9]{1,3}(\.[0-9]{1,6})?")


def register(app: typer.Typer) -> None:
    """Enter the commands."""
    for command in (receive, measure, ground, strike, again, revise):
        app.command()(command)
    app.command("state")(state)


def _event(folder: Folder, inspection: str, person: str, kind: str, body: dict[str, Any]) -> None:
    from inspect_rec.report.writable import writable
    from inspect_rec.store import Store

    who = asking.known_person(folder, person)
    with Store.open(folder.ledger) as store:
        _fold(store, inspection)
        whole = writable({"inspection": inspection, **body})
        entry = store.append(asking.now(), who, kind, whole)
    typer.echo(f"{kind}: entry {entry.station} {entry.seq}")


def _fold(store: Store, inspection: str) -> Inspection:
    """What the entries say; LedgerError where the job isn't open, InputError for no such tool."""
    from inspect_rec.errors import InputError
    from inspect_rec.inspection import fold

    if "/" not in inspection:
        raise InputError("no tool is named", expected="JOB/TOOL", found=inspection)
    return fold(store.entries(inspection), inspection)


def receive(
    inspection: str = asking.INSPECTION,
    state: str = typer.Option(
        ..., "--state", metavar="TEXT", help='As it came: "worn, two chips on flute 3".'
    ),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record the state in which a tool arrived.

    Says what earlier reports tell of the same tool.

    Example: inspect-rec receive I1/QF-0417 --state "worn" --person G-01
    """
    from inspect_rec.cli import summary
    from inspect_rec.report import earlier
    from inspect_rec.store import Store

    folder, body = asking.shop(shop), {"state": state, "tool": inspection.split("/", 1)[-1]}
    _event(folder, inspection, person, "received", body)
    with Store.open(folder.ledger) as store:
        found = _fold(store, inspection)
        for line in summary.earlier(earlier.of(found, store.inspections(), store.entries)):
            asking.say(f"  earlier: {line}")


def measure(
    inspection: str = asking.INSPECTION,
    person: str = asking.PERSON,
    recording: Path | None = typer.Option(
        None, "--recording", metavar="FILE", help="Play recorded bytes instead of a readout."
    ),
    readout: str | None = typer.Option(
        None, "--readout", metavar="ADDRESS", help="Instead of that in station.toml."
    ),
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
    flute: int = typer.Option(
        0, "--flute", min=0, metavar="NUMBER", help="Else all of them.", show_default=False
    ),
    infeed: str = typer.Option("", "--infeed", metavar="MM", help="As taken.", show_default=False),
    how: str = typer.Option("", "--how", metavar="TEXT", help="In words.", show_default=False),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record that a cut was taken after final readings.

    What was final there doesn't stand any more; it stays visible.

    Example: inspect-rec ground I1/QF-0417 --flute 3 --person G-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    if infeed and not _MM.fullmatch(infeed):
        raise InputError("no infeed", expected="mm, such as 0.012", found=infeed)
    with Store.open(folder.ledger) as store:
        tool = _fold(store, inspection).tool
    if flute > tool.edges:
        raise InputError(
            f"no such {tool.edge_word}", expected=f"1 to {tool.edges}", found=str(flute)
        )
    body = {"flute": flute, "infeed_mm": infeed, "how": how, "noticed": "by command"}
    _event(folder, inspection, person, "ground again", body)


def strike(
    inspection: str = asking.INSPECTION,
    seq: int = typer.Argument(..., metavar="NUMBER", help="Of its entry."),
    reason: str = typer.Option(..., "--reason", metavar="TEXT", help="Why it doesn't count."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Strike out a reading or a picture; it stays visible.

    Example: inspect-rec strike I1/QF-0417 57 --reason "film" --person G-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        station = store.station
        record = _fold(store, inspection).record
        kinds = [e.kind for e in store.entries(inspection) if e.seq == seq]
    if kinds not in (["reading"], ["picture kept"]):
        raise InputError(
            "there is no such reading or picture",
            expected=f"the entry of one of {inspection}",
            found=f"{station} {seq}: {', '.join(kinds) or 'none of its entries'}",
        )
    struck = {p.ref: "struck out" for p in record.pictures if p.struck}
    if (why := (record.void | struck).get((station, seq))) is not None:
        raise InputError(
            "it doesn't count as it is",
            expected="a reading or picture that stands",
            found=f"{station} {seq}: {why}",
        )
    body = {"entry": {"station": station, "seq": seq}, "reason": reason}
    _event(folder, inspection, person, "struck out", body)


def again(
    inspection: str = asking.INSPECTION,
    characteristic: list[str] = typer.Argument(
        ..., metavar="CHARACTERISTIC...", help="Ids of the plan."
    ),
    repeats: int = typer.Option(
        0, "--repeats", min=0, metavar="NUMBER", help="Sightings each.", show_default=False
    ),
    master: str = typer.Option(
        "", "--master", metavar="ID", help="Another master.", show_default=False
    ),
    why: str = typer.Option(..., "--why", metavar="TEXT", help="In words."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Order characteristics to be measured again.

    Such as finer: more --repeats, a --master nearer to the value. The first measurement stays.

    Example: inspect-rec again I2/BW-22-B DC_2 --why "too near" --person Q-01
    """
    from inspect_rec.errors import InputError
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        found = _fold(store, inspection)
    job, equipment = found.job, [e.id for e in found.shop.equipment]
    if master and master not in equipment:
        raise InputError("no such master", expected=", ".join(equipment), found=master)
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
    to: str = typer.Option(..., "--to", metavar="REVISION", help="The drawing's new one."),
    person: str = asking.PERSON,
    shop: str | None = asking.SHOP,
) -> None:
    """Record that the drawing has a new revision.

    No verdict is given until the job is opened anew with a plan for that revision.

    Example: inspect-rec revise I1/QF-0417 --to C --person Q-01
    """
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        before = _fold(store, inspection).record.revision
    body = {"from": before, "to": to}
    _event(folder, inspection, person, "drawing revision changed", body)


def state(
    inspection: str | None = typer.Argument(None, metavar="[JOB/TOOL]", help="One tool, or all."),
    shop: str | None = asking.SHOP,
    as_json: bool = asking.AS_JSON,
) -> None:
    """Show verdicts, stock and what comes next.

    Of one tool also what earlier reports say of it.

    Example: inspect-rec state I1/QF-0417
    """
    from inspect_rec.store import Store

    folder = asking.shop(shop)
    with Store.open(folder.ledger) as store:
        names = [inspection] if inspection else store.inspections()
        told = [_state(store, name, as_json=as_json, one=bool(inspection)) for name in names]
    if as_json:
        typer.echo(json.dumps(told[0] if inspection else told, ensure_ascii=False))


def _state(store: Store, name: str, *, as_json: bool, one: bool) -> dict[str, Any]:
    from inspect_rec.cli import screen, summary
    from inspect_rec.report import earlier

    entries = list(store.entries(name))
    found = _fold(store, name)
    reports = _reports(entries, found.digest)
    then, how = screen.prompt(found.next, found)
    before = earlier.of(found, store.inspections(), store.entries) if one else ()
    told: dict[str, Any] = {
        "inspection": name,
        "verdict": found.verdict.value,
        "open_steps": len(found.open),
        "next": None if found.next is None else then,
        "missing": list(found.missing),
        "reports": reports,
        "results": [summary.result(r, found, "now", feeds=True) for r in found.results],
        **({"earlier": [each.body() for each in before]} if one else {}),
    }
    if not as_json:
        typer.echo(f"{name}  {found.verdict.value}, {len(found.open)} steps open")
        typer.echo(summary.table(found))
        if found.missing:
            asking.say(f"  not measured yet: {'; '.join(found.missing)}")
        if found.next is not None:
            asking.say(f"  next: {then}. {how}")
        for each in reports:
            asking.say(f"  {each['number']}: {each['state']}")
        for line in summary.earlier(before):
            asking.say(f"  earlier: {line}")
    return told


def _reports(entries: list[Entry], digest: str) -> list[dict[str, str]]:
    """The tool's reports and what became of each."""
    told = {}
    for entry in entries:
        if entry.kind == "report made":
            fresh = entry.body["inspection_digest"] == digest
            state = "waits for release" if fresh else "stale, the tool was touched since"
            told[str(entry.body["number"])] = state
            if replaced := entry.body.get("replaces"):
                told[str(replaced)] += f"; replaced by {entry.body['number']}"
        elif entry.kind == "decided":
            number, reason = str(entry.body["number"]), entry.body.get("reason")
            said = f"{entry.body['decision']} by {entry.person}{f', {reason}' if reason else ''}"
            stale = "; the tool was touched since" if told[number].startswith("stale") else ""
            told[number] = said + stale
    return [{"number": number, "state": state} for number, state in told.items()]
