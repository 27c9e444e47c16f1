"""An inspection: plan and entries of one tool, folded to results, verdicts, stock, what is next.

Does no I/O and reads no clock: the same entries give the same inspection, always.
"""

from inspect_rec.inspection.checks import Check, Closure
from inspect_rec.inspection.fold import Inspection, Temperature, fold
from inspect_rec.inspection.kept import Cut, Kept, Place, Record, StruckOut
from inspect_rec.inspection.life import LengthLeft
from inspect_rec.inspection.results import Result
from inspect_rec.inspection.sequence import Step
from inspect_rec.inspection.stock import Stock

__all__ = [
    "Check",
    "Closure",
    "Cut",
    "Inspection",
    "Kept",
    "LengthLeft",
    "Place",
    "Record",
    "Result",
    "Step",
    "Stock",
    "StruckOut",
    "Temperature",
    "fold",
]
