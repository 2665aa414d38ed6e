"""Does a load let go, with every input at any value: a margin made of few motions, checked by the exact program.

The force of a cut is a sum of terms, each a product of inputs (``Terms``).  The grip that a load needs is at least its
power on a motion over what a newton of grip resists on that motion, whichever it is, and equal to it for the motion in
which the part gives way.  Motions are added where the exact program asks for more than those known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.holding import Grip, Wrench, limit_at
from heldtrue.planning.holds import ANGLES, HeldLoad, Holds, turned_loads
from heldtrue.planning.inputs import Job
from heldtrue.planning.loads import SPIN_UP, is_interrupted, loads_of

Array = NDArray[np.float64]
Values = Mapping[str, Array]

INPUTS = ("friction", "grip share", "threshold", "gauge error", "piston area", "wear", "interruption", "cutting data",
          "jaw moment", "off centre", "spin-up", "part mass")  # fmt: skip
FRICTIONS = np.geomspace(0.005, 2.0, 121)
"""Friction at which the resistance of a motion is worked out; straight between them it comes out too high by under
1e-3 where two points of a jaw change over, and exactly elsewhere."""
ROUNDS, SETTLED = 6, 0.01
"""Motions are added until the exact program asks for no more than this share above the estimate."""
SOLVED, NEAREST = 3, 4
"""Of one point the cases solved exactly; points near the edge at which the exact program is asked."""
UNHELD = 1e15
"""Stands for the grip that a motion needs which no grip resists. [N]"""


@dataclass(frozen=True)
class Terms:
    """Every case of one load at every angle of the tool, as terms about mid grip in radii, each shape (cases, 6).

    wrench = kc x interruption x (cut + wear x worn) + mass x (weight + off-centre x unbalance) + mass / time x spin.
    ``speed``: spindle speed of each, shape (cases,) [rev/min].
    """

    cut: Array
    worn: Array
    weight: Array
    unbalance: Array
    spin: Array
    speed: Array
    interrupted: bool

    def factors(self, values: Values) -> tuple[Array, ...]:
        """What each term is multiplied with, each shape (n,)."""
        force = values["cutting data"] * (values["interruption"] if self.interrupted else 1.0)
        mass = values["part mass"]
        return force, force * values["wear"], mass, mass * values["off centre"], mass / values["spin-up"]

    @property
    def all(self) -> tuple[Array, ...]:
        """The terms in the order of their factors."""
        return self.cut, self.worn, self.weight, self.unbalance, self.spin

    def wrench(self, case: int, values: Values, point: int) -> Array:
        """The wrench of one case with the inputs of one point, shape (6,)."""
        factors = self.factors(values)
        return np.asarray(sum(float(f[point]) * term[case] for f, term in zip(factors, self.all, strict=True)))


def terms_of(holds: Holds, name: str, spindle: float, grip: Grip) -> Terms:
    """The terms of a load by name, from its wrenches at values that single each of them out."""
    job, wear = holds.job, holds.job.known["wear"]
    start = {**holds.worst, "wear": wear.high, "off centre": 0.0}
    kc, mass, time = start["cutting data"], start["part mass"], start["spin-up"]
    turns = 2 * pi / grip.jaws * np.arange(ANGLES) / ANGLES

    def at(changed: Mapping[str, float]) -> Array:
        found = loads_of(job, name, {**start, **changed}, spindle)
        return turned_loads([load.wrench for load in found], turns, grip)

    whole = at({})
    worn = (whole - at({"wear": wear.low})) / (wear.high - wear.low) if wear.is_open else np.zeros_like(whole)
    heavier = at({"part mass": 2 * mass}) - whole
    spin = (whole - at({"spin-up": 2 * time})) * 2 * time / mass
    interrupted = (
        name != SPIN_UP and is_interrupted(job, next(c for c in job.setup.cuts if c.name == name)) is not False
    )
    force = kc * (start["interruption"] if interrupted else 1.0)
    speeds = [load.speed_rpm for load in loads_of(job, name, start, spindle)]
    return Terms((whole - heavier - wear.high * worn) / force, worn / force, heavier / mass - spin / time,
                 (at({"off centre": 1.0}) - whole) / mass, spin, np.repeat(speeds, ANGLES), interrupted)  # fmt: skip


def static_grip(job: Job, values: Values, pressure: float) -> Array:
    """Total grip at rest at a gauge pressure [MPa], never below nothing, shape (n,). [N]"""
    there = pressure + values["gauge error"] - values["threshold"]
    return np.asarray(np.maximum(job.slope(values) * there, 0.0))


class HoldState:
    """One load: does the grip that is left at speed carry it?

    ``tried``: values of the inputs at some points, among which the first are likely ones.
    """

    def __init__(self, holds: Holds, held: HeldLoad, pressure: float, spindle: float, tried: Values) -> None:
        self.holds, self.pressure, self._tried = holds, pressure, tried
        self._seat = holds.worst["seat"] > 0
        self._grip = holds.grip(holds.worst["friction"], self._seat)
        self.terms = terms_of(holds, held.name, spindle, self._grip)
        motions = [case.limit.motion for case in (held.published, held.worst) if case.limit.motion]
        self._motions = np.array(motions).reshape(-1, 6)
        self._tables: dict[int, Array] = {}
        self._pull = holds.lost({"jaw moment": 1.0}, 1.0)
        """What speed takes off the grip at 1 rev/min and a jaw moment of 1: nothing inside. [N]"""
        self.size = 1.0
        self._pieces: tuple[NDArray[np.int64], NDArray[np.int64]] = (np.zeros(0, int), np.zeros(0, int))
        if len(self._motions):
            self.size = max(float(np.median(static_grip(holds.job, tried, pressure))), 1.0)
            self._settle()

    @property
    def is_tried(self) -> bool:
        """Does the load try the grip at all?"""
        return len(self._motions) > 0

    def margin(self, values: Values) -> Array:
        """Grip at rest less what speed takes and what the load needs, over the usual grip, shape (n,)."""
        if not self.is_tried:
            return np.ones(len(values["friction"]))
        cases, motions = self._pieces
        resisted = {motion: self._resists(motion, values["friction"]) for motion in set(motions.tolist())}
        factors = self.terms.factors(values)
        grip = static_grip(self.holds.job, values, self.pressure)
        pull = values["jaw moment"] * self._pull
        least = np.full(grip.shape, inf)
        for case, motion in zip(cases.tolist(), motions.tolist(), strict=True):
            power = sum(f * float(term[case] @ self._motions[motion]) for f, term in
                        zip(factors, self.terms.all, strict=True))  # fmt: skip
            needs = _needs(np.asarray(power), resisted[motion])
            np.minimum(least, grip - pull * float(self.terms.speed[case]) ** 2 - needs, out=least)
        return least / self.size

    def _resists(self, motion: int, friction: Array) -> Array:
        """What a newton of grip resists on one motion, by its number."""
        if motion not in self._tables:
            self._tables[motion] = self._grip.resistance(self._motions[motion], FRICTIONS)
        return np.asarray(np.interp(friction, FRICTIONS, self._tables[motion]))

    # Finding the motions

    def _settle(self) -> None:
        """Add motions until the exact program agrees at the likely point and where the margin is least."""
        tried = self._tried
        for _ in range(ROUNDS):
            self._choose(tried)
            margins = self.margin(tried)
            points = dict.fromkeys([0, int(margins.argmin()), int(np.argsort(margins)[len(margins) // 2])])
            if not [one for one in points if self.add_exact(tried, one)]:
                return
        self._choose(tried)

    def sharpen(self, values: Values) -> bool:
        """Hold the points nearest to letting go by the exact program; True where that found other motions."""
        nearest = np.argsort(np.abs(self.margin(values)))[:NEAREST]
        found = [self.add_exact(values, int(point)) for point in nearest]
        if any(found):
            edge = {name: value[nearest] for name, value in values.items()}
            self._tried = {name: np.concatenate([value, edge[name]]) for name, value in self._tried.items()}
            self._choose(self._tried)
        return any(found)

    def _choose(self, tried: Values) -> None:
        """Keep the cases and motions that are the worst at some point."""
        needs = self._every_need(tried) + self._lost(tried)[:, :, None]
        best = np.unique(needs.reshape(len(needs), -1).argmax(axis=1))
        self._pieces = best // len(self._motions), best % len(self._motions)

    def add_exact(self, values: Values, point: int) -> bool:
        """Solve the worst cases of one point exactly; True where one asks for more than the motions known so far."""
        here = {name: value[point : point + 1] for name, value in values.items()}
        grip = self.holds.grip(float(here["friction"][0]), self._seat)
        known = self._every_need(here)[0].max(axis=1)
        found = []
        for case in np.argsort(-(known + self._lost(here)[0]))[:SOLVED]:
            limit = limit_at(grip, _wrench(self.terms.wrench(int(case), here, 0), grip), 0.0)
            needs = 1 / limit.factor if limit.factor > 0 else UNHELD
            if limit.motion and needs > known[case] * (1 + SETTLED) and needs * SETTLED < self.size:
                found.append(limit.motion)
        self._motions = np.vstack([self._motions, *found])
        return bool(found)

    def _every_need(self, values: Values) -> Array:
        """Grip that every case needs on every motion, shape (n, cases, motions). [N]"""
        factors = self.terms.factors(values)
        needs = []
        for number, motion in enumerate(self._motions):
            power = sum(np.multiply.outer(f, term @ motion) for f, term in zip(factors, self.terms.all, strict=True))
            needs.append(_needs(np.asarray(power), self._resists(number, values["friction"])[:, None]))
        return np.stack(needs, axis=-1)

    def _lost(self, values: Values) -> Array:
        """What speed takes off the grip in every case, shape (n, cases). [N]"""
        return np.multiply.outer(values["jaw moment"] * self._pull, self.terms.speed**2)


def _needs(power: Array, resisted: Array) -> Array:
    """Grip that a motion needs: its power over what a newton of grip resists. [N]"""
    held = np.maximum(power, 0.0) / np.maximum(resisted, 1e-12)
    return np.asarray(np.minimum(held, UNHELD))


def _wrench(vector: Array, grip: Grip) -> Wrench:
    """A wrench about mid grip in radii as one about the spindle axis at z = 0."""
    fx, fy, fz, mx, my, mz = (float(v) for v in vector)
    unit, z = grip.radius, grip.middle
    return Wrench((fx, fy, fz), (mx * unit - z * fy, my * unit + z * fx, mz * unit))
