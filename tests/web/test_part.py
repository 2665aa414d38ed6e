"""The part from its drawing in the app: the file that is dropped, what it leaves open, the setup that comes of it."""

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from nicegui.elements.upload_files import SmallFileUpload

from heldtrue.errors import InputError
from heldtrue.part_file import read
from heldtrue.part_file.choices import Choices
from heldtrue.part_file.outline import OutlineCorner, closed
from heldtrue.part_file.surfaces import seated, surfaces_of
from heldtrue.part_file.turned_part import NotRound, NotTurned, Tolerances, TurnedPart
from heldtrue.planning.setup import Setup
from heldtrue.web import pool
from heldtrue.web.part import arrivals, words, work
from heldtrue.web.part import page as part_page
from heldtrue.web.part.draft import Chosen, table_of
from heldtrue.web.plan import form
from heldtrue.web.sources import blank_setup
from web.in_process import at_rest, taken_in, until
from web.test_pages import only, shown, typed

sys.path.insert(0, str(Path(__file__).parents[1] / "part_file"))
from drawings import FLANGE, UNSAID, Sheet, profile

BUSH = closed([OutlineCorner(30, 10), OutlineCorner(45, 10), OutlineCorner(45, 30), OutlineCorner(62, 30, 2),
               OutlineCorner(62, 45), OutlineCorner(30, 45)])  # fmt: skip
ASKED = {
    "bore Ø60": Tolerances(size=(0.0, 0.03), roundness=0.01, runout=0.02), "outside Ø90": Tolerances(size=(-0.02, 0.0))
}  # fmt: skip


@pytest.fixture
def bush():
    surfaces = tuple(replace(one, tolerances=ASKED.get(one.name, Tolerances())) for one in surfaces_of(BUSH))
    keyway = NotTurned("keyway", "10 mm wide", "z 10 to 45")
    return TurnedPart("bush.step", "0" * 64, BUSH, surfaces, not_turned=(keyway,))


def number_of(part, name):
    return next(number for number, one in enumerate(part.surfaces) if one.name == name)


def chosen_on(part, **more):
    return Chosen(low_end=True, gripped=number_of(part, "outside Ø90"), turned=(number_of(part, "bore Ø60"),),
                  lengths={"grip_from": 2.0, "grip_to": 18.0}, number="BU-90", material="C45", **more)  # fmt: skip


def test_the_setup_has_what_the_drawing_says_and_nothing_made_up(bush):
    table = table_of(bush, chosen_on(bush), Choices(body="2"), "bush", blank_setup("metric"))
    corners = [[60, 0], [90, 0], [90, 20], [124, 20, {"radius": 2}], [124, 35], [60, 35]]
    assert table["part"]["profile"] == {
        "file": "bush.step", "sha256": bush.digest, "seat_end": "low", "body": "2", "corners": corners
    }  # fmt: skip
    assert table["part"]["holes"] == {"value": True, "from": "drawing"}
    assert "blank" not in table["part"]
    assert table["grip"] == {
        "side": "outside", "diameter": 90, "z": [2, 18],
        "diameter_tolerance": {"value": [-0.02, 0], "from": "drawing"},
    }  # fmt: skip
    (bore,) = table["surface"]
    assert (bore["name"], bore["side"], bore["diameter"], bore["z"]) == ("bore Ø60", "inside", 60, [0, 35])
    assert bore["roundness"] == {"value": 0.01, "from": "drawing"}
    assert bore["runout"] == {"value": 0.02, "from": "drawing"}
    assert "flatness" not in bore
    assert table["cut"] == [{"name": "bore Ø60", "kind": "bore", "surface": "bore Ø60"}]


def test_the_other_end_turns_the_part_round_and_keeps_its_tolerances(bush):
    outline, surfaces = seated(bush, False, "metric")
    assert outline.z == (0, 35)
    assert outline.volume == pytest.approx(BUSH.volume)
    assert [one.diameters for one in surfaces] == [one.diameters for one in bush.surfaces]
    named = {one.name: one for one in surfaces}
    assert named["outside Ø90"].z == (15, 35)
    assert named["outside Ø90"].tolerances.size == (-0.02, 0.0)
    assert named["face z 15"].diameters == (90, pytest.approx(120))


