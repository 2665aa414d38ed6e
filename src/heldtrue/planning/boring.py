"""Cutting the jaws of one setup: ``bore`` for a set to be cut to it, ``recut`` for a set cut before.

Both give plain frozen data: where the jaws stand, the ring, the bore, the job for the program, the steps at the
machine, and in words what cannot be done.  Core units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, inf
from pathlib import Path
from typing import TYPE_CHECKING

from heldtrue.errors import InputError
from heldtrue.mechanics.jaw_shape import BoringRing
from heldtrue.mechanics.spin import speed_at_share_left
from heldtrue.planning.boring_steps import Facts, Step, recut_steps, steps_for
from heldtrue.planning.elastic import Body, part_in_jaws
from heldtrue.planning.fitting import LEAST_TAPER_MM, needed_taper
from heldtrue.planning.hardware import (
    Hardware,
    planned_depth,
    say_in,
)
from heldtrue.planning.inputs import PRACTICE, Job, tolerance_share
from heldtrue.planning.jaw_layout import Layout, lay_out
from heldtrue.planning.loads import plate_speed
from heldtrue.planning.plan import plan_study
from heldtrue.planning.result import CAUTIONS
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.program.job import BoringJob, Cutting, KeepOut, MachineLimits
from heldtrue.tooling import bolts, ring
from heldtrue.tooling.bore import BoreDesign
from heldtrue.tooling.placing import Bored, Placing, Way, bored_radius, way_words
from heldtrue.tooling.recut import SEAT_SKIM_MM, Skim, Standing, changed, refit_words, skim

if TYPE_CHECKING:
    from heldtrue.program.front import Program

BORING_CAUTIONS = (
    "The ring must carry the jaws at the boring pressure before the spindle turns: check all jaws bear on it.",
    "Soft jaws make an interrupted cut: first run with single block, the door shut, low speed.",
    "Touch off on the jaws as they stand on the ring; the program's zero is their front face.",
    "The program knows the jaws, ring, bolts and chuck face it was given, and nothing else in the machine.",
)
SHARE_OF_PLATE_SPEED = 0.5
"""Jaws are cut at no more than this share of the plate's speed: common practice, no source."""
RUNOUT_MM = 0.02
"""Run-out to reach where the drawing asks for none: common practice, no source (0.005 to 0.025)."""
SOFT_METAL_MPA = 100e3
"""Jaws with a Young's modulus under this are cut as light metal."""
SPEEDS = {True: 250.0, False: 120.0}
"""Cutting speed in light metal and in steel, m/min: common practice, no source."""
PASSES = {True: 2.0, False: 1.5}
"""Depth of a roughing pass per side, in light metal and in steel: common practice, no source."""
FINISH_ALLOWANCE_MM, ROUGH_FEED, FINISH_FEED = 0.2, 0.15, 0.08
"""Left for the finish per side, feeds per turn: common practice, no source."""


@dataclass(frozen=True)
class BorePlan:
    """How to cut one set of jaws.

    ``pressure``: gauge [MPa] while they are cut, ``pressure_from`` in words; ``taper``: per side over the gripped
    length, ``taper_from`` in words; ``spindle_limit`` [rev/min] and what decides it; ``placing``, ``ring``, ``design``
    and ``job`` are None where ``refusals`` say why; ``tightening`` of the jaw bolts; ``runout``: to reach when they are
    cut [mm]; ``steps`` at the machine; ``words``: the answer; ``notes``; ``assumed``: what was taken for granted.
    """

    setup: Setup
    pressure: float
    pressure_from: str
    taper: float
    taper_from: str
    spindle_limit: float
    spindle_limit_by: str
    placing: Placing | None
    ring: ring.RingChoice | None
    design: BoreDesign | None
    tightening: bolts.Tightening
    job: BoringJob | None
    runout: float
    steps: tuple[Step, ...]
    refusals: tuple[str, ...]
    words: tuple[str, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...] = (*CAUTIONS, *BORING_CAUTIONS)

    @property
    def way(self) -> Way | None:
        """How the jaws stand: as the ring sets them."""
        return self.ring.way if self.ring else None

    @property
    def can_be_cut(self) -> bool:
        """Is there a job for a program?"""
        return self.job is not None and not self.refusals


