"""The jaw: an elastic top jaw in three dimensions, standing on its master jaw.

Axes: x along the jaw away from the spindle axis, y round the chuck, z away from the chuck; z = 0 on the master jaw, the
spindle axis at x = y = 0.  A jaw mirrors about y = 0, so half of it is meshed.  It stands on an elastic base (normal
and shear stiffness per area over the width of the master jaw), and the master jaw may tilt in its guide:

    div s = 0,   s n = -(k_n u_z e_z + k_s u_t) on the base,   s n = p e_r on the gripping face.

The gripping face is split along the edges of the contact cells, so that the pressure of each cell is integrated
exactly; by reciprocity the answers under all cells give the compliance and, read under the boring ring's load, how
far that ring pushes every cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from math import asin, atan2, cos, sin

import netgen.occ as occ
import ngsolve as ng
import numpy as np
from ngsolve.comp import IntegrationRuleSpace
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial import cKDTree

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.jaw_response import BALL_MM, JawResponse, Stresses, with_lean
from heldtrue.mechanics.jaw_shape import NEAR_MM, BoringRing, JawBase, JawShape, half_solid
from heldtrue.mechanics.stress import von_mises

Array = NDArray[np.float64]

ORDER = 2
STRESSED_BALLS = 300
RESIDUAL_LIMIT = 1e-6
"""Largest accepted force out of balance, relative to the load of all cells."""
CELL_AREA_ERROR = 1e-3
"""Largest accepted error of a cell's area on the mesh, relative: curved elements stay within 2e-5 (measured)."""


class JawBody:
    """An elastic top jaw on its base.

    ``young`` [MPa], ``poisson``.  The solid is made and meshed with the OCCT kernel; ``fineness`` scales the elements.
    Raises: ``GeometryError`` for a jaw that cannot be; ``SolverError`` where it cannot be meshed or factored.
    """

    def __init__(
        self, shape: JawShape, young: float, poisson: float, base: JawBase, *, order: int = ORDER, fineness: float = 1.0
    ) -> None:
        self.shape = shape
        self.young = young
        self.poisson = poisson
        self.base = base
        self.order = order
        self.fineness = fineness

    def under(self, face: JawFace) -> LoadedJaw:
        """The jaw under unit pressure on each cell of its gripping face."""
        return LoadedJaw(self, face)

    def compliance(self, face: JawFace) -> Array:
        """How far each cell gives way, along r and away from the part, for 1 MPa in another cell. [mm/MPa]

        Shape (cells, cells), cells in row-major order (station, sector); both mirror halves carry the pressure.
        Add it to ``contact.part_compliance`` of the same face.
        """
        return with_lean(self.under(face).firm, face, self.shape.seat_height, self.base.tilt)


