"""The drawing of the plan page as its form: what each place of it holds, and what is set with it."""

import pytest

from heldtrue.planning.setup import Setup
from heldtrue.web import texts
from heldtrue.web.drafts import Draft
from heldtrue.web.plan.drawn_fields import Outline
from heldtrue.web.plan.outline_view import length_of
from heldtrue.web.sources import open_example
from web.in_process import EXAMPLES, until
from web.test_pages import opened, settled


@pytest.fixture
def draft():
    return Draft("ring", open_example(EXAMPLES, "wear-ring"))


def place_at(draft, key):
    return Outline(draft, lambda path: length_of(draft, path)).at(key)


def field_of(draft, key, label):
    (found,) = [one for group in place_at(draft, key).groups for one in group.fields if one.label == label]
    return found


def value(draft, path):
    return length_of(draft, path)


def test_a_surface_has_its_dimensions_tolerances_and_cuts(draft):
    land = place_at(draft, "edge 3")
    assert land.title == "outside Ø158, z 24 – 32"
    assert [group.words for group in land.groups] == [
        "", texts.TOLERANCES_OF.format(name="seal land"), texts.CUT_OF.format(name="rough land"),
        texts.CUT_OF.format(name="finish land"),
    ]  # fmt: skip
    assert land.grip is not None
    assert land.turn is None, "it is turned already"
    bore = place_at(draft, "edge 5")
    assert bore.title == "inside Ø140, z 0 – 32"
    assert texts.SECTIONS[2] in [group.words for group in bore.groups], "the grip stands at the surface it holds"
    assert bore.grip is None
    assert texts.SEAT in [group.words for group in place_at(draft, "edge 0").groups]
    assert place_at(draft, "edge 9") is None
    assert place_at(draft, "nothing") is None


def test_a_diameter_is_set_at_both_corners_and_at_its_surface(draft):
    draft.edit(field_of(draft, "edge 3", texts.DIAMETER), "156,5")
    assert [value(draft, f"part.profile.{number}.0") for number in (3, 4)] == [156.5, 156.5]
    assert value(draft, "surface.0.diameter") == 156.5
    assert Setup.from_dict(draft.table).part.profile[3].diameter == 156.5
    assert place_at(draft, "edge 3").title == "outside Ø156.5, z 24 – 32"
    draft.undo()
    assert value(draft, "part.profile.4.0") == value(draft, "surface.0.diameter") == 158, "one step back is all of it"


def test_the_gripped_diameter_takes_grip_and_blank_along(draft):
    draft.edit(field_of(draft, "edge 5", texts.DIAMETER), "5.5 in")
    read = Setup.from_dict(draft.table)
    assert read.grip.diameter == pytest.approx(139.7)
    assert {corner.diameter for corner in read.part.profile[:1] + read.part.profile[5:]} == {read.grip.diameter}
    assert min(corner.diameter for corner in read.part.blank) == pytest.approx(139.7)


def test_a_face_moves_with_the_surfaces_that_end_at_it(draft):
    draft.edit(field_of(draft, "edge 2", texts.AT_Z), "22")
    assert [value(draft, f"part.profile.{number}.1") for number in (2, 3)] == [22, 22]
    assert value(draft, "surface.0.z.0") == 22
    assert value(draft, "surface.0.z.1") == 32


def test_a_corner_alone_moves_alone(draft):
    draft.edit(field_of(draft, "corner 2", texts.DIAMETER), "165")
    assert (value(draft, "part.profile.1.0"), value(draft, "part.profile.2.0")) == (166, 165)
    assert place_at(draft, "edge 1").title == texts.CONE_AT
    assert place_at(draft, "edge 1").grip is None, "jaws do not hold a taper"


def test_what_does_not_hold_together_waits_at_every_place_it_was_meant_for(draft):
    field = field_of(draft, "edge 3", texts.DIAMETER)
    before = draft.table
    draft.edit(field, "no number")
    assert set(draft.pending) == {field.path, *field.also}
    assert draft.table == before
    draft.edit(field, "157")
    assert not draft.pending
    assert value(draft, "part.profile.4.0") == 157


def only(user, mark):
    (found,) = user.find(marker=mark).elements
    return found


def pick(user, key):
    only(user, "drawing")._handle_event({"id": 0, "client_id": "", "listener_id": listener(user), "args": key})


def listener(user):
    return next(id for id, one in only(user, "drawing")._event_listeners.items() if one.type == "pick")


def test_a_surface_is_turned_from_the_drawing(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        pick(user, "edge 1")
        await user.should_see("outside Ø166, z 0 – 24")
        user.find(marker="turn-here").click()
        await until(lambda: live.draft.setup().surfaces[-1].diameter == 166)
        made = live.draft.setup()
        assert (made.surfaces[-1].side, made.surfaces[-1].z) == ("outside", (0, 24))
        assert (made.cuts[-1].surface, made.cuts[-1].kind) == (made.surfaces[-1].name, "turn")
        assert made.cuts[-1].depth is not None, "as the last cut, for the setter to correct"
        await user.should_not_see(marker="turn-here")
        user.find(marker="drawn-close").click()
        await user.should_not_see(marker="grip-here")

    visit(steps)


def test_a_grip_moved_on_the_drawing_takes_nothing_along_that_was_known_of_the_other_surface(visit):
    async def steps(user, desk):
        live = await opened(user, desk)
        before = live.draft.setup()
        assert before.grip.diameter_tolerance != (0, 0)
        assert before.jaws.bore_diameter is not None
        pick(user, "edge 1")
        await user.should_see(marker="grip-here")
        user.find(marker="grip-here").click()
        await until(lambda: live.draft.setup().grip.diameter == 166)
        made = live.draft.setup()
        assert (made.grip.side, made.grip.z) == ("outside", (1, 23))
        assert (made.jaws.bore_diameter, made.jaws.number, made.part.roundness) == (None, "", None)
        await settled(desk, "wear-ring")
        assert live.answer.verdict != "passes", "the ring is held on a surface of which nothing is known"
        user.find(marker="undo").click()
        await until(lambda: live.draft.setup() == before)

    visit(steps)
