"""Signs and fonts: what a name is written in prints, is embedded, reads back, and wraps."""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import unicodedata
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.ttfonts import TTFontFile

from inspect_rec.errors import ReportError
from inspect_rec.report import pdf
from report_templates import lettering
from tests.programs import needs
from tests.report import samples

HAN = "山田精密工業株式会社东莞市刀具磨削"
KANA = "ボールエンドミルっょ"
SYLLABLES = "한빛정밀공구재연삭㈜ㄱ"
SIGNS = HAN + KANA + SYLLABLES + "、。」「ー々" + "abcXYZ-/ .,)("


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
        "㈜한빛정밀 가나다 ㄱㅏ 똠뷁",
        "大韓精密 김하늘",
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


@needs("pdftotext")
def test_another_reader_copies_korean_names_as_they_were_written(tmp_path: Path) -> None:
    path = tmp_path / "korean.pdf"
    path.write_bytes(samples.rendered("Korean names"))
    program = shutil.which("pdftotext") or ""
    done = subprocess.run([program, path, "-"], capture_output=True, check=True, encoding="utf-8")
    for said in (
        "QF-한-0417",
        "㈜한빛정밀공구",
        "볼 엔드밀 R 4.9",
        "大韓精密工業 주식회사",
        "박서준",
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
    assert "TallowHangul-Regular" not in fonts("foreign names")
    assert {"DroidSansFallback", "TallowHangul-Regular"} <= fonts("Korean names")
    assert not {"DroidSansFallback", "TallowHangul-Regular"} & fonts("I1")
    assert len(samples.rendered("foreign names")) < 300_000
    assert len(samples.rendered("Korean names")) < 300_000


@pytest.mark.parametrize(
    ("font", "licence", "said", "size"),
    [
        (lettering.IDEOGRAPHS, "APACHE-2.0.txt", "Apache License", 5_000_000),
        (lettering.HANGUL, "OFL.txt", "NAVER Corporation", 1_500_000),
    ],
)
def test_a_fallback_may_be_embedded_and_its_licence_stands_beside_it(
    font: str, licence: str, said: str, size: int
) -> None:
    folder = Path(lettering.__file__).parent / "fonts"
    data = (folder / f"{font}.ttf").read_bytes()
    count = int.from_bytes(data[4:6])
    rows = [data[12 + 16 * n : 28 + 16 * n] for n in range(count)]
    at = next(int.from_bytes(row[8:12]) for row in rows if row[:4] == b"OS/2")
    # fsType: 0 installable, 8 editable embedding (OpenType OS/2).
    assert int.from_bytes(data[at + 8 : at + 10]) in {0, 8}
    assert len(data) < size
    assert said in (folder / licence).read_text("utf-8")


def test_the_hangul_font_bears_a_name_of_our_own_and_has_every_syllable() -> None:
    folder = Path(lettering.__file__).parent / "fonts"
    face = TTFontFile(io.BytesIO((folder / f"{lettering.HANGUL}.ttf").read_bytes()))
    # The reserved names may stand in the copyright and trademark notes alone (OFL 1.1, clause 3).
    assert all("Nanum" not in str(n) for n in (face.name, face.familyName, face.styleName))
    # Blocks of Unicode: syllables, and modern letters for compatibility without the filler.
    asked = {*range(0xAC00, 0xD7A4), *range(0x3131, 0x3164), *range(0x3165, 0x318F), ord("㈜")}
    assert asked <= face.charWidths.keys()


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ("Łódź, Жуков", set()),
        ("山田 ボール", {lettering.IDEOGRAPHS}),
        ("한국", {lettering.HANGUL}),
        ("大韓 민국", {lettering.IDEOGRAPHS, lettering.HANGUL}),
    ],
)
def test_a_fallback_is_read_only_when_a_text_needs_it(said: str, read: set[str]) -> None:
    asked = (
        "from reportlab.pdfbase import pdfmetrics\n"
        "from report_templates import lettering\n"
        f"lettering.printable({said!r})\n"
        f"lettering.width({said!r}, lettering.REGULAR, 8)\n"
        "print(*pdfmetrics.getRegisteredFontNames())\n"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, check=True, text=True)
    registered = set(done.stdout.split())
    assert registered & {lettering.IDEOGRAPHS, lettering.HANGUL} == read


# -- what no font has ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("Tool 🙂", "U+1F642, SLIGHTLY SMILING FACE"),
        ("שלום", "U+05E9, HEBREW LETTER SHIN"),
        ("ᄒᆞᆫ", "U+1112, HANGUL CHOSEONG HIEUH"),
        ("\u3164", "U+3164, HANGUL FILLER"),
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
    apart = unicodedata.normalize("NFD", "Łódź Ångström ガ 한글")
    assert apart != "Łódź Ångström ガ 한글"
    assert lettering.printable(apart) == "Łódź Ångström ガ 한글"


def test_signs_of_the_trade_that_fonts_lack_are_written_with_those_that_read_the_same() -> None:
    assert lettering.printable("⌀ 8.5, 20 ℃") == "Ø 8.5, 20 °C"


# -- width and wrapping ----------------------------------------------------------------


def test_a_mixed_line_is_as_wide_as_its_pieces() -> None:
    lettering.fonts()
    parts = (("QF-", lettering.REGULAR), ("山田", lettering.IDEOGRAPHS), ("-12", lettering.REGULAR))
    assert list(lettering.runs("QF-山田-12", lettering.REGULAR)) == list(parts)
    apart = sum(lettering.width(piece, font, 8.5) for piece, font in parts)
    assert lettering.width("QF-山田-12", lettering.REGULAR, 8.5) == pytest.approx(apart)
    # An ideograph is as wide as the size.
    assert lettering.width("山", lettering.REGULAR, 10) == pytest.approx(10 / lettering.MM)


@given(st.text(alphabet=SIGNS, max_size=60), st.floats(min_value=14, max_value=60))
def test_wrapping_chinese_kana_and_korean_loses_nothing_and_stays_in_its_room(
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


def test_korean_lines_break_between_words_and_a_long_word_breaks_anywhere() -> None:
    lettering.fonts()
    # A syllable is 0.94 of the size wide: four take 11.28 mm, and a space no longer fits.
    size = 3 * lettering.MM
    assert lettering.width("한빛정밀", lettering.REGULAR, size) == pytest.approx(11.28)
    assert lettering.wrap("볼 엔드밀 재연삭 초경합금", lettering.REGULAR, size, 11.5) == [
        "볼", "엔드밀", "재연삭", "초경합금",
    ]  # fmt: skip
    assert lettering.wrap("한빛정밀공구재연삭실", lettering.REGULAR, size, 11.5) == [
        "한빛정밀", "공구재연", "삭실",
    ]  # fmt: skip


def test_an_ending_of_a_korean_word_stays_with_the_letters_before_it() -> None:
    lettering.fonts()
    lines = lettering.wrap("도면 QM-D-118의 요구", lettering.REGULAR, 8.5, 21)
    assert lines == ["도면", "QM-D-118의", "요구"]


def test_words_between_ideographs_stay_whole() -> None:
    lettering.fonts()
    lines = lettering.wrap("图纸QM-D-118的要求", lettering.REGULAR, 8.5, 20)
    assert any("QM-D-118" in line for line in lines)
