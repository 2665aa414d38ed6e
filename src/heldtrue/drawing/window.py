"""The pressure window over spindle speed: where the part is held and stays true, lets go, or is spoiled."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, isfinite, log10

import numpy as np
from numpy.typing import NDArray

from heldtrue.drawing.fields import Mask, free_spot, hatch_below_zero, join, sample, zero_lines
from heldtrue.drawing.svg import (
    ACCENT,
    GREY,
    INK,
    LEAST,
    LETTER,
    MEDIUM,
    NARROW,
    PAPER,
    STRONG,
    WIDE,
    Picture,
    Point,
    shorten,
    text_width,
)
from heldtrue.drawing.wording import other_pressure_unit
from heldtrue.planning.gauge_words import pressure_number, spelled
from heldtrue.planning.phrases import ceiling_text, floor_text
from heldtrue.planning.result import Plan, PressureStep
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, from_core

LEFT, RIGHT, TOP, BOTTOM = 13.0, 13.0, 7.0, 11.5
NOT_HELD, TOO_LITTLE = "not held", "too little grip"
OUT, TOO_MUCH = "out of tolerance", "marked, yields or over a plate limit"
GOOD, BOTH = "holds and stays true", "not held and out of tolerance"
HATCH_LETS_GO, HATCH_SPOILS = 2.4, 1.8
"""Spacing of the hatching of the two bad regions, which also lean opposite ways. [mm]"""
NAME_ROOM = 14.0
LEAST_LIMIT = 1.0
"""Below this there is no spindle limit to write. [rev/min]"""
CELL = 0.5
"""Grid on which room for labels is looked for. [mm]"""


@dataclass(frozen=True)
class _Axes:
    """From pressure [MPa] and speed [rev/min] to paper."""

    speeds: tuple[float, float]
    pressures: tuple[float, float]
    width: float
    height: float
    corner: Point

    def x(self, speed: float) -> float:
        low, high = self.speeds
        return self.corner[0] + (speed - low) / (high - low) * self.width

    def y(self, pressure: float) -> float:
        low, high = self.pressures
        return self.corner[1] + self.height - (pressure - low) / (high - low) * self.height

    def holds(self, pressure: float) -> bool:
        return self.pressures[0] <= pressure <= self.pressures[1]


def draw_window(plan: Plan, system: UnitSystem = "metric", *, width: float = 110.0, height: float = 85.0) -> str:
    """Map of pressure against spindle limit, as SVG of ``width`` by ``height`` mm."""
    window = plan.window
    unit = gauge_unit_of(plan.setup)
    speed, pressure = _even(window.speed_rpm), _even(window.pressure)
    axes = _Axes(
        (float(speed[0]), float(speed[-1])),
        (float(pressure[0]), float(pressure[-1])),
        width - LEFT - RIGHT,
        height - TOP - BOTTOM,
        (LEFT, TOP),
    )
    picture = Picture(width, height, "Pressure window over spindle speed", _describe(plan, unit))
    holds, true = _finite(window.holds), _finite(window.true)
    _regions(picture, axes, holds, true)
    taken = _Taken(axes)
    _limits(picture, axes, plan, unit, taken)
    _working_points(picture, axes, plan, unit, taken)
    _labels(picture, axes, holds, true, plan.pressure.steps, taken)
    _frame(picture, axes, unit, system)
    return picture.svg()


def map_frame(width: float = 110.0, height: float = 85.0) -> tuple[float, float, float, float]:
    """Where the axes stand in a picture of ``draw_window``: left, top, width and height as shares of the picture."""
    return LEFT / width, TOP / height, (width - LEFT - RIGHT) / width, (height - TOP - BOTTOM) / height


def _describe(plan: Plan, unit: str) -> str:
    parts = []
    for step in plan.pressure.steps:
        parts.append(f"{step.name}: floor {floor_text(step.floor, unit)}, ceiling {ceiling_text(step.ceiling, unit)}")
    limit = f"spindle limit {plan.speed.limit:.0f} rev/min" if plan.speed.limit >= LEAST_LIMIT else "no speed"
    return "; ".join([*parts, limit])


def _number(pressure: float, unit: str) -> str:
    return pressure_number(pressure, unit) if isfinite(pressure) else "none"


def _even(axis: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(axis, float)


def _finite(field: NDArray[np.float64]) -> NDArray[np.float64]:
    known = np.nan_to_num(np.asarray(field, float), nan=-1.0, posinf=10.0, neginf=-10.0)
    return np.asarray(np.clip(known, -10.0, 10.0), float)


def _regions(picture: Picture, axes: _Axes, holds: NDArray[np.float64], true: NDArray[np.float64]) -> None:
    """Hatch what lets go and what spoils, and draw the edges of both."""
    rows, columns = holds.shape
    base = axes.corner[1] + axes.height

    def to_paper(point: Point) -> Point:
        return axes.corner[0] + point[0], base - point[1]

    for field, spacing, rising, colour in (
        (holds, HATCH_LETS_GO, True, INK),
        (true, HATCH_SPOILS, False, GREY),
    ):
        lines = hatch_below_zero(field, axes.width, axes.height, spacing=spacing, rising=rising)
        picture.segments([(to_paper(a), to_paper(b)) for a, b in lines], width=0.16, colour=colour)
    for field, width, dash in ((holds, WIDE + 0.1, ""), (true, MEDIUM, "3.2 1.0")):
        for line in join(zero_lines(field)):
            points = [to_paper((x / (columns - 1) * axes.width, y / (rows - 1) * axes.height)) for x, y in line]
            picture.polyline(points, width=width, dash=dash)


class _Taken:
    """Boxes on the paper where no label may stand."""

    def __init__(self, axes: _Axes) -> None:
        self.axes = axes
        self.boxes: list[tuple[float, float, float, float]] = []
        self.lines: list[tuple[float, float, float, float]] = []

    def cross(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """A line that a label may cover where there is no better place."""
        self.lines.append((x0, y0, x1, y1))

    def add(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self.boxes.append((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def meets(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        return any(x0 < b[2] and b[0] < x1 and y0 < b[3] and b[1] < y1 for b in self.boxes)

    def clear(self, mask: Mask, *, of_lines: bool) -> Mask:
        """The mask (row 0 at the top) without the boxes taken, and the lines if asked."""
        free = mask.copy()
        for x0, y0, x1, y1 in self.boxes + (self.lines if of_lines else []):
            left, right = (int((x - self.axes.corner[0]) / CELL) for x in (x0, x1))
            top, bottom = (int((y - self.axes.corner[1]) / CELL) for y in (y0, y1))
            free[max(top, 0) : max(bottom + 1, 0), max(left, 0) : max(right + 1, 0)] = False
        return free


def _limits(picture: Picture, axes: _Axes, plan: Plan, unit: str, taken: _Taken) -> None:
    """Floor and ceiling of every step, and the spindle limit."""
    right = axes.corner[0] + axes.width
    x = axes.x(plan.speed.limit)
    if plan.speed.limit >= LEAST_LIMIT and x <= right:
        picture.line(
            (x, axes.corner[1]),
            (x, axes.corner[1] + axes.height),
            width=NARROW,
            dash="6 1 0.6 1",
            colour=ACCENT,
        )
        words = f"spindle limit {plan.speed.limit:.0f}"
        wide = text_width(words)
        start = min(max(x - wide / 2, axes.corner[0]), right - wide)
        picture.text((start, axes.corner[1] - 1.6), words, colour=ACCENT, bold=False)
        taken.cross(x - 0.6, axes.corner[1], x + 0.6, axes.corner[1] + axes.height)
    levels: dict[tuple[str, str], tuple[float, list[str]]] = {}
    for step in plan.pressure.steps:
        for value, word in ((step.floor, "floor"), (step.ceiling, "ceiling")):
            if isfinite(value) and axes.holds(value):
                number = pressure_number(value, unit, "up" if word == "floor" else "down")
                levels.setdefault((word, number), (value, []))[1].append(_short(step))
    left = axes.corner[0]
    for value, _ in levels.values():
        y = axes.y(value)
        picture.line((left, y), (right, y), width=NARROW, dash="1.6 0.9", colour=ACCENT)
    named = []
    for (word, number), (value, names) in levels.items():
        whose = f"{names[0]}, " if len(names) < len(plan.pressure.steps) else ""
        named.append((axes.y(value), f"{whose}{word} {number}"))
    for y, words in sorted(named):
        others = [other for other, _ in named if other != y]
        _name_level(picture, axes, y, words, others, taken)
    for y, _ in named:
        taken.cross(left, y - 0.4, right, y + 0.4)


def _name_level(picture: Picture, axes: _Axes, y: float, words: str, others: list[float], taken: _Taken) -> None:
    """Name a level over or under its line: clear of the other lines, or at least of the other names."""
    left, right, tall = axes.corner[0], axes.corner[0] + axes.width, 2.8
    wide = text_width(words, LEAST) + 1.0
    places = [(x, top) for x in (right - wide - 0.6, left + 1.0, right - 2 * wide - 2) for top in (y - 3.3, y + 0.5)]
    inside = [p for p in places if axes.corner[1] <= p[1] and p[1] + tall <= axes.corner[1] + axes.height]
    free = [(x, top) for x, top in inside if not taken.meets(x, top, x + wide, top + tall)]
    clear = [(x, top) for x, top in free if not any(top < other < top + tall for other in others)]
    for x, top in (clear or free)[:1]:
        picture.text((x + 0.5, top + 2.15), words, size=LEAST, colour=ACCENT, plate=True)
        taken.add(x, top, x + wide, top + tall)


def _working_points(picture: Picture, axes: _Axes, plan: Plan, unit: str, taken: _Taken) -> None:
    """What is set: a ringed dot; without a window, a cross for the pressure the checks were made at."""
    several = len(plan.pressure.steps) > 1
    stated = plan.setup.stated_pressure is not None
    points: list[tuple[float, str, bool]] = []
    if stated or not plan.pressure.has_window:
        word = "stated" if stated else "checked at"
        points.append((plan.pressure.used, f"{word} {pressure_number(plan.pressure.used, unit)}", False))
    for step in plan.pressure.steps:
        if step.recommended is not None and not stated and plan.pressure.has_window:
            points.append((step.recommended, _set_words(step, unit, several=several), True))
    for pressure, words, solved in points:
        x = axes.x(plan.speed.limit if solved else _checked_speed(plan))
        if not axes.holds(pressure) or not axes.corner[0] <= x <= axes.corner[0] + axes.width:
            continue
        y = axes.y(pressure)
        if solved:
            picture.circle((x, y), 2.0, width=MEDIUM, colour=ACCENT, fill=PAPER)
            picture.circle((x, y), 0.85, width=0, fill=ACCENT)
        else:
            picture.circle((x, y), 2.0, width=0, fill=PAPER)
            for way in (-1, 1):
                picture.line((x - 1.5, y - 1.5 * way), (x + 1.5, y + 1.5 * way), width=WIDE)
        taken.add(x - 2.4, y - 2.4, x + 2.4, y + 2.4)
        _beside(picture, axes, (x, y), words, taken)


def _checked_speed(plan: Plan) -> float:
    """The speed that the checks were made at. [rev/min]"""
    return next((check.value for check in plan.checks if check.name == "speed"), plan.speed.limit)


def _set_words(step: PressureStep, unit: str, *, several: bool) -> str:
    pressure = pressure_number(step.recommended or 0.0, unit)
    return f"{_short(step)}: set {pressure}" if several else f"set {pressure}"


def _short(step: PressureStep) -> str:
    """A step's name, no longer than a label can be."""
    return shorten(step.name, NAME_ROOM)


