"""A plan as the words and numbers of a page: plain data, both units, made in the worker and sent to the browser."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import isfinite

from heldtrue.drawing.section_spots import Spot as DrawnSpot
from heldtrue.drawing.section_spots import section_spots
from heldtrue.drawing.wording import form_length, other_pressure_unit, value_text
from heldtrue.planning.caveats import caveat_words
from heldtrue.planning.gauge_words import Rounding, pressure_number, pressure_text
from heldtrue.planning.known import Known
from heldtrue.planning.odds.odds_words import batch_words, is_seen, odds_words, part_words
from heldtrue.planning.phrases import (
    failure_words,
    form_words,
    lead_words,
    measure_words,
    named_end,
    remedy_words,
    spare_words,
    window_words,
)
from heldtrue.planning.result import FAILS, FORM, PASSES, Check, Odds, Plan, PressureStep
from heldtrue.planning.window import gauge_unit_of
from heldtrue.quantities import UnitSystem, from_core
from heldtrue.sentences import in_units
from heldtrue.web import texts
from heldtrue.web.plan.map_data import MapLook, map_look


@dataclass(frozen=True)
class CheckRow:
    """One check: ``margin`` in words, ``value`` and ``limit`` in both units.

    ``rule``: which of two rules these are of, empty where there is one; ``found``: of a form the likely and the worst,
    of a hold what happens first; ``least``: must the value be at least the limit?;
    ``share``: of a form, the value over its tolerance; ``odds``: how likely it goes wrong, in words, empty where no
    check of the plan is likelier than the rarest class.
    """

    name: str
    question: str
    state: str
    value: str
    limit: str
    margin: str
    decided_by: str
    source: str
    measure: str
    rule: str = ""
    found: str = ""
    least: bool = False
    share: float | None = None
    odds: str = ""


@dataclass(frozen=True)
class Scale:
    """A pressure step on its ruler, in the unit of the gauge; None for what there is none of.

    ``judged``: the pressure the answer is about: stated, or advised; ``said``: low and high as they are read off a
    gauge, the low rounded up, the high down.
    """

    top: float
    low: float | None
    high: float | None
    advised: float | None
    judged: float | None
    said: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class StepRow:
    """One pressure step: every pressure as (gauge unit, the other unit)."""

    name: str
    recommended: tuple[str, str] | None
    floor: tuple[str, str]
    floor_by: str
    ceiling: tuple[str, str]
    ceiling_by: str
    scale: Scale | None = None


@dataclass(frozen=True)
class Answer:
    """The plan of one setup.

    ``full``: False for the quick look, where only the worst case of each load was held again; ``seconds``: how long it
    took; ``drawings``: SVG by name; ``spots``: what can be pointed at on the section;
    ``map``: to look up any pressure and speed; ``stated``: the pressure of the run
    where the setup states one; ``odds``: those of the plan in words, empty where none are known, as of a quick look;
    ``caveat``: what all of it rests on and nobody read; ``from_log``: what the records changed in the setup;
    ``problems``: why there is no plan, and then everything else is empty.
    """

    verdict: str = ""
    because: str = ""
    decided_by: str = ""
    measure_first: str = ""
    measured_input: str = ""
    steps: tuple[StepRow, ...] = ()
    stated: tuple[str, str] | None = None
    reason: str = ""
    remedies: tuple[str, ...] = ()
    speed: str = ""
    speed_reason: str = ""
    top: str = ""
    top_reason: str = ""
    grip: tuple[tuple[str, str], ...] = ()
    checks: tuple[CheckRow, ...] = ()
    assumed: tuple[tuple[str, str, str, str], ...] = ()
    surfaces: tuple[tuple[str, str, str], ...] = ()
    notes: tuple[str, ...] = ()
    odds: str = ""
    caveat: str = ""
    cautions: tuple[str, ...] = ()
    from_log: tuple[str, ...] = ()
    drawings: tuple[tuple[str, str], ...] = ()
    spots: tuple[DrawnSpot, ...] = ()
    problems: tuple[str, ...] = ()
    map: MapLook | None = None
    full: bool = True
    seconds: float = 0.0


def answer_of(plan: Plan, drawings: dict[str, str], *, full: bool, seconds: float) -> Answer:
    """What a page shows of a plan. ``seconds``: how long it took."""
    system, gauge = plan.setup.units, gauge_unit_of(plan.setup)
    ranked, answer = plan.answer.ranked, plan.answer
    decider = answer.leading
    stated = plan.setup.stated_pressure
    force = partial(both, kind="force", system=system)
    with_odds = any(is_seen(check.odds) for check in ranked)
    return Answer(
        verdict=plan.verdict,
        because=lead_words(plan, system),
        # Of all but what fails the sentence before says it already.
        decided_by=f"{decider.decided_by} ({decider.source})" if decider is not None and decider.state == FAILS else "",
        measure_first=measure_words(answer.measure_first),
        measured_input=answer.measure_first.name if answer.measure_first is not None else "",
        steps=tuple(_step(plan, step) for step in plan.pressure.steps),
        stated=None if stated is None else _pressures(plan, stated),
        reason=window_words(plan.pressure, gauge),
        remedies=tuple(remedy_words(one, system) for one in answer.remedies),
        speed=f"{plan.speed.limit:.0f} rev/min", speed_reason=plan.speed.reason,
        top=f"{plan.speed.top:.0f} rev/min", top_reason=plan.speed.top_reason,
        grip=(
            ("all jaws, at rest, at least", force(plan.grip_force.static_total)),
            ("all jaws, at speed, at least", force(plan.grip_force.dynamic_total)),
            ("per jaw, at rest", force(plan.grip_force.per_jaw)),
            ("all jaws, at most", force(plan.grip_force.dynamic_most)),
        ),
        checks=tuple(_check(check, system, gauge, with_odds=with_odds) for check in ranked),
        assumed=tuple(_assumed(known, system, gauge) for known in answer.open_inputs),
        surfaces=tuple(
            (one.name, _form(one.clamped_runout, system),
             _form(one.released_flatness if one.side == "face" else one.released_roundness, system))
            for one in plan.surfaces
        ),
        notes=tuple(in_units(note, system) for note in plan.notes),
        odds=odds_words(plan), caveat="; ".join(caveat_words(plan.setup)), cautions=plan.cautions,
        drawings=tuple(drawings.items()), spots=section_spots(plan.setup, system) if drawings else (),
        map=map_look(plan), full=full, seconds=seconds,
    )  # fmt: skip


def both(value: float, kind: str, system: UnitSystem, gauge: str = "") -> str:
    """A value [core] in the units of the setup, with the other system's in brackets where they differ."""
    other: UnitSystem = "inch" if system == "metric" else "metric"
    first = value_text(value, kind, system, gauge)
    if kind == "pressure" and gauge:
        second = value_text(value, kind, system, other_pressure_unit(gauge, system))
    else:
        second = value_text(value, kind, other)
    return first if first == second or not isfinite(value) else f"{first} ({second})"


