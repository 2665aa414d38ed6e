"""The model of walking in bench/ against answers that are known on paper."""

import sys
from itertools import pairwise

import numpy as np
import pytest
from conftest import ROOT

sys.path.insert(0, str(ROOT / "bench"))
from walking_model import Springs, in_jaws, turned, turning, walk

sys.path.remove(str(ROOT / "bench"))

STIFF = 1000.0
FRICTION = 0.2


def block(points):
    """A rigid block on points of equal springs at places along x: movements (x, z, turning), resting share equal."""
    rows = np.zeros((len(points), 3, 3))
    rows[:, 0, 1] = -1.0
    rows[:, 0, 2] = -np.asarray(points)
    rows[:, 1, 0] = 1.0
    n = len(points)
    behind = np.zeros((3, 3))
    if n == 1:
        behind[2, 2] = STIFF  # one point does not hold the block from turning
    return Springs(rows, np.full(n, STIFF), np.full(n, STIFF), np.full(n, FRICTION), np.full(n, 1 / n), behind)


def pushes(*sizes, steps=40):
    """Push along x from size to size. [N]"""
    sizes = np.concatenate([np.linspace(a, b, steps + 1)[1:] for a, b in pairwise((0.0, *sizes))])
    return np.outer(sizes, [1.0, 0.0, 0.0])


def test_a_block_is_a_spring_below_friction_times_force_and_gives_nothing_off():
    done = walk(block([0.0]), pushes(19.0, -19.0, 19.0), [100.0], [1.0])
    assert done.moved[39, 0, 0] == pytest.approx(19.0 / STIFF, rel=1e-3)
    assert done.moved[-1, 0, 0] == pytest.approx(19.0 / STIFF, rel=1e-3)
    assert np.abs(done.lost).max() < 1e-12
    assert done.let_go[0] == 120


def test_a_block_lets_go_at_friction_times_force():
    path = pushes(30.0, steps=3000)
    done = walk(block([0.0]), path, [100.0, 50.0], [1.0, 1 / 3])
    assert path[done.let_go, 0] == pytest.approx([20.0, 10.0], rel=5e-3)


def test_more_force_on_it_holds_it_and_less_lets_it_go():
    """Pressed on by the load itself: z up is away from the support."""
    path = pushes(30.0, steps=300)
    pressed, lifted = path + np.array([0.0, -60.0, 0.0]), path + np.array([0.0, 60.0, 0.0])
    assert walk(block([0.0]), pressed, [100.0], [1.0]).let_go[0] == 300
    assert path[walk(block([0.0]), lifted, [100.0], [1.0]).let_go[0], 0] == pytest.approx(8.0, rel=0.02)


GRIP, SWING = 100.0, 0.4


def rocking(push, cycles=12, steps=40):
    """A steady push and a moment that takes 40 % of one point's force to the other and back, over and over."""
    swing = np.sin(2 * np.pi * np.arange(1, cycles * steps + 1) / steps)
    up = np.minimum(np.arange(1, cycles * steps + 1) / steps, 1.0)
    return np.column_stack([push * up, 0 * up, -SWING * GRIP * swing * up])


@pytest.mark.parametrize("soft", [1 / 3, 1.0])
def test_a_rocking_block_walks_above_its_shakedown_limit_and_as_far_as_on_paper(soft):
    """Two equal points at x = 1 and -1, their forces swinging by 40 % against each other, push Q all the time.

    Still for Q up to twice what the lighter point carries, Q = mu N (1 - 0.4) = 12 N.  Above it the lighter point
    slides by (Q - 12 N) / k, then the other: 2 (Q - 12 N) / k a cycle, up to Q = mu N = 20 N where the block lets go.
    """
    for push, a_cycle in ((11.8, 0.0), (13.0, 2 * 1.0), (18.0, 2 * 6.0)):
        done = walk(block([1.0, -1.0]), rocking(push), [GRIP], [soft])
        moved = (done.moved[-1] - done.moved[-1 - 40 * 4])[0, 0] / 4
        assert moved == pytest.approx(a_cycle / (soft * STIFF), rel=0.01, abs=1e-6)
        assert done.lost.min() > -1e-12
        assert (done.lost[-160:].sum() > 1e-3) == (a_cycle > 0)
    assert walk(block([1.0, -1.0]), rocking(20.5), [GRIP], [soft]).let_go[0] < 480


RADIUS, JAWS = 50.0, 3
ANGLES = np.add.outer(2 * np.pi / 3 * np.arange(JAWS), [-0.6, -0.2, 0.2, 0.6]).ravel()
POINTS = np.array([[RADIUS * np.cos(a), RADIUS * np.sin(a), z] for a in ANGLES for z in (-10.0, 10.0)])
SEAT = np.array([[40 * np.cos(a), 40 * np.sin(a), -15.0] for a in ANGLES])


def part(seat=SEAT, inside=False):
    return in_jaws(POINTS, RADIUS, inside, JAWS, FRICTION, seat, actuator=2e5, face=7e5, tangential=1.5e5)


def one(axis, size):
    wrench = np.zeros(6)
    wrench[axis] = size
    return wrench


