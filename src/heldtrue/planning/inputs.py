"""From a setup to the inputs of its plan: what is stated is taken, what is missing is taken at its worst."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from heldtrue.errors import InputError
from heldtrue.mechanics.cutting import WEAR_UNKNOWN
from heldtrue.mechanics.jaw_shape import BoringRing, JawShape
from heldtrue.mechanics.materials import (
    JawMaterial,
    WorkMaterial,
    friction_range,
    jaw_material,
    work_material,
)
from heldtrue.mechanics.section import Section
from heldtrue.mechanics.spin import SpinningMass, static_moment
from heldtrue.planning.elastic import JawKind
from heldtrue.planning.known import ASSUMED, Inputs, Known
from heldtrue.planning.profiles import section_of
from heldtrue.planning.setup import Setup, Source
from heldtrue.tooling import jaws as jaw_tooling
from heldtrue.tooling.chuck import GripLine, grip_per_pressure, height_share, read_grip_line

PRACTICE = "common practice, no source"
GREASE = {"good": (0.85, 1.0), "poor": (0.6, 0.85), None: (0.6, 1.0)}
"""Share of the plate's grip that reaches the jaws; a dry chuck can lose 40 % in a shift: common practice, no source."""
THRESHOLD_MPA = (0.0, 0.1)
"""Pressure lost before the jaws grip, where the plate is silent: common practice, no source."""
LEAST_STABLE_MPA = 0.4
"""Least pressure a cylinder holds steadily, where the plate is silent: common practice, no source."""
SPIN_UP_S = (1.0, 4.0)
"""Time from rest to the highest speed, worst and best, where unknown: common practice, no source."""
OFF_CENTRE_MM = {"ground": 0.02, "turned": 0.05, "raw": 0.5}
"""Centre of mass off the axis, by the state of the gripped surface: common practice, no source."""
SAFETY_FACTOR, SAFETY_FACTOR_FREE = 2.0, 4.0
"""Grip over need; the higher where an overhung part has neither seat nor centre: common practice, no source."""
SHARE_OF_FORM, SHARE_OF_RUNOUT = 1 / 2, 1 / 3
"""Share of a drawing tolerance that the holding may use, the rest being the machine's: common practice, no source."""


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

    @property
    def grip_radius(self) -> float:
        """Nominal radius of the gripped surface. [mm]"""
        return self.setup.grip.diameter / 2

    @property
    def bore_radius(self) -> float:
        """Radius the jaws are bored to: stated, or the middle of the part's tolerance. [mm]"""
        if self.setup.jaws.bore_diameter is not None:
            return self.setup.jaws.bore_diameter / 2
        low, high = self.setup.grip.diameter_tolerance
        return self.grip_radius + (low + high) / 4

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

    @property
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
            relief=min(jaw_tooling.RELIEF_MM, max(low, 0.0)),
        )  # fmt: skip
        tilt = self.setup.jaws.base_tilt
        base = jaw_tooling.BASE if tilt is None else replace(jaw_tooling.BASE, tilt=tilt)
        return JawKind(shape, self.jaw.young.value, self.jaw.poisson.value, base, boring_ring(shape))

    @property
    def grip_is_outside(self) -> bool:
        """Do the jaws close on the part?"""
        return self.setup.grip.side == "outside"

    def static_grip(self, values: Mapping[str, float], pressure: float) -> float:
        """Total static grip at a pressure [MPa] with the inputs at ``values``. [N]"""
        return max(self._slope(values) * (pressure - values["threshold"]), 0.0)

    def pressure_for(self, values: Mapping[str, float], grip: float) -> float:
        """Pressure that gives a total static grip [N] with the inputs at ``values``. [MPa]"""
        return grip / self._slope(values) + values["threshold"]

    def _slope(self, values: Mapping[str, float]) -> float:
        chuck = self.setup.chuck
        return values["grip share"] * grip_per_pressure(
            chuck.max_grip_force, chuck.max_draw_force, values["piston area"]
        )

    @property
    def free_overhang(self) -> bool:
        """Is the part held by the jaws alone?"""
        return not self.setup.grip.seat and not self.setup.grip.centre


