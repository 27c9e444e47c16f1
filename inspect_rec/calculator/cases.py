"""Cases with known answers: what a laboratory validates the software with. No I/O.

The format is that of fixtures/published (its README explains it): ``calc`` names the computation,
``inputs`` are its inputs, ``expect`` gives a value and a tolerance for each quantity, or says that
the input must be refused. ISO/IEC 17025:2017, 7.11.2 asks for such a validation (from memory).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from inspect_rec.calculator import jsontext
from inspect_rec.calculator.base import register
from inspect_rec.calculator.measuring import Shelf, by_slug, measured, no_such
from inspect_rec.errors import InputError, InspectRecError

TEST_ONLY = "test only"
HAIR = 1e-12
"""Slack for binary fractions, as a share of the expected value: a tolerance of 0 means equal."""
_LARGEST = 20_000_000
_FAR = 1e300
"""No expected number lies further off, so that a difference is one."""


@dataclass(frozen=True, slots=True)
class Ran:
    """One case, computed: what came out, and how far that lies from what was expected."""

    id: str
    calc: str | None
    source: str
    provenance: str
    got: dict[str, Any] | None
    error: str | None
    expected: bool
    """Whether the case expects anything."""
    diff: dict[str, Any] = field(default_factory=dict)
    tolerances: dict[str, float] = field(default_factory=dict)
    ok: bool = True
    skipped: str = ""
    wanted: Mapping[str, Any] = field(default_factory=dict)
    """Quantity -> expected value; ``error``: whether the input must be refused."""

    def told(self) -> dict[str, Any]:
        """As JSON."""
        found: dict[str, Any] = {"id": self.id, "got": self.got, "error": self.error}
        if self.skipped:
            return found | {"skipped": self.skipped}
        if self.expected:
            found |= {"diff": self.diff}
        if self.expected or not self.ok:
            found |= {"ok": self.ok}
        return found

    @property
    def largest(self) -> float:
        """The largest difference of a number."""
        return max(map(_size, self.diff.values()), default=0.0)


def _size(diff: Any) -> float:
    if isinstance(diff, list):
        return max(map(_size, diff), default=0.0)
    return abs(diff) if isinstance(diff, int | float) else 0.0


def read(text: str, name: str) -> list[Mapping[str, Any]]:
    """The cases of a file; InputError where it isn't one."""
    if len(text) > _LARGEST:
        raise InputError("the file of cases is too long", where=name, found=f"{len(text)} signs")
    try:
        found = jsontext.read(text)
    except ValueError as error:
        raise InputError(
            "this is no file of cases", expected="JSON", found=str(error), where=name
        ) from None
    cases = found.get("cases") if isinstance(found, dict) else None
    if not isinstance(cases, list) or not all(isinstance(case, dict) for case in cases):
        raise InputError(
            "this is no file of cases",
            expected='{"cases": [{"id": ..., "calc": ..., "inputs": {...}}, ...]}',
            found=type(found).__name__,
            where=name,
        )
    for n, case in enumerate(cases, 1):
        if not isinstance(case.get("inputs"), dict) or not isinstance(case.get("id"), str):
            raise InputError(
                f"case {n} says too little",
                expected="id and inputs",
                found=", ".join(case) or "nothing",
                where=name,
            )
        if not isinstance(case.get("calc"), str | None):
            raise InputError(
                f"what the case {case['id']} computes can't be read",
                expected="calc with the name of a computation or method, or null",
                found=repr(case["calc"])[:80],
                where=name,
            )
        _expectation(case.get("expect"), case["id"], name)
    seen: set[str] = set()
    for id_ in (case["id"] for case in cases):
        if id_ in seen:
            raise InputError("two cases have one id", expected="each once", found=id_, where=name)
        seen.add(id_)
    return cases


