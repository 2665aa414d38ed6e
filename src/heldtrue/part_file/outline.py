"""The half section of a turned part as it was drawn: straight lines and true arcs, closed, about the z axis."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import acos, atan2, ceil, cos, hypot, pi, sin, tau

from heldtrue.errors import GeometryError
from heldtrue.mechanics.section import Section

CHORD_MM = 1e-3
"""How far chords may stand off an arc where straight pieces are needed: 1 um, far under what a lathe can hold."""
SAME_POINT_MM = 1e-5
"""Ends closer than this are one point; files round their numbers."""
TANGENT = 1e-4
"""Sine of the angle up to which a line runs smoothly into an arc."""

Point = tuple[float, float]
"""(r, z). [mm]"""


@dataclass(frozen=True)
class Line:
    """A straight piece of the outline."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """Its length. [mm]"""
        return hypot(self.end[0] - self.start[0], self.end[1] - self.start[1])

    @property
    def reversed(self) -> Line:
        """The same piece walked the other way."""
        return Line(self.end, self.start)

    @property
    def swept(self) -> float:
        """Integral of r**2 / 2 dz along it, what it adds to volume / (2 pi). [mm3]"""
        (r0, z0), (r1, z1) = self.start, self.end
        return (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1) / 6.0

    def direction(self, at_end: bool) -> Point:
        """Unit vector along the walk at its start or its end; the same here."""
        length = self.length
        return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length

    @property
    def z(self) -> tuple[float, float]:
        """Lowest and highest position along the axis. [mm]"""
        return min(self.start[1], self.end[1]), max(self.start[1], self.end[1])

    def points(self, chord: float) -> tuple[Point, ...]:
        """Its start; the end is the next piece's."""
        return (self.start,)


@dataclass(frozen=True)
class Arc:
    """A piece of a circle from ``start`` to ``end``, counter-clockwise in the (r, z) plane or clockwise."""

    start: Point
    end: Point
    centre: Point
    counterclockwise: bool

    @property
    def radius(self) -> float:
        """Its radius. [mm]"""
        return hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])

    @cached_property
    def turn(self) -> tuple[float, float]:
        """Angle at the start, and the signed angle walked. [rad]"""
        begin = atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        finish = atan2(self.end[1] - self.centre[1], self.end[0] - self.centre[0])
        walked = (finish - begin) % tau or tau
        return begin, walked if self.counterclockwise else walked - tau if walked < tau else -tau

    @property
    def length(self) -> float:
        """Its length. [mm]"""
        return self.radius * abs(self.turn[1])

    @property
    def reversed(self) -> Arc:
        """The same piece walked the other way."""
        return Arc(self.end, self.start, self.centre, not self.counterclockwise)

    @property
    def swept(self) -> float:
        """Integral of r**2 / 2 dz along it, what it adds to volume / (2 pi). [mm3]"""
        begin, walked = self.turn
        middle, radius = self.centre[0], self.radius

        def until(t: float) -> float:
            s = sin(t)
            return middle**2 * s + 2 * middle * radius * (t / 2 + sin(2 * t) / 4) + radius**2 * (s - s**3 / 3)

        return radius / 2 * (until(begin + walked) - until(begin))

    def direction(self, at_end: bool) -> Point:
        """Unit vector along the walk at its start or its end."""
        begin, walked = self.turn
        angle = begin + walked if at_end else begin
        sign = 1.0 if self.counterclockwise else -1.0
        return -sign * sin(angle), sign * cos(angle)

    @property
    def z(self) -> tuple[float, float]:
        """Lowest and highest position along the axis, also where the arc runs over its own top. [mm]"""
        begin, walked = self.turn
        found = [self.start[1], self.end[1]]
        for top in (pi / 2, -pi / 2):
            to_top = (top - begin) % tau if self.counterclockwise else (begin - top) % tau
            if to_top <= abs(walked):
                found.append(self.centre[1] + self.radius * sin(top))
        return min(found), max(found)

    def points(self, chord: float) -> tuple[Point, ...]:
        """Its start and points on it, so that no chord stands off by more than ``chord``."""
        begin, walked = self.turn
        step = 2 * acos(max(1 - chord / self.radius, 0.0)) if chord < self.radius else pi / 2
        count = max(ceil(abs(walked) / step), 2)
        on = [begin + walked * k / count for k in range(1, count)]
        return (
            self.start,
            *((self.centre[0] + self.radius * cos(t), self.centre[1] + self.radius * sin(t)) for t in on),
        )


