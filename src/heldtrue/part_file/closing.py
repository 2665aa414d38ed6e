"""Pieces of turned faces closed to one outline.

A lathe turns the body before anything is milled or drilled into it, so the section is all that has material at any
angle: a cell between pieces is material where one piece at its rim says so.  What lies inside it (the wall of a slot
that runs round the axis, a face between two flats) is no turned surface any more.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import atan2, hypot, tau
from typing import Any

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.outline import CHORD_MM, Arc, Line, Outline, Piece, Point, as_one

SNAP_MM = 2e-4
"""Ends of pieces nearer than this are one corner: files round their numbers, and write a corner twice."""
FIGURES = 8
"""Decimals of a millimetre that are kept: the rest is noise of turning a tilted part straight."""
MOST_PIECES = 20_000
SHOWN = 4
OUTSIDE_MM = 0.01
WHOLE_TURN = 0.9 * tau
"""A face that goes so far round is turned over its whole circle but for a slot. [rad]"""


@dataclass(frozen=True)
class Strand:
    """A piece with the material on its left, the faces it belongs to and the angle that they cover together. [rad]"""

    piece: Piece
    faces: frozenset[int]
    sweep: float


@dataclass(frozen=True)
class Closed:
    """The outline, the strand of each of its pieces, and the faces that are on it."""

    outline: Outline
    strands: tuple[Strand, ...]

    @property
    def faces(self) -> frozenset[int]:
        """The faces that the outline runs along."""
        return frozenset[int]().union(*(strand.faces for strand in self.strands))


def close(strands: Iterable[Strand]) -> Closed:
    """Join strands to one closed outline.

    Raises: ``InputError`` where they do not close, close to more than one section, or leave a hole; with the place.
    """
    parts = _split(_merged(_snapped(list(strands))))
    if len(parts) > MOST_PIECES:
        raise InputError(f"the section has more than {MOST_PIECES} pieces")
    steps, owners = _cells(parts)
    rim = [step for step in steps if step[::-1] not in steps]
    if not rim:
        raise InputError(_open(parts))
    loop = _loop(rim)
    _refuse_outside(parts, loop)
    return _walk(loop, owners)


def _snapped(strands: list[Strand]) -> list[Strand]:
    """Ends that are nearly one made one."""
    grid: dict[tuple[int, int], Point] = {}

    def snap(point: Point) -> Point:
        r, z = (0.0 if abs(point[0]) < SNAP_MM else round(point[0], FIGURES)), round(point[1], FIGURES) + 0.0
        i, k = int(r // SNAP_MM), int(z // SNAP_MM)
        for di in (0, -1, 1):
            for dk in (0, -1, 1):
                near = grid.get((i + di, k + dk))
                if near is not None and hypot(near[0] - r, near[1] - z) < SNAP_MM:
                    return near
        grid[i, k] = (r, z)
        return r, z

    found = []
    for strand in strands:
        piece = strand.piece
        start, end = snap(piece.start), snap(piece.end)
        if start == end and isinstance(piece, Line):
            continue
        made = Line(start, end) if isinstance(piece, Line) else Arc(start, end, piece.centre, piece.counterclockwise)
        found.append(Strand(made, strand.faces, strand.sweep))
    return found


def _merged(strands: list[Strand]) -> list[Strand]:
    """Pieces that are the same, of a face that is split, taken as one."""
    found: dict[tuple[object, ...], Strand] = {}
    for strand in strands:
        piece = strand.piece
        key: tuple[object, ...] = (piece.start, piece.end)
        if isinstance(piece, Arc):
            key += (round(piece.centre[0], 3), round(piece.centre[1], 3), piece.counterclockwise)
        other = found.get(key)
        if other is not None:
            strand = Strand(other.piece, other.faces | strand.faces, min(other.sweep + strand.sweep, tau))
        found[key] = strand
    return list(found.values())


def _split(strands: list[Strand]) -> list[Strand]:
    """Every piece cut where the end of another lies on it; pieces that lie on one another become one."""
    nodes = sorted(
        {point for strand in strands for point in (strand.piece.start, strand.piece.end)}, key=lambda p: p[1]
    )
    levels = [z for _, z in nodes]
    found: list[Strand] = []
    for strand in strands:
        piece = strand.piece
        zs = [piece.start[1], piece.end[1]]
        if isinstance(piece, Arc):
            zs += [piece.centre[1] - piece.radius, piece.centre[1] + piece.radius]
        near = nodes[bisect_left(levels, min(zs) - SNAP_MM) : bisect_right(levels, max(zs) + SNAP_MM)]
        on = sorted((place, node) for node in near if (place := _place(piece, node)) is not None)
        corners = [piece.start, *(node for _, node in on), piece.end]
        for a, b in itertools.pairwise(corners):
            if a != b or (isinstance(piece, Arc) and len(corners) == 2):
                made = Line(a, b) if isinstance(piece, Line) else Arc(a, b, piece.centre, piece.counterclockwise)
                found.append(Strand(made, strand.faces, strand.sweep))
    return _merged(found)


def _place(piece: Piece, point: Point) -> float | None:
    """How far along a piece a point lies, 0 to 1; ``None`` where it is an end of it or off it."""
    if point in (piece.start, piece.end):
        return None
    if isinstance(piece, Line):
        (r0, z0), (r1, z1) = piece.start, piece.end
        length = piece.length
        along = ((point[0] - r0) * (r1 - r0) + (point[1] - z0) * (z1 - z0)) / length
        off = abs((point[0] - r0) * (z1 - z0) - (point[1] - z0) * (r1 - r0)) / length
        return along / length if off < SNAP_MM and 0 < along < length else None
    away = hypot(point[0] - piece.centre[0], point[1] - piece.centre[1])
    if abs(away - piece.radius) > SNAP_MM:
        return None
    begin, walked = piece.turn
    at = atan2(point[1] - piece.centre[1], point[0] - piece.centre[0])
    gone = (at - begin) % tau if walked > 0 else (begin - at) % tau
    return gone / abs(walked) if gone < abs(walked) else None


Step = tuple[Point, Point]


def _cells(parts: Sequence[Strand]) -> tuple[dict[Step, None], dict[Step, Strand]]:
    """The straight steps round every cell of material, material on the left; and which strand each step is of."""
    import shapely

    owners: dict[Step, Strand] = {}
    lines: dict[frozenset[Point], list[Point]] = {}
    for part in parts:
        points = [*part.piece.points(CHORD_MM), part.piece.end]
        kept = lines.setdefault(frozenset((points[0], points[-1], *_middle(points))), points)
        if kept is not points and kept[0] != points[0]:  # the same piece with material on both sides
            points = kept[::-1]
        for a, b in itertools.pairwise(points):
            owners[a, b] = part
    axis = sorted({p[1] for part in parts for p in (part.piece.start, part.piece.end) if p[0] == 0.0})
    rows = [*lines.values(), *([(0.0, a), (0.0, b)] for a, b in itertools.pairwise(axis))]
    steps: dict[Step, None] = {}
    for cell in shapely.polygonize(_as_lines(rows)).geoms:
        whole = shapely.orient_polygons(cell)
        rims = [[(float(r), float(z)) for r, z in rim.coords] for rim in (whole.exterior, *whole.interiors)]
        found = [step for rim in rims for step in itertools.pairwise(rim)]
        if any(step in owners for step in found):
            steps.update(dict.fromkeys(found))
    return steps, owners


def _as_lines(rows: Sequence[Sequence[Point]]) -> Any:
    """Rows of points as lines of shapely, made at once."""
    import shapely

    counts = [len(row) for row in rows]
    points = [point for row in rows for point in row]
    if not points:  # which shapely takes for no points at all
        return []
    return shapely.linestrings(points, indices=[k for k, count in enumerate(counts) for _ in range(count)])


def _middle(points: Sequence[Point]) -> tuple[tuple[float, float], ...]:
    """About where an arc bulges, the same for either way; nothing for a line."""
    if len(points) == 2:
        return ()
    r, z = points[len(points) // 2]
    return ((round(r, 2), round(z, 2)),)


def _loop(rim: Sequence[Step]) -> list[Point]:
    """The rim of the material as one row of points, the first again at its end. Raises: ``InputError``."""
    after = dict(rim)
    if len(after) != len(rim):
        raise InputError("the section touches itself in a point")
    begin = min(after, key=lambda p: (p[1], -p[0]))
    loop = [begin]
    while len(loop) == 1 or loop[-1] != begin:
        following = after.pop(loop[-1], None)
        if following is None:
            raise InputError("the turned faces do not close to a section")
        loop.append(following)
    if after:
        r, z = min(after)
        raise InputError(f"the turned faces close to more than one outline, another at Ø{2 * r:.6g}, z {z:.6g}: "
                         "a closed hollow or a separate section, which no lathe turns")  # fmt: skip
    return loop


def _walk(loop: Sequence[Point], owners: dict[Step, Strand]) -> Closed:
    """The rim of the material as pieces."""
    found: list[Strand] = []
    for a, b in itertools.pairwise(loop):
        strand = owners.get((a, b))
        if strand is None and (a[0] > 0 or b[0] > 0):
            raise InputError(f"the face at Ø{2 * a[0]:.6g}, z {a[1]:.6g} has its material on the wrong side")
        if strand is None:
            strand = Strand(Line(a, b), frozenset(), tau)  # along the axis
        if not found or found[-1] is not strand:
            found.append(strand)
    while len(found) > 1 and found[0] is found[-1]:
        found.pop()
    joined = _straightened(found)
    along = [strand.piece for strand in joined if not strand.faces]
    if len(along) > 1:
        raise InputError(f"the section has a closed hollow on the axis from z {along[0].end[1]:.6g}: no lathe turns it")
    try:
        return Closed(Outline.of(strand.piece for strand in joined), tuple(joined))
    except GeometryError as error:
        raise InputError(f"the turned faces give no section: {error}") from error


def _straightened(strands: list[Strand]) -> list[Strand]:
    """Pieces that go on in one line or one circle joined."""
    found = list(strands)
    changed = len(found) > 2
    while changed and len(found) > 2:
        changed = False
        made: list[Strand] = []
        for strand in found:
            one = _continued(made[-1], strand) if made else None
            if one is None:
                made.append(strand)
            else:
                made[-1], changed = one, True
        if len(made) > 2 and (one := _continued(made[-1], made[0])) is not None:
            made, changed = [one, *made[1:-1]], True
        found = made
    return found


def _continued(one: Strand, two: Strand) -> Strand | None:
    a, b = one.piece, two.piece
    if a.end != b.start or not one.faces or not two.faces:
        return (
            None if one.faces or two.faces or a.end != b.start else Strand(Line(a.start, b.end), one.faces, one.sweep)
        )
    whole = as_one(a, b, SNAP_MM)
    return None if whole is None else Strand(whole, one.faces | two.faces, min(one.sweep, two.sweep))


def _refuse_outside(parts: Sequence[Strand], loop: Sequence[Point]) -> None:
    """A face that goes round nearly whole and lies outside of what closed belongs to a section that did not close."""
    import shapely

    middles = []
    for part in parts:
        if part.sweep >= WHOLE_TURN:
            points = [*part.piece.points(1e-2), part.piece.end]
            (r0, z0), (r1, z1) = points[len(points) // 2 - 1], points[len(points) // 2]
            middles.append(((r0 + r1) / 2, (z0 + z1) / 2))
    body = shapely.Polygon(loop)
    shapely.prepare(body)
    if middles and not shapely.dwithin(body, shapely.points(middles), OUTSIDE_MM).all():
        raise InputError(_open(parts))


def _open(parts: Sequence[Strand]) -> str:
    """Where pieces end that nothing goes on from."""
    ends: dict[Point, int] = {}
    for part in parts:
        for point in (part.piece.start, part.piece.end):
            ends[point] = ends.get(point, 0) + 1
    loose = sorted((p for p, often in ends.items() if often == 1 and p[0] > 0), key=lambda p: (p[1], p[0]))
    places = "; ".join(f"Ø{2 * r:.6g}, z {z:.6g}" for r, z in loose[:SHOWN])
    more = f" and {len(loose) - SHOWN} more" if len(loose) > SHOWN else ""
    where = f": it is open at {places}{more}" if places else ""
    return f"the turned faces do not close to a section{where}"
