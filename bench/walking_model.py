"""A rigid part on elastic jaws with Coulomb friction that remembers: does a turning load make it creep?

Written apart from ``heldtrue.mechanics.holding``, which knows limits only and no springs.  Every contact point has a
normal spring that only pushes, and a tangential spring that slides when it would carry more than friction allows
(return mapping: the spring keeps what it carried, the point moves on).  Each jaw stands on a radial spring on one
common actuator, so the jaws share the force anew as the load turns and its sum stays the grip.

Units mm, N, rad.  Movement of the part ``q``: shape (D,), (x, y, z) and turning about (x, y, z) times the grip radius
[mm], about mid grip, then the radial movement of each jaw towards the part [mm].
References: return mapping of Coulomb friction, P. Wriggers, Computational Contact Mechanics (from memory); shakedown
with friction, A. Klarbring, M. Ciavarella, J. R. Barber, "Shakedown in elastic contact problems with Coulomb
friction", Int. J. Solids Structures 44 (2007) (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

DRAG = 1e-4
"""Share of the elastic stiffness that resists each step's movement: none at rest, and a part let go stays finite."""
LET_GO = 1e-3
"""A step in which that drag carries more than this share of the heaviest load so far is a part that has let go."""
TOLERANCE = 1e-8
"""Force left out of balance after a step, of the grip."""
MOST_ROUNDS, MOST_HALVES = 60, 5


@dataclass(frozen=True)
class Springs:
    """Contact points and what stands behind them.

    ``rows``: shape (P, 3, D), what a unit of each movement does to a point: pressed together, slid one way, slid the
    other; ``normal``, ``tangential`` stiffness [N/mm], ``friction`` and ``rest`` (share of the grip that presses the
    point before any load), shape (P,); ``behind``: stiffness between the movements themselves, shape (D, D) [N/mm].
    """

    rows: Array
    normal: Array
    tangential: Array
    friction: Array
    rest: Array
    behind: Array

    def local(self, moved: Array) -> Array:
        """How far movements (B, D) press and slide every point, shape (B, P, 3). [mm]"""
        return (moved @ self.rows.reshape(-1, moved.shape[1]).T).reshape(len(moved), -1, 3)

    def forces(self, moved: Array, slid: Array, grip: Array, soft: Array) -> tuple[Array, Array, Array]:
        """Normal force (B, P), friction (B, P, 2) and their stiffness (B, P, 3, 3) at movements (B, D). [N, N/mm]

        ``slid``: where each tangential spring stands, shape (B, P, 2) [mm]; ``grip`` (B,) [N]; ``soft`` (B,): share
        of the tangential stiffness.
        """
        local = self.local(moved)
        pressed = grip[:, None] * self.rest + self.normal * local[:, :, 0]
        touching = pressed > 0
        normal = np.where(touching, pressed, 0.0)
        tangential = soft[:, None] * self.tangential
        trial = tangential[:, :, None] * (local[:, :, 1:] - slid)
        size = np.linalg.norm(trial, axis=2)
        bound = self.friction * normal
        sliding = size > bound
        way = trial / np.maximum(size, 1e-300)[:, :, None]
        share = np.where(sliding, bound / np.maximum(size, 1e-300), 1.0)
        stiffness = np.zeros((*size.shape, 3, 3))
        stiffness[:, :, 0, 0] = self.normal * touching
        stiffness[:, :, 1:, 0] = (self.friction * self.normal * touching * sliding)[:, :, None] * way
        across = np.eye(2) - sliding[:, :, None, None] * way[:, :, :, None] * way[:, :, None, :]
        stiffness[:, :, 1:, 1:] = (tangential * share)[:, :, None, None] * across
        return normal, trial * share[:, :, None], stiffness

    def pulled(self, normal: Array, friction: Array) -> Array:
        """What the contact forces answer on each movement, shape (B, D). [N]"""
        both = np.concatenate([normal[:, :, None], friction], axis=2)
        return both.reshape(len(both), -1) @ self.rows.reshape(-1, self.rows.shape[2])

    def gathered(self, stiffness: Array) -> Array:
        """Stiffness of all points and what is behind them against each movement, shape (B, D, D). [N/mm]"""
        flat = self.rows.reshape(-1, self.rows.shape[2])
        return flat.T @ (stiffness @ self.rows).reshape(len(stiffness), *flat.shape) + self.behind


