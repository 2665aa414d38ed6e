"""A blank as the finished section with an allowance on every surface that this operation may cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from heldtrue.errors import InputError
from heldtrue.part_file.outline import OutlineCorner, Point

EVEN_MM = 1e-6


@dataclass(frozen=True)
class Gripped:
    """The surface that the jaws hold: ``outside`` or ``inside``, its diameter and from, to along z. [mm]"""

    side: str
    diameter: float
    z: tuple[float, float]


def with_allowance(
    corners: Sequence[OutlineCorner], on_diameter: float, on_faces: float, gripped: Gripped | None
) -> tuple[OutlineCorner, ...]:
    """The section with outsides larger and bores smaller by ``on_diameter``, faces further out by ``on_faces``. [mm]

    The seat face at z = 0, all that lies below it, and the gripped surface stay as they are: jaws hold and stop the
    blank there.  A taper or chord moves square to itself by its share of both.  A bore or groove narrower than its
    allowance closes.  Outer corners are sharp; roundings of inner corners stay.

    Raises: ``InputError`` for an allowance below 0, or none at all.
    """
    if on_diameter < 0 or on_faces < 0 or not on_diameter + on_faces > 0:
        raise InputError("on_diameter and on_faces are 0 or more, and not both 0")
    from shapely import Polygon

    points = [(corner.r, corner.z) for corner in corners]
    if len(points) < 3 or not Polygon(points).is_valid:
        raise InputError("an allowance needs a profile that is a half section; see what is said of the profile")
    radii = [corner.radius for corner in corners]
    if _doubled_area(points) < 0:
        points, radii = points[::-1], radii[::-1]
    count = len(points)
    moves = [_move(points[n], points[(n + 1) % count], on_diameter / 2, on_faces, gripped) for n in range(count)]
    moved: list[Point] = []
    rounded: dict[Point, float] = {}
    for number in range(count):
        before, here, after = (points[(number + k) % count] for k in (-1, 0, 1))
        at = _corner(before, here, after, moves[number - 1], moves[number])
        moved += at
        inner = _turn(before, here, after) < 0
        if (radius := radii[number]) and inner and len(at) == 1:
            rounded[_rounded(at[0])] = radius
    area = _filled(moved).union(Polygon(points)).intersection(_right_of_axis(points, on_diameter, on_faces))
    pieces = list(getattr(area, "geoms", [area]))
    body = max(pieces, key=lambda piece: float(piece.area))
    found = [_rounded((r, z)) for r, z in list(body.exterior.normalize().coords)[:-1]][::-1]
    found = [p for number, p in enumerate(found) if p != found[number - 1]]
    found = [p for number, p in enumerate(found) if not _straight(found, number)]
    start = min(range(len(found)), key=lambda number: (found[number][1], found[number][0]))
    return tuple(OutlineCorner(r, z, rounded.get((r, z))) for r, z in (*found[start:], *found[:start]))


def _move(a: Point, b: Point, across: float, along: float, gripped: Gripped | None) -> Point:
    """How far an edge moves, as a vector square to it. The material lies on its left."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    normal = ((b[1] - a[1]) / length, -(b[0] - a[0]) / length)
    if max(abs(a[0]), abs(b[0])) <= EVEN_MM or max(a[1], b[1]) <= EVEN_MM or _is_gripped(a, b, normal, gripped):
        return 0.0, 0.0
    far = abs(normal[0]) * across + abs(normal[1]) * along
    return far * normal[0], far * normal[1]


def _is_gripped(a: Point, b: Point, normal: Point, gripped: Gripped | None) -> bool:
    if gripped is None or (normal[0] > 0) != (gripped.side == "outside"):
        return False
    on = max(abs(2 * a[0] - gripped.diameter), abs(2 * b[0] - gripped.diameter)) <= EVEN_MM
    return on and min(a[1], b[1]) < max(gripped.z) and max(a[1], b[1]) > min(gripped.z)


def _corner(before: Point, here: Point, after: Point, one: Point, other: Point) -> list[Point]:
    """Where two moved edges meet; both ends where they run on in one line."""
    ax, az = here[0] - before[0], here[1] - before[1]
    bx, bz = after[0] - here[0], after[1] - here[1]
    det = ax * bz - az * bx
    if abs(det) <= 1e-6 * hypot(ax, az) * hypot(bx, bz):
        ends = [(here[0] + one[0], here[1] + one[1]), (here[0] + other[0], here[1] + other[1])]
        return ends[:1] if hypot(ends[0][0] - ends[1][0], ends[0][1] - ends[1][1]) <= EVEN_MM else ends
    px, pz = here[0] + one[0], here[1] + one[1]
    qx, qz = here[0] + other[0], here[1] + other[1]
    t = ((qx - px) * bz - (qz - pz) * bx) / det
    return [(px + t * ax, pz + t * az)]


def _filled(points: Sequence[Point]) -> Any:
    """The area that the moved outline goes round counter-clockwise: what crossed itself is gone."""
    from shapely import LinearRing, polygonize, unary_union

    cells = polygonize([unary_union(LinearRing(points))])
    kept = [cell for cell in cells.geoms if _winding(points, cell.representative_point()) > 0]
    return unary_union(kept)


def _winding(points: Sequence[Point], at: Any) -> int:
    turns = 0
    for (r0, z0), (r1, z1) in zip(points, [*points[1:], points[0]], strict=True):
        left = (r1 - r0) * (at.y - z0) - (at.x - r0) * (z1 - z0)
        if z0 <= at.y < z1 and left > 0:
            turns += 1
        elif z1 <= at.y < z0 and left < 0:
            turns -= 1
    return turns


def _right_of_axis(points: Sequence[Point], on_diameter: float, on_faces: float) -> Any:
    from shapely import box

    far = 2 * (on_diameter + on_faces) + 1.0
    return box(0.0, min(z for _, z in points) - far, max(r for r, _ in points) + far, max(z for _, z in points) + far)


def _turn(before: Point, here: Point, after: Point) -> float:
    return (here[0] - before[0]) * (after[1] - here[1]) - (here[1] - before[1]) * (after[0] - here[0])


def _straight(points: Sequence[Point], number: int) -> bool:
    before, here, after = (points[(number + k) % len(points)] for k in (-1, 0, 1))
    size = hypot(here[0] - before[0], here[1] - before[1]) * hypot(after[0] - here[0], after[1] - here[1])
    return abs(_turn(before, here, after)) <= 1e-9 * size


def _doubled_area(points: Sequence[Point]) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True))


def _rounded(p: Point) -> Point:
    return round(p[0], 6) + 0.0, round(p[1], 6) + 0.0
