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
from itertools import pairwise
from math import pi, sin
from typing import Any

import ngsolve as ng
import numpy as np
from netgen.geom2d import SplineGeometry
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.section import SAME_POINT_MM, Edge, Section

Array = NDArray[np.float64]

# These matrices are too small to share: a second thread costs more than it brings, and on a busy machine its
# waiting makes a factorisation twenty times slower.
ng.SetNumThreads(1)

ORDER = 4
"""Polynomial order of the elements; with it the meshes below meet 0.3 % (see docs/validation.md)."""
MOST_HARMONICS = 400
"""A load so narrow that it needs more harmonics than this is an error, not a number."""


@dataclass(frozen=True)
class Patch:
    """Uniform pressure of ``jaws`` equal jaws on a cylinder of the part.

    ``side``: "outside" (pressing inward) or "inside" (pressing outward); ``radius`` of that cylinder [mm]; ``z``: from
    and to [mm]; ``half_angle`` of one jaw's contact [rad]; ``force``: push of one jaw along its own radial direction
    [N], so that pressure = force / (2 radius sin(half_angle) length).  Jaw 1 stands at angle 0.
    """

    side: str
    radius: float
    z: tuple[float, float]
    half_angle: float
    jaws: int
    force: float

    @property
    def pressure(self) -> float:
        """The uniform pressure. [MPa]"""
        return self.force / (2 * self.radius * sin(self.half_angle) * (self.z[1] - self.z[0]))

    def pressure_harmonic(self, k: int) -> float:
        """Coefficient of cos(k jaws t) in the pressure round the part. [MPa]"""
        if k == 0:
            return self.pressure * self.jaws * self.half_angle / pi
        return self.pressure * 2 / (k * pi) * sin(k * self.jaws * self.half_angle)


@dataclass(frozen=True)
class Stations:
    """Bands of a gripped cylinder on which the pressure may differ.

    ``edges`` [mm] ascending, one more than intervals; ``open``: numbers of the intervals that are no surface (a groove)
    and carry no band.
    """

    side: str
    radius: float
    edges: tuple[float, ...]
    open: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.side not in ("outside", "inside"):
            raise GeometryError(f'side is "outside" or "inside", not "{self.side}"')
        if len(self.edges) < 2 or not (np.diff(self.edges) > SAME_POINT_MM).all():
            raise GeometryError(f"the gripped length has no length, or its bands do not ascend: z = {self.edges} mm")
        if not self.band_numbers:
            raise GeometryError("no band of the gripped length is a surface")

    @cached_property
    def band_numbers(self) -> dict[int, int]:
        """Number of the band on each interval that carries one."""
        there = [i for i in range(len(self.edges) - 1) if i not in self.open]
        return {interval: band for band, interval in enumerate(there)}

    @cached_property
    def bands(self) -> tuple[tuple[float, float], ...]:
        """From and to of each band. [mm]"""
        return tuple((self.edges[i], self.edges[i + 1]) for i in self.band_numbers)

    @cached_property
    def middles(self) -> Array:
        """Middle of each band, shape (bands,). [mm]"""
        return np.array([(low + high) / 2 for low, high in self.bands])

    @property
    def inward(self) -> float:
        """Direction of the jaw pressure along r: -1 pressing inward (outside grip), +1 outward."""
        return -1.0 if self.side == "outside" else 1.0

    @cached_property
    def areas(self) -> Array:
        """Area of each band per radian of turn, shape (bands,). [mm2/rad]"""
        return np.array([self.radius * (high - low) for low, high in self.bands])


