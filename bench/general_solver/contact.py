"""B: a ring pressed by an elastic jaw, as a full 3-D contact problem and as heldtrue solves it.

A 60-degree sector of the part and half a jaw.  The jaw's lattice runs over (s, y, z): s = 0 is its flat front below
the seat, 1 its bore, 2 the groove in the corner of bore and seat, 3 its back.  In both codes the jaw is bored larger
than the part, stands where both just touch, and its whole base moves inward until the jaw pushes with about 10 kN.
The seat ledge carries nothing: contact is on the gripping face alone, without friction.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import asin, degrees, pi

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from general_solver import ccx, hexes

Array = NDArray[np.float64]
STEEL, ALUMINIUM = (210_000.0, 0.3), (68_900.0, 0.33)
JAWS = 3
BORE, RADIUS, LENGTH_OF_PART = 45.0, 55.0, 20.0
PROFILE = ((BORE, 0.0), (RADIUS, 0.0), (RADIUS, LENGTH_OF_PART), (BORE, LENGTH_OF_PART))
GRIP = (2.0, 18.0)
JAW_BORE, HALF_WIDTH, LENGTH, JAW_HEIGHT, SEAT, LEDGE, RELIEF = 55.05, 20.0, 60.0, 38.0, 20.0, 5.0, 2.0
FRONT, BACK = JAW_BORE - LEDGE, JAW_BORE + LENGTH
EDGE_DEG = degrees(asin(HALF_WIDTH / JAW_BORE))
TOUCHING = JAW_BORE - RADIUS
"""How far the jaw moves inward from its bored place until it touches. [mm]"""
ADVANCE = 0.0515
"""How far its base moves on from there; the reaction is then about FORCE. [mm]"""
FORCE = 10_000.0
ROWS = (0.0, 10.0, 20.0)
ASKED_DEG = tuple(range(0, 61, 3))
BOX_Z, BOX_Y = (2.0, 6.0, 14.0, 18.0), (0.0, 8.0, 16.0, 20.0)
"""Boxes of the gripping face over which the pressure is compared: borders z of the part and y across the jaw. [mm]"""

POWER = 1.5
"""Cells get finer as this power towards the edges of the contact, where its pressure is unbounded."""
PART_R, PART_Z = (45, 55), (0, 2, 10, 18, 20)
PART_ANGLES = (0, 8, 15, EDGE_DEG, 30, 45, 60)
JAW_S, JAW_Y, JAW_Z = (0, 1, 2, 2.25, 3), (0, 12, 20), (0, 10, 20, 22, 30, 38)

PENALTY, MORTAR = "SURFACE TO SURFACE", "MORTAR"
STIFFNESS = 1e6
"""Pressure per overlap of the penalty method; overlap is then a thousandth of the squeeze. [MPa/mm]"""


@dataclass(frozen=True)
class Pressed:
    """``force`` of one whole jaw [N]; ``u``: radial displacement of the bore for FORCE, shape (ROWS, ASKED_DEG) [mm];
    ``pressure``: mean over the boxes for FORCE, shape (BOX_Z, BOX_Y intervals) [MPa]."""

    force: float
    u: Array
    pressure: Array


def mean_pressure() -> float:
    """FORCE over the gripping face as the jaw sees it. [MPa]"""
    return FORCE / (2 * HALF_WIDTH * (GRIP[1] - GRIP[0]))


def part_mesh(level: int) -> hexes.Mesh:
    return hexes.lattice(
        hexes.refined(PART_R, level, (RADIUS,), POWER),
        np.radians(hexes.refined(PART_ANGLES, level)),
        hexes.refined(PART_Z, level, GRIP, POWER),
        keep=lambda r, _t, _z: np.ones(r.shape, bool),
    )


def jaw_mesh(level: int) -> hexes.Mesh:
    """Below the seat the whole block; beside the groove what lies behind it; above, what lies behind the bore."""
    return hexes.lattice(
        hexes.refined(JAW_S, level, (1,), POWER),
        hexes.refined(JAW_Y, level, (HALF_WIDTH,), POWER),
        hexes.refined(JAW_Z, level, (SEAT + RELIEF, JAW_HEIGHT), POWER),
        keep=lambda s, _y, z: (z < SEAT) | (s > 2) | ((s > 1) & (z > SEAT + RELIEF)),
    )


def jaw_places(points: Array) -> Array:
    """(s, y, z) of the lattice to x, y, z in the part's frame, the jaw just touching the part."""
    s, y, z = points.T
    bore, groove = np.sqrt(JAW_BORE**2 - y**2), np.sqrt((JAW_BORE + RELIEF) ** 2 - y**2)
    surfaces = np.array([np.full_like(y, FRONT), bore, groove, np.full_like(y, BACK)])
    left, here = np.minimum(s.astype(int), 2), np.arange(len(s))
    x = surfaces[left, here] + (s - left) * (surfaces[left + 1, here] - surfaces[left, here])
    return np.column_stack([x - TOUCHING, y, z - SEAT])


