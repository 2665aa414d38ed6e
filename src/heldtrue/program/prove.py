"""Proves a finished program text: reads it back, cuts the metal with it, compares with the shape asked for.

The proof knows the text, the words of the control and the job, never the path that the text was made from.  How far
the nose circle goes into the metal that must stay is an exact distance between lines and arcs; what is left over comes
from the cut area, whose arcs are within 0.05 um. [mm, rev/min]
"""

from __future__ import annotations

import itertools

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from heldtrue.program.dialect import Dialect, load_dialect
from heldtrue.program.geometry import Arc, Floats, Line, arc_gaps, line_gaps
from heldtrue.program.job import BoringJob, Point
from heldtrue.program.nose import tip_offset
from heldtrue.program.proof import TOLERANCE_MM, CornerLeft, Finding, Proof
from heldtrue.program.read import Reading, UnreadableProgram, read_program
from heldtrue.program.rules import Rules
from heldtrue.program.simulate import Simulation, Step
from heldtrue.program.sound import refuse_unsound
from heldtrue.program.sweep import FINE_MM, Cutter, reach
from heldtrue.program.target import cut_side, finished_area, in_undercut, metal_area, mirrored, undercut_depth
from heldtrue.sentences import sentence

RAPID_MM_PER_MIN = 8000.0
"""For the running time alone: common practice, no source."""
MOST_FINDINGS_A_CODE = 5
MAKES_LINE_MM = 0.002
"""A move whose nose comes this close to the finished line makes it."""
OFF_THE_LINE_MM = 0.02
"""Rapids keep off the finished line by this, but where they leave it."""
LEAVES_WITHIN_MM = 0.1
"""A rapid that starts on the finished line is off it after so much of its way."""
MADE_BY_FACING_MM = 0.02
"""So much of the finished line next to the jaw fronts is no more than a corner of them."""
LEFT_SHARE = 0.7
"""At the stop to measure at least this share of what is to be left there is still on the walls."""
CLEAR_OF_ENDS_MM = 1.0
"""Walls are measured so far from their ends, where relief and mouth begin."""
ROUGH_OUTLINE_MM = 2e-4
SPECK_MM2 = 1e-12
"""A smaller area is rounding."""
LOOK_EACH_MM = 0.02
"""How close points are looked at along the edges of what is too much, to say how much."""
_BATCH = 4096


def prove(text: str, job: BoringJob, dialect: Dialect | None = None) -> Proof:
    """Read ``text``, cut the job's metal with it, and say whether exactly the finished shape is left."""
    refuse_unsound(job)
    dialect = load_dialect() if dialect is None else dialect
    try:
        reading = read_program(text, dialect)
    except UnreadableProgram as error:
        return unreadable(error)
    return _Prover(job, reading, len(text.splitlines()), dialect).proof()


def unreadable(error: UnreadableProgram) -> Proof:
    """The proof of a text that could not be read."""
    return Proof(False, tuple(Finding("unreadable", words, line) for line, words in error.lines))


def tolerance(dialect: Dialect) -> float:
    """How far the shape may be off: 1 um, and with steps coarser than that also what their rounding makes. [mm]"""
    return TOLERANCE_MM + (dialect.numbers.rounding if dialect.numbers.coarse else 0.0)


