"""What the calculator reads and gives: typed values and JSON in, plain data out."""

from __future__ import annotations

import platform as machine
import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from importlib import metadata, resources
from typing import Any

from inspect_rec import tomltext
from inspect_rec.calculator import base, jsontext, measuring, propagate, trying
from inspect_rec.calculator.measuring import Shelf
from inspect_rec.compute import montecarlo
from inspect_rec.compute.montecarlo import Propagated
from inspect_rec.compute.uncertainty import Budget
from inspect_rec.errors import InputError
from inspect_rec.inspection import studied
from inspect_rec.methods import register as methods
from inspect_rec.methods.base import Instrument
from inspect_rec.plan import Equipment, Influence, ShopFile

U = "u"
"""The input that holds the uncertainties of the others."""


def from_json(text: str) -> dict[str, Any]:
    """Inputs as a JSON object."""
    if not text.strip():
        raise InputError("no inputs", expected="INPUT=VALUE, or a JSON object on standard input")
    try:
        found = jsontext.read(text)
    except ValueError as error:
        raise InputError(
            "the inputs can't be read", expected="a JSON object", found=str(error)
        ) from None
    if not isinstance(found, dict):
        raise InputError("the inputs can't be read", expected="a JSON object", found=text[:40])
    return found


def typed(values: Iterable[str], name_of_all: str = "") -> dict[str, Any]:
    """Inputs as they are typed: ``name=value``, a point in a name reaching into a table, a list
    with commas, a point as x:z. Of a computation that is named, texts stay as they are written,
    and one value stands for a list of it."""
    known = base.register().get(name_of_all)
    kinds = {each.name: each for each in known.inputs} if known else {}
    found: dict[str, Any] = {}
    for each in values:
        name, equals, value = each.partition("=")
        if not equals or not name:
            raise InputError("an input can't be read", expected="INPUT=VALUE", found=each)
        place = found
        *path, last = name.split(".")
        for key in path:
            place = place.setdefault(key, {})
            if not isinstance(place, dict):
                raise InputError("an input is given twice", found=each)
        if last in place:
            raise InputError("an input is given twice", found=each)
        place[last] = _of_kind(value, None if path else kinds.get(last))
    return found


def _of_kind(text: str, kind: base.Input | None) -> Any:
    if kind is None:
        return _value(text)
    if not kind.is_text:
        found = _value(text)
        # null for what may be left out is no list of one that is infinite.
        return found if found is None and not kind.needed else _within(found, kind.levels)
    try:
        found = jsontext.read(text)
    except ValueError:
        found = None
    if not isinstance(found, str | list):
        found = [each for each in text.split(",") if each] if kind.levels else text
    return _within(found, kind.levels)


def _within(value: Any, levels: int) -> Any:
    """The value in so many lists as its kind has, where it lies in fewer."""
    deep, inner = 0, value
    while isinstance(inner, list) and inner:
        deep, inner = deep + 1, inner[0]
    for _ in range(levels - deep if value != [] else 0):
        value = [value]
    return value


_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)
"""A number as people type one; JSON asks for a digit before the point and no plus."""


def _value(text: str) -> Any:
    try:
        return jsontext.read(text)
    except ValueError:
        pass
    if _NUMBER.fullmatch(text):
        return float(text)
    if "," in text:
        return [_value(each) for each in text.split(",") if each]
    if ":" in text:
        return [_value(each) for each in text.split(":")]
    return text


# -- the register -----------------------------------------------------------------------------


def listed(name: str = "") -> dict[str, Any]:
    """All computations and methods, or the one of that name, with inputs, units and outputs."""
    told = [
        _of_computation(c)
        for c in sorted(base.register().values(), key=lambda c: (c.topic, c.name))
    ]
    told += [_of_method(m) for m in methods.register().values()]
    if name:
        told = [each for each in told if name in (each["name"], each.get("method"))]
        if not told:
            raise measuring.no_such(name)
    return {"computations": told}


def _of_computation(c: base.Computation) -> dict[str, Any]:
    return {
        "name": c.name,
        "kind": "computation",
        "topic": c.topic,
        "what": c.evaluate.__doc__ or "",
        "inputs": [
            {"name": i.name, "is": i.kind, "unit": i.unit, "needed": i.needed} for i in c.inputs
        ],
        "outputs": [{"name": name, "unit": base.unit_of(name)} for name in c.gives],
        "formula": c.formula,
        "source": c.source,
        "refuses": c.refuses,
    }


def _of_method(m: methods.Method) -> dict[str, Any]:
    needed = {r.name for r in m.roles if r.needed} | {a.name for a in m.asks if a.needed}
    return {
        "name": m.slug,
        "kind": "method",
        "method": m.name,
        "version": m.version,
        "topic": "measuring methods",
        "what": (m.evaluate.__doc__ or "").split("\n", maxsplit=1)[0],
        "inputs": [
            {"name": name, "is": said, "unit": base.unit_of(name), "needed": name in needed}
            for name, said in measuring.inputs_of(m).items()
        ],
        "outputs": [
            {"name": f"value_{m.unit}", "unit": base.unit_of(f"value_{m.unit}")},
            {"name": f"U_{_small(m.unit)}", "unit": base.unit_of(f"U_{_small(m.unit)}")},
        ],
        "plane": m.plane,
        "formula": m.formula,
        "source": m.source,
        "assumes": m.assumes,
        "refuses": "; ".join(m.refuses),
    }


