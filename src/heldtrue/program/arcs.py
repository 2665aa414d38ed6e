"""Arcs as their words give them: by radius, or by the way from the start to the centre. [mm]"""

from __future__ import annotations

from math import asin, atan2, hypot, pi, sqrt

from heldtrue.program.geometry import Arc
from heldtrue.program.job import Point

ARC_MISFIT_MM = 0.002
"""An arc's ends may lie this much differently far from its centre, and more by the rounding of coarser words."""


def arc_of(start: Point, end: Point, numbers: dict[str, float], sense: int, misfit: float = ARC_MISFIT_MM) -> Arc:
    """Clockwise (G2) as seen with z to the right and x up turns from +x to +z: positive here."""
    chord = hypot(end[0] - start[0], end[1] - start[1])
    if chord < 1e-9:
        raise ValueError("an arc that ends where it starts")
    if "R" in numbers:
        if "I" in numbers or "K" in numbers:
            raise ValueError("an arc with R and with I or K")
        return _arc_by_radius(start, end, numbers["R"], sense, chord, misfit)
    if "I" not in numbers and "K" not in numbers:
        raise ValueError("an arc without R, I or K")
    centre = (start[0] + numbers.get("I", 0.0), start[1] + numbers.get("K", 0.0))
    radius, other = (hypot(p[0] - centre[0], p[1] - centre[1]) for p in (start, end))
    if abs(radius - other) > misfit:
        raise ValueError(f"the arc starts {radius:.4f} mm from its centre and ends {other:.4f} mm from it")
    first = atan2(start[1] - centre[1], start[0] - centre[0])
    last = atan2(end[1] - centre[1], end[0] - centre[0])
    return _short(Arc(start, end, centre, sense * (((last - first) * sense) % (2 * pi))))


def _arc_by_radius(start: Point, end: Point, radius: float, sense: int, chord: float, misfit: float) -> Arc:
    size = abs(radius)
    if chord > 2 * size + misfit:
        raise ValueError(f"an arc of R{size:.4f} mm cannot span {chord:.4f} mm")
    size = max(size, chord / 2)
    height = sqrt(max(size**2 - (chord / 2) ** 2, 0.0)) * (1 if radius > 0 else -1)
    along = ((end[0] - start[0]) / chord, (end[1] - start[1]) / chord)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    centre = (middle[0] - sense * height * along[1], middle[1] + sense * height * along[0])
    turn = 2 * asin(min(1.0, chord / (2 * size)))
    return _short(Arc(start, end, centre, sense * (turn if radius > 0 else 2 * pi - turn)))


def _short(arc: Arc) -> Arc:
    if abs(arc.turn) > pi + 1e-6:
        raise ValueError("an arc of more than half a turn: controls differ on it, and no bore needs one")
    return arc
