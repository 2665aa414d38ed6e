"""From a setup to the inputs of its plan: sections, materials, the one jaw, the grip of the chuck, and every range."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf, pi
from typing import Any

from heldtrue.errors import InputError
from heldtrue.mechanics.jaw_outline import POINTED
from heldtrue.mechanics.jaw_shape import BoringRing, JawShape, SolidSize, solid_size
from heldtrue.mechanics.materials import JawMaterial, WorkMaterial, jaw_material, work_material
from heldtrue.mechanics.section import Section
from heldtrue.planning import ranges
from heldtrue.planning.entries import Assumption, Chuck, JawCut
from heldtrue.planning.known import Inputs
from heldtrue.planning.profiles import section_of
from heldtrue.planning.ranges import PRACTICE, THRESHOLD_ERROR_MPA
from heldtrue.planning.setup import Setup
from heldtrue.planning.solved_jaws import JawKind
from heldtrue.planning.stages import Stage, stages_of
from heldtrue.tooling import jaws as jaw_tooling
from heldtrue.tooling.chuck import grip_per_pressure
from heldtrue.tooling.grip_estimate import THRESHOLD_MPA, GripEstimate, Plate, Reading, estimate_grip, grip_slope

__all__ = ["PRACTICE", "Job", "boring_ring", "grip_plate", "prepare", "readings_of"]

LEAST_LEFT_MPA = 1e-3
"""A grip reading this close to the pressure lost before the jaws grip says nothing."""
MASS_SHARES = {True: (0.5, 1.25), False: (0.25, 2.5)}
"""Stated mass over that of the solid: with every size of the jaw stated, or some usual. Pockets make it lighter.
Common practice, no source."""


@dataclass(frozen=True)
class Job:
    """A setup made ready for computing: sections, materials, jaw reach and the inputs with their ranges."""

    setup: Setup
    section: Section
    blank: Section
    work: WorkMaterial
    jaw: JawMaterial
    jaws: int
    half_angle: float
    known: Inputs

    # The part

    @property
    def grip_radius(self) -> float:
        """Nominal radius of the gripped surface. [mm]"""
        return self.setup.grip.diameter / 2

    @property
    def size_is_stated(self) -> bool:
        """Did anybody say how far the gripped diameter may lie off?"""
        return "diameter_tolerance" in self.setup.grip.model_fields_set

    @property
    def size_range(self) -> tuple[float, float]:
        """Lower and upper deviation of the gripped diameter; unstated, what its surface usually has. [mm]"""
        if self.size_is_stated:
            return self.setup.grip.diameter_tolerance
        spread = ranges.SIZE_MM[self.setup.part.surface_condition or "raw"]
        return -spread, spread

    @cached_property
    def stages(self) -> tuple[Stage, ...]:
        """Every cut with the stock it meets."""
        return stages_of(self.setup, self.blank, self.section)

    @property
    def may_be_interrupted(self) -> bool:
        """Does a cut that nobody called smooth count as interrupted?"""
        part = self.setup.part
        return part.holes is True or part.surface_condition in (None, "raw")

    @property
    def grip_is_outside(self) -> bool:
        """Do the jaws close on the part?"""
        return self.setup.grip.side == "outside"

    @property
    def seat_is_said(self) -> bool:
        """Did anybody say whether there is a seat?"""
        return "seat" in self.setup.grip.model_fields_set and self.setup.grip.seat is not None

    def is_overhung(self, *, seat: bool) -> bool:
        """Is the part held by the jaws alone?"""
        return not seat and not self.setup.grip.centre

    @cached_property
    def assumptions(self) -> dict[str, Assumption]:
        """What the setup states of spreads and ranges, by the key of the input."""
        stated = self.setup.assumptions
        there = () if stated is None else ((key, getattr(stated, key)) for key in type(stated).model_fields)
        return {key: one for key, one in there if one is not None}

    # The jaw: one solid for stiffness, mass and centre of mass

    @property
    def bore_radius(self) -> float:
        """Radius the jaws are bored to: stated, or the middle of the part's tolerance. [mm]"""
        if self.setup.jaws.bore_diameter is not None:
            return self.setup.jaws.bore_diameter / 2
        low, high = self.setup.grip.diameter_tolerance
        return self.grip_radius + (low + high) / 4

    @property
    def last_cut_counts(self) -> JawCut | None:
        """The last cut of the set where that is the bore of this plan; None: there is none, or another is to be cut."""
        last = self.setup.jaws.last_cut
        if last is None or abs(last.diameter - 2 * self.bore_radius) > ranges.SAME_BORE_MM:
            return None
        return last

    @property
    def seat_height(self) -> float:
        """Height of the part's seat above the master jaw. [mm]"""
        low, high = self.setup.grip.z
        if self.setup.jaws.grip_height is not None:
            return self.setup.jaws.grip_height - (low + high) / 2
        return self._jaw_height - high

    @property
    def _jaw_height(self) -> float:
        """Height of a top jaw: stated, or usual, or enough to reach over the grip. [mm]"""
        usual = jaw_tooling.usual_size(self.setup.chuck.max_grip_force).height
        return self.setup.jaws.height or max(usual, self.setup.grip.z[1] + 0.5 * usual)

    @cached_property
    def jaw_kind(self) -> JawKind:
        """The top jaw as an elastic body, bored for the nominal part."""
        setup, jaws = self.setup, self.setup.jaws
        size = jaw_tooling.usual_size(setup.chuck.max_grip_force)
        low, high = setup.grip.z
        seat = self.seat_height
        if seat < 0 and jaws.grip_height is None:
            raise InputError(
                f"grip: {high - low:g} mm of it do not fit on jaws of {jaws.height or size.height:g} mm: "
                "state a shorter grip, or the jaws that are used (height, grip_height)"
            )
        if seat < 0:
            raise InputError(
                f"jaws: grip_height {jaws.grip_height:g} mm puts the seat {-seat:g} mm below the chuck face; "
                "it is measured from the chuck face to the middle of the gripped length"
            )
        length = jaws.length or size.length
        if not self.grip_is_outside:
            length = min(length, self.grip_radius - jaw_tooling.LEAST_CENTRE_MM)
        shape = JawShape(
            style=jaws.style, side=setup.grip.side, bore_radius=self.grip_radius, half_angle=self.half_angle,
            width=size.width if jaws.style != "standard" else (jaws.width or size.width), length=length,
            height=max(self._jaw_height, seat + high), seat_height=seat,
            relief=min(jaw_tooling.RELIEF_MM, max(low, 0.0)), point=pi / self.jaws if self._is_pointed else 0.0,
        )  # fmt: skip
        tilt = self.setup.jaws.base_tilt
        base = jaw_tooling.BASE if tilt is None else replace(jaw_tooling.BASE, tilt=tilt)
        return JawKind(shape, self.jaw.young.value, self.jaw.poisson.value, base, boring_ring(shape))

    @property
    def _is_pointed(self) -> bool:
        """Do the flanks of the jaws bound the bore? Beyond them neighbours stand."""
        jaws = self.setup.jaws
        if jaws.inner_end != POINTED or jaws.style == "pie" or not self.grip_is_outside:
            return False
        return self.half_angle < pi / 2 and self.jaws > 2

    @cached_property
    def jaw_solid(self) -> SolidSize:
        """Volume and centre of mass of that very jaw."""
        return solid_size(self.jaw_kind.shape)

    @property
    def block_length(self) -> float:
        """The most that one top jaw may measure along the radius: of a blank with stated ends, all of it. [mm]"""
        shape, jaws = self.jaw_kind.shape, self.setup.jaws
        if jaws.length is not None or jaws.ends is None:
            return shape.length
        blank = jaws.ends[1] - jaws.ends[0]
        return max(shape.length, blank if self.grip_is_outside else min(blank, shape.bore_radius))

    @property
    def block_volume(self) -> float:
        """Volume of one top jaw before anything is cut out of it, pie jaws with no gap. [mm3]"""
        shape, length = self.jaw_kind.shape, self.block_length
        if shape.style == "pie":
            back = shape.bore_radius + shape.outward * length
            return pi / self.jaws * abs(back**2 - shape.bore_radius**2) * shape.height
        return _jaw_width(self.setup) * length * shape.height

    @property
    def block_middle(self) -> float:
        """Spindle axis to the middle of such a block. [mm]"""
        shape = self.jaw_kind.shape
        return shape.bore_radius + shape.outward * self.block_length / 2

    @property
    def jaw_is_sized(self) -> bool:
        """Does the setup state every size of the jaw?"""
        jaws = self.setup.jaws
        return jaws.length is not None and jaws.height is not None and (jaws.width is not None or jaws.style == "pie")

    # The chuck

    @cached_property
    def grip_estimate(self) -> GripEstimate:
        """What plates, grease and readings of a grip gauge say of the grip."""
        chuck, area = self.setup.chuck, self.known["piston area"]
        plate, readings = grip_plate(chuck, (area.low, area.likely, area.high)), readings_of(chuck)
        lowest = min((one.pressure for one in readings), default=inf)
        if lowest - plate.threshold[1] < LEAST_LEFT_MPA:
            raise InputError(
                f"chuck: grip_readings at {lowest:g} MPa lie at the pressure that is lost before the jaws grip; "
                "read the grip at a higher pressure"
            )
        return estimate_grip(readings, plate)

    def static_grip(self, values: Mapping[str, float], pressure: float) -> float:
        """Total static grip at a gauge reading [MPa] with the inputs at ``values``. [N]"""
        there = pressure + values["gauge error"] - values["threshold"]
        return max(float(self.slope(values)) * there, 0.0)

    def pressure_for(self, values: Mapping[str, float], grip: float) -> float:
        """Gauge reading that gives a total static grip [N] with the inputs at ``values``. [MPa]"""
        return grip / float(self.slope(values)) + values["threshold"] - values["gauge error"]

    def slope(self, values: Mapping[str, Any]) -> Any:
        """Grip per pressure above the threshold, of numbers or of arrays alike. [N/MPa]"""
        chuck = self.setup.chuck
        plate = grip_per_pressure(chuck.max_grip_force, chuck.max_draw_force, 1.0) * values["piston area"]
        return grip_slope(self.grip_estimate, values["grip share"], values["threshold"], plate)

    def at_pressure(self, values: Mapping[str, float], pressure: float, *, least: bool) -> Mapping[str, float]:
        """``values`` with the threshold at the end of its range that gives the least (or most) grip at a pressure.

        Without readings that is always the same end. With them all lines meet at the middle of the readings: the end
        that is bad below it is good above.
        """
        threshold = self.known["threshold"]
        first = {**values, "threshold": threshold.low}
        if self.grip_estimate.pivot is None and (not least or self.static_grip(first, pressure) == 0.0):
            return first
        ends = [first, {**values, "threshold": threshold.high}]
        return (min if least else max)(ends, key=lambda end: self.static_grip(end, pressure))


