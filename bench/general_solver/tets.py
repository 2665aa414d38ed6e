"""What most users of a general code would do: let a mesh generator fill the sector with 10-node tetrahedra.

The generator is Netgen, told one largest edge length; edges of the load and the compared circles are edges of the mesh.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import degrees, pi, radians

import netgen.occ as occ
import numpy as np
from general_solver import ccx
from general_solver.linear import JAWS, STEEL, Body
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

Array = NDArray[np.float64]
NEAR = 1e-6
_MIDDLES = np.array([4, 7, 5, 6, 8, 9])
"""Netgen numbers the middles by 12 13 14 23 24 34, the element C3D10 by 12 23 31 14 24 34."""
_FACES = {frozenset((0, 1, 2)): 1, frozenset((0, 3, 1)): 2, frozenset((1, 3, 2)): 3, frozenset((2, 3, 0)): 4}


@dataclass(frozen=True)
class Tets:
    """``points`` (nodes, 3) in x, y, z; ``elements`` (count, 10) from 0; ``pressed``: (element, face number)."""

    points: Array
    elements: NDArray[np.int64]
    pressed: list[tuple[int, int]]


def mesh_of(body: Body, edge: float) -> Tets:
    """The sector with no edge much longer than ``edge`` [mm]."""
    solid = _sector(body)
    patch_angle = radians(body.half_angle_deg)
    for face in solid.faces:
        face.name = "pressed" if _is_pressed(body, face, patch_angle) else "free"
    mesh = occ.OCCGeometry(solid).GenerateMesh(maxh=edge)
    mesh.SecondOrder()
    points = np.array([tuple(p.p) for p in mesh.Points()])
    elements = np.array([[v.nr - 1 for v in e.vertices + _rest(e)] for e in mesh.Elements3D()])
    raise NotImplementedError
