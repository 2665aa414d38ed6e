"""The gauge ring: its answer to forces, what readings say of them, and rings that are strong and soft enough."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from conftest import longer
from ring_world import World, balanced, rounds

from heldtrue.errors import GeometryError, InputError
from heldtrue.inspection.ring_design import Asked, design_ring
from heldtrue.inspection.ring_reading import RingGauge, RingReadings, RingTrace, read_ring
from heldtrue.mechanics.closed_form import lame_tube
from heldtrue.mechanics.gauge_ring import Ring, RingInJaws, waves_of

RING = Ring("outside", 63.0, 75.0, 10.0, 210_000.0, 0.3)
GAUGE = RingGauge(RING, "GR-1", 3)
PRESSURES = (0.6, 1.2, 1.8)


def readings_of(rng, world, jaws, grips, places=12, division=0.001, **more):
    angles, found, _, pattern = rounds(rng, world, jaws, grips, places, division, **more)
    free = more.get("free", True)
    pressures = [*([None] if free else []), *PRESSURES[: len(grips)]]
    traces = tuple(RingTrace(p, v) for p, v in zip(pressures, found, strict=True))
    return RingReadings(traces, angles, division), pattern


# mechanics


@pytest.mark.parametrize("jaws", [2, 3, 4, 6])
def test_a_narrow_ring_moves_as_the_plane_ring(jaws):
    """Michell's series for a plane ring (Timoshenko and Goodier, from memory), written apart in ``ring_world``."""
    angles, turns = np.linspace(0, 2 * pi, 25), 2 * pi * np.arange(jaws) / jaws
    plane = World(63.0, 75.0, 10.0).moved(angles, np.ones(jaws), turns)
    ours = RingInJaws(RING, jaws).line_answer(angles)
    assert ours - ours.mean() == pytest.approx(plane - plane.mean(), abs=0.015 * np.ptp(plane))


def test_unequal_forces_in_balance_move_as_the_plane_ring():
    forces, turns = balanced(np.random.default_rng(1), 6, 0.3), 2 * pi * np.arange(6) / 6
    angles = np.linspace(0, 2 * pi, 37)[:-1]
    plane = World(63.0, 75.0, 10.0).moved(angles, forces, turns)
    waves = waves_of(RING)
    ours = sum(f * waves.under_radial(angles - t) for f, t in zip(forces, turns, strict=True))
    assert ours - ours.mean() == pytest.approx(plane - plane.mean(), abs=0.006 * np.ptp(plane))


def test_mean_of_many_forces_is_lame():
    """Even pressure all round: Lame's tube (Timoshenko and Goodier, from memory)."""
    waves = waves_of(RING)
    force = 2 * pi * RING.outer * RING.width
    tube = lame_tube(63.0, 75.0, 63.0, young=210_000.0, poisson=0.3, external=1.0)
    assert waves.radial[0] * force == pytest.approx(tube.displacement, rel=2e-3)


def test_a_force_round_a_thin_ring_makes_of_each_order_its_share():
    """Bending alone: of order n what a radial force makes, over n, less (n2 - 1) e / R for its arm e = h / 2."""
    waves = waves_of(replace(RING, inner=74.5))
    angles = np.linspace(0.1, 3.0, 9)
    assert waves.under_round(-angles) == pytest.approx(-waves.under_round(angles), abs=1e-12)
    n = waves.orders[1:5]
    arm = 0.25 / 74.75
    assert np.abs(waves.round_[1:5] / waves.radial[1:5]) == pytest.approx((1 - (n**2 - 1) * arm) / n, rel=0.02)


def test_orders_left_out_do_not_count(monkeypatch):
    full = RingInJaws(RING, 3).lobes()
    waves = waves_of(RING)
    few = replace(waves, orders=waves.orders[:40], radial=waves.radial[:40])
    angles = np.array([0.0, pi / 3])
    short = sum(few.under_radial(angles - 2 * pi * j / 3) for j in range(3))
    assert short[1] - short[0] == pytest.approx(full, rel=1e-3)


