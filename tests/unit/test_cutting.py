import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from heldtrue.errors import InputError
from heldtrue.mechanics import cutting as c
from heldtrue.mechanics import operations as o
from heldtrue.mechanics.materials import WORK_MATERIALS, work_material

C45 = (2220.0, 0.14)
PLAIN = c.CutConditions(wear=1.0)
size = st.floats(0.2, 5.0)
small = st.floats(0.05, 0.6)
angle = st.floats(20.0, 160.0)
steel = st.tuples(st.floats(500, 3000), st.floats(0.11, 0.45))


def turn(kc=C45, *, depth=3.0, feed=0.3, conditions=PLAIN, **more):
    return o.turn(*kc, diameter=80, depth=depth, feed=feed, z=(10, 40), conditions=conditions, **more)


@pytest.mark.parametrize(
    ("kc", "force"),
    [((1780, 0.17), 1967.1), ((1990, 0.26), 2451.7), (C45, 2366.1),
     ((2130, 0.18), 2382.5), ((2100, 0.26), 2587.3),
     ((2240, 0.21), 2598.0), ((2500, 0.26), 3080.1), ((1160, 0.26), 1429.2)],
)  # fmt: skip
def test_turning_regression(kc, force):
    """Own computation: depth 3, feed 0.3, lead angle 95 degrees, sharp edge."""
    assert turn(kc).cases[0].tangential == pytest.approx(force, abs=0.1)


def test_power_regression():
    """Own computation."""
    assert c.cutting_power_kw(turn().cases[0].tangential, 180) == pytest.approx(7.098, abs=5e-4)
    assert c.surface_speed(550, 50) == pytest.approx(86.394, abs=5e-4)
    assert c.cutting_power_kw(13_864, 86.394, 0.76) == pytest.approx(26.267, abs=1e-3)
    assert c.cutting_power_kw(20_000, 200, 0.7) == pytest.approx(95.24, abs=5e-3)


def test_rake_and_speed_regression():
    """Own computation; the flatter slope lowers a force, the steeper one raises it."""
    assert c.rake_factor(10, 6) == pytest.approx(0.960)
    assert c.rake_factor(2, 6) == pytest.approx(1.060)
    assert (c.speed_factor(60), c.speed_factor(200)) == pytest.approx((1.0813, 0.9524), abs=5e-5)
    assert c.speed_factor(105) == pytest.approx(1.380 / 105**0.07)
    with pytest.raises(InputError, match="no cutting force"):
        c.rake_factor(120, 6)


@given(steel, size, small, angle, st.floats(1.1, 4))
def test_force_laws(kc, depth, feed, kappa, k):
    """Force goes with depth, with kc11, and with feed to the power 1 - mc."""
    base = turn(kc, depth=depth, feed=feed, lead_angle_deg=kappa).cases[0]
    deeper = turn(kc, depth=k * depth, feed=feed, lead_angle_deg=kappa).cases[0]
    harder = turn((k * kc[0], kc[1]), depth=depth, feed=feed, lead_angle_deg=kappa).cases[0]
    faster = turn(kc, depth=depth, feed=k * feed, lead_angle_deg=kappa).cases[0]
    for more in (deeper, harder):
        for name in ("radial", "tangential", "axial", "torque"):
            assert getattr(more, name) == pytest.approx(k * getattr(base, name), rel=1e-9)
    assert faster.tangential == pytest.approx(k ** (1 - kc[1]) * base.tangential, rel=1e-9)


@given(size, small, angle, st.floats(0.0, 2.0))
def test_chip_keeps_its_section(depth, feed, kappa, nose):
    chip = c.chip_section(depth, feed, kappa, nose)
    assert chip.thickness * chip.width == pytest.approx(depth * feed, rel=1e-9)
    assert chip.area == pytest.approx(depth * feed, rel=1e-12)
    assert chip.thickness == pytest.approx(feed * math.sin(math.radians(chip.lead_angle_deg)), rel=1e-9)


