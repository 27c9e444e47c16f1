"""A shop's study from its own ledger, on the recordings of the worked jobs."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from inspect_rec import cli, config, jobfile
from inspect_rec.errors import InputError
from inspect_rec.inspection import studied
from inspect_rec.store import Store
from tests import worked


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger that holds the three worked jobs."""
    path = tmp_path_factory.mktemp("ledger") / "ledger.sqlite"
    with Store.create(path, "A", "A-0231") as store:
        for number in ("I1", "I2", "I3"):
            for entry in worked.entries(number):
                store.append(entry.at, entry.person, entry.kind, entry.body)
    return path


@pytest.fixture
def shop(tmp_path: Path, ledger: Path) -> config.Folder:
    """A shop with that ledger."""
    here = config.Folder(tmp_path)
    shutil.copyfile(worked.FOLDER / "shop.toml", here.shop)
    shutil.copyfile(ledger, here.ledger)
    return here


def typed(here: config.Folder, *words: str) -> Result:
    return CliRunner().invoke(cli.app, ["shop", *words, "--shop", str(here.path)])


def told(here: config.Folder, *words: str) -> dict[str, Any]:
    result = typed(here, *words, "--json")
    assert result.exit_code == 0, result.exception
    found: dict[str, Any] = json.loads(result.output)
    return found


def test_the_repeats_of_the_ledger_are_pooled_and_said(shop: config.Folder) -> None:
    """s by hand from the readings in tests/inspection/test_repeats.py: 0.764 um, rounded up."""
    found = told(shop, "study")
    assert (found["s_um"], found["dof"], found["groups"]) == ("0.77", 58, 12)
    assert (found["counts"], found["missing_dof"], found["outliers"]) == (True, 0, [])
    assert found["alike"]["test"] == "Cochran"
    assert list(found["left_out"].values()) == [36]
    words = " ".join(typed(shop, "study").output.split())
    assert "crosshair: s = 0.77 µm with 58 degrees of freedom, from 70 readings in 12" in words
    assert "36 readings left out: repeats at different index angles" in words
    assert "it counts in the place of 1.5 µm" in words


def test_nothing_is_written_unless_it_is_asked_for(shop: config.Folder) -> None:
    before = shop.shop.read_bytes()
    assert typed(shop, "study").exit_code == 0
    assert shop.shop.read_bytes() == before


@pytest.mark.parametrize("ending", [b"\n", b"\r\n"])
@pytest.mark.parametrize("last", [True, False], ids=["whole last line", "no last line end"])
def test_writing_appends_and_leaves_every_other_byte(
    shop: config.Folder, ending: bytes, last: bool
) -> None:
    before = shop.shop.read_bytes().replace(b"\n", ending)
    before = before if last else before.rstrip()
    shop.shop.write_bytes(before)
    table = told(shop, "study", "--write")["table"]
    after = shop.shop.read_bytes()
    assert after.startswith(before)
    assert after.count(b"\r\n") in (0, after.count(b"\n"))
    assert after[len(before) :].decode().replace("\r\n", "\n").strip() == table.strip()
    assert studied.studies(shop.read_shop())["crosshair"].counts


def test_what_a_study_holds_is_never_counted_again(shop: config.Folder) -> None:
    assert told(shop, "study", "--write")["dof"] == 58
    again = typed(shop, "study")
    assert isinstance(again.exception, InputError)
    assert "no repeats in the ledger for crosshair that no study has yet" in str(again.exception)
    with Store.open(shop.ledger) as store:
        for entry in worked.entries("I2"):
            store.append(entry.at, entry.person, entry.kind, entry.body)
    more = told(shop, "study")
    assert more["with_shop_file"]["dof"] == 58 + more["dof"]


def test_a_shop_check_says_what_its_studies_come_to(shop: config.Folder) -> None:
    assert "crosshair" in told(shop, "check")["assumed"]
    typed(shop, "study", "--write")
    found = told(shop, "check")
    assert "crosshair" not in found["assumed"]
    assert [s["dof"] for s in found["studies"]] == [58]
    words = " ".join(typed(shop, "check").output.split())
    assert "s = 0.77 µm, 12 groups, 58 degrees of freedom." in words


def test_too_few_are_printed_with_what_is_missing(shop: config.Folder) -> None:
    short = worked.entries("I2", 30)
    with Store.create(shop.path / "other.sqlite", "A", "A-0001") as store:
        for entry in short:
            store.append(entry.at, entry.person, entry.kind, entry.body)
    (shop.path / "other.sqlite").replace(shop.ledger)
    few = told(shop, "study")
    assert few["missing_dof"] == 20 - few["dof"] > 0
    assert not few["counts"]
    assert "degrees of freedom are missing" in few["advice"][0]


def test_groups_that_scatter_unlike_are_printed_but_not_written(shop: config.Folder) -> None:
    text = shop.shop.read_text(encoding="utf-8")
    wild = ", ".join(f"[{5 + n}.000, {5 + n}.019]" for n in range(2))
    study = f'[[study]]\ninfluence = "crosshair"\non = 2026-11-01\nby = "G-01"\ngroups = [{wild}]\n'
    shop.shop.write_text(f"{text}\n{study}", encoding="utf-8")
    before = shop.shop.read_bytes()
    assert told(shop, "study")["counts"]
    assert not told(shop, "study")["with_shop_file"]["counts"]
    result = typed(shop, "study", "--write")
    assert isinstance(result.exception, InputError)
    assert "scatter unlike" in str(result.exception)
    assert "give it a study of its own" in str(result.exception)
    assert shop.shop.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--influence", "clamping"], "crosshair | laying-up | repeat"),
        (["--influence", "repeat"], "--instrument with one of RO-1"),
        (["--influence", "repeat", "--instrument", "IN-9"], "--instrument IN-9"),
        (["--instrument", "IN-1"], "a repeat is that of one instrument"),
        (["--influence", "laying-up"], "Give features repeats = 3"),
        (["--since", "2030-01-01"], "no repeats in the ledger for crosshair"),
    ],
)
def test_what_no_reading_shows_is_refused_with_advice(
    shop: config.Folder, words: list[str], said: str
) -> None:
    result = typed(shop, "study", *words)
    assert isinstance(result.exception, InputError)
    assert said in str(result.exception)


def test_a_printed_table_is_that_of_a_valid_shop_file(shop: config.Folder) -> None:
    text = shop.shop.read_text(encoding="utf-8")
    printed = typed(shop, "study").output
    table = printed[printed.index("[[study]]") :]
    assert jobfile.parse_shop(f"{text}\n{table}").study[0].by == "G-01"


def test_what_was_read_before_an_overhaul_may_be_left_out(shop: config.Folder) -> None:
    """The second day has six groups of nine: 48 degrees of freedom."""
    assert told(shop, "study", "--since", "2026-11-19")["dof"] == 48
