"""What a jaw answers to pressure on its cells: the outcome of its finite elements, without them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.jaw_shape import BoringRing
from heldtrue.mechanics.stress import von_mises

Array = NDArray[np.float64]
Stresses = NDArray[np.float32]

BALL_MM = 6.0
"""Radius of the balls over which stress in the jaw is averaged: about half an element of the mesh."""


@dataclass(frozen=True, eq=False)
class JawResponse:
    """A jaw under unit pressure on each cell of its gripping face, and under its boring ring.

    ``seat_height`` above the master jaw [mm]; ``tilt``: stiffness of the likely base [N mm/rad]; ``ring``: None where
    it was not asked for; ``firm``: compliance on a master jaw that cannot lean, (cells, cells) [mm/MPa], cells in
    row-major order (station, sector); ``push``: of 1 N of the ring there, (m, s) [mm/N]; ``stress``: mean stress in
    balls for 1 MPa on each cell, (cells, balls, 6), order xx, yy, zz, xz, xy, yz [MPa]; ``middles``: of those balls,
    (balls, 3) [mm].
    """

    face: JawFace
    seat_height: float
    tilt: float
    ring: BoringRing | None
    firm: Array
    push: Array
    stress: Stresses
    middles: Array

    @property
    def compliance(self) -> Array:
        """How far each cell gives way, along r and away from the part, for 1 MPa in another cell. [mm/MPa]"""
        return self.compliance_with(self.tilt)

    def compliance_with(self, tilt: float) -> Array:
        """The compliance on a master jaw of another ``tilt`` stiffness [N mm/rad], shape (cells, cells). [mm/MPa]

        The lean is a term of its own, so nothing is solved again.  Raises: ``GeometryError`` for a tilt not above 0.
        """
        return with_lean(self.firm, self.face, self.seat_height, tilt)

    def under_ring(self, tilt: float | None = None) -> Array:
        """How far each cell moves away from the part for 1 N of the boring ring along the jaw, shape (m, s). [mm/N]

        ``tilt``: stiffness of the master jaw [N mm/rad], the likely one where None.  Raises: ``GeometryError`` without
        a ring.
        """
        if self.ring is None:
            raise GeometryError("no boring ring was named for this jaw")
        stiffness = _checked(self.tilt if tilt is None else tilt)
        lean = _lean_of_cells(self.face, self.seat_height) * sum(self.ring.z) / 2 / stiffness
        return np.asarray(self.push + lean.reshape(self.push.shape))

    def largest_mises(self, pressure: Array) -> tuple[float, tuple[float, float, float]]:
        """Largest von Mises stress [MPa] under cell pressures (m, s) [MPa], and the (x, y, z) [mm] where it stands.

        Of the mean stress in balls of radius ``BALL_MM``, weighted by 1 - (distance / radius)^2, as far as they lie in
        the jaw: at the corners of seat, bolt and base the elastic stress has no bound, and a single point of the mesh
        moves with the mesh.  Balls that reach the gripping face are left out: what the contact itself does there is a
        matter of marking.  Bending reads low by 0.3 radius over half the depth of the jaw.
        """
        stress = self._mises(pressure[None])[0]
        worst = int(stress.argmax())
        x, y, z = (float(v) for v in self.middles[worst])
        return float(stress[worst]), (x, y, z)

    def largest_mises_each(self, pressures: Array) -> Array:
        """The same stress under many cell pressures (n, m, s) [MPa], shape (n,). [MPa]"""
        return np.asarray(self._mises(pressures).max(axis=1))

    def _mises(self, pressures: Array) -> Array:
        """Von Mises stress in every ball, (n, balls). [MPa]"""
        cells, balls, parts = self.stress.shape
        found = pressures.reshape(len(pressures), cells) @ self._by_part
        return von_mises(np.moveaxis(found.reshape(len(pressures), parts, balls), 1, -1))

    @cached_property
    def _by_part(self) -> Array:
        """``stress`` with the six parts one after the other, (cells, 6 balls), in the digits it is used with."""
        return np.ascontiguousarray(self.stress.transpose(0, 2, 1), float).reshape(len(self.stress), -1)


def with_lean(firm: Array, face: JawFace, seat_height: float, tilt: float) -> Array:
    """``firm`` with what the master jaw's lean adds, shape (cells, cells). [mm/MPa]

    Raises: ``GeometryError`` for a tilt not above 0.
    """
    lean = _lean_of_cells(face, seat_height)
    # Moment of 1 MPa in each cell about the base of the jaw, both halves.
    moment = lean * face.areas.ravel()
    return np.asarray(firm + np.outer(lean, moment) / _checked(tilt))


def _lean_of_cells(face: JawFace, seat_height: float) -> Array:
    """How far each cell moves along r when the master jaw leans by 1 rad, shape (cells,). [mm/rad]"""
    return np.outer(seat_height + face.stations.middles, face.along).ravel()


def _checked(tilt: float) -> float:
    if not tilt > 0:
        raise GeometryError(f"the tilt stiffness of a master jaw is above 0 N mm/rad, got {tilt:g}")
    return tilt
