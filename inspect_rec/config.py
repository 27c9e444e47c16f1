"""A shop's folder: its files by name, its settings, and the names that are kept apart.

Settings come from station.toml and the environment, once, frozen. Names of persons and customers
stand in names.toml alone, so that one can be removed without touching the ledger.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic.dataclasses import dataclass as pydantic_dataclass

from inspect_rec import jobfile, plan, tomltext
from inspect_rec.errors import InputError, Mistake
from inspect_rec.people import Role
from inspect_rec.plan import ShopFile, Strict
from inspect_rec.report import letterhead
from inspect_rec.report.letterhead import Letterhead
from inspect_rec.tomltext import texts

M = TypeVar("M", bound=BaseModel)

ENVIRONMENT = "INSPECT_REC_SHOP"
FILL_IN = "FILL IN"
"""Begins every value of a new shop file that only the shop knows; none may be left."""

PERSON_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,30}")
"""It names files too, so nothing in it leads to another folder."""


def _has_words(language: str) -> str:
    words = resources.files("report_templates") / "words"
    known = sorted(f.name.removesuffix(".toml") for f in words.iterdir())
    if language not in known:
        raise ValueError(f"expected one of {', '.join(known)}")
    return language


def _has_words_or_none(language: str) -> str:
    return _has_words(language) if language else ""


class Also(Strict):
    """A further readout of the station: the other slide, an indicator, a thermometer."""

    source: plan.Name
    """Its id in the equipment of the shop file."""
    address: Annotated[str, Field(min_length=1)]
    layout: Annotated[str, Field(min_length=1)]


class Settings(Strict):
    """What is particular to one station. INSPECT_REC_READOUT, _LAYOUT, _COPIES and _LANGUAGE in
    the environment stand above the file."""

    readout: str = ""
    """Address of the readout: COM3, /dev/ttyUSB0, socket://host:port, rfc2217://host:port."""
    layout: str = "two-axis line"
    """Id of a packaged layout, or the path of a layout file."""
    copies: str = ""
    """A second folder, on another disk, into which the ledger is copied after each tool."""
    language: Annotated[str, AfterValidator(_has_words)] = "en"
    also: tuple[Also, ...] = ()
    """Further readouts, in [[also]] tables."""
    roots: tuple[str, ...] = ()
    """Certificates of roots that reports may be signed under, beside the shop's own."""


_FROM_ENVIRONMENT = ("readout", "layout", "copies", "language")


def _a_role(text: str) -> str:
    if text not in set(Role):
        raise ValueError(f"expected one of {', '.join(Role)}")
    return str(text)


@pydantic_dataclass(frozen=True, slots=True, config=ConfigDict(extra="forbid"))
class Name:
    """A person's or customer's name, a person's roles; the language of a customer's reports where
    it isn't the station's, what it gets, and its contact. Raises ValueError for a name that is more
    than a line, or a role, language or copy that there isn't."""

    name: plan.Name
    roles: tuple[Annotated[str, AfterValidator(_a_role)], ...] = ()
    language: Annotated[str, AfterValidator(_has_words_or_none)] = ""
    copies: tuple[Literal["report", "measurement record"], ...] = ()
    contact: plan.Line = ""
    """Of a customer: whom to ask, and how."""

    @property
    def beside(self) -> tuple[str, ...]:
        """What the customer gets beside the report, which it always gets."""
        return tuple(dict.fromkeys(each for each in self.copies if each != "report"))


class _Names(Strict):
    """What names.toml holds."""

    person: Mapping[Annotated[str, Field(pattern=f"^{PERSON_ID.pattern}$")], Name] = {}
    customer: Mapping[Annotated[str, Field(pattern=r"^C-[0-9]+$")], Name] = {}


