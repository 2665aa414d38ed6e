"""The part: an elastic body of revolution under jaw loads, one Fourier harmonic at a time.

The body is axisymmetric, the load is not, but it repeats N times a turn and mirrors about each jaw:

    u_r = sum U_n(r, z) cos n t,   u_t = sum V_n(r, z) sin n t,   u_z = sum W_n(r, z) cos n t,   n = 0, N, 2N, ...

Each harmonic is a plane problem on the half section with weight r.  Its strains are linear in n,

    e_rr = U,r   e_tt = (U + n V)/r   e_zz = W,z   g_rz = U,z + W,r   g_rt = V,r - V/r - n U/r   g_tz = V,z - n W/r,

so its stiffness is K0 + n K1 + n**2 K2: three matrices are assembled once, and each harmonic refills and factors
one matrix of the same pattern.  References: E. L. Wilson, "Structural analysis of axisymmetric solids", AIAA
Journal 3 (1965) 2269-2274, for harmonic loads on bodies of revolution (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.harmonics import Harmonics
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.stations import Patch, Stations
from heldtrue.mechanics.stress import von_mises

Array = NDArray[np.float64]

ORDER = 4
"""Polynomial order of the elements; with it the meshes below meet 0.3 % (see docs/validation.md)."""
FEW = 12
"""So many harmonics are all solved."""
BETWEEN = 8
"""Solved harmonics that one between them is made of."""
MOST_HARMONICS = 400
"""A load so narrow that it needs more harmonics than this is an error, not a number."""


@dataclass(frozen=True)
class HarmonicResponse:
    """What unit pressure harmonics on the stations do to the part; plain arrays, no solver inside.

    ``orders``: n of each harmonic, shape (H,).
    ``compliance``: mean displacement of station i *in the direction the jaw presses* when station j carries pressure
    cos(n t) of 1 MPa, shape (H, m, m), times areas symmetric. [mm/MPa]
    ``probes``: U, V, W at each probe point for that load, shape (H, m, P, 3). [mm/MPa]
    ``stress``: stress at points on the free surface, shape (H, m, Q, 6), order rr, tt, zz, rz (with
    cos n t), rt, tz (with sin n t). [MPa/MPa]  ``stress_points``: (r, z) of each, shape (Q, 2). [mm]
    ``sheared``: besides m pressures there are m tractions round the part, with sin n t, after them; every m above is
    then 2 m.
    """

    stations: Stations
    orders: tuple[int, ...]
    compliance: Array
    probes: Array
    stress: Array
    stress_points: Array
    sheared: bool = False

    def every(self, jaws: int) -> HarmonicResponse:
        """The harmonics that a chuck of ``jaws`` jaws excites, out of a finer set."""
        kept = [i for i, n in enumerate(self.orders) if n % jaws == 0]
        orders = tuple(self.orders[i] for i in kept)
        return replace(
            self, orders=orders, compliance=self.compliance[kept], probes=self.probes[kept], stress=self.stress[kept]
        )

    def largest_mises(self, pressure_harmonics: Array, angle: ArrayLike) -> tuple[float, tuple[float, float]]:
        """Largest von Mises stress over the stress points and angles [MPa], and the (r, z) [mm] where it stands."""
        stress = self._mises(pressure_harmonics[None], angle)[0]
        worst = int(stress.max(axis=0).argmax())
        return float(stress.max()), (float(self.stress_points[worst, 0]), float(self.stress_points[worst, 1]))

    def largest_mises_each(self, pressure_harmonics: Array, angle: ArrayLike) -> Array:
        """The same stress under many pressures (n, H, m), shape (n,). [MPa]"""
        return np.asarray(self._mises(pressure_harmonics, angle).max(axis=(1, 2)))

    def _mises(self, pressure_harmonics: Array, angle: ArrayLike) -> Array:
        """Von Mises stress at every angle and stress point, (n, angles, Q). [MPa]"""
        h, _, q, _ = self.stress.shape
        count = len(pressure_harmonics)
        amplitudes = np.matmul(pressure_harmonics.transpose(1, 0, 2), self._stress_by_part).reshape(h, count, 6, q)
        phase = np.multiply.outer(np.atleast_1d(np.asarray(angle, float)), np.asarray(self.orders, float))
        even = np.cos(phase) @ amplitudes[:, :, :4].reshape(h, -1)
        odd = np.sin(phase) @ amplitudes[:, :, 4:].reshape(h, -1)
        parts = np.concatenate([even.reshape(-1, count, 4, q), odd.reshape(-1, count, 2, q)], axis=2)
        return von_mises(parts.transpose(1, 0, 3, 2))

    @cached_property
    def _stress_by_part(self) -> Array:
        """``stress`` with the six parts one after the other, (H, m, 6 Q)."""
        h, m, q, _ = self.stress.shape
        return np.ascontiguousarray(self.stress.transpose(0, 1, 3, 2)).reshape(h, m, 6 * q)

    def displacement(self, pressure_harmonics: ArrayLike, angle: ArrayLike) -> Array:
        """Displacement of the probe points, shape (P, angles, 3): u_r, u_t, u_z in mm.

        ``pressure_harmonics``: coefficient of cos(n t) on each station, shape (H, m) [MPa]; ``angle`` [rad].
        """
        amplitudes = np.einsum("hm,hmpc->hpc", np.asarray(pressure_harmonics, float), self.probes)
        return _sum_series(self.orders, amplitudes, angle)


@dataclass(frozen=True)
class Field:
    """The displaced body under one patch load."""

    orders: tuple[int, ...]
    _vectors: Array
    _evaluate: Callable[[ArrayLike], Array] = field(repr=False)

    def displacement(self, at: ArrayLike, angle: ArrayLike) -> Array:
        """Displacement at points (r, z) [mm], shape (points, angles, 3): u_r, u_t, u_z in mm; ``angle`` [rad].

        Raises: ``GeometryError`` for a point outside the part.
        """
        shapes = self._evaluate(at)
        return _sum_series(self.orders, np.einsum("ps,hcs->hpc", shapes, self._vectors), angle)


class TurnedBody:
    """An elastic part of revolution.

    ``profile``: closed half section [(r, z), ...] in mm, either direction; ``young`` [MPa]; ``poisson`` [-].
    Free axial motion is fixed so that the mean u_z of the lowest face (the seat) is zero.

    Raises: ``GeometryError`` for a profile that crosses itself, reaches r < 0 or has no area, and for loads off the
    part; ``ValueError`` for elastic constants that cannot be.

    >>> ring = TurnedBody([(40, 0), (50, 0), (50, 25), (40, 25)], young=210_000.0, poisson=0.3)
    >>> jaws = Patch(side="outside", radius=50.0, z=(0.0, 25.0), half_angle=pi / 18, jaws=3, force=5_000.0)
    >>> u = ring.under(jaws).displacement(at=[(40.0, 12.5)], angle=[0.0, pi / 3])
    >>> u.shape
    (1, 2, 3)
    >>> bool(u[0, 0, 0] < 0 < u[0, 1, 0])  # in under the jaw, out between jaws
    True
    """

    def __init__(self, profile: Sequence[Sequence[float]], young: float, poisson: float, *, order: int = ORDER) -> None:
        if not (young > 0 and np.isfinite(young)):
            raise ValueError(f"Young's modulus must be positive, got {young} MPa")
        if not -1 < poisson < 0.5:
            raise ValueError(f"Poisson's ratio must lie between -1 and 0.5, got {poisson}")
        self.section = Section.of(profile)
        self.young = young
        self.poisson = poisson
        self.order = order

    def under(self, patch: Patch, *, error: float = 1e-3) -> Field:
        """The body under equal jaws of uniform pressure.

        Harmonics are added until all those left out together stay below ``error`` times the largest displacement:
        the pressure falls as 1/k and the body's answer as 1/k or faster, so the rest is below k times the last.
        Raises: ``GeometryError`` if the patch is off the part; ``SolverError`` if that takes too many harmonics.
        """
        _require_patch(patch)
        stations = Stations(patch.side, patch.radius, patch.z)
        harmonics = Harmonics(self.section, self.young, self.poisson, self.order, stations)
        vectors, orders = [], []
        total = 0.0
        for k in range(MOST_HARMONICS):
            unit = harmonics.solve(k * patch.jaws)[0]
            coefficient = patch.pressure_harmonic(k)
            vectors.append(unit * coefficient)
            orders.append(k * patch.jaws)
            largest = harmonics.largest_nodal(unit)
            total += abs(coefficient) * largest
            envelope = patch.pressure * 2 / (max(k, 1) * pi) * largest
            if k >= 3 and k * envelope <= error * total:
                return Field(tuple(orders), np.array(vectors), harmonics.evaluation)
        raise SolverError(
            f"the load is too narrow: {MOST_HARMONICS} harmonics do not reach {error:g} of the displacement"
        )

    def respond(
        self,
        stations: Stations,
        jaws: int,
        probes: ArrayLike,
        *,
        harmonics: int = 31,
        sheared: bool = False,
        stressed: bool = True,
    ) -> HarmonicResponse:
        """Response to unit pressure harmonics n = 0, jaws, 2 jaws, ... on each station, with probe points (r, z).

        The caller judges by the last of the stated count of harmonics whether they are enough.  About half of them are
        solved, the others lie between (``between_waves``).
        ``sheared``: also to unit tractions round the part.  ``stressed``: stress too, not displacement alone.
        """
        solver = Harmonics(self.section, self.young, self.poisson, self.order, stations, sheared=sheared)
        shapes = solver.evaluation(probes)
        points, gradients = solver.stress_points() if stressed else (np.empty((0, 2)), None)
        orders = tuple(k * jaws for k in range(harmonics))
        waves = solved_waves(harmonics)
        compliance, probed, stresses = [], [], []
        for k in waves:
            n = orders[k]
            vectors = solver.solve(n)
            compliance.append(solver.compliance(vectors))
            probed.append(np.matmul(vectors, shapes.T).transpose(0, 2, 1))
            if gradients is not None:
                parts = (gradients @ vectors.reshape(-1, solver.size).T).T.reshape(*vectors.shape[:2], -1)
                stresses.append(self.stress_amplitudes(n, points[:, 0], parts))
        between = between_waves(waves, harmonics)
        answers = np.tensordot(between, np.array(probed), axes=1)
        stress = np.tensordot(between, stresses, axes=1) if stressed else np.empty((*answers.shape[:2], 0, 6))
        flexible = np.tensordot(between, np.array(compliance), axes=1)
        return HarmonicResponse(stations, orders, flexible, answers, stress, points, sheared)

    def stress_amplitudes(self, n: int, r: Array, parts: Array) -> Array:
        """Stress amplitudes (m, Q, 6) from U, V, W and their r and z derivatives, ``parts`` (m, 3, 3 Q)."""
        (u, u_r, u_z), (v, v_r, v_z), (w, w_r, w_z) = (np.split(parts[:, i], 3, axis=1) for i in range(3))
        lame = self.young * self.poisson / ((1 + self.poisson) * (1 - 2 * self.poisson))
        shear = self.young / (2 * (1 + self.poisson))
        round_, spread = (u + n * v) / r, u_r + (u + n * v) / r + w_z
        direct = [lame * spread + 2 * shear * e for e in (u_r, round_, w_z)]
        sheared = [shear * g for g in (u_z + w_r, v_r - v / r - n * u / r, v_z - n * w / r)]
        return np.stack([*direct, *sheared], axis=-1)


def solved_waves(count: int) -> tuple[int, ...]:
    """Which of ``count`` harmonics are solved: all of a few, else the first six, each a third further, and the last."""
    waves = list(range(count if count <= FEW else 6))
    while waves[-1] < count - 1:
        waves.append(min((4 * waves[-1] + 1) // 3, count - 1))
    return tuple(waves)


def between_waves(waves: Sequence[int], count: int) -> Array:
    """What each of ``count`` harmonics is made of, shape (count, solved): polynomials in ln k through k times it.

    An answer is a smooth function of the harmonic's number k (the stiffness is quadratic in it), and falls as 1/k or
    faster.  Through the eight nearest that are solved, 134 sections of the examples and of random parts came within
    2e-5 of their largest compliance and displacement with all 24 solved, and within 2e-4 of their largest stress
    (measured).
    """
    rows = np.zeros((count, len(waves)))
    for k in range(count):
        if k in waves:
            rows[k, waves.index(k)] = 1.0
            continue
        nearest = sorted(waves[1:], key=lambda one: abs(np.log(one / k)))[:BETWEEN]
        for one in nearest:
            others = [other for other in nearest if other != one]
            share = np.prod([np.log(k / other) / np.log(one / other) for other in others])
            rows[k, waves.index(one)] = share * one / k
    return rows


def _require_patch(patch: Patch) -> None:
    if patch.jaws < 2 or patch.jaws != int(patch.jaws):
        raise GeometryError(f"a chuck has at least 2 jaws, got {patch.jaws}")
    if not 0 < patch.half_angle <= pi / patch.jaws + 1e-12:
        raise GeometryError(f"half angle {patch.half_angle:g} rad: {patch.jaws} jaws leave 0 to {pi / patch.jaws:.4g}")
    if not np.isfinite(patch.force):
        raise GeometryError(f"the jaw force must be a finite number, got {patch.force}")


def _sum_series(orders: Sequence[int], amplitudes: Array, angle: ArrayLike) -> Array:
    """Sum U cos, V sin, W cos over the harmonics: (H, points, 3) -> (points, angles, 3)."""
    phase = np.multiply.outer(np.asarray(orders, float), np.atleast_1d(np.asarray(angle, float)))
    waves = np.stack([np.cos(phase), np.sin(phase), np.cos(phase)], axis=-1)
    return np.asarray(np.einsum("hpc,hac->pac", amplitudes, waves))
