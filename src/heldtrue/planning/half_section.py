"""What the corners of a half section say: is it a body, and which surfaces does it have?"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan2, dist, pi, tan
from typing import Literal

from heldtrue.planning.entries import Corner

NEAR_MM = 1e-6
"""Two positions closer than this are the same; far below what a drawing can ask for."""

Corners = tuple[Corner, ...]


@dataclass(frozen=True)
class Stretch:
    """A straight stretch of the outline between its corner roundings: a cylinder or a flat face. [mm]

    A cylinder has equal ``diameters``, a face equal ``z``; ``looks`` is where the material is not:
    ``outside`` or ``inside``, and for a face ``chuck`` (towards -z) or ``tailstock``.
    """

    looks: Literal["outside", "inside", "chuck", "tailstock"]
    diameters: tuple[float, float]
    z: tuple[float, float]

    @property
    def is_face(self) -> bool:
        """Is it a flat face?"""
        return self.looks in ("chuck", "tailstock")

    def span(self) -> tuple[float, float]:
        """Its extent: along z for a cylinder, across diameters for a face."""
        return self.diameters if self.is_face else self.z


def outline_problem(corners: Corners) -> str | None:
    """Why these corners are no half section of a body, in words; ``None`` if they are."""
    negative = next((number for number, c in enumerate(corners, 1) if c.diameter < 0), None)
    if negative:
        return f"corner {negative}: diameter {corners[negative - 1].diameter:g} mm is below 0"
    points = _points(corners)
    if len(set(points)) < 3:
        return f"{len(set(points))} different corners make no area; at least 3 are needed"
    return _shape_problem(tuple(points)) or _roundings_problem(corners)


def corner_points(corners: Corners) -> list[tuple[float, float]]:
    """The sharp corners as (radius, z), counter-clockwise in the (r, z) plane, not closed. [mm]"""
    points = _points(corners)
    return points if _doubled_area(points) > 0 else points[::-1]


def volume(corners: Corners) -> float:
    """Volume of the body with sharp corners. [mm3]"""
    points = _points(corners)
    following = [*points[1:], points[0]]
    moments = ((r0 + r1) * (r0 * z1 - r1 * z0) for (r0, z0), (r1, z1) in zip(points, following, strict=True))
    return pi / 3.0 * abs(sum(moments))


def stretches(corners: Corners) -> tuple[Stretch, ...]:
    """Every cylinder and face of the body, without the lengths that roundings and chamfers take."""
    if _doubled_area(_points(corners)) < 0:
        corners = corners[::-1]
    cuts = [_cut_back(corners, number) for number in range(len(corners))]
    found = []
    for number, start in enumerate(corners):
        following = (number + 1) % len(corners)
        end = corners[following]
        if start.diameter == end.diameter == 0.0:
            continue
        if abs(start.diameter - end.diameter) <= NEAR_MM:
            up = end.z > start.z
            low, high = (number, following) if up else (following, number)
            z = (corners[low].z + cuts[low], corners[high].z - cuts[high])
            if z[1] > z[0]:
                found.append(Stretch("outside" if up else "inside", (start.diameter, start.diameter), z))
        elif abs(start.z - end.z) <= NEAR_MM:
            out = end.diameter > start.diameter
            inner, outer = (number, following) if out else (following, number)
            diameters = (corners[inner].diameter + 2 * cuts[inner], corners[outer].diameter - 2 * cuts[outer])
            if diameters[1] > diameters[0]:
                found.append(Stretch("chuck" if out else "tailstock", diameters, (start.z, start.z)))
    return tuple(found)


def sticks_out(profile: Corners, blank: Corners) -> str | None:
    """Where the finished section is not inside the blank, in words; ``None`` if it is."""
    return _stuck_out(tuple(_points(profile)), tuple(_points(blank)))


@lru_cache(maxsize=256)
def _stuck_out(profile: tuple[tuple[float, float], ...], blank: tuple[tuple[float, float], ...]) -> str | None:
    from shapely import Polygon

    outside = Polygon(profile).difference(Polygon(blank).buffer(10 * NEAR_MM))
    if outside.area <= NEAR_MM:
        return None
    largest = max(getattr(outside, "geoms", [outside]), key=lambda piece: float(piece.area))
    r0, z0, r1, z1 = largest.bounds
    return f"Ø{2 * r0:.5g} to Ø{2 * r1:.5g}, z {z0:.5g} to {z1:.5g} mm"


def _points(corners: Corners) -> list[tuple[float, float]]:
    return [(corner.diameter / 2.0, corner.z) for corner in corners]


def _doubled_area(points: Sequence[tuple[float, float]]) -> float:
    following = [*points[1:], points[0]]
    return sum(r0 * z1 - r1 * z0 for (r0, z0), (r1, z1) in zip(points, following, strict=True))


@lru_cache(maxsize=256)
def _shape_problem(points: tuple[tuple[float, float], ...]) -> str | None:
    for number, (first, second) in enumerate(zip(points, points[1:] + points[:1], strict=True), 1):
        if dist(first, second) <= NEAR_MM:
            if number == len(points):
                return "the last corner repeats the first; leave it out"
            return f"corners {number} and {number + 1} are the same"
    import re

    from shapely import Polygon
    from shapely.validation import explain_validity

    polygon = Polygon(points)
    if float(polygon.convex_hull.area) <= NEAR_MM:
        return "the corners enclose no area"
    reason = str(explain_validity(polygon))
    if reason == "Valid Geometry":
        return None
    where = re.search(r"\[(\S+) (\S+)\]", reason)
    at = f" at Ø{2 * float(where[1]):.5g}, z {float(where[2]):.5g} mm" if where else ""
    return f"the outline crosses or touches itself{at}; walk round the half section once, corner by corner"


def _cut_back(corners: Corners, number: int) -> float:
    """The length that a rounding or chamfer takes from both edges at a corner. [mm]"""
    corner = corners[number]
    if corner.chamfer:
        return corner.chamfer
    if not corner.radius:
        return 0.0
    here, *others = _points((corner, corners[number - 1], corners[(number + 1) % len(corners)]))
    (a, b), (c, d) = ((other[0] - here[0], other[1] - here[1]) for other in others)
    opening = atan2(abs(a * d - b * c), a * c + b * d)
    return corner.radius / tan(max(opening, 1e-9) / 2.0)


def _roundings_problem(corners: Corners) -> str | None:
    for number, corner in enumerate(corners, 1):
        if corner.radius and corner.chamfer:
            return f"corner {number} has a radius and a chamfer; give one"
    points = _points(corners)
    cuts = [_cut_back(corners, number) for number in range(len(corners))]
    for number, taken in enumerate(cuts):
        following = (number + 1) % len(corners)
        length = dist(points[number], points[following])
        if taken + cuts[following] > length + NEAR_MM:
            return (
                f"corners {number + 1} and {following + 1} are {length:.4g} mm apart; "
                f"their roundings and chamfers take {taken + cuts[following]:.4g} mm"
            )
    return None
