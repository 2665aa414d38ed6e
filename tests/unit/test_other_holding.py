"""Ways to hold a part that are not jaws alone: against published formulas, plain second models, and what must fail."""

import re
from functools import cache
from math import cos, hypot, pi, sin

import numpy as np
import pytest
from conftest import example
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from heldtrue.errors import GeometryError
from heldtrue.mechanics.closed_form import lame_tube, required_grip
from heldtrue.mechanics.even_grip import collapse_pressure, grip_when_even, pressed_evenly, wall_behind
from heldtrue.mechanics.face_clamp import FaceBand, clamp_force_needed, pressed_on_face
from heldtrue.mechanics.holding import Grip, Wrench, limit_at
from heldtrue.mechanics.stations import Stations, graded_edges
from heldtrue.mechanics.turned_body import TurnedBody
from heldtrue.planning import other_way as kinds
from heldtrue.planning.even_ways import tool_job
from heldtrue.planning.inputs import prepare
from heldtrue.planning.known import Known
from heldtrue.planning.loads import job_speed, loads
from heldtrue.planning.other_holding import other_ways
from heldtrue.planning.other_holding_words import other_words
from heldtrue.planning.other_way import CENTRE, COLLET, FACE, MANDREL, SLEEVE, TAPER
from heldtrue.planning.result import FAILS, NOT_PROVEN, PASSES
from heldtrue.planning.setup import Setup
from heldtrue.planning.tool_room import free_cylinders

ALSI = {"young": 72_000.0, "poisson": 0.33}
BORE, WALL, LENGTH = 71.12, 3.0, 20.0  # a bore of 2.8 in


def thin_ring(wall=WALL, material="AlSi7Mg", machined="inside", feed=0.15, depth=0.4, cuts=(), **more):
    """A plain ring, its bore or its outside machined, with nothing else of it touched."""
    outside = BORE + 2 * wall
    inner, outer = (BORE - 2, outside) if machined == "inside" else (BORE, outside + 2)
    made, kind = (BORE, "bore") if machined == "inside" else (outside, "turn")
    side, held = ("outside", outside) if machined == "inside" else ("inside", BORE)
    surface = {"name": "land", "side": machined, "diameter": made, "z": [0, LENGTH], "roundness": 0.02,
               "cylindricity": 0.02}  # fmt: skip
    rough = {"name": "rough", "kind": kind, "surface": "land", "depth": depth, "feed": feed, "speed": 250}
    finish = {**rough, "name": "finish", "depth": 0.1, "feed": 0.08, "finishing": True}
    return Setup.from_dict({
        "title": "thin ring", "units": "metric",
        "part": {"number": "TR-071", "material": material, "surface_condition": "turned",
                 "profile": [[BORE, 0], [outside, 0], [outside, LENGTH], [BORE, LENGTH]],
                 "blank": [[inner, 0], [outer, 0], [outer, LENGTH], [inner, LENGTH]]},
        "surface": [surface],
        "grip": {"side": side, "diameter": held, "diameter_tolerance": [-0.03, 0], "z": [1, 10], "seat": True},
        "chuck": {"name": "200 mm wedge chuck", "jaws": 3, "max_draw_force": "38 kN", "max_grip_force": "95 kN",
                  "max_speed": 5000, "actuator": {"pull_area": "125 cm2", "push_area": "140 cm2",
                                                  "max_pressure": "30 bar"}},
        "jaws": {"style": "pie", "material": "6061-T6"},
        "cut": [rough, finish, *cuts],
        "machine": {"max_speed": 4000, "spin_up_time": 3}, **more,
    })  # fmt: skip


@cache
def ways_of(name):
    return other_ways(example(name))


@cache
def shaft_ways():
    """A solid shaft, one cut of it."""
    shaft = example("winch-shaft")
    return other_ways(shaft.with_({"cuts": [shaft.cuts[0]]}))


@cache
def ring_ways(**changes):
    return other_ways(thin_ring(**changes))


def only(ways, kind, means=None):
    found = [way for way in ways if way.kind == kind and means in (None, way.means)]
    assert len(found) == 1, [(way.kind, way.means) for way in ways]
    return found[0]


# Even grip on the part: Lame, as in S. P. Timoshenko and J. N. Goodier, Theory of Elasticity (from memory)


