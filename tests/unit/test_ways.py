"""Every way to hold: what is dropped cannot do, what is listed is what the plan of it says."""

import json
import tomllib

import jsonschema
import numpy as np
import pytest
from conftest import EXAMPLES, example, longer

from heldtrue.errors import InputError
from heldtrue.planning import ways as module
from heldtrue.planning.inputs import prepare
from heldtrue.planning.plan import plan
from heldtrue.planning.result import FAILS, PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.stages import surface_of
from heldtrue.planning.study import Study
from heldtrue.planning.toml_text import toml_of
from heldtrue.planning.tool_room import CLEAR_MM, LEAST_LENGTH_MM
from heldtrue.planning.way_bounds import bound_of
from heldtrue.planning.way_document import ways_json, ways_schema
from heldtrue.planning.way_space import (
    BLOCKED,
    NOT_YET,
    TOOL_THERE,
    TURNED_HERE,
    GripPlace,
    candidate,
    candidates,
    places,
)
from heldtrue.planning.way_words import drop_words, way_name
from heldtrue.planning.ways import BEATEN, LEFT_OUT, NOT_HELD, NOT_ROUND, OTHER_CHUCK, beats, ways

ALL = [path.stem for path in EXAMPLES]


def spool(**more):
    """A winch spool: two flanges, a barrel between, a bore right through that this operation leaves alone."""
    table = example("gland-flange").to_dict()
    profile = [[40, 0], [120, 0], [120, 10], [70, 10], [70, 60], [120, 60], [120, 70], [40, 70]]
    table["part"] = {"number": "WS-12", "material": "C45", "profile": profile, "holes": False}
    table["grip"] = {"side": "outside", "diameter": 120, "z": [1, 9], "seat": True, "diameter_tolerance": [-0.1, 0]}
    table["jaws"] = {"style": "standard", "material": "C45", "friction": 0.2}
    table["surface"] = [{"name": "far rim", "side": "outside", "diameter": 120, "z": [60, 70], "roundness": 0.05}]
    table["cut"] = [{"name": "turn far rim", "kind": "turn", "surface": "far rim", "depth": 1, "feed": 0.2,
                     "speed": 150, "interrupted": False, "finishing": True}]  # fmt: skip
    for key in ("title", "machine", "run", "limits", "boring", "hardware"):
        table.pop(key, None)
    return Setup.from_dict({**table, **more})


# Where jaws can go


def why_not(setup, side, diameter, low=None):
    _, none = places(prepare(setup))
    return next(one for one in none if (one.side, one.diameter) == (side, diameter) and low in (None, one.z[0]))


def test_what_stands_between_the_chuck_and_a_surface_blocks_it():
    found = why_not(spool(), "outside", 70)
    assert (found.reason, found.blocking) == (BLOCKED, 120)
    assert why_not(spool(), "outside", 120, 60).reason == TURNED_HERE, "the near flange is no wider"


def test_a_blind_hole_from_the_far_end_blocks_an_inside_grip():
    table = spool().to_dict()
    table["part"]["profile"] = [[0, 0], [120, 0], [120, 70], [60, 70], [60, 20], [0, 20]]
    found = why_not(Setup.from_dict(table), "inside", 60)
    assert (found.reason, found.blocking) == (BLOCKED, 0)


def test_a_surface_cut_here_is_no_grip_and_one_beside_a_tool_ends_before_it():
    setup = example("wear-ring")
    assert why_not(setup, "outside", 158).reason == TURNED_HERE
    where, _ = places(prepare(setup))
    land = next(s for s in setup.surfaces if s.name == "seal land")
    outside = [one for one in where if one.side == "outside"]
    assert outside
    assert max(one.z[1] for one in outside) == pytest.approx(land.z[0] - CLEAR_MM)


def test_a_faced_end_is_not_gripped_flush():
    setup = example("wear-ring")
    inside = [one for one in places(prepare(setup))[0] if one.side == "inside" and not one.stated]
    face = next(s for s in setup.surfaces if s.side == "face")
    assert inside
    assert max(one.z[1] for one in inside) == pytest.approx(face.z[0] - CLEAR_MM)


def test_a_drill_that_comes_out_leaves_no_inside_grip():
    table = spool().to_dict()
    table["cut"].append({"name": "drill through", "kind": "drill", "diameter": 30, "feed": 0.2, "speed": 60})
    with_drill = Setup.from_dict(table)
    assert any(one.side == "inside" for one in places(prepare(spool()))[0])
    assert why_not(with_drill, "inside", 40).reason == TOOL_THERE


def test_what_the_blank_does_not_have_cannot_be_gripped():
    part = spool().to_dict()["part"]
    solid = spool(part={**part, "blank": [[40, 0], [120, 0], [120, 60], [122, 60], [122, 70], [40, 70]]})
    assert why_not(solid, "outside", 70).reason == NOT_YET
    assert why_not(spool(), "outside", 70).reason == BLOCKED


