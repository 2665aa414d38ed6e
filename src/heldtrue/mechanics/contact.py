"""Where jaw and part touch, and how hard: unilateral contact on the gripped face of one jaw.

All jaws act alike and each mirrors about its own middle, so half a jaw face stands for the chuck.  The face is cut
into cells (station i along z, sector a round the part).  Unknown are the pressures p >= 0 and the jaw's advance d:

    gap = g0 + (C_part + C_jaw) p - d cos t >= 0,     p . gap = 0,     sum p A cos t = force of one jaw.

These are the optimality conditions of a convex quadratic program, min 1/2 p'A C p + p'A g0 with the force as the one
equation; d is its multiplier.  Tangential forces are left out (frictionless).  Reference: K. L. Johnson, Contact
Mechanics, Cambridge University Press 1985, section 5.9, for contact as a minimum principle (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import pi

import clarabel
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.turned_body import HarmonicResponse

Array = NDArray[np.float64]

RESIDUAL_LIMIT = 1e-6
"""Largest accepted error of force balance and complementarity, relative to mean pressure and mean squeeze."""
TAIL_HARMONICS = 400
"""Beyond the solved harmonics the surface is a half space (compliance as 1/n); the series is carried this far."""


MARK_LENGTH_MM = 4.0
"""Side of the patch whose mean pressure leaves a mark that can be seen: common practice, no source."""


@dataclass(frozen=True)
class JawFace:
    """Cells of half the gripping face of one jaw.

    ``stations``: the bands along z; ``half_angle``: from the jaw's middle to its edge [rad]; ``sectors``: cells over
    that half; ``jaws``: equal jaws round the part.
    """

    stations: Stations
    half_angle: float
    sectors: int
    jaws: int

    def __post_init__(self) -> None:
        if not 0 < self.half_angle <= pi / self.jaws + 1e-12:
            raise GeometryError(f"{self.jaws} jaws of half angle {self.half_angle:.4g} rad overlap")

    @cached_property
    def bounds(self) -> Array:
        """Sector boundaries from the middle of the jaw, finer towards its edge, shape (sectors + 1,). [rad]

        Squares, as pressure falls from a sharp edge with the root of the distance: see ``graded_edges``.
        """
        return np.asarray(self.half_angle * (1 - np.linspace(1.0, 0.0, self.sectors + 1) ** 2))

    @cached_property
    def angles(self) -> Array:
        """Middle of each sector, shape (sectors,). [rad]"""
        return np.asarray((self.bounds[1:] + self.bounds[:-1]) / 2)

    @cached_property
    def areas(self) -> Array:
        """Area of each cell, both halves of the jaw together, shape (m, sectors). [mm2]"""
        return np.outer(self.stations.areas, 2 * np.diff(self.bounds))

    @cached_property
    def along(self) -> Array:
        """Share of each cell's normal that points along the jaw: the exact mean of cos t, shape (sectors,)."""
        return np.asarray(np.diff(np.sin(self.bounds)) / np.diff(self.bounds))

    def pressure_harmonics(self, orders: Sequence[int]) -> Array:
        """Coefficient of cos(n t) round the part for unit pressure in one sector of every jaw, shape (H, sectors)."""
        n = np.asarray(orders, float)[:, None]
        with np.errstate(invalid="ignore", divide="ignore"):
            waves = 2 * self.jaws / (pi * n) * np.diff(np.sin(n * self.bounds), axis=1)
        waves[np.asarray(orders) == 0] = self.jaws / pi * np.diff(self.bounds)
        return np.asarray(waves)

    def shear_harmonics(self, orders: Sequence[int]) -> Array:
        """Coefficient of sin(n t) for unit traction in one sector, away from each jaw's middle, shape (H, sectors)."""
        n = np.asarray(orders, float)[:, None]
        with np.errstate(invalid="ignore", divide="ignore"):
            waves = -2 * self.jaws / (pi * n) * np.diff(np.cos(n * self.bounds), axis=1)
        waves[np.asarray(orders) == 0] = 0.0
        return np.asarray(waves)

    def sector_sine_means(self, orders: Sequence[int]) -> Array:
        """Mean of sin(n t) over each sector, shape (H, sectors)."""
        n = np.asarray(orders, float)[:, None]
        with np.errstate(invalid="ignore", divide="ignore"):
            means = -np.diff(np.cos(n * self.bounds), axis=1) / (n * np.diff(self.bounds))
        means[np.asarray(orders) == 0] = 0.0
        return np.asarray(means)

    @cached_property
    def patches(self) -> tuple[tuple[slice, Patches], ...]:
        """The rows of each land, and every patch on it over both halves of the jaw."""
        round_ = self.stations.radius * np.concatenate([-self.bounds[:0:-1], self.bounds])
        return tuple((rows, Patches(np.asarray(edges), round_)) for rows, edges in self.stations.lands)

    @cached_property
    def across(self) -> Array:
        """Exact mean of sin t over each sector, shape (sectors,)."""
        return np.asarray(-np.diff(np.cos(self.bounds)) / np.diff(self.bounds))

    def sector_means(self, orders: Sequence[int]) -> Array:
        """Mean of cos(n t) over each sector, shape (H, sectors)."""
        n = np.asarray(orders, float)[:, None]
        with np.errstate(invalid="ignore", divide="ignore"):
            means = np.diff(np.sin(n * self.bounds), axis=1) / (n * np.diff(self.bounds))
        means[np.asarray(orders) == 0] = 1.0
        return np.asarray(means)


