"""Published numbers only; each test names its source and whether that was read."""

import pytest

from heldtrue.mechanics import spin


@pytest.mark.parametrize(("grade", "mass", "rpm"), [(6.3, 30, 3000), (2.5, 20, 5000), (16, 100, 1000)])
def test_iso_21940_constant_9549(grade, mass, rpm):
    """Read in a docstring of a balancing module: U_per = 9549 G m / n in g mm (ISO 21940-11)."""
    published = 9549 * grade * mass / rpm
    assert spin.permissible_unbalance(grade, mass, rpm) * 1000 == pytest.approx(published, rel=5e-5)  # 4 digits


def test_din_6386_reference_speed_leaves_one_third():
    """Read in a lathe operating manual: at the reference speed one third of the greatest grip is left."""
    rpm = spin.speed_at_share_left(60_000, 217.5)
    grip = spin.grip_at_speed(60_000, spin.centrifugal_force(217.5, rpm), "outside")
    assert grip.holding == pytest.approx(20_000, rel=1e-9)


def test_en_1550_caps_centrifugal_force_at_67_percent():
    """From memory, second-hand quotation of EN 1550: the jaws take at most 67 % of the grip at rest."""
    rpm = spin.speed_at_share_left(80_000, 300.0)
    assert spin.centrifugal_force(300.0, rpm) / 80_000 == pytest.approx(0.67, abs=0.005)  # printed to 2 digits


def test_vdi_3106_factors():
    """From memory, second-hand quotation of VDI 3106: both factors at least 1.5. At 2.0 the other form asks 28 kN."""
    assert spin.required_grip_at_rest(10_000, 4_000, 2.0) == pytest.approx(1.5 * (1.5 * 10_000 + 4_000))
