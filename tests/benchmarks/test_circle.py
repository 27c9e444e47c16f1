"""Circles of 20 points, batches and trials of them, and lines, against general libraries."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from scipy.optimize import least_squares, leastsq

from inspect_rec.compute import fitting
from inspect_rec.compute.circles import circles
from inspect_rec.compute.montecarlo import radius_by_trials
from tests.benchmarks.timing import Timed, interleaved

pytestmark = pytest.mark.benchmark

N, SIGMA = 20, 0.002


def many(count: int, seed: int = 6) -> tuple[Any, Any]:
    random = np.random.default_rng(seed)
    turn = np.sort(random.uniform(0, 2 * np.pi, (count, N)), axis=1)
    middle, radius = random.uniform(-50, 50, (2, count, 1)), random.uniform(5, 25, (count, 1))
    x, z = (
        c + radius * f(turn) + random.normal(0, SIGMA, (count, N))
        for c, f in zip(middle, (np.cos, np.sin), strict=True)
    )
    return x, z


def by_scipy(x: Any, z: Any, method: str) -> tuple[float, float]:
    """Radius and its standard uncertainty."""

    def residual(p: Any) -> Any:
        return np.hypot(x - p[0], z - p[1]) - p[2]

    start = [x.mean(), z.mean(), np.hypot(x - x.mean(), z - z.mean()).mean()]
    if method == "leastsq":
        p, cov, info, *_ = leastsq(residual, start, full_output=True)
        left = (info["fvec"] ** 2).sum() / (N - 3)
        return float(p[2]), math.sqrt(cov[2, 2] * left)
    got = least_squares(residual, start, method=method)
    cov = np.linalg.inv(got.jac.T @ got.jac) * 2 * got.cost / (N - 3)
    return float(got.x[2]), math.sqrt(cov[2, 2])


def ours(points: list[tuple[float, float]]) -> tuple[float, float]:
    found = fitting.circle(points)
    return found.radius_mm, found.u_r_over_s * found.residual_std_mm


def raced(routes: Mapping[str, tuple[Callable[[], object], int]]) -> Timed:
    """Routes that do different numbers of pieces in a call: name to call and pieces."""
    timed = interleaved({name: call for name, (call, _) in routes.items()})
    return Timed(
        {name: tuple(t / routes[name][1] for t in taken) for name, taken in timed.micros.items()}
    )


def times(count: int, work: Callable[..., object], *given: Any) -> tuple[Callable[[], object], int]:
    """``work`` so many times in a row, and how many."""

    def run() -> None:
        for _ in range(count):
            work(*given)

    return run, count


def test_one_circle() -> None:
    xs, zs = many(1)
    x, z = xs[0], zs[0]
    points = list(zip(x.tolist(), z.tolist(), strict=True))
    for method in ("leastsq", "lm", "trf"):
        assert ours(points) == pytest.approx(by_scipy(x, z, method), rel=1e-5)
    timed = raced(
        {
            "inspect_rec": times(500, ours, points),
            "scipy leastsq": times(200, by_scipy, x, z, "leastsq"),
            "scipy lm": times(50, by_scipy, x, z, "lm"),
            "scipy trf": times(50, by_scipy, x, z, "trf"),
        }
    )
    print(
        timed.table(
            "A circle of 20 points and u(R) (goal: leastsq at least 4, trf 25)", "inspect_rec"
        )
    )


def test_a_batch_of_circles() -> None:
    x, z = many(10_000)
    found = circles(x, z)
    for k in range(20):
        radius, u = by_scipy(x[k], z[k], "leastsq")
        assert found.radius_mm[k] == pytest.approx(radius, rel=1e-6)
        assert found.u_r_over_s[k] * found.residual_std_mm[k] == pytest.approx(u, rel=1e-4)
    some = list(zip(x[:300], z[:300], strict=True))

    def peer() -> None:
        for a, b in some:
            by_scipy(a, b, "leastsq")

    timed = raced(
        {
            "inspect_rec, arrays": (lambda: circles(x, z), len(x)),
            "scipy leastsq, 300 of them": (peer, len(some)),
        }
    )
    print(
        timed.table(
            "10,000 circles of 20 points (goal: leastsq at least 60)", "inspect_rec, arrays"
        )
    )


def test_trials_of_a_radius() -> None:
    xs, zs = many(1)
    x, z = xs[0], zs[0]
    points = list(zip(x.tolist(), z.tolist(), strict=True))
    trials = 100_000

    def peer(count: int) -> float:
        noise = np.random.default_rng(7).normal(0, SIGMA, (count, 2, N))
        return float(np.std([by_scipy(x + a, z + b, "leastsq")[0] for a, b in noise], ddof=1))

    def mine() -> float:
        return radius_by_trials(points, SIGMA, seed=7, trials=trials).u

    assert mine() == pytest.approx(peer(2000), rel=0.1)
    timed = raced(
        {
            "inspect_rec, 100,000 trials": (mine, trials),
            "scipy leastsq, 500 trials": (lambda: peer(500), 500),
        }
    )
    print(
        timed.table(
            "A trial of a radius (goal: leastsq at least 150)", "inspect_rec, 100,000 trials"
        )
    )


def test_a_line() -> None:
    """The goal can't be reached by a line that gives what ours does. A loop that takes unchecked
    numbers in two lists and gives angle and u alone takes about a ninth of the SVD's time. The
    pass that refuses what is no number or out of reach, the distance of every point and a record
    of it all take as long again: about a quarter of the SVD's time."""
    random = np.random.default_rng(5)
    along, angle = np.linspace(0, 12, N), math.radians(31)
    off = random.normal(0, SIGMA, N)
    x = along * math.cos(angle) - off * math.sin(angle)
    z = along * math.sin(angle) + off * math.cos(angle)
    points = list(zip(x.tolist(), z.tolist(), strict=True))

    def mine() -> tuple[float, float]:
        found = fitting.line(points)
        return found.angle_deg, found.u_angle_deg_over_s * found.residual_std_mm

    def by_svd() -> tuple[float, float]:
        moved = np.column_stack((x - x.mean(), z - z.mean()))
        _, size, turned = np.linalg.svd(moved, full_matrices=False)
        found = math.degrees(math.atan2(turned[0, 1], turned[0, 0]))
        return (found + 90) % 180 - 90, math.degrees(size[1] / math.sqrt(N - 2) / size[0])

    assert mine() == pytest.approx(by_svd(), rel=1e-6)
    timed = interleaved(
        {"inspect_rec": times(300, mine)[0], "numpy SVD": times(300, by_svd)[0]}, 300
    )
    print(timed.table("A line of 20 points and u(angle) (goal: SVD at least 8)", "inspect_rec"))