@dataclass(frozen=True)
class Walk:
    """What a path of loads did to B cases.

    ``moved``: shape (T, B, D), after every step [mm]; ``lost``: work lost to friction in every step, (T, B) [N mm];
    both NaN from the step in which a part lets go.  ``let_go``: that step, T where there is none, shape (B,).
    ``normal`` (B, P), ``friction`` (B, P, 2): contact forces at the end, or before letting go [N].
    """

    moved: Array
    lost: Array
    let_go: NDArray[np.int64]
    normal: Array
    friction: Array


def walk(springs: Springs, path: Array, grip: Sequence[float], soft: Sequence[float]) -> Walk:
    """Take B cases along one path of loads each, or all along the same.

    ``path``: shape (T, B, D) or (T, D), load on each movement [N]; ``grip`` [N] and ``soft`` (share of the tangential
    stiffness), shape (B,).  A part lets go in the first step that finds no balance but by a great movement.
    """
    grips, softs = np.asarray(grip, float), np.asarray(soft, float)
    cases, points, size = len(grips), len(springs.rows), path.shape[-1]
    loads = path if path.ndim == 3 else np.repeat(path[:, None], cases, axis=1)
    moved, slid = np.zeros((cases, size)), np.zeros((cases, points, 2))
    normal, friction, stiffness = springs.forces(moved, slid, grips, softs)
    rest = springs.pulled(normal, friction)
    drag = DRAG * np.diagonal(springs.gathered(stiffness), axis1=1, axis2=2)
    done = Walk(
        np.full((len(path), cases, size), np.nan), np.full((len(path), cases), np.nan),
        np.full(cases, len(path)), normal, friction,
    )  # fmt: skip
    held, heaviest = np.arange(cases), np.maximum.accumulate(np.abs(loads).max(axis=2), axis=0)
    for t, load in enumerate(loads):
        before = moved[held]
        after, left = _balance(springs, (rest + load)[held], before, slid[held], grips[held], softs[held], drag[held])
        dragged = np.abs(drag[held] * (after - before)).max(axis=1)
        stays = (dragged <= LET_GO * heaviest[t, held]) & (left <= TOLERANCE)
        done.let_go[held[~stays]] = t
        held, after = held[stays], after[stays]
        if not len(held):
            break
        normal, friction, _ = springs.forces(after, slid[held], grips[held], softs[held])
        slip = springs.local(after)[:, :, 1:] - slid[held]
        slip -= friction / (softs[held, None] * springs.tangential)[:, :, None]
        done.moved[t, held], done.lost[t, held] = after, (friction * slip).sum(axis=(1, 2))
        done.normal[held], done.friction[held] = normal, friction
        moved[held] = after
        slid[held] += slip
    return done


def _balance(
    springs: Springs, load: Array, before: Array, slid: Array, grip: Array, soft: Array, drag: Array
) -> tuple[Array, Array]:
    """Movements (B, D) at which the contact forces carry the load, and what is left over, of the grip (B,).

    Newton's method, each case by itself, its way halved while that leaves less out of balance.
    """

    def out_of_balance(moved: Array, of: NDArray[np.int64]) -> tuple[Array, Array]:
        normal, friction, stiffness = springs.forces(moved, slid[of], grip[of], soft[of])
        left = load[of] - springs.pulled(normal, friction) - moved @ springs.behind - drag[of] * (moved - before[of])
        return left, stiffness

    found, open_ = before.copy(), np.arange(len(before))
    left, stiffness = out_of_balance(found, open_)
    share = np.abs(left).max(axis=1) / grip
    for _ in range(MOST_ROUNDS):
        still = share[open_] > TOLERANCE
        if not still.any():
            break
        open_, left, stiffness = open_[still], left[still], stiffness[still]
        matrix = springs.gathered(stiffness)
        matrix[:, range(left.shape[1]), range(left.shape[1])] += drag[open_]
        way = np.linalg.solve(matrix, left[:, :, None])[:, :, 0]
        size, start, length = np.linalg.norm(left, axis=1), found[open_], np.ones(len(open_))
        best, best_size = start, np.full(len(open_), np.inf)
        for _ in range(MOST_HALVES):
            tried = start + length[:, None] * way
            tried_left, tried_stiffness = out_of_balance(tried, open_)
            tried_size = np.linalg.norm(tried_left, axis=1)
            better = tried_size < best_size
            best = np.where(better[:, None], tried, best)
            left = np.where(better[:, None], tried_left, left)
            stiffness = np.where(better[:, None, None, None], tried_stiffness, stiffness)
            best_size = np.where(better, tried_size, best_size)
            if (best_size < size).all():
                break
            length = np.where(best_size < size, length, length / 2)
        found[open_] = best
        share[open_] = np.abs(left).max(axis=1) / grip[open_]
    return found, share