def prepare(setup: Setup) -> Job:
    """Everything the plan needs from a setup, unknowns at their worst.

    Raises: ``InputError`` where a value is missing that no safe assumption can stand for, or where jaws cannot be.
    """
    grip, chuck, jaws = setup.grip, setup.chuck, setup.jaws
    section = section_of(setup.part.profile)
    blank = section_of(setup.part.blank) if setup.part.blank else section
    work, jaw = work_material(setup.part.material), jaw_material(jaws.material)
    count = jaws.count or chuck.jaws
    size = jaw_tooling.usual_size(chuck.max_grip_force)
    width = jaws.width or size.width * (2 if jaws.style == "wide" else 1)
    gap = jaw_tooling.PIE_GAP_MM if jaws.gap is None else jaws.gap
    half_angle = jaw_tooling.half_angle(jaws.style, grip.diameter / 2, count, width, gap)
    known = Inputs()
    job = Job(setup, section, blank, work, jaw, count, half_angle, known)

    for part in (_friction, _piston_area, _grip_share, _threshold, _least_pressure, _wear, _cutting_data,
                 _jaw_moment, _part_mass, _off_centre, _spin_up, _height, _strength, _part_strength, _jaw_base,
                 _jaw_strength):  # fmt: skip
        known.add(part(job))
    return job


def boring_ring(shape: JawShape) -> BoringRing:
    """Where the jaws are clamped for boring, where nothing is stated: just below the seat, out of the tool's way."""
    half = jaw_tooling.RING_WIDTH_MM / 2
    middle = max(shape.seat_height - half - 1.0, half)
    return BoringRing((middle - half, min(middle + half, shape.height)))


def _stated(setup: Setup, path: str, name: str, label: str, value: float, kind: str, note: str = "") -> Known:
    return Known(name, label, value, value, kind, setup.source(path), note)


def _friction(job: Job) -> Known:
    setup = job.setup
    label = "friction, jaw on part"
    if setup.jaws.friction is not None:
        return _stated(setup, "jaws.friction", "friction", label, setup.jaws.friction, "ratio")
    face = setup.jaws.face or "smooth"
    surface = setup.part.surface_condition or "ground"
    datum = friction_range(job.work.group, face, surface)
    low, high = datum.least, datum.most
    if setup.part.surface_condition is None:
        high = friction_range(job.work.group, face, "turned").most
    if setup.part.oily is False:
        low = 0.8 * high
    if setup.part.oily is True:
        high = low
    return Known("friction", label, low, high, "ratio", ASSUMED, datum.source, "a pull test on a clamped part")


def _piston_area(job: Job) -> Known:
    setup = job.setup
    side = "pull" if job.grip_is_outside else "push"
    actuator = setup.chuck.actuator
    area = actuator.pull_area if job.grip_is_outside else actuator.push_area
    label = f"piston area, {side}"
    if area is not None:
        return _stated(setup, f"chuck.actuator.{side}_area", "piston area", label, area, "area")
    if actuator.max_pressure is None:
        raise InputError(
            f"chuck.actuator: the {side}_area is missing, and no max_pressure to reckon it from; "
            "read it off the plate of the cylinder"
        )
    area = setup.chuck.max_draw_force / actuator.max_pressure
    note = "from greatest draw force over greatest pressure"
    return Known("piston area", label, 0.8 * area, area, "area", ASSUMED, note, "the plate of the cylinder")


def _grip_line(job: Job) -> GripLine | None:
    chuck = job.setup.chuck
    if not chuck.grip_readings:
        return None
    slope = grip_per_pressure(chuck.max_grip_force, chuck.max_draw_force, job.known["piston area"].worst)
    return read_grip_line([(reading.pressure, reading.force) for reading in chuck.grip_readings], slope)


def _grip_share(job: Job) -> Known:
    label = "share of the plate's grip that arrives"
    line = _grip_line(job)
    if line is not None:
        note = f"{len(job.setup.chuck.grip_readings or ())} readings of a grip gauge"
        return Known("grip share", label, *line.share, "ratio", "measured", note, "more readings of the grip gauge")
    grease = job.setup.chuck.grease
    state = f"grease {grease}" if grease else "grease unknown, taken as poor"
    return Known(
        "grip share",
        label,
        *GREASE[grease],
        "ratio",
        ASSUMED,
        f"{state}; {PRACTICE}",
        "a grip gauge in the chuck",
    )


