"""Pictures that are printed: whole, of a kind that every reader shows, not beyond a size."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable

from inspect_rec.errors import InputError

FORMATS = {"PNG": ("RGB", "RGBA", "L", "LA", "P", "1", "I", "I;16"), "JPEG": ("RGB", "L")}
"""Kinds of pictures and their colours: others, such as CMYK, would need a profile of their own."""


def look(data: bytes, longest: int, refused: Callable[[str, str], InputError]) -> str:
    """Decode a picture of at most ``longest`` pixels a side; gives its kind. Raises what
    ``refused`` makes of what was expected and found."""
    from PIL import Image

    try:
        with (
            warnings.catch_warnings(action="error"),
            Image.open(io.BytesIO(data), formats=tuple(FORMATS)) as picture,
        ):
            side, mode, kind = max(picture.size), picture.mode, str(picture.format)
            if side > longest:
                raise refused(f"at most {longest} pixels a side", f"{side} pixels")
            if mode not in FORMATS[kind]:
                raise refused("RGB or grey", f"{kind}, {mode}")
            picture.load()
    except (OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError) as error:
        raise refused("a whole PNG or JPEG picture", str(error)[:80]) from error
    return kind
