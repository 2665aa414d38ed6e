"""The dimensions of the bore and its lines."""

from dataclasses import replace
from math import hypot, pi, sin

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from heldtrue.errors import GeometryError
from heldtrue.tooling.blank import Blank, Bored, Master, Wanted
from heldtrue.tooling.bore import Asked, design, faced, sizes
from heldtrue.tooling.placing import Way, judge, place
from heldtrue.tooling.ring import Ring, RingChoice

MASTER = Master(3, tuple(42 + 1.5 * k for k in range(46)), 1.5, 4.4, top_height=4.0, slot=(30.0, 122.0),
                nut_length=24, body_radius=127.0, through_radius=38.0)  # fmt: skip
BLANK = Blank("wide", 60.0, (-40.0, 55.0), 55.0, holes=(8.0, 34.0), pocket=(20.0, 20.0), head=12.0)
PIE = Blank("pie", 40.0, (-34.0, 26.0), 50.0, holes=(-12.0, 14.0), pocket=(20.0, 32.0), head=12.0, gap=4.0)
OUTSIDE = Asked("outside", 45.0, 0.0, (2.0, 24.0), 24.0, 28.0, 0.0, (31.0, 45.0), 0.4)
INSIDE = Asked("inside", 70.0, 0.0, (2.0, 14.0), 14.0, 32.0, 0.0, (70.0, 83.0), 0.4)


def made(asked, blank, ring=None):
    size = sizes(asked, blank)
    ready = faced(blank, size.face_off)
    wanted = Wanted(asked.side, asked.radius, size.relief[1], size.ledge, size.floor, entering=asked.radius)
    way = place(MASTER, ready, wanted).best
    assert way is not None
    return design(asked, size, ready, MASTER, way, ring, 18.0), way


def test_an_outside_bore_by_hand():
    found, way = made(OUTSIDE, BLANK)
    inner = way.zero - 40.0
    assert found.diameter == found.mouth_diameter == 90.0
    assert found.depth == 24.0
    assert found.relief == (1.12, 0.5)
    assert found.land == (84.0, 90.0)
    assert found.tolerance == (0.0, 0.02)
    assert found.grip_height == pytest.approx(4.0 + 55.0 - 24.0 + 13.0)
    assert np.array(found.profile) == pytest.approx(np.array(
        [(45.4, 0.0), (45.0, -0.4), (45.0, -22.88), (45.5, -23.38), (45.5, -24.0), (42.0, -24.0), (41.5, -24.5),
         (inner, -24.5)]
    ))  # fmt: skip
    sweeps = hypot(inner + 95, 30.0)  # the outer corners of a jaw 60 mm wide
    corners = [(inner, -55.0), (sweeps, -55.0), (sweeps, 0.0), (inner, 0.0)]
    assert np.array(found.metal) == pytest.approx(np.array(corners))


def test_an_inside_bore_is_turned_from_outside():
    found, way = made(INSIDE, PIE)
    outer = way.zero + 26.0
    assert np.array(found.profile) == pytest.approx(np.array(
        [(69.6, 0.0), (70.0, -0.4), (70.0, -12.88), (69.5, -13.38), (69.5, -14.0), (73.0, -14.0), (73.5, -14.5),
         (outer, -14.5)]
    ))  # fmt: skip
    assert found.land == (140.0, 146.0)
    assert found.tolerance == (-0.02, 0.0)
    step = 2 * sin(pi / 3)
    assert found.gap_open == pytest.approx(4.0 + 2.2 * step)
    assert found.gap_closed == pytest.approx(4.0 - 2.2 * step)


def test_taper_brings_the_tip_to_the_part():
    outside, _ = made(replace(OUTSIDE, taper=0.022), BLANK)
    assert outside.mouth_diameter == pytest.approx(2 * (45.0 - 0.022))
    assert outside.profile[1][0] > outside.mouth_diameter / 2
    inside, _ = made(replace(INSIDE, taper=0.012), PIE)
    assert inside.mouth_diameter == pytest.approx(2 * (70.0 + 0.012))
    # over the gripped length, 2 to 24 above the seat, the radius changes by just the taper
    (_, (x0, z0), (x1, z1), *_) = outside.profile
    assert (x1 - x0) / (z0 - z1) == pytest.approx(0.022 / 22.0)


def test_the_jaws_end_before_the_gripped_surface_does():
    found, _ = made(replace(OUTSIDE, surface_end=25.0), BLANK)
    assert found.depth == 23.0
    assert "the jaws end 2 mm before it" in found.notes[0]
    with pytest.raises(GeometryError, match="nothing left to grip"):
        sizes(replace(OUTSIDE, surface_end=4.0), BLANK)


