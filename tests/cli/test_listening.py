"""Watching a readout: figures, keys and alarms as they come, and nothing recorded."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from inspect_rec import cli
from inspect_rec.simulate.readout import SimulatedReadout


@pytest.fixture
def readout() -> Iterator[SimulatedReadout]:
    with SimulatedReadout() as found:
        yield found


def watched(
    readout: SimulatedReadout,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    *words: str,
) -> str:
    def send() -> None:
        readout.send(b"9 Z+0130.250\r\n")
        for _ in range(4):
            readout.show("36.449", "130.250")
            time.sleep(0.15)
        readout.show("36.449", "130.250", key=True)

    sender = threading.Thread(target=send)
    sender.start()
    monkeypatch.setattr(
        "sys.argv",
        ["inspect-rec", "readout", "watch", readout.url, "--layout", "two-axis line", *words],
    )
    with pytest.raises(SystemExit) as caught:
        cli.main()
    sender.join()
    assert not caught.value.code
    return capsys.readouterr().out


def test_figures_keys_and_alarms_are_shown_in_words(
    readout: SimulatedReadout,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    said = watched(readout, capsys, monkeypatch, "--seconds", "2")
    assert "half a line at the start" in " ".join(said.split())
    assert "X      36.449   Z     130.250   still" in said
    assert "130.250   key" in said
    assert list(tmp_path.iterdir()) == []


def test_the_same_as_json(
    readout: SimulatedReadout, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    lines: list[dict[str, Any]] = [
        json.loads(line)
        for line in watched(readout, capsys, monkeypatch, "--seconds", "2", "--json").splitlines()
    ]
    assert lines[0]["alarm"] == "corrupt"
    assert [line["state"] for line in lines[1:]][-1] == "key"
    assert {"live", "still"} <= {line.get("state") for line in lines}
    assert all(line["axes"] == {"X": "36.449", "Z": "130.250"} for line in lines[1:])
