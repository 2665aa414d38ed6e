"""The one judge: every check of a plan, at a gauge pressure for each step and a spindle limit.

Plan, window, speed limit, start gate, comparison and map all ask here; nothing else decides.  Every input is a range,
and every check is taken at the bad end of each.  What is held has two rules, what comes off round has two values; both
must do (``holds``, ``corners``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf, pi

import numpy as np

from heldtrue.mechanics.holding import LIFT, SLIP_ALONG, TIP
from heldtrue.planning.corners import FORMS, STRENGTHS, Corners, Pressed, find_worst, meet_for
from heldtrue.planning.form_measures import TOLERANCES
from heldtrue.planning.holds import (
    DECIDING,
    SLIP_FACTOR,
    TIP_FACTOR,
    Case,
    HeldLoad,
    is_spin_up,
    safety_of,
)
from heldtrue.planning.inputs import Job
from heldtrue.planning.known import Known
from heldtrue.planning.loads import plate_speed
from heldtrue.planning.result import (
    CUT,
    FAILS,
    FORM,
    HOLD,
    LEFT,
    LIKELY_VALUE,
    MARK,
    NOT_PROVEN,
    PASSES,
    PLATE,
    PUBLISHED,
    STEADY,
    WORST_CASE,
    WORST_VALUE,
    YIELD,
    Check,
    Failure,
    Rule,
    State,
)
from heldtrue.planning.setup import Source, Surface
from heldtrue.planning.study import Study

Values = Mapping[str, float]

LEAST_GRIP_LEFT = 1 / 3
"""Share of the grip at rest that an outside grip must keep at speed (reference speed of DIN 6386, as cited in
references to VDI 3106; read second hand)."""
YIELD_BEGINS = pi / 2
"""Even pressure on a strip of a half space shears it by p/pi, and yield (Tresca) begins at pi/2 times its strength.
K. L. Johnson, Contact Mechanics, Cambridge University Press 1985, section 2.5 (from memory)."""
SHARE_OF_FORM, SHARE_OF_RUNOUT = 1 / 2, 1 / 3
"""Share of a drawing tolerance that the likely form may use; the rest is the machine's: common practice, no source."""
WORST_SHARE = 0.8
"""Share of a drawing tolerance that the worst form may use: own rule (docs/theory.md)."""
LESSER = (0.0, 0.5)
"""Grips asked about below the most that may press: shares of the way to it from the least; a knob takes the first."""
ROUNDING = 1e-9


@dataclass(frozen=True)
class Step:
    """Cuts made at one pressure; ``finished``: do they leave the finished surfaces?"""

    name: str
    cuts: tuple[str, ...]
    finished: bool


@dataclass(frozen=True)
class Setting:
    """What is set at the machine: a gauge pressure for each step [MPa], in order, and the spindle limit [rev/min]."""

    steps: tuple[tuple[Step, float], ...]
    speed_rpm: float

    @property
    def finishing(self) -> float:
        """Pressure of the last step. [MPa]"""
        return self.steps[-1][1]

    @property
    def highest(self) -> float:
        """The highest pressure set. [MPa]"""
        return max(pressure for _, pressure in self.steps)

    def pressure(self, load: str) -> float:
        """Pressure during a load; the spin-up happens at the lowest. [MPa]"""
        found = [pressure for step, pressure in self.steps if load in step.cuts]
        return found[0] if found else min(pressure for _, pressure in self.steps)


def judge(study: Study, setting: Setting) -> tuple[Check, ...]:
    """Every check of a setting; one that more than one step asks stands as the step that leaves least has it."""
    found: dict[str, Check] = {}
    for step, pressure in setting.steps:
        for check in judge_step(study, step, pressure, setting.speed_rpm):
            before = found.get(check.name)
            if before is None or _severity(check) < _severity(before):
                found[check.name] = check
    order = {name: number for number, name in enumerate(_names(study))}
    return tuple(sorted(found.values(), key=lambda check: order[check.name]))