def grip_plate(chuck: Chuck, area: tuple[float, float, float]) -> Plate:
    """What is known of a chuck's grip before any reading; ``area`` of the piston: least, likely, greatest [mm2]."""
    low, likely, high = area
    stated = chuck.actuator.threshold_pressure
    threshold = THRESHOLD_MPA if stated is None else \
        (max(stated - THRESHOLD_ERROR_MPA, 0.0), stated + THRESHOLD_ERROR_MPA)  # fmt: skip
    slope = grip_per_pressure(chuck.max_grip_force, chuck.max_draw_force, likely)
    return Plate(slope, (low / likely, high / likely), chuck.grease, threshold, stated is not None)


def readings_of(chuck: Chuck) -> tuple[Reading, ...]:
    """The readings of a grip gauge that a setup states."""
    return tuple(Reading(one.pressure, one.force, one.days, one.error) for one in chuck.grip_readings or ())


def prepare(setup: Setup) -> Job:
    """Everything the plan needs from a setup, unknowns at their worst.

    Raises: ``InputError`` where a value is missing that no safe assumption can stand for, where jaws cannot be, or
    where stated mass or centre of mass contradicts the jaw's own size.
    """
    grip, chuck, jaws = setup.grip, setup.chuck, setup.jaws
    section = section_of(setup.part.profile)
    blank = section_of(setup.part.blank) if setup.part.blank else section
    work, jaw = work_material(setup.part.material), jaw_material(jaws.material)
    count = jaws.count or chuck.jaws
    gap = jaw_tooling.PIE_GAP_MM if jaws.gap is None else jaws.gap
    half_angle = jaw_tooling.half_angle(jaws.style, grip.diameter / 2, count, _jaw_width(setup), gap)
    job = Job(setup, section, blank, work, jaw, count, half_angle, Inputs())
    _ask_back(job)
    for make in ranges.IN_ORDER:
        job.known.add(ranges.as_stated(job, make(job)))
    return job