def test_a_blank_is_larger_but_where_it_is_gripped_and_seats(bush):
    chosen = chosen_on(bush).with_length("on_diameter", 3.0).with_length("on_faces", 1.0)
    table = table_of(bush, chosen, Choices(), "bush", blank_setup("metric"))
    corners = {(d, z) for d, z, *_ in table["part"]["blank"]}
    assert {(57, 0), (90, 0), (127, 36), (57, 36)} <= corners
    assert table["part"]["profile"]
    of_blank = table_of(bush, replace(chosen, state="blank"), Choices(), "bush", blank_setup("metric"))
    assert of_blank["part"]["blank"] == table["part"]["profile"]
    assert of_blank["part"]["profile"] == []


def test_a_hexagon_and_an_eccentric_of_the_drawing_go_into_the_setup(bush):
    part = replace(bush, not_round=(NotRound("hexagon", "outside", (36, 41.5), (20, 30)),), off_centre=1.0)
    made = table_of(part, Chosen(low_end=False), Choices(), "bush", blank_setup("metric"))["part"]
    assert made["not_round"] == [{"what": "hexagon", "side": "outside", "diameters": [36, 41.5], "z": [15, 25]}]
    assert made["off_centre"] == {"value": 1.5, "from": "drawing"}


def test_an_inch_setup_is_in_inches(bush):
    table = table_of(bush, chosen_on(bush, system="inch"), Choices(units="inch"), "bush", blank_setup("inch"))
    assert table["units"] == "inch"
    assert table["part"]["profile"]["units"] == "inch"
    assert table["part"]["profile"]["corners"][1] == [pytest.approx(90 / 25.4, abs=1e-7), 0]


def test_what_is_gripped_is_not_turned():
    chosen = Chosen(low_end=True).turning(1).turning(3).gripping(3)
    assert (chosen.gripped, chosen.turned) == (3, (1,))
    assert chosen.turning(3).gripped is None
    assert chosen.turning(1).turned == ()
    other = chosen.with_length("grip_to", 4.0).with_length("on_faces", 1.0).on_end(False)
    assert (other.gripped, other.turned, dict(other.lengths)) == (None, (), {"on_faces": 1.0})


def test_only_drawings_come_in_and_the_oldest_go(monkeypatch):
    kept = arrivals.Arrivals()
    for name, content in (("part.exe", b"1"), ("part.step", b"1" * (arrivals.LARGEST_DRAWING + 1)), ("step", b"1")):
        with pytest.raises(InputError, match="STEP or DXF"):
            kept.add(name, content)
    first = kept.add("C:\\drawings\\Ring.STEP", b"1" * 10)
    assert (first.name, first.stem) == ("Ring.STEP", "Ring")
    monkeypatch.setattr(arrivals, "MOST_BYTES", 15)
    second = kept.add("a.dxf", b"1" * 10)
    assert kept.get(second.id) is second
    with pytest.raises(InputError, match="Drop it again"):
        kept.get(first.id)


def test_every_answer_has_its_picture():
    looked = work.look("flange.dxf", Sheet(code=UNSAID).draw(FLANGE), Choices())
    assert looked.ends is None
    assert looked.asked.question == "units"
    assert [one.id for one in looked.asked.answers] == ["mm", "inch"]
    assert all("<svg" in one.picture for one in looked.asked.answers)
    answered = work.look("flange.dxf", Sheet(code=UNSAID).draw(FLANGE), work.answered(Choices(), "units", "inch"))
    assert answered.ends.part.outline.z[1] == pytest.approx(42 * 25.4)
    assert "25.4" not in answered.ends.low
    assert "in in" in answered.ends.low


def test_what_breaks_the_reader_is_said_in_words(monkeypatch):
    def greedy(*_):
        raise MemoryError

    monkeypatch.setattr(read, "read_part", greedy)
    assert "more memory" in work.look("large.step", b"", Choices()).problems[0]
    monkeypatch.undo()
    assert "is empty" in work.look("empty.step", b"", Choices()).problems[0]


async def dropped(user, name, content):
    await user.open("/")
    await only(user, "drop-file").handle_uploads([SmallFileUpload(name, "application/octet-stream", content)])
    await taken_in()


