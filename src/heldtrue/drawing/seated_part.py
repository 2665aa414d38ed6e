"""The section of a part read from a drawing, right through: seat, numbered surfaces, where it is gripped and turned."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    GREY,
    HAIR,
    NARROW,
    PAPER,
    PHANTOM,
    STRONG,
    WIDE,
    Picture,
    Point,
    distance,
    hatch,
    level_crossings,
)
from heldtrue.drawing.wording import dimension, length_unit
from heldtrue.part_file.outline import Outline
from heldtrue.part_file.turned_part import TurnedSurface
from heldtrue.quantities import UnitSystem

SIDE, RIM = 14.0, 12.0
"""Paper kept free beside the part, and above and below it. [mm]"""
CHORD_SHARE = 5e-4
"""How far chords may stand off an arc on the picture, as a share of the part's size: finer than its lines."""
SHARP = 0.2
"""Sine of the angle from which two pieces of the outline make an edge that is seen."""
SAME_MM = 1e-4
RING_MM = 2.7
"""Radius of the ring round the number of a surface, on paper."""


@dataclass(frozen=True)
class SeatedPart:
    """What is drawn of a part. [mm]

    ``outline``: z to the right; ``blank``: drawn round it in phantom lines; ``on_jaws``: its low end is the seat;
    ``surfaces``: each gets its number, from 1; ``gripped``, ``turned``: names of surfaces.
    """

    outline: Outline
    blank: Outline | None = None
    on_jaws: bool = False
    surfaces: Sequence[TurnedSurface] = ()
    gripped: str = ""
    turned: Collection[str] = ()


def draw_seated(
    part: SeatedPart, title: str, system: UnitSystem = "metric", *, width: float = 150.0, height: float = 90.0,
    words: bool = True,
) -> str:  # fmt: skip
    """The section with both halves, as SVG of ``width`` by ``height`` mm; ``words``: with length and largest Ø."""
    chord = CHORD_SHARE * max(_size(part.outline))
    points = part.outline.polygon(chord)
    blank = () if part.blank is None else part.blank.polygon(chord)
    at = Paper.round((*points, *blank), width, height)
    said = f"{dimension(_size(part.outline)[0], system)} long, largest Ø{dimension(_size(part.outline)[1], system)}"
    picture = Picture(width, height, title, said)
    draw_body(picture, part.outline, points, at)
    for way in (1.0, -1.0) if blank else ():
        loop = [at(point, way) for point in blank]
        picture.polyline(loop, width=NARROW, dash=PHANTOM, colour=GREY, closed=True)
    if part.on_jaws:
        _seat(picture, points, at)
    _marked(picture, part, at)
    draw_numbers(picture, part.surfaces, points, at)
    if words:
        picture.text((width / 2, height - 2.0), f"{said}, in {length_unit(system)}", anchor="middle", colour=GREY)
    return picture.svg()


def draw_body(picture: Picture, outline: Outline, points: Sequence[Point], at: Paper) -> None:
    """Both halves, the edges behind them and the axis. ``points``: the outline's, (r, z)."""
    for way in (1.0, -1.0):
        loop = [at(point, way) for point in points]
        picture.segments(hatch([loop], spacing=2.2, angle=-45.0), width=HAIR)
        # The axis of a solid part is no edge: the line then runs from one end of it to the other.
        count = len(points)
        on_axis = [n for n in range(count) if points[n][0] < SAME_MM and points[(n + 1) % count][0] < SAME_MM]
        cut = (on_axis[0] + 1) % count if on_axis else 0
        picture.polyline([*loop[cut:], *loop[:cut]], width=WIDE, closed=not on_axis)
    _edges_behind(picture, outline, points, at)
    picture.line((2.0, at.axis), (picture.width - 2.0, at.axis), width=0.2, dash=CENTRE_LINE)


@dataclass(frozen=True)
class Paper:
    """From (r, z) to paper: z to the right, r up from the axis, or down with ``way`` -1."""

    scale: float
    left: float
    axis: float
    low: float

    @classmethod
    def round(
        cls, points: Sequence[Point], width: float, height: float, right: float = SIDE, below: float = RIM
    ) -> Paper:
        """The largest that leaves the sides free; ``right``, ``below``: more room there. [mm]"""
        low, high = min(z for _, z in points), max(z for _, z in points)
        outer = max(r for r, _ in points)
        room = width - SIDE - right, height - RIM - below
        scale = min(room[0] / max(high - low, 1e-6), room[1] / max(2 * outer, 1e-6))
        return cls(scale, SIDE + (room[0] - (high - low) * scale) / 2, RIM + room[1] / 2 - 1.5, low)

    def __call__(self, point: Point, way: float = 1.0) -> Point:
        """Where a point of the half section stands."""
        return self.left + (point[1] - self.low) * self.scale, self.axis - way * point[0] * self.scale


