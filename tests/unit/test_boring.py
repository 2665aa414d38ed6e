"""The front door of cutting jaws: whole setups in, placing, ring, bore, job, steps and refusals out."""

import re
from dataclasses import FrozenInstanceError, is_dataclass
from math import atan2, cos, hypot, pi, sqrt

import jsonschema
import pytest
import shapely
from conftest import EXAMPLES, ROOT, example, longer
from test_program_jobs import nest_setup

from heldtrue.drawing.jaw_drawing import bored_jaw, jaw_svg
from heldtrue.errors import InputError
from heldtrue.planning.boring import bore, recut
from heldtrue.planning.boring_document import bore_document
from heldtrue.planning.boring_program import program_of
from heldtrue.planning.file_schema import jaws_schema, rings_schema, tool_schema
from heldtrue.planning.inputs import prepare
from heldtrue.planning.jaw_contact import contact
from heldtrue.planning.jaw_layout import lay_out
from heldtrue.planning.plan import plan as plan_of
from heldtrue.planning.result import CAUTIONS
from heldtrue.planning.setup import Setup
from heldtrue.planning.toml_file import read_toml
from heldtrue.program.front import program
from heldtrue.tooling.recut import refit_words

CUT = ("wear-ring", "gland-flange", "winch-shaft")
"""Examples with hardware to cut their jaws."""
NAMES = [path.stem for path in EXAMPLES]


pytestmark = pytest.mark.usefixtures("planned_once")


def test_what_jaws_are_cut_with_is_nothing_to_the_plan():
    """So that it may be planned once in these tests."""
    made = plan_of(example("gland-flange"))
    other = {"boring.spindle_limit": 400.0, "boring.tool.insert_angle": 1.0, "boring.pass_depth": 1.0,
             "jaws.bolt": "M6", "jaws.bolt_class": "8.8"}  # fmt: skip
    again = plan_of(used().with_({**other, "jaws.in_order": True}))
    assert (again.verdict, again.pressure, again.checks) == (made.verdict, made.pressure, made.checks)


@pytest.fixture(scope="module")
def plans(planned_once):
    return {name: bore(example(name)) for name in CUT}


@pytest.mark.parametrize("name", CUT)
def test_an_example_can_be_cut(plans, name):
    plan = plans[name]
    assert plan.can_be_cut, plan.refusals
    assert plan.refusals == ()
    assert plan.placing.best is not None
    assert plan.way.opening > 0
    assert plan.way.closing > 0
    assert plan.design.diameter == pytest.approx(2 * prepare(plan.setup).bore_radius)
    assert plan.ring.to_tool >= 4.0 - 1e-9
    assert plan.cautions[: len(CAUTIONS)] == CAUTIONS
    assert len(plan.cautions) > len(CAUTIONS)


@pytest.mark.parametrize("name", CUT)
def test_the_steps_are_numbered_in_order_and_carry_their_numbers(plans, name):
    plan = plans[name]
    assert [step.number for step in plan.steps] == list(range(1, len(plan.steps) + 1))
    names = [step.name for step in plan.steps]
    order = ["clean", "grease", "mount", "torque", "ring", "pressure", "mid-stroke", "touch off", "run", "stop",
             "measure", "finish", "deburr", "check run-out", "mark"]  # fmt: skip
    assert [one for one in names if one in order] == order
    words = {step.name: step.words for step in plan.steps}
    assert f"tooth {plan.way.tooth}" in words["mount"]
    assert "One jaw a tooth off runs out about 2 mm" in words["mount"]
    assert "N m" in words["torque"]
    assert f"{plan.spindle_limit:.0f} rev/min" in words["run"]
    assert f"{plan.design.diameter:.3f} mm" in words["finish"]
    outward, aim = (1 if plan.design.side == "outside" else -1), plan.design.diameter + sum(plan.design.tolerance) / 2
    assert f"It should be Ø{aim - outward * 0.2:.3f} mm" in words["measure"]
    assert f"DIA {aim - outward * 0.2:.3f} MM IT SHOULD BE)" in program(plan.job).text
    assert f"{plan.runout:.3g}"[:5] in words["check run-out"]


def test_run_out_to_reach_is_a_third_of_the_drawings(plans):
    assert plans["wear-ring"].runout == pytest.approx(0.01)
    assert plans["winch-shaft"].runout == pytest.approx(0.02 / 3)
    assert plans["gland-flange"].runout == 0.02  # no run-out on the drawing: common practice, no source


def test_the_pressure_is_that_of_the_finish_unless_the_setup_says_how_they_are_bored(plans):
    assert plans["gland-flange"].pressure_from == "that of the finish, advised"
    assert plans["gland-flange"].pressure == plan_of(example("gland-flange")).pressure.steps[-1].recommended
    stated = plans["wear-ring"]
    assert stated.pressure == pytest.approx(0.42, rel=1e-9)
    assert stated.pressure_from == "as the setup says they are bored"
    run = bore(example("wear-ring").with_({"jaws.bored_pressure": None, "run.pressure": 0.8}))
    assert (run.pressure, run.pressure_from) == (0.8, "that of the run, stated")


def test_a_taper_is_stated_or_comes_from_the_mechanics(plans):
    assert plans["winch-shaft"].taper > 0.01  # tall grip, hard clamped
    assert plans["gland-flange"].taper == 0.0
    assert "none needed" in plans["gland-flange"].taper_from
    stated = bore(example("gland-flange").with_({"jaws.taper": 0.03}))
    assert (stated.taper, stated.taper_from) == (0.03, "stated")
    assert stated.design.mouth_diameter < stated.design.diameter