def test_from_a_drawing_that_is_dropped_to_its_plan(visit):
    async def steps(user, desk):
        await dropped(user, "bush.dxf", Sheet(code=UNSAID).draw(profile((60, 0), (90, 0), (90, 35), (60, 35))))
        await user.should_see(words.QUESTIONS["units"])
        user.find(marker="answer-0").click()
        await user.should_see(words.END)
        assert "35 mm long" in shown(user, "part-facts")
        user.find(marker="make-setup").click()
        await user.should_see(words.SAY_END)
        user.find(marker="end-low").click()
        (arrival,) = desk.arrivals._kept.values()
        await user.should_see(marker="turn-0")
        names = {one.name: number for number, one in enumerate(surfaces_in(desk, arrival))}
        user.find(marker=f"grip-{names['outside Ø90']}").click()
        user.find(marker=f"turn-{names['bore Ø60']}").click()
        await until(lambda: arrival.chosen.turned)
        await typed(user, "grip-from", "2")
        await typed(user, "grip-to", "18")
        await typed(user, "part-material", "C45")
        await typed(user, "part-chuck", next(one for one in only(user, "part-chuck").options if "wedge" in one))
        await typed(user, "part-jaws", next(iter(only(user, "part-jaws").options)))
        await user.open(f"/part/{arrival.id}")  # loaded again: nothing that was typed or chosen is lost
        await user.should_see(marker="grip-to")
        assert only(user, "grip-to").value == "18 mm"
        user.find(marker="make-setup").click()
        await until(lambda: desk.drafts.ids() == ["bush"])
        await user.should_see(marker="section")
        await at_rest(desk)
        table = desk.drafts.get("bush").table
        assert (table["part"]["number"], table["part"]["material"]) == ("bush", "C45")
        profile_ = table["part"]["profile"]
        assert sorted(profile_["corners"]) == [[60, 0], [60, 35], [90, 0], [90, 35]]
        assert (profile_["file"], profile_["seat_end"], profile_["units"]) == ("bush.dxf", "low", "mm")
        assert desk.drawings.content(profile_["sha256"], "bush.dxf") == arrival.content
        assert table["grip"]["z"] == [2, 18]
        table["cut"][0] |= {"depth": 1.5, "feed": 0.25, "speed": 180}
        Setup.from_dict(table)

    visit(steps)


def surfaces_in(desk, arrival):
    return work.look(arrival.name, arrival.content, arrival.choices).ends.part.surfaces


def test_what_is_no_drawing_is_said_and_dropped_again(visit):
    async def steps(user, desk):
        await dropped(user, "ring.step", b"not a drawing")
        await user.should_see(marker="part-problem")
        assert "ring.step" in shown(user, "part-problem")
        user.find(marker="make-setup").click()
        await user.should_see(words.NO_PART_YET)
        await user.open("/part/gone")
        await user.should_see(words.GONE)
        assert desk.drafts.ids() == []

    visit(steps)


def test_a_drawing_that_holds_its_reader_up_is_given_up(visit, monkeypatch):
    async def steps(user, desk):
        async def forever(*_arguments, **_more):
            raise TimeoutError

        monkeypatch.setattr(desk.pool, "run", forever)
        await dropped(user, "ring.step", b"ISO-10303-21;")
        await user.should_see(marker="part-problem")
        assert "took longer" in shown(user, "part-problem")

    assert part_page.READ_WITHIN < pool.LIMIT, "the reader is ended before whoever waits for its lane gives up"
    visit(steps)


def test_a_shape_is_a_part_as_soon_as_its_dimensions_are(visit):
    async def steps(user, desk):
        await user.open("/")
        user.find(marker="shape-sleeve").click()
        await until(lambda: desk.arrivals._kept)
        (arrival,) = desk.arrivals._kept.values()
        await user.open(f"/part/{arrival.id}")
        await typed(user, "shape-outside", "70")
        await typed(user, "shape-bore", "80")
        await typed(user, "shape-length", "90")
        await until(lambda: "must be less than" in shown(user, "shape-problems"))
        await typed(user, "shape-bore", "2 in")
        await user.should_see(words.END)
        assert "90 mm long" in shown(user, "part-facts")
        user.find(marker="make-setup").click()
        await until(lambda: desk.drafts.ids() == ["sleeve"])
        await user.should_see(marker="section")
        await at_rest(desk)
        corners = desk.drafts.get("sleeve").table["part"]["profile"]
        assert sorted(corners) == [[50.8, 0], [50.8, 90], [70, 0], [70, 90]]

    visit(steps)


def test_hundreds_of_corners_wait_until_somebody_wants_their_fields(visit, monkeypatch):
    async def steps(user, desk):
        table = blank_setup("metric")
        table["part"]["profile"] = [[60, 0], [100, 0], [100, 20], [100, 40], [60, 40]]
        desk.drafts.new("many", table)
        await user.open("/plan/many")
        await user.should_see(marker="show-part.profile")
        await user.should_not_see(marker="part.profile.4.0")
        user.find(marker="show-part.profile").click()
        await user.should_see(marker="part.profile.4.0")

    monkeypatch.setattr(form, "MOST_CORNERS", 4)
    visit(steps)
