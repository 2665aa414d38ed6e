"""Published numbers only; each test names its source and whether that was read."""

import pytest

from heldtrue.mechanics import cutting as c
from heldtrue.mechanics import operations as o
from heldtrue.mechanics.materials import work_material

SHARP = c.CutConditions(wear=1.0)


def kc_at(kc11, mc, h):
    return c.specific_cutting_force(kc11, mc, h, wear=1.0).value


def test_turning_power_mild_steel():
    """Read: 'Formulae for cutting power': kc 3100, ap 3, f 0.2, vc 120, efficiency 0.80: 1860 N, 4.65 kW."""
    load = o.turn(3100, 0.0, diameter=80, depth=3, feed=0.2, z=(0, 10), lead_angle_deg=90, conditions=SHARP)
    force = load.cases[0].tangential
    assert force == pytest.approx(1860, rel=1e-9)
    assert c.cutting_power_kw(force, 120, 0.80) == pytest.approx(4.65, rel=1e-9)


def test_turning_power_second_example():
    """Quoted: page copying a tool vendor's example: ap 5, f 0.1, vc 140, kc 3610, 0.8: 1805 N, 5.26 kW."""
    load = o.turn(3610, 0.0, diameter=80, depth=5, feed=0.1, z=(0, 10), lead_angle_deg=90, conditions=SHARP)
    force = load.cases[0].tangential
    assert force == pytest.approx(1805, abs=0.5)
    assert c.cutting_power_kw(force, 140, 0.8) == pytest.approx(5.26, abs=0.005)  # printed to 3 digits


def test_turning_a_stainless_rod():
    """Kalpakjian and Schmid: rod 12.5 to 12.0 at 400/min (inputs read); force about 506 N (from memory)."""
    load = o.turn(4000, 0.0, diameter=12.5, depth=0.25, feed=0.5, z=(0, 150), lead_angle_deg=90, conditions=SHARP)
    assert load.cases[0].tangential == pytest.approx(506, rel=0.015)  # the book rounds its power on the way


def test_orthogonal_cut_power():
    """From memory: Groover, orthogonal cutting: 1557 N at 100 m/min is 2595 W."""
    assert c.cutting_power_kw(1557, 100) * 1000 == pytest.approx(2595, abs=0.5)


@pytest.mark.parametrize(("h", "kc"), [(0.30, 2084), (0.20, 2509), (0.10, 3444), (0.05, 4729), (0.02, 7189)])
def test_force_law_on_mild_steel(h, kc):
    """Quoted: Croitoru, Bul. Inst. Polit. Iasi 67(4), 2021: kc11 1202, mc 0.4572."""
    assert kc_at(1202, 0.4572, h) == pytest.approx(kc, abs=1.0)  # printed to whole MPa


@pytest.mark.parametrize(
    ("name", "printed", "within"),
    [("C45", (3040, 2800, 2630, 2500, 2400), 0.03), ("42CrMo4", (4500, 3900, 3400, 3150, 2850), 0.03),
     ("34CrMo4", (3610, 3200, 2880, 2700, 2500), 0.03), ("16MnCr5", (3830, 3250, 2900, 2650, 2400), 0.03),
     ("E295", (3610, 3100, 2720, 2500, 2280), 0.03), ("E335", (3080, 2700, 2570, 2450, 2300), 0.03),
     ("C60", (3150, 2850, 2620, 2450, 2340), 0.03), ("GJL-250", (2110, 1800, 1600, 1400, 1330), 0.055)],
)  # fmt: skip
def test_material_table_against_a_printed_one(name, printed, within):
    """Read: kc table at f 0.1 to 0.6 in 'Formulae for cutting power'; names matched from memory.

    The page prints classes, not steels; its values scatter about one power law by up to 2.6 % (iron 5.1 %).
    """
    material = work_material(name)
    for h, kc in zip((0.1, 0.2, 0.3, 0.4, 0.6), printed, strict=True):
        assert kc_at(material.kc11.value, material.mc.value, h) == pytest.approx(kc, rel=within)


@pytest.mark.parametrize(
    ("name", "kc11", "mc"),
    [("C45", 2190, 0.139), ("C60", 2120, 0.173), ("E335", 2110, 0.155), ("S235", 1780, 0.167)],
)
def test_material_table_against_university_notes(name, kc11, mc):
    """Read: Dutch university summary, Kienzle section: C45, C60, St60, St42."""
    material = work_material(name)
    assert material.kc11.value == pytest.approx(kc11, rel=0.015)
    assert material.mc.value == pytest.approx(mc, abs=0.016)


@pytest.mark.parametrize(
    ("main", "feed", "passive"),
    [((1659, 0.79), (521, 0.51), (309, 0.60)), ((1411, 0.70), (406, 0.37), (312, 0.50)),
     ((1773, 0.83), (354, 0.34), (252, 0.59)), ((899, 0.59), (170, 0.09), (164, 0.30))],
)  # fmt: skip
def test_thrust_shares_enclose_three_component_data(main, feed, passive):
    """From memory: Koenig and Essel as in Klocke: C45N, 16MnCr5N, 42CrMo4V, GG30; ap 3, f 0.3, kappa 95.

    Each pair is the value at 1 mm x 1 mm and 1 - m. The published share must lie between our two load cases.
    """
    chip = c.chip_section(3, 0.3, 95)
    published = [k * chip.width * chip.thickness**power for k, power in (main, feed, passive)]
    load = o.turn(main[0], 1 - main[1], diameter=80, depth=3, feed=0.3, z=(0, 1), conditions=SHARP)
    worn, sharp = load.cases
    assert worn.tangential == pytest.approx(published[0], rel=1e-9)
    assert -sharp.axial < published[1] < -worn.axial
    assert -sharp.radial < published[2] < -worn.radial


def test_thread_infeed_example():
    """From memory: tool guides: pitch 1.5, depth 0.94, six passes."""
    printed = (0.230, 0.420, 0.595, 0.728, 0.841, 0.940)
    assert o.thread_infeed(0.94, 6) == pytest.approx(printed, abs=6e-4)  # printed to 3 decimals


def test_dietrich_factors():
    """Read: script after Dietrich/Tschaetsch, 11th ed.: worn edge 1.3; base rake 6, 2 and 0 degrees."""
    fresh, worn = (c.specific_cutting_force(2000, 0.2, 0.2, wear=w).value for w in (1.0, c.WEAR_UNKNOWN.value))
    assert worn / fresh == pytest.approx(1.3)
    assert [c.BASE_RAKE_DEG[g].value for g in ("steel", "iron", "aluminium")] == [6, 2, 0]


def test_rake_slopes_in_use():
    """Quoted: Vargas et al., Procedia CIRP 82, 2019: 1.0 and 1.5 % per degree; the worse of the two."""
    assert 1 - c.rake_factor(7, 6) == pytest.approx(0.010)
    assert c.rake_factor(5, 6) - 1 == pytest.approx(0.015)