@dataclass(frozen=True)
class RecutPlan:
    """How to cut a used set again, or why not to.

    ``needed``: False for a set that stands as recorded; ``differs``: from the record; ``words``: the answer;
    ``skim``: None where no cut is needed; ``bore``: the cut itself, None where no cut is needed.
    """

    setup: Setup
    measured: float | None
    target: float
    needed: bool
    differs: tuple[str, ...]
    words: tuple[str, ...]
    skim: Skim | None
    bore: BorePlan | None
    steps: tuple[Step, ...]
    refusals: tuple[str, ...]
    cautions: tuple[str, ...] = (*CAUTIONS, *BORING_CAUTIONS)


def bore(setup: Setup) -> BorePlan:
    """How to cut the jaws for a setup.

    At the pressure the setup says the jaws are bored at, else at that of the finish.
    Raises: ``InputError`` for a setup that cannot be planned.
    """
    return bore_of(Study.of(setup))


def bore_of(study: Study) -> BorePlan:
    """The same of a study whose expensive parts may be known already."""
    return _plan_of(study, lay_out(study.job))


def recut(setup: Setup, measured_diameter: float | None = None, *, runout: float = 0.0) -> RecutPlan:
    """How to cut a used set again.

    ``measured_diameter``: as touched off with the jaws on the ring [mm], None before that; ``runout``: found on the
    used bore there [mm].
    Raises: ``InputError`` for a setup that cannot be planned, or a set that was never cut.
    """
    study = Study.of(setup)
    job, last, say = study.job, setup.jaws.last_cut, say_in(setup)
    if last is None and measured_diameter is None:
        raise InputError("jaws: there is no last_cut and no measured diameter: what was never cut is not cut again")
    target = 2 * job.bore_radius
    differs = _differs(setup, target) if last is not None else ("there is no record of the last cut",)
    if not differs:
        good, words = refit_words(_allowed_runout(job), say)
        if good:
            return RecutPlan(setup, measured_diameter, target, False, (), (words,), None, None,
                             recut_steps(setup, _allowed_runout(job) or RUNOUT_MM), ())  # fmt: skip
        differs = (words,)
    layout, measured = _used_layout(job, measured_diameter)
    made = _plan_of(study, layout)
    boring = setup.boring
    least = {} if boring is None or boring.skim is None else {"least": boring.skim}
    pitch = layout.hardware.master.pitch if layout.hardware.master else None
    taken = skim(
        setup.grip.side, measured, target, made.way, seat=_seat_skim(setup), runout=runout,
        tooth_step=None if pitch is None else 2 * pitch, say=say, **least,
    )  # fmt: skip
    refusals = made.refusals if taken.cleans else (taken.words[0], *made.refusals)
    return RecutPlan(setup, measured_diameter, target, True, differs, taken.words, taken, made, made.steps, refusals)


def _used_layout(job: Job, measured: float | None) -> tuple[Layout, float]:
    """The layout of a used set on the tooth it stands on, and the diameter found, or to be found, on the ring. [mm]

    The ring alone says where in the stroke the jaws stand when they are touched off; a record counts from mid-stroke.
    """
    setup, last = job.setup, job.setup.jaws.last_cut
    standing = setup.jaws.tooth or (last.tooth if last else None)
    depth = last.depth if last and last.depth else planned_depth(job) - _seat_skim(setup)
    room = 3.0 if job.grip_is_outside else -3.0  # metal enough that no ring is refused for want of it
    found = lay_out(job, Bored(job.bore_radius - room, depth, standing or 1), tooth=standing)
    stroke = found.ring.way.stroke if found.ring else 0.0
    master, tooth = found.hardware.master, standing or 1
    if measured is None:
        recorded = Bored(last.diameter / 2 if last else job.bore_radius, depth, (last.tooth if last else None) or tooth)
        radius = bored_radius(master, recorded, tooth) if master else recorded.radius
        measured = 2 * (radius + stroke)
    return lay_out(job, Bored(measured / 2 - stroke, depth, tooth), standing, stroke), measured


def program_of(plan: BorePlan, base_dir: str | Path | None = None) -> Program | None:
    """The program of a plan's job, read back and proved, in the words of the setup's template.

    ``base_dir``: where the template is looked up; None without a job.
    Raises: what ``heldtrue.program.front.program`` does, and then nothing is written.
    """
    if plan.job is None or plan.refusals:
        return None
    from heldtrue.program.front import program

    boring = plan.setup.boring
    template = boring.template if boring else None
    return program(plan.job, None if template is None else Path(base_dir or ".") / template)