class _Prover:
    def __init__(self, job: BoringJob, reading: Reading, lines: int, dialect: Dialect) -> None:
        self.job, self.reading, self.lines, self.dialect = job, reading, lines, dialect
        self.side = cut_side(job)
        self.findings: list[Finding] = []
        self.counts: dict[str, int] = {}
        self.rules = Rules(job, reading, dialect, self.report)
        self.tolerance = tolerance(dialect)
        self.makes_line = max(MAKES_LINE_MM, 2 * self.tolerance)
        self.must, self.may, rounds = finished_area(job, FINE_MM)
        self.corners = tuple(
            CornerLeft((self.side * c.at[0], c.at[1]), job.tool.nose_radius, c.left) for c in rounds if c.left > 1e-3
        )

    def proof(self) -> Proof:
        """Everything checked."""
        if len(self.reading.moves) < 2:
            self.report(Finding("start", "the program has no moves"))
            return self._result(metal_area(self.job, self.side), (0.0, None), (0.0, None), 0.0)
        self.rules.check()
        steps = self._steps()
        makes_size = self._makes_size(steps)
        self.rules.finish([s.makes_line for s in steps], makes_size)
        self._left_to_measure(steps, makes_size)
        self._rapids_on_the_line(steps)
        gouge, gouge_at = self._gouges(steps)
        simulation = Simulation(self.job, metal_area(self.job, self.side), len(steps), self.report)
        simulation.run(steps)
        left = simulation.stock.whole()
        left_over, left_at = worst_of(left.difference(self.may), self.may, self.tolerance)
        gone = self.must.difference(left)
        deep, deep_at = worst_of(gone, self.must.boundary, self.tolerance)
        if left_over > self.tolerance:
            self._shape("left_over", sentence("{:.4f mm} of metal is left over", left_over), left_over, left_at)
        if deep > self.tolerance and "gouge" not in self.counts:
            self._shape(
                "gouge", sentence("the cut goes {:.4f mm} too deep", deep), deep, deep_at, self._blame(gone, steps)
            )
        if deep > gouge:
            gouge, gouge_at = deep, deep_at
        return self._result(left, (gouge, gouge_at), (left_over, left_at), simulation.deepest)

    def report(self, finding: Finding) -> None:
        """Keep a finding; of many alike only the first few."""
        self.counts[finding.code] = self.counts.get(finding.code, 0) + 1
        if self.counts[finding.code] <= MOST_FINDINGS_A_CODE:
            self.findings.append(finding)

    # shape

    def _steps(self) -> list[Step]:
        """The nose centre's moves, x in the cutting direction, with those marked that make the finished line."""
        x, z = tip_offset(self.job.tool)
        pieces = []
        for move in self.reading.moves:
            centre = move.piece.moved((-x, -z))
            pieces.append(centre if self.side > 0 else centre.mirrored())
        line = np.array(self._line())
        gaps = _gaps(pieces, line[:-1], line[1:])
        radius = self.job.tool.nose_radius
        near = gaps < radius + self.makes_line
        return [
            Step(move.line, move.rapid, piece, bool(makes) and not move.rapid)
            for move, piece, makes in zip(self.reading.moves, pieces, near, strict=True)
        ]

    def _line(self) -> list[Point]:
        """The finished line, x in the cutting direction; of faced jaws without its very start, which facing makes."""
        line = mirrored(self.job.finished, self.side)
        if self.job.face_off > 0:
            start = Line(line[0], line[1])
            line[0] = start.at(min(0.5, MADE_BY_FACING_MM / start.length))
        return line

    def _rapids_on_the_line(self, steps: list[Step]) -> None:
        """A rapid may leave the finished line, but not run to it or along it: a wear offset would make it cut."""
        rapid = [s for s in steps if s.rapid and s.piece.length > 0]
        if not rapid:
            return
        line = np.array(mirrored(self.job.finished, self.side))
        least = self.job.tool.nose_radius + min(OFF_THE_LINE_MM, self.job.clearance / 4)
        gaps = _gaps(
            [s.piece.part(min(0.5, LEAVES_WITHIN_MM / s.piece.length), 1.0) for s in rapid], line[:-1], line[1:]
        )
        for i in np.flatnonzero(gaps < least):
            text = "a rapid runs to the finished line or along it"
            self.report(Finding("rapid_in_metal", text, rapid[i].line, float(gaps[i]) - self.job.tool.nose_radius))

    def _makes_size(self, steps: list[Step]) -> list[bool]:
        """Which moves make the line where it can be seen and measured, not in an undercut alone."""
        line = self._line()
        seen = [not hidden for hidden in in_undercut(line, undercut_depth(self.job))]
        starts, ends = np.array(line[:-1])[seen], np.array(line[1:])[seen]
        found = [False] * len(steps)
        made = [i for i, step in enumerate(steps) if step.makes_line]
        if made and len(starts):
            for i, gap in zip(made, _gaps([steps[i].piece for i in made], starts, ends), strict=True):
                found[i] = bool(gap < self.job.tool.nose_radius + self.makes_line)
        return found

    def _left_to_measure(self, steps: list[Step], makes_size: list[bool]) -> None:
        """What is measured at the stop must be what is said there: no cut before it comes nearer to a wall."""
        ahead = LEFT_SHARE * self.job.cutting.semi_allowance
        first = next((i for i, makes in enumerate(makes_size) if makes), 0)
        before = [step for step in steps[:first] if not step.rapid and step.line < steps[first].line]
        walls = self._walls()
        if ahead <= 0 or not before or not walls:
            return
        starts, ends = (np.array(points) for points in zip(*walls, strict=True))
        left = _gaps([step.piece for step in before], starts, ends) - self.job.tool.nose_radius
        for i in np.flatnonzero(left < ahead - self.tolerance)[:1]:
            planned = self.job.cutting.semi_allowance
            text = sentence("{:.3f mm} is left on a wall to measure, planned are {:g mm}", left[i], planned)
            self.report(Finding("stop", text, before[i].line, float(left[i]), ahead))

    def _walls(self) -> list[tuple[Point, Point]]:
        """The walls of the finished line where they can be measured, clear of their ends."""
        line, found = self._line(), []
        off = self.job.tool.nose_radius + CLEAR_OF_ENDS_MM
        hidden = in_undercut(line, undercut_depth(self.job))
        for (start, end), out_of_sight in zip(itertools.pairwise(line), hidden, strict=True):
            along = Line(start, end)
            steep = abs(end[1] - start[1]) > abs(end[0] - start[0])
            if steep and not out_of_sight and along.length > 2 * off + CLEAR_OF_ENDS_MM:
                found.append((along.at(off / along.length), along.at(1 - off / along.length)))
        return found

    def _gouges(self, steps: list[Step]) -> tuple[float, Point | None]:
        """The deepest the nose circle of any feed move goes into metal that must stay, exactly."""
        starts, ends = _edges(self.must)
        pieces = [s.piece for s in steps]
        gaps = _gaps(pieces, starts, ends)
        probes = [np.array([p.at(share) for p in pieces]) for share in (0.0, 0.5, 1.0)]
        inside = np.any([shapely.contains_xy(self.must, p) for p in probes], axis=0)
        depths = self.job.tool.nose_radius + np.where(inside, gaps, -gaps)
        depths[[s.rapid for s in steps]] = 0.0
        for i in np.flatnonzero(depths > self.tolerance):
            at = _closest(pieces[i], starts, ends)
            text = sentence("the nose cuts {:.4f mm} into metal that must stay", depths[i])
            self._shape("gouge", text, float(depths[i]), at, steps[i].line)
        worst = int(np.argmax(depths))
        if depths[worst] <= 0:
            return 0.0, None
        at = _closest(pieces[worst], starts, ends)
        return float(depths[worst]), (self.side * at[0], at[1])

    def _blame(self, gone: BaseGeometry, steps: list[Step]) -> int | None:
        """The first feed move whose nose or edge covers what is gone."""
        core, cutter = gone.buffer(-self.tolerance / 4), Cutter(self.job.tool, self.side)
        for step in steps:
            if not step.rapid:
                low_x, low_z, high_x, high_z = reach(step.piece)
                (a, b), (c, d) = cutter.low, cutter.high
                box = shapely.box(low_x + a, low_z + b, high_x + c, high_z + d)
                if box.intersects(core) and cutter.covered(step.piece, FINE_MM).intersects(core):
                    return step.line
        return None

    def _shape(self, code: str, text: str, value: float, at: Point | None, line: int | None = None) -> None:
        place = None if at is None else (self.side * at[0], at[1])
        where = "" if place is None else sentence(" at x {:.3f [mm]}, z {:.3f [mm]}", place[0], place[1])
        self.report(Finding(code, text + where, line, value, self.tolerance, place))

    def _result(
        self,
        left: BaseGeometry,
        gouge: tuple[float, Point | None],
        left_over: tuple[float, Point | None],
        deepest: float,
    ) -> Proof:
        over_at = left_over[1]
        return Proof(
            not self.findings,
            tuple(sorted(self.findings, key=lambda f: f.line or 10**9)),
            outline_of(left, self.side),
            *gouge,
            left_over[0],
            None if over_at is None else (self.side * over_at[0], over_at[1]),
            deepest,
            self.corners,
            self.rules.top_speed,
            self.rules.minutes,
            sum(m.piece.length for m in self.reading.moves if m.rapid) / RAPID_MM_PER_MIN,
            len(self.reading.moves),
            self.lines,
            self.tolerance,
            any(event.what == "probe" for event in self.reading.events),
        )


