"""Even radial grip: an expanding mandrel in a bore, a collet on an outside diameter, and sleeves under oil."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import NDArray

from heldtrue.errors import GeometryError
from heldtrue.mechanics.even_grip import (
    EvenPressing,
    collapse_pressure,
    grip_when_even,
    pressed_evenly,
    wall_behind,
)
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.spin import centrifugal_force, required_grip_at_rest
from heldtrue.mechanics.turned_body import TurnedBody
from heldtrue.planning import ranges
from heldtrue.planning.force_window import Ceiling, Line, Need, checks_at, force_used, state_of_way, steps_of
from heldtrue.planning.holds import SLIP_FACTOR, TIP_FACTOR, Holds, safety_of
from heldtrue.planning.inputs import Job
from heldtrue.planning.judge import FORM_QUESTIONS, LEAST_GRIP_LEFT, tolerance_limits
from heldtrue.planning.known import ASSUMED, Inputs, Known
from heldtrue.planning.loads import job_speed, loads
from heldtrue.planning.other_way import (
    COLLAPSE,
    COLLET,
    MANDREL,
    SEGMENTS,
    SIDEWAYS,
    SIZE_SHIFT,
    SLEEVE,
    SLITS,
    STOP_FACE,
    TAPER,
    TOOL_FORCE,
    TOOL_RANGE,
    TOOL_ROUND,
    TOOL_SPEED,
    UNDER_CUT,
    Fact,
    ForceStep,
    Held,
    OtherWay,
)
from heldtrue.planning.result import FORM, LIKELY_VALUE, WORST_VALUE, YIELD
from heldtrue.planning.setup import Grip, Surface
from heldtrue.planning.study import gripped_bands
from heldtrue.planning.tool_room import free_cylinders
from heldtrue.sentences import sentence

Array = NDArray[np.float64]
Values = Mapping[str, float]

SEGMENTS_ROUND = 6
"""Segments of the tool as the holding limit sees them: jaws that close the circle."""
MOST_LENGTH = 1.5
"""No tool is taken longer than so many diameters: common practice, no source."""
SEGMENT_WALL, LEAST_SEGMENT_MM, SEGMENT_LENGTH = 0.2, 10.0, 1.5
"""Segments of the tool taken as a solid steel ring: wall over diameter, least wall [mm], length over that of the grip:
the heaviest usual; common practice, no source."""
SLEEVE_WALL_MM = 5.0
"""Wall of a sleeve under oil: common practice, no source."""
STEEL = 7.85e-6
"""Density. [kg/mm3]"""
COLLAPSE_SAFETY = 2.0
"""At half the collapse pressure a ring's out-of-round is doubled (1/(1 - p/p_c)): own rule."""
POINTS = 33
"""Points from end to end at which a surface is looked at."""
NO_GRIP_N = 1.0


def even_ways(job: Job) -> Iterator[OtherWay]:
    """Every mandrel and collet that the operation leaves room for, each on a taper and as a sleeve under oil."""
    stated = job.setup.grip
    for side, radius, (low, high) in free_cylinders(job):
        z = (low, min(high, low + MOST_LENGTH * 2 * radius))
        same = (side, 2 * radius) == (stated.side, stated.diameter)
        grip = stated.model_copy(update={"side": side, "diameter": 2 * radius, "z": z, "seat_diameters": None})
        for means in (TAPER, SLEEVE):
            moment = segment_moment(side, radius, z[1] - z[0], means)
            yield _EvenWay(tool_job(job, grip, moment, same=same), means, same).way()


def tool_job(job: Job, grip: Grip, moment: Known, *, same: bool) -> Job:
    """The job with another tool in place of the jaws: what is known of jaws and chuck is not true of it.

    ``moment``: mass times radius of what it presses with; ``same``: does it hold the surface that the setup states?
    What is known of that surface is known of no other.
    """
    setup = job.setup
    jaws = setup.jaws.model_copy(update={"face": "smooth", "friction": None, "friction_range": None})
    chuck = setup.chuck.model_copy(update={"serviced": None, "grease": None, "grip_readings": None})
    changed = setup.model_copy(update={"grip": grip, "jaws": jaws, "chuck": chuck})
    made = replace(job, setup=changed, jaws=SEGMENTS_ROUND, half_angle=pi / SEGMENTS_ROUND, known=Inputs(job.known))
    unknown = {} if same else dict.fromkeys(("surface_condition", "roundness", "oily"))
    part = setup.part.model_copy(update=unknown)
    held = replace(made, setup=changed.model_copy(update={"part": part}))
    made.known.add(replace(ranges.friction(held), label="friction, tool on part"))
    made.known.add(ranges.roundness(held))
    made.known.add(moment)
    return made


