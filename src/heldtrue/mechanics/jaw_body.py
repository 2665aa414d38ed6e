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
from math import atan2, cos, hypot, sin

import netgen.occ as occ
import ngsolve as ng
import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError, SolverError
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.jaw_shape import NEAR_MM, BoringRing, JawBase, JawShape, half_solid
from heldtrue.mechanics.stress import stacked_rows, von_mises

Array = NDArray[np.float64]

ORDER = 2
STRESSED_ELEMENTS = 300


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
        return self.under(face).compliance


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
        self.inverse = self._factor()
        self._loads = [self._cell_load(i, j) for i in range(len(face.areas)) for j in range(face.sectors)]

    def _factor(self) -> ng.BaseMatrix:
        body = self.body
        u, v = self.space.TnT()
        lame = body.young * body.poisson / ((1 + body.poisson) * (1 - 2 * body.poisson))
        shear = body.young / (2 * (1 + body.poisson))

        def strain(w: ng.CoefficientFunction) -> ng.CoefficientFunction:
            return (ng.Grad(w) + ng.Grad(w).trans) / 2

        inside = lame * ng.div(u) * ng.div(v) + 2 * shear * ng.InnerProduct(strain(u), strain(v))
        on_master = ng.IfPos(body.shape.width / 2 - ng.y, 1.0, 0.0)
        base = on_master * (body.base.normal * u[2] * v[2] + body.base.shear * (u[0] * v[0] + u[1] * v[1]))
        form = ng.BilinearForm(inside * ng.dx + base * ng.ds("base"), symmetric=True).Assemble()
        return form.mat.Inverse(self.space.FreeDofs(), inverse="sparsecholesky")

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
        loads = ng.MultiVector(self._loads[0], len(self._loads))
        for i, load in enumerate(self._loads):
            loads[i].data = load
        answers = np.array([a.FV().NumPy() for a in (self.inverse * loads).Evaluate()])
        if not np.isfinite(answers).all():
            raise SolverError("the stiffness of the jaw could not be factored")
        return answers

    @cached_property
    def compliance(self) -> Array:
        """See :meth:`JawBody.compliance`."""
        loads = np.array([load.FV().NumPy() for load in self._loads])
        half_areas = self.face.areas.ravel() / 2
        elastic = loads @ self._answers.T / half_areas[:, None]
        return elastic + np.outer(self._lean_of_cells, self._moment_of_cells) / self.body.base.tilt

    @cached_property
    def _lean_of_cells(self) -> Array:
        """How far each cell moves along r when the master jaw leans by 1 rad, shape (cells,). [mm/rad]"""
        stations = self.face.stations
        heights = self.body.shape.seat_height + stations.middles
        return np.outer(heights, self.face.along).ravel()

    @cached_property
    def _moment_of_cells(self) -> Array:
        """Moment of 1 MPa in each cell about the base of the jaw, both halves, shape (cells,). [N mm/MPa]"""
        return self._lean_of_cells * self.face.areas.ravel()

    def under_ring(self, ring: BoringRing) -> Array:
        """How far each cell moves away from the part for 1 N of the boring ring along the jaw, shape (m, s). [mm/N]

        The ring presses along the jaw on its front wall, below the seat, and on its bore.
        """
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
        unit = moved / area * 0.5
        lean = self._lean_of_cells * (low + high) / 2 / self.body.base.tilt
        return np.asarray((unit + lean).reshape(self.face.areas.shape))

    def largest_mises(self, pressure: Array) -> tuple[float, tuple[float, float, float]]:
        """Largest von Mises stress [MPa] under cell pressures (m, s) [MPa], and the (x, y, z) [mm] where it stands.

        Looked for in the middle of the elements: the corners of seat, bolt and base are singular.  Elements at the
        gripping face are left out: what the contact itself does there is a matter of marking.
        """
        per_cell, middles = self._stress
        stress = von_mises(np.tensordot(pressure.ravel(), per_cell, axes=1))
        worst = int(stress.argmax())
        x, y, z = (float(v) for v in middles[worst])
        return float(stress[worst]), (x, y, z)

    @cached_property
    def _middles(self) -> Array:
        """Middle of every element, shape (elements, 3). [mm]"""
        points = np.array([vertex.point for vertex in self.mesh.vertices])
        numbers = np.array([[v.nr for v in el.vertices] for el in self.mesh.Elements(ng.VOL)])
        return np.asarray(points[numbers].mean(axis=1))

    @cached_property
    def _at_contact(self) -> NDArray[np.bool_]:
        """Elements that touch the gripping face, shape (elements,)."""
        pressed = {v.nr for e in self.mesh.Elements(ng.BND) if e.mat.startswith("cell") for v in e.vertices}
        return np.array([any(v.nr in pressed for v in el.vertices) for el in self.mesh.Elements(ng.VOL)])

    @cached_property
    def _stress(self) -> tuple[Array, Array]:
        """Stress for 1 MPa on each cell, (cells, elements, 6), and the middles of those elements, (elements, 3).

        Order xx, yy, zz, xz, xy, yz.  Only the elements that even pressure on a band, a sector or all strains most.
        """
        scalar = ng.H1(self.mesh, order=self.body.order)
        slopes, columns = [], []
        for element in self.mesh.Elements(ng.VOL):
            map_ = self.mesh.GetTrafo(element)
            middle = map_(0.25, 0.25, 0.25)
            slopes.append(np.asarray(scalar.GetFE(element).CalcDShape(middle)).T)
            columns.append(list(scalar.GetDofNrs(element)))
        gradient = stacked_rows(np.array(slopes), np.array(columns), scalar.ndof)
        cells, elements = len(self._answers), len(slopes)
        parts = self._answers.reshape(cells * 3, scalar.ndof)
        du = (gradient @ parts.T).T.reshape(cells, 3, 3, elements)
        strain = (du + du.transpose(0, 2, 1, 3)) / 2
        lame = self.body.young * self.body.poisson / ((1 + self.body.poisson) * (1 - 2 * self.body.poisson))
        shear = self.body.young / (2 * (1 + self.body.poisson))
        spread = lame * np.trace(strain, axis1=1, axis2=2)
        direct = [spread + 2 * shear * strain[:, i, i] for i in range(3)]
        sheared = [2 * shear * strain[:, i, j] for i, j in ((0, 2), (0, 1), (1, 2))]
        stress = np.stack([*direct, *sheared], axis=-1)
        grid = stress.reshape(*self.face.areas.shape, elements, 6)
        likely = np.concatenate([grid.sum(axis=1), grid.sum(axis=0), grid.sum(axis=(0, 1))[None]])
        score = von_mises(likely)
        score[:, self._at_contact] = 0.0
        strained = np.argsort((score / score.max(axis=1, keepdims=True)).max(axis=0))[-STRESSED_ELEMENTS:]
        return np.ascontiguousarray(stress[:, strained]), self._middles[strained]


