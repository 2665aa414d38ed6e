"""The way of a boring program through the metal, as its text was read back, with every spot where its proof failed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import shapely

from heldtrue.drawing.drafting import PENS, scale_words
from heldtrue.drawing.svg import (
    DASHED,
    GREY,
    HAIR,
    INK,
    LEAST,
    LETTER,
    MEDIUM,
    NARROW,
    PHANTOM,
    STRONG,
    WIDE,
    Loop,
    Picture,
    Point,
    distance,
    hatch,
    shorten,
    text_width,
    wrap,
)
from heldtrue.program.geometry import points_along
from heldtrue.program.job import BoringJob
from heldtrue.program.nose import tip_offset
from heldtrue.program.proof import Finding, Proof
from heldtrue.program.read import ReadMove
from heldtrue.quantities import UnitSystem
from heldtrue.sentences import in_units, sentence

WIDTH, HEIGHT = 180.0, 150.0
MARGIN, HEAD, FOOT = 8.0, 14.0, 30.0
BESIDE_MM = 5.0
"""How much is shown of what surrounds the cut."""
SAGITTA_MM = 0.02
RING = 3.4
"""Radius of the ring round a failed spot. [mm of paper]"""
MOST_SPOTS = 6
MOST_MOVES = 4000
"""Of a longer program every so many is drawn: more lines than a printer has dots tell nothing."""


def draw_tool_path(
    job: BoringJob, moves: Sequence[ReadMove], proof: Proof, system: UnitSystem = "metric", *,
    what: str = "bore", width: float = WIDTH, height: float = HEIGHT,
) -> str:  # fmt: skip
    """The way of the nose centre: rapids dashed, cuts thin, the finish bold; spots of failure ringed and numbered.

    ``what`` is cut: the bore, or the groove for the ring.
    """
    state = "proved" if proof.passed else "NOT PROVED, not written"
    picture = Picture(width, height, f"Boring program: {state}", "; ".join(proof.sentences()[:3]) or job.title)
    frame = _Frame(job, moves, width, height)
    _metal(picture, frame, job)
    _ways(picture, frame, job, moves)
    spots = [finding for finding in proof.findings if finding.at is not None][:MOST_SPOTS]
    for at, numbers in _rings([frame.on_paper(one.at) for one in spots if one.at is not None]):
        picture.circle(at, RING, width=WIDE)
        picture.text((at[0] + RING + 0.8, at[1] - 2.6), ", ".join(numbers), size=STRONG, bold=True, plate=True)
    words = f"{job.title}, {what}: {state}"
    picture.text((MARGIN, 6.0), shorten(words, width - 2 * MARGIN - 30.0, STRONG), size=STRONG, bold=True)
    picture.text((width - MARGIN, 6.0), scale_words(frame.scale), size=LETTER, anchor="end")
    _legend(picture, what, height)
    _sayings(picture, what, proof, spots, system, width, height)
    return picture.svg()


def _rings(places: Sequence[Point]) -> list[tuple[Point, list[str]]]:
    """Spots that lie in one ring share it."""
    found: list[tuple[Point, list[str]]] = []
    for number, at in enumerate(places, 1):
        shared = next((one for one in found if distance(one[0], at) < RING), None)
        if shared is None:
            found.append((at, [str(number)]))
        else:
            shared[1].append(str(number))
    return found


class _Frame:
    """Paper for (x, z): z to the right, x upwards, as the jaw drawing has them."""

    def __init__(self, job: BoringJob, moves: Sequence[ReadMove], width: float, height: float) -> None:
        spots = [*job.finished, *(move.piece.end for move in moves if not move.rapid)]
        xs, zs = [x for x, _ in spots], [z for _, z in spots]
        beside = max(BESIDE_MM, 0.12 * max(max(xs) - min(xs), max(zs) - min(zs)))
        low, high, deep, near = min(xs) - beside, max(xs) + beside, min(zs) - beside, max(zs) + beside
        room = (width - 2 * MARGIN, height - HEAD - FOOT)
        # A drawn path is for looking, so any scale will do as long as it is said; kept to two figures.
        self.scale = float(f"{0.95 * min(room[0] / (near - deep), room[1] / (high - low)):.2g}")
        self.left = MARGIN + (room[0] - (near - deep) * self.scale) / 2
        self.top = HEAD + (room[1] - (high - low) * self.scale) / 2
        self.deep, self.high = deep, high
        self.window = shapely.box(deep, low, near, high)

    def on_paper(self, point: Point) -> Point:
        """A point (x, z) on paper."""
        x, z = point
        return self.left + (z - self.deep) * self.scale, self.top + (self.high - x) * self.scale

    def loops(self, points: Sequence[Point]) -> list[Loop]:
        """A closed area, cut to the window, on paper."""
        area: Any = shapely.Polygon([(z, x) for x, z in points]).buffer(0).intersection(self.window)
        found: list[Loop] = []
        for polygon in getattr(area, "geoms", [area]):
            if polygon.geom_type == "Polygon" and not polygon.is_empty:
                found.append([self.on_paper((x, z)) for z, x in polygon.exterior.coords[:-1]])
        return found

    def lines(self, points: Sequence[Point]) -> list[list[Point]]:
        """A line, cut to the window, on paper."""
        if len(points) < 2 or points[0] == points[-1]:
            return []
        line: Any = shapely.LineString([(z, x) for x, z in points]).intersection(self.window)
        return [
            [self.on_paper((x, z)) for z, x in one.coords]
            for one in getattr(line, "geoms", [line])
            if one.geom_type == "LineString" and len(one.coords) > 1
        ]


def _metal(picture: Picture, frame: _Frame, job: BoringJob) -> None:
    """Metal before the cut, the finished line, and what must not be touched."""
    for loop in frame.loops(job.metal):
        picture.segments(hatch([loop], spacing=3.2, angle=45.0), colour=GREY, width=HAIR)
        picture.polyline(loop, width=NARROW, dash=PHANTOM, colour=GREY, closed=True)
    for one in job.keep_out:
        for loop in frame.loops(one.outline):
            picture.segments(hatch([loop], spacing=1.4, angle=-45.0), colour=GREY, width=HAIR)
            picture.polyline(loop, width=MEDIUM, closed=True)
            middle = (sum(p[0] for p in loop) / len(loop), sum(p[1] for p in loop) / len(loop))
            broad = max(p[0] for p in loop) - min(p[0] for p in loop)
            if broad > text_width(one.name, 2.4) + 1.0:
                picture.text((middle[0], middle[1] + 0.9), one.name, size=LEAST, anchor="middle", plate=True)
    for line in frame.lines(job.finished):
        picture.polyline(line, width=WIDE)


def _ways(picture: Picture, frame: _Frame, job: BoringJob, moves: Sequence[ReadMove]) -> None:
    offset = tip_offset(job.tool)
    every = max(1, len(moves) // MOST_MOVES)
    for move in moves[::every]:
        way = [(x - offset[0], z - offset[1]) for x, z in points_along(move.piece, SAGITTA_MM)]
        for line in frame.lines(way):
            if move.rapid:
                picture.polyline(line, width=HAIR, dash=DASHED, colour=GREY)
            else:
                picture.polyline(line, width=0.25)


def _legend(picture: Picture, what: str, height: float) -> None:
    y, x = height - FOOT + 5.0, MARGIN
    for words, width, dash, colour in (
        (f"finished {what}", WIDE, "", INK), ("feed, centre of the nose", 0.25, "", INK),
        ("rapid", HAIR, DASHED, GREY), ("jaw before the cut", *PENS["phantom"]),
    ):  # fmt: skip
        picture.line((x, y), (x + 8.0, y), width=width, dash=dash, colour=colour)
        picture.text((x + 9.5, y + 0.9), words, size=LEAST)
        x += 15.0 + text_width(words, LEAST)


def _sayings(
    picture: Picture, what: str, proof: Proof, spots: list[Finding], system: UnitSystem, width: float, height: float
) -> None:
    y = height - FOOT + 10.0
    if proof.passed:
        worst = in_units(sentence("{:.4f mm}", proof.worst_deviation), system)
        depth = in_units(sentence("{:.2f mm}", proof.deepest), system)
        lines = [
            f"read back: {proof.moves} moves; off the finished {what} by {worst} at most; deepest cut {depth}; "
            f"{proof.minutes:.1f} min at up to {proof.top_speed:.0f} rev/min"
        ]
    else:
        rest = [finding for finding in proof.findings if finding not in spots]
        lines = [sentence("{}  {}", n, f.words) for n, f in enumerate(spots, 1)] + [f.words for f in rest]
    for words in lines:
        for line in wrap(in_units(words, system), width - 2 * MARGIN, 2.8, lines=2):
            if y > height - 3.0:
                return
            picture.text((MARGIN, y), line, size=LETTER)
            y += 3.8
