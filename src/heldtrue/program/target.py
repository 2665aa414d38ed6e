"""The shape a boring job shall leave: the finished line, its air side, and what a round nose cannot reach."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from math import atan2, ceil, cos, hypot, pi, sin, sqrt, tan

import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.errors import GeometryError
from heldtrue.program.geometry import chord_angle
from heldtrue.program.job import BoringJob, Point

BEYOND_MM = 1000.0
"""How far the air side is taken to reach."""
UNDERCUT_MM = 0.05
FLATTEST_RUN_IN = sin(pi / 18)
"""A run-in along the first line must rise at least 10 degrees towards +z; a flatter one starts straight down."""


def cut_side(job: BoringJob) -> int:
    """+1 where the tool cuts towards larger x (a bore, outside grip), -1 towards smaller x (inside grip)."""
    if job.grip not in ("outside", "inside"):
        raise GeometryError(f'grip is "outside" or "inside", not "{job.grip}"')
    return 1 if job.grip == "outside" else -1


def mirrored(points: tuple[Point, ...], side: int) -> list[Point]:
    """Points with x counted in the cutting direction: as they are for a bore, mirrored for an outer surface."""
    return [(side * x, z) for x, z in points]


@dataclass(frozen=True)
class Corner:
    """An inside corner of the finished line, and the centre and ends of the round a nose leaves in it. [mm, rad]"""

    at: Point
    centre: Point
    touches: tuple[Point, Point]
    left: float
    room: float


def normals(line: list[Point]) -> list[Point]:
    """Unit normals to the air side: to the right of the way for lines with x in the cutting direction."""
    found = []
    for (x, z), (u, w) in itertools.pairwise(line):
        length = hypot(u - x, w - z)
        if length < 1e-6:
            raise GeometryError(f"the finished line has two points at the same place, x {x:g}, z {z:g}")
        found.append(((w - z) / length, -(u - x) / length))
    return found


def turning(line: list[Point]) -> list[float]:
    """How far the line turns at each inner point [rad]: positive to the air, where metal makes an inside corner."""
    found = []
    for (x, z), (u, w), (p, q) in zip(line, line[1:], line[2:], strict=False):
        a, b, c, d = u - x, w - z, p - u, q - w
        found.append(-atan2(a * d - b * c, a * c + b * d))
    return found


def corners(line: list[Point], radius: float) -> list[Corner]:
    """Every inside corner with the round that a nose of ``radius`` leaves, and the largest radius with room there."""
    turns = [0.0, *turning(line), 0.0]
    tangents = [tan(min(t, pi - 1e-6) / 2) if t > 1e-9 else 0.0 for t in turns]
    lengths = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(line)]
    lengths[0] += BEYOND_MM if run_in(line) == _unit(line[1], line[0]) else 0.0
    lengths[-1] += BEYOND_MM
    found = []
    for i in range(1, len(line) - 1):
        if not tangents[i]:
            continue
        room = min(
            lengths[i - 1] / (tangents[i] + tangents[i - 1]),
            lengths[i] / (tangents[i] + tangents[i + 1]),
        )
        before, after, at = _unit(line[i], line[i - 1]), _unit(line[i], line[i + 1]), line[i]
        reach = radius * tangents[i]
        touches = (_along(at, before, reach), _along(at, after, reach))
        middle = (before[0] + after[0], before[1] + after[1])
        far = radius * sqrt(1 + tangents[i] ** 2)
        centre = _along(at, middle, far / max(hypot(*middle), 1e-12))
        found.append(Corner(at, centre, touches, far - radius, room))
    return found


def in_undercut(line: list[Point], least: float) -> list[bool]:
    """For each piece, whether it lies behind nearer ones as seen from the mouth, or below ones further inside."""
    xs, zs = [x for x, _ in line], [z for _, z in line]
    behind = [x > min(xs[: i + 1]) + least or z < max(zs[i:]) - least for i, (x, z) in enumerate(line)]
    return [a or b for a, b in itertools.pairwise(behind)]


def undercut_depth(job: BoringJob) -> float:
    """What lies behind the rest of the line by less is no undercut but a taper. [mm]"""
    return max(job.cutting.finish_allowance / 2, UNDERCUT_MM)


def run_in(line: list[Point]) -> Point:
    """Direction in which a finish pass comes to the first point, reversed: from the metal outwards."""
    back = _unit(line[1], line[0])
    return back if back[1] >= FLATTEST_RUN_IN else (0.0, 1.0)


def run_out(line: list[Point]) -> Point:
    """Direction in which the finished line goes on past its last point."""
    return _unit(line[-2], line[-1])


def air_side(line: list[Point]) -> BaseGeometry:
    """All that shall be free of metal, x in the cutting direction; the line's ends go on straight."""
    start, end = run_in(line), run_out(line)
    first = (line[0][0] + BEYOND_MM * start[0], line[0][1] + BEYOND_MM * start[1])
    last = (line[-1][0] + BEYOND_MM * end[0], line[-1][1] + BEYOND_MM * end[1])
    far = -3 * BEYOND_MM
    around = [(far, last[1]), (far, 3 * BEYOND_MM), (max(first[0], line[0][0]), 3 * BEYOND_MM)]
    if end[0] > 0 and end[1] > -0.5:
        raise GeometryError("the finished line ends towards the metal; its last piece must lead out of it")
    area = shapely.Polygon([first, *line, last, *around])
    if not area.is_valid:
        raise GeometryError("the finished line crosses itself")
    return area


