"""Structured meshes of 20-node bricks (15-node wedges on an axis) from three lists of lines.

A mesh is a lattice of every corner and middle point of every cell; a node is a lattice point that some kept cell
uses.  Cutting every interval m times keeps the first lines and, where the parts are equal, the points half way
between them, so that levels compare node by node.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_CORNERS = [(0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2)]
_MIDDLES = [(1, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2), (0, 1, 2)]
_UPRIGHT = [(0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1)]
BRICK = np.array(_CORNERS + _MIDDLES + _UPRIGHT)
"""Lattice offsets of a brick's nodes, in the order that the element C3D20 wants."""
WEDGE = np.array(
    [
        *[(0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2)],
        *[(1, 0, 0), (2, 1, 0), (1, 2, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2)],
        *[(0, 0, 1), (2, 0, 1), (2, 2, 1)],
    ]
)
"""The same for the wedge C3D15 whose first edge lies on the axis."""
FACE_LOW = {0: 6, 1: 3, 2: 1}
"""Number of a brick's face at the low end of each axis of the lattice."""
FACE_HIGH = {0: 4, 1: 5, 2: 2}
"""The same at the high end."""


@dataclass(frozen=True)
class Mesh:
    """``points``: (nodes, 3) in the lattice's own coordinates; ``bricks`` and ``wedges``: node indices from 0;
    ``cells``: centre of each brick in the same coordinates."""

    points: Array
    bricks: Ints
    wedges: Ints
    cells: Array

    def near(self, axis: int, value: float) -> NDArray[np.bool_]:
        """Which nodes have that coordinate."""
        return np.asarray(np.abs(self.points[:, axis] - value) < 1e-9)

    def faces(self, axis: int, value: float, *, high: bool, inside: NDArray[np.bool_]) -> list[tuple[int, int]]:
        """(brick, face number) of bricks in ``inside`` whose low or high side along an axis lies at a value."""
        corner = BRICK[:, axis] == (2 if high else 0)
        on = (np.abs(self.points[self.bricks[:, corner], axis] - value) < 1e-9).all(axis=1) & inside
        number = (FACE_HIGH if high else FACE_LOW)[axis]
        return [(int(i), number) for i in np.flatnonzero(on)]


def refined(lines: Sequence[float], times: int, corners: Sequence[float] = (), power: float = 1.0) -> Array:
    """Every interval cut into ``times`` parts: equal ones, or finer as a power towards a line in ``corners``."""
    pieces = []
    for a, b in pairwise(lines):
        share = np.arange(times) / times
        if a in corners:
            share = share**power
        elif b in corners:
            share = 1 - (1 - share) ** power
        pieces.append(a + (b - a) * share)
    return np.append(np.concatenate(pieces), lines[-1])


def with_middles(lines: Array) -> Array:
    """The lines and the points half way between them."""
    doubled = np.empty(2 * len(lines) - 1)
    doubled[::2] = lines
    doubled[1::2] = (lines[1:] + lines[:-1]) / 2
    return doubled


def lattice(
    first: Array, second: Array, third: Array, keep: Callable[[Array, Array, Array], NDArray[np.bool_]]
) -> Mesh:
    """Mesh of the cells whose centres ``keep`` keeps.  A first line at 0 is an axis: its points are one per level."""
    axes = [with_middles(lines) for lines in (first, second, third)]
    shape = tuple(len(axis) for axis in axes)
    centres = np.meshgrid(*(axis[1::2] for axis in axes), indexing="ij")
    kept = np.argwhere(keep(*centres))
    on_axis = (kept[:, 0] == 0) & (axes[0][0] == 0.0)
    bricks = _numbers(2 * kept[~on_axis], BRICK, shape, axes[0][0] == 0.0)
    wedges = _numbers(2 * kept[on_axis], WEDGE, shape, axes[0][0] == 0.0)
    used, flat = np.unique(np.concatenate([bricks.ravel(), wedges.ravel()]), return_inverse=True)
    points = np.column_stack([axis[i] for axis, i in zip(axes, np.unravel_index(used, shape), strict=True)])
    cells = np.column_stack([c[tuple(kept[~on_axis].T)] for c in centres])
    return Mesh(points, flat[: bricks.size].reshape(bricks.shape), flat[bricks.size :].reshape(wedges.shape), cells)


def _numbers(starts: Ints, offsets: Ints, shape: tuple[int, ...], axis: bool) -> Ints:
    """Flat lattice number of every node of every element; points on the axis all count as those of the first plane."""
    places = starts[:, None, :] + offsets[None]
    if axis:
        places[..., 1] = np.where(places[..., 0] == 0, 0, places[..., 1])
    return np.ravel_multi_index(tuple(np.moveaxis(places, -1, 0)), shape)


def turned(points: Array) -> Array:
    """(r, angle, z) to (x, y, z)."""
    r, angle, z = points.T
    return np.column_stack([r * np.cos(angle), r * np.sin(angle), z])
