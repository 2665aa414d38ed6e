"""Part and jaws pressed together: what is solved once for a shape, and what follows at any force, fit and taper.

The expensive compliances are kept by content, so that another pressure, speed, friction, fit or taper costs
milliseconds, and another style of jaw on the same surface does not solve the part again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import inf, pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from heldtrue.mechanics.contact import Contact, JawFace, bore_gap, edge_pressures, harmonics_each
from heldtrue.mechanics.friction_contact import Load, Pressing, press_each
from heldtrue.mechanics.holding import limit_at, unit_needs
from heldtrue.mechanics.jaw_response import JawResponse
from heldtrue.planning.form_measures import FormMeasures, waves, zones
from heldtrue.planning.setup import Surface
from heldtrue.planning.solved_jaws import JawKind, solved_jaw
from heldtrue.planning.solved_parts import Body, forget_parts, probe_points, responded, sheared

Array = NDArray[np.float64]

STRESS_ANGLES = 13
FEWEST_JAWS = 2
"""A jaw alone does not know how many stand round the part: one is kept for every count."""
LEAST_GRIP_N = 20.0
"""Less total grip than this is none: the jaws have hardly moved up, and press nothing out of shape."""
NEAR_CONTACTS = 128
"""Contacts kept to guess the next ones from."""
TIE = 1e-6
"""Forms of two fits this close are the same."""
KEPT_CONTACTS = 1024
"""Contacts kept in memory for one part in its jaws, some 10 kB each."""
SOLVED_TOGETHER = 64
"""Contacts solved side by side: more need memory and save nothing."""
KEPT_GAPS = 256
"""Gaps of undeformed shapes kept in memory, half a kB each."""
KEPT = 64
"""Parts and jaws whose compliances are kept in memory."""


class Fit(NamedTuple):
    """One size of the gripped surface within its tolerance, and its out-of-round. [mm]

    ``lobes``: radial height of as many lobes as there are jaws, before the part is gripped; positive stands towards
    the jaws in their middles.
    """

    name: str
    radius: float
    lobes: float = 0.0


class Bore(NamedTuple):
    """What the jaws were bored to: ``radius`` at the seat end of the grip, ``taper`` over the gripped length, per side.

    A positive taper brings the tip closer to the part. ``force``: of the boring ring on each jaw [N], None for jaws
    bored at the very force at which they are used. [mm]
    """

    radius: float
    taper: float = 0.0
    force: float | None = None


class Meeting(NamedTuple):
    """One way in which part and jaws may meet: ``tilt`` stiffness of the base [N mm/rad], ``friction`` of clamping."""

    fit: Fit
    bore: Bore
    tilt: float
    friction: float


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

    ``jaw``: None for rigid jaws.  ``surfaces``: whose form is asked for.  ``friction`` while clamping, of the fits.
    ``quick``: with fewer waves and no stress, for a look at many ways.
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
        friction: float = 0.0,
        *,
        quick: bool = False,
    ) -> None:
        self.body = body
        self.face = face
        self.fits = tuple(fits)
        self.bore = bore
        self.surfaces = tuple(surfaces)
        self.friction = friction
        self._points = tuple(probe_points(surface) for surface in surfaces)
        flat = tuple(point for points in self._points for point in points)
        self.response = responded(body, face.stations, face.jaws, flat, quick)
        self.sheared = sheared(body, face, flat, quick)
        self._kind = jaw
        self._jaw = None if jaw is None else _jaw(_that_cannot_lean(jaw), replace(face, jaws=FEWEST_JAWS))
        self.near = _near(body, face)
        self._met: dict[tuple[Meeting, float], Contact] = {}
        self._pressings: dict[float, Pressing] = {}
        self._pushes: dict[float, Array] = {}
        self.measured: dict[Hashable, Array] = {}
        """What was measured of contacts, by whoever measured it: kept with the part, which outlives a study."""

    @property
    def part_compliance(self) -> Array:
        """C of the part over the cells' pressures. [mm/MPa]"""
        return self.sheared[: self.face.areas.size, : self.face.areas.size]

    @cached_property
    def jaw_compliance(self) -> Array:
        """C of the jaw over the cells' pressures, on its likely base. [mm/MPa]"""
        return self._jaw_on(self.tilt)

    @cached_property
    def ring_push(self) -> Array:
        """How far 1 N of the boring ring moves each cell, on the likely base. [mm/N]"""
        return self._push_on(self.tilt)

    @cached_property
    def compliance(self) -> Array:
        """C_part + C_jaw over the cells. [mm/MPa]"""
        return np.asarray(self.part_compliance + self.jaw_compliance)

    @property
    def tilt(self) -> float:
        """Likely stiffness of the base; infinite for rigid jaws. [N mm/rad]"""
        return inf if self._kind is None else self._kind.base.tilt

    def _jaw_on(self, tilt: float) -> Array:
        if self._jaw is None:
            return np.zeros_like(self.part_compliance)
        return self._jaw.compliance_with(tilt)

    def _push_on(self, tilt: float) -> Array:
        if self._jaw is None:
            return np.zeros(self.face.areas.shape)
        if tilt not in self._pushes:
            self._pushes[tilt] = self._jaw.under_ring(tilt)
        return self._pushes[tilt]

    def on_base(self, tilt: float) -> tuple[Array, Array]:
        """C of part and jaw over the cells [mm/MPa], and the ring's push [mm/N], on one base of the jaws [N mm/rad]."""
        if tilt == self.tilt:
            return self.compliance, self.ring_push
        return np.asarray(self.part_compliance + self._jaw_on(tilt)), self._push_on(tilt)

    def gap(self, fit: Fit, force: float, bore: Bore | None = None, tilt: float | None = None) -> Array:
        """Gap before the jaw presses: bore against part, lobes, taper, and the bend the jaw was bored with. [mm]

        A jaw bored true while the ring pushed it stands closer to the part by just that push once the ring is gone.
        """
        bore = self.bore if bore is None else bore
        push = self.ring_push if tilt is None or tilt == self.tilt else self._push_on(tilt)
        bored_at = force if bore.force is None else bore.force
        return np.asarray(_unbent_gap(self.face, fit.radius, fit.lobes, bore.radius, bore.taper) - push * bored_at)

    def meet(self, meeting: Meeting, grip: float) -> Contact:
        """One jaw pressed on the part under a total grip [N], part and jaws meeting in one of the ways they may."""
        return self.meet_each([(meeting, grip)])[0]

    def meet_each(self, asked: Sequence[tuple[Meeting, float]]) -> list[Contact]:
        """The same for many ways and grips, solved together."""
        meet_together([(self, asked)])
        return [self._met[key] for key in asked]

    def unmet(self, asked: Sequence[tuple[Meeting, float]]) -> list[tuple[Meeting, float]]:
        """Those of the ways and grips whose contacts are not known; where too many are kept, all are dropped first."""
        new = [key for key in dict.fromkeys(asked) if key not in self._met]
        if len(self._met) + len(new) > KEPT_CONTACTS:
            self._met.clear()
            self.measured.clear()
            new = list(dict.fromkeys(asked))
        return new

    def _load(self, meeting: Meeting, grip: float) -> Load:
        force = grip / self.face.jaws
        return Load(force, self.gap(meeting.fit, force, meeting.bore, meeting.tilt), meeting.friction)

    def pressed(self, meeting: Meeting, grip: float) -> tuple[Pressing, Load]:
        """What ``press_each`` takes for one way and grip."""
        return self._pressing(meeting.tilt), self._load(meeting, grip)

    def keep(self, key: tuple[Meeting, float], load: Load, contact: Contact) -> None:
        """A contact that was worked out for one way and grip."""
        self._met[key] = contact
        self.near.append((load, contact))

    def _pressing(self, tilt: float) -> Pressing:
        """Part and jaw on one base, ready to be pressed together."""
        if tilt not in self._pressings:
            jaw = self.jaw_compliance if tilt == self.tilt else self._jaw_on(tilt)
            self._pressings[tilt] = Pressing(self.face, self.sheared, jaw)
        return self._pressings[tilt]

    def contact(self, fit: Fit, force: float) -> Contact:
        """One jaw pressed on a part of one size with ``force`` [N]."""
        return self.meet(Meeting(fit, self.bore, self.tilt, self.friction), force * self.face.jaws)

    def under(self, grip: float) -> Elastic:
        """Part and jaws under a total grip. [N]"""
        meetings = [(Meeting(fit, self.bore, self.tilt, self.friction), grip) for fit in self.fits]
        contacts = tuple(zip(self.fits, self.meet_each(meetings), strict=True))
        per_fit = [self.forms(contact, fit.name) for fit, contact in contacts]
        forms = tuple(_worst_form(column) for column in zip(*per_fit, strict=True))
        return Elastic(grip, contacts, forms)

    @cached_property
    def jaw_radial_compliance(self) -> float:
        """How far one jaw gives way for 1 N spread evenly over its face. [mm/N]"""
        weights = self.face.areas * self.face.along
        even = np.full(weights.size, 1 / weights.sum())
        return float(((self.jaw_compliance @ even).reshape(weights.shape) * weights).sum() / weights.sum())

    def part_stress(self, contact: Contact) -> float:
        """Largest von Mises stress in the part under one contact. [MPa]"""
        return float(self.strengths([contact])[0, 1])

    def jaw_stress(self, contact: Contact) -> float:
        """Largest von Mises stress in a jaw under one contact; 0 for rigid jaws. [MPa]"""
        return float(self.strengths([contact])[0, 2])

    def strengths(self, contacts: Sequence[Contact]) -> Array:
        """Mean pressure at the edge of a jaw, stress in the part and in the jaw, under each contact, (n, 3). [MPa]"""
        pressures = np.array([one.pressure for one in contacts])
        shears = np.array([np.zeros_like(one.pressure) if one.shear is None else one.shear for one in contacts])
        angles = np.linspace(0.0, pi / self.face.jaws, STRESS_ANGLES)
        pressed = harmonics_each(self.face, pressures, shears, self.response.orders)
        part = self.response.largest_mises_each(pressed, angles)
        jaw = np.zeros(len(contacts)) if self._jaw is None else self._jaw.largest_mises_each(pressures)
        return np.stack([edge_pressures(self.face, pressures), part, jaw], axis=1)

    @cached_property
    def form_measures(self) -> FormMeasures:
        """The same for the form of every surface after release."""
        return FormMeasures(self.response, self.face, self.surfaces, self._points)

    @cached_property
    def _waves(self) -> Array:
        return waves(self.response.orders, self.face.jaws)

    def forms(self, contact: Contact, fit: str = "") -> tuple[SurfaceForm, ...]:
        """Form of every surface after release, of a part finished in this contact; ``fit``: its name."""
        amplitudes = self._after(contact)
        forms, start = [], 0
        for surface, points in zip(self.surfaces, self._points, strict=True):
            rows = amplitudes[:, start : start + len(points), 2 if surface.side == "face" else 0]
            forms.append(self._form(surface, fit, rows))
            start += len(points)
        return tuple(forms)

    def tapers_left(self, contact: Contact) -> tuple[float, ...]:
        """Ø at the front less Ø at the back of every surface after release, turned straight in this contact. [mm]

        The front is the end further from the seat; of a straight line along the surface.  0 on a face.
        """
        amplitudes, found, start = self._after(contact), [], 0
        for surface, points in zip(self.surfaces, self._points, strict=True):
            grown = -2 * amplitudes[0, start : start + len(points), 0]
            start += len(points)
            along = np.linspace(-0.5, 0.5, len(points)) * np.sign(surface.z[1] - surface.z[0])
            found.append(0.0 if surface.side == "face" else float(grown @ along / (along @ along)))
        return tuple(found)

    def _after(self, contact: Contact) -> Array:
        """Movement of every probe point under one contact by harmonic, (H, points, 3). [mm]"""
        h, loads = self.response.probes.shape[:2]
        probes = self.response.probes.reshape(h, loads, -1)
        pressures = contact.harmonics(self.response.orders)
        return np.asarray(np.matmul(pressures[:, None, :], probes).reshape(h, -1, 3))

    def _form(self, surface: Surface, fit: str, amplitudes: Array) -> SurfaceForm:
        """Form from the harmonics of one surface's points, shape (H, points)."""
        u: Array = amplitudes.T @ self._waves
        section = int(np.ptp(u, axis=1).argmax())
        roundness, cylindricity, flatness, runout = (float(zone) for zone in zones(surface.side, u))
        lobes = tuple(float(a) for a in -amplitudes[1:, section])
        orders = self.response.orders[1:]
        shift = 0.0 if surface.side == "face" else -2 * float(amplitudes[0].mean())
        return SurfaceForm(surface, runout, roundness, cylindricity, flatness, shift, orders, lobes, fit)


