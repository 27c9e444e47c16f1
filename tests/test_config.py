"""A shop's folder: settings, names kept apart, and what is still to be filled in."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspect_rec.config import Folder, Name, folder, write_whole
from inspect_rec.errors import InputError
from tests import worked


@pytest.fixture
def here(tmp_path: Path) -> Folder:
    return Folder(tmp_path)


def says(here: Folder, text: str) -> InputError:
    here.station.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        here.settings()
    return caught.value


def test_settings_come_from_the_file_and_the_environment_stands_above_it(
    here: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    here.station.write_text('readout = "COM3"\ncopies = "/mnt/copies"\n', encoding="utf-8")
    assert here.settings().readout == "COM3"
    monkeypatch.setenv("INSPECT_REC_READOUT", "loop://")
    found = here.settings()
    assert (found.readout, found.layout, found.language) == ("loop://", "two-axis line", "en")


def test_a_file_that_an_editor_marked_as_utf_8_is_read(here: Folder) -> None:
    here.station.write_text('readout = "COM3"\n', encoding="utf-8-sig")
    assert here.settings().readout == "COM3"


def test_a_path_that_is_not_absolute_begins_at_the_shops_folder(here: Folder) -> None:
    text = 'copies = "../copies"\nlayout = "own.toml"\nroots = ["other.pem"]\n'
    here.station.write_text(text, encoding="utf-8")
    found = here.settings()
    assert Path(found.copies) == here.path / "../copies"
    assert Path(found.layout) == here.path / "own.toml"
    assert [Path(root) for root in found.roots] == [here.path / "other.pem"]
    absolute = (here.path / "elsewhere").as_posix()
    here.station.write_text(f'copies = "{absolute}"\n', encoding="utf-8")
    assert Path(here.settings().copies) == here.path / "elsewhere"


def test_every_mistake_in_the_settings_is_said_with_its_line(here: Folder) -> None:
    error = says(here, 'readout = 3\n\nlanguage = "xx"\nlayuot = "a"\n')
    assert [m.where for m in error.mistakes] == [
        "station.toml:1",
        "station.toml:3",
        "station.toml:4",
    ]
    assert "one of de, en" in error.mistakes[1].expected
    assert error.mistakes[2].expected == "no such key"


def test_without_a_settings_file_there_are_plain_settings(here: Folder) -> None:
    assert here.settings().readout == ""


def test_the_folder_is_as_given_or_from_the_environment_or_shop(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("INSPECT_REC_SHOP", raising=False)
    assert folder().path == Path("shop")
    monkeypatch.setenv("INSPECT_REC_SHOP", "elsewhere")
    assert folder().path == Path("elsewhere")
    assert folder("here").path == Path("here")


# Names


def test_a_customer_keeps_an_id_and_a_removed_one_is_never_given_again(here: Folder) -> None:
    assert here.customer_id("Quillfen Moulds") == "C-1"
    assert here.customer_id("Brackwater Pump Works") == "C-2"
    assert here.customer_id("Quillfen Moulds") == "C-1"
    text = here.names.read_text(encoding="utf-8")
    here.names.write_text(text[: text.index('[customer."C-2"]')], encoding="utf-8")
    assert here.customer_id("Another", taken={"C-1", "C-2"}) == "C-3"
    assert set(here.customers()) == {"C-1", "C-3"}


def test_a_person_of_names_toml_with_an_unknown_role_is_said_with_its_line(here: Folder) -> None:
    here.names.write_text('[person."G-01"]\nname = "M"\nroles = ["rules"]\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        here.persons()
    assert caught.value.mistakes[0].where == "names.toml:3"
    assert "grinds" in caught.value.mistakes[0].expected


@pytest.mark.parametrize("text", ["[person", "a = 1\n", '[person."../x"]\nname = "M"\n'])
def test_a_spoilt_names_file_is_an_error_of_input(here: Folder, text: str) -> None:
    here.names.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"names\.toml"):
        here.persons()


LINES = st.text(
    st.characters(exclude_categories=("Cs", "Cc", "Cf", "Zl", "Zp", "Cn", "Co")), max_size=60
).filter(lambda text: text.strip() == text and text.isprintable() and text)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=LINES)
def test_any_printable_name_comes_back_as_it_was(here: Folder, name: str) -> None:
    here.name_person("G-01", Name(name, ("grinds", "measures")))
    assert here.persons()["G-01"] == Name(name, ("grinds", "measures"))
    tomllib.loads(here.names.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", ["", "two\nlines", " blank", "x" * 61])
def test_a_name_that_is_no_line_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="validation error for Name"):
        Name(name)


# Files


def test_a_shop_file_that_is_not_filled_in_says_every_place(here: Folder) -> None:
    text = (worked.FOLDER / "shop.toml").read_text(encoding="utf-8")
    here.shop.write_text(
        text.replace('"TL-C-101"', '"FILL IN: its number"').replace(
            'address = "', 'address = "FILL IN: '
        ),
        encoding="utf-8",
    )
    with pytest.raises(InputError, match="isn't filled in") as caught:
        here.read_shop()
    lines = here.shop.read_text(encoding="utf-8").splitlines()
    for mistake in caught.value.mistakes:
        assert "FILL IN" in lines[int(mistake.where.split(":")[1]) - 1]
    assert len(caught.value.mistakes) == 2


def test_a_file_is_replaced_whole_and_nothing_is_left_beside_it(here: Folder) -> None:
    path = here.path / "deep" / "file"
    write_whole(path, b"one")
    write_whole(path, b"two", private=True)
    assert path.read_bytes() == b"two"
    assert [p.name for p in path.parent.iterdir()] == ["file"]


def test_a_file_that_can_not_be_written_is_said_and_leaves_nothing(here: Folder) -> None:
    folder_there = here.path / "taken"
    folder_there.mkdir()
    for path in (folder_there, here.path / "file" / "below"):
        (here.path / "file").write_bytes(b"")
        with pytest.raises(InputError, match="can't be written"):
            write_whole(path, b"one")
    assert {p.name for p in here.path.iterdir()} == {"taken", "file"}
