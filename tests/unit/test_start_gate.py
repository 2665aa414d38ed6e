"""May the spindle start with what the gauge shows?"""

import pytest
from conftest import EXAMPLES, example, longer

from heldtrue.errors import InputError
from heldtrue.mechanics.spin import required_grip_at_rest
from heldtrue.planning.caveats import caveat_words, caveats_of
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.plan import plan
from heldtrue.planning.result import FAILS, PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.start_gate import decide_start, start_of
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure
from heldtrue.quantities import parse_quantity


@pytest.fixture(scope="module")
def shaft():
    return Study.of(example("winch-shaft"))


@pytest.fixture(scope="module")
def ring():
    return Study.of(example("wear-ring"))


def test_the_last_job_s_pressure_does_not_start(shaft):
    """The accident this gate stands against: set for another job, it holds slowly and lets go fast."""
    decision = start_of(shaft, parse_quantity("170 psi", "pressure"))
    assert not decision.may
    weakest = decision.loads[0]
    assert weakest.name == "rough thread end"
    assert 0 < weakest.factor < weakest.asked
    assert weakest.holds_to < weakest.speed
    assert decision.words.startswith("must not start at 170 psi (11.7 bar): the floor is 387 psi (26.7 bar)")
    said = [reason for reason in decision.reasons if "out of the jaws during 'rough thread end'" in reason]
    assert len(said) == 1
    assert "tilting moment carried" in said[0]


@pytest.mark.parametrize("text", ["170 psi", "395 psi"])
def test_a_load_holds_to_the_speed_at_which_its_tighter_rule_is_just_kept(shaft, text):
    gauge, holds = parse_quantity(text, "pressure"), shaft.holds
    loads = {one.name: one for one in start_of(shaft, gauge).loads}
    by_rule = {}
    for held in shaft.held:
        speed = loads[held.name].holds_to
        if speed in (0.0, float("inf")):
            continue
        published, worst = (
            (values, case, holds.lost(values, speed))
            for values, case in ((holds.published, held.published), (holds.worst, held.worst))
        )
        asked = required_grip_at_rest(1 / published[1].limit.factor, published[2], 2.0)
        by_rule[held.name] = (
            float(asked) / shaft.job.static_grip(published[0], gauge),
            (1 / worst[1].limit.factor + worst[2]) / shaft.least_grip(worst[0], gauge),
        )
        assert max(by_rule[held.name]) == pytest.approx(1.0, rel=1e-6), held.name
        assert (speed >= held.speed_rpm) == (loads[held.name].factor >= loads[held.name].asked), held.name
    assert by_rule


SOME = ("wear-ring", "winch-shaft", "valve-stem")


@pytest.mark.parametrize("name", [*SOME, *longer(*(path.stem for path in EXAMPLES if path.stem not in SOME))])
def test_the_gate_opens_from_floor_to_ceiling_and_nowhere_else(name):
    study = Study.of(example(name))
    advice = advise_pressure(study)
    for step in advice.steps:
        if step.recommended is None:
            for gauge in (step.ceiling, step.floor):
                assert not start_of(study, gauge, step.name).may
            continue
        # One step without a pressure shuts the gate of the other too: the part could not be finished.
        for gauge, inside in (
            (step.floor * 0.99, False), (step.floor, True), (step.recommended, True), (step.ceiling, True),
            (step.ceiling * 1.01, False), (0.0, False),
        ):  # fmt: skip
            decision = start_of(study, gauge, step.name)
            assert decision.may is (inside and advice.has_window), (step.name, gauge)
            assert all(check.state == PASSES for check in decision.checks) is inside, (step.name, gauge)


@pytest.mark.parametrize("name", ["winch-shaft", pytest.param("wear-ring", marks=pytest.mark.long), "valve-stem"])
def test_the_gate_and_a_plan_at_the_same_pressure_judge_alike(name):
    setup = example(name)
    study = Study.of(setup)
    advice = advise_pressure(study)
    states = set()
    for step in advice.steps:
        low, high = sorted((step.floor, step.ceiling))
        for gauge in (0.8 * low, (low + high) / 2, 1.1 * high):
            made = plan(setup.with_({"run.pressure": gauge}), helped=False)
            decision = start_of(study, gauge, step.name)
            theirs = {check.name: check for check in made.checks}
            assert {check.name: check.state for check in decision.checks} == {
                check.name: theirs[check.name].state for check in decision.checks
            }, (step.name, gauge)
            for check in decision.checks:
                assert check.margin == pytest.approx(theirs[check.name].margin, rel=1e-6, abs=1e-9), check.name
            passes = all(check.state == PASSES for check in decision.checks)
            assert decision.may is (passes and advice.has_window and not caveats_of(setup)), (step.name, gauge)
            states |= {check.state for check in decision.checks}
    assert {PASSES, FAILS} <= states