@given(inner=st.floats(20, 100), wall=st.floats(2, 30), side=st.sampled_from(("outside", "inside")))
@settings(max_examples=8)
def test_a_plain_ring_changes_its_size_as_lame_says_for_both_ways_of_pressing(inner, wall, side):
    outer, length = inner + wall, 20.0
    body = TurnedBody([(inner, 0), (outer, 0), (outer, length), (inner, length)], **ALSI)
    radius = outer if side == "outside" else inner
    found = pressed_evenly(body, Stations(side, radius, graded_edges(0, length, 6)), [(inner, 7.0), (outer, 13.0)])
    pressure = 1 / (2 * pi * radius * length)
    loads_ = {"external": pressure} if side == "outside" else {"internal": pressure}
    exact = [lame_tube(inner, outer, r, **ALSI, **loads_) for r in (inner, outer)]
    for way in (0, 1):
        assert found.movement[way, :, 0] == pytest.approx([one.displacement for one in exact], rel=1e-5)
        # The bore carries most, whether it is pressed or free; von Mises of hoop and radial stress there.
        hoop, radial = exact[0].hoop_stress, exact[0].radial_stress
        assert found.stress[way] == pytest.approx((hoop**2 + radial**2 - hoop * radial) ** 0.5, rel=1e-4)


def test_half_a_grip_leaves_taper_and_a_whole_one_none():
    body = TurnedBody([(36, 0), (40, 0), (40, 30), (36, 30)], **ALSI)
    along = [(36.0, z) for z in np.linspace(0, 30, 7)]
    whole = pressed_evenly(body, Stations("outside", 40.0, (0.0, 30.0)), along).movement[0, :, 0]
    half = pressed_evenly(body, Stations("outside", 40.0, (0.0, 15.0)), along).movement[0, :, 0]
    assert np.ptp(whole) < 1e-6 * abs(whole).max()
    assert np.ptp(half) > 0.5 * abs(half).max()
    assert abs(half[0]) > abs(half[-1])


def test_stiff_segments_press_harder_where_the_part_is_stiff_and_move_all_of_it_alike():
    body = TurnedBody([(30, 0), (40, 0), (40, 30), (36, 30), (36, 15), (30, 15)], **ALSI)
    found = pressed_evenly(body, Stations("outside", 40.0, graded_edges(0, 30, 6)), [(40.0, 5.0), (40.0, 25.0)])
    even, alike = found.movement[:, :, 0]
    assert even[1] / even[0] > 1.5
    assert alike[1] / alike[0] == pytest.approx(1, abs=0.1)
    assert found.pressure[1, 0] > found.pressure[1, -1]
    assert found.pressure @ (2 * pi * 40 * np.diff(graded_edges(0, 30, 6))) == pytest.approx([1, 1])


def test_collapse_of_a_thin_ring_is_three_e_i_over_r_cubed_and_far_more_in_a_rigid_round():
    # S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability: p = 3 E I / R**3, I = t**3/12 (from memory).
    wall, radius = 4.0, 120.0
    free = collapse_pressure(wall, radius, 70_000.0, 0.33, contained=False)
    assert free == pytest.approx(3 * 70_000 * wall**3 / 12 / radius**3)
    assert collapse_pressure(wall, radius, 70_000.0, 0.33, contained=True) > 5 * free
    with pytest.raises(GeometryError):
        collapse_pressure(5.0, 4.0, 70_000.0, 0.33, contained=False)


def test_the_wall_behind_a_grip_is_the_thinnest_along_it():
    corners = ((30.0, 0.0), (40.0, 0.0), (40.0, 30.0), (36.0, 30.0), (36.0, 15.0), (30.0, 15.0))
    assert wall_behind(corners, "outside", 40.0, (0.0, 15.0)) == pytest.approx(10)
    assert wall_behind(corners, "outside", 40.0, (0.0, 16.0)) == pytest.approx(4)
    assert wall_behind(corners, "inside", 30.0, (0.0, 15.0)) == pytest.approx(10)
    assert wall_behind(((0.0, 0.0), (20.0, 0.0), (20.0, 9.0), (0.0, 9.0)), "outside", 20.0, (1.0, 8.0)) == 20


# Even grip against the cut


