"""Lines and arcs that cross and touch, cut into edges that meet only at their ends, and the cells they enclose.

Every edge keeps its true line or arc; the points of a cell are only there to find what encloses what.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, hypot, sqrt, tau
from typing import Any

from heldtrue.part_file.outline import Arc, Line, Piece, Point

SNAP_MM = 2e-3
"""Ends closer than this meet: drawings in inches with four places miss one another by that."""
COARSE_MM = 0.02
"""Chords of the pictures of arcs by which cells are found."""


@dataclass(frozen=True)
class Cell:
    """An area that edges enclose; ``edges``: numbers of all its edges, round its islands too."""

    polygon: Any
    edges: tuple[int, ...]


@dataclass(frozen=True)
class Cells:
    """All edges and cells; ``loose``: numbers of edges that enclose nothing."""

    edges: tuple[Piece, ...]
    cells: tuple[Cell, ...]
    loose: tuple[int, ...]

    def beside(self) -> dict[int, list[int]]:
        """For every edge the one or two cells beside it."""
        found: dict[int, list[int]] = defaultdict(list)
        for number, cell in enumerate(self.cells):
            for edge in cell.edges:
                found[edge].append(number)
        return found


def cells_of(pieces: Sequence[Piece]) -> Cells:
    """Cut the pieces where they meet, and find the cells."""
    edges = _edges(pieces)
    from shapely import LineString, polygonize_full

    drawn = [LineString([*edge.points(COARSE_MM), edge.end]) for edge in edges]
    known: dict[tuple[Point, Point], int] = {}
    for number, line in enumerate(drawn):
        points = list(line.coords)
        for a, b in pairwise(points):
            known[a, b] = known[b, a] = number
    areas, *_ = polygonize_full(drawn)
    cells = []
    for area in areas.geoms:
        found: set[int] = set()
        for ring in (area.exterior, *area.interiors):
            points = list(ring.coords)
            found.update(known[a, b] for a, b in pairwise(points))
        cells.append(Cell(area, tuple(sorted(found))))
    used = {edge for cell in cells for edge in cell.edges}
    return Cells(tuple(edges), tuple(cells), tuple(n for n in range(len(edges)) if n not in used))


def _edges(pieces: Sequence[Piece]) -> list[Piece]:
    cuts: list[list[Point]] = [[piece.start, piece.end] for piece in pieces]
    for i, j in _neighbours(pieces):
        for point in _meetings(pieces[i], pieces[j]):
            cuts[i].append(point)
            cuts[j].append(point)
    nodes = _Nodes()
    for piece in sorted(pieces, key=lambda one: isinstance(one, Arc)):  # ends of lines are the most exact
        nodes.at(piece.start)
        nodes.at(piece.end)
    edges: dict[tuple[Any, ...], Piece] = {}
    for piece, points in zip(pieces, cuts, strict=True):
        for edge in _cut(piece, [nodes.at(point) for point in points]):
            ends = tuple(sorted((edge.start, edge.end)))
            middle = edge.points(1e9)[1] if isinstance(edge, Arc) else None
            key = (*ends, middle and (round(middle[0], 2), round(middle[1], 2)))
            edges.setdefault(key, edge)
    return list(edges.values())


def _cut(piece: Piece, nodes: Sequence[Point]) -> Iterator[Piece]:
    """The piece between its nodes, in order."""
    if isinstance(piece, Line):
        (x, y), length = piece.start, max(piece.length, 1e-12)
        u, v = (piece.end[0] - x) / length, (piece.end[1] - y) / length
        order = sorted(set(nodes), key=lambda p: (p[0] - x) * u + (p[1] - y) * v)
        yield from (Line(a, b) for a, b in pairwise(order))
        return
    begin, walked = piece.turn
    sign = 1.0 if walked > 0 else -1.0
    slack = 2 * SNAP_MM / piece.radius

    def along(p: Point) -> float:
        angle = (sign * (atan2(p[1] - piece.centre[1], p[0] - piece.centre[0]) - begin)) % tau
        return angle - tau if angle > tau - slack else angle

    order = sorted(set(nodes), key=along)
    yield from (_arc(a, b, piece) for a, b in pairwise(order))


def _arc(a: Point, b: Point, arc: Arc) -> Piece:
    """The arc between two nodes that may lie a little off it: its centre moves to stand as far from both."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    u, v = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    off = (arc.centre[0] - (a[0] + b[0]) / 2) * u + (arc.centre[1] - (a[1] + b[1]) / 2) * v
    return Arc(a, b, (arc.centre[0] - off * u, arc.centre[1] - off * v), arc.counterclockwise)


