"""The register of computations: what each takes and gives, by formula and source.

A computation is one function in one file of this package, entered by ``@computation``. Its
parameters are its inputs, checked by their annotations; it gives a number, text, list or nothing
for each of its quantities. A name ends in its unit: ``diameter_mm``, ``helix_deg``. ``null`` stands
for none or infinite, among inputs as among results. No I/O.
"""

from __future__ import annotations

import importlib
import inspect
import json
import math
import pkgutil
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, cached_property
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, ValidationError
from pydantic import create_model as _create_model

from inspect_rec.errors import ComputeError, InputError, Mistake

Answer = Mapping[str, Any]
"""Quantity -> value."""


def _not(what: str) -> ValueError:
    """What an input isn't; a type that is wrong is one of them."""
    return ValueError(f"expected {what}")


def _finite(value: float | Decimal) -> bool:
    """Whether a float can hold it: JSON's whole numbers have any number of digits."""
    return abs(value) <= LARGEST if isinstance(value, int) else math.isfinite(value)


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise _not("a number")
    if not _finite(value):
        raise _not("a finite number")
    return float(value)


def _exact(value: object) -> Decimal:
    if isinstance(value, Decimal):
        found = value
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise _not("a number")
    else:
        # The shortest decimal that this binary number stands for is what was written.
        found = Decimal(repr(value))
    if not _finite(found):
        raise _not("a finite number")
    return found


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise _not("a whole number")
    if not _finite(value) or value != (found := int(value)):
        raise _not("a whole number")
    return found


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise _not("a text")
    return value


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise _not("true or false")
    return value


def _list(value: object) -> object:
    """A list; a text is none, though Python could walk through it."""
    if not isinstance(value, list | tuple):
        raise _not("a list")
    if len(value) > LONGEST:
        raise _not(f"a list of at most {LONGEST}")
    return value


LARGEST = sys.float_info.max
"""The number furthest from 0 that a computation takes."""

LONGEST = 100_000
"""Figures in one list: what is longer is a mistake or an attack."""