Piece = Line | Arc


def as_one(one: Piece, two: Piece, near: float = SAME_POINT_MM) -> Piece | None:
    """Two pieces that follow each other as one, where they go on in one line or one circle; else ``None``.

    ``near``: how far centres and radii of one circle may differ. [mm] A circle is never closed this way: an arc that
    goes nearly all round has no direction left.
    """
    if isinstance(one, Line) and isinstance(two, Line):
        (p, q), (u, v) = one.direction(True), two.direction(False)
        off = abs(p * v - q * u) * min(one.length, two.length)
        return Line(one.start, two.end) if off < 1e-6 and p * u + q * v > 0 else None
    if isinstance(one, Arc) and isinstance(two, Arc) and one.counterclockwise == two.counterclockwise:
        apart = hypot(one.centre[0] - two.centre[0], one.centre[1] - two.centre[1])
        whole = abs(one.turn[1]) + abs(two.turn[1])
        if apart < near and abs(one.radius - two.radius) < near and whole < 0.95 * tau:
            return Arc(one.start, two.end, one.centre, one.counterclockwise)
    return None


@dataclass(frozen=True)
class OutlineCorner:
    """A corner of the outline as a setup file writes it: (r, z), and the radius where it is rounded. [mm]"""

    r: float
    z: float
    radius: float | None = None


@dataclass(frozen=True)
class Outline:
    """A closed half section, walked with the material on the left. Make one with :meth:`of`."""

    pieces: tuple[Piece, ...]

    @classmethod
    def of(cls, pieces: Iterable[Piece]) -> Outline:
        """Check that the pieces follow one another, close, stay at r >= 0 and do not cross; either direction.

        Raises: ``GeometryError``.
        """
        walked = tuple(pieces)
        if len(walked) < 2:
            raise GeometryError("the outline needs at least two pieces")
        for one, following in zip(walked, walked[1:] + walked[:1], strict=True):
            gap = hypot(following.start[0] - one.end[0], following.start[1] - one.end[1])
            if gap > SAME_POINT_MM:
                r, z = one.end
                raise GeometryError(f"the outline is open by {gap:.3g} mm at Ø{2 * r:.6g}, z {z:.6g}")
        Section.of(_corners_of(walked, CHORD_MM))  # refuses what crosses the axis or itself
        if sum(piece.swept for piece in walked) < 0:
            walked = tuple(piece.reversed for piece in reversed(walked))
        return cls(walked)

    @property
    def volume(self) -> float:
        """Volume of the body of revolution, arcs exact. [mm3]"""
        return 2 * pi * sum(piece.swept for piece in self.pieces)

    @property
    def z(self) -> tuple[float, float]:
        """Lowest and highest position along the axis. [mm]"""
        return min(piece.z[0] for piece in self.pieces), max(piece.z[1] for piece in self.pieces)

    @property
    def arcs(self) -> tuple[Arc, ...]:
        """The arcs alone."""
        return tuple(piece for piece in self.pieces if isinstance(piece, Arc))

    def polygon(self, chord: float = CHORD_MM) -> tuple[Point, ...]:
        """Corners with arcs as chords that stand off by ``chord`` at most. (r, z) [mm]"""
        return _corners_of(self.pieces, chord)

    def moved(self, along: float) -> Outline:
        """The same body moved along the axis. [mm]"""
        return Outline(tuple(_moved(piece, 1.0, along) for piece in self.pieces))

    def turned_round(self) -> Outline:
        """The same body with its ends swapped: z becomes -z."""
        return Outline(tuple(_moved(piece, -1.0, 0.0).reversed for piece in reversed(self.pieces)))

    def seated(self, low_end: bool) -> Outline:
        """The body with the end that seats on the jaws at z = 0: the end of low z, or the other one."""
        body = self if low_end else self.turned_round()
        return body.moved(-body.z[0])

    def corners(self, chord: float = CHORD_MM) -> tuple[OutlineCorner, ...]:
        """Corners as a setup file takes them: an arc smooth at both ends between two lines becomes a rounded corner,
        any other arc chords that stand off by ``chord`` at most."""
        count = len(self.pieces)
        found: list[OutlineCorner] = []
        rounded = {
            at: corner
            for at in range(count)
            if (corner := _rounding(*(self.pieces[(at + k) % count] for k in (-1, 0, 1)))) is not None
        }
        for at, piece in enumerate(self.pieces):
            if at in rounded:
                found.append(rounded[at])
            elif (at - 1) % count in rounded and isinstance(piece, Line):
                pass  # its start is where the rounding ends
            else:
                found.extend(OutlineCorner(r, z) for r, z in piece.points(chord))
        return tuple(found)


