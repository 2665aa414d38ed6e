"""The campaign: what the program says of a setup against what the plain model of the truth says of draws of it.

``planned(raw)`` plans as ``heldtrue.planning.plan.plan`` does, less what only pictures need; each function below tries
one claim on it and gives back what it caught, as ``Caught`` entries.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import inf, pi
from typing import Any

import numpy as np

from heldtrue.mechanics.cutting import INTERRUPTED
from heldtrue.mechanics.holding import limit_at
from heldtrue.planning.caveats import caveats_of
from heldtrue.planning.corners import AXES, FORMS, STRENGTHS, Corners, Pressed
from heldtrue.planning.elastic import Bore, Fit, Meeting
from heldtrue.planning.holds import SLIP_FACTOR, TIP_FACTOR, Holds, safety_of
from heldtrue.planning.judge import (
    Setting,
    Step,
    asked_tolerances,
    judge,
    judge_step,
    presses_of,
    rising,
    tolerance_limits,
)
from heldtrue.planning.loads import loads
from heldtrue.planning.plan import verdict_of
from heldtrue.planning.result import FAILS, FORM, HOLD, NOT_PROVEN, PASSES, WORST_VALUE, YIELD, Check, PressureAdvice
from heldtrue.planning.setup import Setup
from heldtrue.planning.start_gate import start_of
from heldtrue.planning.study import Study
from heldtrue.planning.window import advise_pressure, highest_pressure, setting_of

from .draw import OUTSIDE, draw, draws, outside, worst_corner
from .ranges import Range, ranges_of
from .truth import PROCESS, Truth, World, case_of, jaws_pull, judge_world, static_grip

NEARLY = 1e-6
STATES = (FAILS, NOT_PROVEN, PASSES)
FORM_TOLERANCES = ("roundness", "cylindricity", "flatness", "runout")


@dataclass(frozen=True)
class Planned:
    """One setup with what the program says of it."""

    name: str
    knowledge: str
    setup: Setup
    study: Study
    advice: PressureAdvice
    setting: Setting
    checks: tuple[Check, ...]

    @property
    def verdict(self) -> str:
        """As the plan gives it."""
        window = self.advice.has_window or (self.setup.run is not None and self.setup.run.pressure is not None)
        return verdict_of(self.checks, window=window, caveats=bool(caveats_of(self.setup)))

    @property
    def pressures(self) -> dict[str, float]:
        """Gauge pressure of every cut. [MPa]"""
        return {name: pressure for step, pressure in self.setting.steps for name in step.cuts}

    @cached_property
    def ranges(self) -> dict[str, Range]:
        """Where each input may really lie."""
        return ranges_of(self.setup)

    def truth(self, world: World, pressures: Mapping[str, float] | float | None = None, **how: Any) -> Truth:
        """What happens in one world, at the program's pressures and spindle limit where nothing else is said."""
        return judge_world(self.setup, world, self.pressures if pressures is None else pressures, self.study.speed,
                           **how)  # fmt: skip

    def check(self, name: str) -> Check | None:
        """The check of that name, if it was made."""
        return next((check for check in self.checks if check.name == name), None)

    @property
    def deciding(self) -> str:
        """What stands in the way: a check that does not pass, the two that leave no window, or an open question."""
        worst = min((c for c in self.checks if c.state != PASSES), key=lambda c: (c.state != FAILS, c.margin),
                    default=None)  # fmt: skip
        if worst is not None:
            return group_of(worst.name)
        if not self.advice.has_window:
            step = next(step for step in self.advice.steps if step.recommended is None)
            return f"{group_of(step.floor_by)} against {group_of(step.ceiling_by)}"
        return "caveat" if caveats_of(self.setup) else ""

    @cached_property
    def is_modelled(self) -> bool:
        """Does the plain model know every kind of its cuts?"""
        return all(cut.kind in PROCESS for cut in self.setup.cuts)


