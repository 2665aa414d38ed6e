"""The teeth between master jaw and top jaw: pitch, angle, and the steps they allow.

Pitches and angles: the four in the trade, ISO 3442-3 names 60 and 90 degrees (pitches from memory).  Lengths in mm,
angles in degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, tan

import numpy as np

from heldtrue.errors import InputError

TONGUE_AND_GROOVE = "tongue and groove"


@dataclass(frozen=True)
class Serration:
    """One kind of serration: ``pitch`` [mm] along the jaw, ``angle`` of the V [deg]."""

    name: str
    pitch: float
    angle: float

    @property
    def sharp_height(self) -> float:
        """Height of the V with sharp crest and root, pitch / (2 tan(angle / 2)); real teeth are cut off. [mm]"""
        return self.pitch / (2 * tan(radians(self.angle) / 2))

    @property
    def step_on_diameter(self) -> float:
        """What one tooth changes on diameter, every jaw moved. [mm]"""
        return 2 * self.pitch


SERRATIONS = {
    one.name: one
    for one in (
        Serration("1.5 mm x 60 deg", 1.5, 60.0),
        Serration("3 mm x 60 deg", 3.0, 60.0),
        Serration("1/16 in x 90 deg", 25.4 / 16, 90.0),
        Serration("3/32 in x 90 deg", 3 * 25.4 / 32, 90.0),
    )
}


def serration(name: str) -> Serration:
    """The serration of that name. Raises: ``InputError`` that lists the known ones."""
    try:
        return SERRATIONS[name]
    except KeyError:
        raise InputError(f'serration "{name}" is not known; known are {", ".join(SERRATIONS)}') from None


def runout_of_a_shifted_jaw(jaws: int, shift: float) -> float:
    """Run-out [mm] of a part when one of ``jaws`` stands ``shift`` [mm] off the others along its radius.

    The centre c and the common approach s that fit c . n_i - s = shift of jaw i in the least squares sense; run-out is
    twice |c|.  Three jaws fit exactly: 4/3 of the shift.  More rigid jaws than three cannot all touch: read it as the
    size of the trouble.  Own derivation.
    """
    if jaws < 2:
        raise InputError(f"{jaws} jaws do not centre a part")
    angles = 2 * np.pi * np.arange(jaws) / jaws
    rows = np.column_stack([np.cos(angles), np.sin(angles), -np.ones(jaws)])
    moved = np.zeros(jaws)
    moved[0] = shift
    centre = np.linalg.lstsq(rows, moved, rcond=None)[0][:2]
    return float(2 * np.hypot(*centre))