def _threshold(job: Job) -> Known:
    value = job.setup.chuck.actuator.threshold_pressure
    label = "pressure lost before the jaws grip"
    if value is not None:
        return _stated(job.setup, "chuck.actuator.threshold_pressure", "threshold", label, value, "pressure")
    line = _grip_line(job)
    if line is not None:
        return Known(
            "threshold",
            label,
            line.threshold,
            line.threshold,
            "pressure",
            "measured",
            "from the gauge readings",
        )
    best, worst = THRESHOLD_MPA
    return Known("threshold", label, worst, best, "pressure", ASSUMED, PRACTICE, "gauge at which the jaws first move")


def _least_pressure(job: Job) -> Known:
    value = job.setup.chuck.actuator.least_pressure
    label = "least pressure the cylinder holds steadily"
    if value is not None:
        return _stated(job.setup, "chuck.actuator.least_pressure", "least pressure", label, value, "pressure")
    return Known("least pressure", label, LEAST_STABLE_MPA, LEAST_STABLE_MPA, "pressure", ASSUMED, PRACTICE,
                 "the plate of the cylinder")  # fmt: skip


def _wear(job: Job) -> Known:
    states = {cut.wear for cut in job.setup.cuts}
    label = "force on a worn edge over a sharp one"
    if None not in states:
        return Known("wear", label, 1.0, 1.0, "ratio", "stated", "each cut states its edge")
    return Known(
        "wear",
        label,
        WEAR_UNKNOWN.value,
        1.0,
        "ratio",
        ASSUMED,
        WEAR_UNKNOWN.source,
        "a fresh edge, or a count of parts per edge",
    )


def _cutting_data(job: Job) -> Known:
    """The handbook's middle value; its scatter of 20 to 30 % is what the safety factor is for."""
    datum = job.work.kc11
    return Known("cutting data", f"specific cutting force kc1.1 of {job.work.key}", datum.value, datum.value, "stress",
                 "handbook", datum.source, "spindle load of the heaviest cut")  # fmt: skip


def _jaw_moment(job: Job) -> Known:
    """Mass times radius of master and top jaw, all positions together."""
    setup, jaws, chuck = job.setup, job.setup.jaws, job.setup.chuck
    size = jaw_tooling.usual_size(chuck.max_grip_force)
    width = jaws.width or size.width * (2 if jaws.style == "wide" else 1)
    mass, radius = jaw_tooling.mass_moment(
        jaws.style, setup.grip.side, job.grip_radius, job.jaws, width, jaws.length or size.length,
        jaws.height or size.height, job.jaw.density.value,
    )  # fmt: skip
    notes: list[str] = []
    sources: set[Source] = set()

    def settle(value: float | None, path: str, guess: float, spread: float, what: str) -> tuple[float, float]:
        if value is not None:
            sources.add(setup.source(path))
            return value, value
        sources.add(ASSUMED)
        notes.append(f"{what} {guess:.3g} +/- {100 * spread:.0f} %")
        return guess * (1 + spread), guess * (1 - spread)

    sized = jaws.length is not None and jaws.height is not None and (jaws.width is not None or jaws.style == "pie")
    top_mass = settle(jaws.mass, "jaws.mass", mass, 0.1 if sized else 0.4, "top jaw mass kg")
    top_radius = settle(jaws.centroid_radius, "jaws.centroid_radius", radius, 0.1, "top jaw centre of mass mm")
    base_mass = settle(chuck.master_jaw_mass, "chuck.master_jaw_mass", size.master_mass, 0.4, "master jaw mass kg")
    base_radius = settle(chuck.master_jaw_radius, "chuck.master_jaw_radius", size.master_radius, 0.2,
                         "master jaw centre of mass mm")  # fmt: skip
    worst, best = (
        static_moment(
            [
                SpinningMass(top_mass[i], top_radius[i], job.jaws),
                SpinningMass(base_mass[i], base_radius[i], job.jaws),
            ]
        )
        for i in (0, 1)
    )
    source = ASSUMED if ASSUMED in sources else sorted(sources)[0]
    return Known("jaw moment", "mass times radius of all jaws", worst, best, "mass moment", source,
                 "; ".join([*notes, PRACTICE]) if notes else "",
                 "weigh one top jaw and one master jaw" if notes else "")  # fmt: skip


def _part_mass(job: Job) -> Known:
    if job.setup.part.mass is not None:
        return _stated(job.setup, "part.mass", "part mass", "mass of the part", job.setup.part.mass, "mass")
    mass = job.blank.volume * job.work.density.value
    return Known("part mass", "mass of the part", mass, mass, "mass", "drawing", "volume of the section times density")