def test_a_jaw_on_the_ring_itself_makes_less_of_it_than_a_line():
    in_jaws = RingInJaws(RING, 3, 0.25)
    shares = [in_jaws.share_of_line(1e4, bored, friction) for bored in (74.95, 75.05) for friction in (0.0, 0.2)]
    assert max(shares) < in_jaws.even_share() < 1
    assert shares[1] < shares[0]  # friction holds the ring back
    assert 0.98 < in_jaws.edge_share(0.05) < 1


@pytest.mark.parametrize("bad", [{"side": "both"}, {"inner": 80.0}, {"width": 0.0}])
def test_rings_that_cannot_be(bad):
    with pytest.raises(GeometryError):
        replace(RING, **bad)


# reading


@pytest.mark.parametrize(
    ("jaws", "places", "division", "spread"),
    [(3, 12, 0.01, 0.0), *longer((3, 12, 0.001, 0.0), (4, 12, 0.001, 0.1), (6, 24, 0.001, 0.1))],
)
def test_forces_lie_in_their_ranges(jaws, places, division, spread):
    """Drawn rings with an error of stiffness and wall, zeros, places, starts, scatter: 95 % stay inside."""
    rng = np.random.default_rng(7)
    inside, of_jaw, tried, errors = 0, 0, 0, []
    for _ in range(80):
        world = World(63.0 + rng.normal(0, 0.01), 75.0, 10.0, 210_000.0 * (1 + rng.normal(0, 0.015)))
        slope, lost = 9000.0 * jaws * rng.uniform(0.6, 1.0), rng.uniform(0.0, 0.2)
        grips = [slope * (p - lost) for p in PRESSURES]
        readings, pattern = readings_of(rng, world, jaws, grips, places, division, spread=spread)
        answer = read_ring(replace(GAUGE, jaws=jaws), readings)
        last = answer.clamped[-1]
        inside += last.total[0] <= grips[-1] <= last.total[2]
        errors.append(abs(last.total[1] / grips[-1] - 1))
        for share, (low, _, high) in zip(pattern, last.by_jaw, strict=True):
            of_jaw += low <= grips[-1] / jaws * share <= high
            tried += 1
    assert inside >= 0.9 * 80
    assert of_jaw >= 0.92 * tried
    if division == 0.001:
        assert np.median(errors) < 0.025


def test_the_line_of_grip_and_what_is_lost_before_it():
    rng = np.random.default_rng(3)
    grips = [30_000.0 * (p - 0.1) for p in PRESSURES]
    readings, _ = readings_of(rng, World(63.0, 75.0, 10.0), 3, grips)
    answer = read_ring(GAUGE, readings)
    assert answer.slope[0] < 30_000 < answer.slope[2]
    assert answer.threshold[0] < 0.1 < answer.threshold[2]


def test_a_jaw_that_presses_less_is_named_where_it_can_be():
    turns = 2 * pi * np.arange(6) / 6
    forces = np.array([1.3, 0.7, 1.0, 1.3, 0.7, 1.0])
    angles = 2 * pi * np.arange(24) / 24
    moved = World(63.0, 75.0, 10.0).moved(angles, 9e3 * forces, turns)
    readings = RingReadings((RingTrace(None, (0.0,) * 24), RingTrace(1.0, tuple(-moved))), tuple(angles), 0.001)
    answer = read_ring(replace(GAUGE, jaws=6), readings)
    assert answer.apart
    assert answer.uneven[0] in (0, 1, 3, 4)
    of_three = read_ring(GAUGE, readings_of(np.random.default_rng(1), World(63.0, 75.0, 10.0), 3, [2e4])[0])
    assert not of_three.apart
    assert of_three.uneven is None


def test_without_a_free_round_the_rings_own_shape_counts_against_the_forces():
    world, grips = World(63.0, 75.0, 10.0), [9e3, 2.7e4, 4.5e4]
    free, _ = readings_of(np.random.default_rng(5), world, 3, grips)
    bare, _ = readings_of(np.random.default_rng(5), world, 3, grips, free=False)
    assert read_ring(GAUGE, bare).clamped[-1].error > read_ring(GAUGE, free).clamped[-1].error


