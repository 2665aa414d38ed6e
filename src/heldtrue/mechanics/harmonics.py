"""The finite elements of a body of revolution, one Fourier harmonic at a time: refill, factor, solve, read off.

The theory stands in ``turned_body``.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import Any

import ngsolve as ng
import numpy as np
from netgen.geom2d import SplineGeometry
from netgen.meshing import SetMessageImportance
from numpy.typing import ArrayLike, NDArray
from scipy import sparse

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.section import SAME_POINT_MM, Edge, Section
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.stress import stacked_rows

Array = NDArray[np.float64]

# These matrices are too small to share: a second thread costs more than it brings, and on a busy machine its
# waiting makes a factorisation twenty times slower.
ng.SetNumThreads(1)
# The mesher must not write on a standard output that may be read by a program.
SetMessageImportance(0)
ng.ngsglobals.msg_level = 0


class Harmonics:
    """The finite elements of one body with one set of load stations: refill, factor, solve, evaluate.

    ``sheared``: besides a pressure each station also carries a traction round the part, after all the pressures.
    """

    def __init__(
        self, section: Section, young: float, poisson: float, order: int, stations: Stations, *, sheared: bool = False
    ) -> None:
        self.stations = stations
        self.section = section
        self.mesh, self.scalar, self.space, self.forms = assembled(section, young, poisson, order, stations)
        self.size = self.scalar.ndof
        self.matrix = self.forms[0].CreateMatrix()
        self.loads = self._load_vectors(sheared=sheared)
        self._inverse: tuple[int, ng.BaseMatrix] | None = None

    def solve(self, n: int) -> Array:
        """Coefficients of U, V, W for pressure cos(n t), then shear sin(n t), of 1 MPa on each band, (L, 3, size)."""
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

    def _load_vectors(self, *, sheared: bool) -> ng.MultiVector:
        u, v, _ = self.space.TestFunction()
        directions = [self.stations.inward * u, v] if sheared else [self.stations.inward * u]
        bands = len(self.stations.bands)
        loads = ng.MultiVector(self.matrix.CreateColVector(), len(directions) * bands)
        for k, direction in enumerate(directions):
            for i in range(bands):
                region = self.mesh.Boundaries(f"station{i}")
                form = ng.LinearForm(direction * ng.x * ng.ds(definedon=region)).Assemble()
                loads[k * bands + i].data = form.vec
        return loads

    def compliance(self, vectors: Array) -> Array:
        """Mean displacement of each station (row), the way its load pushes, for each load (column), (L, L). [mm/MPa]"""
        loads = np.array([load.FV().NumPy() for load in self.loads])
        areas = np.tile(self.stations.areas, len(loads) // len(self.stations.bands))
        return np.asarray(loads @ vectors.reshape(len(vectors), -1).T / areas[:, None])

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

        Three points on every boundary edge that is neither axis nor gripped: bending peaks on the surface.  Inner
        corners, where an elastic stress is unbounded, and the contact itself, a matter of marking, are left out.
        """
        surface = {frozenset(v.nr for v in e.vertices): e.mat for e in self.mesh.Elements(ng.BND) if e.mat != "axis"}
        at: list[Array] = []
        tables: list[Array] = []
        columns: list[list[int]] = []
        for element in self.mesh.Elements(ng.VOL):
            numbers = [v.nr for v in element.vertices]
            corners = np.array([self.mesh[v].point for v in element.vertices])
            edges = [surface.get(frozenset(numbers[k] for k in ends)) for ends in _EDGES]
            free = [name is not None and not name.startswith("station") for name in edges]
            on_surface = [ends for ends, is_free in zip(_EDGES, free, strict=True) if is_free]
            wanted = [_between(ends, share) for ends in on_surface for share in _ALONG]
            if self._touches_reentrant(corners):
                wanted = []
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


_EDGES = ((0, 1), (1, 2), (2, 0))
_ALONG = (1 / 6, 1 / 2, 5 / 6)
"""The corners of a triangle's edges, and where along an edge stress is looked at."""


def _between(ends: tuple[int, int], share: float) -> Array:
    """Barycentric coordinates of a point on an edge."""
    weights = np.zeros(3)
    weights[list(ends)] = 1 - share, share
    return weights


@lru_cache(maxsize=4)
def assembled(
    section: Section, young: float, poisson: float, order: int, stations: Stations
) -> tuple[ng.Mesh, ng.FESpace, ng.FESpace, tuple[ng.BaseMatrix, ...]]:
    """Mesh, space of one component and of all three, and K0, K1, K2: kept for whoever loads the same body next.

    Raises: ``GeometryError`` for a station off the body; ``SolverError`` where it cannot be meshed.
    """
    for band in stations.bands:
        section.require_span(stations.side, stations.radius, band)
    mesh = _mesh(section, stations)
    scalar = ng.H1(mesh, order=order)
    space = scalar * scalar * scalar
    return mesh, scalar, space, stiffness(space, young, poisson)


def stiffness(space: ng.FESpace, young: float, poisson: float) -> tuple[ng.BaseMatrix, ...]:
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
    return tuple(ng.BilinearForm(f * ng.dx(bonus_intorder=0)).Assemble().mat for f in integrands)


def _mesh(section: Section, stations: Stations) -> ng.Mesh:
    """Triangles whose edges meet the ends of every station, as fine as the wall behind each edge asks.

    Raises: ``SolverError`` where it cannot be meshed.
    """
    geometry = SplineGeometry()
    reentrant = {section.corners[i] for i in section.reentrant_corners()}
    numbers: dict[tuple[float, float], int] = {}

    def number(point: tuple[float, float], size: float) -> int:
        if point not in numbers:
            fine = {"maxh": size / 10} if point in reentrant else {}
            numbers[point] = geometry.AppendPoint(*point, **fine)
        return numbers[point]

    for edge in section.edges:
        for piece, name in _pieces(edge, section, stations):
            size = element_size(section, edge, loaded=name.startswith("station"))
            ends = [number(piece.start, size), number(piece.end, size)]
            geometry.Append(["line", *ends], bc=name, leftdomain=1, rightdomain=0, maxh=size)
    coarse = max(section.highest - section.lowest, section.largest_radius) / 2
    try:
        return ng.Mesh(geometry.GenerateMesh(maxh=coarse, grading=0.7))
    except Exception as error:
        raise SolverError(f"the part could not be meshed: {error}") from error


def element_size(section: Section, edge: Edge, *, loaded: bool) -> float:
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
