"""The section of a part as a drawing file has it, with its axis, both ends and every surface by number."""

from __future__ import annotations

from collections.abc import Sequence

from heldtrue.drawing.seated_part import Paper, draw_body, draw_numbers
from heldtrue.drawing.svg import GREY, LEAST, LETTER, NARROW, Picture, shorten
from heldtrue.drawing.wording import dimension, length_unit
from heldtrue.part_file.turned_part import TurnedPart, TurnedSurface
from heldtrue.quantities import UnitSystem

ENDS_ROOM, ROW = 24.0, 4.2
"""Paper below the part for the names of its ends, and for one row of the list. [mm]"""
DRAWN_MM = 0.05
"""Chords of arcs on paper stand off by this at most. [mm of the part]"""
COLUMNS = 2
END_WORDS = 30.0
"""Paper that the name of an end with its position takes. [mm]"""


def draw_part(part: TurnedPart, system: UnitSystem = "metric", *, width: float = 150.0, height: float = 100.0) -> str:
    """The section as SVG: ``width`` mm wide, ``height`` mm for the section, and a list of the surfaces below."""
    rows = -(-len(part.surfaces) // COLUMNS)
    points = part.outline.polygon(DRAWN_MM)
    low, high = part.outline.z
    most = max(r for r, _ in points)
    unit = length_unit(system)
    words = f"largest diameter {dimension(2 * most, system)} {unit}, length {dimension(high - low, system)} {unit}"
    picture = Picture(width, height + ROW * (rows + 1), f"Section of {part.source}", words)
    at = Paper.round(points, width, height, below=ENDS_ROOM)
    draw_body(picture, part.outline, points, at)
    draw_numbers(picture, part.surfaces, points, at)
    _ends(picture, at, most, low, high, system)
    _list(picture, part.surfaces, system, width, height)
    return picture.svg()


def _ends(picture: Picture, at: Paper, most: float, low: float, high: float, system: UnitSystem) -> None:
    """Both ends by name, so that it can be said which one seats; beside a short part, under a long one."""
    short = (high - low) * at.scale < 2 * END_WORDS
    base = at((most, low), -1.0)[1]
    for z, name, side in ((low, "low end", -1.0), (high, "high end", 1.0)):
        x = at((0.0, z))[0]
        beside = side if short else -side
        anchor = "end" if beside < 0 else "start"
        picture.line((x, base + 1.5), (x, base + 11.0), width=NARROW)
        picture.text((x + beside, base + 10.6), f"{name}, z {dimension(z, system)}", anchor=anchor, size=LEAST)
    tip = (at((0.0, high))[0] + 10.0, at.axis)
    picture.arrow_head(tip, (1.0, 0.0))
    picture.text((tip[0] + 0.8, tip[1] - 1.2), "z", italic=True)


def _list(picture: Picture, surfaces: Sequence[TurnedSurface], system: UnitSystem, width: float, height: float) -> None:
    column = (width - 4.0) / COLUMNS
    per = -(-len(surfaces) // COLUMNS)
    for k, surface in enumerate(surfaces):
        x, y = 2.0 + column * (k // per), height + ROW * (k % per + 0.5)
        picture.text((x, y), shorten(f"{k + 1}  {surface.name}", column - 2.0, LETTER), size=LETTER)
    picture.text(
        (width - 1.0, height + ROW * (per + 0.7)),
        f"dimensions in {length_unit(system)}",
        size=LEAST,
        anchor="end",
        colour=GREY,
    )
