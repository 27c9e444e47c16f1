"""A finding: one thing in a report that isn't as it must be."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Code(StrEnum):
    """Kinds of findings; the words are part of ``verify --json`` and don't change."""

    NOT_A_REPORT = "not a report"
    SIGNATURE_MISSING = "signature missing"
    SIGNATURE_BROKEN = "signature broken"
    SIGNATURE_FORM = "signature form"
    CHANGED_AFTER = "changed after signing"
    EXTRA_SIGNATURE = "extra signature"
    SIGNER = "signer"
    UNTRUSTED = "untrusted"
    ACTIVE_CONTENT = "active content"
    ATTACHMENT = "attachment"
    RECORD = "record"
    PRINTED = "printed value"
    STORE = "store"
    SHEET = "batch sheet"


@dataclass(frozen=True, slots=True)
class Finding:
    """What was expected, and what was found."""

    code: Code
    expected: str
    found: str


@dataclass
class Findings:
    """What is found as a file is read."""

    found: list[Finding] = field(default_factory=list)

    def add(self, code: Code, expected: str, found: str) -> None:
        """One thing more."""
        self.found.append(Finding(code, expected, found))