def _plan_of(study: Study, layout: Layout) -> BorePlan:
    job, setup = study.job, study.job.setup
    hardware = layout.hardware
    pressure, pressure_from = _pressure(study)
    refusals = list(layout.refusals)
    if job.static_grip(study.worst, pressure) <= 0:
        refusals.append("the jaws do not push on the ring at that pressure: it is all lost before they grip")
    taper, taper_from = _taper(study, layout, pressure)
    made = layout.design(taper)
    limit, limit_by = _spindle_limit(study, pressure)
    tightening = bolts.tightening(hardware.bolt.name, hardware.bolt_class)
    runout = _allowed_runout(job) or RUNOUT_MM
    boring_job = None
    if made is not None and layout.ring is not None and not refusals:
        boring_job = _job(job, hardware, made, layout.ring, pressure, limit)
    facts = Facts(setup, pressure, limit, layout.placing, layout.ring, made, tightening, runout, hardware.tool.name)
    return BorePlan(
        setup=setup, pressure=pressure, pressure_from=pressure_from, taper=taper, taper_from=taper_from,
        spindle_limit=limit, spindle_limit_by=limit_by, placing=layout.placing, ring=layout.ring, design=made,
        tightening=tightening, job=boring_job, runout=runout,
        steps=steps_for(facts) if boring_job is not None else (), refusals=tuple(refusals),
        words=_words(layout, setup),
        notes=_notes(setup, layout, made), assumed=_assumed(setup, hardware),
    )  # fmt: skip


def _words(layout: Layout, setup: Setup) -> tuple[str, ...]:
    """Where the jaws stand and on which ring."""
    placing, chosen, say = layout.placing, layout.ring, say_in(setup)
    if placing is None or chosen is None or placing.best is None:
        return placing.words if placing else ()
    words = [way_words(placing.word, chosen.way, say)]
    best = placing.best
    if best.tooth != chosen.way.tooth:
        words.append(f"the ring asks for {placing.word} {chosen.way.tooth}; {placing.word} {best.tooth} with a ring of "
                     f"its own would leave {say(best.stroke_left)} both ways and {best.cuts_left} cuts")  # fmt: skip
    return (*words, chosen.words, *placing.words[1:])


def _notes(setup: Setup, layout: Layout, made: BoreDesign | None) -> tuple[str, ...]:
    words = list(made.notes if made else layout.sizes.notes if layout.sizes else ())
    if layout.ring is not None:
        words += layout.ring.way.notes
    if made is not None and setup.jaws.bore_diameter is None:
        words.append("bored for the middle of the part's tolerance: shops differ on a little larger or smaller; the "
                     "contact of part and jaws shows what either does, jaws.bore_diameter chooses")  # fmt: skip
    return tuple(words)


def _assumed(setup: Setup, hardware: Hardware) -> tuple[str, ...]:
    found = list(hardware.assumed)
    boring, machine = setup.boring, setup.machine
    if boring is None or None in (boring.surface_speed, boring.pass_depth, boring.rough_feed, boring.finish_feed):
        found.append(f"cutting speed, feeds and depth of cut where [boring] is silent; {PRACTICE}")
    if machine is None or machine.x_travel is None or machine.z_travel is None:
        found.append("travel of the tool: nothing is stated, the program's check of travel says nothing")
    return tuple(found)


def _pressure(study: Study) -> tuple[float, str]:
    """Gauge pressure [MPa] while the jaws are cut, and where it comes from."""
    setup = study.job.setup
    if setup.jaws.bored_pressure is not None:
        return setup.jaws.bored_pressure, "as the setup says they are bored"
    if setup.run is not None and setup.run.pressure is not None:
        return setup.run.pressure, "that of the run, stated"
    advice = plan_study(study).pressure
    step = advice.steps[-1]
    if step.recommended is None:
        return advice.used, "the least that holds: no pressure is advised for this setup"
    return step.recommended, "that of the finish, advised" if len(advice.steps) > 1 else "that of the job, advised"


def _taper(study: Study, layout: Layout, pressure: float) -> tuple[float, str]:
    """Taper per side over the gripped length [mm]: stated, or what the mechanics asks for with this ring."""
    job = study.job
    if job.setup.jaws.taper is not None:
        return job.setup.jaws.taper, "stated"
    if layout.ring is None:
        return 0.0, "none: without a ring it is not known"
    used = study.distorting_grip(study.best, pressure, study.finishing_speed()) / job.jaws
    bored = job.static_grip(study.best, pressure) / job.jaws
    if used <= 0:
        return 0.0, "none: the jaws do not grip at that pressure"
    low, high = layout.ring.heights
    kind = job.jaw_kind
    top = kind.shape.height
    there = BoringRing((min(max(low, 0.0), top - 1.0), min(high, top)))
    body = Body(job.section.corners, job.work.young.value, job.work.poisson.value)
    part = part_in_jaws(body, study.face, replace(kind, ring=there), study.fits,
                        replace(study.bore, taper=0.0, force=bored), ())  # fmt: skip
    slope = needed_taper(part, used)
    if abs(slope) < LEAST_TAPER_MM:
        return 0.0, f"none needed: {abs(slope):.3f} mm per side is under {LEAST_TAPER_MM:g} mm"
    return round(slope, 3), "what keeps the pressure even over the grip with this ring"


