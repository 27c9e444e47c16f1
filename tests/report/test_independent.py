"""Reports held against independent programs: pdfsig, openssl, qpdf, pdffonts, pdfdetach."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from inspect_rec.report import pdf, record
from tests import signing
from tests.programs import needs

NUMBERS = ("I1", "I2", "I3")


def run(*command: str | Path, cwd: Path | None = None) -> str:
    done = subprocess.run(
        [str(c) for c in command], cwd=cwd, capture_output=True, text=True, check=False
    )
    return done.stdout + done.stderr


@pytest.fixture
def reports(tmp_path: Path) -> dict[str, Path]:
    for number in NUMBERS:
        (tmp_path / f"{number}.pdf").write_bytes(signing.report(number))
    (tmp_path / "root.pem").write_bytes(signing.shop().root.certificate)
    return {number: tmp_path / f"{number}.pdf" for number in NUMBERS}


@needs("pdfsig", "certutil")
def test_pdfsig_calls_both_signatures_valid_and_trusted(reports: dict[str, Path]) -> None:
    folder = reports["I1"].parent
    nss = folder / "nss"
    nss.mkdir()
    run("certutil", "-N", "-d", nss, "--empty-password")
    run("certutil", "-A", "-d", nss, "-n", "root", "-t", "CT,C,C", "-i", folder / "root.pem")
    for path in reports.values():
        said = run("pdfsig", "-nssdir", nss, path)
        assert said.count("Signature is Valid.") == 2, said
        assert said.count("Certificate is Trusted.") == 2, said
        assert said.count("Total document signed") == 1, said
        assert said.count("ETSI.CAdES.detached") == 2, said


@needs("openssl")
def test_openssl_verifies_both_signatures_over_their_byte_ranges(reports: dict[str, Path]) -> None:
    folder = reports["I1"].parent
    for path in reports.values():
        data = path.read_bytes()
        ranges = re.findall(rb"/ByteRange\s*\[\s*(\d+) (\d+) (\d+) (\d+)", data)
        assert len(ranges) == 2
        for found in ranges:
            a, b, c, d = map(int, found)
            signed = data[a : a + b] + data[c : c + d]
            der = bytes.fromhex(data[b + 1 : c - 1].decode()).rstrip(b"\0")
            (folder / "signed").write_bytes(signed)
            (folder / "cms").write_bytes(der + b"\0" * 4)
            said = run(
                "openssl", "cms", "-verify", "-binary", "-inform", "DER", "-in", folder / "cms",
                "-content", folder / "signed", "-CAfile", folder / "root.pem",
                "-purpose", "any", "-out", folder / "out",
            )  # fmt: skip
            assert "erification successful" in said, said


@needs("qpdf")
def test_qpdf_finds_nothing_wrong(reports: dict[str, Path]) -> None:
    for path in reports.values():
        said = run("qpdf", "--check", path)
        assert "No syntax or stream encoding errors found" in said, said
        assert "WARNING" not in said


@needs("pdffonts")
def test_every_font_is_embedded_and_subset(reports: dict[str, Path]) -> None:
    for path in reports.values():
        rows = run("pdffonts", path).splitlines()[2:]
        assert rows
        for row in rows:
            assert re.match(r"[A-Z]{6}\+TallowSans", row), row
            assert re.search(r"\byes yes yes\b", row), row


@needs("pdfdetach")
def test_an_independent_program_extracts_the_same_record(
    reports: dict[str, Path], tmp_path: Path
) -> None:
    for path in reports.values():
        run("pdfdetach", "-saveall", "-o", tmp_path, path)
        data = (tmp_path / record.RECORD).read_bytes()
        assert data == pdf.attachments(path.read_bytes(), record.LARGEST)[record.RECORD]
        header, entries = record.from_bytes(data)
        assert record.to_bytes(header, entries) == data


@needs("pdftotext")
def test_an_independent_program_reads_the_verdict_and_the_values(reports: dict[str, Path]) -> None:
    said = run("pdftotext", "-layout", reports["I2"], "-")
    assert "Neither shown." in said
    assert "10.9709" in said
    assert "Not released" in said
    assert "8.492" in said


@pytest.mark.parametrize("number", NUMBERS)
def test_the_same_record_gives_the_same_bytes(number: str) -> None:
    from inspect_rec.report.make import make

    data = pdf.attachments(signing.made(number).rendered.pdf, record.LARGEST)[record.RECORD]
    header, entries = record.from_bytes(data)
    assert make(entries, header).rendered.pdf == signing.made(number).rendered.pdf
