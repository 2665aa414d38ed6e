"""Teeth between master jaw and top jaw."""

from math import sqrt

import pytest

from heldtrue.errors import InputError
from heldtrue.tooling.serration import SERRATIONS, runout_of_a_shifted_jaw, serration


@pytest.mark.parametrize(
    ("name", "pitch", "height"),
    [
        ("1.5 mm x 60 deg", 1.5, 1.5 * sqrt(3) / 2),
        ("3 mm x 60 deg", 3.0, 3.0 * sqrt(3) / 2),
        ("1/16 in x 90 deg", 1.5875, 0.79375),
        ("3/32 in x 90 deg", 2.38125, 1.190625),
    ],
)
def test_pitch_and_height_of_the_sharp_v(name, pitch, height):
    one = serration(name)
    assert one.pitch == pytest.approx(pitch, rel=1e-12)
    assert one.sharp_height == pytest.approx(height, rel=1e-9)
    assert one.step_on_diameter == 2 * one.pitch


def test_an_unknown_serration_lists_the_known_ones():
    with pytest.raises(InputError, match=r"3 mm x 60 deg"):
        serration("2 mm x 60 deg")
    assert len(SERRATIONS) == 4


def test_one_of_three_jaws_a_tooth_off_moves_the_part_by_two_thirds_of_it():
    """Three jaws touch exactly: c . n1 - s = p, c . n2 - s = 0, c . n3 - s = 0 gives c = 2 p / 3 along n1."""
    assert runout_of_a_shifted_jaw(3, 1.5) == pytest.approx(2 * 1.5 * 2 / 3, rel=1e-12)
    assert runout_of_a_shifted_jaw(2, 1.5) == pytest.approx(1.5, rel=1e-12)
    assert runout_of_a_shifted_jaw(3, -1.5) == pytest.approx(2.0, rel=1e-12)


def test_more_jaws_centre_better_and_one_does_not_centre():
    assert runout_of_a_shifted_jaw(6, 1.5) == pytest.approx(1.0, rel=1e-12)
    with pytest.raises(InputError, match="do not centre"):
        runout_of_a_shifted_jaw(1, 1.5)