class _Nodes:
    """Points that are one point where they are closer than ``SNAP_MM``."""

    def __init__(self) -> None:
        self._grid: dict[tuple[int, int], list[Point]] = defaultdict(list)

    def at(self, point: Point) -> Point:
        x, y = int(point[0] // SNAP_MM), int(point[1] // SNAP_MM)
        for i in (x, x - 1, x + 1):
            for j in (y, y - 1, y + 1):
                for known in self._grid.get((i, j), ()):
                    if hypot(known[0] - point[0], known[1] - point[1]) <= SNAP_MM:
                        return known
        self._grid[x, y].append(point)
        return point


def _neighbours(pieces: Sequence[Piece]) -> Iterator[tuple[int, int]]:
    from shapely import STRtree, box

    boxes = [box(*bounds(piece, SNAP_MM)) for piece in pieces]
    first, second = STRtree(boxes).query(boxes)
    yield from ((int(i), int(j)) for i, j in zip(first, second, strict=True) if i < j)


def bounds(piece: Piece, more: float = 0.0) -> tuple[float, float, float, float]:
    """Least x, least y, most x, most y of a piece, ``more`` mm wider all round."""
    points = [piece.start, piece.end]
    if isinstance(piece, Arc):
        (x, y), r = piece.centre, piece.radius
        points += [p for p in ((x + r, y), (x - r, y), (x, y + r), (x, y - r)) if on_arc(piece, p, 0.0)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more


def on_arc(arc: Arc, p: Point, slack: float) -> bool:
    """Is the direction of a point from the centre within the arc, ``slack`` mm past its ends allowed?"""
    begin, walked = arc.turn
    angle = atan2(p[1] - arc.centre[1], p[0] - arc.centre[0]) - begin
    angle = angle % tau if walked > 0 else (-angle) % tau
    past = slack / max(arc.radius, 1e-9)
    return angle <= abs(walked) + past or angle >= tau - past


def _on(piece: Piece, p: Point) -> bool:
    """Does the point lie on the piece, to ``SNAP_MM``?"""
    if isinstance(piece, Arc):
        off = abs(hypot(p[0] - piece.centre[0], p[1] - piece.centre[1]) - piece.radius)
        return off <= SNAP_MM and on_arc(piece, p, SNAP_MM)
    length = piece.length
    u, v = (piece.end[0] - piece.start[0]) / length, (piece.end[1] - piece.start[1]) / length
    x, y = p[0] - piece.start[0], p[1] - piece.start[1]
    return abs(x * v - y * u) <= SNAP_MM and -SNAP_MM <= x * u + y * v <= length + SNAP_MM


def _meetings(one: Piece, other: Piece) -> Iterator[Point]:
    ends = [p for p in (one.start, one.end) if _on(other, p)]
    ends += [p for p in (other.start, other.end) if _on(one, p)]
    yield from ends
    for p in _crossings(one, other):
        if _on(one, p) and _on(other, p) and not any(_same_contact(p, end, one, other) for end in ends):
            yield p


def _same_contact(p: Point, end: Point, one: Piece, other: Piece) -> bool:
    """Where an arc runs smoothly into its neighbour, rounded numbers make them cross a little beside their end."""
    radii = [piece.radius for piece in (one, other) if isinstance(piece, Arc)]
    reach = sqrt(8 * min(radii) * SNAP_MM) if radii else 2 * SNAP_MM
    return hypot(p[0] - end[0], p[1] - end[1]) <= reach


def _crossings(one: Piece, other: Piece) -> Iterable[Point]:
    if isinstance(one, Line) and isinstance(other, Line):
        return _lines(one, other)
    if isinstance(one, Line) and isinstance(other, Arc):
        return _line_arc(one, other)
    if isinstance(other, Line) and isinstance(one, Arc):
        return _line_arc(other, one)
    assert isinstance(one, Arc)
    assert isinstance(other, Arc)
    return _arcs(one, other)


def _lines(one: Line, other: Line) -> list[Point]:
    ax, ay = one.end[0] - one.start[0], one.end[1] - one.start[1]
    bx, by = other.end[0] - other.start[0], other.end[1] - other.start[1]
    det = ax * by - ay * bx
    if abs(det) <= 1e-9 * one.length * other.length:
        return []
    t = ((other.start[0] - one.start[0]) * by - (other.start[1] - one.start[1]) * bx) / det
    return [(one.start[0] + t * ax, one.start[1] + t * ay)]


def _line_arc(line: Line, arc: Arc) -> list[Point]:
    length = line.length
    u, v = (line.end[0] - line.start[0]) / length, (line.end[1] - line.start[1]) / length
    x, y = arc.centre[0] - line.start[0], arc.centre[1] - line.start[1]
    foot, off, r = x * u + y * v, x * v - y * u, arc.radius
    if abs(off) > r + SNAP_MM:
        return []
    half = sqrt(max(r * r - off * off, 0.0))
    return [(line.start[0] + t * u, line.start[1] + t * v) for t in {foot - half, foot + half}]


def _arcs(one: Arc, other: Arc) -> list[Point]:
    (x0, y0), (x1, y1) = one.centre, other.centre
    r, s = one.radius, other.radius
    d = hypot(x1 - x0, y1 - y0)
    if d <= SNAP_MM or d > r + s + SNAP_MM or d < abs(r - s) - SNAP_MM:
        return []
    along = (d * d + r * r - s * s) / (2 * d)
    high = sqrt(max(r * r - along * along, 0.0))
    u, v = (x1 - x0) / d, (y1 - y0) / d
    return [(x0 + along * u - h * v, y0 + along * v + h * u) for h in {high, -high}]


def touching(pieces: Sequence[Piece]) -> list[list[int]]:
    """Numbers of the pieces by what hangs together."""
    root = list(range(len(pieces)))

    def top(n: int) -> int:
        while root[n] != n:
            root[n] = root[root[n]]
            n = root[n]
        return n

    for i, j in _neighbours(pieces):
        if (a := top(i)) != (b := top(j)) and any(True for _ in _meetings(pieces[i], pieces[j])):
            root[a] = b
    groups: dict[int, list[int]] = defaultdict(list)
    for n in range(len(pieces)):
        groups[top(n)].append(n)
    return list(groups.values())
