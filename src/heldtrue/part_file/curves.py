"""Curves of a solid's edges: straight lines, circles, ellipses and splines, as points at parameters."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import asinh, atan2, cos, cosh, hypot, sin, sinh, tau

from heldtrue.errors import InputError
from heldtrue.part_file.vectors import Frame, Vec, apart, cross, dot, norm, on, sub, unit

FITS_MM = 1e-6
"""A spline closer than this to a circle or a line everywhere is one: far under what files round to."""
SAMPLES = 24
MOST_POLES = 20_000


@dataclass(frozen=True)
class Straight:
    """A line through a point; the parameter is the length along it. [mm]"""

    point: Vec
    direction: Vec

    def at(self, t: float) -> Vec:
        """The point at a parameter."""
        return on(self.point, self.direction, t)

    def parameter(self, point: Vec) -> float:
        """The parameter of the point nearest to ``point``."""
        return dot(sub(point, self.point), self.direction)


@dataclass(frozen=True)
class Ellipse:
    """An ellipse, or a circle where both half axes are equal; the parameter is an angle. [mm, rad]"""

    frame: Frame
    a: float
    b: float

    @property
    def is_circle(self) -> bool:
        """Are its half axes equal?"""
        return abs(self.a - self.b) < FITS_MM

    def at(self, t: float) -> Vec:
        """The point at a parameter."""
        return self.frame.world((self.a * cos(t), self.b * sin(t), 0.0))

    def parameter(self, point: Vec) -> float:
        """The parameter of a point on it, 0 to 2 pi."""
        x, y, _ = self.frame.local(point)
        return atan2(y / self.b, x / self.a) % tau


@dataclass(frozen=True)
class Spline:
    """A B-spline with weights. ``poles``: (w x, w y, w z, w). [mm]"""

    degree: int
    knots: tuple[float, ...]
    poles: tuple[tuple[float, float, float, float], ...]

    @property
    def domain(self) -> tuple[float, float]:
        """First and last parameter."""
        return self.knots[self.degree], self.knots[len(self.poles)]

    def at(self, t: float) -> Vec:
        """The point at a parameter."""
        x, y, z, w = de_boor(self.degree, self.knots, self.poles, t)
        return x / w, y / w, z / w

    def parameter(self, point: Vec) -> float:
        """The parameter of the point nearest to ``point``: the best of many samples, narrowed."""
        low, high = self.domain
        count = max(4 * len(self.poles), 64)
        ts = [low + (high - low) * k / count for k in range(count + 1)]
        best = min(range(count + 1), key=lambda k: apart(self.at(ts[k]), point))
        left, right = ts[max(best - 1, 0)], ts[min(best + 1, count)]
        for _ in range(60):
            one, two = left + (right - left) / 3, right - (right - left) / 3
            if apart(self.at(one), point) < apart(self.at(two), point):
                right = two
            else:
                left = one
        return min((left, ts[best], right), key=lambda t: apart(self.at(t), point))


@dataclass(frozen=True)
class Hyperbola:
    """One branch of a hyperbola, as a flat cuts out of a cone; the parameter is that of cosh and sinh. [mm]"""

    frame: Frame
    a: float
    b: float

    def at(self, t: float) -> Vec:
        """The point at a parameter."""
        return self.frame.world((self.a * cosh(t), self.b * sinh(t), 0.0))

    def parameter(self, point: Vec) -> float:
        """The parameter of a point on it."""
        return asinh(self.frame.local(point)[1] / self.b)


@dataclass(frozen=True)
class Parabola:
    """A parabola; ``focal``: from its top to its focus. [mm]"""

    frame: Frame
    focal: float

    def at(self, t: float) -> Vec:
        """The point at a parameter."""
        return self.frame.world((self.focal * t * t, 2 * self.focal * t, 0.0))

    def parameter(self, point: Vec) -> float:
        """The parameter of a point on it."""
        return self.frame.local(point)[1] / (2 * self.focal)


Curve = Straight | Ellipse | Spline | Hyperbola | Parabola


def de_boor(
    degree: int, knots: Sequence[float], poles: Sequence[tuple[float, float, float, float]], t: float
) -> tuple[float, float, float, float]:
    """De Boor's rule: the homogeneous point of a B-spline at a parameter."""
    low, high = knots[degree], knots[len(poles)]
    t = min(max(t, low), high)
    span = min(max(bisect_right(knots, t) - 1, degree), len(poles) - 1)
    points = [poles[span - degree + k] for k in range(degree + 1)]
    for level in range(1, degree + 1):
        for k in range(degree, level - 1, -1):
            i = span - degree + k
            gap = knots[i + degree - level + 1] - knots[i]
            share = 0.0 if gap == 0 else (t - knots[i]) / gap
            p, q = points[k - 1], points[k]
            points[k] = tuple(a + share * (b - a) for a, b in zip(p, q, strict=True))  # type: ignore[assignment]
    return points[degree]


def spline(degree: int, knots: Sequence[float], poles: Sequence[tuple[float, float, float, float]]) -> Spline:
    """A checked spline. Raises: ``InputError``."""
    if len(poles) > MOST_POLES:
        raise InputError(f"a spline in the file has {len(poles)} points, more than {MOST_POLES}")
    if not 1 <= degree <= 25 or len(poles) <= degree or len(knots) != len(poles) + degree + 1:
        raise InputError("a spline in the file has knots that do not fit its points")
    if any(b < a for a, b in itertools.pairwise(knots)) or not knots[degree] < knots[len(poles)]:
        raise InputError("a spline in the file has knots out of order")
    if any(pole[3] <= 0 for pole in poles):
        raise InputError("a spline in the file has a weight of 0 or less")
    return Spline(degree, tuple(knots), tuple(poles))


def as_circle(points: Sequence[Vec], fits: float = FITS_MM) -> tuple[Frame, float] | None:
    """The circle through points, where all lie on one: its frame, x towards the first of them, and radius. [mm]"""
    if len(points) < 5:
        return None
    a, b, c = points[0], points[len(points) // 3], points[2 * len(points) // 3]
    u, v = sub(b, a), sub(c, a)
    normal = cross(u, v)
    square = dot(normal, normal)
    if square < (1e-6 * norm(u) * norm(v)) ** 2 or square == 0:
        return None
    uu, vv = dot(u, u), dot(v, v)
    off = cross(on(on((0.0, 0.0, 0.0), v, uu), u, -vv), normal)
    centre = on(a, off, 0.5 / square)
    radius = apart(centre, a)
    axis = unit(normal)
    for point in points:
        out = sub(point, centre)
        if abs(dot(out, axis)) > fits or abs(hypot(*out) - radius) > fits:
            return None
    return Frame.of(centre, axis, sub(a, centre)), radius
