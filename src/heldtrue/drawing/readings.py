"""An indicator round the part as a polar plot, and sizes part after part as a chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil, floor, log10, pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.letters import indicator_levels
from heldtrue.drawing.readings_rows import drift_name, size, tir_words
from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    DASHED,
    FAINT,
    GREY,
    HAIR,
    INK,
    LEAST,
    MEDIUM,
    NARROW,
    PAPER,
    PHANTOM,
    STRONG,
    Picture,
    Point,
    on_circle,
    shorten,
)
from heldtrue.drawing.wording import small_length
from heldtrue.inspection.causes import JawHigh
from heldtrue.inspection.drift import Drift, Piece
from heldtrue.inspection.indicator import IndicatorResult
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units, joined

Array = NDArray[np.float64]

SWING = 0.3
"""Share of the plotted radius that the largest deviation may take."""
FEW = 72
"""Up to that many readings each is a ring; more are dots."""
MOST_DOTS = 720
"""Steps round the part or along the chart; of more readings each step shows its highest and lowest."""
ROW = 4.2
JAW_MARK = "#cfd1d0"
CURVE_POINTS = 60
"""Points of the trend that are drawn."""
MOST_RINGED = 60
"""Parts ringed for a rule; the last ones."""
MOST_EVENTS = 12
"""Events named on the chart; further ones are lines."""
AHEAD = 0.6
"""The chart reaches at most this share of its parts beyond the last one."""


def draw_indicator(
    one: IndicatorResult, system: UnitSystem = "metric", *, jaw: JawHigh | None = None, width: float = 90.0,
    height: float = 108.0,
) -> str:  # fmt: skip
    """Polar plot of one trace about the mean, the deviation enlarged, as SVG of ``width`` by ``height`` mm.

    ``jaw``: the one that stands high or low, marked.
    """
    trace = one.trace
    levels, around = indicator_levels(one), np.linspace(0.0, 2 * pi, 361)
    curves = [one.shape_at(around, z) for z in dict.fromkeys((trace.planes[0], trace.planes[-1]))]
    good = np.ones(levels.size, bool)
    good[[o.row for o in one.outliers]] = False
    legend = 5 * ROW + 3.0
    radius = min(width / 2, (height - legend) / 2 - 1.0) - 11.0
    base = radius * (1 - SWING)
    largest = max(float(np.abs(levels[good]).max()), *(float(np.abs(c).max()) for c in curves), 1e-6)
    per_mm = SWING * radius / largest
    centre = (width / 2, (height - legend) / 2 + 0.5)
    words = f"run-out as read {tir_words(one, system)}"
    picture = Picture(width, height, "Indicator round the part", words)
    unit = 25.4 if system == "inch" else 1.0
    step = _round_down(largest / unit) * unit
    _rings(picture, centre, base, per_mm, step)
    _jaws(picture, one.jaws, jaw, centre, radius)
    for curve, dash in zip(curves, ("", DASHED), strict=False):
        points = [on_circle(centre, base + float(d) * per_mm, float(a)) for a, d in zip(around, curve, strict=True)]
        picture.polyline(points, width=0.6, colour=ACCENT, dash=dash, closed=True)
    _readings(picture, one, levels, good, centre, base, per_mm)
    _offset(picture, one, centre, per_mm)
    _legend(picture, one, system, step, height - legend + 4.0)
    return picture.svg()


def _rings(picture: Picture, centre: Point, base: float, per_mm: float, step: float) -> None:
    """The mean as a chain line and a thin ring on each side of it."""
    picture.circle(centre, base, width=0.18, dash=CENTRE_LINE)
    for sign in (-1.0, 1.0):
        picture.circle(centre, base + sign * step * per_mm, width=HAIR, colour=GREY)


def _jaws(picture: Picture, jaws: int, high: JawHigh | None, centre: Point, radius: float) -> None:
    """Every jaw as a wedge outside the plot with its number; the one that stands out is black."""
    half = min(0.2, 0.7 * pi / jaws)
    inner, outer = radius + 1.5, radius + 4.0
    for k in range(jaws):
        middle = 2 * pi * k / jaws
        angles = [middle + half * i / 8 for i in range(-8, 9)]
        loop = [on_circle(centre, outer, a) for a in angles] + [on_circle(centre, inner, a) for a in reversed(angles)]
        mine = high is not None and high.jaw == k + 1
        picture.polyline(loop, width=NARROW, closed=True, fill=INK if mine else JAW_MARK)
        x, y = on_circle(centre, radius + 7.0, middle)
        picture.text((x, y + 1.1), str(k + 1), size=STRONG, anchor="middle", bold=True)


def _readings(
    picture: Picture, one: IndicatorResult, levels: Array, good: NDArray[np.bool_], centre: Point, base: float,
    per_mm: float,
) -> None:  # fmt: skip
    trace = one.trace
    few = levels.size <= FEW
    rows = np.flatnonzero(good)
    if not few:
        rows = rows[_ends(np.mod(trace.angle[rows], 2 * pi) / (2 * pi), levels[rows])]
    for row in rows.tolist():
        at = on_circle(centre, base + float(levels[row]) * per_mm, float(trace.angle[row]))
        if few:
            last = len(trace.planes) > 1 and trace.z[row] == trace.planes[-1]
            picture.circle(at, 0.9, width=NARROW, fill=PAPER if last else INK)
        else:
            picture.circle(at, 0.22, width=0, fill=GREY)
    limit = base + 1.12 * SWING / (1 - SWING) * base
    for out in one.outliers[:FEW]:
        reach = float(np.clip(base + float(levels[out.row]) * per_mm, 0.15 * base, limit))
        x, y = on_circle(centre, reach, out.angle)
        for side in (-1, 1):
            picture.line((x - 1.3, y - 1.3 * side), (x + 1.3, y + 1.3 * side), width=MEDIUM)


def _ends(share: Array, value: Array) -> NDArray[np.int64]:
    """Places of the highest and lowest value in each of ``MOST_DOTS`` steps of ``share`` (0 to 1)."""
    step = np.minimum((share * MOST_DOTS).astype(np.int16), MOST_DOTS - 1)
    order = np.argsort(step, kind="stable")  # by radix: a full sort of a million took a second
    groups = np.split(order, np.flatnonzero(np.diff(step[order])) + 1)
    found = [group[end] for group in groups for end in (value[group].argmin(), value[group].argmax())]
    return np.unique(np.array(found, np.int64))


def _offset(picture: Picture, one: IndicatorResult, centre: Point, per_mm: float) -> None:
    """Where the centre of the surface is against the spindle's, on the scale of the plot."""
    for a, b in (((-2.5, 0.0), (2.5, 0.0)), ((0.0, -2.5), (0.0, 2.5))):
        picture.line((centre[0] + a[0], centre[1] + a[1]), (centre[0] + b[0], centre[1] + b[1]), width=0.18)
    wave = one.eccentricity
    tip = on_circle(centre, wave.amplitude.value * per_mm, wave.direction)
    if wave.amplitude.value * per_mm > 2.4:
        picture.line(centre, tip, width=MEDIUM)
        picture.arrow_head(tip, (tip[0] - centre[0], tip[1] - centre[1]))


