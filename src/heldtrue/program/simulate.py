"""Runs the read moves through the metal: what they take away, what they must not touch, how deep they cut.

x runs in the cutting direction.  Each move looks only at the cells of metal near it, so cost grows with the number of
moves alone. [mm]
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from heldtrue.program.geometry import Floats, Piece
from heldtrue.program.job import BoringJob, Point
from heldtrue.program.proof import TOLERANCE_MM, Finding
from heldtrue.program.stock import Stock
from heldtrue.program.sweep import COARSE_MM, FINE_MM, Cutter, Holder, reach
from heldtrue.program.target import cut_side, in_undercut, mirrored, undercut_depth

FINISH_SHARE = 1.5
FINISH_SLACK_MM = 0.06
"""A move that makes the finished line may take this many allowances and this much more: rounds in corners, steps."""
SEMI_SLACK_MM = 0.02
"""The same where a pass along the whole line went before: it leaves no steps."""
DEPTH_SLACK_MM = 0.01
LOOK_MM = 0.2
"""How far beyond the allowed depth of cut is looked."""

Report = Callable[[Finding], None]


@dataclass(frozen=True)
class Step:
    """One move of the nose centre: text line, rapid or feed, way, whether it makes the finished line."""

    line: int
    rapid: bool
    piece: Piece
    makes_line: bool


class Simulation:
    """Cuts a job's metal step by step and reports what is wrong."""

    def __init__(self, job: BoringJob, metal: BaseGeometry, steps: int, report: Report) -> None:
        self.side = cut_side(job)
        self.job, self.report = job, report
        self.cutter, self.holder = Cutter(job.tool, self.side), Holder(job.tool, self.side)
        self.stock = Stock(metal, steps)
        self.keep_out = [(k.name, shapely.Polygon(mirrored(k.outline, self.side))) for k in job.keep_out]
        for _, shape in self.keep_out:
            shapely.prepare(shape)
        self.deepest = 0.0
        self.finish_depth = FINISH_SHARE * job.cutting.finish_allowance + FINISH_SLACK_MM
        if job.cutting.semi_allowance > 0:
            self.finish_depth = FINISH_SHARE * job.cutting.semi_allowance + SEMI_SLACK_MM
        if job.cutting.finish_allowance < FINISH_SLACK_MM / 2:
            self.finish_depth = job.cutting.pass_depth
        self.depth = max(job.cutting.pass_depth, 0.0)
        self.undercut = _undercut(mirrored(job.finished, self.side), undercut_depth(job))

    def run(self, steps: list[Step]) -> None:
        """All moves in order."""
        boxes = np.array([reach(s.piece) for s in steps])
        cut_low, cut_high = boxes[:, :2] + self.cutter.low, boxes[:, 2:] + self.cutter.high
        hold_low, hold_high = boxes[:, :2] + self.holder.low, boxes[:, 2:] + self.holder.high
        guarded = self._near_keep_outs(np.minimum(cut_low, hold_low), np.maximum(cut_high, hold_high))
        for i, step in enumerate(steps):
            if guarded[i]:
                self._keep_clear(step)
            cells = self.stock.near(*cut_low[i], *cut_high[i])
            if cells.size:
                self._nose(step, cells)
            cells = self.stock.near(*hold_low[i], *hold_high[i])
            if cells.size:
                self._hold(step, self.holder.covered(step.piece), cells)
            over_axis = min(cut_low[i][0], hold_low[i][0]) if self.side > 0 else -max(cut_high[i][0], hold_high[i][0])
            if over_axis < 0:
                self._beyond_axis(step)

    # one move

    def _nose(self, step: Step, cells: NDArray[np.intp]) -> None:
        area = self.cutter.covered(step.piece, FINE_MM if step.makes_line else COARSE_MM)
        met = self.stock.met(area, cells)
        if not met:
            return
        if step.rapid:
            self._refuse_if_wide(met, step, "rapid_in_metal", "a rapid goes through metal")
            return
        self._measure_depth(step, met)
        self.stock.cut(area, cells)

    def _hold(self, step: Step, areas: list[BaseGeometry], cells: NDArray[np.intp]) -> None:
        for area in areas:
            met = self.stock.met(area, cells)
            text = "the insert's flank or the holder runs into metal"
            if met and self._refuse_if_wide(met, step, "holder_in_metal", text):
                return

    def _beyond_axis(self, step: Step) -> None:
        areas = [*self.holder.covered(step.piece), self.cutter.covered(step.piece, COARSE_MM)]
        for area in areas:
            other = shapely.transform(area, _other_side)
            cells = self.stock.near(*other.bounds)
            text = "beyond the axis the tool runs into the opposite side of the jaws"
            met = self.stock.met(other, cells) if cells.size else []
            if met and self._refuse_if_wide(met, step, "holder_in_metal", text):
                return

    def _keep_clear(self, step: Step) -> None:
        areas = [self.cutter.covered(step.piece, COARSE_MM), *self.holder.covered(step.piece)]
        for name, shape in self.keep_out:
            for area in areas:
                if shape.intersects(area):
                    met = shape.intersection(area)
                    if met.area > TOLERANCE_MM**2:
                        kind = "a rapid" if step.rapid else "a feed move"
                        self._report_at(met, step, "keep_out", f"{kind} runs into {name}")
                        break

    def _measure_depth(self, step: Step, met: list[BaseGeometry]) -> None:
        """How far the deepest metal taken lay below the surface that was there."""
        bounds = shapely.total_bounds(np.array(met))
        across = hypot(bounds[2] - bounds[0], bounds[3] - bounds[1])
        strict = min(self.depth, self.finish_depth) if step.makes_line else self.depth
        if across <= strict or max(m.area for m in met) < 1e-6:
            return
        points = np.vstack([shapely.get_coordinates(m) for m in met])
        look = self.depth + LOOK_MM
        box = shapely.box(bounds[0] - look, bounds[1] - look, bounds[2] + look, bounds[3] + look)
        air = box.difference(self.stock.around(box))
        if air.is_empty:
            deep = np.full(len(points), look)
        else:
            shapely.prepare(air)
            deep = np.minimum(shapely.distance(air, shapely.points(points)), look)
        self.deepest = max(self.deepest, float(deep.max()))
        self._judge_depth(step, points, deep)

    def _judge_depth(self, step: Step, points: Floats, deep: Floats) -> None:
        limits = np.full(len(points), self.depth)
        if step.makes_line:
            limits = np.where(self._hidden(points), self.depth, min(self.finish_depth, self.depth))
        over = deep - limits
        worst = int(np.argmax(over))
        if over[worst] > DEPTH_SLACK_MM:
            least = "at least " if deep[worst] >= self.depth + LOOK_MM - 1e-9 else ""
            what = "the finishing cut" if step.makes_line and limits[worst] < self.depth else "the cut"
            self._say(
                "depth",
                f"{what} is {least}{deep[worst]:.3f} mm deep, allowed are {limits[worst]:.3f} mm",
                step,
                (float(points[worst, 0]), float(points[worst, 1])),
                float(deep[worst]),
                float(limits[worst]),
            )

    def _hidden(self, points: Floats) -> NDArray[np.bool_]:
        """Whether points lie in or beside an undercut: reliefs are opened there, and rough cuts leave wide rounds."""
        if not self.undercut.length:
            return np.zeros(len(points), dtype=bool)
        beside = self.job.tool.nose_radius + 2 * self.job.cutting.finish_allowance + FINISH_SLACK_MM
        return np.asarray(shapely.dwithin(shapely.points(points), self.undercut, beside))

    # reporting

    def _near_keep_outs(self, low: Floats, high: Floats) -> NDArray[np.bool_]:
        found = np.zeros(len(low), dtype=bool)
        for _, shape in self.keep_out:
            x, z, u, w = shape.bounds
            found |= (low[:, 0] <= u) & (high[:, 0] >= x) & (low[:, 1] <= w) & (high[:, 1] >= z)
        return found

    def _refuse_if_wide(self, met: list[BaseGeometry], step: Step, code: str, text: str) -> bool:
        for part in met:
            if part.area > TOLERANCE_MM**2 and part.buffer(-TOLERANCE_MM / 2).area > 0:
                self._report_at(part, step, code, text)
                return True
        return False

    def _report_at(self, met: BaseGeometry, step: Step, code: str, text: str) -> None:
        spot = met.representative_point()
        self._say(code, text, step, (float(spot.x), float(spot.y)))

    def _say(
        self,
        code: str,
        text: str,
        step: Step,
        at: tuple[float, float],
        value: float | None = None,
        limit: float | None = None,
    ) -> None:
        place = (self.side * at[0], at[1])
        message = f"{text}, at x {place[0]:.3f}, z {place[1]:.3f}"
        self.report(Finding(code, message, step.line, value, limit, place))


def _undercut(line: list[Point], least: float) -> BaseGeometry:
    """The pieces of the line that lie in an undercut, as one."""
    hidden = in_undercut(line, least)
    pieces = zip(line, line[1:], hidden, strict=False)
    return shapely.MultiLineString([[a, b] for a, b, out_of_sight in pieces if out_of_sight])


def _other_side(points: Floats) -> Floats:
    return np.asarray(points * np.array([-1.0, 1.0]))
