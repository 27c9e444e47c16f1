"""Layouts of every kind that can be described, invented for the tests of the simulated readouts."""

from __future__ import annotations

from collections.abc import Mapping

from drivers.layout import Layout, packaged, parse

_X = r"(?P<x>[+-]\d{4}\.\d{3})"
_Z = r"(?P<z>[+-]\d{4}\.\d{3})"

_TEXTS = {
    "signs apart, implied point": r"""
[frame]
header = "\u0002"
terminator = "\u0003"
pattern = 'X(?P<x_sign>[ -])(?P<x>\d{7})Z(?P<z_sign>[ -])(?P<z>\d{7})(?P<key>K)?'
[figures]
point = "none"
""",
    "sign behind, comma": r"""
[frame]
pattern = '(?P<x>\d{1,4},\d{4})(?P<x_sign>[+-]) +(?P<z>\d{1,4},\d{4})(?P<z_sign>[+-])(?P<unit>mm|")'
[figures]
decimals = 4
point = ","
unit_words = { 'mm' = "mm", '"' = "in" }
""",
    "one axis a line": r"""
[frame]
terminator = "\r"
pattern = '(?P<axis>ACROSS|ALONG) *(?P<sign>-)?(?P<figure>\d{1,4}\.\d{3})(?P<key> P)? (?P<count>\d{2})'
[axes]
words = { "ACROSS" = "X", "ALONG" = "Z" }
[figures]
count_from = 1
count_to = 12
""",  # noqa: E501 - a pattern stands on one line
    "two displays": r"""
[frame]
pattern = 'R(?P<x>[+ -]\d{1,4}\.\d{3}) D(?P<x_doubled>[+ -]\d{1,4}\.\d{3}) Z(?P<z>[+ -]?\d{1,4}\.\d{3})'
""",  # noqa: E501 - a pattern stands on one line
    "words and counter": r"""
[frame]
header = ":"
pattern = '(?P<count>\d{3});(?P<status>OK|E\d);X(?P<x>[+-]\d{3}\.\d{2}) (?P<mode>[RD])(?P<counting>[AI])(?P<unit> mm| in)?(?P<key>;\*)?;(?P<z>[+-]\d{3}\.\d{2})'
[figures]
decimals = 2
unit_words = { " mm" = "mm", " in" = "in" }
mode = "diameter"
mode_words = { "R" = "radius", "D" = "diameter" }
counting_words = { "A" = "absolute", "I" = "incremental" }
good = ["OK"]
faults = ["OVR", "E-SIG"]
count_to = 999
""",  # noqa: E501 - a pattern stands on one line
    "hex sum behind": rf"""
[frame]
header = "$"
terminator = "*"
trailer = 2
pattern = 'X{_X}Z{_Z}(?P<key>K)?'
[figures]
faults = ["-----"]
[check]
kind = "xor"
from = 1
to = -3
at = -2
as = "hex"
""",
    "sum within the line": rf"""
[frame]
pattern = '{_X},{_Z},[0-9A-F]{{2}}'
[check]
kind = "negated sum"
to = -4
at = -4
as = "hex"
""",
    "so many bytes": r"""
[frame]
length = 24
pattern = 'X {0,8}(?P<x>[-]?\d{1,4}\.\d{3}) Z {0,8}(?P<z>[-]?\d{1,4}\.\d{3})'
[figures]
faults = ["-----"]
""",
    "bodies of one width": r"""
[frame]
width = 21
pattern = ' {0,8}(?P<x>[-]?\d{1,4}\.\d{3})X {0,8}(?P<z>[-]?\d{1,4}\.\d{3})Z'
[figures]
faults = ["OVR"]
""",
    "ended by a pause": rf"""
[frame]
pause_ms = 20
pattern = 'X{_X}Z{_Z}'
""",
    "places that differ": r"""
[frame]
pattern = 'X(?P<x>[+-]\d{1,4}\.\d{3,4}) Z(?P<z>[+-]\d{1,4}\.\d{3,4})'
[figures]
decimals = [3, 4]
""",
    "instruments": r"""
[frame]
pattern = '(?P<indicator>[+-]\d\.\d{3}) (?P<angle>[+-]\d{3}\.\d{3}) (?P<temperature>[+-]\d{2}\.\d{3})'
[rules]
sends = "on key"
""",  # noqa: E501 - a pattern stands on one line
    "asked, on the inch": rf"""
[asks]
request = "?"
[frame]
pattern = '{_X}{_Z}'
[figures]
unit = "in"
[rules]
sends = "when asked"
""",
    "binary, big": """
[frame]
header = "\\u00aa\\u0055"
length = 17
[[field]]
name = "x"
at = 2
bytes = 4
scale = "0.001"
[[field]]
name = "z"
at = 6
bytes = 4
order = "little"
as = "sign and magnitude"
scale = "0.0005"
[[field]]
name = "count"
at = 10
bytes = 1
as = "unsigned"
[[field]]
name = "unit"
at = 11
bytes = 1
mask = 0x03
words = { "1" = "mm", "2" = "in" }
[[field]]
name = "key"
at = 11
bytes = 1
mask = 0x80
words = { "0" = "live", "1" = "key" }
[[field]]
name = "status"
at = 11
bytes = 1
mask = 0x30
words = { "0" = "good", "3" = "fault" }
[[field]]
name = "heartbeat"
at = 12
bytes = 2
as = "unsigned"
[[field]]
name = "fixed"
at = 14
bytes = 1
words = { "7" = "good" }
[figures]
count_to = 255
[check]
kind = "crc-16"
crc = "modbus"
""",
    "binary, digits": """
[frame]
header = "\\u0001"
terminator = "\\u0004"
width = 24
[[field]]
name = "x"
at = 1
bytes = 4
as = "bcd"
scale_from = "scale"
[[field]]
name = "x_sign"
at = 5
bytes = 1
as = "unsigned"
words = { "0x2b" = "plus", "0x2d" = "minus" }
[[field]]
name = "z"
at = 6
bytes = 8
as = "text"
scale = "0.001"
[[field]]
name = "z_doubled"
at = 14
bytes = 8
as = "text"
[[field]]
name = "scale"
at = 22
bytes = 1
as = "unsigned"
words = { "16" = "0.01", "17" = "0.001" }
[figures]
decimals = 3
[check]
kind = "sum"
from = 1
at = -3
to = -3
as = "hex"
""",
    "binary, swapped words": """
[frame]
length = 10
[[field]]
name = "x"
at = 0
bytes = 4
order = "swapped words"
scale = "0.0001"
[[field]]
name = "z"
at = 4
bytes = 4
order = "swapped words"
scale = "0.0001"
[figures]
decimals = 4
[check]
kind = "crc-16"
crc = "x-25"
as = "high first"
""",
}


def described() -> Mapping[str, Layout]:
    """The packaged layouts and these, by id."""
    own = {name: parse(f'id = "{name}"\n{text}', f"{name}.toml") for name, text in _TEXTS.items()}
    return {**packaged(), **own}