def _spindle_limit(study: Study, pressure: float) -> tuple[float, str]:
    """Spindle limit while the jaws are cut [rev/min], and what decides it."""
    job, boring = study.job, study.job.setup.boring
    limits = [(SHARE_OF_PLATE_SPEED * plate_speed(job), f"{SHARE_OF_PLATE_SPEED:.0%} of the plates' speed; {PRACTICE}")]
    static = job.static_grip(study.worst, pressure)
    moment = study.worst["jaw moment"]
    if job.grip_is_outside:
        left = speed_at_share_left(static, moment) if static > 0 else 0.0
        limits.append(
            (left if moment > 0 else inf, "a third of the push on the ring left, the jaws as heavy as may be")
        )
    if boring is not None and boring.spindle_limit_rpm is not None:
        limits.append((boring.spindle_limit_rpm, "stated"))
    value, why = min(limits)
    return floor(value / 10) * 10.0, why


def _allowed_runout(job: Job) -> float | None:
    """Run-out the holding may use of the tightest on the drawing. [mm]"""
    asked = [surface.runout for surface in job.setup.surfaces if surface.runout is not None]
    return min(asked) * tolerance_share(job, "run-out") if asked else None


def _seat_skim(setup: Setup) -> float:
    boring = setup.boring
    return SEAT_SKIM_MM if boring is None or boring.seat_skim is None else boring.seat_skim


def _differs(setup: Setup, target: float) -> tuple[str, ...]:
    last, jaws = setup.jaws.last_cut, setup.jaws
    assert last is not None
    machine = setup.machine.name if setup.machine else ""
    return changed(
        Standing(last.chuck, last.machine, last.tooth, None, last.diameter),
        Standing(setup.chuck.number, machine, jaws.tooth, jaws.in_order, target),
        say_in(setup),
    )


def _job(
    job: Job, hardware: Hardware, made: BoreDesign, chosen: ring.RingChoice, pressure: float, limit: float
) -> BoringJob:
    """What the program has to cut."""
    setup, boring = job.setup, job.setup.boring
    light = job.jaw.young.value < SOFT_METAL_MPA

    def given(key: str, otherwise: float) -> float:
        value = getattr(boring, key) if boring else None
        return otherwise if value is None else float(value)

    cutting = Cutting(
        pass_depth=given("pass_depth", PASSES[light]), finish_allowance=given("finish_allowance", FINISH_ALLOWANCE_MM),
        rough_feed=given("rough_feed", ROUGH_FEED), finish_feed=given("finish_feed", FINISH_FEED),
        surface_speed=given("surface_speed", SPEEDS[light]), spindle_limit=limit,
    )  # fmt: skip
    facts = Facts(setup, pressure, limit, None, chosen, made, bolts.tightening(hardware.bolt.name, hardware.bolt_class),
                  _allowed_runout(job) or RUNOUT_MM, hardware.tool.name)  # fmt: skip
    return BoringJob(
        title=setup.title or f"jaws for {setup.part.number}", grip=setup.grip.side, metal=made.metal,
        finished=made.profile, keep_out=tuple(KeepOut(one.name, one.outline) for one in made.keep_outs),
        tool=hardware.tool, cutting=cutting, limits=_limits(setup, hardware, made),
        clearance=given("clearance", ring.CLEARANCE_MM), comments=facts.comments(), stops=facts.stops(),
    )  # fmt: skip


def _limits(setup: Setup, hardware: Hardware, made: BoreDesign) -> MachineLimits:
    """Travel in the program's coordinates; wide open where nothing is stated."""
    machine = setup.machine
    top = made.height + (hardware.master.top_height if hardware.master else 0.0)
    x = machine.x_travel if machine and machine.x_travel else (-2000.0, 4000.0)
    z = machine.z_travel if machine and machine.z_travel else (-1000.0, 5000.0)
    speeds = [setup.chuck.max_speed_rpm, machine.max_speed_rpm if machine and machine.max_speed_rpm else inf]
    return MachineLimits((x[0] / 2, x[1] / 2), (z[0] - top, z[1] - top), min(speeds))
