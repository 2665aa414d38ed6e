"""How far the part gives way under the tool: its own bending, and the jaws it stands in.

The tool pushes at one point, so every harmonic counts, the first above all: with it the part moves and leans as a body.
The jaws are smeared round the gripped bands as springs per area, so that the harmonics stay apart:

    N radial springs K give k_r = N K / (2 pi R L)  per area,

which is as stiff against a side push as the N jaws themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import ngsolve as ng
import numpy as np
from numpy.typing import ArrayLike, NDArray

from heldtrue.mechanics.harmonics import Harmonics
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.turned_body import TurnedBody

Array = NDArray[np.float64]

ORDERS = range(9)
"""Beyond these the tool only dents the surface next to itself, which the cut takes off."""
CENTRED = 1e3
"""Penalty that keeps the first harmonic single-valued on the axis, in Young's moduli."""


@dataclass(frozen=True)
class SmearedJaws:
    """Springs per area on the gripped bands: radial, round the part, along it. [MPa/mm]"""

    radial: float
    round: float
    along: float

    @classmethod
    def of(cls, stations: Stations, jaws: int, stiffness: float, sideways: float) -> SmearedJaws:
        """``stiffness``: radial, of one jaw [N/mm]; ``sideways``: share of it that sticking friction gives."""
        area = 2 * pi * float(stations.areas.sum())
        radial = jaws * stiffness / area
        return cls(radial, sideways * radial, sideways * radial)


def deflection_under_tool(body: TurnedBody, stations: Stations, jaws: SmearedJaws, at: ArrayLike) -> Array:
    """Radial deflection of each point (r, z) [mm] under a radial push at that very point, shape (points,). [mm/N]

    Raises: ``GeometryError`` for a point or a grip off the part.
    """
    supported = _Supported(body, stations, jaws)
    rows = supported.evaluation(at)
    moved = np.zeros(len(rows))
    for n in ORDERS:
        share = 1 / (2 * pi) if n == 0 else 1 / pi
        moved += share * np.einsum("ps,ps->p", rows, supported.push(n, rows))
    return moved


class _Supported(Harmonics):
    """The harmonics of a body that stands on springs, so that the first may move it."""

    def __init__(self, body: TurnedBody, stations: Stations, jaws: SmearedJaws) -> None:
        super().__init__(body.section, body.young, body.poisson, body.order, stations)
        (u, v, w), (du, dv, dw) = self.space.TnT()
        # Nothing in the body: it only gives the springs' matrices the pattern of the stiffness they are added to.
        nothing = ng.Parameter(0.0) * (u + v + w) * (du + dv + dw) * ng.dx
        gripped = ng.ds(definedon=self.mesh.Boundaries("station.*"))
        springs = ng.x * (jaws.radial * u * du + jaws.round * v * dv + jaws.along * w * dw)
        self.springs = ng.BilinearForm(springs * gripped + nothing).Assemble().mat
        on_axis = ng.ds(definedon=self.mesh.Boundaries("axis"))
        single = CENTRED * body.young * (u + v) * (du + dv)
        self.centring = ng.BilinearForm(single * on_axis + nothing).Assemble().mat

    def push(self, n: int, rows: Array) -> Array:
        """Coefficients of U, shape (points, size), for a radial ring load of 1 N/rad in cos(n t) at each point."""
        matrix = self.matrix
        k0, k1, k2 = (form.AsVector() for form in self.forms)
        matrix.AsVector().data = k0 + n * k1 + n * n * k2
        matrix.AsVector().data += self.springs.AsVector()
        if n == 1:
            matrix.AsVector().data += self.centring.AsVector()
        inverse = self._factor(n)
        loads = ng.MultiVector(matrix.CreateColVector(), len(rows))
        for load, row in zip(loads, rows, strict=True):
            load.FV().NumPy()[:] = 0.0
            load.FV().NumPy()[: self.size] = row
        return np.array([answer.FV().NumPy()[: self.size] for answer in (inverse * loads).Evaluate()])

    def _free(self, n: int) -> ng.BitArray:
        """Free unknowns: regularity on the axis (n = 1 by penalty), the springs hold the rest; no twist at n = 0."""
        axis = self.scalar.GetDofs(self.mesh.Boundaries("axis"))
        fixed_on_axis = {0: (0, 1), 1: (2,)}.get(n, (0, 1, 2))
        free = ng.BitArray(self.space.ndof)
        free.Set()
        for i in range(self.size):
            for component in fixed_on_axis if axis[i] else ():
                free.Clear(component * self.size + i)
            if n == 0:
                free.Clear(self.size + i)
        return free
