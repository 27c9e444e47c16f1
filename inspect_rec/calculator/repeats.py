"""Repeats: their mean and scatter, pooled or between groups, taken together, and drift."""

from __future__ import annotations

from typing import Annotated

from inspect_rec.calculator.base import Answer, Filled, Number, Numbers, computation
from inspect_rec.compute import analysis_of_variance, correlation, studies, uncertainty

Groups = Annotated[
    tuple[Annotated[Numbers, Filled], ...], Filled, "readings [[first group], [second], ...]"
]
Sets = Annotated[
    tuple[Annotated[Numbers, Filled], ...], Filled, "sets [[one reading of each quantity], ...]"
]


@computation(
    "type-a",
    topic="statistics",
    gives=("mean", "s", "u_mean", "dof"),
    formula="s = sqrt(sum (x - mean)^2 / (n - 1)); u_mean = s / sqrt(n); dof = n - 1; summed from "
    "the first reading on, without rounding",
    source="GUM (JCGM 100:2008) 4.2 (from memory)",
    refuses="fewer than two readings",
)
def type_a(readings: Numbers) -> Answer:
    """Mean of repeated readings, their scatter, and the uncertainty of the mean."""
    found = uncertainty.type_a(readings)
    return {"mean": found.mean, "s": found.s, "u_mean": found.u, "dof": found.n - 1}


@computation(
    "pooled-study",
    topic="statistics",
    gives=(
        "s",
        "dof",
        "enough",
        "alike",
        "test",
        "statistic",
        "p",
        "outliers",
        "critical",
    ),
    formula="s = sqrt(sum (n_i - 1) s_i^2 / sum (n_i - 1)); alike: Bartlett's test, or Cochran's "
    "where a group has no scatter, gives p above alpha; outliers [group, place, value], both from "
    "1: deviations from their group's mean over s sqrt(1 - 1 / n_i) above critical; all readings "
    "stay in s; enough: 20 degrees of freedom or more (rule of the house)",
    source="GUM (JCGM 100:2008) 4.2.4; Bartlett (1937); ISO 5725-2 (all from memory)",
    refuses="no group, a group of one, no scatter at all",
)
def pooled_study(readings_group_trial: Groups, alpha: Number = 0.05) -> Answer:
    """Scatter from groups of repeats, whether they may be pooled, and what stands out."""
    found = studies.pooled(readings_group_trial, alpha)
    alike = found.alike
    return {
        "s": found.s,
        "dof": found.dof,
        "enough": found.enough,
        "alike": None if alike is None else alike.alike,
        "test": None if alike is None else alike.test,
        "statistic": None if alike is None else alike.statistic,
        "p": None if alike is None else alike.p,
        "outliers": [[one.group + 1, one.index + 1, one.value] for one in found.outliers],
        "critical": found.critical,
    }


@computation(
    "one-way-analysis",
    topic="statistics",
    gives=(
        "grand_mean",
        "u_mean",
        "dof",
        "s_within",
        "s_between",
        "F",
        "p",
        "F_critical",
        "u_mean_without_effect",
    ),
    formula="K readings in each of J groups: s_a^2 = K s^2(group means), s_within^2 = mean of the "
    "groups' variances, F = s_a^2 / s_within^2, s_between = sqrt((s_a^2 - s_within^2) / K) or 0; "
    "u_mean = s(group means) / sqrt(J), dof = J - 1; u_mean_without_effect: of all readings in one "
    "row; F_critical is exceeded by chance with the probability alpha",
    source="GUM (JCGM 100:2008) H.5 (from memory)",
    refuses="fewer than two groups or two readings in each, unlike numbers of readings, no scatter",
)
def one_way_analysis(readings_group_trial: Groups, alpha: Number = 0.05) -> Answer:
    """What scatters within groups, such as days, and what between them."""
    found = analysis_of_variance.one_way(readings_group_trial)
    return {
        "grand_mean": found.grand_mean,
        "u_mean": found.u_mean,
        "dof": found.dof_a,
        "s_within": found.s_b,
        "s_between": found.s_between,
        "F": found.F,
        "p": found.p,
        "F_critical": found.critical(alpha),
        "u_mean_without_effect": found.u_mean_without_effect,
    }


@computation(
    "simultaneous-means",
    topic="uncertainty",
    gives=("mean", "u_mean", "correlation"),
    formula="u(q)^2 = sum (q_k - mean)^2 / (n (n - 1)); covariance of two means = sum (q_k - "
    "mean q) (r_k - mean r) / (n (n - 1)); correlation = covariance / (u u)",
    source="GUM (JCGM 100:2008) 4.2.3 and 5.2.3, equation 17 (from memory)",
    refuses="fewer than two sets, a set with a gap",
)
def simultaneous_means(readings_set_quantity: Sets) -> Answer:
    """Means of quantities that are read together, with their correlations."""
    found = correlation.simultaneous(readings_set_quantity)
    return {"mean": found.values, "u_mean": found.u, "correlation": found.r}


@computation(
    "drift-interpolated",
    topic="uncertainty",
    gives=("value_mm", "drift_mm"),
    formula="value = before + (after - before) (t - t_before) / (t_after - t_before); drift = "
    "after - before",
    source="drift even in time between two checks (common practice)",
    refuses="an instant not between the two checks, no time between them",
)
def drift_interpolated(
    value_before_mm: Number,
    value_after_mm: Number,
    t_before_h: Number,
    t_after_h: Number,
    t_h: Number,
) -> Answer:
    """A master's value between the check before and the check after."""
    value = studies.interpolated(value_before_mm, value_after_mm, t_before_h, t_after_h, t_h)
    return {"value_mm": value, "drift_mm": value_after_mm - value_before_mm}
