"""Plots in plain letters: an indicator round the part, sizes part after part."""

from __future__ import annotations

from math import isfinite, pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.readings_rows import signed_length, size
from heldtrue.inspection.drift import Drift
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.quantities import UnitSystem

Array = NDArray[np.float64]
Grid = list[list[str]]

WIDE, HIGH = 73, 11
CHART_WIDE, CHART_HIGH = 90, 13
EDGE = 14


def indicator_letters(one: IndicatorResult, system: UnitSystem) -> list[str]:
    """Readings (o), what was left out (x) and the fitted shape (.) over the angle from jaw 1, the mean taken off."""
    trace = one.trace
    place = trace.planes[0]
    rows = np.flatnonzero(trace.z == place)
    dropped = {o.row for o in one.outliers}
    curve = one.shape_at(np.linspace(0.0, 2 * pi, WIDE), place)
    here = indicator_levels(one)[rows]
    shown = np.array([v for v, row in zip(here, rows, strict=True) if int(row) not in dropped])
    low, high = _span(np.concatenate([curve, shown]))
    grid: Grid = [[" "] * WIDE for _ in range(HIGH)]
    for x, value in enumerate(curve):
        grid[_row(float(value), low, high, HIGH)][x] = "."
    for row, value in zip(rows.tolist(), here.tolist(), strict=True):
        x = round(float(np.mod(trace.angle[row], 2 * pi)) / (2 * pi) * (WIDE - 1))
        grid[_row(value, low, high, HIGH)][x] = "x" if row in dropped else "o"
    ends = {0: signed_length(high, system), HIGH // 2: signed_length((low + high) / 2, system),
            HIGH - 1: signed_length(low, system)}  # fmt: skip
    lines = [f"{ends.get(i, ''):>{EDGE}} |{''.join(row).rstrip()}" for i, row in enumerate(grid)]
    return [*lines, f"{'':>{EDGE}} +{'-' * WIDE}", f"{'':>{EDGE}}  {_jaw_line(one.jaws)}",
            f"{'':>{EDGE}}  {_angle_line()}"]  # fmt: skip


def indicator_levels(one: IndicatorResult) -> Array:
    """Deviation of every reading about the mean of its plane, as the fit has it. [mm]"""
    trace, dropped = one.trace, [o.row for o in one.outliers]
    levels = np.zeros_like(trace.reading)
    good = np.ones(levels.size, bool)
    good[dropped] = False
    for place in trace.planes:
        rows = trace.z == place
        off = trace.deviation - one.shape_at(trace.angle, place)
        levels[rows] = trace.deviation[rows] - off[rows & good].mean()
    return levels


def _jaw_line(jaws: int) -> str:
    cells = [" "] * (WIDE + 8)
    for k in range(jaws + 1):
        x = round(k / jaws * (WIDE - 1))
        for i, letter in enumerate(f"jaw {k % jaws + 1}"):
            cells[x + i] = letter
    return "".join(cells).rstrip()


def _angle_line() -> str:
    cells = [" "] * (WIDE + 8)
    for degree in range(0, 361, 60):
        for i, letter in enumerate(f"{degree}°"):
            cells[round(degree / 360 * (WIDE - 1)) + i] = letter
    return "".join(cells).rstrip()


def drift_letters(one: Drift, system: UnitSystem) -> list[str]:
    """Sizes (o) in order with drawing limits (=), limits about the trend (-), trend (.) and events (|)."""
    values = one.series.values
    count = values.size
    wide = min(CHART_WIDE, count)
    column = np.minimum((np.arange(count) * wide) // count, wide - 1)
    marks = [v for v in (one.series.lower, one.series.upper) if v is not None]
    charts = [p.chart for p in one.pieces if p.chart is not None]
    bounds = [float(v) for c in charts for ends in (c.below, c.above) for v in (ends.min(), ends.max()) if isfinite(v)]
    low, high = _span(np.array([float(values.min()), float(values.max()), *marks, *bounds]))
    grid: Grid = [[" "] * wide for _ in range(CHART_HIGH)]
    for piece in one.pieces:
        if piece.chart is not None:
            for levels, letter in ((piece.chart.level, "."), (piece.chart.below, "-"), (piece.chart.above, "-")):
                for part, level in zip(range(piece.first, piece.last + 1), levels.tolist(), strict=True):
                    if isfinite(level):
                        grid[_row(level, low, high, CHART_HIGH)][int(column[part])] = letter
    for level in marks:
        grid[_row(level, low, high, CHART_HIGH)] = ["="] * wide
    for event in one.series.events:
        if event.at > 0:
            for line in grid:
                line[int(column[event.at])] = "|"
    for x in range(wide):
        mine = values[column == x]
        for value in (float(mine.min()), float(mine.max())):
            grid[_row(value, low, high, CHART_HIGH)][x] = "o"
    ends = {0: size(high, system), CHART_HIGH - 1: size(low, system)}
    lines = [f"{ends.get(i, ''):>{EDGE}} |{''.join(row).rstrip()}" for i, row in enumerate(grid)]
    return [*lines, f"{'':>{EDGE}} +{'-' * wide}", f"{'':>{EDGE}}  part 1{f'part {count}':>{max(wide - 6, 10)}}"]


def _span(values: Array) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    return (low, high) if high > low else (low - 1e-4, high + 1e-4)


def _row(value: float, low: float, high: float, count: int) -> int:
    """Row from the top; what lies outside is put on the edge."""
    return min(max(round((high - value) / (high - low) * (count - 1)), 0), count - 1)
