"""The pressure window, the speed limit and the map over both: the judge's own checks, turned round."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning import judge
from heldtrue.planning.corners import FORMS, STRENGTHS
from heldtrue.planning.gauge_words import PRESSURE_PLACES
from heldtrue.planning.hold_bounds import hold_bounds
from heldtrue.planning.holds import HeldLoad, is_spin_up
from heldtrue.planning.inputs import Job
from heldtrue.planning.judge import LEAST_GRIP_LEFT, Setting, Step
from heldtrue.planning.loads import plate_speed
from heldtrue.planning.result import PressureAdvice, PressureStep, SpeedAdvice, WindowMap
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.quantities import from_core, to_core

Array = NDArray[np.float64]
Limit = tuple[float, str]

GAUGE_STEP = {"bar": 0.5, "psi": 5.0, "MPa": 0.05, "kgf/cm2": 0.5}
"""What can be set and read on a gauge."""
MAP_POINTS = 100
NODE_SHARES, QUICK_SHARES = (0.02, 0.06, 0.15, 0.35, 0.65, 1.0), (0.06, 0.15, 0.35, 1.0)
"""Shares of the highest pressure at which the judge is asked about form, marking and yield; of a knob fewer."""
CLOSE, NEARLY_THERE = 2e-3, 0.9995
"""A ceiling is found to this margin, aiming just below the crossing."""
MOST_TRIES = 12


def gauge_unit_of(setup: Setup) -> str:
    """Unit of the gauge the setter reads."""
    return setup.chuck.actuator.gauge or ("psi" if setup.units == "inch" else "bar")


def advise_pressure(study: Study) -> PressureAdvice:
    """Floor, ceiling and recommended pressure: one step, else two, else none and which limits collide."""
    together, *apart = _possible(study.job.setup)
    steps: tuple[PressureStep, ...] = (_advise(study, together),)
    if steps[0].recommended is None and apart:
        steps = tuple(_advise(study, step) for step in apart)
    first = steps[0]
    stated = study.job.setup.stated_pressure
    used = stated if stated is not None else _tried(study, first)
    return PressureAdvice(first.floor, first.ceiling, first.recommended, steps, used)


def finishing_pressure(study: Study, advice: PressureAdvice | None = None) -> tuple[float, str]:
    """Gauge pressure of the finish [MPa] and where it comes from: stated for the run, else advised.

    ``advice``: where it is known already.
    """
    stated = study.job.setup.stated_pressure
    if stated is not None:
        return stated, "stated"
    advice = advise_pressure(study) if advice is None else advice
    step = advice.steps[-1]
    if step.recommended is None:
        least = setting_of(study, advice).finishing
        return least, "the least that holds as far as the plates go: no pressure is advised"
    return step.recommended, "advised" if len(advice.steps) == 1 else f"advised, {step.name}"


def every_step(study: Study, advice: PressureAdvice) -> tuple[PressureStep, ...]:
    """The window of every step that the job could be run in: all cuts at one pressure, and roughing and finishing."""
    known = {step.name: step for step in advice.steps}
    return tuple(known.get(step.name) or _advise(study, step) for step in _possible(study.job.setup))


def _possible(setup: Setup) -> tuple[Step, ...]:
    """All cuts at one pressure; and, where there are both, roughing and finishing, each at its own."""
    rough = tuple(cut.name for cut in setup.cuts if not cut.finishing)
    finish = tuple(cut.name for cut in setup.cuts if cut.finishing)
    together = Step("all cuts", tuple(cut.name for cut in setup.cuts), True)
    return (together, Step("rough", rough, False), Step("finish", finish, True)) if rough and finish else (together,)


def steps_of(study: Study, advice: PressureAdvice) -> tuple[Step, ...]:
    """The steps of an advice as the judge takes them."""
    return tuple(Step(step.name, step.cuts, step.finished) for step in advice.steps)


def setting_of(study: Study, advice: PressureAdvice) -> Setting:
    """What is set at the machine under an advice; a stated pressure holds for every step."""
    stated = study.job.setup.stated_pressure
    pressures = [stated if stated is not None else _tried(study, step) for step in advice.steps]
    return Setting(tuple(zip(steps_of(study, advice), pressures, strict=True)), study.speed)


def _tried(study: Study, step: PressureStep) -> float:
    """The pressure a step is checked at: recommended, or the least that holds as far as the plates go."""
    if step.recommended is not None:
        return step.recommended
    return min(step.floor, highest_pressure(study)[0])


def _advise(study: Study, step: Step) -> PressureStep:
    steady = steady_floor(study.job), "steady pressure"
    floor, floor_by = max([steady, *floors(study, step, study.speed, study.held)], key=lambda limit: limit[0])
    ceiling, ceiling_by = _ceiling(study, step)
    recommended = None
    if floor <= ceiling:
        aim = floor + min((ceiling - floor) / 2, floor / 2)
        recommended = _settable(aim, floor, ceiling, gauge_unit_of(study.job.setup))
        if recommended is not None and not judge.is_held(study, step, recommended, study.speed):
            recommended = None
    return PressureStep(step.name, step.cuts, step.finished, floor, floor_by, ceiling, ceiling_by, recommended)


def steady_floor(job: Job) -> float:
    """Least gauge pressure that the cylinder holds steadily, with the gauge's error at its bad end. [MPa]"""
    return job.known["least pressure"].worst - job.known["gauge error"].worst


