"""Ways to hold one part, side by side: order, reasons, and that none is lost."""

import sys
from itertools import pairwise

import pytest
from conftest import ROOT, assert_same_checks, example

from heldtrue import Setup, compare
from heldtrue.errors import InputError
from heldtrue.planning.contrary import Contrary
from heldtrue.planning.result import FAILS, NOT_PROVEN, PASSES

PIN = {
    "units": "metric",
    "part": {"number": "P-1", "material": "C45", "profile": [[0, 0], ["5 mm", 0], [5, 12], [4, 12], [4, 15], [0, 15]]},
    "surface": [{"name": "end", "side": "outside", "diameter": 4, "z": [12, 15], "roundness": 0.02}],
    "grip": {"side": "outside", "diameter": 5, "z": [1, 10]},
    "chuck": {"use": "chucks/200-wedge.toml"},
    "jaws": {"style": "standard", "material": "C45"},
    "cut": [{"name": "end", "kind": "turn", "surface": "end", "depth": 0.1, "feed": 0.05, "speed": 20}],
    "limits": {"marking_allowed": True},
}


@pytest.fixture(name="ring_ways")
def ways_of_a_ring(pie_ways):
    return pie_ways


@pytest.fixture(scope="module")
def pin_ways():
    return compare(Setup.from_dict(PIN, base_dir=ROOT / "examples"), ["standard"])


@pytest.fixture(scope="module")
def shaft_ways():
    # A rougher face, so that more than one way passes.
    rough = {"jaws.friction": 0.2}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys.modules[compare.__module__], "JAW_COUNTS", (3,))
        return compare(example("winch-shaft").with_(rough), ["standard", "wide"])


def kinds(ways):
    return sorted((way.side, way.jaws, way.style) for way in ways)


def every(*styles):
    return sorted((side, jaws, style) for side in ("outside", "inside") for jaws in (3, 6) for style in styles)


def test_every_side_and_jaw_count_is_there_once(ring_ways):
    assert kinds(ring_ways) == every("pie")


def test_every_style_side_and_jaw_count_is_there_once(monkeypatch):
    """Which there are, not what becomes of them: each is planned in the others."""

    def plan(setup, *, helped):
        raise InputError("nobody plans here")

    monkeypatch.setattr(sys.modules[compare.__module__], "plan", plan)
    assert kinds(compare(example("wear-ring"))) == every("standard", "wide", "pie")


@pytest.mark.long
def test_every_style_of_a_ring_in_order(pin_ways):
    ways = compare(example("wear-ring"))
    assert kinds(ways) == every("standard", "wide", "pie")
    test_passes_first_then_not_proven_then_fails_then_cannot_be(ways, pin_ways)
    test_the_best_says_so_and_every_other_says_why_not(ways, pin_ways)
    test_the_other_side_grips_a_surface_that_no_cut_machines(ways)
    test_ways_with_jaws_the_chuck_lacks_say_what_they_need(ways)
    test_form_error_is_the_largest_of_the_surfaces(ways)
    test_the_stated_way_is_planned_exactly_as_stated(ways)


@pytest.mark.long
def test_six_jaws_on_a_shaft_in_order(pin_ways):
    ways = compare(example("winch-shaft").with_({"jaws.friction": 0.2}), ["standard", "wide"])
    assert {way.jaws for way in ways} == {3, 6}
    test_passes_first_then_not_proven_then_fails_then_cannot_be(ways, pin_ways)
    test_among_the_passes_the_one_with_most_to_spare_is_first(ways)


def test_passes_first_then_not_proven_then_fails_then_cannot_be(ring_ways, pin_ways):
    place = {PASSES: 0, NOT_PROVEN: 1, FAILS: 2, None: 3}
    for ways in (ring_ways, pin_ways):
        order = [place[way.plan.verdict if way.plan else None] for way in ways]
        assert order == sorted(order)
        assert len(set(order)) > 1, "an order of one kind proves nothing"


def test_among_the_passes_the_one_with_most_to_spare_is_first(shaft_ways):
    passing = [way for way in shaft_ways if way.plan and way.plan.verdict == PASSES]
    assert len(passing) >= 2

    def least(way):
        return min(c.margin for c in way.plan.checks if c.name not in ("speed", "steady pressure"))

    for better, worse in pairwise(passing):
        assert least(better) >= least(worse)
    assert least(passing[0]) > least(passing[-1])
    assert passing[0].why.startswith("best; least to spare: 'hold: rough thread end', ")
    assert all("less to spare: " in way.why for way in passing[1:])


def test_the_best_says_so_and_every_other_says_why_not(ring_ways, pin_ways):
    assert ring_ways[0].why.startswith("best; two pressures; least to spare: ")
    for ways in (ring_ways, pin_ways):
        for way in ways[1:]:
            assert way.why
            assert not way.why.startswith("best")
            if way.plan is None:
                assert not way.why.startswith("cannot be")
            elif not way.plan.pressure.has_window:
                assert way.why.startswith("no pressure for ")
            elif all(check.state == PASSES for check in way.plan.checks):
                assert way.why.startswith("the plate figures of the chuck are assumed")
            else:
                assert f"' {way.plan.answer.leading.state}, decided by " in way.why


