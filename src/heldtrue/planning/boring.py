"""Cutting the jaws of one setup: ``bore`` for a set to be cut to it, ``recut`` for a set cut before.

Both give plain frozen data: where the jaws stand, the ring, the bore, the job for the program, the steps at the
machine, and in words what cannot be done.  Core units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import floor, inf
from typing import TYPE_CHECKING

from heldtrue.errors import InputError
from heldtrue.mechanics.jaw_shape import BoringRing
from heldtrue.mechanics.spin import speed_at_share_left
from heldtrue.planning.boring_program import boring_job, left_to_finish
from heldtrue.planning.boring_steps import Facts, Step, recut_steps, steps_for
from heldtrue.planning.elastic import Body, part_in_jaws
from heldtrue.planning.fitting import LEAST_TAPER_MM, needed_taper
from heldtrue.planning.hardware import (
    Hardware,
    planned_depth,
    say_in,
)
from heldtrue.planning.inputs import PRACTICE, Job
from heldtrue.planning.jaw_layout import Layout, lay_out
from heldtrue.planning.judge import tolerance_limits
from heldtrue.planning.loads import plate_speed
from heldtrue.planning.plan import plan_study
from heldtrue.planning.result import CAUTIONS, PressureAdvice, State
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import setting_of
from heldtrue.program.job import BoringJob
from heldtrue.tooling import bolts, ring
from heldtrue.tooling.bore import BoreDesign
from heldtrue.tooling.placing import Bored, Placing, Say, Way, bored_radius, way_words
from heldtrue.tooling.recut import SEAT_SKIM_MM, Skim, Standing, changed, refit_words, skim

if TYPE_CHECKING:
    pass

BORING_CAUTIONS = (
    "The ring must carry the jaws at the boring pressure before the spindle turns: check all jaws bear on it.",
    "Soft jaws make an interrupted cut: first run with single block, the door shut, low speed.",
    "Touch off on the jaws as they stand on the ring; the program's zero is their front face.",
    "The program knows the jaws, ring, bolts and chuck face it was given, and nothing else in the machine.",
)
FOUND_SLACK_MM = 1.0
"""A touched-off diameter may lie this far out of what the record and the stroke allow: burrs, a wrong tag."""
SHARE_OF_PLATE_SPEED = 0.5
"""Jaws are cut at no more than this share of the plate's speed: common practice, no source."""
MOST_RUNOUT_MM = 5.0
"""A used bore that runs out more is no bore."""
RUNOUT_MM = 0.02
"""Run-out to reach where the drawing asks for none: common practice, no source (0.005 to 0.025)."""


@dataclass(frozen=True)
class BorePlan:
    """How to cut one set of jaws.

    ``verdict``: of the plan for the part they are cut for; ``pressure``: gauge [MPa] while they are cut,
    ``pressure_from`` in words; ``taper``: per side over the gripped length, ``taper_from`` in words; ``spindle_limit``
    [rev/min] and what decides it; ``hardware``: what they are cut with; ``placing``, ``ring``, ``design`` and ``job``
    are None where ``refusals`` say why; ``tightening`` of the jaw bolts; ``runout``: to reach when they are cut [mm];
    ``steps`` at the machine; ``words``: the answer; ``notes``; ``assumed``: what was taken for granted.
    """

    setup: Setup
    verdict: State
    pressure: float
    pressure_from: str
    taper: float
    taper_from: str
    spindle_limit: float
    spindle_limit_by: str
    hardware: Hardware
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

    @property
    def can_be_cut(self) -> bool:
        """Is there a cut to make, a job for a program, and a diameter touched off for it to count from?"""
        return self.measured is not None and self.bore is not None and self.bore.can_be_cut and not self.refusals


def bore(setup: Setup) -> BorePlan:
    """How to cut the jaws for a setup.

    At the pressure the setup says the jaws are bored at, else at that of the finish.
    Raises: ``InputError`` for a setup that cannot be planned.
    """
    return bore_of(Study.of(setup))


