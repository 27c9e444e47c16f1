"""A shop's letterhead, as data: lines, a logo, statements of its own, the order of blocks, paper.

It can add and reorder. It can't leave anything out, and it names no words of the report: what a
report must say, it says under every letterhead. All of it lies in the report's own record, logo
included, so that the same pages can be made again from the file alone.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Callable, Iterator
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationError

from inspect_rec import jobfile, tomltext
from inspect_rec.errors import InputError, Mistake, ReportError
from inspect_rec.plan import Strict
from inspect_rec.plan.stated import Name, one_line
from inspect_rec.report import images

FILE = "letterhead.toml"
LARGEST, LARGEST_SIDE = 200_000, 2000
"""Bytes of a logo, and pixels of its longer side."""

Block = Literal[
    "profiles",
    "pictures",
    "amendment",
    "rule",
    "equipment",
    "earlier",
    "method",
    "supplied",
    "own statements",
]
_Paragraph = Annotated[str, Field(min_length=1, max_length=1000), AfterValidator(one_line)]


def _each_once(blocks: tuple[str, ...]) -> tuple[str, ...]:
    twice = sorted({block for block in blocks if blocks.count(block) > 1})
    if twice:
        raise ValueError(f"expected each block once, {', '.join(twice)} stands twice")
    return blocks


class Statement(Strict):
    """What a shop says on each of its reports, under a heading of its own."""

    heading: Name
    text: Annotated[tuple[_Paragraph, ...], Field(min_length=1, max_length=10)]


class Logo(Strict):
    """A picture, PNG or JPEG: what it is known by, and its bytes in base64."""

    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    base64: Annotated[str, Field(max_length=4 * LARGEST // 3 + 4)]

    @property
    def data(self) -> bytes:
        """The bytes."""
        return base64.b64decode(self.base64, validate=True)


class _Letterhead(Strict):
    paper: Literal["A4", "Letter"] = "A4"
    lines: Annotated[tuple[Name, ...], Field(max_length=6)] = ()
    """Printed in the head beside one another: telephone, web, registration."""
    statement: Annotated[tuple[Statement, ...], Field(max_length=6)] = ()
    order: Annotated[tuple[Block, ...], AfterValidator(_each_once)] = ()
    """Blocks after the table, first those named; what isn't named follows in its usual order."""


class Letterhead(_Letterhead):
    """A letterhead as a record holds it."""

    logo: Logo | None = None

    @property
    def line(self) -> str:
        """The lines as they are printed, on one."""
        return _line(self.lines)

    def body(self) -> dict[str, Any]:
        """As it stands in a record, without what is absent."""
        return self.model_dump(mode="json", exclude_defaults=True)


class _File(_Letterhead):
    logo: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    """The picture's file, beside this one."""


def parse(text: str, read: Callable[[str], bytes], name: str = FILE) -> Letterhead:
    """A letterhead from its TOML text; ``read`` gives a file that it names.

    Raises InputError with every mistake and its line: of the file, of the logo, and of what doesn't
    fit its place or can't be printed.
    """
    source = tomltext.read(text, name)
    mistakes: list[Mistake] = []
    found, logo = _File(), None
    try:
        found = _File.model_validate(source.values)
    except ValidationError as error:
        mistakes += jobfile.mistakes(error, source)
    if isinstance(wanted := source.values.get("logo"), str) and wanted:
        try:
            logo = logo_of(read(wanted))
        except InputError as error:
            said = error.expected or "a PNG or JPEG file", error.found or error.what
            mistakes.append(Mistake(source.where(("logo",)), *said, error.do))
    mistakes += _unprintable(source)
    mistakes += _too_wide(source)
    if mistakes:
        raise InputError("the letterhead has mistakes", mistakes)
    return Letterhead(**(found.model_dump() | {"logo": logo}))


def of(body: object) -> Letterhead:
    """A letterhead from a record. Raises ReportError for what isn't one, or whose logo isn't the
    picture that it is known by."""
    try:
        found = Letterhead.model_validate(body)
        if found.logo is not None and logo_of(found.logo.data) != found.logo:
            raise ValueError("the logo has another digest")
    except (ValidationError, binascii.Error, ValueError, InputError) as error:
        raise ReportError("the record's letterhead doesn't hold", found=str(error)[:200]) from error
    return found


def logo_of(data: bytes) -> Logo:
    """A picture's bytes as a logo. Raises InputError for one that is too large, or that isn't a
    whole PNG or JPEG in colours that can be printed without a profile."""
    if len(data) > LARGEST:
        raise _no_logo(f"at most {LARGEST // 1000} kB", f"{-(-len(data) // 1000)} kB")
    images.look(data, LARGEST_SIDE, _no_logo)
    return Logo(sha256=hashlib.sha256(data).hexdigest(), base64=base64.b64encode(data).decode())


def _no_logo(expected: str, found: str) -> InputError:
    return InputError(
        "this picture can't be a logo",
        expected=expected,
        found=found,
        do="Save it anew, some 1000 pixels wide, as PNG or as JPEG in RGB",
    )


def _unprintable(source: tomltext.TomlText) -> Iterator[Mistake]:
    from report_templates.lettering import printable

    for place, text in tomltext.texts(source.values):
        try:
            printable(text)
        except ReportError as error:
            yield Mistake(source.where(place), error.expected, error.found, error.do)


def _line(lines: tuple[str, ...]) -> str:
    return " · ".join(lines)


def _too_wide(source: tomltext.TomlText) -> Iterator[Mistake]:
    """The head has one line for them; nothing of it is cut."""
    from report_templates.letterhead import over

    lines = source.values.get("lines")
    if not isinstance(lines, list) or not all(isinstance(each, str) for each in lines):
        return
    if (mm := over(_line(tuple(lines)))) > 0:
        found = f"{mm:.0f} mm too much"
        yield Mistake(source.where(("lines",)), "lines that fit beside one another", found)