class LoadedJaw:
    """Finite elements of half a jaw with its gripping face split into the cells of one ``JawFace``."""

    def __init__(self, body: JawBody, face: JawFace) -> None:
        shape = body.shape
        if abs(face.half_angle - shape.half_angle) > 1e-9:
            raise GeometryError("the cells do not span the jaw's bore")
        bottom, top = face.stations.edges[0] + shape.seat_height, face.stations.edges[-1] + shape.seat_height
        if bottom < shape.seat_height + shape.relief - NEAR_MM or top > shape.height + NEAR_MM:
            raise GeometryError(
                f"the jaw grips from {shape.seat_height + shape.relief:g} to {shape.height:g} mm above the master jaw; "
                f"the part asks for {bottom:g} to {top:g} mm"
            )
        self.body = body
        self.face = face
        self.mesh = _mesh(shape, face, body.fineness)
        self.space = ng.VectorH1(self.mesh, order=body.order, dirichlety="mirror")
        self._loads = [self._cell_load(i, j) for i in range(len(face.areas)) for j in range(face.sectors)]

    def _stiffness(self) -> ng.BaseMatrix:
        body = self.body
        u, v = self.space.TnT()
        lame = body.young * body.poisson / ((1 + body.poisson) * (1 - 2 * body.poisson))
        shear = body.young / (2 * (1 + body.poisson))

        def strain(w: ng.CoefficientFunction) -> ng.CoefficientFunction:
            return (ng.Grad(w) + ng.Grad(w).trans) / 2

        inside = lame * ng.div(u) * ng.div(v) + 2 * shear * ng.InnerProduct(strain(u), strain(v))
        base = body.base.normal * u[2] * v[2] + body.base.shear * (u[0] * v[0] + u[1] * v[1])
        return ng.BilinearForm(inside * ng.dx + base * ng.ds("base"), symmetric=True).Assemble().mat

    def _cell_load(self, station: int, sector: int) -> ng.BaseVector:
        """Pressure of 1 MPa on a cell, pushing the jaw away from the part."""
        return self._pressure_load(f"cell{station}_{sector}")

    def _pressure_load(self, boundary: str) -> ng.BaseVector:
        v = self.space.TestFunction()
        radius = ng.sqrt(ng.x * ng.x + ng.y * ng.y)
        radial = self.body.shape.outward * (v[0] * ng.x + v[1] * ng.y) / radius
        return ng.LinearForm(radial * ng.ds(boundary)).Assemble().vec

    @cached_property
    def _answers(self) -> Array:
        """Displacements under each cell's load, shape (cells, unknowns)."""
        # Used once, and half of what a jaw would keep in memory: neither outlives this.
        matrix = self._stiffness()
        inverse = matrix.Inverse(self.space.FreeDofs(), inverse="sparsecholesky")
        loads = ng.MultiVector(self._loads[0], len(self._loads))
        for i, load in enumerate(self._loads):
            loads[i].data = load
        answers = (inverse * loads).Evaluate()
        # All cells together are as good a test as each: an error of one is an error of the sum.
        every = ng.Vector(np.ones(len(answers)))
        pushed = (loads * every).Evaluate()
        left = (pushed - matrix * (answers * every)).Evaluate()
        error = np.linalg.norm(left.FV().NumPy()[np.array(self.space.FreeDofs())]) / pushed.Norm()
        if not error < RESIDUAL_LIMIT:
            raise SolverError(f"the jaw is not in balance with the pressure on it: {error:.1e} of it is left over")
        return np.array([answer.FV().NumPy() for answer in answers])

    def response(self, ring: BoringRing | None = None) -> JawResponse:
        """What the jaw answers to its cells, and to the boring ring on them; needs neither mesh nor factors any more.

        The ring presses along the jaw on its front wall, below the seat, and on its bore.  Raises: ``GeometryError``
        for a ring off the jaw.
        """
        push = np.zeros(self.face.areas.shape) if ring is None else self._push(ring)
        seat = self.body.shape.seat_height
        return JawResponse(self.face, seat, self.body.base.tilt, ring, self.firm, push, *self._stress)

    @cached_property
    def firm(self) -> Array:
        """The compliance on a master jaw that cannot lean, shape (cells, cells). [mm/MPa]"""
        loads = np.array([load.FV().NumPy() for load in self._loads])
        return np.asarray(loads @ self._answers.T / (self.face.areas.ravel() / 2)[:, None])

    def _push(self, ring: BoringRing) -> Array:
        """The ring's push on a master jaw that cannot lean, shape (m, s). [mm/N]"""
        v = self.space.TestFunction()
        low, high = ring.z
        if not 0 <= low < high <= self.body.shape.height + NEAR_MM:
            raise GeometryError(
                f"the ring stands from {low:g} to {high:g} mm, the jaw from 0 to {self.body.shape.height:g} mm"
            )
        across = (2 * ng.z - low - high) / (high - low)
        # A smooth bump over the band: its edges need not be edges of the mesh.
        bump = ng.IfPos(1 - across * across, (1 - across * across) ** 2, 0.0)
        touched = ng.ds("wall|cell.*|face", bonus_intorder=4)
        load = ng.LinearForm(bump * v[0] * touched).Assemble().vec
        area = ng.Integrate(bump * touched, self.mesh)
        if area <= 0:
            raise GeometryError(f"the ring at {low:g} to {high:g} mm does not meet the jaw")
        moved = self._answers @ load.FV().NumPy() / (self.face.areas.ravel() / 2) * self.body.shape.outward
        # Half the jaw carries half of the newton.
        return np.asarray((moved / area * 0.5).reshape(self.face.areas.shape))

    @cached_property
    def _ball_middles(self) -> Array:
        """Where the balls stand: on the vertices of the mesh, and just clear of the cells, (balls, 3). [mm]"""
        vertices = np.array([vertex.point for vertex in self.mesh.vertices])
        return np.concatenate([vertices[self._clearance(vertices) >= BALL_MM], self._behind_cells()])

    def _behind_cells(self) -> Array:
        """A grid as far behind the cells as a ball needs: it is there that stress falls steepest, (points, 3). [mm]"""
        shape, face = self.body.shape, self.face
        radius = shape.bore_radius + shape.outward * BALL_MM
        if radius <= 0:
            return np.zeros((0, 3))
        end = face.half_angle
        if shape.style != "pie":
            # The side of a block runs along x, so that is where the grid ends.
            end = min(end, asin(min(shape.bore_radius * sin(end) / radius, 1.0)))
        angles = np.linspace(0.0, end - 1e-6, 2 * face.sectors + 1)
        heights = shape.seat_height + np.sort([*face.stations.edges, *face.stations.middles])
        heights = np.clip(heights, 1e-6, shape.height - 1e-6)
        t, z = (grid.ravel() for grid in np.meshgrid(angles, heights))
        grid = np.column_stack([radius * np.cos(t), radius * np.sin(t) + 1e-6, z])
        inside = self.mesh(*grid.T, ng.VOL)["nr"] >= 0
        return np.asarray(grid[inside])

    def _clearance(self, points: Array) -> Array:
        """Distance of each point from the gripped stretch of the bore, shape (points,). [mm]"""
        x, y, z = points.T
        radius, edges = np.hypot(x, y), np.asarray(self.face.stations.edges) + self.body.shape.seat_height
        past_end = np.maximum(np.maximum(edges[0] - z, z - edges[-1]), 0.0)
        past_side = np.maximum(np.arctan2(y, x) - self.face.half_angle, 0.0) * radius
        return np.asarray(np.sqrt((radius - self.body.shape.bore_radius) ** 2 + past_end**2 + past_side**2))

    @cached_property
    def _stress(self) -> tuple[Stresses, Array]:
        """Mean stress for 1 MPa on each cell, (cells, balls, 6), and the middles of those balls, (balls, 3).

        Order xx, yy, zz, xz, xy, yz.  Only the balls that even pressure on a band, a sector or all strains most.
        """
        middles = self._ball_middles
        cells, unknowns = len(self._answers), self._answers.shape[1] // 3
        slopes = _mean_slopes(self.mesh, self.body.order, middles)
        answers = self._answers.reshape(*self.face.areas.shape, 3 * unknowns)
        likely = np.concatenate([answers.sum(axis=1), answers.sum(axis=0), answers.sum(axis=(0, 1))[None]])
        score = von_mises(self._stress_of(slopes, likely))
        strained = np.argsort((score / score.max(axis=1, keepdims=True)).max(axis=0))[-STRESSED_BALLS:]
        kept = [slope[strained] for slope in slopes]
        stress = self._stress_of(kept, self._answers.reshape(cells, -1))
        return np.asarray(stress, dtype=np.float32), middles[strained]

    def _stress_of(self, slopes: Sequence[sparse.csr_matrix], answers: Array) -> Array:
        """Stress of displacements (n, unknowns) by the rows that take their slopes, shape (n, points, 6). [MPa]"""
        parts = answers.reshape(3 * len(answers), -1)
        du = np.stack([(slope @ parts.T).T.reshape(len(answers), 3, -1) for slope in slopes], axis=2)
        strain = (du + du.transpose(0, 2, 1, 3)) / 2
        lame = self.body.young * self.body.poisson / ((1 + self.body.poisson) * (1 - 2 * self.body.poisson))
        shear = self.body.young / (2 * (1 + self.body.poisson))
        spread = lame * np.trace(strain, axis1=1, axis2=2)
        direct = [spread + 2 * shear * strain[:, i, i] for i in range(3)]
        sheared = [2 * shear * strain[:, i, j] for i, j in ((0, 2), (0, 1), (1, 2))]
        return np.stack([*direct, *sheared], axis=-1)


