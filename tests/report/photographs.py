"""Pictures of tools for tests, and a report's entries with some of them."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

from PIL import Image

from inspect_rec import ledger
from inspect_rec.ledger import Entry, Head
from inspect_rec.report import make
from inspect_rec.report.record import Header
from tests import signing, worked

I1 = worked.inspection_id("I1")


def picture(
    kind: str = "JPEG", size: tuple[int, int] = (64, 48), turn: int = 1, mode: str = "RGB"
) -> bytes:
    """A picture whose upper left quarter is bright; ``turn``: how the camera says it was held."""
    image = Image.new("L", size, 40)
    image.paste(230, (0, 0, size[0] // 2, size[1] // 2))
    exif = Image.Exif()
    exif[0x0112] = turn
    out = io.BytesIO()
    image.convert(mode).save(out, kind, quality=90, exif=exif.tobytes() if turn != 1 else b"")
    return out.getvalue()


def entries(*pictures: tuple[str, bytes, Mapping[str, Any]]) -> tuple[Entry, ...]:
    """Job I1 with pictures: file name, bytes, and what the person said of it."""
    found = list(worked.entries("I1", signing.UPTO["I1"]))
    for name, data, about in pictures:
        kind = "PNG" if data.startswith(b"\x89PNG") else "JPEG"
        file = {"name": name, "digest": hashlib.sha256(data).hexdigest(), "size": len(data)}
        shown = {"kind": kind, "width": 64, "height": 48, **about}
        added(found, "picture kept", {"what": "picture", "file": file, "picture": shown})
    return tuple(found)


def added(found: list[Entry], kind: str, body: Mapping[str, Any]) -> Entry:
    """One more entry at the end."""
    last = found[-1]
    head = Head(last.station, last.seq, last.digest)
    at = last.at + timedelta(seconds=20)
    found.append(ledger.make(head, at, "G-01", kind, {"inspection": I1, **body}))
    return found[-1]


def header(of: tuple[Entry, ...], language: str = "en") -> Header:
    return replace(signing.header("I1", of), language=language)


def report(of: tuple[Entry, ...], given: Mapping[str, bytes], language: str = "en") -> make.Made:
    return make.make(of, header(of, language), given)
