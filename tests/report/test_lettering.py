"""Signs and fonts: what a name is written in prints, is embedded, reads back, and wraps."""

from __future__ import annotations

import io
import shutil
import subprocess
import unicodedata
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspect_rec.errors import ReportError
from inspect_rec.report import pdf
from report_templates import lettering
from tests.programs import needs
from tests.report import samples

HAN = "山田精密工業株式会社东莞市刀具磨削"
KANA = "ボールエンドミルっょ"
SIGNS = HAN + KANA + "、。」「ー々" + "abcXYZ-/ .,)("


def read(said: str) -> str:
    """What PDFium reads on a page where the text stands as the mark of a tool."""
    content = replace(samples.contents()["I1"], mark=said)
    return "".join("".join(page) for page in pdf.text_of(pdf.render(content, {}, "").pdf))


@pytest.mark.parametrize(
    "name",
    [
        "Łódź Ćwikła",
        "Жуков и Сыновья",
        "Ελλάς",
        "Ångström",
        "山田-12",
        "ボール",
        "QF-山-1 号",
        "Đặng",
    ],
)
def test_names_in_many_scripts_read_back_from_the_page_as_they_were_written(name: str) -> None:
    assert name.replace(" ", "") in read(name).replace(" ", "")


@needs("pdftotext")
def test_another_reader_copies_the_same_signs(tmp_path: Path) -> None:
    path = tmp_path / "foreign.pdf"
    path.write_bytes(samples.rendered("foreign names"))
    program = shutil.which("pdftotext") or ""
    done = subprocess.run([program, path, "-"], capture_output=True, check=True, encoding="utf-8")
    for said in (
        "QF-山-0417",
        "山田精密工業株式会社",
        "ボールエンドミル",
        "Сыновья, Ελλάς",
        "误判风险",
    ):
        assert said in done.stdout


def test_every_font_of_a_mixed_page_is_an_embedded_subset_the_fallback_only_where_needed() -> None:
    def fonts(name: str) -> set[str]:
        found = set()
        with pikepdf.open(io.BytesIO(samples.rendered(name))) as file:
            for page in file.pages:
                for font in page.Resources.Font.values():
                    assert "/FontFile2" in font.FontDescriptor
                    assert "/ToUnicode" in font
                    found.add(str(font.BaseFont))
        assert all("+" in font for font in found)
        return {font.partition("+")[2] for font in found}

    assert "DroidSansFallback" in fonts("foreign names")
    assert not any("Droid" in font for font in fonts("I1"))
    assert len(samples.rendered("foreign names")) < 300_000


def test_the_fallback_may_be_embedded_and_its_licence_stands_beside_it() -> None:
    folder = Path(lettering.__file__).parent / "fonts"
    data = (folder / f"{lettering.FALLBACK}.ttf").read_bytes()
    count = int.from_bytes(data[4:6])
    rows = [data[12 + 16 * n : 28 + 16 * n] for n in range(count)]
    at = next(int.from_bytes(row[8:12]) for row in rows if row[:4] == b"OS/2")
    # fsType: 0 installable, 8 editable embedding (OpenType OS/2).
    assert int.from_bytes(data[at + 8 : at + 10]) in {0, 8}
    assert len(data) < 5 * 1024 * 1024
    assert "Apache License" in (folder / "APACHE-2.0.txt").read_text("utf-8")


# -- what no font has ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("Tool 🙂", "U+1F642, SLIGHTLY SMILING FACE"),
        ("한국", "U+D55C, HANGUL SYLLABLE HAN"),
        ("شركة", "U+0634, ARABIC LETTER SHEEN"),
        ("x\u200by", "U+200B, ZERO WIDTH SPACE"),
        ("x\u200ey", "U+200E, LEFT-TO-RIGHT MARK"),
    ],
)
def test_a_sign_that_no_font_has_is_refused_by_its_name(said: str, name: str) -> None:
    content = replace(samples.contents()["I1"], mark=said)
    with pytest.raises(ReportError, match="no font") as raised:
        pdf.render(content, {}, samples.ISSUED)
    assert name in str(raised.value)
    assert "Write it with other signs" in str(raised.value)


def test_letters_with_their_marks_apart_are_put_together() -> None:
    apart = unicodedata.normalize("NFD", "Łódź Ångström ガ")
    assert apart != "Łódź Ångström ガ"
    assert lettering.printable(apart) == "Łódź Ångström ガ"


def test_signs_of_the_trade_that_fonts_lack_are_written_with_those_that_read_the_same() -> None:
    assert lettering.printable("⌀ 8.5, 20 ℃") == "Ø 8.5, 20 °C"


# -- width and wrapping ----------------------------------------------------------------


def test_a_mixed_line_is_as_wide_as_its_pieces() -> None:
    lettering.fonts()
    parts = (("QF-", lettering.REGULAR), ("山田", lettering.FALLBACK), ("-12", lettering.REGULAR))
    assert list(lettering.runs("QF-山田-12", lettering.REGULAR)) == list(parts)
    apart = sum(lettering.width(piece, font, 8.5) for piece, font in parts)
    assert lettering.width("QF-山田-12", lettering.REGULAR, 8.5) == pytest.approx(apart)
    # An ideograph is as wide as the size.
    assert lettering.width("山", lettering.REGULAR, 10) == pytest.approx(10 / lettering.MM)


@given(st.text(alphabet=SIGNS, max_size=60), st.floats(min_value=14, max_value=60))
def test_wrapping_chinese_and_kana_loses_nothing_and_stays_in_its_room(
    said: str, wide: float
) -> None:
    lettering.fonts()
    lines = lettering.wrap(said, lettering.REGULAR, 8.5, wide)
    assert "".join(lines).replace(" ", "") == said.replace(" ", "")
    assert all(lettering.width(line, lettering.REGULAR, 8.5) <= wide + 1e-6 for line in lines)


def test_lines_break_between_ideographs_but_none_begins_with_what_closes() -> None:
    lettering.fonts()
    # Ten signs of 3 mm each in 9.5 mm: three a line, but the bracket and the comma keep theirs.
    size = 3 * lettering.MM
    assert lettering.wrap("山田精密工業株式会社", lettering.REGULAR, size, 9.5) == [
        "山田精", "密工業", "株式会", "社",
    ]  # fmt: skip
    assert lettering.wrap("山田精、密工「業」", lettering.REGULAR, size, 9.5) == [
        "山田", "精、密", "工", "「業」",
    ]  # fmt: skip
    assert lettering.wrap("キャッチ", lettering.REGULAR, size, 9.5) == ["キャッ", "チ"]


def test_words_between_ideographs_stay_whole() -> None:
    lettering.fonts()
    lines = lettering.wrap("图纸QM-D-118的要求", lettering.REGULAR, 8.5, 20)
    assert any("QM-D-118" in line for line in lines)
