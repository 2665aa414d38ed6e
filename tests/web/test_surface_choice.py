"""Surfaces of the part are chosen from lists on the plan page, not typed again."""

import pytest

from heldtrue.web import texts
from heldtrue.web.fields import get, put
from heldtrue.web.named_surfaces import named_surfaces
from heldtrue.web.sections import cut_fields
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, at_rest
from web.test_pages import only, typed

OF_THE_BORE = ("part.surface_condition", "jaws.friction", "jaws.bore_diameter", "jaws.last_cut", "jaws.number")
RING = open_example(EXAMPLES, "wear-ring")


def names(table):
    return [one.name for one in named_surfaces(table)]


def test_a_part_names_its_surfaces_but_what_is_not_round():
    assert names(RING) == ["face z 0", "outside Ø166", "face z 24", "outside Ø158", "face z 32", "bore Ø140"]
    hexagon = {"what": "hexagon", "side": "outside", "diameters": [140, "158 mm"], "z": [24, 32]}
    part = RING["part"] | {"not_round": [hexagon]}
    assert "outside Ø158" not in names(RING | {"part": part})
    inch = {"units": "inch", "part": {"profile": [[1, 0], ["50.8 mm", 0], [2, 1, {"chamfer": 0.02}], [1, 1]]}}
    assert names(inch) == ["face z 0", "outside Ø2", "face z 1", "bore Ø1"]
    for half_typed in ([], [[1, 0], [2, None], [1, 1]], [[1], [2, 0], [1, 1]], [["x", 0], [2, 0], [1, 1]], None, 7):
        assert names({"part": {"profile": half_typed}}) == []


def test_a_cut_is_offered_the_surfaces_of_its_kind():
    def offered(kind):
        table = RING | {"cut": [{"kind": kind}]}
        return next(one.words for one in cut_fields(table, 0)[0] if one.path == "cut.0.surface")

    assert {"outside Ø166", "outside Ø158"} <= set(offered("turn"))
    assert "bore Ø140" not in offered("turn")
    assert "bore Ø140" in offered("bore")
    assert "face z 24" in offered("face")


@pytest.mark.long
def test_grip_and_surfaces_are_chosen_from_a_list(visit):
    async def steps(user, desk):
        table = put(put(RING, "part.surface_condition", "ground"), "jaws.friction", 0.2)
        desk.drafts.new("ring", put(table, "jaws.bore_diameter", 140.02))
        await user.open("/plan/ring")
        await user.should_see(marker="grip-surface")
        assert only(user, "grip-surface").options == ["outside Ø166", "outside Ø158", "bore Ø140"]
        await typed(user, "grip-surface", "outside Ø158")  # gripped z 2 to 14 is not on it
        await user.should_see(texts.GRIP_ELSEWHERE.format(name="outside Ø158", low=24, high=32))
        assert desk.drafts.get("ring").table["grip"] == RING["grip"]
        await typed(user, "grip-surface", "outside Ø166")
        await at_rest(desk)
        grip = desk.drafts.get("ring").table["grip"]
        assert (grip["side"], grip["diameter"], "diameter_tolerance" in grip) == ("outside", 166, False)
        assert only(user, "grip-surface").value is None
        left = desk.drafts.get("ring").table
        assert [path for path in OF_THE_BORE if get(left, path) is not None] == []  # nothing of it is known of this one
        await typed(user, "grip-surface", "outside Ø166")  # again: what is typed of it since stays
        await at_rest(desk)
        await typed(user, "take-surface", "face z 24")
        await at_rest(desk)
        row = desk.drafts.get("ring").table["surface"][-1]
        assert row == {"name": "face z 24", "side": "face", "diameter": [158, 166], "z": 24}
        await typed(user, "take-surface", "face z 24")
        await user.should_see(texts.SURFACE_THERE.format(name="face z 24"))

    visit(steps)
