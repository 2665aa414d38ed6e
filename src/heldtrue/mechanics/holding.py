"""What the grip carries before the part slips round, slips along, tips or lifts.

Limit analysis: the largest factor by which a load can grow while some set of contact forces still balances it.  Over
points spread on all jaw faces the normal force N >= 0 and the friction force stays in its cone, |T| <= mu N; the
actuator fixes the sum of the normal forces, the seat can push but not pull, and carries no friction:

    max f   with   sum of contact forces + f load = 0,   |T_i| <= mu N_i,   sum N_i = grip,   seat_j >= 0.

Solved from the other side, by the motion u (6) in which the grip gives way (the upper-bound theorem; it is the dual of
the program above and has the same answer).  A point moves n_i.u away from its jaw and t_i.u along the jaw's face:

    max load.u   with   mu |t_i.u| - n_i.u <= 1,   seat_j.u >= 0,   centre.u = 0.

The left side is what a newton of grip at that point resists, and the grip resists with the point where that is most;
the motion is scaled so that this is 1.  The load's power on it is then the grip that the load needs, 1 / f.  The load
stands only in the objective, so one solver per grip does for every load.
Counting the sum of the *normal* forces as the grip is the safe side for wide jaws, whose radial force is a little
less than that sum.  Friction limit analysis allows the best distribution of the forces; the safety factor stands
against that.  References: the cone form of Coulomb limits in M. S. Lobo, L. Vandenberghe, S. Boyd, H. Lebret,
"Applications of second-order cone programming", Linear Algebra and its Applications 284 (1998) 193-228; the theorem
in D. C. Drucker, W. Prager, H. J. Greenberg, "Extended limit design theorems for continuous media", Quarterly of
Applied Mathematics 9 (1952) 381-389 (both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, reduce
from math import cos, inf, pi, sin
from threading import Lock
from typing import NamedTuple

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
AIMED, ALMOST = 1e-7, 1e-6
"""Accuracy that is asked of the solver, and the least that is taken; of the need, or of the load if that is more.

