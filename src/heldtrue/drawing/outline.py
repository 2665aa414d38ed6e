"""The half section as it is being typed: drawn from corners alone, also while nothing can be planned yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from heldtrue.drawing.svg import (
    ACCENT,
    CENTRE_LINE,
    GREY,
    HAIR,
    HEAD,
    LEAST,
    LETTER,
    NARROW,
    PAPER,
    PHANTOM,
    STRONG,
    TITLE,
    WIDE,
    Picture,
    Point,
    hatch,
    text_width,
)
from heldtrue.drawing.wording import dimension, length_unit
from heldtrue.quantities import UnitSystem

SIDE, TOP, BOTTOM = 12.0, 19.0, 11.0
"""Paper kept free for numbers at the sides, above, and below for the axis and its words. [mm]"""
SAME_MM = 1e-6
THIN = 0.45
"""A part whose bore is a larger share of it than this is drawn nearer to the centre line, with a break between."""
MOST_WORDS = 6
"""Faults said at once; more are counted."""


@dataclass(frozen=True)
class Typed:
    """What has been typed so far. [mm]

    ``corners``, ``blank``: (r, z) by corner, None where that cannot be read; ``grip``: side, radius and z from and to;
    ``surfaces``: name, and the ends (r, z) of each; ``picked``: the corner being typed, of the blank or the part.
    """

    corners: tuple[Point | None, ...]
    blank: tuple[Point | None, ...] = ()
    grip: tuple[str, float, float, float] | None = None
    surfaces: tuple[tuple[str, Point, Point], ...] = ()
    picked: tuple[bool, int] | None = None


def outline_faults(corners: Sequence[Point | None], what: str = "") -> list[str]:
    """What is wrong with an outline, in words; nothing for one that can be turned. ``what`` begins each sentence."""
    if not corners:
        return []
    found = [f"corner {n} cannot be read yet" for n, one in enumerate(corners, 1) if one is None]
    known = [(n, one) for n, one in enumerate(corners, 1) if one is not None]
    found += [f"corner {n} lies below the centre line: a diameter is 0 or more" for n, (r, _) in known if r < 0]
    if len(known) > 1 and known[0][1] == known[-1][1]:
        # The first corner again at the end is how some draw it; it closes by itself.
        known = known[:-1]
    pairs = list(zip(known, [*known[1:], known[0]], strict=True)) if len(known) > 1 else []
    found += [f"corners {a} and {b} are the same point" for (a, p), (b, q) in pairs if _same(p, q)]
    if len({one for _, one in known}) < 3:
        found.append("an outline needs three different corners")
    elif not any(r < 0 for _, (r, _) in known):
        crossings = _crossings([pair for pair in pairs if not _same(pair[0][1], pair[1][1])])
        found += crossings
        if not crossings and abs(_area([one for _, one in known])) < SAME_MM:
            found.append("the outline encloses nothing")
    return [f"{what}{one}" for one in found]


def draw_outline(typed: Typed, system: UnitSystem = "metric", *, width: float = 150.0, height: float = 90.0) -> str:
    """The half section with centre line, hatching and corner numbers, as SVG of ``width`` by ``height`` mm."""
    faults = [*outline_faults(typed.corners), *outline_faults(typed.blank, "blank: ")]
    picture = Picture(width, height, "Half section as typed", "; ".join(faults) or "closed, crosses nothing")
    points = [one for one in (*typed.corners, *typed.blank) if one is not None]
    if not points:
        picture.text((width / 2, height / 2), "no corner yet", size=TITLE, anchor="middle", colour=GREY)
        return picture.svg()
    at = _Paper.round(points, width, height)
    part = [at(one) for one in typed.corners if one is not None]
    blank = [at(one) for one in typed.blank if one is not None]
    if len(part) > 2 and not outline_faults(typed.corners):
        picture.segments(hatch([part], spacing=2.0, angle=-45.0), width=HAIR)
    if len(blank) > 1:
        picture.polyline(blank, width=NARROW, dash=PHANTOM, colour=GREY, closed=True)
    if len(part) > 1:
        picture.polyline(part, width=WIDE)
        picture.line(part[-1], part[0], width=WIDE)
    _axis(picture, at, width)
    _surfaces(picture, typed, at)
    _grip(picture, typed, at, system)
    inside = _middle(points)
    for numbered, ours in ((typed.blank, True), (typed.corners, False)):
        for number, corner in enumerate(numbered):
            if corner is not None and (not ours or typed.picked == (True, number)):
                _number(picture, at, corner, inside, number + 1, typed.picked == (ours, number), system)
    _words(picture, faults, width, height, system)
    return picture.svg()


@dataclass(frozen=True)
class _Paper:
    """From (r, z) to paper: z to the right, r up from the axis."""

    scale: float
    left: float
    base: float
    low: float
    start: float

    @classmethod
    def round(cls, points: Sequence[Point], width: float, height: float) -> _Paper:
        low, high = min(z for _, z in points), max(z for _, z in points)
        inner, outer = min(r for r, _ in points), max(max(r for r, _ in points), 1e-3)
        start = min(inner, 0.0)
        if inner > THIN * outer:
            start = inner - 0.4 * max(outer - inner, 0.2 * (high - low))
        scale = min((width - 2 * SIDE) / max(high - low, 1e-3), (height - TOP - BOTTOM) / max(outer - start, 1e-3))
        left = (width - (high - low) * scale) / 2
        return cls(scale, left, height - BOTTOM, low, start)

    def __call__(self, point: Point) -> Point:
        return self.left + (point[1] - self.low) * self.scale, self.base - (point[0] - self.start) * self.scale

    @property
    def axis(self) -> float:
        """Where the centre line is drawn: at the foot, where it is broken off."""
        return self.base if self.is_broken else self((0.0, 0.0))[1]

    @property
    def is_broken(self) -> bool:
        return self.start > 0


def _axis(picture: Picture, at: _Paper, width: float) -> None:
    picture.line((2.0, at.axis), (width - 2.0, at.axis), width=0.2, dash=CENTRE_LINE)
    if at.is_broken:
        level = at.axis - 3.5
        for x in (7.0, width - 7.0):
            steps = [(x - 4.0, level), (x - 1.0, level), (x, level - 1.8), (x + 1.0, level + 1.8), (x + 2.0, level)]
            picture.polyline([*steps, (x + 4.0, level)], width=NARROW)
        picture.text((2.0, at.axis + 4.3), "centre line, drawn nearer", size=LETTER, colour=GREY)
    x = at((0.0, 0.0))[0]
    if (50.0 if at.is_broken else 4.0) < x < width - 4.0:
        picture.line((x, at.axis - 1.5), (x, at.axis + 1.5), width=NARROW)
        picture.text((x, at.axis + 8.2), "z = 0", size=LETTER, anchor="middle", colour=GREY)


def _surfaces(picture: Picture, typed: Typed, at: _Paper) -> None:
    for name, start, end in typed.surfaces:
        a, b = at(start), at(end)
        picture.line(a, b, width=1.3, dash="3 0.8 0.6 0.8", colour=ACCENT)
        picture.text(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2 + 4.0), name, anchor="middle", colour=ACCENT, plate=True)


def _grip(picture: Picture, typed: Typed, at: _Paper, system: UnitSystem) -> None:
    if typed.grip is None:
        return
    side, radius, low, high = typed.grip
    a, b = at((radius, low)), at((radius, high))
    picture.line(a, b, width=1.6, colour=ACCENT)
    way = 1.0 if side == "outside" else -1.0
    tip, tail = ((a[0] + b[0]) / 2, a[1] - way * 0.8), ((a[0] + b[0]) / 2, a[1] - way * 7.0)
    picture.line(tail, tip, width=NARROW, colour=ACCENT)
    picture.arrow_head(tip, (0.0, way), colour=ACCENT)
    words = f"gripped {dimension(abs(high - low), system)}"
    picture.text((tail[0] + 1.0, tail[1] + (2.0 if way > 0 else 0.0)), words, colour=ACCENT, plate=True)


def _number(
    picture: Picture, at: _Paper, corner: Point, inside: Point, number: int, picked: bool, system: UnitSystem
) -> None:
    """The number of a corner just outside of it; of the one being typed large, ringed, with its values."""
    x, y = at(corner)
    way = 1.0 if corner[1] >= inside[1] else -1.0, -1.0 if corner[0] >= inside[0] else 1.0
    off = 4.6 if picked else 3.2
    spot = (x + way[0] * off, y + way[1] * off)
    picture.circle((x, y), 1.4 if picked else 0.7, width=0, fill=ACCENT if picked else "#16181b")
    if picked:
        picture.circle(spot, 3.4, width=0.7, colour=ACCENT, fill=PAPER)
    size = HEAD if picked else STRONG
    picture.text((spot[0], spot[1] + 0.34 * size), str(number), size=size, anchor="middle", bold=True, plate=not picked)
    if picked:
        words = f"Ø{dimension(2 * corner[0], system)}, z {dimension(corner[1], system)}"
        wide = text_width(words, 3.4, bold=True)
        start = min(max(spot[0] - wide / 2, 1.0), picture.width - wide - 1.0)
        level = spot[1] + (-4.6 if way[1] < 0 else 7.2)
        picture.text((start, max(level, 3.6)), words, size=STRONG, bold=True, colour=ACCENT, plate=True)


def _words(picture: Picture, faults: list[str], width: float, height: float, system: UnitSystem) -> None:
    if faults:
        picture.text((width / 2, 4.2), f"! {faults[0]}", size=STRONG, anchor="middle", bold=True, plate=True)
    picture.text(
        (width - 1.0, height - 1.0), f"dimensions in {length_unit(system)}", size=LEAST, anchor="end", colour=GREY
    )


def _same(a: Point, b: Point) -> bool:
    return abs(a[0] - b[0]) < SAME_MM and abs(a[1] - b[1]) < SAME_MM


def _middle(points: Sequence[Point]) -> Point:
    r, z = [p[0] for p in points], [p[1] for p in points]
    return (min(r) + max(r)) / 2, (min(z) + max(z)) / 2


def _area(points: Sequence[Point]) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True)) / 2


Side = tuple[tuple[int, Point], tuple[int, Point]]


def _crossings(sides: Sequence[Side]) -> list[str]:
    """Pairs of sides that cross or touch elsewhere than where one follows the other."""
    found = []
    boxes = [(min(p[0], q[0]), max(p[0], q[0]), min(p[1], q[1]), max(p[1], q[1])) for (_, p), (_, q) in sides]
    for (i, first), (j, second) in combinations(enumerate(sides), 2):
        a, b = boxes[i], boxes[j]
        if a[0] > b[1] + SAME_MM or b[0] > a[1] + SAME_MM or a[2] > b[3] + SAME_MM or b[2] > a[3] + SAME_MM:
            continue
        neighbours = j - i == 1 or (i == 0 and j == len(sides) - 1)
        if _back_on_itself(first, second, j - i == 1) if neighbours else _meet(first, second):
            found.append(f"the line {first[0][0]} to {first[1][0]} meets the line {second[0][0]} to {second[1][0]}")
    return found


def _back_on_itself(first: Side, second: Side, in_order: bool) -> bool:
    """Do two sides that share a corner run back over each other?"""
    before, after = (first, second) if in_order else (second, first)
    (_, a), (_, b), (_, c) = *before, after[1]
    u, v = (a[0] - b[0], a[1] - b[1]), (c[0] - b[0], c[1] - b[1])
    return abs(u[0] * v[1] - u[1] * v[0]) < SAME_MM and u[0] * v[0] + u[1] * v[1] > 0


def _meet(first: Side, second: Side) -> bool:
    (_, a), (_, b) = first
    (_, c), (_, d) = second
    turns = [_turn(a, b, c), _turn(a, b, d), _turn(c, d, a), _turn(c, d, b)]
    if turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0:
        return True
    touching = ((turns[0], a, b, c), (turns[1], a, b, d), (turns[2], c, d, a), (turns[3], c, d, b))
    return any(turn == 0 and _between(p, q, r) for turn, p, q, r in touching)


def _turn(a: Point, b: Point, c: Point) -> float:
    area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    return 0.0 if abs(area) < SAME_MM else area


def _between(a: Point, b: Point, c: Point) -> bool:
    inside = [min(p, q) - SAME_MM <= r <= max(p, q) + SAME_MM for p, q, r in zip(a, b, c, strict=True)]
    return all(inside)
