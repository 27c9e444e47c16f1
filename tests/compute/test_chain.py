"""Chains of lines and arcs: each point finds its element, and what was planted is found."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspect_rec.compute import chain, contour
from inspect_rec.compute.chain import Link
from inspect_rec.compute.contour import Point
from inspect_rec.errors import ComputeError

shifts = st.floats(-0.03, 0.03)

# Along the end to the right, round a convex corner of 0.8 and a concave one of 1.5, down the
# side: the body below and to the left, on the right hand of the way.
LINKS = (
    chain.line((0.0, 5.0), (2.2, 5.0)),
    chain.arc((2.2, 5.0), (3.0, 4.2), 0.8, convex=True),
    chain.line((3.0, 4.2), (3.0, 2.5)),
    chain.arc((3.0, 2.5), (4.5, 1.0), 1.5, convex=False),
    chain.line((4.5, 1.0), (7.0, 1.0)),
)


def on(link: Link, part: float) -> Point:
    """A point of the element itself."""
    (x0, z0), (x1, z1) = link.start, link.end
    if isinstance(link.element, contour.Straight):
        return x0 + part * (x1 - x0), z0 + part * (z1 - z0)
    cx, cz = link.element.centre
    first, last = math.atan2(z0 - cz, x0 - cx), math.atan2(z1 - cz, x1 - cx)
    turn = first + part * ((last - first + math.pi) % (2 * math.pi) - math.pi)
    r = link.element.radius_mm
    return cx + r * math.cos(turn), cz + r * math.sin(turn)


ON = [on(link, part) for link in LINKS for part in (0.1, 0.35, 0.65, 0.9)]
OWN = tuple(n for n in range(5) for _ in range(4))


def moved(points: list[Point], x: float, z: float, turn_deg: float) -> list[Point]:
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return [(x + c * a - s * b, z + s * a + c * b) for a, b in points]


def test_arcs_of_a_chain_have_their_centres_where_the_drawing_has_them() -> None:
    convex, concave = LINKS[1].element, LINKS[3].element
    assert isinstance(convex, contour.Arc)
    assert isinstance(concave, contour.Arc)
    assert convex.centre == pytest.approx((2.2, 4.2))
    assert concave.centre == pytest.approx((4.5, 2.5))


def test_metal_that_is_left_counts_plus_all_along_the_chain() -> None:
    for link, (x, z) in zip(
        LINKS, [(1.0, 5.1), (2.9, 4.9), (3.1, 3.5), (3.6, 1.6), (6.0, 1.1)], strict=True
    ):
        assert link.element.deviation((x, z))[0] > 0


@given(shifts, shifts, st.floats(-0.3, 0.3))
@settings(max_examples=60)
def test_a_whole_profile_set_off_and_turned_is_found_and_each_point_with_its_element(
    x: float, z: float, turn: float
) -> None:
    found = chain.fit_chain(moved(ON, x, z, turn), LINKS, contour.FREEDOMS)
    place = found.fit.shift_x_mm, found.fit.shift_z_mm, found.fit.rotation_deg
    assert place == pytest.approx((x, z, turn), abs=1e-8)
    assert max(map(abs, found.fit.deviations_mm)) < 1e-9
    assert found.belongs == OWN
    assert found.beyond_mm < 1e-9


@given(st.sampled_from(range(20)), st.floats(-0.02, 0.02))
def test_a_point_that_stands_off_shows_it_and_the_others_are_left_in_peace(
    which: int, off: float
) -> None:
    _, nx, nz = LINKS[OWN[which]].element.deviation(ON[which])
    read = list(ON)
    read[which] = (ON[which][0] + off * nx, ON[which][1] + off * nz)
    found = chain.fit_chain(read, LINKS, ())
    assert found.fit.deviations_mm[which] == pytest.approx(off, abs=1e-9)
    others = [d for n, d in enumerate(found.fit.deviations_mm) if n != which]
    assert max(map(abs, others)) < 1e-9


@given(st.floats(-180, 180), st.floats(-40, 40), st.floats(-40, 40))
@settings(max_examples=40)
def test_a_chain_that_is_turned_and_shifted_whole_has_the_same_deviations(
    turn: float, x: float, z: float
) -> None:
    read = [(a + 0.004 * (n % 3 - 1), b) for n, (a, b) in enumerate(ON)]
    before = chain.fit_chain(read, LINKS, contour.FREEDOMS).fit
    turned = []
    for link in LINKS:
        start, end = moved([link.start, link.end], x, z, turn)
        if isinstance(link.element, contour.Straight):
            turned.append(chain.line(start, end))
        else:
            r = link.element.radius_mm
            turned.append(chain.arc(start, end, r, convex=link.element.convex))
    after = chain.fit_chain(moved(read, x, z, turn), turned, contour.FREEDOMS).fit
    assert after.deviations_mm == pytest.approx(before.deviations_mm, abs=1e-8)


def test_a_point_outside_a_sharp_corner_counts_with_the_side_that_it_is_further_from() -> None:
    corner = (chain.line((0, 5), (3, 5)), chain.line((3, 5), (3, 0)))
    assert chain.nearest((3.02, 5.01), corner) == 1
    assert chain.nearest((3.01, 5.02), corner) == 0
    found = chain.fit_chain([(1, 5), (3, 1), (3.02, 5.01)], corner, ())
    assert found.fit.deviations_mm[2] == pytest.approx(0.02)
    assert found.beyond_mm == 0


def test_a_point_past_the_end_of_the_contour_is_measured_how_far() -> None:
    read = [*ON, (7.25, 1.0), (-0.4, 5.01)]
    assert chain.fit_chain(read, LINKS, ()).beyond_mm == pytest.approx(0.4)
    past_arc = LINKS[:2]
    assert chain.fit_chain([(1.0, 5.0), (3.0, 4.0)], past_arc, ()).beyond_mm == pytest.approx(
        math.sqrt(0.2**2 - (math.hypot(0.8, 0.2) - 0.8) ** 2)
    )
    closed = (*LINKS[:1], chain.line((2.2, 5.0), (1.0, 8.0)), chain.line((1.0, 8.0), (0.0, 5.0)))
    assert chain.fit_chain([(-0.1, 5.0)], closed, ()).beyond_mm == 0


def test_a_profile_far_from_its_place_is_found_where_its_elements_are_long() -> None:
    """Set off by a third of the corner: the first nearest elements are wrong for some points."""
    read = moved(ON, 0.25, -0.2, 0.0)
    assert tuple(chain.nearest(point, LINKS) for point in read) != OWN
    found = chain.fit_chain(read, LINKS, ("X", "Z"))
    assert (found.fit.shift_x_mm, found.fit.shift_z_mm) == pytest.approx((0.25, -0.2), abs=1e-8)
    assert found.belongs == OWN


def test_what_is_no_contour_is_refused() -> None:
    with pytest.raises(ComputeError, match="too far apart"):
        chain.arc((0, 0), (2.01, 0), 1.0, convex=True)
    with pytest.raises(ComputeError, match="arc"):
        chain.arc((0, 0), (0, 0), 1.0, convex=True)
    with pytest.raises(ComputeError, match="straight"):
        chain.line((1, 1), (1, 1))
    with pytest.raises(ComputeError, match="needs an element"):
        chain.fit_chain([(0, 0)], (), ())
    with pytest.raises(ComputeError, match="hold"):
        chain.fit_chain([(0.1, 5), (1, 5), (2, 5)], LINKS, ("X", "Z"))
    with pytest.raises(ComputeError, match="no number"):
        chain.fit_chain([(math.nan, 5)], LINKS, ())
    half = chain.arc((-1, 0), (1, 0), 1.0, convex=True)
    assert half.distances()(0.0, 1.0) == (0.0, 0.0)
    assert half.distances()(0.0, -0.5)[0] > 1


def test_points_that_go_to_and_fro_at_a_corner_rest_where_their_squares_are_least() -> None:
    corner = (chain.line((0, 5), (3, 5)), chain.line((3, 5), (3, 0)))
    read = [(3.332, 5.27), (3.027, 5.214), (3.026, 4.652), (2.632, 4.706), (2.733, 5.031)]
    found = chain.fit_chain(read, corner, ("X", "Z"))
    elements = [link.element for link in corner]
    one, other = (
        contour.fit(read, elements, (first, 0, 1, 0, 0), ("X", "Z")).rms_mm for first in (0, 1)
    )
    assert found.fit.rms_mm == min(one, other)
    assert one != other


def walked(links: tuple[Link, ...], step: float = 1e-3) -> list[tuple[float, Point]]:
    """Places of a chain by the way walked to them, in small steps."""
    found, far, before = list[tuple[float, Point]](), 0.0, links[0].start
    for link in links:
        count = 2 + int(3 * math.dist(link.start, link.end) / step)
        for k in range(count + 1):
            here = on(link, k / count)
            far, before = far + math.dist(before, here), here
            found.append((far, here))
    return found


def test_how_far_along_a_point_lies_is_the_way_that_is_walked_to_its_foot() -> None:
    way = walked(LINKS)
    off = [
        (x + 0.01 * nx, z + 0.01 * nz)
        for (x, z), own in zip(ON, OWN, strict=True)
        for _, nx, nz in [LINKS[own].element.deviation((x, z))]
    ]
    found = chain.fit_chain(off, LINKS, ())
    wanted = [min(way, key=lambda at: math.dist(at[1], point))[0] for point in off]
    assert chain.along(found, LINKS) == pytest.approx(wanted, abs=2e-3)
    assert sum(link.length_mm for link in LINKS) == pytest.approx(way[-1][0], abs=1e-5)


@given(shifts, shifts, st.floats(-0.3, 0.3))
@settings(max_examples=20)
def test_how_far_along_points_lie_is_the_same_wherever_the_profile_sits(
    x: float, z: float, turn: float
) -> None:
    still = chain.fit_chain(ON, LINKS, contour.FREEDOMS)
    found = chain.fit_chain(moved(ON, x, z, turn), LINKS, contour.FREEDOMS)
    wanted = chain.along(still, LINKS)
    assert chain.along(found, LINKS) == pytest.approx(wanted, abs=1e-6)
    turned = [after - before - turn for after, before in zip(
        chain.normals(found, LINKS), chain.normals(still, LINKS), strict=True
    )]  # fmt: skip
    assert turned == pytest.approx([0.0] * len(ON), abs=1e-6)


def test_a_point_moved_along_its_normal_has_more_metal_by_as_much() -> None:
    still = chain.fit_chain(ON, LINKS, ())
    for n, angle in enumerate(map(math.radians, chain.normals(still, LINKS))):
        own = [(x + 1e-3 * math.cos(angle) * (k == n), z + 1e-3 * math.sin(angle) * (k == n))
               for k, (x, z) in enumerate(ON)]  # fmt: skip
        found = chain.fit_chain(own, LINKS, ())
        assert found.fit.deviations_mm[n] - still.fit.deviations_mm[n] == pytest.approx(1e-3)


@pytest.mark.parametrize("convex", [True, False])
def test_past_either_end_of_half_a_turn_a_point_goes_on_along_it(convex: bool) -> None:
    half = chain.arc((-2.0, 0.0), (2.0, 0.0), 2.0, convex=convex)
    assert half.length_mm == pytest.approx(2 * math.pi)
    side = 1 if convex else -1
    over = [(2 * math.cos(t), side * 2 * math.sin(t)) for t in (math.pi + 0.01, 1.0, -0.01)]
    wanted = [-0.02, 2 * (math.pi - 1.0), 2 * math.pi + 0.02]
    assert [half.along(point) for point in over] == pytest.approx(wanted)
