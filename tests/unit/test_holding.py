import pickle
import sys
from concurrent.futures import ThreadPoolExecutor
from math import cos, inf, nan, pi, radians, sin

import clarabel
import numpy as np
import pytest
from conftest import longer
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from heldtrue.errors import SolverError
from heldtrue.mechanics.holding import (
    ENOUGH,
    LIFT,
    SLIP_ALONG,
    SLIP_ROUND,
    TIP,
    Grip,
    Holding,
    Shares,
    Wrench,
    _program,
    holding,
    limit_at,
)


def grip(**changed):
    base = {
        "side": "outside",
        "radius": 50.0,
        "z": (2.0, 27.0),
        "half_angle": radians(15),
        "jaws": 3,
        "friction": 0.15,
    }
    return Grip(**{**base, **changed})


TURNING = Wrench.at((40, 0, 60), (-700, -2400, -900))


def test_pure_torque_is_friction_times_grip_times_radius():
    h = holding(grip(), Wrench((0, 0, 0), (0, 0, 96_000.0)))
    assert h.required(1.0) == pytest.approx(96_000 / 50 / 0.15, rel=1e-5)
    assert h.failure == SLIP_ROUND


def test_pure_pull_is_friction_times_grip_and_the_seat_does_not_help():
    for seat in (None, (0.0, 30.0, 45.0)):
        h = holding(grip(seat=seat), Wrench((0, 0, 900.0), (0, 0, 0)))
        assert h.required(1.0) == pytest.approx(6000.0, rel=1e-5)
        assert h.failure == SLIP_ALONG


def test_push_into_the_seat_is_without_limit_and_without_a_seat_it_slips():
    push = Wrench((0, 0, -900.0), (0, 0, 0))
    assert holding(grip(seat=(0.0, 30.0, 45.0)), push).factor == inf
    assert holding(grip(), push).required(1.0) == pytest.approx(6000.0, rel=1e-5)


def test_torque_and_pull_share_the_friction_circle():
    """sqrt((Fc dz/d)^2 + Fa^2)/mu = 14310.8 N (Fc 2400, dz 80, d 100, Fa 960, mu 0.15; statics)."""
    h = holding(grip(), Wrench((0, 0, 960.0), (0, 0, 96_000.0)))
    assert h.required(1.0) == pytest.approx(14_310.8, rel=1e-4)


def test_long_overhang_tips_and_a_centre_stops_it():
    side = Wrench.at((10, 0, 200), (0, -2400, 0))
    free, held = holding(grip(), side), holding(grip(centre=220.0), side)
    assert free.failure == TIP
    assert held.factor > 3 * free.factor


def test_side_force_in_the_middle_of_the_grip_lifts():
    assert holding(grip(friction=0.05), Wrench.at((0, 0, 14.5), (1000.0, 0, 0))).failure == LIFT


def test_tipping_limit_of_two_jaws_by_hand():
    """Two jaws, no friction to speak of, side force across both: the couple is what the rings of points can give.

    Points stand 3/8 of the grip length from its middle; all of the grip on one side at the front and on the other at
    the back gives the couple grip/2 times 3/4 of the length.
    """
    g = grip(jaws=2, friction=1e-6, half_angle=radians(1), z=(0.0, 40.0))
    h = limit_at(g, Wrench((0, 0, 0), (0.0, 1000.0, 0.0)), 0.0)
    assert h.factor * 1000.0 == pytest.approx(0.5 * 30.0, rel=1e-3)
    assert h.failure == TIP


def test_inside_grip_mirrors_the_outside_grip():
    torque = Wrench((0, 0, 0), (0, 0, 96_000.0))
    assert holding(grip(side="inside"), torque).factor == pytest.approx(holding(grip(), torque).factor, rel=1e-6)


def test_the_worst_angle_is_the_worst():
    g = grip()
    every = [limit_at(g, TURNING, a).factor for a in np.linspace(0, 2 * pi / 3, 9)[:-1]]
    assert holding(g, TURNING).factor == pytest.approx(min(every), rel=1e-9)
    assert limit_at(g, TURNING, 0.3).factor == pytest.approx(limit_at(g, TURNING, 0.3 + 2 * pi / 3).factor, rel=1e-6)


def test_of_angles_that_are_as_bad_the_first_is_named():
    """A part on a seat slips round under a cut over the grip, as easily at every angle to the solver's last digits."""
    for z in (10.0, 14.5, 20.0):
        h = holding(grip(seat=(0.0, 30.0, 45.0)), Wrench.at((48, 0, z), (-100, -2400, -900)))
        assert (h.failure, h.angle) == (SLIP_ROUND, 0.0)
    one = Holding(1e-4, SLIP_ROUND, 0.0)
    assert not Holding(1e-4 * (1 - 5e-7), TIP, 0.1).worse_than(one)
    assert Holding(1e-4 * (1 - 2e-6), TIP, 0.1).worse_than(one)
    assert one.worse_than(Holding(inf, "none", 0.0))
    assert not Holding(inf, "none", 0.0).worse_than(Holding(inf, "none", 0.0))


