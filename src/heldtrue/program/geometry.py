"""Lines and arcs of a tool path in the plane of x (a radius) and z, and exact distances between them. [mm, rad]

Angles and turns are counted with x to the right and z up, counter-clockwise positive.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, ceil, cos, hypot, pi, sin, sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from heldtrue.program.job import Point

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """A straight piece."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """Length. [mm]"""
        return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    def at(self, share: float) -> Point:
        """The point at a share 0 to 1 of the way."""
        (x, z), (u, w) = self.start, self.end
        return x + share * (u - x), z + share * (w - z)

    def part(self, start: float, end: float) -> Line:
        """The piece between two shares of the way."""
        return Line(self.at(start), self.at(end))

    def moved(self, by: Point) -> Line:
        """The same line elsewhere."""
        return Line(_plus(self.start, by), _plus(self.end, by))

    def mirrored(self) -> Line:
        """With x and -x exchanged."""
        return Line((-self.start[0], self.start[1]), (-self.end[0], self.end[1]))


@dataclass(frozen=True)
class Arc:
    """A piece of a circle from ``start`` through the angle ``turn``; ``end`` as stated: radii may differ a little."""

    start: Point
    end: Point
    centre: Point
    turn: float

    @property
    def radius(self) -> float:
        """Distance of the start from the centre. [mm]"""
        return hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])

    @property
    def angle(self) -> float:
        """Angle of the start as seen from the centre. [rad]"""
        return atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])

    @property
    def length(self) -> float:
        """Length. [mm]"""
        return self.radius * abs(self.turn)

    def at(self, share: float) -> Point:
        """The point at a share 0 to 1 of the way."""
        if share >= 1.0:
            return self.end
        angle, radius = self.angle + share * self.turn, self.radius
        return self.centre[0] + radius * cos(angle), self.centre[1] + radius * sin(angle)

    def part(self, start: float, end: float) -> Arc:
        """The piece between two shares of the way."""
        first = self.start if start <= 0.0 else self.at(start)
        return Arc(first, self.at(end), self.centre, self.turn * (end - start))

    def moved(self, by: Point) -> Arc:
        """The same arc elsewhere."""
        return Arc(_plus(self.start, by), _plus(self.end, by), _plus(self.centre, by), self.turn)

    def mirrored(self) -> Arc:
        """With x and -x exchanged."""
        (x, z), (u, w), (c, d) = self.start, self.end, self.centre
        return Arc((-x, z), (-u, w), (-c, d), -self.turn)


Piece: TypeAlias = Line | Arc


def points_along(piece: Piece, sagitta: float) -> list[Point]:
    """Points on a piece whose chords stay within ``sagitta`` of it. [mm]"""
    if isinstance(piece, Line):
        return [piece.start, piece.end]
    count = max(1, ceil(abs(piece.turn) / chord_angle(piece.radius, sagitta)))
    return [piece.start, *(piece.at(i / count) for i in range(1, count)), piece.end]


def chord_angle(radius: float, sagitta: float) -> float:
    """The angle whose chord is ``sagitta`` off its arc, at most a quarter turn. [rad]"""
    return min(pi / 2, 2 * sqrt(2 * sagitta / radius)) if radius > sagitta else pi / 2


def distance_to_lines(points: Floats, starts: Floats, ends: Floats) -> Floats:
    """Distance of n points (n, 2) from m lines (m, 2): (n, m). [mm]"""
    along = ends - starts
    squared = np.maximum((along**2).sum(axis=1), 1e-300)
    off = points[:, None, :] - starts[None]
    share = np.clip((off * along).sum(axis=2) / squared, 0.0, 1.0)
    gap = off - share[:, :, None] * along[None]
    return np.asarray(np.hypot(gap[:, :, 0], gap[:, :, 1]))


def line_gaps(a: Floats, b: Floats, starts: Floats, ends: Floats) -> Floats:
    """Distance of n lines a to b from m lines: (n, m), 0 where they cross. [mm]"""
    gap = np.minimum(distance_to_lines(a, starts, ends), distance_to_lines(b, starts, ends))
    gap = np.minimum(gap, distance_to_lines(starts, a, b).T)
    gap = np.minimum(gap, distance_to_lines(ends, a, b).T)
    across = (_side(a, b, starts) * _side(a, b, ends) < 0) & (_side(starts, ends, a) * _side(starts, ends, b) < 0).T
    return np.where(across, 0.0, gap)


def arc_gaps(arc: Arc, starts: Floats, ends: Floats) -> Floats:
    """Distance of an arc from m lines: (m,), 0 where they cross. [mm]"""
    centre, radius = np.array(arc.centre), arc.radius
    tips = np.array([arc.start, arc.end])
    gap: Floats = distance_to_lines(tips, starts, ends).min(axis=0)
    along = ends - starts
    squared = np.maximum((along**2).sum(axis=1), 1e-300)
    share = ((centre - starts) * along).sum(axis=1) / squared
    foot = starts + share[:, None] * along
    for point, valid in ((starts, None), (ends, None), (foot, (share > 0) & (share < 1))):
        off = point - centre
        near = np.abs(np.hypot(off[:, 0], off[:, 1]) - radius)
        seen = _within(arc, np.arctan2(off[:, 1], off[:, 0]))
        gap = np.where(seen if valid is None else seen & valid, np.minimum(gap, near), gap)
    height = np.hypot(*(foot - centre).T)
    half = np.sqrt(np.maximum(radius**2 - height**2, 0.0) / squared)
    for sign in (-1.0, 1.0):
        where = share + sign * half
        off = starts + where[:, None] * along - centre
        hit = (height < radius) & (where >= 0) & (where <= 1) & _within(arc, np.arctan2(off[:, 1], off[:, 0]))
        gap = np.where(hit, 0.0, gap)
    return gap


def _within(arc: Arc, angles: Floats) -> NDArray[np.bool_]:
    turned = (angles - arc.angle) * (1.0 if arc.turn >= 0 else -1.0)
    return np.asarray(np.mod(turned, 2 * pi) <= abs(arc.turn))


def _side(a: Floats, b: Floats, points: Floats) -> Floats:
    """On which side of n lines a to b m points lie: (n, m)."""
    along = b - a
    off = points[None] - a[:, None]
    return np.asarray(along[:, None, 0] * off[:, :, 1] - along[:, None, 1] * off[:, :, 0])


def _plus(a: Point, b: Point) -> Point:
    return a[0] + b[0], a[1] + b[1]
