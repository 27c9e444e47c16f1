"""Instants as a file writes them: their form and their zone are stated, never guessed.

RFC 3339 says its own zone. Any other form is put together from fields of figures, and its zone is
stated; a local time that a change of the clocks makes come twice or never is refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

RFC_3339 = "RFC 3339"
DATE_CELL = "date cell"
"""A cell that the spreadsheet itself keeps as a date with its time."""
FILE_WRITTEN = "file written"
"""No row has an instant of its own: that at which the file was last written stands for all."""

FIELDS: Mapping[str, str] = {
    "Y": "(?P<year>[0-9]{4})",
    "m": "(?P<month>[0-9]{1,2})",
    "d": "(?P<day>[0-9]{1,2})",
    "H": "(?P<hour>[0-9]{1,2})",
    "M": "(?P<minute>[0-9]{1,2})",
    "S": "(?P<second>[0-9]{1,2})",
    "f": "(?P<fraction>[0-9]{1,6})",
}
"""What a form is put together from, after the letters of ISO C strftime; %f is a fraction."""
_NEEDED = ("Y", "m", "d", "H", "M")
_OFFSET = re.compile(r"([+-])([0-9]{2}):([0-9]{2})")
_RFC_3339 = (
    "(?P<year>[0-9]{4})-(?P<month>[0-9]{2})-(?P<day>[0-9]{2})[Tt ](?P<hour>[0-9]{2}):"
    r"(?P<minute>[0-9]{2}):(?P<second>[0-9]{2})(\.(?P<fraction>[0-9]{1,6}))?"
    "(?P<offset>[Zz]|[+-][0-9]{2}:[0-9]{2})"
)
_DATE_CELL = (
    "(?P<year>[0-9]{4})-(?P<month>[0-9]{2})-(?P<day>[0-9]{2}) (?P<hour>[0-9]{2}):"
    r"(?P<minute>[0-9]{2}):(?P<second>[0-9]{2})(\.(?P<fraction>[0-9]{1,6}))?"
)


@dataclass(frozen=True, slots=True)
class Form:
    """How instants are written. ``zone`` is None where each says its own."""

    name: str
    pattern: re.Pattern[str]
    zone: tzinfo | None

    def read(self, text: str) -> datetime:
        """The instant in UTC; ValueError or OverflowError says what is wrong with it."""
        found = self.pattern.fullmatch(text)
        if found is None:
            raise ValueError(f"an instant written as {self.name}")
        parts = found.groupdict()
        fraction = parts.get("fraction") or "0"
        local = datetime(
            int(parts["year"]),
            int(parts["month"]),
            int(parts["day"]),
            int(parts["hour"]),
            int(parts["minute"]),
            int(parts.get("second") or 0),
            int(fraction.ljust(6, "0")),
            tzinfo=self.zone if self.zone is not None else offset(parts["offset"]),
        )
        return _once(local)


def _once(local: datetime) -> datetime:
    """In UTC, if that instant is one."""
    at = local.astimezone(UTC)
    if local.replace(fold=1).utcoffset() == local.utcoffset():
        return at
    if at.astimezone(local.tzinfo).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise ValueError("a time that the clocks didn't leave out on that day")
    raise ValueError("a time that the clocks didn't show twice on that day")


def form(text: str, zone: str) -> Form:
    """The form that a mapping states; ValueError says what was expected instead."""
    if text == RFC_3339:
        if zone:
            raise ValueError("no zone beside RFC 3339, which says its own")
        return Form(text, re.compile(_RFC_3339), None)
    pattern = _DATE_CELL if text == DATE_CELL else _pattern(text)
    return Form(text, re.compile(pattern), _zone(zone))


def _pattern(text: str) -> str:
    """A regular expression from fields and the signs between them."""
    made, seen = "", []
    pieces = re.findall(r"%(.?)|([^%])", text)
    for field, sign in pieces:
        if sign:
            made += re.escape(sign)
        elif field in FIELDS and field not in seen:
            made += FIELDS[field]
            seen.append(field)
        else:
            raise ValueError(f"each of {', '.join(f'%{f}' for f in FIELDS)} at most once")
    if not set(_NEEDED) <= set(seen) or ("f" in seen and "S" not in seen):
        raise ValueError("%Y, %m, %d, %H and %M at least, such as %d.%m.%Y %H:%M:%S")
    if re.search("%[^%]%", text):
        raise ValueError("a sign between one field and the next, such as %H:%M")
    return made


def _zone(text: str) -> tzinfo:
    if text == "UTC":
        return UTC
    if _OFFSET.fullmatch(text):
        return offset(text)
    try:
        return ZoneInfo(text)
    except (ValueError, OSError, LookupError) as error:
        raise ValueError("a zone: UTC, +01:00, or a name such as Europe/Berlin") from error


def offset(text: str) -> tzinfo:
    """A zone that is a difference from UTC: ``Z`` or ``+01:00``."""
    if text in ("Z", "z"):
        return UTC
    sign, hours, minutes = _OFFSET.fullmatch(text).groups()  # type: ignore[union-attr]
    if int(hours) > 14 or int(minutes) > 59:
        raise ValueError("a zone from -14:00 to +14:00")
    by = timedelta(hours=int(hours), minutes=int(minutes))
    return timezone(-by if sign == "-" else by)
