"""Figures as print: decimals, signs, units, dates. Never changes a value.

``w``: the words of the report's language, which say how it writes them; English without.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from statistics import NormalDist

from inspect_rec.inspection import Result
from inspect_rec.plan import Characteristic
from inspect_rec.units import printed
from report_templates import words
from report_templates.wording import Words


def figure(text: str, w: Words | None = None) -> str:
    """A figure as it is printed: its minus, its decimal sign."""
    return (w or words("en")).figure(text)


def plain(value: Decimal, w: Words | None = None) -> str:
    """An exact decimal without an exponent."""
    return figure(format(value, "f"), w)


def short(value: Decimal, w: Words | None = None) -> str:
    """An exact decimal without zeros at its end."""
    return figure(format(value.normalize(), "f"), w)


def day(when: date, w: Words | None = None) -> str:
    """A day: 17 Nov 2026."""
    return (w or words("en")).day(when)


def moment(when: datetime, w: Words | None = None) -> str:
    """A day and a time in UTC: 17 Nov 2026, 08:14 UTC."""
    return f"{day(when.date(), w)}, {when:%H:%M} UTC"


def unit_of(c: Characteristic) -> str:
    """The unit in which a characteristic is printed."""
    return {"mm": "mm", "um": "µm", "deg": "°"}[c.printed_in]


def shown(c: Characteristic, value: Decimal, w: Words | None = None, *, exact: bool = False) -> str:
    """A value rounded for print in the characteristic's own unit; ``exact``: against its limits."""
    limits = [limit for limit in (c.lower, c.upper) if limit is not None] if exact else []
    rounded = printed(value, c.digits, limits)
    return plain(rounded.scaleb(3) if c.printed_in == "um" else rounded, w)


def with_unit(c: Characteristic, text: str) -> str:
    """A figure with its unit: a space before mm and µm, none before a degree."""
    unit = unit_of(c)
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}"


def unit_end(c: Characteristic) -> str:
    """What follows a figure in a column headed mm: nothing, a degree, or a space and µm."""
    return {"mm": "", "um": " µm", "deg": "°"}[c.printed_in]


def limit_text(c: Characteristic, limit: Decimal, w: Words | None = None) -> str:
    """A limit as the plan states it, in the printed unit."""
    return short(limit.scaleb(3), w) if c.printed_in == "um" else plain(limit, w)


def limits_text(c: Characteristic, w: Words | None = None) -> str:
    """Both limits, or the one, with the unit where it isn't mm."""
    end = unit_end(c)
    if c.lower is not None and c.upper == -c.lower:
        return f"±{limit_text(c, -c.lower, w)}{end}"
    if c.lower is not None and c.upper is not None:
        return _range(limit_text(c, c.lower, w), limit_text(c, c.upper, w), end)
    if c.upper is not None:
        return f"≤ {limit_text(c, c.upper, w)}{end}"
    return f"≥ {limit_text(c, c.lower, w)}{end}" if c.lower is not None else ""


def _range(low: str, high: str, end: str) -> str:
    """Two figures with their unit: once behind both, but a degree at each."""
    return f"{low}{end if end == '°' else ''} – {high}{end}"


def spread(
    c: Characteristic, amount: Decimal, w: Words | None = None, *, signed: bool = False
) -> str:
    """An uncertainty, guard band or deviation, to two figures (GUM 7.2.6), at the finest a tenth
    of a µm or a hundredth of a degree: 3.6 µm, 12 µm, 0.40°."""
    sign = "+" if signed and amount > 0 else ""
    if c.deg:
        return figure(f"{sign}{amount:.2f}°", w)
    um = amount * 1000
    digits = 0 if abs(round(um, 1)) >= 10 else 1
    rounded = round(um, digits) + 0
    return figure(f"{sign if rounded else ''}{rounded:.{digits}f} µm", w)


def accepted(result: Result, w: Words | None = None) -> str:
    """The acceptance zone: 4.8929 – 4.9071, or ≤ 7.1 µm."""
    c, zones = result.characteristic, result.zones
    if zones is None:
        return ""
    low = None if zones.accept_low is None else shown(c, zones.accept_low, w)
    high = None if zones.accept_high is None else shown(c, zones.accept_high, w)
    end = unit_end(c)
    if low is not None and high is not None and c.upper == -(c.lower or 0):
        return f"±{high}{end}"
    if low is not None and high is not None:
        return _range(low, high, end)
    return f"≤ {high}{end}" if high is not None else f"≥ {low}{end}"


def risk(factor: Decimal, w: Words | None = None) -> str:
    """Risk of a wrong pass at the limit of acceptance, in per cent: 5 %."""
    share = (1 - NormalDist().cdf(float(factor))) * 100
    digits = max(0, -math.floor(math.log10(share))) if share > 0 else 3
    return figure(f"{share:.{digits}f} %", w)


def capital(text: str) -> str:
    """A text as a sentence begins."""
    return text[:1].upper() + text[1:]


def once(names: Iterable[str]) -> str:
    """Names in their order, each once."""
    return ", ".join(dict.fromkeys(names))
