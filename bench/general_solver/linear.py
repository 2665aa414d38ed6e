"""A: one uniform load on three turned bodies, both codes against the same extrapolated answer.

The 3-D model is a 60-degree sector: symmetry on both planes, pressure on the patch, one node held axially.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, radians, sin

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from general_solver import ccx, hexes

Array = NDArray[np.float64]
STEEL = (210_000.0, 0.3)
JAWS = 3


@dataclass(frozen=True)
class Lines:
    """The coarsest 3-D mesh of a body, and how it is refined.

    ``r``, ``z`` [mm], ``angles`` [deg]: mesh lines; ``corner``: (r, z) towards which cells get finer as ``power``;
    ``levels``: how many times every interval is cut.
    """

    r: tuple[float, ...]
    z: tuple[float, ...]
    angles: tuple[float, ...]
    levels: tuple[int, ...]
    corner: tuple[float, float] | None = None
    power: float = 1.0


@dataclass(frozen=True)
class Body:
    """A part under three jaws of uniform pressure.

    ``rows`` (z, mm) and ``asked_deg``: the points of the bore whose radial displacement is compared; ``meshes`` by
    kind; ``tets``: largest edges of automatic meshes [mm]; ``reference``: the kind of mesh and the three levels from
    which the answer is extrapolated.
    """

    key: str
    profile: tuple[tuple[float, float], ...]
    radius: float
    patch: tuple[float, float]
    half_angle_deg: float
    pressure: float
    bore: float
    rows: tuple[float, ...]
    asked_deg: tuple[float, ...]
    meshes: dict[str, Lines]
    tets: tuple[float, ...]
    reference: tuple[str, tuple[int, int, int]]

    @property
    def force(self) -> float:
        """Push of one jaw along its own direction. [N]"""
        return self.pressure * 2 * self.radius * sin(radians(self.half_angle_deg)) * (self.patch[1] - self.patch[0])

    def holds(self, r: Array, z: Array) -> NDArray[np.bool_]:
        """Which points (cell centres) lie in the section: even-odd rule."""
        inside = np.zeros(r.shape, bool)
        ends = self.profile[1:] + self.profile[:1]
        for (r0, z0), (r1, z1) in zip(self.profile, ends, strict=True):
            if z0 != z1:
                crosses = (z0 > z) != (z1 > z)
                inside ^= crosses & (r < r0 + (z - z0) * (r1 - r0) / (z1 - z0))
        return inside


RING = Body(
    key="ring Ø110/Ø90 x 20",
    profile=((45, 0), (55, 0), (55, 20), (45, 20)),
    radius=55.0,
    patch=(0.0, 20.0),
    half_angle_deg=4.0,
    pressure=65.108840356,
    bore=45.0,
    rows=(0.0, 10.0, 20.0),
    asked_deg=(0, 2, 4, 8, 12, 18, 24, 33, 42, 51, 60),
    meshes={"even": Lines((45, 55), (0, 10, 20), (0, 4, 12, 24, 42, 60), (1, 2, 3, 4, 6, 8))},
    tets=(10, 5, 3.3, 2.5, 2),
    reference=("even", (4, 6, 8)),
)
CUP = Body(
    key="cup Ø120 x 50, wall 4",
    profile=((0, 0), (60, 0), (60, 50), (56, 50), (56, 8), (0, 8)),
    radius=60.0,
    patch=(0.0, 15.0),
    half_angle_deg=10.0,
    pressure=63.661977237,
    bore=56.0,
    rows=(10.0, 30.0, 50.0),
    asked_deg=(0, 5, 10, 20, 30, 45, 60),
    meshes={
        "even": Lines((0, 25, 45, 53, 56, 60), (0, 5, 8, 10, 15, 20, 30, 50), (0, 10, 20, 30, 45, 60), (1, 2, 3, 4)),
        "graded": Lines(
            (0, 30, 56, 60), (0, 8, 10, 15, 30, 50), (0, 10, 30, 60), (1, 2, 3, 4, 5, 6, 7), corner=(56, 8), power=2.5
        ),
    },
    tets=(8, 4, 2.7, 2, 1.7),
    reference=("graded", (5, 6, 7)),
)
FLANGED = Body(
    key="flanged ring Ø110/Ø150/Ø90 x 30",
    profile=((45, 0), (55, 0), (55, 20), (75, 20), (75, 30), (45, 30)),
    radius=55.0,
    patch=(0.0, 18.0),
    half_angle_deg=10.0,
    pressure=60.0,
    bore=45.0,
    rows=(0.0, 18.0, 30.0),
    asked_deg=(0, 5, 10, 20, 30, 45, 60),
    meshes={
        "even": Lines((45, 53, 55, 58, 75), (0, 9, 18, 20, 22, 30), (0, 10, 20, 30, 45, 60), (1, 2, 3, 4)),
        "graded": Lines(
            (45, 55, 75), (0, 18, 20, 30), (0, 10, 30, 60), (1, 2, 3, 4, 5, 6, 7), corner=(55, 20), power=2.0
        ),
    },
    tets=(10, 5, 3.3, 2.5, 1.8),
    reference=("graded", (5, 6, 7)),
)
BODIES = {body.key: body for body in (RING, CUP, FLANGED)}


def mesh_of(body: Body, kind: str, level: int) -> hexes.Mesh:
    lines = body.meshes[kind]
    corner_r, corner_z = ((c,) for c in lines.corner) if lines.corner else ((), ())
    return hexes.lattice(
        hexes.refined(lines.r, level, corner_r, lines.power),
        np.radians(hexes.refined(lines.angles, level)),
        hexes.refined(lines.z, level, corner_z, lines.power),
        keep=lambda r, t, z: body.holds(r, z),
    )


def deck_of(body: Body, mesh: hexes.Mesh, element: str) -> str:
    """One linear static step."""
    axis = mesh.near(0, 0.0)
    first_plane, last_plane = mesh.near(1, 0.0) & ~axis, mesh.near(1, pi / JAWS) & ~axis
    lowest = np.flatnonzero(mesh.near(2, 0.0))
    anchor = int(lowest[mesh.points[lowest, 0].argmin()])
    angle, z = mesh.cells[:, 1], mesh.cells[:, 2]
    pressed = (angle < radians(body.half_angle_deg)) & (z > body.patch[0]) & (z < body.patch[1])
    faces = mesh.faces(0, body.radius, high=True, inside=pressed)
    numbered = np.arange(1, len(mesh.points) + 1)
    lines = ["*NODE, NSET=NALL", *ccx.node_lines(hexes.turned(mesh.points))]
    lines += ccx.element_lines(element, mesh.bricks, 1, "PART")
    lines += ccx.element_lines("C3D15", mesh.wedges, len(mesh.bricks) + 1, "PART")
    lines += ccx.set_lines("FIRST", numbered[first_plane]) + ccx.set_lines("LAST", numbered[last_plane])
    lines += ccx.set_lines("ASKED", numbered[mesh.near(0, body.bore)])
    lines += ["*MATERIAL, NAME=M", "*ELASTIC", f"{STEEL[0]},{STEEL[1]}", "*SOLID SECTION, ELSET=PART, MATERIAL=M"]
    lines += ["*TRANSFORM, NSET=LAST, TYPE=C", "0,0,0,0,0,1"]
    lines += ["*BOUNDARY", "FIRST,2,2", "LAST,2,2", f"{anchor + 1},3,3", *(f"{i},1,2" for i in numbered[axis])]
    lines += ["*STEP", "*STATIC, SOLVER=SPOOLES", "*DLOAD"]
    lines += [f"{brick + 1},P{face},{body.pressure:.12g}" for brick, face in faces]
    lines += ["*NODE PRINT, NSET=ASKED, GLOBAL=YES", "U", "*END STEP", ""]
    return "\n".join(lines)


def bore_radial(body: Body, mesh: hexes.Mesh, dat: str) -> Array:
    """Radial displacement at the asked points, which are nodes of every mesh, shape (rows, angles). [mm]"""
    moved = ccx.printed(dat, "displacements")
    on_bore = np.flatnonzero(mesh.near(0, body.bore))
    angle, z = mesh.points[on_bore, 1], mesh.points[on_bore, 2]
    found = np.empty((len(body.rows), len(body.asked_deg)))
    for i, row in enumerate(body.rows):
        for j, t in enumerate(np.radians(body.asked_deg)):
            away = np.abs(z - row) + np.abs(angle - t)
            if away.min() > 1e-9:
                raise ValueError(f"no node at z = {row}, angle {np.degrees(t)} of {body.key}")
            ux, uy, _ = moved[int(on_bore[away.argmin()]) + 1]
            found[i, j] = ux * np.cos(t) + uy * np.sin(t)
    return found


def error_percent(found: Array, reference: Array) -> float:
    """Largest difference on a row relative to the row's largest, the worst row. [%]"""
    return float(100 * (np.abs(found - reference).max(axis=1) / np.abs(reference).max(axis=1)).max())


def extrapolated(values: tuple[Array, Array, Array], levels: tuple[int, int, int]) -> tuple[Array, float]:
    """Answer of an infinitely fine mesh and the order of convergence, from three levels (Richardson)."""
    coarse, middle, fine = values
    shrunk = np.linalg.norm(fine - middle) / np.linalg.norm(middle - coarse)

    def mismatch(order: float) -> float:
        a, b, c = (float(m) ** -order for m in levels)
        return float((b - c) / (a - b) - shrunk)

    low, high = 0.5, 8.0
    order = float(brentq(mismatch, low, high)) if mismatch(low) * mismatch(high) < 0 else 2.0
    b, c = float(levels[1]) ** -order, float(levels[2]) ** -order
    return fine + (fine - middle) * c / (b - c), order