def _gaps(pieces: list[Line | Arc], starts: Floats, ends: Floats) -> Floats:
    """The least distance of each piece from a set of lines."""
    found = np.empty(len(pieces))
    straight = [i for i, p in enumerate(pieces) if isinstance(p, Line)]
    for first in range(0, len(straight), _BATCH):
        some = straight[first : first + _BATCH]
        a, b = np.array([pieces[i].start for i in some]), np.array([pieces[i].end for i in some])
        found[some] = line_gaps(a, b, starts, ends).min(axis=1)
    for i, piece in enumerate(pieces):
        if isinstance(piece, Arc):
            found[i] = arc_gaps(piece, starts, ends).min()
    return found


def _edges(area: BaseGeometry) -> tuple[Floats, Floats]:
    """All straight edges of an area, as starts and ends."""
    rings = [shapely.get_coordinates(r) for r in shapely.get_rings(shapely.get_parts(area))]
    return np.vstack([r[:-1] for r in rings]), np.vstack([r[1:] for r in rings])


def _closest(piece: Line | Arc, starts: Floats, ends: Floats) -> Point:
    """About where a piece comes closest to the lines."""
    points = np.array([piece.at(s) for s in np.linspace(0, 1, 65)])
    lines = shapely.multilinestrings([[a, b] for a, b in zip(starts, ends, strict=True)])
    nearest = shapely.shortest_line(shapely.points(points), lines)
    best = nearest[int(np.argmin(shapely.length(nearest)))]
    x, z = shapely.get_coordinates(best)[-1]
    return float(x), float(z)


