"""The truth model held to answers known by hand, and shown to say "lets go"."""

from dataclasses import dataclass, replace
from math import hypot, pi, radians, sin

import numpy as np
import pytest

from heldtrue.mechanics.contact import Contact
from heldtrue.mechanics.holding import Grip, Wrench, holding
from heldtrue.planning.setup import Setup

from .draw import OUTSIDE, draw, draws, outside, worst_corner
from .limit import Held, by_highs, failure
from .pressed import Pressed, Sides, Squeeze, face_of
from .ranges import RANGES, ranges_of
from .setups import KNOWLEDGE, NEW_KEYS, random_setup
from .truth import World, case_of, forms, grip_at, jaws_pull, judge_world, spin_up_torque, static_grip, tool_loads

POLYGON = np.cos(pi / 16)  # what an inscribed polygon of 16 sides keeps of its circle, at worst

THREE_JAWS = Held("outside", 50.0, (2.0, 34.0), 0.3, 3, 0.1)


def need(held: Held, force=(0.0, 0.0, 0.0), at=(0.0, 0.0, 0.0), torque=0.0) -> float:
    load = held.about(np.array([force], float), np.array([at], float))
    load[0, 5] += torque / held.radius
    return float(held.least_grip(load)[0][0])


# --- holding ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["outside", "inside"])
@pytest.mark.parametrize("jaws", [3, 6])
def test_a_torque_takes_friction_times_grip_times_radius(side, jaws):
    held = replace(THREE_JAWS, side=side, jaws=jaws)
    assert need(held, torque=1e5) == pytest.approx(1e5 / (0.1 * 50))


def test_an_axial_pull_takes_friction_times_grip():
    assert need(THREE_JAWS, (0, 0, 700.0)) == pytest.approx(7000)
    assert need(THREE_JAWS, (0, 0, -700.0)) == pytest.approx(7000)


def test_torque_and_pull_together_share_one_friction():
    both = need(THREE_JAWS, (0, 0, 300.0), torque=400.0 * 50)
    assert 5000 <= both <= 5000 / POLYGON


def test_a_seat_takes_a_push_and_no_pull():
    seated = replace(THREE_JAWS, seat=(0.0, 40.0, 50.0))
    assert need(seated, (0, 0, -700.0)) == pytest.approx(0, abs=1e-3)
    assert need(seated, (0, 0, 700.0)) == pytest.approx(7000)
    # Outside the seat's corners it tips.
    assert need(seated, (0, 0, -700.0), (200.0, 0, 0)) > 100


def test_a_centre_takes_the_side_force_that_meets_it():
    held = replace(THREE_JAWS, centre=150.0)
    assert need(held, (300.0, 100.0, 0), (0, 0, 150.0)) == pytest.approx(0, abs=1e-3)
    assert need(THREE_JAWS, (300.0, 100.0, 0), (0, 0, 150.0)) > 300


def test_a_block_in_a_vice_tips_at_grip_times_lever():
    """Two jaws: all normal force goes to opposite edges, a couple of grip times 3/8 length; friction adds its own."""
    length, friction = 40.0, 0.12
    vice = Held("outside", 30.0, (0.0, length), 1e-6, 2, friction)
    moment = 9e4
    load = np.zeros((1, 6))
    load[0, 4] = moment / vice.radius
    grip, motion = vice.least_grip(load)
    assert grip[0] == pytest.approx(moment / (3 / 8 * length + friction * 30.0), rel=1e-5)
    assert failure(motion[0], load[0]) == "tip"


@pytest.mark.parametrize(("side", "to_jaw", "from_jaw"), [("outside", 500, 1000), ("inside", 1000, 500)])
def test_a_side_force_lifts_the_part_off_a_jaw(side, to_jaw, from_jaw):
    """Without friction: a narrow jaw takes 500 N alone, or two others at 60 degrees share it at half each."""
    held = Held(side, 30.0, (0.0, 20.0), 1e-6, 3, 1e-6)
    force = held.about(np.array([[500.0, 0, 0], [-500.0, 0, 0]]), np.full((2, 3), [0.0, 0.0, 10.0]))
    grip, motions = held.least_grip(force)
    assert grip == pytest.approx([to_jaw, from_jaw], rel=1e-3)
    assert {failure(motion, load) for motion, load in zip(motions, force, strict=True)} == {"lift"}