@dataclass(frozen=True)
class HarmonicResponse:
    """What unit pressure harmonics on the stations do to the part; plain arrays, no solver inside.

    ``orders``: n of each harmonic, shape (H,).
    ``compliance``: mean displacement of station i *in the direction the jaw presses* when station j carries pressure
    cos(n t) of 1 MPa, shape (H, m, m), times areas symmetric. [mm/MPa]
    ``probes``: U, V, W at each probe point for that load, shape (H, m, P, 3). [mm/MPa]
    ``stress``: stress at points on the surface and in the body, shape (H, m, Q, 6), order rr, tt, zz, rz (with
    cos n t), rt, tz (with sin n t). [MPa/MPa]  ``stress_points``: (r, z) of each, shape (Q, 2). [mm]
    """

    stations: Stations
    orders: tuple[int, ...]
    compliance: Array
    probes: Array
    stress: Array
    stress_points: Array

    def every(self, jaws: int) -> HarmonicResponse:
        """The harmonics that a chuck of ``jaws`` jaws excites, out of a finer set."""
        kept = [i for i, n in enumerate(self.orders) if n % jaws == 0]
        orders = tuple(self.orders[i] for i in kept)
        return replace(
            self, orders=orders, compliance=self.compliance[kept], probes=self.probes[kept], stress=self.stress[kept]
        )

    def largest_mises(self, pressure_harmonics: Array, angle: ArrayLike) -> tuple[float, tuple[float, float]]:
        """Largest von Mises stress over the stress points and angles [MPa], and the (r, z) [mm] where it stands."""
        h, m, q, _ = self.stress.shape
        amplitudes = np.matmul(pressure_harmonics[:, None, :], self.stress.reshape(h, m, q * 6)).reshape(h, q, 6)
        phase = np.multiply.outer(np.asarray(self.orders, float), np.atleast_1d(np.asarray(angle, float)))
        even = np.cos(phase).T @ amplitudes[:, :, :4].reshape(h, -1)
        odd = np.sin(phase).T @ amplitudes[:, :, 4:].reshape(h, -1)
        stress = von_mises(np.concatenate([even.reshape(-1, q, 4), odd.reshape(-1, q, 2)], axis=-1))
        worst = int(stress.max(axis=0).argmax())
        return float(stress.max()), (float(self.stress_points[worst, 0]), float(self.stress_points[worst, 1]))

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
        harmonics = _Harmonics(self, stations)
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

    def respond(self, stations: Stations, jaws: int, probes: ArrayLike, *, harmonics: int = 31) -> HarmonicResponse:
        """Response to unit pressure harmonics n = 0, jaws, 2 jaws, ... on each station, with probe points (r, z).

        The stated count of harmonics is solved; the caller judges by the last terms whether that is enough.
        """
        solver = _Harmonics(self, stations)
        shapes = solver.evaluation(probes)
        points, gradients = solver.stress_points()
        orders = tuple(k * jaws for k in range(harmonics))
        compliance, probed, stressed = [], [], []
        for n in orders:
            vectors = solver.solve(n)
            compliance.append(solver.compliance(vectors))
            probed.append(np.matmul(vectors, shapes.T).transpose(0, 2, 1))
            parts = (gradients @ vectors.reshape(-1, solver.size).T).T.reshape(*vectors.shape[:2], -1)
            stressed.append(self._stress(n, points[:, 0], parts))
        return HarmonicResponse(stations, orders, np.array(compliance), np.array(probed), np.array(stressed), points)

    def _stress(self, n: int, r: Array, parts: Array) -> Array:
        """Stress amplitudes (m, Q, 6) from U, V, W and their r and z derivatives, ``parts`` (m, 3, 3 Q)."""
        (u, u_r, u_z), (v, v_r, v_z), (w, w_r, w_z) = (np.split(parts[:, i], 3, axis=1) for i in range(3))
        lame = self.young * self.poisson / ((1 + self.poisson) * (1 - 2 * self.poisson))
        shear = self.young / (2 * (1 + self.poisson))
        round_, spread = (u + n * v) / r, u_r + (u + n * v) / r + w_z
        direct = [lame * spread + 2 * shear * e for e in (u_r, round_, w_z)]
        sheared = [shear * g for g in (u_z + w_r, v_r - v / r - n * u / r, v_z - n * w / r)]
        return np.stack([*direct, *sheared], axis=-1)


