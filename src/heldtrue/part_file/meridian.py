"""What a surface is in the half section when it turns about an axis: a straight line, an arc, or points on a curve."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, pi, sin, tau

from heldtrue.errors import InputError
from heldtrue.part_file.curves import Curve, Ellipse, Spline, Straight, as_circle, de_boor
from heldtrue.part_file.faces import Cone, Plane, Revolved, SplineSurface, Surface, Torus
from heldtrue.part_file.outline import Point
from heldtrue.part_file.vectors import Frame, Vec, apart, cross, dot, norm, sub

COAXIAL_MM = 1e-3
"""Axes closer than this at the part are one axis: 1 um, far under what a lathe can hold."""
PARALLEL = 1e-6
"""Sine of the angle between directions that are one direction; files round them to more figures."""
SAMPLED_MM = 1e-3
"""How far the chords of a sampled curve may stand off it. [mm]"""
DEEPEST_HALVING = 14
MOST_POINTS = 20_000
ROUND_MM = 1e-4
"""A spline surface whose points keep their radius so well is turned."""


@dataclass(frozen=True)
class StraightMeridian:
    """A straight line in (r, z) through a point; ``normal``: of the surface, (r, z)."""

    point: Point
    along: Point
    normal: Point


@dataclass(frozen=True)
class RoundMeridian:
    """A circle in (r, z). [mm]

    ``outward``: the normal of the surface points away from the centre; ``span``: the stretch that the surface has,
    begin and angle walked counter-clockwise, where it is not the whole circle. [rad]
    """

    centre: Point
    radius: float
    outward: bool = True
    span: tuple[float, float] | None = None


@dataclass(frozen=True)
class SampledMeridian:
    """Points (r, z) on a curve, chords within 1 um of it. [mm]"""

    points: tuple[Point, ...]


Meridian = StraightMeridian | RoundMeridian | SampledMeridian


def is_on(axis: Frame, frame: Frame) -> bool:
    """Does the z axis of a frame lie on the axis?"""
    return is_along(axis, frame.z) and axis.rz(frame.origin)[0] < COAXIAL_MM


def is_along(axis: Frame, direction: Vec) -> bool:
    """Is a direction that of the axis, either way?"""
    return norm(cross(axis.z, direction)) < PARALLEL


def meridian(surface: Surface, axis: Frame) -> Meridian | None:
    """The surface in the half plane of the axis; ``None`` where it does not turn about it."""
    if isinstance(surface, Plane):
        if not is_along(axis, surface.frame.z):
            return None
        up = 1.0 if dot(surface.frame.z, axis.z) > 0 else -1.0
        return StraightMeridian((0.0, axis.rz(surface.frame.origin)[1]), (1.0, 0.0), (0.0, up))
    if isinstance(surface, Cone):
        if not is_on(axis, surface.frame):
            return None
        up = 1.0 if dot(surface.frame.z, axis.z) > 0 else -1.0
        c, s = cos(surface.angle), sin(surface.angle)
        return StraightMeridian((surface.radius, axis.rz(surface.frame.origin)[1]), (s, up * c), (c, -up * s))
    if isinstance(surface, Torus):
        round_ = surface.major < 1e-9  # a sphere has no direction of its own
        if not (axis.rz(surface.frame.origin)[0] < COAXIAL_MM if round_ else is_on(axis, surface.frame)):
            return None
        return RoundMeridian((surface.major, axis.rz(surface.frame.origin)[1]), surface.minor)
    if isinstance(surface, Revolved):
        if not is_on(axis, surface.frame):
            return None
        found = _of_curve(surface.curve, axis)
        if isinstance(found, RoundMeridian) and dot(surface.frame.z, axis.z) < 0:
            return replace(found, outward=not found.outward)
        return found
    if isinstance(surface, SplineSurface):
        curve = _turned_curve(surface, axis)
        return None if curve is None else _of_curve(curve, axis)
    return None


def _turned_curve(surface: SplineSurface, axis: Frame) -> Spline | None:
    """The curve that a spline surface turns about the axis; ``None`` where it does not turn."""
    for turning in (0, 1):
        knots, degree = surface.knots[turning], surface.degrees[turning]
        count = len(surface.poles) if turning == 0 else len(surface.poles[0])
        low, high = knots[degree], knots[count]
        sections = [_iso(surface, turning, low + (high - low) * share) for share in (0.0, 0.31, 0.5, 0.77, 1.0)]
        start, end = sections[0].domain
        places = [start + (end - start) * share for share in (0.0, 0.17, 0.5, 0.71, 1.0)]
        rings = [[axis.rz(section.at(t)) for section in sections] for t in places]
        moved = max(apart(sections[0].at(t), sections[1].at(t)) for t in places)
        if moved > ROUND_MM and all(
            hypot(p[0] - ring[0][0], p[1] - ring[0][1]) < ROUND_MM for ring in rings for p in ring
        ):
            return sections[0]
    return None


def _iso(surface: SplineSurface, fixed: int, t: float) -> Spline:
    """The curve of a spline surface along which its parameter ``fixed`` is ``t``."""
    knots, degree = surface.knots[fixed], surface.degrees[fixed]
    if fixed == 0:
        columns = [[row[k] for row in surface.poles] for k in range(len(surface.poles[0]))]
        poles = [de_boor(degree, knots, column, t) for column in columns]
    else:
        poles = [de_boor(degree, knots, row, t) for row in surface.poles]
    return Spline(surface.degrees[1 - fixed], surface.knots[1 - fixed], tuple(poles))


def _of_curve(curve: Curve, axis: Frame) -> Meridian | None:
    """A curve turned about the axis; a straight line or circle in (r, z) where it is one."""
    if isinstance(curve, Straight):
        return _of_line(curve, axis)
    if isinstance(curve, Spline):
        low, high = curve.domain
        flat = [axis.rz(curve.at(low + (high - low) * k / 40)) for k in range(41)]
        line = _line_through(flat)
        if line is not None:
            return line
        circle = as_circle([(r, 0.0, z) for r, z in flat])
        if circle is not None:
            return _round_stretch((circle[0].origin[0], circle[0].origin[2]), circle[1], flat)
        breaks = sorted({low, high, *(k for k in curve.knots if low < k < high)})
        return SampledMeridian(_sampled(lambda t: axis.rz(curve.at(t)), breaks))
    if not isinstance(curve, Ellipse):
        return None  # a hyperbola or parabola turned round: no writer is known to do so
    x, y, z = axis.local(curve.frame.origin)
    out = curve.frame.z
    across = abs(dot(out, axis.z)) < PARALLEL and abs(dot(out, sub(curve.frame.origin, axis.origin))) < COAXIAL_MM
    if curve.is_circle and across:  # its plane holds the axis
        about = cross(
            axis.z, (axis.x[0] * x + axis.y[0] * y, axis.x[1] * x + axis.y[1] * y, axis.x[2] * x + axis.y[2] * y)
        )
        return RoundMeridian((hypot(x, y), z), curve.a, outward=dot(out, about) <= 0)
    return SampledMeridian(_sampled(lambda t: axis.rz(curve.at(t)), [tau * k / 8 for k in range(9)]))


def _round_stretch(centre: Point, radius: float, points: list[Point]) -> RoundMeridian:
    """A circle of which only the stretch from the first point to the last is there."""
    angles = [angle_on(centre, point) for point in points]
    steps = [(b - a + pi) % tau - pi for a, b in itertools.pairwise(angles)]
    walked = sum(steps)
    if abs(walked) > tau - 1e-6:
        return RoundMeridian(centre, radius)
    return RoundMeridian(centre, radius, span=(angles[0] if walked > 0 else angles[0] + walked, abs(walked)))


def _of_line(line: Straight, axis: Frame) -> StraightMeridian | None:
    """A straight line turned about the axis it meets or runs along; askew to it, it would turn into a waist."""
    x, y, z = axis.local(line.point)
    dx, dy, dz = (dot(line.direction, one) for one in (axis.x, axis.y, axis.z))
    slope = hypot(dx, dy)
    if slope < PARALLEL:
        return straight((hypot(x, y), z), (0.0, 1.0 if dz > 0 else -1.0))
    if abs(x * dy - y * dx) / slope > COAXIAL_MM:
        return None
    return straight(((x * dx + y * dy) / slope, z), (slope, dz))


def straight(point: Point, along: Point) -> StraightMeridian:
    """A straight meridian; its normal on the right of its way, which the loops of a face may turn round."""
    length = hypot(*along)
    r, z = along[0] / length, along[1] / length
    return StraightMeridian(point, (r, z), (z, -r))


def _line_through(points: list[Point]) -> StraightMeridian | None:
    (r0, z0), (r1, z1) = points[0], points[-1]
    length = hypot(r1 - r0, z1 - z0)
    if length < 1e-6:
        return None
    off = max(abs((r - r0) * (z1 - z0) - (z - z0) * (r1 - r0)) / length for r, z in points)
    return straight((r0, z0), (r1 - r0, z1 - z0)) if off < 1e-6 else None


def _sampled(at: Callable[[float], Point], breaks: list[float]) -> tuple[Point, ...]:
    """Points on a curve so that chords stand off by 1 um at most, halved where they do not."""
    found = [at(breaks[0])]

    def reach(low: float, high: float, start: Point, end: Point, depth: int) -> None:
        spots = [at(low + (high - low) * share) for share in (0.25, 0.5, 0.75)]
        length = hypot(end[0] - start[0], end[1] - start[1])
        off = max(
            abs((p[0] - start[0]) * (end[1] - start[1]) - (p[1] - start[1]) * (end[0] - start[0])) / length
            if length > 1e-9 else hypot(p[0] - start[0], p[1] - start[1])
            for p in spots
        )  # fmt: skip
        if off > SAMPLED_MM / 2 and depth < DEEPEST_HALVING:
            middle = (low + high) / 2
            reach(low, middle, start, spots[1], depth + 1)
            reach(middle, high, spots[1], end, depth + 1)
        else:
            found.append(end)
            if len(found) > MOST_POINTS:
                raise InputError(
                    f"a curve of the file needs more than {MOST_POINTS} chords: it is no profile to be turned"
                )

    for low, high in itertools.pairwise(breaks):
        for k in range(4):
            a, b = low + (high - low) * k / 4, low + (high - low) * (k + 1) / 4
            reach(a, b, found[-1], at(b), 0)
    return tuple(found)


def angle_on(centre: Point, point: Point) -> float:
    """The angle of a point about a centre in (r, z). [rad]"""
    return atan2(point[1] - centre[1], point[0] - centre[0])