def _small(unit: str) -> str:
    return "um" if unit == "mm" else unit


def inputs_of(name: str) -> list[str]:
    """The inputs of a computation or method, by name."""
    return [each["name"] for each in listed(name)["computations"][0]["inputs"]]


# -- computing --------------------------------------------------------------------------------


def common_practice() -> Shelf:
    """What a new shop's file assumes, until the shop knows better."""
    text = (resources.files("inspect_rec.cli") / "templates" / "shop.toml").read_text("utf-8")
    values = tomltext.read(text, "shop.toml").values
    influences = {
        name: Influence.model_validate(each) for name, each in values["influence"].items()
    }
    instruments: dict[str, Instrument] = {"slides": Instrument("readout, step 1 µm", 0.5)}
    return Shelf(influences, instruments)


def shelf_of(shop: ShopFile) -> Shelf:
    """What a shop knows; of its instruments the readout, and the first of its optics."""
    equipment = {e.id: e for e in shop.equipment}
    instruments = {}
    for channel, name in (("slides", shop.set_up.readout), ("angle", shop.set_up.optics)):
        if name in equipment:
            instruments[channel] = _instrument(equipment[name])
    return Shelf(studied.influences(shop), instruments)


def _instrument(e: Equipment) -> Instrument:
    def known(amount: Decimal | None) -> float | None:
        return None if amount is None else float(amount)

    return Instrument(
        e.id,
        half_step=known(e.half_step),
        repeat=known(e.repeat),
        expanded=known(e.expanded),
        largest_error=known(e.largest_error),
        value=known(e.value),
    )


def computed(
    name: str, inputs: Mapping[str, Any], shelf: Shelf, number: int, seed: int
) -> dict[str, Any]:
    """A computation or method: quantities, uncertainty, budget, formula, source."""
    computation, method = base.register().get(name), measuring.by_slug(name)
    if computation is None and method is None:
        raise measuring.no_such(name)
    if computation is None and method is not None:
        return _measured(method, inputs, shelf, number, seed)
    assert computation is not None  # noqa: S101 - one of the two is there
    plain = {key: value for key, value in inputs.items() if key != U}
    told: dict[str, Any] = {
        "name": name,
        "what": computation.evaluate.__doc__,
        "inputs": plain,
        "got": computation(plain),
        "formula": computation.formula,
        "source": computation.source,
    }
    if not (said := inputs.get(U)):
        if number:
            raise InputError(
                "trials need an uncertainty", do=f"Type u.{next(iter(plain), 'INPUT')}=..."
            )
        return told
    if not isinstance(said, Mapping):
        raise InputError("u must be a table", expected='{"drop_mm": 0.0016}', found=repr(said))
    of = propagate.stated(plain, said)
    tried = propagate.trials(computation, plain, of, number=number, seed=seed) if number else {}
    told["uncertainty"] = {
        quantity: _uncertainty(found.value, found.budget, tried.get(quantity), 1.0)
        for quantity, found in propagate.budgets(computation, plain, of).items()
    }
    return told


def _measured(
    method: methods.Method, inputs: Mapping[str, Any], shelf: Shelf, number: int, seed: int
) -> dict[str, Any]:
    found = measuring.measured(method, inputs, shelf)
    tried = trying.trials(found, number=number, seed=seed) if number else None
    per_unit = 1.0 if method.unit == "deg" else 1000.0
    quantity = f"value_{method.unit}"
    return {
        "name": method.slug,
        "what": (method.evaluate.__doc__ or "").split("\n", maxsplit=1)[0],
        "version": method.version,
        "inputs": dict(inputs),
        "got": found.told(),
        "uncertainty": {
            quantity: _uncertainty(found.outcome.value, found.outcome.budget, tried, per_unit)
        },
        "refused": list(found.outcome.refusals),
        "plane": method.plane,
        "assumes": method.assumes,
        "formula": method.formula,
        "source": method.source,
    }


def _uncertainty(
    value: float, budget: Budget, tried: Propagated | None, per_unit: float
) -> dict[str, Any]:
    """Uncertainty in the value's own unit; the budget in its own."""
    u, k = budget.u / per_unit, budget.coverage_k
    told: dict[str, Any] = {
        "value": base.plain(value),
        "u": u,
        "U": k * u,
        "k": k,
        "dof": base.plain(budget.dof),
        "unit_of_budget": budget.unit,
        "budget": [
            {
                "name": row.name,
                "amount": row.amount,
                "distribution": row.distribution.value,
                "sensitivity": row.sensitivity,
                "ends": row.ends,
                "averaged": row.averaged,
                "u": row.u,
                "dof": base.plain(row.dof),
                "assumed": row.assumed,
            }
            for row in budget.components
        ],
    }
    if tried is not None:
        told["trials"] = {
            "number": tried.trials,
            "mean": tried.mean,
            "u": tried.u,
            "low": tried.low,
            "high": tried.high,
            "shortest_low": tried.shortest_low,
            "shortest_high": tried.shortest_high,
            "probability": propagate.PROBABILITY,
            "budget": montecarlo.agreement(value, u, k, tried, propagate.PROBABILITY).value,
        }
    return told


def platform() -> dict[str, str]:
    """On what the program runs, for a validation record."""
    return {
        "Python": machine.python_version(),
        "system": f"{machine.system()} {machine.release()}",
        "processor": machine.machine(),
        **{name: metadata.version(name) for name in ("numpy", "scipy", "pydantic")},
    }
