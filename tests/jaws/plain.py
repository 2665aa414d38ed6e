"""Jaws as clouds of points, turned about the axis: written apart from the program, knows nothing of its code.

A jaw in plan is a yes or no for any point; everything else is counted over many points.  x outwards along the jaw's
middle from the spindle axis, y across, z from the jaw fronts.  [mm, rad]
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FINE = 0.05
"""Distance of points along edges."""


@dataclass(frozen=True)
class PlainJaw:
    """One jaw before any cut. ``tip`` is True for an inner end pointed for ``jaws``."""

    jaws: int
    pie: bool
    tip: bool
    width: float
    gap: float
    low: float
    high: float
    height: float

    def holds(self, x, y, zero):
        """Whether points lie in the jaw with its zero mark ``zero`` from the axis, pie ends round about it."""
        across = np.abs(y)
        if self.pie:
            away, sector = np.hypot(x, y), np.pi / self.jaws
            side = x * np.sin(sector) - across * np.cos(sector)
            return (away >= self.low + zero) & (away <= self.high + zero) & (side >= self.gap / 2)
        inside = (x >= zero + self.low) & (x <= zero + self.high) & (across <= self.width / 2)
        if self.tip:
            inside &= across <= (x - zero - self.low) * np.tan(np.pi / self.jaws) + 1e-12
        return inside

    def plan_points(self, zero):
        """Many points of the jaw in plan, its edges and corners among them, in the frame of its zero mark."""
        if self.pie:
            tip = self.gap / 2 / np.sin(np.pi / self.jaws)
            away = np.linspace(max(zero + self.low, tip), zero + self.high, 160)
            found = []
            for radius in away[away > 0]:
                reach = np.pi / self.jaws - np.arcsin(min(self.gap / 2 / radius, np.sin(np.pi / self.jaws)))
                if reach >= 0:
                    turn = np.linspace(-reach, reach, 121)
                    found.append(np.stack([radius * np.cos(turn) - zero, radius * np.sin(turn)], 1))
            return np.concatenate(found)
        xs, half = np.linspace(self.low, self.high, 200), self.width / 2
        found = []
        for x in xs:
            reach = min(half, (x - self.low) * np.tan(np.pi / self.jaws)) if self.tip else half
            found.append(np.stack([np.full(81, x), np.linspace(-reach, reach, 81)], 1))
        if self.tip:
            knee = self.low + half / np.tan(np.pi / self.jaws)
            if knee < self.high:
                found.append(np.array([[knee, -half], [knee, half]]))
        return np.concatenate(found)


@dataclass(frozen=True)
class PlainCut:
    """An earlier cut: ``radius`` about the axis, made with the zero marks at ``zero``; ``depth`` of its seat."""

    outside: bool
    radius: float
    depth: float
    zero: float

    def gone(self, points, z):
        """Whether points (in the frame of the zero mark) at a height were cut away then."""
        away = np.hypot(points[:, 0] + self.zero, points[:, 1])
        side = away < self.radius if self.outside else away > self.radius
        return side & (z > -self.depth)

    def wall(self, jaw, zero):
        """Points of its bore, in the frame of the zero mark, of a jaw that stands at ``zero`` now."""
        turn = np.linspace(-np.pi / 2, np.pi / 2, 8001)
        x, y = self.radius * np.cos(turn) - self.zero, self.radius * np.sin(turn)
        return np.stack([x, y], 1)[jaw.holds(x + zero, y, zero)]


def swept(jaw, zero, cut=None):
    """Radius and z of everything that turns, with the zero marks ``zero`` from the axis."""
    points = jaw.plan_points(zero)
    found = []
    for z in np.linspace(-jaw.height, 0.0, 23):
        here = points if cut is None else points[~cut.gone(points, z)]
        found.append(np.stack([np.hypot(here[:, 0] + zero, here[:, 1]), np.full(len(here), z)], 1))
        if cut is not None and z > -cut.depth:
            wall = cut.wall(jaw, zero)
            found.append(np.stack([np.hypot(wall[:, 0] + zero, wall[:, 1]), np.full(len(wall), z)], 1))
    return np.concatenate(found)


def touched_first(jaw, zero, cut):
    """Radius at which a tool touches the turning bore of an earlier cut first."""
    wall = cut.wall(jaw, zero)
    away = np.hypot(wall[:, 0] + zero, wall[:, 1])
    return away.min() if cut.outside else away.max()


def bears_round(jaw, zero, radius):
    """Half the angle over which a bore of ``radius`` meets the jaw without a break, from its middle."""
    turn = np.linspace(0.0, np.pi / jaw.jaws, 20001)
    there = jaw.holds(radius * np.cos(turn), radius * np.sin(turn), zero)
    return turn[-1] if there.all() else (0.0 if not there[0] else turn[np.argmin(there) - 1])


def neighbours_meet(jaw, zero):
    """How far a jaw stands over the line to its neighbour: above 0 they run into each other."""
    points = jaw.plan_points(zero)
    x, y = points[:, 0] + zero, np.abs(points[:, 1])
    return float((y * np.cos(np.pi / jaw.jaws) - x * np.sin(np.pi / jaw.jaws)).max())


def deepest_pass(jaw, zero, cut, outside, moves, floor, nose, front=0.0):
    """The deepest cut of the moves along z at any place round and along a jaw, and the worst rapid into metal.

    ``moves``: (rapid, start, end) of the tip, each (radius, z); ``front``: how far the fronts still stand above z 0.
    A slanted move takes off what its tip passes, and its nose above that, and is not asked for its depth.
    """
    turns = np.linspace(0.0, np.pi / jaw.jaws, 61)
    heights = np.linspace(-floor + 0.3, front - 0.1, 25)
    surface = np.array([[_surface(jaw, zero, cut, outside, turn, z) for z in heights] for turn in turns])
    out, deepest, rapid_in = (1.0 if outside else -1.0), 0.0, 0.0
    step = heights[1] - heights[0]
    for rapid, (x0, z0), (x1, z1) in moves:
        if not rapid and abs(x1 - x0) <= 1e-6 and z1 < z0:
            over = heights >= z1
            depth = out * (x1 - surface[:, over])
            deepest = max(deepest, float(np.nanmax(depth, initial=0.0)))
            surface[:, over] = np.where(depth > 0, x1, surface[:, over])
            continue
        for share in np.linspace(0, 1, 41):
            x, z = x0 + share * (x1 - x0), z0 + share * (z1 - z0)
            near = (heights >= z if rapid else heights > z - step / 2) & (heights < z + step + (0.0 if rapid else nose))
            if z >= front or not near.any():
                continue
            depth = out * (x - surface[:, near])
            if rapid:
                rapid_in = max(rapid_in, float(np.nanmax(depth, initial=0.0)))
            else:
                surface[:, near] = np.where(depth > 0, x, surface[:, near])
    return deepest, rapid_in


def after(jaw, zero, cut, outside, moves, tool, deep, front=0.0):
    """Points (radius, z) of the turning jaws and whether nose or main edge of any feed move passed over them.

    A second way to what a program leaves: every point of a grid over radius and height asks every move.  ``moves`` as
    in ``deepest_pass``, of the tip of a nose that lies towards the metal and the chuck; the edge is asked of moves
    along z alone.
    """
    cloud, nose = swept(jaw, zero, cut), tool.nose_radius
    rs = np.arange(cloud[:, 0].min() + 0.11, cloud[:, 0].max(), 0.41)
    zs = np.arange(0.07 - deep, front, 0.37)
    points = np.stack(np.meshgrid(rs, zs), -1).reshape(-1, 2)
    out, gone, slope = (
        (1.0 if outside else -1.0),
        np.zeros(len(points), dtype=bool),
        np.tan(np.radians(tool.lead_angle)),
    )
    for rapid, start, end in moves:
        if rapid:
            continue
        a, b = (np.array([x - out * nose, z + nose]) for x, z in (start, end))
        way = b - a
        share = np.clip(((points - a) @ way) / max(way @ way, 1e-12), 0.0, 1.0)
        gone |= np.hypot(*(points - a - share[:, None] * way).T) < nose
        if abs(way[0]) < 1e-9:
            back = out * (start[0] - points[:, 0])
            low = min(start[1], end[1]) - back / slope
            gone |= (
                (back > nose)
                & (back < tool.edge_length)
                & (points[:, 1] > low)
                & (points[:, 1] < max(start[1], end[1]))
            )
    return points, gone


def _surface(jaw, zero, cut, outside, turn, z):
    """Radius of the first metal on a ray, as the tool comes to it; nan where there is none."""
    reach = np.hypot(zero + jaw.high, jaw.width)
    away = np.arange(0.0, reach, FINE) if outside else np.arange(reach, 0.0, -FINE)
    x, y = away * np.cos(turn), away * np.sin(turn)
    there = jaw.holds(x, y, zero)
    if cut is not None:
        there &= ~cut.gone(np.stack([x - zero, y], 1), z)
    return away[np.argmax(there)] if there.any() else np.nan