def _settable(pressure: float, floor: float, ceiling: float, unit: str) -> float | None:
    """The nearest mark of the gauge well inside the window; in a narrow one the pressure itself as it can be read, and
    None where no pressure that can be read lies inside."""
    step = GAUGE_STEP[unit]
    clear = min((ceiling - floor) / 5, to_core(step / 2, "pressure", unit))
    for marks in (step, step / 5, 10.0 ** -PRESSURE_PLACES[unit]):
        rounded = to_core(round(from_core(pressure, "pressure", unit) / marks) * marks, "pressure", unit)
        if floor + clear <= rounded <= ceiling - clear:
            return rounded
    return rounded if floor <= rounded <= ceiling else None


def floors(study: Study, step: Step, speed_rpm: float, held_loads: Iterable[HeldLoad]) -> list[Limit]:
    """Least gauge pressure at which each check of a step passes that speed may move, and the check's name. [MPa]"""
    job, holds, found = study.job, study.holds, []
    for held in held_loads:
        if held.name in step.cuts or is_spin_up(held.name):
            published = job.pressure_for(holds.published, held.published.needs)
            found.append((max(published, _worst_pressure(study, held.worst.needs), 0.0), f"hold: {held.name}"))
    if job.grip_is_outside:
        static = study.centrifugal(study.worst, speed_rpm) / (1 - LEAST_GRIP_LEFT)
        found.append((max(_worst_pressure(study, static), 0.0), "grip left at speed"))
    return found


def _worst_pressure(study: Study, grip: float) -> float:
    """Gauge pressure that gives a static grip [N] with every input at its worst. [MPa]"""
    threshold = study.job.known["threshold"]
    return max(
        study.job.pressure_for({**study.worst, "threshold": end}, grip) for end in (threshold.low, threshold.high)
    )


def highest_pressure(study: Study) -> Limit:
    """The most that the plates of chuck and cylinder allow, gauge error and piston area at their bad ends. [MPa]"""
    job, chuck, known = study.job, study.job.setup.chuck, study.job.known
    limits = [(chuck.max_draw_force * known["height share"].worst / known["piston area"].high, "draw force")]
    for name, value in (("cylinder pressure", chuck.actuator.max_pressure), ("chuck pressure", chuck.max_pressure)):
        if value is not None:
            limits.append((value, name))
    pressure, name = min(limits, key=lambda limit: limit[0])
    return max(pressure - job.known["gauge error"].best, 0.0), name