def judge_step(study: Study, step: Step, pressure: float, speed_rpm: float) -> tuple[Check, ...]:
    """Every check that one step asks, at a gauge pressure [MPa] and a spindle limit [rev/min]."""
    explained = not study.is_quick
    return (*rising(study, step, pressure, speed_rpm), *falling(study, step, pressure, speed_rpm, explained=explained))


def rising(study: Study, step: Step, pressure: float, speed_rpm: float) -> tuple[Check, ...]:
    """The checks that a higher pressure does good."""
    return (*(_hold(study, one, pressure) for one in _held_in(study, step, speed_rpm)),
            *_grip_left(study, pressure, speed_rpm), _steady(study.job, pressure))  # fmt: skip


def is_held(study: Study, step: Step, pressure: float, speed_rpm: float) -> bool:
    """Do all the checks of ``rising`` pass?  Without what decides each, which takes longer."""
    others = (*_grip_left(study, pressure, speed_rpm), _steady(study.job, pressure))
    return is_passed(others) and all(
        holding_margin(study, one, pressure) >= -ROUNDING for one in _held_in(study, step, speed_rpm)
    )


def _held_in(study: Study, step: Step, speed_rpm: float) -> list[HeldLoad]:
    return [one for one in study.holds.at(speed_rpm) if one.name in step.cuts or is_spin_up(one.name)]


def falling(
    study: Study, step: Step, pressure: float, speed_rpm: float, *, explained: bool = True
) -> tuple[Check, ...]:
    """The checks that a higher pressure does no good; ``explained``: with what decides them, and at the best."""
    form = (*forms(study, pressure, speed_rpm, explained=explained), *under_cut(study)) if step.finished else ()
    return (*plates(study.job, pressure, speed_rpm), *form,
            *strengths(study, pressure, speed_rpm, explained=explained))  # fmt: skip


def is_passed(checks: Iterable[Check]) -> bool:
    """Do all of them pass?"""
    return all(check.state == PASSES for check in checks)


def _severity(check: Check) -> tuple[int, float]:
    return {FAILS: 0, NOT_PROVEN: 1, PASSES: 2}[check.state], check.margin


def _names(study: Study) -> Iterator[str]:
    """Names of all checks in the order in which they are shown."""
    yield from (f"hold: {held.name}" for held in study.held)
    yield from ("grip left at speed", "draw force", "speed", "cylinder pressure", "chuck pressure", "steady pressure")
    for surface in study.job.setup.surfaces:
        yield from (f"{tolerance}: {surface.name}" for tolerance in TOLERANCES)
    yield from (f"under the cut: {surface.name}" for surface in study.job.setup.surfaces)
    yield from ("marking", "yield: part", "yield: jaw")


# Is it held?


def _hold(study: Study, held: HeldLoad, pressure: float) -> Check:
    """A load against the grip at rest, by both rules."""
    holds, job = study.holds, study.job

    def published(values: Values, *, exact: bool = False) -> float:
        needs = held.published.needs if values is holds.published else \
            holds.published_at(held.published, values, exact=exact)  # fmt: skip
        return _over(job.static_grip(values, pressure), needs)

    def worst(values: Values, *, exact: bool = False, least: bool = True) -> float:
        needs = held.worst.needs if values is holds.worst else holds.worst_at(held.worst, values, exact=exact)
        return _over(job.static_grip(job.at_pressure(values, pressure, least=least), pressure), needs)

    rules = _holding_rules(study, held, pressure)
    tight = min(rules, key=lambda rule: rule.margin)
    by_published = tight.name == PUBLISHED
    short = tight.margin < -ROUNDING
    best = min(published(holds.hoped, exact=short), worst(holds.best, exact=short, least=False))
    decider = _decider(job, published if by_published else worst, holds.published if by_published else holds.worst)
    case = held.published if by_published else held.worst
    name = held.name
    question = "Is it held while it spins up?" if is_spin_up(name) else f"Does it stay in during '{name}'?"
    return Check(
        f"hold: {name}", question, _state(tight.margin, best), tight.value, tight.limit, "force", tight.margin, best,
        decider.label, decider.source, decider.measure, _hold_detail(job, case, tight.name), HOLD, name, True, rules,
        _failure(study, case, tight),
    )  # fmt: skip