def test_the_ends_of_a_grip_are_figures_that_a_setter_would_write():
    for name, unit in (("winch-shaft", 1.0), ("pump-sleeve-inch", 25.4)):
        for place in places(prepare(example(name)))[0]:
            assert all(f"{z / unit:.6g}" == f"{z / unit:.4g}" for z in place.z), place


@pytest.mark.parametrize("name", ALL)
def test_no_jaw_stands_in_a_tool_or_in_the_part(name):
    """A second, plain model: jaws, tools and part as boxes and points on a grid."""
    setup = example(name)
    job = prepare(setup)
    for place in places(job)[0]:
        if place.stated:
            continue
        radius, (low, high) = place.diameter / 2, place.z
        assert high - low >= LEAST_LENGTH_MM
        outside = place.side == "outside"
        for r in np.linspace(*((radius + 0.01, radius + 60) if outside else (0.5, radius - 0.01)), 40):
            for z in np.linspace(job.section.lowest - 5, high - 0.01, 40):
                for stage in job.stages:
                    assert not _in_tool(setup, stage, r, z), (place, stage.cut.name, r, z)
                assert not _in_part(job.section.corners, r, z), (place, r, z)
        for z in np.linspace(low + 0.01, high - 0.01, 5):
            assert _in_part(job.section.corners, radius - 0.05 if outside else radius + 0.05, z), (place, z)


def _in_tool(setup, stage, r, z):
    surface = surface_of(setup, stage.cut)
    low, high = stage.z
    if stage.cut.kind == "face":
        return stage.smallest / 2 <= r <= stage.largest / 2 and z >= low
    inside = stage.cut.kind in ("bore", "drill", "tap") or (surface is not None and surface.side == "inside")
    return low <= z <= high and (r <= stage.largest / 2 if inside else r >= stage.smallest / 2)


