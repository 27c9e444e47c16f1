"""The command reference as Markdown, made from the commands themselves, so that it is never typed
twice. ``python -m inspect_rec.cli.reference > docs/commands.md`` makes it anew.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

import typer

HEAD = """# Commands

Made from the commands' own help by `python -m inspect_rec.cli.reference`; change the help, not this
page. Where a command prints results, `--json` prints the same for programs.

| exit code | what it says |
|---|---|
| 0 | done; of `verify` and `ledger check`: nothing is wrong |
| 1 | of `verify` and `ledger check`: something is wrong, each finding says what |
"""


def commands(group: Any, words: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command with its words; groups are gone through."""
    if not hasattr(group, "commands"):
        yield words, group
        return
    for name, command in group.commands.items():
        yield from commands(command, (*words, name))


def help_of(root: Any, words: tuple[str, ...]) -> str:
    """The help of one command in 80 columns, as ``--help`` prints it."""
    # Two less than the terminal's 80, as --help leaves them.
    settings = {**root.context_settings, "terminal_width": 78}
    context = root.context_class(root, info_name="inspect-rec", **settings)
    command = root
    for word in words:
        command = command.commands[word]
        context = command.context_class(command, info_name=word, parent=context)
    return str(command.get_help(context)).rstrip()


def _said(kind: type) -> str:
    """What a family of errors is, from its docstring."""
    said = (kind.__doc__ or "").splitlines()[0].partition(";")[0].rstrip(".")
    return said[0].lower() + said[1:]


def text() -> str:
    """The whole page."""
    from inspect_rec.cli import EXIT, FAULT, app

    root = typer.main.get_command(app)
    codes = [f"| {code} | {_said(kind)} |" for kind, code in EXIT.items()]
    codes.append(f"| {FAULT} | a fault of the program itself; its trace stands above the message |")
    pages = [
        f"## {' '.join(words)}\n\n```text\n{help_of(root, words)}\n```"
        for words, _ in commands(root)
    ]
    return "\n".join([HEAD.rstrip(), *codes, "", "\n\n".join(pages), ""])


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8", newline="\n")  # type: ignore[union-attr]
    sys.stdout.write(text())
