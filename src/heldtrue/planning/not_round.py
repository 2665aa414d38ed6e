"""Stretches of a part that stand in its half section as cylinders and are none: hexagons, sockets, eccentrics.

Outside the section has the smallest circle round them, so that jaws and tools keep clear of their corners; inside the
largest circle in them.  Nothing grips there: jaws are bored round, and would bear on corners.
"""

from __future__ import annotations

from collections.abc import Sequence

from heldtrue.planning.entries import NotRound, Part, Surface
from heldtrue.planning.half_section import NEAR_MM, corner_points

STIFFER = 0.9
"""A wall that is thinner than this share of the one in the section makes its form no longer known: stiffness of a ring
goes with the cube of its wall, that of a bar with the fourth power of its diameter, of a hexagon about that of the
circle midway between its flats and its corners. common practice, no source"""


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


def thinner_than_drawn(part: Part, grip: tuple[float, float], surfaces: Sequence[Surface]) -> tuple[NotRound, ...]:
    """Those far thinner than the section has them: the part bends more there than any plan says.

    ``grip``: z of the gripped length [mm].  A solid bends too little under the grip to matter; under the cut it bends
    as a bar does, between grip and a surface that has to come out cylindrical.
    """
    far = max((max(one.z) for one in surfaces if one.cylindricity is not None), default=grip[0])

    def is_thinner(one: NotRound) -> bool:
        if _is_solid(part, one):
            least, most = one.diameters
            bends = one.z[0] < far - NEAR_MM and one.z[1] > grip[0] + NEAR_MM
            return bends and ((least + most) / 2 / most) ** 4 < STIFFER**3
        return _wall(part, one) < STIFFER

    return tuple(one for one in part.not_round or () if is_thinner(one))


def _is_solid(part: Part, one: NotRound) -> bool:
    return one.side == "outside" and max(_across(part, one), default=0.0) <= NEAR_MM


def _across(part: Part, one: NotRound) -> list[float]:
    """Diameters along the other side of the material there, of cylinders and tapers, without roundings. [mm]"""
    points, (low, high), found = corner_points(part.profile), one.z, []
    for (r0, z0), (r1, z1) in zip(points, [*points[1:], points[0]], strict=True):
        # Counter-clockwise: what looks outside goes up, what looks inside goes down.
        up = z1 > z0
        if up == (one.side == "outside") or min(max(z0, z1), high) - max(min(z0, z1), low) <= NEAR_MM:
            continue
        ends = (min(max(z, low), high) for z in (z0, z1))
        found += [2 * (r0 + (r1 - r0) * (z - z0) / (z1 - z0)) for z in ends]
    return found


def _wall(part: Part, one: NotRound) -> float:
    """The thinnest wall there over the one in the section."""
    least, most = one.diameters
    there = _across(part, one)
    if one.side == "outside":
        bore = max(there, default=0.0)
        return (least - bore) / (most - bore) if most > bore else 0.0
    rim = min(there, default=0.0)
    return (rim - most) / (rim - least) if rim > least else 0.0