def _beside(picture: Picture, axes: _Axes, point: Point, words: str, taken: _Taken) -> None:
    wide, size = text_width(words, LETTER, bold=True) + 1.0, LETTER
    left, right = axes.corner[0], axes.corner[0] + axes.width
    places = [(side, rise) for rise in (0.0, -3.6, 3.6, -6.5, 6.5) for side in (1, -1)]
    for side, rise in places:
        x = point[0] + 2.9 if side > 0 else point[0] - 2.9 - wide
        y = point[1] + rise
        inside = (
            left <= x and x + wide <= right and axes.corner[1] + 1 <= y - 2 and y + 2 <= axes.corner[1] + axes.height
        )
        if inside and not taken.meets(x, y - 1.9, x + wide, y + 1.5):
            break
    else:
        x, y = min(max(point[0] + 2.9, left), right - wide), point[1]
    picture.text((x + 0.5, y + 1.05), words, size=size, bold=True, colour=ACCENT, plate=True)
    taken.add(x, y - 1.9, x + wide, y + 1.5)


def _labels(
    picture: Picture,
    axes: _Axes,
    holds: NDArray[np.float64],
    true: NDArray[np.float64],
    steps: tuple[PressureStep, ...],
    taken: _Taken,
) -> None:
    """A name in every region that has room for it; between two pressures, for which step it is bad."""
    loose, out, both = NOT_HELD, OUT, BOTH
    if len(steps) > 1:
        loose, out = f"{_short(steps[0])}: {NOT_HELD}", f"{_short(steps[-1])}: {OUT}"
        both = f"{loose}, {out}"
    rows, columns = holds.shape
    x = (np.arange(int(axes.width / CELL)) + 0.5) * CELL
    y = axes.height - (np.arange(int(axes.height / CELL)) + 0.5) * CELL
    column, row = np.meshgrid(x / axes.width * (columns - 1), y / axes.height * (rows - 1))
    held, trued = sample(holds, column, row) >= 0, sample(true, column, row) >= 0
    for mask, words, bold in (
        (held & trued, (GOOD,), True),
        (~held & trued, (loose, TOO_LITTLE), False),
        (held & ~trued, (out, TOO_MUCH), False),
        (~held & ~trued, (both,), False),
    ):
        _label(picture, axes, mask, words, taken, bold=bold)