@pytest.mark.parametrize(
    "held",
    [
        THREE_JAWS,
        replace(THREE_JAWS, jaws=6, half_angle=0.5, seat=(0.0, 45.0, 50.0)),
        replace(THREE_JAWS, centre=120.0),
    ],
)
def test_many_loads_at_once_give_what_the_solver_gives_for_each(held):
    loads = np.random.default_rng(3).normal(size=(60, 6)) * 1000
    together, motions = held.least_grip(loads)
    alone = [by_highs(*held.columns, -load / 1000)[0] * 1000 for load in loads]
    assert together == pytest.approx(alone, rel=1e-7)
    assert np.einsum("bi,bi->b", motions, loads) == pytest.approx(together, rel=1e-7)


@pytest.mark.parametrize("side", ["outside", "inside"])
def test_the_polygon_stays_just_inside_the_cone(side):
    cone = Grip(side, 50.0, (2.0, 34.0), 0.3, 3, 0.1, (0.0, 47.0, 50.0))
    mine = replace(THREE_JAWS, side=side, seat=(0.0, 47.0, 50.0))
    point, force = (45.0, 0.0, 60.0), (-400.0, -1500.0, -500.0)
    theirs = holding(cone, Wrench.at(point, force), angles=1).required(1.0)
    assert theirs <= need(mine, force, point) <= theirs / POLYGON


# --- grip, speed, loads -------------------------------------------------------------------------------------------


def drilling(**part) -> dict:
    """A bar held by jaws alone and drilled: thrust and torque, nothing else."""
    return {
        "units": "metric",
        "part": {"number": "T-1", "material": "C45", "surface_condition": "turned", "mass": 2.0, "holes": False,
                 "profile": [[10, 0], [60, 0], [60, 90], [10, 90]], "blank": [[0, 0], [60, 0], [60, 90], [0, 90]]},
        "grip": {"side": "outside", "diameter": 60, "z": [2, 42], "seat": False},
        "chuck": {"name": "test", "max_draw_force": 30000, "max_grip_force": 75000, "max_speed": 4000,
                  "master_jaw_mass": 1.0, "master_jaw_radius": 60,
                  "actuator": {"pull_area": 10000, "max_pressure": 30}},
        "jaws": {"style": "standard", "material": "C15", "width": 30, "height": 60, "length": 60, "friction": 0.12,
                 "mass": 1.0, "centroid_radius": 60, "bored_pressure": 10},
        "cut": [{"name": "drill", "kind": "drill", "diameter": 10, "z": [5, 90], "feed": 0.2, "speed": 25}],
        "machine": {"max_speed": 4000, "spin_up_time": 2},
        **part,
    }  # fmt: skip


def still(setup: dict, **changes) -> World:
    """The middle of every range, but nothing turns out of true and nothing weighs."""
    middle = {name: (low + high) / 2 for name, (low, high) in ranges_of(setup).items()}
    calm = {"off_centre": 0.0, "mass": 1e-9, "speed_share": 0.0, "gauge_error": 0.0, "threshold": 0.0, "area": 1.0}
    return World({**middle, **calm, "grip_share": 1.0, "thrust": 1.0, "kc11": 2000.0, "mc": 0.2,
                  "wear: drill": 1.0, "friction": 0.1, **changes})  # fmt: skip


def test_a_drill_in_jaws_alone_slips_where_a_hand_calculation_says():
    setup = drilling()
    world = still(setup)
    kc = 1.2 * 2000 * (0.1 * sin(radians(59))) ** -0.2
    torque = kc * 0.2 * 10**2 / 8
    thrust = kc * 0.2 * 10 / 4 * sin(radians(59))
    grip = 2.5 * 10000 * 1.0
    hand = 0.1 * grip / hypot(torque / 30, thrust) - 1
    margin = judge_world(setup, world, 1.0, 4000, elastic=False).margins["hold: drill"]
    assert hand > margin > (1 + hand) * POLYGON - 1
    # 10 % less grip than it needs, and it lets go along the axis.
    short = judge_world(setup, world, 0.9 / (1 + margin), 4000, elastic=False)
    assert short.margins["hold: drill"] == pytest.approx(-0.1)
    assert "hold: drill" in short.wrong
    assert short.how["hold: drill"] == "slip along"


