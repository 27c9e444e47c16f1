"""Pages look as those that somebody has looked at."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from tests.report import pictures

UNSEEN = 0.0002
"""Of a page's pixels: what other machines' rounding does to its edges."""


@pytest.mark.parametrize(("name", "page"), pictures.page_names())
def test_a_page_looks_as_the_one_that_is_kept(name: str, page: int) -> None:
    file = pictures.file_name(name, page)
    pictures.SEEN.mkdir(exist_ok=True)
    today = pictures.png(pictures.drawn(name, page))
    (pictures.SEEN / file).write_bytes(today)
    kept = Image.open(pictures.KEPT / file).convert("L")
    share, where = pictures.differing(kept, Image.open(BytesIO(today)).convert("L"))
    if share > UNSEEN:
        where.save(pictures.SEEN / f"differs-{file}")
    assert share <= UNSEEN, (
        f"{share:.2%} of the page looks different: see look-out/differs-{file}. "
        "If that is meant: python -m tests.report.pictures, and look at each before you commit"
    )


def test_no_picture_is_kept_that_nothing_is_compared_with() -> None:
    kept = {path.name for path in pictures.KEPT.glob("*.png")}
    assert kept == {pictures.file_name(*page) for page in pictures.page_names()}


def test_one_changed_word_is_seen() -> None:
    page = pictures.drawn("I1", 0)
    other = page.copy()
    other.paste(0, (100, 100, 115, 108))  # a word of three signs
    share, _ = pictures.differing(page, other)
    assert share > UNSEEN
