"""Which faces of a solid turn about an axis, and how far each reaches in the half section.

How far a face reaches is read only from those of its edges that are circles about the axis, and from points of it on the
axis: the shoulder that a flat leaves is a plane across the axis too, but nothing of it is turned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import atan2, cos, hypot, pi, sin, tau

from heldtrue.part_file.meridian import (
    COAXIAL_MM,
    RoundMeridian,
    SampledMeridian,
    StraightMeridian,
    angle_on,
    is_on,
    meridian,
)
from heldtrue.part_file.outline import Arc, Line, Piece, Point
from heldtrue.part_file.step_shapes import Edge, Face, Plane, Revolved, SplineSurface
from heldtrue.part_file.vectors import Frame, Vec, dot

ON_AXIS_MM = 1e-5
"""A point so near to the axis lies on it."""
SHORT_MM = 1e-4
"""A face that reaches less than this in the section is not a piece of it."""


@dataclass(frozen=True)
class Ring:
    """An edge of a face that is a circle about the axis: (r, z) and signed angle walked about it. [mm, rad]"""

    at: Point
    sweep: float


@dataclass(frozen=True)
class TurnedFace:
    """A face in the half section: pieces walked with the material on the left.

    ``sweep``: the largest angle over which one of its circles runs; ``off``: how far its circles lie off its surface.
    [mm, rad]
    """

    face: Face
    pieces: tuple[Piece, ...]
    sweep: float
    sampled: bool = False
    off: float = 0.0


@dataclass
class AxisView:
    """A solid seen along one axis; keeps which edges are circles about it."""

    axis: Frame
    _rings: dict[int, Ring | None] = field(default_factory=dict)

    def ring(self, edge: Edge) -> Ring | None:
        """The edge as a circle about the axis, walked from its start to its end; ``None`` where it is none."""
        if edge.id not in self._rings:
            self._rings[edge.id] = self._ring(edge)
        return self._rings[edge.id]

    def _ring(self, edge: Edge) -> Ring | None:
        circle = edge.circle
        if circle is None or not is_on(self.axis, circle.frame):
            return None
        up = 1.0 if dot(circle.frame.z, self.axis.z) > 0 else -1.0
        return Ring((circle.a, self.axis.rz(circle.frame.origin)[1]), up * edge.sweep)

    def rings(self, face: Face) -> list[Ring]:
        """The circles about the axis in the loops of a face, each walked with the face on its left."""
        found = []
        for loop in face.loops:
            for edge, forward in loop:
                ring = self.ring(edge)
                if ring is not None:
                    found.append(ring if forward else Ring(ring.at, -ring.sweep))
        return found

    def turned(self, face: Face) -> TurnedFace | None:
        """The face in the half section; ``None`` where it does not turn about the axis, or no edge says how far."""
        line = meridian(face.surface, self.axis)
        if line is None:
            return None
        rings = self.rings(face)
        if isinstance(line, StraightMeridian):
            return self._straight(face, line, rings)
        if isinstance(line, RoundMeridian):
            return self._round(face, line, rings)
        return self._sampled(face, line, rings)

    def _straight(self, face: Face, line: StraightMeridian, rings: Sequence[Ring]) -> TurnedFace | None:
        ends = [ring.at for ring in rings] + self._on_axis(face)
        if rings and line.along[0] and not any(r < ON_AXIS_MM for r, _ in ends) and self._winds(face):
            ends.append((0.0, line.point[1] - line.point[0] / line.along[0] * line.along[1]))
        if not rings or not ends:
            return None

        def along(point: Point) -> float:
            return (point[0] - line.point[0]) * line.along[0] + (point[1] - line.point[1]) * line.along[1]

        if not isinstance(face.surface, Plane):
            # The angle a file gives for a cone may be in another unit than it says; its edges are sure.
            first = min(ends, key=lambda p: (p[1], p[0]))
            last = max(ends, key=lambda p: (p[1], p[0]))
        else:
            first, last = min(ends, key=along), max(ends, key=along)
        length = hypot(last[0] - first[0], last[1] - first[1])
        if length < SHORT_MM:
            return None
        way = ((last[0] - first[0]) / length, (last[1] - first[1]) / length)
        normal = (way[1], -way[0])
        if isinstance(face.surface, Revolved | SplineSurface):
            outward = _by_loops(rings, first, last, way)
        else:
            hint = line.normal if isinstance(face.surface, Plane) else (1.0, 0.0)
            outward = (normal[0] * hint[0] + normal[1] * hint[1]) * (1 if face.same_sense else -1)
        off = max(
            abs((p[0] - line.point[0]) * line.along[1] - (p[1] - line.point[1]) * line.along[0]) for p in ends
        )
        piece = Line(first, last)
        return TurnedFace(face, (piece if outward > 0 else piece.reversed,), _widest(rings), off=off)

    def _round(self, face: Face, line: RoundMeridian, rings: Sequence[Ring]) -> TurnedFace | None:
        line = _that_side(line, rings)
        spans = self._spans(face, line, rings)
        sense = 1.0 if face.same_sense == line.outward else -1.0
        if isinstance(face.surface, Revolved | SplineSurface) and rings and spans:
            sense = _round_by_loops(rings, line, spans)
        pieces: list[Piece] = []
        for begin, walked in spans:
            count = 2 if walked > pi * 1.5 else 1
            for k in range(count):
                a, b = begin + walked * k / count, begin + walked * (k + 1) / count
                arc = Arc(_on(line, a, rings), _on(line, b, rings), line.centre, True)
                pieces.append(arc if sense > 0 else arc.reversed)
        if not pieces:
            return None
        off = max((abs(hypot(r.at[0] - line.centre[0], r.at[1] - line.centre[1]) - line.radius) for r in rings), default=0.0)
        return TurnedFace(face, tuple(pieces), _widest(rings) if rings else tau, off=off)

    def _spans(self, face: Face, line: RoundMeridian, rings: Sequence[Ring]) -> list[tuple[float, float]]:
        """The stretches of a round meridian that a face covers: begin, and angle walked counter-clockwise. [rad]"""
        if not rings and _is_closed(face):
            return [(-pi / 2, pi)] if line.centre[0] < ON_AXIS_MM else [(0.0, tau)]
        poles = [angle_on(line.centre, point) for point in self._on_axis(face)]
        if line.span is not None:
            begin, far = line.span
            if rings and not poles and self._winds(face):
                poles = [a for a in (begin, begin + far) if line.centre[0] + line.radius * cos(a) < COAXIAL_MM]
            places = [(angle_on(line.centre, ring.at) - begin) % tau for ring in rings] + [(p - begin) % tau for p in poles]
            places = [min(place, far) if place < (far + tau) / 2 else 0.0 for place in places]
            return [(begin + min(places), max(places) - min(places))] if max(places) - min(places) > 1e-9 else []
        if line.centre[0] < ON_AXIS_MM:  # a sphere: half a circle, from pole to pole
            angles = [angle_on(line.centre, ring.at) for ring in rings] + poles
            if rings and not poles and self._winds(face):
                up = sum(_counter(line, ring, face) * abs(ring.sweep) for ring in rings) > 0
                angles.append(pi / 2 if up else -pi / 2)
            return [(min(angles), max(angles) - min(angles))] if angles and max(angles) - min(angles) > 1e-9 else []
        begins = [angle_on(line.centre, ring.at) for ring in rings if _counter(line, ring, face) > 0]
        ends = [angle_on(line.centre, ring.at) for ring in rings if _counter(line, ring, face) < 0]
        if poles and not begins:
            begins = poles
        elif poles and not ends:
            ends = poles
        spans = [(a, min(_after(a, b) for b in ends)) for a in begins] if ends else []
        spans += [(b - walked, walked) for b in ends for walked in [min(_after(a, b) for a in begins)]] if begins else []
        return _joined(spans)

    def _sampled(self, face: Face, line: SampledMeridian, rings: Sequence[Ring]) -> TurnedFace | None:
        places = [_nearest(line.points, ring.at) for ring in rings]
        poles = self._on_axis(face)
        if rings and not poles and self._winds(face):
            poles = [point for point in (line.points[0], line.points[-1]) if point[0] < ON_AXIS_MM]
        places += [_nearest(line.points, point) for point in poles]
        if not rings or max(places) - min(places) < 1e-6:
            return None
        low, high = min(places), max(places)
        inner = [line.points[k] for k in range(int(low) + 1, int(high) + (1 if high > int(high) else 0))]
        points = [_at(line.points, low), *inner, _at(line.points, high)]
        signs = 0.0
        for place, ring in zip(places, rings, strict=False):
            end = 1.0 if place - low < 1e-6 else -1.0 if high - place < 1e-6 else 0.0
            signs += end * ring.sweep  # with the face on the left and the way onward: material on the left where positive
        pairs = [(a, b) for a, b in zip(points, points[1:], strict=False) if hypot(b[0] - a[0], b[1] - a[1]) > 1e-9]
        pieces = [Line(a, b) for a, b in pairs] if signs > 0 else [Line(b, a) for a, b in reversed(pairs)]
        return TurnedFace(face, tuple(pieces), _widest(rings), sampled=True)

    def _on_axis(self, face: Face) -> list[Point]:
        """Points of the face's edges on the axis."""
        points = list(face.points)
        for loop in face.loops:
            for edge, _ in loop:
                points.extend(edge.points if edge.circle is None else (edge.start, edge.end))
                if len(edge.points) == 2:
                    points.extend(self._passes(edge.start, edge.end))
        flat = [self.axis.rz(point) for point in points]
        return [(0.0, z) for r, z in flat if r < ON_AXIS_MM]

    def _passes(self, start: Vec, end: Vec) -> list[Vec]:
        """Where a straight edge runs nearest to the axis."""
        x0, y0, z0 = self.axis.local(start)
        x1, y1, z1 = self.axis.local(end)
        square = (x1 - x0) ** 2 + (y1 - y0) ** 2
        if square < ON_AXIS_MM**2:
            return []
        t = min(max(-(x0 * (x1 - x0) + y0 * (y1 - y0)) / square, 0.0), 1.0)
        return [self.axis.world((x0 + t * (x1 - x0), y0 + t * (y1 - y0), z0 + t * (z1 - z0)))]

    def _winds(self, face: Face) -> bool:
        """Does the axis go through the face? By how often its loops go round it."""
        turned = 0.0
        for loop in face.loops:
            for edge, forward in loop:
                ring = self.ring(edge)
                walked = ring.sweep if ring is not None else self._angle_along(edge)
                turned += walked if forward else -walked
        return abs(turned) > pi

    def _angle_along(self, edge: Edge) -> float:
        flat = [self.axis.local(point) for point in edge.points]
        return sum(
            atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1]) for a, b in zip(flat, flat[1:], strict=False)
        )


