"""What a tool covers while it moves: nose and main edge together, and the holder; x in the cutting direction. [mm]

A straight move of a convex shape covers the hull of its two ends, which is exact; the nose circle is drawn with chords
inside it that stay within a stated distance, with the points that touch the covered strip's sides exact.  Along an arc
the nose covers an annular sector and two circles.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from math import ceil, cos, hypot, pi, sin

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.errors import GeometryError
from heldtrue.program.geometry import Arc, Floats, Line, Piece, chord_angle, points_along
from heldtrue.program.job import BoringTool, Point
from heldtrue.program.nose import main_edge
from heldtrue.program.target import mirrored

FINE_MM, COARSE_MM = 5e-5, 5e-4
"""How far chords may lie inside the true circle: where the finished line is made, and elsewhere."""
SHORTEST_MM = 1e-9
"""A shorter move has no direction."""
SHADOW_MM = 1000.0
"""How far behind nose and edge their shadow reaches: beyond any holder."""


class Cutter:
    """The round nose and the main cutting edge as one convex drop, about the nose centre."""

    def __init__(self, tool: BoringTool, side: int) -> None:
        self.radius = tool.nose_radius
        start, end = main_edge(tool, side)
        start, end = (side * start[0], start[1]), (side * end[0], end[1])
        length = hypot(*end)
        along = (end[0] / length, end[1] / length)
        dot = start[0] * along[0] + start[1] * along[1]
        other = (2 * dot * along[0] - start[0], 2 * dot * along[1] - start[1])
        self.edge = np.array([start, end, other])
        self._circles = {s: _circle(self.radius, s) for s in (FINE_MM, COARSE_MM)}
        self._corners = {s: _corners(_hull(np.vstack([c, self.edge]))) for s, c in self._circles.items()}
        corners = np.vstack([self._circles[COARSE_MM], self.edge])
        self.low, self.high = corners.min(axis=0) - COARSE_MM, corners.max(axis=0) + COARSE_MM

    def covered(self, piece: Piece, sagitta: float) -> BaseGeometry:
        """The area that nose and edge cover along ``piece`` of their centre's way."""
        if isinstance(piece, Line):
            return self.along_lines([piece], sagitta)[0]
        parts = [self._nose_along(piece, sagitta)]
        way = np.array(points_along(piece, sagitta))
        parts += [_hull(np.vstack([self.edge + a, self.edge + b])) for a, b in itertools.pairwise(way)]
        return shapely.union_all(parts)

    def along_lines(self, lines: Sequence[Line], sagitta: float) -> list[BaseGeometry]:
        """The same for many straight moves at once, which costs a few microseconds each."""
        return along_lines(self._corners[sagitta], lines, self.radius)

    def at(self, place: Point) -> BaseGeometry:
        """The area that they cover where they stand."""
        return shapely.polygons(self._corners[COARSE_MM] + place)

    def shadow(self, way: Point) -> BaseGeometry:
        """All that lies in or behind nose and edge as they move along the unit vector ``way``."""
        corners = self._corners[COARSE_MM]
        back = np.array(way) * -SHADOW_MM
        return _hull(np.concatenate([corners, corners + back])).buffer(2 * COARSE_MM, join_style="mitre")

    def _nose_along(self, arc: Arc, sagitta: float) -> BaseGeometry:
        circle, reach = self._circles[sagitta], arc.radius + self.radius
        inner = max(arc.radius - self.radius, 0.0)
        count = max(1, ceil(abs(arc.turn) / chord_angle(reach, sagitta)))
        angles = arc.angle + arc.turn * np.arange(count + 1) / count
        round_ = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        ring = np.vstack([arc.centre + reach * round_, arc.centre + inner * round_[::-1]])
        ends = [shapely.polygons(circle + p) for p in (arc.start, arc.end)]
        return shapely.union_all([shapely.polygons(ring).buffer(0), *ends])


class Holder:
    """Insert and holder in convex parts, without what a drawing to the sharp tip adds beyond the round nose."""

    def __init__(self, tool: BoringTool, side: int) -> None:
        shape = shapely.Polygon(mirrored(tool.shank, side))
        if not shape.is_valid or shape.area <= 0:
            raise GeometryError(f"the outline of tool {tool.number} crosses itself or has no area")
        shape = shape.difference(shapely.box(0.0, -tool.nose_radius, tool.nose_radius, 0.0))
        if shape.area < 1e-9:
            raise GeometryError(
                f"the outline of tool {tool.number} lies all within its nose; give the insert and holder"
            )
        self.parts = [_corners(p) for p in _convex_parts(shape)]
        corners = np.vstack(self.parts)
        self.low, self.high = corners.min(axis=0), corners.max(axis=0)
        self.boxes = [(tuple(part.min(axis=0).tolist()), tuple(part.max(axis=0).tolist())) for part in self.parts]

    def covered(self, piece: Piece) -> list[BaseGeometry]:
        """The areas that the parts cover along ``piece`` of the nose centre's way, arcs within 0.5 um."""
        return [area for part in range(len(self.parts)) for area in self.covered_by(part, piece)]

    def along_lines(self, part: int, lines: Sequence[Line]) -> list[BaseGeometry]:
        """What one part covers along each of many straight moves."""
        return along_lines(self.parts[part], lines)

    def covered_by(self, part: int, piece: Piece) -> list[BaseGeometry]:
        """What one part covers along ``piece``."""
        return self.along_lines(part, _chords(piece))