def _label(picture: Picture, axes: _Axes, mask: Mask, words: tuple[str, ...], taken: _Taken, *, bold: bool) -> None:
    attempts = [
        (words, STRONG),
        (words[:1], STRONG),
        (_broken(words[0]), STRONG),
        (words[:1], LEAST),
        (_broken(words[0]), LEAST),
    ]
    for (lines, size), of_lines in [(a, True) for a in attempts] + [(a, False) for a in attempts[1:]]:
        sizes = [size] + [LEAST] * (len(lines) - 1) if lines == words else [size] * len(lines)
        wide = max(text_width(line, s, bold=bold) for line, s in zip(lines, sizes, strict=True)) + 1.6
        tall = sum(s * 1.22 for s in sizes) + 1.0
        spot = free_spot(taken.clear(mask, of_lines=of_lines), int(wide / CELL) + 1, int(tall / CELL) + 1)
        if spot is None:
            continue
        x, y = axes.corner[0] + (spot[1] + 0.5) * CELL, axes.corner[1] + (spot[0] + 0.5) * CELL
        level = y - tall / 2 + 0.5
        for line, s in zip(lines, sizes, strict=True):
            level += s * 1.22
            picture.text((x, level - 0.35 * s), line, size=s, anchor="middle", bold=bold, plate=True)
        taken.add(x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2)
        return


