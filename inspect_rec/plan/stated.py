"""What every table of a job or shop file is made of: exact numbers, lines, frozen tables."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from typing import Annotated

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
)

_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(\.[0-9]{1,12})?")


def exact(value: object) -> Decimal:
    """An exact decimal from a TOML number, or from the text it is kept as in an entry."""
    if isinstance(value, Decimal) and value.is_finite():
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Decimal(value)
    if isinstance(value, str) and _NUMBER.fullmatch(value):
        return Decimal(value)
    raise ValueError("expected a plain decimal number, such as 4.890")


Number = Annotated[
    Decimal, BeforeValidator(exact), PlainSerializer(lambda d: format(d, "f"), return_type=str)
]


def one_line(text: str) -> str:
    """A text that can be printed in one line; ValueError for another."""
    if not text.isprintable() or text != text.strip():
        raise ValueError("expected one line of printable text without blanks at its ends")
    return text


Line = Annotated[str, Field(max_length=200), AfterValidator(one_line)]
Name = Annotated[str, Field(min_length=1, max_length=60), AfterValidator(one_line)]


class Strict(BaseModel):
    """A frozen table of a job or shop file; a key that isn't known is a mistake."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def no_twins(what: str, names: Iterable[str]) -> None:
    """ValueError where a name stands twice."""
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise ValueError(f"expected every {what} once, found {name!r} twice")
        seen.add(name)
