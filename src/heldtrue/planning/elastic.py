"""Part and jaws pressed together: what is solved once for a shape, and what follows at any force, fit and taper.

The expensive compliances are kept by content, so that another pressure, speed, friction, fit or taper costs
milliseconds, and another style of jaw on the same surface does not solve the part again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact, JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.jaw_body import JawBody, LoadedJaw
from heldtrue.mechanics.jaw_shape import BoringRing, JawBase, JawShape
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.sticking import press_sticking, sticking_compliance
from heldtrue.mechanics.tool_deflection import SmearedJaws, deflection_under_tool
from heldtrue.mechanics.turned_body import HarmonicResponse, TurnedBody
from heldtrue.planning.setup import Surface

Array = NDArray[np.float64]
Point = tuple[float, float]

HARMONICS = 31
SECTIONS = 5
"""Sections in which a surface is looked at, from end to end."""
ANGLES = 31
"""Angles from a jaw's middle to half way to the next at which a form is taken; the shape repeats and mirrors."""
STRESS_ANGLES = 13
FORCE_LEVELS = np.array([0.02, 0.06, 0.15, 0.35, 0.65, 1.0])
"""Shares of the greatest grip at which the elastic answer is tabulated for limits and maps."""
FEWEST_JAWS = 2
"""A jaw alone does not know how many stand round the part: one is kept for every count."""
KEPT = 64
"""Parts and jaws whose compliances are kept in memory."""


@dataclass(frozen=True)
class Body:
    """A part's half section [(r, z) mm] and its elastic constants [MPa, -]."""

    corners: tuple[Point, ...]
    young: float
    poisson: float


@dataclass(frozen=True)
class JawKind:
    """A jaw, its elastic constants [MPa, -], what it stands on, and the ring that clamps it while it is bored."""

    shape: JawShape
    young: float
    poisson: float
    base: JawBase
    ring: BoringRing


@dataclass(frozen=True)
class Fit:
    """One size of the gripped surface within its tolerance. [mm]"""

    name: str
    radius: float


@dataclass(frozen=True)
class Bore:
    """What the jaws were bored to: ``radius`` at the seat end of the grip, ``taper`` over the gripped length, per side.

    A positive taper brings the tip closer to the part. ``force``: of the boring ring on each jaw [N], None for jaws
    bored at the very force at which they are used. [mm]
    """

    radius: float
    taper: float = 0.0
    force: float | None = None


@dataclass(frozen=True)
class SurfaceForm:
    """Form of one surface under a grip, in the fit that is worst for it. [mm]

    ``runout``: worst section's indicator reading (axial on a face); ``cylindricity`` and ``flatness`` 0 where they do
    not apply; ``size_shift`` on diameter after release; ``amplitudes`` of the harmonics after release, worst section.
    """

    surface: Surface
    runout: float
    roundness: float
    cylindricity: float
    flatness: float
    size_shift: float
    orders: tuple[int, ...]
    amplitudes: tuple[float, ...]
    fit: str


@dataclass(frozen=True)
class Elastic:
    """Part and jaws under one total grip: the contact of every fit and the form of every surface."""

    grip: float
    contacts: tuple[tuple[Fit, Contact], ...]
    forms: tuple[SurfaceForm, ...]

    @property
    def peak_pressure(self) -> float:
        """Highest pressure between jaw and part over the fits. [MPa]"""
        return max(contact.peak_pressure for _, contact in self.contacts)