def _worst_form(of_fits: Sequence[SurfaceForm]) -> SurfaceForm:
    """The first that is as bad as any: which of equal ones, the last digits do not say."""
    worst = max(form.runout for form in of_fits)
    return next(form for form in of_fits if form.runout >= worst * (1 - TIE))


def meet_together(asked: Sequence[tuple[PartInJaws, Sequence[tuple[Meeting, float]]]]) -> None:
    """Work out what ``meet_each`` will be asked of some parts in jaws with the same cells, each part named once.

    A dozen contacts cost little more than two alone.
    """
    new = [(part, key) for part, keys in asked for key in part.unmet(keys)]
    for start in range(0, len(new), SOLVED_TOGETHER):
        some = new[start : start + SOLVED_TOGETHER]
        near = [known for kept in {id(part.near): part.near for part, _ in some}.values() for known in kept]
        pairs = [part.pressed(*key) for part, key in some]
        for (part, key), (_, load), contact in zip(some, pairs, press_each(pairs, near), strict=True):
            part.keep(key, load, contact)


@lru_cache(maxsize=KEPT)
def part_in_jaws(
    body: Body,
    face: JawFace,
    jaw: JawKind | None,
    fits: tuple[Fit, ...],
    bore: Bore,
    surfaces: tuple[Surface, ...],
    friction: float = 0.0,
    *,
    quick: bool = False,
) -> PartInJaws:
    """A part in jaws, kept by content with everything it has worked out."""
    return PartInJaws(body, face, jaw, fits, bore, surfaces, friction, quick=quick)


