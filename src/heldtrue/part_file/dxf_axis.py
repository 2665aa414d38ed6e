"""Which line of a drawing is the axis of the part, and which views of it stand on that axis."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, pi, radians, sin

from heldtrue.errors import InputError
from heldtrue.part_file.cells import SNAP_MM
from heldtrue.part_file.choices import ChoiceNeededError, Option
from heldtrue.part_file.dxf_strokes import Drawing
from heldtrue.part_file.dxf_views import Box, View, around
from heldtrue.part_file.outline import Arc, Line, Piece, Point

SYMMETRIC = 0.95
"""Share of the lines of a view that must have their mirror image where no centre line says so."""
HALF_ALIKE = 0.3
"""The same where a centre line says so: one half may be a section, the other a view."""
AS_GOOD = 0.9


@dataclass(frozen=True)
class Axis:
    """A line of the drawing plane: its foot from the origin, and its direction, a unit vector. [mm]"""

    foot: Point
    direction: Point

    def place(self, point: Point) -> Point:
        """(r, z) of a point; r below 0 on the right of the direction."""
        (x, y), (u, v) = point, self.direction
        return (y - self.foot[1]) * u - (x - self.foot[0]) * v, x * u + y * v

    def placed(self, piece: Piece) -> Piece:
        """A line or arc in (r, z), which is the drawing seen in a mirror."""
        start, end = self.place(piece.start), self.place(piece.end)
        if isinstance(piece, Line):
            return Line(start, end)
        return Arc(start, end, self.place(piece.centre), not piece.counterclockwise)

    def span(self, view: View) -> Box:
        """Least r, least z, most r, most z of a view."""
        return around([self.placed(piece) for piece in (*view.pieces, *view.circles)])

    def id(self, unit: float) -> str:
        """How a person names it, in units of the drawing."""
        angle = degrees(atan2(self.direction[1], self.direction[0]))
        if abs(angle) < 1e-6:
            return f"y {_number(self.foot[1] / unit)}"
        if abs(angle - 90.0) < 1e-6:
            return f"x {_number(self.foot[0] / unit)}"
        return f"{_number(angle)} deg {_number(self.place((0.0, 0.0))[0] / -unit)}"


@dataclass(frozen=True)
class CentreLine:
    """A centre line with its extent along z. [mm]"""

    axis: Axis
    low: float
    high: float


def axis_through(p: Point, angle: float) -> Axis:
    """The axis through a point at an angle [rad], which counts from -90 degrees, excluded, to 90."""
    angle = (angle + pi / 2 - 1e-9) % pi - pi / 2 + 1e-9
    for exact in (0.0, pi / 2):
        angle = exact if abs(angle - exact) < 1e-7 else angle
    u, v = (0.0, 1.0) if angle == pi / 2 else (cos(angle), sin(angle))
    off = p[1] * u - p[0] * v
    return Axis((-off * v, off * u), (u, v))


def axis_of(drawing: Drawing, views: Sequence[View], unit: float, asked: str | None) -> tuple[Axis, str]:
    """The axis, and how it was found. ``asked``: what a person said.

    Raises: ``ChoiceNeededError`` where more than one may be it; ``InputError`` where ``asked`` names none.
    """
    if asked is not None:
        return _stated(asked, unit), "as you said"
    along = [view for view in views if view.from_the_end is None]
    if not along:
        raise InputError("no view of the part from the side; a half section or a side view is needed")
    for found, how in (
        (_by_centre_line(centre_lines(drawing, views), along), "the centre line of the drawing"),
        (_by_symmetry(along), "the line about which the drawing is symmetric; it has no centre line"),
        (_edges(along), "the only line that can be the axis"),
    ):
        if len(found) == 1:
            return found[0], how
        if found:
            options = tuple(Option(axis.id(unit), _words(axis, unit)) for axis in found)
            listed = ", ".join(option.id for option in options)
            raise ChoiceNeededError("axis", options, f"{len(options)} lines may be the axis of the part: {listed}")
    raise InputError("no line of the drawing can be the axis of the part; draw its centre line as a centre line")


def centre_lines(drawing: Drawing, views: Sequence[View]) -> list[CentreLine]:
    """Every straight centre line but those of views from the end; pieces of one line are one."""
    circles = [circle for view in views if (circle := view.from_the_end) is not None]
    found: dict[tuple[int, int], list[CentreLine]] = defaultdict(list)
    for stroke in drawing.strokes:
        line = stroke.piece
        if stroke.kind != "centre" or not isinstance(line, Line) or any(_crosses(line, one) for one in circles):
            continue
        axis = axis_through(line.start, atan2(line.end[1] - line.start[1], line.end[0] - line.start[0]))
        low, high = sorted((axis.place(line.start)[1], axis.place(line.end)[1]))
        angle = atan2(axis.direction[1], axis.direction[0])
        key = (round(angle * 2000), round((axis.foot[0] + axis.foot[1]) * 20))
        found[key].append(CentreLine(axis, low, high))
    return [CentreLine(same[0].axis, min(c.low for c in same), max(c.high for c in same)) for same in found.values()]


def on_axis(axis: Axis, views: Sequence[View], lines: Sequence[CentreLine]) -> list[View]:
    """The side views that stand on the axis: across it, in mirrored pairs, or else all on one side."""
    reach = next(((c.low, c.high) for c in lines if _same(c.axis, axis)), None)
    along = [(view, axis.span(view)) for view in views if view.from_the_end is None]
    along = [(view, span) for view, span in along if _beside(span, reach)]
    spans = [span for _, span in along]
    across = [view for view, span in along if span[0] < -SNAP_MM and span[2] > SNAP_MM]
    pairs = [view for view, span in along if view not in across and any(_mirrors(span, other) for other in spans)]
    return across + pairs or [view for view, _ in along]


def _by_centre_line(lines: Sequence[CentreLine], along: Sequence[View]) -> list[Axis]:
    scored: list[tuple[float, Axis]] = []
    for line in lines:
        near = [view for view in along if _beside(line.axis.span(view), (line.low, line.high))]
        if not near:
            continue
        spans = [line.axis.span(view) for view in near]
        if all(span[0] >= -SNAP_MM for span in spans) or all(span[2] <= SNAP_MM for span in spans):
            scored.append((1.0, line.axis))
        elif (alike := _symmetry(line.axis, near)) >= HALF_ALIKE:
            scored.append((alike, line.axis))
    best = max((score for score, _ in scored), default=0.0)
    return [axis for score, axis in scored if score >= AS_GOOD * best]


def _by_symmetry(along: Sequence[View]) -> list[Axis]:
    pieces = [piece for view in along for piece in view.pieces]
    total = sum(piece.length for piece in pieces)
    if not total:
        return []
    middles = [(piece.length, _middle(piece)) for piece in pieces]
    x, y = (sum(length * p[i] for length, p in middles) / total for i in (0, 1))
    xx, xy, yy = (sum(length * (p[0] - x) ** a * (p[1] - y) ** b for length, p in middles) for a, b in
                  ((2, 0), (1, 1), (0, 2)))  # fmt: skip
    main = atan2(2 * xy, xx - yy) / 2
    found: list[Axis] = []
    for angle in (0.0, pi / 2, main, main + pi / 2):
        axis = axis_through((x, y), angle)
        if not any(_same(axis, known) for known in found) and _symmetry(axis, along) >= SYMMETRIC:
            found.append(axis)
    return found


def _edges(along: Sequence[View]) -> list[Axis]:
    """Lines that have the whole drawing on one side: the axes of its coordinates, and its own straight edges."""
    boxes = [view.box for view in along]
    whole = (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))
    lines = [piece for view in along for piece in view.pieces if isinstance(piece, Line)]
    found: list[Axis] = []
    for i, angle in ((1, 0.0), (0, pi / 2)):
        edges = [whole[i], whole[i + 2]]
        places = [at for at in edges if any(max(abs(p[i] - at) for p in (a.start, a.end)) < SNAP_MM for a in lines)]
        if whole[i] >= -SNAP_MM or whole[i + 2] <= SNAP_MM:
            places.append(0.0)
        for at in places:
            axis = axis_through((at, 0.0) if i == 0 else (0.0, at), angle)
            if not any(_same(axis, known) for known in found):
                found.append(axis)
    return found


def _symmetry(axis: Axis, views: Sequence[View]) -> float:
    """Share of the lines of the views, by length, that have their mirror image."""
    total = alike = 0.0
    known: dict[tuple[int, int], list[tuple[Point, Point]]] = defaultdict(list)
    placed = [axis.placed(piece) for view in views for piece in view.pieces]
    for piece in placed:
        known[_cell(_middle(piece))].append((piece.start, piece.end))
    for piece in placed:
        if max(abs(piece.start[0]), abs(piece.end[0])) <= SNAP_MM:
            continue
        start, end = ((-r, z) for r, z in (piece.start, piece.end))
        total += piece.length
        i, j = _cell((-_middle(piece)[0], _middle(piece)[1]))
        near = [ends for a in (i - 1, i, i + 1) for b in (j - 1, j, j + 1) for ends in known.get((a, b), ())]
        if any(
            min(max(_apart(start, a), _apart(end, b)), max(_apart(start, b), _apart(end, a))) < 0.01 for a, b in near
        ):
            alike += piece.length
    return alike / total if total else 0.0


def _cell(p: Point) -> tuple[int, int]:
    return round(p[0] / 0.02), round(p[1] / 0.02)


def _middle(piece: Piece) -> Point:
    if isinstance(piece, Arc):
        points = piece.points(1e9)
        return points[len(points) // 2]
    return (piece.start[0] + piece.end[0]) / 2, (piece.start[1] + piece.end[1]) / 2


def _apart(a: Point, b: Point) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def _stated(asked: str, unit: float) -> Axis:
    typed = asked.strip().casefold().replace("=", " ")
    if match := re.fullmatch(r"([xy])\s*(-?[\d.]+(?:e-?\d+)?)", typed):
        at = float(match[2]) * unit
        return axis_through((at, 0.0), pi / 2) if match[1] == "x" else axis_through((0.0, at), 0.0)
    if match := re.fullmatch(r"(-?[\d.]+)\s*deg\s*(-?[\d.]+(?:e-?\d+)?)", typed):
        angle, off = radians(float(match[1])), float(match[2]) * unit
        return axis_through((-off * sin(angle), off * cos(angle)), angle)
    raise InputError(f'axis: found "{asked[:40]}"; expected "y 0" for a level line, "x 12.5" for an upright one, '
                     'or "30 deg 5": its angle and its distance from the origin')  # fmt: skip


def _words(axis: Axis, unit: float) -> str:
    kind = {"y": "level line at", "x": "upright line at"}.get(axis.id(unit)[0], "line at")
    return f"{kind} {axis.id(unit)}"


def _same(one: Axis, other: Axis) -> bool:
    turned = abs(one.direction[0] * other.direction[1] - one.direction[1] * other.direction[0])
    return turned < 1e-3 and _apart(one.foot, other.foot) < 0.05


def _beside(span: Box, reach: tuple[float, float] | None) -> bool:
    """Does at least half of a view lie along the centre line?"""
    if reach is None:
        return True
    shared = min(span[3], reach[1]) - max(span[1], reach[0])
    return shared >= 0.5 * (span[3] - span[1])


def _mirrors(span: Box, other: Box) -> bool:
    mirrored = (-other[2], other[1], -other[0], other[3])
    return max(abs(a - b) for a, b in zip(span, mirrored, strict=True)) < 0.05


def _crosses(line: Line, circle: Arc) -> bool:
    """Is it a centre line of this circle alone: through its middle, and not much longer?"""
    axis = axis_through(line.start, atan2(line.end[1] - line.start[1], line.end[0] - line.start[0]))
    return abs(axis.place(circle.centre)[0]) < 0.05 and line.length < 3.0 * circle.radius


def _number(value: float) -> str:
    return f"{round(value, 6) + 0.0:.10g}"