@dataclass(frozen=True)
class Caught:
    """One claim of the program that a draw refutes: the program's margin (or figure) beside the truth's."""

    what: str
    name: str
    knowledge: str
    check: str
    program: float
    truth: float
    note: str = ""


def planned(raw: Mapping[str, Any] | Setup, name: str = "", knowledge: str = "") -> Planned:
    """Plan one setup.

    Raises: ``InputError`` where the program refuses it.
    """
    setup = raw if isinstance(raw, Setup) else Setup.from_dict(raw)
    study = Study.of(setup)
    advice = advise_pressure(study)
    setting = setting_of(study, advice)
    return Planned(name or setup.part.number, knowledge, setup, study, advice, setting, judge(study, setting))


def group_of(check: str) -> str:
    """A check's kind, without the cut or surface it is about."""
    head = check.split(":")[0]
    if head in FORM_TOLERANCES:
        return "form"
    return check if head == "yield" or check == "hold: spin-up" else head


def truth_name(check: str) -> str | None:
    """What the truth calls it; None for what it does not know."""
    head, _, rest = check.partition(": ")
    if head in FORM_TOLERANCES:
        return f"form: {rest}: {head}"
    if head in ("hold", "yield"):
        return check
    return {"draw force": "plate: draw force", "speed": "plate: speed"}.get(check)


# --- 1. what passes must never go wrong, what fails must never go right ---------------------------------------------


def worlds_for(plan: Planned, count: int, seed: int, *, searched: bool) -> Iterator[World]:
    """Draws, every second one a corner; ``searched``: and the corners looked for, one for holding, one for form."""
    yield from draws(plan.ranges, count, seed)
    if not searched:
        return
    tight = {}
    for group in (HOLD, FORM, YIELD):
        found = [c for c in plan.checks if c.group == group and truth_name(c.name)]
        if found:
            tight[group] = min(found, key=lambda check: check.margin)
    for group, check in tight.items():
        name = truth_name(check.name)

        def margin(world: World, name: str | None = name, holding: bool = group == HOLD) -> float:
            return plan.truth(world, elastic=not holding, holds=holding).margins.get(name or "", inf)

        names = HOLDING if group == HOLD else PRESSING
        moved = {k: v for k, v in plan.ranges.items() if k.split(":")[0] in names and v[0] < v[1]}
        still = {k: (low + high) / 2 for k, (low, high) in plan.ranges.items() if k not in moved}
        corner = worst_corner(moved, lambda world, still=still, margin=margin: margin(  # type: ignore[misc]
            World({**still, **world.values})), seed, rounds=1)  # fmt: skip
        yield World({**still, **corner.values}, f"corner looked for: {name}")


HOLDING = (
    "friction", "grip_share", "reading_error", "threshold", "area", "gauge_error", "kc11", "mc", "wear", "interrupted",
    "interruption", "feed_share", "passive_share", "thrust", "pull", "jaw_mass", "jaw_radius", "master_mass",
    "master_radius", "speed_share", "mass", "off_centre", "lump", "unbalance_angle", "weight_angle", "spin_up_time",
    "seat",
)  # fmt: skip
"""What moves holding."""
PRESSING = (
    "grip_share", "reading_error", "threshold", "area", "gauge_error", "speed_share", "base_tilt", "bored_share",
    "bored_pressure", "bored_offset", "gripped_offset", "lobes", "clamping_friction", "part_young", "part_yield",
    "jaw_yield",
)  # fmt: skip
"""What moves form and yield."""


def false_passes(plan: Planned, worlds: Sequence[World]) -> list[Caught]:
    """Checks that pass with a margin below 0 in a world inside the ranges: the worst world of each."""
    worst: dict[str, tuple[float, World]] = {}
    for world in worlds:
        for name, margin in plan.truth(world).margins.items():
            if name not in worst or margin < worst[name][0]:
                worst[name] = margin, world
    found = []
    for check in plan.checks:
        name = truth_name(check.name)
        if check.state == PASSES and name in worst and worst[name][0] < -NEARLY:
            margin, world = worst[name]
            note = f"{world.note}; {differs(plan, world)}"
            found.append(Caught("false pass", plan.name, plan.knowledge, check.name, check.margin, margin, note))
    return found