def test_a_three_point_gauge_sees_three_lobes():
    angles = np.array([0.0, pi / 3])
    turns = 2 * pi * np.arange(3) / 3
    world = World(63.0, 75.0, 10.0)
    shown = [2 / 3 * sum(world.moved([a + t], [1e4] * 3, turns)[0] for t in turns) for a in angles]
    # The series of the world has no mean; Lame gives it.
    mean = lame_tube(63.0, 75.0, 63.0, young=210_000.0, poisson=0.3, external=3e4 / (2 * pi * 75.0 * 10.0)).displacement
    shown = [one + 2 * mean for one in shown]
    readings = RingReadings(
        (RingTrace(None, (0.0, 0.0)), RingTrace(1.0, tuple(shown))), tuple(angles), 0.001, "three-point"
    )
    assert read_ring(GAUGE, readings).clamped[0].total[1] == pytest.approx(3e4, rel=0.02)


def good():
    return readings_of(np.random.default_rng(2), World(63.0, 75.0, 10.0), 3, [1.5e4, 3e4])[0]


def reversed_(one):
    return replace(one, traces=tuple(replace(t, values=tuple(-v for v in t.values)) for t in one.traces))


def first_places(one, count):
    traces = tuple(replace(t, values=t.values[:count]) for t in one.traces)
    return replace(one, angles=one.angles[:count], traces=traces)


def swapped(one):
    free, first, second = one.traces
    return replace(one, traces=(replace(free, values=second.values), first, replace(second, values=free.values)))


@pytest.mark.parametrize(
    ("spoil", "gauge", "words"),
    [
        (reversed_, GAUGE, "signs are reversed"),
        (swapped, GAUGE, "signs are reversed"),
        (lambda one: one, replace(GAUGE, jaws=4), "lobes, not 4|hardly moved|signs"),
        (lambda one: first_places(one, 5), GAUGE, "5 places; 3 jaws need 6"),
        (lambda one: replace(one, traces=(one.traces[0],)), GAUGE, "no readings of the clamped ring"),
        (lambda one: replace(one, traces=one.traces[1:2]), GAUGE, "read the ring free too"),
        (lambda one: replace(one, traces=(one.traces[0], replace(one.traces[1], values=one.traces[0].values))), GAUGE,
         "hardly moved"),
        (lambda one: replace(one, gauge="two-point"), GAUGE, "two-point gauge cannot see"),
        (lambda one: replace(one, traces=(*one.traces, one.traces[1])), GAUGE, "two rounds at the same pressure"),
        (lambda one: one, replace(GAUGE, most_force=5e3), "more than the 5 kN this ring may carry"),
        (lambda one: one, replace(GAUGE, ring=replace(RING, inner=55.0)), "plate allows"),
    ],
)  # fmt: skip
def test_readings_that_are_none_are_refused_in_words(spoil, gauge, words):
    with pytest.raises(InputError, match=words):
        read_ring(gauge, spoil(good()), most_grip=6e4)


# design


@pytest.mark.parametrize(
    ("side", "jaws", "gripped", "grip"),
    [("inside", 3, 120.0, 60e3), *longer(("outside", 3, 160.0, 111e3), ("outside", 6, 200.0, 90e3))],
)
def test_a_designed_ring_is_strong_and_soft_enough(side, jaws, gripped, grip):
    made = design_ring(Asked(side, jaws, gripped, grip, 3.0))
    ring = made.gauge.ring
    assert not made.misses
    assert made.factor >= 1.5
    assert made.fine <= 0.03
    assert made.coarse <= 0.12
    assert 2 * ring.gripped == pytest.approx(gripped)
    # Read as it is designed: a 0.001 mm dial on half the grip, by the plane ring of the world for what it may be off.
    assert made.per_kn == pytest.approx(RingInJaws(ring, jaws).lobes(1e3 / jaws))


def test_what_no_ring_does_is_said():
    with pytest.raises(InputError, match="no ring of"):
        design_ring(Asked("outside", 3, 40.0, 200e3, 3.0, widest=15.0))
    made = design_ring(Asked("outside", 6, 60.0, 60e3, 3.0))
    assert made.misses
    for bad in ({"gripped": 5.0}, {"most_grip": 0.0}, {"jaws": 1}, {"widest": 3.0}):
        with pytest.raises(InputError):
            design_ring(replace(Asked("outside", 3, 160.0, 9e4), **bad))
