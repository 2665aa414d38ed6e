"""What the grip carries before the part slips round, slips along, tips or lifts.

Limit analysis: the largest factor by which a load can grow while some set of contact forces still balances it.  Over
points spread on all jaw faces the normal force N >= 0 and the friction force stays in its cone, |T| <= mu N; the
actuator fixes the sum of the normal forces, the seat can push but not pull, and carries no friction:

    max f   with   sum of contact forces + f load = 0,   |T_i| <= mu N_i,   sum N_i = grip,   seat_j >= 0.

A second-order cone program.  Its multipliers are the motion in which the grip gives way, and name the failure.
Counting the sum of the *normal* forces as the grip is the safe side for wide jaws, whose radial force is a little
less than that sum.  Friction limit analysis allows the best distribution of the forces; the safety factor stands
against that.  References: the cone form of Coulomb limits in M. S. Lobo, L. Vandenberghe, S. Boyd, H. Lebret,
"Applications of second-order cone programming", Linear Algebra and its Applications 284 (1998) 193-228 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import cos, inf, pi, sin

import clarabel
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from heldtrue.errors import SolverError

Array = NDArray[np.float64]

ENOUGH = 1e4
"""A factor above this is reported as unlimited: the load does not try the grip at all."""
OUT_ALONG = 3 / 8
FEW_COLUMNS, MANY_COLUMNS = (-2 / 3, 2 / 3), (-3 / 4, -1 / 4, 1 / 4, 3 / 4)
NARROW = pi / 9
"""A jaw of less than this half angle is stood for by two columns of points, a wider one by four."""
SLIP_ROUND, SLIP_ALONG, TIP, LIFT = "slip round", "slip along", "tip", "lift"


@dataclass(frozen=True)
class Wrench:
    """A load on the part: ``force`` [N] and ``moment`` about the spindle axis at z = 0 [N mm], axes (x, y, z).

    x points from the axis to the tool, z away from the chuck.
    """

    force: tuple[float, float, float]
    moment: tuple[float, float, float]

    @classmethod
    def at(cls, point: Sequence[float], force: Sequence[float]) -> Wrench:
        """A force [N] acting at a point [mm]."""
        (px, py, pz), (fx, fy, fz) = point, force
        return cls((fx, fy, fz), (py * fz - pz * fy, pz * fx - px * fz, px * fy - py * fx))

    def __add__(self, other: Wrench) -> Wrench:
        (a, b, c), (d, e, f) = self.force, self.moment
        (g, h, i), (k, m, n) = other.force, other.moment
        return Wrench((a + g, b + h, c + i), (d + k, e + m, f + n))

    def scaled(self, factor: float) -> Wrench:
        """The same load, ``factor`` times as large."""
        (a, b, c), (d, e, f) = self.force, self.moment
        return Wrench((a * factor, b * factor, c * factor), (d * factor, e * factor, f * factor))

    def turned(self, angle: float) -> Wrench:
        """The same load with the tool at ``angle`` [rad] from jaw 1."""
        c, s = cos(angle), sin(angle)
        (fx, fy, fz), (mx, my, mz) = self.force, self.moment
        return Wrench((c * fx - s * fy, s * fx + c * fy, fz), (c * mx - s * my, s * mx + c * my, mz))

    def about(self, z: float, unit: float) -> Array:
        """(Fx, Fy, Fz, Mx, My, Mz) with moments about the point at ``z`` on the axis, in units of length ``unit``."""
        (fx, fy, fz), (mx, my, mz) = self.force, self.moment
        return np.array([fx, fy, fz, (mx + z * fy) / unit, (my - z * fx) / unit, mz / unit])


@dataclass(frozen=True)
class Grip:
    """Where the part is held.

    ``side``, ``radius`` [mm], ``z`` (from, to) [mm], ``half_angle`` of a jaw's contact [rad], ``jaws``; ``friction``
    coefficient; ``seat``: (z, inner radius, outer radius) [mm] of the
    axial stop that each jaw carries under its own width, or None; ``centre``: z of a
    tailstock centre [mm], or None.
    """

    side: str
    radius: float
    z: tuple[float, float]
    half_angle: float
    jaws: int
    friction: float
    seat: tuple[float, float, float] | None = None
    centre: float | None = None

    @property
    def middle(self) -> float:
        """z of the middle of the grip. [mm]"""
        return (self.z[0] + self.z[1]) / 2

    @cached_property
    def points(self) -> Array:
        """Contact points, shape (P, 3): two rings of points on every jaw face. [mm]

        The rings stand three eighths of the grip length from its middle and the points inside the jaw's edges, where
        a contact that has shifted as far as it can still has some area to press on.
        """
        columns = FEW_COLUMNS if self.half_angle < NARROW else MANY_COLUMNS
        sectors = self.half_angle * np.asarray(columns)
        angles = np.add.outer(2 * pi / self.jaws * np.arange(self.jaws), sectors).ravel()
        heights = self.middle + (self.z[1] - self.z[0]) * np.array([-OUT_ALONG, OUT_ALONG])
        a, z = (grid.ravel() for grid in np.meshgrid(angles, heights, indexing="ij"))
        return np.column_stack([self.radius * np.cos(a), self.radius * np.sin(a), z])

    @cached_property
    def _program(self) -> _Program:
        return _Program.of(self)

    @cached_property
    def _columns(self) -> Array:
        """Wrench of a unit of each unknown, shape (6, unknowns): (N, T_t, T_z) per point, then seat, then centre."""
        radial = self.points * [1, 1, 0] / self.radius
        inward = radial if self.side == "inside" else -radial
        axial = np.tile([0.0, 0.0, 1.0], (len(radial), 1))
        round_ = np.cross(axial, radial)
        unit = np.stack([inward, round_, axial], axis=1).reshape(-1, 3)
        where = np.repeat(self.points, 3, axis=0)
        if self.seat is not None:
            z, inner, outer = self.seat
            edges = np.add.outer(2 * pi / self.jaws * np.arange(self.jaws), [-self.half_angle, self.half_angle]).ravel()
            ring = np.column_stack([np.cos(edges), np.sin(edges), np.full(len(edges), z)])
            for radius in (inner, outer):
                where = np.vstack([where, ring * [radius, radius, 1.0]])
                unit = np.vstack([unit, np.tile([0.0, 0.0, 1.0], (len(edges), 1))])
        if self.centre is not None:
            where = np.vstack([where, [[0.0, 0.0, self.centre]] * 2])
            unit = np.vstack([unit, np.eye(3)[:2]])
        lever = where - [0.0, 0.0, self.middle]
        return np.hstack([unit, np.cross(lever, unit) / self.radius]).T


@dataclass(frozen=True)
class Holding:
    """How much a load can grow.

    ``factor``: load factor at which equilibrium fails per newton of total grip [1/N] (a factor for the grip G is
    ``factor * G``); ``failure``: how it then gives way; ``angle``: of the tool from jaw 1 at which that is worst [rad];
    ``motion``: the velocity in which it gives way, about mid grip, scaled so that the load's power on it is 1/factor.
    """

    factor: float
    failure: str
    angle: float
    motion: tuple[float, ...] = ()

    def estimate(self, grip: Grip, load: Wrench) -> float:
        """Factor of another load of much the same kind, if it gives way by the same motion; never too low. [1/N]

        One multiplication instead of a cone program: good enough to rank inputs by, not to hold a part by.
        """
        power = float(load.turned(self.angle).about(grip.middle, grip.radius) @ np.asarray(self.motion or (0.0,) * 6))
        return 1 / power if power > 0 else inf

    def under(self, total_grip: float) -> float:
        """Factor under a total grip force. [N]"""
        return self.factor * max(total_grip, 0.0)

    def required(self, safety: float) -> float:
        """Total grip for that factor. [N]"""
        return safety / self.factor if self.factor > 0 else inf


def holding(grip: Grip, load: Wrench, *, angles: int = 8) -> Holding:
    """Worst factor over the angles of the tool against the jaws.

    Raises: ``SolverError`` if the cone program does not converge, ``ValueError`` for a friction coefficient that is
    not positive.
    """
    if not grip.friction > 0:
        raise ValueError(f"the friction coefficient must be positive, got {grip.friction}")
    turns = 2 * pi / grip.jaws * np.arange(angles) / angles
    return min((limit_at(grip, load, float(a)) for a in turns), key=lambda h: h.factor)


@dataclass(frozen=True)
class _Program:
    """The part of the cone program that does not change with the load, by columns."""

    columns: sparse.csc_matrix
    right: Array
    cones: list[object]
    cost: Array

    @classmethod
    def of(cls, grip: Grip) -> _Program:
        """Rows: balance (6), sum of normals, cap on the factor, seat pushes, one cone per point."""
        wrenches = grip._columns
        points, unknowns = len(grip.points), wrenches.shape[1]
        pushing = 4 * grip.jaws if grip.seat is not None else 0
        normal_sum = np.zeros((1, unknowns))
        normal_sum[0, 0 : 3 * points : 3] = 1.0
        push = -np.eye(unknowns)[3 * points : 3 * points + pushing]
        cone = np.zeros((3 * points, unknowns))
        rows = np.arange(3 * points)
        cone[rows, rows] = np.where(rows % 3 == 0, -grip.friction, -1.0)
        return cls(
            sparse.csc_matrix(np.vstack([wrenches, normal_sum, np.zeros((1, unknowns)), push, cone])),
            np.concatenate([np.zeros(6), [1.0, ENOUGH], np.zeros(pushing + 3 * points)]),
            [
                clarabel.ZeroConeT(7),
                clarabel.NonnegativeConeT(1 + pushing),
                *[clarabel.SecondOrderConeT(3)] * points,
            ],
            np.append(np.zeros(unknowns), -1.0),
        )

    def solve(self, load: Array) -> clarabel.DefaultSolution:
        """The largest factor on a load (6,) is the last unknown; the first six multipliers are the motion."""
        fixed = self.columns
        matrix = sparse.csc_matrix(
            (
                np.concatenate([fixed.data, load, [1.0]]),
                np.concatenate([fixed.indices, np.arange(6), [7]]),
                np.append(fixed.indptr, fixed.indptr[-1] + 7),
            ),
            shape=(fixed.shape[0], fixed.shape[1] + 1),
        )
        nothing = sparse.csc_matrix((len(self.cost), len(self.cost)))
        settings = clarabel.DefaultSettings()
        settings.verbose = False
        return clarabel.DefaultSolver(nothing, self.cost, matrix, self.right, self.cones, settings).solve()


@lru_cache(maxsize=4096)
def limit_at(grip: Grip, load: Wrench, angle: float) -> Holding:
    """How much the load can grow with the tool at one ``angle``; lengths in radii about mid grip. [rad]"""
    vector = load.turned(angle).about(grip.middle, grip.radius)
    size = float(np.abs(vector).max())
    if size == 0.0:
        return Holding(inf, "none", angle)
    solution = grip._program.solve(vector / size)
    if solution.status not in (clarabel.SolverStatus.Solved, clarabel.SolverStatus.AlmostSolved):
        raise SolverError(f"the holding limit did not converge: {solution.status}")
    factor = float(solution.x[-1])
    if factor >= 0.999 * ENOUGH:
        return Holding(inf, "none", angle)
    motion = np.asarray(solution.z[:6])
    held = max(factor, 0.0) / size
    power = float(vector @ motion)
    scaled = motion / (power * held) if power > 0 and held > 0 else np.zeros(6)
    return Holding(held, _name(vector * motion), angle, tuple(float(m) for m in scaled))


def _name(power: Array) -> str:
    """Name the motion by which part of the load does the most work in it."""
    shares = {
        LIFT: power[0] + power[1],
        SLIP_ALONG: power[2],
        TIP: power[3] + power[4],
        SLIP_ROUND: power[5],
    }
    return max(shares, key=lambda name: shares[name])