@lru_cache(maxsize=KEPT)
def _near(_body: Body, _face: JawFace) -> deque[tuple[Load, Contact]]:
    """The last contacts of a part on one face, in any jaws: the guess for the next ones."""
    return deque(maxlen=NEAR_CONTACTS)


@lru_cache(maxsize=KEPT_GAPS)
def _unbent_gap(face: JawFace, radius: float, lobes: float, bore_radius: float, taper: float) -> Array:
    """Gap of the undeformed shapes: bore against part, lobes and taper. [mm]"""
    edges = face.stations.edges
    along = (face.stations.middles - edges[0]) / (edges[-1] - edges[0])
    bump = lobes * (1 - np.cos(face.jaws * face.angles))
    return np.asarray(bore_gap(face, radius, bore_radius) + bump - taper * along[:, None])


@lru_cache(maxsize=KEPT)
def _jaw(jaw: JawKind, face: JawFace) -> JawResponse:
    return solved_jaw(jaw, face)


def _that_cannot_lean(jaw: JawKind) -> JawKind:
    """A jaw on a master that stays upright: how far it leans is a term of its own, so no other base is solved again."""
    return replace(jaw, base=replace(jaw.base, tilt=inf))


def forget() -> None:
    """Drop every kept compliance and holding limit, as a benchmark of the first solution needs."""
    forget_parts()
    for kept in (limit_at, unit_needs, _near, _jaw, part_in_jaws):
        kept.cache_clear()
