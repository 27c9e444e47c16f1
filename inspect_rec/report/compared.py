"""What a case with a known answer gave, held against what was expected, for print.

Figures keep the digits by which their difference can be worked out by hand.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from inspect_rec.calculator.cases import Ran, met
from inspect_rec.report import figures
from inspect_rec.report.content import Case, Compared
from report_templates import words

LONG = 40
"""Items of a list that are all printed; of a longer one SHOWN are."""
SHOWN = 20
_LONGEST = 120
"""Signs of a value in print."""
_DASH = "–"
_Item = tuple[str, Any, Any]
"""Name, expected, got."""


class Words:
    """The words of the record in one language."""

    def __init__(self, language: str) -> None:
        start = "validation."
        self.of_report = words(language)
        self.fixed = {
            k.removeprefix(start): v for k, v in self.of_report.items() if k.startswith(start)
        }

    def __call__(self, key: str, **filled: object) -> str:
        """The words under a key, filled in."""
        return self.fixed[key].format(**filled) if filled else self.fixed[key]


def line(text: str) -> str:
    """A text as one line."""
    return " ".join(text.split())


def case(ran: Ran, w: Words, *, known: bool = True) -> Case:
    """A case as it ran; ``known``: whether there is a computation of the name it asks for."""
    provenance, source = line(ran.provenance), line(ran.source)
    if source.startswith(provenance):
        provenance = ""
    about = " · ".join(filter(None, (provenance, source)))
    rows, notes = _rows(ran, w, w("refused" if known else "not_computed"))
    if known and ran.error is not None:
        said = "; ".join(map(str.strip, ran.error.splitlines()))
        notes.append(w("said", said=line(said)))
    return Case(line(ran.id), about or w("no_source"), tuple(rows), tuple(notes))


def _rows(ran: Ran, w: Words, without: str) -> tuple[list[Compared], list[str]]:
    """Every quantity that is expected; where nothing is, every one that was got. ``without``: the
    word for no value at all."""
    if ran.skipped:
        return [], []
    wanted = {name: value for name, value in ran.wanted.items() if name != "error"}
    if wanted and ran.wanted.get("error") is not True:
        if ran.got is None:
            return [_missing(name, value, without, w) for name, value in wanted.items()], []
        return _expected(ran, ran.got, wanted, w)
    if "error" in ran.wanted or not ran.got:
        return [_refusal(ran, without, w)], []
    return _only_got(ran.got, w)


def _missing(name: str, wanted: Any, without: str, w: Words) -> Compared:
    """A quantity of which nothing was got."""
    marked = _marked(w, ok=False)
    return Compared(cut(name, w), _value(wanted, w), _DASH, without, _DASH, *marked)


def _refusal(ran: Ran, without: str, w: Words) -> Compared:
    """Whether the case was refused, where nothing more is expected."""
    expected = _DASH
    if "error" in ran.wanted:
        expected = w("refused" if ran.wanted["error"] is True else "computed")
    got = without if ran.got is None else w("computed")
    verdict, word = _marked(w, ok=ran.ok) if ran.expected or not ran.ok else ("", _DASH)
    return Compared(w("refusal"), expected, _DASH, got, _DASH, verdict, word)


def _marked(w: Words, *, ok: bool) -> tuple[str, str]:
    return ("conforms", w("met")) if ok else ("does not conform", w("not met"))


def _expected(
    ran: Ran, got: Mapping[str, Any], wanted: Mapping[str, Any], w: Words
) -> tuple[list[Compared], list[str]]:
    rows: list[Compared] = []
    notes: list[str] = []
    for name, value in wanted.items():
        if name not in got:
            rows.append(_missing(name, value, w("not_given"), w))
            continue
        items, tolerance = list(_flat(name, value, got[name], w)), ran.tolerances[name]
        if len(items) > LONG:
            off = sum(not met(one, other, tolerance) for _, other, one in items)
            notes.append(w("long_compared", name=cut(name, w), n=len(items), off=off, shown=SHOWN))
            items = _farthest(items, tolerance)
        rows += [_compare(*item, tolerance, w) for item in items]
    return rows, notes


def _only_got(got: Mapping[str, Any], w: Words) -> tuple[list[Compared], list[str]]:
    rows: list[Compared] = []
    notes: list[str] = []
    for name, value in got.items():
        items = list(_flat(name, value, value, w))
        if len(items) > LONG:
            notes.append(w("long_got", name=cut(name, w), shown=SHOWN))
            items = items[:SHOWN]
        rows += [
            Compared(cut(item, w), _DASH, _DASH, _value(found, w, 12), _DASH, "", _DASH)
            for item, found, _ in items
        ]
    return rows, notes


def count(wanted: Any) -> int:
    """How many figures and words an expected value has; of a list those of all its items."""
    return sum(map(count, wanted)) if isinstance(wanted, list) and wanted else 1


def _flat(name: str, wanted: Any, got: Any, w: Words) -> Iterator[_Item]:
    """Of two lists of one length each item by itself."""
    lists = isinstance(wanted, list) and isinstance(got, list)
    if not lists or not wanted or len(wanted) != len(got):
        yield name, wanted, got
        return
    for n, (one, other) in enumerate(zip(wanted, got, strict=True), 1):
        yield from _flat(w("item", name=name, n=n), one, other, w)


def _farthest(items: Sequence[_Item], tolerance: float) -> list[_Item]:
    """The items that lie farthest off, what isn't met before all others, in their order."""

    def far(n: int) -> tuple[bool, float]:
        _, wanted, got = items[n]
        off = abs(got - wanted) if _number(got) and _number(wanted) else 0.0
        return not met(got, wanted, tolerance), off

    return [items[n] for n in sorted(sorted(range(len(items)), key=far, reverse=True)[:SHOWN])]