def worst_of(area: BaseGeometry, beside: BaseGeometry, allowed: float) -> tuple[float, Point | None]:
    """How far ``area`` reaches from ``beside``, and where: over ``allowed`` if any point does, on an edge too."""
    if area.is_empty or area.area == 0:
        return 0.0, None
    far, at = _farthest(area, beside)
    if far <= allowed:  # corners alone say nothing: a slot left full has all of its own on the metal beside it
        beyond = area.difference(beside.buffer(allowed, quad_segs=32))
        if beyond.area > SPECK_MM2:
            far, at = _farthest(shapely.segmentize(beyond, LOOK_EACH_MM), beside)
    return far, at


def _farthest(area: BaseGeometry, beside: BaseGeometry) -> tuple[float, Point]:
    points: NDArray[np.float64] = shapely.get_coordinates(area)
    far = shapely.distance(shapely.points(points), beside)
    worst = int(np.argmax(far))
    return float(far[worst]), (float(points[worst, 0]), float(points[worst, 1]))


def outline_of(area: BaseGeometry, side: int) -> tuple[tuple[Point, ...], ...]:
    """The loops round an area as points (x, z), x mirrored where ``side`` is -1."""
    rings = shapely.get_rings(shapely.get_parts(shapely.simplify(area, ROUGH_OUTLINE_MM)))
    return tuple(tuple((float(side * x), float(z)) for x, z in shapely.get_coordinates(r)) for r in rings)
