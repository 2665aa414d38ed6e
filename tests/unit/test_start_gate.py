"""May the spindle start with what the gauge shows?"""

import pytest
from conftest import EXAMPLES, example

from heldtrue.errors import InputError
from heldtrue.planning.gauge_words import typed_pressure
from heldtrue.planning.plan import plan
from heldtrue.planning.setup import Setup
from heldtrue.planning.start_gate import decide_start, start_of
from heldtrue.planning.study import Study
from heldtrue.quantities import parse_quantity


@pytest.fixture(scope="module")
def shaft():
    return Study.of(example("winch-shaft"))


@pytest.fixture(scope="module")
def ring():
    return Study.of(example("wear-ring"))


def test_the_last_job_s_pressure_lets_go_at_speed(shaft):
    """The accident this gate stands against: set for another job, it holds slowly and lets go fast."""
    decision = start_of(shaft, parse_quantity("170 psi", "pressure"))
    assert not decision.may
    weakest = decision.loads[0]
    assert 0 < weakest.lets_go_at < weakest.speed
    assert weakest.factor < 1
    assert f"lets go at its {weakest.speed:.0f}" in decision.words


def test_at_the_speed_where_it_lets_go_it_is_just_held(shaft):
    gauge = parse_quantity("170 psi", "pressure")
    one = start_of(shaft, gauge).loads[0]
    held = next(held for held in shaft.held if held.load.name == one.name)
    assert held.limit.factor * shaft.holding_grip(shaft.worst, gauge, one.lets_go_at) == pytest.approx(1.0)
    assert one.holds_to < one.lets_go_at


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_the_gate_opens_from_floor_to_ceiling_and_nowhere_else(path):
    setup = example(path.stem)
    made = plan(setup)
    study = Study.of(setup)
    for step in made.pressure.steps:
        if step.recommended is None:
            assert not start_of(study, step.floor, step.name).may
            continue
        for gauge, may in (
            (step.floor * 0.99, False), (step.floor, True), (step.recommended, True), (step.ceiling, True),
            (step.ceiling * 1.01, False), (0.0, False),
        ):  # fmt: skip
            assert start_of(study, gauge, step.name).may is may, (step.name, gauge)


def test_a_pressure_stated_in_the_setup_does_not_open_the_gate():
    stated = example("winch-shaft").with_({"run.pressure": "375 psi"})
    assert not decide_start(stated, parse_quantity("170 psi", "pressure")).may
    assert decide_start(stated, parse_quantity("375 psi", "pressure")).may


def test_each_of_two_pressures_has_its_own_gate(ring):
    rough, finish = (parse_quantity(text, "pressure") for text in ("10.5 bar", "4.2 bar"))
    assert start_of(ring, rough).may
    assert not start_of(ring, finish).may
    assert start_of(ring, finish, "finish").may
    assert not start_of(ring, rough, "finish").may
    assert "has its own window" in start_of(ring, rough).warnings[0]


def test_an_inside_grip_lets_go_at_no_speed_of_its_own(ring):
    loads = start_of(ring, parse_quantity("10.5 bar", "pressure")).loads
    assert all(one.lets_go_at == float("inf") for one in loads)


def test_a_job_over_the_plates_speed_must_not_start():
    fast = example("winch-shaft").with_({"run.speed_rpm": 9000.0})
    assert any("over the plates'" in reason for reason in decide_start(fast, 2.5).reasons)


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
    stated = example("winch-shaft").to_dict()
    value = stated[table].pop(key)
    if key == "max_grip_force":
        stated[table][key] = {"value": value["value"] if isinstance(value, dict) else value, "from": "assumed"}
    setup = Setup.from_dict(stated)
    made = plan(setup)
    assert made.verdict == "not proven"
    assert any(said in note for note in made.notes)
    decision = decide_start(setup, made.pressure.recommended)
    assert not decision.may
    assert any(said in reason for reason in decision.reasons)
