"""Sizes, statistics, uncertainty, units: plain arithmetic, exact fractions, printed tables."""

from __future__ import annotations

from fractions import Fraction
from math import pi, sqrt, tan

from tests.calculator.hand_shapes import NORMAL, Case

T2, T4 = 4.302653, 2.776445
"""Student's t, two-sided 95 %, of 2 and 4 degrees of freedom (GUM table G.2; from memory)."""
PARTS = [[[1.0, 2.0], [1.2, 2.2]], [[1.1, 2.1], [1.3, 2.3]]]
"""Two appraisers, two trials, two parts: trials differ by 0.2, appraisers by 0.1, parts by 1."""
D2, K_OF_1 = 1.128, 1 / 1.414
"""d2 of 2 for many ranges, 1/d2* for one (tables; from memory)."""

NUMBERS: tuple[Case, ...] = (
    (
        "reamer-limits",
        # H7 at 10: 15 um. 15 less 0.15 x 15 = 2.25, up 3: 12; less 0.35 x 15 = 5.25, up 6: 6.
        {"nominal_mm": 10, "hole_class": "H7"},
        {"upper_limit_mm": 10.012, "lower_limit_mm": 10.006},
        1e-12,
    ),
    (
        "size-limits",
        {"nominal_mm": 8.5, "class": "h8"},
        {"upper_limit_mm": 8.5, "lower_limit_mm": 8.478, "IT_um": 22},
        1e-12,
    ),
    (
        "capability",
        {"mean": 10, "std": 0.5, "LSL": 8, "USL": 11},
        {"Cp": 1, "Cpu": 2 / 3, "Cpl": 4 / 3, "Cpk": 2 / 3},
        1e-12,
    ),
    (
        "chart-constants",
        # Of 2: the range is |a - b|, mean 2 / sqrt(pi), variance 2 - 4 / pi.
        {"n": 2},
        {
            "d2": 2 / sqrt(pi),
            "d3": sqrt(2 - 4 / pi),
            "c4": sqrt(2 / pi),
            "A2": 3 * sqrt(pi) / 2 / sqrt(2),
            "D4": 1 + 3 * sqrt(2 - 4 / pi) * sqrt(pi) / 2,
        },
        1e-9,
    ),
    ("dixon-critical", {"n": [3], "confidence": 0.95}, {"critical": [0.970]}, 5e-4),
    (
        "dixon-test",
        {"readings": [1.0, 1.1, 1.2, 1.3, 5.0]},
        {"r10": 3.7 / 4, "suspected": 5.0, "outlier": True},
        1e-9,
    ),
    (
        "gauge-study-ranges",
        {
            "readings_appraiser_trial_part": PARTS,
            "K1": 1 / D2,
            "K2": K_OF_1,
            "K3": K_OF_1,
        },
        {
            "EV": 0.2 / D2,
            "AV": sqrt(max(0, (0.1 * K_OF_1) ** 2 - (0.2 / D2) ** 2 / 4)),
            "PV": K_OF_1,
        },
        1e-9,
    ),
    (
        "gauge-study-anova",
        # Trials lie 0.1 either side of their mean: 8 x 0.01; appraisers 0.05: 8 x 0.0025.
        {"readings_appraiser_trial_part": PARTS},
        {"ss_equipment": 0.08, "ss_appraiser": 0.02, "ss_part": 2.0, "ss_interaction": 0},
        1e-9,
    ),
    (
        "grubbs-critical",
        # n = 3 on two sides at 5 %: t of 1 at 0.05 / 6 is 1 / tan(pi 0.05 / 6).
        {"n": [3], "alpha": 0.05},
        {
            "critical": [
                2 / sqrt(3) * sqrt(1 / (tan(pi * 0.05 / 6) ** 2 + 1)),
            ]
        },
        1e-9,
    ),
    (
        "grubbs-test",
        {"readings": [-1, -1, -1, 3]},
        {"G": 3 / 2, "suspected": 3},
        1e-12,
    ),
    (
        "individuals-chart",
        {"readings": [10, 12, 11, 13]},
        {
            "mean": 11.5,
            "mean_moving_range": 5 / 3,
            "upper_limit": 11.5 + 3 * (5 / 3) / 1.128,
            "upper_limit_moving_range": 3.267 * 5 / 3,
        },
        1e-9,
    ),
    ("normal-quantile", {"p": [0.5, NORMAL[2.0]]}, {"z": [0, 2]}, 1e-8),
    (
        "one-way-analysis",
        {"readings_group_trial": [[1, 3], [4, 6]]},
        # Means 2 and 5: s of the means sqrt(4.5); within each group sqrt 2; F = 2 x 4.5 / 2.
        {
            "grand_mean": 3.5,
            "u_mean": 1.5,
            "s_within": sqrt(2),
            "F": 4.5,
            "s_between": sqrt((9 - 2) / 2),
            "F_critical": T2**2,
        },
        1e-4,
    ),
    (
        "pooled-study",
        {"readings_group_trial": [[1, 3], [4, 6], [0, 2, 4]]},
        # Sums of squares 2, 2 and 8 over four degrees of freedom.
        {"s": sqrt(3), "dof": 4},
        1e-12,
    ),
    (
        "type-a",
        {"readings": [1, 2, 3, 4]},
        {"mean": 2.5, "s": sqrt(5 / 3), "u_mean": sqrt(5 / 12), "dof": 3},
        1e-12,
    ),
    (
        "correlated-components",
        {"u_um": [3, 4], "r": [[1, 0.5], [0.5, 1]], "sensitivity": [1, -1]},
        {"u_combined_um": sqrt(9 + 16 - 12), "u_uncorrelated_um": 5},
        1e-12,
    ),
    (
        "drift-interpolated",
        {
            "value_before_mm": 9.9990,
            "value_after_mm": 10.0010,
            "t_before_h": 8,
            "t_after_h": 12,
            "t_h": 9,
        },
        {"value_mm": 9.9995, "drift_mm": 0.002},
        1e-12,
    ),
    (
        "effective-dof",
        {"u_um": [3, 4], "dof": [9, None]},
        {"u_combined_um": 5, "dof_effective": 625 / 9, "dof_truncated": 69},
        1e-9,
    ),
    (
        "simultaneous-means",
        {"readings_set_quantity": [[1, 2], [2, 4], [3, 6]]},
        {
            "mean": [2, 4],
            "u_mean": [sqrt(1 / 3), sqrt(4 / 3)],
            "correlation": [[1, 1], [1, 1]],
        },
        1e-12,
    ),
    ("t-factor", {"p": [0.95, 0.95], "dof": [2, 4.9]}, {"t": [T2, T4]}, 1e-6),
    (
        "angle-text",
        {"angle_text": "-0°30'"},
        {"angle_deg": -0.5, "sign": -1, "degrees": 0, "minutes": 30, "seconds": 0},
        1e-12,
    ),
    (
        "degrees-to-dms",
        {"angle_deg_text": "12.58242"},
        # 0.58242 x 60 = 34.9452, 0.9452 x 60 = 56.712.
        {"sign": 1, "degrees": 12, "minutes": 34, "seconds": 56.7},
        1e-12,
    ),
    (
        "dms-to-degrees",
        {"degrees": 12, "minutes": 34, "seconds": 56.7},
        {"angle_deg": float(Fraction(12) + Fraction(34, 60) + Fraction(567, 36000))},
        1e-12,
    ),
    (
        "inch-to-mm",
        {"inch_text": ["0.3125"]},
        {"mm_text_1": "7.9375"},
        0,
    ),
)