def _off_centre(job: Job) -> Known:
    condition = job.setup.part.surface_condition
    worst = OFF_CENTRE_MM[condition or "raw"]
    return Known("off centre", "centre of mass off the axis", worst, 0.0, "length", ASSUMED, PRACTICE,
                 "run-out of the blank in the jaws")  # fmt: skip


def _spin_up(job: Job) -> Known:
    machine = job.setup.machine
    label = "time to spin up to full speed"
    if machine is not None and machine.spin_up_time is not None:
        return _stated(job.setup, "machine.spin_up_time", "spin-up", label, machine.spin_up_time, "time")
    return Known("spin-up", label, *SPIN_UP_S, "time", ASSUMED, PRACTICE, "a stopwatch at the machine")


def _height(job: Job) -> Known:
    """Share of the draw force allowed at this grip height."""
    jaws, chuck = job.setup.jaws, job.setup.chuck
    size = jaw_tooling.usual_size(chuck.max_grip_force)
    label = "share of the draw force allowed at this grip height"
    if jaws.grip_height is not None:
        height, source, note = jaws.grip_height, job.setup.source("jaws.grip_height"), ""
    else:
        height, source = job.seat_height + sum(job.setup.grip.z) / 2, ASSUMED
        note = f"grip height {height:.0f} mm from the height of the jaws; {PRACTICE}"
    reference = chuck.reference_grip_height
    if reference is None:
        reference, source = size.height, ASSUMED
        note = "; ".join(filter(None, [note, f"reference grip height {reference:.0f} mm; {PRACTICE}"]))
    share = height_share(height, reference)
    return Known(
        "height share",
        label,
        share,
        share,
        "ratio",
        source,
        note,
        "grip height, chuck face to mid grip" if source == ASSUMED else "",
    )


def _jaw_base(job: Job) -> Known:
    """The tilt of the master jaw stands for the whole base; a feeler at the tip measures it."""
    tilt = job.jaw_kind.base.tilt
    if job.setup.jaws.base_tilt is not None:
        return _stated(job.setup, "jaws.base_tilt", "jaw base", "tilt stiffness of the master jaws", tilt, "tilt")
    return Known("jaw base", "tilt stiffness of the master jaws", tilt, tilt, "tilt", ASSUMED,
                 "set so that tall aluminium jaws open as shops see; a third to eight times of it is seen; " + PRACTICE,
                 "a feeler at the tip of tall jaws, clamped at two pressures")  # fmt: skip


def _part_strength(job: Job) -> Known:
    datum = job.work.yield_strength
    return Known("part yield", f"yield strength of the part, {job.work.key}", datum.least, datum.most, "stress",
                 "handbook", datum.source, "a hardness test")  # fmt: skip


def _jaw_strength(job: Job) -> Known:
    datum = job.jaw.yield_strength
    return Known("jaw yield", f"yield strength of the jaw, {job.jaw.key}", datum.least, datum.most, "stress",
                 "handbook", datum.source, "a hardness test")  # fmt: skip


def _strength(job: Job) -> Known:
    """Yield strength of the softer of part and jaw; its heat treatment is rarely known."""
    softer, who = min(
        ((job.work.yield_strength, f"part, {job.work.key}"), (job.jaw.yield_strength, f"jaw, {job.jaw.key}")),
        key=lambda pair: pair[0].least,
    )
    return Known("yield", f"yield strength of the softer ({who})", softer.least, softer.most, "stress", "handbook",
                 softer.source, "a hardness test")  # fmt: skip


def safety_factor(job: Job) -> tuple[float, str]:
    """The factor asked of every hold, and where it comes from."""
    limits = job.setup.limits
    if limits is not None and limits.safety_factor is not None:
        return limits.safety_factor, f"stated: {limits.safety_reason}"
    if job.free_overhang:
        return SAFETY_FACTOR_FREE, f"no seat and no centre; {PRACTICE}"
    return SAFETY_FACTOR, PRACTICE


def tolerance_share(job: Job, what: str) -> float:
    """Share of a drawing tolerance (``what``: form or run-out) that the holding may use."""
    limits = job.setup.limits
    if limits is not None and limits.holding_share is not None:
        return limits.holding_share
    return SHARE_OF_RUNOUT if what == "run-out" else SHARE_OF_FORM