def _by_loops(rings: Sequence[Ring], first: Point, last: Point, way: Point) -> float:
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


def _round_by_loops(rings: Sequence[Ring], line: RoundMeridian, spans: Sequence[tuple[float, float]]) -> float:
    """1 where the outward normal points away from the centre, -1 where towards it, by the way the loops run."""
    signs = 0.0
    for ring in rings:
        angle = angle_on(line.centre, ring.at)
        for begin, walked in spans:
            if abs(_near(angle - begin)) < 1e-6:
                signs += ring.sweep
            elif abs(_near(angle - begin - walked)) < 1e-6:
                signs -= ring.sweep
    return 1.0 if signs >= 0 else -1.0


def _near(angle: float) -> float:
    return (angle + pi) % tau - pi


def _counter(line: RoundMeridian, ring: Ring, face: Face) -> float:
    """1 where the face goes on counter-clockwise from a circle of it, -1 where clockwise.

    The face lies on the left of its loop as seen from outside: into it points normal x way.
    """
    sense = 1.0 if face.same_sense == line.outward else -1.0
    out = ((ring.at[0] - line.centre[0]) * sense, (ring.at[1] - line.centre[1]) * sense)
    way = 1.0 if ring.sweep > 0 else -1.0
    into = (-out[1] * way, out[0] * way)
    angle = angle_on(line.centre, ring.at)
    return 1.0 if into[1] * cos(angle) - into[0] * sin(angle) > 0 else -1.0


