"""The page of coverage as Markdown, made from simulated measurements and never typed.

``python -m inspect_rec.simulate.page docs/coverage.md`` brings it up to date: a line whose first
hundred tools come out as they did stays, all others are measured. Without the page that takes
about ten minutes on two cores. The same seed makes the same page.
"""

from __future__ import annotations

import os
import sys
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

import inspect_rec
from inspect_rec.compute.conformity import Verdict
from inspect_rec.simulate.coverage import (
    AT_LIMIT,
    LEVEL,
    WIDTH_IN_U,
    Coverage,
    alone,
    cases,
    coverage,
    least,
)
from inspect_rec.simulate.machine import BUDGETS, errors, sets

TOOLS = 10_000
SEED = "1"
FIRST = 100
"""Tools by which a line is held to be current."""

_ALONE = 1000
"""Tools for what each error does alone."""
_SHOWN = 4
"""So many of them are printed."""

COLUMNS = (
    "method",
    "tool",
    "unit",
    "refused",
    "covered",
    "mean U",
    "rms error",
    "bias",
    "accepted at limit",
    "rejected at limit",
    "outside, accepted",
    "inside, rejected",
    "inside, neither shown",
    "first 100",
)

HEAD = """# How often the stated uncertainty holds

Made by `python -m inspect_rec.simulate.page docs/coverage.md`; change the machine or the methods,
not this page.
Version {version}, {which}

Nothing here was measured on a real machine. A simulated machine, whose errors are switched on by
name and drawn from one seed (`inspect_rec/simulate/errors.toml`), measures tools whose true values
are known, and the program's own methods make values, uncertainties and verdicts of its readings.
The budgets state what a new shop file begins with. So a line says whether a budget is right *if*
the shop's amounts are; it says nothing of whether they are.

| column | what it is |
|---|---|
| refused | tools that got no verdict: a master drifted or was off, or the method \
refused; not counted further |
| covered | share of the values whose error is at most U; k = 2 states {level} % |
| mean U, rms error, bias | in µm, or in 0.001° where the unit is ° |
| accepted, rejected at limit | verdicts on a true value exactly at a limit, of the worse \
limit; g = 1.645 u promises at most {at_limit} % accepted, and at most {at_limit} % rejected |
| outside, accepted; inside, rejected | wrong verdicts where tolerances of {width:g} U lie \
anywhere about the tools, from half a width below to half a width above |
| inside, neither shown | what the guard band costs on these tolerances |
| first 100 | refused, rms error and mean U of the first {first} tools, by which a test finds a \
line that no longer is what the program does |

A budget adds up variances, so that 95.45 % is met where many small parts add; one large
rectangular part covers more. Of {tools} tools chance alone leaves a line at {least} % or above;
what lies lower is short, and said below."""

OFF_HEADING = "## Where U falls short with the errors that its budget assumes"

OFF = """The errors that do most when each acts alone, over u: rms, and mean with its sign. Found on
{tools} tools each, without refusals."""

OVER_HEADING = "## Where more is accepted at a limit than is promised"

ROUGH = """## What the rough set means

Its errors are wider, skewed or have long tails, and some are in no budget: drift within the job, a
slide that hangs, a person's own bias, an approach from the wrong side, a tool that runs out, a
lever that stands off. The coverage falls, as it must: a budget holds for the shop whose amounts it
states. The master checks refuse part of such jobs, but a bias that acts on the tool alone, such as
a person's, passes them unseen. A shop that finds more scatter or bias than its file states has to
replace the amounts by its own."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table: its cells, and for what is said below the coverage, and the share that
    is accepted at a limit."""

    method: str
    case: str
    cells: tuple[str, ...]
    covered: float
    accepted: float
    judged: int
    """Tools that weren't refused: the two values of a profile aren't independent."""
    old: bool = False
    """Whether it is the page's own."""


def first(found: Coverage) -> str:
    """What tells whether a line still is what the program does; so rounded that another
    processor's last bit changes nothing."""
    if not found.values:
        return f"{found.refused}"
    return f"{found.refused}; {1000 * found.rms:.4f}; {1000 * found.mean_U:.4f}"