class PartInJaws:
    """One part in one set of jaws, for any force.

    ``jaw``: None for rigid jaws.  ``surfaces``: whose form is asked for.
    Raises: ``GeometryError`` for a grip off the part, a surface off the part or a jaw that cannot be.
    """

    def __init__(
        self,
        body: Body,
        face: JawFace,
        jaw: JawKind | None,
        fits: Sequence[Fit],
        bore: Bore,
        surfaces: Sequence[Surface],
    ) -> None:
        self.body = body
        self.face = face
        self.fits = tuple(fits)
        self.bore = bore
        self.surfaces = tuple(surfaces)
        self._points = tuple(probe_points(surface) for surface in surfaces)
        every_third = 3 if face.jaws % 3 == 0 else face.jaws
        flat = tuple(point for points in self._points for point in points)
        self.response = _respond(body, face.stations, every_third, flat).every(face.jaws)
        self.part_compliance = _part_compliance(body, face, every_third, flat)
        self._jaw = None if jaw is None else _jaw(jaw, replace(face, jaws=FEWEST_JAWS))
        if jaw is None or self._jaw is None:
            self.jaw_compliance = np.zeros_like(self.part_compliance)
            self.ring_push = np.zeros(face.areas.shape)
        else:
            self.jaw_compliance = self._jaw.compliance
            self.ring_push = self._jaw.under_ring(jaw.ring)
        self._touching: dict[str, NDArray[np.bool_]] = {}
        self._tables: dict[float, tuple[Elastic, ...]] = {}

    @cached_property
    def compliance(self) -> Array:
        """C_part + C_jaw over the cells. [mm/MPa]"""
        return np.asarray(self.part_compliance + self.jaw_compliance)

    @cached_property
    def is_proportional(self) -> bool:
        """Does every answer just grow with the force? Only where part and jaws fit without a gap at any force."""
        return (
            self.bore.taper == 0.0
            and self.bore.force is None
            and all(abs(fit.radius - self.bore.radius) < 1e-9 for fit in self.fits)
        )

    def gap(self, fit: Fit, force: float) -> Array:
        """Gap before the jaw presses: bore against part, taper, and the bend the jaw was bored with. [mm]

        A jaw bored true while the ring pushed it stands closer to the part by just that push once the ring is gone.
        """
        start = bore_gap(self.face, fit.radius, self.bore.radius)
        edges = self.face.stations.edges
        along = (self.face.stations.middles - edges[0]) / (edges[-1] - edges[0])
        bored_at = force if self.bore.force is None else self.bore.force
        return np.asarray(start - self.bore.taper * along[:, None] - self.ring_push * bored_at)

    def sticking_under(self, grip: float) -> Elastic:
        """The same with part and jaws stuck together wherever they touch: the other bound of what friction does. [N]"""
        every_third = 3 if self.face.jaws % 3 == 0 else self.face.jaws
        flat = tuple(point for points in self._points for point in points)
        response = _respond(self.body, self.face.stations, every_third, flat, sheared=True).every(self.face.jaws)
        compliance = sticking_compliance(response, self.face)
        force = grip / self.face.jaws
        contacts = tuple(
            (fit, press_sticking(self.face, compliance, self.jaw_compliance, force, self.gap(fit, force)))
            for fit in self.fits
        )
        return Elastic(grip, contacts, self._forms(contacts, response))

    def tabulated(self, greatest: float) -> tuple[Elastic, ...]:
        """Answers from next to nothing up to a ``greatest`` total grip [N], for limits and maps."""
        if greatest not in self._tables:
            levels = [float(level) for level in FORCE_LEVELS * greatest]
            if self.is_proportional:
                top = self.under(levels[-1])
                self._tables[greatest] = tuple(_scaled(top, level) for level in levels)
            else:
                self._tables[greatest] = tuple(self.under(level) for level in levels)
        return self._tables[greatest]

    def contact(self, fit: Fit, force: float) -> Contact:
        """One jaw pressed on a part of one size with ``force`` [N]."""
        contact = press(self.face, self.compliance, force, self.gap(fit, force), guess=self._touching.get(fit.name))
        self._touching[fit.name] = contact.pressure > 0
        return contact

    def under(self, grip: float) -> Elastic:
        """Part and jaws under a total grip. [N]"""
        contacts = tuple((fit, self.contact(fit, grip / self.face.jaws)) for fit in self.fits)
        return Elastic(grip, contacts, self._forms(contacts, self.response))

    @cached_property
    def jaw_radial_compliance(self) -> float:
        """How far one jaw gives way for 1 N spread evenly over its face. [mm/N]"""
        weights = self.face.areas * self.face.along
        even = np.full(weights.size, 1 / weights.sum())
        return float(((self.jaw_compliance @ even).reshape(weights.shape) * weights).sum() / weights.sum())

    def part_stress(self, elastic: Elastic) -> float:
        """Largest von Mises stress in the part, over the fits. [MPa]"""
        angles = np.linspace(0.0, pi / self.face.jaws, STRESS_ANGLES)
        orders = self.response.orders
        return max(self.response.largest_mises(c.harmonics(orders), angles)[0] for _, c in elastic.contacts)

    def jaw_stress(self, elastic: Elastic) -> float:
        """Largest von Mises stress in a jaw, over the fits; 0 for rigid jaws. [MPa]"""
        if self._jaw is None:
            return 0.0
        return max(self._jaw.largest_mises(contact.pressure)[0] for _, contact in elastic.contacts)

    @cached_property
    def _waves(self) -> Array:
        """cos(n t) over half a jaw pitch, shape (H, angles)."""
        angles = np.linspace(0.0, pi / self.face.jaws, ANGLES)
        return np.asarray(np.cos(np.multiply.outer(np.asarray(self.response.orders, float), angles)))

    def _forms(self, contacts: Sequence[tuple[Fit, Contact]], response: HarmonicResponse) -> tuple[SurfaceForm, ...]:
        h, loads = response.probes.shape[:2]
        probes = response.probes.reshape(h, loads, -1)
        per_fit = []
        for fit, contact in contacts:
            pressures = contact.harmonics(response.orders)
            amplitudes = np.matmul(pressures[:, None, :], probes).reshape(h, -1, 3)
            forms, start = [], 0
            for surface, points in zip(self.surfaces, self._points, strict=True):
                rows = amplitudes[:, start : start + len(points), 2 if surface.side == "face" else 0]
                forms.append(self._form(surface, fit.name, rows))
                start += len(points)
            per_fit.append(forms)
        return tuple(max(column, key=lambda form: form.runout) for column in zip(*per_fit, strict=True))

    def _form(self, surface: Surface, fit: str, amplitudes: Array) -> SurfaceForm:
        """Form from the harmonics of one surface's points, shape (H, points).

        The shape repeats with the jaws and mirrors, so the zones of ISO 12181, 12180 and 12781 are centred on the axis
        (a convex problem keeps the symmetry of its data) and a peak-to-valley is the minimum zone.
        """
        u: Array = amplitudes.T @ self._waves
        by_section = np.ptp(u, axis=1)
        section = int(by_section.argmax())
        runout, everywhere = float(by_section[section]), float(np.ptp(u))
        lobes = tuple(float(a) for a in -amplitudes[1:, section])
        orders = self.response.orders[1:]
        if surface.side == "face":
            return SurfaceForm(surface, runout, 0.0, 0.0, everywhere, 0.0, orders, lobes, fit)
        shift = -2 * float(amplitudes[0].mean())
        return SurfaceForm(surface, runout, runout, everywhere, 0.0, shift, orders, lobes, fit)


