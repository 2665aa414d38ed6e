"""The groove in the jaw faces that takes a boring ring: plunged by a blade, in a program of its own.

It is cut before the ring is there, with the jaws on a piece of stock at the stroke that the ring will set.  The blade
goes down along z alone, one plunge beside the other, last at the two walls.  The proof reads the text as ``read`` does,
holds it to the same ``rules``, and cuts the metal with the blade, its body and its holder.  Core units, as in ``job``.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, pi
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.errors import GeometryError
from heldtrue.program.dialect import Dialect, load_dialect
from heldtrue.program.front import Program, proved_by
from heldtrue.program.geometry import Floats, Line, chord_angle
from heldtrue.program.job import BoringJob, BoringTool, Point
from heldtrue.program.path import PARK_MM, Move, ToolPath
from heldtrue.program.proof import TOLERANCE_MM, CornerLeft, Finding, Proof
from heldtrue.program.prove import RAPID_MM_PER_MIN, outline_of, tolerance, unreadable, worst_of
from heldtrue.program.read import Reading, ReadMove, UnreadableProgram, read_program
from heldtrue.program.rules import Rules, clear_height
from heldtrue.program.sound import refuse_unsound
from heldtrue.program.sweep import FINE_MM, along_lines
from heldtrue.program.write import write_program
from heldtrue.sentences import sentence

WALL_MM = 0.2
"""Left on each wall for the last plunges: common practice, no source."""
OVERLAP_MM = 0.1
"""Plunges overlap by this between the rounds of the corners."""
REACH_ROOM_MM = 0.5
"""The holder stays at least this far before the jaw fronts."""
OUTSIDE_MM = 0.02
"""Metal this near beside the outer edge of a plunge bends round the blade: there its diameter must fit."""
HOLDER_MM = 60.0
"""How far the holder is drawn beyond the blade, across and along: nothing of the jaws may come near it."""
MOST_FINDINGS = 20


@dataclass(frozen=True)
class GrooveTool:
    """A blade for grooves in a face. [mm]

    The programmed tip is its corner next to the axis (position 3); ``corner``: radius of both corners; ``reach``: how
    deep the blade goes before the holder; ``diameters``: least and greatest of the outer edge in the full metal.
    """

    number: int
    name: str
    width: float
    corner: float
    reach: float
    diameters: tuple[float, float]
    offset: int | None = None

    def as_bar(self) -> BoringTool:
        """The same for what asks a tool for its number, its tip and how far it hangs: blade and holder as outline."""
        r, w, up, wide = self.corner, self.width, self.reach - self.corner, HOLDER_MM
        outline = ((-r, -r), (w - r, -r), (w - r, up), (wide, up), (wide, up + wide), (-wide, up + wide), (-wide, up),
                   (-r, up))  # fmt: skip
        return BoringTool(self.number, self.name, r, 3, 90.0, outline, self.offset, edge_length=w)


@dataclass(frozen=True)
class GrooveJob:
    """One program's work: ``job`` with metal, what must not be touched, cutting and limits; ``walls``: radii of the
    groove, inner and outer; ``depth`` behind the jaw fronts. [mm]"""

    job: BoringJob
    tool: GrooveTool
    walls: tuple[float, float]
    depth: float


def problems_of(work: GrooveJob) -> list[str]:
    """Why this blade cannot turn this groove, one plain sentence each; nothing where it can."""
    tool, (near, far) = work.tool, work.walls
    least, greatest = tool.diameters
    found: list[str] = []
    if not (tool.width > 0 and 0 < tool.corner < tool.width / 2):
        found.append(
            sentence(
                "corners of {:g mm} on a blade {:g mm} wide: above 0 and below half of it", tool.corner, tool.width
            )
        )
    elif tool.width - 2 * tool.corner - OVERLAP_MM < OVERLAP_MM:
        found.append(
            sentence("a blade {:g mm} wide with corners of {:g mm} leaves no flat floor", tool.width, tool.corner)
        )
    if tool.width > far - near:
        found.append(sentence("the blade is {:g mm} wide, the groove {:.3f mm}", tool.width, far - near))
    if tool.reach < work.depth + REACH_ROOM_MM:
        found.append(
            sentence(
                "the blade reaches {:g mm} deep; the groove needs {:.3f mm}", tool.reach, work.depth + REACH_ROOM_MM
            )
        )
    if not least <= 2 * (far - WALL_MM) or not 2 * far <= greatest:
        found.append(
            sentence(
                "the blade plunges into Ø{:g [mm]} to Ø{:g [mm]}; the groove begins at its outer wall, Ø{:.3f [mm]}",
                least,
                greatest,
                2 * far,
            )
        )
    if near - WALL_MM < 0:
        found.append("the groove reaches to the axis")
    return found


def groove_path(work: GrooveJob) -> ToolPath:
    """The plunges, from the outer wall inwards, then one at each wall; x and z of the tip.

    Raises: ``GeometryError`` where the blade does not do.
    """
    refuse_unsound(work.job)
    wrong = problems_of(work)
    if wrong:
        raise GeometryError("; ".join(wrong))
    job, tool, (near, far) = work.job, work.tool, work.walls
    step = tool.width - 2 * tool.corner - OVERLAP_MM
    left = WALL_MM if far - near > tool.width + 2 * WALL_MM else (far - near - tool.width) / 2
    first, last = far - left - tool.width, near + left
    count = ceil((first - last) / step - 1e-9)
    rough = [first - (first - last) * i / count for i in range(count + 1)] if count else [first]
    places = [*rough, *((far - tool.width, near) if left > 1e-6 else ())]
    safe, park = job.clearance, clear_height(job) + PARK_MM
    park = min(park, job.limits.z[1])
    if park < clear_height(job):
        raise GeometryError(f"the travel in z ends at {job.limits.z[1]:g}: before the jaws the blade needs more")
    moves: list[Move] = []
    at = (places[0], park)

    def go(to: Point, feed: float | None) -> None:
        nonlocal at
        moves.append(Move(Line(at, to), feed, "groove"))
        at = to

    for x in places:
        if at[0] != x:
            go((x, at[1]), None)
        go((x, safe), None)
        go((x, -work.depth), job.cutting.finish_feed)
        go((x, safe), job.cutting.rough_feed)  # by a feed: a rapid along a wall may run into it
    go((at[0], park), None)
    return ToolPath(tuple(moves), {"groove": len(places)})


def groove_program(work: GrooveJob, template: Dialect | str | Path | None = None) -> Program:
    """The proved program of a groove. Raises: as ``front.program``, and writes nothing then."""
    dialect = template if isinstance(template, Dialect) else load_dialect(template)
    path = groove_path(work)
    text = write_program(work.job, path, dialect)
    return proved_by(lambda: prove_groove(text, work, dialect), text, path, dialect)


def prove_groove(text: str, work: GrooveJob, dialect: Dialect | None = None) -> Proof:
    """Read ``text``, cut the jaws with the blade, and say whether exactly the groove is gone."""
    refuse_unsound(work.job)
    dialect = load_dialect() if dialect is None else dialect
    try:
        reading = read_program(text, dialect)
    except UnreadableProgram as error:
        return unreadable(error)
    return _Prover(work, reading, len(text.splitlines()), dialect).proof()


class _Prover:
    def __init__(self, work: GrooveJob, reading: Reading, lines: int, dialect: Dialect) -> None:
        self.work, self.job, self.reading, self.lines = work, work.job, reading, lines
        self.findings: list[Finding] = []
        self.rules = Rules(work.job, reading, dialect, self._keep)
        self.tolerance = tolerance(dialect)
        tool = work.tool
        self.blade = _blade(tool)
        r, up = tool.corner, tool.reach
        low, high, top = -HOLDER_MM, HOLDER_MM + tool.width, up + HOLDER_MM
        self.holder = np.array([(low, up), (high, up), (high, top), (low, top)])
        (near, far), deep = work.walls, work.depth
        metal = shapely.Polygon(work.job.metal)
        self.must = metal.difference(shapely.box(near, -deep, far, BIG_MM))
        rounds = [_round((near, -deep), 1, r), _round((far, -deep), -1, r)]
        self.may = shapely.union_all([self.must, *(one.intersection(metal) for one in rounds)])
        left = r * (2**0.5 - 1)
        self.corners = tuple(CornerLeft((x, -deep), r, left) for x in (near, far))
        self.keep_out = [(one.name, shapely.Polygon(one.outline)) for one in work.job.keep_out]

    def proof(self) -> Proof:
        """Everything checked."""
        metal, deepest = shapely.Polygon(self.job.metal), 0.0
        if len(self.reading.moves) < 2:
            self._keep(Finding("start", "the program has no moves"))
        self.rules.check()
        lines = [m.piece if isinstance(m.piece, Line) else Line(m.piece.start, m.piece.end) for m in self.reading.moves]
        blades = along_lines(self.blade, lines) if lines else []
        holders = along_lines(self.holder, lines) if lines else []
        for move, line, blade, holder in zip(self.reading.moves, lines, blades, holders, strict=True):
            if not isinstance(move.piece, Line):
                self._wrong("depth", "a groove is cut along z alone, here is an arc", move)
            self._keeps_clear(move, metal, blade, holder)
            met = blade.intersection(metal)
            if not _wide(met):
                continue
            down = not move.rapid and line.start[0] == line.end[0] and line.end[1] < line.start[1]
            if move.rapid:
                self._wrong("rapid_in_metal", "a rapid goes through metal", move, met)
            elif not down:
                self._wrong("depth", "the blade cuts sideways or on its way out", move, met)
            else:
                self._fits(move, line, metal)
                deepest = max(deepest, float(met.bounds[3] - met.bounds[1]))
            if not move.rapid:
                metal = metal.difference(blade)
        return self._result(metal, deepest)

    def _keeps_clear(self, move: ReadMove, metal: BaseGeometry, blade: BaseGeometry, holder: BaseGeometry) -> None:
        if _wide(holder.intersection(metal)):
            self._wrong("holder_in_metal", "the holder runs into metal", move, holder.intersection(metal))
        for name, shape in self.keep_out:
            if any(_wide(one.intersection(shape)) for one in (blade, holder)):
                self._wrong("keep_out", f"{'a rapid' if move.rapid else 'a feed move'} runs into {name}", move)
        if blade.bounds[0] < 0 and _wide(blade.intersection(shapely.box(*_ALL_BUT_Z, self.job.clearance))):
            self._wrong("holder_in_metal", "beyond the axis the blade runs into the opposite side of the jaws", move)
        if move.rapid:  # a wear offset would make it cut
            wall = shapely.LineString([(self.work.walls[1], -BIG_MM), (self.work.walls[1], 0.0)])
            near = shapely.LineString([(self.work.walls[0], -BIG_MM), (self.work.walls[0], 0.0)])
            if blade.bounds[1] < -TOLERANCE_MM and min(blade.distance(wall), blade.distance(near)) < OUTSIDE_MM:
                self._wrong("rapid_in_metal", "a rapid runs along a wall of the groove", move)

    def _fits(self, move: ReadMove, line: Line, metal: BaseGeometry) -> None:
        """Where metal stands beside the outer edge of the plunge it bends round the blade."""
        tool = self.work.tool
        outer = line.end[0] + tool.width
        beside = shapely.box(outer, line.end[1] + tool.corner, outer + OUTSIDE_MM, BIG_MM)
        least, greatest = tool.diameters
        if beside.intersection(metal).area > 1e-6 and not least - 1e-6 <= 2 * outer <= greatest + 1e-6:
            text = sentence(
                "the blade plunges at Ø{:.3f} in full metal; it is made for Ø{:g [mm]} to Ø{:g [mm]}",
                2 * outer,
                least,
                greatest,
            )
            self._wrong("holder_in_metal", text, move)

    def _result(self, metal: BaseGeometry, deepest: float) -> Proof:
        left, left_at = worst_of(metal.difference(self.may), self.may, self.tolerance)
        gone = self.must.difference(metal)
        deep, deep_at = worst_of(gone, self.must.boundary, self.tolerance)
        for code, value, at, words in (("left_over", left, left_at, "of metal is left over"),
                                       ("gouge", deep, deep_at, "is cut too deep")):  # fmt: skip
            if value > self.tolerance:
                where = "" if at is None else sentence(" at x {:.3f [mm]}, z {:.3f [mm]}", at[0], at[1])
                self._keep(
                    Finding(code, sentence("{:.4f mm} {}{}", value, words, where), None, value, self.tolerance, at)
                )
        rapid = sum(m.piece.length for m in self.reading.moves if m.rapid) / RAPID_MM_PER_MIN
        return Proof(
            not self.findings, tuple(sorted(self.findings, key=lambda f: f.line or 10**9)), outline_of(metal, 1),
            deep, deep_at, left, left_at, deepest, self.corners, self.rules.top_speed, self.rules.minutes, rapid,
            len(self.reading.moves), self.lines, self.tolerance,
        )  # fmt: skip

    def _keep(self, finding: Finding) -> None:
        if len(self.findings) < MOST_FINDINGS:
            self.findings.append(finding)

    def _wrong(self, code: str, text: str, move: ReadMove, met: BaseGeometry | None = None) -> None:
        spot = None if met is None else met.representative_point()
        at = move.piece.end if spot is None else (float(spot.x), float(spot.y))
        self._keep(Finding(code, sentence("{}, at x {:.3f [mm]}, z {:.3f [mm]}", text, at[0], at[1]), move.line, at=at))


BIG_MM = 1000.0
_ALL_BUT_Z = (-BIG_MM, -BIG_MM, 0.0)


def _blade(tool: GrooveTool) -> Floats:
    """Outline of the blade about its programmed tip, counter-clockwise: chords of its corners lie inside them."""
    r, w = tool.corner, tool.width
    count = 2 * ceil(pi / 2 / chord_angle(r, FINE_MM) / 2)
    turn = pi / 2 * np.arange(count + 1) / count
    near = np.stack([r - r * np.cos(turn), r - r * np.sin(turn)], axis=1)
    far = np.stack([w - r + r * np.sin(turn), r - r * np.cos(turn)], axis=1)
    return np.vstack([near, far, [(w, tool.reach), (0.0, tool.reach)]])


def _round(corner: Point, inward: int, r: float) -> BaseGeometry:
    """What a round corner of the blade leaves in a corner of the groove."""
    x, z = corner
    square = shapely.box(min(x, x + inward * r), z, max(x, x + inward * r), z + r)
    turn = 2 * pi * np.arange(256) / 256
    circle = np.stack([x + inward * r + r * np.cos(turn), z + r + r * np.sin(turn)], axis=1)
    return square.difference(shapely.Polygon(circle))


def _wide(met: BaseGeometry) -> bool:
    """Is it more than rounding?"""
    return bool(met.area > TOLERANCE_MM**2 and met.buffer(-TOLERANCE_MM / 2).area > 0)
