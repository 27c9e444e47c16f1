"""The root of every error this package raises on purpose, and its families.

An error composes its own message: what is wrong, what was expected, what was found, where,
and what to do. It knows nothing of exit codes; each face owns one table for that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mistake:
    """One thing wrong in a person's input: a value handed back beside what is right."""

    where: str
    """File and line (``job.toml:12``), row, or place in the record."""
    expected: str
    found: str
    do: str = ""
    """What to do about it, in the imperative; empty where the expectation says it."""

    def __str__(self) -> str:
        said = f"{self.where}: expected {self.expected}, found {self.found}"
        return f"{said}. {self.do}" if self.do else said


class InspectRecError(Exception):
    """Root of the errors raised on purpose.

    ``what`` is a sentence without a full stop; the rest is added where it is known.
    """

    def __init__(
        self, what: str, *, expected: str = "", found: str = "", where: str = "", do: str = ""
    ) -> None:
        self.what, self.expected, self.found = what, expected, found
        self.where, self.do = where, do
        said = f"{where}: {what}" if where else what
        if expected:
            said += f": expected {expected}, found {found or 'nothing'}"
        elif found:
            said += f": found {found}"
        super().__init__(f"{said}. {do}" if do else said)


class InputError(InspectRecError):
    """A file or an entry made by a person can't be used; ``mistakes`` lists all of them."""

    def __init__(self, what: str, mistakes: Sequence[Mistake] = (), **more: str) -> None:
        super().__init__(what, **more)
        self.mistakes = tuple(mistakes)

    def __str__(self) -> str:
        return "\n  ".join([super().__str__(), *map(str, self.mistakes)])


class ReadoutError(InspectRecError):
    """A readout, its line or its layout."""


class ComputeError(InspectRecError):
    """Numbers from which nothing can be computed (too few points, no such geometry)."""


class LedgerError(InspectRecError):
    """An entry or a chain that doesn't hold."""


class StoreError(InspectRecError):
    """The store can't be opened, read or written."""


class RefusedError(StoreError):
    """The store's own rules refused an entry: another one came first. Nothing was stored."""


class PersonError(InspectRecError):
    """A person may not do this, or the key or passphrase is wrong."""


class ReportError(InspectRecError):
    """A report can't be made, signed or read."""