def test_nose_radius_meets_the_straight_edge_where_it_ends():
    """A quarter circle of 0.8 engaged to its full height: the chord stands at 45 degrees."""
    assert c.chip_section(0.8, 0.2, 90, 0.8).lead_angle_deg == pytest.approx(45)
    assert c.chip_section(0.8 + 1e-9, 0.2, 90, 0.8).lead_angle_deg == pytest.approx(45, abs=1e-5)
    assert c.chip_section(0.2, 0.2, 90, 0.8).lead_angle_deg < 30
    assert c.chip_section(100, 0.2, 75, 0.8).lead_angle_deg == pytest.approx(74.672, abs=1e-3)
    for kappa in (60, 95):
        height = 0.8 * (1 - math.cos(math.radians(kappa)))
        below, above = (c.chip_section(height + d, 0.2, kappa, 0.8).lead_angle_deg for d in (-1e-9, 1e-9))
        assert below == pytest.approx(above, abs=1e-5) == pytest.approx(kappa / 2, abs=1e-5)


def test_finishing_on_the_nose_pushes_more_than_it_feeds():
    case = turn(depth=0.1, feed=0.1, nose_radius=0.8).cases[0]
    assert -case.radial > 1.5 * -case.axial
    straight = turn(depth=0.1, feed=0.1).cases[0]
    assert case.tangential > 1.1 * straight.tangential


def test_worst_case_defaults():
    unknown = o.turn(*C45, diameter=80, depth=3, feed=0.3, z=(0, 1)).cases[0]
    assert unknown.tangential == pytest.approx(1.5 * turn().cases[0].tangential)
    assert c.specific_cutting_force(2000, 0.0, 0.2).value == pytest.approx(3000)
    broken = turn(conditions=c.CutConditions(wear=1.0, interrupted=c.INTERRUPTED.most)).cases[0]
    assert broken.tangential == pytest.approx(1.5 * turn().cases[0].tangential)
    assert broken.radial == pytest.approx(1.5 * turn().cases[0].radial)
    raked = turn(conditions=c.CutConditions(wear=1.0, rake_deg=10.0, base_rake_deg=6.0)).cases[0]
    assert raked.tangential == pytest.approx(0.96 * turn().cases[0].tangential)
    hss = turn(conditions=c.CutConditions(wear=1.0, speed_factor=1.2)).cases[0]
    assert hss.tangential == pytest.approx(1.2 * turn().cases[0].tangential)


def test_turning_pushes_in_and_to_the_axis():
    worn, sharp = turn(lead_angle_deg=90).cases
    f = worn.tangential
    assert (worn.radial, worn.axial) == pytest.approx((-0.3 * f, -0.5 * f))
    assert (sharp.radial, sharp.axial, sharp.tangential) == pytest.approx((-0.15 * f, -0.3 * f, f))
    assert worn.torque == pytest.approx(40 * f)
    assert (worn.radius, worn.z) == (40, (10, 40))
    assert turn(lead_angle_deg=90, toward_chuck=False).cases[0].axial == pytest.approx(0.5 * f)


@pytest.mark.parametrize(("wear", "rise"), [(0.9, 0.9), (1.0, 1.0), (1.25, 1.5), (1.5, 2.0), (1.75, 2.5)])
def test_feed_and_passive_force_double_where_wear_raises_the_cutting_force_by_half(wear, rise):
    fresh = turn(lead_angle_deg=90).cases
    worn = turn(lead_angle_deg=90, conditions=c.CutConditions(wear=wear)).cases
    assert worn[0].tangential == pytest.approx(wear * fresh[0].tangential)
    assert (worn[0].axial, worn[0].radial) == pytest.approx((rise * fresh[0].axial, rise * fresh[0].radial))
    assert (worn[1].axial, worn[1].radial) == pytest.approx((wear * fresh[1].axial, wear * fresh[1].radial))