@pytest.mark.parametrize("name", CUT)
def test_the_job_holds_what_a_program_needs(plans, name):
    plan = plans[name]
    job = plan.job
    assert job.grip == plan.setup.grip.side
    assert job.finished == plan.design.profile
    metal = shapely.Polygon(job.metal)
    assert metal.is_valid
    assert metal.buffer(1e-6).covers(shapely.LineString(job.finished))
    line = shapely.LineString(job.finished)
    assert {"ring", "chuck face", "bolt 1", "bolt 2"} == {one.name for one in job.keep_out}
    for one in job.keep_out:
        shape = shapely.Polygon(one.outline)
        assert shape.is_valid
        assert line.distance(shape) > (3.9 if one.name == "ring" else 0.4), one.name
    low, high = job.limits.x
    assert low <= min(x for x, _ in job.finished)
    assert max(x for x, _ in job.finished) <= high
    assert job.limits.z[0] <= min(z for _, z in job.finished)
    assert job.cutting.spindle_limit == plan.spindle_limit <= job.limits.max_speed
    tool = shapely.Polygon(job.tool.shank)
    assert tool.is_valid
    assert plan.setup.jaws.number in job.comments[0]
    assert len(job.stops) == 2


def test_the_tip_lies_on_the_side_that_cuts(plans):
    assert plans["wear-ring"].job.tool.quadrant == 3
    assert plans["gland-flange"].job.tool.quadrant == 4


@pytest.mark.parametrize(("insert", "runs"), [(0.61, 45.0), (0.955, 27.0)])
def test_the_run_into_the_relief_follows_the_back_of_the_insert(insert, runs):
    """35 and 55 degrees with a lead of 95: the back leans 50 and 30 from the wall, less 3 to spare."""
    setup = example("gland-flange").with_({"boring.tool.insert_angle": insert})
    (x0, z0), (x1, z1) = bore(setup).design.profile[2:4]
    assert atan2(x1 - x0, z0 - z1) * 180 / pi == pytest.approx(runs, abs=0.5)


def test_a_tool_that_lies_along_the_wall_cannot_cut_the_relief():
    plan = bore(example("gland-flange").with_({"boring.tool.insert_angle": 80 * pi / 180}))
    assert "cannot turn the corner relief" in plan.refusals[0]


def test_speed_while_cutting_is_well_under_the_plates_and_keeps_the_ring_held(plans):
    for plan in plans.values():
        assert plan.spindle_limit <= 0.5 * plan.setup.chuck.max_speed_rpm
    slow = bore(example("gland-flange").with_({"jaws.bored_pressure": 0.5}))
    assert slow.spindle_limit < plans["gland-flange"].spindle_limit
    assert "a third of the push" in slow.spindle_limit_by
    stated = bore(example("gland-flange").with_({"boring.spindle_limit": 400.0}))
    assert (stated.spindle_limit, stated.spindle_limit_by) == (400.0, "stated")


def test_without_hardware_every_missing_key_is_named():
    plan = bore(example("float-ring"))
    assert not plan.can_be_cut
    text = "\n".join(plan.refusals)
    assert "jaws: ends is missing" in text
    assert "jaws: holes is missing" in text
    assert plan.job is None
    assert plan.steps == ()


@pytest.mark.parametrize(
    "name", [*CUT, "float-ring", *longer(*(one for one in NAMES if one not in (*CUT, "float-ring")))]
)
def test_every_example_has_a_job_or_a_reason(name):
    plan = bore(example(name))
    assert (plan.job is not None) != bool(plan.refusals)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"jaws.serration": "3 mm x 60 deg"}, "3 mm x 60 deg jaws do not fit 1.5 mm x 60 deg master jaws"),
        ({"chuck.swing": 200.0}, "the chuck clears Ø200 mm"),
        ({"chuck.body_diameter": 160.0}, "past the rim of the chuck"),
        ({"chuck.jaw_travel": 0.8}, "stroke is left in the gripping direction"),
        ({"jaws.ends": (-40.0, 40.0), "jaws.holes": (-30.0, 8.0)}, "no tooth puts that diameter"),
        ({"boring.tool.bar_diameter": 60.0, "boring.tool.tip_offset": 40.0}, "use a thinner bar"),
        ({"jaws.bored_pressure": 0.06, "chuck.actuator.threshold_pressure": 0.08}, "all lost before they grip"),
    ],
)
def test_what_cannot_be_cut_is_refused_in_words(changes, words):
    plan = bore(example("gland-flange").with_(changes))
    assert not plan.can_be_cut
    assert words in "\n".join(plan.refusals), plan.refusals


def test_no_ring_of_yours_fits_says_what_to_turn():
    setup = example("winch-shaft").with_({"boring.rings": [{"kind": "plug", "outside": 90.0, "width": 10.0}]})
    plan = bore(setup)
    assert plan.can_be_cut
    assert re.search(r"no ring of yours does: turn a \w+ Ø[\d.]+ mm", "\n".join(plan.words))
    assert any("sets the jaws" in one for one in plan.ring.tried)


def test_a_ring_of_the_shops_that_asks_for_another_tooth_says_so(plans):
    plan = plans["winch-shaft"]
    assert plan.way.tooth != plan.placing.best.tooth
    assert f"the ring asks for tooth {plan.way.tooth}" in plan.words[1]


def test_words_are_in_the_units_of_the_setup():
    metric = example("gland-flange")
    inch = Setup.from_dict({**metric.to_dict(), "units": "metric"}).model_copy(update={"units": "inch"})
    plan = bore(inch)
    assert " in left to open" in plan.words[0]
    assert "mm" not in plan.words[0]
    assert "ft lbf" in next(step.words for step in plan.steps if step.name == "torque")


# Cutting again


