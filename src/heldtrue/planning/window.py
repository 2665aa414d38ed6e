"""The pressure window, the speed limit and the map over both."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning.checks import LEAST_GRIP_LEFT, Setting, marking_limit
from heldtrue.planning.inputs import safety_factor, tolerance_share
from heldtrue.planning.loads import SPIN_UP, asked_speed, job_speed, plate_speed
from heldtrue.planning.other_grip import grips
from heldtrue.planning.result import PressureAdvice, PressureStep, SpeedAdvice, WindowMap
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import HeldLoad, Study
from heldtrue.quantities import from_core, to_core

Array = NDArray[np.float64]
Limit = tuple[float, str]

GAUGE_STEP = {"bar": 0.5, "psi": 5.0, "MPa": 0.05, "kgf/cm2": 0.5}
"""What can be set and read on a gauge."""
MAP_POINTS = 100


def gauge_unit_of(setup: Setup) -> str:
    """Unit of the gauge the setter reads."""
    return setup.chuck.actuator.gauge or ("psi" if setup.units == "inch" else "bar")


def advise_pressure(study: Study) -> PressureAdvice:
    """Floor, ceiling and recommended pressure: one step, else two, else none and what would bring one nearer."""
    cuts = study.job.setup.cuts
    rough = [cut.name for cut in cuts if not cut.finishing]
    finish = [cut.name for cut in cuts if cut.finishing]
    steps: tuple[PressureStep, ...] = (_step(study, "all cuts", [cut.name for cut in cuts], finished=True),)
    if steps[0].recommended is None and rough and finish:
        steps = (_step(study, "rough", rough, finished=False), _step(study, "finish", finish, finished=True))
    if any(step.recommended is None for step in steps):
        # A pressure for one step alone would read as if the job were solved.
        steps = tuple(replace(step, recommended=None) for step in steps)
    first = steps[0]
    reason, openers = _reason(study, steps)
    run = study.job.setup.run
    stated = run.pressure if run is not None else None
    used = stated if stated is not None else _try_at(study, first)
    return PressureAdvice(first.floor, first.ceiling, first.recommended, reason, steps, used, openers)


def setting_of(study: Study, advice: PressureAdvice) -> Setting:
    """What is set at the machine under an advice; a stated pressure holds for every cut."""
    run = study.job.setup.run
    stated = run.pressure if run is not None else None
    tried = [stated if stated is not None else _try_at(study, step) for step in advice.steps]
    pressures = {cut: tried[i] for i, step in enumerate(advice.steps) for cut in step.cuts}
    return Setting(pressures, tried[-1], job_speed(study.job))


def _try_at(study: Study, step: PressureStep) -> float:
    """The pressure a step is checked at: recommended, or the least that holds as far as the plates go."""
    if step.recommended is not None:
        return step.recommended
    return min(step.floor, _plate_ceiling(study)[0])


def _step(study: Study, name: str, cuts: Sequence[str], *, finished: bool) -> PressureStep:
    floor, floor_by = max(_floors(study, cuts), key=lambda limit: limit[0])
    ceiling, ceiling_by = min(_ceilings(study, finished=finished), key=lambda limit: limit[0])
    recommended = None
    if floor <= ceiling:
        recommended = _settable(
            floor + min((ceiling - floor) / 2, floor / 2), floor, ceiling, gauge_unit_of(study.job.setup)
        )
    return PressureStep(name, tuple(cuts), floor, floor_by, ceiling, ceiling_by, recommended)


def _settable(pressure: float, floor: float, ceiling: float, unit: str) -> float:
    """The nearest mark of the gauge well inside the window, or the pressure itself in a window narrower than a mark."""
    step = GAUGE_STEP[unit]
    clear = min((ceiling - floor) / 5, to_core(step / 2, "pressure", unit))
    for marks in (step, step / 5):
        rounded = to_core(round(from_core(pressure, "pressure", unit) / marks) * marks, "pressure", unit)
        if floor + clear <= rounded <= ceiling - clear:
            return rounded
    return pressure


def _floors(study: Study, cuts: Iterable[str]) -> list[Limit]:
    job = study.job
    safety, _ = safety_factor(job)
    wanted = {*cuts, SPIN_UP}
    found = [
        (needed_pressure(study, held, safety), f"hold: {held.load.name}")
        for held in study.held
        if held.load.name in wanted
    ]
    known = job.known["least pressure"]
    found.append((known.worst, "steady pressure"))
    if job.grip_is_outside:
        static = study.centrifugal(study.worst, job_speed(job)) / (1 - LEAST_GRIP_LEFT)
        found.append((job.pressure_for(study.worst, static), "grip left at speed"))
    return found


def needed_pressure(study: Study, held: HeldLoad, safety: float) -> float:
    """Least pressure that holds one load at its own speed with that factor, at the worst of every unknown. [MPa]"""
    grip = held.limit.required(safety)
    if study.job.grip_is_outside:
        grip += study.centrifugal(study.worst, held.load.speed_rpm)
    return study.job.pressure_for(study.worst, grip)


def _plate_ceiling(study: Study) -> Limit:
    """The most that the plates of chuck and cylinder allow."""
    job, chuck = study.job, study.job.setup.chuck
    limits = [(chuck.max_draw_force * job.known["height share"].worst / job.known["piston area"].best, "draw force")]
    for where, value in (
        ("cylinder pressure", chuck.actuator.max_pressure),
        ("chuck pressure", chuck.max_pressure),
    ):
        if value is not None:
            limits.append((value, where))
    return min(limits, key=lambda limit: limit[0])


def _ceilings(study: Study, *, finished: bool) -> list[Limit]:
    job = study.job
    limits = job.setup.limits
    found = [_plate_ceiling(study)]
    if limits is None or not limits.marking_allowed:
        grip = _crossing(
            study, [e.peak_pressure for e in study.tabulated_blank], marking_limit(job.known["yield"].worst)
        )
        found.append((_pressure_under(study, grip, job_speed(job)), "marking"))
    for name, stress in study.blank_stress.items():
        grip = job.known[f"{name} yield"].worst / stress if stress > 0 else inf
        found.append((_pressure_under(study, grip, job_speed(job)), f"yield: {name}"))
    if finished:
        speed = study.finishing_speed()
        for limit, values, name in form_limits(study):
            found.append((_pressure_under(study, _crossing(study, values, limit), speed), name))
    return found


def form_limits(study: Study) -> list[tuple[float, list[float], str]]:
    """Every tolerance in force: its limit [mm], the form over the tabulated grips, and the check's name."""
    found = []
    for i, surface in enumerate(study.job.setup.surfaces):
        for tolerance in ("roundness", "cylindricity", "flatness", "runout"):
            asked = getattr(surface, tolerance)
            if asked is None:
                continue
            limit = asked * tolerance_share(study.job, "run-out" if tolerance == "runout" else "form")
            values = [getattr(elastic.forms[i], tolerance) for elastic in study.tabulated]
            found.append((limit, values, f"{tolerance}: {surface.name}"))
    return found