def test_torque_and_thrust_alone_are_carried_by_friction_times_force_times_radius():
    torque = Wrench((0, 0, 0), (0, 0, 60_000.0))
    assert grip_when_even(torque, 10.0, 30.0, 0.1) == pytest.approx(60_000 / (0.1 * 30))
    assert required_grip(60_000, 0.0, 60, 0.1) == pytest.approx(20_000)
    thrust = Wrench((0, 0, 500.0), (0, 0, 0))
    assert grip_when_even(thrust, 10.0, 30.0, 0.1) == pytest.approx(5_000)
    into = Wrench((0, 0, -500.0), (0, 0, 0))
    assert grip_when_even(into, 10.0, 30.0, 0.1) == pytest.approx(5_000)
    assert grip_when_even(into, 10.0, 30.0, 0.1, stopped=True) == 0


forces = st.floats(-2_000, 2_000)
wrenches = st.builds(
    lambda f, m: Wrench(f, m), st.tuples(forces, forces, forces),
    st.tuples(*[st.floats(-80_000, 80_000)] * 3),
)  # fmt: skip


@given(load=wrenches)
def test_an_even_pressure_does_carry_what_it_is_said_to(load):
    """Second model: the shear field itself, summed over a grid of cells: it balances the load within friction."""
    radius, length, friction, middle = 30.0, 24.0, 0.12, 8.0
    grip = grip_when_even(load, middle, radius, friction)
    fx, fy, fz, mx, my, mz = load.about(middle, 1.0)
    angles = (np.arange(3600) + 0.5) * 2 * pi / 3600
    area = 2 * pi * radius * length / len(angles)  # of a strip all along the grip; the field is the same along it
    side, tilt = hypot(fx, fy), hypot(mx, my)
    whole = area * len(angles)
    towards, about = np.arctan2(fy, fx), np.arctan2(my, mx)
    round_ = -mz / (radius * whole) + pi / 2 * side / whole * np.sign(np.sin(angles - towards))
    along = -fz / whole - pi / 2 * tilt / (radius * whole) * np.sign(np.sin(angles - about))
    on_part = np.array([-np.sin(angles) * round_, np.cos(angles) * round_, along]) * area
    at = np.array([radius * np.cos(angles), radius * np.sin(angles), np.zeros_like(angles)])
    size = 1e-3 * (1 + max(side, abs(fz), tilt / radius, abs(mz) / radius))
    assert np.add(on_part.sum(axis=1), [fx, fy, fz]) == pytest.approx(np.zeros(3), abs=size)
    assert np.add(np.cross(at.T, on_part.T).sum(axis=0), [mx, my, mz]) == pytest.approx(np.zeros(3), abs=radius * size)
    assert np.hypot(round_, along).max() <= friction * grip / whole * (1 + 1e-9)


@given(load=wrenches, more=st.floats(1, 5))
def test_stiff_segments_never_need_more_than_an_even_pressure_and_more_load_never_less(load, more):
    """The best distribution of the pressure holds with no more than the even one: limit theorems from both sides."""
    grip = Grip("outside", 30.0, (0.0, 24.0), pi / 6, 6, 0.12)
    even = grip_when_even(load, grip.middle, 30.0, 0.12)
    assert limit_at(grip, load, 0.0).required(1.0) <= 1.05 * even + 1  # points stand for a circle
    assert grip_when_even(load.scaled(more), grip.middle, 30.0, 0.12) >= even - 1e-6


# Clamped on a face


def test_a_ring_squeezed_evenly_bulges_by_poisson_alone():
    body = TurnedBody([(35, 0), (40, 0), (40, 20), (35, 20)], **ALSI)
    found = pressed_on_face(body, FaceBand(35.0, 40.0, 20.0, 0.0), 3, pi / 3, [(35.0, 10.0), (40.0, 3.0)])
    stress = 1 / (pi * (40**2 - 35**2))
    exact = 0.33 * stress / 72_000 * np.array([35.0, 40.0])
    assert found.along(0, [0.0, 1.0])[0] == pytest.approx(np.outer(exact, [1, 1]), rel=1e-6)
    assert (found.bearing, found.stress[0]) == pytest.approx((stress, stress), rel=1e-4)