def test_a_seat_leaves_a_drill_only_its_torque():
    setup = drilling(grip={"side": "outside", "diameter": 60, "z": [2, 42], "seat": True})
    kc = 1.2 * 2000 * (0.1 * sin(radians(59))) ** -0.2
    needed = kc * 0.2 * 10**2 / 8 / (0.1 * 30)
    margin = judge_world(setup, still(setup), 1.0, 4000, elastic=False).margins["hold: drill"]
    assert margin == pytest.approx(25000 / needed - 1)


def test_turning_force_by_hand():
    setup = drilling(cut=[{"name": "turn", "kind": "turn", "diameter": 50, "z": [50, 90], "depth": 2, "feed": 0.3,
                           "speed": 120, "lead_angle": 90}])  # fmt: skip
    world = still(setup, **{"wear: turn": 1.3, "interrupted: turn": 1.0, "interruption": 1.5, "feed_share": 0.4,
                            "passive_share": 0.2})  # fmt: skip
    case = case_of(setup)
    radii = {one.radius for one in case.passes["turn"]}
    assert radii == {30.0, 25.0}  # the stock's own, and what is left
    [(force, couple)] = tool_loads(case, world, case.passes["turn"][0])
    cutting = 1.3 * 1.5 * 2000 * 0.3**-0.2 * 0.6
    assert force == pytest.approx([-0.2 * cutting, -cutting, -0.4 * cutting])
    assert couple == 0.0


def test_speed_takes_grip_from_an_outside_and_gives_it_to_an_inside():
    setup = drilling()
    case, world = case_of(setup), still(setup, speed_share=1.0, jaw_mass=1.0, jaw_radius=50.0, master_mass=0.0)
    pull = 3 * 1.0 * 50.0 * (2000 * pi / 30) ** 2 / 1000
    assert jaws_pull(case, world, 2000) == pytest.approx(pull)
    assert grip_at(case, world, 1.0, 2000) == pytest.approx(25000 - pull)
    inside = drilling(
        part={"number": "T", "material": "C45", "profile": [[60, 0], [80, 0], [80, 50], [60, 50]]},
        grip={"side": "inside", "diameter": 60, "z": [2, 22]},
        cut=[{"name": "turn", "kind": "turn", "diameter": 80, "z": [30, 50], "depth": 1, "feed": 0.2, "speed": 100}],
    )
    inside["chuck"]["actuator"]["push_area"] = 10000
    assert grip_at(case_of(inside), world, 1.0, 2000) == pytest.approx(25000 + pull)


def test_a_grip_at_speed_that_is_gone_lets_go():
    setup = drilling(cut=[{"name": "drill", "kind": "drill", "diameter": 10, "z": [5, 90], "feed": 0.2,
                           "spindle_speed": 4000}])  # fmt: skip
    world = still(setup, speed_share=1.0, jaw_mass=5.0)
    assert judge_world(setup, world, 1.0, 4000, elastic=False).margins["hold: drill"] == -1.0


def test_readings_of_today_are_on_the_line_whatever_pressure_is_lost():
    setup = drilling()
    setup["chuck"]["grip_readings"] = [{"pressure": 16, "force": 40000, "days": 0}] * 2
    read = Setup.from_dict(setup)
    for lost in (0.0, 0.05, 0.1):
        assert static_grip(read, still(setup, threshold=lost, reading_error=0.0), 1.6) == pytest.approx(40000)
    low, high = (static_grip(read, still(setup, threshold=t, reading_error=0.0), 0.5) for t in (0.1, 0.0))
    assert low == pytest.approx(40000 * 0.4 / 1.5)
    assert high == pytest.approx(40000 * 0.5 / 1.6)


def test_spin_up_of_a_bar_by_hand():
    setup = drilling()
    world = still(setup, mass=2.0, spin_up_time=2.0)
    inertia = 2.0 * 30**2 / 2
    assert spin_up_torque(case_of(setup), world) == pytest.approx(inertia * 4000 * pi / 30 / 2.0 / 1000)