def test_every_pushing_tool_pushes_twice_as_hard_when_worn():
    dull = c.CutConditions(wear=1.5)
    for cut in (
        lambda how: o.groove(*C45, diameter=60, width=3, feed=0.1, z=20, conditions=how),
        lambda how: o.thread(*C45, diameter=30, pitch=1.5, z=(10, 30), conditions=how),
        lambda how: o.face(*C45, diameter=80, depth=3, feed=0.3, z=40, conditions=how),
        lambda how: o.bore(*C45, diameter=80, depth=3, feed=0.3, z=(10, 40), conditions=how),
    ):
        fresh, worn = cut(PLAIN).cases[0], cut(dull).cases[0]
        assert worn.radial == pytest.approx(2 * fresh.radial)
        assert worn.axial == pytest.approx(2 * fresh.axial)


def test_lead_angle_turns_feed_into_passive_force():
    steep, flat = (turn(lead_angle_deg=k).cases[0] for k in (90, 45))
    assert flat.axial / flat.tangential == pytest.approx(-0.5 * math.sqrt(0.5))
    assert flat.radial / flat.tangential == pytest.approx(-0.8 * math.sqrt(0.5))
    assert -flat.radial > -steep.radial
    over = turn(lead_angle_deg=107.5).cases[0]
    assert over.radial < 0  # the nose still pushes


def test_boring_pushes_outward_with_its_own_factor():
    case = o.bore(*C45, diameter=80, depth=3, feed=0.3, z=(10, 40), lead_angle_deg=90, conditions=PLAIN).cases[0]
    turned = turn(lead_angle_deg=90).cases[0]
    assert case.radial == pytest.approx(-1.2 * turned.radial)
    assert case.axial == pytest.approx(1.2 * turned.axial)
    assert case.torque == pytest.approx(1.2 * turned.torque)


def test_facing_swaps_feed_and_passive():
    load = o.face(*C45, diameter=80, depth=3, feed=0.3, z=40, lead_angle_deg=90, conditions=PLAIN)
    turned = turn(lead_angle_deg=90).cases[0]
    assert (load.cases[0].radial, load.cases[0].axial) == pytest.approx((turned.axial, turned.radial))
    assert load.cases[0].z == (40, 40)
    assert load.cases[0].torque == pytest.approx(turned.torque)
    out = o.face(*C45, diameter=80, depth=3, feed=0.3, z=40, lead_angle_deg=90, inward=False, conditions=PLAIN)
    assert out.cases[0].radial == pytest.approx(-load.cases[0].radial)
    assert out.cases[0].axial < 0


def test_grooving_regression():
    """Own computation: 3 mm wide, feed 0.1, C45: 919.3 N, with the process factor 1195.1 N."""
    sides = {s: o.groove(*C45, diameter=60, width=3, feed=0.1, z=20, side=s, conditions=PLAIN).cases[0]
             for s in ("outside", "inside", "face")}  # fmt: skip
    for case in sides.values():
        assert case.tangential == pytest.approx(1195.1, abs=0.1)
        assert case.torque == pytest.approx(30 * case.tangential)
    chip = o.groove(*C45, diameter=60, width=3, feed=0.1, z=20).chip
    assert (chip.thickness, chip.width, chip.lead_angle_deg) == (0.1, 3, 90)
    half = 0.5 * 1195.1
    assert (sides["outside"].radial, sides["outside"].axial) == pytest.approx((-half, 0), abs=0.1)
    assert (sides["inside"].radial, sides["inside"].axial) == pytest.approx((half, 0), abs=0.1)
    assert (sides["face"].radial, sides["face"].axial) == pytest.approx((0, -half), abs=0.1)


def test_parting_off_pulls_as_the_web_breaks():
    load = o.part_off(*C45, diameter=60, width=3, feed=0.1, z=20, end_diameter=10, conditions=PLAIN)
    worn, _, end = load.cases
    assert worn.axial == 0
    assert end.axial == pytest.approx(0.2 * 0.5 * worn.tangential)
    assert end.torque == pytest.approx(5 * worn.tangential)
    assert load.kind == "part off"
    with pytest.raises(InputError, match="not below its start"):
        o.part_off(*C45, diameter=60, width=3, feed=0.1, z=20, end_diameter=60)