LAST = {"diameter": 89.5, "depth": 24.0, "tooth": 21, "chuck": "CH-04", "machine": "lathe 3", "steps": []}


def used(**changes):
    return example("gland-flange").with_({"jaws.last_cut": {**LAST, **changes}, "jaws.cuts_done": 3, "jaws.tooth": 21})


def test_a_used_set_gets_the_least_skim_and_what_is_left():
    plan = recut(used(), 89.5)
    assert plan.needed
    assert plan.skim.per_side == pytest.approx((89.975 - 89.5) / 2)
    assert plan.skim.cleans
    assert plan.refusals == ()
    assert plan.bore.can_be_cut
    assert plan.bore.design.depth == pytest.approx(24.25)
    assert plan.bore.way.tooth == 21
    assert plan.bore.way.metal == pytest.approx(plan.skim.per_side)
    assert plan.skim.web > 7
    assert plan.skim.cuts_left > 0
    assert any("of web is left" in one for one in plan.words)
    assert "cut 4" in plan.steps[-1].words


def test_the_skim_is_what_was_touched_off_also_where_the_ring_sets_the_jaws_off_mid_stroke():
    last = {"diameter": 59.0, "depth": 43.0, "tooth": 14, "chuck": "CH-02", "machine": "lathe 1", "steps": []}
    plug = {"kind": "plug", "outside": 40.0, "width": 10.0}
    setup = example("winch-shaft").with_({"jaws.last_cut": last, "jaws.tooth": 14, "boring.rings": [plug]})
    plan = recut(setup, 59.4)
    assert plan.bore.way.stroke == pytest.approx(0.5)
    assert plan.bore.way.metal == pytest.approx((59.985 - 59.4) / 2)
    assert plan.bore.design.metal[3][0] == pytest.approx(59.4 / 2)
    before = recut(plan.setup)  # nothing touched off yet: the record counts from mid-stroke, the ring adds its half
    edge = hypot(sqrt(29.5**2 - 20.0**2) + 0.5, 20.0)  # a jaw 40 mm wide moved out: the edges of its bore stand nearest
    assert before.skim.per_side == pytest.approx(59.985 / 2 - edge)
    assert not before.skim.cleans


def test_a_ring_to_turn_leaves_the_jaws_where_they_were_touched_off():
    last = {"diameter": 59.0, "depth": 43.0, "tooth": 14, "chuck": "CH-02", "machine": "lathe 1", "steps": []}
    plan = recut(example("winch-shaft").with_({"jaws.last_cut": last, "jaws.tooth": 14}), 59.4)
    assert "12 mm wide, but only 11.75 mm is free below the seat" in plan.bore.ring.tried[0]
    assert plan.bore.way.stroke == 0.0
    assert plan.bore.way.metal == pytest.approx(plan.skim.per_side)


def test_a_used_set_that_will_not_clean_up_is_refused_with_the_remedy():
    plan = recut(used(), 89.8)
    assert not plan.skim.cleans
    assert "will not clean up" in plan.refusals[0]
    assert "3 mm on diameter" in plan.refusals[0]


def test_a_used_set_that_gives_more_than_needed_is_warned():
    plan = recut(used(), 88.0)
    assert plan.refusals == ()
    assert "more than needed" in plan.words[0]


def test_a_set_back_as_it_was_needs_no_cut():
    setup = used(diameter=89.975).with_({"jaws.in_order": True})
    plan = recut(setup)
    assert not plan.needed
    assert plan.bore is None
    assert "no re-cut" in plan.words[0]
    assert [step.name for step in plan.steps] == ["clean", "mount", "check run-out"]
    elsewhere = recut(setup.with_({"machine.name": "lathe 1"}), 89.5)
    assert elsewhere.needed
    assert elsewhere.differs == ("cut on machine lathe 3, now lathe 1",)


def test_a_fine_run_out_asks_for_a_cut_even_of_a_set_as_recorded():
    setup = example("winch-shaft").with_(
        {"jaws.last_cut": {"diameter": 59.985, "tooth": 14, "chuck": "CH-02", "machine": "lathe 1", "steps": []},
         "jaws.tooth": 14, "jaws.in_order": True}
    )  # fmt: skip
    plan = recut(setup, 59.5)
    assert plan.needed
    assert "a refit may not repeat to that" in plan.differs[0]


@pytest.mark.parametrize(("allowed", "found", "cut"), [
    (0.06, None, False), (0.06, 0.03, False), (0.06, 0.3, True), (0.03, None, True), (0.03, 0.02, False),
])  # fmt: skip
def test_the_run_out_that_was_read_decides_and_unread_it_counts_at_its_worst(allowed, found, cut):
    needed, words = refit_words(allowed, found=found)
    assert needed is not cut
    assert words.startswith("re-cut") is cut


def test_a_set_as_recorded_that_runs_out_is_cut_again():
    setup = example("winch-shaft").with_(
        {"jaws.last_cut": {"diameter": 59.985, "tooth": 14, "chuck": "CH-02", "machine": "lathe 1", "steps": []},
         "jaws.tooth": 14, "jaws.in_order": True}
    )  # fmt: skip
    plan = recut(setup, 59.5, runout=0.3)
    assert plan.needed
    assert "0.3" in plan.differs[0]


def test_a_set_that_was_cut_nobody_knows_where_is_no_blank():
    """Its old bore may have taken the metal of the new one; the program took all of it for there."""
    setup = example("winch-shaft")
    assert bore(setup).can_be_cut
    assert bore(setup.with_({"jaws.cuts_done": 0})).can_be_cut
    plan = bore(setup.with_({"jaws.cuts_done": 2}))
    assert not plan.can_be_cut
    assert plan.job is None
    assert any("jaws.cuts_done" in words for words in plan.refusals)


