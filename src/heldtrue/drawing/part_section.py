"""The half section of a part as a drawing file has it, with its axis, both ends and every surface by number."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    GREY,
    HAIR,
    NARROW,
    PAPER,
    WIDE,
    Picture,
    Point,
    hatch,
    shorten,
)
from heldtrue.drawing.wording import dimension, length_unit
from heldtrue.part_file.outline import Line
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface
from heldtrue.quantities import UnitSystem

SIDE, TOP, AXIS_ROOM, ROW = 14.0, 12.0, 16.0, 4.2
DRAWN_MM = 0.05
"""Chords of arcs on paper stand off by this at most. [mm of the part]"""
COLUMNS = 2
BALL = 2.4
END_WORDS = 30.0
"""Paper that the name of an end with its position takes. [mm]"""


def draw_part(part: TurnedPart, system: UnitSystem = "metric", *, width: float = 150.0, height: float = 90.0) -> str:
    """The half section as SVG: ``width`` mm wide, ``height`` mm for the section, and a list of the surfaces below."""
    rows = -(-len(part.surfaces) // COLUMNS)
    loop = part.outline.polygon(DRAWN_MM)
    low, high = part.outline.z
    unit = length_unit(system)
    words = (f"largest diameter {dimension(2 * max(r for r, _ in loop), system)} {unit}, "
             f"length {dimension(high - low, system)} {unit}")  # fmt: skip
    picture = Picture(width, height + ROW * (rows + 1), f"Half section of {part.source}", words)
    at = _Paper(loop, width, height)
    drawn = [at(point) for point in loop]
    picture.segments(hatch([drawn], spacing=2.0, angle=-45.0), width=HAIR)
    picture.polyline(drawn, width=WIDE, closed=True)
    picture.line((2.0, at.base), (width - 2.0, at.base), width=NARROW, dash=CENTRE_LINE)
    _ends(picture, at, low, high, system)
    _balls(picture, at, part)
    _list(picture, part.surfaces, system, width, height)
    return picture.svg()


class _Paper:
    """From (r, z) to paper: z to the right, r up from the axis."""

    def __init__(self, loop: Sequence[Point], width: float, height: float) -> None:
        low, high = min(z for _, z in loop), max(z for _, z in loop)
        most = max(r for r, _ in loop)
        self.scale = min((width - 2 * SIDE) / max(high - low, 1e-6), (height - TOP - AXIS_ROOM) / most)
        self.low, self.base = low, height - AXIS_ROOM
        self.left = (width - (high - low) * self.scale) / 2

    def __call__(self, point: Point) -> Point:
        return self.left + (point[1] - self.low) * self.scale, self.base - point[0] * self.scale


def _ends(picture: Picture, at: _Paper, low: float, high: float, system: UnitSystem) -> None:
    """Both ends by name, so that it can be said which one seats; beside a short part, under a long one."""
    short = at((0.0, high))[0] - at((0.0, low))[0] < 2 * END_WORDS
    for z, name, side in ((low, "low end", -1.0), (high, "high end", 1.0)):
        x = at((0.0, z))[0]
        beside = side if short else -side
        anchor = "end" if beside < 0 else "start"
        picture.line((x, at.base - 1.5), (x, at.base + 8.0), width=NARROW)
        picture.text((x + beside, at.base + 7.6), f"{name}, z {dimension(z, system)}", anchor=anchor, size=2.6)
    tip = (at((0.0, high))[0] + 10.0, at.base)
    picture.arrow_head(tip, (1.0, 0.0))
    picture.text((tip[0] + 0.8, tip[1] - 1.2), "z", italic=True)


def _looks_up(part: TurnedPart, surface: TurnedSurface) -> bool:
    """Does a face look towards greater z? The outline walks such a face inwards."""
    low, high = (d / 2 for d in surface.diameters)
    return any(
        abs(piece.start[1] - surface.z[0]) < 1e-4 and low < (piece.start[0] + piece.end[0]) / 2 < high
        and piece.end[0] < piece.start[0]
        for piece in part.outline.pieces
        if isinstance(piece, Line) and abs(piece.start[1] - piece.end[1]) < 1e-4
    )  # fmt: skip


def _balls(picture: Picture, at: _Paper, part: TurnedPart) -> None:
    """The number of each surface in a ball beside it, off the material and off each other; over all leaders."""
    spots: list[Point] = []
    for surface in part.surfaces:
        r = (surface.diameters[0] + surface.diameters[1]) / 4
        x, y = at((r, (surface.z[0] + surface.z[1]) / 2))
        to_side = 5.0 if _looks_up(part, surface) else -5.0
        away = {"outside": (0.0, -5.0), "inside": (0.0, 5.0), "face": (to_side, 0.0)}[surface.side]
        spot = (x + away[0], y + away[1])
        while any(hypot(spot[0] - one[0], spot[1] - one[1]) < 2.4 * BALL for one in spots):
            spot = (spot[0] + away[0] / 2, spot[1] + away[1] / 2)
        spots.append(spot)
        picture.line((x, y), spot, width=NARROW, colour=ACCENT)
    for number, (x, y) in enumerate(spots, 1):
        picture.circle((x, y), BALL, width=NARROW, colour=ACCENT, fill=PAPER)
        picture.text((x, y + 0.9), str(number), size=2.6, anchor="middle", bold=True, colour=ACCENT)


def _list(picture: Picture, surfaces: Sequence[TurnedSurface], system: UnitSystem, width: float, height: float) -> None:
    column = (width - 4.0) / COLUMNS
    per = -(-len(surfaces) // COLUMNS)
    for k, surface in enumerate(surfaces):
        x, y = 2.0 + column * (k // per), height + ROW * (k % per + 0.5)
        picture.text((x, y), shorten(f"{k + 1}  {surface.name}", column - 2.0, 2.8), size=2.8)
    picture.text(
        (width - 1.0, height + ROW * (per + 0.7)),
        f"dimensions in {length_unit(system)}",
        size=2.3,
        anchor="end",
        colour=GREY,
    )
