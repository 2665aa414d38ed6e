"""A made world of gauge rings: readings from forces by the rings' own textbook series, apart from the program's code.

The physics is that of a plane ring (Michell's series as ``annulus_unit``), so worlds use narrow rings, on which the
width stiffens nothing.  Lengths mm, forces N, angles rad.
"""

from dataclasses import dataclass
from math import pi

import numpy as np

ORDERS = np.arange(2, 80)


def annulus_unit(n, a, b, young, nu):
    """Radial displacement of the bore for a pressure cos(n t) of 1 MPa on the outside: Michell's series, plane stress.

    The stress function (A r^n + B r^(n+2) + C r^-n + D r^(2-n)) cos n t, with both rims free of shear and the bore free
    of pressure; Timoshenko and Goodier, Theory of Elasticity (from memory).  In u = r / b.
    """
    powers = np.array([n, n + 2, -n, 2 - n], float)

    def rim(u):
        radial = (powers - n * n) * u ** (powers - 2)
        shear = n * (powers - 1) * u ** (powers - 2)
        return radial, shear

    k = a / b
    rows = np.array([*rim(1.0), *rim(k)])
    scale = np.abs(rows).max(axis=0)
    c = np.linalg.solve(rows / scale, [-1.0, 0.0, 0.0, 0.0]) / scale
    shapes = [-n * (1 + nu), 2 - n - nu * (n + 2), n * (1 + nu), n + 2 - nu * (2 - n)]
    return b / young * float(np.sum(c * np.array(shapes) * k ** (powers - 1)))


@dataclass
class World:
    """A ring as it truly is, and where the jaws press on it."""

    inner: float
    outer: float
    width: float
    young: float = 210_000.0
    poisson: float = 0.3

    def __post_init__(self):
        self.waves = np.array([annulus_unit(n, self.inner, self.outer, self.young, self.poisson) for n in ORDERS])

    def moved(self, angles, forces, turns):
        """How far the bore moves out at angles under radial forces at turns."""
        unit = 1 / (pi * self.outer * self.width)
        away = np.asarray(angles)[:, None] - np.asarray(turns)
        return unit * np.einsum("akn,n,k->a", np.cos(away[..., None] * ORDERS), self.waves, np.asarray(forces))


def balanced(rng, jaws, spread):
    """Forces of mean 1 that differ by about ``spread`` and stay in balance."""
    turns = 2 * pi * np.arange(jaws) / jaws
    forces = rng.normal(0, spread, jaws)
    for wave in (np.ones(jaws), np.cos(turns), np.sin(turns)):
        forces -= wave * (forces @ wave) / (wave @ wave)
    return 1 + forces


def rounds(rng, world, jaws, grips, places, division, *, spread=0.0, free=True, roundness=0.005, start=0.035):
    """Readings of a dial, free and at each grip of all jaws: zero, place, start, free shape, scatter and division."""
    turns = 2 * pi * np.arange(jaws) / jaws
    angles = 2 * pi * np.arange(places) / places
    shape = sum(rng.uniform(0, roundness / 6) * np.cos(n * angles + rng.uniform(0, 2 * pi)) for n in range(2, 6))
    pattern = balanced(rng, jaws, spread)
    found = []
    for grip in [*([0.0] if free else []), *grips]:
        at = angles + rng.normal(0, start)
        true = world.moved(at, grip / jaws * pattern, turns) if grip else np.zeros(places)
        true = true + shape + rng.uniform(-0.05, 0.05) + rng.uniform(0, 0.05) * np.cos(angles + rng.uniform(0, 2 * pi))
        read = true + rng.normal(0, 0.3 * division, places)
        # A bore that comes in pushes the plunger in: plus.
        found.append(tuple(float(v) for v in -np.round(read / division) * division))
    return tuple(float(a) for a in angles), found, grips, pattern
