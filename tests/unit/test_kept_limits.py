"""The limits that a plan leaves behind say of another state of the chuck what a full plan says, or nothing."""

import random
from functools import cache

import pytest
from conftest import example, longer

from heldtrue.errors import HeldtrueError
from heldtrue.planning.inputs import prepare, readings_of
from heldtrue.planning.kept_limits import DIGITS, KeptLimits, limits_of, still_hold, today
from heldtrue.planning.plan import judged
from heldtrue.planning.result import PASSES
from heldtrue.planning.study import Study
from heldtrue.planning.window import every_step
from heldtrue.tooling.grip_estimate import Reading

BORED = {"jaws.bored_pressure": 0.7}
LOOSE = {"wear-ring": {"surfaces.0.roundness": 0.06, "surfaces.0.runout": 0.06}, "gland-flange": BORED}
"""Changes that bring in an inside grip with something to spare, and a stated pressure of boring."""
NAMES = ("gland-flange", "pump-sleeve-inch", "wear-ring", "winch-shaft")


@cache
def shown(name):
    """An example, with what these tests change in it."""
    return example(name).with_(LOOSE[name]) if name in LOOSE else example(name)


def in_some_state(setup, draw):
    """The setup with its chuck greased and read in one of the ways that a log may have it."""
    count = draw.choice([0, 0, 1, 2, 2, 3])
    changes = {"chuck.grease": draw.choice(["good", "good", "poor", None]), "chuck.grip_readings": None}
    if count:
        actuator, chuck = setup.chuck.actuator, setup.chuck
        area = actuator.pull_area if setup.grip.side == "outside" else actuator.push_area
        slope = draw.uniform(0.55, 1.0) * chuck.max_grip_force / chuck.max_draw_force * area
        lost, days = actuator.threshold_pressure or draw.uniform(0.0, 0.08), draw.choice([0, 5, 40, 200])
        pressures = [draw.uniform(0.5, 2.2) for _ in range(count)]
        changes["chuck.grip_readings"] = [
            {"pressure": one, "force": slope * (one - lost) * draw.gauss(1, 0.02), "days": days} for one in pressures
        ]  # fmt: skip
    return setup.with_(changes)


@cache
def planned_fully(name, number):
    """The example in one state: its verdict, windows of every step, and what it leaves behind."""
    setup = in_some_state(shown(name), random.Random(f"{name} {number}")) if number else shown(name)
    study = Study.of(setup)
    advice, setting, _, verdict = judged(study)
    steps = {step.name: step for step in every_step(study, advice)}
    kept = limits_of(study, setting, setup.chuck) if verdict == PASSES else None
    return setup, verdict, steps, kept


def asked(kept, readings, grease):
    """Do kept limits say that the pressures still pass, and their floors; with the chuck they were asked with."""
    read = KeptLimits.read([kept])
    chuck = today(read.chuck(0), readings, grease)
    (fine,), (floors,) = still_hold(read, [chuck], [0])
    return fine, floors, chuck


def states(name, count):
    """States of one example that can be planned at all."""
    found = []
    for number in range(count):
        try:
            found.append(planned_fully(name, number))
        except HeldtrueError:
            continue
    return found


@pytest.mark.parametrize(
    ("name", "count"),
    [("gland-flange", 6), *longer(*((name, 80) for name in NAMES))],
)
def test_what_limits_pass_a_full_plan_passes_at_the_same_pressures(name, count):
    every, yes, least = states(name, count), 0, 1 - 10.0 ** (1 - DIGITS)
    for _, verdict, _, kept in every:
        if verdict != PASSES or kept is None:
            continue
        read = KeptLimits.read([kept])
        for setup, other, steps, _ in every:
            fine, floors, chuck = asked(kept, readings_of(setup.chuck), setup.chuck.grease)
            assert chuck.estimate == prepare(setup).grip_estimate
            for step, pressure, floor in zip(read.names()[0], read.pressures()[0], floors, strict=False):
                # Exact but for the digits that are kept, or a little over where the safety factor may have grown.
                assert steps[step].floor * least <= floor <= 1.21 * steps[step].floor
                if chuck.serviced == read.chuck(0).was_serviced:
                    assert floor == pytest.approx(steps[step].floor, rel=1e-6)
                if fine:
                    assert steps[step].floor <= pressure <= steps[step].ceiling
            yes += bool(fine)
            assert not fine or other == PASSES
    assert yes > 0


def test_a_full_plan_is_asked_where_its_own_state_is_too_near_a_limit():
    """The wear ring passes by 2 % of roundness: that is not enough to be sure of another state."""
    setup = example("wear-ring")
    study = Study.of(setup)
    _, setting, _, verdict = judged(study)
    assert verdict == PASSES
    kept = limits_of(study, setting, setup.chuck)
    assert not asked(kept, readings_of(setup.chuck), setup.chuck.grease)[0]


def test_a_reading_at_the_lost_pressure_is_left_to_a_plan():
    kept = planned_fully("gland-flange", 0)[3]
    readings = (Reading(0.1005, 500.0, 0.0), Reading(1.5, 40_000.0, 0.0))
    assert not asked(kept, readings, "good")[0]


def test_what_a_setup_says_of_its_chuck_comes_back():
    for grease, serviced, rows in (("good", True, [(1.5, 40e3, 3, 0.03), (1.9, 52e3, None, None)]), (None, False, [])):
        setup = shown("gland-flange").with_({
            "chuck.grease": grease, "chuck.serviced": serviced,
            "chuck.grip_readings": [{"pressure": p, "force": f, "days": d, "error": e} for p, f, d, e in rows],
        })  # fmt: skip
        study = Study.of(setup)
        _, setting, _, _ = judged(study)
        read = KeptLimits.read([limits_of(study, setting, setup.chuck)])
        chuck = read.chuck(0)
        assert (chuck.plate.grease, chuck.serviced, chuck.readings) == (grease, serviced, readings_of(setup.chuck))
        assert read.names() == [[step.name for step, _ in setting.steps]]
        assert list(read.pressures()[0])[: len(setting.steps)] == pytest.approx([one for _, one in setting.steps])


def test_many_at_once_are_what_each_is_alone():
    """Setups of one step and of two, on chucks that stand well and on one that has lost half of its grip."""
    kept = [planned_fully(name, 0)[3] for name in ("gland-flange", "winch-shaft", "pump-sleeve-inch")] * 2
    read = KeptLimits.read(kept)
    chucks = [today(read.chuck(n), (), "good" if n < 3 else "poor") for n in range(len(kept))]
    fine, floors = still_hold(read, chucks, range(len(kept)))
    assert fine.any()
    assert not fine.all()
    for n, one in enumerate(kept):
        alone, low, _ = asked(one, (), "good" if n < 3 else "poor")
        assert fine[n] == alone
        assert floors[n] == pytest.approx(low, nan_ok=True)
    assert still_hold(KeptLimits.read([]), [], [])[0].size == 0


def test_a_stated_pressure_leaves_nothing_behind():
    setup = example("gland-flange").with_(pressure=0.75)
    study = Study.of(setup)
    _, setting, _, _ = judged(study)
    assert limits_of(study, setting, setup.chuck) is None