def broken_at_floor(
    raw: Mapping[str, Any] | Setup, count: int, seed: int, name: str = "", told: str = ""
) -> list[Caught]:
    """Holds that let go in a drawn world at the very pressure at which the program begins to pass them.

    Sharper than at the recommended pressure, and without any elastic solution.
    """
    setup = raw if isinstance(raw, Setup) else Setup.from_dict(raw)
    study, ranges, found = Study.of(setup), ranges_of(setup), []
    worlds = list(draws(ranges, count, seed))
    steps = [Step("all cuts", tuple(cut.name for cut in setup.cuts), True)]
    for held in study.held:
        checks = {}
        low, high = 0.0, 20.0
        for _ in range(40):
            middle = (low + high) / 2
            checks = {c.name: c for c in rising(study, steps[0], middle, study.speed)}
            low, high = (low, middle) if checks[f"hold: {held.name}"].state == PASSES else (middle, high)
        margins = [judge_world(setup, world, high, study.speed, elastic=False).margins[f"hold: {held.name}"]
                   for world in worlds]  # fmt: skip
        worst = int(np.argmin(margins))
        if margins[worst] < -NEARLY:
            note = f"{worlds[worst].note}, at its floor {high:.4f} MPa"
            found.append(Caught("broken at floor", name, told, f"hold: {held.name}", 0.0, margins[worst], note))
    return found


def wrong_fails(plan: Planned, worlds: Sequence[World]) -> list[Caught]:
    """Checks that fail although in a world inside the ranges they would have passed, by the program's own criterion.

    Holds: a grip at rest that keeps both rules, the worst case with 1.5 for everything.  A stated input counts as
    stated: the published rule is asked with it.  Form: half of the tolerance (a third for run-out), or what is stated.
    """
    failing = [check for check in plan.checks if check.state == FAILS and truth_name(check.name)]
    found: dict[str, Caught] = {}
    if not failing:
        return []
    shares = {f"{tolerance}: {surface.name}": asked / tolerance_limits(plan.study.job, tolerance, asked)[0]
              for _, surface, tolerance, asked in asked_tolerances(plan.study)}  # fmt: skip
    for drawn in worlds:
        world = as_stated(plan, drawn)
        truth = plan.truth(world, holds=False)
        for check in failing:
            name = truth_name(check.name) or ""
            if check.name in found or (name not in truth.margins and check.group != HOLD):
                continue
            margin = truth.margins.get(name, -1.0)
            if check.group == FORM:
                margin = (1 + margin) / shares[check.name] - 1
            elif check.group == HOLD:
                margin = _by_rules(plan, world, check)
            if margin > NEARLY:
                found[check.name] = Caught("wrong fails", plan.name, plan.knowledge, check.name, check.best_margin,
                                           margin, world.note)  # fmt: skip
    return list(found.values())


def as_stated(plan: Planned, world: World) -> World:
    """The world with what the setup states, or a handbook says, and what the program has no range of, at just that."""
    known, values = plan.study.job.known, dict(world.values)
    values["kc11"], values["mc"] = known["cutting data"].likely, plan.study.job.work.mc.value
    values |= {"reading_error": 0.0, "area": 1.0, "mass": known["part mass"].likely}
    if known["friction"].source != "assumed":
        values["friction"] = known["friction"].likely
    if known["gauge error"].source != "assumed":
        values["gauge_error"] = 0.0
    jaws, chuck = plan.setup.jaws, plan.setup.chuck
    stated = {
        "jaw_mass": jaws.mass, "jaw_radius": jaws.centroid_radius, "master_mass": chuck.master_jaw_mass,
        "master_radius": chuck.master_jaw_radius,
        "spin_up_time": plan.setup.machine.spin_up_time if plan.setup.machine else None,
    }  # fmt: skip
    values |= {name: value for name, value in stated.items() if value is not None}
    # Shares of feed and passive force, chisel edge, breakthrough and a broken cut are constants of the program.
    values |= {"feed_share": 0.5, "passive_share": 0.3, "pull": 0.5, "thrust": 1.0 if values["seat"] > 0.5 else 1.5}
    values["interruption"] = INTERRUPTED.most
    return World(values, world.note)