def test_an_unbalance_pulls_at_mid_part_with_m_r_omega_squared():
    setup = drilling()
    world = still(setup, lump=3.0, unbalance_angle=0.7, spin_up_time=1e9)
    force = 3.0 * (4000 * pi / 30) ** 2 / 1000
    held = Held("outside", 30.0, (2.0, 42.0), case_of(setup).half_angle, 3, 0.1)
    needed = need(held, (force * np.cos(0.7), force * np.sin(0.7), 0.0), (0.0, 0.0, 45.0))
    margin = judge_world(setup, world, 1.0, 4000, elastic=False).margins["hold: spin-up"]
    assert margin == pytest.approx(25000 / needed - 1)


def test_weight_pulls_down_wherever_the_tool_stands():
    setup = drilling()
    world = still(setup, mass=40.0, spin_up_time=1e9)
    held = Held("outside", 30.0, (2.0, 42.0), case_of(setup).half_angle, 3, 0.1)
    turns = 2 * pi * np.arange(16) / 16 + world["weight_angle"]
    needed = max(need(held, (392.4 * np.cos(t), 392.4 * np.sin(t), 0.0), (0.0, 0.0, 45.0)) for t in turns)
    margin = judge_world(setup, world, 1.0, 4000, elastic=False).margins["hold: spin-up"]
    assert margin == pytest.approx(25000 / needed - 1)


# --- part and jaw -------------------------------------------------------------------------------------------------


@dataclass
class StiffJaw:
    cells: int
    shape: tuple[int, int]

    def compliance(self, tilt: float):
        return np.zeros((self.cells, self.cells))

    def ring_push(self, tilt: float):
        return np.zeros(self.shape)


def ring_in_jaws(inner: float, outer: float, length: float, half_angle: float) -> Pressed:
    face = face_of("outside", outer, (0.0, length), half_angle, 3)
    corners = ((inner, 0.0), (outer, 0.0), (outer, length), (inner, length))
    bore = Sides("inside", tuple((inner, z) for z in (1.0, length / 2, length - 1.0)))
    return Pressed(corners, 210_000.0, 0.3, face, StiffJaw(face.areas.size, face.areas.shape), (bore,))


def test_hoop_stress_and_shift_under_even_pressure():
    """Lame: outer pressure p, at the bore the hoop stress is -2 p b^2 / (b^2 - a^2), and the only one."""
    a, b, p = 40.0, 50.0, 12.0
    ring = ring_in_jaws(a, b, 20.0, pi / 3)
    even = Contact(ring.face, np.full(ring.face.areas.shape, p), np.zeros(ring.face.areas.shape), 0.0, 1.0, 0.0)
    hoop = 2 * p * b**2 / (b**2 - a**2)
    assert ring.stress(even) == pytest.approx(hoop, rel=2e-3)
    [bore] = ring.released(even, 1.0)
    assert bore == pytest.approx(np.full(bore.shape, hoop * a / 210_000), rel=2e-3)
    assert ring.released(even, 2.0)[0] == pytest.approx(2 * bore)


def test_a_thin_ring_between_three_narrow_jaws():
    """Thin ring under three radial forces: waves 3 F R^3 / (pi E I (n^2 - 1)^2), peak to valley 0.0302 F R^3 / E I."""
    inner, outer, length, force = 78.0, 82.0, 20.0, 600.0
    ring = ring_in_jaws(inner, outer, length, 0.03)
    pressed = ring.contact(Squeeze(force, 0.0, outer, outer))
    [bore] = ring.released(pressed, 1.0)
    middle, second = (inner + outer) / 2, length * (outer - inner) ** 3 / 12
    orders = np.arange(3, 60, 3)
    waves = 3 * force * middle**3 / (pi * 210_000 * second * (orders**2 - 1.0) ** 2)
    ptp = float(waves.sum() - (waves * np.cos(orders * pi / 3)).sum())
    assert float(np.ptp(bore[1])) == pytest.approx(ptp, rel=0.06)
    assert bore[1, 0] > bore[1, -1]  # released, the place under the jaw comes back out


def test_a_lobed_part_is_pressed_where_it_stands_out():
    ring = ring_in_jaws(35.0, 60.0, 20.0, pi / 3 - 0.03)
    plain = Squeeze(20_000.0, 0.0, 60.0, 60.0)
    under_jaw = ring.contact(replace(plain, lobes=0.05)).pressure.sum(axis=0)
    between = ring.contact(replace(plain, lobes=-0.05)).pressure.sum(axis=0)
    assert under_jaw[0] > between[0]
    assert under_jaw[-1] < between[-1]


