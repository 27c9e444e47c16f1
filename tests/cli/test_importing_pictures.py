"""Pictures at the command line: kept with the tool, on its report or beside it, taken back."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from inspect_rec import cli
from inspect_rec.config import Folder
from inspect_rec.errors import InputError
from inspect_rec.store import Store
from tests.cli.test_importing import MARK, RUN, folder, run, told

__all__ = ["folder"]


def drawn(path: Path) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (7, 5), "white").save(out, "PNG")
    path.write_bytes(out.getvalue())
    return out.getvalue()


def test_a_picture_is_kept_as_it_is_with_its_digest(folder: Folder, tmp_path: Path) -> None:
    file = tmp_path / "tip.png"
    data = drawn(file)
    assert run(file).stdout == "tip.png: PNG, 7 by 5\n"
    words = (file, "--inspection", MARK, "--person", "G-01", "--shop", folder.path)
    shown = run(*words, "--flute", 2, "--words", "as it came").stdout
    assert shown.startswith("tip.png: PNG, 7 by 5; kept with the tool, and on its report: entry ")
    with Store.open(folder.ledger) as store:
        (entry,) = store.entries(kinds=["picture kept"])
    assert (entry.body["picture"]["flute"], entry.body["picture"]["words"]) == (2, "as it came")
    kept = folder.path / "pictures" / f"{entry.body['file']['digest']}.png"
    assert kept.read_bytes() == data
    with pytest.raises(InputError, match="kept already"):
        run(*words)


def test_a_picture_may_be_kept_beside_the_report(folder: Folder, tmp_path: Path) -> None:
    file = tmp_path / "tip.png"
    drawn(file)
    words = (file, "--inspection", MARK, "--person", "G-01", "--shop", folder.path, "--keep-only")
    assert "not on its report" in run(*words).stdout
    with Store.open(folder.ledger) as store:
        assert [e.kind for e in store.entries(kinds=["picture kept", "file read"])] == ["file read"]


def test_a_picture_can_be_struck_out_once(folder: Folder, tmp_path: Path) -> None:
    file = tmp_path / "tip.png"
    drawn(file)
    whose = ("--person", "G-01", "--shop", str(folder.path))
    seq = told(file, "--inspection", MARK, *whose)["entry"]
    strike = ["strike", MARK, str(seq), "--reason", "another tool", *whose]
    assert RUN.invoke(cli.app, strike).exit_code == 0
    again = RUN.invoke(cli.app, strike)
    assert isinstance(again.exception, InputError)
    assert "struck out" in again.exception.found
