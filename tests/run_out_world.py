"""Parts in jaws with known faults, read as a setter reads them.  Written apart from the program, on purpose.

A part is a closed curve of radii; jaws, seat and spindle move it; the indicator reads the distance of the nearest point
of that curve, place by place, with everything that goes wrong by a little.  Lengths mm inside, micrometres where said.
"""

from dataclasses import dataclass, field, replace

import numpy as np

UM = 1e-3
RADIUS = 40.0
CAUSES = ("jaws", "part", "clamp", "seat or chip", "spindle or measuring", "cut")


@dataclass
class Fault:
    """Waves of one cause: (order, size [mm amplitude], where its high spot is [rad], grows along the part)."""

    waves: list = field(default_factory=list)

    def at(self, angle, z, along=0.0):
        """Radial deviation [mm]; ``along``: how much lobes fall off 60 mm further out."""
        total = np.zeros_like(angle)
        for order, size, high, grows in self.waves:
            fall = z / 60.0 if grows else (1.0 - along * (z - 40.0) / 60.0 if order > 1 else 1.0)
            total = total + fall * size * np.cos(order * (angle - high))
        return total


@dataclass
class Ask:
    """One trace that is asked for."""

    planes: tuple = (40.0,)
    turned: float = 0.0
    state: str = "clamped"
    share: float = 1.0  # of the pressure
    places: int = 12


@dataclass
class Reading:
    """What the setter wrote down."""

    angle: np.ndarray
    value: np.ndarray
    z: np.ndarray
    ask: Ask


class RunOutWorld:
    """One part in one chuck.  ``main`` is the cause that dominates, ``size`` [um] of run-out; the others make up to 3.

    ``scatter``: of the centre from clamping to clamping [um], drawn if left out.
    """

    def __init__(self, rng, main=None, jaws=3, others=3.0, slips=0.0, size=(10.0, 40.0), scatter=None):
        self.rng, self.jaws = rng, jaws
        self.main = main if main is not None else str(rng.choice(CAUSES))
        # Lobes of this cut are of this clamping, and what a part brings along is not.
        self.turned_here = {"cut": True, "part": False}.get(self.main, bool(rng.random() < 0.5))
        self.noise = rng.uniform(0.4, 1.0) * UM
        self.dial = 1.0 * UM
        self.scatter, self.lean = rng.uniform(0.2, 2.0) * UM, rng.uniform(0.1, 1.0) * UM
        if scatter is not None:
            self.scatter = scatter * UM
        self.law, self.along = rng.uniform(0.8, 1.2), rng.uniform(-0.15, 0.3)
        self.start_error, self.turn_error = np.radians(1.5), np.radians(2.0)
        self.gross = 0.04
        self.slips = slips
        self.slip = None
        self.faults = {
            c: self._fault(c, rng.uniform(*size) if c == self.main else rng.uniform(0, others)) for c in CAUSES
        }
        self.contribution, self.once = dict.fromkeys(CAUSES, 0.0), 0.0

    def _order(self, low, high):
        orders = np.arange(low, high + 1)
        return int(self.rng.choice(orders, p=(1 / orders) / (1 / orders).sum()))

    def _fault(self, cause, tir):
        rng, size = self.rng, 0.5 * tir * UM
        high = rng.uniform(-np.pi, np.pi)
        if cause == "jaws":
            return Fault([(1, size, high, False)])
        if cause == "seat or chip":
            return Fault([(1, size, high, True)])
        if cause == "clamp":
            order = self.jaws * (1 if rng.random() < 0.85 else 2)
            step = rng.normal(0, np.radians(8)) / order + (np.pi / order if rng.random() < 0.5 else 0.0)
            return Fault([(order, size, step, False)])
        if cause == "cut":
            return Fault([(self.jaws * (1 if rng.random() < 0.85 else 2), size, high, False)])
        if cause == "spindle or measuring":
            return Fault([(self._order(2, 7), size, high, False)])
        kind = rng.random()
        if kind < 0.6:
            return Fault([(1, size, high, False)])
        if kind < 0.75:
            return Fault([(1, size, high, True)])
        return Fault([(self._order(2, 7), size, high, False)])

    def read(self, ask, first):
        """One trace; ``first``: of this part."""
        rng = self.rng
        turned = ask.turned + (0.0 if first else rng.normal(0, self.turn_error))
        backwards = False
        if not first and rng.random() < self.slips:
            self.slip = "reversed" if rng.random() < 0.5 or not ask.turned else "not turned"
        if not first and self.slip == "not turned" and ask.turned:
            turned = 0.0
        if not first and self.slip == "reversed":
            backwards = True
        centre = rng.normal(0, self.scatter, 2)
        lean = rng.normal(0, self.lean, 2)
        laid = rng.normal(0, 30 * UM, 2)
        angles, values, places = [], [], []
        for z in ask.planes:
            said = 2 * np.pi * np.arange(ask.places) / ask.places
            true = said + rng.normal(0, self.start_error)
            if backwards:
                true = -true
            pieces = self._pieces(true, z, turned, ask)
            if ask.state == "clamped":
                for name in CAUSES:
                    self.contribution[name] = max(self.contribution[name], self._swing(name, z, turned, ask))
                move = centre + lean * z / 60.0
            else:
                if ask.state == "free":
                    for name in ("clamp", "part", "cut"):
                        self.contribution[name] = max(self.contribution[name], self._swing(name, z, turned, ask))
                move = laid + rng.normal(0, 10 * UM, 2)
            total = sum(pieces.values()) + move[0] * np.cos(true) + move[1] * np.sin(true)
            # A circle that stands off its axis reads a little more than its offset's projection, by geometry.
            total = total - (move[0] * np.sin(true) - move[1] * np.cos(true)) ** 2 / (2 * RADIUS)
            value = total + rng.normal(0, self.noise, ask.places) + rng.uniform(-0.05, 0.05)
            if rng.random() < self.gross:
                value[rng.integers(ask.places)] += rng.choice([-1, 1]) * rng.uniform(15, 60) * UM
            angles.append(said)
            values.append(np.round(value / self.dial) * self.dial)
            places.append(np.full(ask.places, z))
        return Reading(np.concatenate(angles), np.concatenate(values), np.concatenate(places), ask)

    def _pieces(self, angle, z, turned, ask):
        part = angle - turned
        held, here = ask.state == "clamped", self.turned_here
        pressed = ask.share**self.law if held else 0.0
        found = dict.fromkeys(CAUSES, np.zeros_like(angle))
        if ask.state != "spindle":
            found["part"] = self.faults["part"].at(part, z, 0.5 * self.along)
            found["cut"] = self.faults["cut"].at(part, z, 0.2 * self.along)
            clamp = self.faults["clamp"]
            found["clamp"] = pressed * clamp.at(angle, z, self.along) - (clamp.at(part, z, self.along) if here else 0.0)
        if held:
            found["jaws"], found["seat or chip"] = (
                self.faults["jaws"].at(angle, z),
                self.faults["seat or chip"].at(angle, z),
            )
        if ask.state != "free":
            found["spindle or measuring"] = self.faults["spindle or measuring"].at(angle, z)
        return found

    def _swing(self, name, z, turned, ask):
        fine = np.linspace(0, 2 * np.pi, 361)
        if name == "clamp":
            self.once = max(self.once, float(np.ptp(self.faults["clamp"].at(fine, z, self.along))))
        return float(np.ptp(self._pieces(fine, z, turned, ask)[name]))

    def truth(self):
        """The cause that shows most in what was read, and how large each is [mm].

        A clamp that acts on a part it was cut round in shows twice once the part is turned: its size is that of one.
        """
        sizes = dict(self.contribution)
        if sizes["clamp"] > 0.0:
            sizes["clamp"] = self.once
        return max(self.contribution, key=self.contribution.get), sizes


