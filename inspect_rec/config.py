"""A shop's folder: its files by name, its settings, and the names that are kept apart.

Settings come from station.toml and the environment, once, frozen. Names of persons and customers
stand in names.toml alone, so that one can be removed without touching the ledger.
"""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from inspect_rec import jobfile, tomltext
from inspect_rec.errors import InputError, Mistake
from inspect_rec.plan import ShopFile

ENVIRONMENT = "INSPECT_REC_SHOP"


class Settings(BaseModel):
    """What is particular to one station."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    readout: str = ""
    """Address of the readout: COM3, /dev/ttyUSB0, socket://host:port, rfc2217://host:port."""
    layout: str = "two-axis line"
    """Id of a packaged layout, or the path of a layout file."""
    copies: str = ""
    """A second folder, on another disk, into which the ledger is copied after each tool."""
    language: str = "en"
    roots: tuple[str, ...] = ()
    """Certificates of roots that reports may be signed under, beside the shop's own."""


@dataclass(frozen=True, slots=True)
class Name:
    """A person's or customer's name, and a person's roles."""

    name: str
    roles: tuple[str, ...] = ()


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

    def read_shop(self) -> ShopFile:
        """The shop file; InputError with every mistake and its line."""
        return jobfile.parse_shop(read_text(self.shop), self.shop.name)

    def settings(self) -> Settings:
        """The station's settings."""
        if not self.station.is_file():
            return Settings()
        source = tomltext.read(read_text(self.station), self.station.name)
        try:
            return Settings.model_validate(source.values)
        except ValidationError as error:
            mistakes = [
                Mistake(source.where(e["loc"]), str(e["msg"]), repr(e["input"])[:60])
                for e in error.errors(include_url=False)
            ]
            raise InputError("station.toml has mistakes", mistakes) from error

    # -- names ---------------------------------------------------------------

    def persons(self) -> dict[str, Name]:
        """Persons by id."""
        return self._names("person")

    def customers(self) -> dict[str, Name]:
        """Customers by id."""
        return self._names("customer")

    def _names(self, kind: str) -> dict[str, Name]:
        if not self.names.is_file():
            return {}
        values: Mapping[str, Any] = tomllib.loads(read_text(self.names)).get(kind, {})
        return {
            id_: Name(str(each["name"]), tuple(map(str, each.get("roles", ()))))
            for id_, each in values.items()
        }

    def name_person(self, id_: str, name: Name) -> None:
        """Add a person's name."""
        self._write_names({**self.persons(), id_: name}, self.customers())

    def customer_id(self, name: str) -> str:
        """Id of a customer; a new one is added."""
        known = self.customers()
        found = next((id_ for id_, each in known.items() if each.name == name), None)
        if found is None:
            found = f"C-{len(known) + 1}"
            self._write_names(self.persons(), {**known, found: Name(name)})
        return found

    def _write_names(self, persons: Mapping[str, Name], customers: Mapping[str, Name]) -> None:
        lines = ["# Names by id. A name may be removed here; the ledger holds the ids only.", ""]
        for kind, names in (("person", persons), ("customer", customers)):
            for id_, each in names.items():
                lines.append(f"[{kind}.{json.dumps(id_)}]")
                lines.append(f"name = {json.dumps(each.name, ensure_ascii=False)}")
                if each.roles:
                    lines.append(f"roles = {json.dumps(list(each.roles))}")
                lines.append("")
        write_whole(self.names, "\n".join(lines).encode())


def folder(given: str | None = None) -> Folder:
    """The shop's folder: as given, from the environment, or ./shop."""
    return Folder(Path(given or os.environ.get(ENVIRONMENT) or "shop"))


def read_text(path: Path) -> str:
    """A text file; InputError where it isn't there or is no UTF-8."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise InputError("there is no such file", where=str(path)) from error
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("the file can't be read", found=str(error), where=str(path)) from error


def write_whole(path: Path, data: bytes, *, private: bool = False) -> None:
    """Write a file whole or not at all: beside it first, on disk, then in its place."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.part")
    beside.touch(mode=0o600 if private else 0o644)
    with beside.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