def closed(corners: Sequence[OutlineCorner]) -> Outline:
    """The outline of corners with roundings: the way back from :meth:`Outline.corners`.

    Raises: ``GeometryError`` where a rounding does not fit between its neighbours.
    """
    count = len(corners)
    points = [(corner.r, corner.z) for corner in corners]
    ends: list[tuple[Point, Point, Point | None]] = []
    for at, corner in enumerate(corners):
        if not corner.radius:
            ends.append((points[at], points[at], None))
            continue
        back, ahead = Line(points[at], points[at - 1]), Line(points[at], points[(at + 1) % count])
        a, b = back.direction(False), ahead.direction(False)
        opening = acos(max(-1.0, min(1.0, a[0] * b[0] + a[1] * b[1])))
        cut = corner.radius / max(sin(opening / 2) / cos(opening / 2), 1e-9)
        if cut > min(back.length, ahead.length) + SAME_POINT_MM:
            raise GeometryError(f"a rounding of {corner.radius:g} mm does not fit at Ø{2 * corner.r:g}, z {corner.z:g}")
        middle = (a[0] + b[0], a[1] + b[1])
        far = corner.radius / sin(opening / 2) / hypot(*middle)
        here = points[at]
        ends.append((
            (here[0] + cut * a[0], here[1] + cut * a[1]),
            (here[0] + cut * b[0], here[1] + cut * b[1]),
            (here[0] + far * middle[0], here[1] + far * middle[1]),
        ))  # fmt: skip
    pieces: list[Piece] = []
    for at, (begin, finish, centre) in enumerate(ends):
        if centre is not None:
            (ax, ay), (bx, by) = ((p[0] - centre[0], p[1] - centre[1]) for p in (begin, finish))
            pieces.append(Arc(begin, finish, centre, ax * by - ay * bx > 0))
        following = ends[(at + 1) % count][0]
        if hypot(following[0] - finish[0], following[1] - finish[1]) > SAME_POINT_MM:
            pieces.append(Line(finish, following))
    return Outline.of(pieces)


def _corners_of(pieces: Sequence[Piece], chord: float) -> tuple[Point, ...]:
    return tuple(point for piece in pieces for point in piece.points(chord))


def _moved(piece: Piece, sign: float, along: float) -> Piece:
    start, end = ((r, sign * z + along) for r, z in (piece.start, piece.end))
    if isinstance(piece, Line):
        return Line(start, end)
    r, z = piece.centre
    turns = piece.counterclockwise if sign > 0 else not piece.counterclockwise
    return replace(piece, start=start, end=end, centre=(r, sign * z + along), counterclockwise=turns)


def _rounding(before: Piece, arc: Piece, after: Piece) -> OutlineCorner | None:
    """The corner that an arc rounds, where it is smooth at both ends between two lines."""
    if not isinstance(arc, Arc) or not isinstance(before, Line) or not isinstance(after, Line):
        return None
    if abs(arc.turn[1]) > pi - 1e-3:
        return None
    a, b = before.direction(True), after.direction(False)
    at_start, at_end = arc.direction(False), arc.direction(True)
    if abs(_cross(a, at_start)) > TANGENT or abs(_cross(b, at_end)) > TANGENT:
        return None
    if a[0] * at_start[0] + a[1] * at_start[1] < 0 or b[0] * at_end[0] + b[1] * at_end[1] < 0:
        return None
    turn = _cross(a, b)
    if abs(turn) < TANGENT:
        return None
    gap = (arc.end[0] - arc.start[0], arc.end[1] - arc.start[1])
    far = _cross(gap, b) / turn
    return OutlineCorner(arc.start[0] + far * a[0], arc.start[1] + far * a[1], arc.radius)


def _cross(a: Point, b: Point) -> float:
    return a[0] * b[1] - a[1] * b[0]
