"""The line on which the centre of a round nose moves: the finished line offset by a radius, trimmed. [mm]

Each straight piece shifts along its normal; round an outside corner of the metal goes an arc about the corner; at an
inside corner neighbours meet.  Where a piece does not fit at all, the pieces beside it meet, and ``offset_line`` tells
nothing of it: whether a nose fits is asked of ``target.corners``.
"""

from __future__ import annotations

import itertools
from math import hypot, pi, sqrt

import numpy as np

from heldtrue.errors import GeometryError
from heldtrue.program.geometry import Arc, Floats, Line, Piece, distance_to_lines
from heldtrue.program.job import Point
from heldtrue.program.target import normals, turning

NEAR_MM = 1e-7
"""Points closer than this are the same."""


def offset_line(line: list[Point], radius: float) -> list[Piece]:
    """Where the centre of a circle of ``radius`` goes that rolls along the air side of ``line``."""
    raw = _raw(line, radius)
    starts, ends = np.array(line[:-1]), np.array(line[1:])
    kept: list[Piece] = []
    for i, piece in enumerate(raw):
        cuts = {0.0, 1.0}
        for j, other in enumerate(raw):
            smooth = abs(i - j) == 1 and (isinstance(piece, Arc) or isinstance(other, Arc))
            if i != j and not smooth:
                cuts.update(_crossings(piece, other))
        stations = sorted(cuts)
        for low, high in itertools.pairwise(stations):
            if (high - low) * piece.length > NEAR_MM:
                part = piece.part(low, high)
                if _free([part.at(0.5)], starts, ends, radius):
                    kept.append(part)
    found = _chained(kept)
    if _distance(found[0].start, raw[0].start) > 1e-4 or _distance(found[-1].end, raw[-1].end) > 1e-4:
        x, z = line[0] if _distance(found[0].start, raw[0].start) > 1e-4 else line[-1]
        raise GeometryError(f"the nose does not get to the end of the finished line at x {abs(x):.3f}, z {z:.3f}")
    return found


def is_free(pieces: list[Piece], line: list[Point], radius: float) -> bool:
    """Whether a circle of ``radius`` on ``pieces`` stays on the air side of ``line``, within 1e-6 mm."""
    starts, ends = np.array(line[:-1]), np.array(line[1:])
    samples = [p.at(s) for p in pieces for s in np.linspace(0.0, 1.0, 33)]
    return _free(samples, starts, ends, radius - 1e-6)


def _free(points: list[Point], starts: Floats, ends: Floats, radius: float) -> bool:
    return bool(distance_to_lines(np.array(points), starts, ends).min() >= radius - 10 * NEAR_MM)


def _raw(line: list[Point], radius: float) -> list[Piece]:
    shifts = [(radius * x, radius * z) for x, z in normals(line)]
    turns = [0.0, *turning(line)]
    found: list[Piece] = []
    for i, (a, b) in enumerate(itertools.pairwise(line)):
        if i and turns[i] < -1e-9:
            start = _plus(a, shifts[i - 1])
            found.append(Arc(start, _plus(a, shifts[i]), a, -turns[i]))
        found.append(Line(_plus(a, shifts[i]), _plus(b, shifts[i])))
    return found


def _chained(pieces: list[Piece]) -> list[Piece]:
    """The pieces that follow each other from the first; gaps of rounding are closed, real ones refused."""
    found: list[Piece] = []
    for piece in pieces:
        if found:
            gap = _distance(found[-1].end, piece.start)
            if gap > 1e-4:
                x, z = found[-1].end
                raise GeometryError(f"the nose does not get past x {abs(x):.3f}, z {z:.3f} of the finished line")
            piece = _starting(piece, found[-1].end)
        found.append(piece)
    if not found:
        raise GeometryError("the nose fits nowhere along the finished line")
    return found


def _starting(piece: Piece, at: Point) -> Piece:
    if isinstance(piece, Line):
        return Line(at, piece.end)
    return Arc(at, piece.end, piece.centre, piece.turn)


def _crossings(piece: Piece, other: Piece) -> list[float]:
    """Shares of ``piece`` at which it meets ``other``."""
    if isinstance(piece, Line):
        points = _line_line(piece, other) if isinstance(other, Line) else _line_arc(piece, other)
    else:
        points = _line_arc(other, piece) if isinstance(other, Line) else _arc_arc(piece, other)
    found = []
    for point in points:
        share, share_other = _share(piece, point), _share(other, point)
        if share is not None and share_other is not None:
            found.append(share)
    return found


def _share(piece: Piece, point: Point) -> float | None:
    slack = NEAR_MM / max(piece.length, NEAR_MM)
    if isinstance(piece, Line):
        (x, z), (u, w) = piece.start, piece.end
        share = ((point[0] - x) * (u - x) + (point[1] - z) * (w - z)) / max(piece.length**2, 1e-300)
    else:
        turned = np.arctan2(point[1] - piece.centre[1], point[0] - piece.centre[0]) - piece.angle
        turned = (turned * (1 if piece.turn > 0 else -1) + pi / 2) % (2 * pi) - pi / 2
        share = float(turned) / abs(piece.turn)
    return min(max(share, 0.0), 1.0) if -slack <= share <= 1 + slack else None


def _line_line(a: Line, b: Line) -> list[Point]:
    d, e = (a.end[0] - a.start[0], a.end[1] - a.start[1]), (b.end[0] - b.start[0], b.end[1] - b.start[1])
    cross = d[0] * e[1] - d[1] * e[0]
    if abs(cross) < 1e-14 * a.length * b.length:
        return []
    off = (b.start[0] - a.start[0], b.start[1] - a.start[1])
    share = (off[0] * e[1] - off[1] * e[0]) / cross
    return [a.at(share)]


def _line_arc(line: Line, arc: Arc) -> list[Point]:
    (x, z), length = line.start, max(line.length, 1e-300)
    d = ((line.end[0] - x) / length, (line.end[1] - z) / length)
    off = (x - arc.centre[0], z - arc.centre[1])
    along = off[0] * d[0] + off[1] * d[1]
    height = off[0] ** 2 + off[1] ** 2 - along**2
    squared = arc.radius**2 - height
    if squared < -NEAR_MM:
        return []
    half = sqrt(max(squared, 0.0))
    return [(x + s * d[0], z + s * d[1]) for s in (-along - half, -along + half)]


def _arc_arc(a: Arc, b: Arc) -> list[Point]:
    dx, dz = b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]
    apart = hypot(dx, dz)
    if apart < NEAR_MM or apart > a.radius + b.radius + NEAR_MM or apart < abs(a.radius - b.radius) - NEAR_MM:
        return []
    along = (a.radius**2 - b.radius**2 + apart**2) / (2 * apart)
    half = sqrt(max(a.radius**2 - along**2, 0.0))
    foot = (a.centre[0] + along * dx / apart, a.centre[1] + along * dz / apart)
    return [(foot[0] - s * half * dz / apart, foot[1] + s * half * dx / apart) for s in (-1, 1)]


def tip_shift(radius: float, angle: float) -> tuple[float, float]:
    """Shift (x as a radius, z) of the imaginary tip of a nose that cuts a taper at ``angle`` [rad] from z. [mm]

    How far the tip of the square drawn about the nose lies from the taper, measured along x and along z.
    """
    quarter = pi / 4 - angle / 2
    return radius * (1 - np.tan(quarter)), radius * (1 - np.tan(angle / 2))


def _plus(a: Point, b: Point) -> Point:
    return a[0] + b[0], a[1] + b[1]


def _distance(a: Point, b: Point) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])
