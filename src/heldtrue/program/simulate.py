"""Runs the read moves through the metal: what they take away, what they must not touch, how deep they cut.

x runs in the cutting direction.  Each move looks only at the cells of metal near it, so cost grows with the number of
moves alone; moves that go on along the same axis are one way of the tool, and are swept as one. [mm]
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from heldtrue.program.depth import Depths
from heldtrue.program.geometry import Floats, Line, Piece
from heldtrue.program.job import BoringJob, Point
from heldtrue.program.proof import TOLERANCE_MM, Finding
from heldtrue.program.stock import Stock
from heldtrue.program.sweep import COARSE_MM, FINE_MM, SHORTEST_MM, Ahead, Cutter, Holder, reach
from heldtrue.program.target import cut_side, mirrored
from heldtrue.sentences import sentence

Report = Callable[[Finding], None]
AT_ONCE = 2048
"""Moves whose areas are worked out together: fast, and some megabytes."""


@dataclass(frozen=True)
class Step:
    """One move of the nose centre: text line, rapid or feed, way, whether it makes the finished line."""

    line: int
    rapid: bool
    piece: Piece
    makes_line: bool


@dataclass(frozen=True)
class Run:
    """One step, or several that go on along one axis in one direction: the same way of the tool as one move.

    ``steps``: those it is made of, to name the line that is wrong.
    """

    rapid: bool
    piece: Piece
    makes_line: bool
    steps: tuple[Step, ...]

    def line_at(self, place: Point) -> int:
        """The text line of the step that ends first beyond a place, of those on the way past it."""
        (x, z), (u, w) = self.piece.start, self.piece.end
        length = hypot(u - x, w - z)
        if len(self.steps) == 1 or length < SHORTEST_MM:
            return self.steps[0].line
        along = (u - x) / length, (w - z) / length
        far = (place[0] - x) * along[0] + (place[1] - z) * along[1]
        for step in self.steps:
            end = step.piece.end
            if (end[0] - x) * along[0] + (end[1] - z) * along[1] >= far:
                return step.line
        return self.steps[-1].line


def runs_of(steps: list[Step]) -> list[Run]:
    """The steps, those that go on along x or along z alone in one direction put together: exactly the same way."""
    found: list[list[Step]] = []
    heading: tuple[int, int] | None = None
    for step in steps:
        here = _heading(step)
        last = found[-1][-1] if found else None
        if (last is not None and here is not None and here == heading and last.rapid == step.rapid
                and last.makes_line == step.makes_line and last.piece.end == step.piece.start):  # fmt: skip
            found[-1].append(step)
        else:
            found.append([step])
        heading = here
    return [
        Run(one[0].rapid, one[0].piece if len(one) == 1 else Line(one[0].piece.start, one[-1].piece.end),
            one[0].makes_line, tuple(one))
        for one in found
    ]  # fmt: skip


def _heading(step: Step) -> tuple[int, int] | None:
    """The axis and direction of a move along one axis alone; None of all others."""
    if not isinstance(step.piece, Line):
        return None
    (x, z), (u, w) = step.piece.start, step.piece.end
    if (x == u) == (z == w):
        return None
    return (u > x) - (u < x), (w > z) - (w < z)


class Simulation:
    """Cuts a job's metal step by step and reports what is wrong."""

    def __init__(self, job: BoringJob, metal: BaseGeometry, steps: int, report: Report) -> None:
        self.side = cut_side(job)
        self.job, self.report = job, report
        self.cutter, self.holder = Cutter(job.tool, self.side), Holder(job.tool, self.side)
        self.ahead = Ahead(self.cutter, self.holder)
        self.stock = Stock(metal, steps)
        self.keep_out = [(k.name, shapely.Polygon(mirrored(k.outline, self.side))) for k in job.keep_out]
        for _, shape in self.keep_out:
            shapely.prepare(shape)
        self.depths = Depths(job, self.stock)

    @property
    def deepest(self) -> float:
        """The largest depth of cut so far, at most what was looked for. [mm]"""
        return self.depths.deepest

    def run(self, moves: list[Step]) -> None:
        """All moves in order."""
        steps = runs_of(moves)
        boxes = np.array([reach(s.piece) for s in steps])
        cut = boxes[:, :2] + self.cutter.low, boxes[:, 2:] + self.cutter.high
        hold = boxes[:, :2] + self.holder.low, boxes[:, 2:] + self.holder.high
        guarded = self._near_keep_outs(np.minimum(cut[0], hold[0]), np.maximum(cut[1], hold[1]))
        by_nose, by_holder = self.stock.ever_near(*cut), self.stock.ever_near(*hold)
        ways, low, high = boxes.tolist(), cut[0].tolist(), cut[1].tolist()
        begins = self._passes(steps)
        inner = np.minimum(cut[0], hold[0]) if self.side > 0 else -np.maximum(cut[1], hold[1])
        beyond = inner[:, 0] < 0
        for i, step in enumerate(steps):
            if i % AT_ONCE == 0:
                self._prepare(steps, range(i, min(i + AT_ONCE, len(steps))), by_nose, by_holder)
            if i in begins:
                last = begins[i]
                self.depths.begin(cut[0][i:last].min(axis=0), cut[1][i:last].max(axis=0))
            if guarded[i]:
                self._keep_clear(step)
            if by_holder[i] and not step.rapid:
                self._goes_before(i, step, ways[i], by_holder[i])
            if by_nose[i]:
                self._nose(i, step, self.stock.near(low[i], high[i], by_nose[i]))
            if by_holder[i]:
                self._hold(i, step, ways[i], by_holder[i])
            if beyond[i]:
                self._beyond_axis(step)
        self.depths.done()

    def _passes(self, steps: list[Run]) -> dict[int, int]:
        """The first move of each pass, and the move after its last: one ends where a rapid leaves the blank behind."""
        ends = np.array([step.piece.end for step in steps])
        within = self.stock.ever_near(ends + self.cutter.low, ends + self.cutter.high)
        found: dict[int, int] = {}
        first = None
        for i, step in enumerate(steps):
            by_retreat = i > 0 and step.piece.start != steps[i - 1].piece.end
            if by_retreat or (step.rapid and not within[i]):
                first = None
            if not step.rapid:
                first = i if first is None else first
                found[first] = i + 1
        return found

    def _prepare(self, steps: list[Run], some: range, by_nose: Sequence[object], by_holder: Sequence[object]) -> None:
        """What nose, edge and holder cover along the next straight moves near metal, many at once."""
        straight = [i for i in some if isinstance(steps[i].piece, Line)]
        self._by_nose: dict[int, BaseGeometry] = {}
        for sagitta, fine in ((FINE_MM, True), (COARSE_MM, False)):
            mine = [i for i in straight if by_nose[i] and steps[i].makes_line is fine]
            if mine:
                self._by_nose |= zip(mine, self.cutter.along_lines(_lines(steps, mine), sagitta), strict=True)
        near = [i for i in straight if by_holder[i]]
        feeds = [i for i in near if not steps[i].rapid]
        self._by_ahead = dict(zip(feeds, self.ahead.along(_lines(steps, feeds)), strict=True))
        self._by_holder = [
            dict(zip(near, self.holder.along_lines(part, _lines(steps, near)), strict=True)) if near else {}
            for part in range(len(self.holder.parts))
        ]

    # one move

    def _nose(self, i: int, step: Run, cells: NDArray[np.intp]) -> None:
        if not cells.size:
            return
        area = self._by_nose.get(i)
        if area is None:
            area = self.cutter.covered(step.piece, FINE_MM if step.makes_line else COARSE_MM)
        if step.rapid:
            met = self.stock.met(area, cells)
            if met:
                self._refuse_if_wide(met, step, "rapid_in_metal", "a rapid goes through metal")
        elif self.stock.cut(area, cells):
            found = self.depths.judge(area, step.makes_line)
            if found is not None:
                least = "at least " if found.at_least else ""
                what = "the finishing cut" if found.finishing else "the cut"
                text = sentence(
                    "{} is {}{:.3f mm} deep, allowed are {:.3f mm}", what, least, found.depth, found.allowed
                )
                self._say("depth", text, step, found.at, found.depth, found.allowed)

    def _goes_before(self, i: int, step: Run, way: list[float], among: list[int]) -> None:
        """No metal may be met by what goes before nose and edge, though they would cut it later in the same move."""
        (low, high), text = (self.holder.low, self.holder.high), "the insert's flank or the holder runs into metal"
        cells = self.stock.near((way[0] + low[0], way[1] + low[1]), (way[2] + high[0], way[3] + high[1]), among)
        if not cells.size:
            return
        ready = self._by_ahead.get(i)
        if ready is not None and not any(self.stock.met(one, cells) for one in ready):
            return
        for area, cut in self.ahead.before(step.piece):
            met = [left for one in self.stock.met(area, cells) if (left := one.difference(cut)).area > 0]
            if met and self._refuse_if_wide(met, step, "holder_in_metal", text):
                return

    def _hold(self, i: int, step: Run, way: list[float], among: list[int]) -> None:
        """Every part of the holder that comes near metal; ``way``: least and largest x and z of the nose centre."""
        text = "the insert's flank or the holder runs into metal"
        for part, (low, high) in enumerate(self.holder.boxes):
            cells = self.stock.near((way[0] + low[0], way[1] + low[1]), (way[2] + high[0], way[3] + high[1]), among)
            if not cells.size:
                continue
            ready = self._by_holder[part].get(i)
            for area in self.holder.covered_by(part, step.piece) if ready is None else (ready,):
                met = self.stock.met(area, cells)
                if met and self._refuse_if_wide(met, step, "holder_in_metal", text):
                    return

    def _beyond_axis(self, step: Run) -> None:
        areas = [*self.holder.covered(step.piece), self.cutter.covered(step.piece, COARSE_MM)]
        for area in areas:
            other = shapely.transform(area, _other_side)
            bounds = np.array(other.bounds)
            (cells,) = self.stock.ever_near(bounds[None, :2], bounds[None, 2:])
            text = "beyond the axis the tool runs into the opposite side of the jaws"
            met = self.stock.met(other, np.array(cells, dtype=np.intp)) if cells else []
            if met and self._refuse_if_wide(met, step, "holder_in_metal", text):
                return

    def _keep_clear(self, step: Run) -> None:
        areas = [self.cutter.covered(step.piece, COARSE_MM), *self.holder.covered(step.piece)]
        for name, shape in self.keep_out:
            for area in areas:
                if shape.intersects(area):
                    met = shape.intersection(area)
                    if met.area > TOLERANCE_MM**2:
                        kind = "a rapid" if step.rapid else "a feed move"
                        self._report_at(met, step, "keep_out", f"{kind} runs into {name}")
                        break

    # reporting

    def _near_keep_outs(self, low: Floats, high: Floats) -> NDArray[np.bool_]:
        found = np.zeros(len(low), dtype=bool)
        for _, shape in self.keep_out:
            x, z, u, w = shape.bounds
            found |= (low[:, 0] <= u) & (high[:, 0] >= x) & (low[:, 1] <= w) & (high[:, 1] >= z)
        return found

    def _refuse_if_wide(self, met: list[BaseGeometry], step: Run, code: str, text: str) -> bool:
        for part in met:
            if part.area > TOLERANCE_MM**2 and part.buffer(-TOLERANCE_MM / 2).area > 0:
                self._report_at(part, step, code, text)
                return True
        return False

    def _report_at(self, met: BaseGeometry, step: Run, code: str, text: str) -> None:
        spot = met.representative_point()
        self._say(code, text, step, (float(spot.x), float(spot.y)))

    def _say(
        self,
        code: str,
        text: str,
        step: Run,
        at: tuple[float, float],
        value: float | None = None,
        limit: float | None = None,
    ) -> None:
        place = (self.side * at[0], at[1])
        message = sentence("{}, at x {:.3f [mm]}, z {:.3f [mm]}", text, place[0], place[1])
        self.report(Finding(code, message, step.line_at(at), value, limit, place))


def _lines(steps: list[Run], some: list[int]) -> list[Line]:
    return [piece for i in some if isinstance(piece := steps[i].piece, Line)]


def _other_side(points: Floats) -> Floats:
    return np.asarray(points * np.array([-1.0, 1.0]))
