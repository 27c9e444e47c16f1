"""Gauge studies: appraisers measure the same parts several times. No I/O. Any one unit.

Readings are ``readings[appraiser][trial][part]``. Repeatability and reproducibility after the MSA
manual of the automotive industry (from memory). The two methods give different numbers of
categories from the same readings, so each result names its method.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from statistics import fmean

from inspect_rec.compute.charts import constants
from inspect_rec.compute.outliers import LEAST, sound
from inspect_rec.errors import ComputeError

Table = Sequence[Sequence[Sequence[float]]]

MANY_RANGES = 15
"""Above so many ranges their mean is divided by d2, up to here by d2* (habit of the manual)."""


@dataclass(frozen=True, slots=True)
class Factor:
    """A factor that turns a range into a standard deviation, and where it comes from."""

    value: float
    origin: str


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Standard deviations: repeatability (EV), reproducibility (AV), both together (GRR), of the
    parts (PV), and of all (TV). ``interaction`` is part of GRR where it was kept apart."""

    method: str
    repeatability: float
    reproducibility: float
    interaction: float
    grr: float
    parts: float
    total: float
    ndc: int
    """Number of distinct categories, 1.41 PV/GRR cut down to a whole number."""

    @property
    def grr_percent(self) -> float:
        """GRR in per cent of the total standard deviation."""
        return 100 * self.grr / self.total


@dataclass(frozen=True, slots=True)
class ByRanges(GaugeStudy):
    """A study by the average and range method, with what it rests on."""

    mean_range: float
    range_of_appraisers: float
    range_of_parts: float
    k1: Factor
    k2: Factor
    k3: Factor


@dataclass(frozen=True, slots=True)
class Row:
    """A row of an analysis of variance."""

    ss: float
    dof: int

    @property
    def ms(self) -> float:
        """Mean square."""
        return self.ss / self.dof


@dataclass(frozen=True, slots=True)
class ByVariance(GaugeStudy):
    """A study by two-way analysis of variance with interaction, parts and appraisers drawn at
    random. ``pooled``: the interaction wasn't significant and counts as error."""

    part_row: Row
    appraiser_row: Row
    interaction_row: Row
    equipment_row: Row
    total_row: Row
    p_interaction: float
    pooled_above: float
    pooled: bool


def by_ranges(
    readings: Table, k1: float | None = None, k2: float | None = None, k3: float | None = None
) -> ByRanges:
    """Average and range method: EV = K1 mean range, AV = sqrt((K2 Xdiff)^2 - EV^2/(n r)) or 0,
    PV = K3 Rp; n parts, r trials.

    A K left out is 1/d2*: K1 of r trials with a range for each part and appraiser (1/d2 above
    MANY_RANGES), K2 of the appraisers and K3 of the parts with one range each.
    """
    appraisers, trials, parts = _sizes(readings)
    cells = _cells(readings)
    ranges = [max(cell) - min(cell) for row in cells for cell in row]
    mean_range = fmean(ranges)
    of_appraisers = [fmean(chain.from_iterable(one)) for one in readings]
    of_parts = [fmean(chain.from_iterable(column)) for column in zip(*cells, strict=True)]
    one, two = _factor(k1, "K1", trials, len(ranges)), _factor(k2, "K2", appraisers, 1)
    three = _factor(k3, "K3", parts, 1)
    x_diff = max(of_appraisers) - min(of_appraisers)
    r_parts = max(of_parts) - min(of_parts)
    ev = one.value * mean_range
    av = math.sqrt(max(0.0, (two.value * x_diff) ** 2 - ev**2 / (parts * trials)))
    grr, pv = math.hypot(ev, av), three.value * r_parts
    return ByRanges(
        method="average and range",
        repeatability=ev,
        reproducibility=av,
        interaction=0.0,
        grr=grr,
        parts=pv,
        total=math.hypot(grr, pv),
        ndc=_ndc(pv, grr),
        mean_range=mean_range,
        range_of_appraisers=x_diff,
        range_of_parts=r_parts,
        k1=one,
        k2=two,
        k3=three,
    )


def by_variance(readings: Table, pooled_above: float = 0.05) -> ByVariance:
    """Two-way analysis of variance with interaction. Where the interaction's p is above
    ``pooled_above`` it is pooled with the error; components below 0 become 0.

    ``pooled_above`` from 0 (always pooled, but for p = 0) to 1 (never).
    """
    from scipy.special import fdtrc

    if not 0 <= pooled_above <= 1:
        raise ComputeError(
            "no such level to pool at", expected="from 0 to 1", found=f"{pooled_above}"
        )
    appraisers, trials, parts = _sizes(readings)
    part, appraiser, interaction, equipment, total = _rows(_cells(readings))
    p = float(fdtrc(interaction.dof, equipment.dof, interaction.ms / equipment.ms))
    pooled = p > pooled_above
    error = equipment
    if pooled:
        error = Row(interaction.ss + equipment.ss, interaction.dof + equipment.dof)
    # The mean square that parts and appraisers are held against.
    against = error.ms if pooled else interaction.ms
    inner = 0.0 if pooled else max(0.0, (interaction.ms - error.ms) / trials)
    between = max(0.0, (appraiser.ms - against) / (parts * trials))
    of_parts = max(0.0, (part.ms - against) / (appraisers * trials))
    grr, pv = math.sqrt(error.ms + between + inner), math.sqrt(of_parts)
    return ByVariance(
        method="analysis of variance, interaction "
        + ("pooled with the error" if pooled else "kept"),
        repeatability=math.sqrt(error.ms),
        reproducibility=math.sqrt(between),
        interaction=math.sqrt(inner),
        grr=grr,
        parts=pv,
        total=math.hypot(grr, pv),
        ndc=_ndc(pv, grr),
        part_row=part,
        appraiser_row=appraiser,
        interaction_row=interaction,
        equipment_row=equipment,
        total_row=total,
        p_interaction=p,
        pooled_above=pooled_above,
        pooled=pooled,
    )


