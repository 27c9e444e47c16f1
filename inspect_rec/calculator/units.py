"""Units: inches, and angles in degrees, minutes and seconds, in exact decimals."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from inspect_rec.calculator.base import Answer, Exact, Text, Texts, Whole, computation
from inspect_rec.compute import angle_text
from inspect_rec.errors import ComputeError
from inspect_rec.units import Unit, to_mm


def exact(text: str) -> Decimal:
    """A decimal number as it is written; what is none is refused."""
    try:
        found = Decimal(text)
    except InvalidOperation:
        found = Decimal("nan")
    if not found.is_finite():
        raise ComputeError("not a decimal number", expected="such as 0.3125", found=repr(text))
    return found


@computation(
    "inch-to-mm",
    topic="units",
    gives=("mm_text_{n}",),
    formula="inch times 25.4, exact",
    source="international inch, 25.4 mm exactly (NIST SP 811, from memory)",
    refuses="what is no decimal number",
)
def inch_to_mm(inch_text: Texts) -> Answer:
    """Inches to millimetres, exact."""
    return {
        f"mm_text_{n}": format(to_mm(exact(text), Unit.INCH).normalize(), "f")
        for n, text in enumerate(inch_text, 1)
    }


@computation(
    "dms-to-degrees",
    topic="units",
    gives=("angle_deg",),
    formula="sign times (degrees + minutes / 60 + seconds / 3600); the sign stands for the whole "
    "angle",
    source="derived",
    refuses="minutes or seconds of 60 or more, decimals before the last part, another sign",
)
def dms_to_degrees(
    degrees: Exact,
    minutes: Exact = Decimal(0),
    seconds: Exact = Decimal(0),
    sign: Whole = 1,
) -> Answer:
    """Degrees, minutes and seconds in decimal degrees."""
    return {"angle_deg": angle_text.degrees(angle_text.Dms(sign, degrees, minutes, seconds))}


@computation(
    "degrees-to-dms",
    topic="units",
    gives=("sign", "degrees", "minutes", "seconds"),
    formula="seconds to 0.1, half up; what is rounded up to 60 is carried through",
    source="derived",
    refuses="what is no decimal number",
)
def degrees_to_dms(angle_deg_text: Text) -> Answer:
    """Decimal degrees in degrees, minutes and seconds."""
    found = angle_text.dms(exact(angle_deg_text))
    return {
        "sign": found.sign,
        "degrees": int(found.degrees),
        "minutes": int(found.minutes),
        "seconds": found.seconds,
    }


@computation(
    "angle-text",
    topic="units",
    gives=("angle_deg", "sign", "degrees", "minutes", "seconds"),
    formula="an angle as it is written, such as 12 34 56.7, 12° 34' 56.7\", -0°30' or 12.5824; "
    "the sign stands for the whole angle",
    source="derived",
    refuses="another form, minutes or seconds of 60 or more, decimals before the last part",
)
def angle_as_written(angle_text_: Text) -> Answer:
    """A written angle in decimal degrees, and its parts."""
    found = angle_text.parsed(angle_text_)
    return {
        "angle_deg": angle_text.degrees(found),
        "sign": found.sign,
        "degrees": found.degrees,
        "minutes": found.minutes,
        "seconds": found.seconds,
    }
