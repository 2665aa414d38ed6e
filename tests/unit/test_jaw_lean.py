"""Feeler, bluing, part and contact model are one answer, and it closes jaws that share no line with the program."""

import numpy as np
import pytest
from conftest import example
from jaw_world import POINTS, WorldJaw

from heldtrue.errors import InputError
from heldtrue.inspection.estimate import about
from heldtrue.inspection.taper import FEELER_MM, LEAST_CUT_MM, Bearing
from heldtrue.planning.boring import bore
from heldtrue.planning.jaw_contact import contact
from heldtrue.planning.study import Study
from heldtrue.planning.window import finishing_pressure
from heldtrue.shop.jaw_base import OnBase, end_gap, print_length
from heldtrue.shop.jaw_lean import BaseKnown, PartShare, lean_of
from heldtrue.shop.learned import BASE_PRIOR
from heldtrue.shop.next_cut import next_cut
from heldtrue.tooling.jaws import BASE

ASSUMED = BaseKnown.of_prior(BASE_PRIOR)
TALL = {"jaws.height": 110.0, "jaws.material": "6061-T6"}


class Stand:
    """A setup with its model and the force of one jaw."""

    def __init__(self, setup):
        self.study = Study.of(setup)
        pressure = finishing_pressure(self.study)[0]
        grip = self.study.distorting_grip(self.study.likely, pressure, self.study.finishing_speed())
        self.force = grip / self.study.job.jaws
        self.model = OnBase.of(self.study, pressure)

    def world(self, base, skin):
        """The same jaw by the plain model."""
        job = self.study.job
        shape, ring = job.jaw_kind.shape, self.model.part._kind.ring
        return WorldJaw(
            shape.seat_height, self.model.length, shape.length, shape.width, job.jaw.young.value, BASE.tilt * base,
            skin, sum(ring.z) / 2, self.force,
        )  # fmt: skip


@pytest.fixture(scope="module")
def short():
    return Stand(example("winch-shaft").with_({"run.pressure": 2.72}))


@pytest.fixture(scope="module")
def tall():
    return Stand(example("winch-shaft").with_({**TALL, "run.pressure": 2.0}))


def look(world, taper, force, rng, by):
    """What a setter sees: leaves of 0.01 mm, a print to 0.7 mm."""
    gap, load = world.press(taper, force)
    on = load > 1e-3 * load.max()
    if on.all():
        return Bearing("all along"), 1.0
    touch = "base" if on[0] else "tip"
    leaf = float(np.floor(max(gap[-1] if on[0] else gap[0], 0.0) / FEELER_MM) * FEELER_MM)
    run = float(np.clip(on.sum() * world.length / POINTS + rng.normal(0, 0.7), 1.0, world.length - 0.1))
    seen = Bearing(touch, leaf if "gap" in by else None, run if "print" in by else None)
    return seen, float(on.mean())


def cut_twice(stand, world, rng, by):
    """Two readings and two cuts; did it end well, and did every interval hold the truth?"""
    needed, said, off, held = world.needed(stand.force), 0.0, rng.normal(0, 0.004), []
    for _ in range(2):
        seen, _ = look(world, said + off, stand.force, rng, by)
        found = lean_of(stand.model, seen, stand.force, said, ASSUMED).change
        held.append(found.low <= needed - said - off <= found.high)
        if abs(found.value) < LEAST_CUT_MM:
            break
        said += round(found.value, 3)
        off = 0.7 * off + rng.normal(0, 0.003)
    bears = look(world, said + off, stand.force, rng, by)[1]
    return bears >= 0.9 or abs(needed - said - off) < LEAST_CUT_MM, held


@pytest.mark.parametrize("by", [
    ("gap", "print"), pytest.param(("gap",), marks=pytest.mark.long), pytest.param(("print",), marks=pytest.mark.long),
])  # fmt: skip
@pytest.mark.parametrize("which", ["short", "tall"])
def test_two_cuts_close_an_independent_jaw_on_every_base(request, which, by):
    stand, rng = request.getfixturevalue(which), np.random.default_rng(7)
    ended, held = [], []
    for base in (1 / 3, 0.6, 1.0, 2.5, 8.0):
        for skin in (1500.0, 4000.0):
            good, of_intervals = cut_twice(stand, stand.world(base, skin), rng, by)
            ended.append(good)
            held += of_intervals
    assert all(ended)
    assert np.mean(held) >= 0.92


