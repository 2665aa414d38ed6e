"""A gauge ring under six unequal forces: the program's series beside CalculiX, a general 3-D finite element code.

``python bench/gauge_ring_3d.py`` (needs calculix-ccx) prints the table of docs/measuring.md.
"""

from __future__ import annotations

import sys
from math import pi
from pathlib import Path

import numpy as np
from general_solver import ccx, hexes
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from ring_world import balanced

from heldtrue.mechanics.gauge_ring import Ring, waves_of

Array = NDArray[np.float64]
RING = Ring("outside", 57.7, 76.0, 20.0, 210_000.0, 0.3)
JAWS, GRIP = 6, 60_000.0
LEVELS = ((3, 72, 2), (4, 144, 4))
"""Bricks through the wall, round, and along the axis."""


def solved(forces: Array, level: tuple[int, int, int]) -> Array:
    """How far the bore at half width moves out at 24 even places. [mm]"""
    through, round_, along = level
    mesh = hexes.lattice(
        np.linspace(RING.inner, RING.outer, through + 1),
        np.linspace(0.0, 2 * pi, round_ + 1),
        np.linspace(0.0, RING.width, along + 1),
        lambda r, _angle, _z: np.ones(r.shape, bool),
    )
    lattice = mesh.points.copy()
    lattice[:, 1] = np.where(np.abs(lattice[:, 1] - 2 * pi) < 1e-9, 0.0, lattice[:, 1])
    _, first, number = np.unique(lattice.round(9), axis=0, return_index=True, return_inverse=True)
    points, bricks = lattice[first], number.ravel()[mesh.bricks]
    flat = hexes.turned(points)

    def node(r: float, angle: float, z: float) -> int:
        return int(np.abs(points - (r, angle, z)).sum(axis=1).argmin())

    weights = np.zeros(2 * along + 1)
    for part in range(along):
        weights[2 * part : 2 * part + 3] += np.array([1, 4, 1]) / 6 / along
    loads = []
    for jaw, force in enumerate(forces):
        angle = 2 * pi * jaw / JAWS
        for z, weight in zip(np.linspace(0.0, RING.width, 2 * along + 1), weights, strict=True):
            at = node(RING.outer, angle, z) + 1
            loads += [
                f"{at},1,{-force * weight * np.cos(angle):.12g}",
                f"{at},2,{-force * weight * np.sin(angle):.12g}",
            ]
    middle = RING.width / 2
    a, b, c = (node(RING.inner, angle, middle) + 1 for angle in (0.0, pi, pi / 2))
    deck = "\n".join([
        "*NODE, NSET=ALL", *ccx.node_lines(flat), *ccx.element_lines("C3D20", bricks, 1, "RING"),
        "*MATERIAL, NAME=STEEL", "*ELASTIC", f"{RING.young},{RING.poisson}",
        "*SOLID SECTION, ELSET=RING, MATERIAL=STEEL",
        "*BOUNDARY", f"{a},1,3", f"{b},2,3", f"{c},3,3", "*STEP", "*STATIC", "*CLOAD", *loads,
        "*NODE PRINT, NSET=ALL", "U", "*END STEP", "",
    ])  # fmt: skip
    moved = ccx.printed(ccx.run(deck).dat, "displacements")
    angles = 2 * pi * np.arange(24) / 24
    at = [moved[node(RING.inner, angle, middle) + 1] for angle in angles]
    return np.array([u[0] * np.cos(t) + u[1] * np.sin(t) for u, t in zip(at, angles, strict=True)])


def without_place(shape: Array) -> Array:
    """A shape without its mean and first order: zero of the dial, place of the ring."""
    angles = 2 * pi * np.arange(len(shape)) / len(shape)
    columns = np.column_stack([np.ones(len(shape)), np.cos(angles), np.sin(angles)])
    return shape - columns @ np.linalg.lstsq(columns, shape, rcond=None)[0]


def main() -> int:
    """Print the table."""
    if not ccx.available():
        print(ccx.INSTALL, file=sys.stderr)
        return 2
    forces = GRIP / JAWS * balanced(np.random.default_rng(4), JAWS, 0.25)
    angles, waves = 2 * pi * np.arange(24) / 24, waves_of(RING)
    turns = 2 * pi * np.arange(JAWS) / JAWS
    ours = without_place(
        np.sum([f * waves.under_radial(angles - t) for f, t in zip(forces, turns, strict=True)], axis=0)
    )
    print(f"six forces {', '.join(f'{f:.0f}' for f in forces)} N; ours {np.ptp(ours) * 1e3:.2f} µm high to low")
    print("| bricks: wall, round, along | high to low, µm | largest difference, of that |\n|---|---|---|")
    for level in LEVELS:
        theirs = without_place(solved(forces, level))
        print(f"| {level} | {np.ptp(theirs) * 1e3:.2f} | {np.abs(ours - theirs).max() / np.ptp(theirs):.2%} |")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
