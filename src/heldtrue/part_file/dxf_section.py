"""Which areas of a half of the drawing are material, and the outline of them.

Where the drawing is hatched, the hatched areas are.  Where it is not, a line along the part has material on one side
only, counted from outside; a line across the axis may be an edge behind the cut and says nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot
from typing import Any

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.cells import SNAP_MM, Cells
from heldtrue.part_file.outline import Arc, Line, Outline, Piece, Point
from heldtrue.part_file.turned_part import NotTurned

HATCHED, BARE = 0.9, 0.1
"""Share of an area under hatching from which, and up to which, it is material and not."""
MOST_RECESS = 0.5
"""A space that is no turned one, over the material found: more is a drawing that was misunderstood."""
GAP_MM = 0.5
"""An end that misses the next line by less was meant to meet it."""
OUTSIDE = -1


@dataclass
class Half:
    """The cells on one side of the axis; ``sign`` is that of their r. ``hatch``: hatched region in (r, z), or None."""

    cells: Cells
    sign: float
    hatch: Any
    hole_lines: Sequence[float]
    numbers: list[int] = field(default_factory=list)
    beside: dict[int, list[int]] = field(default_factory=dict)
    filled: list[NotTurned] = field(default_factory=list)

    def __post_init__(self) -> None:
        for number, cell in enumerate(self.cells.cells):
            if cell.polygon.representative_point().x * self.sign > 0:
                self.numbers.append(number)
        found: dict[int, list[int]] = defaultdict(list)
        for number in self.numbers:
            for edge in self.cells.cells[number].edges:
                found[edge].append(number)
        self.beside = {edge: both if len(both) == 2 else [*both, OUTSIDE] for edge, both in found.items()}

    @property
    def is_hatched(self) -> bool:
        """Does hatching cover any of its cells?"""
        return any(share >= HATCHED for share in self._shares().values())

    def whole(self) -> frozenset[int]:
        """Everything inside the outline."""
        return frozenset(self.numbers)

    def by_hatch(self) -> frozenset[int]:
        """What is hatched, with what is no turned space filled.

        Raises: ``InputError`` where an area is hatched in part.
        """
        shares = self._shares()
        for number, share in shares.items():
            if BARE < share < HATCHED:
                raise InputError(f"the area at {self._where(number)} is hatched in part; hatch it whole or not at all")
        return self._without_recesses({number for number, share in shares.items() if share >= HATCHED})

    def by_lines(self) -> frozenset[int] | None:
        """What lies between lines along the part, counted from outside; ``None`` where that does not come out."""
        state: dict[int, bool] = {OUTSIDE: False}
        waiting = [OUTSIDE]
        links: dict[int, list[int]] = defaultdict(list)
        for edge, (one, other) in self.beside.items():
            if not self._across(edge) and not self._on_axis(edge):
                links[one].append(other)
                links[other].append(one)
        while waiting:
            here = waiting.pop()
            for there in links[here]:
                if there not in state:
                    state[there] = not state[here]
                    waiting.append(there)
                elif state[there] == state[here]:
                    return None
        if any(number not in state for number in self.numbers):
            return None
        return self._without_recesses({number for number in self.numbers if state[number]})

    def bodies(self, material: frozenset[int]) -> list[frozenset[int]]:
        """The material by what hangs together, in order along the axis."""
        found = self._components(material)
        return sorted(found, key=lambda one: min(self.cells.cells[n].polygon.bounds[1] for n in one))

    def region(self, material: frozenset[int]) -> Any:
        """The material as a polygon at r >= 0."""
        from shapely import unary_union
        from shapely.affinity import scale

        area = unary_union([self.cells.cells[n].polygon for n in material])
        return area if self.sign > 0 else scale(area, -1.0, 1.0, origin=(0.0, 0.0))

    def outline(self, material: frozenset[int]) -> Outline:
        """The true lines and arcs round one body.

        Raises: ``InputError`` where they are no single closed outline.
        """
        edges = [e for e, both in self.beside.items() if sum(number in material for number in both) == 1]
        pieces = [_cleaned(self.cells.edges[e], self.sign) for e in edges]
        try:
            return Outline.of(_straightened(_chained(pieces)))
        except GeometryError as error:
            raise InputError(f"the outline is no half section of a turned part: {error}") from error

    def _without_recesses(self, material: set[int]) -> frozenset[int]:
        """Fill what no lathe turns: a space under an edge along the part, a closed one, a hole along the axis."""
        for space in self._components(frozenset(self.numbers) - material, across_only=True):
            edges = {edge for number in space for edge in self.cells.cells[number].edges}
            out = [edge for edge in edges if OUTSIDE in self.beside[edge] and not self._on_axis(edge)]
            on_axis = any(self._on_axis(edge) for edge in edges)
            if not out and on_axis and self.hatch is not None:
                raise InputError(f"a hollow at {self._where(min(space))} is closed on all sides; that cannot be turned")
            under = any(not self._across(edge) for edge in out)
            if not out or under or (not on_axis and self._is_hole(space, material)):
                what = "hole, slot or recess" if under or not out else "hole along the axis"
                if self._area(space) > MOST_RECESS * self._area(frozenset(material)):
                    raise InputError(
                        f"the area at {self._where(min(space))} is large and not hatched, though it lies inside the "
                        "outline; is it a frame, or a section in part? Give a section that is hatched all over"
                    )
                self.filled.append(self._not_turned(space, what))
                material |= space
        return frozenset(material)

    def _is_hole(self, space: frozenset[int], material: set[int]) -> bool:
        """A space off the axis that goes right through, or has a centre line of its own: no groove, but a hole."""
        bounds = [self.cells.cells[number].polygon.bounds for number in space]
        middle = (min(b[0] for b in bounds) + max(b[2] for b in bounds)) / 2
        if any(abs(abs(middle) - abs(r)) < 0.05 for r in self.hole_lines):
            return True
        whole = self._components(frozenset(material | space))
        return len(self._components(frozenset(material))) > len(whole)

    def _components(self, numbers: frozenset[int], across_only: bool = False) -> list[frozenset[int]]:
        """What hangs together; ``across_only``: by edges straight across the axis, which a turned space may have."""
        links: dict[int, set[int]] = defaultdict(set)
        for edge, (one, other) in self.beside.items():
            if one in numbers and other in numbers and (not across_only or self._across(edge)):
                links[one].add(other)
                links[other].add(one)
        left, found = set(numbers), []
        while left:
            group, waiting = set(), [left.pop()]
            while waiting:
                here = waiting.pop()
                group.add(here)
                waiting += [there for there in links[here] if there in left]
                left -= set(waiting)
            found.append(frozenset(group))
        return found

    def _area(self, numbers: frozenset[int]) -> float:
        return sum(float(self.cells.cells[number].polygon.area) for number in numbers)

    def _shares(self) -> dict[int, float]:
        if self.hatch is None:
            return dict.fromkeys(self.numbers, 0.0)
        areas = {number: self.cells.cells[number].polygon for number in self.numbers}
        return {n: float(area.intersection(self.hatch).area / max(area.area, 1e-12)) for n, area in areas.items()}

    def _across(self, edge: int) -> bool:
        piece = self.cells.edges[edge]
        return isinstance(piece, Line) and abs(piece.start[1] - piece.end[1]) <= 2 * SNAP_MM

    def _on_axis(self, edge: int) -> bool:
        piece = self.cells.edges[edge]
        return isinstance(piece, Line) and max(abs(piece.start[0]), abs(piece.end[0])) <= SNAP_MM

    def _where(self, number: int) -> str:
        point = self.cells.cells[number].polygon.representative_point()
        return f"Ø{2 * abs(point.x):.4g}, z {point.y:.4g}"

    def _not_turned(self, space: frozenset[int], what: str) -> NotTurned:
        bounds = [self.cells.cells[number].polygon.bounds for number in space]
        low, high = min(b[1] for b in bounds), max(b[3] for b in bounds)
        radii = sorted(abs(r) for b in bounds for r in (b[0], b[2]))
        return NotTurned(what, f"{high - low:.4g} mm along, {radii[-1] - radii[0]:.4g} mm across",
                         f"Ø{2 * radii[0]:.4g} to Ø{2 * radii[-1]:.4g}, z {low:.4g} to {high:.4g}")  # fmt: skip


def open_ends(cells: Cells) -> str | None:
    """Where a line misses the next one by a little, in words."""
    met: dict[Point, int] = defaultdict(int)
    for edge in cells.edges:
        met[edge.start] += 1
        met[edge.end] += 1
    loose = {p for n in cells.loose for p in (cells.edges[n].start, cells.edges[n].end) if met[p] == 1 and p[0] != 0.0}
    if not loose:
        return None
    from shapely import LineString
    from shapely import Point as Spot

    lines = [(edge, LineString([*edge.points(0.01), edge.end])) for edge in cells.edges]
    for r, z in sorted(loose):
        spot = Spot(r, z)
        near = min(
            (float(line.distance(spot)) for edge, line in lines if (r, z) not in (edge.start, edge.end)), default=9.9
        )
        if SNAP_MM < near <= GAP_MM:
            return f"the outline is open by {near:.3g} mm at Ø{2 * abs(r):.5g}, z {z:.5g}; close it in the drawing"
    return None


def beyond(cells: Cells) -> str | None:
    """Where a line that encloses nothing reaches beyond all that is closed, in words."""
    if not cells.cells:
        return None
    from shapely import unary_union

    closed = unary_union([cell.polygon for cell in cells.cells]).buffer(0.02)
    for number in cells.loose:
        edge = cells.edges[number]
        for r, z in (edge.start, edge.end):
            from shapely import Point as Spot

            if r != 0.0 and not closed.covers(Spot(r, z)):
                at = f"Ø{2 * abs(r):.5g}, z {z:.5g}"
                return f"lines at {at} enclose nothing; close the outline there, or take them out"
    return None


def _cleaned(piece: Piece, sign: float) -> Piece:
    """The piece at r >= 0, with its numbers rounded to a millionth of a millimetre times a thousand."""

    def at(p: Point) -> Point:
        r = 0.0 if abs(p[0]) <= SNAP_MM else sign * p[0]
        return round(r, 9), round(p[1], 9)

    if isinstance(piece, Line):
        return Line(at(piece.start), at(piece.end))
    turns = piece.counterclockwise if sign > 0 else not piece.counterclockwise
    return Arc(at(piece.start), at(piece.end), (sign * piece.centre[0], piece.centre[1]), turns)


def _chained(pieces: Sequence[Piece]) -> list[Piece]:
    """The pieces one after another."""
    at: dict[Point, list[Piece]] = defaultdict(list)
    for piece in pieces:
        at[piece.start].append(piece)
        at[piece.end].append(piece)
    for (r, z), both in at.items():
        if len(both) != 2:
            raise GeometryError(f"{len(both)} lines of it meet at Ø{2 * r:.5g}, z {z:.5g}")
    walked, here = [pieces[0]], pieces[0].end
    while here != pieces[0].start:
        one, other = at[here]
        following = other if one is walked[-1] or one == walked[-1].reversed else one
        following = following if following.start == here else following.reversed
        walked.append(following)
        here = following.end
    if len(walked) != len(pieces):
        raise GeometryError("it has an island inside")
    return walked


def _straightened(pieces: list[Piece]) -> list[Piece]:
    """Neighbours on one straight line or one circle become one piece."""
    joined: list[Piece] = []
    for piece in pieces:
        whole = _joined(joined[-1], piece) if joined else None
        if whole is None:
            joined.append(piece)
        else:
            joined[-1] = whole
    if len(joined) > 2 and (whole := _joined(joined[-1], joined[0])) is not None:
        joined[0] = whole
        joined.pop()
    return joined


def _joined(one: Piece, other: Piece) -> Piece | None:
    if isinstance(one, Line) and isinstance(other, Line):
        (ax, ay), (bx, by) = one.direction(True), other.direction(False)
        whole = Line(one.start, other.end)
        straight = ax * bx + ay * by > 0 and abs(ax * by - ay * bx) * min(one.length, other.length) <= 1e-6
        return whole if straight and whole.length > 0 else None
    if isinstance(one, Arc) and isinstance(other, Arc) and one.counterclockwise == other.counterclockwise:
        apart = hypot(one.centre[0] - other.centre[0], one.centre[1] - other.centre[1])
        if apart <= 1e-5 and abs(one.radius - other.radius) <= 1e-5 and one.start != other.end:
            return Arc(one.start, other.end, one.centre, one.counterclockwise)
    return None
