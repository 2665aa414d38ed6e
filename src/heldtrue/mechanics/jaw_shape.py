"""A top jaw as a solid: block, wide nose or full-circle segment, its bore, relief and bolts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import atan2, cos, hypot, pi, sin, tan

import netgen.occ as occ

from heldtrue.errors import GeometryError

NEAR_MM = 1e-4
TIP_MM = 0.5
"""The very tip of a pointed jaw is no body."""
BEHIND_BORE_MM = 10.0
"""Least depth of a wide nose behind its bore: common practice, no source."""


@dataclass(frozen=True)
class Bolt:
    """A bolt through a jaw: its place along x, hole and head counterbore. [mm]

    ``head_depth``: of the counterbore from the top of the jaw down.
    """

    x: float
    hole: float
    head: float
    head_depth: float


@dataclass(frozen=True)
class JawShape:
    """A top jaw bored for one part. [mm, rad]

    ``style``: "standard" (a block), "wide" (a block with a wider nose) or "pie" (a full-circle segment); ``side``: of
    the grip; ``bore_radius``; ``half_angle``: from the jaw's middle to the edge of its bore; ``width``: of the block
    behind the bore (the master jaw's width for a pie jaw); ``length``: along x, behind the bore; ``height``: from the
    master jaw to the tip; ``seat_height``: of the part's seat; ``ledge``: how far the seat reaches past the bore;
    ``nose``: depth of a wide nose along x, more where a deep bore asks for it; ``relief``: depth and height of the
    groove in the corner of bore and seat; ``point``: of a block pointed for an outside grip, angle of its flanks to its
    middle, which run through the edges of its bore, 0 for a flat one.
    """

    style: str
    side: str
    bore_radius: float
    half_angle: float
    width: float
    length: float
    height: float
    seat_height: float
    ledge: float = 5.0
    nose: float = 25.0
    relief: float = 0.0
    bolts: tuple[Bolt, ...] = ()
    point: float = 0.0

    def __post_init__(self) -> None:
        if self.style not in ("standard", "wide", "pie"):
            raise GeometryError(f'jaw style is "standard", "wide" or "pie", not "{self.style}"')
        if self.side not in ("outside", "inside"):
            raise GeometryError(f'side is "outside" or "inside", not "{self.side}"')
        if not 0 < self.half_angle < pi / 2:
            raise GeometryError(f"half angle of a jaw is between 0 and a quarter turn, got {self.half_angle:.4g} rad")
        if self.point and (self.style == "pie" or self.side == "inside" or not 0 < self.point < pi / 2):
            raise GeometryError("a pointed jaw is a block for an outside grip, its flanks at less than a quarter turn")
        if min(self.bore_radius, self.width, self.length) <= 0:
            raise GeometryError("radius, width and length of a jaw are above 0")
        if not 0 <= self.seat_height < self.height:
            raise GeometryError(
                f"the seat stands {self.seat_height:g} mm above the master jaw, but the jaw is {self.height:g} mm tall"
            )

    @property
    def outward(self) -> float:
        """Direction along r in which the part pushes the jaw: +1 for an outside grip, -1 for an inside grip."""
        return 1.0 if self.side == "outside" else -1.0

    @property
    def radial_span(self) -> tuple[float, float]:
        """Least and greatest x of the jaw, seat ledge included."""
        back = self.bore_radius + self.outward * self.length
        front = self.bore_radius - self.outward * self.ledge
        if self.side == "outside" and self.style != "pie":
            # The flat front of a block must reach the edges of its bore.
            front = min(front, self.bore_radius * cos(self.half_angle))
        if self.point:
            # Its tip is where the flanks meet: as far in as the seat goes, there is no more of it.
            front = max(front, self.flank_at(0.0) + TIP_MM)
        low, high = sorted((back, front))
        return max(low, 1.0), high

    def flank_at(self, y: float) -> float:
        """Where along x a flank of a pointed jaw lies so far from its middle. [mm]"""
        edge = (self.bore_radius * cos(self.half_angle), self.bore_radius * sin(self.half_angle))
        return edge[0] + (y - edge[1]) / tan(self.point)


@dataclass(frozen=True)
class JawBase:
    """What the jaw stands on: stiffness per area normal and in shear [MPa/mm], and tilt of the master jaw [N mm/rad].

    An infinite ``tilt`` is a master jaw that cannot lean.
    """

    normal: float
    shear: float
    tilt: float


@dataclass(frozen=True)
class BoringRing:
    """Where the jaws are clamped while they are bored: ``z`` (from, to) above the master jaw [mm].

    For an outside grip the jaws close on a ring or plug inside them, for an inside grip they open into a ring round
    them; either way it pushes them as the part will.
    """

    z: tuple[float, float]


@dataclass(frozen=True)
class SolidSize:
    """How much of a jaw there is and where, bore, relief and bolt holes taken out.

    ``volume`` of the whole jaw [mm3]; ``centroid_radius``: its centre of mass from the spindle axis [mm].
    """

    volume: float
    centroid_radius: float


@lru_cache(maxsize=256)
def solid_size(shape: JawShape) -> SolidSize:
    """Volume and centre of mass of the very solid that the stiffness is taken of.

    Raises: ``GeometryError`` where nothing of the jaw is left.
    """
    half = half_solid(shape)
    # The jaw mirrors about y = 0, so the centre of the whole stands where that of the half does along x.
    return SolidSize(2 * half.mass, half.center.x)


def half_solid(shape: JawShape) -> occ.TopoDS_Shape:
    """Half the jaw, y >= 0: blank, less the bore above the seat, less relief and bolts.

    Its faces carry the names they are made with: "face" (the bore), "wall" (the end that faces the part), or none.
    Raises: ``GeometryError`` where nothing of the jaw is left, or it falls apart.
    """
    blank = _blank(shape)
    tall = 2 * shape.height
    bore = occ.Cylinder(occ.Pnt(0, 0, shape.seat_height), occ.Z, r=shape.bore_radius, h=tall)
    # Cutting keeps names, so what is left of the cylinder is the bore, however the jaw is shaped.
    next(side for side in bore.faces if abs(side.center.z - shape.seat_height - tall / 2) < NEAR_MM).name = "face"
    groove = occ.Cylinder(
        occ.Pnt(0, 0, shape.seat_height),
        occ.Z,
        r=shape.bore_radius + shape.outward * shape.relief,
        h=max(shape.relief, 1e-3),
    )
    above = occ.Box(occ.Pnt(-1e4, -1e4, shape.seat_height), occ.Pnt(1e4, 1e4, tall))
    if shape.side == "outside":
        blank = blank - bore
        if shape.relief > 0:
            blank = blank - groove
    else:
        blank = blank - (above - bore)
        if shape.relief > 0:
            slice_ = occ.Box(
                occ.Pnt(-1e4, -1e4, shape.seat_height), occ.Pnt(1e4, 1e4, shape.seat_height + shape.relief)
            )
            blank = blank - (slice_ - groove)
    for bolt in shape.bolts:
        hole = occ.Cylinder(occ.Pnt(bolt.x, 0, -1), occ.Z, r=bolt.hole / 2, h=tall)
        head = occ.Cylinder(occ.Pnt(bolt.x, 0, shape.height - bolt.head_depth), occ.Z, r=bolt.head / 2, h=tall)
        blank = blank - hole - head
    if len(blank.solids) != 1:
        raise GeometryError(f"bore and bolt holes leave the jaw in {len(blank.solids)} pieces")
    return blank


def _blank(shape: JawShape) -> occ.TopoDS_Shape:
    """Half the jaw before it is bored, the end that faces the part named "wall"."""
    low, high = shape.radial_span
    if shape.style == "pie":
        return _wedge(low, high, shape)
    block = _block(low, high, shape)
    return block if not shape.point else block - _beside_the_point(low, shape)


def _beside_the_point(low: float, shape: JawShape) -> occ.TopoDS_Shape:
    """What a point leaves out of a block, y >= 0."""
    wide = shape.width + shape.bore_radius
    start, end = (low - 1.0, 0.0), (shape.flank_at(wide), wide)
    if shape.flank_at(0.0) > start[0]:
        start = (shape.flank_at(0.0), 0.0)
    else:
        start = (start[0], wide - (end[0] - start[0]) * tan(shape.point))
    corners = [start, end, (low - 1.0, wide)] + ([(low - 1.0, 0.0)] if start[0] > low - 1.0 else [])
    points = [occ.Pnt(x, y, -1.0) for x, y in corners]
    sides = [occ.Segment(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]
    return occ.Face(occ.Wire(sides)).Extrude((shape.height + 2.0) * occ.Z)


def _block(low: float, high: float, shape: JawShape) -> occ.TopoDS_Shape:
    """Half a block with or without a wider nose."""
    half_nose = shape.bore_radius * sin(shape.half_angle)
    if shape.style == "standard":
        return _box(low, high, max(shape.width / 2, half_nose), shape)
    edge = shape.bore_radius * cos(shape.half_angle)
    # Where the bore is deep, the nose is deeper: every cell of the bore has metal behind it.
    depth = max(shape.nose, shape.bore_radius - edge + BEHIND_BORE_MM)
    if shape.side == "outside":
        nose = _box(low, min(edge + depth, high), half_nose, shape)
    else:
        nose = _box(max(shape.bore_radius - depth, low), high, half_nose, shape)
    return nose + _box(low, high, min(shape.width / 2, half_nose), shape)


def _box(low: float, high: float, half_width: float, shape: JawShape) -> occ.TopoDS_Shape:
    """A block of the jaw's height that reaches to its front."""
    box = occ.Box(occ.Pnt(low, 0, 0), occ.Pnt(high, half_width, shape.height))
    (box.faces.Min(occ.X) if shape.side == "outside" else box.faces.Max(occ.X)).name = "wall"
    return box


def _wedge(low: float, high: float, shape: JawShape) -> occ.TopoDS_Shape:
    """Half a ring segment between radii ``low`` and ``high``."""
    half, end = shape.half_angle / 2, shape.half_angle

    def at(radius: float, angle: float) -> occ.Pnt:
        return occ.Pnt(radius * cos(angle), radius * sin(angle), 0)

    outline = [
        occ.Segment(at(low, 0), at(high, 0)),
        occ.ArcOfCircle(at(high, 0), at(high, half), at(high, end)),
        occ.Segment(at(high, end), at(low, end)),
        occ.ArcOfCircle(at(low, end), at(low, half), at(low, 0)),
    ]
    wedge = occ.Face(occ.Wire(outline)).Extrude(shape.height * occ.Z)
    curved = [
        face
        for face in wedge.faces
        if abs(face.center.z - shape.height / 2) < NEAR_MM
        and abs(atan2(face.center.y, face.center.x) - half) < half / 2
    ]
    inner, outer = sorted(curved, key=lambda face: hypot(face.center.x, face.center.y))
    (inner if shape.side == "outside" else outer).name = "wall"
    return wedge
