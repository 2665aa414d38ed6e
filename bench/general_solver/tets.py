"""What most users of a general code do: let a mesh generator fill the sector with 10-node tetrahedra.

The generator is Netgen, told one largest edge length.  The borders of the load and the compared circles are edges of
the mesh, so that nodes lie on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import degrees, hypot, pi, radians

import netgen.occ as occ
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from general_solver import ccx
from general_solver.linear import JAWS, STEEL, Body

Array = NDArray[np.float64]
NEAR = 1e-6
_ORDER = np.array([0, 2, 1, 3, 5, 7, 4, 6, 9, 8])
"""Netgen's nodes in the order of C3D10, which also turns its corners the other way round."""
_FACES = {frozenset((0, 1, 2)): 1, frozenset((0, 3, 1)): 2, frozenset((1, 3, 2)): 3, frozenset((2, 3, 0)): 4}


@dataclass(frozen=True)
class Tets:
    """``points`` (nodes, 3) in x, y, z; ``elements`` (count, 10) from 0; ``pressed``: (element, face number)."""

    points: Array
    elements: NDArray[np.int64]
    pressed: list[tuple[int, int]]

    @property
    def radius(self) -> Array:
        return np.hypot(self.points[:, 0], self.points[:, 1])

    @property
    def angle(self) -> Array:
        return np.arctan2(self.points[:, 1], self.points[:, 0])


def mesh_of(body: Body, edge: float) -> Tets:
    """The sector with no edge longer than about ``edge`` [mm]."""
    solid = _sector(body)
    for face in solid.faces:
        face.name = "pressed" if _is_pressed(body, face) else "free"
    mesh = occ.OCCGeometry(solid).GenerateMesh(maxh=edge)
    mesh.SecondOrder()
    points = np.array([tuple(p.p) for p in mesh.Points()])
    elements = np.array([[p.nr - 1 for p in e.points] for e in mesh.Elements3D()])[:, _ORDER]
    loaded = {
        frozenset(p.nr - 1 for p in e.points[:3]) for e in mesh.Elements2D() if mesh.GetBCName(e.index - 1) == "pressed"
    }
    pressed = [
        (i, number)
        for i, nodes in enumerate(elements[:, :4].tolist())
        for corners, number in _FACES.items()
        if frozenset(nodes[k] for k in corners) in loaded
    ]
    return Tets(points, elements, pressed)


def _sector(body: Body) -> occ.TopoDS_Shape:
    """Two revolved sections, under the jaw and beside it, glued."""
    borders = (0.0, body.half_angle_deg, degrees(pi / JAWS))
    axis = occ.Axis((0, 0, 0), occ.Z)
    outline = _outline(body)
    sides = [occ.Segment(occ.Pnt(a[0], 0, a[1]), occ.Pnt(b[0], 0, b[1])) for a, b in pairwise([*outline, outline[0]])]
    section = occ.Face(occ.Wire(sides))
    return occ.Glue([section.Rotate(axis, a).Revolve(axis, b - a) for a, b in pairwise(borders)])


def _outline(body: Body) -> list[tuple[float, float]]:
    """The profile with a corner more wherever the load ends or a compared circle runs on a cylinder."""
    wanted = {body.radius: body.patch, body.bore: body.rows}
    points: list[tuple[float, float]] = []
    for a, b in pairwise([*body.profile, body.profile[0]]):
        points.append(a)
        if a[0] == b[0]:
            between = [z for z in wanted.get(a[0], ()) if min(a[1], b[1]) < z < max(a[1], b[1])]
            points += [(a[0], z) for z in sorted(between, reverse=b[1] < a[1])]
    return points


def _is_pressed(body: Body, face: occ.Face) -> bool:
    """By its corners: on the load's cylinder, under the jaw, between the ends of the load."""
    corners = [v.p for v in face.vertices]
    on_cylinder = all(abs(hypot(p.x, p.y) - body.radius) < NEAR for p in corners)
    under = all(np.arctan2(p.y, p.x) < radians(body.half_angle_deg) + NEAR for p in corners)
    within = all(body.patch[0] - NEAR < p.z < body.patch[1] + NEAR for p in corners)
    return on_cylinder and under and within


def deck_of(body: Body, mesh: Tets) -> str:
    """One linear static step, as for the bricks."""
    numbered = np.arange(1, len(mesh.points) + 1)
    axis = mesh.radius < NEAR
    first = (np.abs(mesh.points[:, 1]) < NEAR) & ~axis
    last = (np.abs(mesh.angle - pi / JAWS) < NEAR / 10) & ~axis
    lowest = np.flatnonzero(np.abs(mesh.points[:, 2]) < NEAR)
    anchor = int(lowest[mesh.radius[lowest].argmin()])
    lines = ["*NODE, NSET=NALL", *ccx.node_lines(mesh.points)]
    lines += ccx.element_lines("C3D10", mesh.elements, 1, "PART")
    lines += ccx.set_lines("FIRST", numbered[first]) + ccx.set_lines("LAST", numbered[last])
    lines += ccx.set_lines("ASKED", numbered[np.abs(mesh.radius - body.bore) < NEAR])
    lines += ["*MATERIAL, NAME=M", "*ELASTIC", f"{STEEL[0]},{STEEL[1]}", "*SOLID SECTION, ELSET=PART, MATERIAL=M"]
    lines += ["*TRANSFORM, NSET=LAST, TYPE=C", "0,0,0,0,0,1"]
    lines += ["*BOUNDARY", "FIRST,2,2", "LAST,2,2", f"{anchor + 1},3,3", *(f"{i},1,2" for i in numbered[axis])]
    lines += ["*STEP", "*STATIC, SOLVER=SPOOLES", "*DLOAD"]
    lines += [f"{element + 1},P{face},{body.pressure:.12g}" for element, face in mesh.pressed]
    lines += ["*NODE PRINT, NSET=ASKED, GLOBAL=YES", "U", "*END STEP", ""]
    return "\n".join(lines)


def bore_radial(body: Body, mesh: Tets, dat: str) -> Array:
    """Radial displacement at the asked points, by an even spline through each circle's nodes. [mm]"""
    moved = ccx.printed(dat, "displacements")
    rows = []
    for z in body.rows:
        nodes = np.flatnonzero((np.abs(mesh.radius - body.bore) < NEAR) & (np.abs(mesh.points[:, 2] - z) < NEAR))
        nodes = nodes[mesh.angle[nodes].argsort()]
        angle = mesh.angle[nodes]
        u = np.array([moved[int(i) + 1][:2] for i in nodes])
        radial = u[:, 0] * np.cos(angle) + u[:, 1] * np.sin(angle)
        rows.append(CubicSpline(angle, radial, bc_type="clamped")(np.radians(body.asked_deg)))
    return np.array(rows)