Number = Annotated[float, BeforeValidator(_number)]
"""A finite number."""
Exact = Annotated[Decimal, BeforeValidator(_exact)]
"""A number as it was written, in exact decimals."""
Whole = Annotated[int, BeforeValidator(_whole)]
Text = Annotated[str, BeforeValidator(_text)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Numbers = Annotated[tuple[Number, ...], BeforeValidator(_list)]
Pair = Annotated[tuple[Number, Number], BeforeValidator(_list)]
Points = Annotated[tuple[Pair, ...], BeforeValidator(_list)]
"""Points (x, z) in mm."""
Texts = Annotated[tuple[Text, ...], BeforeValidator(_list)]


def not_empty(values: Sequence[object]) -> Sequence[object]:
    """A list with something in it."""
    if not values:
        raise _not("a list with something in it")
    return values


Filled = AfterValidator(not_empty)

_UNITS = {
    "mm": "mm",
    "um": "µm",
    "deg": "°",
    "arcmin": "′",
    "per_K": "1/K",
    "degC": "°C",
    "per_mm": "1/mm",
    "K": "K",
    "h": "h",
    "deg_per_um": "°/µm",
    "deg_per_mm": "°/mm",
    "um_per_100_mm": "µm/100 mm",
}


def unit_of(name: str) -> str:
    """The unit that ends a quantity's name; empty for a plain number or a text."""
    parts = name.split("_")
    for start in range(1, len(parts)):
        if (tail := "_".join(parts[start:])) in _UNITS:
            return _UNITS[tail]
    return ""


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a computation."""

    name: str
    kind: str
    unit: str
    needed: bool
    levels: int
    """How many lists lie within each other: 0 of a number, 2 of points."""
    is_text: bool
    """Whether it is a text, or made of texts."""


@dataclass(frozen=True)
class Computation:
    """An entry of the register."""

    name: str
    topic: str
    evaluate: Callable[..., Answer]
    gives: tuple[str, ...]
    """Its quantities, the first being the one that is asked for most; ``{n}`` stands for a figure
    that an input decides."""
    formula: str
    source: str
    refuses: str

    @cached_property
    def _parameters(self) -> Mapping[str, tuple[Any, Any]]:
        hints = get_type_hints(self.evaluate, include_extras=True)
        return {
            name: (hints[name], ... if p.default is inspect.Parameter.empty else p.default)
            for name, p in inspect.signature(self.evaluate).parameters.items()
        }

    @cached_property
    def _model(self) -> type[BaseModel]:
        # A trailing underscore keeps a name off Python's own words.
        fields: dict[str, Any] = {n.removesuffix("_"): t for n, t in self._parameters.items()}
        return _create_model(self.name, __config__=ConfigDict(extra="forbid"), **fields)

    @property
    def inputs(self) -> tuple[Input, ...]:
        """What it takes."""
        return tuple(
            Input(
                name := each.removesuffix("_"),
                _kind(annotation),
                unit_of(name),
                default is ...,
                *_made_of(annotation),
            )
            for each, (annotation, default) in self._parameters.items()
        )

    def checked(self, inputs: Mapping[str, Any]) -> Mapping[str, Any]:
        """The inputs, each of its kind, null for one that may be left out being none; InputError
        lists every mistake."""
        optional = {each.name for each in self.inputs if not each.needed}
        given = {n: value for n, value in inputs.items() if value is not None or n not in optional}
        try:
            held = self._model.model_validate(given)
        except ValidationError as error:
            raise InputError(
                f"{self.name}: the inputs have mistakes",
                [_mistake(e, self.inputs) for e in error.errors(include_url=False)],
            ) from None
        return {name: getattr(held, name.removesuffix("_")) for name in self._parameters}

    def __call__(self, inputs: Mapping[str, Any]) -> dict[str, Any]:
        """The quantities. Raises InputError for wrong inputs, ComputeError where there is no
        result."""
        checked = self.checked(inputs)
        try:
            found = self.evaluate(**checked)
        except ArithmeticError as error:
            raise ComputeError(
                f"{self.name}: these numbers have no result",
                do="Look for one that is far too large or too small",
            ) from error
        except ValueError as error:
            raise ComputeError(
                f"{self.name}: these numbers have no result", found=str(error) or "none"
            ) from error
        return {name: plain(value) for name, value in found.items()}


def plain(value: Any) -> Any:
    """A result as JSON can say it: what is no finite number is null."""
    if isinstance(value, Decimal):
        value = float(value)
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _kind(annotation: Any) -> str:
    """An annotation in words."""
    words = {
        "Number": "number",
        "Exact": "number",
        "Whole": "whole number",
        "Text": "text",
        "Flag": "true or false",
        "Numbers": "numbers",
        "Pair": "pair of numbers",
        "Points": "points [[x, z], ...]",
        "Texts": "texts",
    }
    for name, said in words.items():
        kind = globals()[name]
        if annotation == kind:
            return said
        if annotation == kind | None:
            return f"{said} or null"
    told = getattr(annotation, "__metadata__", ("",))[-1]
    return told if isinstance(told, str) else "list"


def _made_of(annotation: Any) -> tuple[int, bool]:
    """How many lists lie within each other, and whether there are texts in them."""
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is tuple:
        levels, is_text = _made_of(parts[0])
        return levels + 1, is_text
    if parts:
        return _made_of(parts[0])
    return 0, annotation is str


_EXPECTED = {
    "tuple_type": "a list",
    "too_long": "at most {max_length} entries",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "literal_error": "{expected}",
    "union_tag_invalid": "a {discriminator} of {expected_tags}",
    "union_tag_not_found": "a table with its {discriminator}",
}
"""What is expected, by the kind of a mistake that the checks of types find themselves."""


def _mistake(error: Any, inputs: tuple[Input, ...]) -> Mistake:
    where = ".".join(str(part) for part in error["loc"]) or "inputs"
    known = ", ".join(each.name for each in inputs)
    in_a_table = len(error["loc"]) > 1 and isinstance(error["loc"][-1], str)
    if error["type"] == "extra_forbidden":
        expected = "nothing of this name" if in_a_table else f"one of {known}"
        return Mistake(where, expected, "an input of another name")
    if error["type"] == "missing" and in_a_table:
        return Mistake(where, "a value", "nothing")
    if error["type"] == "missing":
        named = next((i for i in inputs if i.name == error["loc"][0]), None)
        expected = f"{named.kind}{f' ({named.unit})' if named.unit else ''}" if named else "it"
        return Mistake(where, expected, "nothing")
    if error["type"] in _EXPECTED:
        said = _EXPECTED[error["type"]].format(**error.get("ctx", {}))
    else:
        said = str(error["msg"]).removeprefix("Value error, ").removeprefix("expected ")
    return Mistake(where, said, _short(error["input"]))


def _short(value: object) -> str:
    # As a file or a pipe says it: null, not None.
    said = json.dumps(value, ensure_ascii=False, default=str)
    return said if len(said) <= 60 else said[:57] + "..."


_REGISTER: dict[str, Computation] = {}


def computation(
    name: str, *, topic: str, gives: tuple[str, ...], formula: str, source: str, refuses: str = ""
) -> Callable[[Callable[..., Answer]], Callable[..., Answer]]:
    """Enter a function in the register under ``name``."""

    def enter(evaluate: Callable[..., Answer]) -> Callable[..., Answer]:
        if name in _REGISTER:
            raise ValueError(f"two computations are called {name!r}")
        _REGISTER[name] = Computation(name, topic, evaluate, gives, formula, source, refuses)
        return evaluate

    return enter


@cache
def register() -> Mapping[str, Computation]:
    """All computations by name; a file of this package that can't be imported is an error."""
    package = importlib.import_module("inspect_rec.calculator")
    for module in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"inspect_rec.calculator.{module.name}")
    return dict(sorted(_REGISTER.items()))
