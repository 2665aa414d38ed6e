"""Cutting the jaws of one setup: ``bore`` for a set to be cut to it, ``recut`` for a set cut before.

Both give plain frozen data: where the jaws stand, the ring, the bore, the job for the program, the steps at the
machine, and in words what cannot be done.  Core units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from heldtrue.errors import GeometryError, InputError
from heldtrue.mechanics.jaw_outline import POINTED
from heldtrue.planning import boring_words
from heldtrue.planning.bored_jaws import ring_push
from heldtrue.planning.boring_cutting import BoringForces, left_to_finish
from heldtrue.planning.boring_program import boring_job
from heldtrue.planning.boring_setting import boring_pressure, boring_speed, boring_taper
from heldtrue.planning.boring_stand import bar_of, forces_of, stand_of
from heldtrue.planning.boring_steps import Facts, Step, recut_steps, steps_for
from heldtrue.planning.earlier_steps import depth_fits, pairs_of, planned_depth_of, steps_fit
from heldtrue.planning.groove_job import GrooveCut, groove_cut
from heldtrue.planning.hardware import Hardware, say_in
from heldtrue.planning.inputs import PRACTICE, Job
from heldtrue.planning.jaw_layout import Layout, lay_out, lay_out_used, seat_skim_of
from heldtrue.planning.judge import tolerance_limits
from heldtrue.planning.part_in_nest import clashes
from heldtrue.planning.plan import plan_study
from heldtrue.planning.result import CAUTIONS, State
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import finishing_pressure, gauge_unit_of
from heldtrue.program.job import BoringJob
from heldtrue.quantities import format_quantity
from heldtrue.sentences import in_both_units, sentence
from heldtrue.tooling import bolts, ring
from heldtrue.tooling.blank import Bored, Say, old_bore
from heldtrue.tooling.bore import BoreDesign
from heldtrue.tooling.old_steps import UNKNOWN
from heldtrue.tooling.placing import Placing, Way, way_words
from heldtrue.tooling.recut import Skim, Standing, changed, refit_words, skim
from heldtrue.tooling.ring_strength import Push

BORING_CAUTIONS = (
    "The ring must carry the jaws at the boring pressure before the spindle turns: check all jaws bear on it.",
    "Soft jaws make an interrupted cut: first run with single block, the door shut, low speed.",
    "Touch off on the jaws as they stand on the ring; the program's zero is their finished front face.",
    "The program knows the jaws, ring, bolts and chuck face it was given, and nothing else in the machine.",
)
FOUND_SLACK_MM = 1.0
"""A touched-off diameter may lie this far out of what the record and the stroke allow: burrs, a wrong tag."""
MOST_RUNOUT_MM = 5.0
"""A used bore that runs out more is no bore."""
OVER_RUNNING = 1.1
"""Jaws cut at more than this over the pressure of the run are warned about: common practice, no source."""
RUNOUT_MM = 0.02
"""Run-out to reach where the drawing asks for none: common practice, no source (0.005 to 0.025)."""


@dataclass(frozen=True)
class BorePlan:
    """How to cut one set of jaws.

    ``verdict``: of the plan for the part they are cut for; ``pressure``: gauge [MPa] while they are cut,
    ``pressure_from`` in words; ``taper``: per side over the gripped length, ``taper_from`` in words; ``spindle_limit``
    [rev/min] and what decides it; ``hardware``: what they are cut with; ``placing``, ``ring``, ``design`` and ``job``
    are None where ``refusals`` say why; ``forces``: of the cut with every check, None without a bore or a push on the
    ring; ``tightening`` of the jaw bolts; ``runout``: to reach when they are cut [mm]; ``steps`` at the machine;
    ``words``: the answer; ``notes``; ``assumed``: what was taken for granted; ``warnings``: of the notes those to read
    first; ``groove``: for the ring in the jaw faces, None where it needs none.
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
    forces: BoringForces | None
    tightening: bolts.Tightening
    job: BoringJob | None
    runout: float
    steps: tuple[Step, ...]
    refusals: tuple[str, ...]
    words: tuple[str, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...] = (*CAUTIONS, *BORING_CAUTIONS)
    warnings: tuple[str, ...] = ()
    groove: GrooveCut | None = None

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
    pressed = _pressed(study)
    layout = lay_out(study.job, push=pressed.push)
    last = study.job.setup.jaws.last_cut
    if last is not None:
        why = sentence(
            "this set was cut before, to Ø{}: put it on its ring, touch off a diameter and cut it again from there "
            "(recut)",
            say_in(study.job.setup)(last.diameter),
        )
        layout = replace(layout, refusals=(why, *layout.refusals))
    elif study.job.setup.jaws.cuts_done:
        unknown = (
            "this set was cut before (jaws.cuts_done), and nobody states where: metal of the new bore may be gone; "
            "state jaws.last_cut and cut it again from there (recut), or cuts_done = 0 for a blank"
        )
        layout = replace(layout, refusals=(unknown, *layout.refusals))
    return _plan_of(study, layout, pressed)


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
    pressed = _pressed(study)
    layout, measured = lay_out_used(job, measured_diameter, pressed.push)
    made = _plan_of(study, layout, pressed, runout)
    boring = setup.boring
    least = {} if boring is None or boring.skim is None else {"least": boring.skim}
    pitch = layout.hardware.master.pitch if layout.hardware.master else None
    taken = skim(
        setup.grip.side, measured, target, made.way, seat=seat_skim_of(setup), runout=runout or 0.0,
        uneven=_uneven(layout),
        tooth_step=None if pitch is None else 2 * pitch, say=say, **least,
    )  # fmt: skip
    refusals = made.refusals if taken.cleans else (taken.words[0], *made.refusals)
    strange = () if measured_diameter is None else _not_these_jaws(job, layout, measured_diameter, say)
    if strange:  # what would have to be done with a diameter that cannot be is no advice
        return RecutPlan(setup, measured_diameter, target, True, differs, (), None, None, (), strange)
    return RecutPlan(setup, measured_diameter, target, True, differs, taken.words, taken, made, made.steps, refusals)


