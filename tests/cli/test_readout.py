"""Recorded lines decoded from the command line: the same for people and for programs."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from drivers import recorded
from drivers.decoder import Decoder
from inspect_rec.cli import app
from inspect_rec.cli.decoded import as_json
from inspect_rec.errors import InputError
from tests.drivers.cases import AT, LAYOUTS, chunks, every_case

RUNNER = CliRunner()
ANSWER = b"31.447,142.318,OK\r"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


def run(*words: str) -> str:
    result = RUNNER.invoke(app, ["readout", "decode", *words])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def decoded(layout: str, path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in run("--layout", layout, str(path), "--json").splitlines()]


def bare(folder: Path, data: bytes) -> Path:
    path = folder / "line.bin"
    path.write_bytes(data)
    return path


def lines(folder: Path, *pieces: tuple[object, bytes]) -> Path:
    path = folder / "line.jsonl"
    path.write_bytes(written(pieces))
    return path


def written(pieces: Iterable[tuple[object, bytes]]) -> bytes:
    rows = [json.dumps({"at": at, "hex": data.hex()}) for at, data in pieces]
    return "\n".join([*rows, ""]).encode()


def test_a_reading_is_said_with_all_that_is_known_of_it(folder: Path) -> None:
    assert decoded("numbered line", bare(folder, b"#17:X-0031.400\r\n")) == [
        {
            "at": None,
            "axes": {"X": "-31.400"},
            "unit_sent": "mm",
            "mode_sent": None,
            "key": False,
            "count": 17,
            "suspect": None,
        }
    ]


def test_an_alarm_is_said_with_its_words(folder: Path) -> None:
    (alarm,) = decoded("flagged pair", bare(folder, b"A=1.238;B=5.603;U=1\n"))
    assert list(alarm) == ["at", "alarm", "said"]
    assert alarm["alarm"] == "unit changed"
    assert "set it back" in alarm["said"]


@pytest.mark.parametrize(
    "instants",
    [
        ("2026-11-17T08:00:00Z", "2026-11-17T09:00:00.25+01:00", "2026-11-17T08:00:00.5000001Z"),
        (0, 0.25, 0.5),
        (1763366400, 1763366400.25, 1763366400.5),
    ],
)
def test_instants_come_out_as_they_were_given(folder: Path, instants: tuple[object, ...]) -> None:
    path = lines(folder, *((at, ANSWER) for at in instants))
    assert [row["at"] for row in decoded("asked pair", path)] == list(instants)


def test_inches_become_millimetres_exactly(folder: Path) -> None:
    path = folder / "inch.toml"
    path.write_text(
        "id = \"inch\"\n[frame]\npattern = 'X(?P<x>[+-]\\d{2}\\.\\d{5})'\n"
        '[figures]\ndecimals = 5\nunit = "in"\nmode = "diameter"\n',
        encoding="utf-8",
    )
    found = decoded(str(path), bare(folder, b"X+01.23807\r\nX-00.00001\r\nX-00.00000\r\n"))
    assert [row["axes"]["X"] for row in found] == ["31.446978", "-0.000254", "0.000000"]
    assert {(row["unit_sent"], row["mode_sent"]) for row in found} == {("in", "diameter")}


def test_the_frames_own_word_for_its_mode_is_said(folder: Path) -> None:
    (found,) = decoded("double-display", bare(folder, b"[R]31.447[/D]62.894\n"))
    assert (found["axes"], found["mode_sent"]) == ({"X": "31.447"}, "radius")


def test_a_gap_in_time_is_silence_and_is_said_where_figures_go_on(folder: Path) -> None:
    frame = b"X31.447Z142.318"
    path = lines(folder, (0, frame), (2, frame), (4.001, frame), (4.1, frame), (60, frame))
    found = decoded("pause only", path)
    assert [row.get("alarm", "reading") for row in found] == [
        *["reading", "reading", "silent", "reading", "reading", "silent", "reading"]
    ]
    assert [row["at"] for row in found] == [0, 2, 4.001, 4.001, 4.1, 60, 60]


def test_a_readout_with_a_key_is_never_silent(folder: Path) -> None:
    press = b"31.447\t142.318\r"
    found = decoded("typed pair", lines(folder, (0, press), (600, press)))
    assert [row["key"] for row in found] == [True, True]


@pytest.mark.parametrize("kind", ["golden", "broken"])
def test_every_recorded_case_is_decoded_as_it_says(kind: str) -> None:
    for layout, case in every_case(kind):
        sent = chunks(case)
        raw = sent[0][1] if "hex" in case else written((ms / 1000, data) for ms, data in sent)
        items = recorded.decoded(recorded.read(raw, "line"), LAYOUTS[layout])
        short: list[object] = []
        for row in map(json.loads, as_json(items, LAYOUTS[layout], timed=True)):
            said = {key: row[key] for key in ("axes", "key", "count") if key in row}
            if row.get("alarm") != "silent":
                suspect = {"suspect": row.get("suspect") is not None}
                short.append(row.get("alarm") or said | suspect)
        assert short == case["said"], (layout, case["name"])


def test_a_table_for_people_has_80_columns(folder: Path) -> None:
    for layout, case in every_case("broken"):
        path = bare(folder, b"".join(data for _, data in chunks(case)))
        said = run("--layout", layout, str(path))
        assert max(map(len, said.splitlines())) <= 80
        assert LAYOUTS[layout].id in said
    rest, zero = b"A=31.447;B=142.318\n", b"A=0.000;B=142.318\n"
    sent = [(n / 10, rest) for n in range(3)] + [(0.3, zero), (0.4, zero)]
    said = run("--layout", "flagged pair", str(lines(folder, *sent)))
    assert "0.1                                31.447      142.318\n" in said
    assert "! 0.3: zero reset." in said
    assert "0.4                                 0.000      142.318  suspect\n" in said
    assert said.endswith("4 readings, 1 alarm.\n")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('{"at": 0, "hex": "58"}\n{"at": 1, "hex": "5"}\n', ":2:"),
        ('{"at": 0, "hex": "58"}\n\n{"at": 1}\n', ":3:"),
        ('{"at": 0, "hex": "58"}\nX31.447\n', ":2:"),
        ('garbage\n{"at": 0, "hex": "58"}\n', ":1:"),
        ('{"at": "yesterday", "hex": "58"}\n', ":1:"),
        ('{"at": "2026-11-17T08:00:00", "hex": "58"}\n', ":1:"),
        ('{"at": true, "hex": "58"}\n', ":1:"),
        ('{"at": 1e300, "hex": "58"}\n', ":1:"),
        ('{"at": NaN, "hex": "58"}\n', ":1:"),
        ('{"at": 0, "at": 1, "hex": "58"}\n', ":1:"),
        ('{"at": 0, "hex": 58}\n', ":1:"),
        ('{"at": 0, "hex": "58"}\n{"at": "2026-11-17T08:00:00Z", "hex": "58"}\n', ":2:"),
        ('{"hex": "58"}\n', ":1:"),
        ('{"at": 0, "hex": "58"', ":1:"),
        ("[" * 100_000 + '\n{"at": 0, "hex": "58"}\n', ":1:"),
        ('{"at": 0, "act": "take"}\n', "no bytes"),
        ("", "empty"),
    ],
)
def test_a_bad_recording_is_refused_with_the_numbers_of_its_lines(
    folder: Path, text: str, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        decoded("asked pair", bare(folder, text.encode()))


def test_a_missing_recording_and_a_layout_that_nobody_knows_are_said(folder: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        run("--layout", "asked pair", str(folder / "none.jsonl"))
    with pytest.raises(InputError, match=r"no such layout.*two-axis line"):
        run("--layout", "nobody", str(bare(folder, b"1")))
    with pytest.raises(InputError, match="no such file"):
        run("--layout", str(folder / "none.toml"), str(bare(folder, b"1")))


def test_acts_of_a_person_in_a_recording_are_no_bytes(folder: Path) -> None:
    path = folder / "job.jsonl"
    path.write_text(
        '{"at": "2026-11-17T08:00:00Z", "hex": "' + b"A=1.000;B=2.000\n".hex() + '"}\n'
        '{"at": "2026-11-17T08:00:01Z", "act": "take"}\n',
        encoding="utf-8",
    )
    assert [row["axes"] for row in decoded("flagged pair", path)] == [{"X": "1.000", "Z": "2.000"}]


LONG = b"".join(f"X{30 + n / 1000:+09.3f} Z{-n / 1000:+09.3f}\r\n".encode() for n in range(6000))


@pytest.mark.parametrize(
    "data", [LONG, LONG[7:], LONG[:70_000] + b"\r\n##\r\n" + LONG[70_000:], LONG + LONG]
)
def test_a_long_recording_is_decoded_as_a_short_one(folder: Path, data: bytes) -> None:
    """From 64 KiB on in runs; line by line it is told apart by its instants alone."""
    whole = decoded("two-axis line", bare(folder, data))
    layout = LAYOUTS["two-axis line"]
    decoder = Decoder(layout, "", timed=False)
    items = [*decoder.feed(data, AT), *decoder.close(AT)]
    alone = as_json(((None, item) for item in items), layout, timed=False)
    assert whole == [json.loads(line) for line in alone]
    assert len(whole) >= 5999
    told = run("--layout", "two-axis line", str(bare(folder, data))).splitlines()
    assert told[-1] == (
        f"{sum('axes' in row for row in whole)} readings, "
        f"{(n := sum('alarm' in row for row in whole))} alarm{'s' * (n != 1)}."
    )


def test_a_long_recording_in_inch_is_exact_too(folder: Path) -> None:
    path = folder / "inch.toml"
    path.write_text(
        "id = \"inch\"\n[frame]\npattern = '(?P<x>[+-]\\d{1,2}\\.\\d{4,5})'\n"
        '[figures]\ndecimals = [4, 5]\nunit = "in"\n',
        encoding="utf-8",
    )
    texts = [f"{(n - 5000) / 10_000:+.{4 + n % 2}f}" for n in range(10_000)]
    found = decoded(str(path), bare(folder, "\r\n".join([*texts, ""]).encode()))
    assert [row["axes"]["X"] for row in found] == [
        format(Decimal(text) * Decimal("25.4") or abs(Decimal(text) * Decimal("25.4")), "f")
        for text in texts
    ]
