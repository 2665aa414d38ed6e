"""A part clamped along its axis: pressed on a face at k stations, with a rest straight below each.

Where it is pressed the part gets a little shorter and bulges: harmonics 0, k, 2k, ... of the same body of revolution as
under jaws, loaded on two faces instead of a cylinder.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import hypot, pi, sin

import ngsolve as ng
import numpy as np
from netgen.geom2d import SplineGeometry
from numpy.typing import ArrayLike, NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.harmonics import Harmonics, element_size, stiffness
from heldtrue.mechanics.holding import Wrench
from heldtrue.mechanics.section import SAME_POINT_MM, Edge, Section
from heldtrue.mechanics.stress import von_mises
from heldtrue.mechanics.turned_body import TurnedBody

Array = NDArray[np.float64]

PRESSED, RESTING = "station pressed", "station resting"
STRESS_ANGLES = 13
HALVES = ((1, 1, 1, 1), (1, 0, 0, 1), (0, 1, 1, 0), (1, 0, 1, 0), (0, 1, 0, 1))
"""Where in its band the clamp and then the rest bears, inner and outer half: all of both, and each half of each."""


@dataclass(frozen=True)
class FaceBand:
    """The ring of a face that is pressed, and the ring it rests on: ``inner`` and ``outer`` radius of both, ``top`` and
    ``bottom`` z. [mm]"""

    inner: float
    outer: float
    top: float
    bottom: float

    @property
    def middle(self) -> float:
        """Mean radius, that of uniform wear. [mm]"""
        return (self.inner + self.outer) / 2


@dataclass(frozen=True)
class FacePressing:
    """What 1 N of total axial force does, for each way the bands may bear (``HALVES``).

    ``orders`` (H,); ``movement``: U, V, W at the points asked for, shape (ways, H, P, 3) [mm/N]; ``stress``: largest
    von Mises stress on the free surface, shape (ways,) [MPa/N]; ``bearing``: pressure under a clamp [MPa/N].
    """

    orders: tuple[int, ...]
    movement: Array
    stress: Array
    bearing: float

    def along(self, component: int, angles: ArrayLike) -> Array:
        """u_r (0) or u_z (2) round the part, shape (ways, P, angles). [mm/N]"""
        waves = np.cos(np.multiply.outer(np.asarray(self.orders, float), np.atleast_1d(np.asarray(angles, float))))
        return np.asarray(np.einsum("shp,ha->spa", self.movement[..., component], waves))


def pressed_on_face(
    body: TurnedBody, band: FaceBand, stations: int, half_angle: float, points: ArrayLike, *, harmonics: int = 12
) -> FacePressing:
    """A part under 1 N of total axial force, shared by ``stations`` clamps over as many rests.

    Even pressure on each patch of ``half_angle`` [rad]; at pi/stations the clamp is a whole ring.
    Raises: ``GeometryError`` for a band that is not on a face.
    """
    if stations < 2 or not 0 < half_angle <= pi / stations + 1e-12:
        raise GeometryError(f"{stations} stations of half angle {half_angle:g} rad do not fit round the part")
    solver = _FaceHarmonics(body.section, body.young, body.poisson, body.order, band)
    shapes = solver.evaluation(points)
    at, gradients = solver.stress_points()
    orders = tuple(k * stations for k in range(harmonics))
    weights = np.array([_shared(ways, band, stations, half_angle) for ways in HALVES])
    moved, stresses = [], []
    for k, n in enumerate(orders):
        vectors = np.tensordot(_coefficient(k, stations, half_angle) * weights, solver.solve(n), axes=1)
        moved.append(np.matmul(vectors, shapes.T).transpose(0, 2, 1))
        parts = (gradients @ vectors.reshape(-1, solver.size).T).T.reshape(*vectors.shape[:2], -1)
        stresses.append(body.stress_amplitudes(n, at[:, 0], parts))
    largest = _largest(np.array(orders, float), np.array(stresses), stations)
    bearing = float(_shared(HALVES[0], band, stations, half_angle)[0])
    return FacePressing(orders, np.array(moved).transpose(1, 0, 2, 3), largest, bearing)


def _shared(ways: tuple[int, ...], band: FaceBand, stations: int, half_angle: float) -> Array:
    """Pressure of 1 N on the halves that bear: pressed inner, outer, resting inner, outer. [MPa/N]"""
    areas = stations * half_angle * np.array([band.middle**2 - band.inner**2, band.outer**2 - band.middle**2])
    on = np.array(ways, float)
    return np.concatenate([on[:2] / (on[:2] @ areas), on[2:] / (on[2:] @ areas)])


def _coefficient(k: int, stations: int, half_angle: float) -> float:
    """Coefficient of cos(k stations t) of pressure 1 on every patch."""
    if k == 0:
        return stations * half_angle / pi
    return 2 / (k * pi) * sin(k * stations * half_angle)


def _largest(orders: Array, stress: Array, stations: int) -> Array:
    """Largest von Mises stress over points and angles, of (H, ways, Q, 6), shape (ways,)."""
    phase = np.multiply.outer(orders, np.linspace(0.0, pi / stations, STRESS_ANGLES))
    even = np.einsum("hsqc,ha->saqc", stress[..., :4], np.cos(phase))
    odd = np.einsum("hsqc,ha->saqc", stress[..., 4:], np.sin(phase))
    return np.asarray(von_mises(np.concatenate([even, odd], axis=-1)).max(axis=(1, 2)))


class _FaceHarmonics(Harmonics):
    """The finite elements of a part loaded on two faces: four unit pressures, as in ``HALVES``."""

    def __init__(self, section: Section, young: float, poisson: float, order: int, band: FaceBand) -> None:
        self.section = section
        self.mesh = _face_mesh(section, band)
        self.scalar = ng.H1(self.mesh, order=order)
        self.space = self.scalar * self.scalar * self.scalar
        self.size = self.scalar.ndof
        self.forms = stiffness(self.space, young, poisson)
        self.matrix = self.forms[0].CreateMatrix()
        self.loads = self._face_loads()
        self._inverse = None

    def _face_loads(self) -> ng.MultiVector:
        _, _, w = self.space.TestFunction()
        loads = ng.MultiVector(self.matrix.CreateColVector(), 4)
        for i, (name, way) in enumerate(((PRESSED, -1.0), (PRESSED, -1.0), (RESTING, 1.0), (RESTING, 1.0))):
            region = self.mesh.Boundaries(f"{name} {i % 2}")
            loads[i].data = ng.LinearForm(way * w * ng.x * ng.ds(definedon=region)).Assemble().vec
        return loads

    def _free(self, n: int) -> ng.BitArray:
        """As under jaws; what holds the free axial motion is the rest."""
        if n != 0:
            return super()._free(n)
        axis = self.scalar.GetDofs(self.mesh.Boundaries("axis"))
        resting = self.scalar.GetDofs(self.mesh.Boundaries(f"{RESTING} 0"))
        free = ng.BitArray(self.space.ndof)
        free.Set()
        for i in range(self.size):
            free.Clear(self.size + i)
            if axis[i]:
                free.Clear(i)
        free.Clear(2 * self.size + next(i for i in range(self.size) if resting[i]))
        return free

    @property
    def _seat_mean(self) -> Array:
        """Row that takes the mean over the rests of a scalar function."""
        region = self.mesh.Boundaries(f"{RESTING} .*")
        form = ng.LinearForm(self.scalar.TestFunction() * ng.ds(definedon=region)).Assemble()
        row = form.vec.FV().NumPy().copy()
        return np.asarray(row / (row @ self._ones))


def _face_mesh(section: Section, band: FaceBand) -> ng.Mesh:
    """Triangles whose edges meet the ends and the middle of both bands."""
    geometry = SplineGeometry()
    reentrant = {section.corners[i] for i in section.reentrant_corners()}
    numbers: dict[tuple[float, float], int] = {}
    found: set[str] = set()
    for edge in section.edges:
        for piece, name in _face_pieces(edge, band):
            found.add(name)
            size = min(element_size(section, edge, loaded=name.startswith("station")), 2 * piece.length)
            for point in (piece.start, piece.end):
                if point not in numbers:
                    fine = {"maxh": size / 10} if point in reentrant else {}
                    numbers[point] = geometry.AppendPoint(*point, **fine)
            ends = [numbers[piece.start], numbers[piece.end]]
            geometry.Append(["line", *ends], bc=name, leftdomain=1, rightdomain=0, maxh=size)
    if missing := {f"{name} {half}" for name in (PRESSED, RESTING) for half in (0, 1)} - found:
        raise GeometryError(f"the part has no face all along r = {band.inner:g} to {band.outer:g} mm at {missing}")
    coarse = max(section.highest - section.lowest, section.largest_radius) / 2
    return ng.Mesh(geometry.GenerateMesh(maxh=coarse, grading=0.7))


def _face_pieces(edge: Edge, band: FaceBand) -> list[tuple[Edge, str]]:
    """An edge cut at the ends and the middle of a band, each piece with its boundary name."""
    (r0, z0), (r1, z1) = edge.start, edge.end
    if r0 == r1 == 0.0:
        return [(edge, "axis")]
    kind = ""
    if abs(z0 - z1) < SAME_POINT_MM:
        if r1 < r0 and abs(z0 - band.top) < SAME_POINT_MM:
            kind = PRESSED
        elif r1 > r0 and abs(z0 - band.bottom) < SAME_POINT_MM:
            kind = RESTING
    low, high = sorted((r0, r1))
    if not kind or low > band.inner + SAME_POINT_MM or high < band.outer - SAME_POINT_MM:
        return [(edge, "free")]
    inner = [r for r in (band.inner, band.middle, band.outer) if low + SAME_POINT_MM < r < high - SAME_POINT_MM]
    marks = [low, *inner, high]
    pieces = []
    for a, b in pairwise(marks):
        middle = (a + b) / 2
        half = int(middle > band.middle)
        name = f"{kind} {half}" if band.inner < middle < band.outer else "free"
        pieces.append((Edge((a, z0), (b, z0)), name))
    if r0 > r1:
        pieces = [(Edge(piece.end, piece.start), name) for piece, name in reversed(pieces)]
    return pieces


def clamp_force_needed(
    load: Wrench, band: FaceBand, friction: float, *, radius: float, both_faces: bool
) -> tuple[float, str]:
    """Total clamping force that carries a load with no safety in it, and what needs it: friction or prying. [N]

    About the plate, with F the side force, T the torque, M the tilting moment, P the pull away from the plate (thrust
    into it is carried by it), on a ``radius`` r [mm]:

        no rest lifts off:   Q >= P + 2 M/r
        nothing slips:       mu (Q - P - 2 M/r) + mu Q >= T/r + F      (without the second mu Q on one face alone)

    A tilting moment loads k >= 3 rests by 2 M cos(t)/(k r) more or less; every rest is given no more friction than the
    one with least load, and torque and side force are added as at the station where they meet: safe side of the
    lower-bound theorem (own derivation).
    """
    fx, fy, fz, mx, my, mz = load.about(band.bottom, 1.0)
    pried = max(fz, 0.0) + 2 * hypot(mx, my) / radius
    slid = (abs(mz) / radius + hypot(fx, fy)) / friction
    by_friction = float((slid + pried) / 2 if both_faces else slid + pried)
    return (by_friction, "friction") if by_friction > pried else (float(pried), "prying")
