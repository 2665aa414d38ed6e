"""The expensive part of a plan, done once: how the part gives, where the jaws press, how each load is held.

A ``Study`` keeps the compliance of part and jaw and the holding limits of one setup; everything at another pressure or
speed follows from it in milliseconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import ceil, pi, radians

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError, InputError
from heldtrue.mechanics.contact import Contact, JawFace, bore_gap, part_compliance, press
from heldtrue.mechanics.holding import Grip, Holding, holding, limit_at
from heldtrue.mechanics.spin import centrifugal_force
from heldtrue.mechanics.turned_body import HarmonicResponse, Stations, TurnedBody
from heldtrue.planning.inputs import Job, prepare
from heldtrue.planning.loads import SPIN_UP, Load, cut_loads, cut_speed, loads, spin_up
from heldtrue.planning.setup import Setup, Surface

Array = NDArray[np.float64]
Point = tuple[float, float]

HARMONICS = 31
SECTIONS = 5
"""Sections in which a surface is looked at, from end to end."""
ANGLES = 31
"""Angles from a jaw's middle to half way to the next at which a form is taken; the shape repeats and mirrors."""
FORCE_LEVELS = np.array([0.01, 0.03, 0.07, 0.15, 0.3, 0.5, 0.75, 1.0])
"""Shares of the greatest grip at which the elastic answer is tabulated for limits and maps."""
LOAD_INPUTS = ("friction", "wear", "cutting data", "off centre", "spin-up", "part mass")
"""The inputs that a load or its holding limit depends on."""


@dataclass(frozen=True)
class Fit:
    """One size of the gripped surface within its tolerance."""

    name: str
    radius: float


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


@dataclass(frozen=True)
class HeldLoad:
    """A load with its holding limit at the worst of every unknown."""

    load: Load
    limit: Holding


