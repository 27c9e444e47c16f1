"""Reports of earlier versions, signed then, verify for ever: ``fixtures/reports``.

From the first release on they are never made anew; before it a page may still change. A layout that
changes after that gets a number of its own and a report beside these.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509

from inspect_rec.report import batch_verify
from inspect_rec.report.verify import verify

KEPT = Path(__file__).parents[2] / "fixtures" / "reports"
REPORTS = sorted(path.name for path in KEPT.glob("*.pdf") if "batch" not in path.name)
LATER = datetime(2031, 1, 1, tzinfo=UTC)
"""Long after they were signed."""


def root() -> x509.Certificate:
    return x509.load_pem_x509_certificate((KEPT / "shop-root.pem").read_bytes())


@pytest.mark.parametrize("name", REPORTS)
def test_a_report_that_was_signed_once_is_verified_and_made_again_to_the_byte(name: str) -> None:
    found = verify((KEPT / name).read_bytes(), [root()], LATER)
    assert found.findings == ()
    assert found.ok
    assert found.same_bytes


def test_there_are_reports_to_verify_of_each_layout() -> None:
    assert REPORTS == ["letter-1-amendment.pdf", "letter-1.pdf"]


def test_a_batch_sheet_that_was_signed_once_is_verified() -> None:
    found = batch_verify.verify((KEPT / "letter-1-batch.pdf").read_bytes(), [root()], LATER)
    assert found.findings == ()
    assert found.same_bytes


def test_a_kept_report_that_one_byte_changes_is_found() -> None:
    data = bytearray((KEPT / "letter-1.pdf").read_bytes())
    data[len(data) // 2] ^= 1
    assert not verify(bytes(data), [root()], LATER).ok