def _by_rules(plan: Planned, world: World, check: Check) -> float:
    """Margin of a hold by both rules in one world, from the truth's need and pull."""
    still = world.with_(speed_share=0.0)
    margin = plan.truth(still, elastic=False).margins[f"hold: {check.subject}"]
    shown = plan.pressures.get(check.subject, min(plan.pressures.values()))
    rest = static_grip(plan.setup, still, shown)
    need = rest / (1 + margin) if margin > -1 else inf
    case = case_of(plan.setup)
    speed = max(one.speed_rpm for held in plan.study.held if held.name == check.subject
                for one in (held.published.load, held.worst.load))  # fmt: skip
    pull = jaws_pull(case, world, speed) if case.outside else 0.0
    safety = safety_of(plan.study.job, seat=world["seat"] > 0.5)
    asked = max(safety.factor * (need + pull), 1.5 * (1.5 * need + pull), 1.5 * safety.of_worst_case * need + pull)
    return rest / asked - 1 if asked < inf else -1.0


def differs(plan: Planned, world: World) -> str:
    """Inputs of a world that lie outside the program's own range of them: where the two tables of ranges disagree."""
    known, case, found = plan.study.job.known, case_of(plan.setup), []
    moment = case.jaws * (world["jaw_mass"] * world["jaw_radius"] + world["master_mass"] * world["master_radius"])
    pairs = {
        "friction": world["friction"], "threshold": world["threshold"], "gauge error": world["gauge_error"],
        "cutting data": world["kc11"], "jaw moment": moment, "part mass": world["mass"],
        "off centre": world["off_centre"] + world["lump"] / world["mass"], "spin-up": world["spin_up_time"],
        "jaw base": world["base_tilt"], "part size": plan.setup.grip.diameter + world["gripped_offset"],
        "jaw bore": plan.setup.grip.diameter + world["bored_offset"], "part roundness": abs(world["lobes"]),
    }  # fmt: skip
    for name in ("bored_share", "bored_pressure"):
        if name in world.values:
            pairs[name.replace("_", " ")] = world[name]
    for name, value in pairs.items():
        low, high = known[name].low, known[name].high
        if not low - NEARLY * abs(low) <= value <= high + NEARLY * abs(high):
            found.append(f"{name} {value:.4g}, program {low:.4g} to {high:.4g}")
    most = max(plan.pressures.values())
    ends = [plan.study.job.static_grip(plan.study.job.at_pressure(values, most, least=least), most)
            for values, least in ((plan.study.worst, True), (plan.study.best, False))]  # fmt: skip
    grip = static_grip(plan.setup, world, most)
    if not ends[0] * (1 - NEARLY) <= grip <= ends[1] * (1 + NEARLY):
        found.append(f"grip {grip:.5g}, program {ends[0]:.5g} to {ends[1]:.5g} N")
    return "; ".join(found) or "every input inside the program's own range"


# --- the program's own measures at values between and at the ends ---------------------------------------------------


