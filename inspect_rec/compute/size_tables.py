"""Tables of ISO 286-1: standard tolerances and fundamental deviations, µm, by nominal size.

From memory of the 2010 edition, the standard itself was not at hand; the tests hold every entry
against the formulas behind it, and each was compared with at least one public transcription and
most with two: they differed only where a transcription had a slip. cd, ef and fg above 10 mm are
new in that edition and were found in one transcription only.

A row begins with the size that it goes up to, that size included; a column is a grade or a letter
of a shaft; a dash says that the tables have no such entry.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

_GRADES = """
mm    01   0   1   2   3  4  5   6   7   8   9  10   11   12   13   14   15    16    17    18
3    0.3 0.5 0.8 1.2   2  3  4   6  10  14  25  40   60  100  140  250  400   600  1000  1400
6    0.4 0.6   1 1.5 2.5  4  5   8  12  18  30  48   75  120  180  300  480   750  1200  1800
10   0.4 0.6   1 1.5 2.5  4  6   9  15  22  36  58   90  150  220  360  580   900  1500  2200
18   0.5 0.8 1.2   2   3  5  8  11  18  27  43  70  110  180  270  430  700  1100  1800  2700
30   0.6   1 1.5 2.5   4  6  9  13  21  33  52  84  130  210  330  520  840  1300  2100  3300
50   0.6   1 1.5 2.5   4  7 11  16  25  39  62 100  160  250  390  620 1000  1600  2500  3900
80   0.8 1.2   2   3   5  8 13  19  30  46  74 120  190  300  460  740 1200  1900  3000  4600
120    1 1.5 2.5   4   6 10 15  22  35  54  87 140  220  350  540  870 1400  2200  3500  5400
180  1.2   2 3.5   5   8 12 18  25  40  63 100 160  250  400  630 1000 1600  2500  4000  6300
250    2   3 4.5   7  10 14 20  29  46  72 115 185  290  460  720 1150 1850  2900  4600  7200
315  2.5   4   6   8  12 16 23  32  52  81 130 210  320  520  810 1300 2100  3200  5200  8100
400    3   5   7   9  13 18 25  36  57  89 140 230  360  570  890 1400 2300  3600  5700  8900
500    4   6   8  10  15 20 27  40  63  97 155 250  400  630  970 1550 2500  4000  6300  9700
630    -   -   9  11  16 22 32  44  70 110 175 280  440  700 1100 1750 2800  4400  7000 11000
800    -   -  10  13  18 25 36  50  80 125 200 320  500  800 1250 2000 3200  5000  8000 12500
1000   -   -  11  15  21 28 40  56  90 140 230 360  560  900 1400 2300 3600  5600  9000 14000
1250   -   -  13  18  24 33 47  66 105 165 260 420  660 1050 1650 2600 4200  6600 10500 16500
1600   -   -  15  21  29 39 55  78 125 195 310 500  780 1250 1950 3100 5000  7800 12500 19500
2000   -   -  18  25  35 46 65  92 150 230 370 600  920 1500 2300 3700 6000  9200 15000 23000
2500   -   -  22  30  41 55 78 110 175 280 440 700 1100 1750 2800 4400 7000 11000 17500 28000
3150   -   -  26  36  50 68 96 135 210 330 540 860 1350 2100 3300 5400 8600 13500 21000 33000
"""

# ef above 18 mm up to 30 mm is left out: sources give 25 and 28.
_SHAFTS = """
mm    cd   d   e ef   f fg  g h k  m   n   p
3     34  20  14 10   6  4  2 0 0  2   4   6
6     46  30  20 14  10  6  4 0 1  4   8  12
10    56  40  25 18  13  8  5 0 1  6  10  15
18    70  50  32 23  16 10  6 0 1  7  12  18
30    85  65  40  -  20 12  7 0 2  8  15  22
50   100  80  50 35  25 15  9 0 2  9  17  26
80     - 100  60  -  30  - 10 0 2 11  20  32
120    - 120  72  -  36  - 12 0 3 13  23  37
180    - 145  85  -  43  - 14 0 3 15  27  43
250    - 170 100  -  50  - 15 0 4 17  31  50
315    - 190 110  -  56  - 17 0 4 20  34  56
400    - 210 125  -  62  - 18 0 4 21  37  62
500    - 230 135  -  68  - 20 0 5 23  40  68
630    - 260 145  -  76  - 22 0 0 26  44  78
800    - 290 160  -  80  - 24 0 0 30  50  88
1000   - 320 170  -  86  - 26 0 0 34  56 100
1250   - 350 195  -  98  - 28 0 0 40  66 120
1600   - 390 220  - 110  - 30 0 0 48  78 140
2000   - 430 240  - 120  - 32 0 0 58  92 170
2500   - 480 260  - 130  - 34 0 0 68 110 195
3150   - 520 290  - 145  - 38 0 0 76 135 240
"""

# The letters that need the finer steps.
_FINER = """
mm      a   b   c   r    s    t    u   v   x    y    z   za   zb   zc
3     270 140  60  10   14    -   18   -  20    -   26   32   40   60
6     270 140  70  15   19    -   23   -  28    -   35   42   50   80
10    280 150  80  19   23    -   28   -  34    -   42   52   67   97
14    290 150  95  23   28    -   33   -  40    -   50   64   90  130
18    290 150  95  23   28    -   33  39  45    -   60   77  108  150
24    300 160 110  28   35    -   41  47  54   63   73   98  136  188
30    300 160 110  28   35   41   48  55  64   75   88  118  160  218
40    310 170 120  34   43   48   60  68  80   94  112  148  200  274
50    320 180 130  34   43   54   70  81  97  114  136  180  242  325
65    340 190 140  41   53   66   87 102 122  144  172  226  300  405
80    360 200 150  43   59   75  102 120 146  174  210  274  360  480
100   380 220 170  51   71   91  124 146 178  214  258  335  445  585
120   410 240 180  54   79  104  144 172 210  254  310  400  525  690
140   460 260 200  63   92  122  170 202 248  300  365  470  620  800
160   520 280 210  65  100  134  190 228 280  340  415  535  700  900
180   580 310 230  68  108  146  210 252 310  380  465  600  780 1000
200   660 340 240  77  122  166  236 284 350  425  520  670  880 1150
225   740 380 260  80  130  180  258 310 385  470  575  740  960 1250
250   820 420 280  84  140  196  284 340 425  520  640  820 1050 1350
280   920 480 300  94  158  218  315 385 475  580  710  920 1200 1550
315  1050 540 330  98  170  240  350 425 525  650  790 1000 1300 1700
355  1200 600 360 108  190  268  390 475 590  730  900 1150 1500 1900
400  1350 680 400 114  208  294  435 530 660  820 1000 1300 1650 2100
450  1500 760 440 126  232  330  490 595 740  920 1100 1450 1850 2400
500  1650 840 480 132  252  360  540 660 820 1000 1250 1600 2100 2600
560     -   -   - 150  280  400  600   -   -    -    -    -    -    -
630     -   -   - 155  310  450  660   -   -    -    -    -    -    -
710     -   -   - 175  340  500  740   -   -    -    -    -    -    -
800     -   -   - 185  380  560  840   -   -    -    -    -    -    -
900     -   -   - 210  430  620  940   -   -    -    -    -    -    -
1000    -   -   - 220  470  680 1050   -   -    -    -    -    -    -
1120    -   -   - 250  520  780 1150   -   -    -    -    -    -    -
1250    -   -   - 260  580  840 1300   -   -    -    -    -    -    -
1400    -   -   - 300  640  960 1450   -   -    -    -    -    -    -
1600    -   -   - 330  720 1050 1600   -   -    -    -    -    -    -
1800    -   -   - 370  820 1200 1850   -   -    -    -    -    -    -
2000    -   -   - 400  920 1350 2000   -   -    -    -    -    -    -
2240    -   -   - 440 1000 1500 2300   -   -    -    -    -    -    -
2500    -   -   - 460 1100 1650 2500   -   -    -    -    -    -    -
2800    -   -   - 550 1250 1900 2900   -   -    -    -    -    -    -
3150    -   -   - 580 1400 2100 3200   -   -    -    -    -    -    -
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
    return _table(_SHAFTS), _table(_FINER)


@cache
def transitions() -> Table:
    """Deviations of j and J without sign; a column is letter and grade."""
    return _table(_J)