def _expectation(expect: Any, id_: str, name: str) -> None:
    """What a case expects is a value with a tolerance for each quantity, or a refusal."""
    good = expect is None or isinstance(expect, dict)
    for quantity, each in (expect or {}).items() if good else ():
        if quantity == "error":
            good = good and isinstance(each, bool)
        elif each is not None:
            tolerance = each.get("tol", 0) or 0 if isinstance(each, dict) else None
            held = _plain(tolerance) and 0 <= float(tolerance or 0) <= _FAR
            good = good and held and _reachable(each.get("value"))
    if not good:
        raise InputError(
            f"what the case {id_} expects can't be read",
            expected='{"quantity": {"value": ..., "tol": 0.001}} or {"error": true}',
            found=json.dumps(expect)[:80],
            where=name,
        )


def _reachable(value: Any) -> bool:
    if isinstance(value, list):
        return all(map(_reachable, value))
    return abs(value) <= _FAR if _plain(value) else value is None or isinstance(value, str | bool)


def run(case: Mapping[str, Any], shelf: Shelf | None = None) -> Ran:
    """Compute one case and hold it against what it expects; a method's case takes from ``shelf``
    what the shop knows."""
    calc, expect = case.get("calc"), case.get("expect") or {}
    head = (
        str(case["id"]),
        None if calc is None else str(calc),
        _told(case.get("source")),
        _told(case.get("provenance")),
    )
    if calc is None:
        return Ran(*head, None, None, expected=False, skipped=TEST_ONLY)
    wanted = {
        name: each["value"] if isinstance(each, Mapping) else each
        for name, each in expect.items()
        if name == "error" or (isinstance(each, Mapping) and each.get("value") is not None)
    }
    known, method = register().get(calc), by_slug(calc)
    if known is None and method is None:
        error = str(no_such(calc))
        return Ran(*head, None, error, expected=bool(expect), ok=False, wanted=wanted)
    got, error_said = None, None
    try:
        if known is not None:
            got = known(case["inputs"])
        elif method is not None:
            got = measured(method, case["inputs"], shelf or Shelf()).told()
    except InspectRecError as refusal:
        error_said = str(refusal)
    if not wanted:
        return Ran(*head, got, error_said, expected=False)
    if wanted.get("error") is True:
        return Ran(*head, got, error_said, expected=True, ok=got is None, wanted=wanted)
    diff: dict[str, Any] = {}
    tolerances: dict[str, float] = {}
    ok = got is not None
    for name, value in wanted.items():
        if name == "error":
            continue
        tolerances[name] = float(expect[name].get("tol") or 0.0)
        found = (got or {}).get(name)
        diff[name] = _difference(found, value)
        ok = ok and met(found, value, tolerances[name])
    return Ran(
        *head,
        got,
        error_said,
        expected=True,
        diff=diff,
        tolerances=tolerances,
        ok=ok,
        wanted=wanted,
    )


def _told(said: Any) -> str:
    """What a case tells of itself, as it was written."""
    if said is None:
        return ""
    return said if isinstance(said, str) else json.dumps(said, ensure_ascii=False)


def _plain(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _difference(got: Any, wanted: Any) -> Any:
    """Got less expected; of texts and truths 0 where they are the same, else null."""
    if _plain(got) and _plain(wanted):
        return got - wanted
    if isinstance(got, list) and isinstance(wanted, list) and len(got) == len(wanted):
        return [_difference(one, other) for one, other in zip(got, wanted, strict=True)]
    return 0 if type(got) is type(wanted) and got == wanted else None


def met(got: Any, wanted: Any, tolerance: float) -> bool:
    """Whether a value lies within its tolerance; of a list each, of texts and truths the same."""
    if _plain(got) and _plain(wanted):
        return bool(abs(got - wanted) <= tolerance + HAIR * abs(wanted))
    if isinstance(got, list) and isinstance(wanted, list):
        pairs = len(got) == len(wanted)
        return pairs and all(
            met(one, other, tolerance) for one, other in zip(got, wanted, strict=True)
        )
    return type(got) is type(wanted) and got == wanted