def holding_margin(study: Study, held: HeldLoad, pressure: float) -> float:
    """Share of grip to spare for one load at a gauge pressure [MPa], by the rule that leaves less."""
    return min(rule.margin for rule in _holding_rules(study, held, pressure))


def _holding_rules(study: Study, held: HeldLoad, pressure: float) -> tuple[Rule, Rule]:
    """The grip at rest against what each rule asks for."""
    at_rest = study.job.static_grip(study.holds.published, pressure), study.least_grip(study.holds.worst, pressure)
    return (Rule(PUBLISHED, at_rest[0], held.published.needs, _over(at_rest[0], held.published.needs)),
            Rule(WORST_CASE, at_rest[1], held.worst.needs, _over(at_rest[1], held.worst.needs)))  # fmt: skip


def _over(has: float, needs: float) -> float:
    """Share by which what is there exceeds what is needed."""
    return has / needs - 1 if 0 < needs < inf else (inf if needs <= 0 else -1.0)


def _hold_detail(job: Job, case: Case, rule: str) -> str:
    safety = safety_of(job, seat=job.known["seat"].worst > 0)
    why = f"stated: {safety.stated}" if safety.stated else \
        ("no seat and no centre" if safety.overhung else "seat or centre") + \
        (", chuck serviced or read" if safety.serviced else ", chuck not freshly serviced")  # fmt: skip
    return (
        f"gives way by: {case.limit.failure}; {case.load.case}; by the {rule}; safety factor {safety.factor:g} ({why})"
    )


def _failure(study: Study, case: Case, rule: Rule) -> Failure:
    """What happens first: the part of the load that does most work in it, against what the grip carries of it."""
    holds, limit, load = study.holds, case.limit, case.load
    published = rule.name == PUBLISHED
    values = holds.published if published else holds.worst
    safety = safety_of(study.job, seat=values["seat"] > 0)
    wrench = load.wrench if published else load.wrench.weighted(SLIP_FACTOR, TIP_FACTOR)
    fx, fy, fz, mx, my, mz = wrench.about(sum(study.job.setup.grip.z) / 2, 1.0)
    size, kind = {
        TIP: (float(np.hypot(mx, my)), "torque"), LIFT: (float(np.hypot(fx, fy)), "force"),
        SLIP_ALONG: (abs(float(fz)), "force"),
    }.get(limit.failure, (abs(float(mz)), "torque"))  # fmt: skip
    needs = size * (safety.factor if published else safety.of_worst_case)
    grip = max(rule.value - holds.lost(values, load.speed_rpm), 0.0)
    carries = size * limit.factor * grip if limit.factor < inf else inf
    return Failure(limit.failure, load.name, load.case, load.radius, load.reach, needs, carries, kind)


def _grip_left(study: Study, pressure: float, speed_rpm: float) -> list[Check]:
    """An outside grip must keep a third of its grip at the highest speed used."""
    if not study.job.grip_is_outside:
        return []

    def left(values: Values, least: bool = True) -> float:
        static = study.job.static_grip(study.job.at_pressure(values, pressure, least=least), pressure)
        return 1 - study.centrifugal(values, speed_rpm) / static if static > 0 else -inf

    def margin(values: Values) -> float:
        return left(values) / LEAST_GRIP_LEFT - 1

    value, best = max(left(study.worst), -1.0), left(study.best, least=False) / LEAST_GRIP_LEFT - 1
    decider = _decider(study.job, margin, study.worst,
                       ("jaw moment", "grip share", "threshold", "gauge error", "piston area"))  # fmt: skip
    worst = value / LEAST_GRIP_LEFT - 1
    question = f"Is a third of the grip left at {speed_rpm:.0f} rev/min?"
    return [Check("grip left at speed", question, _state(worst, best), value, LEAST_GRIP_LEFT, "ratio", worst, best,
                  decider.label, decider.source, decider.measure, "", LEFT, "", True)]  # fmt: skip


