"""Circles about the axis at the rims of a face: which way the face goes on from them, and how far.

A face lies on the left of its loops as seen from outside, so the way in which a circle is walked says on which side of
it the face is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, hypot, pi, sin, tau

from heldtrue.part_file.faces import Face
from heldtrue.part_file.meridian import COAXIAL_MM, RoundMeridian, angle_on
from heldtrue.part_file.outline import Point

ON_AXIS_MM = 1e-5
"""A point so near to the axis lies on it."""


@dataclass(frozen=True)
class Ring:
    """An edge of a face that is a circle about the axis: (r, z) and signed angle walked about it. [mm, rad]"""

    at: Point
    sweep: float


def by_loops(rings: Sequence[Ring], first: Point, last: Point, way: Point) -> float:
    """Positive where the material lies on the left from ``first`` to ``last``, by the way the loops run."""
    signs = 0.0
    for ring in rings:
        far = (ring.at[0] - first[0]) * way[0] + (ring.at[1] - first[1]) * way[1]
        length = hypot(last[0] - first[0], last[1] - first[1])
        if far < 1e-6:
            signs += ring.sweep
        elif far > length - 1e-6:
            signs -= ring.sweep
    return signs


def round_by_loops(rings: Sequence[Ring], line: RoundMeridian, spans: Sequence[tuple[float, float]]) -> float:
    """1 where the outward normal points away from the centre, -1 where towards it, by the way the loops run."""
    signs = 0.0
    for ring in rings:
        angle = angle_on(line.centre, ring.at)
        for begin, walked in spans:
            if abs(near(angle - begin)) < 1e-6:
                signs += ring.sweep
            elif abs(near(angle - begin - walked)) < 1e-6:
                signs -= ring.sweep
    return 1.0 if signs >= 0 else -1.0


def near(angle: float) -> float:
    """The same angle between minus pi and pi. [rad]"""
    return (angle + pi) % tau - pi


def counter(line: RoundMeridian, ring: Ring, face: Face) -> float:
    """1 where the face goes on counter-clockwise from a circle of it, -1 where clockwise.

    The face lies on the left of its loop as seen from outside: into it points normal x way.
    """
    sense = 1.0 if face.same_sense == line.outward else -1.0
    out = ((ring.at[0] - line.centre[0]) * sense, (ring.at[1] - line.centre[1]) * sense)
    way = 1.0 if ring.sweep > 0 else -1.0
    into = (-out[1] * way, out[0] * way)
    angle = angle_on(line.centre, ring.at)
    return 1.0 if into[1] * cos(angle) - into[0] * sin(angle) > 0 else -1.0


def after(begin: float, end: float) -> float:
    """The angle from ``begin`` counter-clockwise to ``end``; a whole turn where they are one."""
    walked = (end - begin) % tau
    return tau if walked < 1e-7 or walked > tau - 1e-7 else walked


def joined(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Stretches of a circle, those that lie in others or overlap taken together."""
    found: list[tuple[float, float]] = []
    for begin, walked in sorted(spans, key=lambda span: -span[1]):
        for k, (other, far) in enumerate(found):
            start = (begin - other) % tau
            if start > tau - 1e-7:
                start = 0.0
            if start <= far + 1e-7:
                found[k] = (other, min(max(far, start + walked), tau))
                break
        else:
            found.append((begin, walked))
    return found


def that_side(line: RoundMeridian, rings: Sequence[Ring]) -> RoundMeridian:
    """The circle with its centre beyond the axis, where the face lies on that half of a torus that crosses it."""
    across = replace(line, centre=(-line.centre[0], line.centre[1]))

    def off(one: RoundMeridian) -> float:
        return sum(abs(hypot(r.at[0] - one.centre[0], r.at[1] - one.centre[1]) - one.radius) for r in rings)

    return across if rings and off(across) + COAXIAL_MM < off(line) else line


def point_on(line: RoundMeridian, angle: float, rings: Sequence[Ring]) -> Point:
    """The point of a round meridian at an angle: that of the edge there, which its neighbour has too."""
    r, z = line.centre[0] + line.radius * cos(angle), line.centre[1] + line.radius * sin(angle)
    for ring in rings:
        if hypot(ring.at[0] - r, ring.at[1] - z) < COAXIAL_MM:
            return ring.at
    return (0.0 if abs(r) < ON_AXIS_MM else r), z


def widest(rings: Sequence[Ring]) -> float:
    """The largest angle that the circles at one place walk together."""
    sums: dict[tuple[int, int], float] = {}
    for ring in rings:
        key = (round(ring.at[0] * 1e4), round(ring.at[1] * 1e4))
        sums[key] = sums.get(key, 0.0) + abs(ring.sweep)
    return min(max(sums.values(), default=0.0), tau)


def nearest(points: Sequence[Point], to: Point) -> float:
    """Where on a row of points a point lies nearest: number of the point before it, and share of the way on."""
    best, far = 0.0, float("inf")
    for k, (a, b) in enumerate(pairwise(points)):
        dr, dz = b[0] - a[0], b[1] - a[1]
        square = dr * dr + dz * dz
        t = min(max(((to[0] - a[0]) * dr + (to[1] - a[1]) * dz) / square, 0.0), 1.0) if square else 0.0
        off = hypot(a[0] + t * dr - to[0], a[1] + t * dz - to[1])
        if off < far:
            best, far = k + t, off
    return best


def point_at(points: Sequence[Point], place: float) -> Point:
    """The point at a place that :func:`nearest` gave."""
    k = min(int(place), len(points) - 2)
    t, a, b = place - k, points[k], points[k + 1]
    return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])