def _mean_slopes(mesh: ng.Mesh, order: int, middles: Array) -> list[sparse.csr_matrix]:
    """Rows that take the mean slope along x, y and z in the ball round each of ``middles``, (balls, unknowns) each.

    Integrated with the 14 points an element that take quartics exactly.  Rows of a ball that holds none of them, at
    the free corner of a coarse element, are 0.
    """
    points = IntegrationRuleSpace(mesh, order=2)
    scalar = ng.H1(mesh, order=order)
    u, at = scalar.TrialFunction(), points.TestFunction()
    dx = ng.dx(intrules=points.GetIntegrationRules())

    def gathered(what: ng.CoefficientFunction) -> Array:
        return np.array(ng.LinearForm(what * at * dx).Assemble().vec.FV().NumPy())

    volume = gathered(ng.CoefficientFunction(1.0))
    places = np.column_stack([gathered(axis) / volume for axis in (ng.x, ng.y, ng.z)])
    near = cKDTree(middles).sparse_distance_matrix(cKDTree(places), BALL_MM, output_type="coo_matrix")
    bump = sparse.csr_matrix((1 - (near.data / BALL_MM) ** 2, near.coords), shape=near.shape)
    held = bump @ volume
    bump = sparse.diags_array(1 / np.where(held > 0, held, 1.0)) @ bump
    slopes = []
    for axis in range(3):
        form = ng.BilinearForm(trialspace=scalar, testspace=points)
        form += ng.grad(u)[axis] * at * dx
        values = tuple(np.array(part) for part in form.Assemble().mat.CSR())
        slopes.append(bump @ sparse.csr_matrix(values, (points.ndof, scalar.ndof)))
    return slopes


