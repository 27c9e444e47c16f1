"""The worked jobs of fixtures/worked as ledger entries, read straight from their JSON.

Independent of capture: places are put together here from what the file says of each reading, so
that the sequence of the plan is held against the order in which the jobs were measured.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from inspect_rec import jobfile, ledger, plan
from inspect_rec.ledger import Entry, Head

FOLDER = Path(__file__).parents[1] / "fixtures" / "worked"

_CLOSURES = {
    "closure": {"I1": "profile arc", "I2": "lip", "I3": "profile arc"},
    "relief closure": {"I1": "relief drop"},
    "lip height closure": {"I2": "lip height"},
    "face height closure": {"I3": "face height"},
}
_CHANNELS = {
    "length_mm": ("length", "mm"),
    "temperature_degC": ("temperature", "degC"),
    "indicator_mm": ("indicator", "mm"),
    "angle_deg": ("angle", "deg"),
}


@cache
def jobs() -> Mapping[str, Any]:
    """The file, by job number."""
    whole = json.loads((FOLDER / "worked-jobs.json").read_text(encoding="utf-8"))
    return {whole[key]["job"]["number"]: whole[key] for key in ("job1", "job2", "job3")}


@cache
def shop() -> plan.ShopFile:
    """The shop of the worked jobs."""
    return jobfile.parse_shop((FOLDER / "shop.toml").read_text(encoding="utf-8"))


@cache
def job(number: str) -> plan.JobFile:
    """One of the job files."""
    text = (FOLDER / f"{number.lower()}.toml").read_text(encoding="utf-8")
    return jobfile.parse_job(text, shop(), f"{number.lower()}.toml")


def inspection_id(number: str) -> str:
    """Job and tool mark."""
    return f"{number}/{job(number).tool[0].mark}"


def opened(number: str, customer: str = "C-1") -> dict[str, Any]:
    """Body of the entry that opens a job."""
    body = job(number).model_dump(mode="json", by_alias=True)
    body["job"]["customer"] = customer
    return {
        "job": number,
        "plan": body,
        "shop": shop().model_dump(mode="json", by_alias=True),
    }


def place(number: str, reading: Mapping[str, Any]) -> dict[str, Any]:
    """Where a reading of the file belongs."""
    step, when = reading["step"], reading.get("when", "")
    again = "re-measur" in when or reading.get("set") == "re-measured"
    found: dict[str, Any] = {"feature": step}
    if step in _CLOSURES:
        found |= {"feature": _CLOSURES[step][number], "when": "closure"}
    elif step == "length" and reading["stage"] == "arrival":
        found["feature"] = "length on arrival"
    elif when.startswith(("before", "after")):
        found["when"] = "after grinding 1" if "grinding" in when else when.split()[0]
    if again:
        found["round"] = 1
    if "flute" in reading:
        found["flute"] = reading["flute"]
    if "repeat" in reading:
        found["repeat"] = reading["repeat"]
    return found | {"mark": _mark(found["feature"], reading)}


def _mark(feature: str, reading: Mapping[str, Any]) -> str:
    fixed = {
        "length": "tip",
        "length on arrival": "tip",
        "angle master": "45",
        "lip height": "r 3",
        "face height": "face",
    }
    if feature in fixed:
        return fixed[feature]
    if "roll_deg" in reading:
        return f"{reading['roll_deg']:.1f}"
    if "side" in reading:
        return str(reading["side"]).split()[0]
    for key in ("where", "point", "block", "corner", "index_deg"):
        if key in reading:
            return str(reading[key])
    raise KeyError(f"no mark in {reading}")


def body(number: str, reading: Mapping[str, Any]) -> dict[str, Any]:
    """Body of the entry of a reading."""
    feature = next(
        (f for f in job(number).feature if f.id == place(number, reading)["feature"]), None
    )
    by_eye = reading["what"] == "read by eye"
    if by_eye:
        taken = [
            {"channel": channel, "value": str(reading[key]), "unit": unit}
            for key, (channel, unit) in _CHANNELS.items()
            if key in reading
        ]
    else:
        taken = [
            {"channel": axis, "value": f"{reading[f'{axis.lower()}_mm']:.3f}", "unit": "mm"}
            for axis in "XZ"
        ]
    return {
        "inspection": inspection_id(number),
        "place": place(number, reading),
        "stage": reading.get("stage", "check"),
        "taken": taken,
        "by_eye": by_eye,
        "key": not by_eye,
        "source": (feature.instrument if feature else "TH-1") or "RO-1",
        "taken_at": reading["at"],
        "raw": "",
    }


def entries(number: str, upto: int | None = None) -> tuple[Entry, ...]:
    """The job's entries up to and with reading ``upto``; all of them without it."""
    head = Head("A", 0, "0" * 64)
    found: list[Entry] = []

    def add(at: str, person: str, kind: str, what: dict[str, Any]) -> None:
        nonlocal head
        entry = ledger.make(head, datetime.fromisoformat(at), person, kind, what)
        found.append(entry)
        head = Head(entry.station, entry.seq, entry.digest)

    readings = jobs()[number]["readings"]
    add(readings[0]["at"], "G-01", "job opened", opened(number))
    for reading in readings:
        if upto is not None and reading["n"] > upto:
            break
        kind, what = _entry(number, reading)
        if kind == "first order":
            add(reading["at"], "Q-01", "measure again", what)
            kind, what = _entry(number, reading, again=True)
        add(reading["at"], reading.get("person", "G-01"), kind, what)
    return tuple(found)


def _entry(  # noqa: PLR0911 - one return a kind
    number: str, reading: Mapping[str, Any], *, again: bool = False
) -> tuple[str, dict[str, Any]]:
    base = {"inspection": inspection_id(number)}
    step = reading["step"]
    if step == "Z display set anew":
        if not again and number == "I2" and reading["at"] > "2026-11-19":
            order = {"characteristics": ["DC_2"], "repeats": 9, "master": "PIN-11", "why": ""}
            return "first order", base | order
        return "datum set anew", base | {"slide": "Z"}
    if reading["what"] != "event":
        return "reading", body(number, reading)
    if step == "received":
        return step, base | {"state": reading["state"]}
    if step in ("clamped", "unclamped"):
        return step, base | {"object": reading["object"].split(" on ")[0]}
    if step == "ground again":
        cut = {"flute": reading["flute"], "infeed_mm": str(reading["infeed_mm"])}
        return step, base | cut | {"how": reading["how"], "noticed": "by key"}
    if step == "concession":
        said = {"words": reading["about"], "granted_by": reading["customer"]}
        return step, base | {"number": reading["reference"], "characteristics": ["DC_2"]} | said
    return step, base | {"number": reading.get("number", "")}
