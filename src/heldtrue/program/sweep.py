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
from heldtrue.program.job import BoringTool
from heldtrue.program.nose import main_edge
from heldtrue.program.target import mirrored

FINE_MM, COARSE_MM = 5e-5, 5e-4
"""How far chords may lie inside the true circle: where the finished line is made, and elsewhere."""


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
        hulls = {s: _hull(np.vstack([c, self.edge])) for s, c in self._circles.items()}
        self._corners = {s: shapely.get_coordinates(hull) for s, hull in hulls.items()}
        corners = np.vstack([self._circles[COARSE_MM], self.edge])
        self.low, self.high = corners.min(axis=0) - COARSE_MM, corners.max(axis=0) + COARSE_MM

    def covered(self, piece: Piece, sagitta: float) -> BaseGeometry:
        """The area that nose and edge cover along ``piece`` of their centre's way."""
        if isinstance(piece, Line):
            return self._along_line(piece, sagitta)
        parts = [self._nose_along(piece, sagitta)]
        way = np.array(points_along(piece, sagitta))
        parts += [_hull(np.vstack([self.edge + a, self.edge + b])) for a, b in itertools.pairwise(way)]
        return shapely.union_all(parts)

    def along_lines(self, lines: Sequence[Line], sagitta: float) -> list[BaseGeometry]:
        """The same for many straight moves at once, which costs a few microseconds each."""
        corners = self._corners[sagitta]
        a, b = np.array([one.start for one in lines]), np.array([one.end for one in lines])
        way = b - a
        length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)[:, None]
        normal = self.radius * np.stack([way[:, 1], -way[:, 0]], axis=1) / length
        own = np.concatenate([np.broadcast_to(corners, (len(lines), *corners.shape)),
                              normal[:, None], -normal[:, None]], axis=1)  # fmt: skip
        return _hulls(np.concatenate([own + a[:, None], own + b[:, None]], axis=1))

    def _along_line(self, line: Line, sagitta: float) -> BaseGeometry:
        corners, length = self._corners[sagitta], line.length
        if length < 1e-9:
            return shapely.polygons(corners + line.start)
        normal = self.radius * np.array([line.end[1] - line.start[1], line.start[0] - line.end[0]]) / length
        corners = np.concatenate([corners, [normal, -normal]])
        return _hull(np.concatenate([corners + line.start, corners + line.end]))

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
        self.parts = [np.array(shapely.get_coordinates(p))[:-1] for p in _convex_parts(shape)]
        corners = np.vstack(self.parts)
        self.low, self.high = corners.min(axis=0), corners.max(axis=0)
        self.boxes = [(tuple(part.min(axis=0).tolist()), tuple(part.max(axis=0).tolist())) for part in self.parts]

    def covered(self, piece: Piece) -> list[BaseGeometry]:
        """The areas that the parts cover along ``piece`` of the nose centre's way, arcs within 0.5 um."""
        return [area for part in range(len(self.parts)) for area in self.covered_by(part, piece)]

    def along_lines(self, part: int, lines: Sequence[Line]) -> list[BaseGeometry]:
        """What one part covers along each of many straight moves."""
        corners = self.parts[part]
        a, b = np.array([one.start for one in lines]), np.array([one.end for one in lines])
        return _hulls(np.concatenate([corners + a[:, None], corners + b[:, None]], axis=1))

    def covered_by(self, part: int, piece: Piece) -> list[BaseGeometry]:
        """What one part covers along ``piece``."""
        corners, way = self.parts[part], np.array(points_along(piece, COARSE_MM))
        return [_hull(np.concatenate([corners + a, corners + b])) for a, b in itertools.pairwise(way)]


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


def _hulls(points: Floats) -> list[BaseGeometry]:
    """Hulls of many sets of as many points, shape (sets, points, 2)."""
    return list(shapely.convex_hull(shapely.linestrings(points)))


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
