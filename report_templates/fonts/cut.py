"""Cuts the fonts of this folder that bear a name of our own. Run once, by hand.

Needs fontTools, IBM Plex Sans as a variable font (package fontpkg-ibm-plex-sans 3.201) and
NanumGothic.ttf (Debian's fonts-nanum 20200506); none is a dependency. The licence of both (OFL
1.1) reserves their names for unmodified files.
"""

from __future__ import annotations

import sys
import unicodedata
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

FAMILY, HANGUL = "Tallow Sans", "Tallow Hangul"
LICENCE = "This Font Software is licensed under the SIL Open Font License, Version 1.1."
CUTS = {
    "Regular": (400, 100),
    "Semibold": (600, 100),
    "Condensed": (400, 85),
    "CondensedSemibold": (600, 85),
}


def main(source: str, hangul: str) -> None:
    """Write the cuts beside this file."""
    for style, (weight, width) in CUTS.items():
        plex = TTFont(source, recalcTimestamp=False)
        font = instancer.instantiateVariableFont(plex, {"wght": weight, "wdth": width})
        for table in ("GSUB", "GPOS", "GDEF", "STAT", "HVAR", "MVAR", "avar", "meta", "DSIG"):
            if table in font:
                del font[table]
        _save(font, FAMILY, style)
    _save(_hangul(hangul), HANGUL, "Regular")


def _hangul(source: str) -> TTFont:
    """Syllables, their letters alone, and the enclosed ones, such as that of a company. Letters
    that join (U+1100) aren't meant: nothing here joins them."""
    font = TTFont(source, recalcTimestamp=False)
    names = {sign: unicodedata.name(chr(sign), "") for sign in font.getBestCmap()}
    meant = [n for n, name in names.items() if "HANGUL" in name and not name.endswith("FILLER")]
    for number in (13, 14):
        font["name"].removeNames(nameID=number)
    font["name"].setName(LICENCE, 13, 3, 1, 0x409)
    subsetter = Subsetter(Options(hinting=False, notdef_outline=True, name_IDs=["*"]))
    subsetter.populate(unicodes=[n for n in meant if n >= ord("\u3131")])
    subsetter.subset(font)
    return font


def _save(font: TTFont, family: str, style: str) -> None:
    name = font["name"]
    full, ps = f"{family} {style}", f"{family.replace(' ', '')}-{style}"
    words = {1: full, 2: "Regular", 3: ps, 4: full, 6: ps, 16: family, 17: style}
    for number in (1, 2, 3, 4, 6, 16, 17, 21, 22, 25):
        name.removeNames(nameID=number)
    for number, word in words.items():
        name.setName(word, number, 3, 1, 0x409)
    font["head"].modified = font["head"].created
    font.save(Path(__file__).parent / f"{ps}.ttf", reorderTables=False)


if __name__ == "__main__":
    main(*sys.argv[1:])
