"""Lines that enclose nothing: where an outline is open, and what reaches beyond it."""

from __future__ import annotations

from collections import defaultdict

from heldtrue.part_file.cells import SNAP_MM, Cells
from heldtrue.part_file.outline import Point
from heldtrue.sentences import sentence

GAP_MM = 0.5
"""An end that misses the next line by less was meant to meet it."""


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
            return sentence(
                "the outline is open by {:.3g mm} at Ø{:.5g [mm]}, z {:.5g [mm]}; close it in the drawing",
                near,
                2 * abs(r),
                z,
            )
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
                at = sentence("Ø{:.5g [mm]}, z {:.5g [mm]}", 2 * abs(r), z)
                return sentence("lines at {} enclose nothing; close the outline there, or take them out", at)
    return None