def _compare(name: str, wanted: Any, got: Any, tolerance: float, w: Words) -> Compared:
    ok = met(got, wanted, tolerance)
    if _number(wanted) and _number(got):
        found, difference = beside(got, wanted, w), apart(got - wanted, w)
    else:
        found, difference = _value(got, w), w("equal" if ok else "differs")
    allowed = figure(tolerance, w=w) if _number(wanted) else _DASH
    return Compared(cut(name, w), _value(wanted, w), allowed, found, difference, *_marked(w, ok=ok))


# -- figures ---------------------------------------------------------------------


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _value(value: Any, w: Words, digits: int = 17) -> str:
    """A value in print, as it was stated."""
    if value is None:
        return w("none")
    if isinstance(value, bool):
        return w("true" if value else "false")
    if isinstance(value, list):
        return w("list", n=len(value))
    return cut(figure(value, digits, w) if _number(value) else str(value), w)


def cut(text: str, w: Words, longest: int = _LONGEST) -> str:
    """A text in one line; of a long one its start and its length."""
    found = line(text)
    return found if len(found) <= longest else w("cut", start=found[:longest], n=len(found))


def figure(value: float, digits: int = 17, w: Words | None = None) -> str:
    """A number with as many digits as it needs, at most ``digits`` that count: 1.3E−7, 12.5."""
    text = f"{value:.{digits}g}" if digits < 17 else repr(value)
    mantissa, _, exponent = text.partition("e")
    if "." in mantissa:
        mantissa = mantissa.rstrip("0").rstrip(".")
    return _printed(f"{mantissa}E{int(exponent)}" if exponent else mantissa, w)


def _printed(text: str, w: Words | None) -> str:
    return figures.figure(text, w.of_report if w else None)


def beside(got: float, wanted: float, w: Words | None = None) -> str:
    """What was got, to 12 digits or as many as show its difference from what was wanted; the
    same figure where there is none."""
    difference = got - wanted
    if not difference:
        return figure(wanted, w=w)
    # One digit beyond the three that are printed of the difference.
    needed = _place(got) - _place(difference) + 4 if got else 0
    return figure(got, min(max(needed, 12), 17), w)


def _place(value: float) -> int:
    """The power of ten of the first digit that counts."""
    return math.floor(math.log10(abs(value)))


def apart(difference: float, w: Words | None = None) -> str:
    """A difference to three digits, scientific where it is small or huge: 0.0123, −4.1E−9."""
    if not difference:
        return "0"
    place = _place(difference)
    if not -4 <= place < 9:
        return figure(difference, 3, w)
    return _printed(f"{difference:.{max(0, 2 - place)}f}", w)
