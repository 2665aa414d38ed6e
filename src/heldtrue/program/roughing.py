"""Roughing of a bore: passes along z from the metal to the finished line, one along the line, and the relief.

x runs in the cutting direction here (towards the metal), so that bores and outer surfaces are cut alike. [mm]
"""

from __future__ import annotations

import itertools
from math import ceil, hypot, inf, sqrt

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from heldtrue.errors import GeometryError
from heldtrue.program.geometry import Floats, Piece, distance_to_lines, points_along
from heldtrue.program.job import Point
from heldtrue.program.offset import is_free
from heldtrue.program.target import air_side

SLACK_MM = 0.05
"""Metal this much above the allowance is left to the pass along the line."""
DIRECTIONS: tuple[Point, ...] = (
    (-1.0, 0.0),
    (-sqrt(0.8), sqrt(0.2)),
    (-sqrt(0.5), sqrt(0.5)),
    (-sqrt(0.2), sqrt(0.8)),
    (0.0, 1.0),
)
"""Ways out of a relief, the first that is free is taken."""
MOST_STEPS = 40
MOST_PASSES = 40_000
GRAZE_MM = 1e-6
"""A circle that passes a corner by less is not stopped by it."""


def envelope(line: list[Point]) -> list[Point]:
    """``line`` without what a tool coming along -z cannot see: undercuts are bridged along z."""
    found, least = [line[0]], line[0][0]
    for (x, z), (u, w) in itertools.pairwise(line):
        if u > least + 1e-9:
            continue
        if x > least + 1e-9:
            share = (x - least) / (x - u)
            entry = (least, z + share * (w - z))
            if hypot(entry[0] - found[-1][0], entry[1] - found[-1][1]) > 1e-6:
                found.append(entry)
        if hypot(u - found[-1][0], w - found[-1][1]) > 1e-6:
            found.append((u, w))
        least = min(least, u)
    if len(found) < 2 or line[-1][0] > least + 1e-9:
        found.append((least, line[-1][1]))
    return found


class Stops:
    """How far down a circle of ``radius`` may go at each x before it meets the line."""

    def __init__(self, line: list[Point], radius: float, floor: float | None) -> None:
        self._line = line
        self._radius = radius
        self._floor = floor

    def at(self, x: float) -> float:
        """The lowest z of the circle's centre; infinite where it cannot come in at the mouth."""
        r = self._radius
        if x >= self._line[0][0]:
            return inf
        found = [] if self._floor is None else [self._floor]
        for (u, w), (p, q) in zip(self._line, self._line[1:], strict=False):
            found += [b + sqrt(r * r - (x - a) ** 2) for a, b in ((u, w), (p, q)) if abs(x - a) < r - GRAZE_MM]
            along = p - u
            if abs(along) > 1e-12:
                length = hypot(along, q - w)
                rise = r * abs(along) / length
                shift = -r * (q - w) / length * (1.0 if along > 0 else -1.0)
                share = (x - shift - u) / along
                if 0 <= share <= 1:
                    found.append(w + share * (q - w) + rise)
        if not found:
            raise GeometryError(f"nothing stops the tool at x {abs(x):.3f}: the finished line ends inside the metal")
        return max(found)

    def highest(self, low: float, high: float) -> float:
        """The highest stop from one x to another."""
        return max(self.at(low + (high - low) * i / 16) for i in range(17))


def levels(line: list[Point], first: float, last: float, allowance: float, depth: float, least: float) -> list[float]:
    """Where passes along z shall leave the metal, from ``first`` to ``last``: even steps between the walls."""
    walls = {last}
    smallest = line[0][0]
    for (x, z), (u, w) in itertools.pairwise(line):
        smallest = min(smallest, x, u)
        if abs(u - x) < 0.2 * abs(w - z) and abs(w - z) > least and min(x, u) <= smallest + 1e-9:
            walls.add(min(x, u) - allowance)
    found: list[float] = []
    at = first
    for wall in sorted(walls):
        if wall - at > SLACK_MM / 2 and wall <= last + 1e-9:
            count = ceil((wall - at) / depth - 1e-6)
            if len(found) + count > MOST_PASSES:
                raise GeometryError(
                    f"{wall - at:.3f} mm in passes of {depth:g} mm are more than {MOST_PASSES} passes; cut deeper"
                )
            found += [at + (wall - at) * (i + 1) / count for i in range(count)]
            at = wall
    return found


def strips(stock: BaseGeometry, deep: BaseGeometry, edges: list[float]) -> list[tuple[float, float] | None]:
    """For each strip between edges the top and bottom of its metal, or None where it holds none worth a pass."""
    found: list[tuple[float, float] | None] = []
    for low, high in itertools.pairwise(edges):
        box = shapely.box(low, -1e5, high, 1e5)
        part = deep.intersection(box)
        if part.area < 1e-6:
            found.append(None)
            continue
        found.append((float(stock.intersection(box).bounds[3]), float(part.bounds[1])))
    return found


def curve_distance(points: Floats, curve: list[Piece]) -> Floats:
    """Distance of points from a curve, arcs taken as chords within 0.1 um. [mm]"""
    corners = np.array([curve[0].start, *(p for piece in curve for p in points_along(piece, 1e-4)[1:])])
    return np.asarray(distance_to_lines(points, corners[:-1], corners[1:]).min(axis=1))


def hidden_parts(curve: list[Piece], rough: list[Piece], allowance: float, reach: float) -> list[list[Piece]]:
    """The stretches of the finish curve that roughing did not come near, each longer by ``reach`` at both ends."""
    spans: list[list[float]] = []
    ends = np.concatenate([[0.0], np.cumsum([p.length for p in curve])])
    for piece, start in zip(curve, ends, strict=False):
        shares = np.linspace(0.0, 1.0, max(3, min(65, ceil(piece.length / 0.1))))
        left = curve_distance(np.array([piece.at(s) for s in shares]), rough) - allowance
        for share in shares[left > max(0.5 * allowance, SLACK_MM)]:
            at = float(start + share * piece.length)
            if spans and at - reach <= spans[-1][1]:
                spans[-1][1] = at + reach
            else:
                spans.append([at - reach, at + reach])
    found = []
    for low, high in spans:
        part = []
        for piece, start in zip(curve, ends, strict=False):
            a, b = max(0.0, (low - start) / piece.length), min(1.0, (high - start) / piece.length)
            if (b - a) * piece.length > 1e-6:
                part.append(piece.part(float(a), float(b)))
        found.append(part)
    return found


def relief_passes(
    part: list[Piece], line: list[Point], radius: float, allowance: float, depth: float
) -> list[list[Piece]]:
    """Passes that open a stretch step by step: the finish curve moved out of it, ``depth`` a step, deepest last."""
    bridged = np.array(envelope(line))
    air = air_side(envelope(line))
    for direction in DIRECTIONS:
        found: list[list[Piece]] = []
        for i in range(MOST_STEPS):
            by = (allowance or depth) + i * depth
            moved = [p.moved((by * direction[0], by * direction[1])) for p in part]
            if not is_free(moved, line, radius):
                break
            samples = np.array([p.at(s) for p in moved for s in np.linspace(0, 1, 17)])
            clear = distance_to_lines(samples, bridged[:-1], bridged[1:]).min() >= radius - 1e-6
            if clear and shapely.contains_xy(air, samples).all():
                return found[::-1]
            found.append(moved)
    x, z = part[len(part) // 2].start
    raise GeometryError(
        f"no straight way leads the nose into the undercut near x {abs(x):.3f}, z {z:.3f} in steps of {depth:g} mm; "
        "make it wider or flatter, or choose a tool with a smaller nose"
    )