def missed_corners(plan: Planned, count: int, seed: int, *, most: float = 0.01) -> list[Caught]:
    """Measures of part and jaws at values drawn inside the program's own ranges that exceed its worst by over ``most``,
    or exceed what a check that passes allows.

    Half of the draws stand at ends, half at the highest grip; the others anywhere between.
    """
    study, job = plan.study, plan.study.job
    rng, found = np.random.default_rng(seed), []
    for step, pressure in plan.setting.steps:
        pairs = [(STRENGTHS, study.blank_corners, plan.setting.speed_rpm, "blank"),
                 (STRENGTHS, study.finished_corners, plan.setting.speed_rpm, "finished section")]  # fmt: skip
        names = {STRENGTHS: ["marking", "yield: part", "yield: jaw"], FORMS: [
            f"{tolerance}: {surface.name}" for _, surface, tolerance, _ in asked_tolerances(study)]}  # fmt: skip
        if step.finished and names[FORMS]:
            pairs.append((FORMS, study.finished_corners, study.finishing_speed(plan.setting.speed_rpm), "finished"))
        for kind, corners, speed, body in pairs:
            hardest = study.pressed(job.at_pressure(study.best, pressure, least=False), pressure, speed)
            softest = study.least_grip(study.worst, pressure)
            worst = corners.worst_over(kind, presses_of(study, kind, pressure, plan.setting.speed_rpm))
            exceeds = np.zeros(len(worst))
            where = [""] * len(worst)
            for number in range(count):
                grip = hardest.grip if number % 4 < 2 else float(rng.uniform(min(softest, hardest.grip), hardest.grip))
                meeting, words = _some_meeting(corners, hardest, rng, ends=number % 2 == 0)
                value = _measured(corners, kind, meeting, grip)
                ratio = value / np.maximum(worst, 1e-12) - 1
                for i in np.flatnonzero(ratio > exceeds):
                    exceeds[i], where[i] = ratio[i], f"{words}, grip {grip / hardest.grip:.2f} of the highest"
            for i in np.flatnonzero(exceeds > NEARLY):
                value, name = float(worst[i] * (1 + exceeds[i])), names[kind][i]
                check, place = plan.check(name), f"{name} ({body}, {step.name})"
                if exceeds[i] > most:
                    found.append(
                        Caught("corner missed", plan.name, plan.knowledge, place, float(worst[i]), value, where[i])
                    )
                if check is not None and check.state == PASSES and value > _allowed(check):
                    found.append(
                        Caught("pass broken", plan.name, plan.knowledge, place, _allowed(check), value, where[i])
                    )
    return found


def _allowed(check: Check) -> float:
    """What the worst value of a check may be."""
    if check.name == "marking" and check.margin == 1.0:
        return inf  # marks are allowed
    return next((rule.limit for rule in check.rules if rule.name == WORST_VALUE), check.limit)


def _some_meeting(corners: Corners, pressed: Pressed, rng: np.random.Generator, *, ends: bool) -> tuple[Meeting, str]:
    known, at, words = corners.job.known, {}, []
    for name in AXES:
        share = float(rng.integers(2)) if ends else float(rng.uniform())
        if name == "friction":
            share = float(rng.choice([0.0, 0.5, 1.0])) if ends else share
        if name == "bored pressure":
            at[name] = pressed.bored[0] + share * (pressed.bored[2] - pressed.bored[0])
        elif name == "part roundness":
            at[name] = (2 * share - 1) * known[name].high / 2
        else:
            at[name] = known[name].low + share * (known[name].high - known[name].low)
        words.append(f"{name} {share:.2f}")
    bore = Bore(at["jaw bore"] / 2, corners.part.bore.taper, at["bored pressure"])
    fit = Fit("some", at["part size"] / 2, at["part roundness"])
    return Meeting(fit, bore, at["jaw base"], at["friction"]), ", ".join(words)


def _measured(corners: Corners, kind: str, meeting: Meeting, grip: float) -> np.ndarray:
    part = corners.part
    contact = part.meet(meeting, max(grip, 1.0))
    if kind == STRENGTHS:
        return np.array([contact.edge_pressure, part.part_stress(contact), part.jaw_stress(contact)])
    forms = part.forms(contact)
    asked = [(number, tolerance) for number, surface in enumerate(part.surfaces) for tolerance in FORM_TOLERANCES
             if getattr(surface, tolerance) is not None]  # fmt: skip
    return np.array([getattr(forms[number], tolerance) for number, tolerance in asked])