def _legend(picture: Picture, one: IndicatorResult, system: UnitSystem, step: float, top: float) -> None:
    start = 14.0
    two = len(one.trace.planes) > 1
    names = ", first plane filled, last plane open" if two else ""
    rows = [f"readings about their mean{names}", f"fitted shape{', last plane dashed' if two else ''}"]
    rows.append(f"centre of the surface: off by {small_length(one.eccentricity.amplitude.value, system)}")
    rows.append(f"mean (chain) and {small_length(step, system)} to both sides of it")
    if one.outliers:
        rows.append(f"left out: {len(one.outliers)} of {len(one.trace.reading)}")
    for number, words in enumerate(rows):
        y = top + ROW * number
        at = (6.0, y - 1.0)
        if number == 0:
            picture.circle(at, 0.9, width=0, fill=INK)
        elif number == 1:
            picture.line((1.0, at[1]), (11.0, at[1]), width=0.6, colour=ACCENT)
        elif number == 2:
            picture.line((2.0, at[1]), (10.0, at[1]), width=MEDIUM)
            picture.arrow_head((10.0, at[1]), (1.0, 0.0))
        elif number == 3:
            picture.line((1.0, at[1]), (11.0, at[1]), width=HAIR, colour=GREY)
        else:
            for side in (-1, 1):
                picture.line((4.7, at[1] - 1.3 * side), (7.3, at[1] + 1.3 * side), width=MEDIUM)
        picture.text((start, y), shorten(words, picture.width - start - 0.5))


