"""Lines and true arcs: volumes by hand, corners there and back."""

from math import cos, pi, radians, sin

import pytest

from heldtrue.errors import GeometryError
from heldtrue.mechanics.section import Section
from heldtrue.part_file.outline import Arc, Line, Outline, OutlineCorner, as_one, closed


def ring(radius=None):
    return closed([OutlineCorner(70, 0), OutlineCorner(83, 0), OutlineCorner(83, 24), OutlineCorner(79, 24, radius),
                   OutlineCorner(79, 32), OutlineCorner(70, 32)])  # fmt: skip


def test_a_ball_has_the_volume_of_a_ball():
    ball = Outline.of([Arc((0, -10), (0, 10), (0, 0), True), Line((0, 10), (0, -10))])
    assert ball.volume == pytest.approx(4 / 3 * pi * 1000, rel=1e-12)
    assert ball.z == pytest.approx((-10, 10), abs=1e-9)


def test_an_end_is_where_an_arc_has_its_top_also_between_chords():
    """A bead of radius 10 on a face at z = 5, walked from 37 degrees before its top to 61 after."""
    a, b = (10 * sin(radians(37)), 10 * cos(radians(37))), (-10 * sin(radians(61)), 10 * cos(radians(61)))
    start, end = (40 + a[0], a[1]), (40 + b[0], b[1])
    bead = Outline.of([Arc(start, end, (40, 0), True), Line(end, (end[0], -5)), Line((end[0], -5), (start[0], -5)),
                       Line((start[0], -5), start)])  # fmt: skip
    assert bead.z == pytest.approx((-5, 10), abs=1e-9)
    assert bead.turned_round().z == pytest.approx((-10, 5), abs=1e-9)


def test_pieces_of_one_line_or_circle_are_one():
    quarter = Arc((10, 0), (0, 10), (0, 0), True)
    half = as_one(quarter, Arc((0, 10), (-10, 0), (0, 0), True))
    assert (half.start, half.end, half.length) == ((10, 0), (-10, 0), pytest.approx(10 * pi))
    assert as_one(Line((0, 0), (1, 0)), Line((1, 0), (3, 0))) == Line((0, 0), (3, 0))
    for other in (Line((0, 10), (-5, 10)), Arc((0, 10), (-8, 2), (0, 2), True), Arc((0, 10), (10, 0), (0, 0), True)):
        assert as_one(quarter, other) is None


def test_a_torus_has_the_volume_of_pappus():
    round_ring = Outline.of([Arc((35, 0), (25, 0), (30, 0), True), Arc((25, 0), (35, 0), (30, 0), True)])
    assert round_ring.volume == pytest.approx(2 * pi * 30 * pi * 25, rel=1e-12)


@pytest.mark.parametrize("radius", [None, 2.0])
def test_corners_with_roundings_go_there_and_back(radius):
    body = ring(radius)
    again = closed(body.corners())
    assert again.volume == pytest.approx(body.volume, rel=1e-12)
    assert sorted((c.r, c.z, c.radius) for c in body.corners())[-1] == pytest.approx((83, 24, None))
    assert [c.radius for c in body.corners() if c.radius] == ([pytest.approx(2.0)] if radius else [])


def test_the_fillet_adds_what_a_hand_calculation_adds():
    """The area between a square corner and its arc is r**2 (1 - pi/4), its centroid 0.2234 r off the edges."""
    r = 2.0
    area = r * r * (1 - pi / 4)
    off_edge = r * (1 - 1 / (6 * (1 - pi / 4)))
    centroid = 79 + off_edge
    assert ring(r).volume - ring().volume == pytest.approx(2 * pi * centroid * area, rel=1e-9)


def test_chords_stand_off_by_a_micron_at_most():
    body = Outline.of([Arc((0, -50), (0, 50), (0, 0), True), Line((0, 50), (0, -50))])
    chords = Section.of(body.polygon())
    assert 0 < body.volume - chords.volume < 4 * pi * 50**2 * 1e-3


def test_the_other_end_seats_at_zero():
    body = ring().moved(7.0)
    assert body.seated(True).z == pytest.approx((0, 32))
    other = body.seated(False)
    assert other.volume == pytest.approx(body.volume)
    assert max(r for r, z in other.polygon() if z < 1e-9) == pytest.approx(79)


def test_an_open_outline_says_where():
    with pytest.raises(GeometryError, match=r"open by 1 mm at Ø166, z 24"):
        Outline.of([Line((70, 0), (83, 0)), Line((83, 0), (83, 24)), Line((83, 25), (70, 25)), Line((70, 25), (70, 0))])
