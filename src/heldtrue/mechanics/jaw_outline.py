"""A top jaw in plan, before it is cut: what it sweeps while it turns, what bears on a circle, where neighbours meet.

x runs from the spindle axis outwards along the jaw's middle, y across it. [mm, rad]
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from math import asin, atan2, cos, hypot, inf, pi, sin, sqrt, tan

from heldtrue.errors import GeometryError

Point = tuple[float, float]

FLAT, POINTED = "flat", "pointed"
ARC_STEPS = 60
"""Half an end of a full-circle segment is drawn with this many chords; their ends lie on the arc."""
ON_EDGE = 1e-9


@dataclass(frozen=True)
class Outline:
    """A jaw in plan where it stands.

    ``corners``: closed, the same on both sides of y = 0; ``is_round``: its ends are arcs about the axis, as long as it
    is not ``moved``.
    """

    corners: tuple[Point, ...]
    is_round: bool = False

    def moved(self, by: float) -> Outline:
        """The same jaw, further out on its master jaw or in its stroke. [mm]"""
        return replace(self, corners=tuple((x + by, y) for x, y in self.corners))

    @property
    def least_radius(self) -> float:
        """Radius of the innermost point anywhere over the width: the middle of a flat end, the tip of a point. [mm]"""
        if self.is_round:
            return min(hypot(*one) for one in self.corners)
        if self._holds((0.0, 0.0)):
            return 0.0
        return min(_from_axis(a, b) for a, b in self._edges())

    @property
    def greatest_radius(self) -> float:
        """Radius of the outermost point anywhere over the width: the corners of a flat end. [mm]"""
        return max(hypot(*one) for one in self.corners)

    @property
    def ends(self) -> Point:
        """Inner and outer end at the jaw's middle, from the axis. [mm]"""
        middle = [x for x, y in self.corners if abs(y) < ON_EDGE]
        xs = middle + [a[0] + (b[0] - a[0]) * a[1] / (a[1] - b[1]) for a, b in self._edges() if a[1] * b[1] < 0]
        return min(xs), max(xs)

    def half_angle_at(self, radius: float) -> float:
        """How far round from its middle a jaw reaches on a circle about the axis; 0 off its ends. [rad]"""
        inner, outer = self.ends
        if not inner < radius < outer:
            return 0.0
        found = [abs(atan2(y, x)) for a, b in self._edges() for x, y in _on_circle(a, b, radius)]
        return min((angle for angle in found if angle > 1e-6), default=pi)

    def behind(self, radius: float, outward: float) -> float:
        """Least metal along x behind a bore of ``radius`` that is open towards -``outward``. [mm]"""
        inner, outer = self.ends
        if outward > 0:
            return outer - radius  # a flat back stands nearest in the middle, a round one is as near all over
        least = radius - inner
        if self.is_round:
            return least
        half = radius * sin(min(self.half_angle_at(radius), pi / 2))
        backs = self._at(half - 1e-6)
        return min(least, sqrt(max(radius**2 - half**2, 0.0)) - min(backs)) if backs else least

    def room_to_neighbours(self, jaws: int) -> float:
        """How far every jaw can move in until neighbours meet; below 0 they would run into each other. [mm]"""
        return min(x - abs(y) / tan(pi / jaws) for x, y in self.corners)

    def to_sweep(self, radius: float, outward: float) -> float:
        """How far the jaw must move out so that its inner (outward 1) or outer end (-1) just reaches a circle. [mm]

        Minus infinity where its corners never stand within it.
        """
        inner, outer = self.ends
        if self.is_round:
            return radius - (inner if outward > 0 else outer)
        if outward > 0:
            return radius - self.least_radius
        return min((sqrt(radius**2 - y * y) - x if abs(y) <= radius else -inf) for x, y in self.corners)

    def wall_round(self, x: float) -> float:
        """Least metal from a point on the jaw's middle to any edge in plan; below 0 where it lies off the jaw. [mm]"""
        nearest = min(_distance((x, 0.0), a, b) for a, b in self._edges())
        return nearest if self._holds((x, 0.0)) else -nearest

    def _edges(self) -> list[tuple[Point, Point]]:
        return list(itertools.pairwise((*self.corners, self.corners[0])))

    def _at(self, y: float) -> list[float]:
        return [
            a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1])
            for a, b in self._edges()
            if min(a[1], b[1]) <= y <= max(a[1], b[1]) and a[1] != b[1]
        ]

    def _holds(self, point: Point) -> bool:
        xs = self._at(point[1] + 1e-7)
        return bool(xs) and min(xs) < point[0] < max(xs)


