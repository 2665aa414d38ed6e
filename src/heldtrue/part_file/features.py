"""What is on a solid besides its turned faces: holes, keyways, slots, flats, and whatever else there is, each named."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import acos, atan2, degrees, hypot, inf, pi, sqrt, tau

from heldtrue.part_file.faces import Cone, Edge, Face, OtherSurface, Plane, Revolved, SplineSurface, Torus
from heldtrue.part_file.meridian import COAXIAL_MM, is_along, is_on
from heldtrue.part_file.turned_part import NotTurned
from heldtrue.part_file.vectors import Frame, Vec, cross, dot, norm, on, sub
from heldtrue.sentences import joined, sentence

HOLE_GAP = pi / 3
"""A round wall that leaves no larger angle open is a hole. [rad]"""
MOST_TOGETHER = 250
"""Faces that hang together are told apart up to this number."""
STRAIGHT_SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class Feature:
    """Something that is not turned, the faces it is made of, and the most it can take from the turned body. [mm3]"""

    what: NotTurned
    faces: tuple[int, ...]
    most: float


def features(faces: Sequence[Face], axis: Frame, largest: float) -> tuple[Feature, ...]:
    """Each of these faces in exactly one feature, in the order of the file; ``largest``: radius of the part. [mm]"""
    found = [one for group in connected(faces) for one in _group(group, axis, largest)]
    unread = {face.id for face in faces if any(edge.curve is None for loop in face.loops for edge, _ in loop)}
    found = [replace(one, most=inf) if unread & set(one.faces) else one for one in found]  # it may reach anywhere
    order = {face.id: k for k, face in enumerate(faces)}
    return tuple(sorted(found, key=lambda one: order[one.faces[0]]))


def connected(faces: Sequence[Face]) -> list[list[Face]]:
    """Faces that share edges, together."""
    owner: dict[int, int] = {}
    group = list(range(len(faces)))

    def root(k: int) -> int:
        while group[k] != k:
            group[k] = group[group[k]]
            k = group[k]
        return k

    for k, face in enumerate(faces):
        for loop in face.loops:
            for edge, _ in loop:
                group[root(k)] = root(owner.setdefault(edge.id, k))
    found: dict[int, list[Face]] = {}
    for k, face in enumerate(faces):
        found.setdefault(root(k), []).append(face)
    return list(found.values())


def _group(faces: list[Face], axis: Frame, largest: float) -> list[Feature]:
    if len(faces) > MOST_TOGETHER:
        return [_together(faces, axis, largest)]
    left = list(faces)
    found: list[Feature] = []
    while (hole := _hole(left, axis)) is not None:
        found.append(hole)
        left = [face for face in left if face.id not in hole.faces]
    for part in connected(left):
        slot = _slot(part, axis) or _round_slot(part, axis)
        if slot is not None:
            found.append(slot)
            continue
        flats, rest = _flats(part, axis, largest)
        found.extend(flats)
        found.extend(_other(face, axis, largest) for face in rest)
    return found


def _hole(faces: Sequence[Face], axis: Frame) -> Feature | None:
    """A hole among these faces: a round wall with the material outside, and what lies on the same axis."""
    for face in faces:
        surface = face.surface
        if not isinstance(surface, Cone) or surface.angle or face.same_sense or is_on(axis, surface.frame):
            continue
        own = surface.frame
        mates = [one for one in faces if _lies_on(one, own)]
        walls = [one for one in mates if isinstance(one.surface, Cone) and not one.surface.angle and not one.same_sense]
        points = points_of(wall for wall in walls)
        if gap_of([own.angle(point) for point in points]) > HOLE_GAP:
            continue
        sizes = sorted({round(2 * one.surface.radius, 6) for one in walls if isinstance(one.surface, Cone)})
        along = [own.local(point)[2] for point in points_of(mates)]
        size = joined(" and ", (sentence("Ø{: [mm]}", shown(d)) for d in sizes)) + sentence(
            ", {: mm} long", shown(max(along) - min(along))
        )
        kind = _hole_kind(own, axis)
        middle = on(own.origin, own.z, (max(along) + min(along)) / 2)
        widest = max(own.rz(point)[0] for point in points_of(mates))
        most = pi * widest**2 * (max(along) - min(along))
        what = NotTurned(kind, size, _where(kind, own, middle, axis, points))
        return Feature(what, tuple(face.id for face in mates), most)
    return None


def _lies_on(face: Face, axis: Frame) -> bool:
    surface = face.surface
    if isinstance(surface, Plane):
        inner = [
            edge
            for loop in face.loops
            for edge, _ in loop
            if edge.circle is not None and is_on(axis, edge.circle.frame)
        ]
        return is_along(axis, surface.frame.z) and bool(inner)
    if isinstance(surface, Cone | Revolved):
        return is_on(axis, surface.frame)
    if isinstance(surface, Torus):
        return axis.rz(surface.frame.origin)[0] < COAXIAL_MM and (
            surface.major < 1e-9 or is_along(axis, surface.frame.z)
        )
    return False


def _hole_kind(own: Frame, axis: Frame) -> str:
    if norm(cross(own.z, axis.z)) < 1e-6:
        return "axial hole"
    square = abs(dot(own.z, axis.z)) < 1e-6
    meets = abs(dot(cross(own.z, axis.z), sub(own.origin, axis.origin))) < 0.01
    return "cross hole" if square and meets else "cross hole off the axis" if square else "inclined hole"


def _where(kind: str, own: Frame, middle: Vec, axis: Frame, points: Sequence[Vec]) -> str:
    r, z = axis.rz(middle)
    if kind == "axial hole":
        low, high = _stretch(points, axis)
        return sentence(
            "on Ø{: [mm]} at {}, z {: [mm]} to {: [mm]}",
            shown(2 * r),
            _angle(axis.angle(middle)),
            shown(low),
            shown(high),
        )
    if kind.startswith("cross hole"):
        t = dot(sub(axis.origin, own.origin), own.z)
        off = axis.rz(on(own.origin, own.z, t))[0]
        side = "" if off < 0.01 else sentence(", {: mm} off the axis", shown(off))
        turn = axis.angle(middle) if r > 0.01 else _heading(own.z, axis)
        return sentence("z {: [mm]} at {}{}", shown(axis.rz(on(own.origin, own.z, t))[1]), _angle(turn), side)
    return sentence("z {: [mm]}, Ø{: [mm]} at {}", shown(z), shown(2 * r), _angle(axis.angle(middle)))


def _heading(way: Vec, axis: Frame) -> float:
    return atan2(dot(way, axis.y), dot(way, axis.x)) % pi


def _slot(faces: Sequence[Face], axis: Frame) -> Feature | None:
    """A slot: two flat walls that face each other; it is a keyway where it runs along the axis and towards it."""
    walls = [face for face in faces if isinstance(face.surface, Plane)]
    best: tuple[float, Vec, Vec] | None = None
    for k, one in enumerate(walls):
        n = _outward(one)
        for two in walls[k + 1 :]:
            apart = dot(sub(two.surface.frame.origin, one.surface.frame.origin), n)  # type: ignore[union-attr]
            if dot(n, _outward(two)) < -1 + 1e-9 and apart > 1e-6 and (best is None or apart < best[0]):
                best = apart, n, on(one.surface.frame.origin, n, apart / 2)  # type: ignore[union-attr]
    if best is None:
        return None
    width, n, middle = best
    points = points_of(faces)
    low, high = _stretch(points, axis)
    rs = [axis.rz(point)[0] for point in points]
    deep = _depth(faces, n, rs, axis)
    if abs(dot(n, axis.z)) > 0.5:
        kind, size = "slot across the axis", sentence("{: mm} wide, {: mm} deep", shown(width), shown(deep))
    else:
        radial = abs(dot(n, axis.z)) < 1e-6 and abs(dot(sub(middle, axis.origin), n)) < 0.01
        kind = "keyway" if radial else "slot"
        size = sentence("{: mm} wide, {: mm} deep, {: mm} long", shown(width), shown(deep), shown(high - low))
    return _feature(NotTurned(kind, size, _place(points, axis)), faces, axis)


def _depth(faces: Sequence[Face], n: Vec, rs: Sequence[float], axis: Frame) -> float:
    """How deep a slot is below the round face it is cut into: to its flat ground, where it has one along the axis."""
    for face in faces:
        if isinstance(face.surface, Plane):
            out = _outward(face)
            if abs(dot(out, axis.z)) < 1e-6 and abs(dot(out, n)) < 1e-6:
                off = dot(sub(face.surface.frame.origin, axis.origin), out)
                return max(rs) - off if off > 0 else -off - min(rs)
    return max(rs) - min(rs)


def _round_slot(faces: Sequence[Face], axis: Frame) -> Feature | None:
    """A slot that runs some way round the axis: a wall turned about it, and a ground across it."""
    walls = [f for f in faces if isinstance(f.surface, Cone) and is_on(axis, f.surface.frame)]
    grounds = [f for f in faces if isinstance(f.surface, Plane) and is_along(axis, f.surface.frame.z)]
    if not walls or not grounds:
        return None
    points = points_of(faces)
    low, high = _stretch(points, axis)
    rs = [axis.rz(point)[0] for point in points]
    turn = degrees(tau - gap_of([axis.angle(point) for point in points]))
    size = sentence(
        "Ø{: [mm]} to Ø{: [mm]}, {: mm} deep, over {:.0f}°",
        shown(2 * min(rs)),
        shown(2 * max(rs)),
        shown(high - low),
        turn,
    )
    return _feature(NotTurned("slot round the axis", size, _place(points, axis)), faces, axis)


def _flats(faces: Sequence[Face], axis: Frame, largest: float) -> tuple[list[Feature], list[Face]]:
    """Flats along the axis, each with its shoulders; and the faces that are left."""
    planes = [f for f in faces if isinstance(f.surface, Plane) and abs(dot(f.surface.frame.z, axis.z)) < 1e-6]
    left = [face for face in faces if face not in planes]
    found = []
    while planes:
        n = _outward(planes[0])
        off = _off(planes[0], n, axis)
        same = [f for f in planes if dot(_outward(f), n) > 1 - 1e-9 and abs(_off(f, n, axis) - off) < 1e-4]
        planes = [face for face in planes if face not in same]
        edges = {edge.id for face in same for loop in face.loops for edge, _ in loop}
        shoulders = [
            face for face in left
            if isinstance(face.surface, Plane) and is_along(axis, face.surface.frame.z)
            and any(edge.id in edges for loop in face.loops for edge, _ in loop)
        ]  # fmt: skip
        left = [face for face in left if face not in shoulders]
        points = points_of(same)
        low, high = _stretch(points, axis)
        size = sentence("{: mm} off the axis, {: mm} long", shown(abs(off)), shown(high - low))
        turn = _angle(_heading_full(n, axis))
        what = NotTurned("flat", size, sentence("z {: [mm]} to {: [mm]} at {}", shown(low), shown(high), turn))
        most = _beyond(off, max(largest, *(axis.rz(p)[0] for p in points))) * (high - low)
        found.append(Feature(what, tuple(face.id for face in (*same, *shoulders)), most))
    return found, left


def _off(face: Face, n: Vec, axis: Frame) -> float:
    return dot(sub(face.surface.frame.origin, axis.origin), n)  # type: ignore[union-attr]


def _beyond(off: float, radius: float) -> float:
    """Area of a disc beyond a straight line that stands ``off`` from its middle. [mm2]"""
    if off >= radius:
        return 0.0
    off = max(off, -radius)
    return radius**2 * acos(off / radius) - off * sqrt(radius**2 - off**2)


def _heading_full(way: Vec, axis: Frame) -> float:
    return atan2(dot(way, axis.y), dot(way, axis.x))


def _other(face: Face, axis: Frame, largest: float) -> Feature:
    points = points_of([face])
    surface = face.surface
    name = {Plane: "plane", Torus: "torus", Revolved: "surface of revolution", SplineSurface: "free surface"}.get(
        type(surface)
    )
    if isinstance(surface, Cone):
        name = sentence("cylinder Ø{: [mm]}", shown(2 * surface.radius)) if not surface.angle else "cone"
    elif isinstance(surface, Torus) and surface.major < 1e-9:
        name = sentence("sphere Ø{: [mm]}", shown(2 * surface.minor))
    elif isinstance(surface, OtherSurface):
        name = surface.name.lower().replace("_", " ")
    spans = [max(one) - min(one) for one in zip(*(axis.local(p) for p in points), strict=True)] if points else [0.0] * 3
    size = sentence("{}, {: [mm]} x {: [mm]} x {: mm}", name, shown(spans[0]), shown(spans[1]), shown(spans[2]))
    what = NotTurned("other face", size, _place(points, axis) if points else "place not known")
    return Feature(what, (face.id,), _most(points, axis, 0.0, largest))


def _together(faces: Sequence[Face], axis: Frame, largest: float) -> Feature:
    """Very many faces that hang together, as one."""
    points = points_of(faces)
    spans = [shown(max(one) - min(one)) for one in zip(*(axis.local(p) for p in points), strict=True)]
    size = sentence("{} that hang together, {: [mm]} x {: [mm]} x {: mm}", len(faces), *spans)
    what = NotTurned("other faces", size, _place(points, axis))
    return Feature(what, tuple(face.id for face in faces), _most(points, axis, 0.0, largest))


def _place(points: Sequence[Vec], axis: Frame) -> str:
    low, high = _stretch(points, axis)
    middle = [sum(one) / len(points) for one in zip(*(axis.local(p) for p in points), strict=True)]
    z = (
        sentence("z {: [mm]}", shown(low))
        if high - low < 1e-6
        else sentence("z {: [mm]} to {: [mm]}", shown(low), shown(high))
    )
    return z if hypot(middle[0], middle[1]) < 0.01 else sentence("{} at {}", z, _angle(atan2(middle[1], middle[0])))


def _feature(what: NotTurned, faces: Sequence[Face], axis: Frame) -> Feature:
    return Feature(what, tuple(face.id for face in faces), _most(points_of(faces), axis))


def _most(points: Sequence[Vec], axis: Frame, inner: float | None = None, outer: float = 0.0) -> float:
    """Volume of the smallest piece of a ring that holds the points: more cannot be taken away there. [mm3]

    A curved face may reach further in or out than its edges: its ring goes from ``inner`` to ``outer``. [mm]
    """
    if not points:
        return 0.0
    flat = [axis.rz(point) for point in points]
    low, high = min(r for r, _ in flat), max(r for r, _ in flat)
    if inner is not None:
        low, high = min(low, inner), max(high, outer)
    turn = tau - gap_of([axis.angle(point) for point in points]) if min(r for r, _ in flat) > 1e-6 else tau
    if turn > pi:  # the axis may lie between the points
        low = 0.0
    return turn / 2 * (high**2 - low**2) * (max(z for _, z in flat) - min(z for _, z in flat))


def points_of(faces: Iterable[Face]) -> list[Vec]:
    """Points on the edges of faces, on straight ones also between the ends."""
    seen: dict[int, Edge] = {edge.id: edge for face in faces for loop in face.loops for edge, _ in loop}
    found: list[Vec] = []
    for edge in seen.values():
        if len(edge.points) == 2:
            way = sub(edge.end, edge.start)
            found.extend(on(edge.start, way, share) for share in STRAIGHT_SHARES)
        else:
            found.extend(edge.points)
    return found


def _stretch(points: Sequence[Vec], axis: Frame) -> tuple[float, float]:
    zs = [axis.rz(point)[1] for point in points]
    return min(zs), max(zs)


def gap_of(angles: Sequence[float]) -> float:
    """The largest angle between neighbours on a circle."""
    if not angles:
        return tau
    rows = sorted(angle % tau for angle in angles)
    return max(b - a for a, b in zip(rows, [*rows[1:], rows[0] + tau], strict=True))


def _outward(face: Face) -> Vec:
    assert isinstance(face.surface, Plane)
    z = face.surface.frame.z
    return z if face.same_sense else (-z[0], -z[1], -z[2])


def _angle(angle: float) -> str:
    turned = round(degrees(angle) % 360.0, 2) % 360.0
    return f"{turned:g}°"


def shown(number: float) -> str:
    """A length as people read it."""
    return f"{round(number, 4) + 0.0:.6g}"
