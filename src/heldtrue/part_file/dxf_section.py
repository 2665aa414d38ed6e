"""Which areas of a half of the drawing are material, and the outline of them.

Where the drawing is hatched, the hatched areas are.  Where it is not, a line along the part has material on one side
only, counted from outside; a line across the axis may be an edge behind the cut and says nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from heldtrue.errors import GeometryError, InputError
from heldtrue.part_file.cells import SNAP_MM, Cells
from heldtrue.part_file.chaining import chained, cleaned, straightened
from heldtrue.part_file.dxf_hatch import HatchedArea
from heldtrue.part_file.outline import Line, Outline
from heldtrue.part_file.turned_part import NotTurned
from heldtrue.sentences import sentence

HATCHED, BARE = 0.9, 0.1
"""Share of an area under hatching from which, and up to which, it is material and not."""
MOST_RECESS = 0.5
"""A space that is no turned one, over the material found: more is a drawing that was misunderstood."""
OUTSIDE = -1


@dataclass
class Half:
    """The cells on one side of the axis; ``sign`` is that of their r. ``hatch``: all that is hatched, in (r, z)."""

    cells: Cells
    sign: float
    hatch: Sequence[HatchedArea]
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
        """The material by what hangs together, in order along the axis.

        What is hatched in another style is another part; so is, along a line that is not across the axis, what is
        another hatched area.
        """
        owner = {number: one for number in material if (one := self._owner(number)) is not None}
        found = self._components(material, alike=owner)
        for body in found:
            if len({owner[number][0] for number in body if number in owner}) > 1:
                raise InputError(
                    f"areas hatched in two ways hang together at {self._where(min(body))}, as those of two parts do; "
                    "give a drawing of this part alone"
                )
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
        pieces = [cleaned(self.cells.edges[e], self.sign) for e in edges]
        try:
            return Outline.of(straightened(chained(pieces)))
        except GeometryError as error:
            raise InputError(f"the outline is no half section of a turned part: {error}") from error

    def _without_recesses(self, material: set[int]) -> frozenset[int]:
        """Fill what no lathe turns: a space under an edge along the part, a closed one, a hole along the axis."""
        for space in self._components(frozenset(self.numbers) - material, across_only=True):
            edges = {edge for number in space for edge in self.cells.cells[number].edges}
            out = [edge for edge in edges if OUTSIDE in self.beside[edge] and not self._on_axis(edge)]
            on_axis = any(self._on_axis(edge) for edge in edges)
            if not out and on_axis and self.hatch:
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

    def _components(
        self, numbers: frozenset[int], across_only: bool = False, alike: Mapping[int, tuple[str, int]] | None = None
    ) -> list[frozenset[int]]:
        """What hangs together; ``across_only``: by edges straight across the axis, which a turned space may have.

        ``alike``: style and number of the hatching of each; those of another style do not hang together.
        """
        links: dict[int, set[int]] = defaultdict(set)
        for edge, (one, other) in self.beside.items():
            across = self._across(edge)
            if alike and one in alike and other in alike:
                (style, area), (style_too, area_too) = alike[one], alike[other]
                if style != style_too or (area != area_too and not across):
                    continue
            if one in numbers and other in numbers and (across or not across_only):
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
        if not self.hatch:
            return dict.fromkeys(self.numbers, 0.0)
        from shapely import unary_union

        whole = unary_union([one.area for one in self.hatch])
        areas = {number: self.cells.cells[number].polygon for number in self.numbers}
        return {n: float(area.intersection(whole).area / max(area.area, 1e-12)) for n, area in areas.items()}

    def _owner(self, number: int) -> tuple[str, int] | None:
        """Style and number of the hatched area that covers most of a cell; ``None`` for what was filled."""
        cell = self.cells.cells[number].polygon
        shared = [float(cell.intersection(one.area).area) for one in self.hatch]
        most = max(range(len(shared)), key=shared.__getitem__, default=-1)
        return None if most < 0 or shared[most] <= BARE * cell.area else (self.hatch[most].style, most)

    def _across(self, edge: int) -> bool:
        piece = self.cells.edges[edge]
        return isinstance(piece, Line) and abs(piece.start[1] - piece.end[1]) <= 2 * SNAP_MM

    def _on_axis(self, edge: int) -> bool:
        piece = self.cells.edges[edge]
        return isinstance(piece, Line) and max(abs(piece.start[0]), abs(piece.end[0])) <= SNAP_MM

    def _where(self, number: int) -> str:
        point = self.cells.cells[number].polygon.representative_point()
        return sentence("Ø{:.4g [mm]}, z {:.4g [mm]}", 2 * abs(point.x), point.y)

    def _not_turned(self, space: frozenset[int], what: str) -> NotTurned:
        bounds = [self.cells.cells[number].polygon.bounds for number in space]
        low, high = min(b[1] for b in bounds), max(b[3] for b in bounds)
        radii = sorted(abs(r) for b in bounds for r in (b[0], b[2]))
        return NotTurned(
            what,
            sentence("{:.4g mm} along, {:.4g mm} across", high - low, radii[-1] - radii[0]),
            sentence(
                "Ø{:.4g [mm]} to Ø{:.4g [mm]}, z {:.4g [mm]} to {:.4g [mm]}", 2 * radii[0], 2 * radii[-1], low, high
            ),
        )
