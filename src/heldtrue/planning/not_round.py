"""Stretches of a part that stand in its half section as cylinders and are none: hexagons, sockets, eccentrics.

Outside the section has the smallest circle round them, so that jaws and tools keep clear of their corners; inside the
largest circle in them.  Nothing grips there: jaws are bored round, and would bear on corners.
"""

from __future__ import annotations

from heldtrue.planning.entries import NotRound, Part
from heldtrue.planning.half_section import NEAR_MM, stretches

STIFFER = 0.9
"""A wall that is thinner than this share of the one in the section makes its form no longer known: stiffness of a ring
goes with the cube of its wall. common practice, no source"""


REST_OFF_MM = 0.5
"""Centre of mass off the axis of all else on such a part: that of a raw one (``ranges``). common practice, no source"""


def off_centre_drawn(eccentrics: float) -> float:
    """What a setup states for a part whose eccentrics take its centre of mass off by so much, at its worst. [mm]"""
    return eccentrics + REST_OFF_MM


def not_round_at(part: Part, side: str, z: tuple[float, float]) -> NotRound | None:
    """What is not round of a stretch along z, on one side of the material; None where all of it is. [mm]"""
    for one in part.not_round or ():
        if one.side == side and min(one.z[1], z[1]) - max(one.z[0], z[0]) > NEAR_MM:
            return one
    return None


def thinner_than_drawn(part: Part) -> tuple[NotRound, ...]:
    """Those whose wall is far thinner than the section has it: the part bends more there than any plan says."""
    return tuple(one for one in part.not_round or () if _wall(part, one) < STIFFER)


def _wall(part: Part, one: NotRound) -> float:
    """The thinnest wall there over the one in the section; of a solid 1, as it bends too little to matter."""
    least, most = one.diameters
    other = "inside" if one.side == "outside" else "outside"
    there = [s.diameters[0] for s in stretches(part.profile)
             if s.looks == other and min(s.z[1], one.z[1]) - max(s.z[0], one.z[0]) > NEAR_MM]  # fmt: skip
    if one.side == "outside":
        bore = max(there, default=0.0)
        return (least - bore) / (most - bore) if bore and most > bore else 1.0
    rim = min(there, default=0.0)
    return (rim - most) / (rim - least) if rim > least else 0.0
