"""Even radial grip of an expanding mandrel or a collet: what it does to the part, and what it carries.

A pressure that is the same all round excites only harmonic 0: no lobes.  The part gets larger or smaller, more so where
its wall is thinner or where the grip ends: that is size and taper.  Two ways of pressing along the part bracket what a
tool can do: the same pressure everywhere (a sleeve under oil), and the same movement everywhere (stiff segments on a
taper).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.holding import Wrench
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.stress import von_mises
from heldtrue.mechanics.turned_body import TurnedBody

Array = NDArray[np.float64]

PER_BAND = 9
"""Points along each band at which the gripped surface itself is looked at."""
SIDE_SHARE = 2 / pi
"""Share of the friction of an even grip that can stand against a side force: mean of |sin t| round the part."""


@dataclass(frozen=True)
class EvenPressing:
    """What 1 N of total radial grip does, for two ways of pressing: same pressure, then same movement.

    ``movement``: u_r, u_z at each point asked for, shape (2, P, 2) [mm/N]; ``stress``: largest von Mises stress, shape
    (2,) [MPa/N]; ``pressure``: on each band, shape (2, bands) [MPa/N].
    """

    movement: Array
    stress: Array
    pressure: Array


def pressed_evenly(body: TurnedBody, stations: Stations, points: ArrayLike) -> EvenPressing:
    """A part under 1 N of total radial grip (sum of the normal forces) on the bands of ``stations``.

    ``points``: (r, z) looked at [mm].  Raises: ``GeometryError`` for bands or points off the part.

    >>> from heldtrue.mechanics.closed_form import lame_tube
    >>> ring = TurnedBody([(36, 0), (40, 0), (40, 20), (36, 20)], young=70_000.0, poisson=0.33)
    >>> found = pressed_evenly(ring, Stations("outside", 40.0, (0.0, 10.0, 20.0)), [(36.0, 10.0)])
    >>> pressure = 1 / (2 * pi * 40 * 20)
    >>> exact = lame_tube(36, 40, 36, young=70_000.0, poisson=0.33, external=pressure).displacement
    >>> bool(abs(found.movement[0, 0, 0] / exact - 1) < 1e-6)
    True
    """
    asked = np.asarray(points, float).reshape(-1, 2)
    along = np.array([np.linspace(low, high, PER_BAND) for low, high in stations.bands])
    gripped = np.column_stack([np.full(along.size, stations.radius), along.ravel()])
    response = body.respond(stations, 2, np.vstack([asked, gripped]), harmonics=1)
    weights = 2 * pi * stations.areas
    shapes = np.array([np.ones(len(weights)), _same_movement(response.compliance[0])])
    shapes /= (shapes @ weights)[:, None]
    moved = np.einsum("sm,mpc->spc", shapes, response.probes[0])[:, :, [0, 2]]
    free = np.einsum("sm,mqc->sqc", shapes, response.stress[0])
    on_free = von_mises(free).max(axis=1) if free.shape[1] else np.zeros(len(shapes))
    under = np.array([_under_grip(body, stations.radius, along, moved[i, len(asked) :], shapes[i]) for i in range(2)])
    return EvenPressing(moved[:, : len(asked)], np.maximum(on_free, under), shapes)


def _same_movement(compliance: Array) -> Array:
    """Pressures >= 0 under which every band that is pressed moves alike."""
    pressed = np.ones(len(compliance), bool)
    while True:
        found = np.zeros(len(compliance))
        found[pressed] = np.linalg.solve(compliance[np.ix_(pressed, pressed)], np.ones(int(pressed.sum())))
        if not (found < 0).any():
            return found
        pressed &= found > 0


def _under_grip(body: TurnedBody, radius: float, along: Array, moved: Array, pressure: Array) -> float:
    """Largest von Mises stress on the gripped surface: hoop and axial strain measured there, pressure on it. [MPa/N]

    Hooke's law with the stress through the surface known: s_t = E (e_t + nu e_z)/(1 - nu**2) - nu p/(1 - nu).
    """
    u = moved.reshape(*along.shape, 2)
    hoop = u[:, :, 0] / radius
    axial = np.array([np.gradient(row, z) for row, z in zip(u[:, :, 1], along, strict=True)])
    nu, plane = body.poisson, body.young / (1 - body.poisson**2)
    through = -np.repeat(pressure[:, None], along.shape[1], axis=1)
    direct = [through, plane * (hoop + nu * axial) + nu / (1 - nu) * through,
              plane * (axial + nu * hoop) + nu / (1 - nu) * through]  # fmt: skip
    return float(von_mises(np.stack([*direct, *[np.zeros_like(hoop)] * 3], axis=-1)).max())


def grip_when_even(load: Wrench, middle: float, radius: float, friction: float, *, stopped: bool = False) -> float:
    """Total radial grip [N] that carries a load when the pressure stays even, whatever pushes: no safety in it.

    A sleeve under oil cannot press harder on one side, so friction alone carries side force and tilting moment.  Shear
    round the part takes torque and side force, shear along it thrust and tilting moment M (about mid grip):

        mu N >= sqrt((|T|/R + pi/2 F)**2 + (|Fz| + pi/2 M/R)**2)

    Shear of one size with the sign of sin t gives 2/pi of it as force, or times R as moment; sizes are added where they
    meet.  These stresses balance the load and stay within friction, so the true grip needed is no more (lower-bound
    theorem; own derivation).  ``middle``, ``radius`` of the grip [mm]; ``stopped``: a stop takes thrust to the chuck.
    """
    fx, fy, fz, mx, my, mz = load.about(middle, 1.0)
    thrust = max(fz, 0.0) if stopped else abs(fz)
    round_ = abs(mz) / radius + hypot(fx, fy) / SIDE_SHARE
    along = thrust + hypot(mx, my) / radius / SIDE_SHARE
    return float(hypot(round_, along) / friction)


def collapse_pressure(wall: float, radius: float, young: float, poisson: float, *, contained: bool) -> float:
    """Outside pressure at which a thin ring falls in, ``radius`` outside, ``wall`` [mm]. [MPa]

    Free to bulge (a sleeve under oil): E t**3 / (4 R**3), S. P. Timoshenko and J. M. Gere, Theory of Elastic Stability,
    for a ring (from memory).  ``contained`` in a stiff round tool: E/(1 - nu**2) (t/D)**2.2, D. Glock, Der Stahlbau
    46 (1977), 212-217, for a liner in a rigid pipe (from memory).  A ring so contained has no sharp limit: it needs a
    disturbance, and the less the harder it is pressed, so ask for a factor on it.
    """
    if not 0 < wall <= radius:
        raise GeometryError(f"a wall of {wall:g} mm does not fit a radius of {radius:g} mm")
    if contained:
        return float(young / (1 - poisson**2) * (wall / (2 * radius)) ** 2.2)
    return young * wall**3 / (4 * radius**3)


def wall_behind(corners: Sequence[tuple[float, float]], side: str, radius: float, z: tuple[float, float]) -> float:
    """Thinnest wall behind a cylinder between two positions, through the metal along the radius. [mm]"""
    marks = sorted({z[0], z[1], *(c[1] for c in corners if z[0] < c[1] < z[1])})
    shift = 1e-6 * (z[1] - z[0])
    sections = [at for low, high in pairwise(marks) for at in (low + shift, high - shift)]
    return min(_wall_at(corners, side, radius, at) for at in sections)


def _wall_at(corners: Sequence[tuple[float, float]], side: str, radius: float, z: float) -> float:
    ends = zip(corners, (*corners[1:], corners[0]), strict=True)
    crossed = [a[0] + (b[0] - a[0]) * (z - a[1]) / (b[1] - a[1]) for a, b in ends if (a[1] - z) * (b[1] - z) < 0]
    if side == "outside":
        return min((radius - r for r in crossed if r < radius - 1e-6), default=radius)
    return min((r - radius for r in crossed if r > radius + 1e-6), default=0.0)