def _jaw_width(setup: Setup) -> float:
    """Width of a top jaw round the part: stated, or usual. [mm]"""
    usual = jaw_tooling.usual_size(setup.chuck.max_grip_force).width
    return setup.jaws.width or usual * (2 if setup.jaws.style == "wide" else 1)


def _ask_back(job: Job) -> None:
    """Stated mass and centre of mass against the solid of the jaw.  Raises: ``InputError`` where they contradict."""
    jaws, solid, shape = job.setup.jaws, job.jaw_solid, job.jaw_kind.shape
    problems = []
    mass = solid.volume * job.jaw.density.value
    low, high = (share * mass for share in MASS_SHARES[job.jaw_is_sized])
    if jaws.style == "wide" and jaws.width is not None:
        # A wide jaw may be a block of its full width all through, where the solid has a nose.
        high = max(high, MASS_SHARES[True][1] * job.block_volume * job.jaw.density.value)
    if jaws.mass is not None and not low <= jaws.mass <= high:
        problems.append(
            f"jaws: mass: {jaws.mass:.3g} kg for one top jaw; a {jaws.style} jaw of {shape.length:.0f} x "
            f"{shape.height:.0f} mm in {job.jaw.key} weighs about {mass:.2g} kg; check the mass, or state the jaw's "
            "width, length and height"
        )
    inner, outer = shape.radial_span
    radius = jaws.centroid_radius
    edge = 0.1 * (outer - inner)
    if radius is not None and not inner + edge <= radius <= outer - edge:
        problems.append(
            f"jaws: centroid_radius: {radius:.0f} mm; these jaws reach from {inner:.0f} to {outer:.0f} mm, their "
            f"centre of mass lies near {solid.centroid_radius:.0f}; it is measured from the spindle axis"
        )
    if problems:
        raise InputError(*problems)


def boring_ring(shape: JawShape) -> BoringRing:
    """Where the jaws are clamped for boring, where nothing is stated: just below the seat, out of the tool's way."""
    half = jaw_tooling.RING_WIDTH_MM / 2
    middle = max(shape.seat_height - half - 1.0, half)
    return BoringRing((middle - half, min(middle + half, shape.height)))