def segment_moment(side: str, radius: float, length: float, means: str) -> Known:
    """Mass times radius of what the tool presses with, unknown: from nothing up to the heaviest usual."""
    wall = SLEEVE_WALL_MM if means == SLEEVE else max(SEGMENT_WALL * 2 * radius, LEAST_SEGMENT_MM)
    inner, outer = (radius, radius + wall) if side == "outside" else (max(radius - wall, 0.0), radius)
    most = STEEL * SEGMENT_LENGTH * length * 2 * pi * (outer**3 - inner**3) / 3
    note = sentence("solid steel ring of {:.0f mm} wall at the most; {}", wall, ranges.PRACTICE)
    return Known("jaw moment", "mass times radius of the tool's segments", most, 0.0, "mass moment", ASSUMED, note,
                 "drawing of the tool")  # fmt: skip


@dataclass(frozen=True)
class _EvenWay:
    """One tool on one surface."""

    job: Job
    means: str
    same: bool

    def way(self) -> OtherWay:
        """The way with its window, checks, and what nobody knows."""
        needs, ceilings = tuple(self._needs()), tuple(self._ceilings())
        steps = steps_of(self.job.setup, needs, ceilings)
        checks = checks_at(steps, needs, ceilings, self.job.known["friction"])
        grip = self.job.setup.grip
        name = sentence("{} Ø{:g [mm]}", grip.side, grip.diameter)
        surface = Held(name, grip.side, (grip.diameter, grip.diameter), grip.z)
        kind = MANDREL if self._is_inside else COLLET
        return OtherWay(kind, self.means, surface, state_of_way(steps), checks, steps, force_used(steps[0]),
                        tuple(self._to_know(steps[0].floor)), tuple(self._notes(steps[-1])),
                        area=self._area)  # fmt: skip

    # What the cuts need

    @property
    def _is_inside(self) -> bool:
        return not self.job.grip_is_outside

    @cached_property
    def _holds(self) -> Holds:
        return Holds(self.job)

    @cached_property
    def _speed(self) -> float:
        return job_speed(self.job)

    def _needs(self) -> Iterator[Need]:
        """Grip at rest for every load: with stiff segments as with jaws all round, with a sleeve by friction alone."""
        if self.means == TAPER:
            for held in self._holds.at(self._speed):
                best = max(self._holds.published_at(held.published, self._holds.hoped, exact=True),
                           self._holds.worst_at(held.worst, self._holds.best, exact=True))  # fmt: skip
                decider = max((held.published, held.worst), key=lambda case: case.needs)
                least = self._left(self._holds.worst, held.worst.load.speed_rpm)
                yield Need(held.name, held.published.needs, max(held.worst.needs, least), best, decider.limit.failure)
            return
        rules = [(self._holds.published, False), (self._holds.worst, True), (self._holds.hoped, False),
                 (self._holds.best, True)]  # fmt: skip
        published, worst, *bests = (self._by_load(values, worst=worst) for values, worst in rules)
        for name in worst:
            yield Need(name, published[name], worst[name], max(one[name] for one in bests), "slip round")

    def _by_load(self, values: Values, *, worst: bool) -> dict[str, float]:
        """Grip at rest of every load where the pressure stays even. [N]"""
        job, grip, seat = self.job, self.job.setup.grip, values["seat"] > 0
        safety, found = safety_of(job, seat=seat), dict[str, float]()
        for load in loads(job, values, self._speed):
            wrench = load.wrench.weighted(SLIP_FACTOR, TIP_FACTOR) if worst else load.wrench
            cut = grip_when_even(wrench, sum(grip.z) / 2, job.grip_radius, values["friction"], stopped=seat)
            lost = self._holds.lost(values, load.speed_rpm)
            needs = safety.of_worst_case * cut + lost if worst else required_grip_at_rest(cut, lost, safety.factor)
            if worst:
                needs = max(needs, self._left(values, load.speed_rpm))
            found[load.name] = max(found.get(load.name, 0.0), needs)
        return found

    def _left(self, values: Values, speed_rpm: float) -> float:
        """Grip at rest of which speed leaves a third, as of jaws. [N]"""
        return self._holds.lost(values, speed_rpm) / (1 - LEAST_GRIP_LEFT)

    # What form, strength and stability allow

    @property
    def _area(self) -> float:
        grip = self.job.setup.grip
        return 2 * pi * self.job.grip_radius * (grip.z[1] - grip.z[0])

    @cached_property
    def _gain(self) -> float:
        """What speed adds to an inside grip at the most. [N]"""
        moment = self.job.known["jaw moment"].high
        return centrifugal_force(moment, self._speed) if self._is_inside else 0.0

    def _pressing(self, section: Section, points: Array) -> EvenPressing:
        grip, work = self.job.setup.grip, self.job.work
        body = TurnedBody(section.corners, work.young.value, work.poisson.value)
        bands = gripped_bands(grip.side, self.job.grip_radius, grip.z, (self.job.section, self.job.blank))
        found = pressed_evenly(body, bands, points)
        return found if self.means == TAPER else \
            EvenPressing(found.movement[:1], found.stress[:1], found.pressure[:1])  # fmt: skip

    @cached_property
    def _finished(self) -> EvenPressing:
        return self._pressing(self.job.section, all_points(self.job.setup.surfaces))

    def _ceilings(self) -> Iterator[Ceiling]:
        yield self._yield()
        if self.job.grip_is_outside:
            yield from self._collapse()
        for surface, rows in rows_of(self.job.setup.surfaces):
            for tolerance in ("roundness", "cylindricity", "flatness", "runout"):
                asked = getattr(surface, tolerance)
                if asked is not None:
                    yield self._form(surface, tolerance, asked, self._finished.movement[:, rows])

    def _yield(self) -> Ceiling:
        strength = self.job.known["part yield"]
        stress = self._finished.stress
        if self.job.blank != self.job.section:
            stress = np.maximum(stress, self._pressing(self.job.blank, np.empty((0, 2))).stress)
        worst, even = float(stress.max()), float(stress[0])
        lines = (Line(WORST_VALUE, worst, worst * self._gain, strength.worst),)
        best = Line(WORST_VALUE, even, 0.0, strength.best)
        return Ceiling("yield: part", "Does the grip bend the part for good?", YIELD, "part", "stress", lines, best,
                       strength, "largest von Mises stress of finished section and blank")  # fmt: skip

    def _collapse(self) -> Iterator[Ceiling]:
        """A thin ring pressed from outside can fall in."""
        work, grip = self.job.work, self.job.setup.grip
        wall = wall_behind(self.job.section.corners, "outside", self.job.grip_radius, grip.z)
        if wall > self.job.grip_radius / 2:
            return
        at = collapse_pressure(wall, self.job.grip_radius, work.young.least, work.poisson.least,
                               contained=self.means == TAPER)  # fmt: skip
        known = Known("wall", "wall behind the grip", wall, wall, "length", "drawing")
        lines = (Line(WORST_VALUE, 1 / self._area, 0.0, at / COLLAPSE_SAFETY),)
        yield Ceiling("collapse", "Can the ring fall in?", YIELD, "part", "stress", lines,
                      Line(WORST_VALUE, 1 / self._area, 0.0, at), known)  # fmt: skip

    def _form(self, surface: Surface, tolerance: str, asked: float, moved: Array) -> Ceiling:
        """No lobes; taper by the movement.  A stiff tool also presses its own roundness on what was not round."""
        likely, worst = tolerance_limits(self.job, tolerance, asked)
        component = 1 if surface.side == "face" else 0
        brought = self.job.known["part roundness"] if self.means == TAPER and surface.side != "face" else None
        start = 0.0 if brought is None else brought.high
        tapers = np.ptp(moved[:, :, component], axis=1) if tolerance in ("cylindricity", "flatness") else np.zeros(1)
        soft = self.job.work.young.value / self.job.work.young.least
        most = float(tapers.max()) * soft
        lines = (Line(LIKELY_VALUE, float(tapers.max()), 0.0, likely),
                 Line(WORST_VALUE, most, start + most * self._gain, worst))  # fmt: skip
        decider = brought or Known("evenness", "how evenly the tool presses along the part", 0.0, 0.0, "", ASSUMED, "",
                                   "size of the surface at both ends, first part")  # fmt: skip
        return Ceiling(f"{tolerance}: {surface.name}", FORM_QUESTIONS[tolerance].format(surface.name), FORM,
                       surface.name, "length", lines, Line(LIKELY_VALUE, float(tapers.min()), 0.0, likely),
                       decider)  # fmt: skip

    # What must be known

    def _to_know(self, floor: float) -> Iterator[Fact]:
        tool = SLEEVE if self.means == SLEEVE else MANDREL if self._is_inside else COLLET
        yield Fact(TOOL_FORCE, tool, floor, "force")
        low, high = self.job.known["part size"].low, self.job.known["part size"].high
        yield Fact(TOOL_RANGE, tool, high - low if self.same else None, "length")
        yield Fact(TOOL_SPEED, tool, self._speed, "speed_rpm")
        if self.means == TAPER:
            yield Fact(TOOL_ROUND, tool)
        if self.job.known["seat"].worst > 0:
            yield Fact(STOP_FACE, tool)

    def _notes(self, step: ForceStep) -> Iterator[Fact]:
        """What it does to size over the window of the last step, and what is assumed."""
        ends = (step.floor, step.ceiling if step.is_open else None)
        for surface, rows in rows_of(self.job.setup.surfaces):
            if surface.side != "face":
                moved = float(self._finished.movement[0, rows, 0].mean())
                least, most = (None if force is None else -2 * moved * force for force in ends)
                yield Fact(SIZE_SHIFT, surface.name, least, "length", most)
        if self.means == SLEEVE:
            yield Fact(SIDEWAYS)
        else:
            yield Fact(SLITS)
        if self._gain > NO_GRIP_N or self.job.grip_is_outside:
            moment = self.job.known["jaw moment"].high
            yield Fact(SEGMENTS, self.means, centrifugal_force(moment, self._speed), "force")
        yield Fact(UNDER_CUT)
        if self.job.grip_is_outside and self.means == TAPER:
            work, grip = self.job.work, self.job.setup.grip
            wall = wall_behind(self.job.section.corners, "outside", self.job.grip_radius, grip.z)
            free = collapse_pressure(wall, self.job.grip_radius, work.young.least, work.poisson.least, contained=False)
            if max(step.floor, step.ceiling) / self._area > free / COLLAPSE_SAFETY:
                yield Fact(COLLAPSE, "", free, "stress")


def all_points(surfaces: Sequence[Surface]) -> Array:
    """Points (r, z) of all surfaces, one after another, shape (surfaces x POINTS, 2). [mm]"""
    return np.vstack([np.empty((0, 2)), *map(_surface_points, surfaces)])


def rows_of(surfaces: Sequence[Surface]) -> Iterator[tuple[Surface, slice]]:
    """Each surface with its rows in ``all_points``."""
    for number, surface in enumerate(surfaces):
        yield surface, slice(number * POINTS, (number + 1) * POINTS)


def _surface_points(surface: Surface) -> Array:
    """Points (r, z) of a surface from end to end, shape (POINTS, 2). [mm]"""
    if surface.side == "face":
        inner, outer = surface.diameters or (0.0, 0.0)
        return np.column_stack([np.linspace(inner / 2, outer / 2, POINTS), np.full(POINTS, surface.z[0])])
    if surface.diameter is None:
        raise GeometryError(f"surface '{surface.name}': give its diameter")
    return np.column_stack([np.full(POINTS, surface.diameter / 2), np.linspace(*surface.z, POINTS)])
