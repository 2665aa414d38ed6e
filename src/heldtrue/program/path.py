"""From a boring job to the moves of the tool: rough along z, once along the line, relief, finish in one direction.

The finished line is offset by the nose radius and the moves are those of the programmed tip; no control has to
compensate anything.  Inside, x runs in the cutting direction; ``ToolPath`` has it as a radius again. [mm, mm/rev]
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, ceil, hypot, tan
from typing import Literal

import shapely

from heldtrue.errors import GeometryError
from heldtrue.program.fits import refuse_corners, refuse_ends, refuse_holder
from heldtrue.program.geometry import Arc, Line, Piece
from heldtrue.program.job import RUN_IN_MM, RUN_IN_STEP_MM, BoringJob, Point
from heldtrue.program.nose import main_edge, problems_of, tip_offset
from heldtrue.program.offset import is_free, offset_line
from heldtrue.program.roughing import (
    SLACK_MM,
    Stops,
    envelope,
    hidden_parts,
    levels,
    relief_passes,
    strips,
)
from heldtrue.program.sound import refuse_unsound
from heldtrue.program.target import (
    BEYOND_MM,
    air_side,
    before_fronts,
    cut_side,
    metal_area,
    mirrored,
    run_in,
    run_out,
    turning,
)

Part = Literal["face", "rough", "contour", "relief", "semi", "finish", "spring", "deburr", "groove"]
GROUPS: dict[Part, str] = {
    "face": "face", "rough": "rough", "contour": "rough", "relief": "relief", "semi": "semi", "finish": "finish",
    "spring": "spring", "deburr": "deburr", "groove": "groove",
}  # fmt: skip
"""Which parts run without a retreat between them; each group can be started again alone."""
LONGEST_STEP_BACK_MM = 0.5
"""A tool steps back from a wall by the clearance, at most by this: there may be little room behind it."""
PAST_THE_END_MM = 0.5
PARK_MM = 20.0


@dataclass(frozen=True)
class Move:
    """One move of the programmed tip; ``feed`` None is a rapid. [mm, mm/rev]"""

    piece: Piece
    feed: float | None
    part: Part


@dataclass(frozen=True)
class ToolPath:
    """All moves in order, and how many passes each part has. Between groups of parts the tool goes to its retreat."""

    moves: tuple[Move, ...]
    passes: dict[Part, int]

    @property
    def cut_length(self) -> float:
        """Length of all feed moves. [mm]"""
        return sum(m.piece.length for m in self.moves if m.feed is not None)


def tool_path(job: BoringJob) -> ToolPath:
    """The moves that cut ``job``, or a GeometryError that says what does not fit."""
    return _Planner(job).path()


class _Planner:
    """The nose centre's moves with x in the cutting direction, turned into tip moves at the end."""

    def __init__(self, job: BoringJob) -> None:
        self.job, self.side = job, cut_side(job)
        refuse_unsound(job)
        problems = problems_of(job, self.side)
        if problems:
            raise GeometryError("; ".join(problems))
        if len(job.finished) < 2:
            raise GeometryError("the finished line needs two points or more")
        self.radius, self.allowance = job.tool.nose_radius, job.cutting.finish_allowance
        self.line = mirrored(job.finished, self.side)
        self.raw = metal_area(job, self.side)
        self.metal = self.raw if job.face_off <= 0 else self.raw.difference(before_fronts())
        self.stock = self.metal.intersection(air_side(self.line))
        self.step_back = min(job.clearance, LONGEST_STEP_BACK_MM)
        if self.stock.area < 1e-6:
            raise GeometryError("nothing to cut: the metal ends at the finished line already")
        self.down = run_out(self.line)[1] < -0.5
        self.floor = self.line[-1][1] - self._below() if self.down else None
        refuse_ends(job, self.line, self.metal)
        refuse_corners(self.line, self.radius, self.side)
        self.over = job.clearance + self.radius + self._hang()
        self.safe = float(self.raw.bounds[3]) + self.over
        self.near = self._with_run_in()
        self.long = [self.near[0], *self.line, _along(self.line[-1], run_out(self.line), BEYOND_MM)]
        self.moves: list[tuple[Piece, float | None, Part]] = []
        self.passes: dict[Part, int] = {}
        self.at: Point | None = None
        self.group = ""
        self.park = self._park()

    def path(self) -> ToolPath:
        """Everything in order."""
        finish = offset_line(self.near, self.radius)
        refuse_holder(self.job, self.side, finish)
        rough = self._rough_curve()
        self._face()
        self._along_z()
        self._along_line(rough)
        self._relief(finish, rough)
        self._semi()
        self._finish(finish, "finish")
        for _ in range(self.job.cutting.spring_passes):
            self._finish(finish, "spring")
        if self.job.cutting.deburr:
            self._deburr(finish)
        self._leave()
        return self._as_tip_moves()

    # what the tool needs

    def _hang(self) -> float:
        """How much lower than the nose the edge or the holder hangs."""
        low = min(main_edge(self.job.tool, self.side)[1][1], *(z for _, z in self.job.tool.shank))
        return max(0.0, -low - self.radius)

    def _below(self) -> float:
        """How far below a through bore the nose centre goes, so that the leaning main edge too clears a whole pass."""
        (x, z), (u, w) = main_edge(self.job.tool, self.side)
        rise = (w - z) / max(self.side * (x - u), 1e-9)
        far = self.side * x - self.radius + self.job.cutting.pass_depth
        return max(0.0, z + far * rise + SLACK_MM) if far > 0 else 0.0

    def _with_run_in(self) -> list[Point]:
        back, by = run_in(self.line), 0.0
        normal = _normal(_along(self.line[0], back, 1.0), self.line[0])
        while by < BEYOND_MM:
            by += RUN_IN_STEP_MM
            centre = _along(_along(self.line[0], back, by), normal, self.radius)
            if self.metal.distance(shapely.Point(centre)) >= self.radius + min(self.job.clearance, RUN_IN_MM):
                break
        straight = _same_way(back, self.line[1], self.line[0])
        first = [_along(self.line[0], back, by), *self.line[1 if straight else 0 :]]
        past = self._below() if self.down else self._past_the_end()
        return [*first[:-1], _along(self.line[-1], run_out(self.line), past)] if past else first

    def _past_the_end(self) -> float:
        """How far the floor is followed past its end, so that the nose gets off the wall before it."""
        (dx, dz), end = run_out(self.line), self.line[-1]
        free, least = self.radius + self.allowance, min(x for x, _ in self.line[:-1])
        last = turning(self.line)[-1] if len(self.line) > 2 else 0.0
        walls = [(last, hypot(end[0] - self.line[-2][0], end[1] - self.line[-2][1]))]
        if dx < 0:  # where the rough cut leaves an undercut out, its wall stands straight and nearer to the end
            walls.append((atan2(-dx, -dz), (least - end[0]) / -dx))
        return PAST_THE_END_MM + max(0.0, *(free * tan(max(turn, 0.0) / 2) - room for turn, room in walls))

    # the parts

    def _rough_curve(self) -> list[Piece] | None:
        deep = self.stock.difference(shapely.LineString(self.long).buffer(1.5 * self.allowance + SLACK_MM))
        if deep.area < 1e-6:
            return None
        return offset_line(envelope(self.near), self.radius + self.allowance)

    def _face(self) -> None:
        """Across the fronts, from the air side over all of the jaw, no deeper than the nose cuts with its round."""
        height = self.job.face_off
        if height <= 0:
            return
        low, _, high, _ = self.raw.intersection(before_fronts()).bounds
        count = ceil(height / min(self.job.cutting.pass_depth, self.radius) - 1e-9)
        start, end = low - self.over, high + self.radius + PAST_THE_END_MM
        for number in range(1, count + 1):
            z = height * (1 - number / count) + self.radius
            self._over((start, z), "face")
            self._feed_to((end, z), self.job.cutting.finish_feed, "face")
            self._rapid_to((end, z + self.step_back), "face")
            self._count("face")
        self._leave()
        self.safe = float(self.metal.bounds[3]) + self.over

    def _deburr(self, finish: list[Piece]) -> None:
        """Along the mouth as far as it leads into the wall."""
        last = next((i for i, piece in enumerate(finish) if isinstance(piece, Arc)), 0)
        mouth = finish[: last + 1]
        self._over(mouth[0].start, "deburr")
        for piece in mouth:
            self._feed(piece, self.job.cutting.finish_feed, "deburr")
        self._rapid_to(_along(mouth[-1].end, self._out(mouth), self.step_back), "deburr")
        self._count("deburr")

    def _along_z(self) -> None:
        deep = self.stock.difference(shapely.LineString(self.long).buffer(self.allowance + SLACK_MM))
        if deep.area < 1e-6:
            return
        stops = Stops(self.long, self.radius + self.allowance, self.floor)
        first, _, last, _ = deep.bounds
        first = min(first, float(self.stock.bounds[0]))
        edges = [first, *levels(self.line, first, last, self.allowance, self.job.cutting.pass_depth, 2 * self.radius)]
        feed = self.job.cutting.rough_feed
        for edge, strip in zip(edges[1:], strips(self.stock, deep, edges), strict=True):
            x = edge - self.radius
            if strip is None or (end := stops.at(x)) - self.radius >= strip[0] - SLACK_MM:
                continue
            begin = min(self.safe, strip[0] + self.over)
            self._over((x, begin), "rough")
            self._feed_to((x, end), feed, "rough")
            back = x - self.step_back
            lifted = stops.highest(back, x)
            if lifted > end + 1e-6:
                self._feed_to((x, lifted), feed, "rough")
            self._rapid_to((back, lifted + self.step_back), "rough")
            self._count("rough")

    def _along_line(self, rough: list[Piece] | None) -> None:
        if rough is None:
            return
        self._over(rough[0].start, "contour")
        for piece in rough:
            self._feed(piece, self.job.cutting.rough_feed, "contour")
        self._rapid_to(_along(rough[-1].end, self._out(rough), self.step_back), "contour")
        self._count("contour")

    def _relief(self, finish: list[Piece], rough: list[Piece] | None) -> None:
        if rough is None:
            return
        free = self.radius + self.allowance
        feed, deepest = self.job.cutting.finish_feed, self.job.cutting.pass_depth
        depth = max(deepest - 1.5 * self.allowance, deepest / 4)
        stops = Stops(self.long, free, self.floor)
        reach = self.radius + 2 * self.allowance
        for part in hidden_parts(finish, rough, self.allowance, reach):
            for once in relief_passes(part, self.near, self.radius, self.allowance, depth):
                back = self.allowance + self.step_back
                into = _along(once[0].start, _normal(once[0].start, once[0].at(1e-3)), back)
                out = _along(once[-1].end, self._out(once), back)
                for at in (into, out):
                    if at[1] < stops.at(at[0]) - 1e-6:
                        x, z = self.side * at[0], at[1]
                        raise GeometryError(
                            f"the relief at x {x:.3f}, z {z:.3f} leaves the nose no free way in and out; make it wider"
                        )
                self._over(into, "relief")
                self._feed_to(once[0].start, feed, "relief")
                for piece in once:
                    self._feed(piece, feed, "relief")
                self._feed_to(out, feed, "relief")
                self._count("relief")

    def _semi(self) -> None:
        """Along the line once more, so that the finish cuts as deep as this pass did and what it leaves is known."""
        left = self.job.cutting.semi_allowance
        if left <= 0:
            return
        curve = offset_line(self.near, self.radius + left)
        if not is_free(curve, self.near, self.radius + left):  # the finish alone fits into the relief
            curve = offset_line(envelope(self.near), self.radius + left)
        self._round(curve, "semi")

    def _finish(self, finish: list[Piece], part: Part) -> None:
        if not is_free(finish, self.near, self.radius):
            raise GeometryError(f"a nose of {self.radius:g} mm does not fit the finished line; take a smaller one")
        self._round(finish, part)

    def _round(self, curve: list[Piece], part: Part) -> None:
        """In from above, along the whole curve, off the wall and out."""
        self._over(curve[0].start, part)
        for piece in curve:
            self._feed(piece, self.job.cutting.finish_feed, part)
        away = _along(curve[-1].end, self._out(curve), self.step_back)
        narrowest = min(x for x, _ in self.line) - self.radius - self.step_back
        self._rapid_to((min(away[0], narrowest) if self.down else away[0], away[1]), part)
        self._count(part)

    def _out(self, pieces: list[Piece]) -> Point:
        last = pieces[-1]
        return _normal(last.at(1 - 1e-3), last.end)

    # the moves

    def _count(self, part: Part) -> None:
        self.passes[part] = self.passes.get(part, 0) + 1

    def _park(self) -> float:
        """A height from which nothing is in the way to the retreat: above jaws, ring and bolts, edge and holder too."""
        things = (self.raw.bounds[3], *(z for thing in self.job.keep_out for _, z in thing.outline))
        least = float(max(things)) + self.over
        highest = self.job.limits.z[1] - tip_offset(self.job.tool)[1]
        if highest < least:
            raise GeometryError(
                f"the travel in z ends at {self.job.limits.z[1]:g}: before the jaws the tool needs {least:.1f}"
            )
        return min(least + PARK_MM, highest)

    def _over(self, to: Point, part: Part) -> None:
        """Up to the safe height, across, and down to where all above is cut; from the retreat in a new group."""
        if GROUPS[part] != self.group:
            self._leave()
            self.group, self.at = GROUPS[part], (to[0], self.park)
        else:
            assert self.at is not None
            self._rapid_to((self.at[0], max(self.safe, to[1])), part)
        self._rapid_to((to[0], max(self.safe, to[1])), part)
        self._rapid_to(to, part)

    def _leave(self) -> None:
        """Up to where the retreat is clear."""
        if self.at is not None and self.moves:
            self._rapid_to((self.at[0], self.park), self.moves[-1][2])

    def _rapid_to(self, to: Point, part: Part) -> None:
        assert self.at is not None
        if hypot(to[0] - self.at[0], to[1] - self.at[1]) > 1e-6:
            self._add(Line(self.at, to), None, part)

    def _feed_to(self, to: Point, feed: float, part: Part) -> None:
        assert self.at is not None
        if hypot(to[0] - self.at[0], to[1] - self.at[1]) > 1e-6:
            self._add(Line(self.at, to), feed, part)

    def _feed(self, piece: Piece, feed: float, part: Part) -> None:
        assert self.at is not None
        if hypot(piece.start[0] - self.at[0], piece.start[1] - self.at[1]) > 1e-5:
            self._add(Line(self.at, piece.start), feed, part)
        self._add(piece, feed, part)

    def _add(self, piece: Piece, feed: float | None, part: Part) -> None:
        if self.moves:
            last, last_feed, last_part = self.moves[-1]
            straight = isinstance(last, Line) and isinstance(piece, Line) and (last_feed, last_part) == (feed, part)
            if straight and _goes_on(last, piece):
                self.moves.pop()
                piece = Line(last.start, piece.end)
        self.moves.append((piece, feed, part))
        self.at = piece.end

    def _as_tip_moves(self) -> ToolPath:
        shift = tip_offset(self.job.tool)
        tips = []
        for piece, feed, part in self.moves:
            true = piece if self.side > 0 else piece.mirrored()
            tips.append(Move(true.moved(shift), feed, part))
        return ToolPath(tuple(tips), self.passes)


def _along(start: Point, direction: Point, by: float) -> Point:
    return start[0] + by * direction[0], start[1] + by * direction[1]


def _goes_on(a: Piece, b: Piece) -> bool:
    """Whether line b leads on straight where line a ends, within 1e-7 mm."""
    d, e = (a.end[0] - a.start[0], a.end[1] - a.start[1]), (b.end[0] - b.start[0], b.end[1] - b.start[1])
    height = abs(d[0] * e[1] - d[1] * e[0]) / max(a.length + b.length, 1e-12)
    return height < 1e-7 and d[0] * e[0] + d[1] * e[1] > 0


def _same_way(direction: Point, a: Point, b: Point) -> bool:
    length = hypot(b[0] - a[0], b[1] - a[1])
    return abs(direction[0] * (b[1] - a[1]) - direction[1] * (b[0] - a[0])) < 1e-12 * length


def _normal(a: Point, b: Point) -> Point:
    """To the right of the way from a to b: the air side."""
    length = hypot(b[0] - a[0], b[1] - a[1])
    return (b[1] - a[1]) / length, -(b[0] - a[0]) / length
