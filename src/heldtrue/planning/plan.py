"""The front door: one setup in, one plan out."""

from __future__ import annotations

import numpy as np

from heldtrue.mechanics.closed_form import required_grip
from heldtrue.mechanics.form import roundness_of_deviation
from heldtrue.planning.answer import answer_of
from heldtrue.planning.caveats import caveat_words, caveats_of
from heldtrue.planning.elastic import Elastic, SurfaceForm
from heldtrue.planning.fitting import print_of
from heldtrue.planning.holds import HeldLoad, safety_of
from heldtrue.planning.judge import Setting, judge
from heldtrue.planning.known import ASSUMED
from heldtrue.planning.odds.odds import with_odds
from heldtrue.planning.result import (
    FAILS,
    NOT_PROVEN,
    PASSES,
    Check,
    GripForce,
    Hold,
    Lobe,
    Plan,
    PressureAdvice,
    Shape,
    State,
    SurfaceResult,
)
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, advise_speed, setting_of, window_map
from heldtrue.sentences import sentence

SHAPE_ANGLES = 361
LEAST_LOBE_SHARE = 0.05
"""Harmonics below this share of the largest are not worth naming."""


def plan(setup: Setup, *, helped: bool = True) -> Plan:
    """Plan one setup.

    ``helped``: with the odds of every check, and what would make it pass where it does not.
    Raises: ``InputError`` for a setup that cannot be planned; ``SolverError`` where a computation did not converge.
    """
    return plan_study(Study.of(setup), helped=helped)


def plan_study(study: Study, *, helped: bool = True) -> Plan:
    """The plan of a study whose expensive parts may be known already."""
    advice, setting, checks, verdict = judged(study)
    if helped and not study.is_quick:
        checks = with_odds(study, setting, checks)
    setup = study.job.setup
    clamped, released = (study.finished.under(grip) for grip in _likely_grips(study, setting))
    return Plan(
        setup=setup,
        verdict=verdict,
        pressure=advice,
        speed=advise_speed(study, setting),
        grip_force=_grip_force(study, setting),
        holds=_holds(study, setting, checks),
        surfaces=_surfaces(study, clamped, released),
        checks=checks,
        answer=answer_of(study, checks, advice, helped=helped and not study.is_quick),
        assumed=tuple(known for known in study.job.known.values() if known.source == ASSUMED),
        prints=tuple(print_of(study, study.bore, fit, contact) for fit, contact in released.contacts),
        shapes=_shapes(clamped, released),
        window=window_map(study),
        notes=_notes(study),
    )


def judged(study: Study) -> tuple[PressureAdvice, Setting, tuple[Check, ...], State]:
    """What a plan decides, without its pictures: the advice, what is set at the machine, every check, the verdict."""
    advice = advise_pressure(study)
    setting = setting_of(study, advice)
    checks = judge(study, setting)
    caveats = bool(caveats_of(study.job.setup))
    return advice, setting, checks, verdict_of(checks, window=advice.has_window, caveats=caveats)


def verdict_of(checks: tuple[Check, ...], *, window: bool, caveats: bool) -> State:
    """The verdict of a plan from its checks."""
    states = {check.state for check in checks}
    if FAILS in states:
        return FAILS
    if NOT_PROVEN in states or not window or caveats:
        return NOT_PROVEN
    return PASSES


def _likely_grips(study: Study, setting: Setting) -> tuple[float, float]:
    """Likely total grip while finishing, at rest and at the speed of the finishing cut. [N]"""
    return study.likely_grip(setting.finishing, 0.0), study.likely_grip(setting.finishing, study.finishing_speed())


def _grip_force(study: Study, setting: Setting) -> GripForce:
    """Forces at the highest pressure and the spindle limit."""
    pressure, speed = setting.highest, setting.speed_rpm
    static = study.least_grip(study.worst, pressure)
    most = study.job.at_pressure(study.best, pressure, least=False)
    return GripForce(
        static_total=static,
        dynamic_total=study.holding_grip(study.worst, pressure, speed),
        per_jaw=static / study.job.jaws,
        static_most=study.job.static_grip(most, pressure),
        dynamic_most=study.distorting_grip(most, pressure, speed),
    )


