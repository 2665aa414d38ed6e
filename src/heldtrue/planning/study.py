"""The expensive part of a plan, done once: how the part gives, where the jaws press, how each load is held.

A ``Study`` keeps the compliance of part and jaw and the holding limits of one setup; everything at another pressure or
speed follows from it in milliseconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError, InputError
from heldtrue.mechanics.contact import JawFace
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.spin import centrifugal_force
from heldtrue.mechanics.stations import Stations, graded_edges
from heldtrue.mechanics.tool_deflection import SmearedJaws
from heldtrue.planning.corners import Corners, Pressed
from heldtrue.planning.elastic import LEAST_GRIP_N, Bore, Fit, PartInJaws, part_in_jaws
from heldtrue.planning.holds import HeldLoad, Holds
from heldtrue.planning.inputs import Job, prepare
from heldtrue.planning.loads import cut_speed, cutting_force, job_speed
from heldtrue.planning.setup import Setup, Surface
from heldtrue.planning.solved_parts import Body, tool_compliance

Array = NDArray[np.float64]
Values = Mapping[str, float]

CHUCK_STIFFNESS = 216e3
"""Radial stiffness of one jaw, steel top jaw [N/mm]: Y. Ito, Modular Design for Machine Tools, p. 452 (read)."""
STICKING_SHARE = 1 / 3
"""Stiffness of the grip round and along the part, by friction, over its radial stiffness: from memory, no source."""
SECTORS, BANDS, LONG_BANDS, LONG_MM = 8, 6, 8, 30.0
"""Cells of half a jaw's face round the part, and along it: for grips up to so long, and for longer ones."""
PRESSING = ("part size", "jaw bore", "bored pressure", "bored share", "jaw base", "part roundness", "friction",
            "grip share", "threshold", "gauge error", "piston area", "jaw moment", "part yield", "jaw yield",
            "yield")  # fmt: skip
"""Inputs that form, marking and yield rest on."""
REFERENCES = ((0.1, (0.0,)), (0.25, (0.0,)), (0.9, ()))
"""Shares of the highest pressure of the plates at which the worst corners are looked for, with the lesser grips there
(``Study.presses``): low ones where a grip just bears."""