def _uneven(layout: Layout) -> float:
    """How much further than where it is touched off first the used bore reaches, as it turns. [mm]"""
    master, blank, chosen = layout.hardware.master, layout.hardware.blank, layout.ring
    if master is None or blank is None or blank.bored is None or chosen is None:
        return 0.0
    old = old_bore(master, blank, blank.bored, chosen.way.tooth, chosen.way.stroke)
    return abs(old.far(1.0) - old.near(1.0))


def _not_these_jaws(job: Job, layout: Layout, measured: float, say: Say) -> tuple[str, ...]:
    """A diameter that the recorded set cannot show on its tooth, wherever in its stroke it stands."""
    last, master, blank = job.setup.jaws.last_cut, layout.hardware.master, layout.hardware.blank
    standing = job.setup.jaws.tooth or (last.tooth if last else None)
    if last is None or last.tooth is None or master is None or blank is None or standing is None:
        return ()
    if standing > len(master.zeros):
        return ()
    as_cut = Bored(last.diameter / 2, 0.0, last.tooth)
    try:
        expected = 2 * old_bore(master, blank, as_cut, standing, 0.0).middle
    except GeometryError:
        return ()  # why these jaws cannot stand there is said elsewhere
    near = master.travel + 2 * FOUND_SLACK_MM
    if abs(measured - expected) <= near:
        return ()
    slips = {"is that the radius?": 2.0, "is that twice the diameter?": 0.5, "was it typed in inch?": 25.4,
             "was it typed in mm?": 1 / 25.4}  # fmt: skip
    hint = next((f"; {words}" for words, factor in slips.items() if abs(measured * factor - expected) <= near), "")
    return (
        sentence(
            "Ø{} cannot be these jaws on this tooth: cut to Ø{} on {}, on {} they show Ø{} at mid-stroke, "
            "give or take {}; look at set, tooth and number again{}",
            say(measured),
            say(last.diameter),
            last.tooth,
            standing,
            say(expected),
            say(master.travel),
            hint,
        ),
    )


@dataclass(frozen=True)
class _Pressed:
    """The pressure while the jaws are cut [MPa], where it comes from, that of the finish, the most the run has, and the
    push on the ring.

    ``verdict``: of the plan of the part.
    """

    verdict: State
    pressure: float
    pressure_from: str
    finishing: float
    running: float
    push: Push


def _pressed(study: Study) -> _Pressed:
    plan = plan_study(study, helped=False)
    pressure, said = boring_pressure(study, plan.pressure)
    stated = study.job.setup.stated_pressure
    steps = [step.recommended for step in plan.pressure.steps if step.recommended is not None]
    running = stated if stated is not None else max(steps, default=pressure)
    finishing = finishing_pressure(study, plan.pressure)[0]
    return _Pressed(plan.verdict, pressure, said, finishing, running, ring_push(study, pressure))


