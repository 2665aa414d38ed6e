from math import pi

import numpy as np
import pytest

from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.tool_deflection import SmearedJaws, deflection_under_tool
from heldtrue.mechanics.turned_body import TurnedBody

STEEL = (210_000.0, 0.3)
RIGID = (210_000.0 * 1e3, 0.3)


@pytest.mark.parametrize(("stiffness", "sideways"), [(1e5, 0.0), (2e5, 0.0), (1e5, 0.3)])
def test_rigid_disc_moves_on_its_jaws_alone(stiffness, sideways):
    """Three springs K at 120 degrees resist a side push with 3 K/2 (statics), and with what friction adds round."""
    disc = TurnedBody([(0, 0), (50, 0), (50, 30), (0, 30)], *RIGID)
    grip = Stations("outside", 50.0, (0.0, 30.0))
    moved = deflection_under_tool(disc, grip, SmearedJaws.of(grip, 3, stiffness, sideways), [(50.0, 15.0)])[0]
    assert moved == pytest.approx(1 / (1.5 * stiffness * (1 + sideways)), rel=2e-3)


def test_rigid_disc_leans_as_well_when_pushed_above_the_grip():
    """Push at height h over mid grip: 1/k + h^2/(k L^2/12), radial springs spread over the grip length L."""
    disc = TurnedBody([(0, 0), (50, 0), (50, 60), (0, 60)], *RIGID)
    grip = Stations("outside", 50.0, (0.0, 30.0))
    moved = deflection_under_tool(disc, grip, SmearedJaws.of(grip, 3, 1e5, 0.0), [(50.0, 45.0)])[0]
    assert moved == pytest.approx((1 + 30.0**2 / (30.0**2 / 12)) / 1.5e5, rel=5e-3)


def test_long_shaft_bends_as_a_cantilever():
    """F L^3/(3 E I) + F L/(k G A), Cowper's k = 0.9 for a circle (from memory); 8 %: the gripped root gives too."""
    radius, overhang = 15.0, 200.0
    shaft = TurnedBody([(0, 0), (radius, 0), (radius, 30 + overhang), (0, 30 + overhang)], *STEEL)
    grip = Stations("outside", radius, tuple(np.linspace(0, 30, 4)))
    firm = SmearedJaws(1e6, 1e6, 1e6)
    moved = deflection_under_tool(shaft, grip, firm, [(radius, 30 + overhang - 1e-3)])[0]
    inertia, area, shear = pi * radius**4 / 4, pi * radius**2, STEEL[0] / 2.6
    beam = overhang**3 / (3 * STEEL[0] * inertia) + overhang / (0.9 * shear * area)
    assert moved == pytest.approx(beam, rel=0.08)
    assert moved > beam


def test_bore_and_outside_are_pushed_alike():
    ring = TurnedBody([(40, 0), (50, 0), (50, 60), (40, 60)], *STEEL)
    grip = Stations("outside", 50.0, (0.0, 20.0))
    inside, outside = deflection_under_tool(ring, grip, SmearedJaws.of(grip, 3, 1e5, 0.3), [(40.0, 50.0), (50.0, 50.0)])
    assert inside == pytest.approx(outside, rel=0.1)
