"""Triangles of a solid whose faces are flat, or round about lines along z: as near to it as asked, and closed.

Every edge is cut once, for both faces that meet in it: where a round face begins a new strip, and where its own curve
asks for it.  A round face then is a row of strips between two straight lines of it, so its triangles lie within the
height of an arc over its chord.  The mesher of the kernel makes even triangles: twenty times as many of them lie nine
times as far off (docs/boring.md), and it promises no height.  [mm, rad]
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import acos, hypot, pi

import netgen.occ as occ
import numpy as np
import shapely
from numpy.typing import NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.facet_edges import SNAP, SPARE, Key, Point3, Points, cut_edge, edge_key, xyz
from heldtrue.mechanics.jaw_outline import Point

Floats = NDArray[np.float64]
Line = tuple[Point, Point]

FLAT_MM = 1e-7
FINER = (1.0, 0.25, 0.05)
"""Where two edges of a face run so close that their straight pieces cross, finer ones do not."""


@dataclass(frozen=True)
class Facets:
    """A closed surface: ``points`` (n, 3) and ``triangles`` (m, 3), counter-clockwise as seen from outside.

    ``off``: the furthest that any of them lies from the face it stands for. [mm]
    """

    points: Floats
    triangles: NDArray[np.int64]
    off: float

    @property
    def volume(self) -> float:
        """Of what it encloses. [mm3]"""
        a, b, c = (self.points[self.triangles[:, i]] for i in range(3))
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def facets(solid: occ.TopoDS_Shape, chord: float) -> Facets:
    """The surface of a solid in triangles that lie within ``chord`` of it. [mm]

    Raises: ``GeometryError`` for a face of another kind, and where the triangles do not close or lie further off.
    """
    faces = [_Face.of(face) for face in solid.faces]
    for share in FINER:
        try:
            made = _facets(faces, chord * share)
            break
        except GeometryError:
            if share == FINER[-1]:
                raise
    if made.off > chord:
        raise GeometryError(f"triangles lie up to {made.off:.4g} mm off the jaw, asked were {chord:g} mm")
    return made


def _facets(faces: list[_Face], chord: float) -> Facets:
    widths = _strip_widths(faces, chord)
    points = Points()
    lines: dict[Key, list[int]] = {}
    axes: dict[Key, set[Point]] = {}
    for face in faces:
        for key in face.keys:
            axes.setdefault(key, set()).update(() if face.axis is None else (face.axis,))
    for face in faces:
        for key, edge in zip(face.keys, face.edges, strict=True):
            if key not in lines:
                met = (points.index(p) for p in cut_edge(edge, [(a, widths[a]) for a in sorted(axes[key])], chord))
                lines[key] = [i for i, _ in itertools.groupby(met)]
    table, parts = np.array(points.found), []
    for face in faces:
        width = 0.0 if face.axis is None else widths[face.axis]
        parts.append(_triangles(face, table, {key: lines[key] for key in face.keys}, width))
    triangles = _outwards(parts, table)
    return Facets(table, triangles, max(_off(face, table[part]) for face, part in zip(faces, parts, strict=True)))


@dataclass(frozen=True, eq=False)
class _Face:
    """A face: its ``axis`` (x, y) along z, or None where it is flat; ``base`` and ``slope``: radius at z 0, and per z.

    A flat one has ``origin`` and two ``across`` directions; ``edges`` as the kernel gives them, seams twice.
    """

    edges: list[occ.TopoDS_Shape]
    keys: list[Key]
    middle: Point3
    axis: Point | None = None
    base: float = 0.0
    slope: float = 0.0
    largest: float = 0.0
    origin: Floats = field(default_factory=lambda: np.zeros(3))
    across: Floats = field(default_factory=lambda: np.zeros((2, 3)))

    @classmethod
    def of(cls, face: occ.Face) -> _Face:
        middle, surface = xyz(face.center), face.surf
        at = np.array([xyz(surface.Value(u, 0.0)) for u in (0.0, 1.0, 2.0, pi, 2 * pi)])
        along = np.array([xyz(surface.Value(0.0, v)) for v in (1.0, 2.0)]) - at[0]
        ruled = np.abs(along[1] - 2 * along[0]).max() < FLAT_MM
        if ruled and np.abs(at[2] - 2 * at[1] + at[0]).max() < FLAT_MM:
            across = np.array([at[1] - at[0], along[0]])
            return cls(*_edges(face), middle, origin=at[0],
                       across=across / np.linalg.norm(across, axis=1, keepdims=True))  # fmt: skip
        centre = (at[0] + at[3]) / 2
        radius = float(np.linalg.norm(at[0] - at[3]) / 2)
        radii = np.linalg.norm(at[:4, :2] - centre[:2], axis=1)
        turned = np.ptp(at[:4, 2]) < FLAT_MM and np.ptp(radii) < FLAT_MM and np.abs(at[4] - at[0]).max() < FLAT_MM
        if not (ruled and turned) or abs(along[0, 2]) < FLAT_MM:
            # Nothing more is asked of such a face: the kernel may break off over its edges.
            raise GeometryError(f"a face near x {middle[0]:.4g}, y {middle[1]:.4g}, z {middle[2]:.4g} is neither flat "
                                "nor round about a line along z")  # fmt: skip
        slope = float(hypot(*(at[0] + along[0] - centre)[:2]) - radius) / float(along[0, 2])
        base = radius - slope * float(centre[2])
        edges, keys = _edges(face)
        heights = [xyz(end)[2] for edge in edges for end in (edge.start, edge.end)]
        largest = max(base + slope * z for z in heights)
        axis = round(float(centre[0]), 9), round(float(centre[1]), 9)
        return cls(edges, keys, middle, axis, base, slope, largest)

    def distance(self, points: Floats) -> Floats:
        """How far points (n, 3) lie from its surface, as it goes on past its edges. [mm]"""
        if self.axis is None:
            return np.asarray(np.abs((points - self.origin) @ np.cross(*self.across)))
        radii = np.hypot(points[:, 0] - self.axis[0], points[:, 1] - self.axis[1])
        return np.asarray(np.abs(radii - self.base - self.slope * points[:, 2]) / hypot(1.0, self.slope))


def _edges(face: occ.Face) -> tuple[list[occ.TopoDS_Shape], list[Key]]:
    found = [edge for wire in face.wires for edge in wire.edges]
    return found, [edge_key(edge) for edge in found]


def _strip_widths(faces: list[_Face], chord: float) -> dict[Point, float]:
    """How far round a strip reaches, by axis, in a whole number to the turn. [rad]"""
    largest: dict[Point, float] = {}
    for face in faces:
        if face.axis is not None:
            largest[face.axis] = max(largest.get(face.axis, 0.0), face.largest)
    return {axis: _width(radius, chord) for axis, radius in largest.items()}


def _width(radius: float, chord: float) -> float:
    most = 2 * acos(max(1 - SPARE * chord / radius, 0.5)) if radius > chord else pi / 3
    return float(2 * pi / np.ceil(2 * pi / most))


def _triangles(face: _Face, table: Floats, lines: Mapping[Key, list[int]], width: float) -> NDArray[np.int64]:
    """The triangles of one face (n, 3), all the same way round."""
    laid = _laid_flat(face, table, lines, width)
    numbers = {point: i for line in laid for i, point in line}
    boundary = {_pair(a, b) for line in laid for (_, a), (_, b) in itertools.pairwise(line) if a != b}
    whole = max(_pieces(boundary), key=lambda piece: shapely.Polygon(piece.exterior).area)
    strips = boundary | (_strip_lines(boundary, whole) if face.axis is not None else set())
    found = []
    for piece in _pieces(strips):
        if not whole.contains(piece.representative_point()):
            continue
        for triangle in shapely.constrained_delaunay_triangles(piece).geoms:
            ring = triangle.exterior.coords[:3]
            (ax, ay), (bx, by), (cx, cy) = ring
            a, b, c = (numbers[point] for point in ring)
            found.append((a, b, c) if (bx - ax) * (cy - ay) > (by - ay) * (cx - ax) else (a, c, b))
    return np.array(found, dtype=np.int64).reshape(-1, 3)


def _laid_flat(
    face: _Face, table: Floats, lines: Mapping[Key, list[int]], width: float
) -> list[list[tuple[int, Point]]]:  # fmt: skip
    """The edges of a face in its own plane, each point with its number: round faces unrolled, seams at both ends."""
    if face.axis is None:
        flat = (table - face.origin) @ face.across.T
        return [[(i, (float(flat[i, 0]), float(flat[i, 1]))) for i in line] for line in lines.values()]
    times = Counter(face.keys)
    seams = [key for key in lines if times[key] > 1]
    away = table[lines[seams[0]][0]][:2] - face.axis if seams else np.subtract(face.axis, face.middle[:2])
    start = float(np.arctan2(away[1], away[0]))
    laid = []
    for key, line in lines.items():
        away = table[line][:, :2] - face.axis
        angles = (np.arctan2(away[:, 1], away[:, 0]) - start) % (2 * pi)
        if key in seams:
            ways = [np.zeros(len(line)), np.full(len(line), 2 * pi)]
        else:
            for end, next_to in ((0, 1), (-1, -2)):  # what lies on the seam belongs to the side it comes from
                if min(angles[end], 2 * pi - angles[end]) < SNAP * width:
                    angles[end] = 0.0 if angles[next_to] < pi else 2 * pi
            ways = [angles]
        laid += [_unrolled(face, table, line, way, start, width) for way in ways]
    return laid


def _unrolled(
    face: _Face, table: Floats, line: list[int], angles: Floats, start: float, width: float
) -> list[tuple[int, Point]]:  # fmt: skip
    numbers = np.round((start + angles) / width)
    begins = np.abs((start + angles) / width - numbers) < SNAP
    across = np.where(begins, numbers * width - start, angles) * face.largest
    along = table[line][:, 2] * hypot(1.0, face.slope)
    return [(i, (float(u), float(v))) for i, u, v in zip(line, across, along, strict=True)]


def _pair(a: Point, b: Point) -> Line:
    return (a, b) if a < b else (b, a)


def _pieces(lines: set[Line]) -> list[shapely.Polygon]:
    """The areas between lines that meet in their ends."""
    found = shapely.polygonize([shapely.LineString(pair) for pair in sorted(lines)]).geoms
    if not found:
        raise GeometryError("the edges of a face of the jaw do not close")
    return list(found)


def _strip_lines(boundary: set[Line], whole: shapely.Polygon) -> set[Line]:
    """Straight lines of a round face from one edge of it to the other."""
    columns: dict[float, set[Point]] = {}
    for point in {point for pair in boundary for point in pair}:
        columns.setdefault(point[0], set()).add(point)
    found = set()
    for column in columns.values():
        for a, b in itertools.pairwise(sorted(column)):
            if (a, b) not in boundary and whole.contains(shapely.Point(a[0], (a[1] + b[1]) / 2)):
                found.add((a, b))
    return found


def _outwards(parts: list[NDArray[np.int64]], table: Floats) -> NDArray[np.int64]:
    """All triangles counter-clockwise from outside. Raises: ``GeometryError`` where they do not close."""
    owners: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for number, part in enumerate(parts):
        for a, b in _directed(part):
            owners.setdefault((min(a, b), max(a, b)), []).append((number, 1 if a < b else -1))
    if any(len(pair) != 2 for pair in owners.values()):
        raise GeometryError("the triangles of the jaw do not close: its faces leave a gap, or touch in a line")
    neighbours: dict[int, list[tuple[int, int]]] = {}
    for (one, way), (other, back) in owners.values():
        if one != other:
            neighbours.setdefault(one, []).append((other, -way * back))
            neighbours.setdefault(other, []).append((one, -way * back))
        elif way == back:
            raise GeometryError("the triangles of a face of the jaw lie over one another")
    signs, waiting = {0: 1}, [0]
    while waiting:
        one = waiting.pop()
        for other, turned in neighbours.get(one, ()):
            if other not in signs:
                signs[other] = turned * signs[one]
                waiting.append(other)
            elif signs[other] != turned * signs[one]:
                raise GeometryError("the triangles of the jaw have no one outside")
    if len(signs) != len(parts):
        raise GeometryError("the faces of the jaw do not hang together")
    found = np.concatenate([part if signs[i] > 0 else part[:, ::-1] for i, part in enumerate(parts)])
    return found if Facets(table, found, 0.0).volume > 0 else found[:, ::-1]


def _directed(triangles: NDArray[np.int64]) -> list[tuple[int, int]]:
    return [(int(one[i]), int(one[j])) for one in triangles for i, j in ((0, 1), (1, 2), (2, 0))]


def _off(face: _Face, triangles: Floats) -> float:
    """How far triangles (n, 3, 3) lie from the surface of their face: at corners, middles of edges, and their own."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    looked_at = np.concatenate([a, b, c, (a + b) / 2, (b + c) / 2, (c + a) / 2, (a + b + c) / 3])
    return float(face.distance(looked_at).max())