def test_forms_take_the_worst_section_or_all_of_them():
    @dataclass
    class Asked:
        roundness: float | None = 1.0
        cylindricity: float | None = 1.0
        runout: float | None = None
        flatness: float | None = None

    shape = np.array([[0.0, 0.01], [0.02, 0.05]])
    assert forms(Asked(), shape) == pytest.approx({"roundness": 0.03, "cylindricity": 0.05})


# --- the whole ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("knowledge", KNOWLEDGE)
def test_random_setups_are_read_and_every_range_has_a_reason(knowledge):
    for seed in range(20):
        setup = random_setup(seed, knowledge)
        assert setup == random_setup(seed, knowledge)
        assert Setup.from_dict(setup).part.number == random_setup(seed, "all")["part"]["number"]
        found = ranges_of(setup)
        assert {name.split(":")[0] for name in found} <= set(RANGES)
        assert all(low <= high for low, high in found.values())


def test_what_is_measured_is_narrower_than_what_is_not():
    narrower = 0
    for seed in range(10):
        plates, usual, known = (ranges_of(random_setup(seed, word)) for word in KNOWLEDGE)
        for name in ("jaw_mass", "off_centre", "base_tilt", "bored_offset"):
            size = [high - low for low, high in (usual[name], known[name])]
            if name == "off_centre" and random_setup(seed, "all")["part"].get("holes"):
                continue  # what is known makes it worse: a slot to one side
            assert size[1] <= size[0] * 1.001, name
            narrower += size[1] < size[0]
        assert plates["grip_share"] == (0.6, 1.0)
    assert narrower > 30


def test_the_new_keys_are_read():
    """Nothing of "all" was dropped for want of a reader."""
    found = set()
    for seed in range(30):
        setup = random_setup(seed, "all")
        places = {**setup, "actuator": setup["chuck"]["actuator"]}
        found |= {(place, key) for place, key in NEW_KEYS if key in places[place]}
    assert found == set(NEW_KEYS)


def test_draws_stay_inside_and_corners_stand_at_ends():
    ranges = ranges_of(random_setup(1, "usual"))
    for world in draws(ranges, 40, 5):
        for name, (low, high) in ranges.items():
            assert low - 1e-12 <= world[name] <= high + 1e-12
            if world.note == "corner" and not name.endswith("_angle"):
                assert min(abs(world[name] - low), abs(world[name] - high)) <= 1e-12 * max(abs(low), abs(high))
    assert [w.values for w in draws(ranges, 4, 5)] == [w.values for w in draws(ranges, 4, 5)]


def test_shocks_make_it_worse_and_a_searched_corner_is_worse_than_the_middle():
    setup = random_setup(1, "usual")
    ranges = ranges_of(setup)

    def margin(world: World) -> float:
        return judge_world(setup, world, 1.5, 1000, elastic=False).worst("hold: rough")[1]

    world = draw(ranges, np.random.default_rng(2))
    assert all(margin(outside(world, shock)) < margin(world) for shock in OUTSIDE)
    corner = worst_corner(ranges, margin)
    assert margin(corner) <= min(margin(w) for w in draws(ranges, 30, 7))
    assert corner["friction"] == ranges["friction"][0]


def test_the_whole_truth_of_one_setup():
    """A thin ring: more pressure holds it better and bends it more; far too much yields it or its jaw."""
    setup = random_setup(27, "usual")
    world = draw(ranges_of(setup), np.random.default_rng(0))
    soft, hard = (judge_world(setup, world, p, 800) for p in (0.6, 1.8))
    assert {name.split(":")[0] for name in soft.margins} == {"hold", "form", "yield", "plate"}
    for start, better in (("hold", hard), ("form", soft), ("yield: part", soft), ("plate: draw", soft)):
        worse = hard if better is soft else soft
        assert better.worst(start)[1] > worse.worst(start)[1], start
    assert judge_world(setup, world.with_(part_yield=1.0), 1.8, 800).margins["yield: part"] < 0
