"""Partial slip against C. Cattaneo (1938) and R. D. Mindlin (1949).

As in K. L. Johnson, Contact Mechanics, 1985, section 7.2 (from memory): a cylinder on a half plane, pressed with P and
then pulled round with Q < mu P, sticks over the middle c of its contact a and slips outside,

    c / a = sqrt(1 - Q / (mu P)),        q = mu p0 (sqrt(1 - x^2/a^2) - c/a sqrt(1 - x^2/c^2)) inside c.
"""

from math import pi, sqrt

import numpy as np
import pytest

from heldtrue.mechanics.friction_contact import solve_friction

STRIPS = 200
HALF_WIDTH = 2.0
"""Of the contact, chosen. [mm]"""
RADIUS = 500.0
MODULUS = 210_000.0 / (1 - 0.3**2)
FRICTION = 0.3


def half_plane(edges):
    """Mean movement of each strip for 1 MPa on each, less a rigid move: -2/(pi E*) times the integral of ln |x - s|."""

    def twice_integrated(x):
        x = np.abs(x) + 1e-300
        return x**2 * (np.log(x / 1e3) / 2 - 0.75)

    low, high = edges[:-1], edges[1:]
    integral = (
        twice_integrated(np.subtract.outer(high, low)) + twice_integrated(np.subtract.outer(low, high))
        - twice_integrated(np.subtract.outer(low, low)) - twice_integrated(np.subtract.outer(high, high))
    )  # fmt: skip
    return -2 / (pi * MODULUS) * integral / (high - low)[:, None]


def pulled_round(share):
    """Stick width over contact width, traction over the friction limit in the middle, and the contact."""
    edges = np.linspace(-1.1 * HALF_WIDTH, 1.1 * HALF_WIDTH, STRIPS + 1)
    middles = (edges[1:] + edges[:-1]) / 2
    block, none = half_plane(edges), np.zeros((STRIPS, STRIPS))
    down, round_ = np.repeat([1.0, 0.0], STRIPS), np.repeat([0.0, 1.0], STRIPS)
    push = pi * HALF_WIDTH**2 * MODULUS / (4 * RADIUS)
    found = solve_friction(
        np.block([[block, none], [none, block]]),
        np.diff(edges),
        middles**2 / (2 * RADIUS),
        np.column_stack([down, round_]),
        np.array([push, share * FRICTION * push]),
        FRICTION,
    )
    bound = FRICTION * found.pressure
    sticks = (found.pressure > 0) & (np.abs(found.shear) < bound * (1 - 1e-9))
    width = edges[1:][sticks].max() - edges[:-1][sticks].min()
    centre = slice(STRIPS // 2 - 1, STRIPS // 2 + 1)
    return width / 2 / HALF_WIDTH, found.shear[centre] / bound[centre], found, edges, push


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75, 0.9])
def test_cattaneo_mindlin_sticks_in_the_middle_of_a_hertz_contact(share):
    """3 % on the stick width, whose ends fall on whole strips; 0.5 % on Hertz's peak and on q in the middle."""
    width, middle, found, edges, push = pulled_round(share)
    peak = 2 * push / (pi * HALF_WIDTH)
    centre = slice(STRIPS // 2 - 1, STRIPS // 2 + 1)
    stuck = sqrt(1 - share)
    assert width == pytest.approx(stuck, rel=0.03)
    assert found.pressure[centre] == pytest.approx(peak, rel=0.005)
    assert middle == pytest.approx(1 - stuck, rel=0.005)
    assert found.shear @ np.diff(edges) == pytest.approx(share * FRICTION * push, rel=1e-9)
