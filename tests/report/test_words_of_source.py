"""Every row and every reason that stands in the program's source is said in every language.

The source is read as a tree: calls that name a row of a budget, and sentences that can become a
reason on a report.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from report_templates import words
from tests.report.test_languages import OTHERS, named_row, unknown

ROOT = Path(__file__).parents[2] / "inspect_rec"

NAMES_ROWS = {
    "component": 0, "Component": -1, "step": 1, "repeat": 1, "calibration": 1, "drift_row": 2,
    "drift_left": 3, "setting": 1, "spread_of_flutes": 1,
}  # fmt: skip
"""Calls that name a row, and which argument the name is (the keyword name where it is -1)."""
ROWS_OF_PIECES = {"7 diameter": {"first diameter", "last diameter"}, "turn of 7": {"turn of lip 7"}}
RAISED = {
    "InputError",
    "ComputeError",
    "LedgerError",
    "ValueError",
    "method",
    "newer",
    "Role",
    "Asks",
}
APART = {"note", "what", "formula", "source", "refuses", "plane", "assumes"}
"""Keywords whose texts aren't reasons: what a register says is held apart, above."""
NOT_REASONS = {
    "leg: both points of an edge lie at one place",
    "both sides of the web",
    "edge and end of roll",
}
"""What is raised elsewhere, or a row's name and its end; none of it can stand in a report."""
PIECES = {
    "an arc of 7° is too short for a free radius: report the profile deviation, or hold the centre",
    "a swing of 7° is too short to tell the radius from the place of its centre: swing further",
    "arc and straight don't meet, 7 µm lie between them: judge the step, or state the place of the blend",  # noqa: E501
    "simple acceptance is agreed up to U = 7, here U is 7",
    "simple acceptance is agreed up to U = 7 % of the tolerance, here U is 7 of 7",
    "simple acceptance is agreed from a tolerance of 7 times 2 U up, here U is 7 of 7",
    "the readings are those of a left-hand flute, right is stated: check hand, index_sense and the sense of the slide",  # noqa: E501
    "RM-5 names no master: not corrected to 20 °C",
    "the scale states no expansion: not corrected to 20 °C",
    "the temperature of RM-5 is missing: not corrected to 20 °C",
}
"""Reasons that are put together from pieces, whole."""


def text_of(node: ast.AST) -> str | None:
    """A text in the source, what is filled in as a figure."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(str(v.value) if isinstance(v, ast.Constant) else "7" for v in node.values)
    return None


def called(node: ast.AST) -> str:
    if not isinstance(node, ast.Call):
        return ""
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def row_names(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        place = NAMES_ROWS.get(called(node))
        if place is None or not isinstance(node, ast.Call):
            continue
        given = [k.value for k in node.keywords if k.arg == "name"]
        given += node.args[place : place + 1] if place >= 0 else []
        for each in given:
            yield from (named_row(said) for said in (text_of(each),) if said)


def sentences(node: ast.AST) -> Iterator[str]:
    """Texts of four words or more that are neither raised nor part of a register's entry."""
    if isinstance(node, ast.Raise) or called(node) in RAISED:
        return
    if isinstance(node, ast.keyword) and node.arg in APART:
        return
    if isinstance(node, ast.Assign) and str(getattr(node.targets[0], "id", "")).isupper():
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    said = text_of(node)
    if said is not None:
        if len(said.split()) > 4:
            yield said
        return
    for child in ast.iter_child_nodes(node):
        yield from sentences(child)


def trees(*names: str) -> Iterator[ast.AST]:
    for name in names:
        for path in sorted(ROOT.glob(name)):
            yield ast.parse(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("language", OTHERS)
def test_every_row_that_the_source_names_is_said_in_every_language(language: str) -> None:
    found = {row for tree in trees("methods/*.py") for row in row_names(tree)}
    assert len(found) > 90
    for whole, pieces in ROWS_OF_PIECES.items():
        assert whole in found
        found = (found - {whole}) | pieces
    assert unknown(language, "row", found) == []


@pytest.mark.parametrize("language", OTHERS)
def test_every_reason_that_the_source_gives_is_said_in_every_language(language: str) -> None:
    """What isn't a reason is listed above; a new sentence is either said in the language's file,
    under [reason], or listed."""
    files = ("methods/*.py", "inspection/checks.py", "inspection/fold.py", "inspection/results.py")
    found = {said for tree in trees(*files) for said in sentences(tree)}
    pieces = {
        said
        for said in found
        if any(all(p in whole for p in re.split("7", said)) for whole in PIECES)
    }
    rows = {
        said
        for said in found
        if words(language).knows("row", row := named_row(said)) or row in ROWS_OF_PIECES
    }
    assert found >= NOT_REASONS
    assert unknown(language, "reason", found - NOT_REASONS - pieces - rows) == []
    assert unknown(language, "reason", PIECES) == []