class Patches:
    """Every patch of MARK_LENGTH_MM or less both ways on a grid of cells; ``along``, ``round_``: edges [mm]."""

    def __init__(self, along: Array, round_: Array) -> None:
        self._areas = np.outer(np.diff(along), np.diff(round_))
        self._rows, length = _shares(along)
        self._columns, width = _shares(round_)
        self._size = length * width

    def largest_mean(self, pressure: Array) -> Array:
        """Largest mean of cells of constant pressure (..., rows, columns) over a patch anywhere on them, shape (...).

        The mean goes linearly with each offset between the offsets where a patch's end meets an edge: one of those
        has it.
        """
        means = self._rows @ (pressure * self._areas) @ self._columns.T
        return np.asarray(means.max(axis=(-2, -1)) / self._size)


@dataclass(frozen=True)
class Contact:
    """Solved contact of one jaw and the part.

    ``pressure`` and ``gap`` per cell, shape (m, sectors) [MPa, mm]; ``shear``: traction round the part, away from the
    jaw's middle, None where the contact is frictionless [MPa]; ``advance``: how far the jaw moved on along its
    own direction after the first touch of the undeformed shapes [mm]; ``force`` of one jaw [N]; ``residual``: largest
    error of force balance and complementarity, relative.
    """

    face: JawFace
    pressure: Array
    gap: Array
    advance: float
    force: float
    residual: float
    shear: Array | None = None

    def harmonics(self, orders: Sequence[int]) -> Array:
        """Pressure round the part as coefficients of cos(n t) on each station, shape (H, m). [MPa]

        With shear, the coefficients of sin(n t) of the traction follow, shape (H, 2 m).
        """
        shear = None if self.shear is None else self.shear[None]
        return np.asarray(harmonics_each(self.face, self.pressure[None], shear, tuple(orders))[0])

    @property
    def peak_pressure(self) -> float:
        """Highest cell pressure: at the sharp edge of a jaw it grows without bound as cells get finer. [MPa]"""
        return float(self.pressure.max())

    @cached_property
    def edge_pressure(self) -> float:
        """Largest mean pressure over any patch MARK_LENGTH_MM along the grip and as long round it. [MPa]

        The patch is smaller where the face is, and does not reach over a groove.  Unlike the peak it settles as cells
        get finer, since the pressure at a sharp edge can be integrated.
        """
        return float(edge_pressures(self.face, self.pressure[None])[0])

    @property
    def touching(self) -> NDArray[np.bool_]:
        """Cells that press on each other, shape (m, sectors): above a hundredth of the peak."""
        return np.asarray(self.pressure > 0.01 * self.pressure.max())


def edge_pressures(face: JawFace, pressures: Array) -> Array:
    """``Contact.edge_pressure`` of many cell pressures (n, m, s), shape (n,). [MPa]"""
    mirrored = np.concatenate([pressures[:, :, ::-1], pressures], axis=2)
    return np.asarray(np.max([patches.largest_mean(mirrored[:, rows]) for rows, patches in face.patches], axis=0))