class Ahead:
    """What of a holder goes before nose and edge, by the way it moves: metal there is met before it can be cut.

    A point of the holder in the shadow of nose and edge comes only to where they have been; all others come first.
    """

    def __init__(self, cutter: Cutter, holder: Holder) -> None:
        self._cutter = cutter
        self._holder = shapely.union_all([shapely.polygons(part) for part in holder.parts])
        self._known: dict[Point, list[Floats]] = {}

    def along(self, lines: Sequence[Line]) -> list[list[BaseGeometry]]:
        """What is met first along each of many straight moves, in convex parts; those of one direction at once."""
        found: list[list[BaseGeometry]] = [[] for _ in lines]
        by_way: dict[Point, list[int]] = {}
        for number, line in enumerate(lines):
            length = line.length
            if length >= SHORTEST_MM:
                way = ((line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length)
                by_way.setdefault((round(way[0], 9), round(way[1], 9)), []).append(number)
        for way, some in by_way.items():
            for part in self._first(way):
                for number, area in zip(some, along_lines(part, [lines[i] for i in some]), strict=True):
                    found[number].append(area)
        return found

    def _first(self, way: Point) -> list[Floats]:
        found = self._known.get(way)
        if found is None:
            first = self._holder.difference(self._cutter.shadow(way))
            found = self._known[way] = [_corners(part) for part in _convex_parts(first)]
        return found

    def before(self, piece: Piece) -> list[tuple[BaseGeometry, BaseGeometry]]:
        """Along ``piece``, chord by chord: what is met first, and what nose and edge have covered until then."""
        found = []
        chords = _chords(piece)
        for number, chord in enumerate(chords):
            cut = self._cutter.at(chord.start)
            if number:
                cut = shapely.union(cut, self._cutter.covered(piece.part(0.0, number / len(chords)), COARSE_MM))
            found += [(area, cut.buffer(2 * COARSE_MM)) for area in self.along([chord])[0]]
        return found


def along_lines(corners: Floats, lines: Sequence[Line], radius: float | None = None) -> list[BaseGeometry]:
    """What a convex shape covers along each of many straight moves.

    ``corners``: (m, 2), counter-clockwise; ``radius``: of a circle about its origin that the corners draw, whose points
    on the sides of the strip are then exact.  A move of no length covers the shape where it stands.
    """
    a, b = (np.array(ends, dtype=float).reshape(-1, 2)
            for ends in ([one.start for one in lines], [one.end for one in lines]))  # fmt: skip
    count, rows, way = len(corners), np.arange(len(a)), b - a
    length = np.hypot(way[:, 0], way[:, 1])[:, None]
    way = np.where(length > SHORTEST_MM, way / np.maximum(length, SHORTEST_MM), [1.0, 0.0])
    side = np.stack([way[:, 1], -way[:, 0]], axis=1)
    across, forward = side @ corners.T, way @ corners.T
    first, last = across.argmax(axis=1), across.argmin(axis=1)
    right, left = corners[first], corners[last]
    if radius is not None:
        touches = radius >= across[rows, first]
        right = np.where(touches[:, None], radius * side, right)
        begin = first + (touches & (forward[rows, first] < 0))
        touches = radius >= -across[rows, last]
        left = np.where(touches[:, None], -radius * side, left)
        first, last = begin, last - (touches & (forward[rows, last] < 0))
    # Round the strip: its right side where the move ends, the front of the shape there, its left side to where the
    # move starts, the back of the shape there.
    front = ((last - first) % count + 1)[:, None]
    k = np.arange(count + 4)[None]
    points = corners[(first[:, None] + np.where(k <= front, k - 1, k - 3)) % count]
    points = points + np.where((k <= front + 1)[..., None], b[:, None], a[:, None])
    points[:, 0], points[:, -1] = right + b, right + a
    points[rows, front[:, 0] + 1], points[rows, front[:, 0] + 2] = left + b, left + a
    found = shapely.polygons(points)
    spoilt = ~shapely.is_valid(found)
    if spoilt.any():
        found[spoilt] = shapely.convex_hull(found[spoilt])
    return list(found)


def reach(piece: Piece) -> tuple[float, float, float, float]:
    """Least and largest x and z on a piece. [mm]"""
    (x, z), (u, w) = piece.start, piece.end
    xs, zs = [x, u], [z, w]
    if isinstance(piece, Arc):
        for quarter in range(4):
            angle = quarter * pi / 2
            turned = (angle - piece.angle) * (1 if piece.turn > 0 else -1) % (2 * pi)
            if turned <= abs(piece.turn):
                xs.append(piece.centre[0] + piece.radius * cos(angle))
                zs.append(piece.centre[1] + piece.radius * sin(angle))
    return min(xs), min(zs), max(xs), max(zs)


def _circle(radius: float, sagitta: float) -> Floats:
    count = 4 * ceil(pi / 2 / chord_angle(radius, sagitta))
    angles = 2 * pi * np.arange(count) / count
    return radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)


def _chords(piece: Piece) -> list[Line]:
    return [Line(a, b) for a, b in itertools.pairwise(points_along(piece, COARSE_MM))]


def _corners(shape: BaseGeometry) -> Floats:
    """The corners of a convex shape, each once, counter-clockwise."""
    return np.array(shapely.get_coordinates(shapely.orient_polygons(shape)))[:-1]


def _hull(points: Floats) -> BaseGeometry:
    return shapely.convex_hull(shapely.linestrings(points))


def _convex_parts(shape: BaseGeometry) -> list[BaseGeometry]:
    """Triangles of ``shape``, joined while they stay convex."""
    parts = [t for t in shapely.constrained_delaunay_triangles(shape).geoms if t.area > 1e-9]
    joined = True
    while joined:
        joined = False
        for i in range(len(parts)):
            for j in range(i + 1, len(parts)):
                both = shapely.union(parts[i], parts[j])
                if both.geom_type == "Polygon" and both.convex_hull.area - both.area < 1e-9:
                    parts[i] = both.convex_hull
                    del parts[j]
                    joined = True
                    break
            if joined:
                break
    return parts
