"""The command line: parses words, calls the use cases, prints, and turns errors to exit codes.

Heavy libraries are imported inside the commands, so that --help answers at once.
"""

from __future__ import annotations

import sys

import typer

from inspect_rec.cli import (
    asking,
    batching,
    calc,
    exporting,
    importing,
    job,
    ledger,
    person,
    readout,
    report,
    shop,
    templating,
    tool,
)
from inspect_rec.errors import (
    ComputeError,
    InputError,
    InspectRecError,
    LedgerError,
    PersonError,
    ReadoutError,
    ReportError,
    StoreError,
)

EXIT = {
    InputError: 2,
    PersonError: 3,
    ReadoutError: 4,
    StoreError: 5,
    LedgerError: 6,
    ReportError: 7,
    ComputeError: 8,
}
"""Exit codes by family of errors; 1 is a verification or check that found something."""

FAULT = 70
"""Exit code for a fault of the program itself."""

app = typer.Typer(
    name="inspect-rec",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 80},
)


@app.callback(invoke_without_command=True)
def version(
    show: bool = typer.Option(False, "--version", help="Print the version and leave."),
) -> None:
    """From a grinder's readings to a signed inspection report per tool.

    First day: shop new, person add, job open, measure, handover, release, verify.

    Local law and the machine's manual come first; this program starts and stops nothing.
    """
    if show:
        from inspect_rec import __version__

        typer.echo(__version__)
        raise typer.Exit


app.add_typer(shop.app, name="shop")
app.add_typer(person.app, name="person")
app.add_typer(job.app, name="job")
app.add_typer(ledger.app, name="ledger")
app.add_typer(readout.app, name="readout")
app.add_typer(templating.app, name="report")
tool.register(app)
report.register(app)
batching.register(app)
calc.register(app)
exporting.register(app)
app.command("import")(importing.command)


def main() -> None:
    """The program: the one boundary from errors to exit codes."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    try:
        app(prog_name="inspect-rec")
    except InspectRecError as error:
        typer.echo(asking.wrapped(f"inspect-rec: {error}"), err=True)
        code = next((code for kind, code in EXIT.items() if isinstance(error, kind)), 9)
        raise SystemExit(code) from None
    except Exception as error:  # noqa: BLE001 - the one boundary: a fault is told, with its trace
        import traceback

        traceback.print_exc()
        typer.echo(_fault(error), err=True)
        raise SystemExit(FAULT) from None


def _fault(error: Exception) -> str:
    from inspect_rec import __version__

    return asking.wrapped(
        f"inspect-rec: this is a fault of the program, not yours ({type(error).__name__}). What "
        "was recorded is kept. Tell whoever gave you the program: the command you typed, "
        f"version {__version__}, and the lines above; look first whether names stand in them."
    )
