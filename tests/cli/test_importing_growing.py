"""Files that another program still writes to: what is whole is taken, what isn't is left."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspect_rec.config import Folder
from inspect_rec.errors import InputError
from tests import filed
from tests.cli.test_importing import LINES, MARK, run, told


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return filed.shop(tmp_path)


def test_a_log_is_taken_while_it_grows_but_for_a_line_that_is_half_written(
    folder: Folder, tmp_path: Path
) -> None:
    """The program that writes it holds back what doesn't fill its buffer: 20.5 ends as 20."""
    mapping, file = tmp_path / "log.toml", tmp_path / "log.csv"
    mapping.write_text(filed.MAPPING, encoding="utf-8")
    words = ("--mapping", mapping, "--inspection", MARK, "--person", "G-01", "--shop", folder.path)
    head = filed.HEAD.removesuffix(";note")
    one, two, *_ = (line.removesuffix(";") for line in LINES)
    assert two.endswith(";20.6")
    with file.open("w", encoding="utf-8") as log:
        log.write(f"{head}\n{one}\n{two.removesuffix('.6')}")
        log.flush()
        assert [row["row"] for row in told(file, *words)["rows"]] == [2]
        log.write(".6\n")
        log.flush()
        (row,) = told(file, *words)["rows"]
    assert row["figures"] == [{"channel": "temperature", "value": "20.6", "unit": "degC"}]


def test_rows_without_instants_are_not_taken_while_another_program_writes(
    folder: Folder, tmp_path: Path
) -> None:
    mapping, file = tmp_path / "points.toml", tmp_path / "points.txt"
    mapping.write_text(
        'kind = "points"\n[file]\nseparator = "blank"\n[at]\nform = "file written"\n'
        '[units]\nlengths = "mm"\n',
        encoding="utf-8",
    )
    with file.open("w", encoding="utf-8") as log:
        log.write("20.003 113.000\n")
        log.flush()
        with pytest.raises(InputError, match="still writes"):
            run(file, "--mapping", mapping, "--inspection", MARK, "--person", "G-01",
                "--shop", folder.path)  # fmt: skip
