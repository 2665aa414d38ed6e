"""Numbers of the jaw interface and its bolts that others printed.

* VDI 2230-1, coarse threads, class 12.9, friction 0.10 / 0.12 / 0.14 (from memory).
* Trade rule: what one tooth changes on diameter (common practice, no source).
* Sharp V of a 60 degree thread form, H = 0.866025 P, as ISO 68-1 has it (from memory); of 90 degrees P / 2.
"""

import pytest

from heldtrue.mechanics.boring_bar import bar_deflection
from heldtrue.mechanics.cutting import cutting_power_kw, surface_speed
from heldtrue.tooling.bolts import assembly
from heldtrue.tooling.serration import serration


@pytest.mark.parametrize(
    ("size", "friction", "newton_metre"),
    [
        ("M12", 0.10, 126),
        ("M12", 0.12, 144),
        ("M12", 0.14, 160),
        ("M16", 0.10, 309),
        ("M16", 0.12, 354),
        ("M16", 0.14, 394),
        ("M20", 0.10, 605),
        ("M20", 0.12, 692),
        ("M20", 0.14, 773),
    ],
)
def test_vdi_2230_coarse_jaw_bolts(size, friction, newton_metre):
    """Socket heads of ISO 4762 bear on a little more than the hexagon heads the table is for: 1.5 %."""
    assert assembly(size, "12.9", friction).torque / 1e3 == pytest.approx(newton_metre, rel=0.015)


@pytest.mark.parametrize(
    ("name", "step"),
    [
        ("1.5 mm x 60 deg", 3.0),
        ("3 mm x 60 deg", 6.0),
        ("1/16 in x 90 deg", 0.125 * 25.4),
        ("3/32 in x 90 deg", 0.1875 * 25.4),
    ],
)
def test_one_tooth_on_diameter(name, step):
    assert serration(name).step_on_diameter == pytest.approx(step, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "height"),
    [
        ("1.5 mm x 60 deg", 0.866025 * 1.5),
        ("3 mm x 60 deg", 0.866025 * 3.0),
        ("1/16 in x 90 deg", 25.4 / 32),
        ("3/32 in x 90 deg", 3 * 25.4 / 64),
    ],
)
def test_height_of_the_sharp_v(name, height):
    """The printed factor has six figures."""
    assert serration(name).sharp_height == pytest.approx(height, rel=1e-6)


def test_torque_and_power_of_a_turned_rod():
    """Kalpakjian and Schmid: rod 12.5 to 12.0 at 400/min (inputs read); 128 W and 3.06 N m (from memory)."""
    force = 3.06e3 / (12.25 / 2)  # N at the mean radius, from the torque
    assert cutting_power_kw(force, surface_speed(12.25, 400)) * 1000 == pytest.approx(128, rel=0.005)  # 3 digits


def test_deflection_of_a_boring_bar():
    """Read: Cutting Tool Engineering, July 2019, page 75: bar 25.4 mm, 101.6 mm out, 911.1 N, E 206 GPa: 0.0757 mm."""
    # the page takes pi as 3.14 and a power as a little over its value: I 20432 mm4
    assert bar_deflection(911.1, 25.4, 101.6, 206_000.0) == pytest.approx(0.0757, rel=2e-3)
