from math import pi

import pytest

from heldtrue.errors import GeometryError
from heldtrue.mechanics.section import Section

RING = [(45, 0), (55, 0), (55, 20), (45, 20)]
CUP = [(0, 0), (60, 0), (60, 50), (56, 50), (56, 8), (0, 8)]


def test_either_direction_and_a_repeated_corner_give_the_same_section():
    assert set(Section.of(RING).corners) == set(Section.of([*RING, RING[0]]).corners)
    assert set(Section.of(RING[::-1]).corners) == set(Section.of(RING).corners)


def test_mass_properties_of_a_ring_are_those_of_the_formulas():
    ring = Section.of(RING)
    assert ring.volume == pytest.approx(pi * (55**2 - 45**2) * 20, rel=1e-12)
    assert ring.centroid_z == pytest.approx(10.0, rel=1e-12)
    mass = ring.volume * 8e-6
    assert ring.polar_inertia(8e-6) == pytest.approx(mass * (55**2 + 45**2) / 2, rel=1e-12)


def test_mass_properties_of_a_cone_are_those_of_the_formulas():
    cone = Section.of([(0, 0), (30, 0), (0, 40)])
    assert cone.volume == pytest.approx(pi * 30**2 * 40 / 3, rel=1e-12)
    assert cone.centroid_z == pytest.approx(10.0, rel=1e-12)
    assert cone.polar_inertia(1.0) == pytest.approx(0.3 * cone.volume * 30**2, rel=1e-12)


def test_spans_find_cylinders_by_side():
    cup = Section.of(CUP)
    assert cup.spans("outside", 60) == ((0.0, 50.0),)
    assert cup.spans("inside", 56) == ((8.0, 50.0),)
    assert cup.spans("inside", 60) == ()


def test_a_groove_splits_a_span():
    grooved = Section.of([(20, 0), (40, 0), (40, 10), (35, 10), (35, 15), (40, 15), (40, 30), (20, 30)])
    assert grooved.spans("outside", 40) == ((0.0, 10.0), (15.0, 30.0))
    with pytest.raises(GeometryError, match=r"z = 0 to 10, z = 15 to 30"):
        grooved.require_span("outside", 40, (5, 20))


def test_walls_are_measured_straight_through():
    walls = {edge.start + edge.end: Section.of(CUP).wall_at(edge) for edge in Section.of(CUP).edges}
    assert walls[(60.0, 0.0, 60.0, 50.0)] == pytest.approx(4.0)
    assert walls[(56.0, 8.0, 0.0, 8.0)] == pytest.approx(8.0)


def test_only_the_inner_corner_of_a_cup_is_reentrant():
    cup = Section.of(CUP)
    assert [cup.corners[i] for i in cup.reentrant_corners()] == [(56.0, 8.0)]


@pytest.mark.parametrize(
    ("profile", "words"),
    [
        ([(0, 0), (10, 10), (10, 0), (0, 10)], "crosses or touches itself"),
        ([(-1, 0), (3, 0), (3, 3)], "crosses the axis"),
        ([(1, 0), (2, 0), (3, 0)], "at least three"),
        ([(1, 0), (2, 0)], "at least three"),
        ([(1, 0), (float("nan"), 0), (3, 3)], "not a finite number"),
        ([(1, 0), (1, 0), (1, 1e-9), (1, 0)], "at least three"),
    ],
)
def test_profiles_that_cannot_be_are_refused_in_words(profile, words):
    with pytest.raises(GeometryError, match=words):
        Section.of(profile)