def drill(**more):
    values = {"diameter": 40, "feed": 0.3, "z": (0, 50), "conditions": PLAIN} | more
    return o.drill(2000 / 1.2, 0.0, **values)


def test_drilling_regression():
    """Own computation: D 40, f 0.3, kc 2000 in all: 6000 N per lip, 120 N m, thrust 5143 N."""
    load = drill()
    drilling, through = load.cases
    assert load.kc * load.chip.area == pytest.approx(6000)
    assert drilling.torque == pytest.approx(120_000)
    assert drilling.axial == pytest.approx(-5143, abs=1)
    assert through.axial == pytest.approx(0.5 * 5143, abs=1)
    assert through.torque == pytest.approx(120_000)
    assert (drilling.radial, drilling.tangential, drilling.radius) == (0, 0, 0)
    assert (through.radial, through.tangential, through.radius) == (0, 0, 0)
    assert load.chip.width * load.chip.thickness == pytest.approx(load.chip.area)
    assert load.chip.lead_angle_deg == 59
    assert [f.code for f in load.findings] == ["odd-mc"]
    assert len(drill(through=False).cases) == 1


def test_the_chisel_edge_adds_thrust_and_nothing_else():
    (lips, out), (drilling, through) = drill().cases, drill(chisel_factor=o.CHISEL_FACTOR.most).cases
    assert drilling.axial == pytest.approx(1.5 * lips.axial)
    assert drilling.torque == pytest.approx(lips.torque)
    assert (through.axial, through.torque) == pytest.approx((out.axial, out.torque))


@given(st.floats(1.0, 39.0))
def test_drilling_in_two_steps_takes_the_torque_of_one(core):
    """With kc independent of the chip, opening up and the pilot add to the full drill."""
    steps = (drill(diameter=core), drill(core_diameter=core))
    assert sum(s.cases[0].torque for s in steps) == pytest.approx(120_000)
    assert sum(s.cases[0].axial for s in steps) == pytest.approx(drill().cases[0].axial)


def test_threading_takes_the_largest_pass():
    single = o.thread(*C45, diameter=30, pitch=1.5, z=(10, 30), passes=1, conditions=PLAIN)
    area = math.tan(math.pi / 6) * (0.6134 * 1.5) ** 2
    assert single.chip.area == pytest.approx(area)
    kc = 1.3 * 2220 * (0.6134 * 1.5 * 0.5) ** -0.14
    assert single.cases[0].tangential == pytest.approx(kc * area)
    many = o.thread(*C45, diameter=30, pitch=1.5, z=(10, 30), passes=6, conditions=PLAIN)
    # later passes cut equal sections, so the last and thinnest has the largest kc
    assert many.chip.area == pytest.approx(area / 5)
    assert many.chip.thickness == pytest.approx(0.6134 * 1.5 * (1 - math.sqrt(0.8)) * 0.5)
    assert many.chip.lead_angle_deg == 90
    worn = many.cases[0]
    assert worn.radial == pytest.approx(-0.5 * worn.tangential)
    assert worn.axial == pytest.approx(-0.3 * worn.tangential)
    inside = o.thread(*C45, diameter=30, pitch=1.5, z=(10, 30), side="inside", toward_chuck=False).cases[0]
    assert inside.radial > 0
    assert inside.axial > 0


def test_tapping_reverses():
    load = o.tap(*C45, diameter=12, pitch=1.75, z=(0, 30), conditions=PLAIN)
    kc = 1.3 * 2220 * (0.6134 * 1.75 / 12) ** -0.14
    cut, back = load.cases
    assert cut.torque == pytest.approx(kc * 1.75**2 * 12 / 8)
    assert (back.torque, back.axial) == pytest.approx((-cut.torque, 0.5 * cut.torque / 6))
    assert (cut.radial, cut.tangential, cut.axial, cut.radius) == (0, 0, 0, 0)
    assert (back.radial, back.tangential, back.radius) == (0, 0, 0)
    assert load.chip.width * load.chip.thickness == pytest.approx(load.chip.area) == pytest.approx(1.75**2 / 4)