def test_the_relief_takes_the_edge_of_the_part():
    assert sizes(OUTSIDE, BLANK).relief == (1.12, 0.5)
    chamfered = sizes(replace(OUTSIDE, edge=1.5), BLANK)
    assert chamfered.relief == (1.7, 0.5)
    assert chamfered.land == (40.5, 43.5)
    large_nose = sizes(replace(OUTSIDE, nose_radius=0.8), BLANK)
    assert large_nose.relief == (2.09, 0.9)  # no fillet under a sharp edge
    flat = sizes(replace(OUTSIDE, run_in=27.0), BLANK)
    assert flat.relief == (1.53, 0.5)  # 0.5 / tan 27 + 0.4 (1 + tan 13.5) + 0.05
    with pytest.raises(GeometryError, match="take one of 55 degrees or less"):
        sizes(replace(OUTSIDE, run_in=2.0), BLANK)
    narrow = sizes(replace(OUTSIDE, relief_width=0.6), BLANK)
    assert "leaves the nose no room" in narrow.notes[0]
    assert sizes(replace(OUTSIDE, relief_width=2.5, relief_depth=0.3), BLANK).relief == (2.5, 0.3)
    assert "takes 0.5 mm of the gripped length" in sizes(replace(OUTSIDE, relief_width=2.5), BLANK).notes[0]


def test_without_a_seat_the_floor_lies_free():
    found, _ = made(replace(OUTSIDE, seat=None), BLANK)
    assert found.land is None
    assert found.profile[-2] == pytest.approx((45.5, -24.5))
    assert found.profile[-1][1] == -24.5


def test_a_seat_face_narrower_than_asked_for_is_taken_as_it_is():
    found, _ = made(replace(OUTSIDE, seat=(43.0, 45.0), seat_land=5.0), BLANK)
    assert found.land == (86.0, 90.0)


def test_an_old_seat_is_skimmed_and_the_fronts_are_faced_where_it_gets_too_deep():
    used = replace(BLANK, bored=Bored(44.0, 24.0, 23))
    found, _ = made(OUTSIDE, used)
    assert found.depth == 24.25
    assert found.face_off == 0.0
    deep = replace(BLANK, bored=Bored(44.0, 25.9, 23))
    faced_off, _ = made(OUTSIDE, deep)
    assert faced_off.depth == 26.0
    assert faced_off.face_off == pytest.approx(0.15)
    assert faced_off.height == pytest.approx(54.85)
    assert "face 0.15 mm off the jaw fronts first" in " ".join(faced_off.notes)


def test_the_old_bore_is_air():
    used = replace(BLANK, bored=Bored(44.0, 24.0, 23))
    found, way = made(OUTSIDE, used)
    old = 44.0 + way.zero - MASTER.zeros[22]
    metal = shapely.Polygon(found.metal)
    assert metal.is_valid
    assert not metal.contains(shapely.Point(old - 0.1, -10.0))
    assert metal.contains(shapely.Point(old + 0.1, -10.0))


def test_what_must_not_be_touched_lies_clear_of_the_cut():
    way = made(OUTSIDE, BLANK)[1]
    ring = RingChoice(Ring("r", "plug", 70.0, 0.0, 15.0), True, 70.0, (11.5, 26.5), None, 20.0, 4.0, way, "", ())
    found, _ = made(OUTSIDE, BLANK, ring)
    by = {one.name: shapely.Polygon(one.outline) for one in found.keep_outs}
    assert set(by) == {"chuck face", "bolt 1", "bolt 2", "ring"}
    line = shapely.LineString(found.profile)
    assert by["ring"].bounds == pytest.approx((0.0, -43.5, 35.0, -28.5))
    assert line.distance(by["ring"]) == pytest.approx(4.0)
    assert by["bolt 1"].bounds == pytest.approx((way.zero + 8 - 9, -20.0, way.zero + 8 + 9, -8.0))
    assert by["chuck face"].bounds[3] == pytest.approx(-59.0)
    assert all(line.distance(one) > 0.5 for one in by.values())


@settings(max_examples=200, deadline=None)
@given(
    side=st.sampled_from(["outside", "inside"]),
    radius=st.floats(30.0, 110.0),
    low=st.floats(0.5, 4.0),
    length=st.floats(4.0, 30.0),
    taper=st.floats(-0.1, 0.1),
    edge=st.floats(0.0, 2.0),
    nose=st.sampled_from([0.2, 0.4, 0.8]),
    land=st.floats(2.0, 10.0),
    stroke=st.floats(-0.7, 0.7),
)
def test_the_cut_lies_in_the_metal_and_never_turns_back(side, radius, low, length, taper, edge, nose, land, stroke):
    grip = (low, low + length)
    seat = (radius - 15, radius) if side == "outside" else (radius, radius + 15)
    asked = Asked(side, radius, taper, grip, low + length, low + length + 5, edge, seat, nose, seat_land=land)
    blank = Blank("pie", 40.0, (-200.0, 200.0), 80.0, gap=8.0)
    size = sizes(asked, blank)
    wanted = Wanted(side, radius, size.relief[1], size.ledge, size.floor)
    way = judge(replace(MASTER, zeros=(201.0,), slot=None), blank, wanted, 1, stroke)
    assert isinstance(way, Way), way
    found = design(asked, size, blank, MASTER, way, None, 18.0)
    depths = [-z for _, z in found.profile]
    assert depths == sorted(depths)
    assert shapely.LineString(found.profile).is_simple
    metal = shapely.Polygon(found.metal)
    assert metal.buffer(1e-6).covers(shapely.LineString(found.profile))
    assert found.depth <= asked.surface_end - 2.0 + 1e-9
