"""A jaw in plan: what it sweeps, what bears, where neighbours meet."""

from math import acos, asin, hypot, inf, pi, sin, sqrt

import pytest

from heldtrue.errors import GeometryError
from heldtrue.mechanics.jaw_outline import outline


def test_a_flat_jaw_turns_in_its_corners_and_reaches_in_with_its_middle():
    jaw = outline("standard", 3, (58.5, 121.5), 90.0)
    assert jaw.ends == (58.5, 121.5)
    assert jaw.least_radius == pytest.approx(58.5)
    assert jaw.greatest_radius == pytest.approx(hypot(121.5, 45.0))
    assert jaw.moved(2.2).greatest_radius == pytest.approx(hypot(123.7, 45.0))
    assert jaw.room_to_neighbours(3) == pytest.approx(58.5 - 45.0 / sqrt(3))


def test_flat_ends_open_into_a_ring_with_their_corners_and_close_on_one_with_their_middle():
    jaw = outline("standard", 3, (58.5, 121.5), 90.0)
    by = jaw.to_sweep(130.0, -1.0)
    assert jaw.moved(by).greatest_radius == pytest.approx(130.0)
    assert jaw.moved(jaw.to_sweep(60.0, 1.0)).least_radius == pytest.approx(60.0)
    assert jaw.to_sweep(44.0, -1.0) == -inf


def test_a_bore_that_leaves_the_corners_bears_over_less():
    jaw = outline("standard", 3, (40.0, 121.5), 60.0)
    assert jaw.half_angle_at(45.0) == pytest.approx(acos(40.0 / 45.0))
    assert jaw.half_angle_at(60.0) == pytest.approx(asin(30.0 / 60.0))
    assert jaw.half_angle_at(39.0) == 0.0


def test_metal_behind_a_turned_jaw_is_least_at_the_edges():
    jaw = outline("standard", 3, (30.0, 121.5), 90.0)
    assert jaw.behind(95.0, -1.0) == pytest.approx(sqrt(95.0**2 - 45.0**2) - 30.0, abs=1e-4)
    assert jaw.behind(95.0, 1.0) == pytest.approx(26.5)


def test_pointed_jaws_can_close_to_the_axis():
    jaw = outline("standard", 3, (2.0, 60.0), 40.0, inner_end="pointed")
    assert jaw.least_radius == pytest.approx(2.0)
    assert jaw.room_to_neighbours(3) == pytest.approx(2.0)
    # the flank meets the bore where sin(60 deg - angle) R = 2 sin(60 deg)
    assert jaw.half_angle_at(12.0) == pytest.approx(pi / 3 - asin(2.0 * sin(pi / 3) / 12.0))
    assert outline("standard", 3, (2.0, 8.0), 40.0, inner_end="pointed").ends == (2.0, 8.0)


def test_segments_are_round_and_part_by_their_gap():
    jaw = outline("pie", 3, (59.0, 119.0), gap=3.0)
    assert (jaw.least_radius, jaw.greatest_radius) == (pytest.approx(59.0), pytest.approx(119.0))
    assert jaw.half_angle_at(70.0) == pytest.approx(pi / 3 - asin(1.5 / 70.0))
    assert jaw.room_to_neighbours(3) == pytest.approx(1.5 / sin(pi / 3))
    assert jaw.to_sweep(119.5, -1.0) == pytest.approx(0.5)


@pytest.mark.parametrize("ends", [(10.0, 10.0), (-20.0, -1.0)])
def test_a_jaw_without_length_is_refused(ends):
    with pytest.raises(GeometryError, match="has no length"):
        outline("standard", 3, ends, 40.0)