def deck_of(part: hexes.Mesh, jaw: hexes.Mesh, element: str, method: str) -> str:
    """Frictionless contact of jaw (slave) and part (master), the jaw's base moved inward by ADVANCE."""
    count, bricks = len(part.points), len(part.bricks)
    numbered = np.arange(1, count + 1)
    jaw_numbered = count + np.arange(1, len(jaw.points) + 1)
    anchor = np.flatnonzero(part.near(0, BORE) & part.near(1, pi / 3) & part.near(2, 0.0))[0] + 1
    lines = ["*NODE, NSET=NPART", *ccx.node_lines(hexes.turned(part.points))]
    lines += ["*NODE, NSET=NJAW", *ccx.node_lines(jaw_places(jaw.points), count + 1)]
    lines += ccx.element_lines(element, part.bricks, 1, "PART")
    lines += ccx.element_lines(element, jaw.bricks, bricks + 1, "JAW", count + 1)
    lines += ccx.set_lines("FIRST", numbered[part.near(1, 0.0)])
    lines += ccx.set_lines("LAST", numbered[part.near(1, pi / 3)])
    lines += ccx.set_lines("MIRROR", jaw_numbered[jaw.near(1, 0.0)])
    lines += ccx.set_lines("BASE", jaw_numbered[jaw.near(2, 0.0)])
    lines += ccx.set_lines("ASKED", numbered[part.near(0, BORE)])
    lines += ["*SURFACE, NAME=OUTER", *(f"{i + 1},S{face}" for i, face in _outer(part))]
    lines += ["*SURFACE, NAME=GRIP", *(f"{bricks + i + 1},S{face}" for i, face in _gripping(jaw))]
    for name, (young, poisson) in (("PART", STEEL), ("JAW", ALUMINIUM)):
        lines += [f"*MATERIAL, NAME=M{name}", "*ELASTIC", f"{young},{poisson}"]
        lines += [f"*SOLID SECTION, ELSET={name}, MATERIAL=M{name}"]
    lines += ["*SURFACE INTERACTION, NAME=TOUCH"]
    if method == MORTAR:
        lines += ["*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=HARD"]
    else:
        lines += ["*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR", f"{STIFFNESS:g}"]
    lines += [f"*CONTACT PAIR, INTERACTION=TOUCH, TYPE={method}", "GRIP,OUTER"]
    lines += ["*TRANSFORM, NSET=LAST, TYPE=C", "0,0,0,0,0,1"]
    lines += ["*BOUNDARY", "FIRST,2,2", "LAST,2,2", f"{anchor},3,3", "MIRROR,2,2", "BASE,2,3"]
    lines += ["*STEP", "*STATIC, SOLVER=SPOOLES", "1.,1.", "*BOUNDARY", f"BASE,1,1,{-ADVANCE:.12g}"]
    lines += ["*NODE PRINT, NSET=ASKED, GLOBAL=YES", "U", "*NODE PRINT, NSET=BASE, TOTALS=ONLY", "RF"]
    lines += ["*CONTACT FILE", "CDIS,CSTR", "*END STEP", ""]
    return "\n".join(lines)


def _outer(part: hexes.Mesh) -> list[tuple[int, int]]:
    return part.faces(0, RADIUS, high=True, inside=part.cells[:, 2] > 0)


