"""A field of numbers over a rectangle: its zero lines, hatching by sign, room for a label."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.svg import Point

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


def zero_lines(field: Array) -> list[tuple[Point, Point]]:
    """Pieces of the line where ``field`` (rows, columns) is zero, as (column, row) between its points."""
    found: list[tuple[Point, Point]] = []
    a, b, c, d = field[:-1, :-1], field[:-1, 1:], field[1:, 1:], field[1:, :-1]
    low, high = np.minimum(np.minimum(a, b), np.minimum(c, d)), np.maximum(np.maximum(a, b), np.maximum(c, d))
    with np.errstate(invalid="ignore"):
        crossed = np.isfinite(low) & np.isfinite(high) & (low < 0) & (high >= 0)
    for i, j in zip(*np.nonzero(crossed), strict=True):
        corners = [(j, i), (j + 1, i), (j + 1, i + 1), (j, i + 1)]
        values = [field[y, x] for x, y in corners]
        ends = [
            (x0 + v0 / (v0 - v1) * (x1 - x0), y0 + v0 / (v0 - v1) * (y1 - y0))
            for (x0, y0), (x1, y1), v0, v1 in zip(
                corners, corners[1:] + corners[:1], values, values[1:] + values[:1], strict=True
            )
            if (v0 < 0) != (v1 < 0)
        ]
        found += [(ends[k], ends[k + 1]) for k in range(0, len(ends) - 1, 2)]
    return found


def join(pieces: list[tuple[Point, Point]]) -> list[list[Point]]:
    """Pieces that meet end to end, joined into polylines."""
    ends: dict[Point, list[int]] = {}
    keyed = [tuple((round(float(x), 5), round(float(y), 5)) for x, y in piece) for piece in pieces]
    for number, piece in enumerate(keyed):
        for end in piece:
            ends.setdefault(end, []).append(number)
    left, lines = set(range(len(keyed))), []
    while left:
        number = left.pop()
        line = list(keyed[number])
        for _ in range(2):
            line.reverse()
            while following := [n for n in ends[line[-1]] if n in left]:
                left.discard(following[0])
                a, b = keyed[following[0]]
                line.append(b if a == line[-1] else a)
        lines.append(line)
    return lines


def sample(field: Array, column: Array, row: Array) -> Array:
    """``field`` between its points, straight in both directions."""
    rows, columns = field.shape
    x, y = np.clip(column, 0, columns - 1), np.clip(row, 0, rows - 1)
    j, i = np.minimum(x.astype(int), columns - 2), np.minimum(y.astype(int), rows - 2)
    u, v = x - j, y - i
    return np.asarray(
        field[i, j] * (1 - u) * (1 - v)
        + field[i, j + 1] * u * (1 - v)
        + field[i + 1, j] * (1 - u) * v
        + field[i + 1, j + 1] * u * v
    )


def hatch_below_zero(
    field: Array, width: float, height: float, *, spacing: float, rising: bool
) -> list[tuple[Point, Point]]:
    """Hatching, at 45 degrees on paper, of where ``field`` is below zero.

    Row 0 of the field lies at the bottom of ``width`` by ``height`` mm; points are from its corner, y up.
    """
    rows, columns = field.shape
    found: list[tuple[Point, Point]] = []
    reach, step = width + height, 0.2
    offset = spacing / 2
    while offset < reach * 1.0:
        start = max(0.0, offset - height)
        x = np.arange(start, min(width, offset) + step, step)
        x = x[x <= min(width, offset)]
        y = np.clip(offset - x, 0.0, height)
        if rising:
            y = height - y
        offset += spacing
        if len(x) < 2:
            continue
        below = sample(field, x / width * (columns - 1), y / height * (rows - 1)) < 0
        changes = np.flatnonzero(np.diff(np.concatenate([[False], below, [False]]).astype(int)))
        for first, last in zip(changes[::2], changes[1::2], strict=True):
            if last - first > 2:
                found.append(((float(x[first]), float(y[first])), (float(x[last - 1]), float(y[last - 1]))))
    return found


def free_spot(mask: Mask, wide: int, tall: int) -> tuple[int, int] | None:
    """Centre (row, column) of a ``tall`` by ``wide`` box of cells in ``mask`` with the most room round it."""
    rows, columns = mask.shape
    if wide > columns or tall > rows:
        return None
    best: tuple[int, int] | None = None
    for grow in range(max(rows, columns)):
        w, h = wide + 2 * grow, tall + 2 * grow
        if w > columns or h > rows:
            break
        total = np.zeros((rows + 1, columns + 1), dtype=int)
        total[1:, 1:] = mask.cumsum(axis=0).cumsum(axis=1)
        inside = total[h:, w:] - total[:-h, w:] - total[h:, :-w] + total[:-h, :-w]
        found = np.argwhere(inside == w * h)
        if not len(found):
            break
        row, column = found[np.abs(found - found.mean(axis=0)).sum(axis=1).argmin()]
        best = int(row) + h // 2, int(column) + w // 2
    return best