def _ceiling(study: Study, step: Step) -> Limit:
    """The highest pressure up to which every falling check of a step passes, and the check that ends it. [MPa]

    Checks are asked at a few pressures; where one does not pass, its crossing nearest to no pressure is closed in on.
    """
    kinds = (STRENGTHS, FORMS) if step.finished else (STRENGTHS,)
    unknown = [kind for kind in kinds if kind not in study.crossings]
    if unknown:
        judge.prepare(study, unknown, nodes(study).tolist(), study.speed)
    found = [highest_pressure(study), *(_crossing(study, kind) for kind in kinds)]
    return min(found, key=lambda limit: limit[0])


def _crossing(study: Study, kind: str) -> Limit:
    """Where the least margin of one kind of checks first falls below 0; infinite where it does not."""
    if kind not in study.crossings:
        study.crossings[kind] = _looked_for(study, kind)
    return study.crossings[kind]


def _looked_for(study: Study, kind: str) -> Limit:
    at = nodes(study)
    tried = [(0.0, 1.0, "")]
    for pressure in at:
        tried.append((float(pressure), *tightest(study, kind, float(pressure))))
        if tried[-1][1] < -judge.ROUNDING:
            break
    else:
        return inf, ""
    (low, below, _), (high, above, name) = tried[-2:]
    if study.is_quick:
        return low + (high - low) * below / (below - above), name
    for _ in range(MOST_TRIES):
        # A margin is nearly straight in the pressure; staying off the ends keeps the bracket shrinking where it is not.
        share = min(max(below / (below - above), 0.02), 0.98)
        pressure = low + (high - low) * share * NEARLY_THERE
        margin, here = tightest(study, kind, pressure)
        if margin >= -judge.ROUNDING:
            low, below = pressure, margin
            if margin < CLOSE:
                break
        else:
            high, above, name = pressure, margin, here
    return low, name


def nodes(study: Study) -> Array:
    """The pressures at which every kind of check is asked. [MPa]"""
    shares = QUICK_SHARES if study.is_quick else NODE_SHARES
    return np.array(shares) * max(highest_pressure(study)[0], 1e-6)


def tightest(study: Study, kind: str, pressure: float) -> tuple[float, str]:
    """Least margin of one kind of checks at a pressure and the job's spindle limit, and the check that has it."""
    ask = judge.forms if kind == FORMS else judge.strengths
    checks = list(ask(study, pressure, study.speed, explained=False))
    worst = min(checks, key=lambda check: round(check.margin, 6), default=None)
    return (inf, "") if worst is None else (worst.margin, worst.name)


def advise_speed(study: Study, setting: Setting) -> SpeedAdvice:
    """The spindle limit to write, and the top speed: the highest at which every check of the setting still passes."""
    job, setup = study.job, study.job.setup
    limits: list[tuple[str, float]] = [("plate of the chuck", setup.chuck.max_speed_rpm)]
    if setup.machine is not None and setup.machine.max_speed_rpm is not None:
        limits.append(("plate of the machine", setup.machine.max_speed_rpm))
    plates = plate_speed(job)

    def blocks(speed: float) -> str:
        """What does not pass at a spindle limit; empty where all does."""
        return _blocked_by(study, setting, speed, study.holds.near(speed))

    def may_block(speed: float) -> str:
        """The same, but for which of them is the worst: from what is known already, where that is enough."""
        bounds = None if study.is_quick else hold_bounds(study.holds, speed)
        if bounds is not None:
            at_least, at_most = (_blocked_by(study, setting, speed, held) for held in bounds)
            if at_least or not at_most:
                return at_least
        return blocks(speed)

    why = may_block(plates)
    if why:
        at_job = may_block(study.speed) if study.speed < plates else why
        low, high = (0.0, min(study.speed, plates)) if at_job else (study.speed, plates)
        for _ in range(10):
            middle = (low + high) / 2
            here = may_block(middle)
            low, high, why = (low, middle, here) if here else (middle, high, why)
        why = blocks(high) or why
        limits.append(("a third of the grip left" if why == "grip left at speed" else why, low))
    top_reason, highest = min(limits, key=lambda limit: limit[1])
    top = float(np.floor(max(highest, 0.0) / 10 + 1e-9) * 10)
    if setting.speed_rpm > top:
        return SpeedAdvice(top, f"{top_reason}; the job asks for {setting.speed_rpm:.0f} rev/min", top, top_reason,
                           tuple(limits))  # fmt: skip
    stated = setup.run is not None and setup.run.speed_rpm is not None
    reason = "stated for this run" if stated else "enough for every cut"
    return SpeedAdvice(setting.speed_rpm, reason, top, top_reason, tuple(limits))