def _gripping(jaw: hexes.Mesh) -> list[tuple[int, int]]:
    return jaw.faces(0, 1.0, high=False, inside=jaw.cells[:, 2] > SEAT + RELIEF)


def read(part: hexes.Mesh, jaw: hexes.Mesh, run: ccx.Run) -> Pressed:
    """What a run found.  Displacements and pressures go to FORCE in proportion: the force differs by a few percent."""
    totals = re.findall(r"total force.*\n\s*\n(.*)", run.dat)
    force = -2 * float(totals[-1].split()[0])
    scale = FORCE / force
    return Pressed(force, bore_radial(part, run.dat) * scale, _boxes(part, jaw, run.frd))


def bore_radial(part: hexes.Mesh, dat: str) -> Array:
    """Radial displacement of the bore, by an even spline through each row's nodes, shape (ROWS, ASKED_DEG). [mm]"""
    moved = ccx.printed(dat, "displacements")
    rows = []
    for z in ROWS:
        on_row = np.flatnonzero(part.near(0, BORE) & part.near(2, z))
        on_row = on_row[part.points[on_row, 1].argsort()]
        angle = part.points[on_row, 1]
        u = np.array([moved[int(i) + 1][:2] for i in on_row])
        radial = u[:, 0] * np.cos(angle) + u[:, 1] * np.sin(angle)
        rows.append(CubicSpline(angle, radial, bc_type="clamped")(np.radians(ASKED_DEG)))
    return np.array(rows)


def _boxes(part: hexes.Mesh, jaw: hexes.Mesh, frd: str) -> Array:
    """Mean contact pressure over the boxes: quadratic on each element face, integrated by points. [MPa]"""
    nodal = ccx.nodal_field(frd, "CONTACT", 3)
    summed = np.zeros((len(BOX_Z) - 1, len(BOX_Y) - 1, 2))
    place, weight = np.polynomial.legendre.leggauss(6)
    for brick, _ in _gripping(jaw):
        nodes = jaw.bricks[brick][_NODES_OF_BORE]
        pressure = np.array([nodal.get(int(n) + 1 + len(part.points), 0.0) for n in nodes])
        corners = jaw.points[nodes[:4]]
        (y0, z0), (y1, z1) = corners[:, 1:].min(axis=0), corners[:, 1:].max(axis=0)
        for a, wa in zip(place, weight, strict=True):
            y = (y0 + y1) / 2 + a * (y1 - y0) / 2
            area = wa / 4 * (y1 - y0) * (z1 - z0) / np.sqrt(1 - (y / JAW_BORE) ** 2)
            for b, wb in zip(place, weight, strict=True):
                z = (z0 + z1) / 2 + b * (z1 - z0) / 2 - SEAT
                box = (np.searchsorted(BOX_Z, z) - 1, np.searchsorted(BOX_Y, y) - 1)
                summed[box] += np.array([_serendipity(a, b) @ pressure, 1.0]) * area * wb
    return in_balance(summed[..., 0] / summed[..., 1])


def in_balance(pressure: Array) -> Array:
    """Box pressures scaled to add up to FORCE along the jaw: printed nodal values do not, by up to 4 %."""
    along = 2 * np.outer(np.diff(BOX_Z), np.diff(BOX_Y))
    return np.asarray(pressure * FORCE / (pressure * along).sum())


_NODES_OF_BORE = np.array([0, 3, 7, 4, 11, 19, 15, 16])
"""Nodes of a brick's low first side: corners along y then z, then the middles of their edges."""


def _serendipity(a: float, b: float) -> Array:
    """Shape functions of the eight-node face at (a, b) in -1 ... 1."""
    at = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    corners = (1 + a * at[:, 0]) * (1 + b * at[:, 1]) * (a * at[:, 0] + b * at[:, 1] - 1) / 4
    middles = [
        (1 - a * a) * (1 - b) / 2,
        (1 + a) * (1 - b * b) / 2,
        (1 - a * a) * (1 + b) / 2,
        (1 - a) * (1 - b * b) / 2,
    ]
    return np.array([*corners, *middles])