def draw_drift(one: Drift, system: UnitSystem = "metric", *, width: float = 180.0, height: float = 100.0) -> str:
    """Sizes in the order of the parts with limits, control limits about the trend, and events, as SVG."""
    picture = Picture(width, height, f"{drift_name(one)}, part after part", in_units(joined("; ", one.words), system))
    frame = _Frame(one, width, height)
    picture.text((2.0, 5.0), shorten(drift_name(one), 0.6 * width, STRONG), size=STRONG, bold=True)
    _events(picture, one, frame)
    labels: list[tuple[float, str]] = []
    for level, words in ((one.series.upper, "limit"), (one.series.lower, "limit")):
        if level is not None:
            picture.line((frame.left, frame.y(level)), (frame.right, frame.y(level)), width=0.6)
            labels.append((frame.y(level), f"{words} {size(level, system)}"))
    for piece in one.pieces:
        labels += _control(picture, piece, frame, system, last=piece is one.pieces[-1])
    _values(picture, one, frame)
    _trend(picture, one, frame)
    _right_labels(picture, labels, frame)
    picture.rect((frame.left, frame.top), frame.right - frame.left, frame.bottom - frame.top, line=HAIR)
    _below(picture, one, frame, height)
    return picture.svg()


class _Frame:
    """Paper for (part, size)."""

    def __init__(self, one: Drift, width: float, height: float) -> None:
        count = one.series.values.size
        ahead = 0.0
        if one.parts_left is not None:
            ahead = min(max(one.parts_left.value, 0.0) * 1.05, AHEAD * count)
        self.last = count - 1 + ahead
        self.left, self.right, self.top, self.bottom = 3.0, width - 36.0, 18.0, height - 18.0
        charts = [p.chart for p in one.pieces if p.chart is not None]
        rows = [one.series.values, *(side[np.isfinite(side)] for c in charts for side in (c.below, c.above))]
        levels = [float(end) for row in rows if row.size for end in (row.min(), row.max())]
        levels += [v for v in (one.series.lower, one.series.upper) if v is not None]
        room = max(0.05 * (max(levels) - min(levels)), 1e-6)
        self.low, self.high = min(levels) - room, max(levels) + room

    def x(self, part: float) -> float:
        """Part number from 0 on paper."""
        return self.left + 2.0 + part / max(self.last, 1.0) * (self.right - self.left - 4.0)

    def y(self, value: float) -> float:
        """A size on paper."""
        return self.bottom - (value - self.low) / (self.high - self.low) * (self.bottom - self.top)


def _events(picture: Picture, one: Drift, frame: _Frame) -> None:
    """A chain line before the part, its name above it; two rows so that neighbours do not meet."""
    reach = [-1e9, -1e9, -1e9]
    for number, event in enumerate(e for e in one.series.events if e.at > 0):
        x = frame.x(event.at - 0.5)
        picture.line((x, frame.top), (x, frame.bottom), width=NARROW, dash=PHANTOM, colour=GREY)
        if number >= MOST_EVENTS:
            continue
        words = shorten(event.what, 34.0, LEAST)
        row = next((i for i, used in enumerate(reach) if x - 1.0 > used), None)
        if row is None:
            continue
        picture.text((x - 0.6, frame.top - 1.4 - 3.4 * row), words, size=LEAST)
        reach[row] = x + 1.3 * len(words)