def _blocked_by(study: Study, setting: Setting, speed: float, held: Sequence[HeldLoad]) -> str:
    """What of the loads, held as they are, does not pass at a spindle limit; empty where all does."""
    for step, pressure in setting.steps:
        floor, name = max(floors(study, step, speed, held), key=lambda limit: limit[0])
        if floor > pressure + judge.ROUNDING:
            return name
    return ""


def window_map(study: Study, points: int = MAP_POINTS) -> WindowMap:
    """Margin over pressure and spindle limit: of everything that lets go, and of everything that spoils the part.

    The loads are those of the job's own speeds; what presses is asked of the judge at a few pressures.
    """
    job, holds = study.job, study.holds
    ceiling = highest_pressure(study)[0]
    pressure, speed = np.linspace(0.0, ceiling * 1.1, points), np.linspace(0.0, plate_speed(job), points)
    published = np.array([job.static_grip(holds.published, float(p)) for p in pressure])
    worst = np.array([study.least_grip(study.worst, float(p)) for p in pressure])
    least: Array = np.full((points, points), inf)
    for held in study.held:
        for static, case in ((published, held.published), (worst, held.worst)):
            own = speed if is_spin_up(held.name) else np.minimum(speed, case.load.speed_rpm)
            needs = holds.needs_at(case, own, published=case is held.published)
            least = np.minimum(least, static[:, None] / np.maximum(needs, 1e-9)[None, :] - 1)
    if job.grip_is_outside:
        pull = study.centrifugal(study.worst, 1.0) * speed**2
        static = np.maximum(worst, 1e-9)[:, None]
        least = np.minimum(least, np.maximum(1 - pull[None, :] / static, -1.0) / LEAST_GRIP_LEFT - 1)
    return WindowMap(pressure, speed, least, _true(study, pressure, speed))


def _true(study: Study, pressure: Array, speed: Array) -> Array:
    """Margin of form, marking, yield and plates over pressure and speed; straight between the pressures asked.

    An inside grip presses harder at speed: a margin belongs to the grip that presses, whatever pressure and speed
    give it.
    """
    job, at = study.job, nodes(study)
    judge.prepare(study, (STRENGTHS, FORMS), at.tolist(), study.speed)
    static = np.array([study.most_grip(study.best, float(p)) for p in pressure])
    heavy = {"jaw moment": job.known["jaw moment"].high}
    gain = 0.0 if job.grip_is_outside else study.centrifugal(heavy, 1.0)
    least: Array = np.full((len(pressure), len(speed)), inf)
    for kind, up_to in ((STRENGTHS, study.speed), (FORMS, study.finishing_speed())):
        # The crossing of a quick study comes from a straight line between these pressures, and would say nothing new.
        crossing = inf if study.is_quick else _crossing(study, kind)[0]
        asked = sorted([*at, *([crossing] if crossing < inf else [])])
        margins = [tightest(study, kind, float(p))[0] for p in asked]
        if not np.isfinite(margins).all():
            continue
        grips = [study.most_grip(study.best, float(p)) + gain * up_to**2 for p in asked]
        turning = speed if kind == STRENGTHS else np.minimum(speed, up_to)
        pressing = static[:, None] + gain * turning[None, :] ** 2
        least = np.minimum(least, np.asarray(np.interp(pressing, [0.0, *grips], [1.0, *margins])))
    # The margin of every plate falls in a straight line with the pressure.
    ends = np.array([[c.margin for c in judge.plates(job, end, 0.0)] for end in (0.0, float(pressure[-1]))])
    plates = (ends[0] + np.outer(pressure / pressure[-1], ends[1] - ends[0])).min(axis=1)
    return np.asarray(np.minimum(least, plates[:, None]))
