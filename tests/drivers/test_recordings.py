"""The recordings are the worked jobs: every reading, in its order, through the real decoder."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from drivers import replay
from drivers.decoder import Decoder
from drivers.layout import packaged
from drivers.settled import Settled, State
from inspect_rec.reading import Sighting

FIXTURES = Path(__file__).parents[2] / "fixtures"
LAYOUT = packaged()["two-axis line"]
JOBS: dict[str, dict[str, Any]] = {
    job["job"]["number"].lower(): job
    for key, job in json.loads(
        (FIXTURES / "worked" / "worked-jobs.json").read_text("utf-8")
    ).items()
    if key.startswith("job")
}
every_job = pytest.mark.parametrize("number", sorted(JOBS))
_BY_EYE = ("temperature_degC", "length_mm", "angle_deg", "indicator_mm")


def played(number: str) -> list[replay.Played]:
    path = FIXTURES / "recordings" / f"{number}.jsonl"
    lines, bad = replay.read(path.read_text("utf-8"), path.name)
    assert bad == []
    return lines


def taken(number: str) -> list[tuple[int, Any]]:
    """What the recording takes, by the number of its reading: figures, or the kind of an event."""
    decoder, settled = Decoder(LAYOUT, "RO-1"), Settled(LAYOUT)
    found: list[tuple[int, Any]] = []
    typed: str | None = None
    for each in played(number):
        n = each.more["n"]
        for item in decoder.feed(each.data, each.at):
            assert isinstance(item, Sighting), item
            settled.hear(item)
            if item.key:
                found.append((n, tuple(r.value for r in item.readings)))
        if each.act == "type":
            typed = each.more["text"]
        elif each.act == "take" and typed is not None:
            found.append((n, Decimal(typed)))
            typed = None
        elif each.act == "take":
            assert settled.state(each.at) is State.STILL
            assert settled.last is not None
            found.append((n, tuple(r.value for r in settled.last.readings)))
        elif each.act:
            found.append((n, each.act))
    return found


def expected(reading: dict[str, Any]) -> Any:
    if reading["what"] == "event":
        return reading["step"]
    if reading["what"] == "sighting":
        return Decimal(f"{reading['x_mm']:.3f}"), Decimal(f"{reading['z_mm']:.3f}")
    (figure,) = (Decimal(repr(reading[key])) for key in _BY_EYE if key in reading)
    return figure


@every_job
def test_a_recording_holds_every_reading_of_its_job_in_order(number: str) -> None:
    made_up = {n for n, what in taken(number) if what == "clamped"} - {
        r["n"] for r in JOBS[number]["readings"] if r["what"] == "event"
    }
    found = [(n, what) for n, what in taken(number) if not (what == "clamped" and n in made_up)]
    assert found == [(r["n"], expected(r)) for r in JOBS[number]["readings"]]
    assert len(made_up) <= 1


@every_job
def test_what_is_made_up_says_so(number: str) -> None:
    readings = {r["n"]: r for r in JOBS[number]["readings"]}
    for each in played(number):
        reading = readings[each.more["n"]]
        if reading.get("added") and each.act != "take":
            assert each.more["added"] is True
        if each.act == "clamped" and reading["what"] != "event":
            assert each.more["added"] is True
    ways = [p for p in played(number) if p.data and p.more.get("added")]
    assert len(ways) > len([p for p in played(number) if p.act == "take"])


@every_job
def test_a_third_of_the_sightings_is_taken_from_the_live_figure(number: str) -> None:
    sightings = {r["n"] for r in JOBS[number]["readings"] if r["what"] == "sighting"}
    live = {p.more["n"] for p in played(number) if p.act == "take"} & sightings
    assert 0.25 < len(live) / len(sightings) < 0.42


def test_the_script_makes_the_same_recordings_again(tmp_path: Path) -> None:
    (tmp_path / "worked").mkdir()
    shutil.copy(FIXTURES / "worked" / "worked-jobs.json", tmp_path / "worked")
    script = Path(shutil.copy(FIXTURES / "make_recordings.py", tmp_path))
    subprocess.run([sys.executable, str(script)], check=True)
    names = sorted(p.name for p in (tmp_path / "recordings").iterdir())
    assert names == ["i1.jsonl", "i2.jsonl", "i3.jsonl"]
    for name in names:
        made = (tmp_path / "recordings" / name).read_bytes()
        assert made == (FIXTURES / "recordings" / name).read_bytes(), name