class Study:
    """One setup worked through as far as pressure and speed do not matter."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.worst = job.known.worst()
        self.best = job.known.best()
        self._factors: dict[tuple[object, ...], float] = {}

    @classmethod
    def of(cls, setup: Setup) -> Study:
        """Prepare a setup. Raises: ``InputError`` for one that cannot be planned."""
        try:
            return cls(prepare(setup))
        except GeometryError as error:
            raise InputError(str(error)) from error

    # How the part gives

    @cached_property
    def stations(self) -> Stations:
        """Bands of the gripped length: 3 to 8, none much shorter than 3 mm."""
        low, high = self.job.setup.grip.z
        bands = int(np.clip(round((high - low) / 3), 3, 8))
        edges = tuple(float(z) for z in np.linspace(low, high, bands + 1))
        return Stations(self.job.setup.grip.side, self.job.grip_radius, edges)

    @cached_property
    def probes(self) -> tuple[tuple[Surface, tuple[Point, ...]], ...]:
        """The points at which each surface is looked at."""
        return tuple((surface, _probes(surface)) for surface in self.job.setup.surfaces)

    @cached_property
    def response(self) -> HarmonicResponse:
        """The finished part under unit pressure harmonics."""
        points = tuple(point for _, surface_points in self.probes for point in surface_points)
        jaws = self.job.jaws
        shared = 3 if jaws % 3 == 0 else jaws
        try:
            finer = _respond(
                self.job.section.corners, self.job.work.young.value, self.job.work.poisson.value,
                self.stations, shared, points,
            )  # fmt: skip
        except GeometryError as error:
            raise InputError(str(error)) from error
        return finer.every(jaws)

    @cached_property
    def face(self) -> JawFace:
        """The cells of one jaw's gripping face."""
        sectors = int(np.clip(ceil(self.job.half_angle / radians(4)), 8, 15))
        return JawFace(self.stations, self.job.half_angle, sectors, self.job.jaws)

    @cached_property
    def compliance(self) -> Array:
        """Part over the cells of the jaw face; the jaws are rigid."""
        return part_compliance(self.response, self.face)

    @cached_property
    def fits(self) -> tuple[Fit, ...]:
        """Smallest, nominal and largest part the tolerance allows; one if it allows only one."""
        nominal = self.job.grip_radius
        low, high = self.job.setup.grip.diameter_tolerance
        if low == high:
            return (Fit("nominal", nominal + low / 2),)
        sizes = {"smallest": low, "middle": (low + high) / 2, "largest": high}
        return tuple(Fit(name, nominal + shift / 2) for name, shift in sizes.items())

    def under(self, grip: float) -> Elastic:
        """Part and jaws under a total grip. [N]"""
        force = grip / self.job.jaws
        contacts = []
        for fit in self.fits:
            gap = bore_gap(self.face, fit.radius, self.job.bore_radius)
            contacts.append((fit, press(self.face, self.compliance, force, gap)))
        return Elastic(grip, tuple(contacts), self._forms(contacts))

    def _forms(self, contacts: list[tuple[Fit, Contact]]) -> tuple[SurfaceForm, ...]:
        angles = np.linspace(0.0, pi / self.job.jaws, ANGLES)
        per_fit: list[list[SurfaceForm]] = []
        for fit, contact in contacts:
            pressures = contact.harmonics(self.response.orders)
            moved = self.response.displacement(pressures, angles)
            amplitudes = np.einsum("hm,hmpc->hpc", pressures, self.response.probes)
            forms, start = [], 0
            for surface, points in self.probes:
                rows = slice(start, start + len(points))
                forms.append(_form(surface, fit.name, moved[rows], self.response.orders, amplitudes[:, rows]))
                start += len(points)
            per_fit.append(forms)
        return tuple(max(column, key=lambda form: form.runout) for column in zip(*per_fit, strict=True))

    @cached_property
    def greatest_grip(self) -> float:
        """More total grip than plates and speed can ever give here. [N]"""
        chuck = self.job.setup.chuck
        gain = 0.0 if self.job.grip_is_outside else self.centrifugal(self.worst, chuck.max_speed_rpm)
        return chuck.max_grip_force * max(1.0, self.best["grip share"]) + gain

    @cached_property
    def tabulated(self) -> tuple[Elastic, ...]:
        """The elastic answer over the whole range of grip."""
        levels = FORCE_LEVELS * self.greatest_grip
        if all(abs(fit.radius - self.job.bore_radius) < 1e-9 for fit in self.fits):
            return tuple(_scaled(self.under(float(levels[-1])), float(level)) for level in levels)
        return tuple(self.under(float(level)) for level in levels)

    # How each load is held

    @cached_property
    def held(self) -> tuple[HeldLoad, ...]:
        """Every cut's worst case and the spin-up, at the worst of every unknown."""
        grip = self.grip(self.worst["friction"])
        worst: dict[str, HeldLoad] = {}
        for load in loads(self.job, self.worst):
            limit = holding(grip, load.wrench)
            if load.name not in worst or limit.factor < worst[load.name].limit.factor:
                worst[load.name] = HeldLoad(load, limit)
        return tuple(worst.values())

    def factor_at(self, held: HeldLoad, values: Mapping[str, float]) -> float:
        """Holding factor per newton of grip of one load with the inputs at other ``values``, same tool angle."""
        key = (held.load.name, *(values[name] for name in LOAD_INPUTS))
        if key not in self._factors:
            self._factors[key] = self._factor(held, values)
        return self._factors[key]

    def _factor(self, held: HeldLoad, values: Mapping[str, float]) -> float:
        if held.load.name == SPIN_UP:
            wrench = spin_up(self.job, values).wrench
        else:
            cut = next(cut for cut in self.job.setup.cuts if cut.name == held.load.name)
            wrench = next(load.wrench for load in cut_loads(self.job, cut, values) if load.case == held.load.case)
        return limit_at(self.grip(values["friction"]), wrench, held.limit.angle).factor

    @lru_cache(maxsize=16)  # noqa: B019  a study lives as long as its plan
    def grip(self, friction: float) -> Grip:
        """Where the part is held, for the holding limit."""
        grip = self.job.setup.grip
        section = self.job.section
        seat = None
        if grip.seat:
            inner, outer = grip.seat_diameters or _seat_diameters(self.job)
            seat = (section.lowest, inner / 2, outer / 2)
        centre = section.highest if grip.centre else None
        return Grip(
            grip.side,
            self.job.grip_radius,
            grip.z,
            self.job.half_angle,
            self.job.jaws,
            friction,
            seat,
            centre,
        )

    # Grip at pressure and speed

    def centrifugal(self, values: Mapping[str, float], speed_rpm: float) -> float:
        """Pull of all jaws at speed. [N]"""
        return centrifugal_force(values["jaw moment"], speed_rpm)

    def holding_grip(self, values: Mapping[str, float], pressure: float, speed_rpm: float) -> float:
        """Total grip to count on: an outside grip loses the jaws' pull, an inside one gains nothing. [N]"""
        static = self.job.static_grip(values, pressure)
        if self.job.grip_is_outside:
            return max(static - self.centrifugal(values, speed_rpm), 0.0)
        return static

    def distorting_grip(self, values: Mapping[str, float], pressure: float, speed_rpm: float) -> float:
        """Total grip that distorts and marks: an outside grip loses nothing, an inside one gains the jaws' pull. [N]"""
        static = self.job.static_grip(values, pressure)
        if self.job.grip_is_outside:
            return static
        return static + self.centrifugal({**values, "jaw moment": self.worst["jaw moment"]}, speed_rpm)

    @cached_property
    def cut_speeds(self) -> dict[str, float]:
        """Highest spindle speed of each cut. [rev/min]"""
        return {cut.name: cut_speed(self.job, cut) for cut in self.job.setup.cuts}

    def finishing_speed(self) -> float:
        """Highest speed at which a finished surface is made (of any cut, if none is marked finishing). [rev/min]"""
        finishing = [self.cut_speeds[cut.name] for cut in self.job.setup.cuts if cut.finishing]
        return max(finishing or self.cut_speeds.values(), default=0.0)