def test_a_set_never_cut_is_not_cut_again():
    with pytest.raises(InputError, match="never cut"):
        recut(example("gland-flange"))
    assert recut(example("gland-flange"), 89.5).needed


# Data


def test_a_plan_is_frozen_data(plans):
    plan = plans["wear-ring"]
    assert is_dataclass(plan)
    with pytest.raises(FrozenInstanceError):
        plan.pressure = 1.0
    assert bore(example("wear-ring")) == plan


def test_a_program_comes_only_from_a_job():
    assert program_of(bore(example("float-ring"))) is None


@pytest.mark.parametrize("name", CUT)
def test_the_program_of_an_example_is_proved(plans, name):
    written = program_of(plans[name])
    assert written.proof.passed
    assert f"S{plans[name].spindle_limit:.0f}" in written.text


def test_the_program_of_a_skim_is_proved_and_shorter(plans):
    written = program_of(recut(used(), 89.5).bore)
    assert written.proof.passed
    assert written.minutes < program_of(plans["gland-flange"]).minutes


def test_geometry_alone_needs_no_mechanics():
    layout = lay_out(prepare(example("wear-ring")))
    assert layout.refusals == ()
    assert layout.design(0.0).profile
    assert layout.design(0.01).mouth_diameter != layout.design(0.0).mouth_diameter


def test_hardware_files_of_the_examples_meet_their_schemas():
    for folder, schema in (("jaws", jaws_schema()), ("rings", rings_schema()), ("tools", tool_schema())):
        jsonschema.Draft202012Validator.check_schema(schema)
        files = sorted((ROOT / "examples" / folder).glob("*.toml"))
        assert files
        for path in files:
            assert list(jsonschema.Draft202012Validator(schema).iter_errors(read_toml(path))) == [], path.name


def test_hardware_keeps_its_sources_and_units(tmp_path):
    setup = example("wear-ring")
    assert setup.source("jaws.ends") == "measured"
    assert setup.source("jaws.mass") == "measured"
    assert setup.source("boring.rings.0.outside") == "measured"
    assert setup.boring.rings[4].inside == 238.0
    assert Setup.from_dict(setup.to_dict()) == setup
    (tmp_path / "rings.toml").write_text('units = "inch"\n[[ring]]\nkind = "plug"\noutside = 2.5\nwidth = 0.5\n')
    table = {**setup.to_dict(), "boring": {"rings": "rings.toml"}}
    inch = Setup.from_dict(table, base_dir=tmp_path)
    assert inch.boring.rings[0].outside == pytest.approx(63.5)
    assert Setup.from_dict(inch.to_dict()) == inch


@pytest.mark.parametrize(
    ("boring_table", "words"),
    [
        ({"rings": "none.toml"}, "boring: rings: "),
        ({"rings": [{"kind": "ring", "outside": 60, "inside": 70, "width": 10}]}, "inside 70 mm is not below outside"),
        ({"tool": {"nose_radius": 0.4}}, "give bar_diameter and overhang"),
        ({"tool": {"nose_radius": 0.4, "outline": [[0, 0], [1, 1]]}}, "make no area"),
        ({"rings": [{"kind": "ring", "outside": 60, "width": 10, "wide": 3}]}, '"wide" is not known'),
        ({"diameter_tolerance": [0.02, 0]}, "does not run from low to high"),
    ],
)
def test_slips_in_the_hardware_are_named(boring_table, words):
    table = {**example("gland-flange").to_dict(), "boring": boring_table}
    with pytest.raises(InputError) as caught:
        Setup.from_dict(table, base_dir=ROOT / "examples")
    assert words in str(caught.value)


def test_trade_figures_say_that_they_have_no_source():
    for name in ("placing", "ring", "bore", "recut", "bolts"):
        text = (ROOT / "src" / "heldtrue" / "tooling" / f"{name}.py").read_text(encoding="utf-8")
        assert "common practice, no source" in text or "common practice, no\nsource" in text


@pytest.mark.parametrize("measured", [70.0, 110.0, 0.1])
def test_a_diameter_these_jaws_cannot_show_is_refused(measured):
    plan = recut(used(), measured)
    assert not plan.can_be_cut
    assert any("cannot be these jaws on this tooth" in words for words in plan.refusals)


def test_a_diameter_within_the_stroke_of_the_record_is_believed():
    assert not any("cannot be these jaws" in words for words in recut(used(), 89.2).refusals)


@pytest.mark.parametrize("runout", [-1.0, 9.0, float("nan")])
def test_a_run_out_that_is_none_is_refused(runout):
    with pytest.raises(InputError, match="run-out"):
        recut(used(), 89.5, runout=runout)


def test_a_used_set_is_not_bored_as_if_it_were_new():
    plan = bore(used())
    assert not plan.can_be_cut
    assert "touch off" in plan.refusals[0]


def test_a_bar_too_short_for_the_bore_is_refused():
    setup = example("winch-shaft")
    assert bore(setup).can_be_cut
    short = bore(setup.with_({"boring.tool.overhang": 20.0}))
    assert not short.can_be_cut
    assert "stands 20 mm out of its holder" in " ".join(short.refusals)


def test_a_tooth_that_is_not_there_is_said():
    plan = recut(used().with_({"jaws.tooth": 99}), 89.5)
    assert any("no tooth 99" in words for words in plan.refusals)


def test_a_grip_longer_than_the_jaws_is_refused_in_words():
    setup = example("winch-shaft")
    with pytest.raises(InputError, match="do not fit on jaws"):
        bore(setup.with_({"grip.z": (3.0, 66.0), "jaws.height": 60.0}))


