"""The metal that is left while a program runs, cut into cells so that a move only touches what is near. [mm]"""

from __future__ import annotations

from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from heldtrue.program.geometry import Floats
from heldtrue.program.job import Point

MOVES_A_CELL = 400
MOST_CELLS = 1600
SEAM_MM = 1e-7
"""Grid on which cells are put together again for looking at: closes rounding along their seams."""


class Stock:
    """Metal that can be cut, and asked what an area meets."""

    def __init__(self, metal: BaseGeometry, moves: int) -> None:
        self._cells = np.array(_cells(metal, moves), dtype=object)
        self._boxes: list[tuple[float, float, float, float]] = [tuple(b) for b in shapely.bounds(self._cells)]
        self._tree = shapely.STRtree(list(self._cells))
        bounds = np.array(self._boxes)
        self._low, self._high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)

    def ever_near(self, low: Floats, high: Floats) -> list[list[int]]:
        """For each of n boxes (n, 2), the cells whose metal before any cut reaches into it."""
        found: list[list[int]] = [[] for _ in low]
        (x, z), (u, w) = self._low, self._high
        some = np.flatnonzero((low[:, 0] <= u) & (high[:, 0] >= x) & (low[:, 1] <= w) & (high[:, 1] >= z))
        boxes = shapely.box(low[some, 0], low[some, 1], high[some, 0], high[some, 1])
        near, cells = self._tree.query(boxes)
        for box, cell in zip(some[near].tolist(), cells.tolist(), strict=True):
            found[box].append(cell)
        return found

    def near(self, low: Point, high: Point, among: list[int]) -> NDArray[np.intp]:
        """Those of some cells whose metal now reaches into a box."""
        (x, z), (u, w), boxes = low, high, self._boxes
        inside = [i for i in among if boxes[i][0] <= u and boxes[i][2] >= x and boxes[i][1] <= w and boxes[i][3] >= z]
        return np.array(inside, dtype=np.intp)

    def met(self, area: BaseGeometry, cells: NDArray[np.intp]) -> list[BaseGeometry]:
        """What ``area`` has in common with the metal of ``cells``."""
        touching = cells[shapely.intersects(self._cells[cells], area)]
        if not touching.size:
            return []
        found = shapely.intersection(self._cells[touching], area)
        return [f for f in found if f.area > 0]

    def cut(self, area: BaseGeometry, cells: NDArray[np.intp]) -> bool:
        """Take ``area`` away; whether there was any metal."""
        touching = cells[shapely.intersects(self._cells[cells], area)]
        if not touching.size:
            return False
        left = shapely.difference(self._cells[touching], area)
        self._cells[touching] = left
        for i, bounds in zip(touching.tolist(), shapely.bounds(left).tolist(), strict=True):
            self._boxes[i] = tuple(bounds)  # of nothing it is nan, which is near nothing
        return True

    def around(self, box: BaseGeometry) -> BaseGeometry:
        """The metal within a box, in one."""
        low_x, low_z, high_x, high_z = box.bounds
        cells = self.near((low_x, low_z), (high_x, high_z), list(range(len(self._cells))))
        parts = shapely.intersection(self._cells[cells], box)
        return parts[0] if len(parts) == 1 else shapely.union_all(parts, grid_size=SEAM_MM)

    def whole(self) -> BaseGeometry:
        """All the metal, in one."""
        return shapely.union_all(self._cells)


def _cells(metal: BaseGeometry, moves: int) -> list[BaseGeometry]:
    count = min(MOST_CELLS, moves // MOVES_A_CELL)
    if count < 4:
        return [metal]
    low_x, low_z, high_x, high_z = metal.bounds
    size = max(sqrt((high_x - low_x) * (high_z - low_z) / count), 1e-3)
    wide, high = ceil((high_x - low_x) / size), ceil((high_z - low_z) / size)
    xs, zs = np.linspace(low_x, high_x, wide + 1), np.linspace(low_z, high_z, high + 1)
    boxes = [shapely.box(xs[i], zs[j], xs[i + 1], zs[j + 1]) for i in range(wide) for j in range(high)]
    return [c for c in shapely.intersection(np.array(boxes, dtype=object), metal) if c.area > 0]