def missed_holds(plan: Planned, count: int, seed: int) -> list[Caught]:
    """Grip that the worst-case rule asks for at values inside the program's ranges, above what it asks at its worst."""
    study, found = plan.study, []
    rng, known = np.random.default_rng(seed), study.job.known
    at_worst = {held.name: held.worst for held in study.held}
    for _ in range(count):
        shares = {name: float(rng.integers(2)) if rng.uniform() < 0.5 else float(rng.uniform()) for name in known}
        values = {name: one.worst + shares[name] * (one.best - one.worst) for name, one in known.items()}
        values["seat"] = known["seat"].worst if shares["seat"] < 0.5 else known["seat"].best
        rule = study.holds._worst.__class__(study.holds, values, slip=SLIP_FACTOR, tip=TIP_FACTOR)
        for name, case in study.holds._worst_cases(rule, study.speed, 0.85).items():
            spare = case.needs / at_worst[name].needs - 1
            if spare > 1e-3:
                note = ", ".join(f"{k} {v:.2f}" for k, v in shares.items() if known[k].is_open and v > 0)
                found.append(Caught("hold missed", plan.name, plan.knowledge, f"hold: {name}", at_worst[name].needs,
                                    case.needs, note))  # fmt: skip
    return found


# --- 2. the search over cases and angles ----------------------------------------------------------------------------


def exhaustive(study: Study, angles: int) -> dict[tuple[str, str], float]:
    """Grip needed by load and rule, every case solved at every one of ``angles`` angles. [N]"""
    holds, found = Holds(study.job), {}
    for label, rule in (("published", holds._published), ("worst", holds._worst)):
        for load in loads(study.job, rule.values, study.speed):
            wrench, lost = rule.enlarged(load), holds.lost(rule.values, load.speed_rpm)
            for number in range(angles):
                factor = limit_at(rule.grip, wrench, 2 * pi / rule.grip.jaws * number / angles).factor
                needs = float(rule.needs_of(np.array(1 / factor if factor > 0 else inf), np.array(lost)))
                key = load.name, label
                found[key] = max(found.get(key, 0.0), needs)
    return found


def search_misses(plan: Planned, angles: int) -> float:
    """By what share the exhaustive search asks for more than the program's own, at the worst over loads and rules."""
    searched = {}
    for held in Holds(plan.study.job).at(plan.study.speed):
        searched |= {(held.name, "published"): held.published.needs, (held.name, "worst"): held.worst.needs}
    every = exhaustive(plan.study, angles)
    return max((every[key] / searched[key] - 1) if searched[key] > 0 else float(every[key] > 0) for key in every)


# --- 3. usefulness --------------------------------------------------------------------------------------------------


def fine_at(plan: Planned, worlds: Sequence[World], pressures: Mapping[str, float] | float) -> str:
    """Is nothing wrong in "all", "some" or "none" of the worlds, at a pressure?"""
    seen = set()
    for world in worlds:
        seen.add(not plan.truth(world, pressures).wrong)
        if len(seen) == 2:
            return "some"
    return "all" if seen == {True} else "none"


def fine(plan: Planned, worlds: Sequence[World], grid: int = 5) -> tuple[str, Mapping[str, float] | float]:
    """The best over the program's own pressures and a grid from floor to the plates; and the pressure."""
    top = highest_pressure(plan.study)[0]
    floor = min(min(step.floor for step in plan.advice.steps), top)
    tried: list[Mapping[str, float] | float] = [plan.pressures]
    tried += [float(p) for p in np.linspace(floor, top, grid)]
    order = {"all": 0, "some": 1, "none": 2}
    best: tuple[str, Mapping[str, float] | float] = "none", plan.pressures
    for pressures in tried:
        if isinstance(pressures, float) and pressures <= 0:
            continue
        found = fine_at(plan, worlds, pressures)
        if order[found] < order[best[0]]:
            best = found, pressures
        if found == "all":
            break
    return best


