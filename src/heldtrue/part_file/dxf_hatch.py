"""Hatching of a drawing: as areas with a pattern, or taken apart into lines."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, pi, sin
from statistics import median
from typing import Any

from heldtrue.part_file.dxf_axis import Axis
from heldtrue.part_file.dxf_strokes import Drawing, Hatching, Stroke
from heldtrue.part_file.outline import Line, Point

FEWEST = 8
"""So many lines at one slant with one distance between them are hatching."""
REGULAR = 0.8
"""Share of the distances between them that are one distance, or a few times that."""


def take_hatch_lines(drawing: Drawing) -> None:
    """Take slanting lines at regular distances out of the strokes, each as a strip of hatched area."""
    slanted: dict[int, list[Stroke]] = defaultdict(list)
    for stroke in drawing.strokes:
        if stroke.kind == "visible" and isinstance(stroke.piece, Line):
            angle = _angle(stroke.piece)
            if min(angle % (pi / 2), pi / 2 - angle % (pi / 2)) > 0.02:
                slanted[round(angle * 500)].append(stroke)
    ends = Counter(_cell(p) for s in drawing.strokes if s.kind == "visible" for p in (s.piece.start, s.piece.end))
    taken: set[int] = set()
    for strokes in slanted.values():
        # a chamfer at the slant of the hatching meets other lines at both ends
        free = [s for s in strokes if not all(ends[_cell(p)] > 1 for p in (s.piece.start, s.piece.end))]
        lines = [stroke.piece for stroke in free if isinstance(stroke.piece, Line)]
        pitch = _pitch(lines)
        if pitch is None:
            continue
        taken.update(id(stroke) for stroke in free)
        style = f"lines {_angle(lines[0]):.2f} {pitch:.2f}"
        drawing.hatched.append(Hatching(tuple(_strip(line, pitch) for line in lines), style, strips=True))
    if taken:
        drawing.strokes = [stroke for stroke in drawing.strokes if id(stroke) not in taken]
        drawing.left_out["line of a hatching (taken as hatched area)"] += len(taken)


@dataclass(frozen=True)
class HatchedArea:
    """A hatched area in (r, z) as a polygon, with its style."""

    area: Any
    style: str


def hatched_areas(drawing: Drawing, axis: Axis) -> tuple[HatchedArea, ...]:
    """Every hatched area in (r, z)."""
    from shapely import Polygon, unary_union

    found = []
    for one in drawing.hatched:
        loops = [Polygon([axis.place(p) for p in loop]).buffer(0) for loop in one.loops]
        area = unary_union(loops) if one.strips else Polygon()
        for loop in () if one.strips else loops:
            area = area.symmetric_difference(loop)
        found.append(HatchedArea(area, one.style))
    return tuple(found)


def _cell(p: Point) -> tuple[int, int]:
    return round(p[0] * 100), round(p[1] * 100)


def _angle(line: Line) -> float:
    return atan2(line.end[1] - line.start[1], line.end[0] - line.start[0]) % pi


def _pitch(lines: Sequence[Line]) -> float | None:
    """Distance between neighbouring lines, where it is the same throughout. [mm]"""
    if len(lines) < FEWEST:
        return None
    angle = _angle(lines[0])
    offs = sorted(p[1] * cos(angle) - p[0] * sin(angle) for p in (line.start for line in lines))
    steps = [b - a for a, b in pairwise(offs) if b - a > 0.01]
    if len(steps) < FEWEST - 1:
        return None
    pitch = median(steps)
    regular = [abs(step / pitch - round(step / pitch)) < 0.05 and step < 20 * pitch for step in steps]
    return pitch if sum(regular) >= REGULAR * len(steps) else None


def _strip(line: Line, pitch: float) -> tuple[Point, ...]:
    angle = _angle(line)
    u, v = -sin(angle) * 0.51 * pitch, cos(angle) * 0.51 * pitch
    (a, b), (c, d) = line.start, line.end
    return (a + u, b + v), (c + u, d + v), (c - u, d - v), (a - u, b - v)
