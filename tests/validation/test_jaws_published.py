"""Part and elastic jaw together against contact solutions from the literature.

* H. Hertz, line contact of two elastic bodies, as in K. L. Johnson, Contact Mechanics, 1985, section 4.2, and Roark,
  table 14.1, a cylinder in a socket (from memory).
* M. A. Sadowsky's rigid flat punch on a half plane, p = P/(pi sqrt(a^2 - x^2)), as in Johnson, section 2.8 (memory).
"""

from math import asin, pi, radians, sqrt

import numpy as np
import pytest

from heldtrue.mechanics.contact import JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.jaw_body import JawBody
from heldtrue.mechanics.jaw_shape import JawBase, JawShape
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.turned_body import TurnedBody

STEEL = (210_000.0, 0.3)


def shaft_in_jaws(half_angle, sectors, length=60.0, bands=5, order=6, harmonics=80):
    stations = Stations("outside", 50.0, tuple(np.linspace(0, length, bands + 1)))
    face = JawFace(stations, half_angle, sectors, 3)
    shaft = TurnedBody([(0, 0), (50, 0), (50, length), (0, length)], *STEEL, order=order)
    return face, part_compliance(shaft.respond(stations, 3, [(0, 1)], harmonics=harmonics), face)


def test_hertz_shaft_and_jaw_of_steel():
    """R 50 in a bore R 51, both steel, E* = E/(2 (1 - nu^2)): half width and peak of the middle band within 5 %.

    The load per length is the middle band's own.  Jaw elements are not much smaller than the strip, hence 5 %.
    """
    face, part = shaft_in_jaws(radians(8), 12, bands=3)
    shape = JawShape("standard", "outside", 50.0, radians(8), 60.0, 80.0, 95.0, 30.0, ledge=2.0)
    jaw = JawBody(shape, *STEEL, JawBase(1e6, 1e6, 1e13)).compliance(face)
    c = press(face, part + jaw, 24_000.0, bore_gap(face, 50.0, 51.0))
    middle = c.pressure[1]
    q = float(middle @ face.areas[1]) / 20.0
    modulus = STEEL[0] / (2 * (1 - STEEL[1] ** 2))
    b = sqrt(4 * q * (50 * 51) / (pi * modulus))
    assert middle.max() == pytest.approx(2 * q / (pi * b), rel=0.05)
    cells = 50 * np.diff(face.bounds)
    touching = middle > 0.01 * middle.max()
    assert cells[touching].sum() == pytest.approx(b, abs=cells[touching.sum()] + 0.05 * b)


def test_sadowsky_rigid_punch_is_a_narrow_jaw_bored_to_the_shaft():
    """A rigid jaw of +/- 4 degrees (a = 3.49 mm) on a shaft R 50: cell means of P/(pi sqrt(a^2 - x^2)) within 6 %.

    The shaft's curvature and free ends are what the half plane leaves out; the two cells at the edge, where pressure
    is unbounded, are taken together.  Order 10, as the cells are far narrower than the elements of a solid shaft: the
    order of a plan puts 12 % too much on those two.
    """
    half_angle = radians(4)
    face, part = shaft_in_jaws(half_angle, 6, order=10, harmonics=31)
    c = press(face, part, 24_000.0)
    middle = c.pressure[2] * face.areas[2]
    ours = middle / middle.sum()
    inside = np.arcsin(face.bounds / half_angle)
    punch = np.diff(inside) / inside[-1]
    assert ours[:4] == pytest.approx(punch[:4], rel=0.06)
    assert ours[4:].sum() == pytest.approx(punch[4:].sum(), rel=0.06)


def test_whole_mean_pressure_is_force_over_projected_face():
    """Equilibrium, not a published number, but what every published one rests on."""
    face, part = shaft_in_jaws(asin(20 / 50), 8, order=4, harmonics=31)
    c = press(face, part, 24_000.0)
    assert float(((c.pressure * face.areas) @ face.along).sum()) == pytest.approx(24_000.0, rel=1e-9)