def bore_of(study: Study) -> BorePlan:
    """The same of a study whose expensive parts may be known already."""
    layout = lay_out(study.job)
    last = study.job.setup.jaws.last_cut
    if last is not None:
        why = (f"this set was cut before, to Ø{say_in(study.job.setup)(last.diameter)}: put it on its ring, touch off "
               "a diameter and cut it again from there (recut)")  # fmt: skip
        layout = replace(layout, refusals=(why, *layout.refusals))
    return _plan_of(study, layout)


def recut(setup: Setup, measured_diameter: float | None = None, *, runout: float | None = None) -> RecutPlan:
    """How to cut a used set again.

    ``measured_diameter``: as touched off with the jaws on the ring [mm], None before that; ``runout``: found on the
    used bore there [mm], None where nobody read it.
    Raises: ``InputError`` for a setup that cannot be planned, or a set that was never cut.
    """
    if runout is not None and not 0 <= runout < MOST_RUNOUT_MM:
        raise InputError(f"run-out: found {runout:g} mm; 0 to {MOST_RUNOUT_MM:g} mm")
    study = Study.of(setup)
    job, last, say = study.job, setup.jaws.last_cut, say_in(setup)
    if last is None and measured_diameter is None:
        raise InputError("jaws: there is no last_cut and no measured diameter: what was never cut is not cut again")
    target = 2 * job.bore_radius
    differs = _differs(setup, target) if last is not None else ("there is no record of the last cut",)
    if not differs:
        good, words = refit_words(_allowed_runout(job), say, runout)
        if good:
            return RecutPlan(setup, measured_diameter, target, False, (), (words,), None, None,
                             recut_steps(setup, _allowed_runout(job) or RUNOUT_MM), ())  # fmt: skip
        differs = (words,)
    if setup.jaws.tooth is None and (last is None or last.tooth is None):
        why = ("it is not known on which tooth the jaws stand: count from the axis to the zero mark, the same on every "
               "jaw, and state jaws.tooth")  # fmt: skip
        return RecutPlan(setup, measured_diameter, target, True, differs, (), None, None, (), (why,))
    layout, measured = _used_layout(job, measured_diameter)
    made = _plan_of(study, layout)
    boring = setup.boring
    least = {} if boring is None or boring.skim is None else {"least": boring.skim}
    pitch = layout.hardware.master.pitch if layout.hardware.master else None
    taken = skim(
        setup.grip.side, measured, target, made.way, seat=_seat_skim(setup), runout=runout or 0.0,
        tooth_step=None if pitch is None else 2 * pitch, say=say, **least,
    )  # fmt: skip
    refusals = made.refusals if taken.cleans else (taken.words[0], *made.refusals)
    strange = () if measured_diameter is None else _not_these_jaws(job, layout, measured_diameter, say)
    if strange:  # what would have to be done with a diameter that cannot be is no advice
        return RecutPlan(setup, measured_diameter, target, True, differs, (), None, None, (), strange)
    return RecutPlan(setup, measured_diameter, target, True, differs, taken.words, taken, made, made.steps, refusals)


def _not_these_jaws(job: Job, layout: Layout, measured: float, say: Say) -> tuple[str, ...]:
    """A diameter that the recorded set cannot show on its tooth, wherever in its stroke it stands."""
    last, master = job.setup.jaws.last_cut, layout.hardware.master
    standing = job.setup.jaws.tooth or (last.tooth if last else None)
    if last is None or last.tooth is None or master is None or standing is None or standing > len(master.zeros):
        return ()
    expected = 2 * bored_radius(master, Bored(last.diameter / 2, 0.0, last.tooth), standing)
    near = master.travel + 2 * FOUND_SLACK_MM
    if abs(measured - expected) <= near:
        return ()
    slips = {"is that the radius?": 2.0, "is that twice the diameter?": 0.5, "was it typed in inch?": 25.4,
             "was it typed in mm?": 1 / 25.4}  # fmt: skip
    hint = next((f"; {words}" for words, factor in slips.items() if abs(measured * factor - expected) <= near), "")
    return (
        f"Ø{say(measured)} cannot be these jaws on this tooth: cut to Ø{say(last.diameter)} on {last.tooth}, on "
        f"{standing} they show Ø{say(expected)} at mid-stroke, give or take {say(master.travel)}; look at set, tooth "
        f"and number again{hint}",
    )


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