def in_jaws(
    points: Array, radius: float, inside: bool, jaws: int, friction: float, seat: Array,
    *, actuator: float, face: float, tangential: float,
) -> Springs:  # fmt: skip
    """Springs of a part in a chuck.

    ``points``: shape (P, 3), jaw by jaw, as many on each [mm], z from mid grip; ``seat``: shape (S, 3), points where
    the part stands on its stop, without friction, or none; per jaw: ``actuator`` behind it, ``face`` between it and
    the part, both radially, ``tangential`` round and along [N/mm].  A seat point is as stiff as a point of a face.
    """
    each = len(points) // jaws
    out = points * [1.0, 1.0, 0.0] / radius
    along = np.tile([0.0, 0.0, 1.0], (len(points), 1))
    round_ = np.cross(along, out)
    press = out if inside else -out
    rows = np.zeros((len(points) + len(seat), 3, 6 + jaws))
    for k, (unit, sign) in enumerate(((press, -1.0), (round_, 1.0), (along, 1.0))):
        rows[: len(points), k, :6] = sign * np.hstack([unit, np.cross(points, unit) / radius])
    rows[np.arange(len(points)), 0, 6 + np.arange(len(points)) // each] = 1.0
    if len(seat):
        up = np.tile([0.0, 0.0, 1.0], (len(seat), 1))
        rows[len(points) :, 0, :6] = -np.hstack([up, np.cross(seat, up) / radius])
    behind = np.zeros((6 + jaws, 6 + jaws))
    behind[6:, 6:] = actuator * (np.eye(jaws) - 1 / jaws)  # the actuator itself floats: the sum of the jaws is the grip
    held = np.arange(len(rows)) < len(points)
    return Springs(
        rows,
        np.full(len(rows), face / each),
        np.full(len(rows), tangential / each),
        np.where(held, friction, 0.0),
        np.where(held, 1 / len(points), 0.0),
        behind,
    )


def turning(wrench: Array, jaws: int, turns: int, steps: int, ramp: int) -> Array:
    """Path of a load that turns against the jaws, grown over the first ``ramp`` turns; shape (turns * steps, D).

    ``wrench``: (Fx, Fy, Fz, Mx, My, Mz) with the tool at jaw 1, moments over the grip radius [N].  The tool pushes the
    part against its turning, -y at +x, so the part turns with +z and the tool goes the other way round the jaws.
    """
    angle = -2 * np.pi * np.arange(1, turns * steps + 1) / steps
    size = np.minimum(np.arange(1, turns * steps + 1) / (steps * ramp), 1.0)
    return size[:, None] * turned(wrench, angle, jaws)


def turned(wrench: Array, angle: Array, jaws: int) -> Array:
    """A load with the tool at each ``angle`` [rad] from jaw 1, shape (T, D). [N]"""
    c, s = np.cos(angle), np.sin(angle)
    path = np.zeros((len(angle), 6 + jaws))
    for k in (0, 3):
        path[:, k] = c * wrench[k] - s * wrench[k + 1]
        path[:, k + 1] = s * wrench[k] + c * wrench[k + 1]
        path[:, k + 2] = wrench[k + 2]
    return path