def test_longer_grip_and_more_friction_never_hold_less():
    assert (
        holding(grip(z=(2.0, 40.0)), Wrench.at((40, 0, 90), (0, -2400, 0))).factor
        > holding(grip(z=(2.0, 27.0)), Wrench.at((40, 0, 90), (0, -2400, 0))).factor
    )
    assert holding(grip(friction=0.2), TURNING).factor > holding(grip(), TURNING).factor


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 20.0), st.floats(100.0, 1e6))
def test_factor_is_linear_in_grip_and_falls_with_the_load(scale, total):
    g = grip()
    one, many = limit_at(g, TURNING, 0.2), limit_at(g, TURNING.scaled(scale), 0.2)
    assert many.factor * scale == pytest.approx(one.factor, rel=1e-5)
    assert one.under(2 * total) == pytest.approx(2 * one.under(total), rel=1e-12)
    assert one.under(one.required(2.0)) == pytest.approx(2.0, rel=1e-12)


def test_forces_found_by_hand_for_one_wrench():
    w = Wrench.at((40, 0, 60), (-700, -2400, -900))
    assert w.moment == pytest.approx((2400 * 60, -700 * 60 + 900 * 40, -2400 * 40))
    t = w.turned(0.4)
    assert t.force[0] == pytest.approx(-700 * cos(0.4) + 2400 * sin(0.4))
    assert (w + w).force == pytest.approx(w.scaled(2.0).force)


def test_no_load_is_no_limit_and_no_friction_is_refused():
    assert holding(grip(), Wrench((0, 0, 0), (0, 0, 0))).factor == inf
    with pytest.raises(ValueError, match="friction"):
        holding(grip(friction=0.0), TURNING)


# The limit by its forces, as the module's first formula says: unknowns are contact forces and the factor


def reactions(g):
    """(where, direction) of the normals, of the two friction forces each, of the seat corners and of the centre."""
    normals, frictions = [], []
    for x, y, z in g.points:
        out = np.array([x, y, 0.0]) / g.radius
        normals.append(((x, y, z), out if g.side == "inside" else -out))
        frictions += [((x, y, z), np.array([-y, x, 0.0]) / g.radius), ((x, y, z), np.array([0.0, 0.0, 1.0]))]
    seat = []
    for jaw in range(g.jaws) if g.seat else ():
        for edge in (-g.half_angle, g.half_angle):
            a = 2 * pi * jaw / g.jaws + edge
            seat += [((r * cos(a), r * sin(a), g.seat[0]), np.array([0.0, 0.0, 1.0])) for r in g.seat[1:]]
    centre = [] if g.centre is None else [((0.0, 0.0, g.centre), np.eye(3)[i]) for i in (0, 1)]
    return normals, frictions, seat, centre


def wrenches(g, forces):
    lever = [np.array(where) - [0.0, 0.0, g.middle] for where, _ in forces]
    return np.array([np.append(f, np.cross(r, f) / g.radius) for r, (_, f) in zip(lever, forces, strict=True)])


def factor_by_forces(g, load, angle):
    """Largest factor by which the load can grow, per newton of grip, with forces in balance."""
    vector = load.turned(angle).about(g.middle, g.radius)
    size = abs(vector).max()
    normals, frictions, seat, centre = reactions(g)
    points, pushing = len(normals), len(seat)
    unknowns = 3 * points + pushing + len(centre) + 1
    pick = np.eye(unknowns)
    balance = np.column_stack([*wrenches(g, [*normals, *frictions, *seat, *centre]), vector / size])
    cones = []
    for i in range(points):
        cones += [-g.friction * pick[i], -pick[points + 2 * i], -pick[points + 2 * i + 1]]
    matrix = np.vstack([balance, pick[:points].sum(axis=0), pick[-1], -pick[3 * points : 3 * points + pushing], *cones])
    right = np.concatenate([np.zeros(6), [1.0, ENOUGH], np.zeros(pushing + 3 * points)])
    kinds = [clarabel.ZeroConeT(7), clarabel.NonnegativeConeT(1 + pushing), *[clarabel.SecondOrderConeT(3)] * points]
    options = clarabel.DefaultSettings()
    options.verbose = False
    nothing = sparse.csc_matrix((unknowns, unknowns))
    solver = clarabel.DefaultSolver(nothing, -pick[-1], sparse.csc_matrix(matrix), right, kinds, options)
    solution = solver.solve()
    assert solution.status in (clarabel.SolverStatus.Solved, clarabel.SolverStatus.AlmostSolved)
    factor = solution.x[-1]
    return inf if factor > 0.999 * ENOUGH else factor / size