def _plan_of(study: Study, layout: Layout) -> BorePlan:
    job, setup = study.job, study.job.setup
    hardware = layout.hardware
    part_plan = plan_study(study)
    pressure, pressure_from = _pressure(study, part_plan.pressure)
    refusals = list(layout.refusals)
    if study.least_grip(study.worst, pressure) <= 0:
        refusals.append("the jaws do not push on the ring at that pressure: it is all lost before they grip")
    taper, taper_from = _taper(study, layout, pressure)
    made = layout.design(taper)
    limit, limit_by = _spindle_limit(study, pressure)
    tightening = bolts.tightening(hardware.bolt.name, hardware.bolt_class)
    runout = _allowed_runout(job) or RUNOUT_MM
    facts = Facts(setup, pressure, limit, layout.placing, layout.ring, made, tightening, runout, hardware.tool.name,
                  left_to_finish(setup))  # fmt: skip
    cut = None
    if made is not None and layout.ring is not None and not refusals:
        cut = boring_job(job, hardware, made, layout.ring, facts, limit)
    return BorePlan(
        setup=setup, verdict=part_plan.verdict, pressure=pressure, pressure_from=pressure_from, taper=taper,
        taper_from=taper_from, spindle_limit=limit, spindle_limit_by=limit_by, hardware=hardware,
        placing=layout.placing, ring=layout.ring, design=made, tightening=tightening, job=cut, runout=runout,
        steps=steps_for(facts) if cut is not None else (), refusals=tuple(refusals),
        words=_words(layout, setup),
        notes=_notes(part_plan.verdict, setup, layout, made), assumed=_assumed(setup, hardware),
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
                     f"its own would leave {say(best.stroke_left)} both ways and {best.cuts_words} cuts")  # fmt: skip
    return (*words, chosen.words, *placing.words[1:])


def _notes(verdict: State, setup: Setup, layout: Layout, made: BoreDesign | None) -> tuple[str, ...]:
    words = []
    if verdict != "passes":
        words.append(f"the plan of the part itself {'is ' if verdict == 'not proven' else ''}{verdict}: see why before "
                     "it is run in these jaws")  # fmt: skip
    words += made.notes if made else layout.sizes.notes if layout.sizes else ()
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
        found.append(f"cutting speed, feeds and depth of cut where none is stated; {PRACTICE}")
    if machine is None or machine.x_travel is None or machine.z_travel is None:
        found.append("travel of the tool: nothing is stated, the program's check of travel says nothing")
    return tuple(found)


def _pressure(study: Study, advice: PressureAdvice) -> tuple[float, str]:
    """Gauge pressure [MPa] while the jaws are cut, and where it comes from."""
    setup = study.job.setup
    if setup.jaws.bored_pressure is not None:
        return setup.jaws.bored_pressure, "as the setup says they are bored"
    if setup.stated_pressure is not None:
        return setup.stated_pressure, "that of the run, stated"
    step = advice.steps[-1]
    if step.recommended is None:
        return setting_of(study, advice).finishing, "the least that holds: no pressure is advised for this setup"
    return step.recommended, "that of the finish, advised" if len(advice.steps) > 1 else "that of the job, advised"


def _taper(study: Study, layout: Layout, pressure: float) -> tuple[float, str]:
    """Taper per side over the gripped length [mm]: stated, or what the mechanics asks for with this ring."""
    job = study.job
    if job.setup.jaws.taper is not None:
        return job.setup.jaws.taper, "stated"
    if layout.ring is None:
        return 0.0, "none: without a ring it is not known"
    used = study.distorting_grip(study.likely, pressure, study.finishing_speed()) / job.jaws
    bored = job.static_grip(study.likely, pressure) / job.jaws
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
    static = study.least_grip(study.worst, pressure)
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
    return tolerance_limits(job, "runout", min(asked))[0] if asked else None


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