def _size(outline: Outline) -> tuple[float, float]:
    """Length and largest diameter. [mm]"""
    low, high = outline.z
    return high - low, 2 * max(r for r, _ in outline.polygon(0.1))


def _edges_behind(picture: Picture, outline: Outline, points: Sequence[Point], at: Paper) -> None:
    """Edges of a bore, seen across it: those from which nothing but air is on the way to the axis."""
    for before, after in pairwise((*outline.pieces, outline.pieces[0])):
        (a, b), (c, d) = before.direction(True), after.direction(False)
        r, z = before.end
        if r < SAME_MM or abs(a * d - b * c) < SHARP:
            continue
        if any(all(one >= r - SAME_MM for one in level_crossings([points], z + off)) for off in (-1e-3, 1e-3)):
            picture.line(at((r, z)), at((r, z), -1.0), width=NARROW)


def _seat(picture: Picture, points: Sequence[Point], at: Paper) -> None:
    """What the low end sits on: a thick line with hatching behind it, as a support is drawn."""
    low = min(z for _, z in points)
    radii = [r for r, z in points if z - low < SAME_MM]
    for way in (1.0, -1.0):
        inner, outer = (at((r, low), way) for r in (min(radii), max(radii)))
        x = inner[0] - 0.6
        top, foot = sorted((inner[1], outer[1]))
        top, foot = top - 1.0, foot + 1.0
        picture.line((x, top), (x, foot), width=1.2, colour=ACCENT)
        count = max(int((foot - top) / 2.0), 1)
        strokes = [top + (foot - top) * k / count for k in range(count + 1)]
        picture.segments([((x, y), (x - 3.0, y + 3.0)) for y in strokes], width=NARROW, colour=ACCENT)


def _ends(surface: TurnedSurface) -> tuple[Point, Point]:
    """Its ends in the half section, (r, z)."""
    return (surface.diameters[0] / 2, surface.z[0]), (surface.diameters[1] / 2, surface.z[1])


def _marked(picture: Picture, part: SeatedPart, at: Paper) -> None:
    """What is gripped: thick, with an arrow from the jaws; what is turned: chain line."""
    for surface in part.surfaces:
        a, b = _ends(surface)
        for way in (1.0, -1.0):
            if surface.name in part.turned:
                picture.line(at(a, way), at(b, way), width=1.5, dash="3 0.9 0.7 0.9", colour=ACCENT)
            if surface.name == part.gripped:
                picture.line(at(a, way), at(b, way), width=2.0, colour=ACCENT)
                x, y = ((p + q) / 2 for p, q in zip(at(a, way), at(b, way), strict=True))
                out = -way if surface.side == "outside" else way
                picture.line((x, y + out * 8.0), (x, y + out * 2.0), width=0.7, colour=ACCENT)
                picture.arrow_head((x, y + out * 1.0), (0.0, -out), length=3.2, colour=ACCENT)


def draw_numbers(picture: Picture, surfaces: Sequence[TurnedSurface], points: Sequence[Point], at: Paper) -> None:
    """The number of each surface, from 1, off the metal and clear of each other, over all leaders."""
    spots: list[Point] = []
    for surface in surfaces:
        (r0, z0), (r1, z1) = _ends(surface)
        middle = at(((r0 + r1) / 2, (z0 + z1) / 2))
        way = (0.0, -1.0 if surface.side == "outside" else 1.0)
        if surface.side == "face":
            beyond = level_crossings([[(z, r) for r, z in points]], (r0 + r1) / 2)
            metal_beyond = sum(one > z0 + SAME_MM for one in beyond) % 2 == 1
            way = (-1.0 if metal_beyond else 1.0, 0.0)
        for off in (5.0, 10.5, 16.0, 21.5):
            spot = (middle[0] + off * way[0], middle[1] + off * way[1])
            if all(distance(spot, other) > 2 * RING_MM for other in spots):
                break
        spots.append(spot)
        picture.line(middle, spot, width=NARROW)
    for number, spot in enumerate(spots, 1):
        picture.circle(spot, RING_MM, width=NARROW, fill=PAPER)
        picture.text((spot[0], spot[1] + 1.1), str(number), size=STRONG, anchor="middle", bold=True)
