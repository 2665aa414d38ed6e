"""B: a ring pressed by an elastic jaw, as a full 3-D contact problem and as heldtrue solves it.

A 60-degree sector of the part and half a jaw.  The jaw's lattice runs over (s, y, z): s = 0 is its flat front below
the seat, 1 its bore, 2 the groove in the corner of bore and seat, 3 its back.  In both codes the jaw is bored larger
than the part, stands where both just touch, and its whole base moves inward until the jaw pushes with about 10 kN.
"""

from __future__ import annotations

from math import asin, degrees, pi

import numpy as np
from numpy.typing import NDArray

from general_solver import ccx, hexes

Array = NDArray[np.float64]
STEEL, ALUMINIUM = (210_000.0, 0.3), (68_900.0, 0.33)
JAWS = 3
BORE, RADIUS, HEIGHT = 45.0, 55.0, 20.0
GRIP = (2.0, 18.0)
JAW_BORE, HALF_WIDTH, LENGTH, JAW_HEIGHT, SEAT, LEDGE, RELIEF = 55.05, 20.0, 60.0, 38.0, 20.0, 5.0, 2.0
FRONT, BACK = JAW_BORE - LEDGE, JAW_BORE + LENGTH
EDGE_DEG = degrees(asin(HALF_WIDTH / JAW_BORE))
TOUCHING = JAW_BORE - RADIUS
"""How far the jaw moves inward from its bored place until it touches. [mm]"""
ROWS = (0.0, 10.0, 20.0)
LEVELS = (1, 2, 3, 4)

PART_R = [45, 50, 55]
PART_ANGLES = [0, 8, 15, 19, EDGE_DEG, 24, 30, 45, 60]
PART_Z = [0, 2, 4, 10, 16, 18, 20]
JAW_S = [0, 1, 2, 2.12, 2.4, 3]
JAW_Y = [0, 8, 14, 18, 20]
JAW_Z = [0, 10, 17, 20, 22, 24, 30, 36, 38]


def part_mesh(level: int) -> hexes.Mesh:
    angles = np.radians(hexes.refined(PART_ANGLES, level))
    return hexes.lattice(hexes.refined(PART_R, level), angles, hexes.refined(PART_Z, level), keep=_everywhere)


def jaw_mesh(level: int) -> hexes.Mesh:
    return hexes.lattice(*(hexes.refined(lines, level) for lines in (JAW_S, JAW_Y, JAW_Z)), keep=_in_jaw)


def _everywhere(r: Array, _t: Array, _z: Array) -> NDArray[np.bool_]:
    return np.ones(r.shape, bool)


def _in_jaw(s: Array, _y: Array, z: Array) -> NDArray[np.bool_]:
    """Below the seat all of it; in the groove's height what lies behind the groove; above, what lies behind the bore."""
    return (z < SEAT) | (s > 2) | ((s > 1) & (z > SEAT + RELIEF))


def jaw_places(mesh: hexes.Mesh) -> Array:
    """(s, y, z) of the lattice to x, y, z in the part's frame, the jaw just touching the part."""
    s, y, z = mesh.points.T
    surfaces = [
        np.full_like(y, FRONT),
        np.sqrt(JAW_BORE**2 - y**2),
        np.sqrt((JAW_BORE + RELIEF) ** 2 - y**2),
        np.full_like(y, BACK),
    ]
    left = np.minimum(s.astype(int), 2)
    stacked = np.array(surfaces)
    here = np.arange(len(s))
    x = stacked[left, here] + (s - left) * (stacked[left + 1, here] - stacked[left, here])
    return np.column_stack([x - TOUCHING, y, z - SEAT])


def deck_of(level: int, element: str, advance: float, method: str, stiffness: float) -> str:
    """Frictionless contact of jaw (slave) and part (master), the jaw's base moved inward by ``advance`` [mm]."""
    part, jaw = part_mesh(level), jaw_mesh(level)
    count, bricks = len(part.points), len(part.bricks)
    numbered = np.arange(1, count + 1)
    jaw_numbered = count + np.arange(1, len(jaw.points) + 1)
    lines = ["*NODE, NSET=NPART", *ccx.node_lines(hexes.turned(part.points))]
    lines += ["*NODE, NSET=NJAW", *ccx.node_lines(jaw_places(jaw), count + 1)]
    lines += ccx.element_lines(element, part.bricks, 1, "PART")
    lines += ccx.element_lines(element, jaw.bricks, bricks + 1, "JAW", count + 1)
    lines += ccx.set_lines("FIRST", numbered[part.near(1, 0.0)]) + ccx.set_lines("LAST", numbered[part.near(1, pi / 3)])
    lines += ccx.set_lines("MIRROR", jaw_numbered[jaw.near(1, 0.0)]) + ccx.set_lines("BASE", jaw_numbered[jaw.near(2, 0.0)])
    lines += ccx.set_lines("ASKED", numbered[part.near(0, BORE)])
    anchor = np.flatnonzero(part.near(0, BORE) & part.near(1, pi / 3) & part.near(2, 0.0))[0] + 1
    outer = part.faces(0, RADIUS, high=True, inside=(part.cells[:, 2] > 0))
    gripping = jaw.faces(0, 1.0, high=False, inside=jaw.cells[:, 2] > SEAT + RELIEF)
    lines += ["*SURFACE, NAME=OUTER", *(f"{i + 1},S{f}" for i, f in outer)]
    lines += ["*SURFACE, NAME=GRIP", *(f"{bricks + i + 1},S{f}" for i, f in gripping)]
    for name, (young, poisson) in (("PART", STEEL), ("JAW", ALUMINIUM)):
        lines += [f"*MATERIAL, NAME=M{name}", "*ELASTIC", f"{young},{poisson}"]
        lines += [f"*SOLID SECTION, ELSET={name}, MATERIAL=M{name}"]
    lines += ["*SURFACE INTERACTION, NAME=TOUCH"]
    lines += _behaviour(method, stiffness)
    lines += [f"*CONTACT PAIR, INTERACTION=TOUCH, TYPE={method}", "GRIP,OUTER"]
    lines += ["*TRANSFORM, NSET=LAST, TYPE=C", "0,0,0,0,0,1"]
    lines += ["*BOUNDARY", "FIRST,2,2", "LAST,2,2", f"{anchor},3,3", "MIRROR,2,2", "BASE,2,3"]
    lines += ["*STEP", "*STATIC, SOLVER=SPOOLES", "1.,1.", "*BOUNDARY", f"BASE,1,1,{-advance:.12g}"]
    lines += ["*NODE PRINT, NSET=ASKED, GLOBAL=YES", "U", "*NODE PRINT, NSET=BASE, TOTALS=ONLY", "RF"]
    lines += ["*CONTACT FILE", "CDIS,CSTR", "*END STEP", ""]
    return "\n".join(lines)


def _behaviour(method: str, stiffness: float) -> list[str]:
    if "MORTAR" in method:
        return ["*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=HARD"]
    return ["*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR", f"{stiffness:g}"]