def outline(style: str, jaws: int, ends: Point, width: float = 0.0, gap: float = 0.0, inner_end: str = FLAT) -> Outline:
    """The outline of a blank.

    ``ends``: inner and outer end at its middle, from the axis; ``width`` of a block, all along it, a wide one too: it
    may be one; ``gap`` between the segments of a "pie", whose ends are arcs about the axis; ``inner_end``: "flat", or
    "pointed" so far that neighbouring jaws can meet at the axis.
    Raises: ``GeometryError`` where nothing lies between the ends.
    """
    inner, outer = ends
    if inner >= outer or outer <= 0:
        raise GeometryError(f"a jaw from {inner:g} to {outer:g} mm from the axis has no length")
    if style == "pie":
        return Outline(_segment(pi / jaws, inner, outer, gap), is_round=True)
    half = width / 2
    if inner_end != POINTED:
        return Outline(((inner, -half), (outer, -half), (outer, half), (inner, half)))
    shoulder = inner + half / tan(pi / jaws)
    if shoulder >= outer:  # the point takes the whole jaw
        half, shoulder = (outer - inner) * tan(pi / jaws), outer
    back = () if shoulder >= outer else ((outer, -half), (outer, half))
    return Outline(((inner, 0.0), (shoulder, -half), *back, (shoulder, half)))


def _segment(sector: float, inner: float, outer: float, gap: float) -> tuple[Point, ...]:
    """A full-circle segment, its sides parallel to the line between two segments."""
    tip = gap / 2 / sin(sector)
    if outer <= tip:
        raise GeometryError(f"a gap of {gap:g} mm leaves nothing of a segment that ends {outer:g} mm from the axis")
    arcs = []
    for radius in (max(inner, 0.0), outer):
        if radius <= tip:
            arcs.append([(tip, 0.0)])
            continue
        reach = sector - asin(gap / 2 / radius)
        angles = [reach * step / ARC_STEPS for step in range(-ARC_STEPS, ARC_STEPS + 1)]
        arcs.append([(radius * cos(angle), radius * sin(angle)) for angle in angles])
    return (*arcs[0][::-1], *arcs[1])


def _from_axis(a: Point, b: Point) -> float:
    """Least distance of a line from the axis."""
    return _distance((0.0, 0.0), a, b)


def _distance(point: Point, a: Point, b: Point) -> float:
    """Least distance of a line from a point."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    x, y = a[0] - point[0], a[1] - point[1]
    share = min(max(-(x * dx + y * dy) / max(dx * dx + dy * dy, 1e-18), 0.0), 1.0)
    return hypot(x + share * dx, y + share * dy)


def _on_circle(a: Point, b: Point, radius: float) -> list[Point]:
    """Where a line crosses a circle about the axis."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    if square < 1e-18:
        return []
    middle = -(a[0] * dx + a[1] * dy) / square
    under = middle**2 - (a[0] ** 2 + a[1] ** 2 - radius**2) / square
    if under < 0:
        return []
    shares = (middle - sqrt(under), middle + sqrt(under))
    return [(a[0] + t * dx, a[1] + t * dy) for t in shares if -ON_EDGE <= t <= 1 + ON_EDGE]
