"""What a grip carries at least: a linear program with inscribed friction polygons, solved for many loads at once.

    least grip G = min sum N    with   sum of contact forces + load = 0,   T_i in the polygon,   seat_j >= 0

The polygon of 16 sides lies inside the circle mu N, so this truth lets go a little earlier (up to 2 %) than Coulomb's
cone.  Every corner of every polygon is one column (N = 1 and its friction), so six rows and a few hundred columns
stand for the grip; the load is the right side.  All loads of a world share the columns, so a plain primal simplex runs
over all of them together; an answer counts only with its proof (primal and dual agree), the rest go to scipy's HiGHS.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

Array = NDArray[np.float64]

SIDES = 16
NARROW = pi / 9
BIG = 1e5
PROOF = 1e-6


@dataclass(frozen=True)
class Held:
    """Where the part is held: see ``heldtrue.mechanics.holding`` for the choice of points, which both models share.

    ``side`` of the grip, ``radius`` [mm], ``z`` (from, to) [mm], ``half_angle`` of a jaw [rad], ``jaws``, ``friction``;
    ``seat``: (z, inner radius, outer radius) [mm] or None; ``centre``: z of a tailstock centre [mm] or None.
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
        """z of mid grip. [mm]"""
        return sum(self.z) / 2

    @cached_property
    def columns(self) -> tuple[Array, Array]:
        """Wrench about mid grip of a unit of each unknown, (6, n), moments in radii; what it costs of grip, (n,)."""
        pressing, rubbing, rest = _geometry(
            self.side, self.radius, self.z, self.half_angle, self.jaws, self.seat, self.centre
        )
        jaws = pressing + self.friction * rubbing
        return np.hstack([jaws, rest]), np.append(np.ones(jaws.shape[1]), np.zeros(rest.shape[1]))

    def about(self, force: Array, point: Array) -> Array:
        """Forces (B, 3) [N] at points (B, 3) [mm] as wrenches (B, 6) about mid grip, moments in radii. [N]"""
        lever = (point - [0.0, 0.0, self.middle]) / self.radius
        return np.concatenate([force, np.cross(lever, force)], axis=1)

    def least_grip(self, loads: Array) -> tuple[Array, Array]:
        """Least total grip (B,) [N] that balances each load (B, 6), inf where none does; and the motions (B, 6)."""
        matrix, cost = self.columns
        size = np.abs(loads).max(axis=1)
        size[size == 0.0] = 1.0
        right = -loads / size[:, None]
        grip, motion, proved = _simplex(matrix, cost, right)
        for i in np.flatnonzero(~proved):
            grip[i], motion[i] = by_highs(matrix, cost, right[i])
        return grip * size, -motion


def by_highs(matrix: Array, cost: Array, right: Array) -> tuple[float, Array]:
    """min cost.x with matrix x = right, x >= 0, by scipy's HiGHS: value (inf if there is none) and multipliers."""
    found = linprog(cost, A_eq=matrix, b_eq=right, bounds=(0, None), method="highs")
    if found.status == 2:
        return float("inf"), np.zeros(len(right))
    if found.status != 0:
        raise RuntimeError(f"the holding program failed: {found.message}")
    return float(found.fun), np.asarray(found.eqlin.marginals)


def failure(motion: Array, load: Array) -> str:
    """Name of the motion (6,) by which the part goes: by the part of the load (6,) that does most work in it."""
    power = motion * load
    shares = {"lift": power[0] + power[1], "slip along": power[2], "tip": power[3] + power[4], "slip round": power[5]}
    return max(shares, key=lambda name: float(shares[name]))