def test_part_and_jaw_hide_a_part_of_the_gap(tall):
    world = tall.world(0.4, 4000.0)
    seen, _ = look(world, 0.0, tall.force, np.random.default_rng(1), ("gap", "print"))
    found = lean_of(tall.model, seen, tall.force, 0.0, ASSUMED).change
    assert found.low < world.needed(tall.force) < found.high
    assert found.value > seen.gap


@pytest.mark.parametrize("seen", [
    Bearing("base", gap=0.0), Bearing("base", gap=0.03), Bearing("base", None, 15.0), Bearing("base", 0.03, 12.0),
    Bearing("tip", gap=0.03),
])  # fmt: skip
def test_the_model_believes_both_ends_of_the_interval(short, seen):
    found = lean_of(short.model, seen, short.force, 0.0, ASSUMED)
    for lean in (found.change.low, found.change.high):
        nearest = min(
            _off(short, seen, BASE.tilt * base, lean) for base in (0.05, 0.1, 0.2, 0.4, 0.7, 1.0, 2.0, 4.0, 8.0)
        )
        assert nearest < 3.0


def _off(stand, seen, tilt, lean):
    """How far the model on one base and lean is from what was seen, in what can be read."""
    shown = stand.model.contact(tilt, stand.model.needed(tilt, stand.force) - lean, stand.force)
    off = 0.0
    if seen.gap is not None:
        gap = end_gap(shown, at_tip=seen.touch == "base")
        off = max(seen.gap - gap, gap - seen.gap - FEELER_MM, 0.0) / (0.003 + 0.2 * abs(abs(lean) - gap))
    if seen.touch_length is not None:
        run = print_length(shown, from_tip=seen.touch == "tip")
        off = max(off, abs(run - seen.touch_length) / (2.0 + 0.25 * run))
    return off


def test_gap_and_print_together_are_sharper_than_each_alone(short):
    world = short.world(0.5, 4000.0)
    rng = np.random.default_rng(3)
    gap, run, both = (
        lean_of(short.model, look(world, -0.02, short.force, rng, by)[0], short.force, -0.02, ASSUMED).change
        for by in (("gap",), ("print",), ("gap", "print"))
    )
    assert both.uncertainty < min(gap.uncertainty, 1.1 * run.uncertainty)
    assert abs(both.value - world.needed(short.force) - 0.02) < 2 * both.uncertainty


def test_what_no_jaw_shows_is_refused(short):
    with pytest.raises(InputError, match="no jaw shows both"):
        lean_of(short.model, Bearing("base", 0.3, 39.0), short.force, 0.0, ASSUMED)


def test_what_the_jaws_leave_on_a_ring_says_how_they_lean():
    stand = Stand(example("wear-ring").with_({"run.pressure": 0.43}))
    alone = lean_of(stand.model, None, stand.force, 0.0, ASSUMED)
    spread = alone.by_jaws[0]
    assert spread.high - spread.low > 0.005
    told = lean_of(stand.model, None, stand.force, 0.0, ASSUMED, PartShare(0, about(spread.low, 0.0005)))
    assert told.by_jaws[0].value == pytest.approx(spread.low, abs=0.001)
    assert told.change.high < 0.5 * alone.change.high
    with pytest.raises(InputError, match="no jaw shows that"):
        lean_of(stand.model, None, stand.force, 0.0, ASSUMED, PartShare(0, about(0.5, 0.0005)))


@pytest.mark.parametrize("changes", [{}, TALL, {"jaws.bored_pressure": 1.0}])
def test_contact_bore_and_taper_say_one_taper(changes):
    setup = example("winch-shaft").with_(changes)
    advised = contact(setup).taper
    cut = bore(setup)
    if cut.taper_from.startswith("none: without"):  # these jaws fit no ring of the shop
        cut = None
    assert next_cut(setup, Bearing("all along")).by_plan == pytest.approx(advised.per_side, abs=1e-9)
    if cut is not None:
        assert cut.taper == pytest.approx(advised.per_side if advised.needed else 0.0, abs=0.0005)