At 1e-8 one answer in a hundred falls short, and at 1e-7 none of 6000 random ones did (measured).
"""


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

    def weighted(self, slip: float, tip: float) -> Wrench:
        """The same load with what makes the part slip times ``slip`` and what makes it tip or lift times ``tip``.

        Slip: torque about the axis and axial force; tip: side forces and tilting moments.  Tilting moments about any
        other point of the axis come out weighted by ``tip`` too, since only side forces change them along the axis.
        """
        (fx, fy, fz), (mx, my, mz) = self.force, self.moment
        return Wrench((fx * tip, fy * tip, fz * slip), (mx * tip, my * tip, mz * slip))

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

    def resistance(self, motion: Sequence[float] | Array, friction: Array) -> Array:
        """What a newton of grip resists on a motion (6,), with each friction, shape of ``friction``.

        The grip resists with the point where that is most, whatever friction this grip has itself.
        """
        moved = (self._columns[:, : 3 * len(self.points)].T @ np.asarray(motion)).reshape(-1, 3)
        slid = np.hypot(moved[:, 1], moved[:, 2])
        return np.asarray((np.multiply.outer(np.asarray(friction), slid) - moved[:, 0]).max(axis=-1))

    @cached_property
    def _columns(self) -> Array:
        """Wrench of a unit of each reaction, shape (6, reactions): (N, T_t, T_z) per point, then seat, then centre.

        Moments about mid grip in radii.  Times a motion, a column is also the velocity against that reaction.
        """
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


class Shares(NamedTuple):
    """Shares of the load's work in the worst motion, by kind; they add up to 1, and some can be negative.

    ``lift``: side force; ``slip_along``: axial force; ``tip``: tilting moment about mid grip; ``slip_round``: torque.
    All 0 where the load has no limit.
    """

    lift: float = 0.0
    slip_along: float = 0.0
    tip: float = 0.0
    slip_round: float = 0.0

    @property
    def failure(self) -> str:
        """Name of the largest; "none" where there is no limit."""
        names = (LIFT, SLIP_ALONG, TIP, SLIP_ROUND)
        return names[self.index(max(self))] if any(self) else "none"


NO_WORK = Shares()


@dataclass(frozen=True)
class Holding:
    """How much a load can grow.

    ``factor``: load factor at which equilibrium fails per newton of total grip [1/N] (a factor for the grip G is
    ``factor * G``); ``failure``: how it then gives way; ``angle``: of the tool from jaw 1 at which that is worst [rad];
    ``motion``: the velocity in which it gives way, about mid grip, scaled so that the load's power on it is 1/factor;
    ``share``: of which kinds that power is.
    """

    factor: float
    failure: str
    angle: float
    motion: tuple[float, ...] = ()
    share: Shares = NO_WORK

    def estimate(self, grip: Grip, load: Wrench) -> float:
        """Factor of another load of much the same kind, if it gives way by the same motion; never too low. [1/N]

        One multiplication instead of a cone program: good enough to rank inputs by, not to hold a part by.
        """
        power = float(load.turned(self.angle).about(grip.middle, grip.radius) @ np.asarray(self.motion or (0.0,) * 6))
        return 1 / power if power > 0 else inf

    def worse_than(self, other: Holding) -> bool:
        """Whether it holds less, by more than the digits the solver is sure of: of equals let the first one stand."""
        return self.factor < (1 - ALMOST) * other.factor

    def under(self, total_grip: float) -> float:
        """Factor under a total grip force. [N]"""
        return self.factor * max(total_grip, 0.0)

    def required(self, safety: float) -> float:
        """Total grip for that factor. [N]"""
        return safety / self.factor if self.factor > 0 else inf


def holding(grip: Grip, load: Wrench, *, angles: int = 8) -> Holding:
    """Worst factor over the angles of the tool against the jaws; the first angle, where several are as bad.

    Raises: ``SolverError`` if the cone program does not converge, ``ValueError`` for a friction coefficient that is
    not positive.
    """
    if not grip.friction > 0:
        raise ValueError(f"the friction coefficient must be positive, got {grip.friction}")
    turns = 2 * pi / grip.jaws * np.arange(angles) / angles
    limits = [limit_at(grip, load, float(a)) for a in turns]
    return reduce(lambda worst, one: one if one.worse_than(worst) else worst, limits)


class _Program:
    """The cone program of one grip, set up once; unknowns are the six velocities of the motion."""

    def __init__(self, grip: Grip) -> None:
        """Rows: centre (2, if any) stands, seat corners are not entered, then one cone per contact point."""
        along = grip._columns.T.copy()
        contact = 3 * len(grip.points)
        along[:contact][np.arange(contact) % 3 != 0] *= grip.friction
        points, rest = along[:contact], along[contact:]
        pushing = 4 * grip.jaws if grip.seat is not None else 0
        seat, centre = rest[:pushing], rest[pushing:]
        cones = [clarabel.ZeroConeT(len(centre))] if len(centre) else []
        cones += [clarabel.NonnegativeConeT(pushing)] if pushing else []
        cones += [clarabel.SecondOrderConeT(3)] * len(grip.points)
        right = np.concatenate([np.zeros(len(rest)), np.tile([1.0, 0.0, 0.0], len(grip.points))])
        settings = clarabel.DefaultSettings()
        settings.verbose = False
        settings.presolve_enable = False  # it may drop rows, and then the load cannot be exchanged
        settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = AIMED
        settings.reduced_tol_gap_abs = settings.reduced_tol_gap_rel = settings.reduced_tol_feas = ALMOST
        rows = sparse.csc_matrix(-np.vstack([centre, seat, points]))
        self._solver = clarabel.DefaultSolver(sparse.csc_matrix((6, 6)), np.ones(6), rows, right, cones, settings)
        self._alone = Lock()  # the solver keeps the last load, so one thread at a time

    def motion(self, load: Array) -> Array:
        """The motion (6,) on which a load (6,) of largest entry 1 has the most power.

        Raises: ``SolverError`` if that does not converge.
        """
        with self._alone:
            self._solver.update(q=-load)
            solution = self._solver.solve()
        if solution.status not in (clarabel.SolverStatus.Solved, clarabel.SolverStatus.AlmostSolved):
            raise SolverError(f"the holding limit did not converge: {solution.status}")
        return np.asarray(solution.x)


@lru_cache(maxsize=64)
def _program(grip: Grip) -> _Program:
    """Kept here and not in the grip, which can then be pickled; some 45 kB each."""
    return _Program(grip)


@lru_cache(maxsize=64)
def unit_needs(grip: Grip) -> Array:
    """Total grip that a unit of each entry of a load needs, along it and against it, shape (2, 6). [1]

    A load is (Fx, Fy, Fz, Mx, My, Mz) about mid grip with lengths in radii.  A chuck mirrors about the middle of jaw 1,
    so Fy, Mx and Mz need the same both ways.  Raises: ``SolverError`` if a cone program does not converge.
    """
    along = np.eye(6)
    needs = np.array([[float(unit @ _program(grip).motion(unit)) for unit in along]] * 2)
    for entry in (0, 2, 4):
        needs[1, entry] = float(-along[entry] @ _program(grip).motion(-along[entry]))
    return np.asarray(np.maximum(needs, 0.0) * (1 + 10 * ALMOST))


def most_needed(loads: Array, solved: Array, needs: Array, units: Array) -> Array:
    """Upper end of the grip that loads (n, 6) need, from solved ones (k, 6), theirs (k,) and ``unit_needs``, (n,). [N]

    The grip needed is the greatest power over all motions that the grip allows, so it grows with the load and that of
    two loads together is at most the sum of both: need(w) <= s need(v) + need(w - s v) for any s >= 0.  The rest costs
    at most its entries one by one.  Tried are s = 1 and the s that leaves no torque.
    """
    torque = solved[:, 5, None]
    without = np.divide(loads[:, 5], torque, out=np.ones((len(solved), len(loads))), where=torque != 0)
    share = np.stack([np.ones_like(without), np.maximum(without, 0.0)])
    rest = loads - share[..., None] * solved[:, None]
    ends = share * needs[:, None] + np.maximum(rest, 0.0) @ units[0] + np.maximum(-rest, 0.0) @ units[1]
    return np.asarray(ends.min(axis=(0, 1)))


@lru_cache(maxsize=4096)
def limit_at(grip: Grip, load: Wrench, angle: float) -> Holding:
    """How much the load can grow with the tool at one ``angle``; lengths in radii about mid grip. [rad]

    Raises: ``SolverError`` if the cone program does not converge.
    """
    vector = load.turned(angle).about(grip.middle, grip.radius)
    size = float(np.abs(vector).max())
    if size == 0.0:
        return Holding(inf, "none", angle)
    motion = _program(grip).motion(vector / size)
    power = vector * motion
    need = float(power.sum())
    if need * ENOUGH <= size:
        return Holding(inf, "none", angle)
    lift_x, lift_y, along, tip_x, tip_y, round_ = (float(p) / need for p in power)
    share = Shares(lift_x + lift_y, along, tip_x + tip_y, round_)
    return Holding(1 / need, share.failure, angle, tuple(float(m) for m in motion), share)
