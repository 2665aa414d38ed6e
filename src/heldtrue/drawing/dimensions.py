"""Dimensions, leaders and tolerance frames after ISO 129 and ISO 1101, in millimetres of paper."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from heldtrue.drawing.svg import (
    GREY,
    HAIR,
    INK,
    LEAST,
    LETTER,
    NARROW,
    Picture,
    Point,
    shorten,
    text_width,
)
from heldtrue.drawing.wording import dimension
from heldtrue.planning.setup import Surface
from heldtrue.quantities import UnitSystem

ARROW = 2.2
ROW = 4.6
"""Height of one row of a tolerance frame. [mm]"""
SYMBOL_BOX = 5.6
FINE = 0.18
"""Width of dimension and extension lines. [mm]"""
TOLERANCES = ("roundness", "cylindricity", "runout", "flatness")


def across(picture: Picture, x0: float, x1: float, y: float, text: str, *, outside: str = "left") -> None:
    """A horizontal dimension; text over its middle, or beside it (``outside``) where it is too narrow."""
    wide = text_width(text)
    fits = x1 - x0 >= wide + 2 * ARROW + 1
    roomy = x1 - x0 >= 2 * ARROW + 1.5
    left, right = x0, x1
    if not roomy:
        left, right = x0 - 4.5, x1 + 4.5
    if not fits and outside == "left":
        left = x0 - wide - (6.0 if not roomy else 2.0)
    elif not fits:
        right = x1 + wide + (6.0 if not roomy else 2.0)
    picture.line((left, y), (right, y), width=FINE)
    picture.arrow_head((x0, y), (-1, 0) if roomy else (1, 0), length=ARROW)
    picture.arrow_head((x1, y), (1, 0) if roomy else (-1, 0), length=ARROW)
    if fits:
        picture.text(((x0 + x1) / 2, y - 0.8), text, anchor="middle", plate=True)
    elif outside == "left":
        picture.text((left + 0.3, y - 0.8), text, plate=True)
    else:
        picture.text((right - 0.3, y - 0.8), text, anchor="end", plate=True)


def upright(
    picture: Picture,
    x: float,
    y_top: float,
    y_bottom: float,
    text: str,
    deviations: tuple[str, str] | None,
    *,
    half: bool,
) -> None:
    """A vertical dimension read from the right; ``half`` has one arrow and ends past the axis."""
    end = y_bottom + 4.0 if half else y_bottom
    picture.line((x, y_top), (x, end), width=FINE)
    picture.arrow_head((x, y_top), (0, -1), length=ARROW)
    if not half:
        picture.arrow_head((x, y_bottom), (0, 1), length=ARROW)
    small = LEAST
    tail = max((text_width(d, small) for d in deviations), default=0.0) + 0.6 if deviations else 0.0
    wide = text_width(text)
    low = (y_top + y_bottom) / 2 + (wide + tail) / 2
    picture.text((x - 0.9, low), text, turn=-90)
    if deviations:
        upper, lower = deviations
        picture.text((x - 0.9 - 0.62 * LETTER, low - wide - 0.6), upper, size=small, turn=-90)
        picture.text((x - 0.9 + 0.12 * LETTER, low - wide - 0.6), lower, size=small, turn=-90)


def leader(picture: Picture, points: Sequence[Point], *, dot: bool = False) -> None:
    """A leader that ends with an arrow (or a dot, inside an outline) at the last point."""
    picture.polyline(points, width=FINE)
    (x0, y0), (x1, y1) = points[-2], points[-1]
    if dot:
        picture.circle((x1, y1), 0.45, width=0, fill=INK)
    else:
        picture.arrow_head((x1, y1), (x1 - x0, y1 - y0), length=ARROW)


def frame_size(surface: Surface, system: UnitSystem) -> Point:
    """Width and height of a surface's tolerance frame with its name above it. [mm]"""
    asked = asked_of(surface)
    widest = max((text_width(dimension(value, system)) for _, value in asked), default=0.0)
    return SYMBOL_BOX + widest + 2.8, ROW * len(asked) + 3.6


def asked_of(surface: Surface) -> list[tuple[str, float]]:
    """The tolerances the drawing asks of a surface. [mm]"""
    return [(name, value) for name in TOLERANCES if (value := getattr(surface, name)) is not None]


def frame(picture: Picture, corner: Point, surface: Surface, system: UnitSystem, room: float) -> None:
    """The tolerance frame of a surface, its name over it, from the top left ``corner``."""
    x, y = corner
    wide, _ = frame_size(surface, system)
    picture.text((x, y + 2.5), shorten(surface.name, room), italic=True)
    for number, (name, value) in enumerate(asked_of(surface)):
        top = y + 3.6 + ROW * number
        picture.rect((x, top), SYMBOL_BOX, ROW)
        picture.rect((x + SYMBOL_BOX, top), wide - SYMBOL_BOX, ROW)
        _SYMBOLS[name](picture, (x + SYMBOL_BOX / 2, top + ROW / 2))
        picture.text((x + SYMBOL_BOX + 1.2, top + ROW / 2 + 0.98), dimension(value, system))


def _circle(picture: Picture, at: Point) -> None:
    picture.circle(at, 1.35, width=NARROW)


def _cylinder(picture: Picture, at: Point) -> None:
    picture.circle(at, 0.95, width=NARROW)
    for side in (-1.3, 1.3):
        picture.line((at[0] + side - 0.75, at[1] + 1.4), (at[0] + side + 0.75, at[1] - 1.4), width=NARROW)


def _runout(picture: Picture, at: Point) -> None:
    start, tip = (at[0] - 1.2, at[1] + 1.3), (at[0] + 1.2, at[1] - 1.3)
    picture.line(start, tip, width=NARROW)
    picture.arrow_head(tip, (tip[0] - start[0], tip[1] - start[1]), length=1.5)


def _flat(picture: Picture, at: Point) -> None:
    x, y = at
    picture.polyline([(x - 2.0, y + 1.0), (x + 1.0, y + 1.0), (x + 2.0, y - 1.0), (x - 1.0, y - 1.0)], closed=True)


_SYMBOLS: dict[str, Callable[[Picture, Point], None]] = {
    "roundness": _circle,
    "cylindricity": _cylinder,
    "runout": _runout,
    "flatness": _flat,
}


def break_line(picture: Picture, a: Point, b: Point) -> None:
    """A narrow line with a zigzag: the body goes on beyond it."""
    (x0, y0), (x1, y1) = a, b
    length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 or 1.0
    along, off = ((x1 - x0) / length, (y1 - y0) / length), (-(y1 - y0) / length, (x1 - x0) / length)
    middle = length / 2

    def at(s: float, t: float) -> Point:
        return x0 + along[0] * s + off[0] * t, y0 + along[1] * s + off[1] * t

    points = [
        at(-1, 0),
        at(middle - 1.2, 0),
        at(middle - 0.6, -1.3),
        at(middle + 0.6, 1.3),
        at(middle + 1.2, 0),
        at(length + 1, 0),
    ]
    picture.polyline(points, width=HAIR + 0.05, colour=GREY)