def _crossing(study: Study, values: Sequence[float], limit: float) -> float:
    """The grip at which tabulated values first pass a limit, straight between the levels. [N]"""
    grips = [0.0, *(elastic.grip for elastic in study.tabulated)]
    heights = [0.0, *values]
    for k in range(1, len(grips)):
        if heights[k] > limit:
            step = heights[k] - heights[k - 1]
            share = (limit - heights[k - 1]) / step if step > 0 else 0.0
            return grips[k - 1] + max(share, 0.0) * (grips[k] - grips[k - 1])
    return inf


def _pressure_under(study: Study, grip: float, speed_rpm: float) -> float:
    """Highest pressure whose greatest grip stays under ``grip``. [MPa]"""
    if grip == inf:
        return inf
    if not study.job.grip_is_outside:
        grip -= study.centrifugal(study.worst, speed_rpm)
    return study.job.pressure_for(study.best, max(grip, 0.0))


def _reason(study: Study, steps: Sequence[PressureStep]) -> tuple[str, tuple[str, ...]]:
    if all(step.recommended is not None for step in steps):
        if len(steps) == 2:
            return (
                f"two pressures: roughing needs more than '{steps[1].ceiling_by}' lets the finish have; "
                "rough, stop, release, clamp again lower, finish",
                (),
            )
        return f"between '{steps[0].floor_by}' and '{steps[0].ceiling_by}'", ()
    closed = max(steps, key=lambda step: step.floor / step.ceiling if step.ceiling > 0 else inf)
    ratio = closed.floor / closed.ceiling if closed.ceiling > 0 else inf
    times = f"{ratio:.3g} times" if ratio < 100 else "over a hundred times"
    reason = f"no window: '{closed.floor_by}' needs {times} the pressure that '{closed.ceiling_by}' allows"
    return reason, _openers(study, closed)


def _openers(study: Study, closed: PressureStep) -> tuple[str, ...]:
    """What would bring floor and ceiling nearer here, the strongest first; none of it is worked out."""
    setup, found = study.job.setup, []
    plate = closed.ceiling_by in ("draw force", "cylinder pressure", "chuck pressure")
    if not plate and setup.jaws.style != "pie":
        found.append("more wrap: pie jaws bored to the part")
    if not plate and study.job.jaws < 6:
        found.append("six jaws instead of " + str(study.job.jaws))
    if closed.floor_by.startswith("hold: ") and closed.floor_by != f"hold: {SPIN_UP}":
        found.append(f"a lighter cut than {closed.floor_by.removeprefix('hold: ')!r}")
        held = next(h for h in study.held if f"hold: {h.load.name}" == closed.floor_by)
        if held.limit.failure in ("tip", "lift"):
            found.append("a longer grip, or a centre")
    if study.job.known["friction"].is_open or study.job.known["grip share"].is_open:
        found.append("measured friction and grip: both are taken at their worst")
    if not plate and len(grips(setup)) > 1:
        found.append("gripping on the other side")
    if closed.floor_by == "grip left at speed":
        found.append("a lower speed or lighter jaws")
    return tuple(found)


