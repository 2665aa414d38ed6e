"""Pressure, taper and spindle limit while the jaws of one setup are cut. MPa, mm, rev/min."""

from __future__ import annotations

from math import floor, inf

from heldtrue.mechanics.spin import speed_at_share_left
from heldtrue.planning.bored_jaws import as_bored
from heldtrue.planning.fitting import LEAST_TAPER_MM, needed_taper
from heldtrue.planning.inputs import PRACTICE
from heldtrue.planning.jaw_layout import Layout
from heldtrue.planning.loads import plate_speed
from heldtrue.planning.result import PressureAdvice
from heldtrue.planning.study import Study
from heldtrue.planning.window import setting_of
from heldtrue.sentences import sentence

SHARE_OF_PLATE_SPEED = 0.5
"""Jaws are cut at no more than this share of the plate's speed: common practice, no source."""


def boring_pressure(study: Study, advice: PressureAdvice) -> tuple[float, str]:
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


def boring_taper(study: Study, layout: Layout, bored: float, finishing: float) -> tuple[float, str]:
    """Taper per side over the gripped length [mm]: stated, or what the mechanics asks for with this ring.

    ``bored``: gauge pressure while the jaws are cut, ``finishing``: that of the finish [MPa].
    """
    if study.job.setup.jaws.taper is not None:
        return study.job.setup.jaws.taper, "stated"
    if layout.ring is None:
        return 0.0, "none: without a ring it is not known"
    used = study.finishing_grip(finishing) / study.job.jaws
    if used <= 0:
        return 0.0, "none: the jaws do not grip at that pressure"
    slope = needed_taper(as_bored(study, bored, layout), used)
    if abs(slope) < LEAST_TAPER_MM:
        return 0.0, sentence("none needed: {:.3f mm} per side is under {:g mm}", abs(slope), LEAST_TAPER_MM)
    return round(slope, 3), "what keeps the pressure even over the grip with this ring"


def boring_speed(study: Study, pressure: float) -> tuple[float, str]:
    """Spindle limit while the jaws are cut [rev/min], and what decides it."""
    job, boring = study.job, study.job.setup.boring
    limits = [(SHARE_OF_PLATE_SPEED * plate_speed(job), f"{SHARE_OF_PLATE_SPEED:.0%} of the plates' speed; {PRACTICE}")]
    static = study.least_grip(study.worst, pressure)
    moment = study.worst["jaw moment"]
    if job.grip_is_outside:
        left = speed_at_share_left(static, moment) if static > 0 else 0.0
        limits.append(
            (left if moment > 0 else inf, "a third of the push on the ring left, with the heaviest jaws allowed")
        )
    if boring is not None and boring.spindle_limit_rpm is not None:
        limits.append((boring.spindle_limit_rpm, "stated"))
    value, why = min(limits)
    return floor(value / 10) * 10.0, why