HALF, MORE = np.pi, np.radians(108)
TWO = (20.0, 60.0)
PLANS = {
    "one plane": [Ask()],
    "two planes": [Ask(TWO)],
    "clamped again": [Ask(TWO), Ask(TWO)],
    "turned 180, one plane": [Ask(), Ask(turned=HALF)],
    "turned 180, two planes": [Ask(TWO), Ask(TWO, HALF)],
    "turned 108, two planes": [Ask(TWO), Ask(TWO, MORE)],
    "clamped and free": [Ask(), Ask(state="free")],
    "turned 180 and free": [Ask(TWO), Ask(TWO, HALF), Ask(TWO, state="free")],
    "turned 108, half the pressure": [Ask(TWO), Ask(TWO, MORE, share=0.5)],
    "the same, and where it was turned": [Ask(TWO), Ask(TWO, MORE, share=0.5)],
    "0, 108 and 216": [Ask(TWO), Ask(TWO, MORE), Ask(TWO, 2 * MORE)],
    "0, 108 and 216, and free": [Ask(TWO), Ask(TWO, MORE), Ask(TWO, 2 * MORE), Ask(TWO, state="free")],
    "turned 108, half the pressure, and a test bar": [Ask(TWO), Ask(TWO, MORE, share=0.5), Ask(TWO, state="spindle")],
}
ASKED = ("the same, and where it was turned",)
"""Plans in which the setter also said where the surface was turned."""


def readings_of(world, plan):
    """All traces of a plan, in order; a second reading at the same turn is clamped anew."""
    return read_all(world, PLANS[plan])


def read_all(world, asks):
    """All traces that are asked for, in order."""
    return [world.read(replace(ask), k == 0) for k, ask in enumerate(asks)]


def every_other_place(reading):
    """The same with half the places round, as if nobody had read those between."""
    kept = np.round(reading.angle * reading.ask.places / (2 * np.pi)).astype(int) % 2 == 0
    ask = replace(reading.ask, places=reading.ask.places // 2)
    return Reading(reading.angle[kept], reading.value[kept], reading.z[kept], ask)