def _control(
    picture: Picture, piece: Piece, frame: _Frame, system: UnitSystem, *, last: bool
) -> list[tuple[float, str]]:
    if piece.chart is None:
        return []
    chart, labels = piece.chart, []
    parts = np.arange(piece.first, piece.last + 1)
    few = np.unique(np.linspace(0, parts.size - 1, min(parts.size, CURVE_POINTS)).round().astype(int))
    for levels, name, dash in ((chart.above, "control", DASHED), (chart.below, "control", DASHED),
                               (chart.level, "trend", CENTRE_LINE)):  # fmt: skip
        if not np.isfinite(levels).all():
            continue
        inside = np.clip(levels[few], frame.low, frame.high)
        points = [(frame.x(float(part)), frame.y(float(v))) for part, v in zip(parts[few], inside, strict=True)]
        picture.polyline(points, width=NARROW, dash=dash, colour=INK if name == "control" else GREY)
        if last:
            labels.append((points[-1][1], f"{name} {size(float(levels[-1]), system)}"))
    return labels


def _values(picture: Picture, one: Drift, frame: _Frame) -> None:
    values = one.series.values
    rows = np.arange(values.size)
    if values.size > MOST_DOTS:
        rows = np.sort(_ends(rows / values.size, values))
    points = [(frame.x(float(i)), frame.y(float(values[i]))) for i in rows.tolist()]
    if values.size > MOST_DOTS:
        picture.segments(pairwise(points), width=HAIR, colour=GREY)
    else:
        picture.polyline(points, width=HAIR, colour=FAINT)
        for at in points:
            picture.circle(at, 0.75 if values.size <= 150 else 0.4, width=0, fill=INK)
    met = sorted({int(p) for piece in one.pieces if piece.chart for s in piece.chart.signals for p in s.places})
    for part in met[-MOST_RINGED:]:
        picture.circle((frame.x(part), frame.y(float(values[part]))), 1.7, width=NARROW)


def _trend(picture: Picture, one: Drift, frame: _Frame) -> None:
    last = one.pieces[-1]
    if not one.drifting or last.trend is None:
        return
    line = last.trend
    ends = [(float(last.first), line.at(float(last.first)).value), (frame.last, line.at(frame.last).value)]
    (x0, y0), (x1, y1) = ends
    for bound in (frame.low, frame.high):  # cut off where it leaves the chart
        if (y0 - bound) * (y1 - bound) < 0:
            share = (bound - y0) / (y1 - y0)
            x1, y1 = x0 + share * (x1 - x0), bound
    picture.line((frame.x(x0), frame.y(y0)), (frame.x(x1), frame.y(y1)), width=0.6, colour=ACCENT)


def _right_labels(picture: Picture, labels: Sequence[tuple[float, str]], frame: _Frame) -> None:
    """Names of the levels beside the chart, pushed apart."""
    at = -1e9
    for y, words in sorted(labels):
        at = max(y + 0.9, at + 3.1)
        picture.text((frame.right + 1.2, at), words, size=LEAST)


def _below(picture: Picture, one: Drift, frame: _Frame, height: float) -> None:
    count = one.series.values.size
    step = max(_round_up(frame.last / 8.0), 1.0)
    part = 0.0
    while part <= frame.last + 1e-9:
        x = frame.x(max(part - 1.0, 0.0))
        picture.line((x, frame.bottom), (x, frame.bottom + 1.0), width=HAIR)
        picture.text((x, frame.bottom + 4.0), f"{max(part, 1.0):.0f}", size=LEAST, anchor="middle")
        part += step
    if frame.last > count:
        x = frame.x(count - 1)
        picture.line((x, frame.bottom), (x, frame.bottom - 3.0), width=NARROW)
        picture.text((x + 0.8, frame.bottom - 1.0), "now", size=LEAST)
    keys = "dot: one part; ring: outside; dashed: limits about the trend; chain: trend; line across: event"
    keys += "; heavy line: straight trend" if one.drifting else ""
    picture.text((frame.left, height - 8.5), shorten("part, in the order made", 90.0, LEAST), size=LEAST)
    picture.text((frame.left, height - 3.5), shorten(keys, picture.width - 4.0, LEAST), size=LEAST, colour=GREY)


def _round_down(number: float) -> float:
    """To 1, 2 or 5 times a power of ten."""
    power = 10.0 ** floor(log10(number))
    return next(step for step in (5, 2, 1) if step * power <= number * 1.0001) * power


def _round_up(number: float) -> float:
    power = 10.0 ** floor(log10(max(number, 1.0)))
    return next((step * power for step in (1, 2, 5, 10) if step * power >= number), float(ceil(number)))