def _in_part(corners, r, z):
    """By counting edges crossed on the way out."""
    crossed = 0
    for (r0, z0), (r1, z1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (z0 > z) != (z1 > z) and r0 + (z - z0) / (z1 - z0) * (r1 - r0) > r:
            crossed += 1
    return crossed % 2 == 1


# Bounds are on the safe side


def some(name, count, seed=0):
    """Ways of an example, drawn at random."""
    setup = example(name)
    job = prepare(setup)
    every = list(candidates(setup, job, places(job)[0]))
    chosen = np.random.default_rng(seed).permutation(len(every))[:count]
    return setup, [every[i] for i in chosen]


@pytest.mark.parametrize(("name", "count"), [("wear-ring", 6), *longer(*((one, 40) for one in ALL))])
def test_the_least_that_cuts_need_is_no_more_than_they_need(name, count):
    setup, chosen = some(name, count)
    looked = 0
    for one in chosen:
        try:
            study = Study.of(one.setup_of(setup))
        except InputError:
            continue
        looked += 1
        for least, held in zip(study.holds.least(study.speed), study.held, strict=True):
            assert least.published.needs <= held.published.needs * (1 + 1e-6)
            assert least.worst.needs <= held.worst.needs * (1 + 1e-6)
    assert looked >= count // 2


@pytest.mark.parametrize(("name", "count"), [("valve-stem", 1), *longer(*((one, 25) for one in ALL))])
def test_no_plan_is_better_than_its_bound(name, count):
    setup, chosen = some(name, count, seed=1)
    planned = 0
    for one in chosen:
        try:
            taken = one.setup_of(setup)
            bound = bound_of(Study.of(one.setup_of(setup, as_if_read=True)))
        except InputError:
            continue
        made = plan(taken, helped=False)
        planned += 1
        if not bound.is_held or not bound.is_round:
            assert made.verdict != PASSES, one
            continue
        way = module.measured(one, taken, made)
        assert max(step.floor for step in made.pressure.steps) >= bound.floor * (1 - 1e-6)
        assert way.window <= bound.window * (1 + 1e-6)
        assert way.hold <= bound.hold + 1e-6
        if way.plan.verdict == PASSES:
            assert way.form <= 1 - bound.form + 1e-6
    assert planned


# The search


@pytest.fixture(scope="module")
def shaft():
    return ways(example("winch-shaft"), ("standard",), most=2)


def test_the_stated_way_is_among_them_and_says_what_its_plan_says(shaft):
    stated = next(way for way in (*shaft.best, *shaft.beaten) if way.candidate.is_stated)
    assert stated.setup == example("winch-shaft")
    made = plan(example("winch-shaft"), helped=False)
    assert stated.plan.verdict == made.verdict
    assert stated.plan.pressure == made.pressure


def test_a_way_written_to_a_file_has_the_verdict_it_was_listed_with(shaft):
    for way in (*shaft.best, *shaft.beaten):
        again = Setup.from_dict(tomllib.loads(toml_of(way.setup.to_dict())))
        made = plan(again, helped=False)
        assert made.verdict == way.plan.verdict
        assert [check.state for check in made.checks] == [check.state for check in way.plan.checks]


def test_every_way_is_counted_once(shaft):
    job = prepare(example("winch-shaft"))
    where, none = places(job)
    every = len(list(candidates(example("winch-shaft"), job, where, ("standard",)))) + len(none)
    counted = len(shaft.best) + len(shaft.beaten) + sum(one.count for one in shaft.dropped)
    assert counted == every == shaft.looked_at
    assert shaft.planned == len(shaft.best) + len(shaft.beaten) == 2


@pytest.mark.long
def test_processes_side_by_side_give_the_same_answer(shaft):
    both = ways(example("winch-shaft"), ("standard",), most=2, processes=2)
    assert [way.candidate for way in both.best] == [way.candidate for way in shaft.best]
    assert [way.measures for way in both.best] == [way.measures for way in shaft.best]
    assert both.dropped == shaft.dropped


def test_what_no_jaw_holds_round_has_no_way_and_a_reason_for_each():
    found = ways(example("float-ring"))
    (stated,) = found.best
    assert stated.candidate.is_stated
    assert stated.plan.verdict == FAILS
    assert found.beaten == ()
    assert {one.reason for one in found.dropped} <= {NOT_HELD, NOT_ROUND, TURNED_HERE}
    assert sum(one.count for one in found.dropped if one.reason == NOT_ROUND) > 10
    assert "cannot come off round" in " ".join(drop_words(one, "metric", "bar") for one in found.dropped)


def test_no_listed_way_beats_another_and_each_of_the_rest_is_beaten():
    def way(hold, form, window, cost="new jaws", verdict=PASSES):
        made = type("Made", (), {"verdict": verdict})()
        return module.RankedWay(None, None, made, hold, form, window, cost)

    ranked = [way(0.5, 0.1, 1.2), way(0.1, 0.5, 1.2), way(0.1, 0.1, 1.1), way(0.1, 0.1, 1.1, "as stated"),
              way(9.9, 9.9, 9.9, verdict=FAILS)]  # fmt: skip
    best, beaten = module._front(ranked)
    assert {one.measures for one in best} == {ranked[i].measures for i in (0, 1, 3)}
    assert all(any(beats(one.measures, other.measures) for one in best) for other in beaten if other is not ranked[4])
    assert ranked[4] in beaten, "what fails is no way, whatever it has to spare"


def test_another_chuck_is_said_and_counts_as_assumed():
    setup = example("wear-ring")
    one = candidate(setup, 3, GripPlace("inside", 140.0, (2.0, 14.0), stated=True), "pie", 4)
    assert one.needs_chuck == 4
    taken = one.setup_of(setup)
    assert taken.source("chuck.max_grip_force") == "assumed"
    assert taken.chuck.grip_readings is None
    assert module.cost_of(one, taken) == (OTHER_CHUCK, "")


def test_what_was_tried_on_one_surface_is_not_taken_for_another():
    """A pull test on the bore says nothing of a raw outside; it made ways pass that nobody had tried."""
    setup = example("wear-ring").with_(
        {"jaws.friction": 0.4, "part.roundness": 0.002, "part.surface_condition": "turned"}
    )
    here = candidate(setup, 3, GripPlace("inside", 140.0, (1.0, 30.0)), "pie", 3).setup_of(setup)
    there = candidate(setup, 3, GripPlace("outside", 166.0, (1.0, 22.0)), "pie", 3).setup_of(setup)
    assert here.jaws.friction == 0.4
    at_pressure = setup.with_({"run.pressure": 1.0})
    assert candidate(at_pressure, 3, GripPlace("inside", 140.0, (2.0, 14.0), stated=True), "pie", 3).is_stated
    other = candidate(at_pressure, 3, GripPlace("outside", 166.0, (1.0, 22.0)), "pie", 3)
    assert other.setup_of(at_pressure).stated_pressure is None
    assert (there.jaws.friction, there.part.roundness, there.part.surface_condition) == (None, None, None)
    known = Study.of(there).job.known
    assert known["friction"].worst < 0.3
    assert known["part roundness"].high > 0.02
    assert known["part size"].is_open


def test_what_is_left_out_is_said(shaft):
    left = [one for one in shaft.dropped if one.reason in (LEFT_OUT, BEATEN)]
    assert all(drop_words(one, "metric", "bar") for one in shaft.dropped)
    assert sum(one.count for one in left) > 0


def test_json_has_the_names_that_others_rely_on(shaft):
    document = json.loads(ways_json(shaft))
    jsonschema.validate(document, ways_schema())
    assert {"ways", "dropped", "looked_at", "seconds"} <= document.keys()
    assert {"name", "side", "surface", "style", "jaws", "verdict", "hold_spare", "form_spare", "cost", "window",
            "what_first", "why"} <= document["ways"][0].keys()  # fmt: skip
    assert {"name", "why", "count"} <= document["dropped"][0].keys()
    assert document["ways"][0]["name"] == way_name(shaft.best[0].candidate, "metric")