def advise_speed(study: Study, setting: Setting) -> SpeedAdvice:
    """The spindle limit to write, and the top speed: plates, jaws that lose grip, every load at its pressure."""
    job, setup = study.job, study.job.setup
    limits: list[tuple[str, float]] = [("plate of the chuck", setup.chuck.max_speed_rpm)]
    if setup.machine is not None and setup.machine.max_speed_rpm is not None:
        limits.append(("plate of the machine", setup.machine.max_speed_rpm))
    if job.grip_is_outside:
        safety, _ = safety_factor(job)
        static = job.static_grip(study.worst, setting.lowest)
        limits.append(("a third of the grip left", _speed_at(study, static * (1 - LEAST_GRIP_LEFT))))
        asked = {cut.name: asked_speed(job, cut) for cut in setup.cuts}
        for held in study.held:
            spare = job.static_grip(study.worst, setting.pressure(held.load.name)) - held.limit.required(safety)
            holds_to = _speed_at(study, spare)
            if asked.get(held.load.name, inf) > holds_to:
                limits.append((f"hold: {held.load.name}", holds_to))
    top_reason, highest = min(limits, key=lambda limit: limit[1])
    top = float(np.floor(max(highest, 0.0) / 10 + 1e-9) * 10)
    if setting.speed_rpm > top:
        return SpeedAdvice(
            top,
            f"{top_reason}; the job asks for {setting.speed_rpm:.0f} rev/min",
            top,
            top_reason,
            tuple(limits),
        )
    stated = setup.run is not None and setup.run.speed_rpm is not None
    reason = "stated for this run" if stated else "enough for every cut"
    return SpeedAdvice(setting.speed_rpm, reason, top, top_reason, tuple(limits))


def _speed_at(study: Study, centrifugal: float) -> float:
    """Speed at which all jaws together pull that much. [rev/min]"""
    at_thousand = study.centrifugal(study.worst, 1000.0)
    return float(1000 * np.sqrt(max(centrifugal, 0.0) / at_thousand))


def window_map(study: Study, points: int = MAP_POINTS) -> WindowMap:
    """Margin over pressure and spindle limit: of everything that lets go, and of everything that spoils the part."""
    job = study.job
    safety, _ = safety_factor(job)
    pressure = np.linspace(0.0, _plate_ceiling(study)[0] * 1.1, points)
    speed = np.linspace(0.0, plate_speed(job), points)
    moment = study.centrifugal(study.worst, 1.0)
    static = np.array([job.static_grip(study.worst, float(p)) for p in pressure])[:, None]
    most = np.array([job.static_grip(study.best, float(p)) for p in pressure])[:, None]

    holds: Array = np.full((points, points), inf)
    for held in study.held:
        own = speed if held.load.name == SPIN_UP else np.minimum(speed, held.load.speed_rpm)
        pull = moment * own**2 if job.grip_is_outside else np.zeros(points)
        holds = np.minimum(holds, held.limit.factor * np.maximum(static - pull, 0.0) / safety - 1)
    if job.grip_is_outside:
        with np.errstate(divide="ignore", invalid="ignore"):
            left = np.where(static > 0, 1 - moment * speed**2 / static, 0.0)
        holds = np.minimum(holds, left / LEAST_GRIP_LEFT - 1)

    true: Array = np.full((points, points), inf)
    grips = [0.0, *(elastic.grip for elastic in study.tabulated)]
    spoils = [(limit, values, study.finishing_speed()) for limit, values, _ in form_limits(study)]
    if job.setup.limits is None or not job.setup.limits.marking_allowed:
        peaks = [elastic.peak_pressure for elastic in study.tabulated_blank]
        spoils.append((marking_limit(job.known["yield"].worst), peaks, inf))
    for name, stress in study.blank_stress.items():
        spoils.append((job.known[f"{name} yield"].worst, [stress * grip for grip in grips[1:]], inf))
    for most_allowed, values, up_to in spoils:
        gain = np.zeros(points) if job.grip_is_outside else moment * np.minimum(speed, up_to) ** 2
        true = np.minimum(true, 1 - np.interp(most + gain, grips, [0.0, *values]) / most_allowed)
    ceiling = _plate_ceiling(study)[0]
    true = np.minimum(true, 1 - pressure[:, None] / ceiling)
    return WindowMap(pressure, speed, holds, true)
