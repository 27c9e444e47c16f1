"""What stands on the pages of a file against what must stand there, line by line."""

from __future__ import annotations

from collections.abc import Sequence

from inspect_rec.errors import InspectRecError
from inspect_rec.report import pdf
from inspect_rec.report.finding import Code, Findings
from inspect_rec.report.signatures import FORGED, Signed


def pages(data: bytes, again: bytes, said: Findings) -> None:
    """The text on the pages against the text of the same file made again."""
    try:
        found = pdf.text_of(data)
    except (InspectRecError, *FORGED) as error:
        said.add(Code.PRINTED, "pages whose text can be read", str(error)[:200])
        return
    expected = pdf.text_of(again)
    if len(found) != len(expected):
        said.add(Code.PRINTED, f"{len(expected)} pages", f"{len(found)} pages")
    for number, (want, have) in enumerate(zip(expected, found, strict=False), 1):
        for wanted, printed in _differences(want, have):
            said.add(Code.PRINTED, f"page {number}: {wanted}", printed)


def _differences(want: Sequence[str], have: Sequence[str]) -> list[tuple[str, str]]:
    """The first lines in which two pages differ, at most five."""
    if list(want) == list(have):
        return []
    length = max(len(want), len(have))
    padded = zip(
        [*want, *[""] * (length - len(want))], [*have, *[""] * (length - len(have))], strict=True
    )
    return [(w or "nothing", h or "nothing") for w, h in padded if w != h][:5]


def block(data: bytes, signed: Signed, drawn: bytes, paper: str, said: Findings) -> None:
    """The visible block of a signature against the one that it must bear, ``drawn`` again."""
    expected = pdf.text_of(drawn)[0]
    try:
        found = pdf.text_of_appearance(data, signed.field, paper)
    except (InspectRecError, *FORGED) as error:
        found = (f"nothing that can be read: {error}"[:200],)
    if expected != found:
        said.add(Code.PRINTED, f"{signed.role}: {' | '.join(expected)}", " | ".join(found))