def test_the_tolerance_turns_with_the_units_it_is_shown_in(plans):
    from heldtrue.sentences import in_units

    words = next(step.words for step in plans["winch-shaft"].steps if step.name == "finish")
    assert "Ø59.985 mm (0 to +0.020 mm)" in words
    assert "Ø2.3616 in (0 to +.0008 in)" in in_units(words, "inch")


def test_where_the_finish_has_no_window_it_is_bored_and_looked_at_at_the_pressure_of_the_finish():
    """The roughing cut of this ring needs more than half as much again."""
    setup = example("float-ring")
    rough, finish = plan_of(setup).pressure.steps
    assert finish.recommended is None
    assert rough.floor > 1.5 * finish.floor
    assert bore(setup).pressure == finish.floor
    assert contact(setup).pressure == finish.floor


# Jaws as they turn


FOLDER = ROOT / "examples"


def held(side, diameter, grip, jaws, tool, **boring):
    """A ring held in these jaws of the 250 mm chuck."""
    other = diameter + 26 if side == "inside" else 0
    corners = sorted([[diameter, 0], [other, 0]]) + sorted([[diameter, 34], [other, 34]], reverse=True)
    return Setup.from_dict({
        "title": "ring", "units": "metric",
        "part": {"number": "WR-190", "material": "CuSn12", "profile": corners},
        "surface": [{"name": "end", "side": "face", "diameter": sorted([diameter, other]), "z": 34}],
        "grip": {"side": side, "diameter": diameter, "diameter_tolerance": [0, 0.04], "z": grip, "seat": True},
        "chuck": {"use": "chucks/250-wedge.toml"}, "jaws": jaws, "boring": {"tool": tool, **boring},
        "cut": [{"name": "face", "kind": "face", "surface": "end", "depth": 1, "feed": 0.2, "speed": 160}],
    }, base_dir=FOLDER)  # fmt: skip


def turned_outside():
    """Flat jaws 90 mm wide that grip a ring inside: their corners stand far out."""
    jaws = {"use": "jaws/wide-250-steel.toml", "width": 90, "ends": [-34, 60], "holes": [-8, 16],
            "counterbore_depth": 45}  # fmt: skip
    return held("inside", 190, [3, 20], jaws, "tools/turning-25.toml")


def test_the_corners_of_flat_jaws_count_for_ring_metal_and_first_pass():
    layout = lay_out(prepare(turned_outside()))
    way, made = layout.ring.way, layout.design(0.0)
    corner = hypot(way.zero + 60.0, 45.0)
    assert corner > way.zero + 60.0 + 7.0
    assert layout.ring.set_to == pytest.approx(2 * corner)
    assert layout.ring.ring.inside >= 2 * corner - 1e-9
    assert max(x for x, _ in made.metal) == pytest.approx(corner)
    assert made.profile[-1][0] == pytest.approx(corner)
    assert way.metal == pytest.approx(corner - 95.01)
    written = program_of(bore(turned_outside()))
    first = next(m for m in written.moves if not m.rapid and m.piece.end[1] < -5.0)
    assert corner - first.piece.end[0] <= 1.5 + 1e-6
    assert written.proof.passed


def test_jaws_that_leave_the_corners_uncut_are_refused():
    plan = bore(example("gland-flange").with_({"jaws.ends": (-32.0, 55.0)}))
    near = lay_out(prepare(example("gland-flange").with_({"jaws.ends": (-32.0, 55.0)})))
    for way in near.placing.ways:
        assert way.zero - 32.0 <= 45.0 * cos(prepare(plan.setup).half_angle) + 0.5
    text = " ".join(words for one in near.placing.refused for words in one.reasons)
    assert "each jaw would bear over" in text


SMALL = {"style": "standard", "material": "C15", "height": 55, "width": 20, "ends": [-52, 30], "holes": [-10],
         "bolt": "M8", "counterbore_diameter": 15, "counterbore_depth": 45, "gap": 12,
         "serration": "1.5 mm x 60 deg"}  # fmt: skip
THIN_BAR = {"nose_radius": 0.2, "bar_diameter": 6, "tip_offset": 4, "overhang": 40}


def test_pointed_jaws_hold_a_small_part_where_flat_ones_do_not_reach_round_it():
    flat = lay_out(prepare(held("outside", 28, [2, 12], SMALL, THIN_BAR)))
    assert "each jaw would bear over" in " ".join(w for one in flat.placing.refused for w in one.reasons)
    pointed = lay_out(prepare(held("outside", 28, [2, 12], {**SMALL, "inner_end": "pointed"}, THIN_BAR)))
    assert pointed.refusals == ()
    assert pointed.ring.way.outline.least_radius == pytest.approx(pointed.ring.way.zero - 52.0)
    thick = lay_out(
        prepare(held("outside", 28, [2, 12], {**SMALL, "inner_end": "pointed"}, "tools/boring-bar-16.toml"))
    )
    assert "between the jaws" in " ".join(thick.refusals)


def test_wide_jaws_go_round_a_small_part_only_where_they_are_pointed():
    wide = {**SMALL, "width": 40}
    with pytest.raises(InputError, match="side by side"):
        held("outside", 22, [2, 12], wide, THIN_BAR)
    prepare(held("outside", 22, [2, 12], {**wide, "inner_end": "pointed", "gap": 4}, THIN_BAR))


