"""How deep a pass cuts: measured from the surface as it was before the pass, however many moves the pass is cut into.

A pass is every feed move until a rapid leaves the blank behind.  What lies deeper than allowed is the metal before
the pass, eroded by the allowed depth: exact but for chords within 0.5 um.  x runs in the cutting direction. [mm]
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.program.geometry import Floats
from heldtrue.program.job import FINISH_SHARE, FINISH_SLACK_MM, BoringJob
from heldtrue.program.proof import TOLERANCE_MM
from heldtrue.program.stock import Stock
from heldtrue.program.target import cut_side, in_undercut, mirrored, undercut_depth

SEMI_SLACK_MM = 0.02
"""As ``FINISH_SLACK_MM``, where a pass along the whole line went before: it leaves no steps."""
DEPTH_SLACK_MM = 0.01
LOOK_MM = 0.2
"""How far beyond the allowed depth of cut is looked."""
CRACK_MM = 1e-6
"""Cracks between cells are closed by this before anything is called air."""
_QUARTER = 48


@dataclass(frozen=True)
class TooDeep:
    """The deepest point of a move that goes too deep: where, how deep, what is allowed, whether more was looked for."""

    at: tuple[float, float]
    depth: float
    allowed: float
    finishing: bool
    at_least: bool


class Depths:
    """What passes may take, and what they take, of one job's metal."""

    def __init__(self, job: BoringJob, stock: Stock) -> None:
        cutting, line = job.cutting, mirrored(job.finished, cut_side(job))
        self.stock, self.deepest = stock, 0.0
        self.rough = max(cutting.pass_depth, 0.0)
        finish = FINISH_SHARE * cutting.finish_allowance + FINISH_SLACK_MM
        if cutting.semi_allowance > 0:
            finish = FINISH_SHARE * cutting.semi_allowance + SEMI_SLACK_MM
        self.finish = self.rough if cutting.finish_allowance < FINISH_SLACK_MM / 2 else min(finish, self.rough)
        beside = job.tool.nose_radius + 2 * cutting.finish_allowance + FINISH_SLACK_MM
        self.hidden = _undercut(line, undercut_depth(job)).buffer(beside)  # reliefs are opened there at full depth
        self._box: BaseGeometry | None = None

    def begin(self, low: Floats, high: Floats) -> None:
        """A new pass, whose nose and edge stay within a box; nothing of it may be cut yet."""
        self._end()
        look = self.rough + LOOK_MM
        self._box = shapely.box(low[0] - look, low[1] - look, high[0] + look, high[1] + look)
        self._metal = self.stock.around(self._box).buffer(CRACK_MM)
        self._deep, self._finish_deep = self._eroded(self.rough), None
        self._cut = False

    def done(self) -> None:
        """After the last pass."""
        self._end()
        self._box = None

    def judge(self, area: BaseGeometry, makes_line: bool) -> TooDeep | None:
        """Whether a move of the pass takes what lies too deep; ``area``: what it passes over."""
        self._cut = True
        found = self._too_deep(area, self._deep, self.rough, False)
        if found is None and makes_line and self.finish < self.rough:
            if self._finish_deep is None:
                self._finish_deep = self._eroded(self.finish).difference(self.hidden)
                shapely.prepare(self._finish_deep)
            found = self._too_deep(area, self._finish_deep, self.finish, True)
        return found

    def _eroded(self, depth: float) -> BaseGeometry:
        found = self._metal.buffer(-depth - DEPTH_SLACK_MM - CRACK_MM, quad_segs=_QUARTER)
        shapely.prepare(found)
        return found

    def _too_deep(self, area: BaseGeometry, deep: BaseGeometry, allowed: float, finishing: bool) -> TooDeep | None:
        if deep.is_empty or not shapely.intersects(deep, area):
            return None
        bad = shapely.intersection(deep, area)
        if bad.area <= TOLERANCE_MM**2:
            return None
        points, depths = self._depths(bad)
        worst = int(np.argmax(depths))
        at = (float(points[worst, 0]), float(points[worst, 1]))
        return TooDeep(at, float(depths[worst]), allowed, finishing, bool(depths[worst] >= self.rough + LOOK_MM - 1e-9))

    def _depths(self, area: BaseGeometry) -> tuple[Floats, Floats]:
        """Corners of an area and how far each lies from the air before the pass."""
        assert self._box is not None
        points, look = shapely.get_coordinates(area), self.rough + LOOK_MM
        air = self._box.difference(self._metal)
        if air.is_empty:
            return points, np.full(len(points), look)
        shapely.prepare(air)
        return points, np.minimum(shapely.distance(air, shapely.points(points)) + CRACK_MM, look)

    def _end(self) -> None:
        """Measure what the pass took."""
        if self._box is None or not self._cut:
            return
        taken = self._metal.difference(self.stock.around(self._box).buffer(CRACK_MM))
        if taken.area > TOLERANCE_MM**2:
            self.deepest = max(self.deepest, float(self._depths(taken)[1].max()))


def _undercut(line: list[tuple[float, float]], least: float) -> BaseGeometry:
    """The pieces of the line that lie in an undercut, as one."""
    hidden = in_undercut(line, least)
    pieces = zip(line, line[1:], hidden, strict=False)
    return shapely.MultiLineString([[a, b] for a, b, out_of_sight in pieces if out_of_sight])
