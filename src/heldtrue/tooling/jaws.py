"""Top jaws: how far round they reach, and what they weigh.

Units: mm, kg, rad.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, pi, sin

from heldtrue.errors import GeometryError
from heldtrue.mechanics.jaw_shape import JawBase

STANDARD, WIDE, PIE = "standard", "wide", "pie"
STYLES = (STANDARD, WIDE, PIE)


@dataclass(frozen=True)
class JawSize:
    """Usual soft jaws for one class of chuck; every figure common practice, no source.

    ``grip_up_to``: the class reaches to chucks of that greatest total grip [N]; ``width``, ``length`` (radial),
    ``height`` of a standard top jaw [mm]; ``master_mass`` [kg] at ``master_radius`` [mm], both on the heavy side.
    """

    grip_up_to: float
    width: float
    length: float
    height: float
    master_mass: float
    master_radius: float


SIZES = (
    JawSize(65_000, 30.0, 65.0, 35.0, 0.8, 55.0),
    JawSize(95_000, 35.0, 80.0, 40.0, 1.4, 75.0),
    JawSize(125_000, 40.0, 95.0, 45.0, 2.2, 95.0),
    JawSize(160_000, 50.0, 115.0, 55.0, 3.6, 115.0),
    JawSize(float("inf"), 60.0, 140.0, 65.0, 6.5, 150.0),
)
"""Width of a wide jaw's nose is twice the standard width."""
BASE = JawBase(normal=2.5e3, shear=1.25e3, tilt=4e9)
"""What a top jaw stands on [MPa/mm, MPa/mm, N mm/rad]: serration, bolts and the master jaw in its guide; common
practice, no source: set so that a 100 mm aluminium jaw bored deep at 50 psi and clamped at 400 psi wants 0.1 mm of
taper per side, while short jaws from 100 to 300 psi want next to none (docs/validation.md)."""
RELIEF_MM = 0.5
"""Corner relief between bore and seat: common practice, no source."""
RING_WIDTH_MM = 10.0
"""Axial width of a boring ring: common practice, no source."""
LEAST_CENTRE_MM = 8.0
"""Jaws for an inside grip must stay clear of each other at the centre by this radius."""
PIE_GAP_MM = 3.0
"""Gap between full-circle segments, so that they can still close: common practice, no source."""


def usual_size(max_grip: float) -> JawSize:
    """The usual jaws of a chuck with that greatest total grip. [N]"""
    return next(size for size in SIZES if max_grip <= size.grip_up_to)


def half_angle(style: str, radius: float, jaws: int, width: float, gap: float) -> float:
    """Angle from the middle of a jaw to the edge of its bore on a part of ``radius``. [rad]

    ``width``: of a standard or wide jaw [mm]; ``gap``: between pie segments [mm].
    Raises: ``GeometryError`` where neighbouring jaws would meet or nothing of the jaw is left.
    """
    widest = pi / jaws - gap / (2 * radius)
    if widest <= 0:
        raise GeometryError(f"{jaws} jaws with gaps of {gap:g} mm leave nothing to grip Ø{2 * radius:g} mm")
    if style == PIE:
        return widest
    # On a small part neighbouring noses meet before their full width bears; what bears is what is left.
    return min(asin(min(width / (2 * radius), 1.0)), widest)


def mass_moment(
    style: str,
    side: str,
    radius: float,
    jaws: int,
    width: float,
    length: float,
    height: float,
    density: float,
) -> tuple[float, float]:
    """Mass [kg] of one top jaw and the radius of its centre of mass [mm], from its size.

    A standard or wide jaw counts as a block behind the bore, a pie jaw as a ring segment; bolt pockets are left in,
    on the heavy side.  Jaws for an inside grip lie inside ``radius``.
    """  # fmt: skip
    inner, outer = (radius, radius + length) if side == "outside" else (max(radius - length, 0.0), radius)
    if style == PIE:
        half = pi / jaws
        area = half * (outer**2 - inner**2)
        centre = 2 * sin(half) * (outer**3 - inner**3) / (3 * half * (outer**2 - inner**2))
        return area * height * density, centre
    return width * (outer - inner) * height * density, (inner + outer) / 2
