"""What a shop's letterhead and a customer's wishes add to a report, and a letterhead to what has a
report's head; nothing of it hangs on them."""

from __future__ import annotations

from typing import Any

from inspect_rec.report.content import Text
from inspect_rec.report.letterhead import Letterhead
from inspect_rec.report.record import Header
from report_templates.wording import Words

MEASUREMENT_RECORD = "measurement record"


def added(header: Header, w: Words) -> dict[str, Any]:
    """Fields of the content: paper, logo, line, order, statements of the shop, and what goes to
    the customer with the report."""
    head = header.letterhead
    own: tuple[Text, ...] = ()
    if MEASUREMENT_RECORD in header.copies:
        said = w["copies.record"].format(file=file_name(header.number))
        own = (Text(w["copies.heading"], (said,)),)
    if head is None:
        return {"own": own}
    return {
        **head_of(head),
        "own": (*own, *(Text(each.heading, each.text) for each in head.statement)),
        "order": head.order,
    }


def head_of(letterhead: Letterhead | None) -> dict[str, Any]:
    """Fields of whatever has the head of a report: paper, logo, line."""
    if letterhead is None:
        return {}
    logo = letterhead.logo.data if letterhead.logo else b""
    return {"paper": letterhead.paper, "logo": logo, "head_line": letterhead.line}


def file_name(number: str) -> str:
    """The file of the measurement record that goes with a report."""
    return f"{number}-measurements.pdf"
