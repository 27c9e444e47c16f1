"""Cuts the four statics of this folder from the variable font they come from. Run once, by hand.

Needs fontTools and the package fontpkg-ibm-plex-sans 3.201 (neither is a dependency). The
font's licence (OFL 1.1) reserves its name for unmodified files, so the cuts bear one of our own.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

FAMILY = "Tallow Sans"
CUTS = {
    "Regular": (400, 100),
    "Semibold": (600, 100),
    "Condensed": (400, 85),
    "CondensedSemibold": (600, 85),
}


def main(source: str) -> None:
    """Write the statics beside this file."""
    for style, (weight, width) in CUTS.items():
        font = instancer.instantiateVariableFont(TTFont(source), {"wght": weight, "wdth": width})
        name = font["name"]
        full, ps = f"{FAMILY} {style}", f"TallowSans-{style}"
        words = {1: f"{FAMILY} {style}", 2: "Regular", 3: ps, 4: full, 6: ps, 16: FAMILY, 17: style}
        for number in (1, 2, 3, 4, 6, 16, 17, 21, 22, 25):
            name.removeNames(nameID=number)
        for number, word in words.items():
            name.setName(word, number, 3, 1, 0x409)
        for table in ("GSUB", "GPOS", "GDEF", "STAT", "HVAR", "MVAR", "avar", "meta", "DSIG"):
            if table in font:
                del font[table]
        font["head"].modified = font["head"].created
        font.save(Path(__file__).parent / f"{ps}.ttf", reorderTables=False)


if __name__ == "__main__":
    main(sys.argv[1])
