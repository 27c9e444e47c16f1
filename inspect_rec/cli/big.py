"""Letters and figures large enough to be read from the machine, of block characters.

A character without a shape of its own is never drawn as another one: ask ``knows`` first.
"""

from __future__ import annotations

# Three columns by five rows a glyph, row by row, as octal digits: 7 = all three columns.
_GLYPHS = {
    "0": "75557", "1": "26227", "2": "71747", "3": "71717", "4": "55711", "5": "74717",
    "6": "74757", "7": "71122", "8": "75757", "9": "75717", "A": "25755", "B": "65656",
    "C": "34443", "D": "65556", "E": "74647", "F": "74644", "G": "34553", "H": "55755",
    "I": "72227", "J": "11152", "K": "55655", "L": "44447", "M": "57755", "N": "65555",
    "O": "25552", "P": "65644", "Q": "25563", "R": "65655", "S": "34216", "T": "72222",
    "U": "55557", "V": "55552", "W": "55775", "X": "55255", "Y": "55222", "Z": "71247",
    "+": "02720", "-": "00700", "−": "00700", ".": "00002", ",": "00024", ":": "02020",
    "?": "71202", "/": "11244", "°": "25200", "_": "00007", "Ø": "35556", "–": "00700",
    "(": "24442", ")": "21112",
}  # fmt: skip
_HALF = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def knows(text: str) -> bool:
    """Whether every character has a shape."""
    return all(char == " " or char.upper() in _GLYPHS for char in text)


def _rows(text: str) -> list[str]:
    """The five rows of a text, a pixel a character; a blank is one pixel wide."""
    return [" ".join(_row(char, row) for char in text) for row in range(5)]


def _row(char: str, row: int) -> str:
    return "0" if char == " " else f"{int(_GLYPHS[char.upper()][row], 8):03b}"


def words(text: str) -> list[str]:
    """Three lines, four columns a letter and two a blank."""
    pixels = [*_rows(text), ""]
    lines = []
    for top, bottom in zip(pixels[::2], pixels[1::2], strict=True):
        pairs = zip(top, bottom.ljust(len(top)), strict=True)
        lines.append("".join(_HALF[a == "1", b == "1"] for a, b in pairs).rstrip())
    return lines


def figure(text: str) -> list[str]:
    """Five lines, eight columns a figure; a point takes four."""
    lines = [""] * 5
    for char in text:
        pixels = _rows(char)
        narrow = char in ".,:"
        for n in range(5):
            wide = "".join("██" if p == "1" else "  " for p in pixels[n])
            lines[n] += wide[2:4] + "  " if narrow else wide + "  "
    return [line.rstrip() for line in lines]
