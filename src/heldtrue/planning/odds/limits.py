"""Margins of the checks that are one line of arithmetic, for arrays of values; negative is beyond the limit."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from heldtrue.planning.judge import LEAST_GRIP_LEFT, Setting, tolerance_limits
from heldtrue.planning.loads import is_interrupted, plate_speed
from heldtrue.planning.odds.holding import static_grip
from heldtrue.planning.setup import Surface
from heldtrue.planning.study import Study

Array = NDArray[np.float64]
Values = Mapping[str, Array]
Margin = Callable[[Values], Array]

PRESSURE = ("piston area", "gauge error")
GRIP = ("grip share", "threshold", "gauge error", "piston area", "jaw moment")
CUT = ("cutting data", "wear", "interruption")


def plate_margins(study: Study, setting: Setting) -> dict[str, Margin]:
    """Draw force, speed and pressures against the plates, and the least steady pressure, by name of the check."""
    job, chuck, known = study.job, study.job.setup.chuck, study.job.known
    most, lowest = setting.highest, min(pressure for _, pressure in setting.steps)
    allowed = chuck.max_draw_force * known["height share"].worst
    speed = plate_speed(job)
    found: dict[str, Margin] = {
        "draw force": lambda v: 1 - v["piston area"] * (most + v["gauge error"]) / allowed,
        "speed": lambda v: np.full(len(v["gauge error"]), 1 - setting.speed_rpm / speed),
        "steady pressure": lambda v: (lowest + v["gauge error"]) / known["least pressure"].worst - 1,
    }
    for name, plate in (("cylinder pressure", chuck.actuator.max_pressure), ("chuck pressure", chuck.max_pressure)):
        if plate is not None:
            found[name] = lambda v, plate=plate: 1 - (most + v["gauge error"]) / plate  # type: ignore[misc]
    return found


def grip_left(study: Study, setting: Setting) -> Margin:
    """Is a third of an outside grip left at the spindle limit?"""
    pressure = min(pressure for _, pressure in setting.steps)
    pull = study.centrifugal({"jaw moment": 1.0}, setting.speed_rpm)

    def margin(values: Values) -> Array:
        static = np.maximum(static_grip(study.job, values, pressure), 1e-9)
        return np.asarray((1 - values["jaw moment"] * pull / static) / LEAST_GRIP_LEFT - 1)

    return margin


def under_cut(study: Study, surface: Surface) -> Margin:
    """Does the finishing force push part and jaws out of shape along a surface?  The push goes with the force."""
    job, worst = study.job, study.worst
    limit, _ = tolerance_limits(job, "cylindricity", surface.cylindricity or 0.0)
    value = study.cut_deflections[surface.name][1] / 2
    wear = job.known["wear"]
    at_low = study.lighter_cut({**worst, "wear": wear.low}, surface.name)
    cuts = [c for c in job.setup.cuts if c.finishing and c.surface == surface.name]
    interrupted = any(is_interrupted(job, cut) is not False for cut in cuts)

    def margin(values: Values) -> Array:
        force = values["cutting data"] / worst["cutting data"]
        if interrupted:
            force = force * values["interruption"] / worst["interruption"]
        worn = (values["wear"] - wear.low) / max(wear.high - wear.low, 1e-12)
        return np.asarray(1 - value * force * (at_low + (1 - at_low) * worn) / limit)

    return margin