def _broken(words: str) -> tuple[str, ...]:
    """The words on two lines."""
    parts = words.split()
    half = (len(parts) + 1) // 2
    return (" ".join(parts[:half]), " ".join(parts[half:])) if len(parts) > 1 else (words,)


def _frame(picture: Picture, axes: _Axes, unit: str, system: UnitSystem) -> None:
    """Axes with ticks: gauge unit on the left, the other unit on the right, speed below."""
    left, top = axes.corner
    right, base = left + axes.width, top + axes.height
    picture.rect(axes.corner, axes.width, axes.height, line=MEDIUM)
    other = other_pressure_unit(unit, system)
    for one, side in ((unit, -1), (other, 1)):
        x = left if side < 0 else right
        low, high = (from_core(p, "pressure", one) for p in axes.pressures)
        for tick in _ticks(low, high):
            y = top + axes.height - (tick - low) / (high - low) * axes.height
            picture.line((x, y), (x + 1.3 * side, y), width=NARROW)
            picture.text(
                (x + 2.0 * side, y + 0.95),
                f"{tick:g}",
                size=LEAST,
                anchor="end" if side < 0 else "start",
                colour=INK if side < 0 else GREY,
            )
        at = x + 2.0 * side
        picture.text(
            (at, top - 1.6),
            spelled(one),
            anchor="end" if side < 0 else "start",
            size=LETTER,
            bold=side < 0,
            colour=INK if side < 0 else GREY,
        )
    for tick in _ticks(*axes.speeds):
        x = axes.x(tick)
        picture.line((x, base), (x, base + 1.3), width=NARROW)
        picture.text((x, base + 4.2), f"{tick:g}", size=LEAST, anchor="middle")
    picture.text(((left + right) / 2, base + 8.4), "spindle limit, rev/min", anchor="middle")


def _ticks(low: float, high: float) -> list[float]:
    """Round numbers from ``low`` to ``high``, about six of them."""
    raw = (high - low) / 6
    power = 10.0 ** floor(log10(raw))
    step = next(s for s in (1, 2, 2.5, 5, 10) if s * power >= raw * 0.999) * power
    first = int(np.ceil(low / step - 1e-9))
    return [round(k * step, 10) for k in range(first, int(high / step + 1e-9) + 1)]