@dataclass(frozen=True, slots=True)
class Folder:
    """A shop's folder."""

    path: Path

    @property
    def shop(self) -> Path:
        """Shop, machine, equipment, influences."""
        return self.path / "shop.toml"

    @property
    def station(self) -> Path:
        """Settings of this station."""
        return self.path / "station.toml"

    @property
    def names(self) -> Path:
        """Id -> name."""
        return self.path / "names.toml"

    @property
    def ledger(self) -> Path:
        """The store."""
        return self.path / "ledger.sqlite"

    @property
    def keys(self) -> Path:
        """Keys and certificates."""
        return self.path / "keys"

    @property
    def reports(self) -> Path:
        """Reports by number."""
        return self.path / "reports"

    @property
    def journal(self) -> Path:
        """Raw bytes as they came."""
        return self.path / "journal"

    def certificate(self, name: str) -> Path:
        """Certificate of a person, or of the root."""
        return self.keys / f"{name}.cert.pem"

    def key(self, name: str) -> Path:
        """Encrypted key of a person, or of the root."""
        return self.keys / f"{name}.key.pem"

    def report(self, number: str) -> Path:
        """The report of that number."""
        return self.reports / f"{number}.pdf"

    def document(self, sha256: str) -> Path:
        """A document that came with an act, by its digest."""
        return self.path / "documents" / sha256

    def picture(self, sha256: str, kind: str) -> Path:
        """A picture of a tool, by its digest; ``kind``: ``PNG`` or ``JPEG``."""
        return self.path / "pictures" / f"{sha256}.{kind.lower()}"

    def beside(self, path: str) -> str:
        """A path of station.toml: what isn't absolute begins at the shop's folder, so that it
        means the same from wherever a command is typed."""
        return str(self.path / path) if path else ""

    def read_shop(self) -> ShopFile:
        """The shop file; InputError with every mistake and its line."""
        text = read_text(self.shop)
        source = tomltext.read(text, self.shop.name)
        left = [
            Mistake(source.where(place), value.removeprefix(FILL_IN).strip(": "), repr(FILL_IN))
            for place, value in texts(source.values)
            if value.startswith(FILL_IN)
        ]
        if left:
            raise InputError("the shop file isn't filled in yet", left)
        return jobfile.parse_shop(text, self.shop.name)

    def settings(self) -> Settings:
        """The station's settings; InputError with every mistake and its line."""
        text = read_text(self.station) if self.station.is_file() else ""
        source = tomltext.read(text, self.station.name)
        over = {name: os.environ.get(f"INSPECT_REC_{name.upper()}") for name in _FROM_ENVIRONMENT}
        values = {**source.values, **{name: value for name, value in over.items() if value}}
        found = _validated(Settings, values, source, "the settings have mistakes")

        def placed(layout: str) -> str:
            return self.beside(layout) if layout.endswith(".toml") else layout

        also = (a.model_copy(update={"layout": placed(a.layout)}) for a in found.also)
        return found.model_copy(
            update={
                "layout": placed(found.layout),
                "also": tuple(also),
                "copies": self.beside(found.copies),
                "roots": tuple(map(self.beside, found.roots)),
            }
        )

    def letterhead(self) -> Letterhead | None:
        """The shop's letterhead, where it has one; InputError with every mistake and its line."""
        path = self.path / letterhead.FILE
        return read_letterhead(path) if path.is_file() else None

    # -- names ---------------------------------------------------------------

    def persons(self) -> Mapping[str, Name]:
        """Persons by id."""
        return self._names().person

    def customers(self) -> Mapping[str, Name]:
        """Customers by id."""
        return self._names().customer

    def language_for(self, customer: str) -> str:
        """The language of a report for the customer of that id: its own, or the station's."""
        known = self.customers().get(customer)
        return known.language if known and known.language else self.settings().language

    def _names(self) -> _Names:
        if not self.names.is_file():
            return _Names()
        source = tomltext.read(read_text(self.names), self.names.name)
        return _validated(_Names, source.values, source, "names.toml has mistakes")

    def name_person(self, id_: str, name: Name) -> None:
        """Add a person's name."""
        self._write_names({**self.persons(), id_: name}, self.customers())

    def customer_id(self, name: str, taken: Iterable[str] = ()) -> str:
        """Id of a customer; a new one is added.

        ``taken``: ids that entries name, since an id whose name was removed is never given to
        another customer.
        """
        known = self.customers()
        found = next((id_ for id_, each in known.items() if each.name == name), None)
        if found is None:
            numbers = [int(i[2:]) for i in (*known, *taken) if re.fullmatch(r"C-[0-9]+", i)]
            found = f"C-{max(numbers, default=0) + 1}"
            self._write_names(self.persons(), {**known, found: Name(name)})
        return found

    def _write_names(self, persons: Mapping[str, Name], customers: Mapping[str, Name]) -> None:
        lines = [
            "# Names by id. A name may be removed here; the ledger holds the ids only.",
            '# A customer\'s reports are in its language = "..." where one stands beside its name.',
            "",
        ]
        for kind, names in (("person", persons), ("customer", customers)):
            for id_, each in names.items():
                lines.append(f"[{kind}.{json.dumps(id_)}]")
                lines.append(f"name = {json.dumps(each.name, ensure_ascii=False)}")
                if each.roles:
                    lines.append(f"roles = {json.dumps(list(each.roles))}")
                if each.language:
                    lines.append(f"language = {json.dumps(each.language)}")
                if each.copies:
                    lines.append(f"copies = {json.dumps(list(each.copies))}")
                lines.append("")
        write_whole(self.names, "\n".join(lines).encode())


def _validated(kind: type[M], values: object, source: tomltext.TomlText, what: str) -> M:
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        raise InputError(what, jobfile.mistakes(error, source)) from error


def read_letterhead(path: Path) -> Letterhead:
    """A letterhead; a picture that it names lies in the same folder. InputError with every mistake
    and its line."""

    def beside(name: str) -> bytes:
        if Path(name).name != name:
            raise InputError("no path", expected="a file beside it, without a folder", found=name)
        return read_whole(path.parent / name)

    return letterhead.parse(read_text(path), beside, path.name)


def folder(given: str | None = None) -> Folder:
    """The shop's folder: as given, from the environment, or ./shop."""
    return Folder(Path(given or os.environ.get(ENVIRONMENT) or "shop"))


def read_text(path: Path) -> str:
    """A text file, without the mark that some editors put first; InputError where it isn't there
    or is no UTF-8."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise InputError("there is no such file", where=str(path)) from error
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("the file can't be read", found=str(error), where=str(path)) from error


def read_whole(path: Path) -> bytes:
    """A file's bytes; InputError where it isn't there or can't be read."""
    try:
        return path.read_bytes()
    except FileNotFoundError as error:
        raise InputError("there is no such file", where=str(path)) from error
    except OSError as error:
        raise InputError("the file can't be read", found=str(error), where=str(path)) from error


def write_whole(path: Path, data: bytes, *, private: bool = False) -> None:
    """Write a file whole or not at all: beside it first, on disk, then in its place. InputError
    where that place is a folder, forbidden or full."""
    beside = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.touch(mode=0o600 if private else 0o644)
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
        raise InputError(
            "the file can't be written", found=error.strerror or str(error), where=str(path)
        ) from error