def test_a_used_bore_off_the_axis_is_cut_from_where_it_stands_nearest():
    last = {"diameter": 89.0, "depth": 24.0, "tooth": 20, "chuck": "CH-04", "machine": "lathe 3", "steps": []}
    setup = example("gland-flange").with_({"jaws.last_cut": last, "jaws.tooth": 21})  # a tooth further out
    away = hypot(sqrt(44.5**2 - 30.0**2) + 1.5, 30.0)  # its edges
    plan = recut(setup, 2 * away - 2.0)  # touched off a millimetre further in, somewhere in the stroke
    old = plan.bore.design.metal
    assert old[3][0] == pytest.approx(away - 1.0, abs=1e-6)
    assert plan.skim.least > 0.2  # its middle lies further out and must clean too
    far = recut(setup, 2 * away)
    assert not far.skim.cleans or far.skim.least > 0.2 + 0.3


def test_the_relief_of_the_last_cut_is_air_and_taken_in_by_the_new_one():
    recorded = used(relief_width=2.4, relief_depth=0.6, seat_land=13.0, seat_relief=0.5)
    plan = recut(recorded, 89.5)
    made = plan.bore.design
    metal = shapely.Polygon(made.metal)
    assert metal.is_valid
    assert not metal.contains(shapely.Point(44.75 + 0.5, -23.9))  # in the old groove, at the old seat
    assert metal.contains(shapely.Point(44.75 + 0.5, -21.0))
    assert made.relief[0] == pytest.approx(2.65)  # the seat goes 0.25 deeper, the old groove stays above it
    assert any("what the last cut left" in words for words in plan.bore.notes)
    assert program_of(plan.bore).proof.passed
    unsaid = recut(used(), 89.5)
    assert shapely.Polygon(unsaid.bore.design.metal).contains(shapely.Point(44.75 + 0.1, -23.9))
    assert any("corner relief of the last cut" in words for words in unsaid.bore.assumed)


def test_a_last_cut_that_left_no_metal_for_the_seat_is_refused():
    deep = recut(used(seat_land=3.0, seat_relief=0.5), 89.5)  # the part's seat is 11 mm wide
    assert not deep.can_be_cut
    assert "left no metal" in " ".join(deep.refusals)


def test_a_seat_that_is_not_set_back_is_not_said_to_be():
    short = lay_out(prepare(example("gland-flange").with_({"boring.rings": None}))).design(0.0)
    assert short.seat_relief == 0.0
    assert short.profile[-1][1] == pytest.approx(-short.depth)
    deep = lay_out(prepare(example("winch-shaft"))).design(0.0)
    assert deep.seat_relief == pytest.approx(0.5)
    assert deep.profile[-1][1] == pytest.approx(-deep.depth - 0.5)


def test_a_boring_pressure_over_that_of_the_run_is_warned_about():
    plan = bore(example("gland-flange").with_({"jaws.bored_pressure": 2.8}))
    assert any("the jaws are cut at 28.0 bar, and the part runs at" in words for words in plan.warnings)
    assert plan.warnings[0] in plan.notes
    assert any("on a set screw" in one for one in plan.ring.tried)
    assert bore(example("gland-flange")).warnings == ()


def test_a_boring_pressure_over_the_plate_of_the_chuck_is_refused():
    setup = example("gland-flange").with_({"jaws.bored_pressure": 3.0, "chuck.max_draw_force": 30_000.0})
    plan = bore(setup)
    assert not plan.can_be_cut
    assert "over the plate of the chuck" in plan.refusals[0]


# Forces while they are cut


def forces_failing(plan):
    return {check.name for check in plan.forces.failing}


def test_a_cut_that_pushes_the_jaws_off_their_ring_is_refused_with_numbers_that_hold():
    setup = example("gland-flange").with_({"boring.pass_depth": 5.0, "boring.rough_feed": 1.0})
    plan = bore(setup)
    assert not plan.can_be_cut
    assert program_of(plan) is None
    assert plan.steps == ()
    assert {"ring", "edge", "feed", "give"} <= forces_failing(plan)
    assert "pushes a jaw off its ring: 25." in plan.refusals[0]
    there = {way.knob: way.after for way in plan.forces.together}
    again = bore(setup.with_({"boring.pass_depth": there["pass_depth"], "boring.rough_feed": there["rough_feed"]}))
    assert again.can_be_cut, again.refusals
    assert f"passes {there['pass_depth']:.3f} mm deep" in plan.refusals[-1]


def test_a_deep_pass_that_was_asked_for_is_told_the_largest_depth_and_feed_that_hold():
    setup = example("gland-flange").with_({"boring.pass_depth": 3.0, "boring.rough_feed": 0.2})
    plan = bore(setup)
    assert not plan.can_be_cut
    found = {way.knob: way.after for way in plan.forces.would_hold}
    for knob in ("pass_depth", "rough_feed"):
        assert bore(setup.with_({f"boring.{knob}": found[knob]})).can_be_cut
        assert not bore(setup.with_({f"boring.{knob}": found[knob] * 1.1})).can_be_cut


def test_a_thin_bar_far_out_is_refused_and_a_longer_one_than_usual_is_said():
    setup = example("gland-flange")
    plan = bore(setup.with_({"boring.tool.bar_diameter": 8.0, "boring.tool.overhang": 120.0}))
    assert not plan.can_be_cut
    assert {"slender", "give"} <= forces_failing(plan)
    assert "the bar stands 15 diameters out" in " ".join(plan.refusals)
    assert any("4.38 diameters out, taken as steel, over the usual 4" in note for note in bore(setup).notes)
    stiff = bore(setup.with_({"boring.tool.bar_material": "carbide"}))
    assert not any("diameters out" in note for note in stiff.notes)


def test_an_edge_shorter_than_the_pass_asks_for_is_refused():
    plan = bore(example("gland-flange").with_({"boring.tool.edge_length": 2.0, "boring.pass_depth": 1.5}))
    assert forces_failing(plan) == {"edge"}
    assert any("6 mm long" in words for words in bore(example("gland-flange")).assumed)