class _Harmonics:
    """The finite elements of one body with one set of load stations: refill, factor, solve, evaluate."""

    def __init__(self, body: TurnedBody, stations: Stations) -> None:
        section = body.section
        for band in stations.bands:
            section.require_span(stations.side, stations.radius, band)
        self.stations = stations
        self.section = section
        self.mesh = _mesh(section, stations)
        self.scalar = ng.H1(self.mesh, order=body.order)
        self.space = self.scalar * self.scalar * self.scalar
        self.size = self.scalar.ndof
        self.forms = _stiffness(self.space, body.young, body.poisson)
        self.matrix = self.forms[0].CreateMatrix()
        self.loads = self._load_vectors()
        self._inverse: tuple[int, ng.BaseMatrix] | None = None

    def solve(self, n: int) -> Array:
        """Coefficients of U, V, W for pressure cos(n t) of 1 MPa on each station, shape (m, 3, size)."""
        k0, k1, k2 = (form.AsVector() for form in self.forms)
        self.matrix.AsVector().data = k0 + n * k1 + n * n * k2
        inverse = self._factor(n)
        answers = (inverse * self.loads).Evaluate()
        vectors = np.array([a.FV().NumPy() for a in answers]).reshape(len(answers), 3, self.size)
        if not np.isfinite(vectors).all():
            raise SolverError(f"the stiffness of harmonic {n} could not be factored")
        if n == 0:
            vectors[:, 2] -= (vectors[:, 2] @ self._seat_mean)[:, None] * self._ones
        return vectors

    def _factor(self, n: int) -> ng.BaseMatrix:
        """Cholesky factor; harmonics with the same boundary conditions share one symbolic analysis."""
        kind = min(n, 2)
        if self._inverse is not None and self._inverse[0] == kind:
            self._inverse[1].Update()
        else:
            inverse = self.matrix.Inverse(self._free(n), inverse="sparsecholesky")
            self._inverse = (kind, inverse)
        return self._inverse[1]

    def _free(self, n: int) -> ng.BitArray:
        """Free unknowns of harmonic n: regularity on the axis, and no rigid motion."""
        if n == 1:
            raise ValueError("harmonic 1 moves the body as a whole; a self-centring chuck never excites it")
        axis = self.scalar.GetDofs(self.mesh.Boundaries("axis"))
        free = ng.BitArray(self.space.ndof)
        free.Set()
        for i in range(self.size):
            if axis[i]:
                free.Clear(i)
                free.Clear(self.size + i)
                if n >= 2:
                    free.Clear(2 * self.size + i)
            if n == 0:
                free.Clear(self.size + i)
        if n == 0:
            seat = self.scalar.GetDofs(self.mesh.Boundaries("seat"))
            free.Clear(2 * self.size + next(i for i in range(self.size) if seat[i]))
        return free

    @property
    def _ones(self) -> Array:
        """Coefficients of the constant 1: the vertex functions."""
        ones = np.zeros(self.size)
        ones[: self.mesh.nv] = 1.0
        return ones

    @property
    def _seat_mean(self) -> Array:
        """Row that takes the mean over the seat of a scalar function."""
        test = self.scalar.TestFunction()
        form = ng.LinearForm(test * ng.ds(definedon=self.mesh.Boundaries("seat"))).Assemble()
        row = form.vec.FV().NumPy().copy()
        return np.asarray(row / (row @ self._ones))

    def _load_vectors(self) -> ng.MultiVector:
        v = self.space.TestFunction()[0]
        loads = ng.MultiVector(self.matrix.CreateColVector(), len(self.stations.bands))
        for i in range(len(loads)):
            region = self.mesh.Boundaries(f"station{i}")
            form = ng.LinearForm(self.stations.inward * v * ng.x * ng.ds(definedon=region)).Assemble()
            loads[i].data = form.vec
        return loads

    def compliance(self, vectors: Array) -> Array:
        """Mean displacement of each station (row) for each loaded station (column), shape (m, m). [mm/MPa]"""
        loads = np.array([load.FV().NumPy()[: self.size] for load in self.loads])
        return np.asarray(loads @ vectors[:, 0].T / self.stations.areas[:, None])

    def largest_nodal(self, vectors: Array) -> float:
        """Largest displacement component at the mesh's vertices."""
        return float(np.abs(vectors[:, : self.mesh.nv]).max())

    def evaluation(self, at: ArrayLike) -> Array:
        """Values of all scalar shape functions at points (r, z), shape (points, size)."""
        points = np.asarray(at, float).reshape(-1, 2)
        rows = np.zeros((len(points), self.size))
        for row, (r, z) in zip(rows, points, strict=True):
            where = self._find(r, z)
            element = ng.ElementId(ng.VOL, where.nr)
            rows_at = self.scalar.GetFE(element).CalcShape(*where.pnt[:2])
            row[list(self.scalar.GetDofNrs(element))] = np.asarray(rows_at).ravel()
        return rows

    def stress_points(self) -> tuple[Array, sparse.csr_matrix]:
        """Where stress is looked at, (Q, 2), and rows giving value, d/dr and d/dz there, stacked (3 Q, size).

        Three points on every boundary edge off the axis, where bending peaks, and the middle of every element under a
        station, where contact does; the corners, where an elastic stress is unbounded, are left out.
        """
        surface = {frozenset(v.nr for v in e.vertices): e.mat for e in self.mesh.Elements(ng.BND) if e.mat != "axis"}
        at: list[Array] = []
        tables: list[Array] = []
        columns: list[list[int]] = []
        for element in self.mesh.Elements(ng.VOL):
            numbers = [v.nr for v in element.vertices]
            corners = np.array([self.mesh[v].point for v in element.vertices])
            edges = [surface.get(frozenset(numbers[k] for k in ends)) for ends in _EDGES]
            on_surface = [ends for ends, name in zip(_EDGES, edges, strict=True) if name is not None]
            wanted = [_between(ends, share) for ends in on_surface for share in _ALONG]
            if self._touches_reentrant(corners):
                wanted = []
            if any(name is not None and name.startswith("station") for name in edges):
                wanted.append(_MIDDLE)
            map_, finite = self.mesh.GetTrafo(element), self.scalar.GetFE(element)
            for weights in wanted:
                point = map_(float(weights[0]), float(weights[1]))
                shape = np.asarray(finite.CalcShape(point)).ravel()
                slope = np.asarray(finite.CalcDShape(point))
                at.append(weights @ corners)
                tables.append(np.vstack([shape, slope.T]))
                columns.append(list(self.scalar.GetDofNrs(element)))
        return np.array(at), stacked_rows(np.array(tables), np.array(columns), self.size)

    def _touches_reentrant(self, corners: Array) -> bool:
        """Does an element stand at an inner corner of the profile?"""
        inner = np.array([self.section.corners[i] for i in self.section.reentrant_corners()]).reshape(-1, 2)
        return bool(len(inner)) and bool((np.abs(corners[:, None] - inner).max(axis=2) < SAME_POINT_MM).any())

    def _find(self, r: float, z: float) -> ng.MeshPoint:
        """The mesh point at (r, z); a point within rounding of the surface belongs to the part."""
        for reach in (0.0, SAME_POINT_MM, 10 * SAME_POINT_MM):
            for dr, dz in ((0, 0), (1, 1), (-1, 1), (1, -1), (-1, -1)):
                try:
                    where = self.mesh(max(r + reach * dr, 0.0), z + reach * dz)
                except ng.NgException:
                    continue
                if where.nr >= 0:
                    return where
        raise GeometryError(f"the point r = {r:g}, z = {z:g} mm is not in the part")