# Do the plates allow it?


def _steady(job: Job, pressure: float) -> Check:
    least, error = job.known["least pressure"], job.known["gauge error"]
    worst, best = ((pressure + end) / least.worst - 1 for end in (error.worst, error.best))
    decider = error if worst < -ROUNDING <= best and error.is_open else least
    return Check("steady pressure", "Does the cylinder hold this pressure steadily?", _state(worst, best),
                 pressure + error.worst, least.worst, "pressure", worst, best, decider.label, decider.source,
                 decider.measure, "", STEADY, "", True)  # fmt: skip


def plates(job: Job, pressure: float, speed_rpm: float) -> list[Check]:
    """What the plates of chuck, cylinder and machine allow."""
    chuck, known = job.setup.chuck, job.known
    area, share, error = known["piston area"], known["height share"], known["gauge error"]
    most, least = pressure + error.best, max(pressure + error.worst, 0.0)
    found = [
        _plate("draw force", "Is the draw force within the plate at this grip height?", most * area.high,
               least * area.low, chuck.max_draw_force * share.worst, "force",
               area if area.source == "assumed" else share),
        _plate("speed", "Is the speed within the plates?", speed_rpm, speed_rpm, plate_speed(job), "speed_rpm",
               _of_plate("highest speed on the plates", job.setup.source("chuck.max_speed_rpm"))),
    ]  # fmt: skip
    for where, value in (("cylinder", chuck.actuator.max_pressure), ("chuck", chuck.max_pressure)):
        if value is not None:
            path = "chuck.actuator.max_pressure" if where == "cylinder" else "chuck.max_pressure"
            plate = _of_plate(f"highest pressure of the {where}", job.setup.source(path))
            found.append(_plate(f"{where} pressure", f"Is the pressure within the plate of the {where}?", most, least,
                                value, "pressure", plate))  # fmt: skip
    return found


def _plate(name: str, question: str, most: float, least: float, limit: float, kind: str, decider: Known) -> Check:
    worst, best = 1 - most / limit, 1 - least / limit
    return Check(name, question, _state(worst, best), most, limit, kind, worst, best, decider.label, decider.source,
                 decider.measure, decider.note, PLATE, name)  # fmt: skip


def _of_plate(label: str, source: Source) -> Known:
    return Known("plate", label, 0.0, 0.0, "", source)


# Does it come off round?


def tolerance_limits(job: Job, tolerance: str, asked: float) -> tuple[float, float]:
    """What the likely and the worst form may be. [mm]

    A share that the user states holds for both: it is what the machine leaves.
    """
    limits = job.setup.limits
    if limits is not None and limits.holding_share is not None:
        return limits.holding_share * asked, limits.holding_share * asked
    return asked * (SHARE_OF_RUNOUT if tolerance == "runout" else SHARE_OF_FORM), asked * WORST_SHARE


def asked_tolerances(study: Study) -> Iterator[tuple[int, Surface, str, float]]:
    """Place in the measures, surface, tolerance and its value [mm] of everything that the drawing asks."""
    asked = ((surface, tolerance, getattr(surface, tolerance)) for surface in study.job.setup.surfaces
             for tolerance in TOLERANCES)  # fmt: skip
    there = [(surface, tolerance, value) for surface, tolerance, value in asked if value is not None]
    yield from ((place, *one) for place, one in enumerate(there))