@lru_cache(maxsize=64)
def _geometry(
    side: str,
    radius: float,
    z: tuple[float, float],
    half_angle: float,
    jaws: int,
    seat: tuple[float, float, float] | None,
    centre: float | None,
) -> tuple[Array, Array, Array]:
    """Wrenches of pressing 1 N and of full friction at each corner of each polygon, (6, n); seat and centre, (6, k)."""
    shares = np.array((-2 / 3, 2 / 3) if half_angle < NARROW else (-3 / 4, -1 / 4, 1 / 4, 3 / 4))
    middles = 2 * pi * np.arange(jaws) / jaws
    up = np.array([-1.0, 1.0]) * 3 / 8 * (z[1] - z[0]) / radius
    turns = 2 * pi * np.arange(SIDES) / SIDES
    angle, height, turn = (g.ravel() for g in np.meshgrid(np.add.outer(middles, shares * half_angle), up, turns))
    zero = np.zeros_like(angle)
    out = np.column_stack([np.cos(angle), np.sin(angle), zero])
    round_ = np.column_stack([-np.sin(angle), np.cos(angle), zero])
    place = out + np.outer(height, [0, 0, 1])
    pressing = _wrenches(place, out if side == "inside" else -out)
    rubbing = _wrenches(place, np.cos(turn)[:, None] * round_ + np.outer(np.sin(turn), [0, 0, 1]))
    places, forces = [], []
    mid = sum(z) / 2
    if seat is not None:
        for edge in np.add.outer(middles, [-half_angle, half_angle]).ravel():
            for r in seat[1:]:
                places.append([r * np.cos(edge) / radius, r * np.sin(edge) / radius, (seat[0] - mid) / radius])
                forces.append([0, 0, 1])
    if centre is not None:
        places += [[0.0, 0.0, (centre - mid) / radius]] * 4
        forces += [[1, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0]]
    rest = _wrenches(np.array(places).reshape(-1, 3), np.array(forces, float).reshape(-1, 3))
    return pressing, rubbing, rest


def _wrenches(place: Array, force: Array) -> Array:
    return np.concatenate([force, np.cross(place, force)], axis=1).T


def _simplex(matrix: Array, cost: Array, right: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    """min cost.x with matrix x = right_b, x >= 0 for every right side: values (B,), multipliers (B, 6), proved or not.

    Dantzig's rule from an artificial basis that costs BIG; the right sides are moved by 1e-9 so that no two ways tie.
    """
    count, rows = right.shape
    nudge = 1e-9 * np.random.default_rng(1).uniform(0.5, 1.5, (count, rows))
    sign = np.where(right < 0, -1.0, 1.0)
    moved = right + sign * nudge
    inverse = np.zeros((count, rows, rows))
    inverse[:, np.arange(rows), np.arange(rows)] = sign
    x, price = np.abs(moved), np.full((count, rows), BIG)
    basis = np.full((count, rows), -1)
    alive, stuck = np.arange(count), np.zeros(count, bool)
    for _ in range(150):
        y = np.einsum("bi,bij->bj", price[alive], inverse[alive])
        reduced = cost - y @ matrix
        enter = reduced.argmin(axis=1)
        going = reduced[np.arange(len(alive)), enter] < -1e-9
        alive, enter = alive[going], enter[going]
        if not len(alive):
            break
        here, at = np.arange(len(alive)), x[alive]
        way = np.einsum("bij,jb->bi", inverse[alive], matrix[:, enter])
        ratio = np.where(way > 1e-10, at / np.where(way > 1e-10, way, 1.0), np.inf)
        leave = ratio.argmin(axis=1)
        step = ratio[here, leave]
        free = np.isfinite(step)
        stuck[alive[~free]] = True
        alive, enter, here = alive[free], enter[free], here[free]
        way, leave, step = way[here], leave[here], step[here]
        here = np.arange(len(alive))
        pivot = way[here, leave]
        row = inverse[alive, leave] / pivot[:, None]
        inverse[alive] -= way[:, :, None] * row[:, None, :]
        inverse[alive, leave] = row
        x[alive] -= step[:, None] * way
        x[alive, leave] = step
        price[alive, leave], basis[alive, leave] = cost[enter], enter
    y = np.einsum("bi,bij->bj", price, inverse)
    value = np.einsum("bi,bi->b", y, right)
    gathered = np.where(basis[:, :, None] >= 0, matrix.T[basis], 0.0)
    missed = np.abs(np.einsum("bij,bi->bj", gathered, x) - moved).max(axis=1)
    artificial = (np.where(basis < 0, x, 0.0)).max(axis=1)
    dual = (cost - y @ matrix).min(axis=1)
    primal = np.einsum("bi,bi->b", np.where(basis < 0, 0.0, price), x)
    proved = ~stuck & (missed < PROOF) & (artificial < PROOF) & (dual > -PROOF) & (x.min(axis=1) > -PROOF)
    proved &= np.abs(primal - value) < 1e-4 * np.maximum(value, 1.0)
    return value, y, proved
