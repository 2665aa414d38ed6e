"""The front door: one setup in, one plan out."""

from __future__ import annotations

import numpy as np

from heldtrue.mechanics.form import roundness_of_deviation
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.checks import Setting, all_checks, bracket, holds
from heldtrue.planning.elastic import Elastic, SurfaceForm
from heldtrue.planning.fitting import print_of
from heldtrue.planning.known import ASSUMED
from heldtrue.planning.result import (
    FAILS,
    NOT_PROVEN,
    PASSES,
    Check,
    ContactPrint,
    GripForce,
    Lobe,
    Plan,
    Shape,
    State,
    SurfaceResult,
)
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, advise_speed, setting_of, window_map

SHAPE_ANGLES = 361
LEAST_LOBE_SHARE = 0.05
"""Harmonics below this share of the largest are not worth naming."""


def plan(setup: Setup) -> Plan:
    """Plan one setup.

    Raises: ``InputError`` for a setup that cannot be planned; ``SolverError`` where a computation did not converge.
    """
    return plan_study(Study.of(setup))


def plan_study(study: Study) -> Plan:
    """The plan of a study whose expensive parts may be known already."""
    advice = advise_pressure(study)
    setting = setting_of(study, advice)
    speed = advise_speed(study, setting)
    elastic = bracket(study, setting)
    checks = all_checks(study, setting, elastic)
    return Plan(
        setup=study.job.setup,
        verdict=_verdict(checks, window=advice.has_window or _is_stated(study), caveats=caveats_of(study.job.setup)),
        pressure=advice,
        speed=speed,
        grip_force=_grip_force(study, setting),
        holds=holds(study, setting),
        surfaces=_surfaces(study, elastic.clamped, elastic.finishing_most),
        checks=checks,
        assumed=tuple(known for known in study.job.known.values() if known.source == ASSUMED),
        prints=_prints(study, elastic.finishing_most),
        shapes=_shapes(study, elastic.clamped, elastic.finishing_most),
        window=window_map(study),
        notes=_notes(study),
    )


def _is_stated(study: Study) -> bool:
    run = study.job.setup.run
    return run is not None and run.pressure is not None


def _verdict(checks: tuple[Check, ...], *, window: bool, caveats: tuple[str, ...]) -> State:
    states = {check.state for check in checks}
    if FAILS in states:
        return FAILS
    if NOT_PROVEN in states or not window or caveats:
        return NOT_PROVEN
    return PASSES


def _grip_force(study: Study, setting: Setting) -> GripForce:
    """Forces at the first step's pressure and the fastest cut."""
    pressure = setting.highest
    speed = setting.speed_rpm
    static = study.job.static_grip(study.worst, pressure)
    return GripForce(
        static_total=static,
        dynamic_total=study.holding_grip(study.worst, pressure, speed),
        per_jaw=static / study.job.jaws,
        static_most=study.job.static_grip(study.best, pressure),
        dynamic_most=study.distorting_grip(study.best, pressure, speed),
    )


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


def _shapes(study: Study, clamped: Elastic, released: Elastic) -> tuple[Shape, ...]:
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


def _prints(study: Study, elastic: Elastic) -> tuple[ContactPrint, ...]:
    return tuple(print_of(study, study.bore, fit, contact) for fit, contact in elastic.contacts)


def _notes(study: Study) -> tuple[str, ...]:
    """Advice that no check decides."""
    job, found = study.job, list(caveats_of(study.job.setup))
    low, high = job.setup.grip.z
    length = job.section.highest - job.section.lowest
    if high - low < length / 3:
        found.append(
            f"grip length {high - low:g} mm is under a third of the part's {length:g} mm (common practice, no source)"
        )
    overhang = job.section.highest - high
    if overhang > 3 * job.setup.grip.diameter and not job.setup.grip.centre:
        found.append(f"overhang {overhang:g} mm is over 3 diameters with no centre (common practice, no source)")
    if not job.setup.grip.seat:
        found.append("no axial seat: thrust and pull are carried by friction alone")
    if len(study.fits) == 1:
        found.append("no tolerance on the gripped diameter: jaws and part are taken as the same size")
    return tuple(found)