def some_grip(rng):
    side = str(rng.choice(["outside", "inside"]))
    radius, low, length, jaws = rng.uniform(10, 200), rng.uniform(0, 30), rng.uniform(5, 80), int(rng.integers(2, 7))
    ring = (0.7 * radius, 0.95 * radius) if side == "outside" else (1.05 * radius, 1.2 * radius)
    return Grip(
        side,
        radius,
        (low, low + length),
        rng.uniform(0.05, 0.9 * pi / jaws),
        jaws,
        rng.uniform(0.03, 0.4),
        seat=(low - rng.uniform(0, 10), *ring) if rng.random() < 0.5 else None,
        centre=low + length + rng.uniform(20, 400) if rng.random() < 0.4 else None,
    )


def some_load(rng, g):
    """A force at a tool three times in four, else some of the six parts alone, or a push along the axis."""
    kind = rng.random()
    if kind < 0.75:
        point = (rng.uniform(0, 2 * g.radius), 0.0, g.z[1] + rng.uniform(0, 200))
        return Wrench.at(point, rng.uniform(-3000, 3000, 3))
    if kind < 0.95:
        parts = rng.uniform(-1000, 1000, 6) * (rng.random(6) < 0.5)
        return Wrench(tuple(parts[:3]), tuple(parts[3:] * g.radius))
    return Wrench((0.0, 0.0, -1000.0), (0.0, 0.0, 0.0))


def some_cases(count, seed):
    rng = np.random.default_rng(seed)
    for _ in range(count):
        g = some_grip(rng)
        yield g, some_load(rng, g), rng.uniform(0, 2 * pi)


@pytest.mark.parametrize("count", [120, *longer(400)])
def test_the_limit_by_the_motion_is_the_limit_by_the_forces(count):
    """Two programs written apart: the largest load in balance, and the least grip on any motion."""
    seen = {"inside": 0, "outside": 0, "seat": 0, "centre": 0, "both": 0, "no limit": 0, "no load": 0}
    for g, load, angle in some_cases(count, seed=3):
        found = limit_at(g, load, angle).factor
        seen[g.side] += 1
        seen["seat"] += g.seat is not None
        seen["centre"] += g.centre is not None
        seen["both"] += g.seat is not None and g.centre is not None
        seen["no limit"] += found == inf
        if not any(load.force + load.moment):
            seen["no load"] += 1
            assert found == inf
            continue
        assert found == pytest.approx(factor_by_forces(g, load, angle), rel=1e-5), (g, load, angle)
    least = {"inside": 100, "outside": 100, "seat": 100, "centre": 100, "both": 50, "no limit": 5, "no load": 1}
    assert all(seen[what] >= enough * count / 400 for what, enough in least.items()), seen


def test_the_motion_is_one_the_grip_allows_and_carries_the_load_s_power():
    """No point resists more than 1, one resists 1; the seat is not entered; the centre stands. (Upper-bound theorem)"""
    rubs = 0
    for g, load, angle in some_cases(100, seed=4):
        h = limit_at(g, load, angle)
        if h.factor == inf:
            assert (h.motion, h.share, h.failure) == ((), Shares(), "none")
            continue
        normals, frictions, seat, centre = (
            wrenches(g, forces) @ h.motion if forces else np.zeros(0) for forces in reactions(g)
        )
        resists = g.friction * np.hypot(frictions[::2], frictions[1::2]) - normals
        size = max(abs(v) for v in h.motion)
        assert resists.max() == pytest.approx(1.0, abs=1e-6 * size)
        assert seat.min(initial=0.0) >= -1e-6 * size
        assert abs(centre).max(initial=0.0) <= 1e-6 * size
        vector = load.turned(angle).about(g.middle, g.radius)
        assert vector @ h.motion == pytest.approx(1 / h.factor, rel=1e-9)
        assert h.estimate(g, load) == pytest.approx(h.factor, rel=1e-9)
        rubs += bool(len(seat)) and seat.min() < 1e-6
    assert rubs >= 10


def test_a_centre_carries_any_side_force_on_it_and_no_torque():
    g = grip(centre=220.0)
    assert holding(g, Wrench.at((0, 0, 220.0), (300.0, -2400.0, 0))).factor == inf
    assert holding(g, Wrench.at((0, 0, 219.0), (300.0, -2400.0, 0))).factor < inf
    assert holding(g, Wrench((0, 0, 0), (0, 0, 96_000.0))).required(1.0) == pytest.approx(96_000 / 50 / 0.15, rel=1e-5)
    assert holding(g, Wrench((0, 0, 900.0), (0, 0, 0))).required(1.0) == pytest.approx(6000.0, rel=1e-5)