def _after(begin: float, end: float) -> float:
    """The angle from ``begin`` counter-clockwise to ``end``; a whole turn where they are one."""
    walked = (end - begin) % tau
    return tau if walked < 1e-7 or walked > tau - 1e-7 else walked


def _joined(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
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


def _that_side(line: RoundMeridian, rings: Sequence[Ring]) -> RoundMeridian:
    """The circle with its centre beyond the axis, where the face lies on that half of a torus that crosses it."""
    across = replace(line, centre=(-line.centre[0], line.centre[1]))

    def off(one: RoundMeridian) -> float:
        return sum(abs(hypot(r.at[0] - one.centre[0], r.at[1] - one.centre[1]) - one.radius) for r in rings)

    return across if rings and off(across) + COAXIAL_MM < off(line) else line


def _on(line: RoundMeridian, angle: float, rings: Sequence[Ring]) -> Point:
    """The point of a round meridian at an angle: that of the edge there, which its neighbour has too."""
    r, z = line.centre[0] + line.radius * cos(angle), line.centre[1] + line.radius * sin(angle)
    for ring in rings:
        if hypot(ring.at[0] - r, ring.at[1] - z) < COAXIAL_MM:
            return ring.at
    return (0.0 if abs(r) < ON_AXIS_MM else r), z


def _widest(rings: Sequence[Ring]) -> float:
    """The largest angle that the circles at one place walk together."""
    sums: dict[tuple[int, int], float] = {}
    for ring in rings:
        key = (round(ring.at[0] * 1e4), round(ring.at[1] * 1e4))
        sums[key] = sums.get(key, 0.0) + abs(ring.sweep)
    return min(max(sums.values(), default=0.0), tau)


def _is_closed(face: Face) -> bool:
    """Is the face a whole surface: no edge but seams, which it walks both ways?"""
    ways: dict[int, list[bool]] = {}
    for loop in face.loops:
        for edge, forward in loop:
            ways.setdefault(edge.id, []).append(forward)
    return all(sorted(way) == [False, True] for way in ways.values())


def _nearest(points: Sequence[Point], to: Point) -> float:
    """Where on a row of points a point lies nearest: number of the point before it, and share of the way on."""
    best, far = 0.0, float("inf")
    for k, (a, b) in enumerate(zip(points, points[1:], strict=False)):
        dr, dz = b[0] - a[0], b[1] - a[1]
        square = dr * dr + dz * dz
        t = min(max(((to[0] - a[0]) * dr + (to[1] - a[1]) * dz) / square, 0.0), 1.0) if square else 0.0
        off = hypot(a[0] + t * dr - to[0], a[1] + t * dz - to[1])
        if off < far:
            best, far = k + t, off
    return best


def _at(points: Sequence[Point], place: float) -> Point:
    k = min(int(place), len(points) - 2)
    t, a, b = place - k, points[k], points[k + 1]
    return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])
