"""Which tooth puts the wanted diameter at mid-stroke, and why the others do not."""

from dataclasses import replace
from math import pi, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heldtrue.mechanics.jaw_outline import FLAT, POINTED
from heldtrue.tooling.blank import Blank, Bored, Master, Wanted
from heldtrue.tooling.placing import BEHIND_BORE_MM, ENTRY_MM, MIDDLE_SHARE, Refused, Way, judge, place

MASTER = Master(3, tuple(42 + 1.5 * k for k in range(46)), 1.5, 4.4, top_height=4, slot=(30.0, 122.0), nut_length=24,
                body_radius=127.0, through_radius=38.0)  # fmt: skip
BLANK = Blank("wide", 60.0, (-40.0, 55.0), 55.0, holes=(8.0, 34.0), pocket=(20.0, 20.0), head=12.0)
WANTED = Wanted("outside", 45.0, 0.5, 3.5, 24.5, entering=45.0, swings=(("the chuck", 160.0),))


def test_the_best_tooth_stands_at_mid_stroke_with_all_the_web_there_is():
    found = place(MASTER, BLANK, WANTED)
    best = found.best
    assert best.stroke == 0.0
    assert (best.opening, best.closing) == (2.2, 2.2)
    # by hand: the outer nut ends at zero + 34 + 12, its slot at 122, so zero is 76 at most; the teeth are 42 + 1.5 k
    assert best.zero == pytest.approx(75.0)
    assert best.web == pytest.approx(best.zero + 8 - 10 - 45.5)
    assert best.metal == pytest.approx(45 - (best.zero - 40))
    assert best.tooth == 23
    assert best.nut_margin == pytest.approx(127.0 - (75.0 + 34.0 + 12.0) - 2.2)  # rim, outer end of the nut, opening
    assert best.zero == MASTER.zeros[best.tooth - 1]
    assert f"tooth {best.tooth} on every jaw, cut at mid-stroke" in found.words[0]


def test_every_tooth_is_either_a_way_or_refused_in_words():
    found = place(MASTER, BLANK, WANTED)
    assert {w.tooth for w in found.ways} | {r.tooth for r in found.refused} == set(range(1, 47))
    assert all(reason.strip() and not reason[0].isupper() for one in found.refused for reason in one.reasons)


def test_ways_are_ranked_by_stroke_then_life_then_web():
    ways = place(MASTER, BLANK, WANTED).ways
    keys = [(-round(w.stroke_left / (4.4 / 12)), -w.cuts_left, -w.web) for w in ways]
    assert keys == sorted(keys)
    assert len(ways) > 5


def refusal(tooth, master=MASTER, blank=BLANK, wanted=WANTED, stroke=0.0):
    found = judge(master, blank, wanted, tooth, stroke)
    assert isinstance(found, Refused), found
    return "; ".join(found.reasons)


def test_each_refusal_says_why():
    assert "T-nut would stand" in refusal(23, master=replace(MASTER, body_radius=120.0))
    assert "past the rim" in refusal(23, master=replace(MASTER, body_radius=120.0))
    assert "outer end of its slot" in refusal(23, master=replace(MASTER, slot=(30.0, 110.0)))
    assert "the chuck clears Ø250 mm" in refusal(23, wanted=replace(WANTED, swings=(("the chuck", 125.0),)))
    assert "the seat needs 3.5 mm" in refusal(30)
    assert "of web to the bolt pocket is under 7 mm" in refusal(14, wanted=replace(WANTED, radius=54.0, entering=54.0))
    assert "open the pocket of bolt 1" in refusal(23, wanted=replace(WANTED, radius=80.0, entering=80.0))
    assert "left behind the bore" in refusal(23, wanted=replace(WANTED, radius=130.0, entering=130.0))
    assert "too high under the seat" in refusal(23, wanted=replace(WANTED, radius=120.0, entering=120.0))
    assert "the part needs" in refusal(23, wanted=replace(WANTED, entering=48.0))
    assert "run into each other" in refusal(1)
    assert "stroke is left in the gripping direction" in refusal(23, stroke=-1.9)
    assert "too little of a jaw" in refusal(23, wanted=replace(WANTED, depth=50.0))


