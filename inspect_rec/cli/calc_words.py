"""The calculator in words, in 80 columns: lists, results with their budgets, cases."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from inspect_rec.calculator.base import unit_of
from inspect_rec.calculator.cases import Ran


def _wrap(text: str, indent: str, first: str | None = None) -> str:
    return textwrap.fill(
        text,
        80,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def listed(told: Mapping[str, Any]) -> str:
    """The list by topics; of one alone, all that is known of it."""
    found = told["computations"]
    if len(found) == 1:
        return _one(found[0])
    lines: list[str] = []
    for topic in dict.fromkeys(each["topic"] for each in found):
        lines += ["", f"{topic}:"]
        for each in found:
            if each["topic"] == topic:
                lines += _entry(each["name"], each["what"].rstrip("."))
    return "\n".join([*lines[1:], "", "One alone: inspect-rec calc NAME --list"])


def _entry(name: str, what: str) -> list[str]:
    if len(name) <= 26:
        return [_wrap(what, " " * 29, f"  {name:26} ")]
    return [f"  {name}", _wrap(what, " " * 29, " " * 29)]


def _one(each: Mapping[str, Any]) -> str:
    lines = [_wrap(f"{each['name']}: {each['what']}", "  ", ""), "  inputs:"]
    for i in each["inputs"]:
        left = "" if i["needed"] or "left out" in i["is"] else " (may be left out)"
        unit = f", {i['unit']}" if i["unit"] and i["unit"] not in i["is"] else ""
        lines.append(_wrap(f"{i['name']}: {i['is']}{unit}{left}", " " * 8, "    "))
    gives = ", ".join(o["name"] for o in each["outputs"])
    lines.append(_wrap(f"gives: {gives}", "    ", "  "))
    return "\n".join([*lines, *_said(each)])


def _said(told: Mapping[str, Any]) -> list[str]:
    keys = ("plane", "formula", "assumes", "refuses", "source")
    return [_wrap(f"{key}: {told[key]}", "    ", "  ") for key in keys if told.get(key)]


_IN_BUDGET = {"u_um", "U_um", "u_deg", "U_deg", "k", "dof_effective"}


def words(told: Mapping[str, Any]) -> str:
    """One computation: quantities, uncertainty and budget, formula, source."""
    lines = [_wrap(f"{told['name']}: {told['what']}", "  ", "")]
    known = told.get("uncertainty", {})
    for name, value in told["got"].items():
        if value is None or (known and name in _IN_BUDGET):
            continue
        unit = unit_of(name)
        text = f"{_shown(value)} {unit}".rstrip()
        if name in known and (spread := known[name]["U"]):
            text = f"{_to(value, spread)} {unit}, U {two(spread)} {unit}, k {known[name]['k']:.3g}"
        lines.append(_wrap(text, " " * 32, f"  {name:29} "))
    lines += [f"  refused: {reason}" for reason in told.get("refused", ())]
    for name, found in known.items():
        if found["u"]:
            lines += _budget(name, found)
    return "\n".join([*lines, *_said(told)])


def _budget(name: str, found: Mapping[str, Any]) -> list[str]:
    unit = found["unit_of_budget"] or unit_of(name)
    unit = {"um": "µm", "deg": "°"}.get(unit, unit)
    lines = [f"  budget of {name}{f', {unit}' if unit else ''}:"]
    for row in found["budget"]:
        count = f", {row['ends']} ends" if row["ends"] > 1 else ""
        count += f", mean of {row['averaged']}" if row["averaged"] > 1 else ""
        assumed = ", assumed" if row["assumed"] else ""
        said = f"{row['name']} ({two(row['amount'])} {row['distribution']}{count}{assumed})"
        pieces = textwrap.wrap(said, 64)
        lines += [f"    {piece}" for piece in pieces[:-1]]
        lines.append(f"    {pieces[-1]:66}{two(row['u']):>9}")
    dof = "infinite" if found["dof"] is None else f"{found['dof']:.3g}"
    total = sum(row["u"] ** 2 for row in found["budget"]) ** 0.5
    lines.append(f"    {f'u; degrees of freedom: {dof}':66}{two(total):>9}")
    if (tried := found.get("trials")) is not None:
        said = {
            "agrees": "agrees",
            "disagrees": "does NOT agree: use that of the trials",
            "more trials needed": "may agree: more trials are needed to tell",
        }[tried["budget"]]
        text = (
            f"{tried['number']} trials: u {two(tried['u'])}, 95.45 % of them from "
            f"{_to(tried['low'], tried['u'])} to {_to(tried['high'], tried['u'])}; to two digits "
            f"the budget's interval {said}"
        )
        lines.append(_wrap(text, "      ", "    "))
    return lines


def two(number: float) -> str:
    """Two significant digits, without an exponent where it can be read."""
    if not number:
        return "0"
    if not 1e-6 <= abs(number) < 1e6:
        return f"{number:.1e}"
    exact = Decimal(f"{number:.1e}")
    return f"{exact:f}"


def _to(value: float | None, spread: float) -> str:
    """A value to the last digit of its two-digit uncertainty."""
    if value is None:
        return "none"
    if not spread:
        return _shown(value)
    last = Decimal(f"{spread:.1e}").as_tuple().exponent
    places = max(0, min(12, -int(last)))
    return f"{value:.{places}f}"


def _shown(value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, list):
        return ", ".join(map(_shown, value))
    return str(value)


def cases(ran: Sequence[Ran]) -> str:
    """A line for each case, and the sum."""
    lines = []
    for each in ran:
        if each.skipped:
            state = each.skipped
        elif not each.ok:
            state = "OFF"
        elif not each.expected:
            state = "computed" if each.error is None else "refused"
        else:
            state = "ok" if each.error is None else "ok, refused"
        name, calc = _printable(each.id), _printable(each.calc or "")
        lines.append(f"  {name[:40]:40} {calc[:26]:26} {state}")
        if not each.ok:
            lines.append(_wrap(_printable(each.error or _off(each)), " " * 6, " " * 6))
    held = [each for each in ran if each.expected]
    off = sum(not each.ok for each in ran)
    lines.append(
        f"{len(ran)} cases, {len(held)} with an expectation, {off} off, "
        f"{sum(bool(each.skipped) for each in ran)} for tests only"
    )
    return "\n".join(lines)


def _printable(text: str) -> str:
    """A text of a file without what would steer the terminal."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _off(each: Ran) -> str:
    got = each.got or {}
    said = []
    for name, diff in each.diff.items():
        if diff:
            of = f"got less expected {_shown(diff)}, tolerance {each.tolerances[name]:g}"
        elif diff is None and name in got:
            of = f"got {_shown(got[name])}, expected {_shown(each.wanted[name])}"
        elif diff is None:
            of = "not given"
        else:
            continue
        said.append(f"{name}: {of}")
    return "; ".join(said) or "not refused, as it should be"
