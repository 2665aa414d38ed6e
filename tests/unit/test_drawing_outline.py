import re
from time import thread_time
from xml.etree import ElementTree

import pytest

from heldtrue.drawing.outline import Typed, draw_outline, outline_faults

RING = ((70.0, 0.0), (83.0, 0.0), (83.0, 24.0), (79.0, 24.0), (79.0, 32.0), (70.0, 32.0))
SHAFT = ((0.0, 0.0), (20.0, 0.0), (20.0, 60.0), (0.0, 60.0))


def words(svg):
    return [one.text for one in ElementTree.fromstring(svg).iter() if one.tag.endswith("}text")]


@pytest.mark.parametrize("corners", [RING, SHAFT, (*RING, RING[0])])
def test_a_good_outline_has_no_fault_and_every_number(corners):
    assert outline_faults(corners) == []
    said = words(draw_outline(Typed(corners)))
    assert {str(n) for n in range(1, len(corners) + 1)} <= set(said)
    assert not any(one.startswith("!") for one in said)


@pytest.mark.parametrize(("corners", "fault"), [
    (((0, 0), (30, 24), (30, 0), (0, 32)), "the line 1 to 2 meets the line 3 to 4"),
    ((*RING[:3], None, *RING[4:]), "corner 4 cannot be read yet"),
    (((10, 0), (-5, 0), (5, 10)), "corner 2 lies below the centre line"),
    ((RING[0], RING[0], *RING[1:]), "corners 1 and 2 are the same point"),
    (((10, 0), (20, 0)), "an outline needs three different corners"),
    (((10, 0), (20, 0), (15, 0), (15, 9)), "meets"),
    (((10, 0), (20, 5), (30, 10)), "meets"),
])  # fmt: skip
def test_what_is_wrong_is_said_in_words_and_in_the_picture(corners, fault):
    faults = outline_faults(corners)
    assert any(fault in one for one in faults), faults
    assert any(one.startswith("!") for one in words(draw_outline(Typed(tuple(corners)))))


def test_the_corner_being_typed_stands_out_with_its_values():
    said = words(draw_outline(Typed(RING, picked=(False, 3))))
    assert "Ø158, z 24" in said
    assert "Ø158, z 24" not in words(draw_outline(Typed(RING)))


def test_grip_and_surfaces_are_drawn_and_named_safely():
    typed = Typed(RING, (), ("inside", 70.0, 2.0, 14.0), (("<b>land</b>", (79.0, 24.0), (79.0, 32.0)),))
    svg = draw_outline(typed)
    assert "gripped 12" in words(svg)
    assert "<b>" not in svg


def test_everything_lies_on_the_paper():
    for corners in (RING, SHAFT, ((-5, 0), (10, 0), (10, 400)), ((0, 0), (500, 0), (500, 2), (0, 2))):
        svg = draw_outline(Typed(tuple(corners), picked=(False, 1)))
        at = [float(one) for one in re.findall(r'<circle cx="(-?[\d.]+)"', svg)]
        down = [float(one) for one in re.findall(r'cy="(-?[\d.]+)"', svg)]
        assert at
        assert min(at) >= 0
        assert max(at) <= 150
        assert min(down) >= 0
        assert max(down) <= 90


def test_a_long_outline_is_drawn_while_typing():
    many = (*((50.0 + 10 * (i % 2), float(i)) for i in range(100)), (20.0, 100.0), (20.0, 0.0))
    took = []
    for _ in range(5):
        began = thread_time()  # other work on this machine is not ours
        draw_outline(Typed(many))
        took.append(thread_time() - began)
    assert min(took) < 0.02


def test_nothing_typed_yet_is_a_picture_all_the_same():
    assert "no corner yet" in words(draw_outline(Typed(())))
    assert outline_faults(()) == []
