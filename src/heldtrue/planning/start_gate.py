"""May the spindle start with what the gauge shows?  The last job's pressure may still be set.

The judge decides, at the reading and with the gauge's error, as in a plan.  Core units.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

from heldtrue.errors import InputError
from heldtrue.planning.answer import gravity
from heldtrue.planning.caveats import unsaid_words
from heldtrue.planning.gauge_words import Rounding, pressure_text
from heldtrue.planning.holds import HeldLoad, is_spin_up, safety_of
from heldtrue.planning.judge import Step, judge_step
from heldtrue.planning.phrases import check_words, window_words
from heldtrue.planning.result import CAUTIONS, HOLD, PASSES, Check, PressureStep
from heldtrue.planning.setup import Setup
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, gauge_unit_of

READ_SHARE = 1e-6
"""A gauge that shows the floor itself has reached it."""


@dataclass(frozen=True)
class LoadAtGauge:
    """One load at what the gauge shows. [rev/min]

    ``factor``: what is reached of the safety factor ``asked`` for, at its own ``speed``; ``holds_to``: highest speed
    with the whole safety factor, 0 where it is not held so at any speed, infinite where speed does not matter.
    """

    name: str
    speed: float
    factor: float
    asked: float
    holds_to: float


@dataclass(frozen=True)
class StartDecision:
    """May the spindle start?

    ``gauge`` [MPa]; ``step``: the pressure step it is judged against; ``checks``: what the judge found at the reading,
    gravest first; ``reasons``: why it must not, one sentence each, empty where it may; ``loads``: every load of that
    step, weakest first; ``speed``: the job's spindle limit [rev/min]; ``warnings``: what does not stop the start.
    """

    setup: Setup
    gauge: float
    step: PressureStep
    speed: float
    checks: tuple[Check, ...]
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
    unstated = setup if setup.stated_pressure is None else setup.with_({"run.pressure": None})
    return start_of(Study.of(unstated), gauge, step)


def start_of(study: Study, gauge: float, step: str | None = None) -> StartDecision:
    """The same of a study whose expensive parts may be known already."""
    setup, advice = study.job.setup, advise_pressure(study)
    chosen = _chosen(advice.steps, step)
    asked = Step(chosen.name, chosen.cuts, chosen.finished)
    checks = sorted(judge_step(study, asked, gauge, study.speed), key=gravity)
    by_name = {check.subject: check for check in checks if check.group == HOLD}
    loads = [_at_gauge(study, held, gauge, by_name[held.name]) for held in study.held if held.name in by_name]
    reasons = [one.sentence for one in setup.contrary]
    if chosen.floor == inf:
        reasons.append(f"no pressure is enough for '{chosen.floor_by}'")
    elif gauge < chosen.floor * (1 - READ_SHARE):
        reasons.append(f"the floor is {_say(setup, chosen.floor, 'up')}, set by '{chosen.floor_by}'")
    if gauge > chosen.ceiling * (1 + READ_SHARE):
        reasons.append(f"the ceiling is {_say(setup, chosen.ceiling, 'down')}, set by '{chosen.ceiling_by}'")
    unit = gauge_unit_of(setup)
    reasons += [check_words(check, setup.units, unit) for check in checks if check.state != PASSES]
    if not advice.has_window:
        reasons.append(window_words(advice, unit))
    reasons += unsaid_words(setup)
    warnings = [f"the other step, {one.name}, has its own window: start it with its own gauge reading"
                for one in advice.steps if advice.has_window and one is not chosen]  # fmt: skip
    return StartDecision(setup, gauge, chosen, study.speed, tuple(checks), tuple(reasons),
                         tuple(sorted(loads, key=lambda one: one.factor)), tuple(warnings))  # fmt: skip


def _chosen(steps: tuple[PressureStep, ...], name: str | None) -> PressureStep:
    if name is None:
        return steps[0]
    found = next((one for one in steps if one.name == name), None)
    if found is None:
        raise InputError(f"this setup has no step '{name}'; it has {', '.join(one.name for one in steps)}")
    return found


def _at_gauge(study: Study, held: HeldLoad, gauge: float, check: Check) -> LoadAtGauge:
    safety = safety_of(study.job, seat=study.worst["seat"] > 0).factor
    return LoadAtGauge(held.name, held.speed_rpm, safety * (1 + check.margin), safety, _holds_to(study, held, gauge))


def _holds_to(study: Study, held: HeldLoad, gauge: float) -> float:
    """Highest speed at which both rules hold a load, the load itself being that of its own speed. [rev/min]"""
    holds, job = study.holds, study.job
    at_rest = job.static_grip(holds.published, gauge), study.least_grip(holds.worst, gauge)
    speeds = []
    for grip, case, values in ((at_rest[0], held.published, holds.published), (at_rest[1], held.worst, holds.worst)):
        pull = study.centrifugal(values, 1.0) if job.grip_is_outside else 0.0
        spare = holds.spare_of(case, grip, published=case is held.published)
        speeds.append(0.0 if spare < 0 else sqrt(spare / pull) if pull > 0 else inf)
    if is_spin_up(held.name) and min(speeds) > held.speed_rpm:
        return inf  # its torque falls with the speed limit: what holds at its own speed holds below
    return min(speeds)


def _say(setup: Setup, pressure: float, rounding: Rounding = "near") -> str:
    """In the unit of the gauge and the other usual one: a slip of units must be seen."""
    unit = gauge_unit_of(setup)
    if pressure == inf:
        return "none"
    other = "psi" if unit == "bar" else "bar"
    return f"{pressure_text(pressure, unit, rounding)} ({pressure_text(pressure, other, rounding)})"