class Study:
    """One setup worked through as far as pressure and speed do not matter."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.worst = job.known.worst()
        self.likely = job.known.likely()
        self.best = job.known.best()
        self.holds = Holds(job)
        self.crossings: dict[str, tuple[float, str]] = {}
        """Where each kind of checks first falls short, and which one does: worked out once, by the window. [MPa]"""
        self._follows: Study | None = None

    @classmethod
    def of(cls, setup: Setup) -> Study:
        """Prepare a setup. Raises: ``InputError`` for one that cannot be planned."""
        try:
            return cls(prepare(setup))
        except GeometryError as error:
            raise InputError(str(error)) from error

    def again(self, changes: Mapping[str, object], *, by_motions: bool = False) -> Study:
        """The study of a changed setup at the speed of a knob.

        For each load only the case and tool angle that were the worst here are held again (``by_motions``: not even
        those, but estimated by the motions found here), and the worst corners of part and jaws are taken over.  Right
        for looking round; plan the setup you run with ``plan``.
        """
        study = Study.of(self.job.setup.with_(changes))
        study._follows = self
        if by_motions:
            study.holds.follow_by_motions(self.held, study.speed)
        else:
            study.holds.follows = {held.name: held for held in self.held}
        return study

    def presses_as(self, other: Study) -> bool:
        """Is all the same in another study that form, marking and yield rest on?"""
        mine, theirs = self.job, other.job
        return (
            self.finished is other.finished
            and self.blank is other.blank
            and (self.speed, self.finishing_speed()) == (other.speed, other.finishing_speed())
            and (self.is_quick, self.highest_pressure) == (other.is_quick, other.highest_pressure)
            and mine.setup.limits == theirs.setup.limits
            and all(mine.known.get(name) == theirs.known.get(name) for name in PRESSING)
        )

    @property
    def is_quick(self) -> bool:
        """Is this the study of a knob: not everything looked for again?"""
        return self._follows is not None

    # How part and jaws give

    @cached_property
    def stations(self) -> Stations:
        """Bands of the gripped length, 6 to 8, where finished part and blank both have the surface."""
        grip = self.job.setup.grip
        return gripped_bands(grip.side, self.job.grip_radius, grip.z, (self.job.section, self.job.blank))

    @cached_property
    def face(self) -> JawFace:
        """The cells of one jaw's gripping face, finer to its edges: form of thin rings within 1.5 % of 24 x 24."""
        return JawFace(self.stations, self.job.half_angle, SECTORS, self.job.jaws)

    @cached_property
    def fits(self) -> tuple[Fit, ...]:
        """Smallest, middle and largest part the tolerance allows; one if it allows only one."""
        nominal = self.job.grip_radius
        low, high = self.job.size_range
        if low == high:
            return (Fit("nominal", nominal + low / 2),)
        sizes = {"smallest": low, "middle": (low + high) / 2, "largest": high}
        return tuple(Fit(name, nominal + shift / 2) for name, shift in sizes.items())

    @cached_property
    def bore(self) -> Bore:
        """What the jaws were bored to, and the likely force of the ring they were bored with."""
        jaws = self.job.setup.jaws
        force = None
        if jaws.bored_pressure is not None:
            force = self.job.static_grip(self.likely, jaws.bored_pressure) / self.job.jaws
        return Bore(self.job.known["jaw bore"].likely / 2, jaws.taper or 0.0, force)

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

    def body_of(self, section: Section) -> Body:
        """A section of the part in its material."""
        return Body(section.corners, self.job.work.young.value, self.job.work.poisson.value)

    def _in_jaws(self, section: Section, bore: Bore, surfaces: Sequence[Surface]) -> PartInJaws:
        friction = self.likely["friction"]
        try:
            return part_in_jaws(
                self.body_of(section), self.face, self.job.jaw_kind, self.fits, bore, tuple(surfaces), friction
            )
        except GeometryError as error:
            raise InputError(str(error)) from error

    # Everything between jaws and part at its worst

    @cached_property
    def finished_corners(self) -> Corners:
        """The finished part with every range between it and the jaws."""
        return self._corners(self.finished, None if self._follows is None else self._follows.finished_corners)

    @cached_property
    def blank_corners(self) -> Corners:
        """The same for the blank."""
        if self.blank is self.finished:
            return self.finished_corners
        return self._corners(self.blank, None if self._follows is None else self._follows.blank_corners)

    def _corners(self, part: PartInJaws, follows: Corners | None) -> Corners:
        top = self.highest_pressure
        speed = self.finishing_speed()
        references = [one for share, lesser in REFERENCES for one in self.presses(share * top, speed, lesser)]
        return Corners(self.job, part, references, follows)

    def pressed(self, values: Values, pressure: float, speed_rpm: float) -> Pressed:
        """What presses at a gauge pressure [MPa] and speed with the inputs at ``values``."""
        job = self.job
        grip = self.distorting_grip(values, pressure, speed_rpm)
        known = job.known.get("bored pressure")
        if known is not None:
            # The range of the bored pressure has the error of the gauge in it already.
            there = {**values, "gauge error": 0.0}
            pressures = (known.low, known.likely, known.high)
        else:
            there, share = dict(values), job.known["bored share"]
            pressures = (pressure * share.low, pressure * share.likely, pressure * share.high)
        low, likely, high = (job.static_grip(there, one) / job.jaws for one in pressures)
        return Pressed(grip, (low, likely, high))

    def presses(self, pressure: float, speed_rpm: float, lesser: Sequence[float] = ()) -> tuple[Pressed, ...]:
        """What may press at a gauge pressure [MPa] and speed: the most first, then ``lesser`` shares of the way to it
        from the least.

        The jaws may have been bored while the chuck gripped at either end: it need not have been as it is today.
        """
        most = self.pressed(self.job.at_pressure(self.best, pressure, least=False), pressure, speed_rpm)
        least = self.pressed(self.job.at_pressure(self.worst, pressure, least=True), pressure, 0.0)
        bored = least.bored[0], most.bored[1], most.bored[2]
        grips = [most.grip, *(least.grip + share * (most.grip - least.grip) for share in lesser)]
        return tuple(Pressed(grip, bored) for grip in dict.fromkeys(grips))

    @property
    def highest_pressure(self) -> float:
        """Highest gauge pressure that the plates allow with the piston area at its likely value. [MPa]"""
        chuck, known = self.job.setup.chuck, self.job.known
        limits = [chuck.max_draw_force * known["height share"].worst / known["piston area"].likely]
        return min([*limits, *(p for p in (chuck.plate_pressure,) if p is not None)])

    @cached_property
    def cut_deflections(self) -> dict[str, tuple[float, float]]:
        """What the finishing force does to each turned or bored surface: size and taper left, on diameter. [mm]

        Size: how much too large (outside) or small (inside) it comes at the most; taper: difference from end to end.
        At the bad end of every input.
        """
        found = {}
        body = self.body_of(self.job.section)
        stiffness = 1 / (self.finished.jaw_radial_compliance + 1 / CHUCK_STIFFNESS)
        jaws = SmearedJaws.of(self.stations, self.job.jaws, stiffness, STICKING_SHARE)
        pushes = {surface: self._finishing_push(self.worst, surface.name)
                  for surface in self.job.setup.surfaces if surface.side != "face"}  # fmt: skip
        pushed = {surface: push for surface, push in pushes.items() if push is not None}
        compliances = tool_compliance(body, self.stations, jaws, tuple(pushed))
        for (surface, push), compliance in zip(pushed.items(), compliances, strict=True):
            moved = push * np.array(compliance)
            found[surface.name] = (2 * float(moved.max()), 2 * float(np.ptp(moved)))
        return found

    def lighter_cut(self, values: Values, surface: str) -> float:
        """Passive force of a surface's finishing cuts with the inputs at ``values`` over that at their worst."""
        here, worst = self._finishing_push(values, surface), self._finishing_push(self.worst, surface)
        assert here is not None
        assert worst is not None
        return here / worst

    def _finishing_push(self, values: Values, surface: str) -> float | None:
        """Passive force of a surface's finishing cuts; None where it has none. [N]"""
        stages = [s for s in self.job.stages if s.cut.finishing and s.cut.surface == surface]
        cases = (case for s in stages for case in cutting_force(self.job, s, values, s.largest).cases)
        return max((abs(case.radial) for case in cases), default=None)

    # How each load is held

    @property
    def held(self) -> tuple[HeldLoad, ...]:
        """Every load at its worst, with the job's spindle limit."""
        return self.holds.at(self.speed)

    @cached_property
    def speed(self) -> float:
        """Spindle limit of the job. [rev/min]"""
        return job_speed(self.job)

    # Grip at pressure and speed

    def centrifugal(self, values: Values, speed_rpm: float) -> float:
        """Pull of all jaws at speed. [N]"""
        return centrifugal_force(values["jaw moment"], speed_rpm)

    def least_grip(self, values: Values, pressure: float) -> float:
        """Static grip at a gauge reading, lost pressure at the bad end. [N]"""
        return self.job.static_grip(self.job.at_pressure(values, pressure, least=True), pressure)

    def most_grip(self, values: Values, pressure: float) -> float:
        """Static grip at a gauge reading, lost pressure at the end that gives most. [N]"""
        return self.job.static_grip(self.job.at_pressure(values, pressure, least=False), pressure)

    def holding_grip(self, values: Values, pressure: float, speed_rpm: float) -> float:
        """Total grip to count on: an outside grip loses the jaws' pull, an inside one gains nothing. [N]"""
        return max(self.least_grip(values, pressure) - self.holds.lost(values, speed_rpm), 0.0)

    def distorting_grip(self, values: Values, pressure: float, speed_rpm: float) -> float:
        """Total grip that distorts and marks: an outside grip loses nothing, an inside one gains the jaws' pull. [N]"""
        static = self.job.static_grip(values, pressure)
        if self.job.grip_is_outside:
            return static
        moment = self.job.known["jaw moment"]
        heavy = moment.likely if values is self.likely else moment.high
        return static + self.centrifugal({"jaw moment": heavy}, speed_rpm)

    def likely_grip(self, pressure: float, speed_rpm: float) -> float:
        """Likely total grip that distorts; never less than what a contact can be worked out for. [N]"""
        return max(self.distorting_grip(self.likely, pressure, speed_rpm), LEAST_GRIP_N)

    def finishing_grip(self, pressure: float) -> float:
        """Likely total grip that distorts while the finish is made. [N]"""
        return self.distorting_grip(self.likely, pressure, self.finishing_speed())

    def finishing_speed(self, limit: float | None = None) -> float:
        """Highest speed at which a finished surface is made (of any cut, if none is marked finishing). [rev/min]"""
        cuts = self.job.setup.cuts
        speeds = {cut.name: cut_speed(self.job, cut, limit) for cut in cuts}
        finishing = [speeds[cut.name] for cut in cuts if cut.finishing]
        return max(finishing or speeds.values(), default=0.0)


def gripped_bands(side: str, radius: float, z: tuple[float, float], sections: Sequence[Section]) -> Stations:
    """Bands over a grip, finer to its ends, 6 to 8 in all; stretches where a section has no such surface stay open.

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
    wanted = LONG_BANDS if total > LONG_MM else BANDS
    edges: list[float] = []
    open_: list[int] = []
    for low, high in pieces:
        if edges and low - edges[-1] > 1e-6:
            open_.append(len(edges) - 1)
        bands = max(1, round(wanted * (high - low) / total))
        marks = list(graded_edges(low, high, bands))
        edges += marks if not edges or low - edges[-1] > 1e-6 else marks[1:]
    return Stations(side, radius, tuple(edges), tuple(open_))