def _plan_of(study: Study, layout: Layout, pressed: _Pressed, runout_found: float | None = None) -> BorePlan:
    job, setup = study.job, study.job.setup
    hardware, pressure = layout.hardware, pressed.pressure
    warnings = _warnings(study, pressed)
    refusals = [*_over_the_plate(study, pressure), *layout.refusals]
    no_push = study.least_grip(study.worst, pressure) <= 0
    if no_push:
        refusals.append("the jaws do not push on the ring at that pressure: it is all lost before they grip")
    taper, taper_from = boring_taper(study, layout, pressure, pressed.finishing)
    try:
        made = layout.design(taper, say_in(setup))
    except GeometryError as error:
        made = None
        refusals.append(error.args[0])
    if made is not None:
        refusals += clashes(job, made, hardware.tool.nose_radius, say_in(setup))
    refusals += _last_cut_unknown(setup, hardware)
    limit, limit_by = boring_speed(study, pressure)
    tightening = bolts.tightening(hardware.bolt.name, hardware.bolt_class)
    runout = _allowed_runout(job) or RUNOUT_MM
    facts = Facts(setup, pressure, limit, layout.placing, layout.ring, made, tightening, runout, hardware.tool.name,
                  left_to_finish(setup.boring))  # fmt: skip
    forces, cut, groove = None, None, None
    if made is not None and layout.ring is not None and not no_push:
        forces = forces_of(study, layout, made, pressure, limit, runout_found)
        bar = bar_of(setup, hardware.tool)
        refusals += in_both_units(lambda units: boring_words.refusals(forces, bar, units), setup.units)
        facts = replace(facts, bar_gives=boring_words.off_by_bar(forces))
        if not refusals:
            cut = boring_job(setup, hardware, made, facts, forces.cutting)
            if layout.ring.groove is not None:
                stand = stand_of(study, layout, made, pressure, runout_found)
                groove = groove_cut(facts, made, cut, stand)
                refusals += groove.refusals
                facts = replace(facts, groove_has_program=groove.work is not None)
                cut = None if groove.refusals else cut
    return BorePlan(
        setup=setup, verdict=pressed.verdict, pressure=pressure, pressure_from=pressed.pressure_from, taper=taper,
        taper_from=taper_from, spindle_limit=limit, spindle_limit_by=limit_by, hardware=hardware,
        placing=layout.placing, ring=layout.ring, design=made, forces=forces, tightening=tightening,
        job=cut, runout=runout,
        steps=steps_for(facts) if cut is not None else (), refusals=tuple(refusals),
        words=_words(layout, setup),
        notes=(*warnings, *_notes(setup, layout, made), *_force_notes(forces, setup, hardware),
               *(groove.notes if groove is not None else ())),
        assumed=_assumed(setup, hardware), warnings=warnings, groove=groove,
    )  # fmt: skip


def _last_cut_unknown(setup: Setup, hardware: Hardware) -> tuple[str, ...]:
    """What of the last cut nobody stated and no worst case covers: where its metal begins, and where it may be gone."""
    last, found = setup.jaws.last_cut, []
    if hardware.blank is None or hardware.blank.bored is None:
        return ()
    if last is None or last.depth is None:
        found.append("it is not known how deep these jaws were bored last, and the program takes that for air: measure "
                     "front to seat, and state jaws.last_cut.depth")  # fmt: skip
    if last is None or last.steps is None:
        found.append(f"{UNKNOWN}: look at them, and state jaws.last_cut.steps, empty where the bore is one diameter")
    return tuple(found)


def _words(layout: Layout, setup: Setup) -> tuple[str, ...]:
    """Where the jaws stand and on which ring."""
    placing, chosen, say = layout.placing, layout.ring, say_in(setup)
    if placing is None or chosen is None or placing.best is None:
        return placing.words if placing else ()
    words = [way_words(placing.word, chosen.way, say)]
    best = placing.best
    if best.tooth != chosen.way.tooth:
        words.append(
            sentence(
                "the ring asks for {} {} and leaves {} cuts; {} {} with a ring to turn would leave "
                "{} cuts and {} both ways, which is not worth a ring",
                placing.word,
                chosen.way.tooth,
                chosen.way.cuts_words,
                placing.word,
                best.tooth,
                best.cuts_words,
                say(best.stroke_left),
            )
        )
    return (*words, chosen.words, *placing.words[1:])


