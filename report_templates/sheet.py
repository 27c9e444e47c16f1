"""The sheet and its grid: A4, in mm from the top left. Four columns, halves and thirds."""

WIDE, HIGH = 210.0, 297.0
LEFT, LIVE = 20.0, 176.0
"""Left margin with its filing holes, and the live width."""
COLUMN = (20.0, 65.0, 110.0, 155.0)
HALF, THIRD = 86.0, 56.0
GAP = (HIGH - 257.5) / 5
"""Between the blocks of page 1: all that gives."""
TOP, BOTTOM = 25.0, 277.0
"""First rule, and the end of what flows."""
SIGN_TOP = HIGH - 50
FIELD = (THIRD, 18.0)
"""A signature's field inside its brackets."""
