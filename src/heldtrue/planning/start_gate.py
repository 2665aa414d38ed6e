"""May the spindle start with what the gauge shows?  The last job's pressure may still be set.

What holds is judged as in a plan: every unknown at its worst.  Core units.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, inf, sqrt

from heldtrue.errors import InputError
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.checks import LEAST_GRIP_LEFT
from heldtrue.planning.gauge_words import Rounding, pressure_text
from heldtrue.planning.inputs import safety_factor
from heldtrue.planning.loads import job_speed, plate_speed
from heldtrue.planning.result import CAUTIONS, PressureStep
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import HeldLoad, Study
from heldtrue.planning.window import advise_pressure, gauge_unit_of

READ_SHARE = 1e-6
"""A gauge that shows the floor itself has reached it."""


@dataclass(frozen=True)
class LoadAtGauge:
    """One load at what the gauge shows. [rev/min]

    ``factor``: by which it could grow before the part lets go, at its own ``speed``; ``holds_to``: highest speed with
    the safety factor asked for; ``lets_go_at``: speed from which it is not held at all.  Both 0 where it is so at any
    speed, infinite where speed does not matter.
    """

    name: str
    speed: float
    factor: float
    holds_to: float
    lets_go_at: float


@dataclass(frozen=True)
class StartDecision:
    """May the spindle start?

    ``gauge`` [MPa]; ``step``: the pressure step it is judged against; ``reasons``: why it must not, one sentence each,
    empty where it may; ``loads``: every load of that step, weakest first; ``speed``: the job's spindle limit [rev/min];
    ``warnings``: what does not stop the start.
    """

    setup: Setup
    gauge: float
    step: PressureStep
    speed: float
    reasons: tuple[str, ...]
    loads: tuple[LoadAtGauge, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def may(self) -> bool:
        """May it start?"""
        return not self.reasons

    @property
    def words(self) -> str:
        """The decision in one sentence."""
        gauge = _say(self.setup, self.gauge)
        if self.may:
            return f"may start at {gauge}: {self.step.name}, up to {self.speed:.0f} rev/min"
        return f"must not start at {gauge}: {self.reasons[0]}"


def decide_start(setup: Setup, gauge: float, step: str | None = None) -> StartDecision:
    """Whether a job may start at the pressure a gauge shows.

    ``gauge``: [MPa]; ``step``: name of the pressure step (``all cuts``, or ``rough`` and ``finish`` where two are
    needed), the first if left out.  What the setup states as its pressure of the run plays no part: the gauge rules.
    Raises: ``InputError`` for a setup that cannot be planned, or a step it does not have.
    """
    return start_of(Study.of(setup.with_({"run.pressure": None}) if _states_pressure(setup) else setup), gauge, step)


def start_of(study: Study, gauge: float, step: str | None = None) -> StartDecision:
    """The same of a study whose expensive parts may be known already."""
    job, setup = study.job, study.job.setup
    advice = advise_pressure(study)
    chosen = _chosen(advice.steps, step)
    loads = sorted(
        (_at_gauge(study, held, gauge) for held in study.held if held.load.name in (*chosen.cuts, "spin-up")),
        key=lambda one: one.factor,
    )
    speed = job_speed(job)
    reasons = []
    if gauge < chosen.floor * (1 - READ_SHARE):
        reasons.append(_below(study, chosen, gauge, loads))
    if gauge > chosen.ceiling * (1 + READ_SHARE):
        reasons.append(f"the ceiling is {_say(setup, chosen.ceiling, 'down')} ({chosen.ceiling_by})")
    if not advice.has_window:
        reasons.append(f"this setup has no pressure that both holds and does no harm: {advice.reason}")
    if speed > plate_speed(job):
        reasons.append(f"the job's {speed:.0f} rev/min are over the plates' {plate_speed(job):.0f}")
    reasons += caveats_of(setup)
    warnings = [f"{name}: start it with its own gauge reading" for name in _others(advice.steps, chosen)]
    return StartDecision(setup, gauge, chosen, speed, tuple(reasons), tuple(loads), tuple(warnings))


def _states_pressure(setup: Setup) -> bool:
    return setup.run is not None and setup.run.pressure is not None


def _chosen(steps: tuple[PressureStep, ...], name: str | None) -> PressureStep:
    if name is None:
        return steps[0]
    found = next((one for one in steps if one.name == name), None)
    if found is None:
        raise InputError(f"this setup has no step '{name}'; it has {', '.join(one.name for one in steps)}")
    return found


def _others(steps: tuple[PressureStep, ...], chosen: PressureStep) -> list[str]:
    return [
        f"the other step, {one.name}, has its own window"
        for one in steps
        if one is not chosen and one.recommended is not None
    ]


def _at_gauge(study: Study, held: HeldLoad, gauge: float) -> LoadAtGauge:
    speed = held.load.speed_rpm
    safety, _ = safety_factor(study.job)
    return LoadAtGauge(
        held.load.name, speed, held.limit.factor * study.holding_grip(study.worst, gauge, speed),
        _speed_with(study, held, gauge, safety), _speed_with(study, held, gauge, 1.0),
    )  # fmt: skip


def _speed_with(study: Study, held: HeldLoad, gauge: float, factor: float) -> float:
    """Highest speed at which a load is held with a factor; the load itself stays that of its own speed. [rev/min]"""
    spare = study.job.static_grip(study.worst, gauge) - held.limit.required(factor)
    if spare < 0:
        return 0.0
    pull = study.centrifugal(study.worst, 1.0) if study.job.grip_is_outside else 0.0
    return sqrt(spare / pull) if pull > 0 else inf


def _below(study: Study, step: PressureStep, gauge: float, loads: list[LoadAtGauge]) -> str:
    """Why a pressure is too low, with the speeds at which it holds and lets go."""
    setup = study.job.setup
    words = f"the floor is {_say(setup, step.floor, 'up')} ({step.floor_by})"
    weakest = min(loads, key=lambda one: (one.factor, one.lets_go_at))
    safety, _ = safety_factor(study.job)
    if weakest.lets_go_at <= 0:
        return f"{words}; '{weakest.name}' lets go at any speed"
    if weakest.lets_go_at < inf and weakest.lets_go_at < weakest.speed:
        slow = weakest.lets_go_at // 10 * 10
        return f"{words}; '{weakest.name}' holds at {slow:.0f} rev/min and lets go at its {weakest.speed:.0f}"
    if weakest.factor < safety:
        held = floor(weakest.factor * 100) / 100
        return f"{words}; '{weakest.name}' is held {held:.2f} times where {safety:g} are asked for"
    left = 1 - study.centrifugal(study.worst, job_speed(study.job)) / max(
        study.job.static_grip(study.worst, gauge), 1e-9
    )
    if study.job.grip_is_outside and left < LEAST_GRIP_LEFT:
        return f"{words}; at speed only {max(left, 0):.0%} of the grip is left"
    return words


def _say(setup: Setup, pressure: float, rounding: Rounding = "near") -> str:
    """In the unit of the gauge and the other usual one: a slip of units must be seen."""
    unit = gauge_unit_of(setup)
    if pressure == inf:
        return "none"
    other = "psi" if unit == "bar" else "bar"
    return f"{pressure_text(pressure, unit, rounding)} ({pressure_text(pressure, other, rounding)})"