def _mesh(shape: JawShape, face: JawFace, fineness: float) -> ng.Mesh:
    """Half the jaw in curved elements, every face named.

    Raises: ``SolverError`` where it cannot be meshed, or a cell came out with another area than its own.
    """
    solid = _named_solid(shape, face, fineness)
    coarse = max(shape.height, shape.length) / 4 / fineness
    try:
        # The same mesh as with threads, in half the time: there is too little for them to do.
        mesh = ng.Mesh(
            occ.OCCGeometry(solid).GenerateMesh(maxh=coarse, grading=0.6, optsteps3d=0, parallel_meshing=False)
        )
    except Exception as error:
        raise SolverError(f"the jaw could not be meshed: {error}") from error
    mesh.Curve(2)
    _check_cells(mesh, face)
    return mesh


def _named_solid(shape: JawShape, face: JawFace, fineness: float) -> occ.TopoDS_Shape:
    """Half the jaw, its gripping face split along the cells and its base along the master jaw, every face named."""
    split = occ.Glue([half_solid(shape), *_cell_edges(shape, face), *_master_edge(shape)]).solids[0]
    heights = np.array(face.stations.edges) + shape.seat_height
    bands = face.stations.band_numbers
    for part in split.faces:
        c = part.center
        if abs(c.z) < NEAR_MM:
            part.name = "base" if c.y < shape.width / 2 else "free"
        elif abs(c.y) < NEAR_MM:
            part.name = "mirror"
        elif part.name == "face":
            interval = int(np.searchsorted(heights, c.z)) - 1
            sector = int(np.searchsorted(face.bounds, atan2(c.y, c.x))) - 1
            # The bore below the grip, in a groove or past the last sector is no cell.
            if interval in bands and sector < face.sectors:
                part.name = f"cell{bands[interval]}_{sector}"
                part.maxh = max(4 * shape.bore_radius * face.half_angle / face.sectors, 6.0) / fineness
        elif part.name != "wall":
            part.name = "free"
    return split


def _check_cells(mesh: ng.Mesh, face: JawFace) -> None:
    """Raise ``SolverError`` unless the mesh has every cell, each with its own area."""
    areas = np.zeros(face.areas.shape)
    for name, area in zip(mesh.GetBoundaries(), ng.Integrate(1.0, mesh, ng.BND, region_wise=True), strict=True):
        if name.startswith("cell"):
            areas[tuple(int(number) for number in name[4:].split("_"))] += area
    off = np.abs(areas / (face.areas / 2) - 1)
    if off.max() > CELL_AREA_ERROR:
        station, sector = np.unravel_index(off.argmax(), off.shape)
        raise SolverError(
            f"contact cell {station}, {sector} of the jaw came out with {areas[station, sector]:.4g} mm2 "
            f"of its {face.areas[station, sector] / 2:.4g} mm2"
        )


def _cell_edges(shape: JawShape, face: JawFace) -> Sequence[occ.TopoDS_Shape]:
    """Arcs and lines on the bore along the borders of the cells."""
    heights = [z + shape.seat_height for z in face.stations.edges]
    r, b = shape.bore_radius, face.half_angle

    def on_bore(angle: float, z: float) -> occ.Pnt:
        return occ.Pnt(r * cos(angle), r * sin(angle), z)

    arcs = [
        occ.ArcOfCircle(on_bore(0, z), on_bore(b / 2, z), on_bore(b, z))
        for z in heights
        if shape.seat_height + shape.relief + NEAR_MM < z < shape.height - NEAR_MM
    ]
    # On a small part the block is wider than the arc its neighbours leave it, and the bore runs on past the cells.
    runs_on = shape.style == "standard" and not shape.point and shape.width / 2 > r * sin(b) + NEAR_MM
    lines = [occ.Segment(on_bore(a, heights[0]), on_bore(a, heights[-1])) for a in face.bounds[1:-1]]
    if runs_on:
        # All the way up: what is left of the bore would else reach round the cells and have its centre in one of them.
        lines.append(occ.Segment(on_bore(b, shape.seat_height), on_bore(b, shape.height)))
    return [*arcs, *lines]


def _master_edge(shape: JawShape) -> Sequence[occ.TopoDS_Shape]:
    """The line on the base along the edge of the master jaw, none where the jaw is no wider."""
    reach = shape.bore_radius * sin(shape.half_angle)
    high = shape.radial_span[1]
    if shape.style == "pie":
        reach = high * sin(shape.half_angle)
    if reach < shape.width / 2 + NEAR_MM:
        return []
    y = shape.width / 2
    # From the spindle on: a segment wraps round the front of its own middle.
    return [occ.Segment(occ.Pnt(0, y, 0), occ.Pnt(high + 1, y, 0))]