FORM_QUESTIONS = {
    "roundness": "Is '{}' round enough after release?",
    "cylindricity": "Is '{}' cylindrical enough after release?",
    "flatness": "Is '{}' flat enough after release?",
    "runout": "Does '{}' run true enough after release?",
}


def forms(study: Study, pressure: float, speed_rpm: float, *, explained: bool) -> Iterator[Check]:
    """Every tolerance of every machined surface, after release, at the grip of the finishing cut."""
    job, corners = study.job, study.finished_corners
    presses = presses_of(study, FORMS, pressure, speed_rpm)
    most = presses[0]
    likely_press = _presses_likely(study, pressure, speed_rpm)
    asked_for = list(asked_tolerances(study))
    if not asked_for:
        return
    likely, worst = corners.likely_of(FORMS, likely_press), corners.worst_over(FORMS, presses)
    for place, surface, tolerance, asked in asked_for:
        of_likely, of_worst = tolerance_limits(job, tolerance, asked)
        rules = (Rule(LIKELY_VALUE, float(likely[place]), of_likely, 1 - float(likely[place]) / of_likely),
                 Rule(WORST_VALUE, float(worst[place]), of_worst, 1 - float(worst[place]) / of_worst))  # fmt: skip
        tight = min(rules, key=lambda rule: rule.margin)
        # A best that was not worked out is no proof of failure.
        best = rules[0].margin if explained else max(rules[0].margin, 0.0)
        gains = {"grip share": float(worst[place]) * (1 - likely_press.grip / max(most.grip, 1.0))}
        if explained:
            gains |= corners.gains(FORMS, place, most)
        if explained and tight.margin < -ROUNDING:
            lowest = min(float(corners.best_of(FORMS, one)[place]) for one in presses)
            best = max(best, 1 - lowest / of_likely)
        decider = job.known[max(gains, key=lambda name: gains[name])]
        detail = (
            f"likely within {of_likely / asked:.0%}, worst within {of_worst / asked:.0%} of the drawing's {asked:g} mm"
        )
        yield Check(f"{tolerance}: {surface.name}", FORM_QUESTIONS[tolerance].format(surface.name),
                    _state(tight.margin, best), tight.value, tight.limit, "length", tight.margin, best, decider.label,
                    decider.source, decider.measure, detail, FORM, surface.name, False, rules)  # fmt: skip


def under_cut(study: Study) -> Iterator[Check]:
    """Does the finishing force itself push part and jaws out of shape along a surface that must be cylindrical?"""
    for surface in study.job.setup.surfaces:
        if surface.cylindricity is None or surface.name not in study.cut_deflections:
            continue
        limit, _ = tolerance_limits(study.job, "cylindricity", surface.cylindricity)
        value = study.cut_deflections[surface.name][1] / 2
        wear = study.job.known["wear"]
        worst, best = 1 - value / limit, 1 - value * study.lighter_cut(study.best, surface.name) / limit
        detail = "radial, from end to end, under the passive force of the finishing cut"
        question = f"Does '{surface.name}' stay cylindrical under the finishing force?"
        yield Check(f"under the cut: {surface.name}", question,
                    _state(worst, best), value, limit, "length", worst, best, wear.label, wear.source, wear.measure,
                    detail, CUT, surface.name)  # fmt: skip


# Does it stay as it is?