def before_fronts() -> BaseGeometry:
    """All that lies before the faced jaw fronts."""
    far = 3 * BEYOND_MM
    return shapely.box(-far, 0.0, far, far)


def freed(job: BoringJob, line: list[Point]) -> BaseGeometry:
    """All that the program shall free of metal: the air side of the line, and what is turned off the fronts."""
    area = air_side(line)
    if job.face_off > 0:
        area = shapely.union(area, before_fronts())
    return area


def metal_area(job: BoringJob, side: int) -> BaseGeometry:
    """The jaw before the cut, x in the cutting direction."""
    area = shapely.Polygon(mirrored(job.metal, side))
    if not area.is_valid or area.area <= 0:
        raise GeometryError("the outline of the metal crosses itself or has no area")
    return area


def finished_area(job: BoringJob, sagitta: float) -> tuple[BaseGeometry, BaseGeometry, list[Corner]]:
    """The metal that must stay, the same with the rounds a nose may leave, and those; x in the cutting direction.

    The rounds are drawn with chords within ``sagitta`` mm, on the side of too little metal.
    """
    side = cut_side(job)
    line = mirrored(job.finished, side)
    must = metal_area(job, side).difference(freed(job, line))
    if must.area < 1e-6:
        raise GeometryError("nothing of the metal would be left: all of it lies on the air side of the finished line")
    radius = job.tool.nose_radius
    rounds = [c for c in corners(line, radius) if c.room >= radius * (1 - 1e-9)]
    fillets = [shapely.Polygon([c.at, *_round(c, radius, sagitta)]) for c in rounds]
    may = shapely.union_all([must, *[f.intersection(metal_area(job, side)) for f in fillets if f.is_valid]])
    return must, may, rounds


def _round(corner: Corner, radius: float, sagitta: float) -> list[Point]:
    """The round from one touch to the other, never outside the true arc's metal by more than ``sagitta``."""
    (cx, cz), (a, b) = corner.centre, corner.touches
    first, last = atan2(a[1] - cz, a[0] - cx), atan2(b[1] - cz, b[0] - cx)
    turn = (last - first + pi) % (2 * pi) - pi
    count = max(1, ceil(abs(turn) / chord_angle(radius, sagitta)))
    inner = [first + turn * i / count for i in range(1, count)]
    return [a, *((cx + radius * cos(t), cz + radius * sin(t)) for t in inner), b]


def _along(start: Point, direction: Point, by: float) -> Point:
    return start[0] + by * direction[0], start[1] + by * direction[1]


def _unit(a: Point, b: Point) -> Point:
    length = sqrt((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2)
    if length < 1e-9:
        raise GeometryError(f"the finished line has two points at the same place, x {a[0]:g}, z {a[1]:g}")
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length