@pytest.fixture
def three_jaws(monkeypatch):
    """Nobody looks at six, where the count is not what is tested."""
    monkeypatch.setattr(sys.modules[compare.__module__], "JAW_COUNTS", (3,))


@pytest.mark.long
@pytest.mark.usefixtures("three_jaws")
def test_where_nothing_passes_nothing_is_called_best():
    ways = compare(example("float-ring"), ["standard", "wide"])
    assert len(ways) == 2
    assert all(way.plan is not None and way.plan.verdict != PASSES for way in ways)
    assert all("best" not in way.why and way.why for way in ways)


@pytest.mark.usefixtures("three_jaws")
def test_what_the_records_say_against_the_jaws_holds_for_the_stated_way_alone():
    scrap = Contrary("jaws", "jaw set J-031 is marked scrap", "take another set")
    away = Contrary(
        "chuck", "chuck CH-02 stands on LT-1 by the records, the job is for LT-2", "put setup or card right"
    )
    ways = compare(example("winch-shaft").told([scrap, away]), ["standard", "wide"])
    (stated,) = [way for way in ways if "as stated" in way.name]
    assert stated.plan.verdict == NOT_PROVEN
    assert scrap.sentence in stated.why
    others = [way for way in ways if way is not stated and way.setup is not None]
    assert others
    assert all(way.setup.contrary == (away,) for way in others), "other jaws stand on the same chuck"
    assert all(way.plan.verdict != PASSES for way in others)


def test_the_stated_way_is_planned_exactly_as_stated(ring_ways):
    from heldtrue.planning.plan import plan

    alone = plan(example("wear-ring"))
    (stated,) = [way for way in ring_ways if (way.side, way.style, way.jaws) == ("inside", "pie", 3)]
    assert stated.plan is not None
    assert_same_checks(stated.plan.checks, alone.checks)
    assert stated.plan.pressure == alone.pressure
    assert stated.needs == ""


def test_the_other_side_grips_a_surface_that_no_cut_machines(ring_ways):
    for way in ring_ways:
        assert way.plan is not None
        assert way.plan.setup.grip.diameter == (166.0 if way.side == "outside" else 140.0)


def test_ways_with_jaws_the_chuck_lacks_say_what_they_need(ring_ways):
    for way in ring_ways:
        assert ("a chuck with 6 jaws" in way.needs) == (way.jaws == 6)


def test_form_error_is_the_largest_of_the_surfaces(ring_ways):
    for way in ring_ways:
        assert way.plan is not None
        assert way.form_error == max(max(s.released_roundness, s.released_flatness) for s in way.plan.surfaces)


def test_ways_that_cannot_be_are_listed_with_the_reason(pin_ways):
    impossible = [way for way in pin_ways if way.plan is None]
    assert {(way.jaws, way.style) for way in impossible} == {(6, "standard")}
    assert list(pin_ways[-1:]) == impossible
    for way in impossible:
        assert "leave nothing to grip Ø5 mm" in way.why
        assert way.form_error == float("inf")


@pytest.mark.usefixtures("three_jaws")
def test_only_the_styles_asked_for():
    ways = compare(example("winch-shaft"), ["wide"])
    assert {way.style for way in ways} == {"wide"}


def test_an_unknown_style_is_refused():
    with pytest.raises(InputError, match="'hexagon' is not known; there are standard, wide, pie"):
        compare(example("wear-ring"), ["wide", "hexagon"])


@pytest.mark.usefixtures("three_jaws")
def test_progress_is_told_every_way_before_it_is_planned():
    told = []
    ways = compare(example("winch-shaft"), ["standard", "wide"], progress=told.append)
    assert len(ways) == 2
    assert sorted(told) == sorted(way.name for way in ways)


def test_a_side_the_plate_says_nothing_about_cannot_be():
    setup = example("wear-ring").with_({"chuck.actuator.pull_area": None})
    outside = [way for way in compare(setup, ["pie"]) if way.side == "outside"]
    assert len(outside) == 2
    assert all(way.plan is None and "pull_area" in way.why for way in outside)


@pytest.mark.long
@pytest.mark.usefixtures("three_jaws")
def test_the_stated_way_is_there_on_a_four_jaw_chuck():
    setup = example("winch-shaft").with_({"chuck.jaws": 4})
    assert any(way.jaws == 4 and way.style == "standard" and not way.needs for way in compare(setup, ["standard"]))


@pytest.mark.usefixtures("three_jaws")
def test_three_jaws_on_a_six_jaw_chuck_need_no_other_chuck():
    setup = example("winch-shaft").with_({"chuck.jaws": 6, "jaws.count": 3})
    (stated,) = [way for way in compare(setup, ["standard"]) if way.jaws == 3]
    assert stated.needs == ""