def _holds(study: Study, setting: Setting, checks: tuple[Check, ...]) -> tuple[Hold, ...]:
    """Every load's factor with the handbook's second opinion beside it."""
    safety = safety_of(study.job, seat=study.worst["seat"] > 0).factor
    by_name, found = {check.name: check for check in checks}, []
    for held in study.held:
        check = by_name[f"hold: {held.name}"]
        case = held.published if check.tighter == check.rules[0] else held.worst
        load = case.load
        found.append(
            Hold(held.name, load.case, case.limit.failure, safety * (1 + check.margin), safety,
                 max(held.published.needs, held.worst.needs), load.speed_rpm, load.tangential,
                 _handbook_factor(study, held, setting.pressure(held.name)))
        )  # fmt: skip
    return tuple(found)


def _handbook_factor(study: Study, held: HeldLoad, pressure: float) -> float:
    """Friction times grip over torque and thrust, with the inputs of the published rule: nothing tips in it."""
    values, load = study.holds.published, held.published.load
    outward = max(load.axial, 0.0) if values["seat"] > 0 else abs(load.axial)
    needed = required_grip(abs(load.torque), outward, 2 * study.job.grip_radius, values["friction"])
    grip = max(study.job.static_grip(values, pressure) - study.holds.lost(values, load.speed_rpm), 0.0)
    return grip / needed if needed > 0 else float("inf")


def _surfaces(study: Study, clamped: Elastic, released: Elastic) -> tuple[SurfaceResult, ...]:
    return tuple(
        SurfaceResult(
            name=after.surface.name,
            side=after.surface.side,
            clamped_runout=before.runout,
            released_roundness=after.roundness,
            released_cylindricity=after.cylindricity,
            released_flatness=after.flatness,
            size_shift=after.size_shift,
            cut_size=study.cut_deflections.get(after.surface.name, (0.0, 0.0))[0],
            cut_taper=study.cut_deflections.get(after.surface.name, (0.0, 0.0))[1],
            lobes=_lobes(after),
            worst_fit=after.fit,
        )
        for before, after in zip(clamped.forms, released.forms, strict=True)
    )


def _lobes(form: SurfaceForm) -> tuple[Lobe, ...]:
    largest = max((abs(a) for a in form.amplitudes), default=0.0)
    return tuple(
        Lobe(order, abs(amplitude))
        for order, amplitude in zip(form.orders, form.amplitudes, strict=True)
        if abs(amplitude) > LEAST_LOBE_SHARE * largest
    )


def _shapes(clamped: Elastic, released: Elastic) -> tuple[Shape, ...]:
    """Shape round the part of each surface's worst section in its worst fit."""
    angle = np.linspace(0.0, 2 * np.pi, SHAPE_ANGLES)
    found = []
    for before, after in zip(clamped.forms, released.forms, strict=True):
        if after.surface.side == "face":
            continue
        waves = np.cos(np.multiply.outer(angle, after.orders))
        found.append(
            Shape(
                after.surface.name,
                angle,
                -waves @ np.array(before.amplitudes),
                waves @ np.array(after.amplitudes),
            )
        )
    return tuple(found)


def minimum_zone(shape: Shape, radius: float) -> float:
    """Roundness of a released shape of nominal ``radius`` by the minimum zone of ISO 12181. [mm]"""
    return roundness_of_deviation(shape.angle[:-1], shape.released[:-1], radius, method="minimum-zone").peak_to_valley


def _notes(study: Study) -> tuple[str, ...]:
    """Advice that no check decides."""
    job, found = study.job, list(caveat_words(study.job.setup))
    low, high = job.setup.grip.z
    length = job.section.highest - job.section.lowest
    if high - low < length / 3:
        found.append(
            sentence(
                "grip length {:g mm} is under a third of the part's {:g mm} (common practice, no source)",
                high - low,
                length,
            )
        )
    overhang = job.section.highest - high
    if overhang > 3 * job.setup.grip.diameter and not job.setup.grip.centre:
        found.append(
            sentence("overhang {:g mm} is over 3 diameters with no centre (common practice, no source)", overhang)
        )
    if not job.setup.grip.seat:
        found.append("no axial seat: thrust and pull are carried by friction alone")
    if not job.size_is_stated:
        low, high = job.size_range
        found.append(
            sentence("no tolerance of the gripped diameter is stated: {:+g [mm]} to {:+g mm} is assumed", low, high)
        )
    return tuple(found)