@lru_cache(maxsize=KEPT)
def part_in_jaws(
    body: Body, face: JawFace, jaw: JawKind | None, fits: tuple[Fit, ...], bore: Bore, surfaces: tuple[Surface, ...]
) -> PartInJaws:
    """A part in jaws, kept by content with everything it has worked out."""
    return PartInJaws(body, face, jaw, fits, bore, surfaces)


def probe_points(surface: Surface) -> tuple[Point, ...]:
    """The points (r, z) at which a surface is looked at, from end to end. [mm]"""
    if surface.side == "face":
        inner, outer = surface.diameters or (0.0, 0.0)
        return tuple((float(r), surface.z[0]) for r in np.linspace(inner / 2, outer / 2, SECTIONS))
    radius = (surface.diameter or 0.0) / 2
    return tuple((radius, float(z)) for z in np.linspace(*surface.z, SECTIONS))


@lru_cache(maxsize=KEPT)
def tool_compliance(body: Body, stations: Stations, jaws: SmearedJaws, surface: Surface) -> tuple[float, ...]:
    """Radial deflection of a surface, from end to end, under a radial push of 1 N where it is looked at. [mm/N]"""
    part = TurnedBody(body.corners, body.young, body.poisson)
    return tuple(float(d) for d in deflection_under_tool(part, stations, jaws, probe_points(surface)))


@lru_cache(maxsize=KEPT)
def _respond(
    body: Body, stations: Stations, jaws: int, points: tuple[Point, ...], *, sheared: bool = False
) -> HarmonicResponse:
    part = TurnedBody(body.corners, body.young, body.poisson)
    at = np.array(points).reshape(-1, 2)
    return part.respond(stations, jaws, at, harmonics=HARMONICS, sheared=sheared)


@lru_cache(maxsize=KEPT)
def _part_compliance(body: Body, face: JawFace, jaws: int, points: tuple[Point, ...]) -> Array:
    return part_compliance(_respond(body, face.stations, jaws, points).every(face.jaws), face)


@lru_cache(maxsize=KEPT)
def _jaw(jaw: JawKind, face: JawFace) -> LoadedJaw:
    return JawBody(jaw.shape, jaw.young, jaw.poisson, jaw.base).under(face)


def _scaled(elastic: Elastic, grip: float) -> Elastic:
    """The same contact under another grip: exact where jaws and part fit without a gap."""
    by = grip / elastic.grip
    contacts = tuple(
        (
            fit,
            replace(c, pressure=c.pressure * by, gap=c.gap * by, advance=c.advance * by, force=c.force * by),
        )
        for fit, c in elastic.contacts
    )
    forms = tuple(
        replace(
            f, runout=f.runout * by, roundness=f.roundness * by, cylindricity=f.cylindricity * by,
            flatness=f.flatness * by, size_shift=f.size_shift * by, amplitudes=tuple(a * by for a in f.amplitudes),
        )
        for f in elastic.forms
    )  # fmt: skip
    return Elastic(grip, contacts, forms)


def forget() -> None:
    """Drop every kept compliance, as a benchmark of the first solution needs."""
    for kept in (_respond, _part_compliance, _jaw, part_in_jaws, tool_compliance):
        kept.cache_clear()