def line(found: Coverage, first_: str) -> Line:
    """The figures of one method's tools as the table prints them."""
    unit = "°" if found.unit == "deg" else "µm"
    cells = (
        found.method,
        found.case or "–",
        unit,
        _percent(found.refused / found.tools),
        _percent(found.covered),
        *(f"{1000 * figure:.2f}" for figure in (found.mean_U, found.rms)),
        f"{1000 * found.bias:+.2f}",
        _percent(found.at_limit(Verdict.CONFORMS)),
        _percent(found.at_limit(Verdict.DOES_NOT_CONFORM)),
        _percent(found.judged(inside=False, verdict=Verdict.CONFORMS)),
        _percent(found.judged(inside=True, verdict=Verdict.DOES_NOT_CONFORM)),
        _percent(found.judged(inside=True, verdict=Verdict.NEITHER_SHOWN)),
        first_,
    )
    accepted = found.at_limit(Verdict.CONFORMS)
    judged = found.tools - found.refused
    return Line(found.method, found.case, cells, found.covered, accepted, judged)


def _percent(share: float) -> str:
    return f"{100 * share:.2f}"


@cache
def reasons(of: str = "short") -> Mapping[tuple[str, str], str]:
    """Method and case -> why its U falls short with the errors that its budget assumes, or why
    more is ``accepted`` at a limit than is promised."""
    text = resources.files("inspect_rec.simulate").joinpath("short.toml")
    found = tomllib.loads(text.read_text(encoding="utf-8")).get(of, [])
    return {(row["method"], row.get("case", "")): row["why"] for row in found}


def is_short(covered: float, judged: int) -> bool:
    """Whether chance alone doesn't explain so low a coverage."""
    return covered < least(judged)


def is_over(accepted: float, judged: int) -> bool:
    """Whether chance alone doesn't explain that so many are accepted at a limit."""
    return accepted > 1 - least(judged, 1 - AT_LIMIT)


def table(lines: Sequence[Line]) -> list[str]:
    """The lines as a Markdown table."""
    return [
        f"| {' | '.join(COLUMNS)} |",
        f"|{'|'.join('---' if n < 3 else '---:' for n in range(len(COLUMNS)))}|",
        *(f"| {' | '.join(each.cells)} |" for each in lines),
    ]


Key = tuple[str, str]
"""Method and case."""


def rows(page: str, name: str) -> Mapping[Key, tuple[str, ...]]:
    """The cells of a page's table under that set of errors; empty where it has no such table, or
    one of other columns."""
    part = page.partition(f"## Errors: {name}\n")[2].partition("\n## ")[0]
    return _rows(part, COLUMNS)


def _rows(part: str, columns: Sequence[str]) -> Mapping[Key, tuple[str, ...]]:
    lines = [
        tuple(cell.strip() for cell in each.strip("|").split("|"))
        for each in part.splitlines()
        if each.startswith("|")
    ]
    if not lines or lines[0] != tuple(columns):
        return {}
    return {(cells[0], cells[1].replace("–", "")): cells for cells in lines[2:]}


@dataclass(frozen=True, slots=True)
class Task:
    """A line to make, and the one that stands on the page."""

    method: str
    case: str
    errors: str
    tools: int
    seed: str
    old: tuple[str, ...] = ()


def one(task: Task) -> Line:
    """One line, the old one where its first tools come out the same."""
    of = errors(task.errors)
    few = coverage(task.method, task.case, of, min(FIRST, task.tools), task.seed)
    now = first(few)
    if task.old and task.old[-1] == now:
        judged = round(task.tools * (1 - float(task.old[3]) / 100))
        covered, accepted = float(task.old[4]) / 100, float(task.old[8]) / 100
        return Line(task.method, task.case, task.old, covered, accepted, judged, old=True)
    return line(coverage(task.method, task.case, of, task.tools, task.seed), now)


