"""Angles written in degrees, minutes and seconds, to decimal degrees and back, in exact decimals.

The sign stands for the whole angle and apart from the degrees: -0° 30′ is -0.5°. No I/O.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext

from inspect_rec.errors import ComputeError

TENTH = Decimal("0.1")
_FINEST = Decimal("0.000000001")
_MOST_DEGREES = 1_000_000
_DIGITS = 50
"""Digits to compute with; 1/3600 has no end, but no instrument reads the fiftieth."""


@dataclass(frozen=True, slots=True)
class Dms:
    """``sign`` (1 or -1) times degrees, minutes and seconds; an angle of 0 has the sign 1.

    Only the last part that isn't 0 may have decimals; minutes and seconds are below 60.
    """

    sign: int
    degrees: Decimal
    minutes: Decimal = Decimal(0)
    seconds: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        if self.sign not in {1, -1}:
            raise ComputeError("no such sign", expected="1 or -1", found=f"{self.sign}")
        for value, what, end in (
            (self.degrees, "degrees", _MOST_DEGREES),
            (self.minutes, "minutes", 60),
            (self.seconds, "seconds", 60),
        ):
            if not (value.is_finite() and 0 <= value < end):
                raise ComputeError(
                    f"no such {what}", expected=f"from 0 to below {end}", found=f"{value}"
                )
        broken_degrees, broken_minutes = self.degrees % 1, self.minutes % 1
        if (broken_degrees and (self.minutes or self.seconds)) or (broken_minutes and self.seconds):
            raise ComputeError(
                "decimals before the last part of an angle",
                expected="whole degrees before minutes, whole minutes before seconds",
                found=str(self),
            )

    def __str__(self) -> str:
        sign = "-" if self.sign < 0 else ""
        return f"{sign}{self.degrees:f}° {self.minutes:f}′ {self.seconds:f}″"


def degrees(angle: Dms) -> Decimal:
    """Decimal degrees, to 50 digits; never a negative zero."""
    with localcontext() as context:
        context.prec = _DIGITS
        seconds = (angle.degrees * 60 + angle.minutes) * 60 + angle.seconds
        return angle.sign * seconds / 3600 or Decimal(0)


def dms(angle: Decimal, step: Decimal = TENTH) -> Dms:
    """Degrees, minutes and seconds of decimal degrees, seconds rounded half up (of the amount) to
    ``step``, a divisor of 60; what is rounded up to 60 is carried through."""
    if not (angle.is_finite() and abs(angle) < _MOST_DEGREES - 1):
        raise ComputeError(
            "no such angle", expected=f"below {_MOST_DEGREES - 1}°", found=f"{angle}"
        )
    with localcontext() as context:
        context.prec = _DIGITS
        if not (step.is_finite() and step >= _FINEST and 60 % step == 0):
            raise ComputeError(
                "no such step of seconds",
                expected=f"a divisor of 60, {_FINEST} or more",
                found=f"{step}",
            )
        steps = (abs(angle) * 3600 / step).to_integral_value(ROUND_HALF_UP)
        minutes, seconds = divmod(steps * step, 60)
        whole, minutes = divmod(minutes, 60)
        return Dms(-1 if angle < 0 and steps else 1, whole, minutes, seconds)


_TEXT = re.compile(
    r"""\s*(?P<sign>[-+−]?)\s*
    (?P<degrees>\d+(?:\.\d+)?)\s*°?
    (?:\s*(?<=[\s°])(?P<minutes>\d+(?:\.\d+)?)\s*['′]?
    (?:\s*(?<=[\s'′])(?P<seconds>\d+(?:\.\d+)?)\s*(?:["″]|''|′′)?)?)?\s*""",
    re.VERBOSE | re.ASCII,
)


def parsed(text: str) -> Dms:
    """An angle as written: ``12° 34′ 56.7″``, ``-0°30'``, ``12 34 56.7`` or ``12.5824``; decimal
    point, sign before the whole angle."""
    found = _TEXT.fullmatch(text) if len(text) <= _DIGITS else None
    if not found:
        raise ComputeError(
            "no angle", expected="like 12° 34' 56.7\" or 12.5824", found=repr(text[:_DIGITS])
        )
    parts = [Decimal(part) if part else Decimal(0) for part in found.groups()[1:]]
    negative = found["sign"] in {"-", "−"} and any(parts)
    return Dms(-1 if negative else 1, *parts)
