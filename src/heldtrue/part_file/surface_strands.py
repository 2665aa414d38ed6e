"""The strands of the outline that each surface is made of."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from heldtrue.part_file.closing import Closed, Strand
from heldtrue.part_file.outline import Line
from heldtrue.part_file.turned_part import TurnedSurface

EVEN_MM = 1e-5
SAME_MM = 1e-4


def strands_of(surfaces: Sequence[TurnedSurface], closed: Closed) -> list[list[Strand]]:
    """For each surface its strands, in the order of the outline; a long shaft has thousands of both."""
    lines = [strand for strand in closed.strands if isinstance(strand.piece, Line)]
    rows = {"face": _Row(), "outside": _Row(), "inside": _Row()}
    for strand in lines:
        (r0, z0), (r1, z1) = strand.piece.start, strand.piece.end
        if abs(z0 - z1) < EVEN_MM:
            rows["face"].add((z0 + z1) / 2, r0 + r1, strand)
        if abs(r0 - r1) < EVEN_MM and z0 != z1:
            rows["outside" if z1 > z0 else "inside"].add(r0 + r1, (z0 + z1) / 2, strand)
    for row in rows.values():
        row.sort()
    order = {id(strand): k for k, strand in enumerate(lines)}
    found = []
    for one in surfaces:
        level, run = (one.z[0], one.diameters) if one.side == "face" else (one.diameters[0], one.z)
        found.append(sorted(rows[one.side].on(level, run), key=lambda strand: order[id(strand)]))
    return found


class _Row:
    """Strands that lie along one way: each at its level across it, with its middle along it."""

    def __init__(self) -> None:
        self._kept: list[tuple[float, float, Strand]] = []
        self._levels: list[float] = []

    def add(self, level: float, middle: float, strand: Strand) -> None:
        self._kept.append((level, middle, strand))

    def sort(self) -> None:
        self._kept.sort(key=lambda one: one[0])
        self._levels = [level for level, _, _ in self._kept]

    def on(self, level: float, run: tuple[float, float]) -> list[Strand]:
        """Those at that level whose middle lies in the run."""
        begin, end = bisect_right(self._levels, level - SAME_MM), bisect_left(self._levels, level + SAME_MM)
        return [strand for _, middle, strand in self._kept[begin:end] if run[0] < middle < run[1]]
