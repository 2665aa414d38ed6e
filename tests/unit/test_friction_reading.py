"""Friction from slips: the figures, their ranges, and what is refused."""

from math import exp

import numpy as np
import pytest

from heldtrue.errors import InputError
from heldtrue.inspection.friction_reading import Slips, read_friction, slip_values

GRIP = (11.0e3, 12.0e3, 13.0e3)


def test_torque_and_pull_by_hand():
    """2 T / (G d): 90 N m on Ø100 under 12 kN is 0.15; so is a pull of 1,800 N."""
    turned = read_friction(Slips("torque", (90e3, 90e3, 90e3), 100.0, GRIP))
    pulled = read_friction(Slips("pull", (1800.0, 1800.0, 1800.0), 100.0, GRIP))
    assert turned.likely == pytest.approx(0.15)
    assert pulled.likely == pytest.approx(0.15)
    assert turned.low < pulled.low < 0.15 < pulled.high < turned.high  # the wrench is the coarser


def test_what_the_grip_may_be_off_is_in_the_range():
    known = read_friction(Slips("pull", (1800.0,) * 4, 100.0, (12e3, 12e3, 12e3)))
    open_ = read_friction(Slips("pull", (1800.0,) * 4, 100.0, GRIP))
    assert open_.low < known.low
    assert open_.low < 1800.0 / 13e3


def test_more_slips_narrow_and_scatter_widens():
    few, many = (read_friction(Slips("pull", (1800.0,) * n, 100.0, GRIP)) for n in (3, 10))
    assert many.high - many.low < few.high - few.low
    apart = read_friction(Slips("pull", (1500.0, 1800.0, 2100.0), 100.0, GRIP))
    assert apart.low < few.low


def test_the_next_clamping_lies_in_the_range():
    rng, inside, tried = np.random.default_rng(4), 0, 600
    for _ in range(tried):
        mu, off = rng.uniform(0.08, 0.3), exp(rng.normal(0, 0.02))
        grip = 12e3 * exp(rng.normal(0, 0.04))
        slips = tuple(float(mu * grip * off * exp(rng.normal(0, 0.06))) for _ in range(4))
        try:
            found = read_friction(Slips("pull", slips, 100.0, (12e3 * 0.925, 12e3, 12e3 * 1.08), 0.04))
        except InputError:
            tried -= 1
            continue
        inside += found.low <= mu * exp(rng.normal(0, 0.06)) <= found.high
    assert inside >= 0.93 * tried


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"values": (1800.0, 1800.0)}, "2 slips: take 3 to 5"),
        ({"values": (1800.0, 1800.0, 3000.0)}, "factor 1.67 apart"),
        ({"values": (1800.0, 1800.0, -5.0)}, "above 0"),
        ({"values": (18.0, 18.0, 18.0)}, "friction would be 0.0015"),
        ({"values": (18e3, 18e3, 18e3)}, "friction would be 1.5"),
        ({"grip": (0.0, 12e3, 13e3)}, "grip it was tried at is not known"),
        ({"diameter": 0.0}, "diameter"),
        ({"error": 0.9}, "between 0 and 50 %"),
    ],
)
def test_slips_that_are_none_are_refused(changed, words):
    made = {"way": "pull", "values": (1800.0,) * 3, "diameter": 100.0, "grip": GRIP, **changed}
    with pytest.raises(InputError, match=words):
        read_friction(Slips(**made))


@pytest.mark.parametrize("typed", ["35 N m held", "> 35 N m"])
def test_what_made_nothing_slip_is_no_slip(typed):
    with pytest.raises(InputError, match="made nothing slip"):
        slip_values(["30 N m", typed], float)
