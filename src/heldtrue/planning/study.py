"""The expensive part of a plan, done once: how the part gives, where the jaws press, how each load is held.

A ``Study`` keeps the compliance of part and jaw and the holding limits of one setup; everything at another pressure or
speed follows from it in milliseconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import radians

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError, InputError
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.holding import Grip, Holding, Wrench, holding, limit_at
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.spin import centrifugal_force
from heldtrue.mechanics.stations import Stations
from heldtrue.mechanics.tool_deflection import SmearedJaws
from heldtrue.planning.elastic import Body, Bore, Elastic, Fit, PartInJaws, part_in_jaws, tool_compliance
from heldtrue.planning.inputs import Job, prepare
from heldtrue.planning.loads import SPIN_UP, Load, cut_loads, cut_speed, cutting_force, loads, spin_up
from heldtrue.planning.setup import Setup, Surface

Array = NDArray[np.float64]
Point = tuple[float, float]


CHUCK_STIFFNESS = 216e3
"""Radial stiffness of one jaw, steel top jaw [N/mm]: Y. Ito, Modular Design for Machine Tools, p. 452 (read)."""
STICKING_SHARE = 1 / 3
"""Stiffness of the grip round and along the part, by friction, over its radial stiffness: from memory, no source."""


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
        self._follows: dict[str, HeldLoad] | None = None

    @classmethod
    def of(cls, setup: Setup) -> Study:
        """Prepare a setup. Raises: ``InputError`` for one that cannot be planned."""
        try:
            return cls(prepare(setup))
        except GeometryError as error:
            raise InputError(str(error)) from error

    # How part and jaws give

    @cached_property
    def stations(self) -> Stations:
        """Bands of the gripped length, 4 to 8, where finished part and blank both have the surface."""
        grip = self.job.setup.grip
        return gripped_bands(grip.side, self.job.grip_radius, grip.z, (self.job.section, self.job.blank))

    @cached_property
    def face(self) -> JawFace:
        """The cells of one jaw's gripping face; twice as many move the form by a fifth of a percent."""
        sectors = 8 if self.job.half_angle > radians(35) else 6
        return JawFace(self.stations, self.job.half_angle, sectors, self.job.jaws)

    @cached_property
    def fits(self) -> tuple[Fit, ...]:
        """Smallest, nominal and largest part the tolerance allows; one if it allows only one."""
        nominal = self.job.grip_radius
        low, high = self.job.setup.grip.diameter_tolerance
        if low == high:
            return (Fit("nominal", nominal + low / 2),)
        sizes = {"smallest": low, "middle": (low + high) / 2, "largest": high}
        return tuple(Fit(name, nominal + shift / 2) for name, shift in sizes.items())

    @cached_property
    def bore(self) -> Bore:
        """What the jaws were bored to, and the force of the ring they were bored with."""
        jaws = self.job.setup.jaws
        force = None
        if jaws.bored_pressure is not None:
            force = self.job.static_grip(self.best, jaws.bored_pressure) / self.job.jaws
        return Bore(self.job.bore_radius, jaws.taper or 0.0, force)

    @cached_property
    def finished(self) -> PartInJaws:
        """The part as this operation leaves it: what distortion of the finished surfaces is reckoned on."""
        return self.with_bore(self.bore)

    @cached_property
    def blank(self) -> PartInJaws:
        """The part as it comes: what the roughing cuts mark and strain."""
        if self.job.blank == self.job.section:
            return self.finished
        return self._in_jaws(self.job.blank, self.bore, ())

    def with_bore(self, bore: Bore) -> PartInJaws:
        """The finished part in jaws bored another way; the compliances are kept."""
        return self._in_jaws(self.job.section, bore, self.job.setup.surfaces)

    def _in_jaws(self, section: Section, bore: Bore, surfaces: Sequence[Surface]) -> PartInJaws:
        body = Body(section.corners, self.job.work.young.value, self.job.work.poisson.value)
        try:
            return part_in_jaws(body, self.face, self.job.jaw_kind, self.fits, bore, tuple(surfaces))
        except GeometryError as error:
            raise InputError(str(error)) from error

    @cached_property
    def greatest_grip(self) -> float:
        """More total grip than plates and speed can ever give here. [N]"""
        chuck = self.job.setup.chuck
        gain = 0.0 if self.job.grip_is_outside else self.centrifugal(self.worst, chuck.max_speed_rpm)
        return chuck.max_grip_force * max(1.0, self.best["grip share"]) + gain

    @cached_property
    def tabulated(self) -> tuple[Elastic, ...]:
        """The elastic answer of the finished part over the whole range of grip."""
        return self.finished.tabulated(self.greatest_grip)

    @cached_property
    def tabulated_blank(self) -> tuple[Elastic, ...]:
        """The same for the blank."""
        return self.blank.tabulated(self.greatest_grip)

    @cached_property
    def blank_stress(self) -> dict[str, float]:
        """Largest von Mises stress in part and jaw per grip on the blank, at half the greatest grip. [MPa/N]"""
        half = min(self.tabulated_blank, key=lambda e: abs(e.grip - self.greatest_grip / 2))
        return {
            "part": self.blank.part_stress(half) / half.grip,
            "jaw": self.blank.jaw_stress(half) / half.grip,
        }

    @cached_property
    def cut_deflections(self) -> dict[str, tuple[float, float]]:
        """What the finishing force does to each turned or bored surface: size and taper left, on diameter. [mm]

        Size: how much too large (outside) or small (inside) it comes at the most; taper: difference from end to end.
        """
        found = {}
        body = Body(self.job.section.corners, self.job.work.young.value, self.job.work.poisson.value)
        stiffness = 1 / (self.finished.jaw_radial_compliance + 1 / CHUCK_STIFFNESS)
        jaws = SmearedJaws.of(self.stations, self.job.jaws, stiffness, STICKING_SHARE)
        for surface in self.job.setup.surfaces:
            cuts = [c for c in self.job.setup.cuts if c.finishing and c.surface == surface.name]
            if surface.side == "face" or not cuts:
                continue
            forces = [case.radial for cut in cuts for case in cutting_force(self.job, cut, self.worst).cases]
            push = max(abs(force) for force in forces)
            moved = push * np.array(tool_compliance(body, self.stations, jaws, surface))
            found[surface.name] = (2 * float(moved.max()), 2 * float(np.ptp(moved)))
        return found

    # How each load is held

    @cached_property
    def held(self) -> tuple[HeldLoad, ...]:
        """Every cut's worst case and the spin-up, at the worst of every unknown."""
        grip = self.grip(self.worst["friction"])
        worst: dict[str, HeldLoad] = {}
        for load in loads(self.job, self.worst):
            limit = self._limit(grip, load)
            if limit is not None and (load.name not in worst or limit.factor < worst[load.name].limit.factor):
                worst[load.name] = HeldLoad(load, limit)
        return tuple(worst.values())

    def _limit(self, grip: Grip, load: Load) -> Holding | None:
        """Holding limit of one load; None for a case that the study this one follows found not to be the worst."""
        if self._follows is None:
            return holding(grip, load.wrench)
        before = self._follows.get(load.name)
        if before is None or before.load.case != load.case:
            return None
        return limit_at(grip, load.wrench, before.limit.angle)

    def again(self, changes: Mapping[str, object]) -> Study:
        """The study of a changed setup at the speed of a knob.

        For each load only the case and tool angle that were the worst here are held again; everything else is as in
        ``Study.of``.  Right for looking round; plan the setup you run with ``plan``.
        """
        study = Study.of(self.job.setup.with_(changes))
        study._follows = {held.load.name: held for held in self.held}
        return study

    def factor_at(self, held: HeldLoad, values: Mapping[str, float]) -> float:
        """Holding factor per newton of grip of one load with the inputs at other ``values``, same tool angle."""
        return limit_at(self.grip(values["friction"]), self._wrench(held, values), held.limit.angle).factor

    def estimated_factor(self, held: HeldLoad, values: Mapping[str, float]) -> float:
        """The same without solving: the load at other values on the motion of the worst, friction in proportion."""
        share = values["friction"] / self.worst["friction"]
        return share * held.limit.estimate(self.grip(self.worst["friction"]), self._wrench(held, values))

    def _wrench(self, held: HeldLoad, values: Mapping[str, float]) -> Wrench:
        if held.load.name == SPIN_UP:
            return spin_up(self.job, values).wrench
        cut = next(cut for cut in self.job.setup.cuts if cut.name == held.load.name)
        return next(load.wrench for load in cut_loads(self.job, cut, values) if load.case == held.load.case)

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


def gripped_bands(side: str, radius: float, z: tuple[float, float], sections: Sequence[Section]) -> Stations:
    """Bands of about 4 mm over a grip, 4 to 8 in all; stretches where a section has no such surface stay open.

    Raises: ``InputError`` where nothing of the surface is left.
    """
    pieces = [z]
    for section in sections:
        spans = section.spans(side, radius)
        pieces = [
            (max(low, a), min(high, b)) for low, high in pieces for a, b in spans if min(high, b) - max(low, a) > 0.1
        ]
    if not pieces:
        raise InputError(f"grip: the part has no {side} cylinder Ø{2 * radius:g} between z = {z[0]:g} and {z[1]:g} mm")
    total = sum(high - low for low, high in pieces)
    wanted = int(np.clip(round(total / 4), 4, 8))
    edges: list[float] = []
    open_: list[int] = []
    for low, high in pieces:
        if edges and low - edges[-1] > 1e-6:
            open_.append(len(edges) - 1)
        bands = max(1, round(wanted * (high - low) / total))
        marks = [float(v) for v in np.linspace(low, high, bands + 1)]
        edges += marks if not edges or low - edges[-1] > 1e-6 else marks[1:]
    return Stations(side, radius, tuple(edges), tuple(open_))


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
