"""Plans and jobs: what a job file and a shop file may say. Opens nothing, reads no text.

A job names customer, order and drawing, the tools with their marks, the features to be
sighted in their order, and the characteristics to be proved from them.
"""

from __future__ import annotations

from inspect_rec.plan.characteristic import Characteristic, Grinding, Moves
from inspect_rec.plan.feature import Channel, Feature
from inspect_rec.plan.job import Conditions, Job, JobFile
from inspect_rec.plan.rule import DecisionRule, Drift
from inspect_rec.plan.shop import (
    Distribution,
    Equipment,
    Expansion,
    Group,
    Influence,
    SetUp,
    Shop,
    ShopFile,
    Study,
    Wheel,
)
from inspect_rec.plan.stated import Line, Name, Number, Strict
from inspect_rec.plan.tool import Life, Offset, Tool

__all__ = [
    "Channel",
    "Characteristic",
    "Conditions",
    "DecisionRule",
    "Distribution",
    "Drift",
    "Equipment",
    "Expansion",
    "Feature",
    "Grinding",
    "Group",
    "Influence",
    "Job",
    "JobFile",
    "Life",
    "Line",
    "Moves",
    "Name",
    "Number",
    "Offset",
    "SetUp",
    "Shop",
    "ShopFile",
    "Strict",
    "Study",
    "Tool",
    "Wheel",
]