def strengths(study: Study, pressure: float, speed_rpm: float, *, explained: bool) -> list[Check]:
    """Marking and yield of part and jaws, on the blank and on the finished section: roughing nearly ends on that."""
    job, known = study.job, study.job.known
    presses = presses_of(study, STRENGTHS, pressure, speed_rpm)
    bodies = _bodies(study)
    worst = {name: corners.worst_over(STRENGTHS, presses) for name, corners in bodies.items()}
    limits = job.setup.limits
    marks = limits is not None and limits.marking_allowed
    found = []
    asked = (("marking", "Do the jaws leave marks?", known["yield"], YIELD_BEGINS),
             ("yield: part", "Does the grip bend the part for good?", known["part yield"], 1.0),
             ("yield: jaw", "Does the grip bend the jaws for good?", known["jaw yield"], 1.0))  # fmt: skip
    for place, (name, question, strength, times) in enumerate(asked):
        body, value = max(
            ((body, float(measures[place])) for body, measures in worst.items()), key=lambda pair: pair[1]
        )
        limit = times * strength.worst
        margin = 1 - value / limit
        best = max(margin, 0.0)
        if explained and margin < -ROUNDING:
            least = study.pressed(job.at_pressure(study.worst, pressure, least=True), pressure, 0.0)
            lowest = max(float(corners.best_of(STRENGTHS, least)[place]) for corners in bodies.values())
            best = 1 - lowest / (times * strength.best)
        detail = f"on the {body}, with everything between jaws and part at its worst"
        group = MARK if name == "marking" else YIELD
        if group == MARK:
            detail = f"mean pressure on a patch of 4 mm at the edge of a jaw {detail}"
            if marks:
                detail, margin, best = f"marks are allowed here; {detail}", 1.0, 1.0
        found.append(Check(name, question, _state(margin, best), value, limit, "stress", margin, best, strength.label,
                           strength.source, strength.measure, detail, group, body))  # fmt: skip
    return found


def prepare(study: Study, kinds: Sequence[str], pressures: Sequence[float], speed_rpm: float) -> None:
    """Work out together what the checks of some kinds will ask for at many pressures: several times as fast."""
    wanted = [(corners, kind) for kind in kinds
              for corners in ([study.finished_corners] if kind == FORMS else _bodies(study).values())]  # fmt: skip
    find_worst(wanted)
    asked = []
    for corners, kind in wanted:
        most = [one for pressure in pressures for one in presses_of(study, kind, pressure, speed_rpm)]
        pairs = [(levels, pressed) for pressed in most for levels in corners.worst(kind)]
        if kind == FORMS:
            likely = [_presses_likely(study, pressure, speed_rpm) for pressure in pressures]
            pairs += [(levels, pressed) for pressed in likely for levels in corners.likely_corners]
        asked.append((corners, kind, pairs))
    meet_for(asked)
    for corners, kind, pairs in asked:
        corners.measures(kind, pairs)


def presses_of(study: Study, kind: str, pressure: float, speed_rpm: float) -> tuple[Pressed, ...]:
    """What may press at a gauge pressure: the most first, then less of it, down to the least that is there.

    A grip that just bears on the edges of the jaws can press a part further out of round than one that lays them on:
    the worst need not stand at the most.  Forms are those of the finishing cut's speed.
    """
    speed = study.finishing_speed(speed_rpm) if kind == FORMS else speed_rpm
    return study.presses(pressure, speed, LESSER[:1] if study.is_quick else LESSER)


def _presses_likely(study: Study, pressure: float, speed_rpm: float) -> Pressed:
    """What likely presses while the form is made."""
    return study.pressed(study.likely, pressure, study.finishing_speed(speed_rpm))


def _bodies(study: Study) -> dict[str, Corners]:
    found = {"finished section": study.finished_corners}
    if study.blank is not study.finished:
        found["blank"] = study.blank_corners
    return found


# What decides


def _decider(job: Job, margin: Callable[[Values], float], start: Values, inputs: Sequence[str] = DECIDING) -> Known:
    """The input whose best value alone would raise the margin most; the first one if none is open."""
    here = margin(start)
    gains = {name: margin({**start, name: job.known[name].best}) - here for name in inputs if job.known[name].is_open}
    if not gains or max(gains.values()) <= 0:
        return job.known[inputs[0]]
    return job.known[max(gains, key=lambda name: gains[name])]


def _state(margin: float, best: float) -> State:
    """Passes at the worst of every unknown, fails even at the best, or rests on an unknown."""
    if margin >= -ROUNDING:
        return PASSES
    return NOT_PROVEN if best >= -ROUNDING else FAILS