# One solver for many loads


def test_the_answer_does_not_hang_on_the_loads_solved_before():
    g, other = grip(seat=(0.0, 30.0, 45.0), centre=220.0), Wrench((500.0, 0, 900.0), (0, 4000.0, -96_000.0))
    first = limit_at(g, TURNING, 0.2)
    with pytest.raises(SolverError):
        limit_at(g, Wrench((nan, 0, 0), (0, 0, 0)), 0.2)
    for angle in (0.1, 0.4, 1.3):
        assert limit_at(g, other, angle).factor != first.factor
    limit_at.cache_clear()
    assert limit_at(g, TURNING, 0.2) == first
    limit_at.cache_clear()
    _program.cache_clear()
    assert limit_at(g, TURNING, 0.2) == first


def test_threads_that_share_a_grip_get_their_own_answers():
    g = grip()
    angles = [float(a) for a in np.linspace(0, 2, 400)]
    alone = [limit_at(g, TURNING, a) for a in angles]
    limit_at.cache_clear()
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)  # so that threads change between setting a load and solving it
    try:
        with ThreadPoolExecutor(4) as threads:
            together = list(threads.map(lambda a: limit_at(g, TURNING, a), angles))
    finally:
        sys.setswitchinterval(before)
    assert together == alone


def test_grip_and_limit_go_to_another_process():
    g = grip(seat=(0.0, 30.0, 45.0))
    h = holding(g, TURNING)
    sent = pickle.loads(pickle.dumps((g, h)))
    assert sent == (g, h)
    assert hash(sent[0]) == hash(g)
    assert holding(sent[0], TURNING) == h


# What the load's work is made of


def test_shares_are_of_the_load_s_work_and_name_the_failure():
    torque_and_pull = holding(grip(), Wrench((0, 0, 960.0), (0, 0, 96_000.0))).share
    # Slip at the angle of the friction force: the shares go as the squares, (960 N)^2 against (96 000 / 50 N)^2.
    assert torque_and_pull == pytest.approx((0.0, 0.2, 0.0, 0.8), abs=1e-4)
    named = {LIFT: "lift", SLIP_ALONG: "slip_along", TIP: "tip", SLIP_ROUND: "slip_round"}
    assert Shares().failure == "none"
    seen = set()
    for g, load, angle in some_cases(100, seed=5):
        h = limit_at(g, load, angle)
        if h.factor == inf:
            continue
        assert sum(h.share) == pytest.approx(1.0, abs=1e-9)
        assert getattr(h.share, named[h.failure]) == max(h.share)
        work = load.turned(angle).about(g.middle, g.radius) * h.motion * h.factor
        assert h.share == pytest.approx((work[0] + work[1], work[2], work[3] + work[4], work[5]), abs=1e-9)
        seen.add(h.failure)
    assert seen == {LIFT, SLIP_ALONG, TIP, SLIP_ROUND}


numbers = st.floats(-1e3, 1e3)
loads = st.builds(Wrench, st.tuples(numbers, numbers, numbers), st.tuples(*[st.floats(-5e4, 5e4)] * 3))


@settings(max_examples=50, deadline=None)
@given(loads, loads, st.floats(0, 2 * pi), st.integers(0, 19))
def test_two_loads_together_need_no_more_grip_than_one_by_one(one, other, angle, which):
    """The grip a load needs is the greatest of its powers on the motions allowed: convex, and in proportion."""

    def need(load):
        return 1 / limit_at(g, load, angle).factor

    g = [g for g, _, _ in some_cases(20, seed=6)][which]
    apart = need(one) + need(other)
    assert need(one + other) <= apart * (1 + 1e-6) + 1e-6
    assert need(one.scaled(3.0)) == pytest.approx(3 * need(one), rel=1e-6, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(loads, st.floats(0.1, 5.0), st.floats(0.1, 5.0), st.floats(0, 2 * pi), st.floats(-300, 300))
def test_weights_can_be_set_before_or_after_turning_and_moving_along_the_axis(load, slip, tip, angle, z):
    weights = np.array([tip, tip, slip, tip, tip, slip])
    assert load.weighted(slip, tip).about(z, 50.0) == pytest.approx(weights * load.about(z, 50.0), rel=1e-9, abs=1e-6)
    before, after = load.weighted(slip, tip).turned(angle), load.turned(angle).weighted(slip, tip)
    assert before.about(0.0, 1.0) == pytest.approx(after.about(0.0, 1.0), rel=1e-9, abs=1e-6)


def test_weights_by_hand():
    w = Wrench((1.0, 2.0, 3.0), (4.0, 5.0, 6.0)).weighted(slip=10.0, tip=100.0)
    assert w == Wrench((100.0, 200.0, 30.0), (400.0, 500.0, 60.0))
