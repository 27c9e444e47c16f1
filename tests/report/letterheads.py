"""Letterheads for tests: an invented shop's lines, logo and statements."""

from __future__ import annotations

import io
from dataclasses import replace
from functools import cache

from PIL import Image, ImageDraw

from inspect_rec.report import make
from inspect_rec.report.letterhead import Letterhead, parse
from tests import signing, worked

TEXT = """\
paper = "Letter"
lines = ["Tel. +44 0000 000000", "tallow-lane.example", "Registered in Ambershaw 00 000"]
logo = "logo.png"
order = ["own statements", "equipment", "supplied"]

[[statement]]
heading = "Regrinding"
text = ["Tools are kept for a year after their last grinding.", "Send them in their boxes."]

[[statement]]
heading = "Questions"
text = ["Ask for the person who measured; the name is on page 1."]
"""


@cache
def picture(kind: str = "PNG", mode: str = "RGBA", size: tuple[int, int] = (640, 160)) -> bytes:
    """An invented mark: a ring and a bar."""
    found = Image.new("RGBA", size, (255, 255, 255, 0))
    pen, high = ImageDraw.Draw(found), size[1]
    pen.ellipse((4, 4, high - 4, high - 4), outline=(11, 74, 148, 255), width=high // 8)
    pen.rectangle((high, high // 3, size[0] - 4, 2 * high // 3), fill=(20, 20, 20, 255))
    out = io.BytesIO()
    if mode in {"RGB", "L", "CMYK"}:
        ground = Image.new("RGBA", size, "white")
        found = Image.alpha_composite(ground, found).convert("RGB").convert(mode)
    else:
        found = found.convert(mode)
    found.save(out, kind)
    return out.getvalue()


def letterhead(text: str = TEXT, logo: bytes | None = None) -> Letterhead:
    """From its TOML text."""
    return parse(text, lambda _name: logo if logo is not None else picture())


@cache
def made(number: str = "I1", text: str = TEXT, language: str = "en") -> make.Made:
    """A report with a letterhead."""
    entries = worked.entries(number, signing.UPTO[number])
    header = replace(
        signing.header(number, entries), letterhead=letterhead(text), language=language
    )
    return make.make(entries, header)