def test_power_and_torque_are_held_against_the_machine_and_said_where_nobody_stated_them():
    setup = example("gland-flange")
    silent = bore(setup)
    needs = {check.name: check for check in silent.forces.checks if check.part == "rough"}
    for key in ("power", "torque"):
        assert needs[key].state == "not checked"
        assert any(f"not checked: spindle {key}" in note and f"state machine.{key}" in note for note in silent.notes)
        asked = {"boring.pass_depth": 1.5, "boring.rough_feed": 0.15, "boring.finish_feed": 0.08,
                 "boring.surface_speed": 120.0}  # fmt: skip
        weak = bore(setup.with_({f"machine.{key}": 0.9 * needs[key].value, **asked}))
        assert forces_failing(weak) == {key}
        assert not weak.can_be_cut
        assert bore(setup.with_({f"machine.{key}": 1.01 * needs[key].value, **asked})).can_be_cut
        less = bore(setup.with_({f"machine.{key}": 0.9 * needs[key].value}))
        assert less.can_be_cut
        assert less.job.cutting.pass_depth < 1.5
        assert any("which is usual: more does not hold" in note for note in less.notes)


def test_a_bar_nobody_stated_proves_nothing():
    plan = bore(example("gland-flange").with_({"boring.tool": None}))
    assert plan.can_be_cut
    states = {check.name: check.state for check in plan.forces.checks if check.name in ("give", "slender", "size")}
    assert states == dict.fromkeys(("give", "slender", "size"), "not checked")
    assert any("not checked: bar gives way" in note and "state boring.tool" in note for note in plan.notes)


def test_bolts_too_weak_for_the_cut_refuse_it():
    asked = {"boring.pass_depth": 1.5, "boring.rough_feed": 0.15}
    setup = example("gland-flange").with_(asked)
    weak = bore(setup.with_({"jaws.bolt": "M6", "jaws.bolt_class": "8.8"}))
    assert forces_failing(weak) == {"slide"}
    assert "the bolts hold" in weak.refusals[0]
    one = bore(setup.with_({"jaws.holes": (8.0,), "jaws.bolt": "M6", "jaws.bolt_class": "8.8"}))
    assert {"slide", "tip"} <= forces_failing(one)


def test_a_weak_push_on_the_ring_refuses_what_a_strong_one_holds():
    setup = example("gland-flange").with_({"boring.pass_depth": 1.5, "boring.rough_feed": 0.15})
    assert bore(setup.with_({"jaws.bored_pressure": 0.75})).can_be_cut
    weak = bore(setup.with_({"jaws.bored_pressure": 0.2}))
    assert "ring" in forces_failing(weak)
    assert not weak.can_be_cut


@pytest.mark.parametrize("name", CUT)
def test_forces_are_reckoned_at_the_speed_and_depth_of_the_program(plans, name):
    plan, written = plans[name], program_of(plans[name])
    fastest = {one.part: one.speed for one in plan.forces.passes}["rough"]
    assert written.proof.top_speed <= fastest * (1 + 1e-9)
    assert written.proof.deepest <= plan.forces.passes[0].depth + 1e-6


def test_a_used_bore_that_runs_out_or_stands_elsewhere_makes_the_first_pass_deeper():
    setup = used().with_({"boring.pass_depth": 1.0})
    first = {runout: recut(setup, 89.5, runout=runout).bore.forces.passes[0].depth for runout in (0.0, 0.4, None)}
    assert first[0.0] == pytest.approx(1.0, abs=0.01)
    assert first[0.4] == pytest.approx(first[0.0] + 0.2)
    assert first[None] == pytest.approx(first[0.0] + 0.025)


def test_the_finish_step_says_what_a_bar_that_gives_way_asks_for(plans):
    finish = next(step.words for step in plans["gland-flange"].steps if step.name == "finish")
    size = next(check for check in plans["gland-flange"].forces.checks if check.name == "size")
    assert size.state == "to correct"
    assert f"up to {size.value:.3f} mm off on diameter" in finish
    stiff = next(step.words for step in plans["wear-ring"].steps if step.name == "finish")
    assert "bar may give way" not in stiff


def test_an_old_bore_of_which_nothing_is_recorded_is_said_to_be_taken_as_round():
    said = ("the old bore is round about the axis where it stands now, and has no steps: no last cut is recorded, "
            "look at it")  # fmt: skip
    table = used().to_dict()
    tooth = table["jaws"]["last_cut"].get("tooth")
    table["jaws"].pop("last_cut")
    unknown = Setup.from_dict({**table, "jaws": {**table["jaws"], "tooth": table["jaws"].get("tooth", tooth)}})
    assert said in recut(unknown, 89.5).bore.assumed
    assert said not in recut(used(), 89.5).bore.assumed


# The whole job


@pytest.mark.parametrize(("step", "fits"), [
    ({"diameter": 96, "z": 6}, False), ({"diameter": 88, "z": 6}, True), ({"diameter": 96, "z": 30}, True),
    ({"diameter": 96, "z": -4}, False), ({"diameter": 60, "z": -4}, True),
])  # fmt: skip
def test_a_wall_where_an_earlier_step_took_the_metal_is_refused(step, fits):
    setup = example("gland-flange-repeat")
    made = recut(setup.with_({"jaws.last_cut.steps": [step]}), 89.55)
    assert recut(setup, 89.55).can_be_cut
    assert made.can_be_cut == fits
    assert fits or any("the last cut left no metal" in one for one in made.refusals)


