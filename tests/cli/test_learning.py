"""inspect-rec readout learn: a file, its exit codes, and the dialogue at a port."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner

from drivers.layout import parse
from drivers.learning.proposal import Known
from drivers.learning.recording import moves
from inspect_rec.cli import app, keys, teaching
from inspect_rec.cli.teaching import HIGH, WIDE, Lesson
from inspect_rec.errors import InputError, ReadoutError

RUN = CliRunner()
STILL, WAY = [31.447] * 12, [31.447 + n for n in range(1, 10)]
XS = [*STILL, *WAY, *[x + 10 for x in STILL]]


def frame(x: float) -> bytes:
    return b"A=%.3f;B=142.318\r\n" % x


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    path = tmp_path / "line.jsonl"
    lines = (f'{{"at": {0.1 * n:.1f}, "hex": "{frame(x).hex()}"}}' for n, x in enumerate(XS))
    path.write_text("\n".join(lines), "utf-8")
    return path


def learned(*words: str | Path) -> tuple[int, str]:
    found = RUN.invoke(app, ["readout", "learn", *map(str, words)])
    if found.exception is not None and not isinstance(found.exception, SystemExit):
        raise found.exception
    return found.exit_code, found.stdout


def test_a_layout_is_printed_that_loads(recording: Path) -> None:
    code, out = learned(recording, "--moved", "X=+10mm")
    assert code == 0
    assert parse(out, "learned").channels == ("X", "Z")


def test_a_layout_is_written_and_its_evidence_said(recording: Path, tmp_path: Path) -> None:
    code, out = learned(recording, "--moved", "X=+10mm", "--out", tmp_path / "mine.toml")
    assert code == 0
    assert "axis X: the figure 'A' (proved)" in out
    assert "axis Z: the figure 'B' (not proved)" in out
    assert max(map(len, out.replace(str(tmp_path), "here").splitlines())) <= 80
    layout = parse((tmp_path / "mine.toml").read_text("utf-8"), "mine.toml")
    assert layout.rules.sends == "continuously"


def test_a_file_that_is_there_is_never_written_over(recording: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text("kept", "utf-8")
    with pytest.raises(InputError, match="there already"):
        learned(recording, "--moved", "X=+10mm", "--out", tmp_path / "mine.toml")
    assert (tmp_path / "mine.toml").read_text("utf-8") == "kept"


def test_what_cant_be_decided_ends_with_3_and_the_move_that_decides(recording: Path) -> None:
    code, out = learned(recording, "--moved", "Z=+10mm")
    assert code == 3
    assert "What decides: move X by +10 mm and record again." in out


def test_json_holds_layout_settings_and_what_decides(recording: Path) -> None:
    code, out = learned(recording, "--moved", "X=+10mm", "--json")
    body = json.loads(out)
    assert code == 0
    assert body["layout"]["figures"]["unit"] == "mm"
    assert body["decides"] is None
    assert {"setting", "value", "for", "against", "proved"} == set(body["settings"][0])
    code, out = learned(recording, "--json")
    body = json.loads(out)
    assert (code, body["layout"]) == (3, None)
    assert body["decides"].startswith("move X by +10 mm")


def test_nothing_is_written_where_it_isnt_decided(recording: Path, tmp_path: Path) -> None:
    code, _ = learned(recording, "--moved", "Z=+10mm", "--out", tmp_path / "mine.toml")
    assert code == 3
    assert not (tmp_path / "mine.toml").exists()


def test_a_request_is_written_with_its_escapes(recording: Path) -> None:
    code, out = learned(recording, "--moved", "X=+10mm", "--asked", r"%1\r")
    assert code == 0
    layout = parse(out, "learned")
    assert layout.asks is not None
    assert layout.asks.request == b"%1\r"


def test_a_recording_or_a_port_is_asked_for() -> None:
    with pytest.raises(InputError, match="a recording or --port"):
        learned("--moved", "X=+10mm")


# -- the dialogue ----------------------------------------------------------------------------


def heard(lesson: Lesson, xs: list[float], at: float) -> float:
    for x in xs:
        lesson.hear(frame(x), at)
        at += 0.1
    return at


def test_a_lesson_asks_to_hold_still_to_move_and_to_press() -> None:
    lesson = Lesson((), Known())
    assert "Hold all slides still" in " ".join(lesson.asks())
    at = heard(lesson, STILL, 0)
    lesson.enter("")
    assert "Move X by +10 mm, no other slide" in " ".join(lesson.asks())
    at = heard(lesson, [*WAY, *XS[-12:]], at)
    lesson.enter("X=+10mm")
    assert "press it three times" in " ".join(lesson.asks())
    lesson.enter("")
    assert lesson.over
    assert lesson.found is not None
    assert lesson.found.layout.channels == ("X", "Z")


def test_a_lesson_goes_on_with_the_move_that_decides() -> None:
    lesson = Lesson(moves(["Z=+10mm"]), Known())
    at = heard(lesson, XS, 0)
    for _ in range(3):
        lesson.enter("")
    assert not lesson.over
    assert "To decide: move X by +10 mm" in " ".join(lesson.asks())
    for n in range(9):
        lesson.hear(b"A=%.3f;B=%.3f\r\n" % (XS[-1], 142.318 + 20 * n / 8), at + 0.1 * n)
    for n in range(12):
        lesson.hear(b"A=%.3f;B=162.318\r\n" % XS[-1], at + 1 + 0.1 * n)
    lesson.enter("X=+20mm")
    assert lesson.found is not None
    assert shown_axes(lesson) == {"axis Z": "the figure 'A'", "axis X": "the figure 'B'"}


def shown_axes(lesson: Lesson) -> dict[str, str]:
    assert lesson.found is not None
    return {s.setting: s.value for s in lesson.found.settings if s.setting.startswith("axis")}


def test_a_lesson_refuses_what_it_doesnt_understand_and_asks_on() -> None:
    lesson = Lesson((), Known())
    lesson.enter("")
    assert "Nothing came yet" in " ".join(lesson.asks())
    heard(lesson, XS, 0)
    lesson.enter("")
    lesson.enter("ten")
    assert "'ten' isn't understood" in " ".join(lesson.asks())


def test_the_screen_shows_the_last_bytes_in_80_by_24() -> None:
    lesson = Lesson((), Known())
    heard(lesson, XS, 0)
    lines = lesson.lines("X=+1")
    assert len(lines) == HIGH
    assert max(map(len, lines)) <= WIDE
    assert "> X=+1_" in lines
    assert any("41 3d 34 31 2e" in line for line in lines)
    assert any("A=41.447;B=142" in line.replace(" ", "") for line in lines)


class Hand:
    """Presses Enter when enough came."""

    def __init__(self, sent: threading.Event) -> None:
        self._sent = sent
        self._left = ["take", "take", "take"]

    def next(self) -> str | None:
        if not self._sent.is_set():
            return None
        return self._left.pop(0) if self._left else None


def test_a_port_is_listened_to_until_the_layout_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    server = socket.create_server(("127.0.0.1", 0))
    sent = threading.Event()

    def send() -> None:
        line, _ = server.accept()
        with line:
            for x in XS:
                line.sendall(frame(x))
                time.sleep(0.02)
            time.sleep(0.3)
            sent.set()
            time.sleep(1.0)

    threading.Thread(target=send, daemon=True).start()

    @contextlib.contextmanager
    def opened() -> Iterator[Hand]:
        yield Hand(sent)

    monkeypatch.setattr(keys, "opened", opened)
    found = teaching.taught(
        f"socket://127.0.0.1:{server.getsockname()[1]}", moves(["X=+10mm"]), Known()
    )
    server.close()
    assert found.layout.channels == ("X", "Z")


def test_leaving_before_anything_is_learned_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    server = socket.create_server(("127.0.0.1", 0))

    class Leaves:
        def next(self) -> str:
            return keys.LEAVE

    @contextlib.contextmanager
    def opened() -> Iterator[Leaves]:
        yield Leaves()

    monkeypatch.setattr(keys, "opened", opened)
    with pytest.raises(ReadoutError, match="left before"):
        teaching.taught(f"socket://127.0.0.1:{server.getsockname()[1]}", (), Known())
    server.close()
