"""A boring bar or turning tool that sticks out of its holder: how far it gives way under the cut. mm, N, MPa."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from types import MappingProxyType
from typing import Literal

from heldtrue.mechanics.materials import Datum, require_not_negative, require_positive

BarMaterial = Literal["steel", "carbide"]
_CP = "common practice, no source"
BEAM = "cantilever with a load at its end: F L^3 / (3 E I), Roark's Formulas for Stress and Strain (from memory)"
BAR_YOUNG: Mapping[BarMaterial, Datum] = MappingProxyType(
    {
        "steel": Datum(205_000.0, "from memory: 200 to 210 GPa", 200_000.0, 210_000.0),
        "carbide": Datum(580_000.0, "from memory: cemented carbide, 500 to 640 GPa", 500e3, 640e3),
    }
)
USUAL_SLENDERNESS: Mapping[BarMaterial, Datum] = MappingProxyType(
    {"steel": Datum(4.0, f"{_CP}: steel bars are used to 4 diameters"),
     "carbide": Datum(6.0, f"{_CP}: carbide bars are used to 6 or 7 diameters", 6.0, 7.0)}
)  # fmt: skip
MOST_SLENDERNESS: Mapping[BarMaterial, Datum] = MappingProxyType(
    {"steel": Datum(6.0, f"own rule: half as much again as a steel bar is used at ({_CP})"),
     "carbide": Datum(8.0, f"own rule: one more than the most a carbide bar is used at ({_CP})")}
)  # fmt: skip


def bar_deflection(force: float, diameter: float, overhang: float, young: float) -> float:
    """How far the end of a round bar gives way across. [mm]

    ``force`` across at its end [N]; ``diameter`` and ``overhang`` [mm]; ``young`` [MPa].
    Raises: ``InputError`` for a size that is not positive.
    Source: F L**3 / (3 E I) with I = pi d**4 / 64, a cantilever with a load at its end; Roark's Formulas for Stress and
    Strain, table of shear, moment, slope and deflection of beams (from memory).  A rigid holder.

    >>> round(bar_deflection(100.0, 16.0, 64.0, 200_000.0), 4)
    0.0136
    """
    require_not_negative(force=force)
    require_positive(diameter=diameter, overhang=overhang, young=young)
    return force * overhang**3 / (3.0 * young * pi * diameter**4 / 64.0)