def test_the_part_goes_in_when_the_jaws_open_far_enough_and_not_a_hundredth_less():
    limit = WANTED.radius + MASTER.travel / 2 - ENTRY_MM
    assert isinstance(judge(MASTER, BLANK, replace(WANTED, entering=limit), 23, 0.0), Way)
    assert "to go in" in refusal(23, wanted=replace(WANTED, entering=limit + 0.01))


def test_pie_segments_meet_before_the_end_of_the_stroke():
    blank = Blank("pie", 40.0, (-34.0, 26.0), 50.0, holes=(-12.0, 14.0), pocket=(20.0, 32.0), head=12.0, gap=3.0)
    wanted = Wanted("inside", 70.0, 0.5, 3.5, 14.5, entering=70.0)
    best = place(MASTER, blank, wanted).best
    assert best.closing == pytest.approx(3.0 / (2 * sin(pi / 3)))
    assert best.gap == pytest.approx(0.0, abs=1e-12)
    assert "segments meet 0.47 mm before the end" in best.notes[0]
    wide = place(MASTER, replace(blank, gap=4.0), wanted).best
    assert wide.closing == 2.2
    assert wide.gap == pytest.approx(4.0 - 2 * 2.2 * sin(pi / 3))
    assert not wide.notes


def test_a_used_set_moves_a_tooth_where_its_bore_is_too_large():
    used = replace(BLANK, bored=Bored(45.5, 24.0, 23))
    assert "bored too large for it: Ø91 mm there" in refusal(23, blank=used)
    found = place(MASTER, used, WANTED)
    assert found.best.tooth == 22
    assert found.best.metal == pytest.approx(45.0 - (45.5 - 1.5))


def test_a_used_set_is_offered_where_the_least_metal_goes():
    used = replace(BLANK, bored=Bored(44.3, 24.0, 23))
    ways = [way for way in place(MASTER, used, WANTED).ways if way.tooth == 23]
    assert {round(way.stroke, 3) for way in ways} == {0.0, 0.5}
    # half a millimetre off, the edges of a 60 mm jaw stand 0.5 (1 - cos 42.7 deg) further in than its middle: 0.2 there
    assert {round(way.metal, 3) for way in ways} == {0.7, 0.304}
    assert all(abs(way.stroke) <= MIDDLE_SHARE * MASTER.travel for way in ways)


def test_tongue_and_groove_has_positions_and_no_tooth_to_be_off():
    master = replace(MASTER, zeros=(60.0, 72.0), pitch=None)
    found = place(master, BLANK, WANTED)
    assert found.a_tooth_off is None
    assert [way.zero for way in found.ways] == [72.0, 60.0]
    assert "position 2 on every jaw" in found.words[0]


def test_one_jaw_a_tooth_off_is_named_with_its_runout():
    found = place(MASTER, BLANK, WANTED)
    assert found.a_tooth_off == pytest.approx(2.0)
    assert "one jaw one tooth off makes a run-out of about 2 mm" in found.words[1]


def test_cuts_left_fall_by_one_for_every_half_millimetre_of_web():
    near = judge(MASTER, BLANK, replace(WANTED, radius=45.0), 20, 0.0)
    far = judge(MASTER, BLANK, replace(WANTED, radius=50.0, entering=50.0), 20, 0.0)
    assert near.web - far.web == pytest.approx(5.0)
    assert min(near.cuts_left, 25) - far.cuts_left == min(near.cuts_left, 25) - int((far.web - 7) / 0.5)