def _warnings(study: Study, pressed: _Pressed) -> tuple[str, ...]:
    """What must be read before the jaws are cut."""
    words, setup, verdict = [], study.job.setup, pressed.verdict
    if verdict != "passes":
        words.append(f"the plan of the part itself {'is ' if verdict == 'not proven' else ''}{verdict}: see why before "
                     "it is run in these jaws")  # fmt: skip
    if pressed.pressure > OVER_RUNNING * pressed.running:
        at, run = (_gauge(setup, value) for value in (pressed.pressure, pressed.running))
        words.append(f"the jaws are cut at {at}, and the part runs at {run}: they lean on the ring as they will not "
                     f"on the part; cut them at {run}")  # fmt: skip
    return tuple(words)


def _over_the_plate(study: Study, pressure: float) -> tuple[str, ...]:
    """The boring pressure against the plates of chuck and cylinder."""
    setup = study.job.setup
    most, found = setup.chuck.max_grip_force, study.job.static_grip(study.likely, pressure)
    if found > most * study.likely["grip share"]:
        plate = format_quantity(most, "force", setup.units)
        return (f"{_gauge(setup, pressure)} while the jaws are cut is over the plate of the chuck, whose greatest grip "
                f"is {plate}; cut them at a lower pressure",)  # fmt: skip
    return ()


def _gauge(setup: Setup, pressure: float) -> str:
    return format_quantity(pressure, "pressure", setup.units, unit=gauge_unit_of(setup))


def _notes(setup: Setup, layout: Layout, made: BoreDesign | None) -> tuple[str, ...]:
    words: list[str] = []
    blank = layout.hardware.blank
    tips = blank is not None and blank.inner_end == POINTED and setup.grip.side == "outside"
    if tips and layout.ring is not None and layout.ring.groove is None:
        words.append("pointed jaws bear on the ring with their tips alone: break the tips flat before it is clamped")
    words += made.notes if made else layout.sizes.notes if layout.sizes else ()
    if layout.ring is not None:
        words += layout.ring.way.notes
    if made is not None and setup.jaws.bore_diameter is None:
        words.append("bored for the middle of the part's tolerance: shops differ on a little larger or smaller; the "
                     "contact of part and jaws shows what either does, jaws.bore_diameter chooses")  # fmt: skip
    return tuple(words)


def _force_notes(forces: BoringForces | None, setup: Setup, hardware: Hardware) -> tuple[str, ...]:
    if forces is None:
        return ()
    bar = bar_of(setup, hardware.tool)
    return in_both_units(lambda units: boring_words.notes(forces, bar, units), setup.units)


def _assumed(setup: Setup, hardware: Hardware) -> tuple[str, ...]:
    found = list(hardware.assumed)
    boring, machine = setup.boring, setup.machine
    if hardware.blank is not None and hardware.blank.bored is not None and setup.jaws.last_cut is None:
        found.append("the old bore is round about the axis where it stands now, and has no steps: no last cut is "
                     "recorded, look at it")  # fmt: skip
    if boring is None or None in (boring.surface_speed, boring.pass_depth, boring.rough_feed, boring.finish_feed):
        found.append(f"cutting speed, feeds and depth of cut where none is stated; {PRACTICE}")
    if machine is None or machine.x_travel is None or machine.z_travel is None:
        found.append("travel of the tool: nothing is stated, the program's check of travel says nothing")
    return tuple(found)


def _allowed_runout(job: Job) -> float | None:
    """Run-out the holding may use of the tightest on the drawing. [mm]"""
    asked = [surface.runout for surface in job.setup.surfaces if surface.runout is not None]
    return tolerance_limits(job, "runout", min(asked))[0] if asked else None


def _differs(setup: Setup, target: float) -> tuple[str, ...]:
    last, jaws = setup.jaws.last_cut, setup.jaws
    assert last is not None
    machine = setup.machine.name if setup.machine else ""
    steps = pairs_of(last.steps)
    fits = None if steps is None else steps_fit(setup, steps)
    found = changed(
        Standing(last.chuck, last.machine, last.tooth, None, last.diameter, fits),
        Standing(setup.chuck.number, machine, jaws.tooth, jaws.in_order, target),
        say_in(setup),
    )
    if depth_fits(setup, last.depth) or last.depth is None:
        return found
    say = say_in(setup)
    return (*found, sentence("cut {} deep, wanted {}", say(last.depth), say(planned_depth_of(setup))))
