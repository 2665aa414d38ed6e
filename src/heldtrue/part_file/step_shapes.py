"""Reads the faces and edges of a STEP solid, in mm and rad, in the solid's own place."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from heldtrue.errors import InputError
from heldtrue.part_file.curves import Curve, Ellipse, Hyperbola, Parabola, Spline, Straight, spline
from heldtrue.part_file.exchange_text import Choice, Entity, Exchange
from heldtrue.part_file.faces import Cone, Edge, Face, OtherSurface, Plane, Revolved, SplineSurface, Surface, Torus
from heldtrue.part_file.vectors import Frame, Vec, cross, dot, unit

DEEPEST_CURVE = 16
"""Curves that stand on curves; more is a circle of references."""
LARGEST_MM = 1e6
"""A coordinate over a kilometre is no part for a lathe."""


@dataclass
class Shapes:
    """Reads points, curves, surfaces and faces of one file. ``length``: mm in one unit of it; ``angle``: rad in one."""

    file: Exchange
    length: float = 1.0
    angle: float = 1.0
    _edges: dict[int, Edge] = field(default_factory=dict)
    _vertices: dict[int, Vec] = field(default_factory=dict)

    def faces(self, shell: Any) -> list[Face]:
        """The faces of a shell. Raises: ``InputError``."""
        entity = self.file[shell]
        if entity.name == "ORIENTED_CLOSED_SHELL":
            return [
                self._turned_over(face) if not _true(entity.values[3]) else face
                for face in self.faces(entity.values[2])
            ]
        if not entity.has("CLOSED_SHELL", "OPEN_SHELL"):
            raise InputError(f"#{entity.id} of the STEP file is no shell of a solid: {entity.name}")
        return [self.face(self.file[one]) for one in _many(entity, 1)]

    @staticmethod
    def _turned_over(face: Face) -> Face:
        loops = tuple(tuple((edge, not forward) for edge, forward in reversed(loop)) for loop in face.loops)
        return Face(face.id, face.name, face.surface, not face.same_sense, loops, face.points)

    def face(self, entity: Entity) -> Face:
        """A face. Raises: ``InputError``."""
        with_placed = entity.part("FACE_SURFACE") if entity.name not in ("ADVANCED_FACE", "FACE_SURFACE") else None
        values = entity.values if with_placed is None else ("", _bounds(entity), *with_placed)
        if len(values) < 4 or not isinstance(values[1], tuple):
            raise InputError(f"#{entity.id} of the STEP file is no face of a solid: {entity.name}")
        loops, points = [], []
        for bound in values[1]:
            one = self.file[bound]
            loop = self.file[_at(one, 1)]
            if loop.name == "VERTEX_LOOP":
                points.append(self.vertex(_at(loop, 1)))
            elif loop.name == "EDGE_LOOP":
                edges = [self._oriented(edge) for edge in _many(loop, 1)]
                if not _true(_at(one, 2)):
                    edges = [(edge, not forward) for edge, forward in reversed(edges)]
                loops.append(tuple(edges))
            else:
                raise InputError(
                    f"#{loop.id} of the STEP file bounds a face by a {loop.name}, which is not read; export exact faces"
                )
        name = values[0] if isinstance(values[0], str) else ""
        return Face(entity.id, name, self.surface(values[2]), _true(values[3]), tuple(loops), tuple(points))

    def _oriented(self, ref: Any) -> tuple[Edge, bool]:
        plain = self.file.oriented_edge(ref)
        if plain is not None:
            return self._edges.get(plain[0]) or self.edge(self.file[plain[0]]), plain[1]
        entity = self.file[ref]
        if entity.name == "ORIENTED_EDGE":
            ref = _at(entity, 3)
            known = self._edges.get(ref)
            return known or self.edge(self.file[ref]), _true(_at(entity, 4))
        return self.edge(entity), True

    def edge(self, entity: Entity) -> Edge:
        """An edge. Raises: ``InputError``."""
        found = self._edges.get(entity.id)
        if found is None:
            if entity.name != "EDGE_CURVE":
                raise InputError(f"#{entity.id} of the STEP file is no edge with a curve: {entity.name}")
            curve, agrees = self.curve(self.file.curve_in_space(_at(entity, 3)))
            start, end = self.vertex(_at(entity, 1)), self.vertex(_at(entity, 2))
            found = self._edges[entity.id] = Edge(entity.id, start, end, curve, _true(_at(entity, 4)) == agrees)
        return found

    def vertex(self, ref: Any) -> Vec:
        """The point of a vertex. Raises: ``InputError``."""
        found = self._vertices.get(ref)
        if found is None:
            found = self._vertices[ref] = self.point(_at(self.file[ref], 1))
        return found

    def point(self, ref: Any) -> Vec:
        """A point. [mm] Raises: ``InputError``."""
        found = self.file.three(ref, "CARTESIAN_POINT")
        if found is None:
            entity = self.file[ref]
            if entity.name != "CARTESIAN_POINT":
                raise InputError(f"#{entity.id} of the STEP file is no point: {entity.name}")
            found = _three(entity)
        x, y, z = _in_reach(found, ref)
        return x * self.length, y * self.length, z * self.length

    def direction(self, ref: Any) -> Vec | None:
        """A direction, of any length; ``None`` where none is given. Raises: ``InputError``."""
        if ref is None:
            return None
        found = self.file.three(ref, "DIRECTION")
        return _three(self.file[ref]) if found is None else _in_reach(found, ref)

    def frame(self, ref: Any) -> Frame:
        """A placement. Raises: ``InputError``."""
        plain = self.file.placement(ref)
        if plain is not None:
            return Frame.of(self.point(plain[0]), self.direction(plain[1]), self.direction(plain[2]))
        entity = self.file[ref]
        if entity.name not in ("AXIS2_PLACEMENT_3D", "AXIS1_PLACEMENT"):
            raise InputError(f"#{entity.id} of the STEP file is no placement in space: {entity.name}")
        x = entity.values[3] if len(entity.values) > 3 else None
        return Frame.of(self.point(_at(entity, 1)), self.direction(_at(entity, 2)), self.direction(x))

    def curve(self, ref: Any, depth: int = 0) -> tuple[Curve | None, bool]:
        """A curve and whether the one asked for runs its way; ``None`` for a kind that is not read."""
        entity = self.file[ref]
        if depth > DEEPEST_CURVE:
            raise InputError(f"#{entity.id} of the STEP file: its curves refer to one another in a circle")
        if entity.has("SURFACE_CURVE", "SEAM_CURVE", "INTERSECTION_CURVE", "BOUNDED_SURFACE_CURVE"):
            return self.curve(_at(entity, 1), depth + 1)
        if entity.name == "TRIMMED_CURVE":
            basis, agrees = self.curve(_at(entity, 1), depth + 1)
            return basis, agrees == _true(_at(entity, 4))
        if entity.name == "LINE":
            along = self.file[_at(entity, 2)]
            return Straight(self.point(_at(entity, 1)), unit(_three(self.file[_at(along, 1)]))), True
        if entity.name == "CIRCLE":
            radius = self._size(entity, 2)
            return Ellipse(self.frame(_at(entity, 1)), radius, radius), True
        if entity.name == "ELLIPSE":
            return Ellipse(self.frame(_at(entity, 1)), self._size(entity, 2), self._size(entity, 3)), True
        if entity.name == "HYPERBOLA":
            return Hyperbola(self.frame(_at(entity, 1)), self._size(entity, 2), self._size(entity, 3)), True
        if entity.name == "PARABOLA":
            return Parabola(self.frame(_at(entity, 1)), self._size(entity, 2)), True
        if entity.name == "POLYLINE":
            points = [(*self.point(one), 1.0) for one in _many(entity, 1)]
            knots = [0.0, *(float(k) for k in range(len(points))), len(points) - 1.0]
            return spline(1, knots, points), True
        return self._spline(entity), True

    def _spline(self, entity: Entity) -> Spline | None:
        basic = entity.part("B_SPLINE_CURVE")
        knotted = entity.part("B_SPLINE_CURVE_WITH_KNOTS")
        if basic is None and knotted is not None and len(knotted) > 6:
            basic, knotted = knotted[1:6], knotted[6:]
        elif basic is None and entity.has("BEZIER_CURVE", "QUASI_UNIFORM_CURVE", "UNIFORM_CURVE"):
            basic = entity.values[1:6]
        if basic is None:
            return None
        degree, points = _whole(entity, basic[0]), tuple(self.point(one) for one in basic[1])
        rational = entity.part("RATIONAL_B_SPLINE_CURVE")
        weights = _weights(entity, rational[0] if rational else (1.0,) * len(points), len(points))
        knots = _knots(entity, degree, len(points), knotted[0:2] if knotted else None)
        return spline(degree, knots, [_pole(p, w) for p, w in zip(points, weights, strict=True)])

    def surface(self, ref: Any, depth: int = 0) -> Surface:
        """A surface. Raises: ``InputError``."""
        entity = self.file[ref]
        if depth > DEEPEST_CURVE:
            raise InputError(f"#{entity.id} of the STEP file: its surfaces refer to one another in a circle")
        name = entity.name
        if name == "PLANE":
            return Plane(self.frame(_at(entity, 1)))
        if name == "CYLINDRICAL_SURFACE":
            return Cone(self.frame(_at(entity, 1)), self._size(entity, 2))
        if name == "CONICAL_SURFACE":
            return Cone(self.frame(_at(entity, 1)), self._size(entity, 2, least=0.0), _number(entity, 3) * self.angle)
        if name in ("TOROIDAL_SURFACE", "DEGENERATE_TOROIDAL_SURFACE"):
            return Torus(self.frame(_at(entity, 1)), self._size(entity, 2), self._size(entity, 3))
        if name == "SPHERICAL_SURFACE":
            return Torus(self.frame(_at(entity, 1)), 0.0, self._size(entity, 2))
        if name == "SURFACE_OF_REVOLUTION":
            curve, _ = self.curve(_at(entity, 1))
            return OtherSurface(name) if curve is None else Revolved(curve, self.frame(_at(entity, 2)))
        if name == "SURFACE_OF_LINEAR_EXTRUSION":
            return self._extruded(entity)
        if name == "RECTANGULAR_TRIMMED_SURFACE":
            return self.surface(_at(entity, 1), depth + 1)
        return self._spline_surface(entity)

    def _extruded(self, entity: Entity) -> Surface:
        """A cylinder or plane that is written as a curve drawn along a line."""
        curve, _ = self.curve(_at(entity, 1))
        way = unit(_three(self.file[_at(self.file[_at(entity, 2)], 1)]))
        if isinstance(curve, Ellipse) and curve.is_circle and abs(abs(dot(curve.frame.z, way)) - 1) < 1e-9:
            return Cone(curve.frame, curve.a)
        if isinstance(curve, Straight) and abs(dot(curve.direction, way)) < 1 - 1e-9:
            return Plane(Frame.of(curve.point, cross(curve.direction, way)))
        return OtherSurface(entity.name)

    def _spline_surface(self, entity: Entity) -> Surface:
        basic = entity.part("B_SPLINE_SURFACE")
        knotted = entity.part("B_SPLINE_SURFACE_WITH_KNOTS")
        if basic is None and knotted is not None and len(knotted) > 8:
            basic, knotted = knotted[1:8], knotted[8:]
        elif basic is None and entity.has("BEZIER_SURFACE", "QUASI_UNIFORM_SURFACE", "UNIFORM_SURFACE"):
            basic = entity.values[1:8]
        if basic is None:
            return OtherSurface(entity.name)
        u, v = _whole(entity, basic[0]), _whole(entity, basic[1])
        grid = [[self.point(one) for one in row] for row in basic[2]]
        rows, columns = len(grid), len(grid[0]) if grid else 0
        rational = entity.part("RATIONAL_B_SPLINE_SURFACE")
        weights = rational[0] if rational else ((1.0,) * columns,) * rows
        if not columns or any(len(row) != columns for row in grid) or len(weights) != rows:
            raise InputError(f"#{entity.id} of the STEP file: a spline surface without a full net of points")
        knots_u = _knots(entity, u, rows, (knotted[0], knotted[2]) if knotted else None)
        knots_v = _knots(entity, v, columns, (knotted[1], knotted[3]) if knotted else None)
        poles = tuple(
            tuple(_pole(p, w) for p, w in zip(row, _weights(entity, some, columns), strict=True))
            for row, some in zip(grid, weights, strict=True)
        )
        spline(v, knots_v, poles[0]), spline(u, knots_u, [row[0] for row in poles])  # refuses what does not fit
        return SplineSurface((u, v), (tuple(knots_u), tuple(knots_v)), poles)

    def _size(self, entity: Entity, at: int, least: float = 1e-9) -> float:
        size = _number(entity, at) * self.length
        if not least <= size <= LARGEST_MM:
            raise InputError(f"#{entity.id} of the STEP file: {entity.name} of {size:g} mm")
        return size


def _pole(point: Vec, weight: float) -> tuple[float, float, float, float]:
    return point[0] * weight, point[1] * weight, point[2] * weight, weight


def _weights(entity: Entity, weights: Any, count: int) -> list[float]:
    if not isinstance(weights, tuple) or len(weights) != count or not all(isinstance(w, float) for w in weights):
        raise InputError(f"#{entity.id} of the STEP file: a spline with weights that do not fit its points")
    return list(weights)


def _knots(entity: Entity, degree: int, count: int, given: Any) -> list[float]:
    """Every knot as often as it counts; those of a curve without are even, its ends on the first and last point."""
    if given is None:
        if entity.has("BEZIER_CURVE", "BEZIER_SURFACE"):
            inner = [k // degree + 1.0 for k in range(max(count - degree - 1, 0))]
        elif entity.has("UNIFORM_CURVE", "UNIFORM_SURFACE"):
            return [float(k) for k in range(count + degree + 1)]
        else:
            inner = [k + 1.0 for k in range(max(count - degree - 1, 0))]
        return [0.0] * (degree + 1) + inner + [(inner[-1] if inner else 0.0) + 1.0] * (degree + 1)
    times, values = given
    if not isinstance(times, tuple) or not isinstance(values, tuple) or len(times) != len(values):
        raise InputError(f"#{entity.id} of the STEP file: a spline without knots")
    if not all(isinstance(one, float) for one in (*times, *values)) or not 0 < sum(times) <= count + degree + 1:
        raise InputError(f"#{entity.id} of the STEP file: a spline with knots that do not fit its points")
    return [value for value, often in zip(values, times, strict=True) for _ in range(int(often))]


def _at(entity: Entity, index: int) -> Any:
    values = entity.values
    if index >= len(values):
        raise InputError(f"#{entity.id} of the STEP file: {entity.name} has too few values")
    return values[index]


def _many(entity: Entity, index: int) -> tuple[Any, ...]:
    found = _at(entity, index)
    if not isinstance(found, tuple):
        raise InputError(f"#{entity.id} of the STEP file: {entity.name} has no list where one should stand")
    return found


def _number(entity: Entity, index: int) -> float:
    found = _at(entity, index)
    if not isinstance(found, float) or not isfinite(found):
        raise InputError(f"#{entity.id} of the STEP file: {entity.name} has no number where one should stand")
    return found


def _whole(entity: Entity, value: Any) -> int:
    if not isinstance(value, float) or not 1 <= value <= 25:
        raise InputError(f"#{entity.id} of the STEP file: a spline without a degree from 1 to 25")
    return int(value)


def _three(entity: Entity) -> Vec:
    found = _at(entity, 1)
    if not isinstance(found, tuple) or len(found) != 3 or not all(isinstance(one, float) for one in found):
        raise InputError(f"#{entity.id} of the STEP file: {entity.name} without three numbers")
    return _in_reach(found, entity.id)


def _in_reach(found: Vec, id_: int) -> Vec:
    x, y, z = found
    if not (abs(x) <= LARGEST_MM and abs(y) <= LARGEST_MM and abs(z) <= LARGEST_MM):
        raise InputError(f"#{id_} of the STEP file: a number over {LARGEST_MM:g}, more than a kilometre")
    return found


def _bounds(entity: Entity) -> tuple[Any, ...]:
    face = entity.part("FACE")
    return face[0] if face and isinstance(face[0], tuple) else ()


def _true(value: Any) -> bool:
    return isinstance(value, Choice) and value in ("T", "TRUE")
