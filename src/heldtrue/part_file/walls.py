"""Faces along the axis that go all round it and do not turn: hexagons, squares, sockets, eccentrics.

Such a wall stands in the half section as a cylinder: outside the smallest one round it, inside the largest one in it,
so that the section has all that has material at any angle.  Faces that end at the wall reach to that cylinder.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, pi, tau
from typing import Literal

from heldtrue.part_file.closing import Strand
from heldtrue.part_file.faces import Cone, Face, Plane
from heldtrue.part_file.features import connected, gap_of, points_of, shown
from heldtrue.part_file.meridian import COAXIAL_MM, is_along
from heldtrue.part_file.outline import Line, Point
from heldtrue.part_file.vectors import Frame, Vec, dot, sub
from heldtrue.sentences import sentence

SQUARE = 1e-6
WIDEST_GAP = 0.7 * pi
"""A wall round the axis leaves no larger angle between its corners: a triangle leaves 2/3 pi. [rad]"""
NEAR_MM = 1e-3
NAMES = {("outside", 4): "square", ("outside", 6): "hexagon", ("inside", 4): "square socket",
         ("inside", 6): "hexagon socket"}  # fmt: skip


@dataclass(frozen=True)
class Wall:
    """One wall. [mm]

    ``diameters``: of the largest circle about the axis in it and the smallest round it; ``z``: where it reaches;
    ``pull``: area times distance of its middle from the axis, of what lies off it [mm3]; ``reach``: by the number of
    each turned face that ends at it, how far that reaches in the section.
    """

    kind: str
    size: str
    side: Literal["outside", "inside"]
    diameters: tuple[float, float]
    z: tuple[float, float]
    faces: frozenset[int]
    pull: float = 0.0
    reach: Mapping[int, tuple[Point, ...]] = field(default_factory=dict)

    @property
    def radius(self) -> float:
        """Of the cylinder that stands for it in the section."""
        return self.diameters[1 if self.side == "outside" else 0] / 2

    @property
    def strand(self) -> Strand:
        """That cylinder, with the material on its left."""
        low, high = ((self.radius, z) for z in self.z)
        return Strand(Line(low, high) if self.side == "outside" else Line(high, low), self.faces, tau)

    @property
    def most(self) -> float:
        """The most by which the section is larger than the solid there. [mm3]"""
        inner, outer = self.diameters
        return pi / 4 * (outer**2 - inner**2) * (self.z[1] - self.z[0])


def walls_of(faces: Sequence[Face], turned: Sequence[Face], axis: Frame) -> list[Wall]:
    """The walls among faces that do not turn; ``turned``: all others."""
    along = [face for face in faces if _runs_along(face, axis)]
    found = (_wall(group, axis) for group in connected(along))
    return [_reaching(wall, group, turned, axis) for wall, group in
            ((one, [face for face in along if face.id in one.faces]) for one in found if one is not None)]  # fmt: skip


def _runs_along(face: Face, axis: Frame) -> bool:
    surface = face.surface
    if isinstance(surface, Plane):
        return abs(dot(surface.frame.z, axis.z)) < SQUARE
    return isinstance(surface, Cone) and not surface.angle and is_along(axis, surface.frame.z)


def _wall(group: list[Face], axis: Frame) -> Wall | None:
    points = points_of(group)
    if not points or min(axis.rz(point)[0] for point in points) < NEAR_MM:
        return None
    return _flats(group, points, axis) or _eccentric(group, points, axis)


def _flats(group: list[Face], points: Sequence[Vec], axis: Frame) -> Wall | None:
    """Flat faces that go all round the axis, all with the material on the same side."""
    offs = []
    for face in group:
        if not isinstance(face.surface, Plane):
            return None
        out = face.surface.frame.z if face.same_sense else tuple(-c for c in face.surface.frame.z)
        offs.append(dot(sub(face.surface.frame.origin, axis.origin), out))  # type: ignore[arg-type]
    if len(group) < 3 or gap_of([axis.angle(point) for point in points]) > WIDEST_GAP:
        return None
    if not (all(off > NEAR_MM for off in offs) or all(off < -NEAR_MM for off in offs)):
        return None
    side: Literal["outside", "inside"] = "outside" if offs[0] > 0 else "inside"
    inner, outer = min(abs(off) for off in offs), max(axis.rz(point)[0] for point in points)
    count = len({tuple(round(c, 4) for c in face.surface.frame.z) for face in group if isinstance(face.surface, Plane)})
    even = max(abs(off) for off in offs) - inner < NEAR_MM
    kind = NAMES.get((side, len(group)), "flats round the axis" if side == "outside" else "socket")
    across = (
        sentence("{: mm} across flats", shown(2 * inner))
        if even and len(group) % 2 == 0 and count
        else (sentence("{} flats from {: mm} off the axis", len(group), shown(inner)))
    )
    size = sentence("{}, Ø{: [mm]} over its corners", across, shown(2 * outer))
    z = _stretch_at(points, outer if side == "outside" else inner, axis)
    return None if z is None else Wall(kind, size, side, (2 * inner, 2 * outer), z, _ids(group), _pull(points, axis))


def _pull(points: Sequence[Vec], axis: Frame) -> float:
    """Area inside flats times the distance of its middle from the axis; one that is even has none. [mm3]"""
    import shapely

    inside = shapely.MultiPoint([axis.local(point)[:2] for point in points]).convex_hull
    off = hypot(inside.centroid.x, inside.centroid.y)
    return float(inside.area * off) if off > NEAR_MM else 0.0


def _eccentric(group: list[Face], points: Sequence[Vec], axis: Frame) -> Wall | None:
    """A cylinder along the axis and round it, whose own axis is another."""
    first = group[0].surface
    if not isinstance(first, Cone) or not all(isinstance(face.surface, Cone) for face in group):
        return None
    off = axis.rz(first.frame.origin)[0]
    for face in group:
        surface = face.surface
        assert isinstance(surface, Cone)
        if abs(surface.radius - first.radius) > NEAR_MM or first.frame.rz(surface.frame.origin)[0] > NEAR_MM:
            return None
    if not COAXIAL_MM < off < first.radius - NEAR_MM or gap_of([first.frame.angle(point) for point in points]) > pi:
        return None
    side: Literal["outside", "inside"] = "outside" if group[0].same_sense else "inside"
    zs = [axis.rz(point)[1] for point in points]
    kind = "eccentric" if side == "outside" else "eccentric bore"
    size = sentence("Ø{: [mm]}, {: mm} off the axis", shown(2 * first.radius), shown(off))
    diameters = (2 * (first.radius - off), 2 * (first.radius + off))
    return Wall(kind, size, side, diameters, (min(zs), max(zs)), _ids(group), pi * first.radius**2 * off)


def _stretch_at(points: Sequence[Vec], radius: float, axis: Frame) -> tuple[float, float] | None:
    """From where to where along the axis points lie at that distance from it."""
    zs = [z for r, z in map(axis.rz, points) if abs(r - radius) < NEAR_MM]
    return (min(zs), max(zs)) if zs and max(zs) - min(zs) > NEAR_MM else None


def _reaching(wall: Wall, group: Sequence[Face], turned: Sequence[Face], axis: Frame) -> Wall:
    """With the places to which the turned faces reach that end at it."""
    rims = {edge.id for face in group for loop in face.loops for edge, _ in loop}
    reach: dict[int, tuple[Point, ...]] = {}
    for face in turned:
        shared = [edge for loop in face.loops for edge, _ in loop if edge.id in rims]
        if shared:
            zs = [axis.rz(point)[1] for edge in shared for point in edge.points]
            reach[face.id] = tuple(_ends(wall, face, zs, axis))
    return Wall(wall.kind, wall.size, wall.side, wall.diameters, wall.z, wall.faces, wall.pull, reach)


def _ends(wall: Wall, face: Face, zs: Sequence[float], axis: Frame) -> Iterator[Point]:
    if isinstance(face.surface, Plane):
        yield wall.radius, sum(zs) / len(zs)
        return
    # A chamfer meets a wall in bows: on it the cylinder of the wall ends where the wall does.
    end = min(wall.z, key=lambda z: abs(z - sum(zs) / len(zs)))
    yield wall.radius, end


def _ids(group: Sequence[Face]) -> frozenset[int]:
    return frozenset(face.id for face in group)


def off_centre(walls: Sequence[Wall], volume: float) -> float:
    """How far eccentrics take the centre of mass off the axis at the most, all to one side. [mm]"""
    return hypot(sum(wall.pull * (wall.z[1] - wall.z[0]) for wall in walls)) / volume if volume > 0 else 0.0
