"""The page of coverage as Markdown, made from simulated measurements and never typed.

``python -m inspect_rec.simulate.page > docs/coverage.md`` makes it anew, in about ten minutes
on two cores. The same version and seed make the same page.
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
)

HEAD = """# How often the stated uncertainty holds

Made by `python -m inspect_rec.simulate.page`; change the machine or the methods, not this page.
Version {version}, seed {seed}, {tools} known tools for each line.

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

A budget adds up variances, so that 95.45 % is met where many small parts add; one large
rectangular part covers more. Of {tools} tools chance alone leaves a line at {least} % or above;
what lies lower is short, and said below."""

OFF = """## Where U falls short with the errors that its budget assumes

The errors that do most when each acts alone, over u: rms, and mean with its sign. Found on {tools}
tools each, without refusals."""

ROUGH = """## What the rough set means

Its errors are wider, skewed or have long tails, and some are in no budget: drift within the job, a
slide that hangs, a person's own bias, an approach from the wrong side, a tool that runs out, a
lever that stands off. The coverage falls, as it must: a budget holds for the shop whose amounts it
states. The master checks refuse part of such jobs, but a bias that acts on the tool alone, such as
a person's, passes them unseen. A shop that finds more scatter or bias than its file states has to
replace the amounts by its own."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table: its cells, and the coverage for what is said below."""

    method: str
    case: str
    cells: tuple[str, ...]
    covered: float
    judged: int
    """Tools that weren't refused: the two values of a profile aren't independent."""


def line(found: Coverage) -> Line:
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
    )
    return Line(found.method, found.case, cells, found.covered, found.tools - found.refused)


def _percent(share: float) -> str:
    return f"{100 * share:.2f}"


@cache
def reasons() -> Mapping[tuple[str, str], str]:
    """Method and case -> why its U falls short with the errors that its budget assumes."""
    text = resources.files("inspect_rec.simulate").joinpath("short.toml")
    found = tomllib.loads(text.read_text(encoding="utf-8")).get("short", [])
    return {(row["method"], row.get("case", "")): row["why"] for row in found}


def is_short(covered: float, judged: int) -> bool:
    """Whether chance alone doesn't explain so low a coverage."""
    return covered < least(judged)


def table(lines: Sequence[Line]) -> list[str]:
    """The lines as a Markdown table."""
    return [
        f"| {' | '.join(COLUMNS)} |",
        f"|{'|'.join('---' if n < 3 else '---:' for n in range(len(COLUMNS)))}|",
        *(f"| {' | '.join(each.cells)} |" for each in lines),
    ]


def one(task: tuple[str, str, str, int, str]) -> Line:
    """One line, by method, case, set of errors, tools and seed."""
    method, case, name, tools, seed = task
    return line(coverage(method, case, errors(name), tools, seed))


def _causes(task: tuple[str, str, int, str]) -> list[str]:
    """What the largest errors do alone, over u."""
    method, case, tools, seed = task
    budget = errors(BUDGETS)
    found = coverage(method, case, budget, tools, seed)
    u = sum(v.u for v in found.values) / len(found.values)
    return [
        f"{name} {rms / u:.2f} ({bias / u:+.2f})"
        for name, rms, bias in alone(method, case, budget, tools, seed)[:_SHOWN]
    ]


def _short(lines: Sequence[Line], causes: Sequence[Sequence[str]]) -> Iterator[str]:
    if not lines:
        yield "None."
        return
    yield "| method | tool | covered | alone, over u | why |"
    yield "|---|---|---:|---|---|"
    for each, found in zip(lines, causes, strict=True):
        why = reasons().get((each.method, each.case), "not known yet")
        covered = _percent(each.covered)
        yield (f"| {each.method} | {each.case or '–'} | {covered} | {'; '.join(found)} | {why} |")


def text(tools: int = TOOLS, seed: str = SEED, workers: int | None = None) -> str:
    """The whole page."""
    tasks = [(m, c, name, tools, seed) for name in sets() for m, c in cases()]
    with ProcessPoolExecutor(workers or os.cpu_count()) as pool:
        lines = list(pool.map(one, tasks))
        of = {
            name: [li for li, t in zip(lines, tasks, strict=True) if t[2] == name]
            for name in sets()
        }
        short = [each for each in of[BUDGETS] if is_short(each.covered, each.judged)]
        few = min(tools, _ALONE)
        causes = list(pool.map(_causes, [(s.method, s.case, few, seed) for s in short]))
    head = HEAD.format(
        version=inspect_rec.__version__,
        seed=seed,
        tools=f"{tools:,}".replace(",", " "),
        level=_percent(LEVEL),
        at_limit=f"{100 * AT_LIMIT:g}",
        width=WIDTH_IN_U,
        least=_percent(least(tools)),
    )
    parts = [head]
    for name, each in of.items():
        parts.append(f"## Errors: {name}\n\n" + "\n".join(table(each)))
    parts.append(OFF.format(tools=few) + "\n\n" + "\n".join(_short(short, causes)))
    parts.append(ROUGH)
    return "\n\n".join(parts) + "\n"


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    sys.stdout.write(text())