def _step(plan: Plan, step: PressureStep) -> StepRow:
    return StepRow(
        step.name, None if step.recommended is None else _pressures(plan, step.recommended),
        _pressures(plan, step.floor, "up"), step.floor_by, _pressures(plan, step.ceiling, "down"), step.ceiling_by,
        _scale(plan, step),
    )  # fmt: skip


def _scale(plan: Plan, step: PressureStep) -> Scale:
    unit, stated = gauge_unit_of(plan.setup), plan.setup.stated_pressure

    def mark(one: float | None) -> float | None:
        return None if one is None or not isfinite(one) else from_core(one, "pressure", unit)

    judged = step.recommended if stated is None else stated
    top = mark(float(plan.window.pressure[-1])) or 1.0
    return Scale(
        top,
        mark(step.floor),
        mark(step.ceiling),
        mark(step.recommended),
        mark(judged),
        (_read(step.floor, unit, "up"), _read(step.ceiling, unit, "down")),
    )


def _read(value: float, unit: str, rounding: Rounding) -> str:
    return pressure_number(value, unit, rounding) if isfinite(value) else ""


def _pressures(plan: Plan, value: float, rounding: str = "near") -> tuple[str, str]:
    """A gauge pressure in the gauge's own unit and in the other; a floor is rounded up, a ceiling down."""
    unit = gauge_unit_of(plan.setup)
    if not isfinite(value):
        return "none", ""
    say: Callable[[str], str] = lambda one: pressure_text(value, one, rounding)  # type: ignore[arg-type]  # noqa: E731
    return say(unit), say(other_pressure_unit(unit, plan.setup.units))


def _check(check: Check, system: UnitSystem, gauge: str, *, with_odds: bool) -> CheckRow:
    return CheckRow(
        check.name, check.question, check.state, both(check.value, check.kind, system, gauge),
        both(check.limit, check.kind, system, gauge), spare_words(check), check.decided_by, check.source,
        check.measure, _rule(check), _found(check, system), check.least, _share(check),
        _odds(check.odds) if with_odds and check.odds is not None else "",
    )  # fmt: skip


def _odds(odds: Odds) -> str:
    """How likely a check goes wrong, for one part and for all of them."""
    of_all = texts.ODDS_OF_ALL.format(parts=odds.parts, odds=batch_words(odds)) if odds.batch is not None else ""
    return texts.ODDS.format(odds=part_words(odds)) + of_all


def _share(check: Check) -> float | None:
    """What of its tolerance a form takes."""
    return check.value / check.limit if check.group == FORM and check.limit > 0.0 and isfinite(check.value) else None


def _rule(check: Check) -> str:
    """The name of the tighter of its rules."""
    return "" if check.tighter is None else check.tighter.name


def _found(check: Check, system: UnitSystem) -> str:
    """What a form check or a hold says besides its tighter rule."""
    if check.group == FORM:
        return form_words(check, system)
    failure = check.failure
    if failure is None or not isfinite(failure.carries):
        return ""
    return texts.HAPPENS_FIRST[check.state == PASSES].format(words=failure_words(failure, system))


def _assumed(known: Known, system: UnitSystem, gauge: str) -> tuple[str, str, str, str]:
    worst, best = (named_end(known, v) or both(v, known.kind, system, gauge) for v in (known.worst, known.best))
    return known.label, worst, best if known.is_open else "", known.measure


def _form(value: float, system: UnitSystem) -> str:
    other: UnitSystem = "inch" if system == "metric" else "metric"
    return f"{form_length(value, system)} ({form_length(value, other)})"
