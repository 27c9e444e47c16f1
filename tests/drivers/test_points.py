"""Points as lines of figures: one unit, stated once, and every bad line named."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers import mapping, points
from drivers.points import Points
from drivers.rows import File, Row
from inspect_rec.errors import InputError, Mistake

WRITTEN = datetime(2026, 11, 17, 9, tzinfo=UTC)
FILE = File("edge.txt", "RO-1", "0" * 64, WRITTEN)
WRITTEN_FORM = '[at]\nform = "file written"\n'


def read(data: str | bytes, file: str = "", more: str = "") -> tuple[list[Row], list[Mistake]]:
    text = f'kind = "points"\n[file]\n{file}\n{WRITTEN_FORM}{more}'
    raw = data if isinstance(data, bytes) else data.encode()
    found = Points(io.BytesIO(raw), mapping.parse(text, "m.toml"), FILE)
    return list(found), found.mistakes


def figures(rows: list[Row]) -> list[str]:
    return [" ".join(f"{r.value}{r.unit}" for r in row.sighting.readings) for row in rows]


@pytest.mark.parametrize(
    ("separator", "decimal", "line"),
    [
        ("blank", ".", "31.447   -142.3180"),
        ("blank", ",", "31,447\t-142,3180"),
        (",", ".", "31.447, -142.3180"),
        (";", ",", "31,447;-142,3180"),
        ("\\t", ".", "31.447\t-142.3180"),
    ],
)
def test_points_stand_one_a_line(separator: str, decimal: str, line: str) -> None:
    stated = f'separator = "{separator}"\ndecimal = "{decimal}"'
    text = f"# unit: mm\r\n\r\n# an edge\r\n{line}\r\n{line} # once more"
    good, mistakes = read(text, stated)
    assert mistakes == []
    assert figures(good) == ["31.447mm -142.3180mm"] * 2
    assert [row.number for row in good] == [4, 5]
    assert {row.sighting.at for row in good} == {WRITTEN}


@pytest.mark.parametrize(
    "head", ["mm", "MM", "# mm", "unit mm", "# unit: mm", "#unit=mm ", "# a\n# units: mm"]
)
def test_the_head_line_says_the_unit(head: str) -> None:
    assert figures(read(f"\n{head}\n1 2\n")[0]) == ["1mm 2mm"]


def test_a_unit_is_stated_once_and_never_assumed() -> None:
    stated = '[units]\nlengths = "in"\n'
    assert figures(read("1 2\n", more=stated)[0]) == ["1in 2in"]
    assert figures(read("# in\n1 2\n", more=stated)[0]) == ["1in 2in"]
    with pytest.raises(InputError, match="two units"):
        read("# mm\n1 2\n", more=stated)
    for text in ("1 2\n", "1 2\n# mm\n", ""):
        with pytest.raises(InputError, match="no unit"):
            read(text)


def test_a_unit_among_the_comments_above_the_points_is_no_mere_comment() -> None:
    stated = '[units]\nlengths = "mm"\n'
    for text in ("# unit: inch\n1 2\n", "# an edge\n\n# units = in\n1 2\n"):
        assert figures(read(text)[0]) == ["1in 2in"]
        with pytest.raises(InputError, match="two units"):
            read(text, more=stated)
    with pytest.raises(InputError, match=r"expected mm or in, found µm"):
        read("# µm\n1 2\n", more=stated)
    with pytest.raises(InputError, match=r"3: .*expected mm again, found in"):
        read("# mm\n# an edge\n# unit: in\n1 2\n")


def test_bad_lines_are_named_beside_the_good() -> None:
    good, mistakes = read("mm\n1 2\n1\n1 2 3\n1 x\nmm\n1e1 2\n1 2")
    assert [row.number for row in good] == [2, 8]
    assert [m.where.partition(":")[2] for m in mistakes] == ["3", "4", "B5", "6", "A7"]


def test_other_columns_may_be_stated() -> None:
    good, mistakes = read("mm\n7 1 2 edge\n", more="[columns]\nx = 2\nz = 3\nmark = 4\n")
    assert mistakes == []
    assert (figures(good), good[0].mark) == (["1mm 2mm"], "edge")


def test_too_many_lines_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(points, "MOST", 3)
    with pytest.raises(InputError, match="too many lines"):
        read("mm\n1 2\n1 2\n1 2\n")


PIECES = st.sampled_from(["1", "2.5", " ", "\t", "\n", "#", "mm", "in", "-", ",", "\0", "x", "\r"])


@given(st.lists(PIECES, max_size=30).map("".join) | st.text(max_size=30))
@settings(deadline=None)
def test_any_text_gives_points_or_mistakes_or_is_refused(text: str) -> None:
    try:
        good, mistakes = read(text.encode("utf-8", "replace"))
    except InputError:
        return
    wrong = [re.fullmatch("edge.txt:[AB]?([0-9]+)", m.where) for m in mistakes]
    lines = {row.number for row in good} | {int(found[1]) for found in wrong if found}
    assert None not in wrong
    assert max(lines, default=0) <= text.count("\n") + 1