def test_more_stations_press_the_part_less_out_of_round_and_off_centre_bearing_more():
    body = TurnedBody([(35, 0), (40, 0), (40, 20), (35, 20)], **ALSI)
    angles = np.linspace(0, 2 * pi, 120, endpoint=False)
    points = [(35.0, z) for z in (2.0, 10.0, 18.0)]
    lobes = []
    for k in (3, 4, 6):
        u = pressed_on_face(body, FaceBand(36.0, 40.0, 20.0, 0.0), k, 0.15, points).along(0, angles)
        lobes.append(np.ptp(u[0], axis=1).max())
        assert np.ptp(u, axis=2).max() > 1.5 * lobes[-1]
        assert u[0, 1] == pytest.approx(np.roll(u[0, 1], 120 // k), abs=1e-12)
    assert lobes == sorted(lobes, reverse=True)


def test_a_band_that_is_no_face_is_an_error():
    body = TurnedBody([(35, 0), (40, 0), (40, 20), (35, 20)], **ALSI)
    with pytest.raises(GeometryError):
        pressed_on_face(body, FaceBand(36.0, 42.0, 20.0, 0.0), 3, 0.2, [(35.0, 5.0)])
    with pytest.raises(GeometryError):
        pressed_on_face(body, FaceBand(36.0, 40.0, 20.0, 0.0), 6, 1.0, [(35.0, 5.0)])


def test_torque_between_two_faces_is_that_of_a_disc_clutch_with_uniform_wear():
    # Two faces, uniform wear: T = 2 mu Q (R_o + R_i)/2.  J. E. Shigley, Mechanical Engineering Design (from memory).
    band = FaceBand(30.0, 40.0, 20.0, 0.0)
    needed, by = clamp_force_needed(Wrench((0, 0, 0), (0, 0, 7_000.0)), band, 0.1, radius=band.middle, both_faces=True)
    assert (needed, by) == (pytest.approx(7_000 / (2 * 0.1 * 35)), "friction")
    one, _ = clamp_force_needed(Wrench((0, 0, 0), (0, 0, 7_000.0)), band, 0.1, radius=band.middle, both_faces=False)
    assert one == pytest.approx(2 * needed)


def test_a_pull_from_the_plate_is_carried_by_the_clamps_and_a_push_by_the_plate():
    band = FaceBand(30.0, 40.0, 20.0, 0.0)
    pull, by = clamp_force_needed(Wrench((0, 0, 900.0), (0, 0, 0)), band, 0.1, radius=30.0, both_faces=True)
    assert (pull, by) == (900.0, "prying")
    assert clamp_force_needed(Wrench((0, 0, -900.0), (0, 0, 0)), band, 0.1, radius=30.0, both_faces=True)[0] == 0
    # Side force at a height: no friction would help against the part being pried off its rests.
    high, by = clamp_force_needed(Wrench.at((0, 0, 300.0), (400.0, 0, 0)), band, 1.0, radius=30.0, both_faces=True)
    assert (high, by) == (pytest.approx(2 * 300 * 400 / 30), "prying")


@given(load=wrenches, k=st.sampled_from((3, 4, 6)))
@settings(max_examples=25)
def test_what_the_clamps_are_said_to_carry_balances_on_as_many_rests(load, k):
    """Second model: a linear program over the forces at k clamps and rests, friction as sixteen-sided pyramids."""
    band, friction = FaceBand(30.0, 40.0, 20.0, 0.0), 0.15
    needed, _ = clamp_force_needed(load, band, friction, radius=30.0, both_faces=False)
    assert least_on_rests(load, band, friction, k) <= needed * 1.02 + 1  # a pyramid is up to 2 % inside its cone


def least_on_rests(load, band, friction, k):
    """Least total clamping force by linear programming: clamps only press down, rests push up and rub."""
    rows, total = [], []
    for i in range(k):
        at = np.array([30.0 * cos(2 * pi * i / k), 30.0 * sin(2 * pi * i / k), band.bottom])
        for j in range(16):
            force = np.array([friction * cos(pi * j / 8), friction * sin(pi * j / 8), 1.0])
            rows.append(np.concatenate([force, np.cross(at, force)]))
            total.append(0.0)
    # All clamps press alike: one unknown, the total, straight down through the axis.
    rows.append(np.array([0, 0, -1.0, 0, 0, 0]))
    total.append(1.0)
    wrench = np.array([*load.force, *load.moment])
    found = linprog(total, A_eq=np.array(rows).T, b_eq=-wrench, bounds=(0, None))
    assert found.status == 0
    return found.fun


# Whole setups


def test_no_tool_whose_plate_nobody_has_read_ever_passes():
    everything = [way for name in ("float-ring", "valve-stem") for way in ways_of(name)]
    everything += [way for changes in ({}, {"machined": "outside"}, {"wall": 6.0}) for way in ring_ways(**changes)]
    tools = [way for way in everything if way.kind in (MANDREL, COLLET, FACE)]
    assert {way.kind for way in tools} == {MANDREL, COLLET, FACE}
    assert all(way.state in (NOT_PROVEN, FAILS) and way.needs for way in tools)


def test_the_thin_ring_that_no_jaw_holds_round_gets_a_collet_with_a_window_but_no_oil_sleeve():
    collet, sleeve = (only(ways_of("float-ring"), COLLET, means) for means in (TAPER, SLEEVE))
    low, high, kind = collet.window
    assert (kind, collet.state) == ("force", NOT_PROVEN)
    assert 10_000 < low < high < 60_000
    assert collet.surface.z == (0.0, 28.0), "clear of the facing tool at z = 30"
    assert sleeve.window is None
    assert sleeve.state == FAILS
    assert sleeve.steps[0].ceiling_by == "collapse"


def test_an_aluminium_ring_with_a_wall_of_three_millimetres_has_three_ways_with_a_window():
    ways = ring_ways()
    assert only(ways, COLLET, TAPER).window is not None
    assert only(ways, COLLET, SLEEVE).window is not None
    assert only(ways, FACE).window is not None


def test_a_mandrel_is_never_offered_in_a_bore_that_this_operation_machines():
    assert not any(way.kind == MANDREL for way in ring_ways(machined="inside"))
    assert not any(way.kind == COLLET for way in ring_ways(machined="outside"))
    assert only(ring_ways(machined="outside"), MANDREL, TAPER).surface.diameters == (BORE, BORE)
    # A bore without stock is machined all the same where a cut goes over it.
    assert not any(way.kind == MANDREL for way in other_ways(thin_ring().with_({"part.blank": None})))


def test_a_tool_ends_clear_of_a_cut_on_part_of_its_surface():
    groove = {"name": "groove", "kind": "groove", "diameter": 75, "z": [12, 15], "width": 3, "feed": 0.05, "speed": 100}
    grooved = only(other_ways(thin_ring(cuts=(groove,))), COLLET, TAPER)
    assert grooved.surface.z == (0.0, 10.0)
    assert only(ring_ways(), COLLET, TAPER).surface.z == (0.0, LENGTH)


def test_nothing_is_pressed_on_a_chamfer():
    outside = BORE + 2 * WALL
    broken = thin_ring().with_(
        {
            "part.profile": [
                [BORE, 0],
                [outside, 0, {"chamfer": 0.5}],
                [outside, LENGTH, {"chamfer": 0.5}],
                [BORE, LENGTH],
            ]
        }
    )
    ways = other_ways(broken.with_({"part.blank": None}))
    assert only(ways, COLLET, TAPER).surface.z == (0.5, LENGTH - 0.5)
    assert only(ways, FACE).surface.diameters[1] == pytest.approx(outside - 1)


def test_a_facing_cut_over_the_clamps_leaves_no_face_clamp():
    face = {"name": "face", "kind": "face", "diameter": BORE + 2 * WALL, "z": [LENGTH - 1, LENGTH], "depth": 0.5,
            "feed": 0.1, "speed": 200}  # fmt: skip
    assert only(ring_ways(), FACE).means == kinds.OUTER_STRAPS
    assert not any(way.kind == FACE for way in other_ways(thin_ring(cuts=(face,))))
    # Turned all along, a ring of this wall has straps neither outside nor, too thin for a nose, inside.
    outside = only(ring_ways(machined="outside"), FACE)
    assert outside.means == kinds.INNER_STRAPS
    assert outside.surface.diameters[1] < BORE + 2 * WALL


def test_a_part_that_yields_below_the_least_grip_fails():
    soft = only(other_ways(thin_ring(wall=0.5, material="PEEK", feed=0.5, depth=1.0)), COLLET, TAPER)
    assert soft.state == FAILS
    assert soft.window is None
    assert not soft.steps[0].may_be_open
    assert any(check.state == FAILS for check in soft.checks)


@pytest.mark.parametrize("kind", [COLLET, FACE])
def test_a_thinner_wall_lowers_the_ceiling_and_a_heavier_cut_raises_the_floor(kind):
    thick, thin, heavy = (
        only(ring_ways(**changes), kind, None if kind == FACE else TAPER)
        for changes in ({"wall": 6.0}, {"wall": 4.0}, {"wall": 6.0, "feed": 0.3})
    )
    assert max(step.ceiling for step in thin.steps) < max(step.ceiling for step in thick.steps)
    assert heavy.steps[0].floor > 1.2 * thick.steps[0].floor


def test_the_ceiling_of_a_collet_is_where_lame_puts_yield_or_the_ring_falls_in():
    """Second model: a plain ring pressed all along, by hand."""
    taper, sleeve = (only(ring_ways(), COLLET, means) for means in (TAPER, SLEEVE))
    outer, inner = BORE / 2 + WALL, BORE / 2
    pressure = taper.window[1] / (2 * pi * outer * LENGTH)
    assert taper.steps[0].ceiling_by == "yield: part"
    stress = abs(lame_tube(inner, outer, inner, **ALSI, external=pressure).hoop_stress)
    assert stress == pytest.approx(prepare(thin_ring()).known["part yield"].low, rel=1e-3)
    assert sleeve.steps[0].ceiling_by == "collapse"
    pressure = sleeve.window[1] / sleeve.area
    assert pressure == pytest.approx(70_000 * WALL**3 / (4 * outer**3) / 2, rel=1e-3)  # least E of its range; half


def test_the_floor_of_a_sleeve_is_what_its_friction_carries_by_hand():
    """Second model: every load of the worst case by hand, 1.25 and 1.5 times as large and with S/2 = 1.2 on top."""
    sleeve, job = only(ring_ways(), COLLET, SLEEVE), prepare(thin_ring())
    values = {**job.known.worst()}
    radius, needed = BORE / 2 + WALL, 0.0
    for load in loads(job, values, job_speed(job)):
        fx, fy, fz, mx, my, mz = load.wrench.about(LENGTH / 2, 1.0)
        round_ = 1.25 * abs(mz) / radius + 1.5 * pi / 2 * hypot(fx, fy)
        along = 1.25 * max(fz, 0) + 1.5 * pi / 2 * hypot(mx, my) / radius
        cut = hypot(round_, along) / values["friction"]
        spin = (load.speed_rpm * pi / 30) ** 2 / 1000
        pull = 7.85e-6 * 1.5 * LENGTH * 2 * pi * ((radius + 5) ** 3 - radius**3) / 3 * spin
        needed = max(needed, 1.2 * cut + pull)
    assert sleeve.window[0] == pytest.approx(needed, rel=1e-6)


def test_stiff_segments_need_less_than_a_sleeve_and_more_than_torque_alone():
    taper, sleeve = (only(ring_ways(), COLLET, means) for means in (TAPER, SLEEVE))
    job = prepare(thin_ring())
    worst = job.known.worst()
    torque = max(load.torque for load in loads(job, worst, job_speed(job)))
    handbook = 1.2 * 1.25 * required_grip(torque, 0.0, BORE + 2 * WALL, worst["friction"])
    assert handbook < taper.window[0] < sleeve.window[0]


def test_speed_takes_from_a_collet_and_adds_to_what_a_mandrel_presses():
    slow = only(ring_ways(), COLLET, TAPER)
    fast = only(other_ways(thin_ring(run={"speed": 4000})), COLLET, TAPER)
    assert fast.window[0] >= slow.window[0]
    spin = [next(c for c in way.checks if c.name == "hold: spin-up").limit for way in (slow, fast)]
    assert spin[1] > 5 * spin[0]
    slow = only(ring_ways(machined="outside"), MANDREL, TAPER)
    fast = only(other_ways(thin_ring(machined="outside", run={"speed": 4000})), MANDREL, TAPER)
    assert fast.steps[0].ceiling < slow.steps[0].ceiling


def test_a_stiff_tool_brings_the_roundness_of_the_gripped_surface_and_an_oil_sleeve_does_not():
    rough = thin_ring().with_({"part.roundness": 0.03})
    taper, sleeve = (only(other_ways(rough), COLLET, means) for means in (TAPER, SLEEVE))
    check = next(c for c in taper.checks if c.name == "roundness: land")
    assert (check.state, check.value) == (NOT_PROVEN, 0.03)
    assert check.decided_by == "out-of-round of the gripped surface"
    assert next(c for c in sleeve.checks if c.name == "roundness: land").state == PASSES


def test_what_is_known_of_jaws_and_chuck_is_not_taken_for_the_tool():
    """Friction that was tried on serrated jaws, and a chuck just serviced, say nothing of a smooth collet."""
    told = thin_ring().with_({"jaws.friction": 0.4, "jaws.face": "serrated", "chuck.serviced": True})
    assert only(other_ways(told), COLLET, TAPER).window == only(ring_ways(), COLLET, TAPER).window


def test_what_is_said_of_the_gripped_surface_is_said_of_no_other_and_changes_no_cut():
    """Dry and ground where the jaws grip: nobody said so of the bore, and cuts stay smooth ones."""
    ring = thin_ring(machined="outside")
    told = ring.with_({"part.oily": False, "part.surface_condition": "ground", "part.roundness": 0.001})
    none = Known("jaw moment", "none", 0.0, 0.0, "mass moment", "assumed")
    job = prepare(told)
    same, other = (tool_job(job, told.grip, none, same=same) for same in (True, False))
    assert other.known["friction"].worst < same.known["friction"].worst
    assert other.known["part roundness"].high > same.known["part roundness"].high == 0.001
    torque = [max(load.torque for load in loads(one, job.known.worst(), 1000.0)) for one in (same, other)]
    assert torque[0] == torque[1]


def test_a_centre_is_planned_on_a_solid_end_only():
    shaft = only(shaft_ways(), CENTRE)
    assert shaft.measure == "pressure"
    assert shaft.window[0] < shaft.window[1]
    assert not any(way.kind == CENTRE for way in ways_of("valve-stem")), "its end is faced to the axis"
    assert not any(way.kind == CENTRE for way in ring_ways()), "its bore is cut from that end"
    hollow = only(ring_ways(machined="outside"), CENTRE)
    assert (hollow.state, hollow.is_computed, hollow.needs[0].code) == (NOT_PROVEN, False, kinds.BULL_CENTRE)
    there = thin_ring(machined="outside").with_({"grip.centre": True})
    assert not any(way.kind == CENTRE for way in other_ways(there))


def test_words_give_the_window_rounded_to_the_safe_side_and_what_to_find_out():
    collet, sleeve = (only(ways_of("float-ring"), COLLET, means) for means in (TAPER, SLEEVE))
    name, force, *_ = other_words(collet)
    assert name == "Collet on a taper, outside Ø240, z 0 to 28 mm: not proven"
    least, most = (float(word) for word in re.findall(r"([0-9.]+) kN", force))
    assert least * 1000 >= collet.window[0]
    assert most * 1000 <= collet.window[1]
    said = " ".join(other_words(collet))
    assert "read the plate of the collet" in said
    assert "falls in at 0.638 MPa" in said
    assert "needs 62.3 kN, 'collapse' allows" in " ".join(other_words(sleeve))
    inches = other_words(collet, "inch")
    assert inches[0].startswith("Collet on a taper, outside Ø9.449, z 0 to 1.102 in")
    assert "4970 lbf to 6100 lbf" in inches[1]


def test_every_way_has_words_without_gaps():
    ways = [*ways_of("float-ring"), *shaft_ways(), *ways_of("valve-stem"), *ring_ways(),
            *ring_ways(machined="outside")]  # fmt: skip
    codes = {fact.code for way in ways for fact in (*way.needs, *way.notes)}
    assert {kinds.STATIONS, kinds.SIDEWAYS, kinds.COLLAPSE, kinds.BULL_CENTRE, kinds.NOT_COMPUTED} <= codes
    for way in ways:
        for line in other_words(way):
            assert line
            assert "None" not in line
            assert "  " not in line
            assert "-0" not in line


def test_a_surface_counts_as_machined_by_its_cut_or_by_being_listed():
    whole = thin_ring().with_({"part.blank": None})
    cut = {"name": "skim", "kind": "bore", "diameter": BORE, "z": [0, LENGTH], "depth": 0.1, "feed": 0.1,
           "surface_speed": 200}  # fmt: skip
    only_cut = whole.with_({"surfaces": [], "cuts": [cut]})
    elsewhere = {"name": "chamfer", "kind": "turn", "diameter": BORE + 2 * WALL, "z": [18, LENGTH], "depth": 0.1,
                 "feed": 0.1, "surface_speed": 200}  # fmt: skip
    only_listed = whole.with_({"cuts": [elsewhere]})
    neither = whole.with_({"surfaces": [], "cuts": [elsewhere]})
    sides = [{side for side, *_ in free_cylinders(prepare(one))} for one in (only_cut, only_listed, neither)]
    assert sides == [{"outside"}, {"outside"}, {"outside", "inside"}]
