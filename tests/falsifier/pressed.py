"""Part and jaws pressed together, for one setup: solved once per shape, then any draw costs milliseconds.

The elastic solvers of ``heldtrue.mechanics`` are shared with the program (they are held to published cases elsewhere).
How they are put together here is not: bands, sections, the place of the boring ring, the gap and the release are this
module's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import SolverError
from heldtrue.mechanics.contact import Contact, JawFace, bore_gap, press
from heldtrue.mechanics.friction_contact import press_with_friction, sheared_compliance
from heldtrue.mechanics.jaw_body import JawBody
from heldtrue.mechanics.jaw_response import JawResponse
from heldtrue.mechanics.jaw_shape import BoringRing, JawBase, JawShape
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.turned_body import HarmonicResponse, TurnedBody

Array = NDArray[np.float64]
Corners = tuple[tuple[float, float], ...]

BASE_NORMAL, BASE_SHEAR = 2.5e3, 1.25e3  # MPa/mm: docs/theory.md, section 2; assumed there too
NO_TILT = 1e30
RING_WIDTH = 10.0
RELIEF = 0.5
HARMONICS, SECTIONS, ANGLES, SECTORS = 31, 7, 31, 8


@dataclass(frozen=True)
class Sides:
    """A surface as it is looked at: ``side``, points (r, z) [mm]."""

    side: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Squeeze:
    """What one draw says of the contact.

    ``force`` and ``bored_force`` of one jaw [N]; ``part_radius``, ``bore_radius`` [mm]; ``taper`` over the gripped
    length, per side [mm]; ``lobes``: amplitude of the gripped surface's out-of-round, one lobe a jaw [mm];
    ``friction`` while clamping; ``tilt`` of the master jaw [N mm/rad]; ``softer``: part's E in the table over the draw.
    """

    force: float
    bored_force: float
    part_radius: float
    bore_radius: float
    taper: float = 0.0
    lobes: float = 0.0
    friction: float = 0.0
    tilt: float = 4e9
    softer: float = 1.0


# The same part told in other ways shares its solutions: kept by content.


@lru_cache(maxsize=8)
def _respond(
    corners: Corners, young: float, poisson: float, face: JawFace, points: tuple[tuple[float, float], ...]
) -> HarmonicResponse:
    body = TurnedBody(corners, young, poisson)
    return body.respond(face.stations, face.jaws, np.array(points), harmonics=HARMONICS, sheared=True)


@lru_cache(maxsize=8)
def _jaw(face: JawFace, shape: JawShape, young: float, poisson: float, ring: BoringRing) -> JawResponse:
    return JawBody(shape, young, poisson, JawBase(BASE_NORMAL, BASE_SHEAR, NO_TILT)).under(face).response(ring)


class Jaw:
    """A top jaw on a base that does not lean; leaning is added per draw. ``solved`` False: rigid but for leaning."""

    def __init__(self, face: JawFace, shape: JawShape, young: float, poisson: float) -> None:
        self.face, self.shape = face, shape
        low = min(max(shape.seat_height / 2 - RING_WIDTH / 2, 0.0), shape.height - RING_WIDTH)
        self.ring = (low, low + RING_WIDTH)
        self.loaded = _jaw(face, shape, young, poisson, BoringRing(self.ring))

    @cached_property
    def stiff(self) -> Array:
        """Compliance without leaning, (c, c). [mm/MPa]"""
        return self.loaded.compliance

    @cached_property
    def lean(self) -> Array:
        """Move of each cell along its normal per rad of lean, (c,). [mm/rad]"""
        heights = self.shape.seat_height + self.face.stations.middles
        return np.outer(heights, self.face.along).ravel()

    @cached_property
    def ring_stiff(self) -> Array:
        """Move of each cell for 1 N of the boring ring, without leaning, (m, s). [mm/N]"""
        return self.loaded.under_ring()

    def compliance(self, tilt: float) -> Array:
        """Compliance over the cells, (c, c). [mm/MPa]"""
        return self.stiff + np.outer(self.lean, self.lean * self.face.areas.ravel()) / tilt

    def ring_push(self, tilt: float) -> Array:
        """Move of each cell for 1 N of the ring, (m, s). [mm/N]"""
        return self.ring_stiff + (self.lean * sum(self.ring) / 2 / tilt).reshape(self.face.areas.shape)

    def stress(self, pressure: Array) -> float:
        """Largest von Mises stress in the jaw. [MPa]"""
        return self.loaded.largest_mises(pressure)[0]


class Pressed:
    """One half section in its jaws."""

    def __init__(
        self, corners: Corners, young: float, poisson: float, face: JawFace, jaw: Jaw, surfaces: tuple[Sides, ...]
    ) -> None:
        self.face, self.jaw, self.surfaces = face, jaw, surfaces
        points = [p for surface in surfaces for p in surface.points] or [corners[0]]
        self.response = _respond(corners, young, poisson, face, tuple(points))
        self.compliance = sheared_compliance(self.response, face)

    def gap(self, s: Squeeze) -> Array:
        """Gap before the jaw presses, (m, s). [mm]"""
        edges = self.face.stations.edges
        up = (self.face.stations.middles - edges[0]) / (edges[-1] - edges[0])
        outward = 1.0 if self.face.stations.side == "inside" else -1.0
        start = bore_gap(self.face, s.part_radius, s.bore_radius)
        bent = s.taper * up[:, None] + self.jaw.ring_push(s.tilt) * s.bored_force
        return np.asarray(start - bent + outward * s.lobes * np.cos(self.face.jaws * self.face.angles))

    def contact(self, s: Squeeze) -> Contact:
        """The contact; without friction where the contact with friction does not settle."""
        jaw, gap = self.jaw.compliance(s.tilt), self.gap(s)
        part = self.compliance * s.softer
        if s.friction > 0:
            try:
                return press_with_friction(self.face, part, jaw, s.force, gap, s.friction)
            except SolverError:
                pass
        cells = self.face.areas.size
        return press(self.face, part[:cells, :cells] + jaw, s.force, gap)

    def harmonics(self, contact: Contact) -> Array:
        """Pressures and tractions by wave, (H, 2 m)."""
        waves = contact.harmonics(self.response.orders)
        bands = len(self.face.stations.bands)
        return waves if waves.shape[1] == 2 * bands else np.hstack([waves, np.zeros_like(waves)])

    def stress(self, contact: Contact) -> float:
        """Largest von Mises stress in the part. [MPa]"""
        angles = np.linspace(0.0, pi / self.face.jaws, 13)
        return self.response.largest_mises(self.harmonics(contact), angles)[0]

    def released(self, contact: Contact, softer: float) -> list[Array]:
        """Each surface after release, (sections, angles), positive away from the axis or the chuck. [mm]"""
        waves = self.harmonics(contact)
        amplitudes = np.einsum("hm,hmpc->hpc", waves, self.response.probes) * softer
        angles = np.linspace(0.0, pi / self.face.jaws, ANGLES)
        cosines = np.cos(np.multiply.outer(np.asarray(self.response.orders, float), angles))
        found, start = [], 0
        for surface in self.surfaces:
            stop = start + len(surface.points)
            way = 2 if surface.side == "face" else 0
            found.append(-np.einsum("hp,ha->pa", amplitudes[:, start:stop, way], cosines))
            start = stop
        return found


def face_of(side: str, radius: float, z: tuple[float, float], half_angle: float, jaws: int) -> JawFace:
    """Cells of half a jaw face: bands of about 6 mm, at least 3 and at most 6."""
    bands = int(np.clip(round((z[1] - z[0]) / 6), 3, 6))
    edges = tuple(float(e) for e in np.linspace(*z, bands + 1))
    return JawFace(Stations(side, radius, edges), half_angle, SECTORS, jaws)
