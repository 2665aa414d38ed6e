"""Contact against H. Hertz's line contact, as in K. L. Johnson, Contact Mechanics, 1985, section 4.2 (from memory).

A steel shaft R 50 in rigid jaws bored R 51: q per length, 1/R = 1/50 - 1/51, E* = E/(1 - nu^2),
half width b = sqrt(4 q R/(pi E*)), peak p0 = 2 q/(pi b).
"""

from math import pi, radians, sqrt

import numpy as np
import pytest

from heldtrue.mechanics.contact import JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.turned_body import TurnedBody


def test_hertz_line_contact_of_a_shaft_in_a_larger_bore():
    """3 % on peak and width: the ends of the shaft are free, so its middle band carries a little more (counted).

    Order 6, as a contact strip 5 mm wide on bands 12 mm long is narrower than any that a jaw bore makes.
    """
    length, bands, sectors = 60.0, 5, 24
    stations = Stations("outside", 50.0, tuple(np.linspace(0, length, bands + 1)))
    response = TurnedBody([(0, 0), (50, 0), (50, length), (0, length)], 210_000.0, 0.3, order=6).respond(
        stations, 3, [(0, 1)], harmonics=80
    )
    face = JawFace(stations, radians(6), sectors, 3)
    c = press(face, part_compliance(response, face), 24_000.0, bore_gap(face, 50.0, 51.0))
    middle = c.pressure[bands // 2]
    q = float(middle @ face.areas[bands // 2]) / (length / bands)
    b = sqrt(4 * q * (50 * 51) / (pi * 210_000.0 / (1 - 0.3**2)))
    assert middle.max() == pytest.approx(2 * q / (pi * b), rel=0.03)
    cells = 50 * np.diff(face.bounds)
    assert cells[middle > 0].sum() == pytest.approx(b, abs=cells[(middle > 0).sum()])