def harmonics_each(face: JawFace, pressures: Array, shears: Array | None, orders: tuple[int, ...]) -> Array:
    """``Contact.harmonics`` of many cell pressures and tractions (n, m, s), shape (n, H, m) or (n, H, 2 m). [MPa]"""
    of_pressure, of_shear = _sector_waves(face, orders)
    found = of_pressure @ pressures.transpose(0, 2, 1)
    if shears is None:
        return np.asarray(found)
    return np.concatenate([found, of_shear @ shears.transpose(0, 2, 1)], axis=2)


@lru_cache(maxsize=64)
def _sector_waves(face: JawFace, orders: tuple[int, ...]) -> tuple[Array, Array]:
    """``pressure_harmonics`` and ``shear_harmonics``, kept."""
    return face.pressure_harmonics(orders), face.shear_harmonics(orders)


def _shares(edges: Array) -> tuple[Array, float]:
    """Share of each cell in each window that fits and meets an edge, shape (windows, cells); their length. [mm]"""
    length = min(MARK_LENGTH_MM, float(edges[-1] - edges[0]))
    low = np.clip(np.concatenate([edges, edges - length]), edges[0], edges[-1] - length)[:, None]
    inside = np.minimum(edges[1:], low + length) - np.maximum(edges[:-1], low)
    return np.maximum(inside, 0.0) / np.diff(edges), length


def part_compliance(response: HarmonicResponse, face: JawFace) -> Array:
    """C_part over the cells: mean displacement of a cell in the pressing direction for 1 MPa in another cell.

    Shape (m sectors, m sectors), cells in row-major order (station, sector) [mm/MPa].  The solved harmonics are summed
    with exact cell integrals; past them each station follows the half space, its compliance falling as 1/n.
    """
    last = response.orders[-1]
    tail = tuple(last + face.jaws * k for k in range(1, TAIL_HARMONICS))
    solved = np.einsum(
        "hij,ha,hb->iajb",
        response.compliance,
        face.sector_means(response.orders),
        face.pressure_harmonics(response.orders),
        optimize=True,
    )
    falling = last / np.asarray(tail, float)
    ripple = np.einsum("h,ha,hb->ab", falling, face.sector_means(tail), face.pressure_harmonics(tail), optimize=True)
    solved += np.einsum("i,ij,ab->iajb", np.diag(response.compliance[-1]), np.eye(len(solved)), ripple)
    size = solved.shape[0] * solved.shape[1]
    return np.asarray(solved.reshape(size, size))


def bore_gap(face: JawFace, part_radius: float, bore_radius: float) -> Array:
    """Gap of the undeformed shapes when they first touch in the jaw's middle, shape (m, sectors). [mm]

    Negative where a jaw bored tighter than the part bears on its edges first (the contact then pushes it back).
    Two circles of different radius, no approximation beyond a cell's middle standing for the cell.
    """
    offset = part_radius - bore_radius
    if abs(offset) >= bore_radius:
        raise GeometryError(f"a jaw bored Ø{2 * bore_radius:g} cannot grip a part of Ø{2 * part_radius:g} mm")
    outline = np.sqrt(bore_radius**2 - (offset * np.sin(face.angles)) ** 2) + offset * np.cos(face.angles)
    gap = (part_radius - outline) * (1.0 if face.stations.side == "inside" else -1.0)
    return np.tile(gap, (len(face.stations.bands), 1))


