"""The ring the jaws clamp while they are cut."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heldtrue.tooling.blank import Blank, Master, Wanted
from heldtrue.tooling.placing import MIDDLE_SHARE, Way, judge, place
from heldtrue.tooling.ring import (
    ABOVE_CHUCK_MM,
    CLEARANCE_MM,
    LEAST_WALL_MM,
    Ring,
    RingChoice,
    Room,
    bears_at,
    choose,
)
from heldtrue.tooling.ring_strength import Push, too_weak

MASTER = Master(3, tuple(42 + 1.5 * k for k in range(46)), 1.5, 4.4, slot=(30.0, 122.0), nut_length=24,
                body_radius=127.0)  # fmt: skip
BLANK = Blank("wide", 60.0, (-40.0, 55.0), 55.0, holes=(8.0, 34.0), pocket=(20.0, 20.0), head=12.0)
WANTED = Wanted("outside", 45.0, 0.5, 3.5, 24.5, entering=45.0)
ROOM = Room(seat=30.5, front=55.0, grip=44.0, mouth=45.9)
PIE = Blank("pie", 40.0, (-34.0, 26.0), 50.0, holes=(-12.0, 14.0), pocket=(20.0, 32.0), head=12.0, gap=3.0)
OPENING = Wanted("inside", 70.0, 0.5, 3.5, 14.5, entering=70.0)
ROOM_INSIDE = Room(seat=35.5, front=50.0, grip=44.0, mouth=69.1)


def chosen(rings, blank=BLANK, wanted=WANTED, room=ROOM, master=MASTER):
    def again(tooth, stroke):
        found = judge(master, blank, wanted, tooth, stroke)
        return found if isinstance(found, Way) else None

    return choose(rings, place(master, blank, wanted).ways, blank, wanted, room, master.travel, again)


def test_a_plug_of_the_shop_that_sets_the_jaws_near_mid_stroke():
    found = chosen([Ring("A", "plug", 69.0, 0.0, 15.0), Ring("B", "plug", 60.0, 0.0, 15.0)])
    assert found.from_shop
    assert found.way.stroke == pytest.approx(found.set_to / 2 - (MASTER.zeros[found.way.tooth - 1] - 40.0))
    assert abs(found.way.stroke) <= MIDDLE_SHARE * MASTER.travel
    assert found.heights[1] == pytest.approx(ROOM.seat - CLEARANCE_MM)
    assert found.to_tool == pytest.approx(4.0)
    assert found.groove is None
    assert "the jaws close on Ø" in found.words


def test_a_ring_that_would_set_the_jaws_far_off_is_refused_by_its_stroke():
    found = chosen([Ring("small", "plug", 20.0, 0.0, 15.0)])
    assert not found.from_shop
    assert "plug small Ø20 mm: sets the jaws" in found.tried[0]
    assert "in from mid-stroke" in found.tried[0]
    assert found.words.startswith("no ring of yours does: turn a ring Ø70 mm")
    assert found.set_to == pytest.approx(2 * (75.0 - 40.0))
    assert found.way.stroke == 0.0


def test_a_ring_wider_than_the_room_below_the_seat_is_refused():
    found = chosen([Ring("wide", "plug", 70.0, 0.0, 30.0)])
    assert "30 mm wide, but only 26 mm is free below the seat" in found.tried[0]


def test_a_spider_is_set_to_mid_stroke():
    found = chosen([Ring("S", "spider", 74.0, 60.0, 14.0)])
    assert found.from_shop
    assert found.way.stroke == pytest.approx(0.0)
    assert found.set_to == pytest.approx(2 * (found.way.zero - 40.0))


def test_jaws_that_open_need_a_ring_round_them():
    found = chosen([Ring("P", "plug", 238.0, 0.0, 15.0), Ring("thin", "ring", 246.0, 238.0, 15.0),
                    Ring("R", "ring", 262.0, 238.0, 20.0)], PIE, OPENING, ROOM_INSIDE)  # fmt: skip
    assert found.ring.name == "R"
    assert found.set_to == 238.0
    assert "the jaws open into Ø238 mm" in found.words
    assert sum("with a wall of 8 mm or more" in one for one in found.tried) == 2
    none = chosen([], PIE, OPENING, ROOM_INSIDE)
    assert none.ring.inside == pytest.approx(2 * (none.way.zero + 26.0))
    assert none.ring.outside - none.ring.inside >= 2 * LEAST_WALL_MM
    assert none.words.startswith("no rings are listed: turn a ring Ø262 mm / 238 mm")


def test_a_ring_that_does_not_turn_clear_is_refused():
    near = replace(OPENING, swings=(("the chuck", 125.0),))
    found = chosen([Ring("R", "ring", 262.0, 238.0, 20.0)], PIE, near, ROOM_INSIDE)
    assert isinstance(found, tuple)
    assert sum("the chuck clears Ø250 mm" in one for one in found) == 2


SHALLOW = Room(seat=8.0, front=32.5, grip=22.0, mouth=45.9)
DEEP_POCKETS = replace(BLANK, pocket=(20.0, 20.0))


def test_with_no_room_below_the_seat_a_ring_goes_into_a_groove_of_the_jaw_faces():
    found = chosen([], DEEP_POCKETS, WANTED, SHALLOW)
    assert found.groove is not None
    assert found.ring.inside / 2 - SHALLOW.mouth == pytest.approx(4.0)
    assert found.groove.diameters[1] == found.ring.outside == found.set_to
    assert found.groove.diameters[0] < found.ring.inside
    assert "and a groove for it" in found.words
    assert "wide and 4 mm deep in the jaw faces, 4 mm clear of the tool" in found.words
    assert "4 mm clear of the tool" in found.words
    assert "is free below the seat" in found.tried[0]


def test_a_ring_of_the_shop_goes_into_a_groove_before_one_is_turned_for_it():
    found = chosen([Ring("G", "ring", 130.0, 101.0, 12.0)], DEEP_POCKETS, WANTED, SHALLOW)
    assert found.ring.name == "G"
    assert found.groove.diameters == (99.0, 130.0)
    near = chosen([Ring("G", "ring", 130.0, 95.0, 12.0)], DEEP_POCKETS, WANTED, SHALLOW)
    assert not near.from_shop
    assert any("1.6 mm beside the tool" in one for one in near.tried)


def test_a_groove_over_bolt_heads_is_refused_with_what_would_help():
    flush = replace(BLANK, pocket=(20.0, 13.0), holes=(-10.0, 34.0))
    found = chosen([], flush, WANTED, SHALLOW)
    assert isinstance(found, tuple)
    assert any("run over the head of bolt 1" in one for one in found)
    assert "would make room for a ring" in found[-1]


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.builds(
            lambda kind, inside, wall, width: Ring("r", kind, inside + 2 * wall, inside, width),
            st.sampled_from(["ring", "plug", "spider"]),
            st.floats(10.0, 260.0),
            st.floats(2.0, 30.0),
            st.floats(4.0, 40.0),
        ),
        max_size=6,
    ),
    st.sampled_from([(BLANK, WANTED, ROOM), (PIE, OPENING, ROOM_INSIDE), (BLANK, WANTED, SHALLOW)]),
)
def test_a_chosen_ring_is_clear_of_the_tool_and_near_mid_stroke(rings, case):
    blank, wanted, room = case
    found = chosen(rings, blank, wanted, room)
    assert isinstance(found, RingChoice)
    assert found.to_tool >= CLEARANCE_MM - 1e-9
    assert abs(found.way.stroke) <= MIDDLE_SHARE * MASTER.travel + 1e-9
    if found.groove is None:
        assert found.heights[0] >= min(ABOVE_CHUCK_MM, 0.0) - 1e-9
        assert found.heights[1] <= room.seat - CLEARANCE_MM + 1e-9
        stub = found.way.zero + (blank.ends[0] if wanted.side == "outside" else blank.ends[1])
        assert found.set_to == pytest.approx(2 * stub)


def test_a_ring_to_turn_is_taken_where_the_shop_s_would_cost_much_of_the_set():
    """A plug that asks for a tooth further in, which leaves less web: the set is worth more than a plug."""
    near = replace(BLANK, holes=(-2.0, 34.0), pocket=(20.0, 20.0))
    ways = place(MASTER, near, WANTED).ways
    assert ways[0].cuts_left > 5
    poor = next(way for way in ways if way.cuts_left < ways[0].cuts_left - 4)
    plug = Ring("A", "plug", 2 * (poor.zero - 40.0), 0.0, 15.0)
    found = chosen([plug], near)
    assert not found.from_shop
    assert found.way.cuts_left == ways[0].cuts_left
    assert any("leaves" in one and "a ring to turn leaves" in one for one in found.tried)
    best = Ring("B", "plug", 2 * (ways[0].zero - 40.0), 0.0, 15.0)
    assert chosen([plug, best], near).ring.name == "B"


def test_a_ring_that_would_bend_is_refused_and_one_to_turn_is_made_thick_enough():
    wide = replace(PIE, style="standard", width=30.0, holes=(0.0,), pocket=(20.0, 34.0))
    ring = Ring("R", "ring", 236.0, 216.0, 15.0)

    def with_push(push):
        def again(tooth, stroke):
            found = judge(MASTER, wide, OPENING, tooth, stroke)
            return found if isinstance(found, Way) else None

        ways = place(MASTER, wide, OPENING).ways
        return choose([ring], ways, wide, OPENING, ROOM_INSIDE, MASTER.travel, again, push=push)

    held, light = with_push(Push(20e3, 3)), with_push(None)
    assert not held.from_shop
    wall = (held.ring.outside - held.ring.inside) / 2
    assert wall > (light.ring.outside - light.ring.inside) / 2 or light.from_shop
    assert too_weak("ring", Push(20e3, 3), bears_at(held.way, OPENING, held.set_to / 2), held.ring.inside,
                    held.ring.outside, held.ring.width) == ""  # fmt: skip


def test_a_spider_gives_way_to_a_plug_of_as_many_cuts_and_is_refused_where_its_screws_would_give():
    spider = Ring("S", "spider", 74.0, 60.0, 14.0)
    assert chosen([spider]).ring.kind == "spider"
    plug = Ring("P", "plug", 70.0, 0.0, 14.0)
    assert chosen([spider, plug]).ring.name == "P"

    def again(tooth, stroke):
        found = judge(MASTER, BLANK, WANTED, tooth, stroke)
        return found if isinstance(found, Way) else None

    ways = place(MASTER, BLANK, WANTED).ways
    found = choose([spider], ways, BLANK, WANTED, ROOM, MASTER.travel, again, push=Push(30e3, 3))
    assert not found.from_shop
    assert "on a set screw" in found.tried[0]