def test_a_pressure_stated_in_the_setup_does_not_open_the_gate():
    stated = example("winch-shaft").with_({"run.pressure": "395 psi"})
    assert not decide_start(stated, parse_quantity("170 psi", "pressure")).may
    assert decide_start(stated, parse_quantity("395 psi", "pressure")).may


def test_each_of_two_pressures_has_its_own_gate(ring):
    rough, finish = (parse_quantity(text, "pressure") for text in ("10.5 bar", "4.2 bar"))
    assert start_of(ring, rough).may
    assert not start_of(ring, finish).may
    assert start_of(ring, finish, "finish").may
    assert not start_of(ring, rough, "finish").may
    assert "has its own window" in start_of(ring, rough).warnings[0]


def test_an_inside_grip_that_holds_does_so_at_any_speed_and_else_at_none(ring):
    held, loose = (start_of(ring, parse_quantity(text, "pressure")).loads for text in ("10.5 bar", "0.5 bar"))
    assert {one.holds_to for one in held} == {float("inf")}
    assert {one.name: one.holds_to for one in loose}["rough land"] == 0.0


def test_a_job_over_the_plates_speed_must_not_start_and_says_what_is_left_of_the_grip():
    reasons = decide_start(example("winch-shaft").with_({"run.speed_rpm": 9000.0}), 2.5).reasons
    assert "speed 9000 rev/min, at most 4000 rev/min: 125% over the limit" in reasons
    assert "no grip is left at speed, 33% needed" in reasons


def test_an_unknown_step_is_named(ring):
    with pytest.raises(InputError, match="it has rough, finish"):
        start_of(ring, 1.0, "drill")


def test_a_bare_number_far_over_the_plates_is_asked_back():
    most = parse_quantity("40 bar", "pressure")
    with pytest.raises(InputError, match='did you mean "377 psi"'):
        typed_pressure("377", "bar", most)
    assert typed_pressure("377 bar", "bar", most) == pytest.approx(37.7)  # written with its unit it is meant
    assert typed_pressure("45", "bar", most) == pytest.approx(4.5)  # a little over the plate is no slip of units
    assert typed_pressure("377", "psi", most) == pytest.approx(2.5993, rel=1e-4)


@pytest.mark.parametrize(("table", "key", "said"), [
    ("chuck", "max_grip_force", "the plate figures of the chuck are assumed"),
    ("grip", "seat", "whether there is a seat is not said"),
])  # fmt: skip
def test_what_nobody_looked_at_is_never_proven_and_does_not_start(table, key, said):
    stated = example("winch-shaft").with_({"grip.centre": True}).to_dict()
    value = stated[table].pop(key)
    if key == "max_grip_force":
        stated[table][key] = {"value": value["value"] if isinstance(value, dict) else value, "from": "assumed"}
    setup = Setup.from_dict(stated)
    made = plan(setup, helped=False)
    assert all(check.state == PASSES for check in made.checks)
    assert made.verdict == "not proven"
    assert any(said in note for note in made.notes)
    assert any(said in word for word in caveat_words(setup))
    decision = decide_start(setup, made.pressure.recommended)
    assert not decision.may
    assert list(decision.reasons) == list(caveat_words(setup))


@pytest.mark.parametrize("typed", ["2.6e1", "26e0", "2,6E1"])
def test_an_exponent_is_no_unit(typed):
    """26 on a gauge in psi was taken for 26 bar: it might have started at a fourteenth of the pressure."""
    assert typed_pressure(typed, "psi", 4.0) == pytest.approx(typed_pressure("26 psi", "psi"))
    assert typed_pressure(typed, "bar", 4.0) == pytest.approx(2.6)
