"""Units: inches, and angles in degrees, minutes and seconds, in exact decimals."""

from __future__ import annotations

import re
from decimal import Decimal, localcontext

from inspect_rec.calculator.base import Answer, Exact, Text, Texts, Whole, computation
from inspect_rec.compute import angle_text
from inspect_rec.errors import ComputeError
from inspect_rec.units import Unit, to_mm

_LONGEST = 60
_DECIMAL = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d{1,2})?", re.ASCII)


def exact(text: str) -> Decimal:
    """A decimal number as it is written; what is none is refused."""
    if len(text) > _LONGEST or not _DECIMAL.fullmatch(text.strip()):
        raise ComputeError(
            "not a decimal number",
            expected=f"such as 0.3125, in at most {_LONGEST} signs",
            found=repr(text[:_LONGEST]),
        )
    return Decimal(text)


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
    with localcontext() as context:
        # As many digits as the longest text and the factor have together.
        context.prec = _LONGEST + 3
        return {
            f"mm_text_{n}": format((to_mm(exact(text), Unit.INCH) + 0).normalize(), "f")
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
