"""From the corners of a drawing to the polygon that is computed and drawn."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import atan2, cos, hypot, pi, sin, tan

from heldtrue.mechanics.section import Section
from heldtrue.planning.setup import Corner

SMALL_BREAK_MM = 1.5
"""Roundings and chamfers up to this size do not change how a part bends; they are drawn but not computed."""
CHORDS = 4
"""Straight pieces a rounding is computed with."""

Point = tuple[float, float]


def section_of(corners: Sequence[Corner], *, smallest: float = SMALL_BREAK_MM) -> Section:
    """The half section of a profile, (r, z) in mm; breaks at corners up to ``smallest`` left out.

    Raises: ``GeometryError`` for a profile that cannot be, or a rounding larger than its edges.
    """
    return _section(tuple(outline(corners, smallest=smallest)))


@lru_cache(maxsize=64)
def _section(points: tuple[Point, ...]) -> Section:
    return Section.of(points)


def outline(corners: Sequence[Corner], *, smallest: float = 0.0) -> list[Point]:
    """Corner points (r, z) of a profile with its chamfers and roundings worked in."""
    points = [(corner.diameter / 2, corner.z) for corner in corners]
    count = len(points)
    worked: list[Point] = []
    for i, corner in enumerate(corners):
        before, here, after = points[i - 1], points[i], points[(i + 1) % count]
        if corner.chamfer and corner.chamfer > smallest:
            worked += [_towards(here, before, corner.chamfer), _towards(here, after, corner.chamfer)]
        elif corner.radius and corner.radius > smallest:
            worked += _arc(before, here, after, corner.radius)
        else:
            worked.append(here)
    return worked


def _towards(start: Point, end: Point, distance: float) -> Point:
    length = hypot(end[0] - start[0], end[1] - start[1]) or 1.0
    return (
        start[0] + distance * (end[0] - start[0]) / length,
        start[1] + distance * (end[1] - start[1]) / length,
    )


def _arc(before: Point, here: Point, after: Point, radius: float) -> list[Point]:
    """Points on the rounding of one corner, from its first to its last tangent point."""
    to_before = atan2(before[1] - here[1], before[0] - here[0])
    to_after = atan2(after[1] - here[1], after[0] - here[0])
    opening = (to_after - to_before + pi) % (2 * pi) - pi
    setback = radius / tan(abs(opening) / 2)
    middle = to_before + opening / 2
    reach = radius / sin(abs(opening) / 2)
    centre = (here[0] + reach * cos(middle), here[1] + reach * sin(middle))
    first, last = _towards(here, before, setback), _towards(here, after, setback)
    start = atan2(first[1] - centre[1], first[0] - centre[0])
    sweep = (atan2(last[1] - centre[1], last[0] - centre[0]) - start + pi) % (2 * pi) - pi
    angles = [start + sweep * k / CHORDS for k in range(CHORDS + 1)]
    return [(centre[0] + radius * cos(a), centre[1] + radius * sin(a)) for a in angles]
