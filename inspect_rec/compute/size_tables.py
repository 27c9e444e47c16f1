"""Tables of ISO 286-1: standard tolerances and fundamental deviations, µm, by nominal size.

From memory of the 2010 edition, the standard itself was not at hand; the tests hold every entry
against the formulas behind it. A row begins with the size that it goes up to, that size included;
a column is a grade or a letter of a shaft; a dash says that the tables have no such entry.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

_GRADES = """
mm   01   0   1   2   3  4  5  6   7   8   9  10  11  12  13   14   15   16   17   18
3   0.3 0.5 0.8 1.2   2  3  4  6  10  14  25  40  60 100 140  250  400  600 1000 1400
6   0.4 0.6   1 1.5 2.5  4  5  8  12  18  30  48  75 120 180  300  480  750 1200 1800
10  0.4 0.6   1 1.5 2.5  4  6  9  15  22  36  58  90 150 220  360  580  900 1500 2200
18  0.5 0.8 1.2   2   3  5  8 11  18  27  43  70 110 180 270  430  700 1100 1800 2700
30  0.6   1 1.5 2.5   4  6  9 13  21  33  52  84 130 210 330  520  840 1300 2100 3300
50  0.6   1 1.5 2.5   4  7 11 16  25  39  62 100 160 250 390  620 1000 1600 2500 3900
80  0.8 1.2   2   3   5  8 13 19  30  46  74 120 190 300 460  740 1200 1900 3000 4600
120   1 1.5 2.5   4   6 10 15 22  35  54  87 140 220 350 540  870 1400 2200 3500 5400
180 1.2   2 3.5   5   8 12 18 25  40  63 100 160 250 400 630 1000 1600 2500 4000 6300
250   2   3 4.5   7  10 14 20 29  46  72 115 185 290 460 720 1150 1850 2900 4600 7200
315 2.5   4   6   8  12 16 23 32  52  81 130 210 320 520 810 1300 2100 3200 5200 8100
400   3   5   7   9  13 18 25 36  57  89 140 230 360 570 890 1400 2300 3600 5700 8900
500   4   6   8  10  15 20 27 40  63  97 155 250 400 630 970 1550 2500 4000 6300 9700
"""

_SHAFTS = """
mm    d   e  f  g  h  k  m  n  p
3    20  14  6  2  0  0  2  4  6
6    30  20 10  4  0  1  4  8 12
10   40  25 13  5  0  1  6 10 15
18   50  32 16  6  0  1  7 12 18
30   65  40 20  7  0  2  8 15 22
50   80  50 25  9  0  2  9 17 26
80  100  60 30 10  0  2 11 20 32
120 120  72 36 12  0  3 13 23 37
180 145  85 43 14  0  3 15 27 43
250 170 100 50 15  0  4 17 31 50
315 190 110 56 17  0  4 20 34 56
400 210 125 62 18  0  4 21 37 62
500 230 135 68 20  0  5 23 40 68
"""

# Lower deviation of a shaft j below zero, upper of a hole J above it; the two are no mirrors.
_J = """
mm  j5 j6 j7 j8 J6 J7 J8
3    2  2  4  6  2  4  6
6    2  2  4  -  5  6 10
10   2  2  5  -  5  8 12
18   3  3  6  -  6 10 15
30   4  4  8  -  8 12 20
50   5  5 10  - 10 14 24
80   7  7 12  - 13 18 28
120  9  9 15  - 16 22 34
180 11 11 18  - 18 26 41
250 13 13 21  - 22 30 47
315 16 16 26  - 25 36 55
400 18 18 28  - 29 39 60
500 20 20 32  - 33 43 66
"""


@dataclass(frozen=True, slots=True)
class Table:
    """Ends of the steps of nominal size, mm, and under each column its entries, µm."""

    ends: tuple[Decimal, ...]
    columns: dict[str, tuple[Decimal | None, ...]]

    def entry(self, column: str, nominal_mm: Decimal) -> Decimal | None:
        """The entry for a nominal size above 0; None where the table has none."""
        step = bisect_left(self.ends, nominal_mm)
        entries = self.columns.get(column)
        return None if entries is None or step == len(self.ends) else entries[step]


def _table(text: str) -> Table:
    heads, *rows = [line.split() for line in text.strip().splitlines()]
    columns = zip(*rows, strict=True)
    ends = tuple(Decimal(end) for end in next(columns))
    return Table(
        ends,
        {
            head: tuple(None if cell == "-" else Decimal(cell) for cell in column)
            for head, column in zip(heads[1:], columns, strict=True)
        },
    )


@cache
def tolerances() -> Table:
    """Standard tolerances; a column is a grade without its IT."""
    return _table(_GRADES)


@cache
def deviations() -> tuple[Table, ...]:
    """Fundamental deviations of shafts without sign; no letter stands in two of the tables."""
    return (_table(_SHAFTS),)


@cache
def transitions() -> Table:
    """Deviations of j and J without sign; a column is letter and grade."""
    return _table(_J)