_MIDDLE = np.array([1 / 3, 1 / 3, 1 / 3])
_EDGES = ((0, 1), (1, 2), (2, 0))
_ALONG = (1 / 6, 1 / 2, 5 / 6)
"""Barycentric middle of a triangle, the corners of its edges, and where along an edge stress is looked at."""


def _between(ends: tuple[int, int], share: float) -> Array:
    """Barycentric coordinates of a point on an edge."""
    weights = np.zeros(3)
    weights[list(ends)] = 1 - share, share
    return weights


def stacked_rows(tables: Array, columns: NDArray[np.int_], size: int) -> sparse.csr_matrix:
    """Rows that read k figures at Q points, figure by figure, from tables (Q, k, dofs) and columns (Q, dofs)."""
    count, kinds, width = tables.shape
    rows = np.repeat(np.arange(kinds * count), width)
    places = np.tile(columns, (kinds, 1)).ravel()
    return sparse.csr_matrix((tables.transpose(1, 0, 2).ravel(), (rows, places)), shape=(kinds * count, size))


def von_mises(stress: Array) -> Array:
    """Von Mises stress from (..., 6) direct stresses and shears. [MPa]"""
    a, b, c, d, e, f = np.moveaxis(stress, -1, 0)
    return np.asarray(np.sqrt(0.5 * ((a - b) ** 2 + (b - c) ** 2 + (c - a) ** 2) + 3 * (d**2 + e**2 + f**2)))