@pytest.mark.parametrize("material", WORK_MATERIALS, ids=lambda material: material.key)
def test_the_range_of_the_cutting_force_reaches_a_quarter_over_the_table(material):
    found, table = c.cutting_force_range(material), material.kc11
    assert (found.least, found.value) == (table.least, table.value)
    assert found.most == pytest.approx(max(table.most, 1.25 * table.value), rel=1e-12)
    assert found.source.startswith(table.source)
    assert ("own rule" in found.source) == (found.most > table.most)


def test_the_range_of_the_cutting_force_keeps_a_wider_table():
    assert c.cutting_force_range(work_material("GJS-400")).most == 1500  # 1.49 times its value
    assert c.cutting_force_range(work_material("16MnCr5")).most == pytest.approx(2625)  # the table ends at 2140


@pytest.mark.parametrize(
    ("h", "mc", "codes"),
    [(0.1, 0.2, []), (0.09, 0.2, ["thin-chip"]), (0.009, 0.2, ["very-thin-chip"]), (0.2, 0.75, ["odd-mc"]),
     (0.2, 0.05, ["odd-mc"]), (0.05, 0.75, ["odd-mc", "thin-chip"])],
)  # fmt: skip
def test_out_of_range_is_found_and_not_clamped(h, mc, codes):
    found = c.specific_cutting_force(2000, mc, h, wear=1.0)
    assert [f.code for f in found.findings] == codes
    assert found.value == pytest.approx(2000 / h**mc)
    for finding in found.findings:
        assert finding.value in (h, mc)
        assert f"{finding.value:.3g}" in finding.message


def test_stout_chip_is_found():
    assert "stout-chip" in [f.code for f in turn(depth=0.5, feed=0.3).findings]
    assert turn(depth=3, feed=0.3).findings == ()


def test_every_factor_has_a_source():
    single = (c.WEAR_UNKNOWN, c.INTERRUPTED, c.RAKE_PER_DEGREE, o.FEED_SHARE, o.PASSIVE_SHARE,
              o.DRILL_THRUST_SHARE, o.BREAKTHROUGH_SHARE, o.CHISEL_FACTOR, o.WORN_THRUST,
              o.TAP_PULL_SHARE, o.PART_OFF_LIFT_SHARE)  # fmt: skip
    for datum in (*single, *c.PROCESS_FACTOR.values(), *c.BASE_RAKE_DEG.values()):
        assert datum.source.startswith(("read", "quoted", "from memory", "common practice, no source", "low end"))


@pytest.mark.parametrize(
    "call",
    [lambda: turn(depth=0.0), lambda: turn(feed=-0.1), lambda: turn(lead_angle_deg=180),
     lambda: turn((0.0, 0.2)),
     lambda: turn((2000, 1.0)), lambda: c.CutConditions(interrupted=0.9), lambda: c.CutConditions(wear=0.0),
     lambda: o.groove(*C45, diameter=60, width=3, feed=0.1, z=20, side="left"),
     lambda: drill(core_diameter=40), lambda: drill(chisel_factor=0.9), lambda: drill(chisel_factor=math.inf),
     lambda: o.thread(*C45, diameter=30, pitch=1.5, z=(0, 1), passes=0), lambda: drill(z=(0, math.nan)),
     lambda: o.thread(*C45, diameter=30, pitch=1.5, z=(0, 1), angle_deg=180),
     lambda: turn(conditions=c.CutConditions(rake_deg=math.nan))],
)  # fmt: skip
def test_impossible_input_raises(call):
    with pytest.raises(InputError):
        call()
