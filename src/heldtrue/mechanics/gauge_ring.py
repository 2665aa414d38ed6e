"""A turned ring as a gauge of grip: what forces round it do to the surface that is read, and the stress they cost.

Forces need not be equal: the answer at angle t to one radial force at 0 is a series of cosines, to one force round the
ring a series of sines,

    u(t) = F sum g_n cos n t + T sum h_n sin n t,    n = 0, 2, 3, ...

with g_n and h_n from the finite elements of the ring (``harmonics``), even over its width.  Order 1 is a shift of the
whole ring: forces in balance leave none, and a dial cannot tell it from the place of the ring.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.contact import JawFace, bore_gap
from heldtrue.mechanics.friction_contact import Load, Pressing, press_each, sheared_compliance
from heldtrue.mechanics.harmonics import Harmonics
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.stations import Stations, graded_edges
from heldtrue.mechanics.turned_body import HarmonicResponse, TurnedBody

Array = NDArray[np.float64]

ORDER = 4
WAVES = 61
"""Orders 0, 2, ... of one force alone: what is left out is below 0.1 % of the lobes (tests/unit/test_gauge_ring.py)."""
JAW_WAVES = 24
SECTORS, BANDS = 8, 6
STRESS_ANGLES = 25


@dataclass(frozen=True)
class Ring:
    """A ring with a rectangular section. [mm, MPa]

    ``side``: of the grip: "outside", jaws press inwards on ``outer`` and the bore is read, or "inside", the other way
    round; ``inner`` and ``outer`` radius; ``width`` along the axis.
    """

    side: str
    inner: float
    outer: float
    width: float
    young: float
    poisson: float

    def __post_init__(self) -> None:
        if self.side not in ("outside", "inside"):
            raise GeometryError(f'side is "outside" or "inside", not "{self.side}"')
        if not (0 < self.inner < self.outer and self.width > 0):
            raise GeometryError(
                f"a ring of Ø{2 * self.outer:g} / Ø{2 * self.inner:g} x {self.width:g} mm has no wall or no width"
            )

    @property
    def gripped(self) -> float:
        """Radius that the jaws press on. [mm]"""
        return self.outer if self.side == "outside" else self.inner

    @property
    def read(self) -> float:
        """Radius that is read. [mm]"""
        return self.inner if self.side == "outside" else self.outer

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """The half section (r, z). [mm]"""
        a, b, w = self.inner, self.outer, self.width
        return ((a, 0.0), (b, 0.0), (b, w), (a, w))


@dataclass(frozen=True)
class Waves:
    """Answer of the read surface, at half width, to one force of 1 N at angle 0 on the gripped surface. [mm/N]

    ``orders`` (H,); ``radial``: cosines for a radial force the way the jaws press; ``round_``: sines for a force round
    the ring, towards growing angles.  Displacement is positive away from the axis.
    """

    orders: Array
    radial: Array
    round_: Array

    def under_radial(self, angle: ArrayLike, half_angle: float = 0.0) -> Array:
        """The answer at angles from the force [rad], spread evenly over ``half_angle`` each way, as ``angle``."""
        return self._sum(self.radial, np.cos, angle, half_angle)

    def under_round(self, angle: ArrayLike, half_angle: float = 0.0) -> Array:
        """The same for a force round the ring."""
        return self._sum(self.round_, np.sin, angle, half_angle)

    def _sum(self, waves: Array, of: np.ufunc, angle: ArrayLike, half_angle: float) -> Array:
        spread = np.sinc(self.orders * half_angle / pi)
        return np.asarray(of(np.multiply.outer(np.asarray(angle, float), self.orders)) @ (waves * spread))


@lru_cache(maxsize=64)
def waves_of(ring: Ring) -> Waves:
    """The waves of one force on a ring.  Raises: ``SolverError`` where it cannot be solved."""
    stations = Stations(ring.side, ring.gripped, (0.0, ring.width))
    solver = Harmonics(Section.of(ring.corners), ring.young, ring.poisson, ORDER, stations, sheared=True)
    at = solver.evaluation([(ring.read, ring.width / 2)])[0]
    orders = np.array([n for n in range(WAVES + 1) if n != 1])
    # One force is 1/(pi r b) of every wave of pressure, half of that of the mean.
    unit = 1 / (pi * ring.gripped * ring.width)
    radial, round_ = np.empty(len(orders)), np.empty(len(orders))
    for i, n in enumerate(orders):
        pressed, sheared = solver.solve(int(n))[:, 0] @ at
        radial[i] = pressed * unit * (0.5 if n == 0 else 1.0)
        # A traction with cos n t is one with sin n t, turned: what had cos n t then has -sin n t.
        round_[i] = 0.0 if n == 0 else -sheared * unit
    return Waves(orders.astype(float), radial, round_)


class RingInJaws:
    """A ring under equal forces of ``jaws`` jaws.

    ``half_angle`` of one jaw on the ring [rad]; 0 for rollers or narrow pads, which press along one line.
    """

    def __init__(self, ring: Ring, jaws: int, half_angle: float = 0.0) -> None:
        if jaws < 2:
            raise GeometryError(f"a chuck has at least 2 jaws, got {jaws}")
        self.ring, self.jaws, self.half_angle = ring, jaws, half_angle
        self.line = half_angle <= 0
        if not self.line:
            edges = graded_edges(0.0, ring.width, BANDS)
            self.face = JawFace(Stations(ring.side, ring.gripped, edges), half_angle, SECTORS, jaws)

    def lobes(self, force: float = 1.0) -> float:
        """Out of round of the read surface under ``force`` [N] of each jaw along a line: highest less lowest. [mm]"""
        angles = np.linspace(0.0, pi / self.jaws, 61)
        return float(np.ptp(force * self.line_answer(angles)))

    def line_answer(self, angles: ArrayLike) -> Array:
        """Displacement of the read surface for 1 N of every jaw along a line at its middle. [mm/N]"""
        at, waves = np.asarray(angles, float), waves_of(self.ring)
        turns = 2 * pi / self.jaws * np.arange(self.jaws)
        return np.asarray(waves.under_radial(at[..., None] - turns).sum(axis=-1))

    def share_of_line(self, force: float, bored: float, friction: float) -> float:
        """Lobes under a jaw bored to radius ``bored`` [mm] over those under a line, at ``force`` of each jaw [N].

        The jaw is rigid: a softer one spreads the force more evenly, see ``even_share``.  Raises: ``SolverError``
        where the contact does not converge; ``GeometryError`` for a bore that cannot grip the ring.
        """
        response = self._response()
        gap = bore_gap(self.face, self.ring.gripped, bored)
        pressing = Pressing(self.face, sheared_compliance(response, self.face), np.zeros((gap.size, gap.size)))
        (contact,) = press_each([(pressing, Load(force, gap, friction))], [])
        moved = response.displacement(contact.harmonics(response.orders), [0.0, pi / self.jaws])[0, :, 0]
        line = self.line_answer([0.0, pi / self.jaws])
        return float((moved[1] - moved[0]) / (force * (line[1] - line[0])))

    def edge_share(self, half_angle: float) -> float:
        """The same under a pad that presses along its two edges alone, ``half_angle`` [rad] from its middle."""
        ends = np.array([0.0, pi / self.jaws])
        pair = (self.line_answer(ends - half_angle) + self.line_answer(ends + half_angle)) / 2
        line = self.line_answer(ends)
        return float((pair[1] - pair[0]) / (line[1] - line[0]))

    def even_share(self) -> float:
        """The same under a jaw that presses evenly all over."""
        waves, ends = waves_of(self.ring), np.array([0.0, pi / self.jaws])
        turns = 2 * pi / self.jaws * np.arange(self.jaws)
        spread = waves.under_radial(ends[:, None] - turns, self.half_angle).sum(axis=1)
        line = self.line_answer(ends)
        # Force along the jaw, of a pressure that stands on the surface.
        along = np.sinc(self.half_angle / pi)
        return float((spread[1] - spread[0]) / (line[1] - line[0]) / along)

    def largest_stress(self, force: float) -> float:
        """Largest von Mises stress away from where the jaws press, under ``force`` of each along a line. [MPa]"""
        response = self._response()
        orders = np.asarray(response.orders, float)
        unit = force / (self.ring.gripped * self.ring.width) * self.jaws / pi
        waves = unit * np.where(orders == 0, 0.5, 1.0)
        pressures = np.repeat(waves[:, None], len(response.stations.bands), axis=1)
        if response.sheared:
            pressures = np.hstack([pressures, np.zeros_like(pressures)])
        return response.largest_mises(pressures, np.linspace(0.0, pi / self.jaws, STRESS_ANGLES))[0]

    def _response(self) -> HarmonicResponse:
        stations = Stations(self.ring.side, self.ring.gripped, (0.0, self.ring.width)) if self.line else \
            self.face.stations  # fmt: skip
        return _respond(self.ring, stations, self.jaws, sheared=not self.line)


@lru_cache(maxsize=64)
def _respond(ring: Ring, stations: Stations, jaws: int, *, sheared: bool) -> HarmonicResponse:
    body = TurnedBody(ring.corners, ring.young, ring.poisson)
    return body.respond(stations, jaws, [(ring.read, ring.width / 2)], harmonics=JAW_WAVES, sheared=sheared)