def _causes(task: Task) -> str:
    """What the largest errors do alone, over u."""
    budget, few = errors(BUDGETS), min(task.tools, _ALONE)
    found = coverage(task.method, task.case, budget, few, task.seed)
    u = sum(v.u for v in found.values) / len(found.values)
    return "; ".join(
        f"{name} {rms / u:.2f} ({bias / u:+.2f})"
        for name, rms, bias in alone(task.method, task.case, budget, few, task.seed)[:_SHOWN]
    )


_OFF_COLUMNS = ("method", "tool", "covered", "alone, over u", "why")


def _short(lines: Sequence[Line], causes: Sequence[str]) -> Iterator[str]:
    if not lines:
        yield "None."
        return
    yield f"| {' | '.join(_OFF_COLUMNS)} |"
    yield "|---|---|---:|---|---|"
    for each, found in zip(lines, causes, strict=True):
        why = reasons().get((each.method, each.case), "not known yet")
        covered = _percent(each.covered)
        yield (f"| {each.method} | {each.case or '–'} | {covered} | {found} | {why} |")


def _over(lines: Sequence[Line]) -> Iterator[str]:
    over = [each for each in lines if is_over(each.accepted, each.judged)]
    if not over:
        yield "None."
        return
    yield "| method | tool | accepted at limit | why |"
    yield "|---|---|---:|---|"
    for each in over:
        why = reasons("accepted").get((each.method, each.case), "not known yet")
        yield f"| {each.method} | {each.case or '–'} | {_percent(each.accepted)} | {why} |"


def _head(tools: int, seed: str) -> str:
    """What a page has to begin with for its lines to be of the same tools."""
    number = f"{tools:,}".replace(",", " ")
    return f"seed {seed}, {number} known tools for each line."


def text(tools: int = TOOLS, seed: str = SEED, workers: int | None = None, old: str = "") -> str:
    """The whole page; ``old`` is the page as it stands."""
    if _head(tools, seed) not in old:
        old = ""
    stands = {name: rows(old, name) for name in sets()}
    tasks = [
        Task(method, case, name, tools, seed, stands[name].get((method, case), ()))
        for name in sets()
        for method, case in cases()
    ]
    off = _rows(old.partition(OFF_HEADING)[2].partition("\n## ")[0], _OFF_COLUMNS)
    with ProcessPoolExecutor(workers or os.cpu_count()) as pool:
        lines = list(pool.map(one, tasks))
        of = {
            name: [each for each, task in zip(lines, tasks, strict=True) if task.errors == name]
            for name in sets()
        }
        short = [each for each in of[BUDGETS] if is_short(each.covered, each.judged)]
        new = [s for s in short if not s.old or (s.method, s.case) not in off]
        found = pool.map(_causes, [Task(s.method, s.case, BUDGETS, tools, seed) for s in new])
        fresh = dict(zip([(s.method, s.case) for s in new], found, strict=True))
    causes = [fresh.get(key) or off[key][3] for key in ((s.method, s.case) for s in short)]
    head = HEAD.format(
        version=inspect_rec.__version__,
        which=_head(tools, seed),
        first=FIRST,
        tools=f"{tools:,}".replace(",", " "),
        level=_percent(LEVEL),
        at_limit=f"{100 * AT_LIMIT:g}",
        width=WIDTH_IN_U,
        least=_percent(least(tools)),
    )
    parts = [head]
    for name, each in of.items():
        parts.append(f"## Errors: {name}\n\n" + "\n".join(table(each)))
    said = OFF.format(tools=min(tools, _ALONE))
    parts += [OFF_HEADING, said, "\n".join(_short(short, causes))]
    parts += [OVER_HEADING, "\n".join(_over(of[BUDGETS])), ROUGH]
    return "\n\n".join(parts) + "\n"


def _main() -> None:
    """Bring the page up to date that is named."""
    path = Path(sys.argv[1])
    old = path.read_text(encoding="utf-8") if path.is_file() else ""
    path.write_text(text(old=old), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    _main()