def _stiffness(space: ng.FESpace, young: float, poisson: float) -> tuple[ng.BaseMatrix, ...]:
    """K0, K1, K2 of the module's docstring, per pi (2 pi for n = 0)."""
    r = ng.x
    lame = young * poisson / ((1 + poisson) * (1 - 2 * poisson))
    shear = young / (2 * (1 + poisson))

    def strain(u: Any, v: Any, w: Any) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
        """(e_rr, e_tt, e_zz, g_rz, g_rt, g_tz): the part free of n, and the part that goes with n."""
        du, dv, dw = ng.grad(u), ng.grad(v), ng.grad(w)
        still = (du[0], u / r, dw[1], du[1] + dw[0], dv[0] - v / r, dv[1])
        with_n = (0 * u, v / r, 0 * u, 0 * u, -u / r, -w / r)
        return still, with_n

    def energy(a: tuple[Any, ...], b: tuple[Any, ...]) -> Any:
        direct = lame * (a[0] + a[1] + a[2]) * (b[0] + b[1] + b[2])
        return r * (
            direct
            + 2 * shear * (a[0] * b[0] + a[1] * b[1] + a[2] * b[2])
            + shear * (a[3] * b[3] + a[4] * b[4] + a[5] * b[5])
        )

    trial, test = space.TnT()
    (e0, e1), (d0, d1) = strain(*trial), strain(*test)
    integrands = (energy(e0, d0), energy(e0, d1) + energy(e1, d0), energy(e1, d1))
    return tuple(ng.BilinearForm(f * ng.dx(bonus_intorder=2)).Assemble().mat for f in integrands)


def _mesh(section: Section, stations: Stations) -> ng.Mesh:
    """Triangles whose edges meet the ends of every station, as fine as the wall behind each edge asks."""
    geometry = SplineGeometry()
    reentrant = {section.corners[i] for i in section.reentrant_corners()}
    numbers: dict[tuple[float, float], int] = {}

    def number(point: tuple[float, float], size: float) -> int:
        if point not in numbers:
            fine = {"maxh": size / 15} if point in reentrant else {}
            numbers[point] = geometry.AppendPoint(*point, **fine)
        return numbers[point]

    for edge in section.edges:
        for piece, name in _pieces(edge, section, stations):
            size = _element_size(section, edge, loaded=name.startswith("station"))
            ends = [number(piece.start, size), number(piece.end, size)]
            geometry.Append(["line", *ends], bc=name, leftdomain=1, rightdomain=0, maxh=size)
    coarse = max(section.highest - section.lowest, section.largest_radius) / 2
    return ng.Mesh(geometry.GenerateMesh(maxh=coarse, grading=0.7))


def _element_size(section: Section, edge: Edge, *, loaded: bool) -> float:
    """Largest element edge along a profile edge, in walls behind it: bending is smooth, a load's ends are not. [mm]"""
    walls = 0.5 if loaded else 1.5
    return max(walls * section.wall_at(edge), edge.length / 12)


def _pieces(edge: Edge, section: Section, stations: Stations) -> list[tuple[Edge, str]]:
    """An edge cut at the station ends, each piece with its boundary name."""
    if edge.start[0] == edge.end[0] == 0.0:
        return [(edge, "axis")]
    if abs(edge.start[1] - section.lowest) + abs(edge.end[1] - section.lowest) < SAME_POINT_MM:
        return [(edge, "seat")]
    if not edge.is_cylinder(stations.side, stations.radius):
        return [(edge, "free")]
    low, high = sorted((edge.start[1], edge.end[1]))
    inner = [z for z in stations.edges if low + SAME_POINT_MM < z < high - SAME_POINT_MM]
    marks = [low, *inner, high]
    pieces = []
    for a, b in pairwise(marks):
        band = stations.band_numbers.get(int(np.searchsorted(stations.edges, (a + b) / 2)) - 1)
        name = "free" if band is None else f"station{band}"
        pieces.append((Edge((edge.start[0], a), (edge.start[0], b)), name))
    if edge.start[1] > edge.end[1]:
        pieces = [(Edge(piece.end, piece.start), name) for piece, name in reversed(pieces)]
    return pieces


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