def _rows(cells: Sequence[Sequence[Sequence[float]]]) -> tuple[Row, Row, Row, Row, Row]:
    """Sums of squares of parts, appraisers, their interaction, equipment, and all."""
    appraisers, parts, trials = len(cells), len(cells[0]), len(cells[0][0])
    # From one reading, so that a length of 100 mm takes no digits from a scatter of 1 um.
    origin = cells[0][0][0]
    off = [[[value - origin for value in cell] for cell in row] for row in cells]
    means = [[fmean(cell) for cell in row] for row in off]
    of_appraisers = [fmean(row) for row in means]
    of_parts = [fmean(column) for column in zip(*means, strict=True)]
    grand = fmean(of_appraisers)
    every = math.fsum((v - grand) ** 2 for row in off for cell in row for v in cell)
    part = appraisers * trials * math.fsum((m - grand) ** 2 for m in of_parts)
    appraiser = parts * trials * math.fsum((m - grand) ** 2 for m in of_appraisers)
    both = trials * math.fsum(
        (means[a][p] - of_appraisers[a] - of_parts[p] + grand) ** 2
        for a in range(appraisers)
        for p in range(parts)
    )
    within = math.fsum(
        (v - means[a][p]) ** 2
        for a, row in enumerate(off)
        for p, cell in enumerate(row)
        for v in cell
    )
    return (
        Row(part, parts - 1),
        Row(appraiser, appraisers - 1),
        Row(both, (parts - 1) * (appraisers - 1)),
        Row(within, parts * appraisers * (trials - 1)),
        Row(every, parts * appraisers * trials - 1),
    )


def _cells(readings: Table) -> list[list[tuple[float, ...]]]:
    """The trials of each appraiser at each part."""
    return [list(zip(*appraiser, strict=True)) for appraiser in readings]


def _sizes(readings: Table) -> tuple[int, int, int]:
    """Numbers of appraisers, trials, parts, of a full table in which repeats scatter."""
    appraisers = len(readings)
    if appraisers < 2:
        raise ComputeError(
            "no reproducibility from one appraiser",
            expected="2 appraisers or more",
            found=f"{appraisers}",
            do="Let a second person measure the same parts, or take pooled repeats for a study",
        )
    trials, parts = len(readings[0]), len(readings[0][0]) if readings[0] else 0
    for a, appraiser in enumerate(readings, 1):
        if len(appraiser) != trials:
            raise ComputeError(
                "a gauge study with gaps",
                expected=f"{trials} trials of each appraiser",
                found=f"{len(appraiser)} of appraiser {a}",
                do="Take what is missing, or leave that trial out for all",
            )
        for t, trial in enumerate(appraiser, 1):
            if len(trial) != parts:
                raise ComputeError(
                    "a gauge study with gaps",
                    expected=f"{parts} parts in each trial",
                    found=f"{len(trial)} in trial {t} of appraiser {a}",
                    do="Take what is missing, or leave that part out for all",
                )
    for number, what in ((trials, "trials"), (parts, "parts")):
        if number < 2:
            raise ComputeError(
                f"too few {what} for a gauge study", expected="2 or more", found=f"{number}"
            )
    cells = _cells(readings)
    sound([value for row in cells for cell in row for value in cell], 8)
    if all(max(cell) - min(cell) < LEAST for row in cells for cell in row):
        raise ComputeError(
            "no repeatability: every appraiser reads each part the same in all trials",
            do="Read with a finer step, or take the step of the readout as the uncertainty",
        )
    return appraisers, trials, parts


def _factor(given: float | None, name: str, size: int, groups: int) -> Factor:
    if given is not None:
        if not 0 < given < math.inf:
            raise ComputeError(f"no such {name}", expected="above 0", found=f"{given}")
        return Factor(given, "given")
    row = constants(size)
    if groups > MANY_RANGES:
        return Factor(1 / row.d2, f"1/d2 of {size}")
    return Factor(1 / row.d2_star(groups), f"1/d2* of {size}, ranges: {groups}")


def _ndc(parts: float, grr: float) -> int:
    return math.floor(1.41 * parts / grr)
