"""The metal that is left while a program runs, cut into cells so that a move only touches what is near. [mm]"""

from __future__ import annotations

from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

MOVES_A_CELL = 400
MOST_CELLS = 1600
SEAM_MM = 1e-7
"""Grid on which cells are put together again for looking at: closes rounding along their seams."""


class Stock:
    """Metal that can be cut, and asked what an area meets."""

    def __init__(self, metal: BaseGeometry, moves: int) -> None:
        self._cells = np.array(_cells(metal, moves), dtype=object)
        self._boxes = shapely.bounds(self._cells)

    def near(self, low_x: float, low_z: float, high_x: float, high_z: float) -> NDArray[np.intp]:
        """The cells whose metal reaches into a box."""
        boxes = self._boxes
        with np.errstate(invalid="ignore"):
            inside = (boxes[:, 0] <= high_x) & (boxes[:, 2] >= low_x) & (boxes[:, 1] <= high_z) & (boxes[:, 3] >= low_z)
        return np.flatnonzero(inside)

    def met(self, area: BaseGeometry, cells: NDArray[np.intp]) -> list[BaseGeometry]:
        """What ``area`` has in common with the metal of ``cells``."""
        touching = cells[shapely.intersects(self._cells[cells], area)]
        found = shapely.intersection(self._cells[touching], area)
        return [f for f in found if f.area > 0]

    def cut(self, area: BaseGeometry, cells: NDArray[np.intp]) -> None:
        """Take ``area`` away."""
        touching = cells[shapely.intersects(self._cells[cells], area)]
        self._cells[touching] = shapely.difference(self._cells[touching], area)
        self._boxes[touching] = shapely.bounds(self._cells[touching])

    def around(self, box: BaseGeometry) -> BaseGeometry:
        """The metal within a box, in one."""
        parts = shapely.intersection(self._cells[self.near(*box.bounds)], box)
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
