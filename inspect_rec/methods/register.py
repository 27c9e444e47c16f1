"""The register of all methods: what each reads, what a plan has to state, where it comes from.

A method is entered by ``@method`` above its function, in one file of this package; the plan's
parser, the calculator, the simulated machine and the table in the documents read the register, and
nothing else knows a method by name. A released version stays callable by its name and number.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache

from inspect_rec.errors import InputError
from inspect_rec.methods.base import Evaluate

Where = Callable[[Mapping[str, object]], bool]
"""Of the parameters of a plan."""


class Reads(StrEnum):
    """What is read at a mark."""

    RADIAL = "place along the radial slide, mm"
    ALONG = "place along the tool, mm"
    POINT = "place on both slides, mm"
    INDICATOR = "indicator, mm"
    ANGLE = "protractor, deg"
    LENGTH = "length, mm"


@dataclass(frozen=True, slots=True)
class Role:
    """A feature that a method needs: what is read there, at which marks."""

    name: str
    reads: Reads
    what: str
    """One line for who writes the plan."""
    marks: tuple[str, ...] = ()
    """The marks that it must have; empty where they may have any name."""
    least: int = 1
    """Fewest marks."""
    master: bool = False
    """Whether it is a check against a master, which gives bias or drift."""
    length: bool = False
    """Whether the expansion of equipment enters the value: of a master that gives a length, or of
    an instrument that is read on a scale of its own."""
    needed: bool = True
    needed_where: Where | None = None
    """Of one that may else be left out: whether it is needed beside those parameters."""
    index: bool = False
    """Whether each mark must state its index angle."""

    def lacking(self, named: Container[str], parameters: Mapping[str, object]) -> bool:
        """Whether a feature must be named for it and isn't."""
        return self.name not in named and _needed(self, parameters)


@dataclass(frozen=True, slots=True)
class Asks:
    """A parameter that the plan states, under ``with``; there is no default guess."""

    name: str
    what: str
    words: tuple[str, ...] = ()
    """The words that are allowed; empty for a number (its unit ends the name)."""
    many: bool = False
    """Whether it is a list."""
    needed: bool = True
    needed_where: Where | None = None
    """Of one that may else be left out: whether it must stand beside those parameters."""
    form: str = ""
    """How a text of its own is written; empty for numbers and for words."""
    reads: Callable[[tuple[str, ...]], object] | None = None
    """Reads those texts; raises InputError where they aren't written so."""

    def lacking(self, parameters: Mapping[str, object]) -> bool:
        """Whether it must be stated and isn't."""
        return self.name not in parameters and _needed(self, parameters)

    @property
    def kind(self) -> str:
        """What may be stated: the words, the form, or a number."""
        said = " | ".join(self.words) or self.form
        return said or ("numbers" if self.many else "a number")


def _needed(each: Role | Asks, parameters: Mapping[str, object]) -> bool:
    return each.needed or (each.needed_where is not None and each.needed_where(parameters))


def asked_where(needed: Where, name: str, what: str) -> Asks:
    """A number that may be left out but beside certain other parameters."""
    return Asks(name, what, needed=False, needed_where=needed)


def where(name: str, *as_: object) -> Where:
    """Whether a parameter is stated: as one of these, where any are named."""
    return lambda parameters: name in parameters and (not as_ or parameters[name] in as_)


@dataclass(frozen=True, slots=True)
class Method:
    """An entry of the register."""

    name: str
    version: int
    evaluate: Evaluate
    roles: tuple[Role, ...]
    formula: str
    source: str
    asks: tuple[Asks, ...] = ()
    plane: str = ""
    """The plane or direction in which the result is meant."""
    assumes: str = ""
    refuses: tuple[str, ...] = ()
    """When it gives no verdict, or no value at all."""
    unit: str = "mm"
    infeed: float = 1.0
    """Infeed square to the ground face for one unit of the value (a diameter: one half)."""
    over_flutes: bool = False
    """Whether it needs the readings of all flutes at once."""
    varies: bool = False
    """Whether it is the spread of another characteristic over the flutes."""

    @property
    def slug(self) -> str:
        """Its name as a word of a command line."""
        return self.name.replace(",", "").replace(" ", "-")


_REGISTER: dict[tuple[str, int], Method] = {}


def method(  # noqa: PLR0913 - the columns of the register
    name: str,
    *,
    roles: tuple[Role, ...],
    formula: str,
    source: str,
    version: int = 1,
    asks: tuple[Asks, ...] = (),
    plane: str = "",
    assumes: str = "",
    refuses: tuple[str, ...] = (),
    unit: str = "mm",
    infeed: float = 1.0,
    over_flutes: bool = False,
    varies: bool = False,
) -> Callable[[Evaluate], Evaluate]:
    """Enter a function in the register under ``name`` and ``version``."""

    def enter(evaluate: Evaluate) -> Evaluate:
        return _enter(
            Method(
                name=name,
                version=version,
                evaluate=evaluate,
                roles=roles,
                formula=formula,
                source=source,
                asks=asks,
                plane=plane,
                assumes=assumes,
                refuses=refuses,
                unit=unit,
                infeed=infeed,
                over_flutes=over_flutes,
                varies=varies,
            )
        )

    return enter


def newer(
    name: str,
    version: int,
    *,
    assumes: str,
    since: str,
    formula: str = "",
    role: Role | None = None,
) -> Callable[[Evaluate], Evaluate]:
    """Enter a function as the version after ``version - 1``, which has to be entered already: what
    that says stays, but for what is said here.

    ``since``: what was wrong with the version before, behind its source; ``formula``: what comes
    behind its formula; ``role``: takes the place of the role of the same name, or is a further one.
    """
    before = _REGISTER[name, version - 1]
    roles = tuple(role if role and role.name == each.name else each for each in before.roles)
    if role and role not in roles:
        roles = (*roles, role)

    def enter(evaluate: Evaluate) -> Evaluate:
        return _enter(
            replace(
                before,
                version=version,
                evaluate=evaluate,
                roles=roles,
                formula=before.formula + formula,
                source=f"{before.source}; version {version - 1} {since}",
                assumes=assumes,
            )
        )

    return enter


def entered(name: str, version: int) -> Method:
    """An entry of a module that is imported already, for the module of the version after it."""
    return _REGISTER[name, version]


def _enter(entry: Method) -> Evaluate:
    key = entry.name, entry.version
    if key in _REGISTER:
        raise ValueError(f"two methods are called {entry.name!r}, version {entry.version}")
    _REGISTER[key] = entry
    return entry.evaluate


@cache
def _all() -> Mapping[tuple[str, int], Method]:
    """Every version; a file of this package that can't be imported is an error."""
    package = importlib.import_module("inspect_rec.methods")
    for module in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"inspect_rec.methods.{module.name}")
    return _REGISTER


@cache
def register() -> Mapping[str, Method]:
    """The newest version of each method, by name."""
    return {name: entry for (name, _), entry in sorted(_all().items())}


def versions(name: str) -> tuple[int, ...]:
    """The versions of the method of that name, oldest first."""
    return tuple(sorted(version for known, version in _all() if known == name))


def named(name: str, version: int | None = None) -> Method:
    """The method of that name, the newest or that ``version``; InputError lists what there is."""
    if name not in (known := register()):
        raise InputError("no such method", expected=" | ".join(sorted(known)), found=repr(name))
    if version is None:
        return known[name]
    if (name, version) not in _all():
        there = ", ".join(map(str, versions(name)))
        raise InputError(
            f"no such version of the method {name!r}",
            expected=there,
            found=str(version),
            do="Use a newer version of the program",
        )
    return _all()[name, version]
