"""The page of methods and computations, made from their registers, so that it is never typed twice.

``python -m inspect_rec.cli.methods_page > docs/methods.md`` makes it anew.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from inspect_rec.calculator import base
from inspect_rec.methods import register as methods
from inspect_rec.methods.register import Method

HEAD = """# Methods and computations

Made from the registers by `python -m inspect_rec.cli.methods_page`; change the entry in its file,
not this page. `inspect-rec calc NAME --list` tells of one alone; `inspect-rec calc NAME ...`
computes with it by hand.

A method turns readings into a value with its budget. What it asks for must be stated in the plan:
nothing is guessed. All angles in degrees, lengths in millimetres; formulas in plain words, a for
alpha, p for phi.
"""


def page() -> str:
    """The whole page, as Markdown."""
    lines = [HEAD, "## Measuring methods", ""]
    for each in methods.register().values():
        lines += [*_method(each), ""]
    lines += ["## Computations of the calculator", ""]
    found = sorted(base.register().values(), key=lambda c: (c.topic, c.name))
    for topic in dict.fromkeys(c.topic for c in found):
        lines += [
            f"### {topic.capitalize()}",
            "",
            "| name | takes | gives | formula | refuses | source |",
            "|---|---|---|---|---|---|",
        ]
        lines += [_row(c) for c in found if c.topic == topic]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _method(m: Method) -> Iterator[str]:
    yield f"### {m.name}"
    yield ""
    yield (m.evaluate.__doc__ or "").strip().split("\n\n", maxsplit=1)[0].replace("\n", " ")
    yield ""
    yield "| | |"
    yield "|---|---|"
    yield f"| version | {m.version} |"
    yield f"| formula | {_cell(m.formula)} |"
    yield f"| source | {_cell(m.source)} |"
    yield f"| unit, plane | {m.unit}{f', {m.plane}' if m.plane else ''} |"
    for role in m.roles:
        marks = f" at {', '.join(role.marks)}" if role.marks else ""
        left = "" if role.needed else " (may be left out)"
        yield f"| reads `{role.name}` | {_cell(role.what)}: {role.reads.value}{marks}{left} |"
    for each in m.asks:
        said = _cell(" or ".join(each.words) or each.kind)
        left = "" if each.needed else " (may be left out)"
        yield f"| asks `{each.name}` | {_cell(each.what)}: {said}{left} |"
    if m.assumes:
        yield f"| assumes | {_cell(m.assumes)} |"
    if m.refuses:
        yield f"| refuses | {_cell('; '.join(m.refuses))} |"
    if m.infeed != 1:
        yield f"| grinding moves it | {m.infeed:g} of infeed for one of the value |"


def _row(c: base.Computation) -> str:
    takes = ", ".join(f"`{i.name}`" + ("" if i.needed else "?") for i in c.inputs)
    gives = ", ".join(f"`{name}`" for name in c.gives)
    cells = (f"`{c.name}`", takes, gives, c.formula, c.refuses, c.source)
    return "| " + " | ".join(map(_cell, cells)) + " |"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    sys.stdout.write(page())