@lru_cache(maxsize=64)
def _respond(
    profile: tuple[Point, ...],
    young: float,
    poisson: float,
    stations: Stations,
    jaws: int,
    points: tuple[Point, ...],
) -> HarmonicResponse:
    """Kept by content: another style of jaw on the same surface needs no new solution."""
    return TurnedBody(profile, young, poisson).respond(
        stations, jaws, np.array(points).reshape(-1, 2), harmonics=HARMONICS
    )


def _probes(surface: Surface) -> tuple[Point, ...]:
    if surface.side == "face":
        inner, outer = surface.diameters or (0.0, 0.0)
        return tuple((float(r), surface.z[0]) for r in np.linspace(inner / 2, outer / 2, SECTIONS))
    radius = (surface.diameter or 0.0) / 2
    return tuple((radius, float(z)) for z in np.linspace(*surface.z, SECTIONS))


def _form(surface: Surface, fit: str, moved: Array, orders: tuple[int, ...], amplitudes: Array) -> SurfaceForm:
    """Form from displacements (points, angles, 3) over half a jaw pitch.

    The shape repeats with the jaws and mirrors, so the zones of ISO 12181, 12180 and 12781 are centred on the axis
    (a convex problem keeps the symmetry of its data) and a peak-to-valley is the minimum zone.
    """
    along = 2 if surface.side == "face" else 0
    u = moved[:, :, along]
    runout = float(np.ptp(u, axis=1).max())
    section = int(np.ptp(u, axis=1).argmax())
    lobes = -amplitudes[1:, section, along]
    if surface.side == "face":
        return SurfaceForm(
            surface, runout, 0.0, 0.0, float(np.ptp(u)), 0.0, orders[1:], tuple(float(a) for a in lobes), fit
        )
    shift = -2 * float(amplitudes[0, :, 0].mean())
    return SurfaceForm(
        surface, runout, runout, float(np.ptp(u)), 0.0, shift, orders[1:], tuple(float(a) for a in lobes), fit
    )


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


SEAT_LAND_MM = 3.0
"""Width of the face land each jaw seats the part on, where nothing is stated: common practice, no source."""


def _seat_diameters(job: Job) -> tuple[float, float]:
    """Inner and outer diameter of the part's lowest face over the land next to the gripped surface. [mm]"""
    low = job.section.lowest
    radii = [r for r, z in job.section.corners if abs(z - low) < 1e-6]
    inner, outer = min(radii), max(radii)
    if job.grip_is_outside:
        outer = min(outer, job.grip_radius)
        inner = max(inner, outer - SEAT_LAND_MM)
    else:
        inner = max(inner, job.grip_radius)
        outer = min(outer, inner + SEAT_LAND_MM)
    return 2 * min(inner, outer), 2 * max(inner, outer)