def press(
    face: JawFace,
    compliance: Array,
    force: float,
    gap: Array | None = None,
    guess: NDArray[np.bool_] | None = None,
) -> Contact:
    """Press one jaw on the part with ``force`` [N] along the jaw.

    ``compliance``: C_part + C_jaw over the cells, shape (m s, m s) [mm/MPa]; ``gap``: the undeformed gap per cell,
    shape (m, s) [mm], zero where left out (a jaw bored to the very part); ``guess``: cells thought to touch, which
    saves rounds and changes nothing else.
    Raises: ``ValueError`` for a force that is not positive; ``SolverError`` if the program does not converge.
    """
    if not (force > 0 and np.isfinite(force)):
        raise ValueError(f"the jaw force must be positive, got {force} N")
    area = face.areas.ravel()
    along = np.tile(face.along, len(face.areas))
    start = np.zeros(len(area)) if gap is None else np.asarray(gap, float).ravel()

    # Scaled so that a mean pressure is 1 and the squeeze it causes is 1: the solver's tolerances are then ours.
    mean = force / (area @ along)
    weight = area / area.sum()
    stiff = weight[:, None] * compliance * mean
    squeeze = float(np.diag(stiff).sum())
    touching = np.ones(len(area), bool) if guess is None else guess.ravel()
    p, d = quadratic_program((stiff + stiff.T) / (2 * squeeze), weight * start / squeeze, weight * along, touching)

    pressure = p * mean
    opened = start + compliance @ pressure - d * squeeze * along
    unbalanced = abs(float(area @ (along * pressure)) / force - 1)
    residual = max(unbalanced, float(np.abs(np.minimum(p, opened / squeeze)).max()))
    if not residual <= RESIDUAL_LIMIT:
        raise SolverError(f"the contact of jaw and part did not converge: residual {residual:.2g}")
    shape = face.areas.shape
    return Contact(face, pressure.reshape(shape), opened.reshape(shape), float(d * squeeze), force, residual)


def quadratic_program(matrix: Array, linear: Array, along: Array, guess: NDArray[np.bool_]) -> tuple[Array, float]:
    """min 1/2 p'Mp + l'p with p >= 0 and along'p = along'1; returns p and the multiplier of the equation.

    Guess which cells touch, solve those exactly, move the cells that contradict, and repeat (a primal-dual active set:
    M. Hintermueller, K. Ito, K. Kunisch, SIAM J. Optim. 13 (2003) 865-888, from memory).  It nearly always ends in a
    few rounds, but may cycle; then the interior-point solver, which cannot, makes the guess.
    """
    solved = _active_set(matrix, linear, along, guess)
    if solved is None:
        solved = _active_set(matrix, linear, along, _interior_point(matrix, linear, along))
    if solved is None:
        raise SolverError("the contact of jaw and part did not settle on which cells touch")
    return solved


def _active_set(matrix: Array, linear: Array, along: Array, touching: NDArray[np.bool_]) -> tuple[Array, float] | None:
    """The exact answer if the guess of touching cells settles, else None."""
    touching = touching.copy() if touching.any() else np.ones_like(touching)
    for _ in range(30):
        p, d = _solve_touching(matrix, linear, along, touching)
        gap = matrix @ p + linear - d * along
        wrong = (touching & (p < 0)) | (~touching & (gap < -1e-12))
        if not wrong.any():
            return p, d
        touching ^= wrong
        if not touching.any():
            return None
    return None


def _interior_point(matrix: Array, linear: Array, along: Array) -> NDArray[np.bool_]:
    """Which cells touch, by Clarabel's interior point."""
    count = len(linear)
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-10
    solution = clarabel.DefaultSolver(
        sparse.csc_matrix(np.triu(matrix)),
        linear,
        sparse.csc_matrix(np.vstack([along, -np.eye(count)])),
        np.concatenate([[along.sum()], np.zeros(count)]),
        [clarabel.ZeroConeT(1), clarabel.NonnegativeConeT(count)],
        settings,
    ).solve()
    return np.asarray(np.asarray(solution.x) > np.asarray(solution.z)[1:])


def _solve_touching(matrix: Array, linear: Array, along: Array, touching: NDArray[np.bool_]) -> tuple[Array, float]:
    """Pressures when it is known which cells touch: gap zero there, pressure zero elsewhere."""
    inside = np.flatnonzero(touching)
    count = len(inside)
    system = np.zeros((count + 1, count + 1))
    system[:count, :count] = matrix[np.ix_(inside, inside)]
    system[:count, count] = system[count, :count] = -along[inside]
    try:
        solved = np.linalg.solve(system, np.append(-linear[inside], -along.sum()))
    except np.linalg.LinAlgError as error:
        raise SolverError("the compliance of jaw and part is singular") from error
    p = np.zeros(len(linear))
    p[inside] = solved[:count]
    return p, float(solved[count])
