"""A: one uniform load on three turned bodies, both codes against the same extrapolated answer."""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from general_solver import ccx, hexes

Array = NDArray[np.float64]
STEEL = (210_000.0, 0.3)
JAWS = 3


@dataclass(frozen=True)
class Body:
    """A part under three jaws of uniform pressure, with the lines of its coarsest 3-D mesh.

    ``r``, ``z`` [mm], ``angles`` [deg]: mesh lines; ``rows``: z of the bore circles on which the radial displacement
    is compared; ``levels``: how many times each interval is cut.
    """

    key: str
    title: str
    profile: list[tuple[float, float]]
    radius: float
    patch: tuple[float, float]
    half_angle_deg: float
    pressure: float
    bore: float
    rows: tuple[float, ...]
    r: list[float]
    z: list[float]
    angles: list[float]
    levels: tuple[int, ...]

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


BODIES = [
    Body(
        key="ring",
        title="ring Ø110/Ø90 x 20",
        profile=[(45, 0), (55, 0), (55, 20), (45, 20)],
        radius=55.0,
        patch=(0.0, 20.0),
        half_angle_deg=4.0,
        pressure=65.108840356,
        bore=45.0,
        rows=(0.0, 10.0, 20.0),
        r=[45, 55],
        z=[0, 10, 20],
        angles=[0, 4, 12, 24, 42, 60],
        levels=(1, 2, 3, 4, 6, 8),
    ),
    Body(
        key="cup",
        title="cup Ø120 x 50, wall 4",
        profile=[(0, 0), (60, 0), (60, 50), (56, 50), (56, 8), (0, 8)],
        radius=60.0,
        patch=(0.0, 15.0),
        half_angle_deg=10.0,
        pressure=63.661977237,
        bore=56.0,
        rows=(10.0, 30.0, 50.0),
        r=[0, 25, 45, 53, 56, 60],
        z=[0, 5, 8, 10, 15, 20, 30, 50],
        angles=[0, 10, 16, 30, 60],
        levels=(1, 2, 3, 4, 5),
    ),
    Body(
        key="flanged ring",
        title="flanged ring Ø110/Ø150/Ø90 x 30",
        profile=[(45, 0), (55, 0), (55, 20), (75, 20), (75, 30), (45, 30)],
        radius=55.0,
        patch=(0.0, 18.0),
        half_angle_deg=10.0,
        pressure=60.0,
        bore=45.0,
        rows=(0.0, 18.0, 30.0),
        r=[45, 53, 55, 58, 75],
        z=[0, 9, 18, 20, 22, 30],
        angles=[0, 10, 18, 36, 60],
        levels=(1, 2, 3, 4, 5),
    ),
]


def mesh_of(body: Body, level: int) -> hexes.Mesh:
    lines = [hexes.refined(body.r, level), np.radians(hexes.refined(body.angles, level)), hexes.refined(body.z, level)]
    return hexes.lattice(*lines, keep=lambda r, t, z: body.holds(r, z))


def deck_of(body: Body, level: int, element: str) -> str:
    """One linear static step: symmetry on both planes of the 60-degree sector, pressure on the patch."""
    mesh = mesh_of(body, level)
    axis = mesh.near(0, 0.0)
    first_plane, last_plane = mesh.near(1, 0.0) & ~axis, mesh.near(1, pi / JAWS) & ~axis
    anchor = int(np.flatnonzero(mesh.near(2, 0.0) & mesh.near(0, mesh.points[mesh.near(2, 0.0), 0].min()))[0])
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
    lines += ["*BOUNDARY", "FIRST,2,2", "LAST,2,2", f"{anchor + 1},3,3"]
    if axis.any():
        lines += [f"{i},1,2" for i in numbered[axis]]
    lines += ["*STEP", "*STATIC, SOLVER=SPOOLES", "*DLOAD"]
    lines += [f"{brick + 1},P{face},{body.pressure:.12g}" for brick, face in faces]
    lines += ["*NODE PRINT, NSET=ASKED, GLOBAL=YES", "U", "*END STEP", ""]
    return "\n".join(lines)


def asked_points(body: Body) -> tuple[Array, Array]:
    """(z, angle) of the compared points: the coarsest mesh's nodes (middles too) on every row."""
    return np.array(body.rows), hexes.with_middles(np.radians(np.array(body.angles, float)))


def bore_radial(body: Body, level: int, dat: str) -> Array:
    """Radial displacement at the asked points, shape (rows, angles). [mm]"""
    mesh = mesh_of(body, level)
    moved = ccx.printed(dat, "displacements")
    rows, angles = asked_points(body)
    found = np.empty((len(rows), len(angles)))
    on_bore = np.flatnonzero(mesh.near(0, body.bore))
    where = mesh.points[on_bore]
    for i, z in enumerate(rows):
        for j, t in enumerate(angles):
            node = int(on_bore[(np.abs(where[:, 2] - z) + np.abs(where[:, 1] - t)).argmin()])
            ux, uy, _ = moved[node + 1]
            found[i, j] = ux * np.cos(t) + uy * np.sin(t)
    return found


def error_percent(found: Array, reference: Array) -> float:
    """Largest difference on a row relative to the row's largest, the worst row. [%]"""
    return float(100 * (np.abs(found - reference).max(axis=1) / np.abs(reference).max(axis=1)).max())


__all__ = ["BODIES", "JAWS", "STEEL", "Body", "asin", "bore_radial", "deck_of", "error_percent"]