DRAWN = given(
    side=st.sampled_from(["outside", "inside"]),
    style=st.sampled_from(["standard", "wide", "pie"]),
    radius=st.floats(3.0, 400.0),
    depth=st.floats(5.0, 60.0),
    bored=st.one_of(st.none(), st.tuples(st.floats(3.0, 400.0), st.floats(2.0, 50.0), st.integers(1, 46))),
    ends=st.tuples(st.floats(-80.0, -5.0), st.floats(5.0, 80.0)),
    gap=st.floats(0.5, 8.0),
)


@settings(max_examples=60, deadline=None)
@DRAWN
def test_any_diameter_gets_a_tooth_with_stroke_both_ways_or_a_reason(side, style, radius, depth, bored, ends, gap):
    a_tooth_or_a_reason(side, style, radius, depth, bored, ends, gap)


@pytest.mark.long
@settings(max_examples=600, deadline=None)
@DRAWN
def test_many_a_diameter_gets_a_tooth_with_stroke_both_ways_or_a_reason(side, style, radius, depth, bored, ends, gap):
    a_tooth_or_a_reason(side, style, radius, depth, bored, ends, gap)


def a_tooth_or_a_reason(side, style, radius, depth, bored, ends, gap):
    blank = Blank(style, 50.0, ends, 60.0, holes=(-4.0, 20.0), pocket=(20.0, 20.0), head=12.0, gap=gap,
                  bored=None if bored is None else Bored(*bored))  # fmt: skip
    wanted = Wanted(side, radius, 0.5, 3.5, depth, entering=radius, swings=(("the chuck", 160.0),))
    found = place(MASTER, blank, wanted)
    out = wanted.outward
    for way in found.ways:
        assert way.opening > 0
        assert way.closing > 0
        assert way.opening <= MASTER.travel
        assert abs(way.stroke) <= MIDDLE_SHARE * MASTER.travel + 1e-9
        assert way.web is None or way.web >= blank.web_limit
        assert way.turning <= 160.0
        assert way.nut_margin >= 0
        inner, outer = (way.zero + end for end in ends)
        front, back = (inner, outer) if out > 0 else (outer, inner)
        assert out * (radius - front) >= wanted.ledge - 1e-9
        assert out * (back - radius) >= BEHIND_BORE_MM
        assert way.metal > 0
    if not found.ways:
        assert len(found.refused) == 46
        assert all(one.reasons for one in found.refused)
        assert found.words[0].startswith("no tooth puts that diameter at mid-stroke")


def test_more_cuts_than_a_set_ever_sees_are_not_counted():
    way = place(MASTER, BLANK, WANTED).best
    assert replace(way, cuts_left=25).cuts_words == "at least 25"
    assert replace(way, cuts_left=7).cuts_words == "7"


@pytest.mark.parametrize(("inner_end", "hole", "said"), [
    (FLAT, -28.0, ""), (POINTED, -20.0, ""),
    (POINTED, -28.0, "the pocket of bolt 1 leaves 0.39"),  # 12 sin 60 - 10
    (POINTED, -35.0, "the pocket of bolt 1 breaks out of the side or end of the jaw by 5.67 mm"),
    (FLAT, -35.0, "the pocket of bolt 1 breaks out of the side or end of the jaw by 5 mm"),
    (FLAT, 60.0, "the pocket of bolt 1 breaks out of the side or end of the jaw by 15 mm"),
])  # fmt: skip
def test_a_bolt_pocket_stays_inside_the_jaw(inner_end, hole, said):
    """What lies beyond a pocket that breaks out would be a loose piece; the point of one of three jaws opens 60 degrees
    to each side."""
    found = judge(MASTER, replace(BLANK, inner_end=inner_end, holes=(hole,)), WANTED, 23, 0.0)
    pockets = [one for one in (found.reasons if isinstance(found, Refused) else ()) if "side or end" in one]
    assert len(pockets) == bool(said)
    assert all(said in one for one in pockets)
