"""The edges of a solid in short straight lines, each cut once for both faces that meet in it.  [mm, rad]"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from math import atan2, ceil, floor, pi

import netgen.occ as occ
import numpy as np

from heldtrue.mechanics.jaw_outline import Point

Point3 = tuple[float, float, float]
Key = tuple[int, ...]

SAME_MM = 1e-6
"""Points nearer than this are one."""
STRAIGHT_MM = 1e-7
SPARE = 0.98
"""Share of the height of an arc that is used: the rest is for rounding to the figures of a file."""
SNAP = 1e-3
"""A point this near to the edge of a strip, as a share of its width, lies on it."""
SAMPLES = 48
"""An edge is looked at in so many pieces: in none of them does it turn back."""
MOST_SPLITS = 12


class Points:
    """Points, each with one number however often it is met."""

    def __init__(self) -> None:
        self.found: list[Point3] = []
        self._cells: dict[Key, int] = {}

    def index(self, point: Point3) -> int:
        """The number of a point, that of an earlier one in its place."""
        cell = tuple(floor(value / (4 * SAME_MM)) for value in point)
        for step in itertools.product((-1, 0, 1), repeat=3):
            near = self._cells.get(tuple(c + s for c, s in zip(cell, step, strict=True)))
            if near is not None and max(abs(a - b) for a, b in zip(self.found[near], point, strict=True)) < SAME_MM:
                return near
        self.found.append(point)
        self._cells[cell] = len(self.found) - 1
        return self._cells[cell]


def xyz(point: occ.gp_Pnt) -> Point3:
    """A point of the kernel as numbers. [mm]"""
    return point.x, point.y, point.z


def edge_key(edge: occ.TopoDS_Shape) -> Key:
    """The same for an edge whichever face it is asked of, and whichever way round it runs there."""
    low, high = edge.parameter_interval
    ends = sorted(tuple(round(v / (10 * SAME_MM)) for v in xyz(edge.Value(t))) for t in (low, high))
    return (*ends[0], *ends[1], *(round(v / (10 * SAME_MM)) for v in xyz(edge.Value((low + high) / 2))))


def cut_edge(edge: occ.TopoDS_Shape, strips: list[tuple[Point, float]], chord: float) -> list[Point3]:
    """Points along an edge: its ends, where strips begin, and so many that it lies within ``chord`` of them."""
    low, high = edge.parameter_interval

    def at(t: float) -> Point3:
        return xyz(edge.Value(t))

    if _strays(at(low), at(high), at((low + high) / 2)) < STRAIGHT_MM and _strays(
        at(low), at(high), at(low + 0.3 * (high - low))
    ) < STRAIGHT_MM:  # fmt: skip
        return [at(low), at(high)]
    places = {low, high}
    for axis, width in strips:
        places |= _strip_places(edge, axis, width)
    ordered = sorted(places)
    found = [at(ordered[0])]
    for a, b in itertools.pairwise(ordered):
        found += _split(at, a, b, chord, MOST_SPLITS)
    return found


def _strip_places(edge: occ.TopoDS_Shape, axis: Point, width: float) -> set[float]:
    """Where on an edge a strip begins, but for what lies on its ends."""
    low, high = edge.parameter_interval

    def turn(t: float, near: float) -> float:
        point = xyz(edge.Value(t))
        return near + (atan2(point[1] - axis[1], point[0] - axis[0]) - near + pi) % (2 * pi) - pi

    samples = np.linspace(low, high, SAMPLES + 1).tolist()
    angles = [turn(low, 0.0)]
    for t in samples[1:]:
        angles.append(turn(t, angles[-1]))
    found = set()
    for (a, b), (first, last) in zip(itertools.pairwise(samples), itertools.pairwise(angles), strict=True):
        for number in range(ceil(min(first, last) / width), floor(max(first, last) / width) + 1):
            angle = number * width
            if min(abs(angle - angles[0]), abs(angle - angles[-1])) > SNAP * width:
                found.add(_where(turn, a, b, angle, first < last))
    return found


def _where(turn: Callable[[float, float], float], a: float, b: float, angle: float, grows: bool) -> float:
    """The place between two where the angle is met."""
    for _ in range(50):
        middle = (a + b) / 2
        a, b = (middle, b) if (turn(middle, angle) < angle) == grows else (a, middle)
    return (a + b) / 2


def _split(at: Callable[[float], Point3], a: float, b: float, chord: float, most: int) -> list[Point3]:
    """Points after place ``a`` up to ``b``, so many that the edge lies within ``chord`` of the lines between them."""
    middle = (a + b) / 2
    if most == 0 or _strays(at(a), at(b), at(middle)) < SPARE * chord:
        return [at(b)]
    return [*_split(at, a, middle, chord, most - 1), *_split(at, middle, b, chord, most - 1)]


def _strays(start: Point3, end: Point3, point: Point3) -> float:
    """How far a point lies from the straight line between two; from the first where they are one. [mm]"""
    along, to = np.subtract(end, start), np.subtract(point, start)
    length = float(np.linalg.norm(along))
    return float(np.linalg.norm(to) if length < SAME_MM else np.linalg.norm(np.cross(along, to)) / length)
