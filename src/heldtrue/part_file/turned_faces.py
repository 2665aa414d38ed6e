"""Which faces of a solid turn about an axis, and how far each reaches in the half section.

How far a face reaches is read only from those of its edges that are circles about the axis, and from points of it on
the axis: the shoulder that a flat leaves is a plane across the axis too, but nothing of it is turned.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import atan2, cos, hypot, pi, tau

from heldtrue.part_file.curves import Straight
from heldtrue.part_file.faces import Edge, Face, Plane, Revolved, SplineSurface
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
from heldtrue.part_file.rings import (
    ON_AXIS_MM,
    Ring,
    after,
    by_loops,
    counter,
    joined,
    nearest,
    point_at,
    point_on,
    round_by_loops,
    that_side,
    widest,
)
from heldtrue.part_file.vectors import Frame, Vec, dot

SHORT_MM = 1e-4
"""A face that reaches less than this in the section is not a piece of it."""


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
    """A solid seen along one axis; keeps which edges are circles about it.

    ``reach``: by the number of a face, how far it reaches to walls that do not turn (see ``walls``).
    """

    axis: Frame
    reach: Mapping[int, tuple[Point, ...]] = field(default_factory=dict)
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
        walls = self.reach.get(face.id, ())
        ends = [ring.at for ring in rings] + self._on_axis(face) + list(walls)
        is_bounded = bool(rings or walls)
        if is_bounded and line.along[0] and not any(r < ON_AXIS_MM for r, _ in ends) and self._winds(face):
            ends.append((0.0, line.point[1] - line.point[0] / line.along[0] * line.along[1]))
        if not is_bounded or not ends:
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
            outward = by_loops(rings, first, last, way)
        else:
            hint = line.normal if isinstance(face.surface, Plane) else (1.0, 0.0)
            outward = (normal[0] * hint[0] + normal[1] * hint[1]) * (1 if face.same_sense else -1)
        off = max(abs((p[0] - line.point[0]) * line.along[1] - (p[1] - line.point[1]) * line.along[0]) for p in ends)
        piece = Line(first, last)
        sweep = widest(rings) if rings else tau
        return TurnedFace(face, (piece if outward > 0 else piece.reversed,), sweep, off=off)

    def _round(self, face: Face, line: RoundMeridian, rings: Sequence[Ring]) -> TurnedFace | None:
        line = that_side(line, rings)
        spans = self._spans(face, line, rings)
        sense = 1.0 if face.same_sense == line.outward else -1.0
        if isinstance(face.surface, Revolved | SplineSurface) and rings and spans:
            sense = round_by_loops(rings, line, spans)
        pieces: list[Piece] = []
        for begin, walked in spans:
            count = 2 if walked > pi * 1.5 else 1
            for k in range(count):
                a, b = begin + walked * k / count, begin + walked * (k + 1) / count
                arc = Arc(point_on(line, a, rings), point_on(line, b, rings), line.centre, True)
                pieces.append(arc if sense > 0 else arc.reversed)
        if not pieces:
            return None
        off = max(
            (abs(hypot(r.at[0] - line.centre[0], r.at[1] - line.centre[1]) - line.radius) for r in rings), default=0.0
        )
        return TurnedFace(face, tuple(pieces), widest(rings) if rings else tau, off=off)

    def _spans(self, face: Face, line: RoundMeridian, rings: Sequence[Ring]) -> list[tuple[float, float]]:
        """The stretches of a round meridian that a face covers: begin, and angle walked counter-clockwise. [rad]"""
        if not rings and _is_closed(face):
            return [(-pi / 2, pi)] if line.centre[0] < ON_AXIS_MM else [(0.0, tau)]
        poles = [angle_on(line.centre, point) for point in self._on_axis(face)]
        if line.span is not None:
            begin, far = line.span
            if rings and not poles and self._winds(face):
                poles = [a for a in (begin, begin + far) if line.centre[0] + line.radius * cos(a) < COAXIAL_MM]
            places = [(angle_on(line.centre, ring.at) - begin) % tau for ring in rings] + [
                (p - begin) % tau for p in poles
            ]
            places = [min(place, far) if place < (far + tau) / 2 else 0.0 for place in places]
            return [(begin + min(places), max(places) - min(places))] if max(places) - min(places) > 1e-9 else []
        if line.centre[0] < ON_AXIS_MM:  # a sphere: half a circle, from pole to pole
            angles = [angle_on(line.centre, ring.at) for ring in rings] + poles
            if rings and not poles and self._winds(face):
                up = sum(counter(line, ring, face) * abs(ring.sweep) for ring in rings) > 0
                angles.append(pi / 2 if up else -pi / 2)
            return [(min(angles), max(angles) - min(angles))] if angles and max(angles) - min(angles) > 1e-9 else []
        begins = [angle_on(line.centre, ring.at) for ring in rings if counter(line, ring, face) > 0]
        ends = [angle_on(line.centre, ring.at) for ring in rings if counter(line, ring, face) < 0]
        if poles and not begins:
            begins = poles
        elif poles and not ends:
            ends = poles
        spans = [(a, min(after(a, b) for b in ends)) for a in begins] if ends else []
        spans += [(b - walked, walked) for b in ends for walked in [min(after(a, b) for a in begins)]] if begins else []
        return joined(spans)

    def _sampled(self, face: Face, line: SampledMeridian, rings: Sequence[Ring]) -> TurnedFace | None:
        places = [nearest(line.points, ring.at) for ring in rings]
        poles = self._on_axis(face)
        if rings and not poles and self._winds(face):
            poles = [point for point in (line.points[0], line.points[-1]) if point[0] < ON_AXIS_MM]
        places += [nearest(line.points, point) for point in poles]
        if not rings or max(places) - min(places) < 1e-6:
            return None
        low, high = min(places), max(places)
        inner = [line.points[k] for k in range(int(low) + 1, int(high) + (1 if high > int(high) else 0))]
        points = [point_at(line.points, low), *inner, point_at(line.points, high)]
        signs = 0.0
        for place, ring in zip(places, rings, strict=False):
            end = 1.0 if place - low < 1e-6 else -1.0 if high - place < 1e-6 else 0.0
            signs += (
                end * ring.sweep
            )  # with the face on the left and the way onward: material on the left where positive
        pairs = [(a, b) for a, b in itertools.pairwise(points) if hypot(b[0] - a[0], b[1] - a[1]) > 1e-9]
        pieces = [Line(a, b) for a, b in pairs] if signs > 0 else [Line(b, a) for a, b in reversed(pairs)]
        return TurnedFace(face, tuple(pieces), widest(rings), sampled=True)

    def _on_axis(self, face: Face) -> list[Point]:
        """Points of the face's edges on the axis."""
        points = list(face.points)
        for loop in face.loops:
            for edge, _ in loop:
                if isinstance(edge.curve, Straight):
                    points.extend((edge.start, edge.end, *self._passes(edge.start, edge.end)))
                else:
                    points.extend((edge.start, edge.end) if edge.circle is not None else edge.points)
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
        return sum(atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1]) for a, b in itertools.pairwise(flat))


def _is_closed(face: Face) -> bool:
    """Is the face a whole surface: no edge but seams, which it walks both ways?"""
    ways: dict[int, list[bool]] = {}
    for loop in face.loops:
        for edge, forward in loop:
            ways.setdefault(edge.id, []).append(forward)
    return all(sorted(way) == [False, True] for way in ways.values())