@pytest.mark.parametrize("inside", [False, True])
@pytest.mark.parametrize(("axis", "sign"), [(5, 1), (5, -1), (2, 1)])
def test_torque_and_pull_let_go_at_friction_times_grip(axis, sign, inside):
    sizes = np.arange(0.02, 1.1, 0.002)
    path = np.outer(sizes, turned(one(axis, sign * FRICTION * 9000.0), np.zeros(1), JAWS)[0])
    done = walk(part(inside=inside), path, [9000.0], [1.0])
    assert sizes[done.let_go[0]] == pytest.approx(1.0, abs=0.005)


def test_a_push_into_the_seat_is_held_and_pulling_off_it_is_not():
    sizes = np.linspace(0.1, 3.0, 60) * FRICTION * 9000.0
    for sign, held in ((-1, True), (1, False)):
        done = walk(part(), sizes[:, None] * turned(one(2, float(sign)), np.zeros(1), JAWS), [9000.0], [1.0])
        assert (done.let_go[0] == 60) == held
    alone = walk(part(np.zeros((0, 3))), -sizes[:, None] * turned(one(2, 1.0), np.zeros(1), JAWS), [9000.0], [1.0])
    assert alone.let_go[0] < 30


@pytest.mark.parametrize("inside", [False, True])
def test_the_jaws_share_the_grip_anew_and_its_sum_stays(inside):
    """Pushed towards jaw 1, which closes on the part, or lies inside it and is left."""
    path = turning(np.array([8000.0, 0.0, -500.0, 0.0, 0.0, -300.0]), JAWS, turns=2, steps=24, ramp=1)
    done = walk(part(inside=inside), path, [12_000.0], [1.0])
    each = done.normal[0, : len(POINTS)].reshape(JAWS, -1).sum(axis=1)
    assert done.normal[0, : len(POINTS)].min() == 0.0  # some points are lifted off
    assert each.sum() == pytest.approx(12_000.0, rel=1e-4)
    assert each[0] - each[1:].max() < -2_000.0 if inside else each[0] - each[1:].max() > 2_000.0


def test_contact_forces_balance_the_load_within_the_friction_cone():
    path = turning(np.array([-800.0, -900.0, -300.0, 900.0, 0.0, -800.0]), JAWS, turns=3, steps=24, ramp=1)
    done = walk(part(), path, [9_000.0], [1.0])
    normal, friction = done.normal[0], done.friction[0]
    slides = np.hypot(*friction[: len(POINTS)].T) / (FRICTION * normal[: len(POINTS)])
    assert slides.max() == pytest.approx(1.0, abs=1e-9)  # some point slides, none beyond
    assert not friction[len(POINTS) :].any()
    assert normal.min() >= 0
    unit_out = POINTS * [1, 1, 0] / RADIUS
    round_ = np.column_stack([-unit_out[:, 1], unit_out[:, 0], np.zeros(len(POINTS))])
    on_part = -normal[: len(POINTS), None] * unit_out - friction[: len(POINTS), :1] * round_
    on_part[:, 2] -= friction[: len(POINTS), 1]
    seat = np.column_stack([0 * normal[len(POINTS) :], 0 * normal[len(POINTS) :], normal[len(POINTS) :]])
    force = on_part.sum(axis=0) + seat.sum(axis=0)
    moment = np.cross(POINTS, on_part).sum(axis=0) + np.cross(SEAT, seat).sum(axis=0)
    assert np.concatenate([force, moment / RADIUS]) == pytest.approx(-path[-1, :6], abs=1.0)
    assert done.lost.min() > -1e-9


def test_a_torque_alone_does_not_walk_below_its_limit_and_a_turning_side_force_makes_it():
    torque, side = one(5, -0.8), one(1, -1.2)
    for wrench, walks in ((torque, False), (side, False), (torque + side, True)):
        path = turning(wrench * FRICTION * 9000.0, JAWS, turns=8, steps=36, ramp=2)
        done = walk(part(), path, [9000.0], [1.0])
        a_turn = (done.moved[-1] - done.moved[-37])[0, 5]
        assert done.let_go[0] == len(path)
        assert (a_turn < -1e-4) == walks
        assert walks or abs(a_turn) < 1e-7


def test_the_limit_is_that_of_the_cone_program():
    """Overhung cut that tips and turns the part: another method, on the same points."""
    from heldtrue.mechanics.holding import Grip, Wrench, limit_at

    grip = Grip("outside", RADIUS, (2.0, 27.0), 0.7, JAWS, FRICTION, seat=(0.0, 38.0, 44.0))
    middle = np.array([0.0, 0.0, grip.middle])
    at = np.add.outer(2 * np.pi / JAWS * np.arange(JAWS), [-0.7, 0.7]).ravel()
    seat = np.array([[r * np.cos(a), r * np.sin(a), 0.0] for r in (38.0, 44.0) for a in at]) - middle
    springs = in_jaws(
        grip.points - middle, RADIUS, False, JAWS, FRICTION, seat, actuator=2e5, face=7e5, tangential=1.5e5
    )
    load = Wrench.at((40.0, 0.0, 90.0), (-700.0, -2400.0, -900.0))
    sizes = np.concatenate([np.linspace(0.05, 0.85, 17), np.arange(0.852, 1.1, 0.002)])
    for angle in (0.0, 0.9):
        need = 1 / limit_at(grip, load, angle).factor
        wrench = load.about(grip.middle, RADIUS)
        done = walk(springs, np.outer(sizes, turned(wrench, np.array([angle]), JAWS)[0]), [need], [1.0])
        assert sizes[done.let_go[0]] == pytest.approx(1.0, abs=0.02)