def _mesh(shape: JawShape, face: JawFace, fineness: float) -> ng.Mesh:
    """Half the jaw, its gripping face split along the cells, every face named."""
    solid = half_solid(shape)
    edges = _cell_edges(shape, face)
    split = occ.Glue([solid, *edges]).solids[0]
    heights = np.array(face.stations.edges) + shape.seat_height
    bands = face.stations.band_numbers
    found = set()
    for part in split.faces:
        c = part.center
        radius, angle = hypot(c.x, c.y), atan2(c.y, c.x)
        part.name = _face_name(shape, c.x, c.y, c.z, radius)
        if part.name == "face" and heights[0] < c.z < heights[-1]:
            interval = int(np.searchsorted(heights, c.z)) - 1
            sector = min(int(np.searchsorted(face.bounds, angle)) - 1, face.sectors - 1)
            if interval in bands:
                part.name = f"cell{bands[interval]}_{sector}"
                part.maxh = max(4 * shape.bore_radius * face.half_angle / face.sectors, 6.0) / fineness
                found.add(part.name)
    if len(found) != face.areas.size:
        raise SolverError(f"only {len(found)} of {face.areas.size} contact cells came out of splitting the jaw's bore")
    coarse = max(shape.height, shape.length) / 4 / fineness
    try:
        mesh = ng.Mesh(occ.OCCGeometry(split).GenerateMesh(maxh=coarse, grading=0.6, optsteps3d=0))
    except Exception as error:
        raise SolverError(f"the jaw could not be meshed: {error}") from error
    mesh.Curve(2)
    return mesh


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
    runs_on = shape.style != "pie" and shape.width / 2 > r * sin(b) + NEAR_MM
    ends = face.bounds[1:] if runs_on else face.bounds[1:-1]
    lines = [occ.Segment(on_bore(a, heights[0]), on_bore(a, heights[-1])) for a in ends]
    return [*arcs, *lines]


def _face_name(shape: JawShape, x: float, y: float, z: float, radius: float) -> str:
    """Name of a face of the half jaw by its centre."""
    if abs(z) < NEAR_MM:
        return "base"
    if abs(y) < NEAR_MM:
        return "mirror"
    sagitta = shape.bore_radius * (1 - cos(shape.half_angle))
    on_bore = abs(radius - shape.bore_radius) <= max(sagitta, 0.01) + NEAR_MM
    if on_bore and shape.seat_height < z < shape.height:
        return "face"
    # A boring ring bears on the end of the jaw that faces the part.
    front = shape.radial_span[0 if shape.side == "outside" else 1]
    on_wall = min(abs(x - front), abs(radius - front)) < 0.3 * shape.length
    return "wall" if on_wall and NEAR_MM < z < shape.height - NEAR_MM else "free"