def test_fronts_are_faced_and_the_mouth_is_gone_over_by_the_program():
    setup = example("winch-shaft").with_({"boring.face": 0.5, "boring.deburr": True})
    plain, made = bore(example("winch-shaft")), bore(setup)
    assert made.design.faced_by_program
    assert made.design.face_off == 0.5
    assert made.design.height == pytest.approx(plain.design.height - 0.5)
    assert made.job.face_off == 0.5
    assert max(z for _, z in made.job.metal) == 0.5
    assert "face" in {one.part for one in made.forces.passes}
    steps = {step.name: step.words for step in made.steps}
    assert "face" not in steps  # nobody faces them by hand
    assert "they are z +0.500 mm, not 0" in steps["touch off"]
    assert "the program went over again" in steps["deburr"]
    assert any("faced to z 0" in one for one in made.job.comments)
    written = program_of(made)
    assert written.proof.passed
    assert [*written.passes][:: len(written.passes) - 1] == ["face", "deburr"]


def test_with_a_ring_in_the_jaw_faces_the_fronts_are_faced_before():
    made = bore(example("gland-flange").with_({"jaws.height": 33.5, "boring.face": 0.5}))
    assert made.ring.groove is not None
    assert not made.design.faced_by_program
    assert made.job.face_off == 0.0
    assert max(z for _, z in made.job.metal) == 0.0
    assert "Face 0.5 mm off the jaw fronts" in {step.name: step.words for step in made.steps}["face"]


def test_facing_is_held_against_the_push_on_the_ring():
    made = bore(example("gland-flange").with_({"boring.face": 2.0, "boring.finish_feed": 0.3}))
    one = next(one for one in made.forces.passes if one.part == "face")
    assert one.depth == pytest.approx(0.4)  # no deeper than the nose
    assert one.pushes[0][1] == pytest.approx(made.design.height + 2.0)
    assert {check.name for check in made.forces.checks if check.part == "face"} >= {"ring", "edge", "torque", "tip"}
    held = next(check for check in made.forces.checks if (check.name, check.part) == ("ring", "face"))
    lower = next(check for check in made.forces.checks if (check.name, check.part) == ("ring", "finish"))
    assert held.value > lower.value


HUB = {"part.profile": [[62, -5], [70, -5], [70, 0], [90, 0], [90, 30], [150, 30], [150, 46], [62, 46]],
       "part.blank": [[58, -5], [70, -5], [70, 0], [90, 0], [90, 28], [154, 28], [154, 48], [58, 48]],
       "grip.seat_diameters": [74, 88]}  # fmt: skip
"""The gland flange with a hub that stands 5 mm out of its seat face."""


def test_a_part_that_does_not_go_into_the_bore_is_refused_and_a_step_takes_it():
    hub = example("gland-flange").with_(HUB)
    made = bore(hub)
    assert not made.can_be_cut
    assert any("the part runs into the jaws at Ø" in one and "behind the seat" in one for one in made.refusals)
    made = bore(hub.with_({"boring.steps": [{"diameter": 71, "z": -6}]}))
    assert made.refusals == ()
    assert program_of(made).proof.passed
    assert (35.5, -30.0) in made.job.finished
    assert any("Ø71.000 mm behind the seat, to 30 mm deep" in step.words for step in made.steps)
    assert any("Ø71.000 mm behind the seat" in one for one in made.job.comments)


@pytest.mark.parametrize(("steps", "why"), [
    ([{"diameter": 80, "z": -6}], "must be smaller than Ø74 mm, where the seat face ends"),
    ([{"diameter": 71, "z": -1}], "too short: at least 1.5 mm behind the seat"),
    ([{"diameter": 71, "z": -6}, {"diameter": 72, "z": -9}], "must be smaller than Ø71 mm, where the step before it"),
    ([{"diameter": 70.2, "z": -6}], "leaves the part 0.1 mm of room, 0.2 mm per side is least"),
    ([{"diameter": 71, "z": -4.5}], "the part runs into the jaws at"),
    ([{"diameter": 71, "z": -6}, {"diameter": 50, "z": -9}], "do not reach in"),
    ([{"diameter": 100, "z": 20}], "is in the gripped length, which ends 24 mm above the seat"),
    ([{"diameter": 100, "z": 24}], "has no room: the jaws end 24 mm above the seat"),
    ([{"diameter": 71, "z": -40}], ""),
])  # fmt: skip
def test_steps_that_make_no_nest_are_refused(steps, why):
    made = bore(example("gland-flange").with_({**HUB, "boring.steps": steps}))
    assert not made.can_be_cut
    assert why in " ".join(made.refusals)


@pytest.mark.parametrize(("steps", "why"), [
    ([{"diameter": 98, "z": 25}], "leaves the part 0 mm of room"),
    ([{"diameter": 98, "z": 25, "grips": True}], ""),
    ([{"diameter": 97, "z": 25, "grips": True}], "the part runs into the jaws"),
    ([{"diameter": 104, "z": 25, "grips": True}], "grips nothing"),
    ([{"diameter": 100, "z": 27}], "needs 4.26 mm to go in"),
    ([{"diameter": 89, "z": 25}], "must be larger than Ø89.97 mm"),
    ([{"diameter": 190, "z": 25}], "bolt 1"),
])  # fmt: skip
def test_steps_towards_the_mouth(steps, why):
    made = bore(nest_setup(steps))
    assert why in " ".join(made.refusals)
    assert made.can_be_cut is (why == "")


def test_steps_stand_in_the_document_and_on_the_drawing():
    made = bore(nest_setup())
    entry = bore_document(made, None, None, None).bore
    assert [(one.diameter, one.z, one.grips) for one in entry.steps] == [(100, 25, False), (65.5, -4, False)]
    drawn = jaw_svg(bored_jaw(made))
    assert "Ø100" in drawn
    assert "Ø65.5" in drawn