# --- 4. outside the ranges ------------------------------------------------------------------------------------------


def lets_go(plan: Planned, count: int, seed: int) -> dict[str, int]:
    """In how many of ``count`` draws some hold lets go: inside the ranges, and with each shock no range holds."""
    rng = np.random.default_rng(seed)
    found = dict.fromkeys(("inside", *OUTSIDE), 0)
    for _ in range(count):
        world = draw(plan.ranges, rng)
        for shock in found:
            there = world if shock == "inside" else outside(world, shock)
            found[shock] += plan.truth(there, elastic=False).worst("hold")[1] < 0
    return found


# --- 5. one judge ---------------------------------------------------------------------------------------------------


def disagreements(plan: Planned, gauges: Sequence[float]) -> list[Caught]:
    """Where the start gate, the judge, and a plan that states the pressure do not say the same at a gauge reading."""
    found = []
    for step in plan.advice.steps:
        asked = Step(step.name, step.cuts, step.finished)
        for gauge in gauges:
            gate = start_of(plan.study, gauge, step.name)
            judged = {c.name: c.state for c in judge_step(plan.study, asked, gauge, plan.study.speed)}
            clear = step.floor * (1 - 1e-6) <= gauge <= step.ceiling * (1 + 1e-6) and plan.advice.has_window
            passes = clear and set(judged.values()) == {PASSES} and not caveats_of(plan.setup)
            for name, state in judged.items():
                theirs = next(c.state for c in gate.checks if c.name == name)
                if theirs != state:
                    found.append(Caught("gate differs", plan.name, plan.knowledge, name, gauge, gauge,
                                        f"gate {theirs}, judge {state}"))  # fmt: skip
            if gate.may != passes:
                found.append(Caught("gate differs", plan.name, plan.knowledge, f"may at {gauge:.3f} MPa", gauge, gauge,
                                    f"gate {gate.may}, judge {passes}: {gate.words}"))  # fmt: skip
            outside_window = not step.floor * (1 - 1e-6) <= gauge <= step.ceiling * (1 + 1e-6)
            if outside_window and set(judged.values()) == {PASSES}:
                found.append(Caught("window too narrow", plan.name, plan.knowledge, step.name, step.floor, gauge,
                                    f"all pass outside {step.floor:.4f} to {step.ceiling:.4f} MPa"))  # fmt: skip
            if not outside_window and set(judged.values()) != {PASSES}:
                wrong = [name for name, state in judged.items() if state != PASSES and name != "speed"]
                if wrong and not any(name.startswith("under the cut") for name in wrong):
                    found.append(Caught("window too wide", plan.name, plan.knowledge, wrong[0], step.floor, gauge,
                                        f"inside {step.floor:.4f} to {step.ceiling:.4f} MPa"))  # fmt: skip
    return found


def plan_disagreements(plan: Planned, gauges: Sequence[float]) -> list[Caught]:
    """Where a plan that states the pressure gives another state of a check than the start gate at that reading."""
    found = []
    for gauge in gauges:
        stated = planned(plan.setup.with_({"run.pressure": float(gauge)}))
        theirs = {check.name: check.state for check in stated.checks}
        gate: dict[str, str] = {}
        for step in plan.advice.steps:
            # A stated pressure holds for every step: what any of them says is said.
            for check in start_of(plan.study, float(gauge), step.name).checks:
                gate[check.name] = min(check.state, gate.get(check.name, PASSES), key=STATES.index)
        for name in sorted(set(gate) | set(theirs)):
            if gate.get(name) != theirs.get(name):
                note = f"gate {gate.get(name)}, plan {theirs.get(name)}"
                found.append(Caught("plan differs", plan.name, plan.knowledge, name, float(gauge), float(gauge), note))
    return found
